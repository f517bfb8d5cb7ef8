"""Every compiled loop of the groove, in one file, cached in a folder named by this file's hash.

All arrays are one-dimensional and contiguous. No parallel sums and no fast-math: the same input gives
the same bits whatever the number of threads.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numba
import numpy as np
from numba import njit

from discwright.kernel_cache import kernel_folder

#: Bins of the acceleration histogram: 32 an octave, from 2^-6 to 2^18 m/s².
HISTOGRAM_BINS = 24 * 32
_BITS_PER_BIN = 18
_FIRST_BIN = (127 - 6) << 5

_folder = kernel_folder(__file__, numba.__version__)
_config: Any = numba.config
_kept_folder = _config.CACHE_DIR
if _folder is not None:
    _config.CACHE_DIR = str(_folder)


def cache_folder() -> str | None:
    """Where the compiled kernels are kept; None where they are compiled at each start."""
    return None if _folder is None else str(_folder)


def _kernel(function: Callable[..., Any]) -> Any:
    return njit(cache=_folder is not None, nogil=True)(function)


@_kernel
def recursive_section(x, b, a, state, y):  # type: ignore[no-untyped-def]
    """Third-order recursive filter, transposed direct form II; `state` (3,) is carried on in place."""
    b0, b1, b2, b3 = b[0], b[1], b[2], b[3]
    a1, a2, a3 = a[1], a[2], a[3]
    s1, s2, s3 = state[0], state[1], state[2]
    for i in range(x.shape[0]):
        v = np.float64(x[i])
        out = b0 * v + s1
        s1 = b1 * v - a1 * out + s2
        s2 = b2 * v - a2 * out + s3
        s3 = b3 * v - a3 * out
        y[i] = out
    state[0], state[1], state[2] = s1, s2, s3


@_kernel
def _strand(y, taps, start, to):  # type: ignore[no-untyped-def]
    """to[i] = sum over j of taps[j]·y[start + i + len(taps) - 1 - j], five taps at a time."""
    size, m = to.shape[0], taps.shape[0]
    for i in range(size):
        to[i] = 0.0
    j = 0
    while j + 5 <= m:
        c0, c1, c2, c3, c4 = taps[j], taps[j + 1], taps[j + 2], taps[j + 3], taps[j + 4]
        at = start + m - 1 - j
        # Slices of their own: with plain indices the compiler cannot rule out negative ones.
        y0, y1, y2 = y[at : at + size], y[at - 1 : at - 1 + size], y[at - 2 : at - 2 + size]
        y3, y4 = y[at - 3 : at - 3 + size], y[at - 4 : at - 4 + size]
        for i in range(size):
            to[i] += c0 * y0[i] + c1 * y1[i] + c2 * y2[i] + c3 * y3[i] + c4 * y4[i]
        j += 5
    while j < m:
        at = start + m - 1 - j
        c0, y0 = taps[j], y[at : at + size]
        for i in range(size):
            to[i] += c0 * y0[i]
        j += 1


@_kernel
def convolve(y, taps, out):  # type: ignore[no-untyped-def]
    """out[i] = sum over j of taps[j]·y[i + len(taps) - 1 - j], over short stretches.

    `y` and `taps` are float64: at 20 Hz an acceleration is the small difference of very large products.
    """
    strand = np.empty(2048)
    for start in range(0, out.shape[0], 2048):
        to = strand[: min(2048, out.shape[0] - start)]
        _strand(y, taps, start, to)
        result = out[start : start + to.shape[0]]
        for i in range(to.shape[0]):
            result[i] = to[i]


@_kernel
def roll_tip(w, d, step, every, radius, place, value):  # type: ignore[no-untyped-def]
    """Where the centre of a circle stands that touches a wall at each sample, and how high.

    Parameters
    ----------
    w, d : (n,) float64, the wall's height, m, and its slope, m per sample
    step : (ceil(n / every),) float64, way along the groove, m per sample, for `every` samples each
    place, value : (n,) float64, filled: place in samples from the first, height less the radius, m

    Source: x = s - R·w'/sqrt(1 + w'²), y = w + R/sqrt(1 + w'²) - R; the slope at x is that of the wall at s.
    """
    for start in range(0, w.shape[0], every):
        way = step[start // every]
        for i in range(start, min(start + every, w.shape[0])):
            p = d[i] / way
            c = 1.0 / math.sqrt(1.0 + p * p)
            place[i] = i - radius / way * (p * c)
            value[i] = w[i] + radius * (c - 1.0)


@_kernel
def highest(place, value, slope, base, out):  # type: ignore[no-untyped-def]
    """Read a curve of points with slopes at whole places, by cubics (Hermite); the highest where it passes twice.

    Parameters
    ----------
    place, value, slope : (n,) float64; `place` may run backward, those stretches lie hidden below others
    base : place of out[0]
    out : (m,) float64, raised in place where the curve is higher; places outside are passed over
    """
    last = base + out.shape[0] - 1
    for j in range(place.shape[0] - 1):
        x0, x1 = place[j], place[j + 1]
        if x1 <= x0:
            continue
        width = x1 - x0
        for i in range(max(base, math.ceil(x0)), min(last, math.floor(x1)) + 1):
            t = (i - x0) / width
            rise = value[j + 1] - value[j]
            a, b = slope[j] * width - rise, rise - slope[j + 1] * width
            y = value[j] + t * (rise + (1.0 - t) * (a * (1.0 - t) + b * t))
            out[i - base] = max(out[i - base], y)


@_kernel
def biquads(x, sections, state, y):  # type: ignore[no-untyped-def]
    """Cascade of second-order sections, rows b0 b1 b2 a1 a2; `state` (n, 2) is carried on in place."""
    for i in range(x.shape[0]):
        y[i] = x[i]
    for q in range(sections.shape[0]):
        b0, b1, b2, a1, a2 = (
            sections[q, 0], sections[q, 1], sections[q, 2], sections[q, 3], sections[q, 4],
        )  # fmt: skip
        s1, s2 = state[q, 0], state[q, 1]
        for i in range(y.shape[0]):
            v = np.float64(y[i])
            out = b0 * v + s1
            s1 = b1 * v - a1 * out + s2
            s2 = b2 * v - a2 * out
            y[i] = out
        state[q, 0], state[q, 1] = s1, s2


@_kernel
def sliding_max(x, reach, scratch, out):  # type: ignore[no-untyped-def]
    """out[i] = max of x[i] .. x[i + 2·reach]; `scratch` is as long as x.

    Block-wise running maxima from the left and from the right: three comparisons a sample whatever
    the reach (van Herk 1992; Gil and Werman 1993).
    """
    width = 2 * reach + 1
    n = x.shape[0]
    for start in range(0, n, width):
        stop = min(start + width, n)
        best = x[stop - 1]
        scratch[stop - 1] = best
        for i in range(stop - 2, start - 1, -1):
            best = max(best, x[i])
            scratch[i] = best
    best = x[0]
    for i in range(n):
        best = x[i] if i % width == 0 else max(best, x[i])
        if i >= width - 1:
            out[i - width + 1] = max(best, scratch[i - width + 1])


@_kernel
def upper_hulls(w, first_frame, bounds, limits, k0, k1, step, start, place, value, used):  # type: ignore[no-untyped-def]
    """Upper concave hull of the samples in each sector.

    A straight line over a sector lies above all its samples exactly if it lies above these few corners.

    Parameters
    ----------
    w : (n,) float32, samples from frame `first_frame` on
    bounds, limits : (K+1,) float64 and int64, sector boundaries in frames, and first frame of each sector
    k0, k1 : sectors to do; `w` holds all their frames and the one after
    step : samples that count together, each as the highest among them
    start : (K+1,) int64, filled at k0+1 .. k1: where each sector's corners end
    place, value : (capacity,) float64, corners: place within the sector 0..1, and value
    used : corners used before sector k0

    Returns corners used after sector k1 - 1, or -1 - k where the room ended at sector k.
    """
    for k in range(k0, k1):
        lo, hi = limits[k], limits[k + 1]
        span = bounds[k + 1] - bounds[k]
        base = used
        # The outermost samples are held out to the boundaries of the sector.
        count = max(hi - lo, 1)
        groups = (count + step - 1) // step
        for j in range(2 * groups):
            if step == 1 and j % 2 == 1 and 1 < j < 2 * groups - 1:
                continue
            first = (j // 2) * step
            last = min(first + step, count) - 1
            v = w[lo + first - first_frame]
            for i in range(first + 1, last + 1):
                v = max(v, w[lo + i - first_frame])
            frame = lo + (last if j % 2 else first)
            s = min(max((frame - bounds[k]) / span, 0.0), 1.0)
            if j == 0:
                s = 0.0
            elif j == 2 * groups - 1:
                s = 1.0
            if used > base and s <= place[used - 1]:
                if v <= value[used - 1]:
                    continue
                used -= 1
            while used - base >= 2:
                s0, v0 = place[used - 2], value[used - 2]
                if (value[used - 1] - v0) * (s - s0) > (v - v0) * (place[used - 1] - s0):
                    break
                used -= 1
            if used >= place.shape[0]:
                return -1 - k
            place[used] = s
            value[used] = v
            used += 1
        start[k + 1] = used
    return used


@_kernel
def thin_corners(start, place, bound, tolerance, keep):  # type: ignore[no-untyped-def]
    """Drop corners of each sector's hull that lie within `tolerance` above a longer chord.

    The corners kept are raised by what their chords missed, so that the thinned hull still bounds the
    whole one from above.

    Parameters
    ----------
    start : (K+1,) int64, corners of sector k are start[k] .. start[k+1] - 1
    place, bound : (corners,) float64; `bound` is raised in place
    tolerance : same unit as `bound`
    keep : (corners,) bool, set in place
    """
    for k in range(start.shape[0] - 1):
        a, b = start[k], start[k + 1]
        if a == b:
            continue
        keep[a] = True
        i = a
        lift_here = 0.0
        while i < b - 1:
            j = i + 1
            missed = 0.0
            while j + 1 < b:
                worst = 0.0
                slope = (bound[j + 1] - bound[i]) / (place[j + 1] - place[i])
                for q in range(i + 1, j + 1):
                    worst = max(worst, bound[q] - bound[i] - slope * (place[q] - place[i]))
                if worst > tolerance:
                    break
                missed = worst
                j += 1
            keep[j] = True
            bound[i] += max(lift_here, missed)
            lift_here = missed
            i = j
        bound[i] += lift_here


@_kernel
def _peak(bits):  # type: ignore[no-untyped-def]
    """Greatest magnitude as bits: those of a float32 without its sign are in the order of its size."""
    best = np.int32(0)
    for i in range(bits.shape[0]):
        best = max(best, bits[i] & np.int32(0x7FFFFFFF))
    return best


@_kernel
def _square_sum(x):  # type: ignore[no-untyped-def]
    """Sum of squares in four strands, added in a fixed order."""
    s0, s1, s2, s3 = 0.0, 0.0, 0.0, 0.0
    whole = x.shape[0] // 4
    for i in range(whole):
        a, b = np.float64(x[4 * i]), np.float64(x[4 * i + 1])
        c, d = np.float64(x[4 * i + 2]), np.float64(x[4 * i + 3])
        s0 += a * a
        s1 += b * b
        s2 += c * c
        s3 += d * d
    for i in range(4 * whole, x.shape[0]):
        s0 += np.float64(x[i]) * np.float64(x[i])
    return (s0 + s1) + (s2 + s3)


@_kernel
def wall_peaks(v, a, first_frame, limits, k0, period, v_peak, v_place, a_peak, a_place, heat):  # type: ignore[no-untyped-def]
    """Peak velocity (between samples), peak acceleration and summed squared acceleration per sector.

    Parameters
    ----------
    v : (n,) float32, velocity half a sample after each frame, m/s
    a : (n + 1,) float32, acceleration at each frame and the next, m/s²
    limits : (K+1,) int64, first frame of each sector
    k0 : sector that holds `first_frame`
    period : sample period, s
    v_peak, v_place, a_peak, a_place, heat : (K,), updated in place; places in frames

    Around each half-sample velocity is taken as the parabola with the acceleration known at both ends.
    """
    n = v.shape[0]
    v_bits, a_bits = v.view(np.int32), a.view(np.int32)
    as_bits = np.zeros(1, dtype=np.int32)
    as_speed = as_bits.view(np.float32)
    k, i0 = k0, 0
    while i0 < n and k + 1 < limits.shape[0]:
        i1 = min(n, limits[k + 1] - first_frame)
        if i1 > i0:
            heat[k] += _square_sum(a[i0:i1])
            best = _peak(a_bits[i0:i1])
            for i in range(i0, i1):
                if a_bits[i] & np.int32(0x7FFFFFFF) == best:
                    if abs(a[i]) > a_peak[k]:
                        a_peak[k] = abs(a[i])
                        a_place[k] = first_frame + i
                    break
            as_bits[0] = _peak(v_bits[i0:i1])
            # Only near the greatest is it worth looking between samples.
            near = 0.75 * max(as_speed[0], v_peak[k])
            for i in range(i0, i1):
                speed = abs(v[i])
                if speed < near:
                    continue
                slope = 0.5 * (a[i] + a[i + 1])
                bend = a[i + 1] - a[i]
                t = -slope / bend if bend != 0.0 else 1.0
                if abs(t) <= 0.5:
                    speed = max(speed, abs(v[i] + 0.5 * slope * t * period))
                if speed > v_peak[k]:
                    v_peak[k] = speed
                    v_place[k] = first_frame + i + 0.5
        i0 = max(i0, i1)
        k += 1


@_kernel
def curvature_histogram(left, right, first_frame, limits, k0, sectors_per_group, counts):  # type: ignore[no-untyped-def]
    """Count samples by the larger wall acceleration, on a logarithmic scale, per group of sectors.

    Parameters
    ----------
    left, right : (n,) float32, m/s²
    limits, k0 : as in :func:`wall_peaks`
    counts : (groups, HISTOGRAM_BINS) int32, updated in place
    """
    n = min(left.shape[0], limits[limits.shape[0] - 1] - first_frame)
    louder = np.maximum(np.abs(left), np.abs(right))
    # The bits of a positive float32 are its logarithm, piecewise linear: exponent and five bits more.
    bits = louder.view(np.int32)
    k = k0
    for i in range(n):
        while first_frame + i >= limits[k + 1]:
            k += 1
        bin_ = (bits[i] >> _BITS_PER_BIN) - _FIRST_BIN
        if bin_ >= 0:
            counts[k // sectors_per_group, min(bin_, HISTOGRAM_BINS - 1)] += 1


@_kernel
def sector_sums(x, first_frame, limits, k0, sums):  # type: ignore[no-untyped-def]
    """Add the squares of `x` (n,) to the sector each belongs to, up to the last; `sums` (K,) in place."""
    k, i0 = k0, 0
    while i0 < x.shape[0] and k + 1 < limits.shape[0]:
        i1 = max(i0, min(x.shape[0], limits[k + 1] - first_frame))
        sums[k] += _square_sum(x[i0:i1])
        i0 = i1
        k += 1


@_kernel
def sector_maxima(x, first_frame, step, limits, k0, maxima):  # type: ignore[no-untyped-def]
    """Greatest value of `x` (n,) in each sector; sample i lies at frame first_frame + i·step."""
    k = k0
    for i in range(x.shape[0]):
        if first_frame + i * step >= limits[limits.shape[0] - 1]:
            break
        while first_frame + i * step >= limits[k + 1]:
            k += 1
        maxima[k] = max(maxima[k], x[i])


@_kernel
def between_peaks(y, taps, step, wanted, peak, place):  # type: ignore[no-untyped-def]
    """Greatest value in each wanted cell of `step` samples, looked for between the samples too.

    Parameters
    ----------
    y : (cells·step + m - 1,) float64
    taps : (phases, m) float64, row p gives the value p/phases of a sample later, as in :func:`convolve`
    step : samples in a cell
    wanted : (cells,) bool, cells to do; the others are left as they are
    peak : (cells,) float64, filled with the value of greatest magnitude, with its sign
    place : (cells,) int64, filled with its place in the cell, in 1/phases of a sample
    """
    cells, phases = wanted.shape[0], taps.shape[0]
    longest = max(1, 512 // step)
    strand, big = np.empty(longest * step), np.empty(longest * step)
    phase = np.empty(longest * step, dtype=np.int64)
    c = 0
    while c < cells:
        if not wanted[c]:
            c += 1
            continue
        e = c
        while e < cells and wanted[e] and e - c < longest:
            e += 1
        start, size = c * step, (e - c) * step
        to = strand[:size]
        for i in range(size):
            big[i], phase[i] = 0.0, 0
        for p in range(phases):
            row = taps[p]
            _strand(y, row, start, to)
            # Elementwise choices: no branch stands in the way of vector instructions.
            for i in range(size):
                better = abs(to[i]) > abs(big[i])
                big[i] = to[i] if better else big[i]
                phase[i] = p if better else phase[i]
        for k in range(c, e):
            first = (k - c) * step
            best = first
            for i in range(first + 1, first + step):
                if abs(big[i]) > abs(big[best]):
                    best = i
            peak[k] = big[best]
            place[k] = (best - first) * phases + phase[best]
        c = e


_config.CACHE_DIR = _kept_folder
