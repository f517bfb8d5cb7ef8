"""Lay the spiral: the least radius that keeps land, depth and lathe limits, solved in windows or at once."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from threading import Thread

import numpy as np
from numpy.typing import NDArray

from discwright.errors import SolverError
from discwright.groove.rows import Corners, Problem
from discwright.groove.solver import INFINITY, Rows, Solution, solve

Float = NDArray[np.float64]

#: Turns solved at a time, and turns kept of each solution.
WINDOW_TURNS = 12
ADVANCE_TURNS = 6
#: Sides whose half is longer than this are solved in two halves.
HALVES_FROM_TURNS = 36
#: What a µm of broken land or depth costs against a µm of radius, where they cannot be kept.
BROKEN_COST = 1e3
#: Second objective, small against the radius: smoothest pitch and least mean depth.
SMOOTH_COST = 0.03


@dataclass(frozen=True)
class Spiral:
    """Radius and depth at the knots, µm; radius counted from 0 at the first sample of music."""

    radius: Float
    depth: Float
    broken: bool


def lay_spiral(
    problem: Problem,
    progress: Callable[[float], None] | None = None,
) -> Spiral:
    """Solve the side in overlapping windows; its two halves at once, joined by one window more.

    Parameters
    ----------
    problem : Problem
    progress : callable, optional
        Called with the fraction done.

    Returns
    -------
    Spiral
        `broken` where land or depth could not be kept at any price.

    Raises
    ------
    SolverError

    Notes
    -----
    The second half begins one window early with a free start, so that where it is joined it has
    forgotten how it began. The halves are the same whatever the number of threads.
    """
    per_turn = problem.grid.sectors_per_turn
    last = problem.knots - 1
    middle = (last // per_turn // 2) * per_turn
    tell = _halves(progress)
    outer = _Chain(problem, 0, SMOOTH_COST, WINDOW_TURNS, tell[0])
    if middle < HALVES_FROM_TURNS * per_turn:
        outer.run(last)
        return outer.spiral()
    inner = _Chain(problem, middle - WINDOW_TURNS * per_turn, SMOOTH_COST, WINDOW_TURNS, tell[1])
    with ThreadPoolExecutor(2) as pool:
        jobs = [pool.submit(outer.run, middle), pool.submit(inner.run, last)]
        try:
            for job in jobs:
                job.result()
        except BaseException:
            outer.stopped = inner.stopped = True
            raise
    if not outer.join(inner, min(middle + WINDOW_TURNS * per_turn, last)):
        outer.run(last)
    return outer.spiral()


def lay_exact(problem: Problem) -> Spiral:
    """Solve the whole side as one problem: the optimum the windows are held against.

    Parameters
    ----------
    problem : Problem

    Returns
    -------
    Spiral

    Raises
    ------
    SolverError
    """
    last = problem.knots - 1
    chain = _Chain(problem, 0, 0.0, last // problem.grid.sectors_per_turn + 1, lambda _: None)
    # One solve may take minutes, deaf to everything: a thread of its own leaves the caller free to stop.
    outcome: list[BaseException | None] = []

    def work() -> None:
        try:
            chain.run(last)
            outcome.append(None)
        except BaseException as trouble:
            outcome.append(trouble)

    thread = Thread(target=work, daemon=True)
    thread.start()
    while thread.is_alive():
        thread.join(0.2)
    if outcome[0] is not None:
        raise outcome[0]
    return chain.spiral()


def _halves(progress: Callable[[float], None] | None) -> tuple[Callable[[float], None], ...]:
    """One progress out of two that run at once: half the work each."""
    done = [0.0, 0.0]

    def tell(which: int, fraction: float) -> None:
        done[which] = fraction
        if progress is not None:
            progress(min(1.0, sum(done) / 2))

    return (lambda f: tell(0, f)), (lambda f: tell(1, f))


class _Chain:
    """Windows solved one after another from one knot on, each starting where the last one was kept."""

    def __init__(
        self,
        problem: Problem,
        start: int,
        smooth: float,
        turns: int,
        progress: Callable[[float], None],
    ) -> None:
        self.problem, self.start, self.smooth, self.progress = problem, start, smooth, progress
        self.length = turns * problem.grid.sectors_per_turn
        self.advance = ADVANCE_TURNS * problem.grid.sectors_per_turn
        self.radius, self.depth = np.zeros((2, problem.knots))
        self.at = start
        self.broken = False
        self.stopped = False

    def run(self, goal: int) -> None:
        """Go on until the knots up to `goal` are kept."""
        last = self.problem.knots - 1
        while self.at < goal and not self.stopped:
            stop = min(self.at + self.length, last)
            kept = last if stop == last else min(self.at + self.advance, goal)
            self._keep(_Window(self.problem, self.start, self.at, stop, self.radius, self.depth), kept)
            self.progress((self.at - self.start) / (goal - self.start))

    def _keep(self, window: _Window, kept: int) -> None:
        found = window.solve(self.smooth)
        if not found.optimal:
            self.broken = True
            found = window.solve(self.smooth, soft=True)
            if not found.optimal:
                raise SolverError(
                    f"the lathe's own limits leave no spiral at all (“{found.status}”); check its pitch and slews."
                )
        self._take(window, found, kept)

    def _take(self, window: _Window, found: Solution, kept: int) -> None:
        count = kept - window.first + 1
        self.radius[window.first : kept + 1] = window.base + found.x[:count]
        self.depth[window.first : kept + 1] = found.x[window.size : window.size + count]
        self.at = kept

    def join(self, other: _Chain, stop: int) -> bool:
        """Go on to `stop` so as to arrive in the other chain's shape, and take the rest from it."""
        window = _Window(self.problem, self.start, self.at, stop, self.radius, self.depth)
        found = window.solve(self.smooth, shape=(other.radius, other.depth))
        if not found.optimal:
            return False
        self._take(window, found, stop)
        self.radius[stop:] = other.radius[stop:] + (self.radius[stop] - other.radius[stop])
        self.depth[stop:] = other.depth[stop:]
        self.at = self.problem.knots - 1
        self.broken = self.broken or other.broken
        return True

    def spiral(self) -> Spiral:
        """What has been kept, with radius 0 at the first sample of music."""
        return Spiral(self.radius - self.radius[self.problem.grid.start], self.depth, self.broken)


