"""What plays where: steady tones, rising sines, quiet, and the signals among them."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
import soxr

from discwright.programme.chain_find import (
    Rising,
    Steady,
    covered,
    is_hum,
    match_signals,
    quiet,
    rising_sines,
    steady_tones,
)
from discwright.programme.chain_frames import Frames, read_frames
from discwright.programme.chain_signals import pieces, sweep_rate

sys.path.insert(0, str(Path(__file__).parent))
from chain_captures import RATE, both, noise, reader, stretch, tone


def seen(sound: np.ndarray) -> Frames:
    return read_frames(reader(sound)(), RATE)


def steady(start: float, end: float, frequency: float, level: float = 0.1) -> Steady:
    return Steady(start, end, frequency, level, "both")


def test_steady_tones_lie_within_what_was_played() -> None:
    sound = np.concatenate([np.zeros(RATE // 2), tone(500.0, 1.0), np.zeros(RATE // 2), tone(502.0, 0.6, 0.01)])
    found = steady_tones(seen(both(sound)))
    assert [one.frequency for one in found] == pytest.approx([500.0, 502.0], abs=0.2)
    assert 0.5 <= found[0].start < found[0].end <= 1.5
    assert 2.0 <= found[1].start < found[1].end <= 2.6
    assert [one.side for one in found] == ["both", "both"]


def test_one_channel_alone_is_told() -> None:
    sound = np.stack([tone(500.0, 1.0), 0.1 * tone(500.0, 1.0)], axis=1)
    assert steady_tones(seen(sound))[0].side == "left"
    assert steady_tones(seen(sound[:, ::-1]))[0].side == "right"
    assert steady_tones(seen(both(tone(500.0, 1.0)) * (1.0, 0.5)))[0].side == "both"


def test_a_rising_sine_is_known_by_its_rate() -> None:
    (found,) = rising_sines(seen(stretch(190.0, 212.0)))
    start = next(piece.start for piece in pieces() if piece.kind == "sweep") - 190.0
    assert found.at == pytest.approx(start + sweep_rate() * np.log(1000.0 / 5.0), abs=0.01)
    assert (found.rate, found.side) == (pytest.approx(sweep_rate(), rel=1e-3), "left")
    assert rising_sines(seen(noise(10.0, 0.1))) == []
    assert rising_sines(seen(both(tone(1000.0, 10.0)))) == []


@pytest.mark.parametrize("parts", [1.0, 1.04, 0.96])
def test_the_signals_are_found_in_a_part_of_them_at_another_speed(parts: float) -> None:
    heard = soxr.resample(stretch(66.2, 129.0), RATE * parts, RATE)
    frames = seen(heard)
    match = match_signals(steady_tones(frames), rising_sines(frames))
    assert match is not None
    assert match.speed == pytest.approx(parts - 1.0, abs=1e-4)
    assert match.starts[1] == pytest.approx(-66.2 / parts, abs=0.1)


def test_other_tones_are_no_signals() -> None:
    assert match_signals([], []) is None
    # Octaves, two seconds each, are in no pass: no three of them have a place of beginning in common.
    octaves = [steady(2.0 * k, 2.0 * k + 1.8, f) for k, f in enumerate((125.0, 250.0, 500.0, 1000.0, 2000.0))]
    assert match_signals(octaves, []) is None


def test_a_rising_sine_alone_is_taken_by_its_channel() -> None:
    left, right = (match_signals([], [Rising(20.0, sweep_rate(), side)]) for side in ("left", "right"))  # type: ignore[arg-type]
    assert left is not None
    assert right is not None
    assert left.starts[4] - right.starts[4] == pytest.approx(22.0)  # by hand: the two begin 22 s apart


def test_quiet_is_the_longest_pause_and_no_soft_tone() -> None:
    sound = np.concatenate([tone(500.0, 2.0), np.zeros(2 * RATE), tone(500.0, 2.0), tone(500.0, 4.0, 0.002)])
    frames = seen(both(sound) + noise(10.0, 1e-5))
    found = quiet(frames, steady_tones(frames))
    assert found is not None
    assert 2.0 <= found[0] < 2.2 < 3.8 < found[1] <= 4.0
    assert quiet(seen(both(tone(500.0, 3.0)))) is None


def test_hum_is_told_from_a_tone() -> None:
    assert is_hum(steady(0.0, 1.0, 50.1, 1e-4), 0.5)
    assert is_hum(steady(0.0, 1.0, 179.9, 4e-3), 0.5)
    assert not is_hum(steady(0.0, 1.0, 50.0, 0.1), 0.5), "a test tone"
    assert not is_hum(steady(0.0, 1.0, 440.0, 1e-4), 0.5)


def test_how_much_stands_still() -> None:
    frames = seen(both(np.concatenate([tone(500.0, 1.0), np.zeros(3 * RATE), tone(700.0, 1.0)])))
    assert covered(steady_tones(frames), frames) == pytest.approx(1.0, abs=0.15)
