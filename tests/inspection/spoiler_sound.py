"""Sounds and filters of discs spoiled on purpose: clean resampling, response, noise, the shapes of ticks.

Nothing here is shared with what is tested: filters, kernels and measures are the spoiler's own.
"""

from __future__ import annotations

from collections.abc import Callable

import numba
import numpy as np
from numpy.typing import NDArray
from scipy import signal
from spoiler_wrongs import SHAPES

Floats = NDArray[np.float64]

#: Sinc kernel: samples on either side, steps between two samples, Kaiser window. Images of what lies
#: below 19.6 kHz at 44.1 kHz are 110 dB down; straight lines between the steps cost as little again.
_HALF, _STEPS, _BETA = 32, 1024, 11.0
#: Taps of a filter drawn from its magnitude: 1.3 Hz apart at 44.1 kHz.
_TAPS = 1 << 15
#: Rate at which a tick is drawn, times that of the capture.
_FINE = 8
#: Replay amplifier, Hz: where a tick's treble ends even at high sample rates.
_BANDWIDTH_HZ = 22_000.0
#: What masks and what is heard of a tick lies above this, Hz.
MASKING_HZ = 2000.0


def _kernel() -> Floats:
    """Windowed sinc, a row for every place between two samples, shape (steps + 1, 2 * half)."""
    place = np.arange(_STEPS + 1)[:, None] / _STEPS
    away = place - np.arange(-_HALF + 1, _HALF + 1)[None, :]
    window = np.i0(_BETA * np.sqrt(np.maximum(0.0, 1 - (away / _HALF) ** 2))) / np.i0(_BETA)
    rows = np.sinc(away) * window
    out: Floats = rows / rows.sum(axis=1, keepdims=True)
    return out


_KERNEL = _kernel()


@numba.njit(fastmath=True, nogil=True)
def _interpolate(x: Floats, place: Floats, kernel: Floats, out: Floats) -> None:
    half, steps = kernel.shape[1] // 2, kernel.shape[0] - 1
    weight = np.empty(2 * half)
    for i in range(place.size):
        whole = int(np.floor(place[i]))
        first = whole - half + 1
        if first + 2 * half <= 0 or first >= len(x):
            out[i, 0] = out[i, 1] = 0.0
            continue
        fine = (place[i] - whole) * steps
        row = min(int(fine), steps - 1)
        part = fine - row
        for k in range(2 * half):
            weight[k] = kernel[row, k] + part * (kernel[row + 1, k] - kernel[row, k])
        left = right = 0.0
        for k in range(max(0, -first), min(2 * half, len(x) - first)):
            left += weight[k] * x[first + k, 0]
            right += weight[k] * x[first + k, 1]
        out[i, 0], out[i, 1] = left, right


def interpolate(x: Floats, place: Floats) -> Floats:
    """A stereo signal between its samples, nothing outside it.

    Parameters
    ----------
    x : ndarray, shape (n, 2)
    place : ndarray, shape (m,)
        In samples of `x`.

    Returns
    -------
    ndarray, shape (m, 2)
    """
    out = np.empty((len(place), 2))
    _interpolate(np.ascontiguousarray(x, dtype=np.float64), np.asarray(place, dtype=np.float64), _KERNEL, out)
    return out


