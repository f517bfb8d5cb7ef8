"""Each compiled loop against a plain NumPy or SciPy twin; the same file also runs uncompiled."""

from __future__ import annotations

import os
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import maximum_filter1d
from scipy.signal import lfilter, sosfilt

from discwright.groove import kernels

UNCOMPILED = os.environ.get("NUMBA_DISABLE_JIT") == "1"
N = 700 if UNCOMPILED else 20_000
RNG = np.random.default_rng(7)


def plain(kernel: Any) -> Any:
    """The Python function under a compiled one."""
    return getattr(kernel, "py_func", kernel)


def test_recursive_section_carries_its_state() -> None:
    x = RNG.standard_normal(N).astype(np.float32)
    b, a = np.array([0.5, -0.2, 0.1, 0.05]), np.array([1.0, -1.2, 0.5, -0.1])
    y, state = np.empty(N, dtype=np.float32), np.zeros(3)
    kernels.recursive_section(x[:300], b, a, state, y[:300])
    kernels.recursive_section(x[300:], b, a, state, y[300:])
    # Another road: SciPy in float64; float32 output holds 24 bits.
    np.testing.assert_allclose(y, lfilter(b, a, x.astype(np.float64)), rtol=2e-6, atol=2e-6)


@pytest.mark.parametrize("taps", [1, 4, 5, 24, 25])
def test_convolve(taps: int) -> None:
    y = RNG.standard_normal(N).astype(np.float32)
    c = RNG.standard_normal(taps).astype(np.float32)
    out = np.empty(N - taps + 1, dtype=np.float32)
    kernels.convolve(y, c, out)
    # Another road: np.convolve; float32 sums of up to 25 terms.
    np.testing.assert_allclose(out, np.convolve(y, c, "valid"), rtol=1e-4, atol=2e-5)


def test_biquads() -> None:
    x = RNG.standard_normal(N).astype(np.float32)
    sections = np.array([[0.3, 0.1, 0.2, -0.5, 0.2], [1.0, -1.0, 0.0, 0.3, 0.1]])
    y, state = np.empty(N, dtype=np.float32), np.zeros((2, 2))
    kernels.biquads(x[:100], sections, state, y[:100])
    kernels.biquads(x[100:], sections, state, y[100:])
    sos = np.column_stack([sections[:, :3], np.ones(2), sections[:, 3:]])
    # Another road: SciPy; float32 between the sections.
    np.testing.assert_allclose(y, sosfilt(sos, x.astype(np.float64)), rtol=1e-5, atol=1e-5)


@pytest.mark.parametrize("reach", [0, 1, 5, 220])
def test_sliding_max(reach: int) -> None:
    x = RNG.standard_normal(N).astype(np.float32)
    out = np.empty(N - 2 * reach, dtype=np.float32)
    kernels.sliding_max(x, reach, np.empty_like(x), out)
    # Another road: SciPy's filter, exact.
    wanted = maximum_filter1d(x, 2 * reach + 1)[reach : N - reach]
    np.testing.assert_array_equal(out, wanted)


def hulls(w: np.ndarray, bounds: np.ndarray, step: int = 1, room: int = 4000) -> tuple[np.ndarray, ...]:
    limits = np.ceil(bounds - 1e-6).astype(np.int64)
    start = np.zeros(len(bounds), dtype=np.int64)
    place, value = np.empty((2, room))
    used = kernels.upper_hulls(w, 0, bounds, limits, 0, len(bounds) - 1, step, start, place, value, 0)
    return used, start, place, value


