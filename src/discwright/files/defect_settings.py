"""What a works may change about lot inspection, as TOML: the shipped figures, and a house file that replaces some.

A house file holds the tables and keys it wants otherwise and nothing else. A value is bare, or a table with `value` and
`source`.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

from discwright.errors import CallError, SettingsError
from discwright.files.house_toml import read_house_toml
from discwright.works.defect_classes import CLASSES, WORDS, DefectClass, Hearing, class_named, class_of
from discwright.works.lot import ALL_DISCS, NONE_IN_SAMPLE, ClassRule
from discwright.works.sampling import AQLS, LEVELS, aql_number

_FILE = "defects.toml"
_INSPECTION, _AQL, _SEEN, _HEARD = "inspection", "aql", "seen", "heard"
#: The keys of each table.
KEYS: Mapping[str, tuple[str, ...]] = {
    _INSPECTION: ("level",),
    _AQL: CLASSES,
    _SEEN: tuple(WORDS),
    _HEARD: tuple(WORDS),
}


@dataclass(frozen=True)
class DefectSettings:
    """Everything in the file.

    Attributes
    ----------
    level : str
        Inspection level.
    rules : mapping of defect class to float, "none" or "all"
        AQL in percent nonconforming, or how a class does without one.
    seen, heard : mapping of str to str
        Class by word: of a defect that is seen only, and of those that are of another class when heard.
    """

    level: str
    rules: Mapping[DefectClass, ClassRule]
    seen: Mapping[str, str]
    heard: Mapping[str, str]

    def class_of(self, word: str, hearing: Hearing = "seen") -> DefectClass:
        """Class of one defect by these settings.

        Parameters
        ----------
        word : str
        hearing : {"seen", "heard", "jumps"}

        Raises
        ------
        CallError
        """
        return class_of(word, self.seen, self.heard, hearing)


def load_defects(path: Path | None = None) -> DefectSettings:
    """The shipped settings, with what a house file says otherwise.

    Parameters
    ----------
    path : pathlib.Path or None
        The house file; None for the shipped settings alone.

    Returns
    -------
    DefectSettings

    Raises
    ------
    SettingsError
        If the file cannot be read, or has a wrong table, key or value.
    """
    shipped = tomllib.loads((resources.files("discwright") / "data" / _FILE).read_text(encoding="utf-8"))
    tables = {name: _values(name, table, _FILE) for name, table in shipped.items()}
    place = _FILE
    if path is not None:
        place = str(path)
        for name, table in read_house_toml(path, "inspection settings").items():
            if name not in KEYS:
                raise SettingsError(f"{place}: has an unknown table [{name[:40]}]; {_nearest(name, tuple(KEYS))}.")
            if not isinstance(table, dict):
                raise SettingsError(f"{place}: {name} is a table; write [{name}] and its keys below it.")
            tables[name] |= _values(name, table, place)
    rules: dict[DefectClass, ClassRule] = {one: _rule(tables[_AQL][one], f"{place}: [aql] {one}") for one in CLASSES}
    if all(isinstance(one, str) for one in rules.values()) and ALL_DISCS not in rules.values():
        raise SettingsError(f"{place}: [aql] no class has an AQL, so no sample can be sized; give one a number.")
    return DefectSettings(
        _level(tables[_INSPECTION]["level"], f"{place}: [inspection] level"),
        rules,
        {word: _class(one, f"{place}: [seen] {word}") for word, one in tables[_SEEN].items()},
        {word: _class(one, f"{place}: [heard] {word}") for word, one in tables[_HEARD].items()},
    )


def _values(name: str, table: Mapping[str, Any], place: str) -> dict[str, Any]:
    """Values without their sources, every key known."""
    values = {}
    for key, raw in table.items():
        if key not in KEYS[name]:
            raise SettingsError(f"{place}: [{name}] has an unknown key “{key[:40]}”; {_nearest(key, KEYS[name])}.")
        if isinstance(raw, dict):
            if "value" not in raw or set(raw) - {"value", "source"}:
                got = ", ".join(raw) or "nothing"
                raise SettingsError(f"{place}: [{name}] {key}: needs value and source, nothing else; got {got}.")
            raw = raw["value"]
        values[key] = raw
    return values


def _nearest(word: str, known: tuple[str, ...]) -> str:
    near = difflib.get_close_matches(word, known, 1, 0.5)
    return f"write {near[0]}" if near else f"it knows {', '.join(known)}"


def _level(raw: Any, place: str) -> str:
    if raw not in LEVELS:
        raise SettingsError(f"{place}: must be one of {', '.join(LEVELS)}; got {raw!r}.")
    return str(raw)


def _rule(raw: Any, place: str) -> ClassRule:
    if raw == NONE_IN_SAMPLE:
        return NONE_IN_SAMPLE
    if raw == ALL_DISCS:
        return ALL_DISCS
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        raise SettingsError(f'{place}: must be an AQL, "{NONE_IN_SAMPLE}" or "{ALL_DISCS}"; got {raw!r}.')
    try:
        return AQLS[aql_number(float(raw))]
    except CallError as trouble:
        raise SettingsError(f"{place}: {trouble}") from None


def _class(raw: Any, place: str) -> DefectClass:
    if not isinstance(raw, str):
        raise SettingsError(f"{place}: must be one of {', '.join(CLASSES)}; got {raw!r}.")
    try:
        return class_named(raw)
    except CallError as trouble:
        raise SettingsError(f"{place}: {trouble}") from None
