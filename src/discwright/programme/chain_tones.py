"""A steady tone measured: frequency, level, harmonics, distortion and noise.

One transform a channel under a cos⁴ window (Rife, Vincent, Bell Syst. Tech. J. 49 (1970) 197, class I, second order).
Its side lobes fall by 30 dB an octave, so neither a harmonic nor the other side of the spectrum disturbs a line some
periods away, and the transform of the window is known in closed form: a line between two bins is read without loss.

Distortion is the root of the sum of squares of harmonics 2 to 10, as far as they lie below half the sample rate, over
the fundamental. Distortion and noise is all that is left from 20 Hz to 20 kHz without the fundamental, over the
fundamental.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import fft

Float = NDArray[np.float64]
Samples = NDArray[np.float64] | NDArray[np.float32]
Complex = NDArray[np.complex128]

HIGHEST_HARMONIC = 10
BAND_HZ = (20.0, 20_000.0)
#: Half the width of a line in bins, and how far from it the fundamental is still taken out.
_HALF_LINE, _REACH = 4, 250
#: A tone must have so many periods in the stretch, or the lines run together.
LEAST_PERIODS = 8.0
_MEDIAN_TO_MEAN = 1.0 / math.log(2.0)


@dataclass(frozen=True)
class ToneReading:
    """One channel of a steady tone.

    Attributes
    ----------
    frequency : float, Hz
    amplitude : float
        Peak of the fundamental, 1 = full scale.
    phase : float, rad
        Of the cosine at the first sample of the stretch.
    harmonics : tuple of float
        Amplitudes of harmonics 2, 3 … over the fundamental, up to the tenth and below half the sample rate.
    thdn : float
        All that is left from 20 Hz to 20 kHz over the fundamental, both rms.
    floor : float
        What the noise beside the harmonics alone would read as distortion.
    stray : float
        All that is neither the fundamental nor any of its multiples, rms over that of the fundamental.
    beyond : float
        All that is neither the fundamental nor one of its multiples up to the tenth, likewise.
    second : tuple of (float, float)
        Frequency, Hz, and amplitude over the fundamental of the strongest line among that.
    """

    frequency: float
    amplitude: float
    phase: float
    harmonics: tuple[float, ...]
    thdn: float
    floor: float
    stray: float
    beyond: float
    second: tuple[float, float]

    @property
    def thd(self) -> float:
        """Distortion over the fundamental."""
        return math.sqrt(sum(one * one for one in self.harmonics))

    @property
    def level_dbfs(self) -> float:
        """Of the fundamental, a full-scale sine being 0."""
        return 20.0 * math.log10(max(self.amplitude, 1e-12))


class LineSpectrum:
    """The spectrum of one channel of a stretch, read line by line.

    Parameters
    ----------
    sound : ndarray, shape (n,)
    sample_rate_hz : float
    """

    def __init__(self, sound: Samples, sample_rate_hz: float) -> None:
        self.size, self._rate = len(sound), sample_rate_hz
        # In the precision of the sound: what single precision adds lies 140 dB below it.
        bins = fft.rfft(sound * _window(self.size, np.dtype(sound.dtype).char))
        self.bins: Complex = np.asarray(bins, dtype=np.complex128)

    def hz(self, place: float) -> float:
        """Frequency of a place in bins."""
        return place * self._rate / self.size

    def place(self, frequency: float) -> float:
        """Place in bins of a frequency."""
        return frequency * self.size / self._rate

    def strongest(self, low_hz: float = 8.0, high_hz: float = math.inf) -> float:
        """Place of the strongest line between two frequencies, in bins and parts of a bin."""
        first = max(3, math.ceil(self.place(low_hz)))
        last = min(len(self.bins) - 3, math.floor(self.place(min(high_hz, self._rate))))
        if last <= first:
            return float(first)
        return self.refined(first + int(np.argmax(np.abs(self.bins[first:last]))))

    def refined(self, peak: int) -> float:
        """Place of the line whose highest bin is known: Rife and Vincent 1970, for the second order."""
        below, at, above = np.abs(self.bins[peak - 1 : peak + 2])
        if at == 0.0:
            return float(peak)
        beside, sign = (above, 1.0) if above >= below else (below, -1.0)
        ratio = float(beside / at)
        return peak + sign * (3.0 * ratio - 2.0) / (ratio + 1.0)

    def line(self, place: float) -> complex:
        """Amplitude and phase, at the first sample, of the cosine at a place."""
        nearest = min(max(round(place), 0), len(self.bins) - 1)
        seen = self._window_at(np.array([place - nearest]))[0]
        return complex(2.0 * self.bins[nearest] / seen)

    def without(self, place: float, line: complex) -> Complex:
        """The spectrum with one line taken out, as far as it reaches."""
        left = self.bins.copy()
        first = max(0, round(place) - _REACH)
        near = np.arange(first, min(len(left), round(place) + _REACH))
        left[near] -= 0.5 * line * self._window_at(np.asarray(place - near, dtype=np.float64))
        if first < _REACH:
            left[near] -= 0.5 * line.conjugate() * self._window_at(np.asarray(-place - near, dtype=np.float64))
        return left

    def power(self, bins: Complex) -> Float:
        """Mean square that each bin of a spectrum stands for."""
        # The mean square of the window is 35/128.
        scale = 2.0 / (self.size * self.size * 35.0 / 128.0)
        return np.asarray(scale * (bins.real**2 + bins.imag**2), dtype=np.float64)

    def near_noise(self, power: Float, place: float) -> float:
        """Amplitude that noise alone would show on a line: from the bins beside it."""
        middle = round(place)
        low, high = max(3, middle - 40), min(len(power), middle + 41)
        beside = np.concatenate([power[low : max(low, middle - 5)], power[middle + 6 : high]])
        if beside.size == 0:
            return 0.0
        # A line of amplitude a shows a power of a²/2·(window's mean)²/(window's mean square) in its highest bin.
        return math.sqrt(2.0 * float(np.median(beside)) * _MEDIAN_TO_MEAN * (35.0 / 128.0) / (3.0 / 8.0) ** 2)

    def _window_at(self, offset: Float) -> Complex:
        """Transform of the window so many bins beside its middle."""
        # On a bin both sines are nothing and their ratio is not.
        apart = np.where(np.abs(offset - np.round(offset)) < 1e-9, offset + 1e-9, offset)
        size, parts = self.size, np.zeros(len(apart), dtype=np.complex128)
        for step, weight in ((-2, 0.5), (-1, -2.0), (0, 3.0), (1, -2.0), (2, 0.5)):
            turn = np.exp(1j * np.pi * step * (size - 1) / size) * (-1.0 if step % 2 else 1.0)
            parts += weight * turn / np.sin(np.pi * (apart + step) / size)
        parts *= np.exp(1j * np.pi * apart * (size - 1) / size) * np.sin(np.pi * apart) / 8.0
        return np.asarray(parts, dtype=np.complex128)


@lru_cache(maxsize=8)
def _window(size: int, kind: str) -> Samples:
    wave = np.cos(2.0 * np.pi * np.arange(size) / size)
    window: Samples = ((1.0 - wave) ** 2 / 4.0).astype(kind)
    return window


def read_tone(sound: Samples, sample_rate_hz: float, near_hz: float | None = None) -> ToneReading | None:
    """Measure a steady tone in one channel.

    Parameters
    ----------
    sound : ndarray, shape (n,)
        The stretch, without its begin and end.
    sample_rate_hz : float
    near_hz : float, optional
        Where the tone is looked for, within 3 % and two bins; without it the strongest line is taken.

    Returns
    -------
    ToneReading or None
        None where there is nothing, or too few periods.
    """
    return tone_of(LineSpectrum(sound, sample_rate_hz), near_hz)


def tone_of(spectrum: LineSpectrum, near_hz: float | None = None) -> ToneReading | None:
    """Measure a steady tone by its spectrum; see :func:`read_tone`.

    Parameters
    ----------
    spectrum : LineSpectrum
    near_hz : float, optional
    """
    if near_hz is None:
        place = spectrum.strongest()
    else:
        slack = max(0.03 * near_hz, spectrum.hz(2.0))
        place = spectrum.strongest(near_hz - slack, near_hz + slack)
    line = spectrum.line(place)
    if place < LEAST_PERIODS or abs(line) < 1e-9:
        return None
    left = spectrum.without(place, line)
    power = spectrum.power(left)
    harmonics, noise = [], 0.0
    for order in range(2, HIGHEST_HARMONIC + 1):
        if order * place > len(spectrum.bins) - 1 - _HALF_LINE:
            break
        harmonics.append(abs(spectrum.line(order * place)) / abs(line))
        noise += (spectrum.near_noise(power, order * place) / abs(line)) ** 2
    stray = _beside(spectrum, power, place, len(power))
    beyond = _beside(spectrum, power, place, HIGHEST_HARMONIC)
    peak = 3 + int(np.argmax(beyond[3:-3]))
    second = spectrum.refined(peak)
    return ToneReading(
        frequency=spectrum.hz(place),
        amplitude=abs(line),
        phase=float(np.angle(line)),
        harmonics=tuple(harmonics),
        thdn=math.sqrt(2.0 * in_band(spectrum, power)) / abs(line),
        floor=math.sqrt(noise),
        stray=math.sqrt(2.0 * float(stray.sum())) / abs(line),
        beyond=math.sqrt(2.0 * float(beyond.sum())) / abs(line),
        second=(spectrum.hz(second), abs(spectrum.line(second)) / abs(line)),
    )


def in_band(spectrum: LineSpectrum, power: Float, low_hz: float = BAND_HZ[0], high_hz: float = BAND_HZ[1]) -> float:
    """Mean square between two frequencies.

    Parameters
    ----------
    spectrum : LineSpectrum
    power : ndarray
        Of its bins.
    low_hz, high_hz : float
    """
    first, last = math.ceil(spectrum.place(low_hz)), math.floor(spectrum.place(high_hz))
    return float(power[first : last + 1].sum())


def _beside(spectrum: LineSpectrum, power: Float, place: float, orders: int) -> Float:
    """The power of each bin, none within a line of the first multiples of a place, nor below 8 Hz."""
    beside = power.copy()
    beside[: math.ceil(spectrum.place(8.0))] = 0.0
    if place > 2 * _HALF_LINE + 2:
        count = min(orders, int(len(power) / place))
        middles = np.round(np.arange(1, count + 1) * place).astype(np.int64)
        near = (middles[:, None] + np.arange(-_HALF_LINE, _HALF_LINE + 1)).ravel()
        beside[near[(near >= 0) & (near < len(power))]] = 0.0
    return beside
