"""The instruments and the room of the demo programme.

Samples are touched only by table look-ups, additions and multiplications, and every table is rounded to a
binary grid when it is made, so that a last-bit difference between two mathematics libraries is gone
before the first note: the same demo comes out on every machine.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy import signal

Samples = NDArray[np.float32]

_TABLE = 1 << 16
_GRID = float(1 << 20)
_TOP_HZ = 15_000.0


@dataclass(frozen=True)
class Note:
    """One event of the score.

    Attributes
    ----------
    start_s : float
        From the start of the side, s.
    voice : str
        A name in :attr:`Voices.names`.
    pitch : float
        Semitones, 69 = 440 Hz; unpitched voices use it to pick one of their takes.
    duration_s : float
        Until the release begins, s; struck and plucked voices ring on by themselves.
    gain : float
        Linear.
    pan : float
        −1 left to +1 right.
    width : float
        Share of half a cycle by which the right channel trails the left, for the bass.
    send : float
        Linear share sent to the room.
    """

    start_s: float
    voice: str
    pitch: float
    duration_s: float
    gain: float
    pan: float = 0.0
    width: float = 0.0
    send: float = 0.3


class Voices:
    """Every instrument of the demo at one sample rate; what is struck is made once and kept.

    Parameters
    ----------
    sample_rate_hz : int
    """

    def __init__(self, sample_rate_hz: int) -> None:
        self.rate = sample_rate_hz
        self._count = np.arange(self._samples(30.0), dtype=np.uint32)
        self._sine = _round(np.sin(np.arange(_TABLE) * (2 * np.pi / _TABLE)))
        self._kept: dict[tuple[str, float], Samples] = {}
        struck: dict[str, Callable[[float], Samples]] = {
            "harp": self._harp,
            "bell": self._bell,
            "timpani": self._timpani,
            "hat": partial(self._noise, low_hz=6500.0, high_hz=14_000.0, rise_s=0.001, fall_s=0.035),
            "cymbal": partial(self._noise, low_hz=2500.0, high_hz=13_000.0, rise_s=0.012, fall_s=0.9),
            "brush": partial(self._noise, low_hz=900.0, high_hz=6000.0, rise_s=0.008, fall_s=0.07),
            "hush": partial(self._noise, low_hz=5000.0, high_hz=12_000.0, rise_s=0.045, fall_s=0.05),
        }
        self._voices: dict[str, Callable[[Note], Samples]] = {
            "strings": self._strings,
            "choir": self._choir,
            "brass": self._brass,
            "bass": self._bass,
            **{name: partial(self._ring, name, make) for name, make in struck.items()},
        }

    @property
    def names(self) -> tuple[str, ...]:
        """The voices a note may ask for."""
        return tuple(self._voices)

    def render(self, note: Note) -> Samples:
        """One note at its own level and place.

        Parameters
        ----------
        note : Note

        Returns
        -------
        ndarray, shape (2, n), float32
            Left and right, release included, full scale = 1.0.

        Raises
        ------
        KeyError
            If no instrument has that name.
        """
        return self._voices[note.voice](note)

    def room_tone(self, duration_s: float) -> Samples:
        """Faint air of a hall, falling like pink noise, shape (2, n), about −72 dBFS RMS."""
        n = self._samples(duration_s)
        rng = np.random.Generator(np.random.PCG64(7001))
        white = rng.random((2, n), dtype=np.float32) - np.float32(0.5)
        corner = signal.butter(1, 180.0, fs=self.rate, output="sos")
        shaped = signal.sosfilt(corner, white, axis=1) + 0.02 * white
        return _round(shaped * 0.0075)

    def _samples(self, seconds: float) -> int:
        return max(1, round(seconds * self.rate))

    def _phase(self, n: int, hertz: float, start: float = 0.0) -> NDArray[np.uint32]:
        """Phase of a steady tone; one cycle is the whole range of an unsigned 32-bit number."""
        step = np.uint32(round(hertz / self.rate * 2**32) % 2**32)
        offset = np.uint32(round(start * 2**32) % 2**32)
        phase: NDArray[np.uint32] = self._count[:n] * step + offset
        return phase

    def _tone(self, hertz: float, n: int, start: float = 0.0) -> Samples:
        return _look(self._sine, self._phase(n, hertz, start))

    def _table(self, name: str, pitch: float, weight: Callable[[NDArray[np.float64]], NDArray[np.float64]]) -> Samples:
        """One cycle of a harmonic tone, RMS 1, without partials the sample rate cannot hold."""
        key = (name, pitch)
        if key not in self._kept:
            top_hz = min(_TOP_HZ, 0.45 * self.rate)
            partials = np.arange(1, max(2, int(top_hz / hertz(pitch))) + 1)
            size = weight(np.asarray(partials * hertz(pitch), dtype=np.float64)) / partials
            turned = np.random.Generator(np.random.PCG64(8000 + len(name))).random(partials.size)
            spectrum = np.zeros(_TABLE // 2 + 1, dtype=np.complex128)
            spectrum[partials] = size * np.exp(2j * np.pi * turned)
            cycle = np.fft.irfft(spectrum)
            self._kept[key] = _round(cycle / np.sqrt(np.mean(cycle**2)))
        return self._kept[key]

    def _ensemble(self, table: Samples, note: Note, attack_s: float, release_s: float) -> Samples:
        """Three players a few cents apart, one in the middle and one to each side, with vibrato."""
        n = self._samples(note.duration_s + release_s)
        f = hertz(note.pitch)
        sway = self._tone(4.7 + 0.13 * (note.pitch % 5), n, 0.37 * note.pitch % 1.0)
        lean = (sway * np.float32(f * 0.0035 / 5.0 * 2**32)).astype(np.int64).astype(np.uint32)
        middle, left, right = (
            _look(table, self._phase(n, f * detune, start) + lean)
            for detune, start in ((1.0, 0.0), (1.0023, 0.31), (0.9979, 0.67))
        )
        shape = self._swell(n, attack_s, release_s)
        shape *= np.float32(note.gain * 0.5)
        to_left, to_right = _pan(note.pan)
        out = np.empty((2, n), dtype=np.float32)
        np.multiply(middle * to_left + left * np.float32(0.38), shape, out=out[0])
        np.multiply(middle * to_right + right * np.float32(0.38), shape, out=out[1])
        return out

    def _strings(self, note: Note) -> Samples:
        table = self._table("strings", note.pitch, _bowed)
        attack_s = min(0.9, 0.12 + 0.28 * note.duration_s)
        return self._ensemble(table, note, attack_s, 0.9)

    def _choir(self, note: Note) -> Samples:
        return self._ensemble(self._table("choir", note.pitch, _sung), note, 0.16, 0.7)

    def _brass(self, note: Note) -> Samples:
        """Grows brighter as it grows louder, as brass does."""
        n = self._samples(note.duration_s + 0.35)
        phase = self._phase(n, hertz(note.pitch))
        shape = self._swell(n, 0.09, 0.35)
        dark = self._table("mellow", note.pitch, _mellow)
        bright = self._table("blaring", note.pitch, _blaring)
        low, high = _look(dark, phase), _look(bright, phase)
        mono = (low + (high - low) * shape * np.float32(0.7)) * shape
        return _placed(mono, note.gain * 0.6, note.pan)

    def _bass(self, note: Note) -> Samples:
        n = self._samples(note.duration_s + 0.25)
        table = self._table("dark", note.pitch, _dark)
        fade = np.float32(0.45) + np.float32(0.55) * self._decay(n, 0.9)
        shape = self._swell(n, 0.03, 0.25) * fade * np.float32(note.gain * 0.7)
        f = hertz(note.pitch)
        return np.stack([_look(table, self._phase(n, f, trail)) * shape for trail in (0.0, -0.5 * note.width)])

    def _ring(self, name: str, make: Callable[[float], Samples], note: Note) -> Samples:
        key = (name, note.pitch)
        if key not in self._kept:
            self._kept[key] = make(note.pitch)
        return _placed(self._kept[key], note.gain, note.pan)

    def _harp(self, pitch: float) -> Samples:
        """The brighter a layer of the string's sound, the sooner it dies."""
        n = self._samples(2.6)
        phase = self._phase(n, hertz(pitch))
        slow_s = min(1.1, 150.0 / hertz(pitch))
        layers = (
            ("dark", _dark, slow_s, 0.5),
            ("mellow", _mellow, slow_s / 3, 0.5),
            ("blaring", _blaring, slow_s / 14, 0.45),
        )
        mono = np.zeros(n, dtype=np.float32)
        for name, weight, fall_s, part in layers:
            table = self._table(name, pitch, weight)
            mono += _look(table, phase) * self._decay(n, fall_s) * np.float32(part)
        return mono * self._swell(n, 0.003, 0.3)

    def _bell(self, pitch: float) -> Samples:
        """A struck bar by frequency modulation; the index falls, so the clang leaves first."""
        n = self._samples(2.4)
        f = hertz(pitch)
        push = self._tone(3.51 * f, n) * self._decay(n, 0.18) * np.float32(0.22 * 2**32)
        bent = self._phase(n, f) + push.astype(np.int64).astype(np.uint32)
        return _look(self._sine, bent) * self._decay(n, 0.55) * self._swell(n, 0.002, 0.3)

    def _timpani(self, pitch: float) -> Samples:
        n = self._samples(2.2)
        f = hertz(pitch)
        mono = np.zeros(n, dtype=np.float32)
        for ratio, fall_s, part in ((1.0, 0.75, 0.8), (1.5, 0.5, 0.45), (1.98, 0.35, 0.3), (2.44, 0.2, 0.2)):
            mono += self._tone(ratio * f, n, 0.1 * ratio) * self._decay(n, fall_s) * np.float32(part)
        thump = self._noise(pitch, low_hz=60.0, high_hz=900.0, rise_s=0.002, fall_s=0.025)
        mono[: thump.size] += thump * np.float32(0.8)
        return mono * self._swell(n, 0.004, 0.4)

    def _noise(self, take: float, low_hz: float, high_hz: float, rise_s: float, fall_s: float) -> Samples:
        """A burst of filtered noise, about RMS 0.3 at its loudest; each `take` is another draw."""
        n = self._samples(2 * rise_s + 7 * fall_s)
        rng = np.random.Generator(np.random.PCG64(9000 + round(take)))
        band = signal.butter(3, (low_hz, min(high_hz, 0.45 * self.rate)), "bandpass", fs=self.rate, output="sos")
        noise = signal.sosfilt(band, rng.random(n) - 0.5)
        loudness = 0.3 / np.sqrt(np.mean(noise**2))
        return _round(noise * loudness) * self._decay(n, fall_s) * self._swell(n, rise_s, fall_s)

    def _decay(self, n: int, fall_s: float) -> Samples:
        return _round(np.exp(self._count[:n] * (-1.0 / (fall_s * self.rate))))

    def _swell(self, n: int, attack_s: float, release_s: float) -> Samples:
        """Smooth rise and fall; both shortened alike when the note is too short for them."""
        squeeze = min(1.0, n / (self.rate * (attack_s + release_s)))
        shape = np.ones(n, dtype=np.float32)
        rise = max(1, int(attack_s * squeeze * self.rate))
        fall = max(1, int(release_s * squeeze * self.rate))
        shape[:rise] *= _smooth(rise)
        shape[n - fall :] *= _smooth(fall)[::-1]
        return shape


