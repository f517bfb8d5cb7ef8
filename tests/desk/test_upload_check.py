"""The two questions asked of every upload, with real files and the real child process."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
import soundfile

from discwright.desk.upload_check import hash_of, sound_of
from discwright.desk.upload_pieces import UploadRefused


def go_on() -> None:
    """Nobody wants it stopped."""


class StopError(Exception):
    """The desk is being closed."""


def stop() -> None:
    raise StopError


def test_the_hash_is_that_of_all_bytes(tmp_path: Path) -> None:
    # By another road: hashlib over the whole at once.
    content = bytes(range(256)) * 5000
    (tmp_path / "part").write_bytes(content)
    assert hash_of(tmp_path / "part", go_on) == hashlib.sha256(content).hexdigest()
    # Published: FIPS 180-4, of no bytes at all.
    (tmp_path / "part").write_bytes(b"")
    assert hash_of(tmp_path / "part", go_on).startswith("e3b0c44298fc1c149afbf4c8996fb924")


def test_what_sounds_is_told(side: Path, tmp_path: Path) -> None:
    assert sound_of(side, "side.wav", go_on) == "WAV, stereo, 44.1 kHz, 0:25.0"
    samples, rate = soundfile.read(side)
    soundfile.write(tmp_path / "mono.flac", samples[: 2 * rate, 0], rate, subtype="PCM_24")
    assert sound_of(tmp_path / "mono.flac", "mono.flac", go_on) == "FLAC, mono, 44.1 kHz, 0:02.0"


def test_a_file_that_breaks_off_is_refused_under_its_own_name(side: Path, tmp_path: Path) -> None:
    samples, rate = soundfile.read(side)
    soundfile.write(tmp_path / "whole.flac", samples, rate)
    for whole, why in ((side, "shorter than its header says"), (tmp_path / "whole.flac", "cannot be decoded beyond")):
        part = tmp_path / "part"
        part.write_bytes(whole.read_bytes()[: whole.stat().st_size // 2])
        with pytest.raises(UploadRefused, match=why) as caught:
            sound_of(part, "mine.wav", go_on)
        assert caught.value.status == 422
        assert str(caught.value).startswith("mine.wav ")
        assert str(tmp_path) not in str(caught.value)


@pytest.mark.parametrize("content", [b"", b"no sound at all", b"RIFF\0\0\0\0WAVE", b"ID3\x04" + bytes(400)])
def test_what_is_no_audio_is_refused(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "part").write_bytes(content)
    with pytest.raises(UploadRefused, match=r"^mine\.wav .*\.$"):
        sound_of(tmp_path / "part", "mine.wav", go_on)


def test_both_can_be_stopped(side: Path) -> None:
    with pytest.raises(StopError):
        hash_of(side, stop)
    with pytest.raises(StopError):
        sound_of(side, "side.wav", stop)
