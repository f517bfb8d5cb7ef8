"""Two tones at once: what a chain makes of their sums and differences.

*Modulation* (SMPTE RP 120; IEC 60268-3, modulation distortion): a strong low and a weak high tone, 60 Hz and 7 kHz in
the ratio 4 : 1. Of each order the two side lines of the high tone are added; the root of the sum of squares of both
orders is taken over the high tone.

*Difference* (IEC 60268-3, difference-frequency distortion, formerly of the CCIF): two strong tones near each other, 19
and 20 kHz. The lines are taken over the sum of both tones.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from discwright.programme.chain_tones import LineSpectrum

Float = NDArray[np.float64]
Samples = NDArray[np.float64] | NDArray[np.float32]

#: Two tones are taken for a modulation signal where the high one is so many times the low one and more; for a
#: difference signal where they lie nearer than this.
_FAR, _NEAR = 20.0, 1.25
#: The second tone must be so strong against the first, and hold so much of what is not the first.
_SECOND, _HOLDS = 0.1, 0.8


@dataclass(frozen=True)
class PairReading:
    """Two tones in one channel.

    Attributes
    ----------
    kind : {"modulation", "difference"}
    low, high : float, Hz
    level_dbfs : float
        Of the peaks of both together.
    second, third : float
        Of second and of third order, by the definition of the kind.
    """

    kind: Literal["modulation", "difference"]
    low: float
    high: float
    level_dbfs: float
    second: float
    third: float

    @property
    def total(self) -> float:
        """Root of the sum of squares of both orders."""
        return math.hypot(self.second, self.third)


def kind_of(one: float, other: float) -> Literal["modulation", "difference"] | None:
    """Which signal two frequencies make, if any.

    Parameters
    ----------
    one, other : float, Hz
    """
    low, high = sorted((one, other))
    if high >= _FAR * low:
        return "modulation"
    return "difference" if high < _NEAR * low else None


def is_pair(beyond: float, second: tuple[float, float], frequency: float) -> bool:
    """Whether what was read as a tone is one of two.

    Parameters
    ----------
    beyond : float
        All beside the first tone and its multiples up to the tenth, over the first.
    second : tuple of (float, float)
        Frequency, Hz, and amplitude over the first of the strongest line among that.
    frequency : float, Hz
        Of the first.
    """
    strong = second[1] >= _SECOND and second[1] >= _HOLDS * beyond
    return strong and kind_of(frequency, second[0]) is not None


def read_pair(sound: Samples, sample_rate_hz: float, near: tuple[float, float]) -> PairReading | None:
    """Measure two tones in one channel.

    Parameters
    ----------
    sound : ndarray, shape (n,)
        The stretch, without its begin and end.
    sample_rate_hz : float
    near : tuple of (float, float), Hz
        About where the two lie.

    Returns
    -------
    PairReading or None
        None where one of them is not there.
    """
    spectrum = LineSpectrum(sound, sample_rate_hz)
    low, high = (spectrum.strongest(0.98 * one, 1.02 * one) for one in sorted(near))
    kind = kind_of(low, high)
    first, second = abs(spectrum.line(low)), abs(spectrum.line(high))
    if kind is None or min(first, second) < 1e-6 or min(first, second) < 0.02 * max(first, second):
        return None

    def at(place: float) -> float:
        inside = 3.0 < place < len(spectrum.bins) - 4.0
        return abs(spectrum.line(place)) if inside else 0.0

    if kind == "modulation":
        orders = [(at(high - n * low) + at(high + n * low)) / second for n in (1, 2)]
    else:
        orders = [
            at(high - low) / (first + second),
            (at(2.0 * low - high) + at(2.0 * high - low)) / (first + second),
        ]
    level = 20.0 * math.log10(first + second)
    return PairReading(kind, spectrum.hz(low), spectrum.hz(high), level, orders[0], orders[1])
