"""Speed, wow, flutter and the off-centre hole, from the map of time."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from discwright.inspection.timemap import STEP, Swings, TimeMap

Float = NDArray[np.float64]

#: Weighting of speed fluctuations, Hz and dB (AES6-2008, the same as IEC 60386).
WEIGHTS_DB = (
    (0.1, -48.0), (0.2, -30.6), (0.315, -19.7), (0.4, -15.0), (0.63, -8.4), (0.8, -6.0), (1.0, -4.2), (1.6, -1.8),
    (2.0, -0.9), (4.0, 0.0), (6.3, -0.9), (10.0, -2.1), (20.0, -5.9), (40.0, -10.4), (63.0, -14.2), (100.0, -17.3),
    (200.0, -23.0),
)  # fmt: skip
#: Share of a normal variable within two standard deviations: what the weighted value is read at.
TWO_SIGMA = 0.9545
#: Fluctuations faster than this are not read as wow, Hz; places known worse than this are left out, s.
_WOW_TO_HZ, _WELL_KNOWN_S = 6.0, 2e-5
#: Around a jump nothing is read, s.
_JUMP_S = 0.7


@dataclass(frozen=True)
class Turning:
    """How the disc turned.

    Attributes
    ----------
    start : float, s
        Of the programme, in the capture.
    speed_error : float
        Positive where it plays fast.
    wow_peak : float
        Greatest slow departure of the speed from its mean, unweighted.
    wow_flutter_weighted : float or None
        Weighted, two sigma; None for less than five seconds.
    eccentricity : float, m
        Of the hole to the spiral; a disc tilted by warp reads as one.
    eccentricity_angle : float, rad
        Of the spiral's centre seen from the spindle, as the disc's angle.
    """

    start: float
    speed_error: float
    wow_peak: float
    wow_flutter_weighted: float | None
    eccentricity: float
    eccentricity_angle: float


def weighting_db(frequency: ArrayLike) -> Float:
    """Weight of a fluctuation of the speed.

    Parameters
    ----------
    frequency : array_like, Hz

    Returns
    -------
    ndarray, dB
        Between the table's points straight over log frequency; beyond, as steep as at its ends. Source: AES6-2008.
    """
    table = np.array(WEIGHTS_DB)
    at = np.log(np.maximum(np.asarray(frequency, dtype=np.float64), 1e-6))
    points, values = np.log(table[:, 0]), table[:, 1]
    low = (values[1] - values[0]) / (points[1] - points[0])
    high = (values[-1] - values[-2]) / (points[-1] - points[-2])
    result: Float = (
        np.interp(at, points, values) + low * np.minimum(at - points[0], 0) + high * np.maximum(at - points[-1], 0)
    )
    return result


def weighted_two_sigma(deviation: Float, rate: float) -> float:
    """Wow and flutter of a run of speed deviations.

    Parameters
    ----------
    deviation : ndarray, shape (n,)
        Relative, evenly spaced; at least five seconds of it.
    rate : float, Hz

    Returns
    -------
    float
        What the weighted deviation stays within for 95.45 % of the time. Source: AES6-2008.
    """
    size = fft.next_fast_len(2 * len(deviation), real=True)
    spectrum = fft.rfft(deviation - deviation.mean(), size)
    frequency = fft.rfftfreq(size, 1 / rate)
    weighted = fft.irfft(spectrum * 10 ** (weighting_db(frequency) / 20), size)[: len(deviation)]
    edge = min(round(2.0 * rate), len(deviation) // 4)  # the weighting rings in
    return float(np.quantile(np.abs(weighted[edge : len(deviation) - edge]), TWO_SIGMA))


def turning(laid: TimeMap, swings: Swings, radius: Float, covered: tuple[float, float], turn_time: float) -> Turning:
    """Read the map.

    Parameters
    ----------
    laid : TimeMap
    swings : Swings
    radius : ndarray, shape (m,), m
        Of the groove at the swings' times.
    covered : (float, float), s
        What of the programme the capture holds.
    turn_time : float, s
        Of one turn.

    Returns
    -------
    Turning
    """
    inside = (laid.time >= covered[0]) & (laid.time <= covered[1])
    time, flat, doubt = laid.time[inside], laid.flat[inside], laid.doubt[inside]
    slope = float(np.polyfit(time, flat, 1)[0])
    # Deviation of the speed: less capture time for the same programme is faster.
    deviation = -(np.gradient(flat, STEP) - slope) / slope
    for jump in laid.stretches[1:]:  # what is not quite right there yet is no wow
        deviation[np.abs(time - jump.begin) < _JUMP_S] = 0.0
    slow = _slow(deviation)
    well = doubt < max(_WELL_KNOWN_S, 2 * float(np.median(doubt)))
    well[: int(0.3 / STEP)] = well[-int(0.3 / STEP) :] = False
    peak = float(np.max(np.abs(slow[well]))) if well.any() else 0.0
    weighted = weighted_two_sigma(deviation, 1 / STEP) if len(deviation) * STEP >= 5.0 else None
    size, angle = off_centre(swings, radius, covered, turn_time)
    return Turning(float(laid.at(np.zeros(1))[0]), 1 / slope - 1, peak, weighted, size, angle)


def _slow(deviation: Float) -> Float:
    size = fft.next_fast_len(2 * len(deviation), real=True)
    frequency = fft.rfftfreq(size, STEP)
    keep = 0.5 + 0.5 * np.cos(np.pi * np.clip((frequency - _WOW_TO_HZ) / 2.0, 0.0, 1.0))
    mirrored = np.concatenate([deviation, deviation[::-1]])
    padded = np.pad(mirrored, (0, size - len(mirrored)), mode="edge")
    result: Float = fft.irfft(fft.rfft(padded) * keep, size)[: len(deviation)]
    return result


def off_centre(swings: Swings, radius: Float, covered: tuple[float, float], turn_time: float) -> tuple[float, float]:
    """How far the hole is off the spiral's centre, from the swing once a turn.

    A place at angle a passes later by T/2π·atan2(-e·sin(a-φ), r+e·cos(a-φ)), first of all -T/2π·(e/r)·sin(a-φ).

    Parameters
    ----------
    swings : Swings
    radius : ndarray, shape (m,), m
    covered : (float, float), s
    turn_time : float, s

    Returns
    -------
    off_centre : float, m
    angle : float, rad, 0..2π
        φ. Source: geometry; reference values 6.
    """
    inside = (swings.time >= covered[0]) & (swings.time <= covered[1])
    if not inside.any():
        return 0.0, 0.0
    per_metre = turn_time / (2 * np.pi) / radius[inside]
    across = float(np.sum(swings.once[inside, 0] * per_metre) / np.sum(per_metre**2))
    along = -float(np.sum(swings.once[inside, 1] * per_metre) / np.sum(per_metre**2))
    return math.hypot(across, along), math.atan2(across, along) % (2 * math.pi)
