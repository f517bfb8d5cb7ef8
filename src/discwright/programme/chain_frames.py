"""A capture at a glance: ten times a second its level, its strongest frequency and how much of the sound that is.

From these frames steady tones, rising sines and quiet stretches are told apart; nothing is measured here that is
reported.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import fft

Sound = NDArray[np.float32]
Float = NDArray[np.float64]

HOP_S = 0.1
_BATCH = 32
#: Around the strongest bin, what is counted to it: a share of its frequency, and at least so many bins.
_NEAR, _NEAR_BINS = 0.1, 3
FULL_SCALE = 0.9999


@dataclass(frozen=True)
class Frames:
    """Frames of 0.2 s, one each 0.1 s.

    Attributes
    ----------
    length : float, s
        Of the whole capture.
    level : ndarray, shape (frames, 2)
        Amplitude of a sine as loud as each channel.
    frequency : ndarray, shape (frames,), Hz
        The strongest one in the louder channel.
    share : ndarray, shape (frames,)
        How much of the channel's power lies within a tenth of it.
    sharp : ndarray, shape (frames,)
        How much of that lies within two bins of it: near 1 for a steady tone.
    full_scale : tuple of int
        Runs of three and more samples at full scale, left and right.
    silent : bool
        Every sample is nothing.
    """

    length: float
    level: Float
    frequency: Float
    share: Float
    sharp: Float
    full_scale: tuple[int, int]
    silent: bool

    @property
    def louder(self) -> Float:
        """Level of the louder channel, shape (frames,)."""
        return np.asarray(self.level.max(axis=1), dtype=np.float64)

    def middle(self, frame: float) -> float:
        """Time of the middle of a frame, s."""
        return (frame + 1.0) * HOP_S


def read_frames(blocks: Iterable[Sound], sample_rate_hz: int) -> Frames:
    """Look at a capture once.

    Parameters
    ----------
    blocks : iterable of ndarray, shape (m, 2)
    sample_rate_hz : int
    """
    hop = round(HOP_S * sample_rate_hz)
    held = np.zeros((0, 2), dtype=np.float32)
    rows: list[Float] = []
    count, tops, silent = 0, np.zeros(2, dtype=np.int64), True
    for block in blocks:
        count += len(block)
        peak = float(np.abs(block).max(initial=0.0))
        silent = silent and peak == 0.0
        if peak >= FULL_SCALE:
            tops += [_runs(np.abs(block[:, column]) >= FULL_SCALE) for column in (0, 1)]
        held = np.concatenate([held, block])
        ready = len(held) // hop - 1
        for first in range(0, ready, _BATCH):
            last = min(ready, first + _BATCH)
            rows.append(_batch(held[first * hop : (last + 1) * hop], hop, sample_rate_hz))
        held = held[max(0, ready) * hop :]
    table = np.concatenate(rows) if rows else np.zeros((0, 5))
    return Frames(
        length=count / sample_rate_hz,
        level=table[:, :2],
        frequency=table[:, 2],
        share=table[:, 3],
        sharp=table[:, 4],
        full_scale=(int(tops[0]), int(tops[1])),
        silent=silent,
    )


def _runs(high: NDArray[np.bool_]) -> int:
    """Runs of three and more."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], high, [False]]).astype(np.int8)))
    return int(((edges[1::2] - edges[::2]) >= 3).sum())


def _batch(sound: Sound, hop: int, rate: int) -> Float:
    """One row for each frame: both levels, frequency, share, sharpness."""
    count = len(sound) // hop - 1
    channels = [np.ascontiguousarray(sound[:, column]).reshape(count + 1, hop) for column in (0, 1)]
    halves = np.column_stack([np.einsum("ij,ij->i", one, one) for one in channels]).astype(np.float64) / hop
    level = np.sqrt(halves[:-1] + halves[1:])
    frames = np.empty((count, 2 * hop), dtype=np.float32)
    for k, column in enumerate(np.argmax(level, axis=1)):
        frames[k, :hop], frames[k, hop:] = channels[column][k], channels[column][k + 1]
    frames *= _hann(2 * hop)
    bins = fft.rfft(frames)
    power = bins.real**2 + bins.imag**2
    spacing = rate / (2 * hop)
    whole = np.maximum(power[:, 1:].sum(axis=1, dtype=np.float64), 1e-30)
    first = max(3, math.ceil(12.0 / spacing))
    peaks = first + np.argmax(power[:, first:-3], axis=1)
    rows = [_strongest(row, int(peak), float(all_)) for row, peak, all_ in zip(power, peaks, whole, strict=True)]
    return np.column_stack([level, np.array(rows) * (spacing, 1.0, 1.0)])


def _strongest(power: Sound, peak: int, whole: float) -> tuple[float, float, float]:
    """Place of the strongest line in bins, its share of the power, and how sharp it is."""
    reach = max(_NEAR_BINS, int(_NEAR * peak))
    low, high = max(1, peak - reach), min(len(power), peak + reach + 1)
    band = power[low:high]
    near = max(float(band.sum()), 1e-30)
    sharp = float(power[peak - 2 : peak + 3].sum()) / near
    place = peak + _beside(power, peak) if sharp > 0.8 else low + float(band @ _counted(len(band))) / near
    return place, near / whole, sharp


def _beside(power: Sound, peak: int) -> float:
    """Parts of a bin by which a line lies beside its highest bin, of a Hann window: (2r − 1)/(r + 1)."""
    below, at, above = (math.sqrt(float(power[peak + step])) for step in (-1, 0, 1))
    ratio = max(below, above) / max(at, 1e-30)
    return (1.0 if above >= below else -1.0) * (2.0 * ratio - 1.0) / (ratio + 1.0)


@lru_cache(maxsize=64)
def _counted(size: int) -> Sound:
    return np.arange(size, dtype=np.float32)


@lru_cache(maxsize=4)
def _hann(size: int) -> Sound:
    return (0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(size) / size)).astype(np.float32)
