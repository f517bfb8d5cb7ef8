"""Spots: faults that several plays of one family found at the same place of the disc.

Two faults are the same spot if they lie in the same turn at the same angle, within a window, and are of kinds that one
play may take for another. Every two faults of a spot lie within the window of each other, so that a chain of near
spots stays a chain, however long. Ticks once per turn at a steady angle are one scratch, and one spot.
"""

from __future__ import annotations

import heapq
import math
from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from discwright.faults import KINDS
from discwright.works.parts import POSITIVE, mirrored

#: Faults of one play that lie so near are one fault told twice, as a share of the window.
_TOLD_TWICE = 0.1
#: Turns from which on ticks at a steady angle are a scratch; where the plays themselves call them so, two are enough.
_SCRATCH_TURNS, _NAMED_TURNS = 3, 2
#: A scratch may leave so many turns out, and its angle is held against the mean of so many of its last ticks.
_GAP_TURNS, _LAST = 1, 4
_TURN_DEG = 360.0


@dataclass(frozen=True)
class Fault:
    """A fault where a positive disc has it.

    Attributes
    ----------
    kind : str
    turn : int
        Whole turns from the first sample of music on.
    angle_deg : float
        From 0 to below 360.
    radius_mm, size_db, time_s : float or None
    audible : bool or None
    """

    kind: str
    turn: int
    angle_deg: float
    radius_mm: float | None = None
    size_db: float | None = None
    time_s: float | None = None
    audible: bool | None = None

    @property
    def place_deg(self) -> float:
        """Angle from the first sample of music on, over all turns."""
        return _TURN_DEG * self.turn + self.angle_deg


def fault_from(said: Mapping[str, Any], face: str = POSITIVE) -> Fault:
    """A fault as it was said, where a positive disc has it.

    Parameters
    ----------
    said : mapping
        As :mod:`discwright.faults` has them.
    face : str
        Sign of the face on which the angle was read; on a negative one it runs the other way.

    Returns
    -------
    Fault
        A turn with a fraction is taken as the one in which the angle comes nearest to it; so a tick at 359.9° that was
        rounded into the next turn stays where it is.
    """
    angle = mirrored(float(said["angle_deg"]), face, POSITIVE) % _TURN_DEG
    angle = 0.0 if angle >= _TURN_DEG else angle  # what is a hair below nothing is not a whole turn
    turn = float(said["turn"])
    whole = int(turn) if turn == math.floor(turn) else round(turn - angle / _TURN_DEG)
    rest = {name: said.get(name) for name in ("radius_mm", "size_db", "time_s", "audible")}
    return Fault(str(said["kind"]), whole, angle, **rest)


@dataclass(frozen=True)
class Play:
    """One play of a part, or one look at it.

    Attributes
    ----------
    id, part : str
        Its own name, and the part's.
    faults : tuple of Fault
    pressing : str
        Which pressing of the stamper was played; empty where that is not known.
    at : str
        When.
    by_ear : bool
        Somebody listened; what cannot be heard may be there all the same.
    whole : bool
        What is not among its faults was not there. Untrue for a look at single places.
    to_turn : float or None
        Where it ended, if that was before the last turn.
    """

    id: str
    part: str
    faults: tuple[Fault, ...]
    pressing: str = ""
    at: str = ""
    by_ear: bool = False
    whole: bool = True
    to_turn: float | None = None


@dataclass(frozen=True)
class Mark:
    """What one play found at a spot.

    Attributes
    ----------
    play : str
    fault : Fault
        Of a scratch, its first tick in this play.
    """

    play: str
    fault: Fault


@dataclass(frozen=True)
class Spot:
    """One place of the disc with a fault.

    Attributes
    ----------
    kind : str
    turn, last_turn : int
        The first turn and the last; they differ for a scratch.
    angle_deg : float
        Mean over the plays.
    radius_mm, size_db : float or None
        Mean radius; the greatest size.
    audible : bool or None
        Some play said that it is heard; None where none said anything.
    marks : tuple of Mark
        One for each play that found it, in the order of the plays.
    missed : tuple of str
        Plays that would have told of it and did not.
    """

    kind: str
    turn: int
    last_turn: int
    angle_deg: float
    radius_mm: float | None
    size_db: float | None
    audible: bool | None
    marks: tuple[Mark, ...]
    missed: tuple[str, ...]

    @property
    def heard(self) -> tuple[str, ...]:
        """Plays that found it."""
        return tuple(one.play for one in self.marks)


def window_at(speed_rpm: float, window_deg: float, window_s: float) -> float:
    """How far apart two plays may place one fault, degrees.

    Parameters
    ----------
    speed_rpm : float
    window_deg, window_s : float
        In angle, and in time; the larger counts.
    """
    return max(window_deg, window_s * speed_rpm / 60.0 * _TURN_DEG)


