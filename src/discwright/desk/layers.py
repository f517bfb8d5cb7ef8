"""What the disc map can be tinted by: land, depth, curvature, slope and echo, each with a ramp of its own."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from discwright.groove.equipment import Setup
from discwright.groove.measures import SectorMeasures

Float = NDArray[np.float64]
Rgb = tuple[int, int, int]

#: The plain map, without a layer.
VINYL = "vinyl"
#: Names in the order they are offered.
LAYER_NAMES = (VINYL, "land", "depth", "curvature", "slope", "echo")

#: Stops of a ramp, and colours drawn between the first and the last.
_STOPS, _STEPS = 9, 256
#: Lightness, and most chroma, at the plain and at the loud end of every ramp: both rise evenly, so that a ramp can be
#: read without colour, and what is plain lies as calm as vinyl.
_LIGHTNESS, _CHROMA = (0.32, 0.88), (0.035, 0.125)
#: Hue at the plain and at the loud end of each, degrees, of the space described by Ottosson.
_HUES = {
    "land": (190.0, 135.0),
    "depth": (270.0, 220.0),
    "curvature": (340.0, 395.0),
    "slope": (40.0, 90.0),
    "echo": (290.0, 330.0),
}
#: As much may be missing before something counts as beyond its limit, m and share; as the checks have it.
_TOLERANCE, _HAIR = 5e-9, 1e-9


@dataclass(frozen=True)
class Layer:
    """One way to tint the map: its key, and what it says of every sector.

    Attributes
    ----------
    name, words, unit : str
        What it is called in addresses and by people; unit of all its numbers, empty for a plain ratio.
    low, high : float
        Ends of the ramp; what lies outside is drawn as they are.
    limit : float
        What lies beyond it is hatched.
    stops : tuple of (float, str)
        Values and their colours, ``"#rrggbb"``, evenly from `low` to `high`; straight between in red, green and blue.
    time : ndarray, shape (K+1,), s
        Begin of each sector, and the end of the last.
    value : ndarray, shape (K,)
        Of each sector, in `unit`; nan where it has none.
    beyond : ndarray of bool, shape (K,)
    """

    name: str
    words: str
    unit: str
    low: float
    high: float
    limit: float
    stops: tuple[tuple[float, str], ...]
    time: Float
    value: Float
    beyond: NDArray[np.bool_]

    @cached_property
    def place(self) -> NDArray[np.float32]:
        """Where each sector stands on the ramp, 0 to 1, shape (K,); nan where it has no value."""
        return np.clip((self.value - self.low) / (self.high - self.low), 0.0, 1.0).astype(np.float32)

    @cached_property
    def ramp(self) -> Float:
        """Colours from `low` to `high`, shape (256, 3), 0 to 255."""
        stops = np.array([_parts(colour) for _, colour in self.stops], dtype=np.float64)
        at = np.linspace(0.0, len(stops) - 1.0, _STEPS)
        return np.stack([np.interp(at, np.arange(len(stops)), stops[:, c]) for c in range(3)], axis=1)

    def colour_of(self, value: float) -> Rgb:
        """Colour of a value on the land, where no wall darkens it.

        Parameters
        ----------
        value : float
            In `unit`.
        """
        place = min(max((value - self.low) / (self.high - self.low), 0.0), 1.0)
        red, green, blue = (int(v + 0.5) for v in self.ramp[int(place * (_STEPS - 1) + 0.5)])
        return red, green, blue


def make_layers(measures: SectorMeasures, setup: Setup) -> tuple[Layer, ...]:
    """Every layer but the plain vinyl, in the order of :data:`LAYER_NAMES`.

    Parameters
    ----------
    measures : SectorMeasures
    setup : Setup
        Holds the limits.

    Returns
    -------
    tuple of Layer
    """
    practice, clearance = setup.practice, setup.cutting_tip.clearance
    least, greatest = measures.depth_least, measures.depth_greatest
    shallow = least < practice.depth_min - _TOLERANCE
    deep = greatest > practice.depth_max + _TOLERANCE
    micro, degree = 1e6, math.degrees(1.0)
    described = (
        # Little land is what matters: its ramp runs the other way round.
        ("land", "least land to the turn outside", "µm", (0.0, 6 * practice.land_min),
         practice.land_min, micro, measures.land, measures.land < practice.land_min - _TOLERANCE),
        ("depth", "greatest depth of the groove", "µm", (practice.depth_min, practice.depth_max), practice.depth_max,
         micro, np.where(shallow & ~deep, least, greatest), shallow | deep),
        ("curvature", f"sharpest bend against the reach of the {setup.tip.name} tip", "×", (0.0, 1.5), 1.0, 1.0,
         measures.curvature, measures.curvature > 1.0 + _HAIR),
        ("slope", "steepest edge against the cutting tip's clearance", "°", (0.0, clearance), clearance, degree,
         measures.slope, measures.slope > clearance * (1.0 + _HAIR)),
        ("echo", "a louder turn beside, heard through thin land", "dB", (0.0, 1.5 * practice.echo_contrast),
         practice.echo_contrast, 1.0, measures.echo, measures.echo >= practice.echo_contrast),
    )  # fmt: skip
    return tuple(
        Layer(
            name, words, unit, ends[0] * factor, ends[1] * factor, limit * factor,
            _stops(name, ends[0] * factor, ends[1] * factor), measures.time, value * factor, beyond,
        )
        for name, words, unit, ends, limit, factor, value, beyond in described
    )  # fmt: skip


def _stops(name: str, low: float, high: float) -> tuple[tuple[float, str], ...]:
    """Even steps of lightness, from the plain end to the loud one."""
    share = np.linspace(0.0, 1.0, _STOPS)
    loud = 1.0 - share if name == "land" else share
    colours = [_coloured(name, float(one)) for one in loud]
    values = low + (high - low) * share
    return tuple((float(value), "#{:02x}{:02x}{:02x}".format(*rgb)) for value, rgb in zip(values, colours, strict=True))


def _coloured(name: str, loud: float) -> Rgb:
    """A colour of a ramp, from its plain to its loud end."""
    # The loud end may have less chroma on a screen than is wanted: then the whole ramp rises to that.
    ends = [_most_chroma(*end) for end in zip(_LIGHTNESS, _HUES[name], _CHROMA, strict=True)]
    lightness, hue, chroma = (low + (high - low) * loud for low, high in (_LIGHTNESS, _HUES[name], ends))
    red, green, blue = (round(255.0 * _encoded(min(max(v, 0.0), 1.0))) for v in _linear_rgb(lightness, hue, chroma))
    return red, green, blue


def _most_chroma(lightness: float, hue: float, wanted: float) -> float:
    """As much chroma as a screen has there, and no more than is wanted."""
    for chroma in np.arange(wanted, 0.0, -0.001):
        linear = _linear_rgb(lightness, hue, float(chroma))
        if min(linear) >= 0.0 and max(linear) <= 1.0:
            return float(chroma)
    return 0.0


def _linear_rgb(lightness: float, hue: float, chroma: float) -> tuple[float, float, float]:
    """Linear red, green and blue of a colour given in Oklab, its hue in degrees (Ottosson 2020)."""
    a, b = chroma * math.cos(math.radians(hue)), chroma * math.sin(math.radians(hue))
    long = (lightness + 0.3963377774 * a + 0.2158037573 * b) ** 3
    middle = (lightness - 0.1055613458 * a - 0.0638541728 * b) ** 3
    short = (lightness - 0.0894841775 * a - 1.2914855480 * b) ** 3
    return (
        4.0767416621 * long - 3.3077115913 * middle + 0.2309699292 * short,
        -1.2684380046 * long + 2.6097574011 * middle - 0.3413193965 * short,
        -0.0041960863 * long - 0.7034186147 * middle + 1.7076147010 * short,
    )


def _encoded(linear: float) -> float:
    """Linear light as sRGB has it (IEC 61966-2-1)."""
    return 12.92 * linear if linear <= 0.0031308 else float(1.055 * linear ** (1 / 2.4) - 0.055)


def _parts(colour: str) -> Rgb:
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return red, green, blue
