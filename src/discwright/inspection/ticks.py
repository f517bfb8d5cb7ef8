"""Ticks and pops: where the difference stands out of all that should be there.

A sample speaks when it is louder than the music masks, than the noise reaches by chance, and than the music itself is
ever left over near by. What masks is the larger of the music's own 20 ms above 2 kHz and the noise plus 12 dB.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from discwright.inspection import kernels
from discwright.inspection.difference import CELL_S, Block

Float = NDArray[np.float64]
Single = NDArray[np.float32]

#: The music masks by its root mean square over so long, s, and noise by its own plus so much, dB.
MASKING_S, NOISE_MASKS_DB = 0.020, 12.0
#: A tick is told from this much over masking on, dB; and over the noise, and over what else is left of the music.
LEAST_DB, OVER_NOISE, OVER_REST = 4.5, 6.0, 4.0
#: A pop must stand out further: the bass of a difference is less quiet.
LEAST_POP_DB = 9.0
#: Samples that speak within so long are one fault, s; one that lasts this long below 2 kHz is a pop.
TOGETHER_S, POP_S = 0.003, 0.003
#: Margin of a block, s, and half a window for what is usual near by, in cells.
_MARGIN_S, _NEAR_CELLS, _WIDE_CELLS = 0.6, 10, 100
#: The music's peak counts so far on either side of a sample, s.
_NEAR_S = 0.0015
#: Channels whose peaks differ by less, as a ratio, speak both.
_BOTH = 0.4


@dataclass(frozen=True)
class Tick:
    """One short fault.

    Attributes
    ----------
    time : float, s
        Of the programme, where it is loudest.
    channel : {"left", "right", "both"}
    duration : float, s
    size_db : float
        Its peak over what masks it.
    pop : bool
        Most of it below 2 kHz.
    """

    time: float
    channel: str
    duration: float
    size_db: float
    pop: bool


class TickFinder:
    """Finds ticks block by block.

    Parameters
    ----------
    rate : int, Hz
    noise : ndarray, shape (2 bands, 2 channels)
        Root mean square of the surface noise.
    """

    def __init__(self, rate: int, noise: Float) -> None:
        self._rate, self._noise = rate, noise
        self._cell = round(CELL_S * rate)
        self._margin = round(_MARGIN_S / CELL_S) * self._cell
        self._kept: Block | None = None

    def push(self, block: Block) -> Iterator[Tick]:
        """Find what lies in a block, but for a margin that waits for the next."""
        joined = block if self._kept is None else _joined(self._kept, block)
        length = joined.spare.shape[1]
        if length <= 3 * self._margin:
            self._kept = joined
            return
        begin = 0 if joined.first == 0 or self._kept is None else self._margin
        yield from self._find(joined, begin, length - self._margin)
        cut = length - 2 * self._margin
        self._kept = Block(joined.first + cut, joined.spare[:, cut:], joined.expected[:, cut:], None)

    def finish(self) -> Iterator[Tick]:
        """Find what lies in the last margin."""
        if self._kept is not None:
            length = self._kept.spare.shape[1]
            begin = self._margin if self._kept.first > 0 else 0
            yield from self._find(self._kept, min(begin, length), length)

    def _find(self, block: Block, begin: int, end: int) -> Iterator[Tick]:
        loud = np.zeros(block.spare.shape[1], dtype=bool)
        ratios = []
        for band in range(2):
            ratio, over = self._ratio(block, band)
            ratios.append(ratio)
            loud |= over.any(axis=1)
        places = np.flatnonzero(loud)
        if len(places) == 0:
            return
        together = round(TOGETHER_S * self._rate)
        for group in np.split(places, np.flatnonzero(np.diff(places) > together) + 1):
            tick = self._judged(block, ratios, int(group[0]), int(group[-1]) + 1)
            if tick is not None and begin <= round(tick.time * self._rate) - block.first < end:
                yield tick

    def _ratio(self, block: Block, band: int) -> tuple[Single, NDArray[np.bool_]]:
        """Each sample over what masks it, and whether it speaks."""
        spare, music = block.spare[band], block.expected[band]
        usual, share = self._usual(spare, music, self._noise[band])
        ratio, speaks = np.empty(spare.shape, dtype=np.float32), np.empty(spare.shape, dtype=bool)
        kernels.stand_out(
            np.ascontiguousarray(spare), np.ascontiguousarray(music), usual, share,
            self._noise[band] * 10 ** (NOISE_MASKS_DB / 20) + 1e-9, self._cell, round(MASKING_S * self._rate),
            round(_NEAR_S * self._rate), 10 ** ((LEAST_DB, LEAST_POP_DB)[band] / 20), OVER_NOISE, OVER_REST,
            ratio, speaks,
        )  # fmt: skip
        return ratio, speaks

    def _usual(self, spare: Single, music: Single, noise: Float) -> tuple[Float, Float]:
        """Root mean square of the difference near by, and what share of the music is left in it, for each cell."""
        left, own = (_cell_power(one, self._cell) for one in (spare, music))
        floor = np.maximum(median_filter(left, (2 * _NEAR_CELLS + 1, 1), mode="nearest"), noise**2 / 4)
        extra = np.maximum(left - 1.5 * floor.min(axis=0, keepdims=True), 0.0)
        share = np.where(own > 4 * noise**2, extra / (own + 1e-20), 0.0)
        # What is left over in half of the cells around, doubled: a tick in one of them does not hide itself.
        typical = median_filter(share, (2 * _WIDE_CELLS + 1, 1), mode="nearest")
        return np.sqrt(floor), np.sqrt(2 * typical)

    def _judged(self, block: Block, ratios: list[Single], begin: int, end: int) -> Tick | None:
        high, low = (one[begin:end].max() for one in ratios)
        least = 10 ** (LEAST_DB / 20)
        wide = slice(max(0, begin - round(0.02 * self._rate)), end + round(0.02 * self._rate))
        below = np.abs(block.spare[1][wide]).max(axis=1)
        lasts = np.count_nonzero(below > 0.25 * below.max()) / self._rate
        pop = bool(low > high and (high < least or lasts >= POP_S))
        ratio = ratios[1 if pop else 0][begin:end]
        if not pop and high < least:
            return None
        frame, _ = np.unravel_index(int(np.argmax(ratio)), ratio.shape)
        peaks = np.abs(block.spare[1 if pop else 0][begin:end]).max(axis=0)
        channel = "both" if peaks.min() > _BOTH * peaks.max() else ("left", "right")[int(np.argmax(peaks))]
        duration = max(lasts, 1 / self._rate) if pop else (end - begin) / self._rate
        size = 20 * np.log10(float(ratio.max()))
        return Tick((block.first + begin + int(frame)) / self._rate, channel, float(duration), float(size), pop)


def _cell_power(x: Single, cell: int) -> Float:
    """Mean squares of cells, shape (cells, 2); the last takes what is left over."""
    edges = np.arange(max(1, len(x) // cell)) * cell
    width = np.diff(np.append(edges, len(x)))
    result: Float = np.add.reduceat(x * x, edges, axis=0).astype(np.float64) / width[:, None]
    return result


def _joined(before: Block, after: Block) -> Block:
    return Block(
        before.first,
        np.concatenate([before.spare, after.spare], axis=1),
        np.concatenate([before.expected, after.expected], axis=1),
        None,
    )