def find_spots(plays: Sequence[Play], window_deg: float) -> tuple[Spot, ...]:
    """Match the faults of several plays of one family.

    Parameters
    ----------
    plays : sequence of Play
        All of one side.
    window_deg : float
        As :func:`window_at` has it.

    Returns
    -------
    tuple of Spot
        Along the groove.
    """
    found: list[Spot] = []
    for family in dict.fromkeys(KINDS.values()):
        told = _told_once(plays, family, window_deg)
        groups = _over_the_seam(_gathered(told, window_deg), window_deg)
        runs = _scratches(groups, window_deg) if family == "click" else [[one] for one in groups]
        found += [_spot(run, plays) for run in runs]
    return tuple(sorted(found, key=lambda one: (one.turn, one.angle_deg, one.kind)))


# Faults at one place -----------------------------------------------------------------------------------

#: Number of the play, and what it found.
_Told = tuple[int, Fault]


@dataclass(frozen=True)
class _Group:
    """Faults at one place, at most one of each play.

    Attributes
    ----------
    least, most : float
        The outermost places, degrees.
    plays : int
        A bit for each play.
    told : list of (int, Fault)
    """

    least: float
    most: float
    plays: int
    told: list[_Told]

    @cached_property
    def middle(self) -> float:
        """Where it lies, degrees: the mean of its faults, as seen from the first of them."""
        first = self.told[0][1].place_deg
        return first + sum(_near(one.place_deg - first) for _, one in self.told) / len(self.told)


def _near(apart_deg: float) -> float:
    """The difference of two angles whatever the turn, from −180 to below 180."""
    return (apart_deg + _TURN_DEG / 2) % _TURN_DEG - _TURN_DEG / 2


def _told_once(plays: Sequence[Play], family: str, window: float) -> list[_Told]:
    """All faults of a family of kinds, along the groove; one that a play told of twice is one, the larger."""
    found: list[_Told] = []
    for number, play in enumerate(plays):
        own = sorted((one for one in play.faults if KINDS[one.kind] == family), key=lambda one: one.place_deg)
        kept: list[Fault] = []
        for one in own:
            if not kept or one.place_deg - kept[-1].place_deg > _TOLD_TWICE * window:
                kept.append(one)
            elif (one.audible is True, one.size_db or 0.0) > (kept[-1].audible is True, kept[-1].size_db or 0.0):
                kept[-1] = one
        found += [(number, one) for one in kept]
    return sorted(found, key=lambda one: (one[1].place_deg, one[0]))


def _gathered(told: list[_Told], window: float) -> list[_Group]:
    """Neighbours joined, nearest first, as long as a group is no wider than the window and has no play twice."""
    groups = [_Group(fault.place_deg, fault.place_deg, 1 << play, [(play, fault)]) for play, fault in told]
    after = [*range(1, len(groups)), -1]
    before = list(range(-1, len(groups) - 1))
    alive = [True] * len(groups)
    waiting: list[tuple[float, int, int]] = []

    def offer(left: int, right: int) -> None:
        if left >= 0 and right >= 0:
            wide = groups[right].most - groups[left].least
            if wide <= window and not groups[left].plays & groups[right].plays:
                heapq.heappush(waiting, (wide, left, right))

    for right in range(1, len(groups)):
        offer(right - 1, right)
    while waiting:
        wide, left, right = heapq.heappop(waiting)
        one, other = groups[left], groups[right]
        grown = wide != other.most - one.least or one.plays & other.plays
        if not (alive[left] and alive[right]) or after[left] != right or grown:
            continue  # one of them is not what it was
        groups[left] = _Group(one.least, other.most, one.plays | other.plays, one.told + other.told)
        alive[right] = False
        after[left] = after[right]
        if after[right] >= 0:
            before[after[right]] = left
        offer(before[left], left)
        offer(left, after[left])
    return [one for one, here in zip(groups, alive, strict=True) if here]


def _over_the_seam(groups: list[_Group], window: float) -> list[_Group]:
    """Join what differs by a whole turn at 0°: of a place that near, plays may not agree in which turn it lies."""
    joined: list[_Group] = []
    near: list[int] = []  # places in `joined` of what lies at the seam
    for one in groups:
        if abs(_near(one.middle)) > window:
            joined.append(one)
            continue
        fits = [
            k for k in near
            if not joined[k].plays & one.plays and abs(one.middle - joined[k].middle - _TURN_DEG) <= window
        ]  # fmt: skip
        near = [k for k in near if one.middle - joined[k].middle <= _TURN_DEG + window]
        if fits:
            other = joined[fits[0]]
            first, second = (other, one) if len(other.told) >= len(one.told) else (one, other)
            joined[fits[0]] = replace(first, plays=one.plays | other.plays, told=first.told + second.told)
        else:
            near.append(len(joined))
            joined.append(one)
    return joined


