"""The places where a side is planned: sector boundaries in time, and the zone of each sector."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

#: Fine pitch begins this many turns before the music (common practice).
FINE_TURNS = 1.5
#: Zones of the planned part, in the words of `spiral.csv`.
FINE, MUSIC, JOIN, LEAD_OUT = "fine", "music", "join", "lead_out"


@dataclass(frozen=True)
class Grid:
    """Sector boundaries (knots) from the first fine turn to one turn after the music.

    Attributes
    ----------
    turn_time : float, s
    sectors_per_turn : int
    duration : float, s
        Of the music.
    time : ndarray, shape (K+1,), s
        Knots on multiples of turn_time / sectors_per_turn, and one at the end of the music.
    zone : ndarray of str, shape (K,)
        Of the sector that begins at each knot.
    end : int
        Index of the knot at the end of the music.
    """

    turn_time: float
    sectors_per_turn: int
    duration: float
    time: NDArray[np.float64]
    zone: NDArray[np.str_]
    end: int

    @property
    def start(self) -> int:
        """Index of the knot at time 0."""
        return round(FINE_TURNS * self.sectors_per_turn)

    @property
    def sectors(self) -> int:
        """Number of sectors, K."""
        return len(self.time) - 1


@dataclass(frozen=True)
class Outside:
    """Where the turn outside each knot lies: between knots `index` and `index + 1`, at `weight`.

    Attributes
    ----------
    index : ndarray of int, shape (K+1,)
        Negative where there is no planned turn outside.
    weight : ndarray, shape (K+1,), 0..1
    """

    index: NDArray[np.int64]
    weight: NDArray[np.float64]


def lay_grid(
    duration: float,
    turn_time: float,
    sectors_per_turn: int,
    joins: tuple[tuple[float, float], ...] = (),
) -> Grid:
    """Lay the knots of one side.

    Parameters
    ----------
    duration : float, s
        Of the music, greater than zero.
    turn_time : float, s
    sectors_per_turn : int
        Even.
    joins : tuple of (float, float), s
        Begin and end of each join between bands; moved inward to whole sectors.

    Returns
    -------
    Grid
    """
    step = turn_time / sectors_per_turn
    first = -round(FINE_TURNS * sectors_per_turn)
    before = int(np.ceil(duration / step - 1e-6))
    after = before + sectors_per_turn + 2
    numbers = np.arange(first, after + 1)
    on_grid = abs(before - duration / step) <= 1e-6
    time = (numbers * step).astype(np.float64)
    if on_grid:
        time[before - first] = duration
    else:
        time = np.insert(time, before - first, duration)
    end = before - first
    zone = np.full(len(time) - 1, MUSIC, dtype="<U8")
    zone[time[:-1] < -1e-12] = FINE
    zone[end:] = LEAD_OUT
    for begin, finish in joins:
        inside = (time[:-1] >= begin - 1e-9) & (time[1:] <= finish + 1e-9)
        zone[inside] = JOIN
    return Grid(turn_time, sectors_per_turn, duration, time, zone, end)


def turn_outside(grid: Grid) -> Outside:
    """Find, for each knot, the place one turn earlier.

    Parameters
    ----------
    grid : Grid

    Returns
    -------
    Outside
    """
    earlier = grid.time - grid.turn_time
    index = np.searchsorted(grid.time, earlier + 1e-9, side="right") - 1
    safe = np.clip(index, 0, grid.sectors - 1)
    weight = (earlier - grid.time[safe]) / (grid.time[safe + 1] - grid.time[safe])
    weight = np.clip(np.where(np.abs(weight) < 1e-9, 0.0, weight), 0.0, 1.0)
    return Outside(index.astype(np.int64), weight)
