"""The swept sine taken apart: the response of the chain, and the responses of its harmonics, from one pass.

Division by the spectrum of what was played turns the capture into impulse responses. The n-th harmonic of a sine that
rises evenly by octaves is the same sine L·ln n earlier (Farina, AES preprint 5093, 2000; Novak, Lotton, Simon, JAES 63
(2015) 786), so its response stands that much before the one of the chain itself and is cut out alone.

What was played is reckoned anew at the rate and speed of the capture: nothing is resampled.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from discwright.programme.chain_signals import (
    SWEEP_S,
    Piece,
    amplitude,
    sweep_at,
    sweep_rate,
)

Float = NDArray[np.float64]
Samples = NDArray[np.float64] | NDArray[np.float32]
Complex = NDArray[np.complex128]

ORDERS = (2, 3, 4, 5)
#: So much is read before the begin and after the end of a swept sine, s.
BEFORE_S, AFTER_S = 0.4, 0.8
#: What of the impulse response is kept before and after its peak, s.
_KEPT_BEFORE_S, _KEPT_AFTER_S = 0.5, 0.7
#: Below and above these the spectrum of what was played is faded out, Hz.
_LOW_FADE_HZ, _HIGH_FADE_HZ = (6.0, 15.0), (20_500.0, 21_300.0)
#: The peak stands out from the rest of the response by so much, or there is no swept sine.
_STANDS_OUT = 8.0


@dataclass(frozen=True)
class SweepReading:
    """What one swept sine tells of one channel.

    Attributes
    ----------
    hz : ndarray, shape (bins,)
    response : ndarray, shape (bins,)
        Captured over played amplitude; the swept sine's own band alone.
    harmonics : dict of int to ndarray, shape (bins,)
        By order: amplitude of that harmonic, **at the harmonic's own frequency**, over what was played.
    late : float, s
        By how much the peak of the impulse response comes after the expected begin.
    polarity : {1, -1}
        Sign of that peak.
    """

    hz: Float
    response: Float
    harmonics: dict[int, Float]
    late: float
    polarity: int

    def at(self, frequency: float) -> float:
        """Response at a frequency."""
        return float(np.interp(frequency, self.hz, self.response))

    def harmonic(self, order: int, frequency: float) -> float | None:
        """A harmonic over the fundamental, of a tone of this frequency; None where it was not read."""
        above = order * frequency
        if above > min(float(self.hz[-1]), _HIGH_FADE_HZ[0]) or not self.at(frequency):
            return None
        return float(np.interp(above, self.hz, self.harmonics[order])) / self.at(frequency)


class SweepReference:
    """What was played, at the rate and speed of a capture.

    Parameters
    ----------
    piece : Piece
    frames : int
        Samples of the stretch that is read.
    begin : float, s
        Where in it the swept sine is expected to begin.
    sample_rate_hz : float
    speed : float
        Speed error of the capture.
    """

    def __init__(self, piece: Piece, frames: int, begin: float, sample_rate_hz: float, speed: float) -> None:
        self.rate, self.size = sample_rate_hz, fft.next_fast_len(frames + round(0.5 * sample_rate_hz), real=True)
        self.lag = sweep_rate() / (1.0 + speed)
        self.begin = begin
        time = np.arange(math.ceil((SWEEP_S + 0.1) / (1.0 + speed) * sample_rate_hz)) / sample_rate_hz
        played = fft.rfft(sweep_at(time * (1.0 + speed), amplitude(piece.level_dbfs)), self.size)
        hz = np.arange(len(played)) * (sample_rate_hz / self.size)
        self._hz = hz
        high = min(1.0, 0.49 * sample_rate_hz / _HIGH_FADE_HZ[1])
        fade = _rise(np.log(np.maximum(hz, 1e-3)), *np.log(_LOW_FADE_HZ))
        fade *= 1.0 - _rise(hz, _HIGH_FADE_HZ[0] * high, _HIGH_FADE_HZ[1] * high)
        inside = fade > 0.0
        self._inverse: Complex = np.zeros(len(played), dtype=np.complex128)
        self._inverse[inside] = fade[inside] / played[inside]
        self._fade = fade

    def read(self, sound: Samples) -> SweepReading | None:
        """Take one channel apart; None where there is no swept sine in it.

        Parameters
        ----------
        sound : ndarray, shape (frames,)
        """
        spectrum = fft.rfft(sound, self.size)
        spectrum *= self._inverse.astype(spectrum.dtype)
        impulse = fft.irfft(spectrum, self.size)
        size = np.abs(impulse)
        peak = int(np.argmax(size))
        late = (peak if peak < self.size // 2 else peak - self.size) / self.rate - self.begin
        if size[peak] <= _STANDS_OUT * float(np.sqrt(np.mean(np.square(impulse)))) or abs(late) > BEFORE_S:
            return None
        hz, response = self._kept(impulse, peak, _KEPT_BEFORE_S, _KEPT_AFTER_S)
        harmonics = {}
        for order in ORDERS:
            before = 0.4 * self.lag * math.log((order + 1) / order)
            after = min(_KEPT_AFTER_S, 0.5 * self.lag * math.log(order / (order - 1)))
            place = peak - round(self.lag * math.log(order) * self.rate)
            harmonics[order] = np.interp(hz, *self._kept(impulse, place, before, after))
        return SweepReading(hz, response, harmonics, late, 1 if impulse[peak] > 0 else -1)

    def _kept(self, impulse: Float, place: int, before: float, after: float) -> tuple[Float, Float]:
        """Frequencies, and the magnitude of what lies around a place of the impulse response."""
        first, last = place - round(before * self.rate), place + round(after * self.rate)
        piece = impulse[np.arange(first, last) % self.size] * _edges(last - first, place - first)
        size = fft.next_fast_len(4 * (last - first), real=True)
        bins = np.abs(fft.rfft(piece, size))
        hz = np.arange(len(bins)) * (self.rate / size)
        inside = (hz >= _LOW_FADE_HZ[0]) & (hz <= _HIGH_FADE_HZ[1])
        fade = np.interp(hz[inside], self._hz, self._fade)
        return hz[inside], bins[inside] / np.maximum(fade, 1e-3)


def _rise(at: Float, low: float, high: float) -> Float:
    """From 0 at the low to 1 at the high end, smoothly in all derivatives."""
    part = np.clip((at - low) / (high - low), 0.002, 0.998)
    rise = 1.0 / (1.0 + np.exp(1.0 / part - 1.0 / (1.0 - part)))
    return np.asarray(np.where(at <= low, 0.0, np.where(at >= high, 1.0, rise)), dtype=np.float64)


def _edges(size: int, middle: int) -> Float:
    """A window that is 1 around the middle and fades over the outer halves of both sides."""
    place = np.arange(size)
    up = _rise(place / max(1, middle), 0.0, 0.5)
    down = _rise((size - 1 - place) / max(1, size - 1 - middle), 0.0, 0.5)
    return up * down