class Room:
    """A hall: eight delay lines that feed each other and lose their treble as they go.

    A stretch no longer than the shortest line depends only on what is already in the lines, so it is
    computed at once instead of sample by sample.

    Parameters
    ----------
    sample_rate_hz : int
    decay_s : float
        Time to fall 60 dB, s.
    """

    _LINES_S = (0.0297, 0.0371, 0.0411, 0.0479, 0.0543, 0.0617, 0.0701, 0.0797)

    def __init__(self, sample_rate_hz: int, decay_s: float = 2.0) -> None:
        self._delays = [round(line * sample_rate_hz) for line in self._LINES_S]
        losses = [10.0 ** (-3.0 * line / decay_s) for line in self._LINES_S]
        self._loss = np.array(losses, dtype=np.float32)[:, None]
        self._signs = np.array([1, -1, 1, 1, -1, 1, -1, -1], dtype=np.float32)[:, None]
        self._history = np.zeros((8, max(self._delays) + 1), dtype=np.float32)

    def answer(self, send: Samples) -> Samples:
        """What the hall gives back for the next stretch of sound.

        Parameters
        ----------
        send : ndarray, shape (n,), float32

        Returns
        -------
        ndarray, shape (2, n), float32
        """
        kept = self._history.shape[1]
        lines = np.concatenate([self._history, np.zeros((8, send.size), dtype=np.float32)], axis=1)
        out = np.empty((2, send.size), dtype=np.float32)
        stretch = min(self._delays)
        for at in range(0, send.size, stretch):
            m = min(stretch, send.size - at)
            here = kept + at
            heard = np.stack([line[here - d - 1 : here - d + m] for line, d in zip(lines, self._delays, strict=True)])
            heard = (heard[:, 1:] * np.float32(0.72) + heard[:, :-1] * np.float32(0.28)) * self._loss
            mixed = np.add.reduce(heard, axis=0) * np.float32(0.25)
            lines[:, here : here + m] = heard - mixed + send[at : at + m] * self._signs
            np.add.reduce(heard[0::2], axis=0, out=out[0, at : at + m])
            np.add.reduce(heard[1::2], axis=0, out=out[1, at : at + m])
        self._history = lines[:, send.size :].copy()
        return out


