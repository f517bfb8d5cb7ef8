"""Where exactly the groove was left: the moment at which one way through a capture ends and the next begins."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from discwright.inspection.frames import Pair
from discwright.inspection.jumps import Stretch
from discwright.inspection.timemap import TimeMap

Float = NDArray[np.float64]

#: How far around the first guess the moment lies and the cells it is looked for in, s; cells that are seen together,
#: and how many of them may be explained, or not, by chance.
_AROUND_S, _CELL_S, _CELLS_AROUND, _CHANCE = 2.5, 0.01, 5, 1.5


def sharpen(pair: Pair, known: TimeMap) -> TimeMap:
    """Move each jump to where it is.

    Parameters
    ----------
    pair : Pair
    known : TimeMap
        Good to a millisecond away from its jumps.

    Returns
    -------
    TimeMap
        The same, its stretches ending where their way through the capture ends.
    """
    stretches = list(known.stretches)
    for k in range(len(stretches) - 1):
        before, after = stretches[k], stretches[k + 1]
        # The first guess lies anywhere in what is skipped, or is played twice: from where the groove was left.
        late = after.offset - before.offset
        least = max(before.begin, before.end - _AROUND_S - max(-late, 0.0))
        most = min(after.end, after.begin + _AROUND_S + max(late, 0.0))
        edge = _edge(pair, known, before, after, (least, most))
        stretches[k], stretches[k + 1] = replace(before, end=edge), replace(after, begin=edge)
    return replace(known, stretches=tuple(stretches))


def _edge(pair: Pair, known: TimeMap, before: Stretch, after: Stretch, span: tuple[float, float]) -> float:
    """The cut that lets the first way explain what comes before it, and the second what comes after."""
    rate = pair.rate
    first, count = round(span[0] * rate), round((span[1] - span[0]) * rate)
    if count < rate // 10:
        return before.end
    programme = pair.programme.read(first, count).astype(np.float64)
    size = round(_CELL_S * rate)
    strange = []
    for way in (before, after):
        only = replace(known, stretches=(replace(way, begin=-1e9, end=1e9),))
        like = _likeness(programme, pair.aligned(only, first, count).astype(np.float64), size)
        strange.append((like < 0.6 * np.quantile(like, 0.9)).astype(np.float64))
    # What is left unexplained if the cut lies before cell k: by the first way up to there, by the second from there on.
    total = np.concatenate([[0.0], np.cumsum(strange[0])])
    total += np.concatenate([np.cumsum(strange[1][::-1])[::-1], [0.0]])
    # A repeat fits both ways for a whole turn, what is skipped fits neither: its end, and its beginning, is where the
    # groove was left.
    good = np.flatnonzero(total <= total.min() + _CHANCE)
    return (first + int(good[-1 if after.offset > before.offset else 0]) * size) / rate


def _likeness(programme: Float, heard: Float, size: int) -> Float:
    """Normalised correlation around each cell, -1..1; near 0 where there is next to nothing."""
    cells = len(programme) // size
    sums = [
        uniform_filter1d(one[: cells * size].sum(axis=1).reshape(cells, size).sum(axis=1), _CELLS_AROUND)
        for one in (programme * heard, programme**2, heard**2)
    ]
    product, own, other = sums
    result: Float = np.abs(product) / np.sqrt((own + 1e-5 * own.max() + 1e-20) * (other + 1e-5 * other.max() + 1e-20))
    return result