# Scratches ---------------------------------------------------------------------------------------------


class _Run:
    """Ticks in one turn after the other at a steady angle, each heard in a play that heard the one before."""

    def __init__(self, first: _Group) -> None:
        self.groups = [first]
        self._unrolled = [first.middle]  # as if all lay in the first turn
        #: Where the next tick is expected, degrees.
        self.ahead = first.middle + _TURN_DEG

    def add(self, one: _Group, skipped: int) -> None:
        """The next tick, so many turns left out before it."""
        turns = round((self.ahead - self._unrolled[-1]) / _TURN_DEG) + skipped
        self.groups.append(one)
        self._unrolled.append(one.middle - _TURN_DEG * turns)
        last = self._unrolled[-_LAST:]
        self.ahead = sum(last) / len(last) + _TURN_DEG * (turns + 1)

    @property
    def is_scratch(self) -> bool:
        """Enough turns for a scratch."""
        kinds = [fault.kind for group in self.groups for _, fault in group.told]
        named = 2 * kinds.count("scratch") >= len(kinds)
        return len(self.groups) >= (_NAMED_TURNS if named else _SCRATCH_TURNS)


def _scratches(groups: list[_Group], window: float) -> list[list[_Group]]:
    """Groups put together to runs of a scratch; each other group stays by itself."""
    runs: list[_Run] = []
    open_runs: list[_Run] = []
    for stretch in _half_turns(sorted(groups, key=lambda one: one.middle)):
        taken_runs, taken = set[int](), set[int]()
        for _, k, n, skipped in sorted(_offers(open_runs, stretch, window)):
            if k not in taken_runs and n not in taken:
                taken_runs.add(k)
                taken.add(n)
                open_runs[k].add(stretch[n], skipped)
        fresh = [_Run(one) for n, one in enumerate(stretch) if n not in taken]
        runs += fresh
        passed = stretch[-1].middle - _TURN_DEG * _GAP_TURNS - window
        open_runs = [run for run in [*open_runs, *fresh] if run.ahead >= passed]
    return [part for run in runs for part in ([run.groups] if run.is_scratch else [[one] for one in run.groups])]


def _offers(runs: list[_Run], stretch: list[_Group], window: float) -> Iterator[tuple[float, int, int, int]]:
    """Which groups may continue which runs: how far off, run, group, turns left out."""
    middles = [one.middle for one in stretch]
    for k, run in enumerate(runs):
        for skipped in range(_GAP_TURNS + 1):
            wanted = run.ahead + _TURN_DEG * skipped
            for n in range(bisect_left(middles, wanted - window), bisect_right(middles, wanted + window)):
                if stretch[n].plays & run.groups[-1].plays:
                    yield abs(middles[n] - wanted), k, n, skipped


def _half_turns(order: list[_Group]) -> Iterator[list[_Group]]:
    """Stretches of half a turn: none holds two ticks of one scratch."""
    stretch: list[_Group] = []
    for one in order:
        if stretch and one.middle - stretch[0].middle > _TURN_DEG / 2:
            yield stretch
            stretch = []
        stretch.append(one)
    if stretch:
        yield stretch


# What is told of a spot --------------------------------------------------------------------------------


def _spot(run: list[_Group], plays: Sequence[Play]) -> Spot:
    first_of: dict[int, Fault] = {}
    faults = [fault for group in run for _, fault in group.told]
    for group in run:
        for number, fault in group.told:
            first_of.setdefault(number, fault)
    said = [one.audible for one in faults if one.audible is not None]
    audible = any(said) if said else None
    turns = [math.floor(one.middle / _TURN_DEG) for one in run]
    kind = "scratch" if len(run) > 1 else Counter(one.kind for one in faults).most_common(1)[0][0]
    angle = run[0].middle + sum(_near(one.middle - run[0].middle) for one in run) / len(run)
    missed = tuple(
        play.id for number, play in enumerate(plays)
        if number not in first_of and play.whole and (audible is True or not play.by_ear)
        and (play.to_turn is None or turns[-1] + 1 <= play.to_turn)
    )  # fmt: skip
    return Spot(
        kind, turns[0], turns[-1], angle % _TURN_DEG, _mean([one.radius_mm for one in faults]),
        max((one.size_db for one in faults if one.size_db is not None), default=None), audible,
        tuple(Mark(plays[number].id, first_of[number]) for number in sorted(first_of)), missed,
    )  # fmt: skip


def _mean(values: Iterable[float | None]) -> float | None:
    known = [one for one in values if one is not None]
    return sum(known) / len(known) if known else None