def bend_peaks(x: Samples, ceiling: float) -> Samples:
    """Round peaks off toward the ceiling, which is met at three times its height and never passed.

    A rational stand-in for tanh that, unlike it, is the same on every machine to the last bit.

    Parameters
    ----------
    x : ndarray, any shape, float32, 1.0 = full scale
    ceiling : float, same unit

    Returns
    -------
    ndarray, shape of `x`
    """
    y = np.clip(x * np.float32(1.0 / ceiling), -3.0, 3.0)
    square = y * y
    bent: Samples = (
        y * (np.float32(27.0) + square) / (np.float32(27.0) + np.float32(9.0) * square) * np.float32(ceiling)
    )
    return bent


def hertz(pitch: float) -> float:
    """Frequency of a pitch in semitones, 69 = 440 Hz."""
    return float(440.0 * 2.0 ** ((pitch - 69.0) / 12.0))


def _round(values: NDArray[np.floating]) -> Samples:
    """On a grid of 2⁻²⁰, where libraries that differ in the last bit agree again."""
    return (np.round(values * _GRID) / _GRID).astype(np.float32)


def _look(table: Samples, phase: NDArray[np.uint32]) -> Samples:
    """The table at a phase; its error, −86 dB of each partial, lies under the room tone."""
    return np.take(table, phase >> np.uint32(16))


