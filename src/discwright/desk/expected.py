"""Which steps a job will go through, and how long each should last: from its kind and the minutes of music.

The seconds were measured with real music on two cores that did little else (see `tests/desk/test_forecast.py`); what a
machine makes of them is for :mod:`discwright.desk.forecast` to learn.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from importlib.metadata import version
from pathlib import Path
from typing import Any

import discwright.groove
from discwright.desk.forecast import AT_ONCE, STARTING, Stage
from discwright.files.compare import read_plan, setup_from_plan
from discwright.files.plans import CONTROL, CONTROL_SCALE, REMOVED, SHEET
from discwright.files.settings import load
from discwright.files.side_audio import find_range
from discwright.files.title import load_title
from discwright.groove.equipment import DiscFormat
from discwright.kernel_cache import kernel_folder
from discwright.programme.title import TAPE, Treatment

#: Compiling the loops that read a programme, and those that limit its treble: once on a machine, s.
_COMPILE_S, _COMPILE_LIMIT_S = 9.0, 10.0
#: One compiled loop of each, by whose file on disk it is known that they need not be compiled.
_LOOP, _LIMIT_LOOP = "upper_hulls", "between_peaks"
#: Loading programs and compiled loops; opening a plan, whose audio is hashed: once and per minute of music, s.
_START_S, _OPEN_S, _OPEN_MINUTE_S = 1.0, 0.4, 0.03
#: Seconds a minute of music at 44.1 kHz: reading it, with filters as well, and with its treble limited.
_READ_S, _FILTER_S, _LIMIT_S = 0.16, 0.1, 0.2
#: Laying a minute of spiral at 33⅓ turns a minute, s; for a ladder, whose levels are hard ones, so many times that.
_LAY_S, _LADDER_LAYS = 0.19, 1.6
#: Reading a minute's ladder off its spirals, s.
_CLIMB_S = 0.045
#: The picture of the disc, and sheet and small lathe files: once and per minute, s.
_DRAW_S, _SHEET_S, _SHEET_MINUTE_S = 2.0, 0.4, 0.017
#: A minute of a control file, and of what was taken out, s.
_CONTROL_S, _REMOVED_S = 0.3, 0.15
#: Making a minute ready to be looked at: its programme, its edges, its measures, s.
_PROGRAMME_S, _EDGES_S, _MEASURES_S = 0.09, 0.07, 0.16
#: Trying what a capture is best held against, s; where a tip is named there is less to try.
_CHOOSE_S, _CHOOSE_TIP_S = 5.0, 2.5
#: Holding a minute of a capture against the programme, step by step, s.
_PLAY_S = {
    "reading the capture": 0.12, "finding the programme": 0.6, "choosing what to hold it against": 0.0,
    "proving the plan": 0.8, "finding the time": 0.3, "laying capture upon programme": 1.1, "looking for faults": 1.0,
    "writing": 1.0,
}  # fmt: skip
#: How often a spiral is laid until a level is found, with the likelihood of each number.
_FIT_TIMES = {1: 0.02, 2: 0.42, 3: 0.46, 4: 0.07, 5: 0.03}
#: How often for the ladder of a level that is known, and of one that is sought first.
_LADDER_TIMES = {4: 0.08, 5: 0.17, 6: 0.1, 7: 0.1, 8: 0.4, 9: 0.1, 10: 0.05}
_FIT_LADDER_TIMES = {5: 0.1, 6: 0.3, 7: 0.06, 8: 0.06, 9: 0.1, 10: 0.3, 11: 0.06, 12: 0.02}
#: A side to be fitted among others: what begins a worker, s, and how often its spiral is laid.
_WORKER_S, _WORKER_LAYS = 1.5, 2.5
#: Splits that a layout shows; rounds of fitting beyond those that they need, with likelihoods.
_SHOWN, _MORE_ROUNDS = 3, {-1: 0.04, 0: 0.84, 1: 0.08, 2: 0.04}
#: Pitch at which a side is surely full, m.
_FULL_PITCH = 85e-6
_STANDARD_RATE_HZ, _STANDARD_TURN_S = 44_100.0, 1.8


@dataclass(frozen=True)
class SideWork:
    """A side that is to be planned.

    Attributes
    ----------
    minutes : float
    rate_hz : float
    turn_time : float, s
    who : str
        Edition, where a title is planned.
    fit, ladder : bool
        A level, or a ladder, is looked for.
    filtered, limited : bool
        The programme is treated; its treble is limited, for which the side is planned twice.
    """

    minutes: float
    rate_hz: float = _STANDARD_RATE_HZ
    turn_time: float = _STANDARD_TURN_S
    who: str = ""
    fit: bool = False
    ladder: bool = False
    filtered: bool = False
    limited: bool = False

    @property
    def heard(self) -> float:
        """Minutes as they weigh where every sample is read."""
        return self.minutes * self.rate_hz / _STANDARD_RATE_HZ

    @property
    def turned(self) -> float:
        """Minutes as they weigh where every turn is laid."""
        return self.minutes * _STANDARD_TURN_S / self.turn_time


def planning(side: SideWork) -> list[Stage]:
    """Steps of planning a side and keeping it with its small files.

    Parameters
    ----------
    side : SideWork
    """
    times = _FIT_TIMES if side.fit else {}
    search = "fit" if side.fit else ""
    if side.ladder:
        times, search = (_FIT_LADDER_TIMES, "fit and ladder") if side.fit else (_LADDER_TIMES, "ladder")
    stages = _laid(side, times, search, limits=False)
    if side.limited:
        again = (_LADDER_TIMES, "ladder") if side.ladder else ({}, "")
        stages += _laid(side, *again, limits=True)
    return [
        *stages,
        Stage("drawing the disc", _DRAW_S + _CLIMB_S * side.turned * side.ladder, side.who),
        Stage("writing the sheet", _SHEET_S + _SHEET_MINUTE_S * side.turned, side.who),
    ]


def preparing(side: SideWork) -> list[Stage]:
    """Steps of making a kept side ready to be looked at.

    Parameters
    ----------
    side : SideWork
    """
    treating = _FILTER_S * side.filtered + _LIMIT_S * side.limited
    once = replace(side, who="")
    return [
        opening(side),
        *(_laid(once, {}, "", limits=False) if side.limited else ()),
        Stage("reading the programme", (_PROGRAMME_S + treating) * side.heard),
        Stage("moving the tip", _EDGES_S * side.heard),
        Stage("measuring the groove", _MEASURES_S * side.heard),
    ]


def opening(side: SideWork) -> Stage:
    """Reading a kept plan and seeing that its audio is still what it was.

    Parameters
    ----------
    side : SideWork
    """
    return Stage("opening the plan", _OPEN_S + _OPEN_MINUTE_S * side.heard)


def making(name: str, side: SideWork) -> list[Stage]:
    """Laying a kept side once more and writing one of its files.

    Parameters
    ----------
    name : str
    side : SideWork
    """
    found = planning(replace(side, fit=False, ladder=False))[:-2]
    if name in (CONTROL, CONTROL_SCALE):
        found.append(Stage("writing the control file", _CONTROL_S * side.heard))
    elif name == REMOVED:
        found.append(Stage("writing what was taken out", _REMOVED_S * side.heard))
    elif name == SHEET:
        found.append(Stage("writing the sheet", _SHEET_S + _SHEET_MINUTE_S * side.turned))
    return found


def playing(side: SideWork, tip: str | None) -> list[Stage]:
    """Holding a capture against a kept side.

    Parameters
    ----------
    side : SideWork
    tip : str or None
        Named, or ``"none"`` for the bare programme: then no proof is made.
    """
    bare = tip == "none"
    found = [Stage("reading the programme", _PROGRAMME_S * side.heard, key="reading the programme of a play")]
    for step, minute in _PLAY_S.items():
        if not (bare and step == "proving the plan"):
            choosing = step.startswith("choosing") and not bare
            once = (_CHOOSE_TIP_S if tip else _CHOOSE_S) if choosing else 0.1
            found.append(Stage(step, once + minute * side.heard))
    return found


def laying_out(who: str, sides: Sequence[float], fixed: bool, bands: int, side: SideWork) -> Stage:
    """Fitting the sides of an edition, two at a time.

    Parameters
    ----------
    who : str
        The edition.
    sides : sequence of float
        Minutes of each side, as it will about be.
    fixed : bool
        The title file says which they are.
    bands : int
    side : SideWork
        For rate, turn and treatments.
    """
    count = max(len(sides), 1)
    mean = replace(side, minutes=sum(sides) / count)
    reading, laying = _READ_S + _FILTER_S * side.filtered, _WORKER_LAYS * _LAY_S
    if side.limited:
        reading, laying = reading + _READ_S + _LIMIT_S, laying + _LAY_S
    seconds = _WORKER_S + AT_ONCE * (reading * mean.heard + laying * mean.turned)
    rounds = math.ceil(count / AT_ONCE)
    if fixed or bands <= 1:
        return Stage("laying out", seconds, who, {rounds: 1.0})
    usual = rounds + min(_SHOWN, max(bands - count + 1, 1)) - 1
    return Stage("laying out", seconds, who, {max(usual + more, 1): weight for more, weight in _MORE_ROUNDS.items()})


def stages_of(kind: str, arguments: Mapping[str, Any]) -> list[Stage]:
    """The steps of a job, as far as they can be known before it begins.

    Parameters
    ----------
    kind : str
    arguments : dict
        See :mod:`discwright.desk.work`.

    Raises
    ------
    DiscwrightError, OSError, KeyError, TypeError, ValueError
        If what it is about cannot be read: the act itself will say why.
    """
    compiling = 0.0 if _compiled(_LOOP) else _COMPILE_S
    start = [Stage(STARTING, _START_S + compiling)]
    if kind in ("plan", "layout"):
        return start + _of_title(kind, arguments)
    document = read_plan(Path(arguments["plan" if kind == "play" else "folder"]))
    side = _kept(document)
    if kind == "play":
        return [*start, opening(side), *playing(side, arguments.get("tip"))]
    if kind == "prepare":
        return start + preparing(side)
    if kind == "make":
        return [*start, opening(side), *making(str(arguments["name"]), side)]
    changed = _changed(side, dict(arguments.get("changes", {})))
    if kind == "ladder":
        changed = replace(changed, ladder=True)
    return [*start, opening(side), *planning(changed), *(preparing(changed) if arguments.get("cache") else ())]


def _of_title(kind: str, arguments: Mapping[str, Any]) -> list[Stage]:
    title = load_title(Path(arguments["title_file"]))
    wanted, letter = arguments.get("edition"), arguments.get("side")
    ranges = {band.id: find_range(band) for band in title.bands}
    rate = max(one.header.sample_rate_hz for one in ranges.values())
    found: list[Stage] = []
    works: list[SideWork] = []
    for edition in title.editions:
        if edition.format == TAPE or wanted not in (None, edition.id):
            continue
        disc = load(DiscFormat, edition.format)
        base = SideWork(0.0, rate, disc.turn_time, edition.id, fit=isinstance(edition.level, str))
        minutes = {id_: one.duration / 60.0 for id_, one in ranges.items()}
        if edition.sides:
            orders = [(side.letter, sum(minutes[one] for one in side.bands), side.treatments) for side in edition.sides]
        else:
            orders = _guessed(sum(minutes.values()), disc)
        if kind == "layout" or not edition.sides:
            lengths = [length for _, length, _ in orders]
            every = (one.kind for _, _, treatments in orders for one in treatments)
            side = replace(base, **_treated(every))
            found.append(laying_out(edition.id, lengths, bool(edition.sides), len(title.bands), side))
        works += [
            replace(base, minutes=length, **_treated(one.kind for one in treatments))
            for name, length, treatments in orders if letter in (None, name)
        ]  # fmt: skip
    if kind == "layout":
        return found
    found += [stage for work in works for stage in planning(work)]
    return found + [stage for work in works if arguments.get("cache") for stage in preparing(work)]


def _guessed(minutes: float, disc: DiscFormat) -> list[tuple[str, float, tuple[Treatment, ...]]]:
    """Sides before a layout has found them: as few as can hold the music, alike, and an even number."""
    most = (disc.outermost_radius - disc.last_radius) / _FULL_PITCH * disc.turn_time / 60.0
    count = 2 * max(1, math.ceil(minutes / most / 2))
    return [("ABCDEFGHIJKLMNOPQRSTUVWXYZ"[k % 26], minutes / count, ()) for k in range(count)]


def _kept(document: Mapping[str, Any]) -> SideWork:
    programme, disc = document["programme"], setup_from_plan(dict(document)).disc
    kinds = (str(one["kind"]) for one in document["settings"].get("treatments", ()))
    return SideWork(
        float(programme["duration_s"]) / 60.0, float(programme["sample_rate_hz"]), disc.turn_time, **_treated(kinds)
    )


def _changed(side: SideWork, changes: Mapping[str, Any]) -> SideWork:
    """A kept side with what a what-if asks otherwise."""
    changed = replace(side, fit=bool(changes.get("fit")), ladder=bool(changes.get("ladder")))
    if changes.get("format"):
        changed = replace(changed, turn_time=load(DiscFormat, str(changes["format"])).turn_time)
    if changes.get("treatments") is not None:
        changed = replace(changed, **_treated(str(one["kind"]) for one in changes["treatments"]))
    return changed


def _treated(kinds: Iterable[str]) -> dict[str, Any]:
    found = set(kinds)
    return {"limited": "treble_limit" in found, "filtered": bool(found - {"treble_limit"})}


def _laid(side: SideWork, times: Mapping[int, float], search: str, limits: bool) -> list[Stage]:
    """Reading a side once and laying its spiral, so often as it takes."""
    reading = (_READ_S + _FILTER_S * side.filtered + _LIMIT_S * limits) * side.heard
    if limits and not _compiled(_LIMIT_LOOP):
        reading += _COMPILE_LIMIT_S
    key = "reading and limiting" if limits else "reading and filtering" if side.filtered else "reading"
    laying = 0.1 + _LAY_S * (_LADDER_LAYS if "ladder" in search else 1.0) * side.turned
    return [
        Stage("reading", reading, side.who, key=key),
        Stage("laying the spiral", laying, side.who, dict(times), search),
    ]


def _compiled(loop: str) -> bool:
    """Whether a compiled loop lies on disk."""
    folder = kernel_folder(str(Path(discwright.groove.__file__).with_name("kernels.py")), version("numba"))
    return folder is not None and any(folder.rglob(f"kernels.{loop}-*.nbc"))
