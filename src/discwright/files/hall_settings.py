"""The press hall as TOML: shipped times and shifts, and a house file that names the presses and replaces some of them.

A value is bare, or a table with `value` and `source`. Each press is a table `[[press]]`; what it does not say it has
from the tables above it.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, tzinfo
from importlib import resources
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from discwright.errors import CallError, SettingsError
from discwright.files.house_toml import read_house_toml
from discwright.works.hall import PRESSES_MOST, SIZES, ChangeMinutes, Hall, OnPress, Press, Shift
from discwright.works.hall_times import DAY, read_moment

_FILE = "hall.toml"
_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_SHIFT = re.compile(r"([a-z]{3})(?:-([a-z]{3}))? +(\d\d?):(\d\d)-(\d\d?):(\d\d)")
_CHANGES = ("stampers_minutes", "colour_minutes", "after_black_minutes", "size_minutes")
_CYCLES = tuple(f"cycle_{size}_s" for size in SIZES)
#: What a press may say of itself.
PRESS_KEYS = (
    "name", "count", "sizes", "colours", "abilities", "shifts", "closed_days", "running", *_CHANGES, *_CYCLES,
    "on_edition", "on_size", "on_colour", "free_from",
)  # fmt: skip
_WORD_MOST, _MINUTES_MOST, _CYCLE_MOST = 40, 1440, 600.0


@dataclass(frozen=True)
class HallSettings:
    """What a hall file says.

    Attributes
    ----------
    hall : Hall
    shifts : mapping of str to str
        As they are written, by name.
    stamper_life : int
        Pressings, for jobs that do not say.
    """

    hall: Hall
    shifts: Mapping[str, str]
    stamper_life: int


def load_hall(path: Path) -> HallSettings:
    """A house's press hall.

    Parameters
    ----------
    path : pathlib.Path
        HALL.toml, with at least one ``[[press]]``.

    Returns
    -------
    HallSettings

    Raises
    ------
    SettingsError
        If the file cannot be read, or has a wrong table, key or value.
    """
    return hall_from(read_house_toml(path, "a press hall"), str(path))


def hall_from(house: Mapping[str, Any], place: str) -> HallSettings:
    """A press hall out of the tables of a file.

    Parameters
    ----------
    house : mapping
    place : str
        Named in refusals.

    Raises
    ------
    SettingsError
    """
    tables = _tables(house, place)
    zone_name = str(tables["hall"]["zone"])
    zone = _zone(zone_name, f"{place}: [hall] zone")
    shifts = {name: _shifts(text, f"{place}: [shifts] {name}") for name, text in tables["shifts"].items()}
    general = tables["changes"] | tables["pressing"] | {"closed_days": tables["hall"]["closed_days"]}
    life = _number(general.pop("stamper_life"), f"{place}: [pressing] stamper_life", 1, 1e6)
    raw = house.get("press", [])
    if not isinstance(raw, list) or not raw or not all(isinstance(one, dict) for one in raw):
        raise SettingsError(f"{place}: has no press; write a table [[press]] with its name and sizes for each.")
    presses: list[Press] = []
    for k, table in enumerate(raw, 1):
        presses += _presses(table, general, shifts, zone, f"{place}: press {k}")
        if len(presses) > PRESSES_MOST:
            raise SettingsError(f"{place}: has more than {PRESSES_MOST} presses; divide the hall.")
    names = [press.name for press in presses]
    if len(set(names)) < len(names):
        twice = next(name for name in names if names.count(name) > 1)
        raise SettingsError(f"{place}: two presses are called “{twice}”; give each a name of its own.")
    return HallSettings(Hall(tuple(presses), zone, zone_name), dict(tables["shifts"]), int(life))


def _tables(house: Mapping[str, Any], place: str) -> dict[str, dict[str, Any]]:
    """The shipped tables with what the house says otherwise."""
    shipped = tomllib.loads((resources.files("discwright") / "data" / _FILE).read_text(encoding="utf-8"))
    tables = {name: {key: entry["value"] for key, entry in table.items()} for name, table in shipped.items()}
    for name, table in house.items():
        if name == "press":
            continue
        if name not in tables:
            raise SettingsError(f"{place}: has an unknown table [{name}]; {_nearest(name, [*tables, 'press'])}.")
        if not isinstance(table, dict):
            raise SettingsError(f"{place}: {name} is a table; write [{name}] and its keys below it.")
        for key, raw in table.items():
            if name != "shifts" and key not in tables[name]:
                raise SettingsError(
                    f"{place}: [{name}] has an unknown key “{key}”; {_nearest(key, list(tables[name]))}."
                )
            tables[name][key] = raw["value"] if isinstance(raw, dict) and "value" in raw else raw
    return tables


def _presses(
    table: dict[str, Any], general: Mapping[str, Any], shifts: Mapping[str, tuple[Shift, ...]], zone: tzinfo, place: str
) -> list[Press]:
    """One press, or `count` alike ones numbered from 1."""
    for key in table:
        if key not in PRESS_KEYS:
            raise SettingsError(f"{place} has an unknown key “{key}”; {_nearest(key, list(PRESS_KEYS))}.")
    said = dict(general) | table
    name = _word(said.get("name"), f"{place} name")
    place = f"{place} ({name})"
    minutes = [round(_number(said[key], f"{place} {key}", 0, _MINUTES_MOST)) for key in _CHANGES]
    on = OnPress(
        _word(said.get("on_edition", ""), f"{place} on_edition", empty=True),
        _word(said.get("on_size", ""), f"{place} on_size", empty=True),
        _word(said.get("on_colour", ""), f"{place} on_colour", empty=True).lower(),
    )
    press = Press(
        name=name,
        sizes=frozenset(_sizes(said.get("sizes"), f"{place} sizes")),
        colours=frozenset(one.lower() for one in _words(said.get("colours", []), f"{place} colours")),
        abilities=frozenset(one.lower() for one in _words(said.get("abilities", []), f"{place} abilities")),
        shifts=_named_shifts(said.get("shifts", ["early", "late"]), shifts, f"{place} shifts"),
        closed_days=frozenset(_days(said["closed_days"], f"{place} closed_days")),
        running=_number(said["running"], f"{place} running", 0.05, 1.0),
        changes=ChangeMinutes(*minutes),
        cycle_s={
            size: _number(said[key], f"{place} {key}", 0.5, _CYCLE_MOST)
            for size, key in zip(SIZES, _CYCLES, strict=True)
        },
        on=on,
        free_from=_moment(said.get("free_from"), zone, f"{place} free_from"),
    )
    count = round(_number(said.get("count", 1), f"{place} count", 1, PRESSES_MOST))
    return [press] if count == 1 else [replace(press, name=f"{name}{k}") for k in range(1, count + 1)]


def _shifts(text: Any, place: str) -> tuple[Shift, ...]:
    """`mon-fri 06:00-14:00`, several with semicolons between."""
    found = []
    for part in str(text).lower().split(";"):
        match = _SHIFT.fullmatch(" ".join(part.split()))
        if not match or match[1] not in _DAYS or (match[2] or match[1]) not in _DAYS:
            raise SettingsError(f"{place}: “{part.strip()[:40]}” is no shift; write for example mon-fri 06:00-14:00.")
        first, last = _DAYS.index(match[1]), _DAYS.index(match[2] or match[1])
        days = tuple(sorted((first + k) % 7 for k in range((last - first) % 7 + 1)))
        opens, closes = (int(match[k]) * 60 + int(match[k + 1]) for k in (3, 5))
        if max(opens, closes) > DAY or int(match[4]) > 59 or int(match[6]) > 59 or opens == DAY:
            raise SettingsError(f"{place}: “{part.strip()[:40]}” has no such hour; write 00:00 to 24:00.")
        found.append(Shift(days, opens, closes if closes > opens else closes + DAY))
    return tuple(found)


def _named_shifts(raw: Any, known: Mapping[str, tuple[Shift, ...]], place: str) -> tuple[Shift, ...]:
    names = _words(raw, place)
    for name in names:
        if name not in known:
            raise SettingsError(f"{place}: there is no shift “{name}”; {_nearest(name, list(known))}.")
    return tuple(dict.fromkeys(shift for name in names for shift in known[name]))


def _sizes(raw: Any, place: str) -> list[str]:
    sizes = _words(raw if raw is not None else [], place)
    wrong = next((one for one in sizes if one not in SIZES), None)
    if wrong is not None or not sizes:
        raise SettingsError(
            f"{place}: {f'“{wrong}” is no size' if wrong else 'are missing'}; write {', '.join(SIZES)}."
        )
    return sizes


def _days(raw: Any, place: str) -> list[date]:
    days = []
    for one in raw if isinstance(raw, list) else [raw]:
        try:
            days.append(one if type(one) is date else date.fromisoformat(str(one)))
        except ValueError:
            raise SettingsError(f"{place}: “{str(one)[:40]}” is no day; write for example 2031-12-25.") from None
    return days


def _moment(raw: Any, zone: tzinfo, place: str) -> datetime | None:
    if raw is None or raw == "":
        return None
    try:
        return read_moment(raw.isoformat() if isinstance(raw, date | datetime) else str(raw), zone, place)
    except CallError as trouble:
        raise SettingsError(str(trouble)) from None


def _zone(name: str, place: str) -> tzinfo:
    try:
        return ZoneInfo(name)
    except (ValueError, OSError, KeyError):
        raise SettingsError(f"{place}: “{name[:40]}” is no zone; write for example Europe/Vienna or UTC.") from None


def _words(raw: Any, place: str) -> list[str]:
    if not isinstance(raw, list):
        raise SettingsError(f'{place}: must be a list such as ["12in"]; got {str(raw)[:40]!r}.')
    return [_word(one, place) for one in raw]


def _word(raw: Any, place: str, *, empty: bool = False) -> str:
    if empty and raw == "":
        return ""
    if (
        not isinstance(raw, str)
        or not raw.strip()
        or len(raw) > _WORD_MOST
        or not raw.isprintable()
        or raw[0] in "=+-@"
    ):
        raise SettingsError(f"{place}: must be a word of at most {_WORD_MOST} letters; got {str(raw)[:40]!r}.")
    return raw.strip()


def _number(raw: Any, place: str, least: float, most: float) -> float:
    if isinstance(raw, bool) or not isinstance(raw, int | float) or not least <= raw <= most:
        raise SettingsError(f"{place}: must be a number from {least:g} to {most:g}; got {str(raw)[:40]!r}.")
    return float(raw)


def _nearest(word: str, known: list[str]) -> str:
    near = difflib.get_close_matches(word, known, 1, 0.5)
    return f"write {near[0]}" if near else f"it knows {', '.join(known)}"
