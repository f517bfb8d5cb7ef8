"""The tip's tracing against a plain sampled dilation of the same samples: how fast, and how exact.

SciPy's `grey_dilation` with a half circle as its structuring function is what one would reach for first. It
looks only at samples: between them the circle hangs too low, and small harmonics drown in that.
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import grey_dilation

from discwright.groove.tracing import WallTracer

Float = NDArray[np.float64]
#: The worked case: 18 µm, 1 cm/s, 5 kHz, 25 cm/s; the tip's second harmonic is 4.5 % in velocity.
RADIUS, VELOCITY, FREQUENCY, SPEED = 18e-6, 0.01, 5000.0, 0.25


@dataclass(frozen=True)
class Tracing:
    """One way to trace: its time for a wall, s, and the second harmonic of the worked case, per cent."""

    seconds: float
    second_percent: float


def tone(rate: float, periods: int = 200) -> Float:
    """The worked case's wall, m."""
    n = round(periods * rate / FREQUENCY)
    amplitude = VELOCITY / (2 * math.pi * FREQUENCY)
    return amplitude * np.cos(2 * np.pi * FREQUENCY * np.arange(n) / rate)


def second_percent(traced: Float, rate: float) -> float:
    """Second harmonic over the first, as velocity, of a traced tone."""
    middle = traced[len(traced) // 4 : 3 * len(traced) // 4]
    n = np.arange(len(middle))
    window = np.blackman(len(middle))
    lines = [abs(np.sum(middle * window * np.exp(-2j * np.pi * k * FREQUENCY * n / rate))) for k in (1, 2)]
    return float(200 * lines[1] / lines[0])


def by_dilation(wall: Float, way: float) -> Float:
    """The highest of circles at the samples, and at the samples only."""
    reach = math.floor(RADIUS / way)
    circle = np.sqrt(RADIUS**2 - (np.arange(-reach, reach + 1) * way) ** 2) - RADIUS
    result: Float = grey_dilation(wall, structure=circle, mode="nearest")
    return result


def by_contact(wall: Float, way: float) -> Float:
    """The contact found between samples."""
    tracer = WallTracer(RADIUS, 1.0, lambda _first, steps: np.full(steps, way), way)
    block = 1 << 19
    pieces = [tracer.push(wall[at : at + block]) for at in range(0, len(wall), block)]
    return np.concatenate([*pieces, tracer.push(np.zeros(math.ceil(RADIUS / way) + 10))])


def compare(wall: Float, rate: float) -> tuple[Tracing, Tracing]:
    """Both ways on one wall.

    Parameters
    ----------
    wall : ndarray, shape (n,), m
    rate : float, Hz
        Of the wall, for the timing, and of the worked case.

    Returns
    -------
    contact, dilation : Tracing
    """
    found = []
    for trace in (by_contact, by_dilation):
        trace(wall[:10_000], SPEED / rate)
        begin = time.perf_counter()
        trace(wall, SPEED / rate)
        seconds = time.perf_counter() - begin
        found.append(Tracing(seconds, second_percent(trace(tone(rate), SPEED / rate), rate)))
    return found[0], found[1]
