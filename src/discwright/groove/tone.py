"""The tone bench: what tip and angles make of one steady tone, harmonic by harmonic, before the replay curve."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from discwright.errors import CallError
from discwright.groove.player import vertical_lag
from discwright.groove.tracing import read_period, trace_period

Float = NDArray[np.float64]

#: Amplitude of the left and right wall for one of the velocity asked for; lateral and vertical share it between both.
MODULATIONS = {
    "left": (1.0, 0.0),
    "right": (0.0, 1.0),
    "lateral": (math.sqrt(0.5), math.sqrt(0.5)),
    "vertical": (math.sqrt(0.5), -math.sqrt(0.5)),
}
#: The plane at right angles to the driven one, in the same terms.
_ACROSS = {
    "left": (0.0, 1.0),
    "right": (1.0, 0.0),
    "lateral": (math.sqrt(0.5), -math.sqrt(0.5)),
    "vertical": (math.sqrt(0.5), math.sqrt(0.5)),
}
#: Harmonics told, and points of one period.
ORDERS, _POINTS = 5, 1 << 14


@dataclass(frozen=True)
class Tone:
    """A steady tone in the groove and what reads it.

    Attributes
    ----------
    frequency : float, Hz
    velocity : float, m/s
        Peak, per wall for left and right, in the plane itself for lateral and vertical.
    speed : float, m/s
        Of the groove.
    tip_radius : float, m
        Seen along the groove; 0 for a tip that follows everything.
    modulation : str
        Of `MODULATIONS`.
    tracking_error, vertical_error : float, rad
        The second: playing angle less the angle it was cut at.
    cut_angle : float, rad
    """

    frequency: float
    velocity: float
    speed: float
    tip_radius: float
    modulation: str
    tracking_error: float = 0.0
    vertical_error: float = 0.0
    cut_angle: float = 0.0

    @property
    def wall_velocity(self) -> float:
        """Peak velocity of a driven wall, m/s."""
        return self.velocity * max(abs(share) for share in MODULATIONS[self.modulation])

    @property
    def tracing_number(self) -> float:
        """q = R·v·w/V², of one wall: 1 where the wall bends as sharply as the tip."""
        return self.tip_radius * self.wall_velocity * 2 * math.pi * self.frequency / self.speed**2


@dataclass(frozen=True)
class Spectrum:
    """Harmonics of a traced tone; ratios to the fundamental of the driven plane.

    Attributes
    ----------
    tone : Tone
    fundamental_gain : float
        What is left of the driven fundamental, 1 for all of it.
    driven, across : ndarray, shape (ORDERS,)
        Displacement ratios of orders 1 to 5, in the driven plane and in the plane at right angles to it.
    """

    tone: Tone
    fundamental_gain: float
    driven: Float
    across: Float

    def as_dict(self) -> dict[str, Any]:
        """The spectrum as plain JSON values."""
        return {
            "q": self.tone.tracing_number,
            "slope": self.tone.wall_velocity / self.tone.speed,
            "fundamental_gain": self.fundamental_gain,
            "harmonics": _told(self.driven),
            "other_plane": _told(self.across),
        }


def tone_spectrum(tone: Tone) -> Spectrum:
    """Trace one period of a tone and take it apart.

    Parameters
    ----------
    tone : Tone

    Returns
    -------
    Spectrum
        Source of the tracing: :func:`discwright.groove.tracing.trace_period`; of the angles: y = A sin(k(s + y·tan
        phi)) (Lofgren 1938, Baerwald 1941), back by tan(playing) - tan(cut) for what moves vertically.

    Raises
    ------
    CallError
        If the tone's slope is so great that the angles would read one place twice.
    """
    n = _POINTS
    phase = 2 * np.pi * np.arange(n) / n
    amplitude = tone.velocity / (2 * np.pi * tone.frequency)
    way = tone.speed / tone.frequency / n
    walls = []
    for share, outward in zip(MODULATIONS[tone.modulation], (1.0, -1.0), strict=True):
        height, slope = outward * share * amplitude * np.cos(phase), -outward * share * amplitude * np.sin(phase)
        wall = trace_period(height, slope * (2 * np.pi / n), way, tone.tip_radius) if tone.tip_radius else height
        walls.append(outward * wall)
    left, right = _leaning(tone, walls[0], walls[1], way)
    spectra = [
        np.fft.rfft(share_left * left + share_right * right)[1 : ORDERS + 1] * (2 / n / amplitude)
        for share_left, share_right in (MODULATIONS[tone.modulation], _ACROSS[tone.modulation])
    ]
    kept = abs(spectra[0][0])
    return Spectrum(tone, float(kept), np.abs(spectra[0]) / kept, np.abs(spectra[1]) / kept)


def _leaning(tone: Tone, left: Float, right: Float, way: float) -> tuple[Float, Float]:
    """Both walls as they are read by a tip that leans along the groove when it moves."""
    sideways = math.tan(tone.tracking_error)
    up = -vertical_lag(tone.cut_angle + tone.vertical_error, tone.cut_angle)
    if sideways == up == 0.0:
        return left, right
    slopes = [_slope(wall) for wall in (left, right)]
    scale = math.sqrt(0.5) / way
    lag = scale * ((left + right) * sideways + (left - right) * up)
    stretch = 1.0 - scale * ((slopes[0] + slopes[1]) * sideways + (slopes[0] - slopes[1]) * up)
    if stretch.min() <= 0.0:
        raise CallError("the angle is too great for so steep a tone: the tip would slide back; choose less of either.")
    one, other = (read_period(-lag, wall, slope / stretch) for wall, slope in zip((left, right), slopes, strict=True))
    return one, other


def _slope(wall: Float) -> Float:
    """Slope per sample of one period, by central differences of the fourth order."""
    result: Float = (8 * (np.roll(wall, -1) - np.roll(wall, 1)) - (np.roll(wall, -2) - np.roll(wall, 2))) / 12
    return result


def _told(ratios: Float) -> list[dict[str, Any]]:
    return [
        {
            "order": order,
            "velocity_percent": 100 * order * float(ratio),
            "displacement_percent": 100 * float(ratio),
        }
        for order, ratio in enumerate(ratios, 1)
    ]