@settings(max_examples=5 if UNCOMPILED else 60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(-3, 3), st.floats(-3, 3), st.sampled_from([1, 4, 16]))
def test_a_line_clears_a_hull_exactly_if_it_clears_every_sample(
    seed: int, left: float, right: float, step: int
) -> None:
    rng = np.random.default_rng(seed)
    w = np.cumsum(rng.standard_normal(260)).astype(np.float32)
    bounds = np.array([0.0, 40.5, 130.25, 255.0])
    _, start, place, value = hulls(w, bounds, step)
    for k in range(3):
        at = np.arange(int(np.ceil(bounds[k])), int(np.ceil(bounds[k + 1])))
        s = (at - bounds[k]) / (bounds[k + 1] - bounds[k])
        line = w[at].max() + left * (1 - s) + right * s
        here = slice(start[k], start[k + 1])
        gap = (w[at].max() + left * (1 - place[here]) + right * place[here] - value[here]).min()
        true = (line - w[at]).min()
        # By another road: brute force. Grouped samples and held ends may only claim less room, never more.
        assert gap <= true + 1e-5
        slope = abs(right - left)
        assert gap >= true - slope * (step + 1) / len(at) - (0 if step == 1 else np.abs(np.diff(w)).max() * step) - 1e-5


def test_hulls_say_where_the_room_ended_and_go_on() -> None:
    w = (-((np.arange(300) % 100 - 50.0) ** 2)).astype(np.float32)
    bounds = np.array([0.0, 100.0, 200.0, 299.0])
    used, *_ = hulls(w, bounds, room=120)
    # By hand: an arc of 100 samples is all corners, so the second sector no longer fits.
    assert used == -2


@settings(max_examples=5 if UNCOMPILED else 60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(0.0, 2.0))
def test_thinned_corners_bound_the_hull_from_above(seed: int, tolerance: float) -> None:
    rng = np.random.default_rng(seed)
    w = np.cumsum(rng.standard_normal(200)).astype(np.float32)
    used, start, place, value = hulls(w, np.array([0.0, 99.5, 199.0]))
    bound, keep = value[:used].copy(), np.zeros(used, dtype=np.bool_)
    kernels.thin_corners(start, place[:used], bound, tolerance, keep)
    for k in range(2):
        here = np.arange(start[k], start[k + 1])
        kept = here[keep[here]]
        chord = np.interp(place[here], place[kept], bound[kept])
        assert (chord >= value[here] - 1e-9).all()
        # Raised by the tolerance at most.
        assert (bound[kept] <= value[kept] + tolerance + 1e-9).all()


def peaks(v: np.ndarray, a: np.ndarray, limits: np.ndarray, rate: float) -> list[np.ndarray]:
    found = [np.zeros(len(limits)) for _ in range(5)]
    kernels.wall_peaks(v, a, 0, limits, 0, 1 / rate, *found)
    return found


def test_peaks_between_samples() -> None:
    rate, frequency = 44_100.0, 6_300.0
    n = N - N % 7
    t = (np.arange(n) + 0.5) / rate
    phase = 0.37
    v = np.sin(2 * np.pi * frequency * t + phase).astype(np.float32)
    ta = np.arange(n + 1) / rate
    a = (2 * np.pi * frequency * np.cos(2 * np.pi * frequency * ta + phase)).astype(np.float32)
    limits = np.array([0, n + 10], dtype=np.int64)
    v_peak, v_place, a_peak, a_place, heat = peaks(v, a, limits, rate)
    # 6300 Hz at 44.1 kHz repeats every seven samples, so its sampled peak falls short. By hand: the true one is 1.
    assert np.abs(v).max() < 0.99
    assert v_peak[0] == pytest.approx(1.0, abs=0.006)
    assert a_peak[0] == pytest.approx(np.abs(a[:-1]).max(), rel=1e-6)
    assert abs(a[int(a_place[0])]) == np.float32(a_peak[0])
    assert heat[0] == pytest.approx(np.sum(a[:-1].astype(np.float64) ** 2), rel=1e-6)
    assert 0 <= v_place[0] < n


def test_peaks_go_to_their_sector() -> None:
    v = np.zeros(300, dtype=np.float32)
    a = np.zeros(301, dtype=np.float32)
    v[150], a[250] = -3.0, 5.0
    limits = np.array([0, 100, 200, 310], dtype=np.int64)
    v_peak, v_place, a_peak, a_place, _ = peaks(v, a, limits, 1.0)
    # By hand.
    assert v_peak[:2].tolist() == [0.0, 3.0]
    assert a_peak[:3].tolist() == [0.0, 0.0, 5.0]
    assert (v_place[1], a_place[2]) == (150.5, 250.0)


