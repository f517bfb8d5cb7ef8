"""How good a plan of the press hall can be at all: bounds that no plan gets below.

Two bounds on the weighted lateness. *Alone*: every job as if the hall were empty. *Prices*: each manned minute of a
group of alike presses gets a price, every job takes the cheapest minutes for itself, and what the hall could have
earned is taken off again; whatever the prices, no plan is better than that (Lagrangian relaxation of the presses'
capacity in the time-indexed model: Fisher 1981; Dyer and Wolsey 1990). Prices are bettered by subgradient steps.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discwright.works.hall import ChangeMinutes
from discwright.works.hall_problem import NEVER, Problem

Float = NDArray[np.float64]
Tell = Callable[[float], None]

#: So many price steps over the time that matters.
_PRICES = 240
#: Share of the steps that are taken with falling prices.
_FALLING = 0.5
#: The steps aim a little above the plan.
_AIM = 1.02


@dataclass(frozen=True)
class Bound:
    """No plan has less weighted lateness than this.

    Attributes
    ----------
    late : int
        In the problem's units.
    how : str
        ``alone``, ``prices`` or ``solver``.
    """

    late: int
    how: str


def alone(problem: Problem) -> Bound:
    """Every job begins when it is ready on the press where it is done first, as if there were no other.

    Parameters
    ----------
    problem : Problem
    """
    ends = _ends_alone(problem)
    late = (problem.weight[j] * max(0, end - problem.due_clock[j]) for j, end in enumerate(ends))
    return Bound(sum(late), "alone")


def least_end(problem: Problem) -> int:
    """Before when no plan is done with all jobs, minutes from the start.

    The longest job alone, or all work spread evenly over the manned minutes of all presses, as if jobs could be
    broken off: max(longest, sum / presses) where presses are alike and always manned (McNaughton 1959).

    Parameters
    ----------
    problem : Problem
    """
    changes = _least_changes(problem)
    work = sum(
        min(problem.run[j][m] + int(changes[m][problem.setting[j]]) for m in could)
        for j, could in enumerate(problem.able)
    )

    def manned(until: int) -> int:
        return sum(
            max(0, problem.clocks[c].work_until(until) - free)
            for c, free in zip(problem.clock_of, problem.free, strict=True)
        )

    low, high = max(_ends_alone(problem), default=0), 1
    while manned(high) < work:
        high *= 2
    return bisect_left(range(low, max(low, high) + 1), work, key=manned) + low


def _ends_alone(problem: Problem) -> list[int]:
    """When each job would be done if there were no other."""
    changes, found = _least_changes(problem), []
    for j, could in enumerate(problem.able):
        ends = []
        for m in could:
            c = problem.clock_of[m]
            begin = max(problem.free[m], problem.ready[c][j])
            ends.append(problem.clocks[c].ends(begin + int(changes[m][problem.setting[j]]) + problem.run[j][m]))
        found.append(min(ends))
    return found


def priced(problem: Problem, plan_late: int, steps: int, tell: Tell = lambda _done: None) -> Bound:
    """The bound of prices, after so many steps.

    Parameters
    ----------
    problem : Problem
    plan_late : int
        Weighted lateness of a plan, towards which the steps reach.
    steps : int
    tell : callable
        Told the share that is done.
    """
    groups = _groups(problem)
    if not groups or plan_late <= 0:
        return Bound(0, "prices")
    falling = round(steps * _FALLING)
    ascent = _Ascent(groups, len(problem.jobs), plan_late)
    nothing = [np.zeros(len(group.width)) for group in groups]
    first, prices = ascent.run(nothing, _FALLING_WAY, falling, lambda done: tell(_FALLING * done))
    # Where falling prices see no more than every job alone, free ones begin anew.
    found = first > alone(problem).late
    start, way = (prices, _ON_WAY) if found else (nothing, _FREE_WAY)
    other, _ = ascent.run(start, way, steps - falling, lambda done: tell(_FALLING + (1.0 - _FALLING) * done))
    best = max(first, other)
    # Whole numbers cannot be less than the next whole number; what rounding may have added is taken off first.
    return Bound(max(0, min(plan_late, math.ceil(best - 1e-6 * max(1.0, best)))), "prices")


@dataclass(frozen=True)
class _Way:
    """How prices are bettered.

    Attributes
    ----------
    falling : bool
        What is bettered is the fall from each step to the next, so that prices never rise: right where most jobs are
        ready early, since a minute now can be used for whatever comes later. Free prices are right where jobs come in
        all the time.
    step, shorter : float
        The first step, and what it is multiplied with after `patience` steps that gained nothing.
    patience : int
    keep_on : float
        So much of the direction before is kept.
    back : bool
        After them it is gone back to the best prices.
    """

    falling: bool
    step: float
    shorter: float
    patience: int
    keep_on: float
    back: bool


_FALLING_WAY = _Way(falling=True, step=1.0, shorter=0.7, patience=20, keep_on=0.7, back=True)
_ON_WAY = _Way(falling=False, step=0.2, shorter=0.7, patience=8, keep_on=0.5, back=True)
_FREE_WAY = _Way(falling=False, step=1.0, shorter=0.5, patience=12, keep_on=0.0, back=False)


class _Ascent:
    """Prices on their way up."""

    def __init__(self, groups: list[_Group], jobs: int, target: int) -> None:
        self.groups, self.jobs, self.target = groups, jobs, target

    def run(self, start: list[Float], way: _Way, steps: int, tell: Tell) -> tuple[float, list[Float]]:
        """The best bound after so many steps, and its prices."""
        x, best, kept, kept_prices = start, 0.0, start, start
        along: list[Float] | None = None
        step, since = way.step, 0
        for k in range(steps):
            tell(k / steps)
            prices = [np.cumsum(one[::-1])[::-1] for one in x] if way.falling else x
            value, asked = self._value(prices)
            since += 1
            if value > best + 1e-9 * self.target:
                best, kept, kept_prices, since = value, x, prices, 0
            if best >= self.target:
                break
            if since >= way.patience:
                step, since = step * way.shorter, 0
                if way.back:
                    x, along = kept, None
                    continue
            slopes = [np.cumsum(one) / len(one) for one in asked] if way.falling else asked
            along = slopes if along is None else [a + way.keep_on * b for a, b in zip(slopes, along, strict=True)]
            taken = [np.where((a <= 0.0) & (b < 0.0), 0.0, b) for a, b in zip(x, along, strict=True)]
            size = sum(float(np.sum(a**2 / g.width)) for a, g in zip(taken, self.groups, strict=True))
            if size == 0.0:
                break
            reach = step * (_AIM * self.target - value) / size
            if way.falling:
                reach /= len(x[0])
            x = [np.maximum(0.0, a + reach * b / g.width) for a, b, g in zip(x, taken, self.groups, strict=True)]
        return best, kept_prices

    def _value(self, prices: list[Float]) -> tuple[float, list[Float]]:
        """The bound under prices, and by how much more than there is is asked for in each price step."""
        reaches = [group.cheapest(price) for group, price in zip(self.groups, prices, strict=True)]
        costs = np.full((len(self.groups), self.jobs), np.inf)
        for g, (group, (value, _)) in enumerate(zip(self.groups, reaches, strict=True)):
            costs[g, group.jobs] = value
        chosen = np.argmin(costs, axis=0)
        earned = sum(float(np.sum(price * group.room)) for group, price in zip(self.groups, prices, strict=True))
        asked = [
            group.asked(where, chosen[group.jobs] == g) - group.room
            for g, (group, (_, where)) in enumerate(zip(self.groups, reaches, strict=True))
        ]
        return float(np.sum(np.min(costs, axis=0))) - earned, asked


@dataclass(frozen=True)
class _Group:
    """Presses that are alike but for what is on them, and every place where a job may best begin on one of them.

    A job's cost is piecewise linear in its begin: it is cheapest where it begins or ends at a step of the prices, is
    just ready or just not late, or ends with a shift.
    """

    jobs: NDArray[np.intp]
    edges: Float
    width: Float  # manned minutes of each price step
    room: Float  # the same times the presses that are free then
    begin: Float  # jobs × candidates, manned minutes
    end: Float
    late: Float  # weighted lateness of each candidate; inf where it is none

    def cheapest(self, price: Float) -> tuple[Float, NDArray[np.intp]]:
        """Least cost of every job under prices, and which candidate it is."""
        paid = np.concatenate([[0.0], np.cumsum(price * self.width)])
        cost = self.late + np.interp(self.end, self.edges, paid) - np.interp(self.begin, self.edges, paid)
        where = np.argmin(cost, axis=1)
        return cost[np.arange(len(where)), where], where

    def asked(self, where: NDArray[np.intp], takes: NDArray[np.bool_]) -> Float:
        """Manned minutes that the jobs which take this group ask for in each price step."""
        rows = np.flatnonzero(takes)
        begin, end = self.begin[rows, where[rows]][:, None], self.end[rows, where[rows]][:, None]
        overlap = np.minimum(end, self.edges[1:]) - np.maximum(begin, self.edges[:-1])
        total: Float = np.sum(np.maximum(0.0, overlap), axis=0)
        return total


def _groups(problem: Problem) -> list[_Group]:
    """Presses by what they are: clock, the jobs they can run and how fast, how long they change."""
    changes = _least_changes(problem)
    able = [frozenset(could) for could in problem.able]
    kinds: dict[tuple[int, tuple[int, ...], tuple[int, ...], ChangeMinutes], list[int]] = {}
    for m in range(len(problem.presses)):
        jobs = tuple(j for j in range(len(problem.jobs)) if m in able[j])
        if jobs:
            lengths = tuple(problem.run[j][m] for j in jobs)
            kinds.setdefault((problem.clock_of[m], jobs, lengths, problem.presses[m].changes), []).append(m)
    return [_group(problem, c, jobs, presses, changes) for (c, jobs, _, _), presses in kinds.items()]


def _group(
    problem: Problem, c: int, jobs: tuple[int, ...], presses: list[int], changes: list[NDArray[np.int64]]
) -> _Group:
    clock = problem.clocks[c]
    takes = np.array(
        [min(int(changes[m][problem.setting[j]]) for m in presses) + problem.run[j][presses[0]] for j in jobs],
        dtype=float,
    )
    free = min(problem.free[m] for m in presses)
    ready = np.array([max(free, problem.ready[c][j]) for j in jobs], dtype=float)
    due = np.array([problem.due[c][j] for j in jobs], dtype=float)
    horizon = float(np.max(ready) + np.max(takes) + np.sum(takes) / len(presses))
    edges = np.linspace(0.0, math.ceil(horizon), _PRICES + 1)
    width = np.diff(edges)
    room = sum(np.clip(edges[1:] - problem.free[m], 0.0, width) for m in presses)
    shifts = np.array([one for one in clock.before if one <= edges[-1]], dtype=float)
    ends = np.concatenate([edges, shifts])
    begin = np.concatenate(
        [
            np.broadcast_to(edges, (len(jobs), len(edges))),
            ends[None, :] - takes[:, None],
            ready[:, None],
            np.minimum(due, edges[-1])[:, None] - takes[:, None],
        ],
        axis=1,
    )
    begin = np.maximum(begin, ready[:, None])  # what begins too early begins when it is ready
    end = begin + takes[:, None]
    weight = np.array([problem.weight[j] for j in jobs], dtype=float)
    due_clock = np.array([problem.due_clock[j] for j in jobs], dtype=float)
    late = weight[:, None] * np.maximum(
        0.0, _clock_ends(clock.opens, clock.before, clock.last, end) - due_clock[:, None]
    )
    late = np.where(end <= due[:, None], 0.0, late)
    return _Group(np.array(jobs, dtype=np.intp), edges, width, np.asarray(room, dtype=float), begin, end, late)


def _clock_ends(opens: list[int], before: list[int], last: int, work: Float) -> Float:
    """:meth:`PressClock.ends` of many at once."""
    starts = np.array([*opens, last], dtype=float)
    done = np.array(before, dtype=float)
    k = np.clip(np.searchsorted(done, work, side="left") - 1, 0, len(opens))
    clock: Float = starts[k] + work - done[k]
    return clock


def _least_changes(problem: Problem) -> list[NDArray[np.int64]]:
    """The shortest change that can stand before a job of each setting, by press.

    Before it stands another job that fits there, or what is on the press now.
    """
    tables = {id(table): np.array(table, dtype=np.int64) for table in problem.change}
    found = []
    for m, on in enumerate(problem.on):
        table = tables[id(problem.change[m])]
        counts = Counter(problem.setting[j] for j in range(len(problem.jobs)) if m in problem.able[j])
        rows = sorted(counts)
        before = table[rows]
        for row, setting in enumerate(rows):
            if counts[setting] == 1:  # no other job has it
                before[row, setting] = NEVER
        found.append(np.min(np.vstack([before, table[on][None, :]]), axis=0))
    return found
