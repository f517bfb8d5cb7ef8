"""The treble limiter: the limit holds between the samples, and nothing else is touched."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft
from scipy.signal import firwin, resample_poly

from discwright.errors import CallError
from discwright.groove import kernels
from discwright.groove.curve import recording_filter, wall_response
from discwright.groove.treble import (
    FADE,
    HOLD,
    WINDOW,
    CurvatureLimit,
    TrebleLimiter,
    acceleration_taps,
    treble_taps,
)

Float = NDArray[np.float64]
Single = NDArray[np.float32]
CORNER = 10.0
#: The limiter's own filter keeps within 0.1 % of the curve.
HELD = 1.001


def noise(seconds: float, rate: int, seed: int = 1, top: float = 18_500.0) -> Single:
    """Noise with a falling spectrum up to `top` Hz, different in the two channels, faded in and out in 20 ms."""
    n = round(seconds * rate)
    rng = np.random.default_rng(seed)
    spectrum = np.fft.rfft(rng.standard_normal((n, 2)), axis=0)
    f = np.fft.rfftfreq(n, 1 / rate)
    x = np.fft.irfft(spectrum * ((f > 30) * (f < top) / np.maximum(f, 300.0) ** 0.7)[:, None], n, axis=0)
    i = np.arange(n)
    x *= np.clip(np.minimum(i, n - 1 - i) / (0.02 * rate), 0, 1)[:, None]
    return (0.5 * x / np.abs(x).max()).astype(np.float32)


def burst(
    x: Single, at: int, rate: int, hz: float = 8000.0, size: float = 0.6, channels: tuple[int, ...] = (0, 1)
) -> None:
    """Add a Hann-shaped tone burst of 2 ms that begins at frame `at`; what lies outside is cut off."""
    n = round(0.002 * rate)
    tone = (size * np.hanning(n) * np.sin(2 * np.pi * hz * np.arange(n) / rate)).astype(np.float32)
    lo, hi = max(0, at), min(len(x), at + n)
    for c in channels:
        x[lo:hi, c] += tone[lo - at : hi - at]


def acceleration(x: NDArray[np.floating], rate: int) -> Float:
    """By another road: four values per sample by a long polyphase resampler, then the analogue curve by one FFT.

    One second of silence is added on both sides; the result has shape (4·(n + 2·rate), 2), m/s² at 0 dB.
    """
    padded = np.pad(np.asarray(x, dtype=np.float64), ((rate, rate), (0, 0)))
    up = resample_poly(padded, 4, 1, axis=0, window=firwin(8 * 200 + 1, 0.246, window=("kaiser", 10.0)))
    n = next_fast_len(len(up), real=True)
    f = np.fft.rfftfreq(n, 0.25 / rate)
    f[0] = 1e-6
    response = wall_response(f, CORNER, 2)
    result: Float = irfft(rfft(up, n, axis=0) * response[:, None], n, axis=0)[: len(up)]
    return result


def limited(x: Single, rate: int, limit: CurvatureLimit, splits: tuple[int, ...] = ()) -> tuple[Single, Float, float]:
    parts = list(TrebleLimiter(rate, limit, CORNER).blocks(np.split(x, splits)))
    if not parts:
        return x[:0], np.zeros(0), 0.0
    return (
        np.concatenate([p.block for p in parts]),
        np.concatenate([p.gain for p in parts]),
        max(p.left for p in parts),
    )


def steady(value: float) -> CurvatureLimit:
    return CurvatureLimit(np.array([0.0]), np.array([value]))


def greatest_share(x: Single, rate: int, limit: CurvatureLimit) -> float:
    a = acceleration(x, rate)
    time = np.arange(len(a)) / (4 * rate) - 1.0
    return float((np.abs(a).max(axis=1) / limit.at(time)).max())


@pytest.mark.parametrize(
    ("rate", "share"),
    [(44_100, 0.95), (44_100, 0.5), (44_100, 0.2), (48_000, 0.5), (96_000, 0.95), (96_000, 0.3), (192_000, 0.5)],
)
def test_the_limit_holds_between_the_samples(rate: int, share: float) -> None:
    """By another road, for a limit just touched and one that most of the programme exceeds."""
    x = noise(1.6, rate)
    for at in (0.3, 0.31, 0.9, 1.3):
        burst(x, round(at * rate), rate, 9000.0, 0.3)
    limit = steady(share * float(np.abs(acceleration(x, rate)).max()))
    out, gain, left = limited(x, rate, limit)
    assert len(out) == len(x)
    assert greatest_share(x, rate, limit) == pytest.approx(1 / share, rel=1e-6)
    assert greatest_share(out, rate, limit) <= HELD
    assert left <= 1.0
    assert np.array_equal(out[gain == 1.0], x[gain == 1.0])
    assert gain.min() < 1.0


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_what_never_exceeds_passes_bit_by_bit(rate: int) -> None:
    """By hand: nothing to do, nothing done."""
    x = noise(2.3, rate)
    limit = steady(1.002 * float(np.abs(acceleration(x, rate)).max()))
    out, gain, left = limited(x, rate, limit)
    assert np.array_equal(out, x)
    assert np.all(gain == 1.0)
    assert 0.9 < left <= 1.0


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_only_what_lies_within_reach_is_touched(rate: int) -> None:
    """By hand: a fade of 3 ms before the burst, 3 ms of hold and 3 ms of fade after it, and a cell or two of 0.2 ms."""
    x = noise(1.0, rate) * np.float32(0.05)
    at = rate // 2
    burst(x, at, rate)
    limit = steady(0.6 * float(np.abs(acceleration(x, rate)).max()))
    out, gain, _ = limited(x, rate, limit)
    touched = np.flatnonzero((out != x).any(axis=1))
    lowered = np.flatnonzero(gain < 1.0)
    assert touched[0] >= lowered[0] >= at - (FADE + 0.0006) * rate
    assert touched[-1] <= lowered[-1] <= at + (0.002 + HOLD + FADE + 0.0008) * rate
    # By hand: a burst at 8 kHz lies in the treble, which has to come down by 20·log10(0.6) and half a percent.
    assert gain.min() == pytest.approx(0.6, abs=0.03)


def test_only_one_wall_exceeds_and_both_are_lowered_alike() -> None:
    """By hand: the gain is shared, so what the two channels have in common stays in the middle."""
    rate = 44_100
    x = np.zeros((rate, 2), dtype=np.float32)
    burst(x, rate // 2, rate, 8000.0, 0.6)
    x[:, 1] *= np.float32(0.25)
    limit = steady(0.5 * float(np.abs(acceleration(x, rate)).max()))
    out, _, _ = limited(x, rate, limit)
    np.testing.assert_array_equal(out[:, 1], out[:, 0] * np.float32(0.25))


def test_a_lateral_programme_stays_lateral() -> None:
    """By hand: the same numbers through the same sums."""
    x = noise(1.0, 44_100)
    x[:, 1] = x[:, 0]
    out, gain, _ = limited(x, 44_100, steady(0.4 * float(np.abs(acceleration(x, 44_100)).max())))
    assert gain.min() < 1.0
    assert np.array_equal(out[:, 0], out[:, 1])


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_bursts_at_the_first_and_last_sample(rate: int) -> None:
    """By another road: the programme begins and ends in the middle of a burst, and silence follows."""
    x = noise(0.7, rate) * np.float32(0.1)
    half = round(0.001 * rate)
    burst(x, -half, rate, 7000.0)
    burst(x, len(x) - half, rate, 7000.0)
    limit = steady(0.3 * float(np.abs(acceleration(x, rate)).max()))
    out, _, left = limited(x, rate, limit)
    assert len(out) == len(x)
    # 2 %: a programme cut off in full swing reaches up to the Nyquist frequency, where resamplers differ.
    assert greatest_share(out, rate, limit) <= 1.02
    assert left <= 1.0


@pytest.mark.parametrize("at", [WINDOW - 200, WINDOW - 40, WINDOW - 1, WINDOW, WINDOW + 100, 2 * WINDOW + 30])
def test_bursts_across_the_windows_border(at: int) -> None:
    """By another road, and by hand: the gain makes no step where one window ends."""
    rate = 44_100
    x = noise(3.5, rate) * np.float32(0.1)
    burst(x, at, rate)
    burst(x, at + 350, rate, 6000.0)
    limit = steady(0.3 * float(np.abs(acceleration(x, rate)).max()))
    out, gain, left = limited(x, rate, limit)
    assert greatest_share(out, rate, limit) <= HELD
    assert left <= 1.0
    # A raised cosine of 3 ms moves by pi/2 of its mean slope at most.
    assert np.abs(np.diff(gain)).max() <= 1.1 * np.pi / 2 / (FADE * rate)


def test_a_limit_that_shrinks_with_the_radius() -> None:
    """By another road: the same burst four times, against a limit that falls to a third."""
    rate = 44_100
    x = noise(4.0, rate) * np.float32(0.1)
    for at in (0.5, 1.5, 2.5, 3.5):
        burst(x, round(at * rate), rate)
    top = float(np.abs(acceleration(x, rate)).max())
    limit = CurvatureLimit(np.array([0.0, 4.0]), np.array([1.2 * top, 0.4 * top]))
    out, gain, _ = limited(x, rate, limit)
    assert greatest_share(out, rate, limit) <= HELD
    depths = [gain[round(at * rate) :][: rate // 100].min() for at in (0.5, 1.5, 2.5, 3.5)]
    # By hand: 1.1, 0.9, 0.7 and 0.5 of what the burst asks for.
    assert depths == pytest.approx([1.0, 0.9, 0.7, 0.5], abs=0.04)


def test_bass_that_bends_the_wall_by_itself() -> None:
    """By another road: no treble to lower, so the whole must give way."""
    rate = 44_100
    t = np.arange(rate) / rate
    x = np.stack([np.hanning(rate) * np.sin(2 * np.pi * 400 * t)] * 2, axis=1).astype(np.float32)
    limit = steady(0.5 * float(np.abs(acceleration(x, rate)).max()))
    out, gain, left = limited(x, rate, limit)
    assert greatest_share(out, rate, limit) <= HELD
    assert left <= 1.0
    assert gain.min() < 0.55


def test_a_limit_that_leaves_next_to_nothing() -> None:
    """By another road: a thousandth of what the programme asks for still holds."""
    x = noise(0.5, 44_100)
    limit = steady(0.001 * float(np.abs(acceleration(x, 44_100)).max()))
    out, _, left = limited(x, 44_100, limit)
    assert greatest_share(out, 44_100, limit) <= HELD
    assert left <= 1.0


@pytest.mark.parametrize("n", [0, 1, 2, 3, 97, 4095, WINDOW - 1, WINDOW, WINDOW + 1])
def test_any_length(n: int) -> None:
    """By hand: as long as the input; silence stays silence."""
    x = np.zeros((n, 2), dtype=np.float32)
    out, gain, _ = limited(x, 44_100, steady(100.0))
    assert np.array_equal(out, x)
    assert len(gain) == n
    x[n // 2 : n // 2 + 1] = 0.9
    out, _, left = limited(x, 44_100, steady(2000.0))
    assert out.shape == x.shape
    assert left <= 1.0
    if n:
        # 2 %: one sample alone reaches up to the Nyquist frequency, where resamplers differ.
        assert greatest_share(out, 44_100, steady(2000.0)) <= 1.02


@settings(max_examples=12, deadline=None)
@given(st.lists(st.integers(0, 150_000), max_size=6))
def test_the_bits_do_not_depend_on_the_blocks(cuts: list[int]) -> None:
    """By hand: any division gives the same bits."""
    whole = _PROGRAMME()
    x, limit, wanted = whole
    out, _, _ = limited(x, 44_100, limit, tuple(sorted(cuts)))
    assert np.array_equal(out, wanted)


def _made() -> tuple[Single, CurvatureLimit, Single]:
    x = noise(3.4, 44_100, seed=5)
    limit = steady(0.6 * float(np.abs(acceleration(x, 44_100)).max()))
    return x, limit, limited(x, 44_100, limit)[0]


class _Once:
    def __init__(self) -> None:
        self.kept: tuple[Single, CurvatureLimit, Single] | None = None

    def __call__(self) -> tuple[Single, CurvatureLimit, Single]:
        if self.kept is None:
            self.kept = _made()
        return self.kept


_PROGRAMME = _Once()


@pytest.mark.parametrize("rate", [44_100, 48_000, 88_200, 96_000, 192_000])
def test_the_acceleration_filter_follows_the_curve(rate: int) -> None:
    """Published (IEC 60098 time constants): within 0.1 % up to 0.48 of the sample rate, between the samples too."""
    design, half = recording_filter(rate, CORNER), 96
    f = np.geomspace(10.0, 0.48 * rate, 2000)
    z = np.exp(2j * np.pi * f / rate)
    section = np.polyval(design.b, z) / np.polyval(design.a, z)
    taps = acceleration_taps(rate, CORNER, half, 0.49, 4)
    for p in range(4):
        realised = section * (z[:, None] ** -np.arange(-half, half + 1) @ taps[p])
        wanted = wall_response(f, CORNER, 2) * z ** (p / 4)
        assert np.abs(realised / wanted - 1).max() < 1e-3


@pytest.mark.parametrize("rate", [44_100, 96_000, 192_000])
def test_the_treble_filter(rate: int) -> None:
    """By hand: symmetric, nothing at zero frequency, half at 2 kHz, all above 3 kHz."""
    taps = treble_taps(rate)
    assert np.array_equal(taps, taps[::-1])
    f = np.array([1e-9, 2000.0, 3000.0, 8000.0])
    half = len(taps) // 2
    gain = np.real(np.exp(-2j * np.pi * np.outer(f, np.arange(-half, half + 1)) / rate) @ taps)
    assert gain == pytest.approx([0.0, 0.5, 1.0, 1.0], abs=0.01)


@pytest.mark.parametrize("step", [1, 8, 32, 700])
def test_peaks_between_samples_by_plain_sums(step: int) -> None:
    """By another road: numpy's convolution and argmax."""
    rng = np.random.default_rng(step)
    taps = rng.standard_normal((4, 13))
    cells = 9
    y = rng.standard_normal(cells * step + 12)
    wanted = np.array([1, 1, 0, 0, 1, 0, 1, 1, 1], dtype=bool)
    peak, place = np.full(cells, -7.0), np.full(cells, -7)
    kernels.between_peaks(y, taps, step, wanted, peak, place)
    plain = np.stack([np.convolve(y, row, mode="valid") for row in taps], axis=1).reshape(cells, step * 4)
    best = np.abs(plain).argmax(axis=1)
    np.testing.assert_allclose(peak, np.where(wanted, plain[np.arange(cells), best], -7.0), rtol=1e-12)
    np.testing.assert_array_equal(place, np.where(wanted, best, -7))


@pytest.mark.parametrize(
    ("time", "allowed", "words"),
    [
        ([0.0, 1.0], [100.0], "one acceleration for each of its times; give them in order."),
        ([1.0, 0.0], [100.0, 100.0], "one acceleration for each of its times; give them in order."),
        ([], [], "one acceleration for each of its times; give them in order."),
        ([0.0], [0.0], "A curvature limit is not above zero; give V²/(R·gain) in m/s²."),
        ([0.0], [float("nan")], "A curvature limit is not above zero; give V²/(R·gain) in m/s²."),
    ],
)
def test_a_limit_that_is_none(time: list[float], allowed: list[float], words: str) -> None:
    """By hand."""
    with pytest.raises(CallError) as refused:
        CurvatureLimit(np.array(time), np.array(allowed))
    assert str(refused.value).endswith(words)
