"""Where a programme lies in a capture: found at its place and speed, wrong music refused."""

from __future__ import annotations

import numpy as np
import pytest
from invented import RATE, held, piece, play
from numpy.typing import NDArray

from discwright.inspection.coarse import LIKE, MOST_PASSAGES, PASSAGE_S, Line, find_line, passages
from discwright.inspection.features import RATE as FRAMES
from discwright.inspection.features import features

Floats = NDArray[np.float64]
SECONDS = 40.0


@pytest.fixture(scope="module")
def music() -> Floats:
    return piece(SECONDS)


def line_of(programme: Floats, audio: NDArray[np.floating], ratio: float = 1.0) -> Line:
    (own, level), (heard, _) = features(held(programme)), features(held(audio))
    return find_line(own, level, heard, ratio)


def padded(audio: NDArray[np.floating], before: float, after: float) -> Floats:
    return np.pad(audio, ((round(before * RATE), round(after * RATE)), (0, 0)))


def test_found_at_its_place(music: Floats) -> None:
    found = line_of(music, padded(music, 7.3, 5.0))
    assert found.found
    assert found.start == pytest.approx(7.3, abs=0.01)  # by hand: half a frame
    assert found.stretch == pytest.approx(1.0, abs=2e-4)
    assert found.likeness > 0.9
    assert found.agreeing >= found.asked


@pytest.mark.parametrize("percent", [0.5, -2.5])
def test_found_at_its_speed_in_noise(music: Floats, percent: float) -> None:
    disc = play(music, start_s=3.0, after_s=2.0, speed_error_percent=percent, noise_dbfs=-45.0, gain_db=-12.0)
    found = line_of(music, disc.audio)
    assert found.found
    assert found.stretch == pytest.approx(1 / (1 + percent / 100), abs=6e-4)  # by hand: a frame of 20 ms in 32 s
    assert found.start == pytest.approx(3.0, abs=0.02)


def test_found_without_replay_curve(music: Floats) -> None:
    found = line_of(music, play(music, start_s=1.0, flat=True, noise_dbfs=-60.0).audio)
    assert found.found
    assert found.start == pytest.approx(1.0, abs=0.02)


def test_found_where_the_needle_was_lifted_early(music: Floats) -> None:
    found = line_of(music, music[: 25 * RATE])
    assert found.found
    assert found.start == pytest.approx(0.0, abs=0.01)
    assert found.asked < found.passages  # what lies beyond the capture's end is not asked for


@pytest.mark.parametrize("seed", [21, 22])
def test_other_music_is_not_found(music: Floats, seed: int) -> None:
    found = line_of(music, padded(piece(24.0, seed=seed), 2.0, 2.0))
    assert not found.found
    assert found.likeness < LIKE


def test_noise_silence_and_the_music_backwards_are_not_found(music: Floats) -> None:
    rng = np.random.default_rng(4)
    assert not line_of(music, 0.1 * rng.standard_normal(music.shape)).found
    assert not line_of(music, np.zeros_like(music)).found
    assert not line_of(music, music[::-1]).found


@pytest.mark.parametrize(("wrong", "ratio"), [({"half_speed": True}, 0.5), ({"speed_error_percent": 35.0}, 1.35)])
def test_found_at_another_speed_only_where_asked_for(music: Floats, wrong: dict[str, float], ratio: float) -> None:
    audio = play(music, noise_dbfs=-60.0, **wrong).audio
    assert not line_of(music, audio).found
    found = line_of(music, audio, ratio)
    assert found.found
    assert found.stretch == pytest.approx(1 / ratio, rel=0.002)


def test_music_that_repeats_itself_lies_at_its_beginning() -> None:
    loop = np.tile(piece(4.0, seed=3), (10, 1))
    found = line_of(loop, padded(loop, 1.0, 1.0))
    assert found.found
    assert found.start == pytest.approx(1.0, abs=0.02)
    assert found.stretch == pytest.approx(1.0, abs=3e-4)


def test_passages_are_spread_and_none_is_silent() -> None:
    level = np.ones(1200 * FRAMES)
    level[300 * FRAMES : 600 * FRAMES] = 0.0
    firsts = passages(level)
    size = round(PASSAGE_S * FRAMES)
    assert 20 < len(firsts) <= MOST_PASSAGES + 1
    assert all(level[k : k + size].any() for k in firsts)
    assert max(firsts) + size <= len(level)
    assert passages(np.ones(size - 1)) == [0]  # a programme shorter than a passage is one