def filter_of(magnitude_db: Callable[[Floats], Floats], rate: int, phase: str) -> Floats:
    """Taps of a filter with a given magnitude, the middle one being time 0 with either phase.

    Parameters
    ----------
    magnitude_db : callable
        Frequency in Hz to dB.
    rate : int, Hz
    phase : {"minimum", "zero"}
    """
    frequency: Floats = np.fft.rfftfreq(_TAPS, 1 / rate).astype(np.float64)
    log = np.log(10) / 20 * magnitude_db(frequency)
    if phase == "zero":
        taps: Floats = np.roll(np.fft.irfft(np.exp(log)), _TAPS // 2) * signal.windows.hann(_TAPS, sym=False)
        return np.append(taps, taps[0])
    if phase != "minimum":
        raise ValueError(f"a phase is minimum or zero, not {phase}")
    # The cepstrum of a minimum-phase filter has nothing before 0: fold it over (Oppenheim and Schafer).
    cepstrum = np.fft.irfft(log)
    cepstrum[1 : _TAPS // 2] *= 2
    cepstrum[_TAPS // 2 + 1 :] = 0
    half = np.fft.irfft(np.exp(np.fft.rfft(cepstrum)))[: _TAPS // 2] * signal.windows.hann(_TAPS)[_TAPS // 2 :]
    return np.concatenate([np.zeros(_TAPS // 2), half, [0.0]])


def apply_filter(x: Floats, taps: Floats) -> Floats:
    """Both channels through taps whose middle is time 0, shape kept."""
    out: Floats = signal.oaconvolve(x, taps[:, None], mode="same", axes=0)
    return out


def response_db(taps: Floats, rate: int, frequency: Floats) -> Floats:
    """What a filter really does, dB, from its taps."""
    _, h = signal.freqz(taps, worN=np.atleast_1d(np.asarray(frequency, dtype=float)), fs=rate)
    out: Floats = 20 * np.log10(np.abs(h))
    return out


def tilt(db_per_decade: float) -> Callable[[Floats], Floats]:
    """A straight slope over log frequency through 0 dB at 1 kHz, level below 15 Hz."""
    return lambda f: db_per_decade * np.log10(np.maximum(f, 15.0) / 1000)


def treble(db: float, kind: str) -> Callable[[Floats], Floats]:
    """Treble raised or lowered: a first-order shelf around 5 kHz, or the resonance of a tip at 14 kHz (Q 2)."""
    gain = 10 ** (db / 20)
    if kind == "shelf":
        return lambda f: 10 * np.log10((1 + gain * (f / 5000) ** 2) / (1 + (f / 5000) ** 2 / gain))

    def resonance(f: Floats) -> Floats:
        s = 1j * f / 14_000
        root = np.sqrt(gain)
        h: Floats = np.abs((s**2 + s * root / 2 + 1) / (s**2 + s / root / 2 + 1))
        return 20 * np.log10(h)

    if kind != "resonance":
        raise ValueError(f"treble is a shelf or a resonance, not {kind}")
    return resonance


def recording_curve_db(f: Floats) -> Floats:
    """IEC 60098: (1 + 3180 µs s)(1 + 75 µs s)/(1 + 318 µs s), 0 dB at 1 kHz."""

    def level(frequency: Floats) -> Floats:
        s = 2j * np.pi * frequency
        return 20 * np.log10(np.abs((1 + 3180e-6 * s) * (1 + 75e-6 * s) / (1 + 318e-6 * s)))

    return level(f) - level(np.array(1000.0))


def above(x: Floats, rate: int, corner_hz: float = MASKING_HZ) -> Floats:
    """What lies above a corner, without delay: fourth-order Butterworth forward and backward."""
    sections = signal.butter(4, corner_hz, "highpass", fs=rate, output="sos")
    out: Floats = signal.sosfiltfilt(sections, x, axis=0)
    return out


class LocalLevel:
    """RMS of a signal over 20 ms around any place, each channel by itself.

    Parameters
    ----------
    x : ndarray, shape (n, 2)
    rate : int, Hz
    """

    def __init__(self, x: Floats, rate: int) -> None:
        self._sum = np.concatenate([np.zeros((1, 2)), np.cumsum(np.square(x), axis=0)])
        self._half = round(0.01 * rate)

    def at(self, sample: int) -> Floats:
        """RMS around a sample, shape (2,)."""
        last = len(self._sum) - 1
        begin, end = max(0, min(sample - self._half, last)), max(0, min(sample + self._half, last))
        energy: Floats = self._sum[end] - self._sum[begin]
        return np.sqrt(np.maximum(energy, 0.0) / max(1, end - begin))


def noise(frames: int, rate: int, dbfs: float, colour: str, rng: np.random.Generator) -> Floats:
    """Two independent channels of noise with an exact RMS, re 1.0.

    `white` is even up to half the rate; `groove` falls by 3 dB per octave from 50 Hz, as equalised surface noise
    roughly does (from memory); `rumble` lies between 8 and 60 Hz.
    """
    x = rng.standard_normal((frames, 2))
    if colour != "white":
        size = 1 << (frames - 1).bit_length()
        f = np.fft.rfftfreq(size, 1 / rate)
        if colour == "groove":
            shape = np.maximum(f, 50.0) ** -0.5
        elif colour == "rumble":
            shape = 1 / np.sqrt((1 + (8 / np.maximum(f, 1e-3)) ** 4) * (1 + (f / 60) ** 6))
        else:
            raise ValueError(f"noise is white, groove or rumble, not {colour}")
        for c in (0, 1):
            x[:, c] = np.fft.irfft(np.fft.rfft(x[:, c], size) * shape, size)[:frames]
    scaled: Floats = x * (10 ** (dbfs / 20) / np.sqrt(np.mean(np.square(x), axis=0)))
    return scaled


def _drawn(kind: str, shape: str, t: Floats, rng: np.random.Generator) -> Floats:
    """A tick over time, s, beginning at 0, before it goes through the amplifier."""
    on = t >= 0
    if kind == "pop":
        f, fall = rng.uniform(300, 1500), rng.uniform(0.5e-3, 2e-3)
        return np.where(on, np.exp(-np.maximum(t, 0) / fall) * np.cos(2 * np.pi * f * t), 0.0)
    if shape == "impulse":
        return np.where(np.arange(len(t)) == int(np.argmin(np.abs(t))), 1.0, 0.0)
    if shape == "ringing":
        f, fall = rng.uniform(3000, 10_000), 10 ** rng.uniform(-4, -3)
        return np.where(on, np.exp(-np.maximum(t, 0) / fall) * np.sin(2 * np.pi * f * t), 0.0)
    if shape == "exponential":
        fall = rng.uniform(0.05e-3, 0.3e-3)
        return np.where(on, np.exp(-np.maximum(t, 0) / fall), 0.0)
    if shape != "bipolar":
        raise ValueError(f"a tick is one of {SHAPES}, not {shape}")
    width = rng.uniform(0.02e-3, 0.06e-3)
    z = (t - 3 * width) / width
    return z * np.exp(-(z**2) / 2)


def tick(kind: str, shape: str, offset: float, rate: int, rng: np.random.Generator) -> tuple[Floats, int, int]:
    """A tick as the capture holds it, of size 1 above 2 kHz.

    Parameters
    ----------
    kind : {"tick", "pop"}
    shape : str
        Of `SHAPES`; a pop has its own.
    offset : float
        Where between two samples it begins, samples.
    rate : int, Hz
    rng : Generator

    Returns
    -------
    wave : ndarray, shape (n,)
        Its greatest sample above 2 kHz is 1.
    peak : int
        Where that sample is.
    lead : int
        Samples before the tick begins.
    """
    lead = round(0.004 * rate)
    frames = lead + round((0.02 if kind == "pop" else 0.012) * rate)
    t = (np.arange(frames * _FINE) / _FINE - lead - offset) / rate
    wave = _drawn(kind, shape, t, rng) * rng.choice([-1.0, 1.0])
    corner = min(_BANDWIDTH_HZ, 0.45 * rate)
    wave = signal.sosfilt(signal.butter(2, corner, fs=rate * _FINE, output="sos"), wave)
    converter = signal.firwin(40 * _FINE + 1, 0.46 * rate, window=("kaiser", 9.0), fs=rate * _FINE)
    wave = signal.oaconvolve(wave, converter, mode="same")[::_FINE]
    heard = np.abs(above(np.concatenate([np.zeros(rate // 50), wave, np.zeros(rate // 50)])[:, None], rate)[:, 0])
    peak = int(np.argmax(heard))
    return wave / heard[peak], peak - rate // 50, lead
