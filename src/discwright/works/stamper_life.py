"""How many stampers a side uses up: lives that differ, added until they reach the pressings wanted.

The model: each stamper's life in pressings is drawn by itself from a gamma distribution with a mean µ and a coefficient
of variation c (standard deviation over mean), taken as continuous. A sum of S such lives is gamma distributed again,
with shape S/c² and scale µc², so every probability here is exact and no convolution has to be reckoned in steps. With
c = 0 every stamper lives µ pressings to the disc. Each side is counted by itself: two stampers in one press wear
unevenly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from discwright.errors import CallError

LIVES = (1.0, 1e7)
CV_MOST = 3.0
#: Below this spread the sum of ten million lives strays by less than a tenth of a pressing: the lives are equal.
_EQUAL = 1e-7
#: What is rarer than this adds nothing to a mean.
_NEVER = 1e-16
#: Chances that differ by so small a share are the same: sums of rounding.
_SAME = 1e-9


@dataclass(frozen=True)
class StamperLife:
    """How long stampers last.

    Attributes
    ----------
    mean : float
        Pressings.
    cv : float
        Standard deviation over mean.
    """

    mean: float
    cv: float

    def __post_init__(self) -> None:
        if not LIVES[0] <= self.mean <= LIVES[1]:
            raise CallError(
                f"a stamper life of {self.mean:g} pressings is none; give a mean from {LIVES[0]:g} to {LIVES[1]:.0f}."
            )
        if not 0.0 <= self.cv <= CV_MOST:
            raise CallError(
                f"a life that varies by {self.cv:g} of its mean is none; give from 0 (all alike) to {CV_MOST:g}."
            )

    def chance_worn(self, stampers: int, pressings: float) -> float:
        """Probability that so many stampers are worn out before so many pressings are made.

        Parameters
        ----------
        stampers : int
        pressings : float

        Returns
        -------
        float
            P(L₁ + … + L_S < N), from 0 to 1.
        """
        if pressings <= 0.0:
            return 0.0
        if stampers <= 0:
            return 1.0
        if self.cv < _EQUAL:
            return float(stampers * self.mean < pressings * (1.0 - _SAME))
        from scipy.special import gammainc

        shape = 1.0 / self.cv**2
        return float(gammainc(stampers * shape, pressings * shape / self.mean))

    def enough(self, pressings: float, probability: float) -> int:
        """The smallest number of stampers that lasts for so many pressings with a probability.

        Parameters
        ----------
        pressings : float
        probability : float
            Between 0 and 1.
        """
        return self._smallest(pressings, (1.0 - probability) * (1.0 + _SAME))

    def mean_used(self, pressings: float) -> float:
        """How many stampers so many pressings use on the average, the one in the press at the end included.

        Parameters
        ----------
        pressings : float

        Returns
        -------
        float
            Σ P(L₁ + … + L_S < N) over S = 0, 1, 2, …: the renewal function of N, and one.
        """
        if pressings <= 0.0:
            return 0.0
        first, last = self._smallest(pressings, 1.0 - _NEVER), self._smallest(pressings, _NEVER)
        if self.cv < _EQUAL:
            return float(last)
        import numpy as np
        from scipy.special import gammainc

        shape = 1.0 / self.cv**2
        counts = np.arange(first, last + 1, dtype=np.float64)
        return first + float(np.sum(gammainc(counts * shape, pressings * shape / self.mean)))

    def mean_by_formula(self, pressings: float) -> float:
        """The same by the formula of renewal theory, N/µ + (c² − 1)/2 + 1, good for orders of several lives.

        Parameters
        ----------
        pressings : float

        Notes
        -----
        W. Feller, An Introduction to Probability Theory and Its Applications II (1971), XI.3: the renewal function of a
        life with mean µ and a second moment goes to N/µ + (c² − 1)/2. With lives all alike it has no such limit: there
        the formula is the mean over all phases, half a stamper above or below what is used at most.
        """
        return pressings / self.mean + (self.cv**2 - 1.0) / 2.0 + 1.0

    def _smallest(self, pressings: float, chance: float) -> int:
        """The smallest number that is worn out with at most this chance: doubled until it is, then halved in."""
        low, high = 0, max(1, math.ceil(pressings / self.mean))
        while self.chance_worn(high, pressings) > chance:
            low, high = high, 2 * high
        while high - low > 1:
            middle = (low + high) // 2
            if self.chance_worn(middle, pressings) > chance:
                low = middle
            else:
                high = middle
        return high
