"""Chirps: where the signals begin between two samples, how fast they run, which way up."""

from __future__ import annotations

import numpy as np
import pytest

from discwright.programme.chain_place import AROUND_S, Chirp, find_chirp, place_of
from discwright.programme.chain_report import Tone
from discwright.programme.chain_signals import chirp_at, pieces
from discwright.programme.chain_tones import ToneReading

RATE = 48_000
PIECE = pieces()[0]


def heard(late: float, speed: float = 0.0, noise: float = 0.0) -> np.ndarray:
    """A chirp that comes `late` seconds after where it is expected."""
    time = np.arange(round((AROUND_S * 2 + 0.5) * RATE)) / RATE
    sound = chirp_at((time - AROUND_S - late) * (1.0 + speed))
    return sound + np.random.default_rng(1).standard_normal(len(sound)) * noise


def played(frequency: float, nominal: float) -> Tone:
    reading = ToneReading(frequency, 0.1, 0.0, (), 0.0, 0.0, 0.0, 0.0, (0.0, 0.0))
    return Tone(0.0, 1.0, nominal, -20.0, "both", reading, None)


@pytest.mark.parametrize("late", [0.0, 0.1, -0.05 + 0.37 / RATE, 0.5 / RATE])
@pytest.mark.parametrize("speed", [0.0, -0.03])
def test_a_chirp_is_found_between_samples(late: float, speed: float) -> None:
    found = find_chirp(PIECE, heard(late, speed), 10.0, RATE, speed)
    assert found is not None
    assert found.at == pytest.approx(10.0 + AROUND_S + late, abs=0.03 / RATE)
    assert found.polarity == 1
    assert found.agrees > 0.98, "half a sample off, 6 kHz stands 22° out of step"


def test_a_chirp_upside_down_and_in_noise() -> None:
    found = find_chirp(PIECE, -heard(0.0, noise=0.03), 0.0, RATE, 0.0)
    assert found is not None
    assert (found.polarity, found.at) == (-1, pytest.approx(AROUND_S, abs=0.5 / RATE))


def test_noise_and_silence_are_no_chirp() -> None:
    assert find_chirp(PIECE, np.random.default_rng(2).standard_normal(RATE), 0.0, RATE, 0.0) is None
    assert find_chirp(PIECE, np.zeros(RATE), 0.0, RATE, 0.0) is None
    assert find_chirp(PIECE, heard(0.0)[: RATE // 4], 0.0, RATE, 0.0) is None


def test_two_chirps_give_begin_and_speed() -> None:
    """by hand: 1 s and 201 s of the signals come at 4 s and 203.98 s, so 200 s take 199.98."""
    chirps = [Chirp(1.0, 4.0, 1.0, 1), Chirp(201.0, 203.98, 1.0, 1)]
    start, speed = place_of(chirps, [], 1e-4)
    assert start == pytest.approx(4.0 - 199.98 / 200.0)
    assert speed == pytest.approx(200.0 / 199.98 - 1.0)


def test_a_chirp_out_of_line_is_left_out() -> None:
    chirps = [Chirp(float(t), t + 3.0, 1.0, 1) for t in (1, 64, 127)] + [Chirp(200.0, 170.0, 0.9, 1)]
    assert place_of(chirps, [], 0.0) == (pytest.approx(3.0), pytest.approx(0.0))


def test_one_chirp_takes_the_speed_from_the_tones() -> None:
    tones = [played(1001.0, 1000.0), played(10_010.0, 10_000.0), played(20.1, 20.0)]
    start, speed = place_of([Chirp(101.0, 100.0, 1.0, 1)], tones, 0.0)
    assert speed == pytest.approx(0.001, rel=1e-4)
    assert start == pytest.approx(100.0 - 101.0 / 1.001, abs=1e-4)
    assert place_of([], tones, 0.0)[0] is None
    assert place_of([Chirp(1.0, 2.0, 1.0, 1)], [], 0.01) == (pytest.approx(2.0 - 1.0 / 1.01), None)
