"""The last look before the cut: how far inside each limit of lathe, head and cutting tip a side stays."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discwright.groove.equipment import Setup
from discwright.groove.grid import FINE, JOIN, LEAD_OUT, MUSIC
from discwright.groove.limits import Side, instantaneous_depth, running_heat, slope_ratio, view
from discwright.groove.motion import Motion
from discwright.groove.table import LEAD_IN, SpiralRows

Float = NDArray[np.float64]

#: Everything :func:`preflight` can tell of, in the order in which it does.
MARGINS = (
    "least_pitch",
    "greatest_pitch",
    "pitch_slew",
    "depth_slew",
    "carriage_speed",
    "head_velocity",
    "head_acceleration",
    "head_heat",
    "slope",
    "least_depth",
    "greatest_depth",
    "least_land",
    "last_radius",
)


@dataclass(frozen=True)
class Margin:
    """How far inside one limit the cut stays.

    Attributes
    ----------
    what : str
        One of :data:`MARGINS`.
    value, limit : float
        In `unit`: the worst that is met, and what is allowed.
    unit : str
    inside_percent : float
        Room left in per cent of the limit, negative where the limit is exceeded.
    time : float or None, s
        Where the value is met, from the first sample of music; None where there is no such place.
    """

    what: str
    value: float
    limit: float
    unit: str
    inside_percent: float
    time: float | None


def preflight(rows: SpiralRows, motion: Motion, gain: float, setup: Setup) -> tuple[Margin, ...]:
    """How far inside each limit of lathe, head and cutting tip one side stays.

    Parameters
    ----------
    rows : SpiralRows
        From the rim to the locked groove, SI.
    motion : Motion
        At 0 dB, of the same side.
    gain : float
        Amplitude ratio to 0 dB.
    setup : Setup

    Returns
    -------
    tuple of Margin
        In the order of :data:`MARGINS`. Where no turn has another beside it there is no `least_land`. Pitch and
        its slew are those of fine pitch and music: coarse moves count as carriage speed. Depth slew holds in the
        joins as well.
    """
    side = view(motion, gain, setup, rows)
    return (
        *_pitch(side),
        _pitch_slew(side),
        _depth_slew(side),
        _carriage(side),
        *_head(side),
        _slope(side),
        *_depth(side),
        *_land(side),
        _radius(side),
    )


def _at_most(what: str, value: float, limit: float, unit: str, scale: float, time: float | None) -> Margin:
    """A margin below a limit; value and limit in SI, `scale` units to one of SI."""
    return Margin(what, value * scale, limit * scale, unit, _percent(limit - value, limit), time)


def _at_least(what: str, value: float, limit: float, unit: str, scale: float, time: float | None) -> Margin:
    """A margin above a limit."""
    return Margin(what, value * scale, limit * scale, unit, _percent(value - limit, limit), time)


def _percent(room: float, limit: float) -> float:
    """Room in per cent of the limit; of a limit of nothing any room is boundless."""
    if limit == 0.0:
        return math.copysign(math.inf, room) if room else 0.0
    return 100.0 * room / limit


def _pitch(side: Side) -> tuple[Margin, Margin]:
    rows, lathe = side.rows, side.setup.lathe
    fine = np.flatnonzero(np.isin(rows.zone[:-1], (FINE, MUSIC)))
    low = int(fine[np.argmin(rows.pitch[fine])])
    high = int(fine[np.argmax(rows.pitch[fine])])
    return (
        _at_least("least_pitch", float(rows.pitch[low]), lathe.pitch_min, "µm", 1e6, float(rows.time[low])),
        _at_most("greatest_pitch", float(rows.pitch[high]), lathe.pitch_max, "µm", 1e6, float(rows.time[high])),
    )


def _pitch_slew(side: Side) -> Margin:
    """Change of pitch from sector to sector, per turn: the coarse moves and the steps into them are exempt."""
    rows = side.rows
    turns = np.diff(rows.turn)
    fine = np.isin(rows.zone[:-1], (FINE, MUSIC))
    change = np.abs(np.diff(rows.pitch[:-1])) / (0.5 * (turns[1:] + turns[:-1]))
    change = np.where(fine[1:] & fine[:-1], change, 0.0)
    worst = int(np.argmax(change))
    return _at_most(
        "pitch_slew", float(change[worst]), side.setup.lathe.pitch_slew, "µm per turn", 1e6, float(rows.time[worst + 1])
    )


def _depth_slew(side: Side) -> Margin:
    """Change of depth per turn, from the first fine turn to the end of music, joins included."""
    rows = side.rows
    planned = np.isin(rows.zone[:-1], (FINE, MUSIC, JOIN))
    change = np.where(planned, np.abs(np.diff(rows.depth)) / np.diff(rows.turn), 0.0)
    worst = int(np.argmax(change))
    return _at_most(
        "depth_slew", float(change[worst]), side.setup.lathe.depth_slew, "µm per turn", 1e6, float(rows.time[worst])
    )


def _carriage(side: Side) -> Margin:
    """Speed of the carriage in lead-in, joins and lead-out."""
    rows = side.rows
    coarse = np.isin(rows.zone[:-1], (LEAD_IN, JOIN, LEAD_OUT))
    speed = np.where(coarse, np.abs(np.diff(rows.radius)) / np.diff(rows.time), 0.0)
    worst = int(np.argmax(speed))
    time = float(rows.time[worst]) if coarse.any() else None
    return _at_most("carriage_speed", float(speed[worst]), side.setup.lathe.traverse_max, "mm/s", 1e3, time)


def _head(side: Side) -> tuple[Margin, ...]:
    """The larger of the two walls' velocity, acceleration and running heat."""
    head, motion, k = side.setup.head, side.motion, side.sectors
    # An edge moves along the radius √2 times as fast as its wall along the wall's normal.
    velocity = motion.slope_velocity[:, :k] * (side.gain / math.sqrt(2.0))
    acceleration = motion.acceleration[:, :k] * side.gain
    ends = np.broadcast_to(motion.grid.time[1 : k + 1] * motion.sample_rate, (2, k))
    loads = (
        ("head_velocity", velocity, motion.slope_frame, head.velocity_max, "cm/s", 100.0),
        ("head_acceleration", acceleration, motion.acceleration_frame, head.acceleration_max, "m/s²", 1.0),
        ("head_heat", running_heat(side), ends, head.heat_acceleration_max, "m/s² rms", 1.0),
    )
    return tuple(
        _at_most(what, float(load.max()), limit, unit, scale, _when(side, load, frames[:, :k]))
        for what, load, frames, limit, unit, scale in loads
    )


