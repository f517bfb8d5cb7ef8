"""What a works may change about the press, as TOML: the shipped figures, and a house file that replaces some of them.

A house file holds the tables and keys it wants otherwise and nothing else. A value is bare, or a table with `value` and
`source`. Values stay in the unit that their key wears; the act takes them to SI.
"""

from __future__ import annotations

import difflib
import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from importlib import resources
from pathlib import Path
from typing import Any

from discwright.errors import SettingsError
from discwright.files.house_toml import read_house_toml

_FILE = "press.toml"
SIZES = ("12in", "10in", "7in")
#: Largest number that any key can mean.
_MOST = 1e7
_MAY_BE_ZERO = {
    "flash_percent", "life_cv", "change_minutes", "first_off_minutes", "labels_percent", "sleeves_percent",
    "jackets_percent", "master_days", "mother_days", "stamper_days", "approval_days", "labels_days", "compound_days",
    "sleeves_days", "jackets_days", "finish_days", "pack_days", "allowed_percent", "short_cost", "over_cost",
    "deviation_percent", "reload_minutes", "cold_c",
}  # fmt: skip


@dataclass(frozen=True)
class Size:
    """A size of disc: its weight, its cycle in the press, its thickest place, and what a finished one must keep."""

    diameter_mm: float
    weight_g: float
    cycle_s: float
    label_thickness_mm: float
    diameter_low_mm: float
    diameter_high_mm: float
    label_diameter_mm: float
    recorded_diameter_mm: float
    locked_low_mm: float
    locked_high_mm: float


@dataclass(frozen=True)
class Compound:
    """What discs are made of."""

    density_g_cm3: float
    flash_percent: float
    diffusivity_mm2_s: float


@dataclass(frozen=True)
class Pressing:
    """The press at work: good ones, running time, changes, temperatures, and how much of it one edition gets."""

    good_share: float
    running_share: float
    change_minutes: float
    first_off_minutes: float
    hot_c: float
    cold_c: float
    open_c: float
    presses: int
    hours_a_day: float


@dataclass(frozen=True)
class Tree:
    """How long stampers last, and how many parts come of one."""

    stamper_life: float
    life_low: float
    life_high: float
    life_cv: float
    stamper_share: float
    mother_share: float
    master_share: float
    stampers_per_mother: int
    mothers_per_master: int
    masters_per_lacquer: int


@dataclass(frozen=True)
class Spare:
    """What is spoiled on the way, of what is used."""

    labels_percent: float
    sleeves_percent: float
    jackets_percent: float


@dataclass(frozen=True)
class Days:
    """Working days from one thing to the next."""

    week_days: int
    master_days: int
    mother_days: int
    stamper_days: int
    parts_per_day: int
    approval_days: int
    labels_days: int
    compound_days: int
    sleeves_days: int
    jackets_days: int
    finish_days: int
    pack_days: int


@dataclass(frozen=True)
class OverrunTerms:
    """How many may be delivered beyond the order, and what one too few and one too many cost; 0 for nobody knows."""

    allowed_percent: float
    short_cost: float
    over_cost: float
    deviation_percent: float


@dataclass(frozen=True)
class Holes:
    """The two holes a disc can have."""

    small_low_mm: float
    small_high_mm: float
    large_low_mm: float
    large_high_mm: float


@dataclass(frozen=True)
class Gate:
    """Limits of a first-off that all sizes share."""

    off_centre_mm: float
    weight_percent: float
    label_shift_mm: float
    label_thickness_low_mm: float
    label_thickness_high_mm: float
    warp_mm: float
    balance_mm: float


@dataclass(frozen=True)
class TapeWork:
    """How tapes are copied."""

    speed_cm_s: float
    ratio: float
    slaves: int
    reload_minutes: float
    good_share: float
    hours_a_day: float
    top_hz: float
    low_time_constant_us: float
    high_time_constant_us: float


@dataclass(frozen=True)
class PressSettings:
    """Everything in the file.

    Attributes
    ----------
    sizes : mapping of str to Size
        12in, 10in, 7in.
    compound : Compound
    press : Pressing
    parts : Tree
    spare : Spare
    days : Days
    overrun : OverrunTerms
    hole : Holes
    first_off : Gate
    tape : TapeWork
    """

    sizes: Mapping[str, Size]
    compound: Compound
    press: Pressing
    parts: Tree
    spare: Spare
    days: Days
    overrun: OverrunTerms
    hole: Holes
    first_off: Gate
    tape: TapeWork

    def size_of(self, diameter: float) -> str:
        """The size nearest to a disc's diameter.

        Parameters
        ----------
        diameter : float, m
        """
        return min(self.sizes, key=lambda name: abs(self.sizes[name].diameter_mm - diameter * 1e3))


