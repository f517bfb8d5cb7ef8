"""Steady tones: frequency, level, harmonics, distortion and noise against Fourier series and planted noise."""

from __future__ import annotations

import math

import numpy as np
import pytest

from discwright.programme.chain_tones import LineSpectrum, ToneReading, read_tone

RATE = 96_000
TIME = np.arange(round(1.7 * RATE)) / RATE


def read(sound: np.ndarray, rate: float = RATE, near: float | None = None) -> ToneReading:
    found = read_tone(sound, rate, near)
    assert found is not None
    return found


def series(frequency: float, weights: dict[int, float], time: np.ndarray = TIME) -> np.ndarray:
    return 0.4 * sum(weight * np.sin(2 * np.pi * n * frequency * time) for n, weight in weights.items())


def square(last: int) -> dict[int, float]:
    return {n: 1.0 / n for n in range(1, last + 1, 2)}


def triangle(last: int) -> dict[int, float]:
    return {n: (-1.0) ** ((n - 1) // 2) / n**2 for n in range(1, last + 1, 2)}


def sawtooth(last: int) -> dict[int, float]:
    return {n: 1.0 / n for n in range(1, last + 1)}


@pytest.mark.parametrize(
    ("weights", "percent"),
    [
        # by hand, the Fourier series up to the tenth: √(1/9 + 1/25 + 1/49 + 1/81); √(1/81 + 1/625 + 1/2401 + 1/6561);
        # √Σ 1/n², n = 2 to 10
        (square(99), 42.8795),
        (triangle(99), 12.0477),
        (sawtooth(99), 74.1463),
        # published (reference of distortion definitions): second harmonic 3 %, third 1 %
        ({1: 1.0, 2: 0.03, 3: 0.01}, 3.16228),
    ],
)
@pytest.mark.parametrize("frequency", [31.5, 440.37])
def test_distortion_is_taken_to_the_tenth_harmonic(weights: dict[int, float], percent: float, frequency: float) -> None:
    found = read(series(frequency, weights))
    assert 100.0 * found.thd == pytest.approx(percent, abs=2e-4)
    assert len(found.harmonics) == 9
    assert found.harmonics == pytest.approx([abs(weights.get(n, 0.0)) for n in range(2, 11)], abs=1e-7)


@pytest.mark.parametrize(
    ("weights", "whole", "beyond"),
    [
        # published: THD of the whole series; above 20 kHz of a tone of 100 Hz lies Σ 1/n² over n > 200 (by hand):
        # odd ones 1/400, all 1/200.5, of the triangle nothing
        (square, 48.343, 1.0 / 400.0),
        (triangle, 12.115, 0.0),
        (sawtooth, 80.308, 1.0 / 200.5),
    ],
)
def test_distortion_and_noise_takes_all_up_to_20_khz(weights: object, whole: float, beyond: float) -> None:
    found = read(series(100.0, weights(479)))  # type: ignore[operator]
    assert 100.0 * found.thdn == pytest.approx(100.0 * math.sqrt((whole / 100.0) ** 2 - beyond), abs=0.003)


@pytest.mark.parametrize("frequency", [20.0, 20.0037, 31.5, 997.123456, 7000.3, 19_999.7])
def test_frequency_level_and_phase_are_exact(frequency: float) -> None:
    """by hand: within a hundred-thousandth of a ppm, between the bins as on them."""
    found = read(0.1 * np.cos(2 * np.pi * frequency * TIME + 0.3))
    assert found.frequency == pytest.approx(frequency, rel=1e-11)
    assert found.level_dbfs == pytest.approx(-20.0, abs=1e-9)
    assert found.phase == pytest.approx(0.3, abs=1e-8)
    assert found.thd < 1e-8
    assert found.thdn < 1e-7


def test_a_tone_in_noise_is_still_good_to_a_tenth_of_a_ppm() -> None:
    noise = np.random.default_rng(1).standard_normal(len(TIME))
    found = read(0.1 * np.sin(2 * np.pi * 1000.3 * TIME) + 1e-4 * noise)
    assert found.frequency == pytest.approx(1000.3, rel=1e-7)


def test_noise_reads_as_its_own_share_of_the_band() -> None:
    """by hand: rms of white noise from 20 Hz to 20 kHz is √(19980/48000) of the whole."""
    noise = np.random.default_rng(2).standard_normal(len(TIME))
    found = read(0.1 * np.sin(2 * np.pi * 1000.3 * TIME) + 1e-4 * noise)
    assert found.thdn == pytest.approx(1e-4 * math.sqrt(19_980 / 48_000) / (0.1 / math.sqrt(2.0)), rel=0.02)
    # Nine lines of noise alone, and what they make.
    assert found.thd == pytest.approx(found.floor, rel=0.8)
    assert found.floor < found.thdn / 20.0


def test_the_dither_of_16_bits_is_the_floor() -> None:
    """by hand: triangular dither and rounding make √(1/4) of a step, here over 24 kHz; 20 Hz to 20 kHz of it."""
    rate, chance = 48_000, np.random.default_rng(3)
    time = np.arange(round(1.7 * rate)) / rate
    steps = 32_768 * 0.1 * np.sin(2 * np.pi * 997.0 * time) + chance.random(len(time)) - chance.random(len(time))
    found = read(np.round(steps) / 32_768, rate)
    assert found.thdn == pytest.approx(0.5 / 32_768 * math.sqrt(19_980 / 24_000) / (0.1 / math.sqrt(2.0)), rel=0.02)
    assert found.thd < 3.0 * found.floor < 1e-4


def test_only_harmonics_below_half_the_rate_are_counted() -> None:
    rate = 44_100
    time = np.arange(rate) / rate
    for frequency, count in ((2000.0, 9), (2300.0, 8), (10_000.0, 1), (11_100.0, 0), (20_000.0, 0)):
        assert len(read(0.1 * np.sin(2 * np.pi * frequency * time), rate).harmonics) == count


def test_the_tone_that_is_asked_for_is_read_and_not_the_strongest() -> None:
    sound = 0.5 * np.sin(2 * np.pi * 50.0 * TIME) + 0.01 * np.sin(2 * np.pi * 1001.0 * TIME)
    assert read(sound).frequency == pytest.approx(50.0)
    found = read(sound, near=1000.0)
    assert (found.frequency, found.amplitude) == (pytest.approx(1001.0), pytest.approx(0.01, rel=1e-6))


def test_what_is_no_multiple_is_told_apart() -> None:
    sound = 0.4 * np.sin(2 * np.pi * 60.0 * TIME) + 0.1 * np.sin(2 * np.pi * 7000.0 * TIME)
    found = read(sound)
    assert (found.stray, found.second) == (pytest.approx(0.25), pytest.approx((7000.0, 0.25)))
    assert read(series(100.0, square(99))).stray < 1e-6


def test_too_few_periods_and_nothing_at_all_are_none() -> None:
    assert read_tone(np.sin(2 * np.pi * 20.0 * TIME[: RATE // 4]), RATE) is None
    assert read_tone(np.zeros(RATE), RATE) is None


def test_a_line_taken_out_leaves_nothing() -> None:
    spectrum = LineSpectrum(0.3 * np.cos(2 * np.pi * 333.3 * TIME + 1.0), RATE)
    place = spectrum.place(333.3)
    left = spectrum.power(spectrum.without(place, spectrum.line(place))).sum()
    assert left < 1e-16 * spectrum.power(spectrum.bins).sum()
