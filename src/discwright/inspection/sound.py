"""Level, balance, response, separation, noise and rumble of a playing, from its transfer and what is left over."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discwright.inspection.align import Alignment
from discwright.inspection.transfer import APART, Transfer

Float = NDArray[np.float64]
Complex = NDArray[np.complex128]

#: Third-octaves the response is told in, Hz (IEC 61260, nominal).
THIRDS_HZ = (
    25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 315.0, 400.0, 500.0, 630.0, 800.0, 1000.0,
    1250.0, 1600.0, 2000.0, 2500.0, 3150.0, 4000.0, 5000.0, 6300.0, 8000.0, 10000.0, 12500.0, 16000.0, 20000.0,
)  # fmt: skip
#: Where separation is read, Hz, and what of a response must be known to be told, dB.
SEPARATION_HZ, _KNOWN_DB = (250.0, 8000.0), 0.7


@dataclass(frozen=True)
class Sound:
    """What a playing does to the programme's sound.

    Attributes
    ----------
    level_db, balance_db : float, dB
        Gain at 1 kHz, mean of both channels, and left less right.
    response_db : ndarray, shape (30, 2), dB
        In `THIRDS_HZ`, each channel re its own gain at 1 kHz; NaN where the programme has too little to tell.
    separation_db : float or None, dB
        Of each channel's own sound over what it has of the other, both alike in level; None where the programme's
        channels are alike.
    swapped : bool
        Left is heard on the right.
    inverted : (bool, bool)
        Left, right: the polarity is turned.
    noise_db : float, dB
        Of the quietest places, 20 Hz to 20 kHz, re a full-scale sine of the programme.
    rumble_db : float, dB
        Below 315 Hz, unweighted (IEC 98:1987), re the same.
    """

    level_db: float
    balance_db: float
    response_db: Float
    separation_db: float | None
    swapped: bool
    inverted: tuple[bool, bool]
    noise_db: float
    rumble_db: float


def sound_of(laid: Alignment) -> Sound:
    """Read an alignment.

    Parameters
    ----------
    laid : Alignment

    Returns
    -------
    Sound
    """
    transfer = laid.transfer
    frequency = transfer.frequency
    mean = smoothed(transfer.mean(), frequency)
    middle = (frequency > 300) & (frequency < 4000)
    own = np.abs(mean[middle, [0], [0]]).mean() + np.abs(mean[middle, [1], [1]]).mean()
    other = np.abs(mean[middle, [0], [1]]).mean() + np.abs(mean[middle, [1], [0]]).mean()
    swapped = bool(other > own and transfer.apart.mean() > APART)
    if swapped:
        mean = mean[:, ::-1, :]
    diagonal = np.stack([mean[:, 0, 0], mean[:, 1, 1]], axis=1)
    bands = _bands(np.abs(diagonal) ** 2, frequency)
    at_1k = 10 * np.log10(np.mean(bands[[THIRDS_HZ.index(f) for f in (800.0, 1000.0, 1250.0)]], axis=0) + 1e-30)
    response = 10 * np.log10(bands + 1e-30) - at_1k
    response[_doubtful(laid, diagonal)] = np.nan
    level = float(np.mean(at_1k))
    inverted = tuple(bool(np.sum(diagonal[middle, c].real) < 0) for c in range(2))
    noise, rumble = _noise(laid, frequency)
    return Sound(
        level, float(at_1k[0] - at_1k[1]), response, _separation(mean, transfer), swapped,
        (inverted[0], inverted[1]), noise - level, rumble - level,
    )  # fmt: skip


def smoothed(gain: Complex, frequency: Float) -> Complex:
    """A response without the ripple that noise draws into it: over a twelfth of an octave, phase and all.

    Parameters
    ----------
    gain : ndarray, shape (bins, 2, 2)
    frequency : ndarray, shape (bins,), Hz
    """
    step = frequency[1]
    half = np.maximum((frequency * (2 ** (1 / 24) - 1) / step).astype(np.int64), 0)
    total = np.concatenate([np.zeros((1, 2, 2), dtype=complex), np.cumsum(gain, axis=0)])
    index = np.arange(len(gain))
    begin, end = np.maximum(index - half, 0), np.minimum(index + half + 1, len(gain))
    result: Complex = (total[end] - total[begin]) / (end - begin)[:, None, None]
    return result


def _bands(power: Float, frequency: Float) -> Float:
    """Means over third-octaves, shape (30, 2); between bins in proportion."""
    total = np.concatenate([np.zeros((1, 2)), np.cumsum(power, axis=0)])
    edges = np.concatenate([frequency - frequency[1] / 2, [frequency[-1] + frequency[1] / 2]])
    found = np.full((len(THIRDS_HZ), 2), np.nan)
    for k, centre in enumerate(THIRDS_HZ):
        low, high = centre * 2 ** (-1 / 6), centre * 2 ** (1 / 6)
        if high > edges[-1]:
            continue
        for c in range(2):
            area = np.interp([low, high], edges, total[:, c])
            found[k, c] = (area[1] - area[0]) / ((high - low) / frequency[1])
    return found


def _doubtful(laid: Alignment, diagonal: Complex) -> NDArray[np.bool_]:
    """Bands whose gain noise may have bent by more than can be told, shape (30, 2)."""
    variance = laid.noise / np.maximum(laid.transfer.energy, 1e-30) / np.maximum(np.abs(diagonal) ** 2, 1e-30)
    mean = _bands(variance, laid.transfer.frequency)
    bins = np.array(THIRDS_HZ) * (2 ** (1 / 6) - 2 ** (-1 / 6)) / laid.transfer.frequency[1]
    # A frame's neighbours and a bin's neighbours tell much the same: a fifth of the bins is new.
    error_db = 8.7 * np.sqrt(mean / np.maximum(bins / 5, 1.0)[:, None])
    result: NDArray[np.bool_] = ~(error_db < _KNOWN_DB)
    return result


def _separation(mean: Complex, transfer: Transfer) -> float | None:
    frequency, apart = transfer.frequency, transfer.apart
    inside = (frequency > SEPARATION_HZ[0]) & (frequency < SEPARATION_HZ[1]) & (apart > APART)
    if np.count_nonzero(inside) < 20:
        return None
    weight = apart[inside] / frequency[inside]
    left = np.abs(mean[inside, 0, 1] / (mean[inside, 1, 1] + 1e-30)) ** 2
    right = np.abs(mean[inside, 1, 0] / (mean[inside, 0, 0] + 1e-30)) ** 2
    leak = float(np.sum(weight * (left + right)) / (2 * np.sum(weight)))
    return -10 * float(np.log10(leak + 1e-12))


def _noise(laid: Alignment, frequency: Float) -> tuple[float, float]:
    """Noise and rumble, dB re a full-scale sine of the capture."""
    size = 2 * (len(frequency) - 1)
    # Power of a bin to mean square: both sides of the spectrum, and what the Hann window leaves.
    power = laid.quiet.mean(axis=1) * 2 / (size**2 * 0.375)
    noise = np.sum(power[(frequency >= 20) & (frequency <= 20_000)])
    x = np.maximum(frequency, 1e-3)
    high = (x / 20) ** 6 / (1 + (x / 20) ** 6)
    low = 1 / (1 + (x / 315) ** 4)
    rumble = np.sum(power * high * low)
    return 10 * float(np.log10(2 * noise + 1e-20)), 10 * float(np.log10(2 * rumble + 1e-20))
