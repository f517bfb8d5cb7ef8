"""A plan made better by CP-SAT: a small hall whole, a large one a few presses at a time.

The solver is asked with one worker, a fixed seed and limits in deterministic time, and no clock is read: the same
question has the same answer. What it returns is kept only where it is better than what was there.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from discwright.works.hall_cp import PressModel
from discwright.works.hall_problem import Orders, Problem

#: A hall with no more arcs than this is asked about as a whole.
ARCS_MOST = 12_000
#: Jobs of a neighbourhood, the presses in it, and the deterministic time for one: small enough to be proved mostly.
_JOBS, _PRESSES, _WORK = 15, 3, 0.3
#: Building and reading a model takes about so long, s: for itself, and for each arc. Counted, not measured.
_WORK_PER_MODEL, _WORK_PER_ARC = 0.01, 6e-5
#: One model of a whole hall takes longer than its deterministic time says: so much of the work is asked of it.
_WHOLE_SHARE = 0.4
#: After so many neighbourhoods on end that were asked about before, there is nothing left to ask.
_IDLE_MOST = 300
_SEED = 11
Tell = Callable[[float], None]


@dataclass(frozen=True)
class Improved:
    """What the solver made of a plan.

    Attributes
    ----------
    orders : list of list of int
    bound : int
        No plan has less weighted lateness, as far as the solver knows; 0 where it was not asked about the whole hall.
    asked : int
        How many questions it answered.
    bettered : int
        How many of the answers were better than what was there.
    """

    orders: Orders
    bound: int
    asked: int
    bettered: int


def arcs_of(problem: Problem) -> int:
    """How large the whole hall is as one model."""
    counts = [0] * len(problem.presses)
    for could in problem.able:
        for m in could:
            counts[m] += 1
    return sum((n + 1) ** 2 for n in counts)


def improve(problem: Problem, orders: Orders, work: float, bound: int = 0, tell: Tell = lambda _done: None) -> Improved:
    """Better a plan with the solver.

    Parameters
    ----------
    problem : Problem
    orders : list of list of int
        Where it begins, and the hint.
    work : float
        Deterministic time at the most, all together; 1 is about a second.
    bound : int
        Weighted lateness that no plan gets below: there it ends.
    tell : callable
        Told the share that is done; what it raises stops the solver.
    """
    late = problem.cost(orders)[0]
    if late <= bound or work <= 0.0:
        return Improved(orders, 0, 0, 0)
    if arcs_of(problem) <= ARCS_MOST:
        return _whole(problem, orders, work, tell)
    return _piecewise(problem, orders, work, bound, tell)


def _whole(problem: Problem, orders: Orders, work: float, tell: Tell) -> Improved:
    solved = PressModel(problem, range(len(problem.presses)), orders, whole=True).solve(
        _WHOLE_SHARE * work, partial(tell, 0.5)
    )
    if solved.orders is None:
        return Improved(orders, solved.bound, 1, 0)
    new = [solved.orders[m] for m in range(len(problem.presses))]
    better = problem.cost(new) < problem.cost(orders)
    return Improved(new if better else orders, solved.bound, 1, int(better))


def _piecewise(problem: Problem, orders: Orders, work: float, bound: int, tell: Tell) -> Improved:
    """A few presses at a time: one that is late, and others that could take from it."""
    draw = random.Random(_SEED)
    orders = [list(order) for order in orders]
    spent, asked, bettered = 0.0, 0, 0
    barren: set[tuple[int, ...]] = set()
    idle = 0
    while spent < work and idle < _IDLE_MOST:
        late = {m: cost for m, order in enumerate(orders) if (cost := problem.press_cost(m, order)[0])}
        if sum(late.values()) <= bound or not late:
            break
        presses = _neighbours(problem, orders, late, draw)
        key = tuple(sorted(presses))
        if key in barren:
            idle += 1
            continue
        idle = 0
        model = PressModel(problem, presses, orders)
        solved = model.solve(min(_WORK, work - spent), partial(tell, spent / work))
        spent += solved.work + _WORK_PER_MODEL + _WORK_PER_ARC * len(presses) * (len(model.jobs) + 1) ** 2
        asked += 1
        before = sum(problem.press_cost(m, orders[m])[0] for m in presses)
        if solved.orders is not None:
            after = sum(problem.press_cost(m, order)[0] for m, order in solved.orders.items())
            if after < before:
                for m, order in solved.orders.items():
                    orders[m] = order
                bettered += 1
                barren.clear()
                continue
        barren.add(key)
    return Improved(orders, 0, asked, bettered)


def _neighbours(problem: Problem, orders: Orders, late: dict[int, int], draw: random.Random) -> list[int]:
    """A late press, chosen by how late, and presses that can run some of its jobs, until there are jobs enough."""
    centre = draw.choices(list(late), list(late.values()))[0]
    could = sorted({m for j in orders[centre] for m in problem.able[j]} - {centre})
    draw.shuffle(could)
    presses, jobs = [centre], len(orders[centre])
    for m in could:
        if len(presses) >= _PRESSES:
            break
        if jobs + len(orders[m]) <= _JOBS:
            presses.append(m)
            jobs += len(orders[m])
    return presses
