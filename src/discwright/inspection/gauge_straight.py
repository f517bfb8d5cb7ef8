"""Edges seen along the grooves: one tilt for all of them, then lengths square to it, and how they spread.

Left and right edge of a leaning groove are compared where they face each other, not where they meet the same row of the
picture: with music on them that is not the same place.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from discwright.inspection.gauge_edges import Edges, Flags
from discwright.inspection.gauge_stations import Float, Stations

#: Places along the grooves that are averaged before the narrowest and the widest are looked for.
_QUIET = 5
#: The narrowest and widest leave out this per cent of a groove's length: dust that nothing else gave away.
_LEFT_OUT = 1.0


@dataclass(frozen=True)
class Straight:
    """Edges upright.

    Attributes
    ----------
    across : ndarray, shape (edges, places), m
        From the middle of the picture to the right, square to the grooves; NaN outside the picture.
    sound : ndarray of bool, shape (edges, places)
    slope : float
        Columns per row that the edges lean.
    """

    across: Float
    sound: Flags
    slope: float

    def between(self, left: int, right: int) -> Float:
        """Distance of two edges at all places, NaN where either cannot be trusted, shape (places,), m."""
        good = self.sound[left] & self.sound[right]
        result: Float = np.where(good, self.across[right] - self.across[left], np.nan)
        return result

    def middle(self, left: int, right: int) -> float:
        """Where the line half way between two edges lies, m; what the music does to it is averaged out smoothly."""
        good = self.sound[left] & self.sound[right]
        weight = good * np.cos(np.pi * np.linspace(-0.5, 0.5, len(good))) ** 2
        centre = np.where(good, self.across[left] + self.across[right], 0.0) / 2.0
        return float((weight * centre).sum() / weight.sum())


@dataclass(frozen=True)
class Spread:
    """A length in all its places, m."""

    mean: float
    std: float
    least: float
    greatest: float


def straighten(edges: Edges, stations: Stations, columns: int, rows: int, pixel: float) -> Straight:
    """Find how far the edges lean and look along that.

    Parameters
    ----------
    edges : Edges
    stations : Stations
    columns, rows : int
        Of the picture.
    pixel : float, m

    Returns
    -------
    Straight
    """
    down = stations.row - rows / 2.0
    # A smooth weight: a wave of the music that ends in the middle of a period must not lean the line.
    weight = np.cos(np.pi * down / rows) ** 2 * edges.sound
    total = np.maximum(weight.sum(axis=1, keepdims=True), 1e-9)
    y = down - (weight * down).sum(axis=1, keepdims=True) / total
    x = edges.place - (weight * edges.place).sum(axis=1, keepdims=True) / total
    slope = float((weight * x * y).sum() / max(1e-9, float((weight * y * y).sum())))
    cos, sin = math.cos(math.atan(slope)), math.sin(math.atan(slope))
    right = edges.place - columns / 2.0
    across, along = (right * cos - down * sin) * pixel, right * sin + down * cos
    grid = stations.step * (np.arange(len(down)) - (len(down) - 1) / 2.0)
    seen = [np.interp(grid, a, b, np.nan, np.nan) for a, b in zip(along, across, strict=True)]
    good = [np.interp(grid, a, b.astype(float), 0.0, 0.0) > 0.99 for a, b in zip(along, edges.sound, strict=True)]
    return Straight(np.array(seen), np.array(good), slope)


def spread(lengths: list[Float]) -> Spread:
    """Mean over all, each counting once; and how far a short stretch of one strays from that.

    Parameters
    ----------
    lengths : list of ndarray, m
        NaN where a length is not known.
    """
    quiet = [_quiet(one) for one in lengths]
    mean = float(np.mean([np.nanmean(one) for one in lengths]))
    ends = [np.nanpercentile(one, (_LEFT_OUT, 100.0 - _LEFT_OUT)) for one in quiet]
    square = float(np.mean([np.nanmean(np.square(one - mean)) for one in quiet]))
    return Spread(mean, math.sqrt(square), float(min(a for a, _ in ends)), float(max(b for _, b in ends)))


def _quiet(length: Float) -> Float:
    """Running mean over a few places, of those that are known."""
    known = np.isfinite(length)
    count = np.convolve(known, np.ones(_QUIET), "same")
    total = np.convolve(np.where(known, length, 0.0), np.ones(_QUIET), "same")
    result: Float = np.where(count >= (_QUIET + 1) // 2, total / np.maximum(count, 1.0), np.nan)
    return result if np.isfinite(result).any() else length
