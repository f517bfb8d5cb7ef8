"""What the tests of the inspection share: an invented piece, samples in memory, and what a playing is laid upon."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import signal
from spoiler import Spoil, Spoiled, spoil

from discwright.inspection.align import Alignment, align
from discwright.inspection.coarse import find_line
from discwright.inspection.features import features
from discwright.inspection.frames import Pair
from discwright.inspection.jumps import follow
from discwright.inspection.timemap import TimeMap, first_map

Floats = NDArray[np.float64]
Single = NDArray[np.float32]

RATE, RPM, TURN_S = 44_100, 100 / 3, 1.8
_TABLE = 1 << 15


@dataclass(frozen=True)
class Held:
    """Samples in memory, zeros around them."""

    rate: int
    audio: Single

    @property
    def frames(self) -> int:
        return len(self.audio)

    def read(self, first: int, count: int) -> Single:
        out = np.zeros((max(count, 0), 2), dtype=np.float32)
        begin, end = max(first, 0), min(first + count, len(self.audio))
        if end > begin:
            out[begin - first : end - first] = self.audio[begin:end]
        return out


def held(audio: Any, rate: int = RATE) -> Held:
    return Held(rate, np.ascontiguousarray(audio, dtype=np.float32))


@cache
def piece(seconds: float, seed: int = 1, rate: int = RATE, peak: float = 0.7) -> Floats:
    """Plucked and bowed chords over a bass, struck seven times in two seconds, none alike, with breath up to 17 kHz.

    Shape (n, 2), not to be written to. Each voice stands somewhere of its own between left and right.
    """
    rng = np.random.default_rng(seed)
    out = np.zeros((round(seconds * rate), 2))
    at = 0.05
    while at < seconds - 0.02:
        length = rng.uniform(0.3, 1.6)
        n = min(round(length * rate), len(out) - round(at * rate))
        out[round(at * rate) : round(at * rate) + n] += _chord(rng, np.arange(n) / rate, length)
        at += rng.choice([0.13, 0.2, 0.27, 0.4, 0.52])
    spectrum = np.fft.rfft(rng.standard_normal(out.shape), axis=0)
    f = np.fft.rfftfreq(len(out), 1 / rate)
    breath = np.fft.irfft(spectrum * ((f > 25) * (f < 17_000) / np.maximum(f, 200) ** 0.7)[:, None], len(out), axis=0)
    knots = np.arange(0.0, seconds + 1.3, 1.3)
    loudness = np.interp(np.arange(len(out)) / rate, knots, rng.uniform(0.3, 1.0, len(knots)))
    out = out / np.sqrt(np.mean(out**2)) + 0.12 * breath / np.sqrt(np.mean(breath**2)) * loudness[:, None]
    result: Floats = out / np.abs(out).max() * peak
    result.flags.writeable = False
    return result


def _chord(rng: np.random.Generator, t: Floats, length: float) -> Floats:
    out = np.zeros((len(t), 2))
    for octave in (1, 3, 4, 4):
        f = 27.5 * 2 ** (octave - 1 + rng.integers(0, 12) / 12)
        attack, fall = rng.choice([0.004, 0.06]), rng.uniform(0.15, 0.6) * length
        swell = np.minimum(t / attack, 1.0) * np.exp(-t / fall) * np.clip((length - t) / 0.02, 0.0, 1.0)
        partials = np.arange(1, 13)
        strength = np.zeros(_TABLE // 2 + 1, dtype=complex)
        strength[partials] = partials ** -rng.uniform(0.8, 1.6) * np.exp(2j * np.pi * rng.random(12))
        wave = np.fft.irfft(strength, _TABLE) * _TABLE
        voice = wave[(t * f * _TABLE).astype(np.int64) % _TABLE] * swell
        lean = rng.uniform(0.15, 0.85)
        out += voice[:, None] * np.array([lean, 1 - lean]) * rng.uniform(0.4, 1.0)
    return out


@cache
def struck(seconds: float, seed: int = 1) -> Floats:
    """Drums and castanets: attacks as steep as 18 kHz allow, between them near silence.

    Shape (n, 2), not to be written to.
    """
    rng = np.random.default_rng(seed)
    out = np.zeros((round(seconds * RATE), 2))
    at = 0.3
    while at < seconds - 0.4:
        t = np.arange(round(0.35 * RATE)) / RATE
        kind = rng.integers(0, 4)
        if kind == 0:  # bass drum
            hit = np.sin(2 * np.pi * 55 * t) * np.exp(-t / 0.12) + 0.5 * rng.standard_normal(len(t)) * np.exp(
                -t / 0.003
            )
        elif kind == 1:  # snare
            hit = 0.8 * rng.standard_normal(len(t)) * np.exp(-t / 0.05)
        else:  # castanets
            hit = 1.4 * np.sin(2 * np.pi * rng.uniform(2500, 7000) * t + 1.0) * np.exp(-t / rng.uniform(0.002, 0.008))
        lean = rng.uniform(0.2, 0.8)
        begin = round(at * RATE)
        out[begin : begin + len(t)] += hit[:, None] * np.array([lean, 1 - lean])
        at += rng.choice([0.11, 0.22, 0.33])
    out += 1e-4 * rng.standard_normal(out.shape)
    out = signal.sosfiltfilt(signal.butter(6, 18_000.0, fs=RATE, output="sos"), out, axis=0)
    result: Floats = out / np.abs(out).max() * 0.8
    result.flags.writeable = False
    return result


def above(x: Floats, hz: float = 2000.0) -> Floats:
    """What lies above a frequency, by the definition of a tick's size: fourth order, forward and back."""
    sections = signal.butter(4, hz, "highpass", fs=RATE, output="sos")
    result: Floats = signal.sosfiltfilt(sections, x, axis=0)
    return result


def spiral(time: Floats) -> Floats:
    """A groove from 100 mm inward, 100 µm a turn."""
    return 0.1 - np.asarray(time) / TURN_S * 100e-6


def play(programme: Floats, seed: int = 1, radius: Callable[[Floats], Floats] = spiral, **wrongs: Any) -> Spoiled:
    """A playing of a programme with wrongs."""
    return spoil(programme, RATE, radius, RPM, Spoil(**wrongs), seed=seed)


def rough(programme: Held, capture: Held) -> TimeMap:
    """Where the programme lies in a capture, to some hundredths of a second."""
    (own, level), (heard, _) = features(programme), features(capture)
    line = find_line(own, level, heard)
    assert line.found
    return first_map(line, follow(own, heard, line).stretches, programme.frames / programme.rate)


def lay(programme: Floats, audio: Single) -> tuple[Pair, Alignment]:
    """A capture laid upon a programme."""
    pair = Pair(held(programme), held(audio))
    return pair, align(pair, rough(pair.programme, pair.capture), TURN_S, lambda _step, _done: None)
