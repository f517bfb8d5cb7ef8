"""What the disc adds: known additions come back as the numbers that went in, and linear changes are none."""

from __future__ import annotations

import math
from dataclasses import fields, replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from discwright.errors import CallError
from discwright.groove.distortion import OCTAVES_HZ, DepartureMeter, Departures, worst_spots

Float = NDArray[np.float64]
Complex = NDArray[np.complex128]
RATE = 44_100
RATES = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)
#: By hand: power of two nearest to 46 ms.
FRAME = {44_100: 2048, 48_000: 2048, 88_200: 4096, 96_000: 4096, 176_400: 8192, 192_000: 8192}


def compare(programme: NDArray[np.floating], proof: NDArray[np.floating], rate: int = RATE) -> Departures:
    meter = DepartureMeter(rate)
    meter.push(programme, proof)
    return meter.result()


def assert_equal(one: Departures, other: Departures) -> None:
    for field in fields(Departures):
        np.testing.assert_array_equal(getattr(one, field.name), getattr(other, field.name), field.name)


def tones(parts: dict[float, float], seconds: float = 3.0, rate: int = RATE) -> Float:
    """Steady sines, frequency in Hz to amplitude, alike in both channels, shape (n, 2)."""
    t = np.arange(round(seconds * rate)) / rate
    x = sum(amplitude * np.sin(2 * np.pi * hz * t + hz) for hz, amplitude in parts.items())
    return np.repeat(np.asarray(x, dtype=np.float64)[:, None], 2, axis=1)


def noise(seconds: float, top: float = 20_000.0, rate: int = RATE, seed: int = 1) -> Float:
    """White noise from 30 Hz to `top` Hz, rms 0.1, different in the two channels, shape (n, 2)."""
    n = round(seconds * rate)
    f = np.fft.rfftfreq(n, 1 / rate)
    spectrum = np.fft.rfft(np.random.default_rng(seed).standard_normal((n, 2)), axis=0)
    x = np.fft.irfft(spectrum * ((f > 30) & (f < top))[:, None], n, axis=0)
    return np.asarray(0.1 * x / x.std(), dtype=np.float64)


def filtered(x: Float, response: Complex) -> Float:
    """A filter with this response at each frequency of the whole sound; what runs out at its end comes in again."""
    return np.asarray(np.fft.irfft(np.fft.rfft(x, axis=0) * response[:, None], len(x), axis=0), dtype=np.float64)


def octave(hz: float) -> int:
    return OCTAVES_HZ.index(hz)


# Known additions ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("hz", "third_in"), [(997.0, 4000.0), (20 * 44_100 / 1024, 2000.0), (40.5 * 44_100 / 2048, 2000.0)]
)
def test_a_tone_with_harmonics_added(hz: float, third_in: float) -> None:
    """The second and third frequency lie exactly on a bin and exactly between two, where leakage is least and most."""
    x = tones({hz: 0.5})
    found = compare(x, x + tones({2 * hz: 0.01, 3 * hz: 0.005}))
    # By hand: 2 % and 1 % of the tone, over tone and both.
    whole = math.sqrt(1 + 0.02**2 + 0.01**2)
    np.testing.assert_allclose(found.distortion, math.hypot(0.02, 0.01) / whole, rtol=2e-3)
    # By hand: 1.7 to 2.6 kHz lie in the octave of 2 kHz (1413 to 2818 Hz), 2.99 kHz in that of 4 kHz.
    energy = np.zeros(len(OCTAVES_HZ))
    energy[octave(2000.0)] += 0.02**2
    energy[octave(third_in)] += 0.01**2
    np.testing.assert_allclose(found.band_distortion, np.tile(np.sqrt(energy) / whole, (3, 1)), rtol=2e-3, atol=2e-4)


