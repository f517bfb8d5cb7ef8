"""Bands, bandwidth and vertical bass of signals whose spectrum is known."""

from itertools import pairwise

import numpy as np
import pytest
from scipy import signal

from discwright.programme.bands import BAND_EDGES_HZ, SpectrumMeter, SpectrumReading, spectrum_findings

RATE = 44100


def read(sound, rate=RATE) -> SpectrumReading:
    meter = SpectrumMeter(rate)
    for at in range(0, len(sound), 50000):
        meter.feed(np.asfortranarray(sound[at : at + 50000]))
    return meter.result()


def noise(low_hz, high_hz, seconds=10.0, rate=RATE, seed=0, rms=0.1):
    """White noise with exact edges, shape (n,)."""
    n = round(seconds * rate)
    spectrum = np.fft.rfft(np.random.default_rng(seed).normal(size=n))
    hz = np.fft.rfftfreq(n, 1 / rate)
    spectrum[(hz < low_hz) | (hz > high_hz)] = 0.0
    wave = np.fft.irfft(spectrum, n)
    return rms * wave / wave.std()


def stereo(left, right):
    return np.column_stack([left, right]).astype(np.float32)


@pytest.mark.parametrize("rate", [44100, 96000])
@pytest.mark.parametrize("high_hz", [8000.0, 16000.0])
def test_noise_cut_off_above_reads_its_edge(high_hz, rate):
    wave = noise(0.0, high_hz, rate=rate)
    # by hand: the edge put in, within 3 %
    assert read(stereo(wave, wave), rate).bandwidth_hz[1] == pytest.approx(high_hz, rel=0.03)


@pytest.mark.parametrize("rms", [0.1, 0.001])
def test_noise_cut_off_by_a_filter_in_16_bits_reads_its_edge(rms):
    taps = signal.firwin(401, 16000.0, fs=RATE, window=("kaiser", 10.0))
    wave = signal.oaconvolve(np.random.default_rng(1).normal(0.0, rms, 10 * RATE), taps, mode="same")
    dither = np.random.default_rng(2).uniform(-0.5, 0.5, (2, wave.size)).sum(axis=0)
    wave = np.round(32768 * wave + dither) / 32768
    # by hand: the edge put in; at −60 dBFS the dither lies only 33 dB under the noise
    assert read(stereo(wave, wave)).bandwidth_hz[1] == pytest.approx(16000.0, rel=0.03)


def test_noise_from_30_hz_to_15_khz_reads_both_edges():
    wave = noise(30.0, 15000.0, seconds=20.0)
    low, high = read(stereo(wave, wave)).bandwidth_hz
    # by hand: the edges put in; a bin is 0.7 Hz wide and a Hann window spreads over three
    assert low == pytest.approx(30.0, abs=2.0)
    assert high == pytest.approx(15000.0, rel=0.03)


def test_noise_up_to_the_top_reads_the_top():
    wave = np.random.default_rng(3).normal(0.0, 0.1, 10 * RATE)
    low, high = read(stereo(wave, wave)).bandwidth_hz
    assert low <= 15.0
    assert high >= 0.99 * RATE / 2


def test_a_sine_is_as_narrow_as_it_sounds():
    wave = 0.5 * np.sin(2 * np.pi * 1000.0 * np.arange(5 * RATE) / RATE)
    # by hand, within a semitone
    assert read(stereo(wave, wave)).bandwidth_hz == pytest.approx((1000.0, 1000.0), rel=0.06)


def test_direct_current_is_not_bandwidth():
    wave = noise(200.0, 5000.0) + 0.3
    low, _ = read(stereo(wave, wave)).bandwidth_hz
    assert low == pytest.approx(200.0, rel=0.03)


