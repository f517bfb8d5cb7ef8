"""The light band: the bright band that a distant lamp draws on a disc is as wide as the velocity of the music.

Light is thrown to the eye only where an edge of the groove stands square to it. With light and eye far away, the
greatest slope of the groove, v / V, is met at the angle whose tangent it is (Buchmann and Meyer's method).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from discwright.errors import CallError
from discwright.inspection.gauge import look_at
from discwright.inspection.gauge_edges import Edges, find_edges
from discwright.inspection.gauge_stations import find_direction, lay_stations
from discwright.inspection.gauge_straight import spread, straighten
from discwright.units import decibels

#: Peak lateral velocity of level 0 dB, m/s.
REFERENCE_VELOCITY = 0.05
#: Of a photograph this middle share is looked at, along the band.
_MIDDLE = 0.5
#: An edge of the band is a step at least this share of the greatest.
_STEP = 0.5


@dataclass(frozen=True)
class LightBand:
    """A band and the velocity it stands for.

    Attributes
    ----------
    band : float, m
        Whole width.
    velocity : float, m/s
        Peak lateral velocity.
    revolutions_per_second : float
    radius : float or None, m
        Where the band was measured; None for the formula without it, which is for small slopes.
    """

    band: float
    velocity: float
    revolutions_per_second: float
    radius: float | None

    @property
    def level_db(self) -> float:
        """Level of a tone of 1 kHz with that velocity."""
        return decibels(self.velocity / REFERENCE_VELOCITY)

    def as_dict(self) -> dict[str, Any]:
        """Band and velocity as plain JSON values."""
        return {
            "light_band_mm": round(self.band * 1e3, 4),
            "velocity_peak_cm_s": round(self.velocity * 1e2, 4),
            "velocity_rms_cm_s": round(self.velocity * 1e2 / math.sqrt(2.0), 4),
            "wall_velocity_peak_cm_s": round(self.velocity * 1e2 / math.sqrt(2.0), 4),
            "level_db": round(self.level_db, 3) + 0.0,
            "speed_rpm": round(self.revolutions_per_second * 60.0, 4),
            "radius_mm": None if self.radius is None else round(self.radius * 1e3, 4),
        }


def velocity_of_band(band: float, revolutions_per_second: float, radius: float | None = None) -> LightBand:
    """Velocity of a tone from the width of its light band.

    Parameters
    ----------
    band : float, m
        Whole width.
    revolutions_per_second : float
    radius : float, m, optional
        Where the band was measured, for the exact form.

    Returns
    -------
    LightBand

    Raises
    ------
    CallError
        If a number is not above zero, or the band wider than the disc is there.

    Notes
    -----
    ``v = π n b``; exactly ``b = 2 r (v/V) / √(1 + (v/V)²)`` with ``V = 2 π n r`` (Buchmann and Meyer 1930; the exact
    form derived for distant light and distant eye).
    """
    _above_zero(band=band, speed=revolutions_per_second)
    if radius is None:
        return LightBand(band, math.pi * revolutions_per_second * band, revolutions_per_second, None)
    _above_zero(radius=radius)
    sine = band / (2.0 * radius)
    if sine >= 1.0:
        raise CallError(
            f"a light band of {band * 1e3:g} mm does not fit on a groove of {radius * 1e3:g} mm radius; check both."
        )
    groove_speed = 2.0 * math.pi * revolutions_per_second * radius
    return LightBand(band, groove_speed * sine / math.sqrt(1.0 - sine**2), revolutions_per_second, radius)


def band_of_velocity(velocity: float, revolutions_per_second: float, radius: float | None = None) -> LightBand:
    """Width of the light band of a tone: :func:`velocity_of_band` the other way.

    Parameters
    ----------
    velocity : float, m/s
        Peak lateral velocity.
    revolutions_per_second : float
    radius : float, m, optional

    Returns
    -------
    LightBand

    Raises
    ------
    CallError
        If a number is not above zero.
    """
    _above_zero(velocity=velocity, speed=revolutions_per_second)
    if radius is None:
        return LightBand(velocity / (math.pi * revolutions_per_second), velocity, revolutions_per_second, None)
    _above_zero(radius=radius)
    slope = velocity / (2.0 * math.pi * revolutions_per_second * radius)
    return LightBand(2.0 * radius * slope / math.sqrt(1.0 + slope**2), velocity, revolutions_per_second, radius)


def mean_band(bands: Sequence[float]) -> float:
    """One width of the near and the far band, which light or eye at a finite distance make unequal: the harmonic mean.

    Parameters
    ----------
    bands : sequence of float, m
        One or two.

    Raises
    ------
    CallError
    """
    if not 1 <= len(bands) <= 2:
        raise CallError(f"{len(bands)} light bands were given; give one width, or the near and the far one.")
    for band in bands:
        _above_zero(band=band)
    return len(bands) / sum(1.0 / band for band in bands)


@dataclass(frozen=True)
class BandSeen:
    """The light band in a photograph, m.

    Attributes
    ----------
    mean, widest : float
        Over the middle half of the picture, along the band.
    """

    mean: float
    widest: float


def measure_band(picture: NDArray[np.float32], pixel: float) -> BandSeen:
    """Width of the bright band in a photograph of a disc, between the places where its grey is half way to the dark.

    Parameters
    ----------
    picture : ndarray, shape (rows, columns)
        Grey, 1 = white.
    pixel : float, m
        Size of a pixel on the disc.

    Returns
    -------
    BandSeen

    Raises
    ------
    CallError
        If no bright band goes through the middle of the picture.
    """
    look_at(picture)
    direction = find_direction(picture)
    standing = picture if direction.upright else picture.T
    cut = round(standing.shape[0] * (1.0 - _MIDDLE) / 2.0)
    standing = np.ascontiguousarray(standing[cut : standing.shape[0] - cut])
    stations = lay_stations(standing, direction.slope)
    edges = find_edges(stations, direction.slope)
    left, right = _ends(edges)
    rows, columns = standing.shape
    width = spread([straighten(edges, stations, columns, rows, pixel).between(left, right)])
    return BandSeen(width.mean, width.greatest)


def _ends(edges: Edges) -> tuple[int, int]:
    """The outermost edges of the bright band."""
    step = np.median(edges.right - edges.left, axis=1) if len(edges.up) else np.zeros(0)
    rising = np.flatnonzero((step > 0.0) & (step >= _STEP * step.max(initial=0.0)))
    falling = np.flatnonzero((step < 0.0) & (step <= _STEP * step.min(initial=0.0)))
    if not len(rising) or not len(falling) or rising[0] >= falling[-1]:
        raise CallError(
            "no light band is to be seen: no bright stripe with both its edges goes through the middle of the "
            "photograph; take one square to the band, with the disc dark beside it."
        )
    return int(rising[0]), int(falling[-1])


def _above_zero(**numbers: float) -> None:
    for name, value in numbers.items():
        if not (math.isfinite(value) and value > 0.0):
            raise CallError(f"{name} is {value:g}; give a number above zero.")