def test_a_square_wave_where_a_sine_was() -> None:
    hz = 441.3
    odd = np.arange(1, 45, 2)
    x = tones({hz: 0.4})
    found = compare(x, tones({n * hz: 0.5 / n for n in odd.tolist()}))
    # By hand: Fourier series of the square, 1/n; the fundamental's own gain of 1.25 is linear.
    expected = math.sqrt(np.sum(1.0 / odd[1:] ** 2) / np.sum(1.0 / odd**2))
    np.testing.assert_allclose(found.distortion, expected, rtol=2e-3)


@pytest.mark.parametrize("curve", [0.02, 0.2, 1.0])
def test_a_bent_line_on_noise(curve: float) -> None:
    x = noise(6.0, top=9000.0)
    y = x + curve * x**2
    # Direct current is below the bands.
    y -= y.mean(axis=0)
    # By another road: what a straight line through the samples leaves; what the square adds reaches to 18 kHz, and
    # below 22 Hz lies 1/400 of it.
    left = [one - np.polyval(np.polyfit(own, one, 1), own) for own, one in zip(x.T, y.T)]
    expected = math.sqrt(np.mean(np.square(left)) / np.mean(y**2))
    found = compare(x, y)
    assert float(np.sqrt(np.mean(found.distortion**2))) == pytest.approx(expected, rel=0.01)
    np.testing.assert_allclose(found.distortion, expected, rtol=0.06)


def test_two_tones_and_what_they_make_together() -> None:
    a, b, curve = 0.4, 0.2, 0.1
    x = tones({400.0: a, 4000.0: b})
    y = x + curve * (x**2 - (a**2 + b**2) / 2)
    found = compare(x, y)
    # By hand: (a·sin p + b·sin q)² = (a² + b²)/2 - a²/2·cos 2p - b²/2·cos 2q + ab·cos(p - q) - ab·cos(p + q).
    double_low, double_high, beside = curve * a**2 / 2, curve * b**2 / 2, curve * a * b
    added = double_low**2 + double_high**2 + 2 * beside**2
    whole = a**2 + b**2 + added
    np.testing.assert_allclose(found.distortion, math.sqrt(added / whole), rtol=2e-3)
    # 3600 and 4400 Hz lie in the third-octave of the 4 kHz tone itself, and yet its gain does not explain them.
    share = found.band_distortion[:, octave(4000.0)]
    np.testing.assert_allclose(share, beside * math.sqrt(2 / whole), rtol=2e-3)
    np.testing.assert_allclose(found.band_distortion[:, octave(1000.0)], double_low / math.sqrt(whole), rtol=2e-3)
    np.testing.assert_allclose(found.band_distortion[:, octave(8000.0)], double_high / math.sqrt(whole), rtol=2e-3)


def test_distortion_of_one_channel_counts_over_both() -> None:
    x = tones({997.0: 0.5})
    y = x.copy()
    y[:, 1] += tones({1994.0: 0.02})[:, 1]
    # By hand: 4 % in one of two equal channels.
    np.testing.assert_allclose(compare(x, y).distortion, 0.04 / math.sqrt(2 + 0.04**2), rtol=2e-3)


@pytest.mark.parametrize(("added_hz", "where"), [(2805.0, 2000.0), (2832.0, 4000.0), (44.0, 31.5), (11_170.0, 8000.0)])
def test_octaves_end_where_the_standard_says(added_hz: float, where: float) -> None:
    # Published: IEC 61260-1, base ten; by hand: 10^3.45 = 2818 Hz, 10^1.65 = 44.7 Hz, 10^4.05 = 11 220 Hz. A tone
    # half a bin from an edge falls mostly on its own side.
    x = tones({300.0: 0.5})
    found = compare(x, x + tones({added_hz: 0.01}))
    assert np.argmax(found.band_distortion, axis=1).tolist() == [octave(where)] * 3


def test_what_lies_outside_the_bands_is_not_heard() -> None:
    x = tones({997.0: 0.5}, rate=96_000)
    y = x + tones({20_100.0: 0.1, 30_000.0: 0.1}, rate=96_000)
    inner = compare(x, y, 96_000).distortion[1]
    # By hand: 20.1 kHz lies 4 bins above the last, 30 kHz far outside; 0.2 of the tone would count otherwise.
    assert inner < 0.004


