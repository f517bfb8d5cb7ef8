"""A recording or cutting chain measured by one capture of test signals.

The capture is read twice: at a glance, to find what plays where (:mod:`discwright.programme.chain_find`), and stretch
by stretch to measure it. Where the project's own signals are in it, everything that was played is known, and so
response, gain, speed, polarity and order of the channels are; tones of another origin are measured for what they are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from discwright.errors import AudioError
from discwright.programme.chain_find import (
    ALONE_DB,
    Match,
    Steady,
    covered,
    is_hum,
    match_signals,
    quiet,
    rising_sines,
    steady_tones,
)
from discwright.programme.chain_frames import Frames, read_frames
from discwright.programme.chain_noise import NoiseReading, read_noise
from discwright.programme.chain_pairs import is_pair, read_pair
from discwright.programme.chain_place import AROUND_S, Chirp, find_chirp, place_of
from discwright.programme.chain_report import ChainReport, Pair, Tone, Wiring
from discwright.programme.chain_response import (
    Sweeps,
    balance_of,
    gain_of,
    gather_sweeps,
    sweep_harmonics,
    sweep_response,
    tone_response,
    wiring_of,
)
from discwright.programme.chain_seen import what_was_seen
from discwright.programme.chain_signals import Piece, Side, pieces
from discwright.programme.chain_sweep import AFTER_S, BEFORE_S, SweepReading, SweepReference
from discwright.programme.chain_tones import LineSpectrum, tone_of
from discwright.programme.chain_windows import Window, measure_windows

Sound = NDArray[np.float32]
Read = Callable[[], Iterable[Sound]]

#: Left out at both ends of a stretch, s: fades, and as far as its place may be wrong.
_GUARD_S = 0.06
#: Of one tone so much is measured, s; of a quiet stretch so much.
_TONE_MOST_S, _QUIET_MOST_S = 8.0, 60.0
#: Steady tones must fill so much of the sounding time, or the capture is taken for music.
_COVERED = 0.25
#: What else there may be beside a single tone and its multiples, over the tone; music has other notes there. So much
#: of what stands still must be single tones, or two at once.
_STRAY_MOST, _PURE = 0.15, 0.6
#: A tone that was played is found where it is so near its frequency, and not drowned in noise.
_OFF_MOST, _DROWNED = 0.005, 5.0
#: A capture without any tone is one of noise where it stays below this and within so many dB of its median.
_QUIET_MOST, _QUIET_SWAY_DB = 10.0 ** (-30.0 / 20.0), 8.0
_LEAK_LEAST = 1e-6


def measure_chain(read: Read, sample_rate_hz: int, channels: int, name: str = "the capture") -> ChainReport:
    """Measure a chain.

    Parameters
    ----------
    read : callable
        Begins the capture anew: blocks of shape (m, 2), left then right, 1.0 = full scale. Called two or three times.
    sample_rate_hz : int
    channels : {1, 2}
        Of the file; of a mono file both columns are equal and the left one is measured.
    name : str
        What the capture is called in a refusal.

    Returns
    -------
    ChainReport
        Without findings; see :func:`discwright.programme.chain_findings.chain_findings`.

    Raises
    ------
    AudioError
        If there is no test signal in it; the sentence says what was seen instead.
    """
    frames = read_frames(read(), sample_rate_hz)
    steady, rising = steady_tones(frames), rising_sines(frames)
    capture = _Capture(read, sample_rate_hz, channels, frames)
    match = match_signals(steady, rising)
    if match is not None:
        report = capture.signals(match)
        if report is not None:
            return report
    loudest = float(frames.louder.max(initial=0.0))
    tones = [one for one in steady if not is_hum(one, loudest)]
    if tones and covered(tones, frames) >= _COVERED:
        report = capture.tones(tones)
        if len(report.tones) + len(report.pairs) >= _PURE * len(tones):
            return report
    elif not tones and _is_noise(frames):
        return capture.noise()
    raise AudioError(f"{name} {what_was_seen(frames, tones, rising)}")


def _is_noise(frames: Frames) -> bool:
    """Whether a capture is soft and even from end to end, as a chain is at rest."""
    level = frames.louder
    if frames.silent or not len(level) or level.max() > _QUIET_MOST:
        return False
    sway = 20.0 * np.log10(np.maximum(level, 1e-9) / max(float(np.median(level)), 1e-9))
    return bool(np.abs(sway).max() < _QUIET_SWAY_DB)


class _Capture:
    """A capture that was looked at, about to be measured."""

    def __init__(self, read: Read, rate: int, channels: int, frames: Frames) -> None:
        self._read, self._rate, self._channels, self._frames = read, rate, channels, frames
        self._columns = (0, 1) if channels == 2 else (0,)

    def signals(self, match: Match) -> ChainReport | None:
        """Measure the project's own signals; None where neither a chirp nor a swept sine confirms them."""
        inside = [piece for piece in pieces() if self._holds(piece, match)]
        results = self._measured([self._window(piece, match) for piece in inside])
        of: dict[str, list[tuple[Piece, Any]]] = {kind: [] for kind in ("chirp", "tone", "sweep", "pair", "silence")}
        for piece, result in zip(inside, results, strict=True):
            if result is not None:
                of[piece.kind].append((piece, result))
        sweeps = gather_sweeps(of["sweep"])
        chirps: list[tuple[Chirp | None, Chirp | None]] = [pair for _, pair in of["chirp"]]
        if not chirps and sweeps.left is None and sweeps.right is None:
            return None
        tones = tuple(tone for _, tone in of["tone"])
        best = [max((one for one in pair if one is not None), key=lambda one: one.agrees) for pair in chirps]
        start, speed = place_of(best, tones, match.speed)
        found = sum(len(one) for one in of.values())
        report = self._report(sweeps, tones, tuple(pair for _, pair in of["pair"]), chirps)
        noise = of["silence"][0][1] if of["silence"] else None
        return replace(
            report, what="signals", start=start, speed=speed, found=found, asked=len(pieces()), noise=noise
        )  # fmt: skip

    def tones(self, steady: Sequence[Steady]) -> ChainReport:
        """Measure tones of another origin, and the longest pause between them."""
        windows = [self._tone_window(one) for one in steady]
        still = quiet(self._frames, steady)
        if still is not None:
            windows.append(self._cut(still[0], min(still[1], still[0] + _QUIET_MOST_S), self._noise))
        results = self._measured(windows)
        noise = results.pop() if still is not None else None
        tones = tuple(one for one in results if isinstance(one, Tone))
        pairs = tuple(one for one in results if isinstance(one, Pair))
        return replace(self._report(Sweeps(None, None, None), tones, pairs, ()), noise=noise)

    def noise(self) -> ChainReport:
        """Measure a chain at rest."""
        end = min(self._frames.length, _QUIET_MOST_S)
        (noise,) = self._measured([self._cut(0.0, end, self._noise)])
        return replace(self._report(Sweeps(None, None, None), (), (), ()), what="quiet", noise=noise)

    def _report(
        self, sweeps: Sweeps, tones: tuple[Tone, ...], pairs: tuple[Pair, ...],
        chirps: Sequence[tuple[Chirp | None, Chirp | None]],
    ) -> ChainReport:  # fmt: skip
        rows, curve_hz, curve_db = sweep_response(sweeps)
        swept = sweeps.left is not None or sweeps.right is not None
        if not swept:
            rows, curve_hz, curve_db = tone_response(tones), np.zeros(0), np.zeros((2, 0))
        gain = gain_of(sweeps if self._channels == 2 or not tones else Sweeps(None, None, None), tones)
        frames = self._frames
        return ChainReport(
            what="tones",
            length=frames.length,
            sample_rate_hz=self._rate,
            channels=self._channels,
            start=None,
            speed=None,
            found=0,
            asked=0,
            gain_db=gain,
            tones=tones,
            response=rows,
            response_from="sweep" if swept else "tones" if rows else None,
            curve_hz=curve_hz,
            curve_db=curve_db,
            harmonics=sweep_harmonics(sweeps),
            pairs=pairs,
            balance_db=balance_of(gain, tones) if self._channels == 2 else None,
            noise=None,
            wiring=wiring_of(sweeps, chirps, tones) if self._channels == 2 else Wiring(),
            full_scale=frames.full_scale if self._channels == 2 else (frames.full_scale[0], 0),
        )

    def _measured(self, windows: Sequence[Window]) -> list[Any]:
        return measure_windows(self._read(), windows)

    def _holds(self, piece: Piece, match: Match) -> bool:
        begin, end = match.when(piece)
        return begin > -0.02 and end < self._frames.length + 0.02

    def _cut(self, begin: float, end: float, measure: Callable[[Sound], Any]) -> Window:
        last = int(self._frames.length * self._rate + 0.5)
        return Window(max(0, round(begin * self._rate)), min(last, round(end * self._rate)), measure)

    def _window(self, piece: Piece, match: Match) -> Window:
        """What is cut out for a stretch of the signals, and how it is measured."""
        begin, end = match.when(piece)
        if piece.kind == "chirp":
            first = max(0.0, begin - AROUND_S)
            return self._cut(first, end + AROUND_S, lambda sound: self._chirp(piece, sound, first, match.speed))
        if piece.kind == "sweep":
            first = max(0.0, begin - BEFORE_S)
            return self._cut(first, end + AFTER_S, lambda sound: self._sweep(piece, sound, begin - first, match.speed))
        first, last = begin + _GUARD_S, end - _GUARD_S
        if piece.kind == "silence":
            return self._cut(first, last, self._noise)
        if piece.kind == "pair":
            return self._cut(first, last, lambda sound: self._pair(sound, first, (piece.frequency, piece.second)))
        return self._cut(first, last, lambda sound: self._played_tone(piece, sound, first, match.speed))

    def _chirp(
        self, piece: Piece, sound: Sound, first: float, speed: float
    ) -> tuple[Chirp | None, Chirp | None] | None:
        # The first sample is a whole one, and time is counted from it.
        begin = round(first * self._rate) / self._rate
        found = [find_chirp(piece, sound[:, column], begin, self._rate, speed) for column in self._columns]
        return None if all(one is None for one in found) else (found[0], found[1] if len(found) == 2 else None)

    def _sweep(
        self, piece: Piece, sound: Sound, begin: float, speed: float
    ) -> tuple[SweepReading | None, SweepReading | None] | None:
        reference = SweepReference(piece, len(sound), begin, self._rate, speed)
        found = [reference.read(sound[:, column]) for column in self._columns]
        return None if all(one is None for one in found) else (found[0], found[1] if len(found) == 2 else None)

    def _noise(self, sound: Sound) -> tuple[NoiseReading, NoiseReading]:
        return read_noise(sound, self._rate)

    def _pair(self, sound: Sound, start: float, near: tuple[float, float]) -> Pair | None:
        found = [read_pair(sound[:, column], self._rate, near) for column in self._columns]
        if all(one is None for one in found):
            return None
        return Pair(start, found[0], found[1] if len(found) == 2 else None)

    def _played_tone(self, piece: Piece, sound: Sound, start: float, speed: float) -> Tone | None:
        """A tone of the signals, if it is there."""
        tone = self._tone(sound, start, piece.frequency * (1.0 + speed))
        if tone is None:
            return None
        loud = max(tone.readings.values(), key=lambda one: one.amplitude)
        off = abs(loud.frequency / (piece.frequency * (1.0 + speed)) - 1.0)
        if off > _OFF_MOST + 0.5 / piece.frequency or loud.thdn > _DROWNED:
            return None
        return replace(
            tone, nominal=piece.frequency, played_dbfs=piece.level_dbfs, played_side=piece.side,
            leak=tone.leak if piece.side != "both" and tone.leak else None,
        )  # fmt: skip

    def _tone_window(self, one: Steady) -> Window:
        middle, half = 0.5 * (one.start + one.end), 0.5 * min(one.end - one.start, _TONE_MOST_S)
        return self._cut(middle - half, middle + half, lambda sound: self._free_tone(sound, middle - half))

    def _free_tone(self, sound: Sound, start: float) -> Tone | Pair | None:
        """A steady tone, or two at once, or nothing that stands still."""
        tone = self._tone(sound, start, None)
        if tone is None:
            return None
        loud = max(tone.readings.values(), key=lambda one: one.amplitude)
        if is_pair(loud.beyond, loud.second, loud.frequency):
            return self._pair(sound, start, (loud.frequency, loud.second[0]))
        if loud.stray > _STRAY_MOST:
            return None
        return tone if tone.leak is None or tone.leak > _LEAK_LEAST else replace(tone, leak=None)

    def _tone(self, sound: Sound, start: float, near: float | None) -> Tone | None:
        """Read both channels; one that is far softer than the other only for the leak into it."""
        length = len(sound) / self._rate
        if len(sound) < 64:
            return None
        spectra = [LineSpectrum(sound[:, column], self._rate) for column in self._columns]
        if len(spectra) == 1:
            only = tone_of(spectra[0], near)
            return None if only is None else Tone(start, length, None, None, "both", only, None)
        rms = [float(spectrum.power(spectrum.bins).sum()) for spectrum in spectra]
        loud = 0 if rms[0] >= rms[1] else 1
        first = tone_of(spectra[loud], near)
        if first is None:
            return None
        beside = spectra[1 - loud]
        leak = abs(beside.line(beside.place(first.frequency)))
        if leak < first.amplitude * 10.0 ** (-ALONE_DB / 20.0):
            side: Side = "left" if loud == 0 else "right"
            left, right = (first, None) if loud == 0 else (None, first)
            return Tone(start, length, None, None, side, left, right, leak)
        second = tone_of(beside, first.frequency)
        left, right = (first, second) if loud == 0 else (second, first)
        return Tone(start, length, None, None, "both", left, right)
