"""The test signals for a recording or cutting chain: what plays when, and the samples of it.

Everything is laid out in seconds, so that the signals are the same at every sample rate, and every stretch begins on a
sample of all of them. Above 2 kHz no tone passes −20 dBFS, so that what a recording curve adds does not hurt a cutting
head.

The swept sine is that of Novak, Lotton, Simon, Synchronized Swept-Sine, JAES 63 (2015) 786: after it the harmonics of
the chain stand apart in time (Farina, AES preprint 5093, 2000). The pairs are the modulation and the
difference-frequency signals of IEC 60268-3; the first is also that of SMPTE RP 120.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from discwright.errors import CallError

Single = NDArray[np.float32]
Float = NDArray[np.float64]
Kind = Literal["chirp", "tone", "sweep", "pair", "silence"]
Side = Literal["both", "left", "right"]

RATES_HZ = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)
BITS = (16, 24)
#: Nominal midband frequencies of third octaves, ISO 266.
THIRDS_HZ = (
    20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 315.0, 400.0, 500.0, 630.0, 800.0,
    1000.0, 1250.0, 1600.0, 2000.0, 2500.0, 3150.0, 4000.0, 5000.0, 6300.0, 8000.0, 10_000.0, 12_500.0, 16_000.0,
    20_000.0,
)  # fmt: skip
OCTAVES_HZ = (31.5, 63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 16_000.0)
REFERENCE_HZ = 1000.0
#: Of the passes of third octaves: level, dBFS, highest frequency, and length of each tone, s, by which they are told
#: apart.
PASSES = ((-40.0, 20_000.0, 1.8), (-20.0, 20_000.0, 1.9), (-10.0, 2000.0, 2.0))
LEVELS_DBFS = (-60.0, -50.0, -30.0, -6.0, -3.0, -1.0)
USUAL_DBFS = -20.0

LEVEL_TONE_S, GAP_S = 1.7, 0.2
SIDE_TONE_S = 1.0
PAIR_S = 3.0
SILENCE_S = 30.0
SWEEP_S, SWEEP_TAIL_S = 20.0, 1.0
#: Begin and end of the swept sine; beyond both ends of 20 Hz to 20 kHz, so that nothing is judged at an edge.
SWEEP_LOW_HZ, SWEEP_HIGH_HZ = 5.0, 21_500.0
CHIRP_S, CHIRP_GAP_S = 0.5, 0.5
CHIRP_LOW_HZ, CHIRP_HIGH_HZ = 300.0, 6000.0
#: (low, high frequency, amplitude of the low over that of the high, peak level of both together, dBFS)
MODULATION = (60.0, 7000.0, 4.0, -10.0)
DIFFERENCE = (19_000.0, 20_000.0, 1.0, -20.0)
FADE_S = 0.02
_LEAD_S = 1.0
_SEED = 9


@dataclass(frozen=True)
class Piece:
    """One stretch of the signals.

    Attributes
    ----------
    kind : {"chirp", "tone", "sweep", "pair", "silence"}
    block : int
        Which block it belongs to; each begins with a chirp.
    start, length : float, s
        From the first sample of the signals.
    side : {"both", "left", "right"}
    level_dbfs : float
        Of a sine by its peak, of a pair by the peak of both together; a full-scale sine is 0 dBFS.
    frequency, second : float, Hz
        Of a tone; of a pair the low and the high one.
    ratio : float
        Of a pair: amplitude of the low over that of the high tone.
    """

    kind: Kind
    block: int
    start: float
    length: float
    side: Side = "both"
    level_dbfs: float = USUAL_DBFS
    frequency: float = 0.0
    second: float = 0.0
    ratio: float = 1.0

    @property
    def end(self) -> float:
        return self.start + self.length


def pieces() -> tuple[Piece, ...]:
    """All stretches by time: ten blocks, a chirp before each and one at the end."""
    found: list[Piece] = []
    at = _LEAD_S
    for block, inner in enumerate(_blocks()):
        found.append(Piece("chirp", block, round(at, 6), CHIRP_S))
        at += CHIRP_S + CHIRP_GAP_S
        for kind, length, gap, side, level, low, high, ratio in inner:
            found.append(Piece(kind, block, round(at, 6), length, side, level, low, high, ratio))
            at += length + gap
    return tuple(found)


_Row = tuple[Kind, float, float, Side, float, float, float, float]


def _blocks() -> Iterator[list[_Row]]:
    for level, highest, length in PASSES:
        yield [_tone(f, level, length) for f in THIRDS_HZ if f <= highest]
    yield [_tone(REFERENCE_HZ, level, LEVEL_TONE_S) for level in LEVELS_DBFS]
    sides: tuple[Side, Side] = ("left", "right")
    for side in sides:
        yield [("sweep", SWEEP_S, SWEEP_TAIL_S, side, USUAL_DBFS, 0.0, 0.0, 1.0)]
    yield [
        ("pair", PAIR_S, GAP_S, "both", level, low, high, ratio) for low, high, ratio, level in (MODULATION, DIFFERENCE)
    ]
    for side in sides:
        yield [_tone(f, USUAL_DBFS, SIDE_TONE_S, side) for f in OCTAVES_HZ]
    yield [("silence", SILENCE_S, 0.0, "both", -math.inf, 0.0, 0.0, 1.0)]
    yield []


def _tone(frequency: float, level: float, length: float, side: Side = "both") -> _Row:
    return ("tone", length, GAP_S, side, level, frequency, 0.0, 1.0)


def duration() -> float:
    """Length of the signals, s."""
    return round(pieces()[-1].end + _LEAD_S, 6)


def amplitude(level_dbfs: float) -> float:
    """Peak of a sine of a level, 1 = full scale."""
    return float(10.0 ** (level_dbfs / 20.0))


def sweep_rate() -> float:
    """Time in which the swept sine rises by a factor of e, s: L of Novak 2015."""
    return SWEEP_S / math.log(SWEEP_HIGH_HZ / SWEEP_LOW_HZ)


def sweep_at(time: Float, peak: float = 1.0) -> Float:
    """The swept sine at any times.

    Novak, Lotton, Simon 2015: sin(2π·f1·L·exp(t/L)), with short fades at both ends.

    Parameters
    ----------
    time : ndarray, s
        From its begin; before it and after its end it is silent.
    peak : float
    """
    rate = sweep_rate()
    inside = np.clip(time, 0.0, SWEEP_S)
    wave = np.sin(2.0 * np.pi * SWEEP_LOW_HZ * rate * np.exp(inside / rate))
    return np.asarray(peak * wave * _fades(time, SWEEP_S, 0.2, 0.03), dtype=np.float64)


def chirp_at(time: Float) -> Float:
    """The chirp at any times: a short swept sine from 300 Hz to 6 kHz, rising evenly by octaves.

    Parameters
    ----------
    time : ndarray, s
        From its begin; before it and after its end it is silent.
    """
    rate = CHIRP_S / math.log(CHIRP_HIGH_HZ / CHIRP_LOW_HZ)
    inside = np.clip(time, 0.0, CHIRP_S)
    wave = np.sin(2.0 * np.pi * CHIRP_LOW_HZ * rate * np.expm1(inside / rate))
    return np.asarray(amplitude(USUAL_DBFS) * wave * _fades(time, CHIRP_S, FADE_S, FADE_S), dtype=np.float64)


def wave_of(piece: Piece, time: Float) -> Float:
    """What a stretch plays in the channels that it plays in.

    Parameters
    ----------
    piece : Piece
    time : ndarray, s
        From the begin of the stretch.
    """
    if piece.kind == "chirp":
        return chirp_at(time)
    if piece.kind == "sweep":
        return sweep_at(time, amplitude(piece.level_dbfs))
    if piece.kind == "silence":
        return np.zeros(len(time))
    peak = amplitude(piece.level_dbfs)
    if piece.kind == "pair":
        low = piece.ratio / (1.0 + piece.ratio)
        wave = low * np.sin(2.0 * np.pi * piece.frequency * time)
        wave += (1.0 - low) * np.sin(2.0 * np.pi * piece.second * time)
    else:
        wave = np.sin(2.0 * np.pi * piece.frequency * time)
    return np.asarray(peak * wave * _fades(time, piece.length, FADE_S, FADE_S), dtype=np.float64)


def _fades(time: Float, length: float, rise: float, fall: float) -> Float:
    """Raised cosines at both ends, nothing outside."""
    shape = np.ones(len(time))
    for part in (time / rise, (length - time) / fall):
        edge = part < 1.0
        shape[edge] *= 0.5 - 0.5 * np.cos(np.pi * np.clip(part[edge], 0.0, 1.0))
    return shape


def signal_blocks(sample_rate_hz: int, bits: int) -> Iterator[NDArray[np.int32]]:
    """The signals as whole numbers, with the dither that 16 and 24 bits need.

    Parameters
    ----------
    sample_rate_hz : int
    bits : {16, 24}

    Yields
    ------
    ndarray of int32, shape (n, 2)
        The sample in the upper bits. Dither is triangular, two steps wide, drawn from a fixed seed: the same call
        makes the same samples.

    Raises
    ------
    CallError
        If the rate or the bits are none of those that can be made.
    """
    if sample_rate_hz not in RATES_HZ:
        raise CallError(f"signals are not made at {sample_rate_hz} Hz; choose from {', '.join(map(str, RATES_HZ))}.")
    if bits not in BITS:
        raise CallError(f"signals are not made with {bits} bits; choose 16 or 24.")
    return _quantised(sample_rate_hz, bits)


def _quantised(rate: int, bits: int) -> Iterator[NDArray[np.int32]]:
    dither, steps = np.random.default_rng(_SEED), 2.0 ** (bits - 1)
    for wave in _waves(rate):
        noise = dither.random(wave.shape, dtype=np.float32) - dither.random(wave.shape, dtype=np.float32)
        whole = np.round(wave * steps + noise).astype(np.int32)
        yield whole << (32 - bits)


def _waves(rate: int) -> Iterator[Float]:
    """Each stretch and the pause up to the next."""
    found = pieces()
    edges = [0.0, *(piece.start for piece in found), duration()]
    yield np.zeros((round(edges[1] * rate), 2))
    for piece, (begin, end) in zip(found, pairwise(edges[1:]), strict=True):
        first, last = round(begin * rate), round(end * rate)
        sound, length = np.zeros((last - first, 2)), round(piece.length * rate)
        wave = wave_of(piece, np.arange(length) / rate)
        for column in columns_of(piece.side):
            sound[:length, column] = wave
        yield sound


def columns_of(side: Side) -> tuple[int, ...]:
    """Which columns of a stereo block a stretch plays in."""
    return {"both": (0, 1), "left": (0,), "right": (1,)}[side]
