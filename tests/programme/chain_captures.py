"""Captures for the tests of a chain: the project's own signals and tones of other origin, all in memory."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache

import numpy as np

from discwright.programme.chain_measure import measure_chain
from discwright.programme.chain_report import ChainReport
from discwright.programme.chain_signals import signal_blocks

RATE = 44_100
#: From the levels of 1 kHz to the end; before them lie the passes of third octaves.
LATE_S = 172.0


@cache
def signals() -> np.ndarray:
    """The whole signals, shape (n, 2), float32; not to be changed."""
    whole = np.concatenate([(block / 2.0**31).astype(np.float32) for block in signal_blocks(RATE, 24)])
    whole.setflags(write=False)
    return whole


def late() -> np.ndarray:
    """The signals from `LATE_S` on: levels, swept sines, pairs, both channels alone, silence."""
    return signals()[round(LATE_S * RATE) :].astype(np.float64)


def stretch(begin: float, end: float) -> np.ndarray:
    return signals()[round(begin * RATE) : round(end * RATE)].astype(np.float64)


def measured(sound: np.ndarray, rate: int = RATE, channels: int = 2) -> ChainReport:
    return measure_chain(reader(sound), rate, channels, "capture.wav")


def reader(sound: np.ndarray) -> Callable[[], Iterator[np.ndarray]]:
    stereo = np.repeat(sound[:, None], 2, axis=1) if sound.ndim == 1 else sound
    plain = np.ascontiguousarray(stereo, dtype=np.float32)

    def read() -> Iterator[np.ndarray]:
        for at in range(0, len(plain), 1 << 17):
            yield plain[at : at + (1 << 17)]

    return read


def tone(frequency: float, seconds: float, peak: float = 0.2, rate: int = RATE) -> np.ndarray:
    return peak * np.sin(2 * np.pi * frequency * np.arange(round(seconds * rate)) / rate)


def both(sound: np.ndarray) -> np.ndarray:
    return np.stack([sound, sound], axis=1)


def noise(seconds: float, rms: float, seed: int = 1, rate: int = RATE) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal((round(seconds * rate), 2)) * rms