def _slope(side: Side) -> Margin:
    clearance = side.setup.cutting_tip.clearance
    ratio = slope_ratio(side)
    steepest = math.atan(float(ratio.max()) * math.tan(clearance))
    time = _when(side, ratio, side.motion.slope_frame[:, : side.sectors])
    return _at_most("slope", steepest, clearance, "deg", 180.0 / math.pi, time)


def _when(side: Side, load: Float, frames: Float) -> float:
    """Time at which the greatest of a load, shape (2, K), is met."""
    frame = frames[np.unravel_index(int(np.argmax(load)), load.shape)]
    return float(np.clip(frame / side.motion.sample_rate, 0.0, side.motion.grid.duration))


def _depth(side: Side) -> tuple[Margin, Margin]:
    """Instantaneous depth, lift included; the time is the middle of the sector."""
    grid, practice = side.motion.grid, side.setup.practice
    middle = 0.5 * (grid.time[1 : grid.end + 1] + grid.time[: grid.end])
    least, greatest = instantaneous_depth(side)
    low, high = int(np.argmin(least)), int(np.argmax(greatest))
    return (
        _at_least("least_depth", float(least[low]), practice.depth_min, "µm", 1e6, float(middle[low])),
        _at_most("greatest_depth", float(greatest[high]), practice.depth_max, "µm", 1e6, float(middle[high])),
    )


def _land(side: Side) -> tuple[Margin, ...]:
    rows = side.rows
    land = np.where(np.isnan(rows.land), np.inf, rows.land)
    low = int(np.argmin(land))
    if not np.isfinite(land[low]):
        return ()
    limit = side.setup.practice.land_min
    return (_at_least("least_land", float(land[low]), limit, "µm", 1e6, float(rows.time[low])),)


def _radius(side: Side) -> Margin:
    rows = side.rows
    end = float(rows.radius[rows.music][-1])
    return _at_least("last_radius", end, side.setup.disc.last_radius, "mm", 1e3, side.motion.grid.duration)
