"""Where a playing leaves the groove: turns that are left out, and turns that are played again.

The programme is followed through the capture in small steps. Going on as before costs nothing, going on elsewhere costs
a price that grows with the distance, and the cheapest way through the whole side is found exactly (Viterbi 1967).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from discwright.inspection import kernels
from discwright.inspection.coarse import Line
from discwright.inspection.features import RATE

Single = NDArray[np.float32]
Float = NDArray[np.float64]

#: Length of what is compared and step, s.
WINDOW_S, STEP_S = 1.2, 0.4
#: A jump must be worth so much likeness, summed over the steps after it, and so much more for each second of it; a step
#: to the offset beside costs this.
PRICE, PRICE_PER_S, _DRIFT = 1.2, 0.4, 0.1
#: How far from the straight line the music is looked for, s, where passages do not show more.
REACH_S, _MOST_REACH_S = 6.0, 90.0
#: Less alike is not the programme; so much of it in a row at either end, s, is missing, where it is this loud, ratio to
#: the loudest mean square.
_ALIKE, _MISSING_S, _SOUNDING = 0.35, 2.4, 1e-5
#: A way between two jumps is one where it is as like as this on the average; chance reaches some 0.4, and more on a way
#: of less than so many seconds through music that repeats itself.
_SURELY_ALIKE, _SHORT_ALIKE, _SHORT_S = 0.5, 0.8, 3.0
#: Offsets that differ by less are the same way, s.
_SAME_S = 0.06


@dataclass(frozen=True)
class Stretch:
    """A part of the programme that is played in one go.

    Attributes
    ----------
    begin, end : float, s
        Of the programme.
    offset : float, s
        Later in the capture than the straight line says.
    """

    begin: float
    end: float
    offset: float


@dataclass(frozen=True)
class Followed:
    """The way of a programme through a capture.

    Attributes
    ----------
    stretches : tuple of Stretch
        One where nothing jumps.
    time : ndarray, shape (m,), s
        Middles of the steps, in the programme.
    likeness : ndarray, shape (m,)
        Of programme and capture there; near 0 where either is still.
    """

    stretches: tuple[Stretch, ...]
    time: Float
    likeness: Float

    def heard(self, level: Float) -> tuple[float, float]:
        """From when to when the programme is in the capture.

        Parameters
        ----------
        level : ndarray, shape (n,)
            Mean square of the programme's frames; where it is still nothing can be missing.

        Returns
        -------
        begin, end : float, s
            The programme's own ends, but where seconds of sound before or after have no likeness.
        """
        size = round(WINDOW_S * RATE)
        loud = np.convolve(level, np.ones(size) / size, "same")
        sounding = np.interp(self.time, np.arange(len(level)) / RATE, loud) > _SOUNDING * float(level.max())
        # One step may be alike by chance.
        alike = np.flatnonzero(median_filter(self.likeness, 3, mode="nearest") > _ALIKE)
        begin, end = 0.0, len(level) / RATE
        if len(alike) == 0:
            return begin, end
        if np.count_nonzero(sounding[: alike[0]]) * STEP_S > _MISSING_S:
            begin = float(self.time[alike[0]] - 0.5 * WINDOW_S)
        if np.count_nonzero(sounding[alike[-1] + 1 :]) * STEP_S > _MISSING_S:
            end = float(self.time[alike[-1]] + 0.5 * WINDOW_S)
        return begin, end


def follow(programme: Single, capture: Single, line: Line) -> Followed:
    """Follow the programme through the capture.

    Parameters
    ----------
    programme, capture : ndarray, shape (n, bands)
        Features.
    line : Line

    Returns
    -------
    Followed
    """
    low, high = _reach(line)
    offsets = np.arange(round(low * RATE), round(high * RATE) + 1)
    size = round(WINDOW_S * RATE)
    firsts = np.arange(0, max(1, len(programme) - size + 1), round(STEP_S * RATE))
    score = np.zeros((len(firsts), len(offsets)), dtype=np.float32)
    pad = size + len(offsets) + abs(int(offsets[0])) + RATE
    padded = np.pad(capture, ((pad, pad), (0, 0)))
    for k, first in enumerate(firsts):
        template = programme[first : first + size]
        middle = line.start * RATE + line.stretch * (first + 0.5 * len(template)) - 0.5 * len(template)
        begin = pad + round(middle) + int(offsets[0])
        if begin < 0 or begin + len(offsets) + size > len(padded):
            continue
        piece = padded[begin : begin + len(offsets) + len(template) - 1]
        score[k] = _alike(template, piece)
    path = kernels.cheapest_way(score, _DRIFT, PRICE, PRICE_PER_S / RATE)
    time = (firsts + 0.5 * size) / RATE
    way = offsets[path] / RATE
    likeness = score[np.arange(len(path)), path].astype(np.float64)
    runs = _ways(way, likeness)
    # What was only passed through is like nothing.
    kept = np.zeros(len(way), dtype=bool)
    for run in runs:
        kept[slice(*run)] = True
    return Followed(tuple(_stretches(time, way, runs, len(programme) / RATE)), time, np.where(kept, likeness, 0.0))


def _reach(line: Line) -> tuple[float, float]:
    spread = line.offsets if len(line.offsets) else np.zeros(1)
    low = max(min(float(spread.min()), 0.0) - REACH_S, -_MOST_REACH_S)
    high = min(max(float(spread.max()), 0.0) + REACH_S, _MOST_REACH_S)
    return low, high


def _alike(template: Single, piece: Single) -> Single:
    """Normalised correlation of a template at every place of a longer piece; what is nearly silent counts little."""
    windows = np.lib.stride_tricks.sliding_window_view(piece, len(template), axis=0)
    match = np.tensordot(windows, template.T, axes=([1, 2], [0, 1]))
    square = np.concatenate([[0.0], np.cumsum(np.sum(piece.astype(np.float64) ** 2, axis=1))])
    energy = square[len(template) :] - square[: -len(template)]
    own = float(np.sum(template.astype(np.float64) ** 2))
    # A window moves by a decibel or more in each band, or it tells nothing.
    floor = float(template.size)
    result: Single = (match / np.sqrt(np.maximum(energy, floor) * max(own, floor))).astype(np.float32)
    return result


def _ways(way: Float, likeness: Float) -> list[tuple[int, int]]:
    """Runs of one way; one that is like nothing was only passed through."""
    cuts = np.flatnonzero(np.abs(np.diff(way)) > _SAME_S) + 1
    runs = list(pairwise([0, *cuts.tolist(), len(way)]))
    kept = [
        run
        for run in runs
        if np.mean(likeness[slice(*run)]) > (_SURELY_ALIKE if (run[1] - run[0]) * STEP_S > _SHORT_S else _SHORT_ALIKE)
    ]
    return kept or [max(runs, key=lambda run: float(np.sum(likeness[slice(*run)])))]


def _stretches(time: Float, way: Float, runs: list[tuple[int, int]], length: float) -> list[Stretch]:
    found: list[Stretch] = []
    for k, (begin, end) in enumerate(runs):
        first = 0.0 if k == 0 else found[-1].end
        last = length if k == len(runs) - 1 else float(0.5 * (time[end - 1] + time[end]))
        found.append(Stretch(first, last, float(np.median(way[begin:end]))))
    return found