def test_each_band_has_its_own_balance_and_correlation():
    left, right = np.zeros((2, 20 * RATE))
    want = []
    for i, (low, high) in enumerate(pairwise(BAND_EDGES_HZ)):
        a, b = (noise(low * 1.03, high * 0.97, 20.0, seed=10 * i + s, rms=0.03) for s in (0, 1))
        share, gain_db = [1.0, 0.8, 0.5, 0.0, -0.5, -0.8, -1.0][i], [0, 3, -3, 6, -6, 1, -1][i]
        left += a
        right += 10 ** (-gain_db / 20) * (share * a + np.sqrt(1 - share**2) * b)
        want.append((gain_db, share))
    bands = read(stereo(left, right)).bands
    assert [(band.low_hz, band.high_hz) for band in bands] == list(pairwise(BAND_EDGES_HZ))
    for band, (gain_db, share) in zip(bands, want):
        # by hand: the mixture put in; 20 s of 40 Hz of noise settle to about 0.05
        assert band.balance_db == pytest.approx(gain_db, abs=0.4)
        assert band.correlation == pytest.approx(share, abs=0.06)


def test_a_silent_band_has_neither():
    wave = noise(400.0, 900.0)
    bands = read(stereo(wave, wave)).bands
    assert [band.balance_db is not None for band in bands] == [False, False, False, True, False, False, False]
    one = read(stereo(wave, 0.0 * wave)).bands
    assert all(band.balance_db is band.correlation is None for band in one)


def test_bands_above_the_sample_rate_are_empty():
    wave = noise(0.0, 7900.0, rate=16000)
    assert read(stereo(wave, wave), 16000).bands[-1].correlation is None


@pytest.mark.parametrize(
    ("left", "right", "share"),
    # by hand: S²/(M²+S²) with M, S = (l ± r)/√2
    [(1.0, 1.0, 0.0), (1.0, -1.0, 1.0), (1.0, 0.0, 0.5), (1.0, 0.5, 0.1)],
)
def test_vertical_bass_is_the_share_of_the_difference(left, right, share):
    bass = noise(40.0, 280.0)
    treble = noise(1000.0, 5000.0, seed=1)
    found = read(stereo(left * bass + treble, right * bass - treble))
    assert found.vertical_bass_share == pytest.approx(share, abs=1e-4)


def test_without_bass_there_is_no_vertical_share():
    wave = noise(1000.0, 5000.0)
    found = read(stereo(wave, wave))
    assert found.vertical_bass_share is None
    assert found.bass_share < 1e-6


@pytest.mark.parametrize("frames", [0, 1, 1023])
def test_too_little_sound_has_no_spectrum(frames):
    found = read(np.full((frames, 2), 0.1, dtype=np.float32))
    assert found.bandwidth_hz == (None, None)
    assert found.vertical_bass_share is None


def test_a_programme_shorter_than_a_window_is_still_read():
    wave = noise(500.0, 4000.0, seconds=0.2)
    # by hand: the edges put in; 0.2 s resolve about 15 Hz
    assert read(stereo(wave, wave)).bandwidth_hz == pytest.approx((500.0, 4000.0), rel=0.05)


def test_a_low_cliff_is_noted_and_a_high_one_is_not():
    def codes(high_hz):
        wave = noise(30.0, high_hz)
        return [f.code for f in spectrum_findings(read(stereo(wave, wave)))]

    assert codes(11000.0) == ["bandwidth"]
    assert codes(16000.0) == []


def test_a_gentle_end_is_not_a_cliff():
    soft = signal.butter(1, [100.0, 1000.0], "bandpass", fs=RATE, output="sos")
    wave = signal.sosfilt(np.vstack([soft] * 4), np.random.default_rng(5).normal(size=10 * RATE))
    found = read(stereo(0.1 * wave / wave.std(), 0.1 * wave / wave.std()))
    assert found.bandwidth_hz[1] < 15000.0
    assert spectrum_findings(found) == []


def test_vertical_bass_is_noted_where_there_is_bass():
    bass = noise(40.0, 280.0)
    treble = noise(1000.0, 15500.0, seed=1)
    assert [f.code for f in spectrum_findings(read(stereo(bass + treble, treble - bass)))] == ["vertical_bass"]
    assert spectrum_findings(read(stereo(0.01 * bass + treble, treble - 0.01 * bass))) == []
