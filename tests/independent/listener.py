"""The road of the listener: walls from the analogue response, circles put on a fine polyline, audio by one FFT.

Nothing here comes from discwright. Lengths are in metres; a name in another unit wears it.

    programme ─FFT─▶ walls, 24 points a sample ─highest circles─▶ traced ─lean, uneven turning─▶ read ─FFT─▶ heard

A positive displacement moves a wall outward from the spindle: the left wall towards the tip, the right one away from
it, so there the tip follows the wall turned over.
"""

from __future__ import annotations

import csv
import json
import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import scipy.fft
from numpy.typing import NDArray

Floats = NDArray[np.float64]

REFERENCE = 0.05 / math.sqrt(2.0)  # peak velocity of a wall at full scale, 1 kHz, 0 dB: 5 cm/s lateral, m/s
SUBSONIC_HZ = 10.0
AROUND_S, FADE_S = 0.5, 0.25  # taken before and after a passage, and faded before and after that
BLOCK = 1 << 15


@dataclass(frozen=True)
class Groove:
    """Radius, m, at times, s, straight between; the time of a turn, s; the cut's amplitude ratio to 0 dB."""

    time: Floats
    radius: Floats
    turn_time: float
    gain: float

    def radius_at(self, time: Floats) -> Floats:
        """Radius at any times."""
        return np.interp(time, self.time, self.radius)

    def speed(self, time: Floats) -> Floats:
        """Groove speed, m/s."""
        return 2 * np.pi * self.radius_at(time) / self.turn_time


@dataclass(frozen=True)
class Arm:
    """A pivoted arm, m and rad; and the tangent of its playing angle less that of the cut's."""

    length: float
    overhang: float
    offset: float
    playing_less_cut: float = 0.0

    def error(self, radius: Floats) -> Floats:
        """Angle between cartridge and groove: cosine rule in the triangle of spindle, pivot and tip."""
        pivot = self.length - self.overhang
        at_tip = np.arccos((radius**2 + self.length**2 - pivot**2) / (2 * radius * self.length))
        return np.pi / 2 - at_tip - self.offset


@dataclass(frozen=True)
class Player:
    """What plays: a circle (radius 0: a point), an arm or none, a hole so far beside the centre; points a sample."""

    tip_radius: float = 0.0
    arm: Arm | None = None
    off_centre: float = 0.0
    fine: int = 24
    signs: tuple[float, float] = (1.0, -1.0)


@dataclass(frozen=True)
class Walls:
    """Both walls' displacement, m, shape (2, n), as a closed curve: first time, s, and points a second."""

    both: Floats
    start: float
    rate: float

    @property
    def time(self) -> Floats:
        """Of every point, s."""
        return self.start + np.arange(self.both.shape[1]) / self.rate

    def at(self, time: Floats) -> Walls:
        """Read at other times: by the cubic through the four nearest points."""
        place = (time - self.start) * self.rate
        k = np.floor(place).astype(np.int64)
        t = place - k
        weights = (
            -t * (t - 1) * (t - 2) / 6,
            (t + 1) * (t - 1) * (t - 2) / 2,
            -(t + 1) * t * (t - 2) / 2,
            (t + 1) * t * (t - 1) / 6,
        )
        read = sum(w * self.both.take(k + i, axis=1, mode="wrap") for i, w in enumerate(weights, -1))
        return replace(self, both=np.asarray(read))


def read_groove(folder: Path, at_radius: float | None = None) -> Groove:
    """The groove of a kept plan, where it lies or all at one radius."""
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    with (folder / "spiral.csv").open(encoding="utf-8") as file:
        rows = np.array([(float(row["time_s"]), float(row["radius_mm"]) * 1e-3) for row in csv.DictReader(file)])
    radius = rows[:, 1] if at_radius is None else np.full(len(rows), at_radius)
    return Groove(rows[:, 0], radius, 60.0 / plan["settings"]["format"]["speed_rpm"], 10 ** (plan["level_db"] / 20))


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