def test_curvature_histogram() -> None:
    left, right = (np.exp(RNG.uniform(-6, 12, (2, N)))).astype(np.float32)
    limits = np.array([0, N // 2, N + 5], dtype=np.int64)
    counts = np.zeros((2, kernels.HISTOGRAM_BINS), dtype=np.int64)
    kernels.curvature_histogram(left, right, 0, limits, 0, 1, counts)
    edge = np.arange(kernels.HISTOGRAM_BINS + 1)
    edges = 2.0 ** (edge // 32 - 6) * (1 + (edge % 32) / 32)
    for k, part in enumerate((slice(0, N // 2), slice(N // 2, N))):
        # Another road: np.histogram; what lies below the first bin is not counted.
        wanted, _ = np.histogram(np.maximum(left, right)[part].astype(np.float64), edges)
        np.testing.assert_array_equal(counts[k], wanted)


def test_sector_sums_and_maxima() -> None:
    x = RNG.standard_normal(N).astype(np.float32)
    limits = np.array([0, 100, 101, 450, N + 1], dtype=np.int64)
    sums, maxima = np.zeros(4), np.zeros(4)
    kernels.sector_sums(x, 0, limits, 0, sums)
    kernels.sector_maxima(x, 0, 1, limits, 0, maxima)
    for k in range(4):
        part = x[limits[k] : limits[k + 1]]
        assert sums[k] == pytest.approx(np.sum(part.astype(np.float64) ** 2), rel=1e-9)
        assert maxima[k] == max(0.0, part.max())


def test_sums_before_the_first_and_beyond_the_last_sector() -> None:
    x = np.ones(50, dtype=np.float32)
    limits = np.array([0, 10, 30], dtype=np.int64)
    sums = np.zeros(3)
    kernels.sector_sums(x, 5, limits, 0, sums)
    # By hand: frames 5..9 and 10..29; what lies beyond the last boundary goes to nobody but the spare place.
    assert sums.tolist() == [5.0, 20.0, 0.0]
    sums[:] = 0.0
    kernels.sector_sums(x[:4], -4, limits, -1, sums)
    assert sums.tolist() == [0.0, 0.0, 4.0], "what lies before sector 0 goes to the spare place too"


def test_maxima_of_every_sixteenth_sample() -> None:
    x = np.array([1.0, -2.0, 7.0, 3.0, -9.0], dtype=np.float32)
    limits = np.array([0, 32, 33, 100], dtype=np.int64)
    maxima = np.zeros(3)
    kernels.sector_maxima(x, -8, 16, limits, 0, maxima)
    # By hand: frames -8, 8, 24 lie before 32, then 40 and 56 before 100; nothing is less than zero.
    assert maxima.tolist() == [7.0, 0.0, 3.0]


def test_histogram_bins_hold_what_lies_at_their_edges() -> None:
    limits = np.array([0, 99], dtype=np.int64)
    values = np.array([2.0**-6, np.nextafter(np.float32(2.0**-6), np.float32(0)), 1.0, -1.0, 1.03125, 1e30, 0.0])
    left = values.astype(np.float32)
    counts = np.zeros((1, kernels.HISTOGRAM_BINS), dtype=np.int32)
    kernels.curvature_histogram(left, np.zeros_like(left), 0, limits, 0, 32, counts)
    # By hand: 2^-6 opens bin 0, what is less is not counted, 1 = 2^0 is six octaves up; the last bin takes the rest.
    assert np.flatnonzero(counts[0]).tolist() == [0, 6 * 32, 6 * 32 + 1, kernels.HISTOGRAM_BINS - 1]
    assert counts[0, [0, 192, 193, -1]].tolist() == [1, 2, 1, 1]


def test_histogram_groups_and_later_blocks() -> None:
    limits = np.arange(0, 110, 10, dtype=np.int64)
    counts = np.zeros((3, kernels.HISTOGRAM_BINS), dtype=np.int32)
    one = np.ones(55, dtype=np.float32)
    kernels.curvature_histogram(one, one, 35, limits, 3, 4, counts)
    # By hand: frames 35..39 in sectors 0-3, 40..79 in sectors 4-7, 80..89 in sectors 8-11.
    assert counts.sum(axis=1).tolist() == [5, 40, 10]


@pytest.mark.parametrize("seed", range(5))
def test_peaks_between_samples_against_an_oversampled_transform(seed: int) -> None:
    """Another road: the same band-limited velocity by FFT on a grid sixteen times as fine."""
    rate, n, fine = 44_100.0, 512 if UNCOMPILED else 4096, 16
    rng = np.random.default_rng(seed)
    f = np.fft.rfftfreq(n, 1 / rate)
    spectrum = (rng.standard_normal(len(f)) + 1j * rng.standard_normal(len(f))) * (f < 9000.0)

    def at(shift: float, order: int, points: int) -> np.ndarray:
        rotated = spectrum * (2j * np.pi * f) ** order * np.exp(2j * np.pi * f * shift / rate)
        padded = np.pad(rotated, (0, points // 2 + 1 - len(f)))
        return np.asarray(np.fft.irfft(padded, points) * points / n)

    v, a = at(0.5, 0, n).astype(np.float32), at(0.0, 1, n).astype(np.float32)
    limits = np.linspace(0, n, 9).astype(np.int64)
    v_peak, v_place, *_ = peaks(v[:-1], a, np.append(limits, n + 100), rate)
    dense = np.abs(at(0.0, 0, n * fine))
    for k in range(8):
        # A sector's velocities lie half a sample after each of its frames, and are looked at half a sample around.
        truth = dense[limits[k] * fine : min(limits[k + 1], n - 1) * fine].max()
        sampled = np.abs(v[limits[k] : min(limits[k + 1], n - 1)]).max()
        assert sampled * (1 - 1e-6) <= v_peak[k]
        # Up to 9 kHz, a fifth of the rate, the parabola misses the crest by 2 % at most, where the samples miss 20 %.
        assert v_peak[k] == pytest.approx(truth, rel=0.02)
        assert limits[k] <= v_place[k] < limits[k + 1]


def test_peaks_go_on_from_block_to_block() -> None:
    """By hand: sector 2 gets 0.5, then 3, which raises it, then nothing and 0.5, which do not lower it again."""
    limits = np.array([0, 10, 20, 30, 99], dtype=np.int64)
    found = [np.zeros(4) for _ in range(5)]
    for first, scale in ((0, 1.0), (25, 3.0), (25, 0.0), (25, 0.5)):
        v, a = np.zeros(25, dtype=np.float32), np.zeros(26, dtype=np.float32)
        v[3], a[4], v[22], a[23] = scale, -2 * scale, 0.5 * scale, 0.1 * scale
        kernels.wall_peaks(v, a, first, limits, int(np.searchsorted(limits, first, "right")) - 1, 1e-9, *found)
    v_peak, v_place, a_peak, a_place, heat = found
    assert v_peak.tolist() == pytest.approx([1.0, 0.0, 3.0, 1.5])
    assert v_place[[0, 2, 3]].tolist() == [3.5, 28.5, 47.5]
    assert a_peak.tolist() == pytest.approx([2.0, 0.0, 6.0, 0.3])
    assert a_place[[0, 2, 3]].tolist() == [4.0, 29.0, 48.0]
    assert heat.tolist() == pytest.approx([4.0, 0.0, 36.0 + 0.01 + 1.0, 0.09 + 0.0025])


@settings(max_examples=5 if UNCOMPILED else 40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.sampled_from([1, 3, 16]), st.floats(0.3, 0.99))
def test_hulls_are_the_least_that_bound(seed: int, step: int, sharp: float) -> None:
    """Another road: a corner is one exactly where no chord of two others passes above it."""
    rng = np.random.default_rng(seed)
    w = np.convolve(rng.standard_normal(140), sharp ** np.arange(20), "same").astype(np.float32)
    bounds = np.array([0.4, 70.7, 131.0])
    used, start, place, value = hulls(w, bounds, step)
    for k in range(2):
        s, v = place[start[k] : start[k + 1]], value[start[k] : start[k + 1]]
        assert (s[0], s[-1]) == (0.0, 1.0), "the hull reaches from edge to edge"
        assert (np.diff(s) > 0).all()
        assert (np.diff(np.diff(v) / np.diff(s)) < 0).all(), "each corner stands out of its neighbours' chord"
        frame = np.clip(np.round(bounds[k] + s * (bounds[k + 1] - bounds[k])).astype(int), 0, 130)
        if step == 1:
            # A corner between the edges is a sample, where it lies and as high as it is.
            np.testing.assert_array_equal(v[1:-1], w[frame[1:-1]])
        assert all(value in w for value in v), "grouped or not, every corner is as high as some sample"
    assert start[-1] == used


@pytest.mark.parametrize("count", [1, 2, 3, 17])
def test_hulls_of_very_short_sectors(count: int) -> None:
    w = np.arange(20, dtype=np.float32)
    for step in (1, 16):
        _, start, place, value = hulls(w, np.array([0.0, float(count)]), step)
        # By hand: a rising line is one chord, held out to both edges.
        here = slice(0, int(start[1]))
        assert value[here].max() == count - 1
        assert np.interp(1.0, place[here], value[here]) == count - 1


#: Every compiled loop with arguments it changes nothing but the arrays of: a fresh set at each call.
def _calls() -> dict[str, tuple[Any, ...]]:
    rng = np.random.default_rng(11)
    x = np.cumsum(rng.standard_normal(400)).astype(np.float32)
    limits = np.array([0, 90, 91, 250, 500], dtype=np.int64)
    bounds = np.array([0.0, 89.5, 180.25, 390.0])
    hull_limits = np.ceil(bounds).astype(np.int64)
    used, start, place, value = hulls(x, bounds)
    return {
        "recursive_section": (
            x, np.array([0.5, -0.2, 0.1, 0.05]), np.array([1, -1.2, 0.5, -0.1]), np.zeros(3), x * 0
        ),
        "convolve": (x.astype(np.float64), x[:13].astype(np.float64), np.empty(388, dtype=np.float32)),
        "biquads": (x, np.array([[0.3, 0.1, 0.2, -0.5, 0.2], [1, -1, 0, 0.3, 0.1]]), np.zeros((2, 2)), x * 0),
        "sliding_max": (x, 10, np.empty_like(x), np.empty(380, dtype=np.float32)),
        "upper_hulls": (
            x, 0, bounds, hull_limits, 0, 3, 1, np.zeros(4, dtype=np.int64), np.zeros(900), np.zeros(900), 0
        ),
        "thin_corners": (start, place[:used].copy(), value[:used].copy(), 0.5, np.zeros(used, dtype=np.bool_)),
        "_peak": (x.view(np.int32),),
        "_square_sum": (x,),
        "wall_peaks": (x[:-1].copy(), x, 0, limits, 0, 1 / 44_100, *np.zeros((5, 5))),
        "curvature_histogram": (
            x, x[::-1].copy(), 0, limits, 0, 2, np.zeros((2, kernels.HISTOGRAM_BINS), dtype=np.int32)
        ),
        "sector_sums": (x, 0, limits, 0, np.zeros(5)),
        "sector_maxima": (x, 0, 1, limits, 0, np.zeros(5)),
        "between_peaks": (
            x.astype(np.float64), np.stack([x[:13], x[13:26]]).astype(np.float64), 4,
            np.arange(97) % 3 > 0, np.zeros(97), np.zeros(97, dtype=np.int64),
        ),
        "_strand": (x.astype(np.float64), np.linspace(0.1, 1.0, 13), 3, np.zeros(90)),
        "roll_tip": (
            x.astype(np.float64) * 1e-6, np.gradient(x.astype(np.float64)) * 1e-6, np.full(9, 1e-6), 64, 5e-6,
            *np.zeros((2, len(x))),
        ),
        "highest": (
            np.arange(60.0) + 3 * np.sin(np.arange(60) / 2), np.cos(np.arange(60.0)), np.full(60, 0.1), 5,
            np.full(50, -np.inf),
        ),
    }  # fmt: skip


def test_no_loop_is_left_out() -> None:
    if not UNCOMPILED:
        compiled = {name for name in dir(kernels) if hasattr(getattr(kernels, name), "py_func")}
        assert compiled == set(_calls())


@pytest.mark.parametrize("name", list(_calls()))
def test_compiled_and_plain_agree(name: str) -> None:
    """Another road: the same Python, uncompiled; the compiler may fuse a product and a sum, no more."""
    compiled, uncompiled = _calls()[name], _calls()[name]
    returned = getattr(kernels, name)(*compiled)
    wanted = plain(getattr(kernels, name))(*uncompiled)
    assert returned is wanted is None or returned == pytest.approx(wanted, rel=1e-9)
    for one, other in zip(compiled, uncompiled, strict=True):
        np.testing.assert_allclose(one, other, rtol=3e-5, atol=3e-5)


def test_peak_and_square_sum() -> None:
    x = np.array([0.5, -3.0, 2.0, -0.0, 1.0, 0.25, -1.5], dtype=np.float32)
    # By hand: 3 is the greatest; 0.25 + 9 + 4 + 0 + 1 + 0.0625 + 2.25 = 16.5625.
    assert np.array([kernels._peak(x.view(np.int32))], dtype=np.int32).view(np.float32)[0] == 3.0
    for n in range(8):
        assert kernels._square_sum(x[:n].copy()) == pytest.approx(float(np.sum(x[:n].astype(np.float64) ** 2)))
    assert kernels._square_sum(x) == 16.5625


def test_every_kernel_is_kept_in_the_folder_of_its_own_source() -> None:
    folder = kernels.cache_folder()
    assert folder is None or "kernels-" in folder


@pytest.mark.parametrize("n", [1, 2047, 2048, 2049, 4097])
def test_convolve_to_its_very_last_sample(n: int) -> None:
    """Another road: the loop works in stretches of 2048; whatever is left over must be done too."""
    y = RNG.standard_normal(n + 24).astype(np.float32)
    taps = RNG.standard_normal(25).astype(np.float32)
    out = np.full(n, np.nan, dtype=np.float32)
    kernels.convolve(y, taps, out)
    np.testing.assert_allclose(out, np.convolve(y, taps, "valid"), rtol=1e-4, atol=2e-5)


def test_a_sample_on_a_boundary_belongs_to_the_sector_that_begins_there() -> None:
    limits = np.array([0, 32, 64, 200], dtype=np.int64)
    maxima = np.zeros(3)
    kernels.sector_maxima(np.array([1.0, 2.0, 5.0, 3.0, 9.0], dtype=np.float32), 0, 16, limits, 0, maxima)
    # By hand: frames 0, 16 | 32, 48 | 64.
    assert maxima.tolist() == [2.0, 5.0, 9.0]


def test_a_cubic_is_read_back_exactly() -> None:
    # By hand: a cubic with the right values and slopes at two points is the cubic.
    place = np.array([0.0, 1.5, 4.0, 6.5])
    value, slope = place**3 - 2 * place, 3 * place**2 - 2
    out = np.full(7, -np.inf)
    kernels.highest(place, value, slope, 0, out)
    at = np.arange(7.0)
    np.testing.assert_allclose(out, at**3 - 2 * at, atol=1e-12)


def test_the_tip_stands_on_a_slope_as_geometry_has_it() -> None:
    # By hand: on a straight wall of slope 0.75 the normal leans 3 : 4 : 5: x goes back by 0.6 R, y rises by 0.8 R - R.
    w = 0.75 * np.arange(5.0)
    place, value = np.zeros((2, 5))
    kernels.roll_tip(w, np.full(5, 0.75), np.ones(1), 5, 10.0, place, value)
    np.testing.assert_allclose(place, np.arange(5) - 6.0)
    np.testing.assert_allclose(value, w - 2.0)
