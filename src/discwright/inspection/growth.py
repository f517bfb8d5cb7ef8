"""How distortion grows toward the centre: what the capture has beyond any linear change, against what the proof has."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from discwright.groove.distortion import DepartureMeter
from discwright.inspection.features import Samples
from discwright.inspection.frames import Pair
from discwright.inspection.timemap import TimeMap

Float = NDArray[np.float64]

#: One second in so many is looked at, and the side is told in so many parts.
EVERY_S, PARTS = 6, 5


@dataclass(frozen=True)
class Growth:
    """Distortion of one part of the side.

    Attributes
    ----------
    time : float, s
        Middle of the part.
    measured, predicted : float
        Root of the energy no linear system explains over the whole energy; noise is taken out of the first.
    """

    time: float
    measured: float
    predicted: float


def growth(
    programme: Samples, pair: Pair, known: TimeMap, gain: float, noise: float, covered: tuple[float, float]
) -> list[Growth]:
    """Look at a second here and there.

    Parameters
    ----------
    programme : Samples
        As it is cut.
    pair : Pair
        Its programme is the proof.
    known : TimeMap
    gain : float
        Of the capture.
    noise : float
        Root mean square of its noise.
    covered : (float, float), s

    Returns
    -------
    list of Growth
        From the rim inward; parts that are silent are left out.
    """
    rate = pair.rate
    starts = np.arange(max(covered[0], 0.0), covered[1] - 1.0, EVERY_S)
    rows = []
    for start in starts:
        first = round(start * rate)
        own = programme.read(first, rate)
        level = float(np.mean(own.astype(np.float64) ** 2))
        if level < 30 * (noise / gain) ** 2:  # the noise would drown it
            continue
        heard = pair.aligned(known, first, rate) / np.float32(gain)
        measured, predicted = (_share(own, other, rate) for other in (heard, pair.programme.read(first, rate)))
        clean = max(measured**2 - (noise / gain) ** 2 / level, 0.0)
        rows.append((start + 0.5, clean, predicted**2))
    if not rows:
        return []
    time, measured_square, predicted_square = np.array(rows).T
    edges = np.linspace(covered[0], covered[1], PARTS + 1)
    found = []
    for low, high in pairwise(edges):
        here = (time >= low) & (time < high)
        if here.any():
            # The median second: one tick makes no distortion.
            found.append(
                Growth(
                    float(0.5 * (low + high)), float(np.sqrt(np.median(measured_square[here]))),
                    float(np.sqrt(np.median(predicted_square[here]))),
                )
            )  # fmt: skip
    return found


def _share(programme: NDArray[np.float32], other: NDArray[np.float32], rate: int) -> float:
    meter = DepartureMeter(rate)
    meter.push(programme, other)
    return float(meter.result().distortion[0])
