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


@pytest.mark.skipif(UNCOMPILED, reason="nothing is compiled")
def test_compiled_and_plain_agree_to_the_bit() -> None:
    x = RNG.standard_normal(400).astype(np.float32)
    for kernel in (kernels.sliding_max, plain(kernels.sliding_max)):
        out = np.empty(380, dtype=np.float32)
        kernel(x, 10, np.empty_like(x), out)
        np.testing.assert_array_equal(out, maximum_filter1d(x, 21)[10:390])
