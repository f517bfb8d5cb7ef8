"""A capture at a glance: level, strongest frequency, how steady it is."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from discwright.programme.chain_frames import HOP_S, read_frames

sys.path.insert(0, str(Path(__file__).parent))
from chain_captures import RATE, both, noise, reader, tone


def test_a_tone_is_seen_at_its_frequency_and_level() -> None:
    sound = both(tone(1234.5, 2.0, 0.1)) * (1.0, 0.5)
    frames = read_frames(reader(sound)(), RATE)
    assert len(frames.frequency) == 19
    assert frames.length == pytest.approx(2.0)
    assert frames.frequency == pytest.approx(1234.5, abs=0.01)
    assert frames.level[5] == pytest.approx((0.1, 0.05), rel=1e-3)
    assert frames.share.min() > 0.999
    assert frames.sharp.min() > 0.999
    assert not frames.silent


def test_the_louder_channel_speaks() -> None:
    sound = np.stack([tone(300.0, 1.0, 0.01), tone(5000.0, 1.0, 0.1)], axis=1)
    assert read_frames(reader(sound)(), RATE).frequency == pytest.approx(5000.0, abs=0.1)


def test_noise_is_neither_one_frequency_nor_sharp() -> None:
    frames = read_frames(reader(noise(3.0, 0.1))(), RATE)
    assert np.median(frames.share) < 0.3
    assert np.median(frames.sharp) < 0.3


@pytest.mark.parametrize("size", [1000, 4410, 100_000])
def test_frames_do_not_depend_on_the_blocks(size: int) -> None:
    sound = both(np.concatenate([tone(440.0, 0.7), tone(880.0, 0.9)])).astype(np.float32)
    wanted = read_frames(reader(sound)(), RATE)
    found = read_frames((sound[at : at + size] for at in range(0, len(sound), size)), RATE)
    assert found.frequency == pytest.approx(wanted.frequency)
    assert found.level == pytest.approx(wanted.level)


def test_runs_at_full_scale_are_counted_by_channel() -> None:
    sound = np.zeros((RATE, 2))
    sound[100:103, 0] = 1.0
    sound[200:202, 0] = 1.0
    sound[300:310, 1] = -1.0
    assert read_frames(reader(sound)(), RATE).full_scale == (1, 1)


def test_silence_and_nothing() -> None:
    assert read_frames(reader(np.zeros((RATE, 2)))(), RATE).silent
    short = read_frames(reader(both(tone(1000.0, HOP_S)))(), RATE)
    assert (len(short.frequency), short.silent) == (0, False)
