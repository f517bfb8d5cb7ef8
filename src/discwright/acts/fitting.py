"""Real fits of many sides, two at a time, none of them twice."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import pairwise
from multiprocessing import get_context, parent_process
from threading import Thread, current_thread, main_thread
from types import FrameType, TracebackType
from typing import Self

import numpy as np
from numpy.typing import NDArray

from discwright.acts.side import plan_audio
from discwright.errors import SolverError
from discwright.files.side_audio import BandRange, SideAudio
from discwright.groove.band_trace import BandTrace
from discwright.groove.equipment import Setup
from discwright.groove.foresee import gain_cap
from discwright.groove.playing import curvature_share
from discwright.groove.room import silent_pitch
from discwright.plan import Order, Plan
from discwright.programme.title import Edition, Treatment

Float = NDArray[np.float64]
Progress = Callable[[str, float], None]
#: Sides fitted at once.
WORKERS = 2
#: Stretches in which a band's steepness is kept.
_STRETCHES = 64


@dataclass(frozen=True)
class SideFit:
    """What a real fit of one side came to.

    Attributes
    ----------
    bands : tuple of str
        Ids.
    duration : float, s
    level_db : float
    spare : float, m
    inner_share : float
        Share of the innermost band's time in which the playing tip cannot follow.
    ready : bool
    traces : tuple of BandTrace
    power : ndarray, shape (K,)
        Mean square of the programme, per sector of the music.
    used : ndarray, shape (K,), m
        Radius each sector takes.
    step : float, s
        Of a sector.
    """

    bands: tuple[str, ...]
    duration: float
    level_db: float
    spare: float
    inner_share: float
    ready: bool
    traces: tuple[BandTrace, ...]
    power: Float
    used: Float
    step: float


@dataclass(frozen=True)
class _Job:
    """One side to fit, as it is sent to a worker."""

    ranges: tuple[BandRange, ...]
    setup: Setup
    clean: bool
    level_db: float | None
    start_db: float | None
    treatments: tuple[Treatment, ...]


def fit_side(job: _Job) -> SideFit:
    """Fit one side and keep what a layout asks of it.

    Parameters
    ----------
    job : _Job
    """
    audio = SideAudio(job.ranges)
    order = Order(
        setup=job.setup, level_db=job.level_db, clean=job.clean, start_db=job.start_db, brief=True,
        band_starts=tuple(start for start, _ in audio.places), band_ends=tuple(end for _, end in audio.places),
    )  # fmt: skip
    return _sum_up(plan_audio(audio, order, job.treatments).plan, job)


def _sum_up(plan: Plan, job: _Job) -> SideFit:
    grid, rows = plan.motion.grid, plan.rows
    music = slice(grid.start, grid.end)
    steep = plan.motion.slope_velocity[:, music].max(axis=0)
    turn, gain = grid.turn_time, 10.0 ** (plan.level_db / 20.0)
    traces, caps = [], gain_cap(plan.motion, job.setup)
    for one, (start, end) in zip(job.ranges, plan.bands, strict=True):
        radius = np.interp([start, end], rows.time, rows.radius)
        turns = (end - start) / turn
        # At least a little: a gain must have something to work on.
        modulated = max(float(radius[0] - radius[1]) - turns * silent_pitch(job.setup), 1e-9)
        at = np.searchsorted(grid.time[music], np.linspace(start, end, _STRETCHES + 1))
        peaks = [steep[a : max(b, a + 1)].max(initial=0.0) for a, b in pairwise(at)]
        cap = float(caps[at[0] : at[-1]].min(initial=np.inf))
        traces.append(BandTrace(turns, one.band.gap / turn, gain, modulated, np.array(peaks), cap))
    knots = np.interp(grid.time[grid.start : grid.end + 1], rows.time, rows.radius)
    return SideFit(
        bands=tuple(one.band.id for one in job.ranges),
        duration=plan.programme.duration,
        level_db=plan.level_db,
        spare=plan.spare,
        inner_share=curvature_share(plan.side, plan.bands[-1][0]),
        ready=plan.ready,
        traces=tuple(traces),
        power=plan.motion.power[music],
        used=-np.diff(knots),
        step=turn / grid.sectors_per_turn,
    )


class Fitter:
    """Fits sides of one edition after another in two processes of its own.

    Parameters
    ----------
    ranges : dict of str to BandRange
    progress : callable
        Called with a step's name and the fraction of it done.

    Attributes
    ----------
    known : dict of tuple of str to SideFit
        Sides of the present edition that have been fitted.
    traces : dict of str to BandTrace
        The latest of each band.
    """

    def __init__(self, ranges: dict[str, BandRange], progress: Progress) -> None:
        self.ranges, self.progress = ranges, progress
        self.known: dict[tuple[str, ...], SideFit] = {}
        self.traces: dict[str, BandTrace] = {}
        self._pool: ProcessPoolExecutor | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._pool is not None:
            if kind is not None:
                for process in list(self._pool._processes.values()):
                    process.terminate()
            self._pool.shutdown(cancel_futures=True)

    def begin(self, setup: Setup, edition: Edition) -> None:
        """Turn to another edition: nothing known of the last one holds for it.

        Parameters
        ----------
        setup : Setup
        edition : Edition
        """
        self.setup, self.edition = setup, edition
        self.known, self.traces = {}, {}

    def fit(self, sides: tuple[tuple[str, ...], ...], start_db: dict[tuple[str, ...], float] | None = None) -> None:
        """Fit sides that are not known yet.

        Parameters
        ----------
        sides : tuple of tuple of str
        start_db : dict, optional
            Where each fit begins to look.
        """
        treatments = {side.bands: side.treatments for side in self.edition.sides}
        jobs = [
            _Job(
                tuple(self.ranges[one] for one in side), self.setup, self.edition.level == "clean", None,
                (start_db or {}).get(side), treatments.get(side, ()),
            )
            for side in dict.fromkeys(sides) if side not in self.known
        ]  # fmt: skip
        for fit in self._run(jobs):
            self.known[fit.bands] = fit
            self.traces.update(zip(fit.bands, fit.traces, strict=True))

    def room_of(self, one: str, level_db: float) -> tuple[Float, float, Float]:
        """Power, time step and radius taken of one band laid at a level, however far it goes.

        Parameters
        ----------
        one : str
        level_db : float
        """
        (fit,) = self._run([_Job((self.ranges[one],), self.setup, False, level_db, None, ())])
        return fit.power, fit.step, fit.used

    def _run(self, jobs: list[_Job]) -> list[SideFit]:
        if self._pool is None:
            self._pool = ProcessPoolExecutor(WORKERS, get_context("spawn"), initializer=_begin)
        with _ctrl_c_waits():
            futures: list[Future[SideFit]] = [self._pool.submit(fit_side, job) for job in jobs]
        pending: set[Future[SideFit]] = set(futures)
        while pending:
            done = len(self.known) + len(futures) - len(pending)
            self.progress(f"laying out {self.edition.id}, {done} sides fitted", done / (done + len(pending) + 2))
            _, pending = wait(pending, timeout=0.2)
        try:
            return [future.result() for future in futures]
        except BrokenProcessPool:
            raise SolverError(
                "fitting a side was ended from outside, perhaps for want of memory; close other programs and lay the "
                "title out again."
            ) from None


@contextmanager
def _ctrl_c_waits() -> Iterator[None]:
    """Workers start deaf to Ctrl-C, which reaches us when they have started; until then it would end one halfway.

    They inherit the mask of the thread that starts them. For ourselves it is not enough: another thread may be given
    the signal, and Python answers it here all the same, in the middle of starting one.
    """
    handler = signal.getsignal(signal.SIGINT)
    pressed: list[tuple[int, FrameType | None]] = []
    waits = callable(handler) and current_thread() is main_thread()
    if waits:
        signal.signal(signal.SIGINT, lambda number, frame: pressed.append((number, frame)))
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
        if waits:
            signal.signal(signal.SIGINT, handler)
    if pressed and callable(handler):
        handler(*pressed[0])


def _begin() -> None:
    """Ctrl-C is for the one who asked, who ends the workers itself; when that one is gone, they go too."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
    Thread(target=_follow, daemon=True).start()


def _follow() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
