"""The whole spiral from the rim to the locked groove: one row per sector boundary."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discwright.groove.equipment import DiscFormat
from discwright.groove.grid import FINE, JOIN, LEAD_OUT, MUSIC, Grid
from discwright.groove.motion import Motion
from discwright.groove.spiral import Spiral

Float = NDArray[np.float64]

LEAD_IN, STOP = "lead_in", "stop"
MICRO = 1e-6


@dataclass(frozen=True)
class SpiralRows:
    """The planned spiral, N rows; radius and depth are linear in time between rows.

    Attributes
    ----------
    time : ndarray, shape (N,), s
        From the first sample of music.
    turn : ndarray, shape (N,)
    zone : ndarray of str, shape (N,)
        lead_in, fine, music, join, lead_out or stop: of the sector that begins here.
    radius : ndarray, shape (N,), m
        Unmodulated groove centre.
    pitch : ndarray, shape (N,), m
        Advance per turn over the sector that begins here.
    depth : ndarray, shape (N,), m
        Unmodulated depth.
    land : ndarray, shape (N,), m
        Least land, guard included, between the sector that begins here and the turn outside it; NaN
        where there is none.
    """

    time: Float
    turn: Float
    zone: NDArray[np.str_]
    radius: Float
    pitch: Float
    depth: Float
    land: Float

    @property
    def music(self) -> slice:
        """Rows from the first sample of music to the end of music, both included."""
        first = int(np.flatnonzero(self.time >= -1e-12)[0])
        fine = (FINE, MUSIC, JOIN)
        return slice(first, int(np.flatnonzero(np.isin(self.zone, fine))[-1]) + 2)


def tabulate(motion: Motion, gain: float, spiral: Spiral, disc: DiscFormat) -> SpiralRows:
    """Put lead-in, music, lead-out and locked groove into one table and find the land of each sector.

    Parameters
    ----------
    motion : Motion
    gain : float
        Amplitude ratio to 0 dB.
    spiral : Spiral
    disc : DiscFormat

    Returns
    -------
    SpiralRows
    """
    grid = motion.grid
    last = grid.end + 1
    time = grid.time[:last]
    radius = disc.outermost_radius + spiral.radius[:last] * MICRO
    depth = spiral.depth[:last] * MICRO
    before = _lead_in(grid, disc, float(radius[0]))
    after = _lead_out(grid, disc, float(radius[-1]))
    all_time = np.concatenate([before[0], time, after[0][1:]])
    all_radius = np.concatenate([before[1], radius, after[1][1:]])
    all_depth = np.concatenate([np.full(len(before[0]), depth[0]), depth, np.full(len(after[0]) - 1, depth[-1])])
    zone = np.concatenate([np.full(len(before[0]), LEAD_IN), grid.zone[: last - 1], after[2]])
    zone = zone.astype("<U8")
    pitch = np.append(-np.diff(all_radius) / np.diff(all_time) * grid.turn_time, 0.0)
    land = _land(motion, gain, (all_time, all_radius, all_depth), zone, len(before[0]))
    return SpiralRows(all_time, all_time / grid.turn_time, zone, all_radius, pitch, all_depth, land)


def lead_out_pitch(disc: DiscFormat, last_radius: float) -> float:
    """The nominal pitch, or as much less as one whole turn asks for, within the format's tolerance.

    Parameters
    ----------
    disc : DiscFormat
    last_radius : float, m
        Of the last music.

    Returns
    -------
    float, m
        Source: IEC 60098:1987, 8.8 (6.4 ±3.2 mm, at least one turn).
    """
    room = last_radius - disc.locked_radius
    return min(disc.lead_out_pitch, max(room, disc.lead_out_pitch_min))


def _lead_in(grid: Grid, disc: DiscFormat, fine_radius: float) -> tuple[Float, Float]:
    """Rows before the fine pitch: times on the grid, and one at the rim."""
    turns = max(0.0, (disc.disc_diameter / 2 - fine_radius) / disc.lead_in_pitch)
    step = grid.turn_time / grid.sectors_per_turn
    count = int(np.ceil(turns * grid.sectors_per_turn - 1e-9))
    time = grid.time[0] - np.arange(count, 0, -1) * step
    if count:
        time[0] = grid.time[0] - turns * grid.turn_time
    return time, fine_radius + (grid.time[0] - time) / grid.turn_time * disc.lead_in_pitch


def _lead_out(grid: Grid, disc: DiscFormat, last_radius: float) -> tuple[Float, Float, NDArray[np.str_]]:
    """Rows from the end of the music on: down to the locked groove, and once round in it."""
    start, step = grid.duration, grid.turn_time / grid.sectors_per_turn
    pitch = lead_out_pitch(disc, last_radius)
    turns = (last_radius - disc.locked_radius) / pitch
    if turns <= 0:  # the music has run past the locked groove: nothing can follow it
        return np.array([start]), np.array([last_radius]), np.array([LEAD_OUT])
    locked = start + turns * grid.turn_time
    end = locked + grid.turn_time
    ticks = np.arange(np.floor(start / step) + 1, np.ceil(end / step)) * step
    ticks = ticks[np.abs(ticks - start) > 1e-9]
    ticks = ticks[(np.abs(ticks - locked) > 1e-9) & (np.abs(ticks - end) > 1e-9)]
    time = np.sort(np.concatenate([ticks, [start, locked, end]]))
    radius = np.maximum(last_radius - (time - start) / grid.turn_time * pitch, disc.locked_radius)
    return time, radius, np.where(time < locked - 1e-9, LEAD_OUT, STOP)


def _land(motion: Motion, gain: float, rows: tuple[Float, Float, Float], zone: NDArray[np.str_], offset: int) -> Float:
    """Least land of each sector: at its own ends, at the outer turn's ends, at the motion's corners."""
    grid = motion.grid
    turn = grid.turn_time
    time, radius, depth = rows

    def clear(at: Float) -> Float:
        outer = np.interp(at - turn, time, radius - depth)
        inner: Float = outer - np.interp(at, time, radius + depth)
        return inner

    land = np.full(len(time), np.inf)
    # The motion's last sector has no corners: it lies more than a turn after the music.
    planned = min(grid.sectors - 1, len(time) - 1 - offset)
    still = np.ones(len(time), dtype=np.bool_)
    still[offset : offset + planned] = False
    outer_rows = time + turn
    places = np.concatenate([time[:-1], time[1:], outer_rows])
    owner = np.concatenate(
        [
            np.arange(len(time) - 1),
            np.arange(len(time) - 1),
            np.searchsorted(time, outer_rows, side="right") - 1,
        ]
    )
    keep = still[owner] & (owner < len(time) - 1)
    np.minimum.at(land, owner[keep], clear(places[keep]))
    used = int(motion.facing.start[planned])
    sector, place = motion.facing.sector[:used], motion.facing.place[:used]
    at = grid.time[sector] + place * np.diff(grid.time)[sector]
    np.minimum.at(land, sector + offset, clear(at) - motion.facing.value[:used] * gain)
    # The first turn has nothing outside it, and the locked groove closes on itself.
    land[time - turn < time[0] - 1e-9] = np.nan
    land[zone == STOP] = np.nan
    land[-1] = np.nan
    return land
