"""Equipment and practice as TOML: shipped entries by name, or a file of the user's.

A value is a bare number, or a table with `value` and `source`. Keys wear their unit; a key that is not
known, or worn with another unit, is refused with the nearest one that is.
"""

from __future__ import annotations

import difflib
import math
import tomllib
from dataclasses import MISSING, Field, fields
from importlib import resources
from pathlib import Path
from typing import Any, TypeVar

from discwright.errors import CallError, SettingsError
from discwright.groove.equipment import (
    CuttingTip,
    DiscFormat,
    Equipment,
    Head,
    Lathe,
    Player,
    PlayingTip,
    Practice,
    Setup,
    file_keys,
    key_of,
)
from discwright.inspection.limits import PlayLimits
from discwright.units import TO_SI

E = TypeVar("E", DiscFormat, Lathe, Head, CuttingTip, PlayingTip, Practice, Player, PlayLimits)

#: What each kind is called, its shipped file, and the entry taken where none is named.
KINDS: dict[type[Equipment | PlayLimits], tuple[str, str, str]] = {
    DiscFormat: ("format", "formats.toml", "12in-33"),
    Lathe: ("lathe", "lathes.toml", "standard"),
    Head: ("head", "heads.toml", "standard"),
    CuttingTip: ("cutting tip", "cutting_tips.toml", "standard"),
    PlayingTip: ("tip", "tips.toml", "spherical-18"),
    Practice: ("practice", "practice.toml", "standard"),
    Player: ("player", "players.toml", "standard"),
    PlayLimits: ("test play", "test_play.toml", "standard"),
}
#: Values that may be zero; everything else must be greater.
_MAY_BE_ZERO = {
    "sync_guard_ms", "land_min_um", "curvature_share_max_percent", "vertical_share_max_percent", "echo_widening_um",
    "layout_level_db", "overhang_mm", "offset_deg", "off_centre_mm", "warp_height_mm", "warp_waves", "pivot_height_mm",
    "noise_level_db", "rumble_level_db", "audible_faults_max",
}  # fmt: skip
#: Values that may lie below zero.
_MAY_BE_NEGATIVE = {"layout_level_db", "noise_level_db", "rumble_level_db", "noise_max_db", "rumble_max_db"}


def shipped(kind: type[E]) -> dict[str, E]:
    """Every entry of one kind that comes with discwright, by name.

    Parameters
    ----------
    kind : type
        One of the classes in :mod:`discwright.groove.equipment`.
    """
    file = resources.files("discwright") / "data" / KINDS[kind][1]
    tables = tomllib.loads(file.read_text(encoding="utf-8"))
    return {name: build_entry(kind, name, table, KINDS[kind][1]) for name, table in tables.items()}


def load(kind: type[E], name: str | None) -> E:
    """One entry, by its shipped name or from the user's TOML file.

    Parameters
    ----------
    kind : type
    name : str or None
        A name in `data/`, or the path of a file; None for the default.

    Raises
    ------
    CallError
        If it is neither a known name nor a file.
    SettingsError
        If the file has a wrong key, unit or value.
    """
    word, _, default = KINDS[kind]
    entries = shipped(kind)
    wanted = default if name is None else name
    if wanted in entries:
        return entries[wanted]
    path = Path(wanted)
    if path.suffix == ".toml" or path.is_file():
        return _read(kind, path)
    known = ", ".join(entries)
    raise CallError(f"there is no {word} “{wanted}”; use {known}, or the path of a TOML file.")


def load_setup(
    disc: str | None = None,
    lathe: str | None = None,
    head: str | None = None,
    cutting_tip: str | None = None,
    tip: str | None = None,
    practice: str | None = None,
) -> Setup:
    """Everything a side is planned with.

    Parameters
    ----------
    disc, lathe, head, cutting_tip, tip, practice : str, optional
        A shipped name or the path of a TOML file; None takes the default of that kind.

    Returns
    -------
    Setup

    Raises
    ------
    CallError, SettingsError
    """
    setup = Setup(
        disc=load(DiscFormat, disc),
        lathe=load(Lathe, lathe),
        head=load(Head, head),
        cutting_tip=load(CuttingTip, cutting_tip),
        tip=load(PlayingTip, tip),
        practice=load(Practice, practice),
    )
    check_together(setup)
    return setup


def as_plain(item: Equipment) -> dict[str, Any]:
    """An entry as JSON values under its file keys, units included."""
    plain: dict[str, Any] = {}
    for f in fields(item):
        value = getattr(item, f.name)
        key = key_of(f)
        plain[key] = value if isinstance(value, str | int) else _shortest(value, _factor(key))
    return plain


def _shortest(value: float, factor: float) -> float:
    """The shortest decimal that is read back as exactly this value."""
    decimals = (float(f"{value / factor:.{digits}g}") for digits in range(1, 18))
    return next((plain for plain in decimals if plain * factor == value), value / factor)


def setup_as_plain(setup: Setup) -> dict[str, Any]:
    """The whole setup as JSON values: what a plan was resolved to."""
    return {
        "format": as_plain(setup.disc),
        "lathe": as_plain(setup.lathe),
        "head": as_plain(setup.head),
        "cutting_tip": as_plain(setup.cutting_tip),
        "tip": as_plain(setup.tip),
        "practice": as_plain(setup.practice),
    }


