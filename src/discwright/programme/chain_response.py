"""What the single readings of a chain come to: response, gain, balance, harmonics by frequency, wiring."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discwright.programme.chain_place import Chirp
from discwright.programme.chain_report import CHANNELS, HarmonicRow, Of, ResponseRow, Tone, Wiring
from discwright.programme.chain_signals import REFERENCE_HZ, THIRDS_HZ, USUAL_DBFS, Piece
from discwright.programme.chain_sweep import ORDERS, SweepReading
from discwright.programme.chain_tones import ToneReading

Float = NDArray[np.float64]
SweepPair = tuple[SweepReading | None, SweepReading | None]

STEPS_PER_OCTAVE = 24
#: A channel has a swept sine of its own where the other has so much less of it.
_ALONE = 3.0
#: Channels work against each other where the cosine between their tones is below this, at most of them.
_AGAINST = -0.7
_LOWEST_TONES = 3
_SAME_HZ = 0.01


@dataclass(frozen=True)
class Sweeps:
    """The swept sines that were found, and which of them speaks for which channel of the capture.

    Attributes
    ----------
    left, right : SweepReading or None
    swapped : bool or None
        Whether what was played on the left came back on the right.
    """

    left: SweepReading | None
    right: SweepReading | None
    swapped: bool | None

    @property
    def both(self) -> SweepPair:
        return self.left, self.right


def gather_sweeps(found: Sequence[tuple[Piece, SweepPair]]) -> Sweeps:
    """Take for each channel the swept sine in which it is the louder.

    Parameters
    ----------
    found : sequence of (Piece, pair of SweepReading)
        Each swept sine as it was played, and what was read in both channels.
    """
    chosen: list[SweepReading | None] = [None, None]
    crossed: list[bool] = []
    for piece, pair in found:
        level = [0.0 if one is None else one.at(REFERENCE_HZ) for one in pair]
        column = 0 if piece.side == "left" else 1
        alone = max(level) > _ALONE * min(level)
        if alone:
            loud = int(np.argmax(level))
            crossed.append(loud != column)
            column = loud
        for place in (column, 1 - column) if not alone else (column,):
            chosen[place] = chosen[place] or pair[place]
    return Sweeps(chosen[0], chosen[1], all(crossed) if crossed else None)


def sweep_response(sweeps: Sweeps) -> tuple[tuple[ResponseRow, ...], Float, Float]:
    """Response at the third octaves and in fine steps, dB re 1 kHz.

    Parameters
    ----------
    sweeps : Sweeps

    Returns
    -------
    rows : tuple of ResponseRow
    hz, db : ndarray, shapes (points,) and (2, points)
        In steps of 1/24 octave from 20 Hz to 20 kHz; NaN for a channel that was not heard.
    """
    fine = fine_hz()
    curves = np.full((2, len(fine)), np.nan)
    rows: list[list[float | None]] = []
    for column, one in enumerate(sweeps.both):
        if one is None or one.at(REFERENCE_HZ) <= 0.0:
            rows.append([None] * len(THIRDS_HZ))
            continue
        curves[column] = [_db(one.at(f) / one.at(REFERENCE_HZ)) for f in fine]
        rows.append([_db(one.at(f) / one.at(REFERENCE_HZ)) for f in THIRDS_HZ])
    return tuple(ResponseRow(f, *pair) for f, *pair in zip(THIRDS_HZ, *rows, strict=True)), fine, curves


def fine_hz() -> Float:
    """From 20 Hz to 20 kHz in steps of 1/24 octave, both ends included."""
    first = math.ceil(STEPS_PER_OCTAVE * math.log2(THIRDS_HZ[0] / REFERENCE_HZ))
    last = math.floor(STEPS_PER_OCTAVE * math.log2(THIRDS_HZ[-1] / REFERENCE_HZ))
    inner = REFERENCE_HZ * 2.0 ** (np.arange(first, last + 1) / STEPS_PER_OCTAVE)
    return np.concatenate([[THIRDS_HZ[0]], inner, [THIRDS_HZ[-1]]])


def sweep_harmonics(sweeps: Sweeps) -> tuple[HarmonicRow, ...]:
    """Harmonics 2 to 5 over the fundamental at the third octaves.

    Parameters
    ----------
    sweeps : Sweeps
    """
    if sweeps.left is None and sweeps.right is None:
        return ()

    def of(one: SweepReading | None, frequency: float) -> tuple[float | None, ...]:
        return tuple(None if one is None else one.harmonic(order, frequency) for order in ORDERS)

    return tuple(HarmonicRow(f, of(sweeps.left, f), of(sweeps.right, f)) for f in THIRDS_HZ)


def tone_response(tones: Sequence[Tone]) -> tuple[ResponseRow, ...]:
    """Response by steady tones, dB re the tone nearest 1 kHz; empty with fewer than three.

    Of tones whose level is known, those at −20 dBFS are taken, or the level with most of them. Of others the longest
    series in which no frequency comes twice: a capture of third octaves and then of one tone at several levels is read
    by the first.

    Parameters
    ----------
    tones : sequence of Tone
        By time.
    """
    found: list[dict[float, float]] = []
    for column in range(2):
        heard = [(tone, one) for tone in tones if (one := (tone.left, tone.right)[column]) is not None]
        series = _known(heard) if any(tone.played_dbfs is not None for tone, _ in heard) else _longest(heard)
        levels = {_named(tone): one.level_dbfs for tone, one in series}
        if len(levels) < _LOWEST_TONES:
            levels = {}
        reference = levels[min(levels, key=lambda f: abs(math.log(f / REFERENCE_HZ)))] if levels else 0.0
        found.append({f: level - reference for f, level in levels.items()})
    names = sorted(set(found[0]) | set(found[1]))
    return tuple(ResponseRow(f, found[0].get(f), found[1].get(f)) for f in names)


_Heard = Sequence[tuple[Tone, ToneReading]]


def _known(heard: _Heard) -> _Heard:
    levels = [tone.played_dbfs for tone, _ in heard if tone.side == "both" and tone.played_dbfs is not None]
    if not levels:
        return ()
    level = USUAL_DBFS if levels.count(USUAL_DBFS) >= _LOWEST_TONES else max(levels, key=levels.count)
    return [(tone, one) for tone, one in heard if tone.side == "both" and tone.played_dbfs == level]


def _longest(heard: _Heard) -> _Heard:
    best: list[tuple[Tone, ToneReading]] = []
    run: list[tuple[Tone, ToneReading]] = []
    for tone, one in heard:
        if any(abs(one.frequency / known.frequency - 1.0) < _SAME_HZ for _, known in run):
            run = []
        run.append((tone, one))
        if len(run) > len(best):
            best = list(run)
    return best


def _named(tone: Tone) -> float:
    """A third octave's nominal frequency where the tone is one, or what was measured."""
    measured = tone.about_hz
    nearest = min(THIRDS_HZ, key=lambda f: abs(math.log(f / measured)))
    return nearest if abs(measured / nearest - 1.0) < _SAME_HZ else round(measured, 3)


