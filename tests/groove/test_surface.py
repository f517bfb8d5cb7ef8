"""Surface noise and rumble: level, spectrum, channels, and that blocks and runs make no difference."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from discwright.groove.curve import replay_response
from discwright.groove.surface import Rumble, SurfaceNoise

Float = np.ndarray
KINDS = (SurfaceNoise, Rumble)
#: Long enough that chance moves a level by less than a tenth of a decibel, s.
LONG = 120


def rms(x: Float) -> Float:
    return np.sqrt(np.mean(x**2, axis=0))


def density(x: Float, rate: int) -> tuple[Float, Float]:
    """Frequencies, half a hertz apart, and power per hertz, the mean of both channels."""
    f, power = signal.welch(x, rate, nperseg=2 * rate, axis=0)
    return f, power.mean(axis=1)


def third_octave(f: Float, power: Float, centre: float) -> float:
    """Mean power per hertz of a band, dB."""
    return 10 * math.log10(power[(f >= centre * 2 ** (-1 / 6)) & (f < centre * 2 ** (1 / 6))].mean())


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("rate", "level"), [(44_100, 1.0), (44_100, 0.01), (96_000, 1.0)])
def test_level(kind: type[SurfaceNoise] | type[Rumble], rate: int, level: float) -> None:
    # By hand: level 1 is as strong as a full-scale sine, 1/√2 in each channel; 2 % is what chance leaves in this time.
    x = kind(rate, level).block(LONG * rate)
    assert x.shape == (LONG * rate, 2)
    assert x.dtype == np.float64
    assert rms(x) == pytest.approx([level / math.sqrt(2)] * 2, rel=0.02)


@pytest.mark.parametrize("kind", KINDS)
def test_the_level_holds_from_the_first_frame(kind: type[SurfaceNoise] | type[Rumble]) -> None:
    """By another road: many discs side by side, each heard for its first two milliseconds only."""
    beginnings = np.concatenate([kind(44_100, 1.0, seed=seed).block(88) for seed in range(300)])
    # Chance leaves 4 % here; a filter that began empty would lack half and more.
    assert rms(beginnings) == pytest.approx([1 / math.sqrt(2)] * 2, rel=0.1)


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
def test_surface_noise_follows_the_replay_curve(rate: int) -> None:
    f, power = density(SurfaceNoise(rate, 1.0).block(LONG * rate), rate)
    # By another road: the published curve's own square, its whole set to the level, in third-octave bands.
    even = np.arange(0.5, rate / 2)
    curve = np.abs(replay_response(even)) ** 2
    curve *= 0.5 / curve.sum()
    for centre in 1000.0 * 2.0 ** (np.arange(-15, 12) / 3):
        # Wanted 0.5 dB, chance included, from 30 Hz to 14 kHz: a stand-in needs no more.
        assert third_octave(f, power, centre) == pytest.approx(third_octave(even, curve, centre), abs=0.5), centre


@pytest.mark.parametrize(("rate", "tolerance_db"), [(44_100, 0.2), (192_000, 0.05)])
def test_one_zero_mends_the_mapping_near_the_nyquist_frequency(rate: int, tolerance_db: float) -> None:
    """By another road: the same even noise through the curve itself, frequency by frequency."""
    frames, settled = rate * 4, rate // 2
    even = np.random.default_rng(5).standard_normal((settled + frames, 2))
    f = np.fft.rfftfreq(len(even), 1 / rate)
    wanted = np.fft.irfft(np.fft.rfft(even, axis=0) * np.abs(replay_response(f))[:, None], len(even), axis=0)
    got = SurfaceNoise(rate, 1.0, seed=5).block(frames)
    f, power = density(got, rate)
    _, plain = density(wanted[settled:], rate)
    wrong = 10 * np.log10(power / plain)
    bands = [wrong[(f > low) & (f < 1.1 * low)].mean() for low in np.geomspace(900, 13_600, 12)]
    # All the same but for one constant, the level; by how much they differ is regression only.
    assert np.ptp(bands) < tolerance_db


def test_a_bare_mapping_would_fail() -> None:
    """The check can fail: without that zero the curve at 44.1 kHz is 1.5 dB too loud at 15 kHz."""
    f = 2j * np.pi * np.array([1000.0, 15_000.0])
    pole = np.exp(-1 / (75e-6 * 44_100))
    bare = np.abs((1 - pole) / (1 - pole * np.exp(-f / 44_100)) * (1 + f * 75e-6))
    assert 20 * math.log10(bare[1] / bare[0]) > 1.5


def test_surface_noise_is_mostly_bass() -> None:
    # By another road: what the docstring says of the curve's square, 0 Hz to half of 44.1 kHz.
    curve = np.abs(replay_response(np.arange(0.5, 22_050))) ** 2
    share = np.cumsum(curve) / curve.sum()
    assert share[[19, 99]] == pytest.approx([0.18, 0.52], abs=0.005)


def test_rumble_follows_its_band() -> None:
    f, power = density(Rumble(44_100, 1.0).block(LONG * 44_100), 44_100)
    # Published: Butterworth's own formula for a band, 1/(1 + ((f² - f0²)/(f·width))^2n), n = 2.
    low, high = 10.0, 100.0
    even = np.arange(0.05, 2000.0, 0.1)
    curve = 1 / (1 + ((even**2 - low * high) / (even * (high - low))) ** 4)
    curve *= 0.5 / (curve.sum() * 0.1)
    for centre in 1000.0 * 2.0 ** (np.arange(-21, -2) / 3):
        # 0.5 dB is what chance leaves in the narrowest band, and wanted of the noise above.
        assert third_octave(f, power, centre) == pytest.approx(third_octave(even, curve, centre), abs=0.5), centre


def test_walls_are_independent_in_noise_and_alike_in_rumble() -> None:
    noise = SurfaceNoise(44_100, 1.0).block(60 * 44_100)
    # By hand: chance leaves 1/√(60 s · some 200 Hz) of correlation between two that have none.
    assert abs(np.corrcoef(noise.T)[0, 1]) < 0.03
    rumble = Rumble(44_100, 1.0).block(44_100)
    np.testing.assert_array_equal(rumble[:, 0], rumble[:, 1])


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=25, deadline=None)
@given(sizes=st.lists(st.integers(0, 700), max_size=8))
def test_blocks_make_no_difference(kind: type[SurfaceNoise] | type[Rumble], sizes: list[int]) -> None:
    whole = kind(44_100, 0.5).block(sum(sizes))
    source = kind(44_100, 0.5)
    parts = [source.block(size) for size in sizes]
    np.testing.assert_array_equal(np.concatenate([np.zeros((0, 2)), *parts]), whole)


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_every_time_and_another_with_another_seed(kind: type[SurfaceNoise] | type[Rumble]) -> None:
    first, again, other = (kind(48_000, 0.1, *seed).block(500) for seed in ((), (), (77,)))
    np.testing.assert_array_equal(first, again)
    assert np.abs(first - other).max() > 0.001
