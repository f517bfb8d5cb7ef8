"""Speed, wow, flutter and the hole, from maps of time drawn by hand: no audio, no spoiler."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from discwright.inspection.jumps import Stretch
from discwright.inspection.speed import off_centre, turning, weighted_two_sigma, weighting_db
from discwright.inspection.timemap import STEP, Swings, TimeMap

Float = NDArray[np.float64]

TURN_S = 1.8
#: Published: AES6-2008, the same as IEC 60386; Hz and dB.
PUBLISHED = {
    0.1: -48.0, 0.2: -30.6, 0.315: -19.7, 0.4: -15.0, 0.63: -8.4, 0.8: -6.0, 1.0: -4.2, 1.6: -1.8, 2.0: -0.9, 4.0: 0.0,
    6.3: -0.9, 10.0: -2.1, 20.0: -5.9, 40.0: -10.4, 63.0: -14.2, 100.0: -17.3, 200.0: -23.0,
}  # fmt: skip
#: By hand: a sine stays within sin(0.9545·90°) of its peak for 95.45 % of the time.
TWO_SIGMA_OF_A_SINE = math.sin(0.9545 * math.pi / 2)


def swings_of(time: Float, once: tuple[Float, Float]) -> Swings:
    none = np.zeros((len(time), 2))
    return Swings(time, np.stack(once, axis=1), none, np.zeros(len(time)), 0.0)


def map_of(late: Float, seconds: float, speed: float = 1.0, start: float = 2.0, doubt: float = 1e-7) -> TimeMap:
    time = np.arange(-2.0, seconds + 2.0, STEP)
    return TimeMap(time, start + (time + late) / speed, np.full(len(time), doubt), (Stretch(0.0, seconds, 0.0),))


def grid(seconds: float) -> Float:
    return np.arange(-2.0, seconds + 2.0, STEP)


@pytest.mark.parametrize("frequency", PUBLISHED)
def test_the_weighting_is_the_published_table(frequency: float) -> None:
    assert float(weighting_db(frequency)) == pytest.approx(PUBLISHED[frequency], abs=1e-9)


@pytest.mark.parametrize(
    ("frequency", "db", "times"), [(0.5556, -10.2, 0.308), (0.75, -6.6, 0.465), (1.304, -2.8, 0.721)]
)
def test_between_the_points_it_is_straight_over_log_frequency(frequency: float, db: float, times: float) -> None:
    # By hand, worked for the speeds of discs from the published table.
    assert float(weighting_db(frequency)) == pytest.approx(db, abs=0.05)
    assert 10 ** (float(weighting_db(frequency)) / 20) == pytest.approx(times, abs=0.0006)


def test_beyond_the_table_it_goes_on_as_steep() -> None:
    # By hand: 17.4 dB an octave below 0.2 Hz, 5.7 dB above 100 Hz.
    assert float(weighting_db(0.05)) == pytest.approx(-48.0 - 17.4, abs=1e-9)
    assert float(weighting_db(400.0)) == pytest.approx(-23.0 - 5.7, abs=1e-9)
    assert float(weighting_db(0.0)) < -300.0


def test_two_sigma_of_a_sine_is_its_weighted_peak_but_for_a_hair() -> None:
    # By hand: 0.332 % at 0.5556 Hz, weighted by 0.308, stays within 0.9974 of 0.1023 % for 95.45 % of the time.
    rate, seconds = 100.0, 90.0
    deviation = 0.00332 * np.sin(2 * np.pi * np.arange(round(rate * seconds)) / rate / TURN_S)
    assert pytest.approx(0.99745, abs=1e-5) == TWO_SIGMA_OF_A_SINE
    assert 100 * weighted_two_sigma(deviation, rate) == pytest.approx(0.102, abs=0.0006)
    weight = 10 ** (float(weighting_db(1 / TURN_S)) / 20)
    assert weighted_two_sigma(deviation, rate) == pytest.approx(0.00332 * weight * TWO_SIGMA_OF_A_SINE, rel=0.004)


@pytest.mark.parametrize("frequency", [0.8, 2.0, 4.0, 10.0, 20.0])
def test_a_steady_flutter_reads_its_weighted_peak(frequency: float) -> None:
    rate = 100.0
    # A thousandth beside it, so that samples do not always meet the same places of the wave.
    deviation = 1e-3 * np.sin(2 * np.pi * 1.001 * frequency * np.arange(6000) / rate)
    expected = 1e-3 * 10 ** (PUBLISHED[frequency] / 20) * TWO_SIGMA_OF_A_SINE
    assert weighted_two_sigma(deviation, rate) == pytest.approx(expected, rel=0.01)  # by hand


def test_random_flutter_reads_twice_its_standard_deviation() -> None:
    # By hand: 95.45 % of a normal variable lies within two standard deviations; a narrow band around 4 Hz weighs 1.
    rate, n = 100.0, 60_000
    spectrum = np.fft.rfft(np.random.default_rng(3).standard_normal(n))
    frequency = np.fft.rfftfreq(n, 1 / rate)
    noise = np.fft.irfft(spectrum * (np.abs(frequency - 4.0) < 0.5), n)
    noise *= 1e-3 / np.std(noise)
    assert weighted_two_sigma(noise, rate) == pytest.approx(2e-3, rel=0.06)


def test_an_even_drift_of_speed_is_no_flutter() -> None:
    assert weighted_two_sigma(np.linspace(-1e-3, 1e-3, 12_000), 100.0) < 2e-5


@pytest.mark.parametrize(("radius", "percent"), [(0.1463, 0.137), (0.0603, 0.332)])
def test_a_hole_off_centre_is_the_published_wow(radius: float, percent: float) -> None:
    # Published: e/r peak for 0.2 mm; the place is late by T/2π·atan2(e·sin(φ-a), r + e·cos(φ-a)).
    seconds, off, direction = 60.0, 0.2e-3, math.radians(75.0)
    angle = 2 * np.pi * grid(seconds) / TURN_S
    late = TURN_S / (2 * np.pi) * np.arctan2(off * np.sin(direction - angle), radius + off * np.cos(direction - angle))
    scale = TURN_S / (2 * np.pi) * off / radius
    time = np.arange(0.0, seconds, 0.05)
    swings = swings_of(
        time, (np.full(len(time), scale * math.sin(direction)), np.full(len(time), -scale * math.cos(direction)))
    )  # fmt: skip
    found = turning(map_of(late, seconds), swings, np.full(len(time), radius), (0.0, seconds), TURN_S)
    assert 100 * found.wow_peak == pytest.approx(percent, abs=0.002)
    assert found.wow_flutter_weighted is not None
    assert 100 * found.wow_flutter_weighted == pytest.approx(0.308 * percent * TWO_SIGMA_OF_A_SINE, rel=0.01)
    assert found.eccentricity == pytest.approx(off, abs=1e-9)
    assert math.degrees(found.eccentricity_angle) == pytest.approx(75.0, abs=1e-6)
    assert found.speed_error == pytest.approx(0.0, abs=5e-6)


@pytest.mark.parametrize("degrees", [0.0, 90.0, 180.0, 271.0])
def test_the_hole_s_size_and_direction_from_a_swing_on_a_spiral(degrees: float) -> None:
    # By hand: the swing's amplitude grows inward as 1/r, its phase stays.
    time = np.linspace(0.0, 600.0, 2000)
    radius = np.linspace(0.146, 0.062, 2000)
    amplitude, direction = TURN_S / (2 * np.pi) * 0.31e-3 / radius, math.radians(degrees)
    swings = swings_of(time, (amplitude * math.sin(direction), -amplitude * math.cos(direction)))
    size, angle = off_centre(swings, radius, (0.0, 600.0), TURN_S)
    assert size == pytest.approx(0.31e-3, abs=1e-9)
    assert (math.degrees(angle) - degrees + 180) % 360 - 180 == pytest.approx(0.0, abs=1e-6)


def test_only_what_the_capture_holds_counts() -> None:
    time = np.linspace(0.0, 100.0, 500)
    radius = np.full(500, 0.1)
    wild = np.where(time < 50.0, 0.0, 1.0)
    size, _ = off_centre(swings_of(time, (wild, wild)), radius, (0.0, 49.0), TURN_S)
    assert size == 0.0
    assert off_centre(swings_of(time, (wild, wild)), radius, (200.0, 300.0), TURN_S) == (0.0, 0.0)


@pytest.mark.parametrize("percent", [0.5, -0.5, 3.0])
def test_speed_is_positive_where_it_plays_fast(percent: float) -> None:
    speed = 1 + percent / 100
    found = turning(
        map_of(np.zeros(len(grid(30.0))), 30.0, speed), swings_of(np.array([1.0]), (np.zeros(1), np.zeros(1))),
        np.array([0.1]), (0.0, 30.0), TURN_S,
    )  # fmt: skip
    assert 100 * found.speed_error == pytest.approx(percent, abs=1e-9)  # by hand
    assert found.start == pytest.approx(2.0, abs=1e-9)
    assert found.wow_peak == pytest.approx(0.0, abs=1e-9)


def test_flutter_is_no_wow_and_wow_is_told_whole() -> None:
    # By hand: 2 Hz is wow, 20 Hz is not; peak of a deviation d at f Hz from a delay of d/2πf.
    for frequency, expected in ((2.0, 1e-3), (20.0, 0.0)):
        late = -1e-3 / (2 * np.pi * frequency) * np.sin(2 * np.pi * frequency * grid(20.0))
        found = turning(
            map_of(late, 20.0), swings_of(np.array([1.0]), (np.zeros(1), np.zeros(1))), np.array([0.1]), (0.0, 20.0),
            TURN_S,
        )  # fmt: skip
        assert found.wow_peak == pytest.approx(expected, abs=2e-5)


def test_wow_is_not_read_where_the_map_is_guessed() -> None:
    seconds = 20.0
    time = grid(seconds)
    late = np.where((time > 8.0) & (time < 9.0), 0.01 * np.sin(2 * np.pi * time), 0.0)
    laid = map_of(late, seconds)
    laid.doubt[(time > 7.5) & (time < 9.5)] = 1e-3
    still = swings_of(np.array([1.0]), (np.zeros(1), np.zeros(1)))
    assert turning(laid, still, np.array([0.1]), (0.0, seconds), TURN_S).wow_peak < 2e-3


def test_less_than_five_seconds_tell_no_weighted_value() -> None:
    still = swings_of(np.array([1.0]), (np.zeros(1), np.zeros(1)))
    for seconds, told in ((4.9, False), (6.0, True)):
        found = turning(map_of(np.zeros(len(grid(10.0))), 10.0), still, np.array([0.1]), (0.0, seconds), TURN_S)
        assert (found.wow_flutter_weighted is not None) is told
