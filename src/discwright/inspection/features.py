"""What a recording sounds like, coarsely: how loud each part of the spectrum is, fifty times a second.

Level, equalisation and noise of a playing change it little; another passage of the same music changes it much.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy import fft

Single = NDArray[np.float32]
Float = NDArray[np.float64]

#: Frames a second, and the edges of the bands, Hz.
RATE = 50
BANDS = (60, 150, 300, 600, 1000, 1700, 2800, 4500, 7000, 11000)
#: Each band is seen against its own mean over so many frames around.
_AROUND = 75
_BLOCK = 1 << 19


class Samples(Protocol):
    """Stereo samples that can be read from any place.

    Attributes
    ----------
    rate : int
        Hz.
    frames : int
    """

    rate: int
    frames: int

    def read(self, first: int, count: int) -> Single:
        """Frames from any place; zeros before the first and after the last."""
        ...


def features(samples: Samples) -> tuple[Single, Float]:
    """Describe a recording.

    Parameters
    ----------
    samples : Samples

    Returns
    -------
    shape : ndarray, shape (n, bands), float32
        Decibels of each band over its own mean around; frame k is centred on k/RATE seconds.
    level : ndarray, shape (n,)
        Mean square of both channels, 1.0 = full scale.
    """
    hop = samples.rate / RATE
    size = 1 << int(np.ceil(np.log2(1.25 * hop)))
    window = np.hanning(size + 1)[:-1].astype(np.float32)
    edges = np.searchsorted(fft.rfftfreq(size, 1 / samples.rate), BANDS)
    count = max(1, int(np.ceil(samples.frames / hop)))
    energy = np.empty((count, len(BANDS) - 1))
    level = np.empty(count)
    step = max(1, int(_BLOCK / hop))
    for first in range(0, count, step):
        last = min(first + step, count)
        begin = round(first * hop) - size // 2
        audio = samples.read(begin, round((last - 1) * hop) - round(first * hop) + size)
        at = np.round(np.arange(first, last) * hop).astype(np.int64) - round(first * hop)
        views = np.lib.stride_tricks.sliding_window_view(audio, size, axis=0)[at]  # (m, 2, size)
        level[first:last] = np.mean(views**2, axis=(1, 2))
        power = np.sum(np.abs(fft.rfft(views * window, axis=2, workers=2)) ** 2, axis=1)
        energy[first:last] = np.add.reduceat(power, edges, axis=1)[:, :-1]
    return _against_surroundings(energy), level


def _against_surroundings(energy: Float) -> Single:
    floor = 1e-5 * np.mean(energy, axis=0) + 1e-12
    level = 10 * np.log10(energy + floor)
    total = np.cumsum(np.vstack([np.zeros((1, level.shape[1])), level]), axis=0)
    index = np.arange(len(level))
    begin, end = np.maximum(index - _AROUND, 0), np.minimum(index + _AROUND + 1, len(level))
    mean = (total[end] - total[begin]) / (end - begin)[:, None]
    result: Single = (level - mean).astype(np.float32)
    return result