def gain_of(sweeps: Sweeps, tones: Sequence[Tone]) -> Of:
    """Left and right at 1 kHz, captured over played, dB: by the swept sine, or by the tone nearest 1 kHz.

    Parameters
    ----------
    sweeps : Sweeps
        Played in one channel at a time, so of no use where a mono file holds the sum of both.
    tones : sequence of Tone
    """
    known: list[float | None] = []
    for column, sweep in enumerate(sweeps.both):
        heard = [
            (tone, one.level_dbfs - tone.played_dbfs)
            for tone in tones
            if (one := (tone.left, tone.right)[column]) is not None and tone.played_dbfs is not None
        ]
        if sweep is not None:
            known.append(_db(sweep.at(REFERENCE_HZ)))
        elif heard:
            usual = [pair for pair in heard if pair[0].played_dbfs == USUAL_DBFS] or heard
            known.append(min(usual, key=lambda pair: abs(math.log(pair[0].about_hz / REFERENCE_HZ)))[1])
        else:
            known.append(None)
    return known[0], known[1]


def balance_of(gain: Of, tones: Sequence[Tone]) -> float | None:
    """Left over right at 1 kHz, dB; by a tone in both channels where no gain is known.

    Parameters
    ----------
    gain : tuple of (float or None)
    tones : sequence of Tone
    """
    if gain[0] is not None and gain[1] is not None:
        return gain[0] - gain[1]
    both = [tone for tone in tones if tone.left is not None and tone.right is not None]
    if not both:
        return None
    tone = min(both, key=lambda one: abs(math.log(one.about_hz / REFERENCE_HZ)))
    left, right = tone.left, tone.right
    return left.level_dbfs - right.level_dbfs if left is not None and right is not None else None


def wiring_of(sweeps: Sweeps, chirps: Sequence[tuple[Chirp | None, Chirp | None]], tones: Sequence[Tone]) -> Wiring:
    """Polarity and order of the channels: by the swept sines and the chirps, or by tones in both channels.

    Parameters
    ----------
    sweeps : Sweeps
    chirps : sequence of pairs of Chirp
    tones : sequence of Tone
    """
    upside: list[bool | None] = []
    for column in range(len(CHANNELS)):
        sweep, marked = sweeps.both[column], [pair[column] for pair in chirps]
        signs = [one.polarity for one in marked if one is not None]
        if sweep is not None:
            upside.append(sweep.polarity < 0)
        else:
            upside.append(sum(signs) < 0 if signs else None)
    left, right = upside
    opposed = left != right if left is not None and right is not None else _against(tones)
    return Wiring(left, right, opposed, _crossed(sweeps, tones))


def _against(tones: Sequence[Tone]) -> bool | None:
    phases = [
        math.cos(tone.left.phase - tone.right.phase)
        for tone in tones
        if tone.left is not None and tone.right is not None and tone.about_hz <= 2.0 * REFERENCE_HZ
    ]
    return float(np.median(phases)) < _AGAINST if phases else None


def _crossed(sweeps: Sweeps, tones: Sequence[Tone]) -> bool | None:
    if sweeps.swapped is not None:
        return sweeps.swapped
    sides = [
        tone.side != tone.played_side for tone in tones if tone.played_side not in ("", "both") and tone.side != "both"
    ]
    return all(sides) if sides else None


def _db(ratio: float) -> float:
    return 20.0 * math.log10(max(ratio, 1e-12))
