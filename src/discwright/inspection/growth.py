"""How distortion grows toward the centre: what the capture has beyond any linear change, against what the proof has."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from discwright.groove.distortion import DepartureMeter
from discwright.inspection.align import Alignment
from discwright.inspection.features import Samples
from discwright.inspection.frames import Pair

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


def growth(programme: Samples, pair: Pair, laid: Alignment, noise: float, covered: tuple[float, float]) -> list[Growth]:
    """Look at a second here and there.

    Parameters
    ----------
    programme : Samples
        As it is cut.
    pair : Pair
        Its programme is the proof.
    laid : Alignment
    noise : float
        Root mean square of the capture's noise, over its gain.
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
        if level < 30 * noise**2:  # the noise would drown it
            continue
        heard = undone(pair, laid, first, rate)
        measured, predicted = (_share(own, other, rate) for other in (heard, pair.programme.read(first, rate)))
        clean = max(measured**2 - noise**2 / level, 0.0)
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


def undone(pair: Pair, laid: Alignment, first: int, count: int) -> NDArray[np.float32]:
    """The capture as it would be had the playing changed no gain and mixed no channels.

    Parameters
    ----------
    pair : Pair
    laid : Alignment
    first, count : int
        Frames of the programme.

    Returns
    -------
    ndarray, shape (count, 2), float32
    """
    margin = count // 8
    size = fft.next_fast_len(count + 2 * margin, real=True)
    spectrum = fft.rfft(pair.aligned(laid.map, first - margin, size), axis=0)
    part = int(laid.transfer.part_of(np.array([(first + count / 2) / pair.rate]))[0])
    gain = laid.transfer.gain[part]
    back = np.linalg.inv(gain + 1e-4 * np.abs(gain).max() * np.eye(2))
    frequency, own = fft.rfftfreq(size, 1 / pair.rate), laid.transfer.frequency
    both = np.zeros_like(spectrum)
    for i in range(2):
        for j in range(2):
            fine = np.interp(frequency, own, back[:, i, j].real) + 1j * np.interp(frequency, own, back[:, i, j].imag)
            both[:, i] += fine * spectrum[:, j]
    result: NDArray[np.float32] = fft.irfft(both, size, axis=0)[margin : margin + count].astype(np.float32)
    return result


def _share(programme: NDArray[np.float32], other: NDArray[np.float32], rate: int) -> float:
    meter = DepartureMeter(rate)
    meter.push(programme, other)
    return float(meter.result().distortion[0])
