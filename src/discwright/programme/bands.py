"""What the long-term spectrum tells: balance and correlation by band, bandwidth, vertical bass.

Averaged cross-spectra (Welch 1967): Hann windows of 1 to 2 s, half overlapping, gathered as the programme
streams by. A programme shorter than one window is read with a window of its own length; otherwise what does
not fill the last window is left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from discwright.findings import Finding

Sound = NDArray[np.float32]
Spectrum = NDArray[np.float64]

BAND_EDGES_HZ = (20.0, 60.0, 150.0, 300.0, 1000.0, 5000.0, 12000.0, 20000.0)
BASS_HZ = 300.0
#: What lies below is direct current and its leakage, not music.
LOWEST_HZ = 10.0
#: A band quieter than this rms is silent: below the dither of 16 bits, above the rounding of the transform.
SILENT_DBFS = -110.0

WINDOW_S = 1.5
SHORTEST_WINDOW = 1024
SMOOTHING = 2 ** (1 / 96)
HIGH_EDGE_DB = -70.0
LOW_EDGE_DB = -40.0
FLOOR_MARGIN_DB = 10.0
FLOOR_DEPTH_DB = 20.0
FLOOR_FROM_HZ = 1000.0
EDGE = 2 ** (1 / 6)

VERTICAL_BASS_MAX = 0.4
#: Less bass than this share of all power is not worth a word.
BASS_SHARE_MIN = 0.01
HIGH_EDGE_MIN_HZ = 15000.0
HIGH_EDGE_CLIFF_DB = 20.0


@dataclass(frozen=True)
class Band:
    """Balance and correlation of one band.

    Attributes
    ----------
    low_hz, high_hz : float
    balance_db : float or None
        Left over right; None where either is silent.
    correlation : float or None
        From −1 to 1; None where either is silent.
    """

    low_hz: float
    high_hz: float
    balance_db: float | None
    correlation: float | None


@dataclass(frozen=True)
class SpectrumReading:
    """What the averaged spectrum tells.

    Attributes
    ----------
    bandwidth_hz : tuple of (float or None)
        Low and high edge.
    high_edge_db : float or None
        How far the spectrum falls across its high edge, from the sixth of an octave below to the one above;
        None where nothing lies above it.
    bands : tuple of Band
    vertical_bass_share : float or None
        S²/(M²+S²) from 10 to 300 Hz, M and S the sum and the difference over √2; None without bass.
    bass_share : float
        Power from 10 to 300 Hz over all power above 10 Hz.
    """

    bandwidth_hz: tuple[float | None, float | None]
    high_edge_db: float | None
    bands: tuple[Band, ...]
    vertical_bass_share: float | None
    bass_share: float


class SpectrumMeter:
    """Averages the power of both channels and the real part of their cross-spectrum."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate = sample_rate_hz
        self._size = 1 << round(math.log2(WINDOW_S * sample_rate_hz))
        self._window = _hann(self._size)
        self._held = np.zeros((2, 0), dtype=np.float32)
        self._sums = np.zeros((3, self._size // 2 + 1))
        self._count = 0

    def feed(self, sound: Sound) -> None:
        """Take the next piece, shape (n, 2)."""
        held = np.concatenate([self._held, sound.T], axis=1)
        at = 0
        while at + self._size <= held.shape[1]:
            self._add(held[:, at : at + self._size] * self._window)
            at += self._size // 2
        self._held = held[:, at:]

    def result(self) -> SpectrumReading:
        """The averaged spectrum, read."""
        window, held = self._window, self._held
        if self._count == 0 and held.shape[1] >= SHORTEST_WINDOW:
            window = _hann(held.shape[1])
            self._add(held * window)
        # One-sided, so that a sum over bins is a mean square.
        scale = 2.0 / (max(self._count, 1) * self._size * float(np.square(window, dtype=np.float64).sum()))
        left, right, cross = self._sums * scale
        hz = np.arange(left.size) * (self._rate / self._size)
        heard = hz >= LOWEST_HZ
        bass = heard & (hz < BASS_HZ)
        both, bass_power = left + right, float((left + right)[bass].sum())
        low, high = bandwidth(hz, both)
        return SpectrumReading(
            bandwidth_hz=(low, high),
            high_edge_db=_fall(hz, both, high),
            bands=tuple(_band(hz, left, right, cross, lowest, highest) for lowest, highest in pairwise(BAND_EDGES_HZ)),
            vertical_bass_share=(
                None if _silent(bass_power) else max(0.5 - float(cross[bass].sum()) / bass_power, 0.0)
            ),
            bass_share=bass_power / float(both[heard].sum()) if bass_power > 0.0 else 0.0,
        )

    def _add(self, windowed: Sound) -> None:
        left, right = fft.rfft(windowed, self._size).astype(np.complex128)
        self._sums[0] += left.real**2 + left.imag**2
        self._sums[1] += right.real**2 + right.imag**2
        self._sums[2] += left.real * right.real + left.imag * right.imag
        self._count += 1


def bandwidth(hz: Spectrum, power: Spectrum) -> tuple[float | None, float | None]:
    """Lowest and highest frequency that belong to the programme.

    The spectrum is smoothed over 1/48 octave and weighed by frequency, so that equal readings mean equal
    power in equal parts of an octave.

    - The high edge is the highest frequency within 70 dB of the highest reading and 10 dB above the flat
      noise under the programme: the lowest smoothed density above 1 kHz, if it lies at least 20 dB under the
      densest there; otherwise (music up to the top) no noise can be told from it.
    - The low edge is the lowest frequency within 40 dB of the highest reading, not below 10 Hz. The bottom of
      music has no cliff: a deeper threshold finds only rumble.

    Noise cut off at 16 kHz reads 16 kHz within 3 %; the low edge of noise is good to about 2 Hz.

    Parameters
    ----------
    hz, power : ndarray, shape (bins,)
        Frequencies, evenly spaced from 0, and mean-square power of each bin.

    Returns
    -------
    low, high : float or None
        In Hz; None where there is no sound.
    """
    first = int(np.searchsorted(hz, LOWEST_HZ))
    density = _smoothed(power)[first:]
    reading = density * hz[first:]
    if reading.size == 0 or _silent(float(power[first:].sum())):
        return None, None
    peak = float(reading.max())
    threshold = np.full(reading.shape, peak * 10 ** (HIGH_EDGE_DB / 10))
    upper = density[hz[first:] >= FLOOR_FROM_HZ]
    if upper.size and upper.min() < upper.max() * 10 ** (-FLOOR_DEPTH_DB / 10):
        threshold = np.maximum(threshold, upper.min() * 10 ** (FLOOR_MARGIN_DB / 10) * hz[first:])
    low = np.flatnonzero(reading >= peak * 10 ** (LOW_EDGE_DB / 10))[0]
    high = np.flatnonzero(reading >= np.minimum(threshold, peak))[-1]
    return float(hz[first + low]), float(hz[first + high])


def spectrum_findings(reading: SpectrumReading) -> list[Finding]:
    """What of these readings matters to a cut.

    The top is mentioned where it ends low *and* in a cliff: music that fades out upwards is just music.
    Vertical bass is mentioned from 40 %; two channels without any relation have 50 %.
    """
    found = []
    share = reading.vertical_bass_share
    if share is not None and share > VERTICAL_BASS_MAX and reading.bass_share > BASS_SHARE_MIN:
        remedy = (
            f"{100.0 * share:.0f} % of the power below 300 Hz moves the tip up and down. "
            "Expect depth and pitch to pay for it, or blend the bass towards mono."
        )
        value, limit = 100.0 * share, 100.0 * VERTICAL_BASS_MAX
        found.append(Finding("vertical_bass", "note", None, 1, None, None, value, limit, "%", remedy))
    high, fall = reading.bandwidth_hz[1], reading.high_edge_db
    if high is not None and fall is not None and high < HIGH_EDGE_MIN_HZ and fall >= HIGH_EDGE_CLIFF_DB:
        remedy = (
            f"The spectrum ends abruptly at {high / 1000.0:.1f} kHz. Ask whether a data-reduced or "
            "low-rate copy came into the chain; if the recording is like that, go on."
        )
        found.append(Finding("bandwidth", "note", None, 1, None, None, high, HIGH_EDGE_MIN_HZ, "Hz", remedy))
    return found


def _smoothed(power: Spectrum) -> Spectrum:
    """Mean over 1/96 octave to either side, at least the bin itself."""
    bins = np.arange(power.size)
    low = np.ceil(bins / SMOOTHING).astype(np.int64)
    high = np.minimum((bins * SMOOTHING).astype(np.int64) + 1, power.size)
    running = np.concatenate([[0.0], np.cumsum(power)])
    return np.asarray((running[high] - running[low]) / (high - low), dtype=np.float64)


def _fall(hz: Spectrum, power: Spectrum, high: float | None) -> float | None:
    """Decibels between the densities a sixth of an octave below and above the high edge."""
    if high is None:
        return None
    below = power[(hz >= high / EDGE) & (hz < high / math.sqrt(EDGE))]
    above = power[(hz > high * math.sqrt(EDGE)) & (hz <= high * EDGE)]
    if below.size == 0 or above.size == 0 or below.mean() == 0.0:
        return None
    return 10.0 * math.log10(float(below.mean()) / max(float(above.mean()), 1e-30))


def _band(hz: Spectrum, left: Spectrum, right: Spectrum, cross: Spectrum, low_hz: float, high_hz: float) -> Band:
    inside = (hz >= low_hz) & (hz < high_hz)
    left_power, right_power, both = (float(s[inside].sum()) for s in (left, right, cross))
    if _silent(left_power) or _silent(right_power):
        return Band(low_hz, high_hz, None, None)
    return Band(
        low_hz,
        high_hz,
        balance_db=10.0 * math.log10(left_power / right_power),
        correlation=max(-1.0, min(1.0, both / math.sqrt(left_power * right_power))),
    )


def _silent(power: float) -> bool:
    return power < 10 ** (SILENT_DBFS / 10)


def _hann(size: int) -> Sound:
    return (0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(size) / size)).astype(np.float32)
