"""Which bands stand on which side: every admissible split, and where a work is best broken.

A side is known by the ids of its bands in order.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from itertools import combinations, pairwise, permutations

import numpy as np
from numpy.typing import NDArray

from discwright.errors import CallError

Float = NDArray[np.float64]
#: Ids of the bands of one side, in order.
SideKey = tuple[str, ...]
Split = tuple[SideKey, ...]

#: So many splits are kept, and so many looked at, and no more.
MOST_SPLITS, MOST_LOOKED = 20_000, 200_000


def splits(
    order: Sequence[str], movable: frozenset[str], sides: int, fits: Callable[[SideKey], bool]
) -> tuple[Split, ...]:
    """Every way to put the bands on so many sides, none of them empty.

    Parameters
    ----------
    order : sequence of str
        Ids in the title's order, which is kept.
    movable : frozenset of str
        Bands that may stand anywhere.
    sides : int
    fits : callable
        Whether a side of these bands is short enough at all.

    Returns
    -------
    tuple of Split
        The title's own order first.
    """
    found: dict[Split, None] = {}
    looked = 0
    for arranged in _orders(order, movable):
        for cut in combinations(range(1, len(arranged)), sides - 1):
            looked += 1
            split = tuple(arranged[a:b] for a, b in pairwise((0, *cut, len(arranged))))
            if all(fits(side) for side in split):
                found.setdefault(split)
            if len(found) >= MOST_SPLITS or looked >= MOST_LOOKED:
                return tuple(found)
    return tuple(found)


def _orders(order: Sequence[str], movable: frozenset[str]) -> Iterator[tuple[str, ...]]:
    """The given order, then every one in which only the movable bands stand elsewhere."""
    yield tuple(order)
    fixed = [one for one in order if one not in movable]
    moving = [one for one in order if one in movable]
    for places in permutations(range(len(order)), len(moving)):
        arranged: list[str | None] = [None] * len(order)
        for place, one in zip(places, moving, strict=True):
            arranged[place] = one
        rest = iter(fixed)
        full = tuple(next(rest) if one is None else one for one in arranged)
        if full != tuple(order):
            yield full


def find_breaks(
    power: Float, step: float, used: Float, room: float, apart: float = 20.0
) -> tuple[tuple[float, float], ...]:
    """Quietest places to break a work so that every piece has room.

    Parameters
    ----------
    power : ndarray, shape (n,)
        Mean square of the programme in equal steps.
    step : float, s
    used : ndarray, shape (n,), m
        Radius each step takes at the level wanted.
    room : float, m
        Of one side.
    apart : float, s
        No piece is shorter.

    Returns
    -------
    tuple of (float, float)
        Time in s and level there in dBFS, for the fewest pieces that have room.

    Raises
    ------
    CallError
        If a single step takes more than a side.
    """
    taken = np.concatenate([[0.0], np.cumsum(used)])
    if used.max() > room:
        raise CallError("not even a moment of this work has room at that level; lower the level wanted.")
    n = len(power)
    reach = max(1, round(0.5 / step))
    smooth = np.convolve(power, np.ones(reach) / reach, "same")
    near = round(apart / step)
    full = room * (1 + 1e-9)
    # From the end backwards: no break may lie earlier, or what follows would need one side more.
    earliest = [n]
    while taken[earliest[-1]] > full:
        earliest.append(int(np.searchsorted(taken, taken[earliest[-1]] - full)))
    breaks: list[tuple[float, float]] = []
    last = 0
    for least in earliest[:0:-1]:
        # What went before must have room on its own; that every piece has room goes before how long it is.
        final = int(np.searchsorted(taken, taken[last] + full, side="right")) - 1
        final = max(least, min(final, n - near))
        first = min(max(least, last + near), final)
        last = first + int(np.argmin(smooth[first : final + 1]))
        breaks.append((last * step, 10 * math.log10(max(float(smooth[last]), 1e-12))))
    return tuple(breaks)