def _smooth(n: int) -> Samples:
    t = (np.arange(n, dtype=np.float32) + np.float32(0.5)) * np.float32(1.0 / n)
    bend: Samples = t * t * (np.float32(3.0) - np.float32(2.0) * t)
    return bend


def _pan(pan: float) -> tuple[np.float32, np.float32]:
    return np.float32(round(((1 - pan) / 2) ** 0.5, 6)), np.float32(round(((1 + pan) / 2) ** 0.5, 6))


def _placed(mono: Samples, gain: float, pan: float) -> Samples:
    left, right = _pan(pan)
    return np.stack([mono * (left * np.float32(gain)), mono * (right * np.float32(gain))])


def _peak_at(f: NDArray[np.float64], centre_hz: float, octaves: float) -> NDArray[np.float64]:
    return np.asarray(np.exp(-((np.log2(f / centre_hz) / octaves) ** 2)))


def _bowed(f: NDArray[np.float64]) -> NDArray[np.float64]:
    body = 0.6 + 0.5 * _peak_at(f, 450, 0.6) + 0.7 * _peak_at(f, 2600, 0.8)
    return np.asarray(body / (1 + (f / 5200) ** 2))


def _sung(f: NDArray[np.float64]) -> NDArray[np.float64]:
    formants = 1.2 * _peak_at(f, 680, 0.35) + 0.8 * _peak_at(f, 1150, 0.3) + 0.5 * _peak_at(f, 2800, 0.3)
    return np.asarray((0.12 + formants) / (1 + (f / 4000) ** 2))


def _dark(f: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(1 / (1 + (f / 350) ** 2))


def _mellow(f: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(1 / (1 + (f / 1100) ** 2))


def _blaring(f: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray((0.5 + 1.6 * _peak_at(f, 1500, 1.1)) / (1 + (f / 4500) ** 2))
