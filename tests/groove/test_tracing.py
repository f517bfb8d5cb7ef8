"""The tip on one wall: against circles put on a fine polyline, block by block, and in every hard case."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.groove.tracing import EVERY, Curve, Reading, WallTracer, read_period, trace_period

RATE = 352_800
SPEED = 0.21
WAY = SPEED / RATE
Float = np.ndarray


def steady(first: int, steps: int) -> Float:
    del first
    return np.full(steps, WAY)


def traced(wall: Float, radius: float, outward: float = 1.0, sizes: tuple[int, ...] = (5000,)) -> Float:
    """A wall through the tracer in blocks, with stillness after it."""
    tracer = WallTracer(radius, outward, steady, WAY)
    x = np.concatenate([wall, np.zeros(math.ceil(radius / WAY) + 20)])
    at, k, out = 0, 0, []
    while at < len(x):
        size = sizes[k % len(sizes)]
        out.append(tracer.push(x[at : at + size]))
        at, k = at + size, k + 1
    return np.concatenate(out)[: len(wall)]


def noise(samples: int, top: float, peak: float, seed: int = 1) -> Float:
    """Band-limited noise, still at both ends."""
    rng = np.random.default_rng(seed)
    spectrum = np.fft.rfft(rng.standard_normal(samples))
    spectrum[np.fft.rfftfreq(samples, 1 / RATE) > top] = 0
    x = np.fft.irfft(spectrum, samples) * np.sin(np.pi * np.arange(samples) / samples) ** 2
    return x / np.abs(x).max() * peak


def circles(wall: Float, radius: float, fine: int = 32) -> Float:
    """The highest of circles on a finely interpolated wall; no slope is used."""
    n = len(wall)
    spectrum = np.fft.rfft(wall)
    dense = np.fft.irfft(spectrum, n * fine) * fine
    reach = math.ceil(radius / WAY * fine)
    padded = np.concatenate([np.zeros(reach), dense, np.zeros(reach)])
    lift = np.sqrt(np.maximum(radius**2 - (np.arange(-reach, reach + 1) * WAY / fine) ** 2, 0.0)) - radius
    out = np.full(n, -np.inf)
    for k, high in enumerate(lift):
        out = np.maximum(out, padded[k : k + n * fine : fine][:n] + high)
    return out


@pytest.mark.parametrize(
    ("top", "peak", "radius"), [(4000, 8e-6, 18e-6), (15_000, 1.5e-6, 18e-6), (15_000, 1e-6, 5e-6)]
)
def test_noise_is_traced_as_circles_on_a_polyline(top: float, peak: float, radius: float) -> None:
    wall = noise(8192, top, peak)
    by_circles = circles(wall, radius)
    found = traced(wall, radius)
    # By another road. The polyline's points lie 19 nm apart, so its circles hang up to (9 nm)²/2R + the wall's own
    # bend between points too low: some 1e-11 m, never too high.
    assert found - by_circles == pytest.approx(np.zeros(len(wall)), abs=1e-4 * peak)
    assert np.mean(found - by_circles) > 0


def test_a_bend_too_sharp_is_really_in_the_noise_above() -> None:
    # By hand: the curve the circle's centre follows runs backward where q > 1; the case above holds such places.
    wall = noise(8192, 15_000, 1.5e-6)
    bend = np.gradient(np.gradient(wall, WAY), WAY)
    assert bend.max() * 18e-6 > 1.5


def test_the_slope_at_the_contact_is_the_walls() -> None:
    # Published geometry (reference 5.2): dy/dx at x = s - R·w'/sqrt(1 + w'²) equals w' at s.
    n = 1 << 14
    phase = 2 * np.pi * np.arange(n) / n
    amplitude, wavelength, radius = 5e-6, 210e-6, 18e-6
    slope = -amplitude * 2 * np.pi / wavelength * np.sin(phase)
    y = trace_period(amplitude * np.cos(phase), slope * wavelength / n, wavelength / n, radius)
    dy = (np.roll(y, -1) - np.roll(y, 1)) / (2 * wavelength / n)
    x = np.arange(n) - radius * slope / np.sqrt(1 + slope**2) / (wavelength / n)
    around = np.interp(np.arange(n), np.sort(x), slope[np.argsort(x)], period=n)
    assert dy == pytest.approx(around, abs=1e-6)


def test_the_right_wall_is_the_mirrored_left() -> None:
    wall = noise(4096, 6000, 3e-6)
    assert np.array_equal(traced(wall, 18e-6, -1.0), -traced(-wall, 18e-6, 1.0))


def test_traced_lies_nowhere_below_the_wall() -> None:
    # By hand: the circle touching at the place itself would stand exactly as high as the wall.
    wall = noise(4096, 12_000, 2e-6)
    assert (traced(wall, 18e-6) - wall).min() > -1e-11


def test_a_tip_of_no_size_follows_everything() -> None:
    wall = noise(4096, 12_000, 2e-6)
    assert traced(wall, 0.0) == pytest.approx(wall, abs=1e-18)


def test_a_single_corner_is_ridden_as_an_arc() -> None:
    # By hand: over a ridge of two straight slopes the tip's centre goes round on a circle of its own radius.
    n, slope, radius = 2000, 0.4, 18e-6
    s = (np.arange(n) - n / 2) * WAY
    wall = -slope * np.abs(s)
    found = read_ridge(wall, radius)
    inside = np.abs(s) < radius * math.sin(math.atan(slope)) - 2 * WAY
    arc = np.sqrt(radius**2 - s[inside] ** 2) - radius
    # The ridge is as sharp as samples can draw it: 0.6 µm wide where the arc is 13 µm wide.
    assert found[inside] == pytest.approx(arc, abs=0.12e-6)


def read_ridge(wall: Float, radius: float) -> Float:
    slope = np.gradient(wall)
    return trace_period(wall, slope, WAY, radius)


@given(st.lists(st.integers(1, 900), min_size=1, max_size=8), st.integers(0, 3))
def test_blocks_do_not_matter(sizes: list[int], seed: int) -> None:
    wall = noise(1500, 9000, 2e-6, seed)
    whole = traced(wall, 18e-6, sizes=(10_000,))
    parts = traced(wall, 18e-6, sizes=tuple(sizes))
    # The place of each point is counted from its block's first: the last bits differ, a billionth of a micron.
    assert parts == pytest.approx(whole, abs=1e-16)


def test_the_way_is_asked_for_where_it_is_needed() -> None:
    asked = []

    def way(first: int, steps: int) -> Float:
        asked.append((first, steps))
        return np.full(steps, WAY)

    tracer = WallTracer(18e-6, 1.0, way, WAY)
    tracer.push(np.zeros(1000))
    tracer.push(np.zeros(EVERY))
    # By hand: slopes look four samples either way, and each block begins with the last point of the one before.
    assert asked == [(-5, math.ceil(1001 / EVERY)), (995, 2)]


def test_points_come_with_their_slopes() -> None:
    curve = Curve()
    n = np.arange(600)
    first, value, slope = curve.push(np.sin(n / 20.0))
    inside = slice(20, None)
    at = first + np.arange(len(value))
    assert value[inside] == pytest.approx(np.sin(at[inside] / 20.0))
    # By hand: the eighth order leaves (1/20)^8/630 of the slope.
    assert slope[inside] == pytest.approx(np.cos(at[inside] / 20.0) / 20.0, abs=1e-13)


def test_a_reading_settles_in_order_and_keeps_the_highest() -> None:
    reading = Reading(reach=3)
    flat = np.zeros(4)
    got = reading.push(0, np.arange(4.0), flat, flat)
    assert len(got) == 0
    # By hand: places 2 to 5 once more, one higher; then what lies further back than the reach is settled.
    got = reading.push(4, np.array([-2.0, -1.0, 0.0, 1.0]), flat + 1.0, flat)
    assert got.tolist() == [0.0, 0.0, 1.0, 1.0]


def test_a_period_wraps_however_far_the_tip_reaches() -> None:
    # By hand: a tip of 18 µm on a wave of 4 µm touches two crests and hardly moves; never below the crest.
    n = 512
    phase = 2 * np.pi * np.arange(n) / n
    way = 4e-6 / n
    y = trace_period(1e-6 * np.cos(phase), -1e-6 * np.sin(phase) * 2 * np.pi / n, way, 18e-6)
    # The crest is round, 1/(a·k²) = 0.405 µm: the sagitta of 18.405 µm over half a wave is 0.1090 µm.
    assert y.max() == pytest.approx(1e-6, abs=1e-9)
    assert y.min() == pytest.approx(1e-6 - 0.1090e-6, abs=2e-10)


def test_a_shifted_period_is_read_where_it_went() -> None:
    n = 256
    phase = 2 * np.pi * np.arange(n) / n
    moved = read_period(np.full(n, 40.0), np.sin(phase), np.cos(phase) * 2 * np.pi / n)
    assert moved == pytest.approx(np.sin(phase - 40 * 2 * np.pi / n), abs=1e-12)
