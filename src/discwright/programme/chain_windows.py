"""Stretches cut out of a capture as it streams by, each measured as soon as it is whole, two at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Sound = NDArray[np.float32]

_THREADS = 2
#: So many stretches may wait to be measured before the next is cut out.
_WAITING = 6


@dataclass(frozen=True)
class Window:
    """A stretch that is wanted.

    Attributes
    ----------
    first, last : int
        Its first sample, and the one after its last.
    measure : callable
        Takes the stretch, shape (last − first, 2), and answers with a reading or None.
    """

    first: int
    last: int
    measure: Callable[[Sound], Any]


def measure_windows(blocks: Iterable[Sound], windows: Sequence[Window]) -> list[Any]:
    """Measure every stretch, in one pass; memory holds little more than the longest of them.

    Parameters
    ----------
    blocks : iterable of ndarray, shape (m, 2)
        The capture in pieces of any length, from its first sample.
    windows : sequence of Window
        In any order; they may overlap.

    Returns
    -------
    list
        A reading for each window, in their order; None where the capture ends before it.
    """
    order = sorted(range(len(windows)), key=lambda k: windows[k].last)
    readings: dict[int, Future[Any]] = {}
    held: list[tuple[int, Sound]] = []
    at, done = 0, 0
    with ThreadPoolExecutor(max_workers=_THREADS) as pool:
        for block in blocks:
            held.append((at, block))
            at += len(block)
            while done < len(order) and windows[order[done]].last <= at:
                window = windows[order[done]]
                readings[order[done]] = pool.submit(window.measure, _cut(held, window))
                done += 1
                if done > _WAITING:
                    readings[order[done - 1 - _WAITING]].result()
            if done == len(order):
                break
            needed = min(windows[k].first for k in order[done:])
            held = [(start, one) for start, one in held if start + len(one) > needed]
        return [readings[k].result() if k in readings else None for k in range(len(windows))]


def _cut(held: Sequence[tuple[int, Sound]], window: Window) -> Sound:
    pieces = [
        one[max(0, window.first - start) : max(0, window.last - start)]
        for start, one in held
        if start < window.last and start + len(one) > window.first
    ]
    return np.concatenate(pieces)
