"""From the programme to the motion of the cutting tip, summed up per sector at 0 dB, in one pass.

Everything the spiral and the checks need scales with level, so a side is read once and then planned at
as many levels as wanted. Blocks come in, a few numbers per sector stay: memory does not grow with length
beyond those.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discwright.groove import kernels
from discwright.groove.curve import HALF_TAPS, RecordingFilter, recording_filter
from discwright.groove.grid import Grid

Float = NDArray[np.float64]
Single = NDArray[np.float32]

#: Sectors that share one acceleration histogram.
GROUP = 32
#: Corners of the blend tried against vertical bass, Hz (plant note and common practice).
BLEND_CORNERS_HZ = (70.0, 100.0, 150.0, 250.0, 300.0)
#: Samples of lift that count together, as their highest: depth moves less than 0.01 µm meanwhile.
LIFT_STEP = 16
#: Vertical bass is judged on every sixteenth sample: it lies far below.
BASS_STEP = 16
#: Where sibilance lies, Hz.
SIBILANT_HZ = (5000.0, 12_000.0)


@dataclass(frozen=True)
class Hulls:
    """Corners that bound a signal from above within each sector.

    Attributes
    ----------
    start : ndarray of int, shape (K+1,)
        Corners of sector k are start[k] .. start[k+1] - 1.
    place : ndarray, shape (corners,)
        Within the sector, 0 to 1.
    value : ndarray, shape (corners,), m
    """

    start: NDArray[np.int64]
    place: Float
    value: Float

    @property
    def sector(self) -> NDArray[np.int64]:
        """Sector of each corner, shape (corners,)."""
        return np.repeat(np.arange(len(self.start) - 1), np.diff(self.start))


@dataclass(frozen=True)
class Motion:
    """What one side's programme does to the groove at 0 dB, per sector of `grid` (K sectors).

    Attributes
    ----------
    grid : Grid
    sample_rate : float, Hz
    frames : int
    facing : Hulls
        Outer edge of the sector's turn less inner edge of the turn outside, guard included: the room the
        two take from the land, m.
    shallow, deep : Hulls
        Vertical lift and its negative, m.
    slope_velocity, slope_frame : ndarray, shape (2, K)
        Greatest radial velocity of the inner and outer edge, m/s, and the frame where it is met.
    acceleration, acceleration_frame : ndarray, shape (2, K)
        Greatest acceleration of the left and right wall, m/s², and its frame.
    mean_square_acceleration : ndarray, shape (2, K), m²/s⁴
    sibilance : ndarray, shape (2, K), m/s²
        Rms wall acceleration between 5 and 12 kHz.
    acceleration_counts : ndarray of int, shape (groups, bins)
        Histogram of the larger wall's acceleration, GROUP sectors each.
    bass_lift : ndarray, shape (1 + corners, K), m
        Greatest lift of the bass, as it is and with each corner of BLEND_CORNERS_HZ blended.
    power : ndarray, shape (K,)
        Mean square of the programme, both channels.
    sample_peak : float
        1.0 = full scale.
    lateral : bool
        Both channels are the same throughout.
    """

    grid: Grid
    sample_rate: float
    frames: int
    facing: Hulls
    shallow: Hulls
    deep: Hulls
    slope_velocity: Float
    slope_frame: Float
    acceleration: Float
    acceleration_frame: Float
    mean_square_acceleration: Float
    sibilance: Float
    acceleration_counts: NDArray[np.int32]
    bass_lift: Float
    power: Float
    sample_peak: float
    lateral: bool


def survey_motion(
    blocks: Iterable[NDArray[np.float32]],
    sample_rate: float,
    grid: Grid,
    guard: float,
    corner: float,
    progress: Callable[[float], None] | None = None,
) -> Motion:
    """Run the whole programme through the recording curve and sum up the walls per sector.

    Parameters
    ----------
    blocks : iterable of ndarray, shape (n, 2), float32
        Left then right, 1.0 = full scale; together they last `grid.duration`.
    sample_rate : float, Hz
    grid : Grid
    guard : float, s
        Each wall counts as its extreme over ± this time.
    corner : float, Hz
        Of the subsonic high-pass.
    progress : callable, optional
        Called with the fraction done.

    Returns
    -------
    Motion
        Source: DESIGN 5.1-5.5.
    """
    stream = _Stream(sample_rate, grid, guard, corner)
    total = max(1.0, grid.duration * sample_rate)
    with ThreadPoolExecutor(2) as pool:
        for block in blocks:
            stream.push(block, pool)
            if progress is not None:
                progress(min(1.0, stream.frame / total))
        frames = stream.frame
        silence = np.zeros((1 << 16, 2), dtype=np.float32)
        while stream.sectors_done < grid.sectors - 1:
            stream.push(silence, pool)
    return stream.result(frames)


class _Wall:
    """One channel on its way: filter state, the tail that the next block needs, sums per sector."""

    def __init__(self, design: RecordingFilter, grid: Grid) -> None:
        self.design = design
        self.state = np.zeros(3)
        # sqrt 2: the edge moves further than the wall it bounds (DESIGN 5.2).
        self.edge_taps = design.displacement * math.sqrt(2.0)
        self.tail = np.zeros(2 * HALF_TAPS)
        self.last_acceleration = np.zeros(1, dtype=np.float32)
        self.band = _band_pass(design.sample_rate)
        self.band_state = np.zeros((len(self.band), 2))
        count = grid.sectors + 1
        self.v_peak, self.v_place, self.a_peak, self.a_place, self.heat, self.band_sum = np.zeros((6, count))

    def push(self, x: Single, frame: int, limits: NDArray[np.int64], k0: int) -> tuple[Single, Single]:
        """Edge movement from frame - HALF_TAPS on, and acceleration from one frame earlier (one more)."""
        n = len(x)
        y = np.empty(n + 2 * HALF_TAPS)
        y[: 2 * HALF_TAPS] = self.tail
        kernels.recursive_section(x, self.design.b, self.design.a, self.state, y[2 * HALF_TAPS :])
        self.tail = y[n:].copy()
        edge, velocity = np.empty((2, n), dtype=np.float32)
        acceleration = np.empty(n + 1, dtype=np.float32)
        kernels.convolve(y, self.edge_taps, edge)
        kernels.convolve(y[:-1], self.design.velocity, velocity)
        kernels.convolve(y, self.design.acceleration, acceleration[1:])
        acceleration[0] = self.last_acceleration[0]
        self.last_acceleration = acceleration[-1:].copy()
        first = frame - HALF_TAPS - 1
        kernels.wall_peaks(
            velocity, acceleration, first, limits, k0, 1.0 / self.design.sample_rate,
            self.v_peak, self.v_place, self.a_peak, self.a_place, self.heat,
        )  # fmt: skip
        hiss = np.empty(n, dtype=np.float32)
        kernels.biquads(acceleration[:-1], self.band, self.band_state, hiss)
        kernels.sector_sums(hiss, first, limits, k0, self.band_sum)
        return edge, acceleration


class _Corners:
    """Collects samples until whole sectors are there, and keeps their hulls."""

    def __init__(self, grid: Grid, bounds: Float, limits: NDArray[np.int64], step: int) -> None:
        self.bounds, self.limits, self.step = bounds, limits, step
        self.start = np.zeros(grid.sectors + 1, dtype=np.int64)
        self.place, self.value = np.empty((2, 16 * grid.sectors + 1024))
        self.done = 0
        self.first = int(limits[0])
        self.pending = np.zeros(0, dtype=np.float32)

    def begin(self, frame: int) -> None:
        """Everything before `frame` is still: fill the sectors up to there with a flat line."""
        self.pending = np.zeros(frame - self.first, dtype=np.float32)

    def push(self, w: Single) -> None:
        self.pending = np.concatenate([self.pending, w]) if len(self.pending) else w
        end = self.first + len(self.pending)
        k1 = min(int(np.searchsorted(self.limits, end - 1, side="right")) - 1, len(self.start) - 1)
        while self.done < k1:
            used = kernels.upper_hulls(
                self.pending, self.first, self.bounds, self.limits, self.done, k1, self.step,
                self.start, self.place, self.value, int(self.start[self.done]),
            )  # fmt: skip
            if used >= 0:
                self.done = k1
            else:  # the room ended within one sector: those before it are done
                self.done = -1 - used
                self.place = np.concatenate([self.place, np.empty_like(self.place)])
                self.value = np.concatenate([self.value, np.empty_like(self.value)])
        keep = int(self.limits[self.done]) - self.first
        self.pending = self.pending[keep:].copy()
        self.first += keep

    def hulls(self) -> Hulls:
        start = self.start.copy()
        # Sectors that were not reached lie after the last turn that matters: flat.
        start[self.done + 1 :] = start[self.done]
        used = int(start[-1])
        return Hulls(start, self.place[:used].copy(), self.value[:used].copy())


class _Stream:
    """Both walls together: what they do to land and depth."""

    def __init__(self, sample_rate: float, grid: Grid, guard: float, corner: float) -> None:
        self.rate, self.grid = sample_rate, grid
        self.bounds = grid.time * sample_rate
        self.limits = np.ceil(self.bounds - 1e-6).astype(np.int64)
        design = recording_filter(sample_rate, corner)
        self.walls = (_Wall(design, grid), _Wall(design, grid))
        self.reach = math.ceil(guard * sample_rate - 1e-9)
        self.turn = grid.turn_time * sample_rate
        history = math.ceil(self.turn) + 1
        self.edge_tails = [np.zeros(2 * self.reach, dtype=np.float32) for _ in self.walls]
        self.outer_tail = np.zeros(history, dtype=np.float32)
        self.facing, self.shallow, self.deep = (
            _Corners(grid, self.bounds, self.limits, step) for step in (1, LIFT_STEP, LIFT_STEP)
        )
        self.facing.begin(-HALF_TAPS - self.reach)
        self.shallow.begin(-HALF_TAPS)
        self.deep.begin(-HALF_TAPS)
        groups = grid.sectors // GROUP + 1
        self.counts = np.zeros((groups, kernels.HISTOGRAM_BINS), dtype=np.int32)
        self.power = np.zeros(grid.sectors + 1)
        self.bass = _BassLift(sample_rate, grid.sectors + 1, self.limits)
        self.sample_peak, self.lateral = 0.0, True
        self.frame = 0

    @property
    def sectors_done(self) -> int:
        return min(self.facing.done, self.shallow.done, self.deep.done)

    def push(self, block: NDArray[np.float32], pool: ThreadPoolExecutor) -> None:
        # Beyond the last sector only what the FIR and the guard still look ahead to is of concern.
        end = int(self.limits[-1]) + HALF_TAPS + self.reach
        first = self.frame - HALF_TAPS - 1
        k0 = int(np.searchsorted(self.limits, first, side="right")) - 1
        block = block[: max(0, end - self.frame)]
        channels = [np.ascontiguousarray(block[:, c]) for c in (0, 1)]
        jobs = [
            pool.submit(wall.push, x, self.frame, self.limits, k0) for wall, x in zip(self.walls, channels, strict=True)
        ]
        (left, left_acceleration), (right, right_acceleration) = (job.result() for job in jobs)
        facing = pool.submit(self._face, left, right)
        vertical = pool.submit(self._lift, left, right)
        kernels.curvature_histogram(
            left_acceleration[:-1], right_acceleration[:-1], first, self.limits, k0, GROUP, self.counts
        )
        k = int(np.searchsorted(self.limits, self.frame, side="right")) - 1
        for x in channels:
            kernels.sector_sums(x, self.frame, self.limits, k, self.power)
            self.sample_peak = max(self.sample_peak, float(x.max(initial=0.0)), -float(x.min(initial=0.0)))
        self.lateral = self.lateral and np.array_equal(channels[0], channels[1])
        facing.result()
        vertical.result()
        self.frame += len(block)

    def _face(self, left: Single, right: Single) -> None:
        """Room taken from the land: the outer edge here and the inner edge one turn earlier."""
        extremes = []
        for c, edge in enumerate((-left, right)):
            x = np.concatenate([self.edge_tails[c], edge])
            self.edge_tails[c] = x[len(edge) :].copy()
            out = np.empty(len(edge), dtype=np.float32)
            kernels.sliding_max(x, self.reach, np.empty_like(x), out)
            extremes.append(out)
        inner_edge, outer_edge = extremes
        outside = np.concatenate([self.outer_tail, inner_edge])
        n, history = len(inner_edge), len(self.outer_tail)
        self.outer_tail = outside[n:].copy()
        near = history - math.floor(self.turn + 1e-6)
        far = history - math.ceil(self.turn - 1e-6)
        self.facing.push(outer_edge + np.maximum(outside[near : near + n], outside[far : far + n]))

    def _lift(self, left: Single, right: Single) -> None:
        lift = (left - right) * np.float32(0.5)
        self.shallow.push(lift)
        self.deep.push(-lift)
        self.bass.push(lift, self.frame - HALF_TAPS)

    def result(self, frames: int) -> Motion:
        grid = self.grid
        k = grid.sectors
        samples = np.maximum(np.diff(self.limits), 1)

        def both(name: str) -> Float:
            return np.stack([getattr(wall, name)[:k] for wall in self.walls])

        return Motion(
            grid=grid,
            sample_rate=self.rate,
            frames=frames,
            facing=self.facing.hulls(),
            shallow=self.shallow.hulls(),
            deep=self.deep.hulls(),
            slope_velocity=both("v_peak") * math.sqrt(2.0),
            slope_frame=both("v_place"),
            acceleration=both("a_peak"),
            acceleration_frame=both("a_place"),
            mean_square_acceleration=both("heat") / samples,
            sibilance=np.sqrt(both("band_sum") / samples),
            acceleration_counts=self.counts,
            bass_lift=self.bass.maxima[:, :k],
            power=self.power[:k] / (2 * samples),
            sample_peak=self.sample_peak,
            lateral=self.lateral,
        )


class _BassLift:
    """Greatest lift per sector of the bass, unblended and with each blend corner."""

    def __init__(self, sample_rate: float, count: int, limits: NDArray[np.int64]) -> None:
        self.limits = limits
        self.sections = [second_order(sample_rate / BASS_STEP, f, high=True) for f in BLEND_CORNERS_HZ]
        self.states = [np.zeros((1, 2)) for _ in self.sections]
        self.maxima = np.zeros((1 + len(self.sections), count))
        self.left_over = np.zeros(0, dtype=np.float32)

    def push(self, lift: Single, frame: int) -> None:
        x = np.concatenate([self.left_over, lift])
        first = frame - len(self.left_over)
        n = len(x) // BASS_STEP
        self.left_over = x[n * BASS_STEP :].copy()
        if n == 0:
            return
        coarse = np.ascontiguousarray(x[: n * BASS_STEP].reshape(n, BASS_STEP).mean(axis=1), dtype=np.float32)
        k0 = int(np.searchsorted(self.limits, first, side="right")) - 1
        kernels.sector_maxima(coarse, first, BASS_STEP, self.limits, k0, self.maxima[0])
        out = np.empty_like(coarse)
        for row, (section, state) in enumerate(zip(self.sections, self.states, strict=True), start=1):
            kernels.biquads(coarse, section, state, out)
            kernels.sector_maxima(out, first, BASS_STEP, self.limits, k0, self.maxima[row])


def second_order(sample_rate: float, corner: float, high: bool) -> Float:
    """Second-order Butterworth section by the bilinear transform, corner exact.

    Parameters
    ----------
    sample_rate, corner : float, Hz
    high : bool
        High-pass, else low-pass.

    Returns
    -------
    ndarray, shape (1, 5)
        b0 b1 b2 a1 a2.
    """
    t = math.tan(math.pi * corner / sample_rate)
    scale = 1.0 / (1.0 + math.sqrt(2.0) * t + t * t)
    b0, b1 = (scale, -2.0 * scale) if high else (t * t * scale, 2.0 * t * t * scale)
    a1, a2 = 2.0 * (t * t - 1.0) * scale, (1.0 - math.sqrt(2.0) * t + t * t) * scale
    return np.array([[b0, b1, b0, a1, a2]])


def _band_pass(sample_rate: float) -> Float:
    low, high = SIBILANT_HZ
    return np.concatenate([second_order(sample_rate, low, True), second_order(sample_rate, high, False)])
