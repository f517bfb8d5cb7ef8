"""Where a programme lies in a capture, and how fast it is played, from nothing but the sound of both.

Passages of the programme are looked for in the whole capture; those that agree on one straight line of time win.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from discwright.inspection.features import RATE

Single = NDArray[np.float32]
Float = NDArray[np.float64]

#: Length of a passage, s, and how many are looked for at most.
PASSAGE_S, MOST_PASSAGES = 8.0, 60
#: A passage that is as like as this is the same music; chance reaches some 0.3 to 0.4.
LIKE = 0.5
#: And surely so where it is by this much more than another place, or than the least.
_SURE = 0.1
#: Places kept of each passage, how far they may lie off a line, s, and the speeds asked for, ratio to the nominal.
_PLACES, _NEAR_S, _MOST_SPEED, _SPEED_STEP = 6, 0.15, 0.03, 0.0005


@dataclass(frozen=True)
class Line:
    """How the time of a capture goes with the time of the programme.

    Attributes
    ----------
    start : float, s
        In the capture, of the programme's first sample.
    stretch : float
        Seconds of capture for one of the programme.
    agreeing, asked, passages : int
        Passages that lie on the line, of those that should, of all.
    likeness : float, 0..1
        Mean of those that lie on it.
    offsets : ndarray, shape (m,), s
        How far off the line passages lie that are surely there.
    """

    start: float
    stretch: float
    agreeing: int
    asked: int
    passages: int
    likeness: float
    offsets: Float

    @property
    def found(self) -> bool:
        """Whether enough of the programme is there."""
        return self.agreeing >= 2 and self.agreeing >= 0.3 * self.asked and self.likeness >= LIKE


def passages(level: Float, whole: bool = True) -> list[int]:
    """First frames of the passages worth looking for: spread over the programme, and not silent.

    Parameters
    ----------
    level : ndarray, shape (n,)
        Mean square of the programme.
    whole : bool
        Leave out what goes beyond the end.
    """
    size = int(PASSAGE_S * RATE)
    if len(level) <= size:
        return [0]
    step = max(size // 2, (len(level) - size) // MOST_PASSAGES)
    loud = np.convolve(level, np.ones(size) / size, "valid")
    floor = 1e-5 * loud.max()
    return [k for k in range(0, len(loud), step) if loud[k] > floor]


def find_line(programme: Single, level: Float, capture: Single, ratio: float = 1.0) -> Line:
    """Look for the programme in the capture.

    Parameters
    ----------
    programme : ndarray, shape (n, bands)
        Its features.
    level : ndarray, shape (n,)
        Its mean square.
    capture : ndarray, shape (m, bands)
    ratio : float
        Look for it played so many times as fast, 3 % either way.

    Returns
    -------
    Line
    """
    firsts = passages(level)
    size = min(int(PASSAGE_S * RATE), len(programme))
    place, like, of = [], [], []
    search = _Search(capture, round(size / ratio))
    for number, first in enumerate(firsts):
        template = _stretched(programme[first : first + size], ratio)
        at, score = search.best(template)
        place.append((at + 0.5 * len(template)) / RATE)
        like.append(score)
        of.append(np.full(len(at), number))
    where, score, passage = np.concatenate(place), np.concatenate(like), np.concatenate(of)
    time = (np.array(firsts)[passage] + 0.5 * size) / RATE
    return _fit(time, where, score, passage, ratio, len(capture) / RATE)


def _stretched(template: Single, ratio: float) -> Single:
    if ratio == 1.0:
        return template
    at = np.arange(round(len(template) / ratio)) * ratio
    low = np.minimum(at.astype(int), len(template) - 1)
    high = np.minimum(low + 1, len(template) - 1)
    part = (at - low)[:, None].astype(np.float32)
    result: Single = template[low] * (1 - part) + template[high] * part
    return result


class _Search:
    """Normalised correlation of short templates with one long capture."""

    def __init__(self, capture: Single, size: int) -> None:
        self._frames = len(capture)
        self._length = fft.next_fast_len(len(capture) + size, real=True)
        self._spectrum = fft.rfft(capture, self._length, axis=0, workers=2)
        square = np.concatenate([np.zeros(1), np.cumsum(np.sum(capture.astype(np.float64) ** 2, axis=1))])
        end = np.minimum(np.arange(len(capture)) + size, len(capture))
        self._energy = square[end] - square[: len(capture)]
        self._floor = 0.05 * float(np.mean(self._energy)) + 1e-9

    def best(self, template: Single) -> tuple[NDArray[np.int64], Float]:
        spectrum = fft.rfft(template, self._length, axis=0, workers=2)
        product = np.sum(self._spectrum * np.conj(spectrum), axis=1)
        match = fft.irfft(product, self._length)[: self._frames]
        like = match / np.sqrt(np.maximum(self._energy, self._floor) * (float(np.sum(template**2)) + 1e-9))
        found = []
        like = like.copy()
        for _ in range(_PLACES):
            peak = int(np.argmax(like))
            found.append((peak, float(like[peak])))
            like[max(0, peak - RATE // 2) : peak + RATE // 2] = -1.0
        return np.array([at for at, _ in found]), np.array([score for _, score in found])


def _fit(time: Float, where: Float, score: Float, passage: NDArray[np.int64], ratio: float, length: float) -> Line:
    """The line most passages agree on, then drawn through them."""
    worth = np.maximum(score, 0.0) ** 3
    best, stretch, start = -1.0, 1 / ratio, 0.0
    for speed in np.arange(1 - _MOST_SPEED, 1 + _MOST_SPEED + 1e-9, _SPEED_STEP):
        slope = 1 / (ratio * speed)
        intercept = where - slope * time
        order = np.argsort(intercept)
        total = np.concatenate([[0.0], np.cumsum(worth[order])])
        near = np.searchsorted(intercept[order], intercept[order] + _NEAR_S, side="right")
        votes = total[near] - total[:-1]
        top = int(np.argmax(votes))
        if votes[top] > best:
            best, stretch, start = float(votes[top]), slope, float(intercept[order][top] + _NEAR_S / 2)
    for _ in range(3):
        off = where - start - stretch * time
        on = np.abs(off) < _NEAR_S
        if np.unique(passage[on]).size < 2:
            break
        stretch, start = (float(one) for one in np.polyfit(time[on], where[on], 1, w=np.sqrt(worth[on]) + 1e-6))
    off = where - start - stretch * time
    on = np.abs(off) < _NEAR_S
    expected = start + stretch * time
    asked = np.unique(passage[(expected > -1.0) & (expected < length - PASSAGE_S / ratio + 1.0)]).size
    sure = on & (score > LIKE + _SURE)
    for k in np.unique(passage):
        own = passage == k
        best = int(np.argmax(np.where(own, score, -1.0)))
        here = float(score[own & on].max(initial=0.0))
        # Music that repeats itself is found in several places: what is as like on the line lies on the line.
        if score[best] > LIKE + _SURE and here < score[best] - _SURE:
            sure[best] = True
    likeness = float(np.mean(score[on])) if on.any() else 0.0
    return Line(
        start,
        stretch,
        np.unique(passage[on & (score > 0.35)]).size,
        asked,
        np.unique(passage).size,
        likeness,
        off[sure],
    )
