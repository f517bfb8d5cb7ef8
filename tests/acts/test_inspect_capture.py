"""A capture read from its file: rate, ceiling, curve; and what is said where it cannot be one of the programme."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from invented import RATE, held, piece, play

from discwright.acts.inspect_capture import equalised, find_programme, is_unequalised, read_capture
from discwright.errors import CallError
from discwright.files.sample_store import SampleStore

SECONDS = 24.0


@pytest.fixture(scope="module")
def music() -> np.ndarray:
    return piece(SECONDS, seed=60)


def quiet(_done: float) -> None:
    return None


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
def test_read_at_the_working_rate(tmp_path: Path, rate: int) -> None:
    t = np.arange(3 * rate) / rate
    tone = 0.5 * np.stack([np.sin(2 * np.pi * 440 * t), np.cos(2 * np.pi * 440 * t)], axis=1)
    soundfile.write(tmp_path / "tone.wav", tone, rate, subtype="FLOAT")
    store, facts = read_capture(tmp_path / "tone.wav", RATE, quiet)
    with store:
        assert (store.rate, facts.rate, facts.frames, facts.channels) == (RATE, rate, 3 * rate, 2)
        assert abs(store.frames - 3 * RATE) <= 2
        at = np.arange(RATE, 2 * RATE) / RATE
        expected = 0.5 * np.stack([np.sin(2 * np.pi * 440 * at), np.cos(2 * np.pi * 440 * at)], axis=1)  # by hand
        assert np.abs(store.read(RATE, RATE) - expected).max() < 2e-4
        assert facts.clipped == 0.0


@pytest.mark.parametrize("ceiling", [1.0, 0.4])
def test_samples_that_stand_at_the_ceiling_are_counted(tmp_path: Path, ceiling: float) -> None:
    rng = np.random.default_rng(1)
    audio = 0.3 * ceiling * rng.standard_normal((RATE, 2)).clip(-3, 3)
    audio[1000:1010, 0] = ceiling
    audio[5000:5004, 1] = -ceiling
    audio[7000:7002, 1] = ceiling  # two in a row may be chance
    soundfile.write(tmp_path / "clip.wav", audio, RATE, subtype="PCM_24")
    store, facts = read_capture(tmp_path / "clip.wav", RATE, quiet)
    store.close()
    assert facts.clipped == pytest.approx(14 / (2 * RATE))  # by hand


def test_a_square_wave_below_the_peak_is_not_clipping(tmp_path: Path) -> None:
    audio = np.zeros((RATE, 2))
    audio[::100] = 0.9
    audio[3000:3400] = 0.5
    soundfile.write(tmp_path / "square.wav", audio, RATE, subtype="FLOAT")
    store, facts = read_capture(tmp_path / "square.wav", RATE, quiet)
    store.close()
    assert facts.clipped == 0.0


def test_one_channel_is_refused(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "mono.wav", np.zeros(RATE), RATE)
    with pytest.raises(CallError, match="has one channel; a disc's two walls are judged apart: capture both channels"):
        read_capture(tmp_path / "mono.wav", RATE, quiet)


def test_the_curve_is_noticed_and_taken_off(music: np.ndarray) -> None:
    for flat in (False, True):
        disc = play(music, flat=flat, noise_dbfs=-85.0, start_s=1.0, gain_db=-10.0)
        capture = SampleStore(RATE).fill([disc.audio])
        line, _, _ = find_programme(held(music), capture, Path("capture.wav"))
        assert is_unequalised(held(music), capture, line) is flat
        if flat:
            back = equalised(capture)
            even = play(music, noise_dbfs=-85.0, start_s=1.0, gain_db=-10.0).audio
            assert back.frames == len(even)
            got = back.read(RATE, 20 * RATE)
            # By another road: what was never flat, but for a delay all frequencies share, which is the map's to take.
            own, other = np.fft.rfft(got[:, 0]), np.fft.rfft(even[RATE : 21 * RATE, 0])
            frequency = np.fft.rfftfreq(len(got), 1 / RATE)
            for low, high in ((20, 40), (40, 100), (100, 1000), (1000, 4000), (4000, 10_000), (10_000, 16_000)):
                band = (frequency > low) & (frequency < high)
                gain = np.sqrt(np.sum(np.abs(own[band]) ** 2) / np.sum(np.abs(other[band]) ** 2))
                assert 20 * np.log10(gain) == pytest.approx(0.0, abs=0.06)
                turned = np.angle(np.sum(own[band] * np.conj(other[band]) / frequency[band] ** 2))
                assert abs(turned) / (2 * np.pi * low) < 2e-5 + 2e-6 * 1000 / low
            with pytest.raises(ValueError, match="closed file"):
                capture.read(0, 10)
            back.close()
        else:
            capture.close()


@pytest.mark.parametrize("tilt", [-6.0, 5.0])
def test_a_dull_or_bright_player_is_not_taken_for_the_curve(music: np.ndarray, tilt: float) -> None:
    disc = play(music, tilt_db_per_decade=tilt, noise_dbfs=-60.0)
    capture = held(disc.audio)
    line, _, _ = find_programme(held(music), capture, Path("capture.wav"))
    assert not is_unequalised(held(music), capture, line)


def test_what_was_seen_is_told(music: np.ndarray) -> None:
    with pytest.raises(
        CallError, match=r"^b\.wav: does not hold this programme: of 5 passages \d were found in one row"
    ):
        find_programme(held(music), held(piece(SECONDS, seed=61)), Path("b.wav"))
    with pytest.raises(CallError, match="the programme is silent"):
        find_programme(held(np.zeros_like(music)), held(music), Path("b.wav"))
    with pytest.raises(CallError, match=r"^b\.wav: is silent from end to end"):
        find_programme(held(music), held(np.zeros_like(music)), Path("b.wav"))
