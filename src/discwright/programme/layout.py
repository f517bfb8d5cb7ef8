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
    total = float(taken[-1])
    reach = max(1, round(0.5 / step))
    smooth = np.convolve(power, np.ones(reach) / reach, "same")
    near = round(apart / step)
    fewest = math.ceil(total / room - 1e-9)
    # A break falls between two steps: where they leave the last piece too long, one piece more is needed.
    for pieces in (fewest, fewest + 1):
        places = _places(smooth, taken, room, near, pieces)
        if total - taken[places[-1] if places else 0] <= room * (1 + 1e-9):
            break
    return tuple((at * step, 10 * math.log10(max(float(smooth[at]), 1e-12))) for at in places)


def _places(smooth: Float, taken: Float, room: float, near: int, pieces: int) -> list[int]:
    """Steps at which so many pieces but the first begin, each at its quietest."""
    total, n = float(taken[-1]), len(smooth)
    places: list[int] = []
    last = 0
    for k in range(1, pieces):
        # What follows must have room on the sides that are left, and what went before on its own.
        first = max(int(np.searchsorted(taken, total - (pieces - k) * room)), last + near)
        final = min(int(np.searchsorted(taken, taken[last] + room, side="right")) - 1, n - near)
        if first >= final:
            first = min(max(last + 1, min(first, final)), n - 1)
            final = first + 1
        last = first + int(np.argmin(smooth[first:final]))
        places.append(last)
    return places
