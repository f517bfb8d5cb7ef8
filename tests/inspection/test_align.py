"""A capture laid upon the programme: known maps come back to microseconds, and each wrong where it belongs."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from invented import RATE, TURN_S, held, lay, piece, play, rough, spiral
from numpy.typing import NDArray
from scipy import signal
from spoiler import Jump, Spoiled

from discwright.inspection.align import Alignment, align, expected_capture, linear_delay
from discwright.inspection.frames import Pair
from discwright.inspection.speed import off_centre

Floats = NDArray[np.float64]
SECONDS = 12.0
#: The promise: where the music tells, and elsewhere.
CLOSE_S, ELSEWHERE_S = 3e-6, 1e-4


@pytest.fixture(scope="module")
def music() -> Floats:
    return piece(SECONDS, seed=5)


def laid(programme: Floats, **wrongs: Any) -> tuple[Alignment, Spoiled]:
    disc = play(programme, **wrongs)
    return lay(programme, disc.audio)[1], disc


def errors(found: Alignment, disc: Spoiled) -> tuple[Floats, Floats]:
    """Times of the programme, and how much later the map has them than they are, s."""
    time = np.arange(0.0, SECONDS, 0.01)
    return time, found.map.at(time) - disc.truth.capture_time(time)


WRONGS: dict[str, dict[str, Any]] = {
    "speed": {"speed_error_percent": 0.5, "start_s": 2.345_678, "after_s": 1.0},
    "hole": {"off_centre_mm": 0.5, "off_centre_angle_deg": 250.0},
    "saddle": {"warp_mm": 1.5, "warp_waves": 2},
    "tilted": {"warp_mm": 1.5, "warp_waves": 1, "warp_angle_deg": 70.0},
    "gain": {"gain_db": -12.0, "balance_db": 2.0},
    "all, quiet": {"speed_error_percent": -0.5, "off_centre_mm": 0.5, "warp_mm": 1.5, "crosstalk_db": -25.0},
    "all, noisy": {"speed_error_percent": 0.5, "off_centre_mm": 0.5, "warp_mm": 1.5, "noise_dbfs": -45.0},
}


@pytest.mark.parametrize("name", WRONGS)
def test_the_map_comes_back(music: Floats, name: str) -> None:
    found, disc = laid(music, **{"noise_dbfs": -60.0, **WRONGS[name]})
    _, off = errors(found, disc)
    assert np.abs(off).max() < CLOSE_S  # the spoiler's own map
    assert np.std(off) < 1e-6
    inside = (found.map.time > 0) & (found.map.time < SECONDS)
    assert 0.1 < np.std(off) / np.sqrt(np.mean(found.map.doubt[inside] ** 2)) < 10.0
    radius = spiral(found.swings.time)
    size, angle = off_centre(found.swings, radius, (0.0, SECONDS), TURN_S)
    assert 1e3 * size == pytest.approx(disc.truth.eccentricity_mm, abs=0.01)
    if disc.truth.eccentricity_mm > 0.1:
        turned = math.degrees(angle) - disc.truth.eccentricity_angle_deg
        assert (turned + 180) % 360 - 180 == pytest.approx(0.0, abs=1.0)


def test_a_perfect_copy_is_laid_perfectly(music: Floats) -> None:
    found, disc = laid(music)
    assert np.abs(errors(found, disc)[1]).max() < 1e-8
    assert np.isfinite(found.map.doubt).all()
    assert np.abs(found.transfer.mean()[40:1500] - np.eye(2)).max() < 1e-3


def test_silence_is_gone_through(music: Floats) -> None:
    quiet = music.copy()
    quiet[5 * RATE : 8 * RATE] = 0.0
    found, disc = laid(quiet, noise_dbfs=-60.0, speed_error_percent=0.5, off_centre_mm=0.5, warp_mm=1.5)
    time, off = errors(found, disc)
    inside = (time > 5.0) & (time < 8.0)
    assert np.abs(off[inside]).max() < ELSEWHERE_S
    assert np.abs(off[~inside]).max() < CLOSE_S
    doubt = np.interp(time, found.map.time, found.map.doubt)
    assert doubt[inside].max() > 3 * np.median(doubt[~inside])


@pytest.mark.parametrize("percent", [0.1, 0.05])
def test_flutter_is_followed(music: Floats, percent: float) -> None:
    found, disc = laid(music, noise_dbfs=-60.0, flutter_percent=percent, flutter_hz=8.0)
    off = errors(found, disc)[1][5:]  # the piece begins with 50 ms of next to nothing
    # By hand: the flutter itself is 20 (10) µs to either side; not promised to 3 µs, yet kept nearly everywhere.
    assert np.quantile(np.abs(off), 0.99) < CLOSE_S
    assert np.abs(off).max() < 5e-6


def test_where_the_start_is_when_the_sound_itself_is_late(music: Floats) -> None:
    """A response has a phase, and no map can tell a delay all frequencies share from the disc's turning.

    The map takes the straight part of the phase between 300 Hz and 8 kHz, the response keeps the rest.
    """
    found, disc = laid(music, noise_dbfs=-60.0, tilt_db_per_decade=-3.0)
    _, off = errors(found, disc)
    frequency = np.arange(300.0, 8000.0, 10.0)
    late = disc.truth.late(frequency)
    phase = 2 * np.pi * frequency * late
    # By hand: least squares of a straight phase, each octave alike.
    expected = np.sum(phase * 2 * np.pi) / np.sum((2 * np.pi) ** 2 * frequency)
    assert np.median(off) == pytest.approx(expected, abs=5e-7)
    assert np.abs(off - np.median(off)).max() < CLOSE_S
    even, flat = laid(music, noise_dbfs=-60.0, tilt_db_per_decade=-3.0, tilt_phase="zero")
    assert np.abs(errors(even, flat)[1]).max() < CLOSE_S


def test_a_skip_costs_the_rest_nothing() -> None:
    found, disc = laid(piece(20.0, seed=5), noise_dbfs=-60.0, jumps=(Jump(9.0, 1),), speed_error_percent=0.3)
    time = np.arange(0.0, 20.0, 0.01)
    off = found.map.at(time) - disc.truth.capture_time(time)
    there = (time < 8.8) | (time > 10.9)
    assert np.abs(off[there]).max() < 1e-5
    first, last = found.map.stretches
    assert first.end == pytest.approx(9.0, abs=0.1)
    assert last.offset - first.offset == pytest.approx(-TURN_S / 1.003, abs=1e-3)  # by hand: one turn


@pytest.mark.parametrize("turned", [(-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0)])
def test_polarity_turned_round_is_laid_too(music: Floats, turned: tuple[float, float]) -> None:
    disc = play(music, noise_dbfs=-60.0)
    _, found = lay(music, disc.audio * np.array(turned, dtype=np.float32))
    assert np.abs(errors(found, disc)[1]).max() < CLOSE_S
    gain = found.transfer.mean()[60:400, [0, 1], [0, 1]].real.mean(axis=0)
    assert gain == pytest.approx(turned, abs=0.01)  # by hand


def test_noise_is_told_bin_by_bin(music: Floats) -> None:
    found, _ = laid(music, noise_dbfs=-50.0)
    size = 2 * (len(found.noise) - 1)
    # By hand: a Hann window leaves 0.375 of white noise's power in each bin, times the window's length.
    expected = 10 ** (-50.0 / 10) * 0.375 * size
    inside = slice(200, 1500)
    assert np.median(found.noise[inside]) == pytest.approx(expected, rel=0.1)
    assert np.median(found.quiet[inside]) == pytest.approx(expected, rel=0.1)


def test_progress_is_told_in_order(music: Floats) -> None:
    told: list[tuple[str, float]] = []
    pair = Pair(held(music), held(music))
    align(pair, rough(pair.programme, pair.capture), TURN_S, lambda step, done: told.append((step, done)))  # type: ignore[arg-type]
    assert list(dict.fromkeys(step for step, _ in told)) == ["finding the time", "laying capture upon programme"]
    for step in {step for step, _ in told}:
        fractions = [done for name, done in told if name == step]
        assert fractions == sorted(fractions)
        assert all(0.0 <= done <= 1.01 for done in fractions)


def test_expectation_is_the_programme_through_the_sound(music: Floats) -> None:
    pair, found = lay(music, play(music, gain_db=-6.0, crosstalk_db=-20.0).audio)
    size = 2 * (found.transfer.gain.shape[1] - 1)
    for batch in pair.each(found.map, size, size, lambda one: one):
        left = expected_capture(batch, found.transfer) - batch.capture
        loud = np.abs(batch.capture) ** 2
        assert np.sum(np.abs(left) ** 2) < 1e-5 * np.sum(loud) + 1e-6


@pytest.mark.parametrize("delay", [0.0, 3e-5, -9e-5])
@pytest.mark.parametrize("turned", [1.0, -1.0])
def test_the_delay_in_a_response(delay: float, turned: float) -> None:
    frequency = np.arange(300.0, 8000.0, 10.77)
    response = turned * np.exp(-2j * np.pi * frequency * delay)
    assert linear_delay(frequency, response) == pytest.approx(delay, abs=1e-9)  # by hand


def test_the_delay_of_a_filter_is_between_its_own_delays() -> None:
    frequency = np.arange(300.0, 8000.0, 10.77)
    b, a = signal.butter(2, 9000.0, fs=RATE)
    _, response = signal.freqz(b, a, worN=frequency, fs=RATE)
    late = -np.unwrap(np.angle(response)) / (2 * np.pi * frequency)
    assert late.min() < linear_delay(frequency, response) < late.max()