def _room(samples: Floats, rate: int, first: int, frames: int) -> tuple[Floats, int]:
    """A passage with what stands around it, faded in and out, silence beyond; and how much stands before it."""
    fade = round(FADE_S * rate)
    before = round(AROUND_S * rate) + fade
    used = frames + 2 * before
    room = np.zeros((scipy.fft.next_fast_len(used, real=True), 2))
    a, b = max(first - before, 0), min(first + frames + before, len(samples))
    room[a - first + before : b - first + before] = samples[a:b]
    slope = np.sin(np.pi / 2 * (np.arange(fade) + 0.5) / fade)[:, None] ** 2
    room[:fade] *= slope
    room[used - fade : used] *= slope[::-1]
    return room, before


def through_subsonic(samples: Floats, rate: int, first: int = 0, frames: int | None = None) -> Floats:
    """A passage as it is cut: what every programme goes through, and nothing else."""
    frames = len(samples) if frames is None else frames
    room, before = _room(samples, rate, first, frames)
    f = scipy.fft.rfftfreq(len(room), 1 / rate)
    cut = scipy.fft.irfft(scipy.fft.rfft(room, axis=0) * subsonic(f)[:, None], len(room), axis=0)
    return np.asarray(cut[before : before + frames])


def cut_walls(samples: Floats, rate: int, groove: Groove, first: int, frames: int, fine: int) -> tuple[Walls, int]:
    """Both walls of a passage, `fine` points a sample, and how many samples stand before the passage."""
    room, before = _room(samples, rate, first, frames)
    f = scipy.fft.rfftfreq(len(room), 1 / rate)
    motion = np.zeros(len(f), dtype=complex)
    motion[1:] = groove.gain * REFERENCE * (recording(f) * subsonic(f))[1:] / (2j * np.pi * f[1:])
    spectra = scipy.fft.rfft(room.T) * motion
    both = np.stack([scipy.fft.irfft(one, len(room) * fine) for one in spectra]) * fine
    return Walls(both, (first - before) / rate, float(rate * fine)), before


def play(walls: Walls, groove: Groove, player: Player) -> Walls:
    """Both walls as the player's tip follows them in time."""
    if player.tip_radius:
        walls = traced(walls, groove, player.tip_radius, player.signs)
    if player.arm is not None:
        walls = leaning(walls, groove, player.arm)
    if player.off_centre:
        walls = off_centre(walls, groove, player.off_centre)
    return walls


def audio(walls: Walls, groove: Groove, fine: int) -> Floats:
    """Displacement to what is heard through the replay curve, shape (n, 2), a sample for each `fine` points."""
    n = walls.both.shape[1] // fine
    f = scipy.fft.rfftfreq(n, fine / walls.rate)
    back = np.zeros(len(f), dtype=complex)
    back[1:] = 2j * np.pi * f[1:] / recording(f)[1:] / (groove.gain * REFERENCE)
    return np.column_stack([scipy.fft.irfft(scipy.fft.rfft(one)[: len(f)] * back, n) / fine for one in walls.both])


def listen(
    samples: Floats, rate: int, groove: Groove, player: Player, first: int = 0, frames: int | None = None
) -> Floats:
    """A passage of a programme as it is heard, shape (frames, 2)."""
    frames = len(samples) if frames is None else frames
    walls, before = cut_walls(samples, rate, groove, first, frames, player.fine)
    return audio(play(walls, groove, player), groove, player.fine)[before : before + frames]


def traced(walls: Walls, groove: Groove, radius: float, signs: tuple[float, float] = (1.0, -1.0)) -> Walls:
    """Both walls under a circle, stretch by stretch, each at the groove speed of its middle.

    A straight piece is off by the square of its length. So circles are also put on every second point, where that is
    four times as much, and a third of the difference is taken off (Richardson).
    """
    both = np.empty_like(walls.both)
    for wall, sign, out in zip(walls.both, signs, both, strict=True):
        for begin in range(0, len(wall), BLOCK):
            end = min(begin + BLOCK, len(wall))
            middle = np.array([walls.start + 0.5 * (begin + end) / walls.rate])
            way = float(groove.speed(middle)[0]) / walls.rate
            halo = math.floor(radius / way) + 4
            stretch = sign * wall.take(range(begin - halo, end + halo), mode="wrap")
            held, coarse = highest_circles(stretch, way, radius), np.empty_like(stretch)
            for odd in (0, 1):
                coarse[odd::2] = highest_circles(stretch[odd::2], 2 * way, radius)
            out[begin:end] = sign * (held + (held - coarse) / 3)[halo:-halo]
    return replace(walls, both=both)


