"""What a playing adds to the programme: the capture less the programme carried through the playing's own sound.

In two bands, since a tick lives above 2 kHz and a pop below; summed up in cells of five milliseconds for everything
that lasts longer than a tick.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from discwright.inspection.align import Alignment, expected_capture
from discwright.inspection.frames import Batch, Pair

Float = NDArray[np.float64]
Single = NDArray[np.float32]

#: Ticks are looked for above this, Hz, pops below it from the lower of these on; half the amplitude is left there, as
#: through a fourth-order Butterworth filter run forward and back.
TICKS_HZ, POPS_HZ = 2000.0, 200.0
#: Length of a cell, s.
CELL_S = 0.005


@dataclass(frozen=True)
class Block:
    """A stretch of the difference.

    Attributes
    ----------
    first : int
        Frame of the programme.
    spare, expected : ndarray, shape (2, n, 2), float32
        Difference, and what was expected, in the bands of ticks and of pops; 1.0 = full scale of the capture.
    whole : ndarray, shape (2, n, 2), float32 or None
        Difference and expectation in all their width, where asked for.
    """

    first: int
    spare: Single
    expected: Single
    whole: Single | None


def differences(pair: Pair, laid: Alignment, whole: bool = False) -> Iterator[Block]:
    """The difference from the first sample to the last, in blocks that join without a seam.

    Parameters
    ----------
    pair : Pair
    laid : Alignment
    whole : bool
        Also in all its width.

    Yields
    ------
    Block
    """
    size = 2 * (laid.transfer.gain.shape[1] - 1)
    hop = size // 2
    work = _work(laid, size, pair.rate, whole)
    tail: Single | None = None
    first = -hop
    for piece in pair.each(laid.map, size, hop, work):
        if tail is not None:
            piece[:, :, :hop] += tail
        tail = piece[:, :, -hop:].copy()
        done = piece[:, :, :-hop]
        yield _block(first, done, pair.programme.frames, whole)
        first += done.shape[2]
    assert tail is not None
    if first < pair.programme.frames:
        yield _block(first, tail, pair.programme.frames, whole)


def _work(laid: Alignment, size: int, rate: int, whole: bool) -> Callable[[Batch], Single]:
    high, middle = band_masks(size, rate)

    def work(batch: Batch) -> Single:
        expected = expected_capture(batch, laid.transfer)
        spare = batch.capture - expected
        wanted = [spare * high, spare * middle, expected * high, expected * middle]
        if whole:
            wanted += [spare, expected]
        out = np.zeros((len(wanted), 2, (len(spare) + 1) * (size // 2)), dtype=np.float32)
        for kind, spectra in enumerate(wanted):
            frames = fft.irfft(spectra, size, axis=2)
            for c in range(2):
                # Hann windows half a frame apart add up to one: even frames lie end to end, and odd ones do.
                for odd in range(2):
                    some = frames[odd::2, c].reshape(-1)
                    begin = odd * (size // 2)
                    out[kind, c, begin : begin + len(some)] += some
        return out

    return work


def band_masks(size: int, rate: int) -> tuple[Single, Single]:
    """What of each bin belongs to ticks and to pops.

    Parameters
    ----------
    size : int
        Of a frame, samples.
    rate : int, Hz

    Returns
    -------
    ticks, pops : ndarray, shape (size // 2 + 1,), float32, 0..1
    """
    frequency = fft.rfftfreq(size, 1 / rate)

    def above(corner: float) -> Float:
        result: Float = 1 / (1 + (corner / np.maximum(frequency, 1e-3)) ** 8)
        return result

    ticks = above(TICKS_HZ)
    return ticks.astype(np.float32), (above(POPS_HZ) * (1 - ticks)).astype(np.float32)


def noise_of(laid: Alignment) -> Float:
    """Surface noise in the bands of ticks and of pops.

    Parameters
    ----------
    laid : Alignment

    Returns
    -------
    ndarray, shape (2 bands, 2 channels)
        Root mean square, 1.0 = full scale of the capture.
    """
    size = 2 * (len(laid.quiet) - 1)
    masks = band_masks(size, laid.transfer.rate)
    # Power of a bin to mean square: both sides of the spectrum, and what the Hann window leaves.
    power = laid.quiet * 2 / (size**2 * 0.375)
    result: Float = 1e-9 + np.sqrt(np.stack([np.sum(power * mask[:, None] ** 2, axis=0) for mask in masks]))
    return result


def _block(first: int, piece: Single, frames: int, whole: bool) -> Block:
    begin, end = max(0, -first), min(piece.shape[2], frames - first)
    cut = np.moveaxis(piece[:, :, begin:end], 1, 2)
    return Block(first + begin, cut[0:2], cut[2:4], cut[4:6] if whole else None)


@dataclass(frozen=True)
class Cells:
    """The difference in cells of `CELL_S`, whole side.

    Attributes
    ----------
    spare, expected : ndarray, shape (n, 2 bands, 2 channels)
        Mean squares.
    product : ndarray, shape (n, 2)
        Mean product of difference and expectation, both bands together.
    """

    spare: Float
    expected: Float
    product: Float


class CellSums:
    """Gathers cells block by block.

    Parameters
    ----------
    rate : int, Hz
    """

    def __init__(self, rate: int) -> None:
        self._size = round(CELL_S * rate)
        self._exact = CELL_S * rate
        self._rest: Single | None = None
        self._spare: list[Float] = []
        self._expected: list[Float] = []
        self._product: list[Float] = []
        self._at = 0

    def add(self, block: Block) -> None:
        """Gather a block, the next one after the last."""
        both = np.concatenate([block.spare, block.expected])
        if self._rest is not None:
            both = np.concatenate([self._rest, both], axis=1)
        start = self._at
        count = int((start + both.shape[1]) / self._exact)
        first = len(self._spare) and sum(len(one) for one in self._spare)
        edges = np.round(np.arange(first, count + 1) * self._exact).astype(np.int64) - start
        edges = edges[edges <= both.shape[1]]
        if len(edges) < 2:
            self._rest = both
            return
        width = np.diff(edges)[:, None]

        def mean(values: Single) -> Float:
            return np.asarray(np.add.reduceat(values[: edges[-1]].astype(np.float64), edges[:-1], axis=0) / width)

        spare, expected = both[:2], both[2:]
        self._spare.append(np.stack([mean(one**2) for one in spare], axis=1))
        self._expected.append(np.stack([mean(one**2) for one in expected], axis=1))
        self._product.append(mean(spare[0] * expected[0]) + mean(spare[1] * expected[1]))
        self._rest = both[:, edges[-1] :]
        self._at = start + int(edges[-1])

    def result(self) -> Cells:
        """All cells that are whole."""
        if not self._spare:
            empty = np.zeros((0, 2, 2))
            return Cells(empty, empty, np.zeros((0, 2)))
        return Cells(np.concatenate(self._spare), np.concatenate(self._expected), np.concatenate(self._product))