class _Window:
    """Columns: radius at the knots (from `base`), depth, pitch wider, pitch narrower, broken land and depth."""

    def __init__(self, problem: Problem, start: int, first: int, stop: int, radius: Float, depth: Float) -> None:
        self.problem, self.start, self.first, self.stop = problem, start, first, stop
        self.radius, self.depth = radius, depth
        self.size = stop - first + 1
        self.base = radius[first]
        self.turns = problem.sector_turns[first:stop]
        self.bends = np.flatnonzero(np.isfinite(problem.slew[first : stop - 1]))

    def solve(self, smooth: float, soft: bool = False, shape: tuple[Float, Float] | None = None) -> Solution:
        """The optimum of this window.

        Parameters
        ----------
        smooth : float
            Weight of the second objective, 0 without.
        soft : bool
            Land and the greatest depth may be broken, at a price.
        shape : (radius, depth), optional
            The last turn must have this shape, at whatever radius.
        """
        n, m = self.size, 2 * len(self.bends)
        columns = 2 * n + m + (2 * n if soft else 0)
        cost, low, high = np.zeros(columns), np.zeros(columns), np.full(columns, INFINITY)
        low[1:n] = -INFINITY
        high[0] = 0.0
        cost[n - 1] = -1.0
        if self.first == 0:
            # Radius counts from the first sample of music; the fine turns before it lie outside.
            cost[self.problem.grid.start] += 1.0
        span = slice(self.first, self.stop + 1)
        low[n : 2 * n], high[n : 2 * n] = self.problem.depth_low[span], self.problem.depth_high[span]
        if self.first > self.start:
            low[n] = high[n] = self.depth[self.first]
        cost[n : 2 * n] = smooth / self.problem.grid.sectors_per_turn
        cost[2 * n : 2 * n + m] = smooth
        # The slew bounds each change of pitch, scaled as in the rows.
        high[2 * n : 2 * n + m] = np.tile(self.problem.slew[self.first + self.bends] * self._scale(), 2)
        cost[2 * n + m :] = BROKEN_COST
        rows = Rows()
        self._pitch(rows)
        self._slew(rows)
        self._depth_slew(rows)
        self._land(rows, 2 * n + m if soft else None)
        self._depth_rows(rows, self.problem.shallow, True, None)
        self._depth_rows(rows, self.problem.deep, False, 3 * n + m if soft else None)
        if shape is not None:
            turn = np.arange(self.stop - self.problem.grid.sectors_per_turn, self.stop + 1)
            low[n + turn - self.first] = high[n + turn - self.first] = shape[1][turn]
            step = shape[0][turn[:-1]] - shape[0][turn[1:]]
            k = turn[:-1] - self.first
            value = np.tile([1.0, -1.0], (len(k), 1))
            rows.add(np.stack([k, k + 1], axis=1), value, step, step)
        return solve(cost, low, high, rows)

    def _pitch(self, rows: Rows) -> None:
        p = self.problem
        k = np.arange(self.size - 1)
        index = np.stack([k, k + 1], axis=1)
        value = np.stack([np.ones(len(k)), -np.ones(len(k))], axis=1)
        span = slice(self.first, self.stop)
        rows.add(index, value, p.pitch_low[span] * self.turns, p.pitch_high[span] * self.turns)

    def _slew(self, rows: Rows) -> None:
        p, k = self.problem, self.bends
        if self.first > self.start and np.isfinite(p.slew[self.first - 1]):
            before = (self.radius[self.first - 1] - self.radius[self.first]) / p.sector_turns[self.first - 1]
            slew = p.slew[self.first - 1]
            rows.add(
                np.array([[0, 1]]), np.array([[1.0, -1.0]]),
                (before - slew) * self.turns[0], (before + slew) * self.turns[0],
            )  # fmt: skip
        if not len(k):
            return
        scale = self._scale()
        a, b = scale / self.turns[k], scale / self.turns[k + 1]
        index = np.stack([k, k + 1, k + 2], axis=1)
        value = np.stack([-a, a + b, -b], axis=1)
        wider = 2 * self.size + np.arange(len(k))
        index = np.concatenate([index, wider[:, None], wider[:, None] + len(k)], axis=1)
        rows.add(index, np.concatenate([value, np.tile([-1.0, 1.0], (len(k), 1))], axis=1), 0.0, 0.0)

    def _scale(self) -> Float:
        """Pitch changes in µm of radius: the solver works on the numbers as they are."""
        k = self.bends
        result: Float = np.minimum(self.turns[k], self.turns[k + 1])
        return result

    def _depth_slew(self, rows: Rows) -> None:
        k = np.arange(self.size - 1) + self.size
        index = np.stack([k, k + 1], axis=1)
        value = np.stack([-np.ones(len(k)), np.ones(len(k))], axis=1)
        limit = self.problem.depth_slew[self.first : self.stop]
        rows.add(index, value, -limit, limit)

    def _land(self, rows: Rows, slack: int | None) -> None:
        p = self.problem
        span = p.land.span(self.first, self.stop)
        # Before the start of the chain there is no turn outside yet.
        there = p.outer_index[p.land.sector[span]] >= self.start
        k, s, bound = p.land.sector[span][there], p.land.place[span][there], p.land.bound[span][there]
        outer = p.outer_index[k]
        weight = p.outer_weight[k] + s * p.outer_step[k]
        known = outer + 1 <= self.first
        done = np.where(known, outer, 0)
        edge = self.radius - self.depth
        fixed = (1 - weight) * edge[done] + weight * edge[done + 1] - self.base
        inner = k - self.first
        n = self.size
        for part, is_known in ((known, True), (~known, False)):
            if not part.any():
                continue
            i, t = inner[part], s[part]
            index = [i, i + 1, i + n, i + 1 + n]
            value = [t - 1, -t, t - 1, -t]
            low = bound[part] - (fixed[part] if is_known else 0.0)
            if not is_known:
                o, w = outer[part] - self.first, weight[part]
                index += [o, o + 1, o + n, o + 1 + n]
                value += [1 - w, w, w - 1, -w]
            if slack is not None:
                index.append(slack + i)
                value.append(np.ones(len(i)))
            rows.add(np.stack(index, axis=1), np.stack(value, axis=1), low, INFINITY)

    def _depth_rows(self, rows: Rows, corners: Corners, is_floor: bool, slack: int | None) -> None:
        span = corners.span(self.first, self.stop)
        i, s, bound = corners.sector[span] - self.first, corners.place[span], corners.bound[span]
        index = [i + self.size, i + self.size + 1]
        value = [1 - s, s]
        if slack is not None:
            index.append(slack + i)
            value.append(-np.ones(len(i)))
        low, high = (bound, INFINITY) if is_floor else (-INFINITY, bound)
        rows.add(np.stack(index, axis=1), np.stack(value, axis=1), low, high)
