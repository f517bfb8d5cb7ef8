"""When exactly the signals begin in a capture, how fast it runs, and which way up: from the chirps.

A chirp is found by correlation with what was played, reckoned at the rate and speed of the capture; the place of the
peak is good to some hundredths of a sample where the chain is quiet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from discwright.programme.chain_report import Tone
from discwright.programme.chain_signals import CHIRP_S, Piece, chirp_at

Float = NDArray[np.float64]
Samples = NDArray[np.float64] | NDArray[np.float32]

#: So much is read on either side of where a chirp is expected, s.
AROUND_S = 0.2
#: A chirp is one where what was found and what was played agree so well, 1 being the same.
_AGREES = 0.5


@dataclass(frozen=True)
class Chirp:
    """A chirp found in one channel.

    Attributes
    ----------
    played : float, s
        When it begins in the signals.
    at : float, s
        When it begins in the capture.
    agrees : float
        How well it agrees with what was played, 0 to 1.
    polarity : {1, -1}
    """

    played: float
    at: float
    agrees: float
    polarity: int


def find_chirp(piece: Piece, sound: Samples, begin: float, sample_rate_hz: float, speed: float) -> Chirp | None:
    """Find a chirp in one channel.

    Parameters
    ----------
    piece : Piece
    sound : ndarray, shape (n,)
        From `AROUND_S` before to after where it is expected.
    begin : float, s
        Capture time of the first sample.
    sample_rate_hz, speed : float

    Returns
    -------
    Chirp or None
        None where nothing agrees with it.
    """
    time = np.arange(round(CHIRP_S / (1.0 + speed) * sample_rate_hz)) / sample_rate_hz
    played = chirp_at(time * (1.0 + speed))
    if len(sound) < len(played) + 3:
        return None
    size = fft.next_fast_len(len(sound) + len(played), real=True)
    spectrum = fft.rfft(np.asarray(sound, dtype=np.float64), size) * np.conj(fft.rfft(played, size))
    found = fft.irfft(spectrum, size)[: len(sound) - len(played) + 1]
    peak = int(np.argmax(np.abs(found)))
    energy = float(np.sum(np.square(sound[peak : peak + len(played)], dtype=np.float64)) * np.sum(np.square(played)))
    agrees = abs(float(found[peak])) / max(energy, 1e-30) ** 0.5
    if agrees < _AGREES:
        return None
    return Chirp(piece.start, begin + _top(found, peak) / sample_rate_hz, agrees, 1 if found[peak] > 0 else -1)


def _top(found: Float, peak: int) -> float:
    """Place of a peak between samples, by a parabola."""
    if not 0 < peak < len(found) - 1:
        return float(peak)
    below, at, above = (float(one) for one in np.abs(found[peak - 1 : peak + 2]))
    bend = below - 2.0 * at + above
    return peak + (0.5 * (below - above) / bend if bend < 0.0 else 0.0)


def place_of(
    chirps: Sequence[Chirp], tones: Sequence[Tone], speed: float
) -> tuple[float | None, float | None]:  # fmt: skip
    """Where the signals begin in the capture, s, and the speed error; None for what is not known.

    By the chirps, where two and more lie on one straight line; otherwise the beginning by the best chirp and the
    speed by the tones, the higher ones weighing more. With neither the speed is not known: a swept sine alone shows it
    to a thousandth.

    Parameters
    ----------
    chirps : sequence of Chirp
    tones : sequence of Tone
    speed : float
        Speed error as far as known yet.
    """
    by_tones = _speed_of(tones)
    known = speed if by_tones is None else by_tones
    if not chirps:
        return None, by_tones
    starts = np.array([one.at - one.played / (1.0 + known) for one in chirps])
    near = [one for one, start in zip(chirps, starts, strict=True) if abs(start - np.median(starts)) < 0.05]
    if len(near) < 2:
        best = max(chirps, key=lambda one: one.agrees)
        return best.at - best.played / (1.0 + known), by_tones
    played, at = (np.array([getattr(one, name) for one in near]) for name in ("played", "at"))
    slope, start = np.polyfit(played, at, 1)
    if np.abs(at - start - slope * played).max() > 0.005:
        return float(start), by_tones
    return float(start), float(1.0 / slope - 1.0)


def _speed_of(tones: Sequence[Tone]) -> float | None:
    pairs = [(tone.worse[1].frequency, tone.nominal) for tone in tones if tone.nominal is not None]
    if not pairs:
        return None
    found, nominal = np.array(pairs).T
    return float(np.average(found / nominal - 1.0, weights=np.square(nominal)))
