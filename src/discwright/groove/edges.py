"""Where the two top edges of the groove stand, sample by sample: the motion itself, not its sum per sector."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from discwright.groove.curve import recording_filter
from discwright.groove.stream import Mended

Single = NDArray[np.float32]


def edge_blocks(blocks: Iterable[Single], sample_rate: float, corner: float, gain: float) -> Iterator[Single]:
    """Movement of the inner and the outer edge for every sample of a programme.

    Parameters
    ----------
    blocks : iterable of ndarray, shape (n, 2), float32
        The programme as it is cut, 1.0 = full scale.
    sample_rate : float, Hz
    corner : float, Hz
        Of the subsonic high-pass.
    gain : float
        Amplitude ratio of the cut to 0 dB.

    Yields
    ------
    ndarray, shape (m, 2), float32, m
        Radial, outward positive; inner edge (left channel), then outer edge. As many in all as the programme has.
        Source: DESIGN 5.1-5.2, u = sqrt(2)·d.
    """
    design = recording_filter(sample_rate, corner)
    taps = design.displacement * (math.sqrt(2.0) * gain)
    walls = [Mended(design.b, design.a, taps) for _ in range(2)]
    for block in blocks:
        moved = [wall.push(block[:, c].astype(np.float64), False) for c, wall in enumerate(walls)]
        yield np.column_stack(moved).astype(np.float32)
    rest = [wall.push(np.zeros(0), True) for wall in walls]
    yield np.column_stack(rest).astype(np.float32)
