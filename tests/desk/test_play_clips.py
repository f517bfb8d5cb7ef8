"""A few seconds about a fault: three versions of one length that begin at one sample."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from discwright.desk.play_clips import MOST_S, VERSIONS, stretch_at, wav_of
from discwright.desk.plays import Play, Plays
from discwright.errors import CallError


@pytest.fixture(scope="module")
def play(tmp_path_factory: pytest.TempPathFactory, make_play: Any, reported: Any) -> Play:
    place = tmp_path_factory.mktemp("plays")
    return Plays(place).get(make_play(place, reported()))


def test_a_second_before_and_a_second_and_a_half_after(play: Play) -> None:
    # By hand, at 8 kHz: from 4 s to 6.5 s.
    found = stretch_at(play, 5.0)
    assert (found.first, found.frames, found.sample_rate, found.start) == (32_000, 20_000, 8000, 4.0)


@pytest.mark.parametrize(("at", "lasts", "first", "frames"), [(0.2, 0.0, 0, 20_000), (11.9, 0.0, 76_000, 20_000),
                                                              (3.0, 60.0, 16_000, 64_000)])  # fmt: skip
def test_ends_and_long_faults(play: Play, at: float, lasts: float, first: int, frames: int) -> None:
    """By hand: no stretch lies outside the 96 000 frames, and none is longer than 8 s."""
    found = stretch_at(play, at, lasts)
    assert (found.first, found.frames) == (first, frames)


def test_every_version_is_its_own_sound_from_the_same_sample(play: Play) -> None:
    found = stretch_at(play, 5.0)
    for version, hertz in zip(VERSIONS, (100, 200, 300), strict=True):
        sound, rate = soundfile.read(io.BytesIO(wav_of(play, version, found.first, found.frames)))
        # By another road: the tone that was written, at the very same samples; 24 and 16 bits apart.
        wanted = 0.5 * np.sin(2 * np.pi * hertz * (found.first + np.arange(found.frames)) / rate)
        assert sound.shape == (found.frames, 2)
        assert np.abs(sound[:, 0] - wanted).max() < 2.0**-15


def test_what_is_not_there_is_refused(play: Play, tmp_path: Path, make_play: Any) -> None:
    with pytest.raises(CallError, match="no music at this place"):
        stretch_at(play, 13.0)
    with pytest.raises(CallError, match="a play can be heard as programme, capture, difference"):
        wav_of(play, "../programme", 0, 10)
    for first, frames in ((0, 0), (-1, 10), (95_999, 2), (0, int(MOST_S * 8000) + 2)):
        with pytest.raises(CallError, match="there is no such stretch"):
            wav_of(play, "capture", first, frames)
    bare = Plays(tmp_path).get(make_play(tmp_path, None))
    with pytest.raises(CallError, match=r"^the sound of this play is not here, or no longer; play it once more\.$"):
        stretch_at(bare, 1.0)


def test_sounds_of_two_lengths_do_not_fit(tmp_path: Path, make_play: Any, reported: Any) -> None:
    play = Plays(tmp_path).get(make_play(tmp_path, reported()))
    soundfile.write(play.result / "capture.flac", np.zeros((10, 2)), 8000)
    with pytest.raises(CallError, match="do not fit together"):
        stretch_at(play, 1.0)
