"""A first guess at the level a side will reach, from its motion alone: where a fit begins to look."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from discwright.groove.equipment import Setup
from discwright.groove.grid import JOIN
from discwright.groove.motion import Hulls, Motion
from discwright.groove.rows import slew_envelope

Float = NDArray[np.float64]


def foresee_level(motion: Motion, setup: Setup, level_range_db: tuple[float, float]) -> float:
    """Level at which room, slope, depth or head should end, dB, a few tenths off as a rule.

    Parameters
    ----------
    motion : Motion
        At 0 dB.
    setup : Setup
    level_range_db : (float, float)

    Returns
    -------
    float, dB
        Within the range.
    """
    demand = _Demand(motion, setup)
    low, high = level_range_db
    while high - low > 0.02:
        middle = (low + high) / 2
        if demand.holds(10.0 ** (middle / 20.0)):
            low = middle
        else:
            high = middle
    return low


def gain_cap(motion: Motion, setup: Setup) -> Float:
    """Gain beyond which depth or head stop the cut whatever the radius, shape (sectors of the music,).

    Parameters
    ----------
    motion : Motion
    setup : Setup

    Returns
    -------
    ndarray, shape (n,)
        Of each sector. The groove is taken to be no deeper than its lift asks for.
    """
    grid, practice, head = motion.grid, setup.practice, setup.head
    music = slice(grid.start, grid.end)
    turns = np.diff(grid.time)[music] / grid.turn_time
    lift, drop = (_peaks(hulls, grid.end)[music] for hulls in (motion.shallow, motion.deep))
    depth = slew_envelope(np.append(lift, lift[-1]), turns * setup.lathe.depth_slew)[:-1]
    swing = np.maximum(depth + drop, 1e-12)
    velocity = motion.slope_velocity[:, music].max(axis=0) / math.sqrt(2.0)
    acceleration = motion.acceleration[:, music].max(axis=0)
    result: Float = np.minimum.reduce(
        [
            (practice.depth_max - practice.depth_min) / swing,
            head.velocity_max / np.maximum(velocity, 1e-12),
            head.acceleration_max / np.maximum(acceleration, 1e-12),
        ]
    )
    return result


class _Demand:
    """Pitch each sector asks for, as if every turn were like its neighbour."""

    def __init__(self, motion: Motion, setup: Setup) -> None:
        grid = motion.grid
        self.setup = setup
        self.music = slice(grid.start, grid.end)
        self.turns = np.diff(grid.time)[self.music] / grid.turn_time
        self.join = grid.zone[self.music] == JOIN
        self.facing, self.lift = (_peaks(hulls, grid.end)[self.music] for hulls in (motion.facing, motion.shallow))
        self.steep = motion.slope_velocity[:, self.music].max(axis=0)
        self.cap = float(gain_cap(motion, setup).min(initial=math.inf))

    def holds(self, gain: float) -> bool:
        if gain > self.cap:
            return False
        lathe, practice, disc = self.setup.lathe, self.setup.practice, self.setup.disc
        deep = np.maximum(gain * self.lift, 0.0) + practice.depth_min
        depth = slew_envelope(np.append(deep, deep[-1]), self.turns * lathe.depth_slew)[:-1]
        pitch = np.maximum(practice.land_min + 2 * depth + gain * self.facing, lathe.pitch_min)
        pitch = slew_envelope(np.append(pitch, pitch[-1]), self.turns * lathe.pitch_slew)[:-1]
        pitch[self.join] = disc.join_pitch
        radius = disc.outermost_radius - np.cumsum(pitch * self.turns)
        clears = 2 * math.pi / disc.turn_time * math.tan(self.setup.cutting_tip.clearance)
        steep = self.steep * gain > np.maximum(radius, disc.locked_radius) * clears
        return bool(radius[-1] >= disc.last_radius and not steep.any())


def _peaks(hulls: Hulls, sectors: int) -> Float:
    """Highest corner of each sector, m, shape (sectors,)."""
    result: Float = np.maximum.reduceat(hulls.value, hulls.start[:sectors])
    return result
