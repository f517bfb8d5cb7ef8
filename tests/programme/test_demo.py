"""The demo programme: the score's times, the same samples every time, and the numbers real music has."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from itertools import islice

import numpy as np
import pytest
from numpy.typing import NDArray

from discwright.programme.demo import DemoSide, demo_sides
from discwright.programme.demo_voices import Note, Room, Voices, bend_peaks

RATE = 44100
OCTAVES_HZ = (63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)


@dataclass(frozen=True)
class Heard:
    """A whole side in numbers, one row per block of 3 s."""

    samples: int
    peak: NDArray[np.float64]
    level_db: NDArray[np.float64]
    octaves_db: NDArray[np.float64]
    side_over_mid_db: NDArray[np.float64]


def listen(side: DemoSide) -> Heard:
    samples, rows, bands = 0, [], np.zeros((2, len(OCTAVES_HZ)))
    for block in side.blocks(RATE):
        samples += len(block)
        rows.append((np.abs(block).max(), np.sqrt(np.mean(block.astype(float) ** 2))))
        for k, mixed in enumerate((block[:, 0] + block[:, 1], block[:, 0] - block[:, 1])):
            power = np.abs(np.fft.rfft(mixed)) ** 2
            f = np.fft.rfftfreq(len(mixed), 1 / RATE)
            for j, centre in enumerate(OCTAVES_HZ):
                bands[k, j] += power[(f >= centre / 2**0.5) & (f < centre * 2**0.5)].sum()
    peak, rms = np.array(rows).T
    octaves_db = 10 * np.log10(bands)
    return Heard(samples, peak, 20 * np.log10(rms), octaves_db[0], octaves_db[1] - octaves_db[0])


@pytest.fixture(scope="module", params=["A", "B"])
def side(request: pytest.FixtureRequest) -> DemoSide:
    return next(s for s in demo_sides() if s.letter == request.param)


@pytest.fixture(scope="module")
def heard(side: DemoSide) -> Heard:
    return listen(side)


def test_two_sides_of_three_bands_with_gaps_between() -> None:
    a, b = demo_sides()
    # by hand: 14:30 and 13:00, as the score is written
    assert (a.letter, a.duration_s, b.letter, b.duration_s) == ("A", 870.0, "B", 780.0)
    for one in (a, b):
        assert len(one.bands) == 3
        gaps = [after.start_s - before.end_s for before, after in zip(one.bands, one.bands[1:], strict=False)]
        assert all(2.0 <= gap <= 3.0 for gap in gaps)
        assert one.bands[-1].end_s == one.duration_s


def test_blocks_are_stereo_float32() -> None:
    block = next(demo_sides()[0].blocks(RATE))
    assert block.dtype == np.float32
    assert block.shape == (3 * RATE, 2)  # by hand: blocks of 3 s


def test_the_same_samples_every_time() -> None:
    def digest() -> str:
        whole = hashlib.sha256()
        for block in islice(demo_sides()[1].blocks(RATE), 12):
            whole.update(block.tobytes())
        return whole.hexdigest()

    first = digest()
    assert first == digest()
    # regression only: the first 36 s of side B
    assert first == "6a4d084d661c1b81632b02b3cf107e3e693fb5ab0bbdba0061365a869ca870a3"


def test_other_sample_rates_have_the_same_length_and_loudness() -> None:
    def start(rate: int) -> NDArray[np.float32]:
        return np.concatenate(list(islice(demo_sides()[1].blocks(rate), 4)))

    one, other = start(44100), start(48000)
    assert len(other) / len(one) == pytest.approx(48000 / 44100)
    # by another road: two renderings of the same notes; the noise takes differ, hence 0.5 dB
    assert 20 * np.log10(np.std(other) / np.std(one)) == pytest.approx(0.0, abs=0.5)


@pytest.mark.slow
def test_length_and_headroom(side: DemoSide, heard: Heard) -> None:
    assert heard.samples == round(side.duration_s * RATE)
    assert 0.6 < heard.peak.max() <= 0.9


@pytest.mark.slow
def test_quiet_is_quiet_and_loud_is_loud(heard: Heard) -> None:
    # common practice: an uncompressed ensemble spans some 30 dB from passage to passage
    assert np.percentile(heard.level_db, 6) < -38.0
    assert np.percentile(heard.level_db, 97) > -15.0


@pytest.mark.slow
def test_gaps_hold_room_tone_and_no_digital_nothing(side: DemoSide) -> None:
    band = side.bands[0]
    blocks = int(band.end_s / 3.0) + 2
    start = np.concatenate(list(islice(side.blocks(RATE), blocks)))
    gap = start[round((band.end_s + 0.2) * RATE) : round((band.end_s + 1.8) * RATE)]
    # by hand: room tone stands at -72 dBFS
    assert 20 * np.log10(np.sqrt(np.mean(gap.astype(float) ** 2))) == pytest.approx(-72.0, abs=1.5)


@pytest.mark.slow
def test_crest_is_that_of_music(heard: Heard) -> None:
    crest_db = 20 * np.log10(heard.peak) - heard.level_db
    # common practice: 10 to 18 dB over a few seconds of uncompressed music; a sine has 3
    assert 10.0 < np.median(crest_db) < 18.0


@pytest.mark.slow
def test_spectrum_falls_as_music_does(heard: Heard) -> None:
    low, high = heard.octaves_db[:4].mean(), heard.octaves_db[-1]
    # common practice: power per octave is even to about 500 Hz and then falls 3 to 9 dB an octave
    assert np.ptp(heard.octaves_db[:5]) < 9.0
    assert 12.0 < low - high < 36.0


@pytest.mark.slow
def test_bass_is_wide_but_not_upside_down(heard: Heard) -> None:
    # common practice: a wide bass has its side signal a few dB under the middle
    assert -8.0 < heard.side_over_mid_db[0] < -0.5


@pytest.mark.slow
def test_consonants_are_bright() -> None:
    voices = Voices(RATE)
    mono = voices.render(Note(0.0, "hush", 1, 0.15, 1.0)).sum(axis=0)
    power = np.abs(np.fft.rfft(mono)) ** 2
    f = np.fft.rfftfreq(mono.size, 1 / RATE)
    inside = power[(f > 5000) & (f < 12_000)].sum() / power.sum()
    assert inside > 0.85  # by hand: the filter's own band, less its skirts


def test_a_note_has_its_pitch_and_its_place() -> None:
    sound = Voices(RATE).render(Note(0.0, "harp", 69, 0.5, 1.0, pan=-0.6))
    power = np.abs(np.fft.rfft(sound[0]))
    # published: pitch 69 is A4, 440 Hz (ISO 16)
    assert np.argmax(power) * RATE / sound.shape[1] == pytest.approx(440.0, abs=1.0)
    assert np.std(sound[0]) / np.std(sound[1]) == pytest.approx(2.0, rel=1e-3)  # by hand: sqrt(0.8 / 0.2)


def test_the_room_does_not_care_how_its_sound_is_cut_up() -> None:
    rng = np.random.default_rng(3)
    send = rng.standard_normal(20_000).astype(np.float32)
    whole = Room(RATE).answer(send)
    room = Room(RATE)
    parts = np.concatenate([room.answer(send[:7001]), room.answer(send[7001:])], axis=1)
    # by another road: the same samples in two pieces
    np.testing.assert_array_equal(whole, parts)


def test_the_room_dies_away_in_its_time() -> None:
    click = np.zeros(3 * RATE, dtype=np.float32)
    click[0] = 1.0
    answer = Room(RATE, decay_s=2.0).answer(click)
    energy = np.square(answer.astype(float)).sum(axis=0)
    early, late = energy[RATE // 2 : RATE].sum(), energy[RATE + RATE // 2 : 2 * RATE].sum()
    # by hand: 30 dB over the one second between the windows, more where the treble is lost
    assert 28.0 < 10 * np.log10(early / late) < 45.0


def test_peaks_bend_and_never_pass_the_ceiling() -> None:
    x = np.linspace(-5.0, 5.0, 10_001, dtype=np.float32)
    y = bend_peaks(x, 0.88)
    assert np.abs(y).max() <= np.float32(0.88) * (1 + 1e-6)
    assert np.all(np.diff(y) > -1e-6)
    # by another road: tanh, which it follows within 3 % of the ceiling
    np.testing.assert_allclose(y, 0.88 * np.tanh(x / 0.88), atol=0.03 * 0.88)


def test_an_unknown_instrument_is_refused() -> None:
    with pytest.raises(KeyError, match="kazoo"):
        Voices(RATE).render(Note(0.0, "kazoo", 60, 1.0, 1.0))
