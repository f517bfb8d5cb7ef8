"""What a works may change about packing, as TOML: the shipped figures, and a house file that replaces some of them.

A house file holds the tables and keys it wants otherwise and nothing else. A value is bare, or a table with `value` and
`source`. Tables of pallets and weights of editions of its own may be added.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

from discwright.errors import SettingsError
from discwright.files.house_toml import read_house_toml
from discwright.works.packing import PER_BUNDLE_MOST, PER_CARTON_MOST, PackRules
from discwright.works.pallets import Pallet, Weights

_FILE = "packing.toml"
_UNITS, _G = "units", "_g"
#: Tables that are no pallets.
_OTHERS = ("packing", "weights", _UNITS, "carton", "label", "sender")
_PALLET_KEYS = ("width_mm", "depth_mm", "height_mm", "mass_kg", "load_kg", "stack_mm")
_COUNTS = {"per_carton": PER_CARTON_MOST, "per_bundle": PER_BUNDLE_MOST}
_WORDS = ("language",)
Tables = dict[str, dict[str, Any]]


@dataclass(frozen=True)
class LabelLimits:
    """What bars may not be below (or, the module, above), and how high letters are wanted; lower ones are told."""

    least_module_mm: float
    most_module_mm: float
    free_text_mm: float
    told_below_mm: float


@dataclass(frozen=True)
class PackingSettings:
    """Everything in the file.

    Attributes
    ----------
    rules : PackRules
    weights : Weights
    pallets : mapping of str to Pallet
        By name; the first is the usual one.
    label : LabelLimits
    language : str
        Of the country that sends; names of countries are printed in it.
    """

    rules: PackRules
    weights: Weights
    pallets: Mapping[str, Pallet]
    label: LabelLimits
    language: str


def load_packing(path: Path | None = None) -> PackingSettings:
    """The shipped settings, with what a house file says otherwise.

    Parameters
    ----------
    path : pathlib.Path or None
        The house file; None for the shipped settings alone.

    Returns
    -------
    PackingSettings

    Raises
    ------
    SettingsError
        If the file cannot be read, or has a wrong table, key or value.
    """
    shipped = tomllib.loads((resources.files("discwright") / "data" / _FILE).read_text(encoding="utf-8"))
    tables: Tables = {name: _values(name, table, _FILE) for name, table in shipped.items()}
    place = _FILE
    if path is not None:
        place = str(path)
        for name, table in read_house_toml(path, "packing settings").items():
            if not isinstance(table, dict):
                raise SettingsError(f"{place}: {name} is a table; write [{name}] and its keys below it.")
            values = _values(name, table, place)
            if name not in tables and set(values) != set(_PALLET_KEYS):
                raise SettingsError(
                    f"{place}: [{name}] is unknown; {_nearest(name, list(tables))}, or give a pallet all of "
                    f"{', '.join(_PALLET_KEYS)}."
                )
            tables[name] = tables.get(name, {}) | values
    return _built(tables, place)


def _built(tables: Tables, place: str) -> PackingSettings:
    carton = tables["carton"]
    box = (carton["width_mm"], carton["depth_mm"], carton["height_mm"])
    pallets = {name: Pallet(name, **table, carton_mm=box) for name, table in tables.items() if name not in _OTHERS}
    for name, one in pallets.items():
        if one.stack_mm <= one.height_mm:
            raise SettingsError(
                f"{place}: [{name}] stack_mm leaves no room above the pallet; give more than height_mm."
            )
    limits = LabelLimits(**tables["label"])
    if limits.least_module_mm > limits.most_module_mm:
        raise SettingsError(f"{place}: [label] least_module_mm is above most_module_mm; exchange them.")
    return PackingSettings(
        rules=PackRules(**{key: int(value) for key, value in tables["packing"].items()}),
        weights=Weights(
            units_g={key.removesuffix(_G): value for key, value in tables[_UNITS].items()}, **tables["weights"]
        ),
        pallets=pallets,
        label=limits,
        language=tables["sender"]["language"],
    )


_KNOWN = {
    "packing": tuple(_COUNTS), "weights": ("box_kg", "one_person_kg"), "carton": ("width_mm", "depth_mm", "height_mm"),
    "label": ("least_module_mm", "most_module_mm", "free_text_mm", "told_below_mm"), "sender": _WORDS,
}  # fmt: skip


def _values(name: str, table: dict[str, Any], place: str) -> dict[str, Any]:
    """Values of a table without their sources, each of its kind."""
    known = _KNOWN.get(name, _PALLET_KEYS)
    values = {}
    for key, raw in table.items():
        if not (name == _UNITS and key.endswith(_G) and len(key) > len(_G)) and (name == _UNITS or key not in known):
            wanted = "write an edition and _g" if name == _UNITS else _nearest(key, list(known))
            raise SettingsError(f"{place}: [{name}] has an unknown key “{key}”; {wanted}.")
        if isinstance(raw, dict):
            if "value" not in raw or set(raw) - {"value", "source"}:
                got = ", ".join(raw) or "nothing"
                raise SettingsError(f"{place}: [{name}] {key}: needs value and source, nothing else; got {got}.")
            raw = raw["value"]
        values[key] = _checked(key, raw, f"{place}: [{name}] {key}")
    return values


def _checked(key: str, raw: Any, place: str) -> float | str:
    if key in _WORDS:
        from discwright.files.addresses import languages

        if raw not in languages():
            raise SettingsError(f"{place}: must be one of {', '.join(languages())}; got {raw!r}.")
        return str(raw)
    if isinstance(raw, bool) or not isinstance(raw, int | float) or not 0 < raw < 1e6:
        raise SettingsError(f"{place}: must be a number above zero; got {raw!r}.")
    if key in _COUNTS and (raw != int(raw) or raw > _COUNTS[key]):
        raise SettingsError(f"{place}: must be a whole number, {_COUNTS[key]} at most; got {raw!r}.")
    return float(raw)


def _nearest(word: str, known: list[str]) -> str:
    near = difflib.get_close_matches(word, known, 1, 0.5)
    return f"write {near[0]}" if near else f"it knows {', '.join(known)}"
