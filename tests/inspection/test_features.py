"""What a recording sounds like, coarsely: where a frame lies, what changes it and what does not."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from invented import RATE, held, piece
from numpy.typing import NDArray
from scipy import signal

from discwright.inspection import features as features_module
from discwright.inspection.features import BANDS, features
from discwright.inspection.features import RATE as FRAMES

Single = NDArray[np.float32]


@pytest.fixture(scope="module")
def music() -> NDArray[np.float64]:
    return piece(12.0)


def alike(a: Single, b: Single) -> float:
    return float(np.sum(a * b) / np.sqrt(np.sum(a * a) * np.sum(b * b)))


@pytest.mark.parametrize("rate", [44_100, 48_000, 32_000])
def test_a_frame_is_centred_on_its_time(rate: int) -> None:
    clicks = np.zeros((6 * rate, 2))
    clicks[[2 * rate, round(4.5 * rate)]] = 0.5
    _, level = features(held(clicks, rate))
    assert len(level) == 6 * FRAMES
    # By hand: a frame is 1.25 steps long or longer: a click is heard in the frame at its place and at most one beside.
    assert set(np.flatnonzero(level > 0)) <= {k + d for k in (2 * FRAMES, round(4.5 * FRAMES)) for d in (-1, 0, 1)}
    assert level[2 * FRAMES] > 0


def test_level_is_the_mean_square_of_both_channels() -> None:
    t = np.arange(3 * RATE) / RATE
    tone = np.stack([np.sin(2 * np.pi * 440 * t), np.zeros(len(t))], axis=1)
    _, level = features(held(tone))
    assert level[FRAMES : 2 * FRAMES] == pytest.approx(0.25, rel=0.05)  # by hand: half of one half


def test_each_band_hears_its_own_part_of_the_spectrum() -> None:
    t = np.arange(6 * RATE) / RATE
    for k, (low, high) in enumerate(pairwise(BANDS)):
        burst = np.sin(2 * np.pi * np.sqrt(low * high) * t) * (np.abs(t - 3.0) < 0.2)
        shape, _ = features(held(np.stack([burst, burst], axis=1)))
        assert int(np.argmax(shape[3 * FRAMES])) == k


def test_another_playing_is_alike_and_another_passage_is_not(music: NDArray[np.float64]) -> None:
    own, _ = features(held(music))
    rng = np.random.default_rng(1)
    b, a = signal.butter(1, 3000, fs=RATE)
    played = 0.2 * signal.lfilter(b, a, music, axis=0)[:, ::-1] + 1e-3 * rng.standard_normal(music.shape)
    heard, _ = features(held(played))
    assert alike(own, heard) > 0.8
    assert abs(alike(own[: 5 * FRAMES], heard[6 * FRAMES : 11 * FRAMES])) < 0.3


def test_blocks_leave_no_seam(music: NDArray[np.float64], monkeypatch: pytest.MonkeyPatch) -> None:
    whole, level = features(held(music))
    monkeypatch.setattr(features_module, "_BLOCK", 20_000)
    blocks, other = features(held(music))
    assert blocks == pytest.approx(whole, abs=1e-4)
    assert other == pytest.approx(level, rel=1e-6)


def test_silence_and_a_moment_are_described_too() -> None:
    shape, level = features(held(np.zeros((RATE, 2))))
    assert not shape.any()
    assert not level.any()
    assert len(features(held(np.zeros((10, 2))))[0]) == 1
