"""Programme and capture side by side as short spectra, the capture read along a map of time."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy import fft
from scipy.signal import windows

from discwright.inspection import kernels
from discwright.inspection.features import Samples
from discwright.inspection.timemap import TimeMap

Float = NDArray[np.float64]
Single = NDArray[np.float32]
Spectra = NDArray[np.complex64]
T = TypeVar("T")

#: The sinc the capture is read through: taps, phases, and its Kaiser window.
_TAPS, _PHASES, _KAISER = 32, 256, 9.0
_BATCH_SAMPLES = 1 << 18
#: Cells of a frame in which the centre of its energy is looked for.
_CELLS = 16


def sinc_taps() -> Single:
    """Filters for places between samples: flat within 0.01 dB up to 0.42 of the sample rate.

    Returns
    -------
    ndarray, shape (phases + 1, taps), float32
    """
    phase = np.arange(_PHASES + 1)[:, None] / _PHASES
    at = np.arange(_TAPS)[None, :] - (_TAPS // 2 - 1) - phase
    inside = np.clip(1 - (at / (_TAPS / 2)) ** 2, 0.0, None)
    taps = np.sinc(at) * np.i0(_KAISER * np.sqrt(inside)) / np.i0(_KAISER)
    result: Single = (taps / taps.sum(axis=1, keepdims=True)).astype(np.float32)
    return result


def _centres(audio: Single, window: Single, hop: int) -> Float:
    """Centres of the energy of each frame's slope, samples from its middle; cells of a sixteenth of a frame."""
    size = len(window)
    cell = size // _CELLS
    slope = np.diff(audio, axis=0, prepend=audio[:1])
    energy = np.einsum("ij,ij->i", slope, slope).reshape(-1, cell).sum(axis=1, dtype=np.float64)
    views = np.lib.stride_tricks.sliding_window_view(energy, _CELLS)[:: hop // cell]
    at = (np.arange(_CELLS) + 0.5) * cell
    weight = np.interp(at, np.arange(size), window) ** 2
    result: Float = (views @ (weight * (at - size / 2))) / (views @ weight + 1e-30)
    return result


@dataclass(frozen=True)
class Batch:
    """Some frames in a row.

    Attributes
    ----------
    middle : ndarray, shape (m,), s
        Of each frame, in the programme.
    told : ndarray, shape (m,), s
        Where in it lies what tells time: the centre of the energy of the music's slope. A drum is heard in one moment.
    programme, capture : ndarray, shape (m, 2, bins), complex64
    """

    middle: Float
    told: Float
    programme: Spectra
    capture: Spectra


class Part:
    """What of some samples lies between two moments; all else is still, and what comes after is not there.

    Parameters
    ----------
    samples : Samples
    begin, end : float, s
    """

    def __init__(self, samples: Samples, begin: float, end: float) -> None:
        self.rate = samples.rate
        self.frames = min(samples.frames, round(end * samples.rate))
        self._samples, self._first = samples, round(begin * samples.rate)

    def read(self, first: int, count: int) -> Single:
        """Frames from any place; zeros before the beginning and after the end."""
        out = self._samples.read(first, count)
        out[: max(0, min(self._first - first, count))] = 0.0
        out[max(0, self.frames - first) :] = 0.0
        return out


class Pair:
    """A programme and a capture of it, at one rate.

    Parameters
    ----------
    programme, capture : Samples
    """

    def __init__(self, programme: Samples, capture: Samples) -> None:
        if programme.rate != capture.rate:
            raise ValueError(f"{programme.rate} and {capture.rate} Hz")
        self.programme, self.capture, self.rate = programme, capture, programme.rate
        self._taps = sinc_taps()

    @property
    def duration(self) -> float:
        """Of the programme, s."""
        return self.programme.frames / self.rate

    def aligned(self, known: TimeMap, first: int, count: int) -> Single:
        """The capture at the programme's own samples.

        Parameters
        ----------
        known : TimeMap
        first, count : int
            Frames of the programme.

        Returns
        -------
        ndarray, shape (count, 2), float32
        """
        out = np.zeros((count, 2), dtype=np.float32)
        edges = [math.ceil(one.begin * self.rate) for one in known.stretches[1:]]
        cuts = [first, *(edge for edge in edges if first < edge < first + count), first + count]
        for begin, end in pairwise(cuts):
            place = known.at(np.arange(begin, end) / self.rate) * self.rate
            low, high = int(np.floor(place.min())) - _TAPS, int(np.ceil(place.max())) + _TAPS
            kernels.read_along(
                self.capture.read(low, high - low), place - low, self._taps, out[begin - first : end - first]
            )
        return out

    def each(self, known: TimeMap, size: int, hop: int, work: Callable[[Batch], T]) -> Iterator[T]:
        """Work on spectra through a Hann window, from before the first sample to after the last, two batches at once.

        Parameters
        ----------
        known : TimeMap
        size, hop : int
            Of a frame and from one to the next, whole sixteenths of a frame, samples. Frame k is centred on sample
            k·hop.
        work : callable
            Called with a :class:`Batch`, in a thread.

        Yields
        ------
        What `work` gives, in order.
        """
        window = windows.hann(size, sym=False).astype(np.float32)
        count = -(-self.programme.frames // hop) + 1
        many = max(1, _BATCH_SAMPLES // hop)

        def make(first: int) -> T:
            frames = min(many, count - first)
            begin = first * hop - size // 2
            length = (frames - 1) * hop + size
            own = self.programme.read(begin, length)
            both = []
            for audio in (own, self.aligned(known, begin, length)):
                views = np.lib.stride_tricks.sliding_window_view(audio, size, axis=0)[::hop]
                both.append(fft.rfft(views * window, axis=2))
            middle = np.arange(first, first + frames) * hop / self.rate
            return work(Batch(middle, middle + _centres(own, window, hop) / self.rate, both[0], both[1]))

        with ThreadPoolExecutor(2) as pool:
            waiting: list[Future[T]] = []
            for first in range(0, count, many):
                waiting.append(pool.submit(make, first))
                if len(waiting) > 3:
                    yield waiting.pop(0).result()
            while waiting:
                yield waiting.pop(0).result()
