"""The compiled loop that looks at many places of a disc, cached like those of the groove."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numba
import numpy as np
from numba import njit

from discwright.kernel_cache import kernel_folder

_folder = kernel_folder(__file__, numba.__version__)
_config: Any = numba.config
_kept_folder = _config.CACHE_DIR
if _folder is not None:
    _config.CACHE_DIR = str(_folder)


def _kernel(function: Callable[..., Any]) -> Any:
    return njit(cache=_folder is not None, nogil=True)(function)


@_kernel
def between(edges, wall, at):  # type: ignore[no-untyped-def]
    """An edge between its samples, by the cubic through the four nearest; still before the first and after the last."""
    first = math.floor(at)
    t = at - first
    n = edges.shape[0]
    a = edges[first - 1, wall] if 0 <= first - 1 < n else np.float32(0.0)
    b = edges[first, wall] if 0 <= first < n else np.float32(0.0)
    c = edges[first + 1, wall] if 0 <= first + 1 < n else np.float32(0.0)
    d = edges[first + 2, wall] if 0 <= first + 2 < n else np.float32(0.0)
    return b + 0.5 * t * (c - a + t * (2.0 * a - 5.0 * b + 4.0 * c - d + t * (3.0 * (b - c) + d - a)))


@_kernel
def farthest(edges):  # type: ignore[no-untyped-def]
    """Greatest movement of any edge, shape (frames, 2), either way."""
    found = np.float32(0.0)
    for i in range(edges.shape[0]):
        found = max(found, abs(edges[i, 0]), abs(edges[i, 1]))
    return found


@_kernel
def row_before(x, value):  # type: ignore[no-untyped-def]
    """Index of the last row of rising `x` not above `value`, and not the last of all; 0 before the first."""
    low, high = 0, x.shape[0] - 1
    while high - low > 1:
        middle = (low + high) // 2
        if x[middle] <= value:
            low = middle
        else:
            high = middle
    return low


@_kernel
def look(x, y, time, radius, depth, inward, turn_time, rate, reach, edges, when, deep, wall):  # type: ignore[no-untyped-def]
    """What stands at each place.

    Parameters
    ----------
    x, y : (n,) float64, m from the disc's centre, to the right and down
    time, radius, depth : (N,) float64, s and m, the spiral
    inward : (N,) float64, negative radius, rising without steps: the locked groove drawn in by a hair
    turn_time, rate : s, Hz
    reach : m, no edge stands further than this from the groove's centre line
    edges : (frames, 2) float32, m
    when, deep, wall : (n,), filled where there is a groove: s, m, -1 inner or 1 outer wall
    """
    begin, end = time[0], time[time.shape[0] - 1]
    for i in range(x.shape[0]):
        r = math.sqrt(x[i] * x[i] + y[i] * y[i])
        angle = math.atan2(-x[i], -y[i]) / (2.0 * math.pi)
        k = row_before(inward, -(r + reach))
        share = (-(r + reach) - inward[k]) / (inward[k + 1] - inward[k])
        first = time[k] + (time[k + 1] - time[k]) * min(max(share, 0.0), 1.0)
        k = row_before(inward, -(r - reach))
        share = (-(r - reach) - inward[k]) / (inward[k + 1] - inward[k])
        last = time[k] + (time[k + 1] - time[k]) * min(max(share, 0.0), 1.0)
        turn = math.ceil((first - 1e-9) / turn_time - angle)
        while (turn + angle) * turn_time <= last + 1e-9:
            t = (turn + angle) * turn_time
            turn += 1
            if t < begin or t > end:
                continue
            k = row_before(time, t)
            share = (t - time[k]) / (time[k + 1] - time[k])
            centre = radius[k] + (radius[k + 1] - radius[k]) * share
            half = depth[k] + (depth[k + 1] - depth[k]) * share
            inner = r - (centre - half + between(edges, 0, t * rate))
            outer = centre + half + between(edges, 1, t * rate) - r
            if inner > 0.0 and outer > 0.0:
                when[i] = t
                deep[i] = min(inner, outer)
                wall[i] = -1 if inner < outer else 1
                break


_config.CACHE_DIR = _kept_folder
