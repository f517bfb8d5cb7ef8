"""How a playing changes the programme's sound: gain and phase from each channel to each, at every frequency.

Least squares over all short spectra: what each channel of the capture holds of the left and of the right programme.
The programme is free of noise, so noise in the capture does not bend the answer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

Complex = NDArray[np.complex128]
Float = NDArray[np.float64]

#: How long the answer to a click may begin before it and go on after it, s: noise beyond is cut off.
_BEFORE_S, _AFTER_S = 0.008, 0.040
#: A part of the side is judged by itself as far as it has music of its own, by this share with the whole.
_SHARE = 0.15
#: Least second eigenvalue of the programme's two channels, of the first: below that they cannot be told apart.
APART = 1e-4
#: What is added to the programme's own energy, so that channels that are alike are not told apart by their noise.
_RIDGE = 1e-4
#: Where the leak from channel to channel is learnt, Hz; and what no gain exceeds, ratio to that of the whole.
LEAK_HZ, _MOST_GAIN = (250.0, 8000.0), 10.0


@dataclass(frozen=True)
class Transfer:
    """From the programme to the capture.

    Attributes
    ----------
    rate : int
        Hz.
    gain : ndarray, shape (parts, bins, 2, 2), complex
        To channel i from channel j, in so many parts of the side of equal length.
    part_s : float
        Length of a part, s.
    energy : ndarray, shape (bins, 2)
        Of the programme, left and right, over all frames; how well a gain is known goes with it.
    apart : ndarray, shape (bins,)
        How well left and right of the programme can be told apart: least over greatest eigenvalue, 0..1.
    """

    rate: int
    gain: Complex
    part_s: float
    energy: Float
    apart: Float

    @property
    def frequency(self) -> Float:
        """Of the bins, Hz."""
        result: Float = fft.rfftfreq(2 * (self.gain.shape[1] - 1), 1 / self.rate)
        return result

    def part_of(self, time: Float) -> NDArray[np.int64]:
        """In which part moments of the programme lie.

        Parameters
        ----------
        time : ndarray, shape (m,), s
        """
        return np.clip((time / self.part_s).astype(np.int64), 0, len(self.gain) - 1)

    def thinned(self, bins: int) -> Transfer:
        """The same at fewer bins.

        Parameters
        ----------
        bins : int
            One more than a whole part of those there are less one.
        """
        times = (self.gain.shape[1] - 1) // (bins - 1)
        return Transfer(self.rate, self.gain[:, ::times], self.part_s, self.energy[::times], self.apart[::times])

    def mean(self) -> Complex:
        """Over the whole side, shape (bins, 2, 2)."""
        result: Complex = self.gain.mean(axis=0)
        return result


def flat_transfer(rate: int, bins: int, gain: tuple[float, float], duration: float) -> Transfer:
    """One gain for all of each channel, and nothing from channel to channel.

    Parameters
    ----------
    rate : int, Hz
    bins : int
    gain : (float, float)
        Left, right; negative where the polarity is turned.
    duration : float, s
    """
    one: Complex = np.broadcast_to(np.diag(gain), (1, bins, 2, 2)).astype(complex)
    return Transfer(rate, one, max(duration, 1e-3), np.zeros((bins, 2)), np.zeros(bins))


class TransferSums:
    """What is gathered of all frames.

    Parameters
    ----------
    rate : int, Hz
    bins : int
    duration : float, s
        Of the programme.
    part_s : float, s
        About how long a part is.
    """

    def __init__(self, rate: int, bins: int, duration: float, part_s: float = 45.0) -> None:
        self._rate = rate
        parts = max(1, round(duration / part_s))
        self._part_s = max(duration, 1e-3) / parts
        self._own = np.zeros((parts, bins, 2, 2), dtype=complex)
        self._cross = np.zeros((parts, bins, 2, 2), dtype=complex)

    def add(self, time: float, own: Complex, cross: Complex) -> None:
        """Gather some frames.

        Parameters
        ----------
        time : float, s
            About where they lie.
        own, cross : ndarray, shape (bins, 2, 2)
            As :func:`discwright.inspection.kernels.gather` sums them.
        """
        part = min(max(int(time / self._part_s), 0), len(self._own) - 1)
        self._own[part] += own
        self._cross[part] += cross

    def _leak(self, gain: Complex) -> tuple[bool, Float]:
        """Whether left is heard on the right, and how much of the other channel each has, re its own, where that can
        be told, shape (2,)."""
        whole = self._own.sum(axis=0)
        values = np.linalg.eigvalsh(whole + 1e-30 * np.eye(2))
        frequency = np.linspace(0.0, self._rate / 2, len(values))
        inside = (frequency > LEAK_HZ[0]) & (frequency < LEAK_HZ[1])
        told = np.flatnonzero(inside & (values[:, 0] > 100 * APART * values[:, 1]))
        if len(told) < 20:
            return False, np.zeros(2)
        mean = gain[:, told].mean(axis=0)
        own, other = mean[:, [0, 1], [0, 1]], mean[:, [0, 1], [1, 0]]
        swapped = bool(np.median(np.abs(other)) > np.median(np.abs(own)))
        ratio = np.real(own / (other + 1e-30) if swapped else other / (own + 1e-30))
        return swapped, np.clip(np.median(ratio, axis=0), -0.3, 0.3)

    def solve(self) -> Transfer:
        """The least-squares answer, smoothed to what a disc and player can have.

        Returns
        -------
        Transfer
        """
        parts = len(self._own)
        all_own, all_cross = self._own.sum(axis=0) / parts, self._cross.sum(axis=0) / parts
        own = self._own + _SHARE * all_own
        cross = self._cross + _SHARE * all_cross
        trace = np.real(own[..., 0, 0] + own[..., 1, 1])
        ridge = (_RIDGE * trace + 1e-9 * trace.mean(axis=-1, keepdims=True) + 1e-30)[..., None, None]
        inverse = np.linalg.inv(own + ridge * np.eye(2))
        swapped, leak = self._leak(cross @ inverse)
        gain = _bounded((cross + ridge * _told_by_itself(own, cross, swapped, leak)) @ inverse, own)
        whole = self._own.sum(axis=0)
        values = np.linalg.eigvalsh(whole + 1e-30 * np.eye(2))
        energy = np.real(np.stack([whole[:, 0, 0], whole[:, 1, 1]], axis=1))
        return Transfer(
            self._rate, _short(gain, self._rate), self._part_s, energy, values[:, 0] / np.maximum(values[:, 1], 1e-30)
        )


def _told_by_itself(own: Complex, cross: Complex, swapped: bool, leak: Float) -> Complex:
    """What each channel of the capture holds of its own programme, were the leak known: where both channels of the
    programme are alike, nothing else can be told."""
    gain = np.zeros_like(cross)
    for c in range(2):
        d = 1 - c if swapped else c
        alone = np.real(own[..., d, d]) + 1e-30
        gain[..., c, d] = cross[..., c, d] / alone / (1 + leak[c] * own[..., 1 - d, d] / alone)
        gain[..., c, 1 - d] = leak[c] * gain[..., c, d]
    return gain


def _bounded(gain: Complex, own: Complex) -> Complex:
    """Where the programme has next to nothing, a gain is noise over nothing: it must not spread when cut short."""
    energy = np.real(own[..., [0, 1], [0, 1]])
    power = np.sum(np.abs(gain) ** 2 * energy[..., None, :], axis=(0, 1)) / (np.sum(energy, axis=(0, 1)) + 1e-30)
    most = _MOST_GAIN * np.sqrt(power.max()) + 1e-30
    result: Complex = gain * np.minimum(1.0, most / np.maximum(np.abs(gain), 1e-30))
    return result


def _short(gain: Complex, rate: int) -> Complex:
    """Cut what lies far from the click off the answer to it."""
    size = 2 * (gain.shape[1] - 1)
    answer = fft.irfft(gain, size, axis=1)
    window = np.zeros(size)
    after, before = min(round(_AFTER_S * rate), size // 2), min(round(_BEFORE_S * rate), size // 2 - 1)
    fade = 0.5 + 0.5 * np.cos(np.pi * np.arange(after) / after)
    window[:after] = np.minimum(1.0, 2 * fade)
    fade = 0.5 + 0.5 * np.cos(np.pi * np.arange(1, before + 1) / before)
    window[-before:] = np.minimum(1.0, 2 * fade)[::-1]
    result: Complex = fft.rfft(answer * window[None, :, None, None], axis=1)
    return result
