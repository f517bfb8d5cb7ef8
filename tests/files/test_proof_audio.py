"""Proof audio: whole or not there, as loud as it was unless it would clip, float where the file can hold it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from discwright.errors import CallError
from discwright.files.proof_audio import ProofFiles, check_audio_place

RATE = 44_100


def noise(peak: float, n: int = 3000) -> np.ndarray:
    x = np.random.default_rng(2).uniform(-1.0, 1.0, (n, 2))
    return x / np.abs(x).max() * peak


def written(path: Path, x: np.ndarray) -> float:
    with ProofFiles(RATE) as files:
        files.write(path, x[:1000])
        files.write(path, x[1000:])
        return files.finish()


def test_flac_holds_24_bits(tmp_path: Path) -> None:
    x = noise(0.9)
    assert written(tmp_path / "a.flac", x) == 0.0
    info = soundfile.info(tmp_path / "a.flac")
    assert (info.format, info.subtype, info.samplerate, info.frames) == ("FLAC", "PCM_24", RATE, 3000)
    got, _ = soundfile.read(tmp_path / "a.flac")
    # By hand: half a step of 24 bits, and a 32-bit float in between.
    assert np.abs(got - x).max() < 2.0**-23
    assert [path.name for path in tmp_path.iterdir()] == ["a.flac"]


def test_wav_is_floating_and_never_scaled(tmp_path: Path) -> None:
    x = noise(3.0)
    assert written(tmp_path / "a.wav", x) == 0.0
    got, _ = soundfile.read(tmp_path / "a.wav")
    assert soundfile.info(tmp_path / "a.wav").subtype == "FLOAT"
    assert got == pytest.approx(x, abs=1e-6)


@pytest.mark.parametrize(("peak", "gain_db"), [(1.0, -0.1), (1.05, -0.5), (2.0, -6.1), (0.9999, 0.0)])
def test_what_would_clip_is_lowered_and_told(tmp_path: Path, peak: float, gain_db: float) -> None:
    # By hand: 20·log10 of the peak, up to the next tenth of a decibel.
    x = noise(peak)
    assert written(tmp_path / "a.flac", x) == pytest.approx(gain_db)
    got, _ = soundfile.read(tmp_path / "a.flac")
    assert got == pytest.approx(x * 10 ** (gain_db / 20), abs=1e-6)


def test_files_of_one_proof_are_lowered_alike(tmp_path: Path) -> None:
    with ProofFiles(RATE) as files:
        files.write(tmp_path / "a.flac", noise(2.0))
        files.write(tmp_path / "b.flac", noise(0.5))
        gain_db = files.finish()
    got, _ = soundfile.read(tmp_path / "b.flac")
    assert np.abs(got).max() == pytest.approx(0.5 * 10 ** (gain_db / 20), abs=1e-6)


def test_an_old_file_stays_until_the_new_one_is_whole(tmp_path: Path) -> None:
    (tmp_path / "a.flac").write_bytes(b"old")

    def stopped() -> None:
        with ProofFiles(RATE) as files:
            files.write(tmp_path / "a.flac", noise(0.5))
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        stopped()
    assert [path.name for path in tmp_path.iterdir()] == ["a.flac"]
    assert (tmp_path / "a.flac").read_bytes() == b"old"


def test_a_folder_that_goes_away_is_said(tmp_path: Path) -> None:
    place = tmp_path / "gone"
    place.mkdir()
    place.rmdir()
    with pytest.raises(CallError, match="cannot be written"):
        written(place / "a.flac", noise(0.5))


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("a.mp3", "a proof is written as .flac or .wav; give it such a name."),
        ("a", "a proof is written as .flac or .wav; give it such a name."),
        ("nowhere/a.flac", "there is no folder"),
        ("folder.flac", "is a folder; name a file in it."),
    ],
)
def test_places_that_cannot_be_written(tmp_path: Path, name: str, words: str) -> None:
    (tmp_path / "folder.flac").mkdir()
    with pytest.raises(CallError, match=words):
        check_audio_place(tmp_path / name)


def test_a_good_place_passes(tmp_path: Path) -> None:
    check_audio_place(tmp_path / "A.FLAC")
