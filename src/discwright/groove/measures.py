"""What each sector of a side asks of lacquer, lathe and tips: the very numbers that the findings are made of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discwright.groove.echo import echo_heard
from discwright.groove.limits import Side, instantaneous_depth, slope_ratio
from discwright.groove.playing import bend_ratio

Float = NDArray[np.float64]

#: Level of a sector without any sound, dB.
SILENCE_DB = -120.0


@dataclass(frozen=True)
class SectorMeasures:
    """One value for each sector from the first fine turn to the end of the music, K sectors.

    Attributes
    ----------
    time : ndarray, shape (K+1,), s
        Begin of each sector, and the end of the last.
    level_db : ndarray, shape (K,), dB
        Loudness as it is cut: mean square of both channels over the sector, before the recording curve; 0 dB is a
        full-scale sine in both channels cut at the reference level. Not below ``SILENCE_DB``.
    slope : ndarray, shape (K,), rad
        Steepest angle of either edge to the groove, held against the cutting tip's clearance.
    curvature : ndarray, shape (K,)
        Greatest acceleration of either wall over what the playing tip can follow, 1 at its reach.
    echo : ndarray, shape (K,), dB
        How much louder the turn beside is that can be heard here through thin land; 0 where none can.
    land : ndarray, shape (K,), m
        Least, guard included, to the turn outside; nan where there is none.
    depth_least, depth_greatest : ndarray, shape (K,), m
        Instantaneous, lift included.
    pitch : ndarray, shape (K,), m per turn
    groove_speed : ndarray, shape (K,), m/s
        At the middle of the sector.
    """

    time: Float
    level_db: Float
    slope: Float
    curvature: Float
    echo: Float
    land: Float
    depth_least: Float
    depth_greatest: Float
    pitch: Float
    groove_speed: Float

    def sector_at(self, time: float) -> int | None:
        """Sector that a time lies in; None before the first and after the last.

        Parameters
        ----------
        time : float, s
        """
        sector = int(np.searchsorted(self.time, time + 1e-9, side="right")) - 1
        if sector == len(self.time) - 1 and time <= self.time[-1]:
            sector -= 1
        return sector if 0 <= sector < len(self.time) - 1 else None


def sector_measures(side: Side) -> SectorMeasures:
    """Measure every sector of a side.

    Parameters
    ----------
    side : Side

    Returns
    -------
    SectorMeasures
    """
    grid, k = side.motion.grid, side.sectors
    power = 2.0 * side.motion.power[:k] * side.gain**2
    first = int(np.searchsorted(side.rows.time, grid.time[0] - 1e-9))
    rows = slice(first, first + k)
    least, greatest = instantaneous_depth(side)
    return SectorMeasures(
        time=grid.time[: k + 1].copy(),
        level_db=10.0 * np.log10(np.maximum(power, 10.0 ** (SILENCE_DB / 10.0))),
        slope=np.arctan(slope_ratio(side).max(axis=0) * np.tan(side.setup.cutting_tip.clearance)),
        curvature=bend_ratio(side).max(axis=0),
        echo=echo_heard(side),
        land=side.rows.land[rows].copy(),
        depth_least=least,
        depth_greatest=greatest,
        pitch=side.rows.pitch[rows].copy(),
        groove_speed=side.speed,
    )
