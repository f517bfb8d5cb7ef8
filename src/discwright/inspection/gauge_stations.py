"""A photograph of grooves made ready for tracing: which way the grooves run, and few, quiet profiles across them.

Everything after this sees grooves that run nearly upright; a photograph in which they lie is turned over its diagonal.
Rows are taken together a few at a time into *stations*, each row moved along the tilt first, so that averaging
costs noise and not sharpness.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Float = NDArray[np.float64]
Grey = NDArray[np.float32]

#: Side of the reduced picture in which the direction is looked for, px.
_SMALL = 600
#: Stations in a picture; how much blur finding edges may add, px, for each try at a quieter look.
_STATIONS = 320
_TRIES = ((1, 2.0), (2, 2.5), (4, 3.5), (8, 5.0))
#: The steepest grey steps of a profile must stand out from its noise by so many standard deviations.
_CLEAR = 12.0


@dataclass(frozen=True)
class Direction:
    """Which way the grooves run.

    Attributes
    ----------
    upright : bool
        They run nearly from top to bottom; otherwise nearly from left to right.
    slope : float
        Columns per row that an upright groove moves; rows per column that a lying one does.
    coherence : float
        0 where no direction is steeper than any other, 1 where all grey steps run one way.
    """

    upright: bool
    slope: float
    coherence: float


@dataclass(frozen=True)
class Stations:
    """Profiles across the grooves.

    Attributes
    ----------
    profile : ndarray, shape (stations, columns)
        Mean grey of the station's rows.
    rise : ndarray, shape (stations, columns)
        Grey per px along the profile, smoothed with `sigma`.
    row : ndarray, shape (stations,), px
        Middle of each station from the picture's edge.
    step : int
        Rows in a station.
    sigma : float, px
    noise : float
        Standard deviation of `rise` where nothing is.
    steepest : float
        What the steepest step of a profile has, as a rule.
    """

    profile: Grey
    rise: Grey
    row: Float
    step: int
    sigma: float
    noise: float
    steepest: float


def find_direction(picture: Grey) -> Direction:
    """Find which way the grooves run, from the mean direction of all grey steps (structure tensor).

    Parameters
    ----------
    picture : ndarray, shape (rows, columns)

    Returns
    -------
    Direction
    """
    factor = max(1, math.ceil(max(picture.shape) / _SMALL))
    small: Grey = smooth(smooth(reduced(picture, factor), 1.0), 1.0, axis=0)
    down, across = np.gradient(small.astype(np.float64))
    xx, yy, xy = float((across**2).sum()), float((down**2).sum()), float((across * down).sum())
    spread = math.hypot(xx - yy, 2.0 * xy)
    angle = 0.5 * math.atan2(2.0 * xy, xx - yy)
    coherence = spread / (xx + yy) if xx + yy > 0.0 else 0.0
    normal = (math.cos(angle), math.sin(angle))
    if abs(normal[0]) >= abs(normal[1]):
        return Direction(True, -normal[1] / normal[0], coherence)
    return Direction(False, -normal[0] / normal[1], coherence)


def lay_stations(picture: Grey, slope: float) -> Stations:
    """Take rows together until the steps stand out from the noise.

    Parameters
    ----------
    picture : ndarray, shape (rows, columns)
        The grooves upright.
    slope : float
        Columns per row.

    Returns
    -------
    Stations
    """
    base = max(2, round(picture.shape[0] / _STATIONS))
    grain = _grain(picture)
    for factor, sigma in _TRIES:
        found = _stations(picture, slope, base * factor, sigma, grain)
        if found.steepest >= _CLEAR * found.noise or len(found.row) < 80:
            break
    return found


def _grain(picture: Grey) -> float:
    """Standard deviation of the noise of a pixel, that of neighbours taken together included.

    A mask that is blind to edges and shades, 1 -2 1 both ways, leaves little but noise (Immerkær 1996).
    """
    middle = picture.shape[0] // 2
    found = []
    for factor in (1, 2):
        part: Grey = reduced(picture[max(0, middle - 300) : middle + 300], factor)
        for _ in range(2):
            part = (part[:-2] - np.float32(2.0) * part[1:-1] + part[2:]).T
        found.append(factor * 1.4826 / 6.0 * float(np.median(np.abs(part))))
    return max(found)


def _stations(picture: Grey, slope: float, step: int, sigma: float, grain: float) -> Stations:
    rows, columns = picture.shape
    count = rows // step
    used = picture[: count * step].reshape(count, step, columns)
    offsets = [round(slope * (k - (step - 1) / 2)) for k in range(step)]
    most = max(map(abs, offsets))
    total = np.zeros((count, columns), dtype=np.float32)
    for k, offset in enumerate(offsets):
        row = used[:, k]
        if most:
            row = np.pad(row, ((0, 0), (most, most)), mode="edge")[:, most + offset : most + offset + columns]
        total += row
    profile: Grey = (total / step).astype(np.float32)
    rise: Grey = np.zeros_like(profile)
    calm = smooth(profile, sigma)
    rise[:, 1:-1] = (calm[:, 2:] - calm[:, :-2]) * np.float32(0.5)
    # White noise after a mean over `step` rows and the derivative of a normal curve.
    noise = grain / math.sqrt(step * 4.0 * math.sqrt(math.pi) * sigma**3)
    steepest = float(np.median(np.abs(rise).max(axis=1)))
    return Stations(profile, rise, (np.arange(count) + 0.5) * step, step, sigma, noise, steepest)


def reduced(picture: Grey, factor: int) -> Grey:
    """The picture at a whole fraction of its size, each pixel the mean of those it stands for.

    Parameters
    ----------
    picture : ndarray, shape (rows, columns)
    factor : int
    """
    if factor == 1:
        return picture
    rows, columns = (side // factor for side in picture.shape)
    whole = picture[: rows * factor, : columns * factor].reshape(rows, factor, columns, factor)
    result: Grey = whole.mean(axis=(1, 3), dtype=np.float32)
    return result


def smooth(values: Grey, sigma: float, axis: int = 1) -> Grey:
    """Blur along one axis with a normal curve; the outermost values go on beyond the border.

    Parameters
    ----------
    values : ndarray, shape (rows, columns)
    sigma : float, px
    axis : int
    """
    reach = math.ceil(4.0 * sigma)
    weight = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    weight /= weight.sum()
    around = [(0, 0), (0, 0)]
    around[axis] = (reach, reach)
    padded = np.pad(values, around, mode="edge")
    result: Grey = np.zeros(values.shape, dtype=np.float32)
    for k, share in enumerate(weight.astype(np.float32)):
        result += share * (padded[:, k : k + values.shape[1]] if axis else padded[k : k + values.shape[0]])
    return result
