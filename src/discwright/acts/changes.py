"""What can be asked otherwise of a kept side: level, equipment, practice, treatments; checked, and as plain values."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, Self

from discwright.errors import CallError
from discwright.files.house import TABLES
from discwright.files.settings import check_together, load
from discwright.groove.equipment import Setup
from discwright.plan import LEVEL_RANGE_DB
from discwright.programme.title import TREATMENTS, Treatment

#: What a level that is looked for must satisfy.
FITS = ("cut", "clean")
#: No treatment reaches below or above hearing, Hz; the title file's rule.
CORNER_HZ = (5.0, 30_000.0)

_EXAMPLE_HZ = {"bass_blend": 150, "low_cut": 30, "high_cut": 16_000}


@dataclass(frozen=True)
class Changes:
    """What is asked otherwise than a kept plan was; None for what stays.

    Attributes
    ----------
    level_db : float or None
        Fixed level. Without it and without `fit` it is the plan's own, however that was found.
    fit : str or None
        Look for the level instead: ``"cut"``, nothing stops it; ``"clean"``, the playing tip also traces it.
    format, lathe, head, cutting_tip, tip, practice : str or None
        A name in `data/` or a TOML file.
    treatments : tuple of Treatment or None
        All of them, in place of the plan's; an empty tuple for none.
    ladder : bool
        Also find up to what level the side fits, cuts and is traced.
    """

    level_db: float | None = None
    fit: str | None = None
    format: str | None = None
    lathe: str | None = None
    head: str | None = None
    cutting_tip: str | None = None
    tip: str | None = None
    practice: str | None = None
    treatments: tuple[Treatment, ...] | None = None
    ladder: bool = False

    @classmethod
    def from_plain(cls, plain: Mapping[str, Any]) -> Self:
        """Changes from JSON values.

        Parameters
        ----------
        plain : dict
            Keys are the attributes' names, any may be missing or null; `treatments` is a list as in the settings of
            `plan.json`: ``[{"kind": "bass_blend", "below_hz": 150.0}, {"kind": "treble_limit"}]``.

        Raises
        ------
        CallError
            If a key or a value is none that can be used.
        """
        known = [field.name for field in fields(cls)]
        for key in plain:
            if key not in known:
                near = difflib.get_close_matches(key, known, 1, 0.5)
                hint = f"write {near[0]}" if near else f"there are {', '.join(known)}"
                raise CallError(f"a what-if knows no “{key}”; {hint}.")
        values = {key: value for key, value in plain.items() if value is not None}
        for key in values.keys() - {"level_db", "treatments", "ladder"}:
            if not isinstance(values[key], str):
                raise CallError(f"{key} must be a word; got {values[key]!r}: write a name in quotes.")
        if "level_db" in values:
            values["level_db"] = _number(values["level_db"], "level_db")
        if not isinstance(values.get("ladder", False), bool):
            raise CallError(f"ladder must be true or false; got {values['ladder']!r}: write one of the two.")
        if "treatments" in values:
            values["treatments"] = _treatments(values["treatments"])
        changes = cls(**values)
        changes.check()
        return changes

    def as_plain(self) -> dict[str, Any]:
        """The changes as JSON values, which :meth:`from_plain` reads; what stays is left out."""
        plain = {field.name: getattr(self, field.name) for field in fields(self)}
        if self.treatments is not None:
            plain["treatments"] = [_as_table(one) for one in self.treatments]
        return {key: value for key, value in plain.items() if value is not None and value is not False}

    def check(self) -> None:
        """Refuse what can be refused before a plan is opened.

        Raises
        ------
        CallError
        """
        low, high = LEVEL_RANGE_DB
        if self.fit is not None and self.fit not in FITS:
            raise CallError(f"fit: there is no “{self.fit}”; write {' or '.join(FITS)}.")
        if self.level_db is not None and self.fit is not None:
            raise CallError("a level that is fixed is not looked for: give level_db or fit, not both.")
        if self.level_db is not None and not low <= self.level_db <= high:
            raise CallError(
                f"the level must lie between {low:.0f} and {high:.0f} dB; {self.level_db:g} dB does not: "
                "choose another."
            )
        for one in self.treatments or ():
            _check_treatment(one)
        if sum(one.kind == "treble_limit" for one in self.treatments or ()) > 1:
            raise CallError("a side has one treble_limit at the most; write it once.")

    def applied(self, setup: Setup) -> Setup:
        """A setup with what is named here in the place of what it holds.

        Parameters
        ----------
        setup : Setup

        Raises
        ------
        CallError, SettingsError
            If a name is unknown, a file cannot be used, or the parts contradict one another.
        """
        named = {key: getattr(self, key) for key in TABLES if getattr(self, key) is not None}
        parts: dict[str, Any] = {
            "disc" if key == "format" else key: load(TABLES[key], name)  # type: ignore[type-var]
            for key, name in named.items()
        }
        changed = replace(setup, **parts)
        check_together(changed)
        return changed


def treatment(kind: str, hz: float | None = None) -> Treatment:
    """A treatment from its kind and its one corner.

    Parameters
    ----------
    kind : str
    hz : float or None, Hz
        Needed by all but the treble limit.

    Raises
    ------
    CallError
        If there is no such kind, or the corner is missing, too many or absurd.
    """
    _check_kind(kind)
    sides = TREATMENTS[kind]
    if hz is not None and not sides:
        raise CallError(f"{kind} has no corner; leave {hz:g} Hz out.")
    if hz is None and sides:
        raise CallError(f"{kind} needs a corner in Hz; give it one, as in {kind}:{_EXAMPLE_HZ[kind]}.")
    made = Treatment(kind, **dict.fromkeys(sides, hz))
    _check_treatment(made)
    return made


def _number(value: object, key: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise CallError(f"{key} must be a number; got {value!r}: write it without quotes.")
    return float(value)


def _treatments(plain: object) -> tuple[Treatment, ...]:
    if not isinstance(plain, list | tuple) or not all(isinstance(one, Mapping) for one in plain):
        raise CallError('treatments must be a list of tables; write [{"kind": "treble_limit"}], or [] for none.')
    found = []
    for one in plain:
        for key in one.keys() - {"kind", "below_hz", "above_hz"}:
            raise CallError(f"a treatment knows no “{key}”; it has kind, below_hz and above_hz.")
        kind = one.get("kind")
        if not isinstance(kind, str):
            raise CallError(f"a treatment needs its kind; write one of {', '.join(TREATMENTS)}.")
        _check_kind(kind)
        corners = {side: one.get(f"{side}_hz") for side in ("below", "above")}
        found.append(
            Treatment(kind, **{k: None if hz is None else _number(hz, f"{k}_hz") for k, hz in corners.items()})
        )
    return tuple(found)


def _as_table(one: Treatment) -> dict[str, Any]:
    corners = {"below_hz": one.below, "above_hz": one.above}
    return {"kind": one.kind} | {key: value for key, value in corners.items() if value is not None}


def _check_kind(kind: str) -> None:
    if kind not in TREATMENTS:
        near = difflib.get_close_matches(kind, TREATMENTS, 1, 0.5)
        hint = f"write {near[0]}" if near else f"there are {', '.join(TREATMENTS)}"
        raise CallError(f"there is no treatment “{kind}”; {hint}.")


def _check_treatment(one: Treatment) -> None:
    """The title file's rules."""
    _check_kind(one.kind)
    low, high = CORNER_HZ
    for side, corner in (("below", one.below), ("above", one.above)):
        wanted = side in TREATMENTS[one.kind]
        if wanted and corner is None:
            raise CallError(f"{one.kind} needs {side}_hz; add it.")
        if corner is not None and not wanted:
            raise CallError(f"{one.kind} knows no {side}_hz; leave it out.")
        if corner is not None and not low <= corner <= high:
            raise CallError(f"{side}_hz must lie between {low:g} and {high:g}; got {corner:g}: choose another.")