# Linear changes ----------------------------------------------------------------------------------------


def test_a_proof_equal_to_its_programme_has_none() -> None:
    for x in (noise(3.0), noise(3.0).astype(np.float32), tones({997.0: 1.0}), 1e-3 * noise(3.0)):
        assert compare(x, x).distortion.max() < 2e-7


@given(gains=st.tuples(*[st.floats(0.01, 1.4), st.floats(-1.4, -0.01)]), seed=st.integers(0, 99))
@settings(max_examples=20, deadline=None)
def test_a_gain_of_each_channel_has_none(gains: tuple[float, float], seed: int) -> None:
    x = noise(1.0, seed=seed)
    assert compare(x, x * np.array(gains)).distortion.max() < 1e-6


def test_rounding_to_single_precision_is_far_below_what_counts() -> None:
    x = noise(3.0)
    wide, single = compare(x, 0.9 * x), compare(x.astype(np.float32), (0.9 * x).astype(np.float32))
    assert max(wide.distortion.max(), single.distortion.max()) < 1e-6
    np.testing.assert_allclose(wide.level_db, single.level_db, atol=1e-6)


#: Frequencies of 3 s, Hz.
F = np.fft.rfftfreq(3 * RATE, 1 / RATE)
LINEAR = {
    # Name: response, and what it may read on white noise at most.
    "a shelf of 3 dB around 1 kHz": ((1 + 1j * F / 1190) / (1 + 1j * F / 841), 0.006),
    "a delay of 0.01 sample": (np.exp(-2j * np.pi * F / RATE * 0.01), 0.001),
    "a delay of 0.02 sample": (np.exp(-2j * np.pi * F / RATE * 0.02), 0.002),
    "an all-pass of 1 µs": ((1 - 1j * F * np.pi * 1e-6) / (1 + 1j * F * np.pi * 1e-6), 0.005),
    "a low-pass at 20 kHz": (1 / (1 + 1j * F / 20_000), 0.03),
    "12 dB per octave above 8 kHz": (np.where(F > 8000, (8000 / np.maximum(F, 1.0)) ** 2, 1.0) + 0j, 0.065),
}


def beside_one_gain(response: Complex, top: float) -> float:
    """By another road: a dense integral of what one gain in each third-octave leaves of white noise, up to `top` Hz."""
    third = np.rint(10 * np.log10(np.maximum(F, 1.0) / 1000))
    inside = np.logical_and(F > 30, top > F)
    bands = [response[inside & (third == k)] for k in np.unique(third[inside])]
    left = sum(float(np.sum(np.abs(band - band.mean()) ** 2)) for band in bands)
    return math.sqrt(left / float(np.sum(np.abs(response[inside]) ** 2)))


@pytest.mark.parametrize("name", LINEAR)
def test_linear_filters_leave_only_what_changes_within_a_third_octave(name: str) -> None:
    response, most = LINEAR[name]
    x = noise(3.0)
    found = compare(x, filtered(x, response))
    # The bands end at 0.45 of the sample rate.
    assert found.distortion.mean() == pytest.approx(beside_one_gain(response, 0.45 * RATE), rel=0.05)
    assert found.distortion.max() < most


def test_a_gain_greater_than_allowed_is_told() -> None:
    x = noise(2.0)
    # By hand: of twice the programme the linear part is 1.5, a quarter is left.
    np.testing.assert_allclose(compare(x, 2 * x).distortion, 0.25, rtol=1e-5)


def test_a_gain_that_moves_within_a_second_is_told() -> None:
    x = noise(3.0)
    rise = 10 ** (np.arange(len(x)) % RATE / RATE / 20)
    # By hand: the deviation over the root mean square of a straight line from 1 to 10^(1/20) = 1.122.
    expected = 0.122 / math.sqrt(12) / math.hypot(1.061, 0.122 / math.sqrt(12))
    np.testing.assert_allclose(compare(x, x * rise[:, None]).distortion, expected, rtol=0.05)


