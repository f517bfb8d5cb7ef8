"""What a chain adds when nothing plays: noise from 20 Hz to 20 kHz, and the lines of the mains in it.

Averaged spectra (Welch 1967), Hann windows of up to 4 s, half overlapping. Levels are of a sine as loud: a full-scale
sine is 0 dBFS, so noise of an rms σ reads 20·log10(σ·√2). The mains are looked for at their own frequencies, whatever
the speed error of the capture.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from discwright.programme.chain_find import MAINS_HZ
from discwright.programme.chain_tones import BAND_HZ

Float = NDArray[np.float64]
Sound = NDArray[np.float32]

WINDOW_S = 4.0
#: Harmonics of the mains that are looked for, and how far from their places, a share of the frequency.
HUM_ORDERS, _SLACK = 10, 0.01
#: A line stands above the noise beside it by so much, dB: with four spectra averaged and more, and with fewer.
_STANDS_OUT_DB, _STANDS_OUT_FEW_DB = 10.0, 15.0
#: Lines belong to one mains whose frequencies agree within this share.
_AGREE = 0.001


@dataclass(frozen=True)
class HumLine:
    """A line of the mains.

    Attributes
    ----------
    order : int
        1 for the mains itself.
    frequency : float, Hz
    level_dbfs : float
    """

    order: int
    frequency: float
    level_dbfs: float


@dataclass(frozen=True)
class NoiseReading:
    """One channel of a quiet stretch.

    Attributes
    ----------
    level_dbfs : float or None
        From 20 Hz to 20 kHz, hum and all; None for digital silence.
    mains : float or None, Hz
        50 or 60, whichever the lines belong to; None without lines.
    hum : tuple of HumLine
        By order.
    """

    level_dbfs: float | None
    mains: float | None
    hum: tuple[HumLine, ...]


def read_noise(sound: Sound, sample_rate_hz: int) -> tuple[NoiseReading, NoiseReading]:
    """Measure a quiet stretch, left and right.

    Parameters
    ----------
    sound : ndarray, shape (n, 2)
        At least a quarter of a second.
    sample_rate_hz : int
    """
    left, right = (_read(sound[:, column], sample_rate_hz) for column in (0, 1))
    return left, right


def _read(sound: Sound, rate: int) -> NoiseReading:
    power, count = _average(sound, rate)
    spacing = rate / (2.0 * (len(power) - 1))
    first, last = math.ceil(BAND_HZ[0] / spacing), math.floor(min(BAND_HZ[1], rate / 2.0) / spacing)
    mean_square = float(power[first : last + 1].sum())
    if mean_square < 1e-20:
        return NoiseReading(None, None, ())
    found = {mains: _lines(power, spacing, mains, count) for mains in MAINS_HZ}
    mains = max(found, key=lambda one: sum(10.0 ** (line.level_dbfs / 10.0) for line in found[one]))
    return NoiseReading(_dbfs(mean_square), mains if found[mains] else None, found[mains])


def _average(sound: Sound, rate: int) -> tuple[Float, int]:
    """Mean square that each bin stands for, and how many spectra were averaged."""
    size = min(len(sound), 2 * (round(WINDOW_S * rate) // 2)) // 2 * 2
    window = (0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(size) / size)).astype(np.float32)
    starts = range(0, len(sound) - size + 1, max(1, size // 2))
    total = np.zeros(size // 2 + 1)
    for start in starts:
        bins = fft.rfft(np.ascontiguousarray(sound[start : start + size]) * window)
        total += np.square(bins.real, dtype=np.float64) + np.square(bins.imag, dtype=np.float64)
    return total * (2.0 / (size * size * 3.0 / 8.0) / max(1, len(starts))), len(starts)


def _lines(power: Float, spacing: float, mains: float, count: int) -> tuple[HumLine, ...]:
    """Lines at the multiples of a mains frequency that stand out and agree with the strongest of them."""
    above = 10.0 ** ((_STANDS_OUT_DB if count >= 4 else _STANDS_OUT_FEW_DB) / 10.0)
    found: list[tuple[int, float, float]] = []
    for order in range(1, HUM_ORDERS + 1):
        slack = max(2.0, _SLACK * order * mains / spacing)
        low, high = math.floor(order * mains / spacing - slack), math.ceil(order * mains / spacing + slack)
        if high + 4 >= len(power):
            break
        peak = low + int(np.argmax(power[low : high + 1]))
        wide = max(12, round(0.1 * mains / spacing))
        beside = np.concatenate([power[max(1, peak - 4 - wide) : peak - 3], power[peak + 4 : peak + 4 + wide]])
        noise = float(np.median(beside)) / math.log(2.0) if beside.size else 0.0
        line = float(power[peak - 2 : peak + 3].sum()) - 5.0 * noise
        if power[peak] > above * noise and line > 1e-20:
            moment = float((power[peak - 2 : peak + 3] * np.arange(-2, 3)).sum() / power[peak - 2 : peak + 3].sum())
            found.append((order, spacing * (peak + moment), line))
    if not found:
        return ()
    order, frequency, _ = max(found, key=lambda one: one[2])
    slack = max(_AGREE * mains, spacing / order)
    return tuple(
        HumLine(k, hz, _dbfs(line)) for k, hz, line in found if abs(hz / k - frequency / order) <= slack + spacing / k
    )


def _dbfs(mean_square: float) -> float:
    return 10.0 * math.log10(2.0 * mean_square)
