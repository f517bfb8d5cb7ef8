"""Faults of a disc as they are heard in a play or seen under the microscope: their kinds, and what is said of each.

A fault is said as a table of plain values, so that it can stand in a line of the ledger and in a report alike:

=============  ==========================================================================================
`kind`         one of :data:`KINDS`
`turn`         turn in which it lies, counted from the first sample of music; whole, or with its fraction
`angle_deg`    angle within the turn, as it reads on the face that was played or looked at
`time_s`       programme time
`radius_mm`    radius
`duration_s`   how long it lasts
`channel`      ``"left"``, ``"right"`` or ``"both"``
`size_db`      above what the music masks there
`audible`      whether it is heard
=============  ==========================================================================================

Kind, turn and angle are always given, the others where they are known.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

from discwright.errors import CallError

#: Every kind, with the kinds that one play may take for another: two plays may hear the same fault as tick and as pop.
KINDS = {
    "tick": "click", "pop": "click", "scratch": "click", "crackle": "noise", "swish": "noise", "dropout": "gap",
    "skip": "jump", "repeat": "jump",
}  # fmt: skip
CHANNELS = ("left", "right", "both")
#: What a play can end with.
VERDICTS = ("pass", "stop", "")
#: A play that finds more is a play of something else.
MOST_FAULTS = 1000
#: Least and greatest that a number can be.
_RANGES = {
    "turn": (-20.0, 10_000.0), "angle_deg": (-360.0, 360.0), "time_s": (-60.0, 20_000.0), "radius_mm": (0.0, 200.0),
    "duration_s": (0.0, 20_000.0), "size_db": (-200.0, 200.0),
}  # fmt: skip
_NEEDED = ("kind", "turn", "angle_deg")


def read_faults(values: object, what: str) -> tuple[dict[str, Any], ...]:
    """Faults as they were said, held against what can be said of one.

    Parameters
    ----------
    values : object
        A list of tables.
    what : str
        For sentences.

    Returns
    -------
    tuple of dict
        With the names in a fixed order; what is empty is left out.

    Raises
    ------
    CallError
        If there are too many, or one of them says what cannot be.
    """
    if not isinstance(values, list | tuple) or not all(isinstance(one, Mapping) for one in values):
        raise CallError(f"{what}: is no list of tables; write one for each fault.")
    if len(values) > MOST_FAULTS:
        raise CallError(
            f"{what}: {len(values)} faults are more than one play is told of ({MOST_FAULTS}); leave the smallest out."
        )
    return tuple(_read(one, f"{what}, fault {number}") for number, one in enumerate(values, 1))


def _read(one: Mapping[str, Any], what: str) -> dict[str, Any]:
    known = ("kind", *_RANGES, "channel", "audible")
    strange = sorted(set(one) - set(known))
    if strange:
        raise CallError(f"{what}: takes no “{_short(strange[0])}”; it takes {', '.join(known)}.")
    missing = [name for name in _NEEDED if one.get(name) is None]
    if missing:
        raise CallError(f"{what}: has no {missing[0]}; give kind, turn and angle_deg.")
    return {name: _value(name, one[name], what) for name in known if one.get(name) is not None and one[name] != ""}


def _value(name: str, value: Any, what: str) -> Any:
    if name in ("kind", "channel"):
        words = tuple(KINDS) if name == "kind" else CHANNELS
        if not isinstance(value, str) or value not in words:
            raise CallError(f"{what}: “{_short(value)}” is no {name}; write {', '.join(words)}.")
        return value
    if name == "audible":
        if not isinstance(value, bool):
            raise CallError(f"{what}: audible is yes or no; write true or false.")
        return value
    least, most = _RANGES[name]
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise CallError(f"{what}: {name} is no number; write one.")
    if not least <= value <= most:
        raise CallError(f"{what}: {name} {value:g} cannot be; write a number from {least:g} to {most:g}.")
    return value


def read_verdict(value: object, what: str) -> str:
    """What a play ended with.

    Parameters
    ----------
    value : object
    what : str
        For sentences.

    Raises
    ------
    CallError
        If it is none of :data:`VERDICTS`.
    """
    if not isinstance(value, str) or value not in VERDICTS:
        raise CallError(f"{what}: “{_short(value)}” is no verdict of a play; write pass or stop.")
    return value


def counted(faults: Iterable[Mapping[str, Any]]) -> str:
    """Faults as a line tells of them: ``12 faults, 3 to be heard``.

    Parameters
    ----------
    faults : iterable of mapping
    """
    told = list(faults)
    if not told:
        return "no faults"
    heard = sum(one.get("audible") is True for one in told)
    unsaid = all(one.get("audible") is None for one in told)
    many = f"{len(told)} fault{'' if len(told) == 1 else 's'}"
    return many if unsaid else f"{many}, {heard or 'none'} to be heard"


def _short(value: object) -> str:
    return "".join(letter if letter.isprintable() else "?" for letter in str(value)[:40])
