"""The scale of a microscope from a photograph of a stage micrometer: evenly spaced lines a known distance apart.

Evenly spaced lines are one wave over the picture. Its wave vector, read from the spectrum to a small part of a bin,
gives the spacing square to the lines, whichever way they run, and whether they are dark or light.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discwright.errors import CallError
from discwright.inspection.gauge import look_at
from discwright.inspection.gauge_stations import Float, reduced

#: Scales that a photograph through a microscope can have, m a pixel.
POSSIBLE_PIXEL = (0.02e-6, 20e-6)
#: Lines that must be seen, and how far their wave must stand above the spectrum's median.
_LEAST_LINES, _CLEAR = 5.0, 15.0
#: Shortest spacing that is told, px.
_LEAST_SPACING = 3.0
_MOST_PIXELS = 4_000_000


@dataclass(frozen=True)
class Scale:
    """What a stage micrometer says.

    Attributes
    ----------
    pixel : float, m
    spacing_pixels : float
        From line to line, square to them.
    lines : float
        How many spacings the picture has room for.
    """

    pixel: float
    spacing_pixels: float
    lines: float


def check_pixel(pixel: float) -> float:
    """A scale that can be.

    Parameters
    ----------
    pixel : float, m

    Raises
    ------
    CallError
    """
    low, high = POSSIBLE_PIXEL
    if not (math.isfinite(pixel) and low <= pixel <= high):
        raise CallError(
            f"a scale of {pixel * 1e6:g} µm a pixel is impossible for a photograph of grooves; give one from "
            f"{low * 1e6:g} to {high * 1e6:g}."
        )
    return pixel


def read_micrometer(picture: NDArray[np.float32], spacing: float) -> Scale:
    """Read the scale from a photograph of evenly spaced lines.

    Parameters
    ----------
    picture : ndarray, shape (rows, columns)
        Grey, 1 = white.
    spacing : float, m
        From one line to the next.

    Returns
    -------
    Scale

    Raises
    ------
    CallError
        If there are no such lines, or their spacing makes an impossible scale.
    """
    if not (math.isfinite(spacing) and spacing > 0.0):
        raise CallError(f"lines {spacing * 1e6:g} µm apart are none; give their distance, 10 for most micrometers.")
    look_at(picture)
    factor = max(1, math.ceil(math.sqrt(picture.size / _MOST_PIXELS)))
    small = reduced(picture, factor)
    rows, columns = small.shape
    windowed = (small - small.mean()) * np.hanning(rows)[:, None] * np.hanning(columns)[None, :]
    found = _wave(windowed)
    if found is None:
        raise CallError(
            "no evenly spaced lines are to be seen in the photograph of the micrometer; take one that is sharp and "
            f"shows at least {_LEAST_LINES:g} lines."
        )
    down, right = _refined(windowed, *found)
    frequency = math.hypot(down, right)
    apart = factor / frequency
    lines = abs(right) * columns + abs(down) * rows
    return Scale(check_pixel(spacing / apart), apart, lines)


def _wave(windowed: Float) -> tuple[float, float] | None:
    """Bin of the strongest wave, in cycles per px down and right; None where none stands out."""
    rows, columns = windowed.shape
    size = np.abs(np.fft.rfft2(windowed))
    down, right = np.fft.fftfreq(rows)[:, None], np.fft.rfftfreq(columns)[None, :]
    fits = np.maximum(np.abs(down) * rows, right * columns) >= _LEAST_LINES
    fits &= np.hypot(down, right) <= 1.0 / _LEAST_SPACING
    size = np.where(fits, size, 0.0)
    at = int(size.argmax())
    if size.flat[at] < _CLEAR * float(np.median(size[fits])):
        return None
    return float(down[at // size.shape[1], 0]), float(right[0, at % size.shape[1]])


def _refined(windowed: Float, down: float, right: float) -> tuple[float, float]:
    """The wave vector where the spectrum is greatest between the bins."""
    rows, columns = windowed.shape
    y, x = np.arange(rows), np.arange(columns)
    for step in (0.5, 0.25, 0.1):
        downs, rights = down + step / rows * np.arange(-1, 2), right + step / columns * np.arange(-1, 2)
        part = windowed @ np.exp(-2j * np.pi * x[:, None] * rights)
        size = np.log(np.abs(np.exp(-2j * np.pi * downs[:, None] * y) @ part))
        down += step / rows * _top(size[:, 1])
        right += step / columns * _top(size[1])
    return down, right


def _top(three: Float) -> float:
    """Where the parabola through three neighbouring values has its top, at most one step away."""
    before, here, after = (float(one) for one in three)
    bend = before - 2.0 * here + after
    if bend >= 0.0:
        return 1.0 if after > before else -1.0
    return max(-1.0, min(1.0, 0.5 * (before - after) / bend))
