"""What a playing does to the sound: known mixtures and filters come out, and what cannot be told apart says so."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal

from discwright.inspection import kernels
from discwright.inspection.transfer import APART, Transfer, TransferSums, flat_transfer

Complex = NDArray[np.complex128]

RATE, SIZE = 44_100, 4096
BINS = SIZE // 2 + 1
OMEGA = 2 * np.pi * np.fft.rfftfreq(SIZE, 1 / RATE)
FREQUENCY = np.fft.rfftfreq(SIZE, 1 / RATE)


def spectra(audio: NDArray[np.float64]) -> NDArray[np.complex64]:
    views = np.lib.stride_tricks.sliding_window_view(audio, SIZE, axis=0)[:: SIZE // 2]
    made: NDArray[np.complex64] = np.fft.rfft(views * np.hanning(SIZE + 1)[:-1], axis=2).astype(np.complex64)
    return made


def solved(
    programme: NDArray[np.float64], capture: NDArray[np.float64], part_s: float = 1e9, duration: float | None = None
) -> Transfer:
    p, c = spectra(programme), spectra(capture)
    seconds = duration or len(programme) / RATE
    sums = TransferSums(RATE, BINS, seconds, part_s)
    none = np.zeros(1)
    for k in range(len(p)):
        own, cross = np.zeros((BINS, 2, 2), dtype=complex), np.zeros((BINS, 2, 2), dtype=complex)
        kernels.gather(p[k : k + 1], c[k : k + 1], none, np.ones(1), none, OMEGA, own, cross)
        sums.add((k + 1) * SIZE / 2 / RATE, own, cross)
    return sums.solve()


def music(seconds: float = 6.0, seed: int = 1) -> NDArray[np.float64]:
    rng = np.random.default_rng(seed)
    x: NDArray[np.float64] = signal.lfilter(
        [1.0], [1.0, -0.95], rng.standard_normal((round(seconds * RATE), 2)), axis=0
    )
    return 0.03 * x


def test_a_mixture_comes_out_as_it_was_put_in() -> None:
    mixing = np.array([[0.8, 0.08], [-0.05, 0.7]])
    found = solved(music(), music() @ mixing.T)
    inside = (FREQUENCY > 50) & (FREQUENCY < 20_000)
    assert np.abs(found.mean()[inside] - mixing).max() < 3e-3  # by hand


def test_a_filter_comes_out_with_its_phase() -> None:
    b, a = signal.butter(1, 3000.0, fs=RATE)
    played = signal.lfilter(b, a, music(), axis=0)
    found = solved(music(), played).mean()
    _, expected = signal.freqz(b, a, worN=FREQUENCY, fs=RATE)  # by another road
    inside = (FREQUENCY > 60) & (FREQUENCY < 18_000)
    for c in (0, 1):
        assert np.abs(found[inside, c, c] - expected[inside]).max() < 0.02
        assert np.abs(found[inside, c, 1 - c]).max() < 0.02


def test_noise_in_the_capture_bends_nothing() -> None:
    x = music(20.0)
    noise = 0.03 * np.random.default_rng(5).standard_normal(x.shape)
    found = solved(x, 0.5 * x + noise).mean()
    low = (FREQUENCY > 100) & (FREQUENCY < 2000)  # the music stands over the noise there
    assert np.mean(found[low, 0, 0].real) == pytest.approx(0.5, abs=0.005)
    assert np.mean(np.abs(found[low, 0, 1])) < 0.03


def test_parts_of_a_side_may_differ() -> None:
    x = music(40.0)
    gain = np.where(np.arange(len(x)) < len(x) // 2, 1.0, 0.8)[:, None]
    found = solved(x, x * gain, part_s=20.0)
    assert found.gain.shape == (2, BINS, 2, 2)
    assert found.part_s == pytest.approx(20.0)
    middle = (FREQUENCY > 200) & (FREQUENCY < 5000)
    first, last = (np.mean(np.abs(found.gain[k, middle, 0, 0])) for k in (0, 1))
    # By hand: each part with 15 % of the mean of both: (1 + 0.15·0.9)/1.15 and (0.8 + 0.15·0.9)/1.15.
    assert first == pytest.approx(0.987, abs=0.005)
    assert last == pytest.approx(0.813, abs=0.005)
    assert found.part_of(np.array([-1.0, 0.0, 19.9, 20.1, 99.0])).tolist() == [0, 0, 0, 1, 1]


def test_a_mono_programme_cannot_be_told_apart() -> None:
    x = music()
    both = np.repeat(x[:, :1], 2, axis=1)
    assert solved(both, both).apart.max() < APART
    stereo = solved(x, x).apart
    assert np.median(stereo) > 0.5


def test_energy_is_the_programmes() -> None:
    x = music()
    x[:, 1] *= 0.1
    energy = solved(x, x).energy
    assert np.median(energy[:, 1] / energy[:, 0]) == pytest.approx(0.01, rel=0.1)  # by hand


def test_an_answer_far_from_the_click_is_cut_off() -> None:
    x = music()
    echo = 0.3 * np.roll(x, round(0.06 * RATE), axis=0)  # later than a disc or player can be
    found = solved(x, x + echo).mean()
    answer = np.fft.irfft(found[:, 0, 0], SIZE)
    assert np.abs(answer[round(0.041 * RATE) : -round(0.009 * RATE)]).max() < 1e-9
    assert answer[0] == pytest.approx(1.0, abs=0.05)


def test_a_flat_transfer_and_a_thinned_one() -> None:
    flat = flat_transfer(RATE, BINS, (-0.5, 0.25), 30.0)
    assert flat.mean() == pytest.approx(np.broadcast_to(np.diag([-0.5, 0.25]), (BINS, 2, 2)))
    assert flat.frequency == pytest.approx(FREQUENCY)
    x = music()
    whole = solved(x, x)
    thin = whole.thinned(SIZE // 4 + 1)
    assert thin.frequency == pytest.approx(FREQUENCY[::2])
    assert np.array_equal(thin.gain[0, 5], whole.gain[0, 10])
    assert np.array_equal(thin.energy[5], whole.energy[10])


@pytest.mark.parametrize("corner", [4000.0, 16_000.0])
def test_where_the_programme_ends_noise_makes_no_gain(corner: float) -> None:
    x = signal.sosfiltfilt(signal.butter(8, corner, fs=RATE, output="sos"), music(20.0), axis=0)
    noise = 3e-3 * np.random.default_rng(5).standard_normal(x.shape)
    found = solved(x, x + noise).mean()
    inside = (FREQUENCY > 100) & (0.8 * corner > FREQUENCY)
    assert np.abs(found[inside] - np.eye(2)).max() < 0.25
    assert np.median(np.abs(found[inside] - np.eye(2))) < 0.03
    assert np.abs(found).max() < 15.0  # by hand: no playing lifts a frequency by 20 dB over the rest


@pytest.mark.parametrize("mixing", [[[0.8, 0.1], [0.08, 0.9]], [[0.05, 0.9], [0.7, 0.06]]], ids=["right", "swapped"])
def test_mono_bass_has_the_gain_of_all_else(mixing: list[list[float]]) -> None:
    x = music(20.0)
    spectrum = np.fft.rfft(x, axis=0)
    low = np.fft.rfftfreq(len(x), 1 / RATE) < 300.0
    spectrum[low] = spectrum[low].mean(axis=1, keepdims=True)
    blended = np.fft.irfft(spectrum, len(x), axis=0)
    found = solved(blended, blended @ np.array(mixing).T).mean()
    for band in ((FREQUENCY > 60) & (FREQUENCY < 200), (FREQUENCY > 500) & (FREQUENCY < 5000)):
        # By hand: as it was put in; what cannot be told apart is taken to leak as the rest does.
        assert np.mean(found[band].real, axis=0) == pytest.approx(np.array(mixing), abs=0.02)


def test_silence_has_no_sound() -> None:
    nothing = np.zeros((3 * RATE, 2))
    found = solved(nothing, nothing)
    assert np.isfinite(found.gain).all()
    assert np.abs(found.gain).max() < 1e-6
