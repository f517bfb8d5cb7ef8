"""Where a limit is met: the worst place of each run of neighbouring sectors."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Float = NDArray[np.float64]


@dataclass(frozen=True)
class Spot:
    """One place: sector, time in s, and the value there relative to the limit (1 = at the limit)."""

    sector: int
    time: float
    ratio: float


def worst_spots(ratio: Float, time: Float, apart: int, most: int) -> tuple[tuple[Spot, ...], int]:
    """The worst place of each run of sectors over the limit.

    Parameters
    ----------
    ratio : ndarray, shape (K,)
        Value over limit.
    time : ndarray, shape (K,), s
        Where each sector's value is met.
    apart : int
        Sectors over the limit closer than this belong to one run.
    most : int
        How many spots to return, worst first.

    Returns
    -------
    spots : tuple of Spot
    runs : int
        How many runs there are in all.
    """
    over = np.flatnonzero(ratio > 1.0)
    if len(over) == 0:
        return (), 0
    runs = np.split(over, np.flatnonzero(np.diff(over) > apart) + 1)
    worst = [int(run[np.argmax(ratio[run])]) for run in runs]
    worst.sort(key=lambda k: (-ratio[k], k))
    return tuple(Spot(k, float(time[k]), float(ratio[k])) for k in worst[:most]), len(runs)


def mean_around(x: Float, reach: int) -> Float:
    """Mean of each value and of as many as `reach` on either side.

    Parameters
    ----------
    x : ndarray, shape (n,)
    reach : int

    Returns
    -------
    ndarray, shape (n,)
    """
    total = np.concatenate([[0.0], np.cumsum(x)])
    at = np.arange(len(x))
    last, first = np.minimum(at + reach + 1, len(x)), np.maximum(at - reach, 0)
    result: Float = (total[last] - total[first]) / (last - first)
    return result
