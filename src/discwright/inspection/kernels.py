"""Every compiled loop of the inspection, in one file, cached in a folder named by this file's hash.

No parallel sums and no fast-math: the same input gives the same bits whatever the number of threads.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numba
import numpy as np
from numba import njit

from discwright.kernel_cache import kernel_folder

_folder = kernel_folder(__file__, numba.__version__)
_config: Any = numba.config
_kept_folder = _config.CACHE_DIR
if _folder is not None:
    _config.CACHE_DIR = str(_folder)


def _kernel(function: Callable[..., Any]) -> Any:
    return njit(cache=_folder is not None, nogil=True)(function)


@_kernel
def cheapest_way(score: Any, drift: float, price: float, by_far: float) -> Any:
    """The way through the columns of a table that gathers most.

    Parameters
    ----------
    score : ndarray, shape (steps, states), float32
    drift : float
        What a step to a neighbouring state costs.
    price, by_far : float
        What a step further than that costs, and what each state further costs besides.

    Returns
    -------
    ndarray, shape (steps,), int64
        Source: Viterbi 1967; the distance transform of Felzenszwalb and Huttenlocher 2012 for the linear price.
    """
    steps, states = score.shape
    back = np.empty((steps, states), dtype=np.int32)
    total = score[0].astype(np.float64)
    fresh = np.empty(states)
    for k in range(1, steps):
        best, at = total[0] - price, 0
        for j in range(states):
            best -= by_far
            if total[j] - price > best:
                best, at = total[j] - price, j
            fresh[j] = best
            back[k, j] = at
        best, at = total[states - 1] - price, states - 1
        for j in range(states - 1, -1, -1):
            best -= by_far
            if total[j] - price > best:
                best, at = total[j] - price, j
            if best > fresh[j]:
                fresh[j] = best
                back[k, j] = at
        for j in range(states):
            for i in range(max(0, j - 1), min(states, j + 2)):
                value = total[i] if i == j else total[i] - drift
                if value > fresh[j] or (value == fresh[j] and i == j):
                    fresh[j] = value
                    back[k, j] = i
        for j in range(states):
            total[j] = fresh[j] + score[k, j]
    path = np.empty(steps, dtype=np.int64)
    at = 0
    for j in range(1, states):
        if total[j] > total[at]:
            at = j
    path[steps - 1] = at
    for k in range(steps - 1, 0, -1):
        at = back[k, at]
        path[k - 1] = at
    return path


@_kernel
def read_along(audio: Any, place: Any, taps: Any, out: Any) -> None:
    """Samples at any places between samples, through a windowed sinc.

    Parameters
    ----------
    audio : ndarray, shape (n, 2), float32
    place : ndarray, shape (m,), float64
        In samples of `audio`; at least half a filter inside.
    taps : ndarray, shape (phases + 1, length), float32
        Row p is the filter for a place p/phases after a sample; linear between rows.
    out : ndarray, shape (m, 2), float32
    """
    phases = taps.shape[0] - 1
    length = taps.shape[1]
    half = length // 2
    n = audio.shape[0]
    for k in range(place.shape[0]):
        whole = int(np.floor(place[k]))
        fine = (place[k] - whole) * phases
        row = int(fine)
        part = np.float32(fine - row)
        first = whole - half + 1
        left = np.float32(0.0)
        right = np.float32(0.0)
        if first >= 0 and first + length <= n:
            for j in range(length):
                tap = taps[row, j] + part * (taps[row + 1, j] - taps[row, j])
                left += tap * audio[first + j, 0]
                right += tap * audio[first + j, 1]
        out[k, 0] = left
        out[k, 1] = right


@_kernel
def smooth_delay(
    seen: Any, variance: Any, step: Any, angle: Any, loosen: Any, noise: Any, out: Any, spread: Any
) -> None:
    """Kalman filter and Rauch-Tung-Striebel smoother of the time map's departures.

    State: place and its rate, cosine and sine of one and of two swings a turn, and a flutter that forgets. All in
    microseconds and seconds.

    Parameters
    ----------
    seen, variance : ndarray, shape (n,), us and us²
        Measured departures; infinite variance where nothing was measured.
    step : ndarray, shape (n,), s
        From the measurement before.
    angle : ndarray, shape (n,), rad
        Of the disc.
    loosen : ndarray, shape (n,), us²
        Added to the variance of the place before a measurement: a jump.
    noise : ndarray, shape (5,)
        Of the rate (us²/s³), of the swings (us²/s), variance (us²) and time of the flutter (s), variance of the first
        state of place (us²).
    out, spread : ndarray, shape (n, 7) and (n,)
        Smoothed states, and variance of their sum at each measurement, us².
    """
    n = seen.shape[0]
    m = 7
    ahead = np.empty((n, m))
    ahead_p = np.empty((n, m, m))
    after_p = np.empty((n, m, m))
    state = np.zeros(m)
    p = np.zeros((m, m))
    p[0, 0] = noise[4]
    p[1, 1] = 2.5e7
    for j in range(2, 6):
        p[j, j] = 9.0e6
    p[6, 6] = noise[2]
    f = np.eye(m)
    h = np.zeros(m)
    for k in range(n):
        if k > 0:
            dt = step[k]
            keep = np.exp(-dt / noise[3])
            f[0, 1] = dt
            f[6, 6] = keep
            state = f @ state
            p = f @ p @ f.T
            q = noise[0]
            p[0, 0] += q * dt * dt * dt / 3
            p[0, 1] += q * dt * dt / 2
            p[1, 0] += q * dt * dt / 2
            p[1, 1] += q * dt
            for j in range(2, 6):
                p[j, j] += noise[1] * dt
            p[6, 6] += noise[2] * (1 - keep * keep)
        p[0, 0] += loosen[k]
        ahead[k] = state
        ahead_p[k] = p
        if np.isfinite(variance[k]):
            h[0] = 1.0
            h[2] = np.cos(angle[k])
            h[3] = np.sin(angle[k])
            h[4] = np.cos(2 * angle[k])
            h[5] = np.sin(2 * angle[k])
            h[6] = 1.0
            ph = p @ h
            gain = ph / (h @ ph + variance[k])
            state = state + gain * (seen[k] - h @ state)
            p = p - np.outer(gain, ph)
            p = 0.5 * (p + p.T)
        out[k] = state
        after_p[k] = p
    last = after_p[n - 1].copy()
    for k in range(n - 1, -1, -1):
        if k < n - 1:
            dt = step[k + 1]
            f[0, 1] = dt
            f[6, 6] = np.exp(-dt / noise[3])
            gain2 = np.linalg.solve(ahead_p[k + 1], f @ after_p[k]).T
            out[k] = out[k] + gain2 @ (out[k + 1] - ahead[k + 1])
            last = after_p[k] + gain2 @ (last - ahead_p[k + 1]) @ gain2.T
        h[0] = 1.0
        h[2] = np.cos(angle[k])
        h[3] = np.sin(angle[k])
        h[4] = np.cos(2 * angle[k])
        h[5] = np.sin(2 * angle[k])
        h[6] = 1.0
        spread[k] = h @ last @ h


@_kernel
def expect(programme: Any, gain: Any, out: Any) -> None:
    """The programme's spectra carried through the sound of a playing.

    Parameters
    ----------
    programme : ndarray, shape (m, 2, bins), complex64
    gain : ndarray, shape (bins, 2, 2), complex64
        To channel i from channel j.
    out : ndarray, shape (m, 2, bins), complex64
    """
    for k in range(programme.shape[0]):
        for b in range(programme.shape[2]):
            left = programme[k, 0, b]
            right = programme[k, 1, b]
            out[k, 0, b] = gain[b, 0, 0] * left + gain[b, 0, 1] * right
            out[k, 1, b] = gain[b, 1, 0] * left + gain[b, 1, 1] * right


@_kernel
def phase_delays(
    expected: Any, capture: Any, quiet: Any, omega: Any, low: int, high: int, most: float, out: Any
) -> None:
    """By how much each frame of the capture comes later than expected, by Newton's method on the likelihood.

    Parameters
    ----------
    expected, capture : ndarray, shape (m, 2, bins), complex64
    quiet : ndarray, shape (2, bins)
        Inverse of the noise's power.
    omega : ndarray, shape (bins,), rad/s
        Evenly spaced.
    low, high : int
        Bins used, from and up to.
    most : float, s
        One step goes no further.
    out : ndarray, shape (m, 4)
        Delay, s; Fisher information, 1/s²; strength of the music and what is left, both over noise, per bin and
        channel.
    """
    bins = high - low
    product = np.empty(bins, dtype=np.complex128)
    for k in range(expected.shape[0]):
        information = 0.0
        strength = 0.0
        for b in range(bins):
            f = low + b
            total = 0.0j
            weight = 0.0
            for c in range(2):
                p = complex(expected[k, c, f])
                total += np.conj(p) * complex(capture[k, c, f]) * quiet[c, f]
                weight += (p.real * p.real + p.imag * p.imag) * quiet[c, f]
            product[b] = total
            strength += weight
            information += 2 * omega[f] * omega[f] * weight
        delay = 0.0
        curve = 0.0
        for _ in range(4):
            turn = np.exp(1j * omega[low] * delay)
            step = np.exp(1j * (omega[1] - omega[0]) * delay)
            slope = 0.0
            curve = 0.0
            for b in range(bins):
                z = product[b] * turn
                w = omega[low + b]
                slope += w * z.imag
                curve += w * w * z.real
                turn *= step
            if curve <= 0:
                break
            move = slope / curve
            delay -= min(max(move, -most), most)
            if abs(move) < 1e-10:
                break
        turn = np.exp(1j * omega[low] * delay)
        step = np.exp(1j * (omega[1] - omega[0]) * delay)
        left = 0.0
        for b in range(bins):
            f = low + b
            for c in range(2):
                d = complex(capture[k, c, f]) * turn - complex(expected[k, c, f])
                left += (d.real * d.real + d.imag * d.imag) * quiet[c, f]
            turn *= step
        out[k, 0] = delay
        # Where the likelihood has no top near by, the place it stopped at tells nothing.
        out[k, 1] = information if curve > 0 else 0.0
        out[k, 2] = strength / (2 * bins)
        out[k, 3] = left / (2 * bins)


@_kernel
def gather(programme: Any, capture: Any, delay: Any, weight: Any, doubt: Any, omega: Any, own: Any, cross: Any) -> None:
    """Sums of a least-squares answer, channel by channel.

    Parameters
    ----------
    programme, capture : ndarray, shape (m, 2, bins), complex64
    delay : ndarray, shape (m,), s
        Taken out of the capture.
    weight : ndarray, shape (m,)
        How much each frame counts.
    doubt : ndarray, shape (m,), s
        Standard deviation of its place in time: what it blurs counts less.
    omega : ndarray, shape (bins,), rad/s
    own, cross : ndarray, shape (bins, 2, 2), complex128
        Added to: programme times conjugate programme, capture times conjugate programme.
    """
    for k in range(programme.shape[0]):
        turn = complex(1.0)
        step = np.exp(1j * (omega[1] - omega[0]) * delay[k])
        for b in range(programme.shape[2]):
            blur = omega[b] * doubt[k]
            w = weight[k] * np.exp(-blur * blur) if blur > 1e-3 else weight[k]
            p0 = complex(programme[k, 0, b])
            p1 = complex(programme[k, 1, b])
            c0 = complex(capture[k, 0, b]) * turn
            c1 = complex(capture[k, 1, b]) * turn
            q0 = np.conj(p0) * w
            q1 = np.conj(p1) * w
            own[b, 0, 0] += p0 * q0
            own[b, 0, 1] += p0 * q1
            own[b, 1, 0] += p1 * q0
            own[b, 1, 1] += p1 * q1
            cross[b, 0, 0] += c0 * q0
            cross[b, 0, 1] += c0 * q1
            cross[b, 1, 0] += c1 * q0
            cross[b, 1, 1] += c1 * q1
            turn *= step


@_kernel
def stand_out(
    spare: Any, music: Any, usual: Any, share: Any, noise: Any, cell: int, window: int, near: int, least: float,
    over_noise: float, over_rest: float, ratio: Any, speaks: Any,
) -> None:  # fmt: skip
    """Each sample of a difference over what masks it, and whether it speaks.

    Parameters
    ----------
    spare, music : ndarray, shape (n, 2), float32
        Difference, and what was expected.
    usual, share : ndarray, shape (cells, 2)
        Root mean square of the difference near by, and share of the music usually left in it, for each cell.
    noise : ndarray, shape (2,)
        What the noise masks.
    cell, window, near : int
        Samples of a cell, of the window the music masks by, and on either side of a sample for the music's peak.
    least, over_noise, over_rest : float
        A sample speaks when it is so many times what masks it, what is usual, what is left of the music's peak.
    ratio, speaks : ndarray, shape (n, 2), float32 and bool
    """
    n = spare.shape[0]
    cells = usual.shape[0]
    half = window // 2
    peaks = np.empty(n // near + 1, dtype=np.float32)
    for c in range(2):
        for j in range(peaks.shape[0]):
            peak = np.float32(0.0)
            for k in range(j * near, min((j + 1) * near, n)):
                peak = max(peak, abs(music[k, c]))
            peaks[j] = peak
        power = 0.0
        for k in range(min(half, n)):
            power += float(music[k, c]) * float(music[k, c])
        for k in range(n):
            if k + half < n:
                power += float(music[k + half, c]) * float(music[k + half, c])
            if k - half - 1 >= 0:
                power -= float(music[k - half - 1, c]) * float(music[k - half - 1, c])
            size = abs(spare[k, c])
            if size < least * noise[c]:
                ratio[k, c] = 0.0
                speaks[k, c] = False
                continue
            masks = max(np.sqrt(max(power, 0.0) / (2 * half + 1)), noise[c])
            ratio[k, c] = size / masks
            j = k // near
            peak = max(peaks[j], peaks[max(j - 1, 0)], peaks[min(j + 1, peaks.shape[0] - 1)])
            at = min(k // cell, cells - 1)
            speaks[k, c] = (
                size > least * masks and size > over_noise * usual[at, c] and size > over_rest * share[at, c] * peak
            )


_config.CACHE_DIR = _kept_folder
