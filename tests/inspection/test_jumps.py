"""Where a playing leaves the groove: skips and repeats of whole and odd lengths, and none where there are none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented import RATE, TURN_S, held, piece, play
from numpy.typing import NDArray
from spoiler import Jump

from discwright.inspection.coarse import find_line
from discwright.inspection.features import RATE as FRAMES
from discwright.inspection.features import features
from discwright.inspection.jumps import Followed, Stretch, follow

Floats = NDArray[np.float64]


@pytest.fixture(scope="module")
def music() -> Floats:
    return piece(40.0)


def followed(programme: Floats, audio: NDArray[np.floating]) -> Followed:
    (own, level), (heard, _) = features(held(programme)), features(held(audio))
    line = find_line(own, level, heard)
    assert line.found
    return follow(own, heard, line)


def moved(audio: Floats, at: float, to: float) -> Floats:
    """The tip leaves the programme at one moment and goes on at another."""
    return np.concatenate([audio[: round(at * RATE)], audio[round(to * RATE) :]])


@pytest.mark.parametrize(
    ("at", "to"),
    [(15.0, 15.7), (15.0, 17.5), (15.0, 21.0), (15.0, 27.0), (15.0, 14.2), (15.0, 13.2), (15.0, 11.0), (20.0, 5.0),
     (3.0, 4.5), (36.9, 35.2)],
)  # fmt: skip
def test_a_jump_of_any_length(music: Floats, at: float, to: float) -> None:
    first, last = followed(music, moved(music, at, to)).stretches
    # By hand: later in the capture by what is played again, earlier by what is left out; frames are 20 ms apart.
    assert last.offset - first.offset == pytest.approx(at - to, abs=0.04)
    # What is left out or played twice belongs to neither way; the step is 0.4 s, the window 1.2 s.
    low, high = min(at, to), max(at, to)
    assert low - 0.8 < first.end < high + 0.8
    assert first.end == last.begin
    assert (first.begin, last.end) == (0.0, pytest.approx(40.0))


@pytest.mark.parametrize("jump", [Jump(15.0, 1), Jump(15.0, 2), Jump(15.0, -1), Jump(15.0, -1, 3)])
def test_whole_turns_of_an_uneven_disc(music: Floats, jump: Jump) -> None:
    disc = play(music, jumps=(jump,), noise_dbfs=-55.0, speed_error_percent=0.4, off_centre_mm=0.5, start_s=2.0)
    first, last = followed(music, disc.audio).stretches
    turns = jump.turns if jump.turns > 0 else jump.turns * jump.times
    assert last.offset - first.offset == pytest.approx(-turns * TURN_S / 1.004, abs=0.04)  # by hand


def test_two_jumps_are_two(music: Floats) -> None:
    audio = np.concatenate([moved(music[: 28 * RATE], 10.0, 12.0), music[26 * RATE :]])
    offsets = [one.offset for one in followed(music, audio).stretches]
    assert np.diff(offsets) == pytest.approx([-2.0, 2.0], abs=0.04)  # by hand: a skip of 2 s, a repeat of 2 s


@pytest.mark.parametrize("percent", [0.0, 1.0, -1.0])
def test_nothing_jumps_where_nothing_jumps(music: Floats, percent: float) -> None:
    disc = play(music, noise_dbfs=-50.0, speed_error_percent=percent, off_centre_mm=0.5, start_s=1.0, after_s=2.0)
    assert len(followed(music, disc.audio).stretches) == 1


def test_a_long_silence_is_no_jump(music: Floats) -> None:
    quiet = music.copy()
    quiet[12 * RATE : 22 * RATE] = 0.0
    found = followed(quiet, play(quiet, noise_dbfs=-60.0, start_s=1.0).audio)
    assert len(found.stretches) == 1


def test_music_that_repeats_itself_jumps_not() -> None:
    loop = np.tile(piece(4.0, seed=3), (10, 1))
    assert len(followed(loop, np.pad(loop, ((RATE, RATE), (0, 0)))).stretches) == 1


def test_what_was_heard_ends_where_the_capture_ends(music: Floats) -> None:
    (_, level) = features(held(music))
    assert followed(music, music).heard(level) == (0.0, 40.0)
    begin, end = followed(music, np.pad(music[8 * RATE : 30 * RATE], ((RATE, 9 * RATE), (0, 0)))).heard(level)
    # By hand: a window of 1.2 s at the end is in part still alike, and chance may carry it on by one more.
    assert begin == pytest.approx(8.0, abs=1.8)
    assert end == pytest.approx(30.0, abs=1.8)


def test_a_silent_end_is_not_missing(music: Floats) -> None:
    quiet = music.copy()
    quiet[32 * RATE :] = 0.0
    (_, level) = features(held(quiet))
    assert followed(quiet, quiet[: 33 * RATE]).heard(level) == (0.0, 40.0)


def test_a_whole_way_that_is_like_nothing_is_passed_through() -> None:
    # By hand: what is heard from 6 s on was 9 s further; between, two steps of chance.
    rng = np.random.default_rng(2)
    shape = rng.standard_normal((40 * FRAMES, 9)).astype(np.float32)
    heard = np.concatenate([shape[: 10 * FRAMES], shape[14 * FRAMES :]])
    line = find_line(shape, np.ones(len(shape)), heard)
    found = follow(shape, heard, replace(line, start=0.0, stretch=1.0)).stretches
    assert [one.offset for one in found] == pytest.approx([0.0, -4.0], abs=0.021)
    assert isinstance(found[0], Stretch)
