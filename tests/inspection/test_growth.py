"""Distortion along the side: what the proof foretold is not held against a playing, what it did not is told."""

from __future__ import annotations

import numpy as np
import pytest
from invented import RATE, Held, held, lay, piece, play
from numpy.typing import NDArray

from discwright.inspection.align import Alignment
from discwright.inspection.frames import Pair
from discwright.inspection.growth import EVERY_S, PARTS, growth, undone

Floats = NDArray[np.float64]
SECONDS = 20.0


def bent(x: Floats, much: Floats | float) -> Floats:
    """A square law: distortion no linear system makes."""
    return x + much * (x**2 - np.mean(x**2, axis=0))


@pytest.fixture(scope="module")
def music() -> Floats:
    return piece(SECONDS, seed=15)


def played(proof: Floats, noise_dbfs: float = -60.0) -> tuple[Pair, Alignment]:
    disc = play(
        proof, gain_db=-6.0, balance_db=1.0, crosstalk_db=-25.0, tilt_db_per_decade=2.0, noise_dbfs=noise_dbfs,
        speed_error_percent=0.2, off_centre_mm=0.2,
    )  # fmt: skip
    return lay(proof, disc.audio)


def test_what_the_proof_foretold_comes_back(music: Floats) -> None:
    proof = bent(music, 0.3)
    pair, laid = played(proof)
    found = growth(held(music), pair, laid, 2e-3, (0.0, SECONDS))
    assert 1 < len(found) <= PARTS
    for one in found:
        assert one.predicted > 0.02
        assert one.measured == pytest.approx(one.predicted, rel=0.1, abs=0.004)
    assert [one.time for one in found] == sorted(one.time for one in found)


def test_what_it_did_not_foretell_is_told_and_where(music: Floats) -> None:
    # By hand: the second half is bent beyond the proof.
    late = np.where(np.arange(len(music)) > 0.5 * len(music), 0.5, 0.0)[:, None]
    worn = bent(music, late)
    disc = play(worn, noise_dbfs=-60.0)
    pair, laid = lay(music, disc.audio)
    found = growth(held(music), pair, laid, 1e-3, (0.0, SECONDS))
    first, last = found[0], found[-1]
    assert first.time < SECONDS / 2 < last.time
    assert first.measured < 0.02
    assert last.measured > 3 * first.measured + 0.02
    assert max(one.predicted for one in found) < 1e-3


def test_noise_is_taken_out(music: Floats) -> None:
    pair, laid = played(music, noise_dbfs=-45.0)
    noise = 10 ** (-45.0 / 20) / 10 ** (-6.0 / 20)
    found = growth(held(music), pair, laid, noise, (0.0, SECONDS))
    whole = growth(held(music), pair, laid, 0.0, (0.0, SECONDS))
    for one, other in zip(found, whole, strict=True):
        assert one.measured < 0.5 * other.measured
        assert one.measured < 0.03


def test_silence_tells_nothing(music: Floats) -> None:
    pair, laid = played(music)
    assert growth(Held(RATE, np.zeros((len(music), 2), dtype=np.float32)), pair, laid, 1e-3, (0.0, SECONDS)) == []
    assert growth(held(music), pair, laid, 1e-3, (0.0, 0.5)) == []
    few = growth(held(music), pair, laid, 1e-3, (SECONDS - EVERY_S - 1.0, SECONDS))
    assert all(one.time > SECONDS - EVERY_S - 1.0 for one in few)


def test_a_playing_undone_is_the_programme(music: Floats) -> None:
    pair, laid = played(music, noise_dbfs=-80.0)
    for first in (0, 7 * RATE, len(music) - RATE):
        back = undone(pair, laid, first, RATE)
        own = music[first : first + RATE]
        inner = slice(2000, -2000)
        # Regression only: 1 % of the music, gains, channels, tilt and all.
        assert np.std(back[inner] - own[inner]) < 0.01 * np.std(own)


def test_a_mono_programme_is_undone_too(music: Floats) -> None:
    mono = np.repeat(music.mean(axis=1, keepdims=True), 2, axis=1)
    pair, laid = played(mono)
    back = undone(pair, laid, 5 * RATE, RATE)
    own = mono[5 * RATE : 6 * RATE]
    assert np.std(back - own) < 0.03 * np.std(own)