def highest_circles(wall: Floats, way: float, radius: float) -> Floats:
    """The highest a circle can be held at each point of a polyline: by its corners, and by its straight pieces.

    On a corner s the circle's lowest point stands at w + sqrt(R² - (x - s)²) - R; on a piece of slope m at the piece's
    height there plus R(sqrt(1 + m²) - 1), if the touching point x + R·m/sqrt(1 + m²) lies on that piece. No calculus.
    Beyond its ends the polyline is not there.
    """
    reach, n = math.floor(radius / way), len(wall)
    wide = np.pad(wall, reach, constant_values=-np.inf)
    best, candidate = np.full(n, -np.inf), np.empty(n)
    for k in range(-reach, reach + 1):
        np.add(wide[reach + k : reach + k + n], math.sqrt(radius**2 - (k * way) ** 2) - radius, out=candidate)
        np.maximum(best, candidate, out=best)
    slope = np.diff(wall) / way
    longer = np.sqrt(1 + slope**2)
    # Each piece is as long as the points lie apart, so it is touched from just one of them.
    piece = np.arange(n - 1)
    at = np.ceil(piece - radius * slope / longer / way).astype(np.int64)
    there = (at >= 0) & (at < n)
    held = wall[:-1] + slope * (at - piece) * way + radius * (longer - 1)
    np.maximum.at(best, at[there], held[there])
    return best


def leaning(walls: Walls, groove: Groove, arm: Arm) -> Walls:
    """Both walls where a leaning tip reads them: the place found by trying again until it no longer moves."""
    time = walls.time
    speed, sideways = groove.speed(time), np.tan(arm.error(groove.radius_at(time)))
    at = time
    for _ in range(50):
        read = walls.at(at)
        left, right = read.both
        lateral, lift = (left + right) / math.sqrt(2.0), (left - right) / math.sqrt(2.0)
        moved = time + (lateral * sideways + lift * -arm.playing_less_cut) / speed
        still = float(np.abs(moved - at).max()) * float(speed.max()) < 1e-12
        if still:
            return read
        at = moved
    raise ArithmeticError("the tip finds no place to rest")


def off_centre(walls: Walls, groove: Groove, off: float) -> Walls:
    """Both walls as they pass on a disc whose hole is `off` beside the groove's centre."""
    return walls.at(place_under_tip(walls.time, groove, off))


def place_under_tip(time: Floats, groove: Groove, off: float) -> Floats:
    """The place of the groove, as its time on a true disc, that passes at a time.

    Spindle, centre and place make a triangle: seen from the spindle the place stands in the direction θ = 2πt/T; seen
    from the groove's centre, `off` away, in the direction θ + asin(off·sin θ/r), by the law of sines.
    """
    theta = 2 * np.pi * time / groove.turn_time
    at = time
    for _ in range(6):  # the radius is that of the place, which moves it by next to nothing
        at = time + np.arcsin(off * np.sin(theta) / groove.radius_at(at)) * groove.turn_time / (2 * np.pi)
    return at


def hollow(walls: Walls, groove: Groove, radius: float) -> Floats:
    """How much more sharply than the circle each wall is hollow, at every point: R·w″ by three neighbours."""
    way = groove.speed(walls.time) / walls.rate
    bend = np.roll(walls.both, 1, axis=1) + np.roll(walls.both, -1, axis=1) - 2 * walls.both
    return np.array([[1.0], [-1.0]]) * bend / way**2 * radius


def band_db(error: Floats, signal: Floats, rate: int, low_hz: float = 20.0, high_hz: float = 18_000.0) -> float:
    """Energy of an error against a signal's within a band; what lies outside does not leak in."""
    f = np.fft.rfftfreq(len(error), 1 / rate)
    inside = (f >= low_hz) & (f <= high_hz)
    fade = np.blackman(len(error))[:, None]
    sums = [float(np.sum(np.abs(np.fft.rfft(y * fade, axis=0)[inside]) ** 2)) for y in (error, signal)]
    return 10 * math.log10(sums[0] / sums[1] + 1e-30)