def _read(kind: type[E], path: Path) -> E:
    word = KINDS[kind][0]
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise SettingsError(f"{path}: there is no such {word} file; check the path.") from None
    except (OSError, UnicodeDecodeError) as trouble:
        why = trouble.strerror if isinstance(trouble, OSError) else "it is not UTF-8"
        raise SettingsError(f"{path}: cannot be read as text ({why}); check the file.") from None
    try:
        table = tomllib.loads(text)
    except (ValueError, RecursionError) as trouble:
        raise SettingsError(f"{path}: is not valid TOML ({trouble}); mend that line.") from None
    keys = set(file_keys(kind))
    tables = {name: value for name, value in table.items() if isinstance(value, dict) and name not in keys}
    tables = {name: value for name, value in tables.items() if not set(value) <= {"value", "source"}}
    if len(tables) == 1 and len(table) == 1:
        name, table = next(iter(tables.items()))
    elif tables:
        raise SettingsError(
            f"{path}: holds {len(tables)} tables ({', '.join(tables)}); a {word} file describes one {word}."
        )
    else:
        name = table.pop("name", path.stem)
        if not isinstance(name, str):
            raise SettingsError(f"{path}: name must be a word in quotes; got {name!r}.")
    return build_entry(kind, name, table, str(path))


def build_entry(kind: type[E], name: str, table: dict[str, Any], place: str) -> E:
    """One entry from its keys and values.

    Parameters
    ----------
    kind : type
    name : str
    table : dict
    place : str
        Where it comes from, for the refusal.

    Raises
    ------
    SettingsError
        If a key is unknown or missing, or a value is wrong.
    """
    wanted = [f for f in fields(kind) if f.name != "name"]
    keys = [key_of(f) for f in wanted]
    for key in table:
        if key not in keys:
            near = difflib.get_close_matches(key, keys, 1, 0.5)
            hint = f"write {near[0]}" if near else f"it knows {', '.join(keys)}"
            raise SettingsError(f"{place}: [{name}] has an unknown key “{key}”; {hint}.")
    values: dict[str, Any] = {}
    for f in wanted:
        key = key_of(f)
        if key not in table and f.default is not MISSING:
            values[f.name] = f.default
            continue
        if key not in table:
            raise SettingsError(f"{place}: [{name}] lacks {key}; add it (all of {', '.join(keys)}).")
        values[f.name] = _value(f, table[key], f"{place}: [{name}] {key}")
    return kind(name=name, **values)


def _value(f: Field[Any], raw: Any, place: str) -> Any:
    if isinstance(raw, dict):
        extra = set(raw) - {"value", "source"}
        if extra or "value" not in raw:
            raise SettingsError(f"{place}: needs value and source, nothing else; got {', '.join(raw) or 'nothing'}.")
        raw = raw["value"]
    key = key_of(f)
    if f.type == "str":
        if not isinstance(raw, str) or not raw:
            raise SettingsError(f"{place}: must be a word in quotes; got {raw!r}.")
        return raw
    if isinstance(raw, bool) or not isinstance(raw, int | float) or not abs(raw) < 1e12:
        raise SettingsError(f"{place}: must be a number; got {raw!r}.")
    if (raw < 0 and key not in _MAY_BE_NEGATIVE) or (raw == 0 and key not in _MAY_BE_ZERO):
        raise SettingsError(f"{place}: must be greater than zero; got {raw!r}.")
    if f.type == "int":
        if raw != int(raw):
            raise SettingsError(f"{place}: must be a whole number; got {raw!r}.")
        return int(raw)
    return float(raw) * _factor(key)


def _factor(key: str) -> float:
    """Factor to SI of the longest unit that ends a key."""
    for unit in sorted(TO_SI, key=len, reverse=True):
        if key.endswith("_" + unit):
            return TO_SI[unit]
    return 1.0


def check_together(setup: Setup) -> None:
    """Refuse values that contradict one another.

    Parameters
    ----------
    setup : Setup

    Raises
    ------
    SettingsError
    """
    disc, lathe, practice = setup.disc, setup.lathe, setup.practice
    if lathe.sectors_per_turn % 2 or not 8 <= lathe.sectors_per_turn <= 256:
        raise SettingsError(
            f"lathe {lathe.name}: sectors_per_turn must be an even number from 8 to 256; got {lathe.sectors_per_turn}."
        )
    for small, large, what in (
        (lathe.pitch_min, lathe.pitch_max, f"lathe {lathe.name}: pitch_min_um must lie below pitch_max_um"),
        (
            practice.depth_min,
            practice.depth_max,
            f"practice {practice.name}: depth_min_um must lie below depth_max_um",
        ),
        (
            disc.last_radius,
            disc.outermost_radius,
            f"format {disc.name}: outermost_radius_mm must lie outside the last radius the locked groove allows",
        ),
        (
            disc.outermost_radius,
            disc.disc_diameter / 2,
            f"format {disc.name}: outermost_radius_mm must lie on the disc",
        ),
    ):
        if not small < large:
            raise SettingsError(f"{what}; mend the file.")
    if not disc.lead_out_pitch_min <= disc.lead_out_pitch <= disc.lead_out_pitch_max:
        raise SettingsError(
            f"format {disc.name}: lead_out_pitch_mm must lie between its _min_mm and _max_mm; mend the file."
        )
    if practice.sync_guard > disc.turn_time / 4 + 1e-9:
        raise SettingsError(
            f"practice {practice.name}: sync_guard_ms must be at most a quarter of a turn, "
            f"{disc.turn_time * 250:.0f} for {disc.name}; lower it."
        )
    fastest = max(disc.lead_in_pitch, disc.lead_out_pitch, disc.join_pitch) * disc.revolutions_per_second
    if fastest > lathe.traverse_max:
        raise SettingsError(
            f"lathe {lathe.name}: moves {lathe.traverse_max * 1e3:g} mm/s at most and {disc.name} asks for "
            f"{fastest * 1e3:.1f} mm/s in the lead-out; choose a faster lathe or a finer pitch."
        )
    if setup.cutting_tip.clearance >= math.pi / 2:
        raise SettingsError(f"cutting tip {setup.cutting_tip.name}: clearance_deg must be below 90; mend the file.")