def test_a_steady_sound_hides_what_is_added_to_its_own_harmonics() -> None:
    """A limit of the method: another note in the same third-octave brings most of it out."""
    x, added = tones({997.0: 0.5, 1994.0: 0.05}), tones({1994.0: 0.01})
    assert compare(x, x + added).distortion[1] < 1e-4
    other = tones({2130.0: 0.05})
    # By hand: of two equal tones, one 1.2 times as strong, the gain 1.1 leaves 0.1 of each.
    expected = 0.1 * 0.05 * math.sqrt(2) / math.sqrt(0.5**2 + 0.06**2 + 0.05**2)
    assert compare(x + other, x + other + added).distortion[1] == pytest.approx(expected, rel=5e-3)


# The slow twin -----------------------------------------------------------------------------------------


def slowly(x: Float, y: Float, rate: int) -> tuple[Float, Float, Float]:
    """By another road: frame by frame in float64, sums of squares by their formula; distortion, octaves, peak times."""
    size = FRAME[rate]
    half = size // 2
    window = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(size) / size)
    step = rate / size
    padded = [np.concatenate([np.zeros((half, 2)), one, np.zeros((size, 2))]) for one in (x, y)]
    edges = [1000 * 10 ** ((k - 0.5) / 10) for k in range(-16, 15)]
    groups: list[list[int]] = [[]]
    bins = range(1, int(min(20_000, 0.45 * rate) / step) + 1)
    for b in bins:
        edge = next((e for e in edges[1:] if (b - 1) * step < e <= b * step), None)
        if edge is not None and len(groups[-1]) >= 2:
            groups.append([])
        groups[-1].append(b)
    shares, octaves, peaks = [], [], []
    for second in range(math.ceil(len(x) / rate)):
        centres = [c for c in range(0, len(x), half) if second * rate <= c < (second + 1) * rate]
        left = np.zeros((len(centres), size // 2 + 1))
        whole = 0.0
        for channel in range(2):
            a, b = (np.array([np.fft.rfft(window * one[c : c + size, channel]) for c in centres]) for one in padded)
            whole += float(np.sum(np.abs(b[:, bins[0] : bins[-1] + 1]) ** 2))
            for group in groups:
                u, v = a[:, group], b[:, group]
                gain = np.vdot(u, v) / np.vdot(u, u).real
                gain *= min(1.0, 1.5 / abs(gain))
                left[:, group] += np.abs(v) ** 2 - 2 * np.real(np.conj(gain) * np.conj(u) * v) + np.abs(gain * u) ** 2
        low = [1, *(math.ceil(1000 * 10 ** ((3 * k - 0.5 - 16) / 10) / step) for k in range(1, 10)), bins[-1] + 1]
        shares.append(math.sqrt(left.sum() / whole))
        octaves.append([math.sqrt(left[:, i:j].sum() / whole) for i, j in pairwise(low)])
        peaks.append(centres[int(np.argmax(left.sum(axis=1)))] / rate)
    return np.array(shares), np.array(octaves), np.array(peaks)


@pytest.mark.parametrize("rate", RATES)
def test_the_slow_twin_agrees(rate: int) -> None:
    x = noise(2.4, rate=rate)
    x *= np.array([1.0, 0.3])
    y = 0.8 * x + 0.5 * np.roll(x, 3, axis=0) ** 2 + 0.1 * np.roll(x, 1, axis=0)
    found = compare(x, y, rate)
    shares, octaves, peaks = slowly(x, y, rate)
    np.testing.assert_allclose(found.distortion, shares, rtol=1e-5)
    np.testing.assert_allclose(found.band_distortion, octaves, rtol=1e-4)
    np.testing.assert_array_equal(found.peak_time, peaks)


# Seconds -----------------------------------------------------------------------------------------------


def test_the_bad_second_and_its_moment_are_found() -> None:
    x = noise(9.0, top=4000.0)
    y = x.copy()
    # A burst of second harmonic, 60 ms around 5.37 s.
    t = np.arange(len(x)) / RATE
    y[:, 0] += 0.1 * np.exp(-(((t - 5.37) / 0.02) ** 2)) * np.sin(2 * np.pi * 9000.0 * t)
    found = compare(x, y)
    assert int(np.argmax(found.distortion)) == 5
    assert np.delete(found.distortion, 5).max() < 1e-6 < 0.01 < found.distortion[5]
    assert found.peak_time[5] == pytest.approx(5.37, abs=0.05)
    (spot,) = worst_spots(replace(found, distortion=np.where(found.distortion < 1e-6, 0.0, found.distortion)))
    assert (spot.time, spot.octave_hz) == (found.peak_time[5], 8000.0)


def test_peak_times_lie_in_their_seconds() -> None:
    for rate in RATES:
        x = noise(3.3, rate=rate)
        meter = DepartureMeter(rate, start=17.25)
        meter.push(x, x + x**2)
        found = meter.result()
        np.testing.assert_array_equal(found.time, 17.25 + np.arange(4))
        assert np.all(found.peak_time >= found.time)
        assert np.all(found.peak_time < found.time + 1)


@pytest.mark.parametrize(
    ("samples", "seconds"),
    [(0, 0), (1, 1), (10, 1), (2205, 1), (44_100, 1), (46_305, 1), (48_509, 1), (48_510, 2), (90_000, 2)],
)
def test_short_programmes(samples: int, seconds: int) -> None:
    """By hand: a last second counts from 0.1 s on, 4410 samples."""
    x = 0.3 * np.ones((samples, 2)) * np.array([1.0, -1.0])
    x[::2] *= -1.0
    found = compare(x, x)
    assert len(found.time) == seconds
    assert found.band_distortion.shape == (seconds, len(OCTAVES_HZ))
    assert np.all(found.distortion < 1e-5)
    np.testing.assert_allclose(found.level_db, 20 * math.log10(0.3 * math.sqrt(2)), atol=1e-5)


@pytest.mark.parametrize("seconds", [0.05, 1.05, 1.15])
def test_short_programmes_show_what_was_added(seconds: float) -> None:
    x = tones({997.0: 0.5}, seconds)
    found = compare(x, x + tones({1994.0: 0.01}, seconds))
    # By hand 2 %; with 3 frames, all cut off at an end, the ends' own spectra blur it.
    np.testing.assert_allclose(found.distortion, 0.02, rtol=0.1 if seconds < 0.1 else 5e-3)


def test_what_is_found_so_far_may_be_asked_at_any_time() -> None:
    x = noise(3.5)
    y = x + x**2
    meter = DepartureMeter(RATE)
    meter.push(x[:100_000], y[:100_000])
    assert_equal(meter.result(), compare(x[:100_000], y[:100_000]))
    begun = meter.result(end=False)
    assert len(begun.time) == 2
    meter.push(x[100_000:], y[100_000:])
    whole = meter.result()
    assert_equal(whole, compare(x, y))
    assert_equal(whole, meter.result())
    np.testing.assert_array_equal(begun.distortion, whole.distortion[:2])
    assert len(meter.result(end=False).time) == 3


PROGRAMME = noise(2.3, seed=3)
PROOF = 0.9 * PROGRAMME + 0.4 * np.roll(PROGRAMME, 2, axis=0) ** 2


@given(cuts=st.lists(st.integers(0, len(PROGRAMME)), max_size=12), width=st.integers(1, 5000))
@settings(max_examples=30, deadline=None)
def test_how_it_is_divided_into_blocks_changes_nothing(cuts: list[int], width: int) -> None:
    meter = DepartureMeter(RATE)
    some = [*sorted(cuts), len(PROGRAMME)]
    # Small even blocks up to the first cut, then any.
    for begin, end in pairwise([*range(0, some[0], width), *some]):
        meter.push(PROGRAMME[begin:end], PROOF[begin:end])
    assert_equal(meter.result(), compare(PROGRAMME, PROOF))


def test_swapped_channels_change_nothing() -> None:
    one, other = compare(PROGRAMME, PROOF), compare(PROGRAMME[:, ::-1], PROOF[:, ::-1])
    for field in fields(Departures):
        np.testing.assert_allclose(getattr(one, field.name), getattr(other, field.name), rtol=1e-12)


@given(gain=st.floats(0.01, 1.0), curve=st.floats(0.0, 10.0), seed=st.integers(0, 99))
@settings(max_examples=20, deadline=None)
def test_shares_hold_whatever_the_sound(gain: float, curve: float, seed: int) -> None:
    x = noise(1.5, seed=seed)
    y = x + curve * np.abs(x) * x
    found = compare(x, y)
    assert np.all((found.distortion >= 0.0) & (found.distortion <= 1.0))
    np.testing.assert_allclose(np.sqrt(np.sum(found.band_distortion**2, axis=1)), found.distortion, rtol=1e-9)
    softer = compare(gain * x, gain * y)
    np.testing.assert_allclose(softer.distortion, found.distortion, rtol=1e-4, atol=1e-6)
    np.testing.assert_allclose(softer.level_db, found.level_db + 20 * math.log10(gain), atol=1e-5)


# Silence, mono, level, treble --------------------------------------------------------------------------


def test_silence() -> None:
    still, x = np.zeros((2 * RATE, 2)), noise(2.0)
    for programme, proof in ((still, still), (still, x)):
        found = compare(programme, proof)
        assert found.level_db.tolist() == [-math.inf] * 2
        assert found.distortion.tolist() == [0.0] * 2
        assert not found.band_distortion.any()
        assert np.isnan(found.treble_db).all()
        assert worst_spots(found) == ()
    lost = compare(x, still)
    assert lost.distortion.tolist() == [0.0] * 2
    assert np.isnan(lost.treble_db).all()


@pytest.mark.parametrize(("level_db", "distorted"), [(-69.5, True), (-70.5, False)])
def test_what_is_too_soft_has_no_distortion(level_db: float, distorted: bool) -> None:
    x = tones({997.0: 10 ** (level_db / 20)})
    found = compare(x, x + np.roll(x, 1, axis=0) ** 2 * 100)
    np.testing.assert_allclose(found.level_db, level_db, atol=1e-3)
    assert (found.distortion > 0.0).tolist() == [distorted] * 3
    assert found.band_distortion.any() == distorted


def test_mono_and_a_silent_channel_read_alike() -> None:
    left = PROGRAMME.copy(), PROOF.copy()
    both = tuple(np.repeat(one[:, :1], 2, axis=1) for one in left)
    for one in left:
        one[:, 1] = 0.0
    mono, single = compare(*both), compare(*left)
    np.testing.assert_allclose(mono.distortion, single.distortion, rtol=1e-12)
    np.testing.assert_allclose(mono.band_distortion, single.band_distortion, rtol=1e-12)
    np.testing.assert_allclose(mono.treble_db, single.treble_db, atol=1e-9)
    # By hand: one of two channels has half the power.
    np.testing.assert_allclose(mono.level_db - single.level_db, 10 * math.log10(2), atol=1e-9)


def test_a_full_scale_sine_is_0_db() -> None:
    x = tones({1000.0: 1.0})
    np.testing.assert_allclose(compare(x, x).level_db, 0.0, atol=1e-6)


@pytest.mark.parametrize("rate", RATES)
def test_treble_that_does_not_come_back(rate: int) -> None:
    x = tones({997.0: 0.5, 9000.0: 0.02, 15_000.0: 0.01}, rate=rate)
    y = tones({997.0: 0.3, 9000.0: 0.01, 15_000.0: 0.0025}, rate=rate)
    # By hand: half of four parts and a quarter of one, by energy.
    expected = 10 * math.log10((0.5**2 * 4 + 0.25**2) / 5)
    found = compare(x, y, rate)
    # A tone cut off at either end has treble of its own there, which comes back whole.
    np.testing.assert_allclose(found.treble_db[1], expected, atol=0.01)
    np.testing.assert_allclose(found.treble_db, expected, atol=0.5)


def test_treble_is_what_lies_between_8_and_16_khz() -> None:
    x, f = noise(3.0), np.fft.rfftfreq(3 * RATE, 1 / RATE)
    y = filtered(x, np.where((f < 7000) | (f > 18_000), 0.1, 1.0) + 0j)
    # The third-octaves that hold 8 and 16 kHz reach from 7079 to 17 783 Hz; all of them come back whole.
    np.testing.assert_allclose(compare(x, y).treble_db, 0.0, atol=0.02)
    lower = filtered(x, 1 / (1 + 1j * f / 10_000))
    # By another road: the mean of 1/(1 + u²) from 0.8 to 1.6, by hand its arc tangents; the steps of one gain per
    # third-octave and what it leaves behind cost a little.
    expected = 10 * math.log10((math.atan(1.6) - math.atan(0.8)) / 0.8)
    np.testing.assert_allclose(compare(x, lower).treble_db, expected, atol=0.06)


@pytest.mark.parametrize(("level_db", "known"), [(-79.5, True), (-80.5, False)])
def test_too_little_treble_is_not_judged(level_db: float, known: bool) -> None:
    treble = 10 ** (level_db / 20)
    # Where the tones begin and end there is more treble; the seconds between have what is put in.
    x = tones({500.0: 0.01, 10_000.0: treble}, 4.0)
    y = tones({500.0: 0.01, 10_000.0: 0.5 * treble}, 4.0)
    inner = compare(x, y).treble_db[1:3]
    assert (~np.isnan(inner)).tolist() == [known] * 2
    if known:
        np.testing.assert_allclose(inner, 20 * math.log10(0.5), atol=0.01)


# Calls -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("one", "other"), [((5, 2), (4, 2)), ((5,), (5,)), ((5, 3), (5, 3)), ((5, 1), (5, 1))])
def test_what_cannot_be_compared_is_refused(one: tuple[int, ...], other: tuple[int, ...]) -> None:
    with pytest.raises(CallError, match=r"cannot be compared; give both the shape \(n, 2\)\.$"):
        DepartureMeter(RATE).push(np.zeros(one), np.zeros(other))


def made_up(distortion: list[float], peak_time: list[float] | None = None) -> Departures:
    """Departures made up for the purpose; second k has most of it in octave k."""
    n = len(distortion)
    time = np.arange(n, dtype=np.float64)
    return Departures(
        time, time + 0.5 if peak_time is None else np.array(peak_time), np.full(n, -20.0), np.array(distortion),
        np.eye(n, len(OCTAVES_HZ)) * 0.1, np.zeros(n),
    )  # fmt: skip


def test_worst_spots_come_worst_first() -> None:
    found = worst_spots(made_up([0.1, 0.0, 0.3, 0.0, 0.2]))
    assert [(spot.time, spot.distortion) for spot in found] == [(2.5, 0.3), (4.5, 0.2), (0.5, 0.1)]
    assert [spot.octave_hz for spot in found] == [125.0, 500.0, 31.5]


def test_worst_spots_lie_apart() -> None:
    # By hand: 3.0 s is too near to 1.9 s and to 4.0 s by turns; 3.9 s lies just 2 s from 1.9 s.
    found = made_up([0.0, 0.9, 0.8, 0.7], [0.0, 1.9, 3.0, 3.9])
    assert [spot.time for spot in worst_spots(found)] == [1.9, 3.9]
    assert [spot.time for spot in worst_spots(found, apart=1.0)] == [1.9, 3.0]
    assert [spot.time for spot in worst_spots(found, apart=0.5)] == [1.9, 3.0, 3.9]


def test_worst_spots_are_counted() -> None:
    found = made_up([0.2] * 10)
    # Of equals the first.
    assert [spot.time for spot in worst_spots(found)] == [0.5, 2.5, 4.5, 6.5, 8.5]
    assert [spot.time for spot in worst_spots(found, most=2)] == [0.5, 2.5]
    assert worst_spots(found, most=0) == ()
    assert worst_spots(made_up([])) == ()
    assert worst_spots(made_up([0.0, 0.0])) == ()
