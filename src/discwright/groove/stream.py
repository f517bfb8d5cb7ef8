"""The realised curves run over a signal that comes in blocks."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from discwright.groove import kernels
from discwright.groove.curve import HALF_TAPS

Float = NDArray[np.float64]


class Mended:
    """A recursive section and its mending FIR, block by block, without delay.

    Parameters
    ----------
    b, a : ndarray, shape (4,)
    taps : ndarray, shape (2·HALF_TAPS + 1,)
    """

    def __init__(self, b: Float, a: Float, taps: Float) -> None:
        self._b, self._a, self._taps = b, a, taps
        self._state, self._tail = np.zeros(3), np.zeros(2 * HALF_TAPS)
        self._early = HALF_TAPS

    def push(self, x: Float, last: bool) -> Float:
        """Filter on.

        Parameters
        ----------
        x : ndarray, shape (n,)
        last : bool
            Nothing follows: what is looked ahead to is still.

        Returns
        -------
        ndarray, shape (m,)
            From the first sample on; all of them once the last have been pushed.
        """
        if last:
            x = np.concatenate([x, np.zeros(HALF_TAPS)])
        y = np.empty(len(x) + 2 * HALF_TAPS)
        y[: 2 * HALF_TAPS] = self._tail
        kernels.recursive_section(np.ascontiguousarray(x), self._b, self._a, self._state, y[2 * HALF_TAPS :])
        self._tail = y[len(x) :].copy()
        out = np.empty(len(x))
        kernels.convolve(y, self._taps, out)
        early = min(self._early, len(out))
        self._early -= early
        return out[early:]
