"""Where exactly the groove was left: the moment at which one way through a capture ends and the next begins."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from discwright.inspection.frames import Pair
from discwright.inspection.jumps import Stretch
from discwright.inspection.timemap import TimeMap

Float = NDArray[np.float64]

#: How far around the first guess the moment lies, s, and the cells it is looked for in, s.
_AROUND_S, _CELL_S = 2.5, 0.01


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
        least = max(before.begin, before.end - _AROUND_S - abs(after.offset - before.offset))
        most = min(after.end, after.begin + _AROUND_S)
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
    cells = count // size
    left = []
    for way in (before, after):
        only = replace(known, stretches=(replace(way, begin=-1e9, end=1e9),))
        heard = pair.aligned(only, first, count).astype(np.float64)
        gain = float(np.sum(heard * programme) / (np.sum(programme**2) + 1e-20))
        spare = np.sum((heard - (gain or 1.0) * programme) ** 2, axis=1)
        left.append(spare[: cells * size].reshape(cells, size).sum(axis=1))
    # What is left over if the cut lies before cell k: the first way up to there, the second from there on.
    total = np.concatenate([[0.0], np.cumsum(left[0])]) + np.concatenate([np.cumsum(left[1][::-1])[::-1], [0.0]])
    least = float(total.min())
    # A repeat fits both ways for a whole turn: its end is where the groove was left first.
    slack = 0.02 * (float(total.max()) - least)
    good = np.flatnonzero(total <= least + slack)
    best = int(good[-1]) if after.offset > before.offset else int(np.argmin(total))
    return (first + best * size) / rate