_TABLES: dict[str, type[Any]] = {
    **dict.fromkeys(SIZES, Size),
    "compound": Compound,
    "press": Pressing,
    "parts": Tree,
    "spare": Spare,
    "days": Days,
    "overrun": OverrunTerms,
    "hole": Holes,
    "first_off": Gate,
    "tape": TapeWork,
}


def load_press(path: Path | None = None) -> PressSettings:
    """The shipped settings, with what a house file says otherwise.

    Parameters
    ----------
    path : pathlib.Path or None
        The house file; None for the shipped settings alone.

    Returns
    -------
    PressSettings

    Raises
    ------
    SettingsError
        If the file cannot be read, or has a wrong table, key or value.
    """
    shipped = tomllib.loads((resources.files("discwright") / "data" / _FILE).read_text(encoding="utf-8"))
    tables = {name: _values(table, f"{_FILE}: [{name}]") for name, table in shipped.items()}
    place = _FILE
    if path is not None:
        place = str(path)
        for name, table in read_house_toml(path, "press settings").items():
            if name not in tables:
                raise SettingsError(
                    f"{place}: has an unknown table [{name[:40]}]; {_nearest(name, list(tables), 'there are')}."
                )
            if not isinstance(table, dict):
                raise SettingsError(f"{place}: {name} is a table; write [{name}] and its keys below it.")
            _check_keys(name, table, place)
            tables[name] = tables[name] | _values(table, f"{place}: [{name}]")
    built: dict[str, Any] = {name: _build(name, tables[name], place) for name in _TABLES}
    rest = {name: one for name, one in built.items() if name not in SIZES}
    return PressSettings(sizes={name: built[name] for name in SIZES}, **rest)


def _check_keys(name: str, table: dict[str, Any], place: str) -> None:
    known = [one.name for one in fields(_TABLES[name])]
    for key in table:
        if key not in known:
            raise SettingsError(
                f"{place}: [{name}] has an unknown key “{key[:40]}”; {_nearest(key, known, 'it knows')}."
            )


def _nearest(word: str, known: list[str], there_are: str) -> str:
    near = difflib.get_close_matches(word, known, 1, 0.5)
    return f"write {near[0]}" if near else f"{there_are} {', '.join(known)}"


def _values(table: dict[str, Any], place: str) -> dict[str, Any]:
    """Values without their sources."""
    values = {}
    for key, raw in table.items():
        if isinstance(raw, dict):
            if "value" not in raw or set(raw) - {"value", "source"}:
                got = ", ".join(raw) or "nothing"
                raise SettingsError(f"{place} {key}: needs value and source, nothing else; got {got[:80]}.")
            raw = raw["value"]
        values[key] = raw
    return values


def _build(name: str, values: dict[str, Any], place: str) -> Any:
    kind, place = _TABLES[name], f"{place}: [{name}]"
    numbers = {one.name: _number(one.name, values[one.name], one.type == "int", place) for one in fields(kind)}
    for low in numbers:
        high = low.replace("low", "high") if "low" in low else low
        if high in numbers and numbers[low] > numbers[high] and "time_constant" not in low:
            raise SettingsError(f"{place} {low} is above {high}; exchange them.")
    return kind(**numbers)


def _number(key: str, raw: Any, whole: bool, place: str) -> float:
    strange = isinstance(raw, bool) or not isinstance(raw, int | float)
    if strange or (isinstance(raw, float) and math.isnan(raw)):
        raise SettingsError(f"{place} {key}: must be a number; got {repr(raw)[:40]}.")
    if abs(raw) > _MOST:  # Python would not even print one of thousands of digits
        raise SettingsError(f"{place} {key}: must be a number of at most {_MOST:.0f}.")
    if raw < 0 or (raw == 0 and key not in _MAY_BE_ZERO):
        raise SettingsError(f"{place} {key}: must be greater than zero; got {raw!r}.")
    if whole and raw != int(raw):
        raise SettingsError(f"{place} {key}: must be a whole number; got {raw!r}.")
    return int(raw) if whole else float(raw)
