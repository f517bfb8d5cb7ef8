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
    """Level at which room or slope should end, dB, a few tenths off as a rule.

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

    def holds(self, gain: float) -> bool:
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
