"""Level, balance, response, separation, noise and rumble, from transfers made by hand and from spoiled discs."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from invented import lay, piece, play
from numpy.typing import NDArray
from spoiler import Spoiled

from discwright.inspection.align import Alignment
from discwright.inspection.jumps import Stretch
from discwright.inspection.sound import THIRDS_HZ, Sound, smoothed, sound_of
from discwright.inspection.timemap import Delays, Swings, TimeMap
from discwright.inspection.transfer import Transfer

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

RATE, SIZE = 44_100, 4096
FREQUENCY = np.fft.rfftfreq(SIZE, 1 / RATE)
BINS = len(FREQUENCY)


def alignment(gain: Complex, noise: Floats | None = None, apart: float = 0.5) -> Alignment:
    """A playing with a known sound; everything else is nothing."""
    one = np.zeros(1)
    spare = np.full((BINS, 2), 1e-6) if noise is None else noise
    return Alignment(
        TimeMap(one, one, one, (Stretch(0.0, 1.0, 0.0),)),
        Swings(one, np.zeros((1, 2)), np.zeros((1, 2)), one, 0.0),
        Transfer(RATE, gain[None], 60.0, np.full((BINS, 2), 1e6), np.full(BINS, apart)),
        spare, spare, Delays(one, one, one),
    )  # fmt: skip


def flat(mixing: Any) -> Complex:
    return np.broadcast_to(np.asarray(mixing, dtype=complex), (BINS, 2, 2)).copy()


def shaped(magnitude_db: Floats) -> Complex:
    gain: Complex = (10 ** (magnitude_db / 20))[:, None, None] * np.eye(2).astype(complex)
    return gain


def test_level_and_balance_by_hand() -> None:
    found = sound_of(alignment(flat([[0.5, 0.0], [0.0, 0.4]])))
    assert found.level_db == pytest.approx((-6.0206 - 7.9588) / 2, abs=1e-3)
    assert found.balance_db == pytest.approx(1.9382, abs=1e-3)
    assert found.response_db[:29] == pytest.approx(np.zeros((29, 2)), abs=1e-6)
    assert np.isnan(found.response_db[29]).all()  # at 44.1 kHz the last third-octave is not whole
    assert not found.swapped
    assert found.inverted == (False, False)


@pytest.mark.parametrize(("left", "right", "separation"), [(0.1, 0.1, 20.0), (0.01, 0.01, 40.0), (0.1, 0.0, 23.01)])
def test_separation_is_told_after_level_and_balance(left: float, right: float, separation: float) -> None:
    # By hand: own channel over what is heard of the other, mean energy of both; whatever each channel's gain.
    mixing = np.diag([0.5, 0.8]) @ np.array([[1.0, left], [right, 1.0]])
    assert sound_of(alignment(flat(mixing))).separation_db != pytest.approx(separation, abs=0.3)
    mixing = np.array([[1.0, left], [right, 1.0]]) @ np.diag([0.5, 0.8])
    own = np.array([[0.5, 0.8 * left], [0.5 * right, 0.8]])
    assert mixing == pytest.approx(own)
    # What leaks is heard at the leaking channel's own level.
    assert sound_of(alignment(flat(mixing))).separation_db == pytest.approx(separation, abs=0.05)


def test_a_mono_programme_has_no_separation() -> None:
    assert sound_of(alignment(flat([[1.0, 0.1], [0.1, 1.0]]), apart=1e-6)).separation_db is None


def test_swapped_channels() -> None:
    found = sound_of(alignment(flat([[0.05, 1.0], [0.5, 0.05]])))
    assert found.swapped
    # By hand: read as if the leads were right again; the programme's left is heard at half.
    assert found.level_db == pytest.approx(-3.01, abs=0.01)
    assert found.balance_db == pytest.approx(-6.02, abs=0.01)
    assert not sound_of(alignment(flat([[0.05, 1.0], [1.0, 0.05]]), apart=1e-6)).swapped


@pytest.mark.parametrize("turned", [(False, True), (True, False), (True, True)])
def test_polarity(turned: tuple[bool, bool]) -> None:
    assert sound_of(alignment(flat(np.diag(np.where(turned, -1.0, 1.0))))).inverted == turned


def test_response_by_third_octaves() -> None:
    # By hand: 3 dB a decade; a band's mean power is that of its middle but for some hundredths.
    found = sound_of(alignment(shaped(3.0 * np.log10(np.maximum(FREQUENCY, 5.0) / 1000.0))))
    told = np.array([k for k, f in enumerate(THIRDS_HZ) if 40.0 <= f <= 16_000.0])
    expected = 3.0 * np.log10(np.array(THIRDS_HZ)[told] / 1000.0)
    assert found.response_db[told] == pytest.approx(np.stack([expected, expected], axis=1), abs=0.06)


def test_what_noise_hides_is_not_told() -> None:
    noise = np.where(FREQUENCY[:, None] > 9000.0, 1e6, 1e-6) * np.ones(2)
    response = sound_of(alignment(flat(np.eye(2)), noise)).response_db
    assert np.isnan(response[THIRDS_HZ.index(12_500.0) :]).all()
    assert np.isfinite(response[: THIRDS_HZ.index(8000.0)]).all()


def test_noise_and_rumble_of_a_known_spectrum() -> None:
    # By hand: a bin holds the mean square times window energy over two; -60 dB of white noise in all 22 kHz.
    power = 1e-6 * SIZE * 0.375
    found = sound_of(alignment(flat(0.5 * np.eye(2)), np.full((BINS, 2), power)))
    level = 20 * np.log10(0.5)
    assert found.noise_db == pytest.approx(-60.0 + 3.01 + 10 * np.log10(19_980 / 22_050) - level, abs=0.05)
    # By hand: what goes through 20 Hz (18 dB an octave) and 315 Hz (12 dB an octave): 315·π/(2√2) less some 20 Hz.
    through = 10 * np.log10((315 * np.pi / (2 * np.sqrt(2)) - 20) / 22_050)
    assert found.rumble_db == pytest.approx(-60.0 + 3.01 + through - level, abs=0.3)


def test_smoothing_keeps_a_sharp_corner_within_a_twelfth_of_an_octave() -> None:
    ripple = flat(np.eye(2)) * (1 + 0.2 * (-1.0) ** np.arange(BINS))[:, None, None]
    out = smoothed(ripple, FREQUENCY)
    high = FREQUENCY > 5000
    assert np.abs(out[high, 0, 0] - 1).max() < 0.01
    assert out[3, 0, 0] == pytest.approx(ripple[3, 0, 0])  # bass bins stand alone


@pytest.fixture(scope="module")
def spoiled() -> tuple[Sound, Spoiled]:
    music = piece(24.0, seed=8)
    disc = play(
        music, gain_db=-7.0, balance_db=0.8, crosstalk_db=-24.0, tilt_db_per_decade=1.5, treble_db=-2.0,
        noise_dbfs=-55.0, rumble_dbfs=-50.0, speed_error_percent=0.2, off_centre_mm=0.3, start_s=0.6,
    )  # fmt: skip
    return sound_of(lay(music, disc.audio)[1]), disc


def test_a_spoiled_disc(spoiled: tuple[Sound, Spoiled]) -> None:
    sound, disc = spoiled
    assert sound.balance_db == pytest.approx(0.8, abs=0.05)  # planted
    assert sound.separation_db == pytest.approx(24.0, abs=0.5)
    assert sound.level_db == pytest.approx(-7.0 + disc.truth.response_db(np.array([1000.0]))[0], abs=0.1)


def test_the_response_of_a_spoiled_disc(spoiled: tuple[Sound, Spoiled]) -> None:
    sound, disc = spoiled
    for frequency, db in disc.truth.third_octaves_db().items():
        if 40.0 <= frequency <= 15_000.0:
            row = sound.response_db[THIRDS_HZ.index(frequency)]
            assert row == pytest.approx([db, db], abs=0.3), frequency  # the promise


def test_noise_and_rumble_of_a_spoiled_disc(spoiled: tuple[Sound, Spoiled]) -> None:
    sound, _ = spoiled
    # By hand: -55 dB of hiss and -50 dB of rumble, of which 20 Hz to 60 Hz count, re a sine, re the level.
    assert -55 + 3.0 + 7.0 - 0.5 < sound.noise_db < -50 + 3.0 + 7.0 + 2.0
    assert -50 + 3.0 + 7.0 - 3.0 < sound.rumble_db < -50 + 3.0 + 7.0 + 0.5


def test_a_mono_programme_is_laid_and_told() -> None:
    music = piece(12.0, seed=9)
    mono = np.repeat(music.mean(axis=1, keepdims=True), 2, axis=1)
    sound = sound_of(lay(mono, play(mono, noise_dbfs=-60.0, gain_db=-3.0, crosstalk_db=-20.0).audio)[1])
    assert sound.separation_db is None
    assert not sound.swapped
    # By hand: what leaks from a channel that is alike cannot be told from its own: 20·lg(1.1) more.
    assert sound.level_db == pytest.approx(-3.0 + 0.83, abs=0.1)


def test_mono_bass_has_its_level_as_all_else() -> None:
    music = piece(24.0, seed=8)
    spectrum = np.fft.rfft(music, axis=0)
    low = np.fft.rfftfreq(len(music), 1 / RATE) < 200.0
    spectrum[low] = spectrum[low].mean(axis=1, keepdims=True)
    blended = np.fft.irfft(spectrum, len(music), axis=0)
    sound = sound_of(lay(blended, play(blended, noise_dbfs=-60.0, crosstalk_db=-20.0).audio)[1])
    told = [k for k, f in enumerate(THIRDS_HZ) if 40.0 <= f <= 12_500.0]
    assert np.abs(sound.response_db[told]).max() < 0.3  # the promise; by hand: nothing was bent
    assert sound.separation_db == pytest.approx(20.0, abs=0.5)


def test_swapped_leads_of_a_real_playing() -> None:
    music = piece(12.0, seed=9)
    sound = sound_of(lay(music, play(music, noise_dbfs=-60.0, crosstalk_db=-25.0).audio[:, ::-1].copy())[1])
    assert sound.swapped
    assert sound.separation_db == pytest.approx(25.0, abs=1.0)
    assert sound.level_db == pytest.approx(0.0, abs=0.1)


def test_one_channel_turned_round() -> None:
    music = piece(12.0, seed=9)
    sound = sound_of(lay(music, play(music, noise_dbfs=-60.0).audio * np.array([1.0, -1.0], dtype=np.float32))[1])
    assert sound.inverted == (False, True)
    assert not sound.swapped
    assert sound.level_db == pytest.approx(0.0, abs=0.1)
    assert np.nanmax(np.abs(sound.response_db[2:28])) < 0.3
