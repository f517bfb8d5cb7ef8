"""What plays where in a capture: steady tones, rising sines, quiet, and where the project's own signals lie in it.

The signals are known by what they do, not by where they begin: tones at the frequencies of third octaves in their
order and spacing, and a sine that rises evenly. So a part of them is enough, and speed may be some per cent off. A
capture that was cut and joined has several places of beginning; each block takes the one that its own sounds agree on.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discwright.programme.chain_frames import HOP_S, Frames
from discwright.programme.chain_signals import (
    REFERENCE_HZ,
    SWEEP_LOW_HZ,
    THIRDS_HZ,
    Piece,
    Side,
    pieces,
    sweep_rate,
)

Bools = NDArray[np.bool_]

#: A frame is tonal where so much of it is one line's neighbourhood, and that is so sharp.
_SHARE, _SHARP = 0.3, 0.6
#: A steady tone keeps its frequency (by a share, and by so many Hz) and its level, dB, for so many frames.
_DRIFT, _DRIFT_HZ, _SWAY_DB, _LEAST_FRAMES = 0.01, 1.5, 1.0, 3
#: Cut off from a steady stretch at both ends, s: the next tone may reach so far into a frame.
_TRIM_S = 0.06
#: One channel alone plays where the other is so much softer, dB.
ALONE_DB = 15.0
#: A place of beginning is believed from so many sounds on, and to so many seconds.
_VOTES, _NEAR_S = 3.0, 0.12
_RISING_VOTES = 3.0
#: Speed may be off by so much.
SPEED_RANGE = 0.06
#: Softer than the loudest by so much, dB, and for so long, s: quiet.
QUIET_DB, QUIET_S = 30.0, 1.0
MAINS_HZ = (50.0, 60.0)
#: A steady line of the mains, up to this frequency and so much softer than the loudest, dB, was not played.
HUM_HIGHEST_HZ, HUM_DB = 610.0, 40.0
#: Softer than this it was not played, whatever else there is.
HUM_ALONE = 2e-3


@dataclass(frozen=True)
class Steady:
    """A stretch in which one tone stands still.

    Attributes
    ----------
    start, end : float, s
        In the capture; nothing else plays in between.
    frequency : float, Hz
        To some tenths of a per cent.
    level : float
        Amplitude in the louder channel, 1 = full scale.
    side : {"both", "left", "right"}
    """

    start: float
    end: float
    frequency: float
    level: float
    side: Side


@dataclass(frozen=True)
class Rising:
    """A sine that rises evenly by octaves.

    Attributes
    ----------
    at : float, s
        When it passes 1 kHz.
    rate : float, s
        Time in which it rises by a factor of e.
    side : {"both", "left", "right"}
    """

    at: float
    rate: float
    side: Side


@dataclass(frozen=True)
class Match:
    """Where the signals lie in a capture.

    Attributes
    ----------
    starts : dict of int to float
        For each block found: capture time, s, at which the signals would begin by it.
    speed : float
        Speed error as far as known yet: a frequency played over the same captured less 1, positive where it runs fast.
    """

    starts: dict[int, float]
    speed: float

    def when(self, piece: Piece) -> tuple[float, float]:
        """Begin and end of a stretch in the capture, s."""
        start = self.starts[piece.block]
        return start + piece.start / (1.0 + self.speed), start + piece.end / (1.0 + self.speed)


def steady_tones(frames: Frames) -> list[Steady]:
    """Every stretch in which one tone stands still for 0.4 s and more.

    Parameters
    ----------
    frames : Frames
    """
    found: list[Steady] = []
    tonal = (frames.share >= _SHARE) & (frames.sharp >= _SHARP) & (frames.louder > 1e-6)
    level_db = 20.0 * np.log10(np.maximum(frames.louder, 1e-9))
    k = 0
    while k < len(tonal):
        last = k
        if tonal[k]:
            slack = _DRIFT * frames.frequency[k] + _DRIFT_HZ
            low = high = level_db[k]
            while last + 1 < len(tonal) and tonal[last + 1]:
                low, high = min(low, level_db[last + 1]), max(high, level_db[last + 1])
                if high - low > _SWAY_DB or abs(frames.frequency[last + 1] - frames.frequency[k]) > slack:
                    break
                last += 1
            if last - k + 1 >= _LEAST_FRAMES:
                found.append(_steady(frames, k, last))
        # A tone that fades in is begun again from its second frame, until a run is long enough.
        k = last + 1 if last - k + 1 >= _LEAST_FRAMES else k + 1
    return found


def _steady(frames: Frames, first: int, last: int) -> Steady:
    rows = slice(first, last + 1)
    return Steady(
        start=first * HOP_S + _TRIM_S,
        end=(last + 2) * HOP_S - _TRIM_S,
        frequency=float(np.median(frames.frequency[rows])),
        level=float(np.median(frames.louder[rows])),
        side=_side(np.median(frames.level[rows], axis=0)),
    )


def _side(level: NDArray[np.float64]) -> Side:
    left, right = (20.0 * math.log10(max(float(one), 1e-9)) for one in level)
    if abs(left - right) < ALONE_DB:
        return "both"
    return "left" if left > right else "right"


def rising_sines(frames: Frames) -> list[Rising]:
    """Every sine that rises as the project's own does, within some per cent, over two octaves and more.

    Parameters
    ----------
    frames : Frames
    """
    step = HOP_S / sweep_rate()
    log = np.log(np.maximum(frames.frequency, 1.0))
    # 0.01 of a capture's steps are noise of the frames; below 60 Hz a step is less than a bin.
    good = (frames.share > 0.5) & (frames.frequency > 60.0) & (frames.louder > 1e-6)
    rises = good[:-1] & good[1:] & (np.abs(np.diff(log) - step) < 0.6 * step)
    found = []
    for first, last in _runs(rises, 2):
        if last - first < 30:
            continue
        rows = np.arange(first, last + 2)
        time = (rows + 1.0) * HOP_S
        keep = np.ones(len(rows), dtype=bool)
        for _ in range(3):
            slope, base = np.polyfit(time[keep], log[rows][keep], 1)
            keep = np.abs(log[rows] - base - slope * time) < 0.05
            if keep.sum() < 20:
                break
        if keep.sum() >= 20 and abs(slope * sweep_rate() - 1.0) < 1.5 * SPEED_RANGE:
            at = (math.log(REFERENCE_HZ) - base) / slope
            found.append(Rising(float(at), float(1.0 / slope), _side(np.median(frames.level[rows], axis=0))))
    return found


def is_hum(one: Steady, loudest: float) -> bool:
    """Whether a steady stretch is mains hum in a pause rather than a tone that was played.

    Parameters
    ----------
    one : Steady
    loudest : float
        Greatest amplitude of the capture.
    """
    order = {mains: max(1, round(one.frequency / mains)) for mains in MAINS_HZ}
    near = any(abs(one.frequency - order[mains] * mains) < 0.01 * one.frequency + 0.5 for mains in MAINS_HZ)
    soft = one.level < min(10.0 ** (-HUM_DB / 20.0) * loudest, 1e-2)
    return near and one.frequency < HUM_HIGHEST_HZ and (soft or one.level < HUM_ALONE)


def quiet(frames: Frames, steady: Sequence[Steady] = ()) -> tuple[float, float] | None:
    """Begin and end of the longest quiet stretch, s; None without one.

    Parameters
    ----------
    frames : Frames
    steady : sequence of Steady
        Tones; where they play it is not quiet, however soft they are.
    """
    if not len(frames.louder):
        return None
    below = frames.louder < frames.louder.max() * 10.0 ** (-QUIET_DB / 20.0)
    for one in steady:
        below[max(0, int(one.start / HOP_S) - 1) : int(one.end / HOP_S) + 1] = False
    runs = [run for run in _runs(below, 0) if (run[1] - run[0] + 2) * HOP_S >= QUIET_S]
    if not runs:
        return None
    first, last = max(runs, key=lambda run: run[1] - run[0])
    return first * HOP_S + _TRIM_S, (last + 2) * HOP_S - _TRIM_S


def _runs(flags: Bools, bridge: int) -> list[tuple[int, int]]:
    """First and last place of each run, gaps of up to `bridge` places taken along."""
    places = np.flatnonzero(flags)
    if not len(places):
        return []
    cuts = np.flatnonzero(np.diff(places) > bridge + 1)
    firsts, lasts = np.concatenate([[0], cuts + 1]), np.concatenate([cuts, [len(places) - 1]])
    return [(int(places[a]), int(places[b])) for a, b in zip(firsts, lasts, strict=True)]


def match_signals(steady: Sequence[Steady], rising: Sequence[Rising]) -> Match | None:
    """Find the project's own signals among the sounds of a capture.

    Parameters
    ----------
    steady : sequence of Steady
    rising : sequence of Rising

    Returns
    -------
    Match or None
        None where too little agrees.
    """
    speed = _speed(steady, rising)
    votes = [*_tone_votes(steady, speed), *_rising_votes(rising, speed)]
    starts: dict[int, float] = {}
    strength: dict[int, float] = {}
    while votes:
        place, agreed = _strongest(votes)
        if sum(weight for _, _, _, weight in agreed) < _VOTES:
            break
        by_block: dict[int, float] = {}
        for _, block, _, weight in agreed:
            by_block[block] = by_block.get(block, 0.0) + weight
        for block, weight in by_block.items():
            if weight > strength.get(block, 0.0):
                starts[block], strength[block] = place, weight
        used = {sound for _, _, sound, _ in agreed}
        votes = [vote for vote in votes if vote[2] not in used]
    if not starts:
        return None
    return Match(_filled(starts), speed)


#: Place of beginning that a sound speaks for, the block, which sound, and its weight.
_Vote = tuple[float, int, int, float]


def _speed(steady: Sequence[Steady], rising: Sequence[Rising]) -> float:
    """Captured over played frequency less 1: by the tones that lie near a third octave, or by a rising sine."""
    ratios = []
    for one in steady:
        nearest = min(THIRDS_HZ, key=lambda f: abs(math.log(f / one.frequency)))
        if one.frequency > 200.0 and abs(one.frequency / nearest - 1.0) < SPEED_RANGE:
            ratios.append(one.frequency / nearest - 1.0)
    if ratios:
        return float(np.median(ratios))
    return float(np.median([sweep_rate() / one.rate - 1.0 for one in rising])) if rising else 0.0


def _tone_votes(steady: Sequence[Steady], speed: float) -> Iterable[_Vote]:
    for k, one in enumerate(steady):
        for piece in pieces():
            near = abs(one.frequency / (piece.frequency * (1.0 + speed)) - 1.0) if piece.frequency else 1.0
            if piece.kind == "tone" and near < 0.02 + 1.0 / one.frequency:
                middle = (piece.start + 0.5 * piece.length) / (1.0 + speed)
                if abs((one.end - one.start) - piece.length) < 0.5:
                    yield 0.5 * (one.start + one.end) - middle, piece.block, k, 1.0


def _rising_votes(rising: Sequence[Rising], speed: float) -> Iterable[_Vote]:
    for k, one in enumerate(rising):
        for piece in pieces():
            if piece.kind == "sweep":
                played = piece.start + sweep_rate() * math.log(REFERENCE_HZ / SWEEP_LOW_HZ)
                # Where nothing else tells the two apart, the channel does.
                weight = _RISING_VOTES + (0.1 if one.side in (piece.side, "both") else 0.0)
                yield one.at - played / (1.0 + speed), piece.block, -1 - k, weight


def _strongest(votes: Sequence[_Vote]) -> tuple[float, list[_Vote]]:
    """The place that most sounds agree on, each counted once, and their votes."""
    places = np.array([vote[0] for vote in votes])
    order = np.argsort(places)
    weights = np.array([votes[k][3] for k in order])
    running = np.concatenate([[0.0], np.cumsum(weights)])
    last = np.searchsorted(places[order], places[order] + 2.0 * _NEAR_S, side="right")
    first = int(np.argmax(running[last] - running[:-1]))
    near = [votes[k] for k in order[first : last[first]]]
    middle = float(np.median([vote[0] for vote in near]))
    agreed = {vote[2]: vote for vote in sorted(near, key=lambda vote: -abs(vote[0] - middle))}
    return middle, list(agreed.values())


def _filled(starts: dict[int, float]) -> dict[int, float]:
    """Blocks that nothing spoke for begin as their nearest neighbour does."""
    blocks = {piece.block for piece in pieces()}
    return {block: starts[min(starts, key=lambda known: abs(known - block))] for block in blocks}


def covered(steady: Sequence[Steady], frames: Frames) -> float:
    """Share of the sounding time in which a tone stands still.

    Parameters
    ----------
    steady : sequence of Steady
    frames : Frames
    """
    if not len(frames.louder):
        return 0.0
    sounding = HOP_S * float((frames.louder > 1e-3 * frames.louder.max()).sum())
    return sum(one.end - one.start + 2 * _TRIM_S for one in steady) / max(sounding, HOP_S)
