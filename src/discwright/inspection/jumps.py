"""Where a playing leaves the groove: turns that are left out, and turns that are played again.

The programme is followed through the capture in small steps. Going on as before costs nothing, going on elsewhere costs
a price that grows with the distance, and the cheapest way through the whole side is found exactly (Viterbi 1967).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from discwright.inspection import kernels
from discwright.inspection.coarse import Line
from discwright.inspection.features import RATE

Single = NDArray[np.float32]
Float = NDArray[np.float64]

#: Length of what is compared and step, s; frames at this many a second.
WINDOW_S, STEP_S, _COARSE = 1.2, 0.4, 50
#: A jump must be worth so much likeness, summed over the steps after it, and so much more for each second of it.
PRICE, PRICE_PER_S = 2.0, 1.0
#: How far from the straight line the music is looked for, s, where passages do not show more.
REACH_S, _MOST_REACH_S = 6.0, 90.0
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


def follow(programme: Single, capture: Single, line: Line) -> list[Stretch]:
    """Follow the programme through the capture.

    Parameters
    ----------
    programme, capture : ndarray, shape (n, bands)
        Features.
    line : Line

    Returns
    -------
    list of Stretch
        One where nothing jumps.
    """
    low, high = _reach(line)
    thin = RATE // _COARSE
    p, c = _thinned(programme, thin), _thinned(capture, thin)
    offsets = np.arange(round(low * _COARSE), round(high * _COARSE) + 1)
    size = round(WINDOW_S * _COARSE)
    firsts = np.arange(0, max(1, len(p) - size + 1), round(STEP_S * _COARSE))
    score = np.zeros((len(firsts), len(offsets)), dtype=np.float32)
    pad = size + len(offsets) + abs(int(offsets[0])) + _COARSE
    padded = np.pad(c, ((pad, pad), (0, 0)))
    for k, first in enumerate(firsts):
        template = p[first : first + size]
        middle = line.start * _COARSE + line.stretch * (first + 0.5 * len(template)) - 0.5 * len(template)
        begin = pad + round(middle) + int(offsets[0])
        if begin < 0 or begin + len(offsets) + size > len(padded):
            continue
        piece = padded[begin : begin + len(offsets) + len(template) - 1]
        score[k] = _alike(template, piece)
    path = kernels.cheapest_way(score, 1, PRICE, PRICE_PER_S / _COARSE)
    time = (firsts + 0.5 * size) / _COARSE
    way = offsets[path] / _COARSE
    return _stretches(time, way, len(programme) / RATE)


def _reach(line: Line) -> tuple[float, float]:
    spread = line.offsets if len(line.offsets) else np.zeros(1)
    low = max(min(float(spread.min()), 0.0) - REACH_S, -_MOST_REACH_S)
    high = min(max(float(spread.max()), 0.0) + REACH_S, _MOST_REACH_S)
    return low, high


def _thinned(x: Single, times: int) -> Single:
    whole = len(x) // times * times
    if whole == 0:
        return x
    result: Single = x[:whole].reshape(-1, times, x.shape[1]).mean(axis=1)
    return result


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


def _stretches(time: Float, way: Float, length: float) -> list[Stretch]:
    cuts = np.flatnonzero(np.abs(np.diff(way)) > _SAME_S) + 1
    edges = [0, *cuts.tolist(), len(way)]
    found = []
    for begin, end in pairwise(edges):
        first = 0.0 if begin == 0 else 0.5 * (time[begin - 1] + time[begin])
        last = length if end == len(way) else 0.5 * (time[end - 1] + time[end])
        found.append(Stretch(float(first), float(last), float(np.median(way[begin:end]))))
    return found
