"""What a works may change about plating, as TOML: the shipped figures, and a house file that replaces some of them.

A house file holds the tables and keys it wants otherwise and nothing else. A value is bare, or a table with `value` and
`source`. Values stay in the unit that their key wears; the act takes them to SI.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from importlib import resources
from pathlib import Path
from typing import Any, TypeVar

from discwright.errors import CallError, SettingsError
from discwright.files.house_toml import read_house_toml
from discwright.works.metals import METALS
from discwright.works.plating_steps import read_steps

_FILE = "plating.toml"
_MAY_BE_ZERO = {"spread_percent", "turn_round_minutes"}
_PLATES = "plates"
_MM = "_mm"


@dataclass(frozen=True)
class Bath:
    """A metal's bath: usual efficiency, temperature, and what is worth a warning; no pH where it is an acid bath."""

    efficiency: float
    efficiency_low: float
    efficiency_high: float
    density_high_a_dm2: float
    bath_low_c: float
    bath_high_c: float
    warn_below_c: float
    warn_above_c: float
    ph_low: float | None = None
    ph_high: float | None = None


@dataclass(frozen=True)
class Growth:
    """How metal grows: edge build-up, the first layer on a silvered lacquer, time between two parts."""

    spread_percent: float
    first_layer_um: float
    first_layer_high_a_dm2: float
    first_layer_low_c: float
    first_layer_high_c: float
    turn_round_minutes: float


@dataclass(frozen=True)
class Silvering:
    """The silver film, and the times of its making."""

    film_um: float
    sensitise_low_minutes: float
    sensitise_high_minutes: float
    spray_low_minutes: float
    spray_high_minutes: float


@dataclass(frozen=True)
class Passivation:
    """The dip between metal and metal."""

    low_minutes: float
    high_minutes: float


@dataclass(frozen=True)
class Kind:
    """What a kind of part is grown to: mean thickness, the least anywhere, and with which steps of current."""

    target_um: float
    least_um: float
    steps: str


@dataclass(frozen=True)
class PlatingSettings:
    """Everything in the file.

    Attributes
    ----------
    baths : mapping of str to Bath
        By metal.
    growth : Growth
    silvering : Silvering
    passivation : Passivation
    kinds : mapping of str to Kind
        By kind of part: master, mother, stamper.
    plates_mm : mapping of str to float
        Diameter by the plate's name.
    """

    baths: Mapping[str, Bath]
    growth: Growth
    silvering: Silvering
    passivation: Passivation
    kinds: Mapping[str, Kind]
    plates_mm: Mapping[str, float]


KIND_NAMES = ("master", "mother", "stamper")
_TABLES: dict[str, type[Any]] = {
    **dict.fromkeys(METALS, Bath),
    "growth": Growth,
    "silvering": Silvering,
    "passivation": Passivation,
    **dict.fromkeys(KIND_NAMES, Kind),
}
T = TypeVar("T")


def load_plating(path: Path | None = None) -> PlatingSettings:
    """The shipped settings, with what a house file says otherwise.

    Parameters
    ----------
    path : pathlib.Path or None
        The house file; None for the shipped settings alone.

    Returns
    -------
    PlatingSettings

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
        for name, table in read_house_toml(path, "plating settings").items():
            if name not in tables:
                raise SettingsError(f"{place}: has an unknown table [{name}]; {_nearest(name, list(tables))}.")
            if not isinstance(table, dict):
                raise SettingsError(f"{place}: {name} is a table; write [{name}] and its keys below it.")
            _check_keys(name, table, tables[name], place)
            tables[name] = tables[name] | _values(table, f"{place}: [{name}]")
    built: dict[str, Any] = {name: _build(kind, name, tables[name], place) for name, kind in _TABLES.items()}
    return PlatingSettings(
        baths={name: built[name] for name in METALS},
        growth=built["growth"],
        silvering=built["silvering"],
        passivation=built["passivation"],
        kinds={name: built[name] for name in KIND_NAMES},
        plates_mm={key.removesuffix(_MM): _number(key, v, f"{place}: [plates]") for key, v in tables[_PLATES].items()},
    )


def _check_keys(name: str, table: dict[str, Any], shipped: dict[str, Any], place: str) -> None:
    """A house may name plates of its own; every other key must be known."""
    known = list(shipped) if name == _PLATES else [f.name for f in fields(_TABLES[name])]
    for key in table:
        if name == _PLATES and key.endswith(_MM) and len(key) > len(_MM):
            continue
        if key not in known:
            raise SettingsError(f"{place}: [{name}] has an unknown key “{key}”; {_nearest(key, known)}.")


def _nearest(word: str, known: list[str]) -> str:
    near = difflib.get_close_matches(word, known, 1, 0.5)
    return f"write {near[0]}" if near else f"it knows {', '.join(known)}"


def _values(table: dict[str, Any], place: str) -> dict[str, Any]:
    """Values without their sources."""
    values = {}
    for key, raw in table.items():
        if isinstance(raw, dict):
            if "value" not in raw or set(raw) - {"value", "source"}:
                got = ", ".join(raw) or "nothing"
                raise SettingsError(f"{place} {key}: needs value and source, nothing else; got {got}.")
            raw = raw["value"]
        values[key] = raw
    return values


def _build(kind: type[T], name: str, values: dict[str, Any], place: str) -> T:
    place = f"{place}: [{name}]"
    numbers = {key: _number(key, raw, place) for key, raw in values.items() if key != "steps"}
    for low in numbers:
        high = low.replace("below", "above").replace("low", "high") if "low" in low else low
        if high in numbers and numbers[low] > numbers[high]:
            raise SettingsError(f"{place} {low} is above {high}; exchange them.")
    words = {"steps": _steps(values["steps"], place)} if "steps" in values else {}
    return kind(**numbers, **words)


def _steps(raw: Any, place: str) -> str:
    if not isinstance(raw, str):
        raise SettingsError(f'{place} steps: must be text such as "0.5x30,1x30,10"; got {raw!r}.')
    try:
        read_steps(raw)
    except CallError as trouble:
        raise SettingsError(f"{place} steps: {trouble}") from None
    return raw


def _number(key: str, raw: Any, place: str) -> float:
    if isinstance(raw, bool) or not isinstance(raw, int | float) or not abs(raw) < 1e6:
        raise SettingsError(f"{place} {key}: must be a number; got {raw!r}.")
    if raw < 0 or (raw == 0 and key not in _MAY_BE_ZERO):
        raise SettingsError(f"{place} {key}: must be greater than zero; got {raw!r}.")
    return float(raw)
