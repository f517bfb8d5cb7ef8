"""What the playing tip makes of a wall: it rolls along as a circle and touches where it can, not where it was cut.

    wall w(s)  ──slope──▶  circle's centre x(s), y(s)  ──highest at each place──▶  traced wall z(x)

The touching point lies between samples, and where a bend is sharper than the circle the centre's curve runs back
on itself: of all places where the circle could touch, the one that holds it highest counts. What lies below is
lost. Both are exact up to the cubic between two points of an oversampled wall.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from discwright.groove import kernels

Float = NDArray[np.float64]

#: Samples that share one groove speed: it changes by less than a millionth meanwhile.
EVERY = 64
#: Central differences of the eighth order; at a seventeenth of the sample rate off by 4e-7.
_HALF = 4
_SLOPE = np.array([-1 / 280, 4 / 105, -1 / 5, 4 / 5, 0.0, -4 / 5, 1 / 5, -4 / 105, 1 / 280])

#: Way along the groove in metres per sample for a stretch: first sample, and how many steps of EVERY.
Way = Callable[[int, int], Float]


class Curve:
    """A signal as points with slopes, block by block, each block beginning with the last point of the one before.

    Parameters
    ----------
    before : int
        Samples of stillness before the first.
    """

    def __init__(self, before: int = 0) -> None:
        self._tail = np.zeros(2 * _HALF + 1)
        self.first = -_HALF - 1 - before
        self._before = before

    def push(self, block: Float) -> tuple[int, Float, Float]:
        """Points that are known now.

        Parameters
        ----------
        block : ndarray, shape (n,)

        Returns
        -------
        first : int
            Sample number of the first point.
        value, slope : ndarray, shape (n + 1,)
            Slope per sample.
        """
        still = np.zeros(self._before)
        self._before = 0
        y = np.concatenate([self._tail, still, block])
        self._tail = y[len(y) - 2 * _HALF - 1 :].copy()
        value = y[_HALF : len(y) - _HALF]
        slope = np.empty(len(value))
        kernels.convolve(y, _SLOPE, slope)
        first = self.first
        self.first += len(value) - 1
        return first, value, slope


class Reading:
    """A curve read at whole places, delivered in order as soon as nothing to come can change them.

    Parameters
    ----------
    reach : int
        No point lies further than this from its own sample number.
    """

    def __init__(self, reach: int) -> None:
        self._reach = reach
        self._base = 0
        self._open = np.zeros(0)

    def push(self, first: int, place: Float, value: Float, slope: Float) -> Float:
        """Add points and take what is settled.

        Parameters
        ----------
        first : int
            Sample number of the first point.
        place : ndarray, shape (n,)
            Counted from `first`, in samples.
        value, slope : ndarray, shape (n,)
            Slope per sample of place.

        Returns
        -------
        ndarray, shape (m,)
        """
        last = first + len(place) - 1
        out = np.full(max(0, last + self._reach + 1 - self._base), -np.inf)
        out[: len(self._open)] = self._open
        kernels.highest(place, value, slope, self._base - first, out)
        settled = max(0, last - self._reach - self._base)
        self._open = out[settled:].copy()
        self._base += settled
        return out[:settled]


class WallTracer:
    """One wall under a round tip, block by block.

    Parameters
    ----------
    radius : float, m
        Of the tip, as seen along the groove: its side radius.
    outward : float
        +1.0 where a rising displacement moves the wall towards the tip (left wall), -1.0 where it moves it away
        (right wall): the tip lies on one side of the groove's wall only.
    way : callable
        Metres per sample, for steps of EVERY samples.
    slowest : float, m
        The least such way of all; it bounds how far ahead the tip can touch.

    Notes
    -----
    A ball in a 90° groove touches each flat wall for itself, in the plane of that wall's normal (Pierce and Hunt
    1938; Lewis and Hunt 1941). Left out: the groove's bottom radius, the wall's elastic give, tips that are not
    round along the groove.
    """

    def __init__(self, radius: float, outward: float, way: Way, slowest: float) -> None:
        self._radius, self._outward, self._way = radius, outward, way
        self._curve = Curve()
        self._reading = Reading(math.ceil(radius / slowest) + 1)

    def push(self, wall: Float) -> Float:
        """Trace on.

        Parameters
        ----------
        wall : ndarray, shape (n,), m
            Displacement along the wall's normal.

        Returns
        -------
        ndarray, shape (m,), m
            Traced displacement from the first sample on, as far as it is settled; stillness pushed at the end
            brings the rest.
        """
        first, height, slope = self._curve.push(self._outward * wall)
        place, value = np.empty((2, len(height)))
        steps = -(-len(height) // EVERY)
        kernels.roll_tip(height, slope, self._way(first, steps), EVERY, self._radius, place, value)
        return self._outward * self._reading.push(first, place, value, slope)


def trace_period(wall: Float, slope: Float, way: float, radius: float) -> Float:
    """One period of a wall that repeats itself, traced.

    Parameters
    ----------
    wall : ndarray, shape (n,), m
        Displacement towards the tip.
    slope : ndarray, shape (n,), m per sample
    way : float, m
        Along the groove, per sample.
    radius : float, m

    Returns
    -------
    ndarray, shape (n,), m
        At the same places. Source: x = s - R·w'/sqrt(1 + w'²), y = w + R/sqrt(1 + w'²) - R, the highest of all
        branches; the slope at x is the slope at s.
    """
    place, value = np.empty((2, len(wall)))
    kernels.roll_tip(wall, slope, np.array([way]), len(wall), radius, place, value)
    return read_period(place - np.arange(len(wall)), value, slope)


def read_period(shift: Float, value: Float, slope: Float) -> Float:
    """One period of a curve that repeats itself, read at whole places.

    Parameters
    ----------
    shift : ndarray, shape (n,), samples
        How far each point lies from its own sample number.
    value, slope : ndarray, shape (n,)
        Slope per sample of place.

    Returns
    -------
    ndarray, shape (n,)
        The highest, where a place is passed more than once.
    """
    n = len(value)
    around = math.ceil(float(np.abs(shift).max()) / n) + 1
    copies = 2 * around + 1
    place = np.arange(copies * n) + np.tile(shift, copies)
    out = np.full(n, -np.inf)
    kernels.highest(place, np.tile(value, copies), np.tile(slope, copies), around * n, out)
    return out
