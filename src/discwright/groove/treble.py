"""The treble limiter: lowers the treble for milliseconds where a wall would bend more sharply than the tip can follow.

    output = w(t)·[x - (1 - g(t))·treble(x)]

Elsewhere the programme passes with the same bits. The treble is what a symmetric FIR high-pass leaves, so
nothing is delayed. Both gains are 1 except around a place where the wall acceleration exceeds its limit; there g
falls as a raised cosine in the 3 ms before, stays for 3 ms, and comes back in 3 ms. The wideband gain w is the
last resort: it moves only where the treble is down by 40 dB, or is not what bends the wall.

Both channels share one gain. The limit is each wall's own, but a gain of its own for each would pull a voice in
the middle aside for a few milliseconds at every burst, and would turn lateral treble into vertical. The price is
that the other wall loses the same few decibels meanwhile, behind the louder one.

Why the limit holds: the acceleration of the output, rounded to float32, is computed four times per sample and the
gain is lowered further until no value exceeds the limit. Each round aims half a percent below it. The programme
counts as what a converter makes of it, up to 0.485 of the sample rate.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from discwright.errors import CallError
from discwright.groove import kernels
from discwright.groove.curve import Complex, recording_filter, wall_response

Float = NDArray[np.float64]
Single = NDArray[np.float32]
Flags = NDArray[np.bool_]
Counts = NDArray[np.int64]

#: -6 dB of the treble band, Hz, and its FIR's reach on each side, s.
TREBLE_HZ, TREBLE_REACH = 2000.0, 1.2e-3
#: Raised cosine before and after, and how long the gain stays down, s.
FADE, HOLD = 3e-3, 3e-3
#: Each round aims at this share of the limit.
AIM = 0.995
#: The treble is lowered by 40 dB at most before the wideband gain moves.
TREBLE_CUT = 0.99
#: Values looked at per sample.
OVERSAMPLING = 4
#: Taps on each side of the exact and of the coarse acceleration filter, and how far they are fitted.
EXACT_TAPS, EXACT_TO = 96, 0.49
COARSE_TAPS, COARSE_TO = 48, 0.485
#: Two values per sample can miss a band-limited peak by a factor cos(pi/4), less 2 % for the coarse filter.
COARSE_SHARE = math.cos(math.pi / 4) * 0.975
#: Frames given out at a time.
WINDOW = 1 << 16
#: How far a change of gain still moves the acceleration, s: six times the recording curve's 318 µs.
ECHO = 2e-3
#: After so many rounds the wideband gain takes part everywhere; after so many it ends.
ROUNDS_TREBLE, ROUNDS = 12, 60


@dataclass(frozen=True)
class CurvatureLimit:
    """The wall acceleration that the playing tip can follow, V²/(R·gain), while the radius shrinks.

    Attributes
    ----------
    time : ndarray, shape (n,), s
        Increasing, of the side. Between two the limit runs straight; outside them it stays.
    acceleration : ndarray, shape (n,), m/s²
        Allowed at 0 dB, greater than zero.

    Raises CallError if the two do not belong together, time goes back or a limit is not above zero.
    """

    time: Float
    acceleration: Float

    def __post_init__(self) -> None:
        t, a = np.asarray(self.time), np.asarray(self.acceleration)
        if t.ndim != 1 or t.shape != a.shape or len(t) == 0 or not np.all(np.isfinite(t)) or np.any(np.diff(t) < 0):
            raise CallError("The curvature limit needs one acceleration for each of its times; give them in order.")
        if not np.all(a > 0):
            raise CallError("A curvature limit is not above zero; give V²/(R·gain) in m/s².")

    def at(self, time: Float) -> Float:
        """Limit at each time, shape (n,), m/s²."""
        return np.asarray(np.interp(time, self.time, self.acceleration), dtype=np.float64)


@dataclass(frozen=True)
class Limited:
    """A stretch of limited programme.

    Attributes
    ----------
    block : ndarray, shape (n, 2), float32
    gain : ndarray, shape (n,)
        What the treble was multiplied by, 1.0 where nothing was done.
    left : float
        Greatest acceleration of either wall over its limit, in and just ahead of the stretch.
    """

    block: Single
    gain: Float
    left: float


class TrebleLimiter:
    """Limits a programme block by block; what comes out is as long as what goes in, and nothing is delayed.

    Parameters
    ----------
    sample_rate : float, Hz
        44 100 to 192 000.
    limit : CurvatureLimit
    corner : float, Hz
        Of the subsonic high-pass in the recording filter.
    """

    def __init__(self, sample_rate: float, limit: CurvatureLimit, corner: float = 10.0) -> None:
        self.rate, self.limit = sample_rate, limit
        self.step = max(1, 2 ** round(math.log2(sample_rate / 5500.0)))
        self.treble = treble_taps(sample_rate)
        self.fade = max(1, round(FADE * sample_rate / self.step / 2))
        self.hold = 2 * max(1, round(HOLD * sample_rate / self.step / 2)) + 1
        shape = np.hanning(2 * self.fade + 3)[1:-1]
        self.shape = shape / shape.sum()
        self.ahead = self.step * math.ceil(0.1 * sample_rate / self.step)
        self.before = self.step * math.ceil(EXACT_TAPS / self.step)
        #: Cells behind the window whose gain still reaches into it.
        self.behind = self.before // self.step + 2 * self.fade + self.hold + 2
        self.span = WINDOW + self.ahead + EXACT_TAPS
        self.walls = (_Wall(sample_rate, corner, self), _Wall(sample_rate, corner, self))
        cells = self.behind + (WINDOW + self.ahead) // self.step
        #: By how much each cell asks treble and all to be lowered, 0..1, from `behind` cells before the window on.
        self.asked = np.zeros((2, cells))
        #: Programme from one FIR's reach before the window on.
        self.buffer: Single = np.zeros((len(self.treble) // 2, 2), dtype=np.float32)
        self.frame = 0

    def blocks(self, blocks: Iterable[Single]) -> Iterator[Limited]:
        """The limited programme, in stretches of its own length; blocks of shape (n, 2), float32."""
        reach = len(self.treble) // 2
        need = reach + self.span + reach
        with ThreadPoolExecutor(2) as pool:
            for block in blocks:
                self.buffer = np.concatenate([self.buffer, block])
                while len(self.buffer) >= need:
                    yield self._window(pool, self.span)
            while len(self.buffer) > reach:
                there = len(self.buffer) - reach
                fill = np.zeros((max(0, need - len(self.buffer)), 2), dtype=np.float32)
                self.buffer = np.concatenate([self.buffer, fill])
                limited = self._window(pool, there)
                yield Limited(limited.block[:there], limited.gain[:there], limited.left)
                self.buffer = self.buffer[: reach + max(0, there - WINDOW)]

    def _window(self, pool: ThreadPoolExecutor, there: int) -> Limited:
        """Settle the next WINDOW frames; the programme ends `there` frames after their begin, if it does."""
        reach = len(self.treble) // 2
        knots = np.arange(self.frame - self.before, self.frame + WINDOW + self.ahead + 1, self.step)
        at_knots = self.limit.at(knots / self.rate)
        limit = np.minimum(at_knots[:-1], at_knots[1:])
        for c, wall in enumerate(self.walls):
            wall.open(np.ascontiguousarray(self.buffer[: reach + self.span + reach, c]), there, limit)
        low, wide = self._gains()

        def look(cells: Flags | None) -> None:
            for job in [pool.submit(wall.look, low, wide, cells) for wall in self.walls]:
                job.result()

        look(None)
        # What was given out stays: it was settled, with half a percent to spare, while this was seen ahead.
        since = self.before // self.step if self.frame else 0
        for turn in range(ROUNDS):
            sites = [wall.sites(since) for wall in self.walls]
            if not any(len(cells) for cells in sites):
                break
            self._ask(sites, low, wide, turn)
            before, (low, wide) = (low, wide), self._gains()
            look(self._moved((before[0] != low) | (before[1] != wide)))
        return self._close(low, wide)

    def _close(self, low: Float, wide: Float) -> Limited:
        block = np.stack([wall.out[:WINDOW] for wall in self.walls], axis=1)
        gain = (1.0 - low[:WINDOW]) * (1.0 - wide[:WINDOW])
        left = max(wall.left for wall in self.walls)
        for wall in self.walls:
            wall.close()
        cells = WINDOW // self.step
        kept = np.zeros_like(self.asked)
        # What lies far ahead was judged without all of its surroundings: it is judged anew.
        sure = self.behind + self.ahead // self.step // 2
        kept[:, :sure] = self.asked[:, cells : cells + sure]
        self.asked = kept
        self.buffer = self.buffer[WINDOW:].copy()
        self.frame += WINDOW
        return Limited(block, gain, left)

    def _ask(self, sites: list[Counts], low: Float, wide: Float, turn: int) -> None:
        """Lower the gain asked for at each site by Newton's step, so that the limit is met there."""
        shift = self.behind - self.before // self.step
        for wall, cells in zip(self.walls, sites, strict=True):
            if len(cells) == 0:
                continue
            value, goal = np.abs(wall.peak[cells]), AIM * wall.limit[cells]
            frame = np.clip(cells * self.step - self.before + wall.place[cells] // OVERSAMPLING, 0, self.span - 1)
            here, all_here = low[frame], wide[frame]
            slope = wall.treble_share(cells) * np.sign(wall.peak[cells]) * (1.0 - all_here)
            helps = slope > 0.02 * value
            more = np.where(helps, (value - goal) / np.where(helps, slope, 1.0), 0.0)
            asked = np.minimum(here + more, np.maximum(here, TREBLE_CUT))
            remains = value - np.where(helps, slope, 0.0) * (asked - here)
            share = np.minimum(1.0, goal / remains)
            if turn >= ROUNDS_TREBLE:
                share = np.minimum(share, 0.7)
            # A step that meets the goal exactly leaves the wideband gain alone.
            asked_wide = np.where(share < 1.0 - 1e-9, 1.0 - (1.0 - all_here) * share, 0.0)
            self.asked[0, cells + shift] = np.maximum(self.asked[0, cells + shift], asked)
            self.asked[1, cells + shift] = np.maximum(self.asked[1, cells + shift], asked_wide)

    def _gains(self) -> tuple[Float, Float]:
        """How far treble and all are lowered at each frame of the window, shape (span,) each, 0 where not at all."""
        low, wide = (self._smooth(asked) if asked.any() else np.zeros(self.span) for asked in self.asked)
        return low, wide

    def _smooth(self, asked: Float) -> Float:
        """Hold, round off and draw out to frames: never below what a cell asks, within that cell."""
        # A knot stands at the begin of each cell q; it holds the cells from q-1-fade-hold to q+fade.
        half = self.fade + (self.hold + 1) // 2
        first = self.behind - 1 - 2 * self.fade - self.hold
        count = self.span // self.step + 2
        padded = np.concatenate([asked[first:], np.zeros(count + 2 * self.fade + 2 * half)])
        held = np.empty(len(padded))
        kernels.sliding_max(padded, half, np.empty_like(padded), held)
        held = held[: count + 2 * self.fade]
        knots = np.minimum(np.convolve(held, self.shape, mode="valid"), 1.0)
        ramp = np.arange(self.step) / self.step
        drawn: Float = knots[:-1, None] + np.diff(knots)[:, None] * ramp
        return drawn.ravel()[: self.span]

    def _moved(self, frames: Flags) -> Flags:
        """Cells, from `before` the window on, whose acceleration a change of gain at `frames` can reach."""
        cells = (WINDOW + self.ahead) // self.step
        touched = np.zeros(self.before // self.step + cells)
        touched[self.before // self.step :] = frames[: cells * self.step].reshape(cells, self.step).any(axis=1)
        reach = math.ceil((EXACT_TAPS + ECHO * self.rate) / self.step)
        padded = np.pad(touched, reach)
        out = np.empty(len(padded))
        kernels.sliding_max(padded, reach, np.empty_like(padded), out)
        return np.asarray(out[: len(touched)] > 0)


class _Wall:
    """One channel in the present window: its programme, its treble, its output and the acceleration of that."""

    def __init__(self, sample_rate: float, corner: float, of: TrebleLimiter) -> None:
        self.rate, self.step, self.before, self.taps = sample_rate, of.step, of.before, of.treble
        self.span = of.span
        self.filter = recording_filter(sample_rate, corner)
        self.coarse = acceleration_taps(sample_rate, corner, COARSE_TAPS, COARSE_TO, OVERSAMPLING)[::2].copy()
        self.exact = acceleration_taps(sample_rate, corner, EXACT_TAPS, EXACT_TO, OVERSAMPLING)
        self.state = np.zeros(3)
        self.tail = np.zeros(self.before + EXACT_TAPS)

    def open(self, x: Single, there: int, limit: Float) -> None:
        """Take the window's programme (one FIR's reach more on each side) and its limit per cell."""
        reach = len(self.taps) // 2
        self.given, self.x, self.there, self.limit = x, x[reach : reach + self.span], there, limit
        self.high: Float | None = None
        self.high_y: Float | None = None
        self.peak = np.zeros(len(limit))
        self.place = np.zeros(len(limit), dtype=np.int64)

    def look(self, low: Float, wide: Float, cells: Flags | None) -> None:
        """Apply the gains, then find the acceleration of the output in these cells; None for all."""
        self.out = self._apply(low, wide)
        self.y = np.empty(len(self.tail) + self.span)
        self.y[: len(self.tail)] = self.tail
        kernels.recursive_section(self.out, self.filter.b, self.filter.a, self.state.copy(), self.y[len(self.tail) :])
        if cells is None:
            cells = np.ones(len(self.limit), dtype=np.bool_)
        trim = EXACT_TAPS - COARSE_TAPS
        y = self.y[trim : len(self.y) - trim]
        kernels.between_peaks(y, self.coarse, self.step, cells, self.peak, self.place)
        near = cells & (np.abs(self.peak) > COARSE_SHARE * self.limit)
        kernels.between_peaks(self.y, self.exact, self.step, near, self.peak, self.place)

    def sites(self, since: int) -> Counts:
        """Cells from `since` on whose acceleration exceeds the limit."""
        return np.asarray(np.flatnonzero(np.abs(self.peak[since:]) > self.limit[since:]) + since)

    @property
    def left(self) -> float:
        """Greatest acceleration over its limit in the window."""
        return float((np.abs(self.peak) / self.limit).max())

    def treble_share(self, cells: Counts) -> Float:
        """Acceleration that the treble alone gives at the peaks of these cells, m/s²."""
        if self.high_y is None:
            y = self.high_y = np.zeros(len(self.tail) + self.span)
            kernels.recursive_section(self._treble(), self.filter.b, self.filter.a, np.zeros(3), y[len(self.tail) :])
        at = cells * self.step + self.place[cells] // OVERSAMPLING
        around = np.lib.stride_tricks.sliding_window_view(self.high_y, 2 * EXACT_TAPS + 1)[at]
        share = np.einsum("ij,ij->i", around[:, ::-1], self.exact[self.place[cells] % OVERSAMPLING])
        return np.asarray(share)

    def close(self) -> None:
        """The first WINDOW frames are given out: carry on after them."""
        kernels.recursive_section(self.out[:WINDOW], self.filter.b, self.filter.a, self.state, np.empty(WINDOW))
        self.tail = self.y[WINDOW : WINDOW + len(self.tail)].copy()

    def _treble(self) -> Float:
        if self.high is None:
            self.high = np.empty(self.span)
            kernels.convolve(self.given.astype(np.float64), self.taps, self.high)
            # Nothing may sound after the end.
            self.high[self.there :] = 0.0
        return self.high

    def _apply(self, low: Float, wide: Float) -> Single:
        touched = (low > 0) | (wide > 0)
        if not touched.any():
            return self.x
        treated = (1.0 - wide) * (self.x - low * self._treble())
        return np.where(touched, treated.astype(np.float32), self.x)


@lru_cache(maxsize=8)
def treble_taps(sample_rate: float) -> Float:
    """Symmetric FIR high-pass that splits the treble off: a Hann-windowed sinc taken from the unchanged signal.

    Parameters
    ----------
    sample_rate : float, Hz

    Returns
    -------
    ndarray, shape (odd,)
        -6 dB at :data:`TREBLE_HZ`.
    """
    half = round(TREBLE_REACH * sample_rate)
    low = np.sinc(2 * TREBLE_HZ / sample_rate * np.arange(-half, half + 1)) * np.hanning(2 * half + 3)[1:-1]
    taps: Float = -low / low.sum()
    taps[half] += 1.0
    return taps


@lru_cache(maxsize=16)
def acceleration_taps(sample_rate: float, corner: float, half: int, up_to: float, phases: int) -> Float:
    """FIR taps after the recording filter's recursive section: wall acceleration between the samples too.

    Parameters
    ----------
    sample_rate, corner : float, Hz
    half : int
        Taps on each side.
    up_to : float
        Fitted to the analogue response up to this share of the sample rate.
    phases : int
        Values per sample.

    Returns
    -------
    ndarray, shape (phases, 2·half + 1)
        Row p: m/s² at 0 dB, p/phases of a sample later.

    Notes
    -----
    Least squares of the relative error. With 96 taps on each side it stays below 0.1 % up to 0.485 of the sample
    rate; above `up_to` the response falls as a converter's does.
    """
    design = recording_filter(sample_rate, corner)
    offsets = np.arange(-half, half + 1)

    def rows_of(f: Float) -> tuple[Float, Complex, Complex]:
        phase = 2 * np.pi * f / sample_rate
        z: Complex = np.exp(1j * phase)
        target: Complex = wall_response(f, corner, 2) / (np.polyval(design.b, z) / np.polyval(design.a, z))
        rows = np.exp(-1j * np.multiply.outer(phase, offsets)) / np.abs(target)[:, None]
        return phase, target, np.asarray(rows, dtype=np.complex128)

    edge = up_to * sample_rate
    inside = np.concatenate([np.linspace(1.0, 2000.0, 200), np.linspace(2000.0, edge, 1500)])
    phase, target, fitted = rows_of(inside)
    # Above the fit the taps only have to stay small: a ten-thousandth of the weight is enough for that.
    beyond = 1e-4 * rows_of(np.linspace(edge, sample_rate / 2, 200))[2]
    matrix = np.concatenate([fitted, beyond])
    matrix = np.concatenate([matrix.real, matrix.imag])
    taps = np.empty((phases, len(offsets)))
    for p in range(phases):
        wanted = np.concatenate([target / np.abs(target) * np.exp(1j * phase * p / phases), np.zeros(len(beyond))])
        taps[p], *_ = np.linalg.lstsq(matrix, np.concatenate([wanted.real, wanted.imag]), rcond=None)
    return taps
