"""The spiral's constraints as sparse rows: land, depth, pitch and its rates (DESIGN 5.4-5.7), in µm.

Unknowns are the radius and the depth at every knot. Because both are linear between knots, a constraint
over a whole sector is exact when it holds at the corners of the signal's concave hull.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from discwright.groove import kernels
from discwright.groove.echo import echo_pairs
from discwright.groove.equipment import Setup
from discwright.groove.grid import FINE, JOIN, LEAD_OUT, MUSIC, Grid, turn_outside
from discwright.groove.motion import Hulls, Motion

Float = NDArray[np.float64]
Int = NDArray[np.int64]

#: The lead-out runs away from the music so fast that only this share of a turn can touch it: 0.4 mm and more.
LEAD_OUT_TURNS = 1 / 8
MICRO = 1e6
#: Corners of a hull are dropped where a chord misses them by less, µm; the chord is raised by as much.
THINNING = 0.02


@dataclass(frozen=True)
class Corners:
    """Constraint rows that belong to places within sectors.

    Attributes
    ----------
    sector : ndarray of int, shape (n,)
    place : ndarray, shape (n,), 0..1
    bound : ndarray, shape (n,), µm
    """

    sector: Int
    place: Float
    bound: Float

    def take(self, keep: NDArray[np.bool_]) -> Corners:
        """Only the rows marked in `keep`."""
        return Corners(self.sector[keep], self.place[keep], self.bound[keep])

    def span(self, first: int, last: int) -> slice:
        """The rows of sectors first .. last - 1."""
        lo, hi = np.searchsorted(self.sector, [first, last])
        return slice(int(lo), int(hi))


@dataclass(frozen=True)
class Problem:
    """One side at one level, ready for the solver; lengths in µm, K sectors.

    Attributes
    ----------
    grid : Grid
    knots : int
        Number of knots that are solved for.
    outer_index, outer_weight, outer_step : ndarray, shape (K,)
        Where the turn outside each sector begins, and how far its weight moves over the sector.
    land : Corners
        r_outer - h_outer - r - h >= bound.
    shallow, deep : Corners
        h >= bound and h <= bound.
    depth_low, depth_high : ndarray, shape (K+1,), µm
        Every feasible depth lies above the first; some optimum lies below the second.
    pitch_low, pitch_high : ndarray, shape (K,), µm
    sector_turns : ndarray, shape (K,)
        Length of each sector in turns.
    slew : ndarray, shape (K-1,), µm
        Change of pitch allowed between successive sectors; infinite at coarse moves.
    depth_slew : ndarray, shape (K,), µm
        Change of depth allowed over each sector.
    """

    grid: Grid
    knots: int
    outer_index: Int
    outer_weight: Float
    outer_step: Float
    land: Corners
    shallow: Corners
    deep: Corners
    depth_low: Float
    depth_high: Float
    pitch_low: Float
    pitch_high: Float
    sector_turns: Float
    slew: Float
    depth_slew: Float


def pose(motion: Motion, gain: float, setup: Setup) -> Problem:
    """Write down the constraints of one side at one level.

    Parameters
    ----------
    motion : Motion
        At 0 dB.
    gain : float
        Amplitude ratio to 0 dB.
    setup : Setup

    Returns
    -------
    Problem
        Source: DESIGN 5.4-5.7.
    """
    grid, lathe, practice = motion.grid, setup.lathe, setup.practice
    sectors = min(grid.end + math.ceil(LEAD_OUT_TURNS * grid.sectors_per_turn), grid.sectors)
    sector_turns = np.diff(grid.time[: sectors + 1]) / grid.turn_time
    zone = grid.zone[:sectors]
    outside = turn_outside(grid)
    index = outside.index[:sectors]
    whole = np.diff(grid.time)[np.clip(index, 0, None)] / grid.turn_time
    coarse = ~np.isin(zone, (FINE, MUSIC))
    pitch_low = np.full(sectors, lathe.pitch_min * MICRO)
    pitch_high = np.full(sectors, lathe.pitch_max * MICRO)
    for name, pitch in ((JOIN, setup.disc.join_pitch), (LEAD_OUT, setup.disc.lead_out_pitch_min)):
        pitch_low[zone == name] = pitch_high[zone == name] = pitch * MICRO
    middle = 0.5 * (sector_turns[1:] + sector_turns[:-1])
    slew = np.where(coarse[1:] | coarse[:-1], np.inf, lathe.pitch_slew * MICRO * middle)
    depth_slew = lathe.depth_slew * MICRO * sector_turns
    steepest = depth_slew * 2 + (lathe.pitch_max - lathe.pitch_min) * MICRO * sector_turns
    for turn in _turns_after_coarse(grid, coarse):
        steepest[turn] = np.inf
    land = _rows(motion.facing, gain, practice.land_min * MICRO, sectors, steepest)
    if practice.echo_widening > 0:
        # The same for every corner of a sector, so none that was left out is missed; not so for twins at a knot.
        wider = echo_pairs(motion, gain, practice) * (practice.echo_widening * MICRO)
        land = replace(land, bound=land.bound + wider[land.sector])
    land = _once_per_knot(land.take(index[land.sector] >= 0), grid.end)
    shallow = _rows(motion.shallow, gain, practice.depth_min * MICRO, sectors, depth_slew)
    shallow = _once_per_knot(shallow, grid.end)
    deep = _rows(motion.deep, gain, -practice.depth_max * MICRO, sectors, depth_slew)
    deep = Corners(deep.sector, deep.place, -deep.bound)
    depth_low, depth_high = _depth_box(shallow, depth_slew)
    flat = (1 - shallow.place) * depth_low[shallow.sector] + shallow.place * depth_low[shallow.sector + 1]
    highest = np.maximum(depth_high[1:], depth_high[:-1])
    return Problem(
        grid=grid,
        knots=sectors + 1,
        outer_index=index,
        outer_weight=outside.weight[:sectors],
        outer_step=sector_turns / whole,
        land=land,
        shallow=shallow.take(shallow.bound > flat),
        deep=deep.take(deep.bound < highest[deep.sector]),
        depth_low=depth_low,
        depth_high=depth_high,
        pitch_low=pitch_low,
        pitch_high=pitch_high,
        sector_turns=sector_turns,
        slew=slew,
        depth_slew=depth_slew,
    )


def _depth_box(shallow: Corners, depth_slew: Float) -> tuple[Float, Float]:
    """Bounds on the depth at each knot that cost no optimum.

    Below: no depth that changes by at most the slew can be less. Above: let H be the slew-limited
    envelope of each sector's deepest demand, held at both its knots, and D one sector's slew. Where a
    feasible depth exceeds H + D at one knot it exceeds H at the next, so the lesser of the two
    trajectories still meets every demand between them, and it leaves more land.
    """
    knots = len(depth_slew) + 1
    k, s, b = shallow.sector, shallow.place, shallow.bound
    low, high = np.zeros(knots), np.zeros(knots)
    np.maximum.at(low, k, b - s * depth_slew[k])
    np.maximum.at(low, k + 1, b - (1 - s) * depth_slew[k])
    np.maximum.at(high, k, b)
    np.maximum.at(high, k + 1, b)
    return slew_envelope(low, depth_slew), slew_envelope(high, depth_slew) + depth_slew.max()


def silent_radius_used(grid: Grid, setup: Setup) -> float:
    """Radius the same side would use without any modulation, m.

    Parameters
    ----------
    grid : Grid
    setup : Setup

    Returns
    -------
    float, m
    """
    practice = setup.practice
    fine = max(setup.lathe.pitch_min, 2 * practice.depth_min + practice.land_min)
    turns = np.diff(grid.time)[grid.start : grid.end] / grid.turn_time
    join = grid.zone[grid.start : grid.end] == JOIN
    return float(np.sum(np.where(join, setup.disc.join_pitch, fine) * turns))


def slew_envelope(demand: Float, slew: Float) -> Float:
    """The least curve that lies above `demand` and changes by at most `slew` from knot to knot.

    Parameters
    ----------
    demand : ndarray, shape (K+1,)
    slew : ndarray, shape (K,), same unit

    Returns
    -------
    ndarray, shape (K+1,)
    """
    far = np.concatenate([[0.0], np.cumsum(slew)])
    ahead = np.maximum.accumulate(demand + far) - far
    behind = np.maximum.accumulate((demand - far)[::-1])[::-1] + far
    result: Float = np.maximum(ahead, behind)
    return result


def _turns_after_coarse(grid: Grid, coarse: NDArray[np.bool_]) -> list[slice]:
    """Sectors whose outer neighbour is a coarse move, where pitch may jump from turn to turn."""
    reach = grid.sectors_per_turn + 2
    return [slice(int(k), int(k) + reach) for k in np.flatnonzero(coarse)]


def _rows(hulls: Hulls, gain: float, margin: float, sectors: int, steepest: Float) -> Corners:
    """Rows of the first `sectors` sectors, less those implied by the highest one, and thinned.

    A straight line that may change by at most `steepest` over a sector and clears the highest corner
    clears every corner that lies further below it than that.
    """
    used = int(hulls.start[sectors])
    sector = hulls.sector[:used]
    place, bound = hulls.place[:used], hulls.value[:used] * (gain * MICRO)
    highest = np.maximum.reduceat(bound, hulls.start[:sectors])
    where = np.flatnonzero(bound == highest[sector])
    peak_place = np.empty(sectors)
    peak_place[sector[where][::-1]] = place[where][::-1]
    with np.errstate(invalid="ignore"):
        drop = np.abs(place - peak_place[sector]) * steepest[sector]
    keep = ~(bound <= highest[sector] - drop)
    # The highest corner itself stays, once.
    keep |= (bound == highest[sector]) & (place == peak_place[sector])
    sector, place, bound = sector[keep], place[keep], bound[keep]
    keep = np.zeros(len(sector), dtype=np.bool_)
    kernels.thin_corners(np.searchsorted(sector, np.arange(sectors + 1)), place, bound, THINNING, keep)
    return Corners(sector[keep], place[keep], bound[keep] + margin)


def _once_per_knot(rows: Corners, end: int) -> Corners:
    """Where one sector's last corner and the next one's first are the same place, keep the higher."""
    last = np.zeros(len(rows.sector), dtype=np.bool_)
    twins = (
        (rows.place[:-1] == 1.0)
        & (rows.place[1:] == 0.0)
        & (rows.sector[1:] == rows.sector[:-1] + 1)
        & (rows.sector[1:] < end - 1)
    )
    lower = rows.bound[:-1] < rows.bound[1:]
    last[:-1] |= twins & lower
    last[1:] |= twins & ~lower
    return rows.take(~last)
