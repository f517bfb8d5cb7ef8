"""The road of the listener: walls from the analogue response, circles put on a fine polyline, audio by one FFT.

Nothing here comes from discwright. Lengths are in metres; a name in another unit wears it.

    programme ─FFT─▶ wall, 32 or 64 points a sample ─highest circle at each point▶ traced ─FFT─▶ audio
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

Floats = NDArray[np.float64]

REFERENCE = 0.05 / math.sqrt(2.0)  # peak velocity of a wall at full scale, 1 kHz, 0 dB: 5 cm/s lateral, m/s
SUBSONIC_HZ = 10.0


@dataclass(frozen=True)
class Groove:
    """A stretch of groove at one radius: its speed, m/s, the cut's amplitude ratio to 0 dB, and the sample rate."""

    speed: float
    gain: float
    rate: int


def recording(f: Floats) -> NDArray[np.complex128]:
    """Velocity for constant input by the time constants 3180, 318 and 75 µs, 0 dB at 1 kHz (IEC 60098)."""

    def raw(frequency: Floats | float) -> NDArray[np.complex128]:
        s = 2j * np.pi * np.asarray(frequency)
        return np.asarray((1 + 3180e-6 * s) * (1 + 75e-6 * s) / (1 + 318e-6 * s))

    return raw(f) / abs(raw(1000.0))


def subsonic(f: Floats) -> NDArray[np.complex128]:
    """Second-order Butterworth high-pass."""
    x = 1j * f / SUBSONIC_HZ
    return np.asarray(x * x / (x * x + math.sqrt(2.0) * x + 1.0))


def through_subsonic(x: Floats, rate: int) -> Floats:
    """What every cut goes through."""
    room = np.concatenate([x, np.zeros((2 * rate, x.shape[1]))])
    f = np.fft.rfftfreq(len(room), 1 / rate)
    return np.fft.irfft(np.fft.rfft(room, axis=0) * subsonic(f)[:, None], len(room), axis=0)[: len(x)]


def listen(x: Floats, groove: Groove, radius: float, fine: int, lean: tuple[float, float] = (0.0, 0.0)) -> Floats:
    """A programme as a tip gives it back, shape (n, 2); before and after it all is still.

    `lean` are the tangents of the tracking error and of what the playing angle has more than the cut's (difference
    of tangents).
    """
    room = np.zeros((scipy.fft.next_fast_len(len(x) + groove.rate), 2))
    room[groove.rate // 4 : groove.rate // 4 + len(x)] = x
    f = np.fft.rfftfreq(len(room), 1 / groove.rate)
    motion = np.zeros(len(f), dtype=complex)
    motion[1:] = groove.gain * REFERENCE * (recording(f) * subsonic(f))[1:] / (2j * np.pi * f[1:])
    n = len(room) * fine
    way = groove.speed / (groove.rate * fine)
    walls = [scipy.fft.irfft(scipy.fft.rfft(room[:, c]) * motion, n) * fine for c in (0, 1)]
    # The tip lies outside the left wall's rise and inside the right wall's: it rides -d there.
    traced = [sign * highest_circles(sign * wall, way, radius) for wall, sign in zip(walls, (1.0, -1.0), strict=True)]
    if lean != (0.0, 0.0):
        traced = lean_on(traced, way, lean)
    back = np.zeros(len(f), dtype=complex)
    back[1:] = 2j * np.pi * f[1:] / recording(f)[1:] / (groove.gain * REFERENCE)
    heard = np.column_stack([scipy.fft.irfft(scipy.fft.rfft(z)[: len(f)] * back, len(room)) / fine for z in traced])
    return heard[groove.rate // 4 : groove.rate // 4 + len(x)]


def highest_circles(wall: Floats, way: float, radius: float) -> Floats:
    """The highest a circle can be held at each point of a closed polyline: by its corners, and by its straight pieces.

    On a corner s the circle's centre stands at w + sqrt(R² - (x - s)²) - R; on a piece of slope m at the line's height
    plus R(sqrt(1 + m²) - 1), where the touching point x + R·m/sqrt(1 + m²) lies on that piece. No calculus.
    """
    if radius == 0.0:
        return wall
    n = len(wall)
    slope = (np.roll(wall, -1) - wall) / way
    longer = np.sqrt(1 + slope**2)
    best = np.full(n, -np.inf)
    for k in range(-math.floor(radius / way), math.floor(radius / way) + 1):
        np.maximum(best, np.roll(wall, -k) + (math.sqrt(radius**2 - (k * way) ** 2) - radius), out=best)
    # Each piece is as long as the points lie apart, so it is touched from just one of them.
    piece = np.arange(n)
    at = np.ceil(piece - radius * slope / longer / way).astype(np.int64)
    np.maximum.at(best, at % n, wall + slope * (at - piece) * way + radius * (longer - 1))
    return best


def lean_on(walls: list[Floats], way: float, lean: tuple[float, float]) -> list[Floats]:
    """Both walls where a leaning tip reads them: the place found by trying again until it no longer moves."""
    n = len(walls[0])
    s = np.arange(n) * way
    read: list[Callable[[Floats], Floats]] = [lambda at, w=wall: _between(w, at / way) for wall in walls]
    at = s.copy()
    for _ in range(40):
        left, right = read[0](at), read[1](at)
        moved = s + ((left + right) * lean[0] + (left - right) * lean[1]) / math.sqrt(2.0)
        done = np.abs(moved - at).max() < 1e-13
        at = moved
        if done:
            break
    return [read[0](at), read[1](at)]


def _between(wall: Floats, at: Floats) -> Floats:
    """A closed curve between its points, by the cubic through the four nearest."""
    k = np.floor(at).astype(np.int64)
    t = at - k
    a, b, c, d = (wall[(k + i) % len(wall)] for i in (-1, 0, 1, 2))
    return b + 0.5 * t * (c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * (b - c) + d - a)))


def band_db(error: Floats, signal: Floats, rate: int, low: float = 20.0, high: float = 18_000.0) -> float:
    """Energy of an error against a signal's within a band; what lies outside does not leak in."""
    f = np.fft.rfftfreq(len(error), 1 / rate)
    inside = (f >= low) & (f <= high)
    fade = np.blackman(len(error))[:, None]
    sums = [float(np.sum(np.abs(np.fft.rfft(y * fade, axis=0)[inside]) ** 2)) for y in (error, signal)]
    return 10 * math.log10(sums[0] / sums[1] + 1e-30)
