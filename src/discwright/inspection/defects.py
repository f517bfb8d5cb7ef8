"""Every fault of a playing with its place on the disc, and what its neighbours make of it: scratches, crackle."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from discwright.inspection.bursts import Burst
from discwright.inspection.jumps import Stretch
from discwright.inspection.ticks import Tick

Float = NDArray[np.float64]

#: From here on a fault is heard, dB over what masks it.
HEARD_DB = 6.0
#: A scratch: so many ticks, one a turn, each at the angle of the one before within this, deg, or a turn further.
SCRATCH_TICKS, SCRATCH_DEG, SCRATCH_GAP = 4, 2.0, 2
#: Crackle: so many ticks within a second.
CRACKLE_TICKS, CRACKLE_S = 12, 1.0
#: What lies so near to a jump, s, is the jump.
_NEAR_JUMP_S = 0.05


@dataclass(frozen=True)
class Defect:
    """One fault and its place.

    Attributes
    ----------
    kind : str
        tick, pop, crackle, scratch, swish, dropout, skip or repeat.
    time : float, s
        Of the programme; of what lasts, its beginning.
    turn : float
        Counted from the first sample of music = 0.0.
    radius : float, m
    angle : float, deg
    channel : {"left", "right", "both"}
    duration : float, s
        Of a skip: what is left out; of a repeat: what is played again.
    size_db : float
        Over what masks it; of a dropout what is missing; 0 of a skip or repeat.
    audible : bool
    """

    kind: str
    time: float
    turn: float
    radius: float
    angle: float
    channel: str
    duration: float
    size_db: float
    audible: bool

    def as_dict(self) -> dict[str, Any]:
        """The defect as plain JSON values."""
        return {
            "time_s": round(self.time, 5), "kind": self.kind, "turn": round(self.turn, 4),
            "radius_mm": round(self.radius * 1e3, 3), "angle_deg": round(self.angle, 2), "channel": self.channel,
            "duration_s": round(self.duration, 5), "size_db": round(self.size_db, 1), "audible": self.audible,
        }  # fmt: skip


@dataclass(frozen=True)
class Face:
    """Where the moments of a side lie on the disc.

    Attributes
    ----------
    turn_time : float, s
    radius : callable
        Of a time in s, m.
    """

    turn_time: float
    radius: Callable[[float], float]

    def defect(self, kind: str, time: float, channel: str, duration: float, size_db: float, audible: bool) -> Defect:
        """A defect at its place.

        Parameters
        ----------
        kind, channel : str
        time, duration : float, s
        size_db : float
        audible : bool
        """
        turn = time / self.turn_time
        return Defect(
            kind, time, turn, self.radius(time), 360 * (turn % 1.0), channel, duration, size_db, audible
        )  # fmt: skip


def all_defects(
    face: Face, ticks: Sequence[Tick], bursts: Sequence[Burst], stretches: Sequence[Stretch]
) -> tuple[Defect, ...]:
    """Put everything that was found together.

    Parameters
    ----------
    face : Face
    ticks : sequence of Tick
    bursts : sequence of Burst
    stretches : sequence of Stretch
        What was played in one go; between them the groove was left.

    Returns
    -------
    tuple of Defect
        By time.
    """
    jumps = _jumps(face, stretches)
    spans = [(one.time - _NEAR_JUMP_S, one.time + one.duration + _NEAR_JUMP_S) for one in jumps if one.kind == "skip"]
    spans += [(one.time - _NEAR_JUMP_S, one.time + _NEAR_JUMP_S) for one in jumps]
    kept_bursts = [one for one in bursts if not _within(0.5 * (one.begin + one.end), spans)]
    lasting = [
        face.defect(one.kind, one.begin, one.channel, one.end - one.begin, one.size_db, one.size_db >= 0.0)
        for one in kept_bursts
    ]
    spans += [(one.begin - 0.01, one.end + 0.01) for one in kept_bursts]
    short = [
        face.defect("pop" if one.pop else "tick", one.time, one.channel, one.duration, one.size_db,
                    one.size_db >= HEARD_DB)
        for one in sorted(ticks, key=lambda one: one.time) if not _within(one.time, spans)
    ]  # fmt: skip
    return tuple(sorted([*jumps, *lasting, *crackles(scratches(short))], key=lambda one: one.time))


def _within(time: float, spans: Sequence[tuple[float, float]]) -> bool:
    return any(begin <= time <= end for begin, end in spans)


def _jumps(face: Face, stretches: Sequence[Stretch]) -> list[Defect]:
    found = []
    for before, after in pairwise(stretches):
        late = after.offset - before.offset
        kind = "repeat" if late > 0 else "skip"
        found.append(face.defect(kind, before.end, "both", abs(late), 0.0, True))
    return found


def scratches(short: Sequence[Defect]) -> list[Defect]:
    """Name ticks that come once a turn at a steady angle.

    Parameters
    ----------
    short : sequence of Defect
        Ticks and pops, by time.

    Returns
    -------
    list of Defect
        The same, those of a scratch so named.
    """
    turns = np.array([one.turn for one in short])
    named = list(short)
    used: set[int] = set()
    for first in range(len(short)):
        if first in used:
            continue
        chain = [first]
        while True:
            nearest = _next_turn(turns, turns[chain[-1]], used)
            if nearest is None:
                break
            chain.append(nearest)
        if len(chain) >= SCRATCH_TICKS:
            used.update(chain)
            for k in chain:
                named[k] = replace(named[k], kind="scratch")
    return named


def _next_turn(turns: Float, turn: float, used: set[int]) -> int | None:
    for gap in range(1, SCRATCH_GAP + 1):
        wanted, width = turn + gap, SCRATCH_DEG / 360
        low, high = np.searchsorted(turns, [wanted - width, wanted + width])
        near = [k for k in range(int(low), int(high)) if k not in used]
        if near:
            return min(near, key=lambda k: abs(turns[k] - wanted))
    return None


def crackles(short: Sequence[Defect]) -> list[Defect]:
    """Draw ticks that come by the dozen together into one region.

    Parameters
    ----------
    short : sequence of Defect
        By time.

    Returns
    -------
    list of Defect
    """
    loose = [one for one in short if one.kind in ("tick", "pop")]
    time = np.array([one.time for one in loose])
    dense = np.zeros(len(loose), dtype=bool)
    for k in range(len(loose)):
        last = int(np.searchsorted(time, time[k] + CRACKLE_S, side="right"))
        if last - k >= CRACKLE_TICKS:
            dense[k:last] = True
    found = [one for one in short if one.kind not in ("tick", "pop")]
    found += [one for one, in_region in zip(loose, dense, strict=True) if not in_region]
    group: list[Defect] = []
    for one in [*(one for one, in_region in zip(loose, dense, strict=True) if in_region), None]:
        if group and (one is None or one.time - group[-1].time > CRACKLE_S):
            found.append(_region(group))
            group = []
        if one is not None:
            group.append(one)
    return sorted(found, key=lambda one: one.time)


def _region(group: Sequence[Defect]) -> Defect:
    channels = {one.channel for one in group}
    return replace(
        group[0], kind="crackle", channel=channels.pop() if len(channels) == 1 else "both",
        duration=group[-1].time - group[0].time, size_db=float(np.median([one.size_db for one in group])),
        audible=any(one.audible for one in group),
    )  # fmt: skip
