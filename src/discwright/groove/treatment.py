"""What is done to a side's programme before the cut: bass blend, low and high cut, treble limit, block by block.

Nothing is treated unless it was asked for, and each treatment reports what it did, where and by how much. What
comes out is as long as what goes in and nothing is delayed; memory does not grow with length, and the bits do
not depend on how the programme is divided into blocks.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from discwright.errors import CallError, SettingsError
from discwright.groove import kernels
from discwright.groove.motion import second_order
from discwright.groove.treble import CurvatureLimit, TrebleLimiter
from discwright.units import clock, decibels

Float = NDArray[np.float64]
Single = NDArray[np.float32]

__all__ = ["CurvatureLimit", "Treating", "TreatmentAsked", "TreatmentReport"]

#: Which corner each kind of filter has, and what it takes out.
FILTERS = {
    "low_cut": ("below", "bass taken out of both channels"),
    "high_cut": ("above", "treble taken out of both channels"),
    "bass_blend": ("below", "side signal taken out"),
}
TREBLE_LIMIT = "treble_limit"
#: A corner must lie below this share of the sample rate: the tangent of the bilinear transform runs away at a half.
CORNER_SHARE = 0.45
#: What a filter takes out counts from here on, full scale = 1.0.
AUDIBLE = 1e-4
#: Below -187 dB of full scale the blend's tail ends, so that what is mono is mono again to the bit.
SILENT = 2.0**-31
#: Reports are drawn up in steps of 10 ms, and levels over five of them.
REPORT_STEP, REPORT_STEPS = 0.01, 5
#: Spans that lie closer than this are one, s; this many are kept.
SPAN_GAP, SPANS = 0.05, 20
#: Frames treated at a time, whatever the blocks that come in.
CHUNK = 1 << 16


class TreatmentAsked(Protocol):
    """What the title file asks for: a kind and its corner."""

    @property
    def kind(self) -> str:
        """bass_blend, low_cut, high_cut or treble_limit."""

    @property
    def below(self) -> float | None:
        """Corner of a blend or low cut, Hz."""

    @property
    def above(self) -> float | None:
        """Corner of a high cut, Hz."""


@dataclass(frozen=True)
class TreatmentReport:
    """What one treatment did to the side.

    Attributes
    ----------
    kind : str
    corner : float or None, Hz
    seconds : float, s
        Time in which it changed anything: a filter in steps of 10 ms in which what it takes out passes 1e-4 of
        full scale; the limiter to the sample.
    worst : float, s
        Where it took away most; 0.0 where nothing was.
    greatest_db : float, dB
        The most it took away there. Of a filter: the level of what it takes out, over 50 ms in the louder channel,
        0 dB = a full-scale sine; minus infinity for nothing. Of the limiter: by how much the treble was lowered,
        as a positive number.
    first, last : float or None, s
        Begin of the first and end of the last change.
    spans : tuple of (float, float), s
        Begin and end of the greatest 20 changes in order of time; changes less than 50 ms apart are one.
    left : float or None
        Of the limiter: greatest wall acceleration over its limit in what comes out.

    Notes
    -----
    What a filter takes out is measured by the filter that completes it: the squares of a second-order Butterworth
    high-pass and low-pass with one corner add up to one. The plain difference of input and output would count the
    filter's phase shift, far above its corner, as taken away.
    """

    kind: str
    corner: float | None
    seconds: float
    worst: float
    greatest_db: float
    first: float | None
    last: float | None
    spans: tuple[tuple[float, float], ...]
    left: float | None = None

    def sentence(self) -> str:
        """One line for people: what was done, where most, and for how long in all."""
        if self.kind == TREBLE_LIMIT:
            head, what = "treble limit", "treble lowered where the playing tip could not follow"
            nothing, most = "nothing bends more sharply than the playing tip can follow", f"{-self.greatest_db:.1f} dB"
        else:
            side, what = FILTERS[self.kind]
            head = f"{self.kind.replace('_', ' ')} {side} {self.corner:g} Hz"
            nothing, most = "nothing there to take out", f"{self.greatest_db:.1f} dBFS"
        if self.first is None:
            return f"{head}: {nothing}"
        length = f"{self.seconds:.1f} s" if self.seconds >= 1 else f"{self.seconds * 1000:.0f} ms"
        text = f"{head}: {what}, most at {clock(self.worst)} ({most}), {length} in all"
        if self.left is not None and self.left > 1.001:
            text += f"; still {self.left:.2f} × the limit in places: lower the side"
        return text


class Treating:
    """The chain of treatments of one side, in the order low and high cuts and blends as written, then the limiter.

    Parameters
    ----------
    treatments : sequence of TreatmentAsked
    sample_rate : float, Hz
    limit : CurvatureLimit or None
        What the playing tip can follow; needed where a treble limit is asked for.
    corner : float, Hz
        Of the subsonic high-pass in the recording filter by which the limiter judges.

    Raises
    ------
    SettingsError
        For an unknown kind, a corner that is missing or out of range, or a second treble limit.
    CallError
        If a treble limit is asked for without `limit`.
    """

    def __init__(
        self,
        treatments: Sequence[TreatmentAsked],
        sample_rate: float,
        limit: CurvatureLimit | None = None,
        corner: float = 10.0,
    ) -> None:
        self.rate, self.limit, self.corner = sample_rate, limit, corner
        self._filters = tuple((t.kind, _corner(t, sample_rate)) for t in treatments if t.kind != TREBLE_LIMIT)
        limiters = len(treatments) - len(self._filters)
        if limiters > 1:
            raise SettingsError("The treble limit is written more than once for a side; write it once.")
        if limiters and limit is None:
            raise CallError("A treble limit needs to know what the playing tip can follow; give a CurvatureLimit.")
        self._limits = limiters > 0
        self._reports: tuple[TreatmentReport, ...] | None = None

    @property
    def reports(self) -> tuple[TreatmentReport, ...]:
        """One report for each treatment, in the order in which they act.

        Raises
        ------
        CallError
            Before :meth:`blocks` has come to its end.
        """
        if self._reports is None:
            raise CallError("The treatments have not come to the end of the side; take all blocks first.")
        return self._reports

    def blocks(self, blocks: Iterable[Single]) -> Iterator[Single]:
        """The treated programme.

        Parameters
        ----------
        blocks : iterable of ndarray, shape (n, 2), float32
            Left then right, 1.0 = full scale; of any length.

        Yields
        ------
        ndarray, shape (m, 2), float32
            In blocks of other lengths; together as long as what came in.

        Raises
        ------
        CallError
            If a block has not two channels.
        """
        self._reports = None
        filters = [_Filter(kind, corner, self.rate) for kind, corner in self._filters]
        stream = self._filtered(blocks, filters)
        last: tuple[TreatmentReport, ...] = ()
        if self._limits and self.limit is not None:
            tally, frame, left = _Tally(), 0, 0.0
            for limited in TrebleLimiter(self.rate, self.limit, self.corner).blocks(stream):
                _count_gain(tally, limited.gain, frame, self.rate)
                frame += len(limited.block)
                left = max(left, limited.left)
                yield limited.block
            last = (tally.report(TREBLE_LIMIT, None, max(0.0, tally.greatest), left),)
        else:
            yield from stream
        self._reports = (*(f.report() for f in filters), *last)

    @staticmethod
    def _filtered(blocks: Iterable[Single], filters: list[_Filter]) -> Iterator[Single]:
        for chunk in _even(blocks):
            block = chunk
            for each in filters:
                block = each.push(block)
            yield block


def _corner(asked: TreatmentAsked, sample_rate: float) -> float:
    if asked.kind not in FILTERS:
        known = ", ".join([*FILTERS, TREBLE_LIMIT])
        raise SettingsError(f"There is no treatment “{asked.kind}”; write one of {known}.")
    side, _ = FILTERS[asked.kind]
    corner = asked.below if side == "below" else asked.above
    name = asked.kind.replace("_", " ")
    if corner is None:
        raise SettingsError(f"The {name} has no corner; write {side}_hz.")
    highest = CORNER_SHARE * sample_rate
    if not 0 < corner < highest:
        raise SettingsError(
            f"The {name} {side} {corner:g} Hz cannot be made at {sample_rate:g} Hz; "
            f"write a corner above 0 and below {highest:g} Hz."
        )
    return corner


def _even(blocks: Iterable[Single]) -> Iterator[Single]:
    """The same frames in chunks of CHUNK, the last one shorter."""
    kept: list[Single] = []
    held = 0
    for block in blocks:
        if block.ndim != 2 or block.shape[1] != 2:
            raise CallError(f"A block has the shape {block.shape}; give (n, 2), left then right.")
        at = 0
        while at < len(block):
            piece = block[at : at + CHUNK - held]
            kept.append(np.array(piece, dtype=np.float32))
            held += len(piece)
            at += len(piece)
            if held == CHUNK:
                yield np.concatenate(kept)
                kept, held = [], 0
    if held:
        yield np.concatenate(kept)


class _Filter:
    """One second-order filter on its way, and what it takes out so far."""

    def __init__(self, kind: str, corner: float, sample_rate: float) -> None:
        self.kind, self.corner, self.rate = kind, corner, sample_rate
        high = kind != "high_cut"
        self.passing, self.taking = (second_order(sample_rate, corner, each) for each in (high, not high))
        self.act: Callable[[Single], tuple[Single, Float]] = self._blend if kind == "bass_blend" else self._cut
        channels = 1 if kind == "bass_blend" else 2
        self.states = np.zeros((2, channels, 1, 2))
        self.step = max(1, round(REPORT_STEP * sample_rate))
        self.tally = _Tally()
        self.cells = 0
        self.waiting = np.zeros((0, channels))
        #: Mean squares of the last steps before the present one.
        self.recent = np.zeros((REPORT_STEPS - 1, channels))

    def push(self, block: Single) -> Single:
        treated, taken = self.act(block)
        # A state that has died away must not linger where numbers are slow.
        self.states[np.abs(self.states) < 1e-30] = 0.0
        self.waiting = np.concatenate([self.waiting, taken])
        whole = len(self.waiting) // self.step * self.step
        self._count(self.waiting[:whole], whole)
        self.waiting = self.waiting[whole:].copy()
        return treated

    def report(self) -> TreatmentReport:
        there = len(self.waiting)
        if there:
            self._count(np.pad(self.waiting, ((0, self.step - there), (0, 0))), there)
            self.waiting = self.waiting[:0]
        return self.tally.report(self.kind, self.corner, decibels(self.tally.greatest * math.sqrt(2.0)), None)

    def _run(self, section: Float, which: int, channel: int, x: Float) -> Float:
        y = np.empty_like(x)
        kernels.biquads(x, section, self.states[which, channel], y)
        return y

    def _cut(self, block: Single) -> tuple[Single, Float]:
        columns = [block[:, c].astype(np.float64) for c in (0, 1)]
        treated = [self._run(self.passing, 0, c, x) for c, x in enumerate(columns)]
        taken = [self._run(self.taking, 1, c, x) for c, x in enumerate(columns)]
        return np.stack(treated, axis=1).astype(np.float32), np.stack(taken, axis=1)

    def _blend(self, block: Single) -> tuple[Single, Float]:
        left, right = block[:, 0].astype(np.float64), block[:, 1].astype(np.float64)
        side = 0.5 * (left - right)
        bass = side - self._run(self.passing, 0, 0, side)
        bass[np.abs(bass) < SILENT] = 0.0
        # The same amount leaves one channel and goes to the other: the lateral half stays as it was.
        treated = np.stack([left - bass, right + bass], axis=1).astype(np.float32)
        return treated, self._run(self.taking, 1, 0, side)[:, None]

    def _count(self, taken: Float, there: int) -> None:
        cells = taken.reshape(-1, self.step, taken.shape[1])
        if len(cells) == 0:
            return
        squares = np.concatenate([self.recent, np.mean(cells**2, axis=1)])
        self.recent = squares[len(squares) - len(self.recent) :].copy()
        power = np.lib.stride_tricks.sliding_window_view(squares, REPORT_STEPS, axis=0).mean(axis=2).max(axis=1)
        active = np.flatnonzero(np.abs(cells).max(axis=(1, 2)) > AUDIBLE)
        begin = (self.cells + active) * self.step / self.rate
        end = np.minimum(begin + self.step / self.rate, (self.cells * self.step + there) / self.rate)
        middle = np.maximum(begin + self.step / self.rate * (1 - REPORT_STEPS / 2), 0.0)
        self.tally.add(begin, end, end - begin, np.sqrt(power[active]), middle)
        self.cells += len(cells)


class _Tally:
    """Adds up changes in order of time; keeps the greatest spans only."""

    def __init__(self) -> None:
        self.seconds, self.greatest, self.worst = 0.0, -math.inf, 0.0
        self.first: float | None = None
        self.last: float | None = None
        #: Value, begin and end: the smallest value first.
        self.spans: list[tuple[float, float, float]] = []
        self.open: tuple[float, float, float] | None = None

    def add(self, begin: Float, end: Float, seconds: Float, value: Float, place: Float) -> None:
        """Changes in order of time, each shape (n,); times in s."""
        if len(begin) == 0:
            return
        self.seconds += float(seconds.sum())
        best = int(np.argmax(value))
        if value[best] > self.greatest:
            self.greatest, self.worst = float(value[best]), float(place[best])
        if self.first is None:
            self.first = float(begin[0])
        self.last = float(end[-1])
        edges = np.flatnonzero(begin[1:] - end[:-1] > SPAN_GAP) + 1
        for i, j in zip([0, *edges.tolist()], [*edges.tolist(), len(begin)], strict=True):
            self._span(float(value[i:j].max()), float(begin[i]), float(end[j - 1]))

    def _span(self, value: float, begin: float, end: float) -> None:
        if self.open is not None and begin - self.open[2] <= SPAN_GAP:
            self.open = (max(value, self.open[0]), self.open[1], end)
            return
        self._keep()
        self.open = (value, begin, end)

    def _keep(self) -> None:
        if self.open is not None:
            heapq.heappush(self.spans, self.open)
            if len(self.spans) > SPANS:
                heapq.heappop(self.spans)
            self.open = None

    def report(self, kind: str, corner: float | None, greatest_db: float, left: float | None) -> TreatmentReport:
        self._keep()
        spans = tuple(sorted((begin, end) for _, begin, end in self.spans))
        return TreatmentReport(
            kind, corner, self.seconds, self.worst, greatest_db, self.first, self.last, spans, left
        )  # fmt: skip


def _count_gain(tally: _Tally, gain: Float, frame: int, sample_rate: float) -> None:
    """Add every stretch in which the limiter's gain is below 1."""
    lowered = np.concatenate([[False], gain < 1.0, [False]])
    edges = np.flatnonzero(lowered[1:] != lowered[:-1])
    begin, end = edges[::2], edges[1::2]
    if len(begin) == 0:
        return
    # The gain may be nothing at all: 120 dB stand for that.
    down = -20.0 * np.log10(np.maximum(gain, 1e-6))
    place = np.array([i + int(np.argmax(down[i:j])) for i, j in zip(begin, end, strict=True)])
    tally.add(
        (frame + begin) / sample_rate, (frame + end) / sample_rate, (end - begin) / sample_rate,
        down[place], (frame + place) / sample_rate,
    )  # fmt: skip
