"""A feasible plan at once: jobs in the order of a rule, each on the press where it is done first.

Several rules are tried and the best plan is kept. None of them looks back; what is left to gain is for the search.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from discwright.works.hall_problem import Orders, Problem

#: Look-ahead of the rule of apparent urgency, in mean runs (Vepsalainen and Morton 1987 recommend about 2).
_LOOK_AHEAD = (0.5, 1.0, 2.0, 4.0)

Rule = Callable[[Problem, int], float]


def earliest_due(problem: Problem, j: int) -> float:
    """Least greatest lateness on one press where all are ready (Jackson 1955)."""
    return float(problem.due_clock[j])


def shortest_by_weight(problem: Problem, j: int) -> float:
    """Least weighted sum of ends on one press where all are ready (Smith 1956)."""
    return _shortest(problem, j) / max(problem.weight[j], 1e-9)


def longest_first(problem: Problem, j: int) -> float:
    """The last end is at most 4/3 − 1/(3m) times the best on m alike presses (Graham 1969)."""
    return -float(_shortest(problem, j))


def least_slack(problem: Problem, j: int) -> float:
    """What has least time to spare between ready and due comes first."""
    c = problem.clock_of[problem.able[j][0]]
    return float(problem.due[c][j] - problem.ready[c][j] - _shortest(problem, j))


RULES: dict[str, Rule] = {
    "earliest due": earliest_due,
    "shortest by weight": shortest_by_weight,
    "longest first": longest_first,
    "least slack": least_slack,
}


def list_plan(problem: Problem, order: Sequence[int]) -> Orders:
    """Put jobs on presses one after another, each where it is done first; what is running stays where it is.

    Parameters
    ----------
    problem : Problem
    order : sequence of int
        Every job once; those that run are passed over.

    Returns
    -------
    list of list of int
        Jobs of each press in their order.
    """
    orders, free, on = _standing(problem)
    for j in order:
        if j not in problem.first:
            _append(problem, j, orders, free, on)
    return orders


def urgent_plan(problem: Problem, look_ahead: float) -> Orders:
    """Put jobs on presses by apparent urgency: weight over work, falling with the time to spare, as seen at the time.

    w/p · exp(−max(0, due − p − t) / (k · mean p)), the apparent tardiness cost of Vepsalainen and Morton 1987.

    Parameters
    ----------
    problem : Problem
    look_ahead : float
        k above.
    """
    orders, free, on = _standing(problem)
    rest = [j for j in range(len(problem.jobs)) if j not in problem.first]
    mean = look_ahead * sum(_shortest(problem, j) for j in rest) / max(1, len(rest)) + 1e-9
    clocks = problem.clocks
    while rest:
        m = min(
            {m for j in rest for m in problem.able[j]},
            key=lambda m: (clocks[problem.clock_of[m]].begins(free[m]), m),
        )
        c, t = problem.clock_of[m], free[m]

        def urgency(j: int, m: int = m, c: int = c, t: int = t) -> float:
            work = max(1, problem.run[j][m] + problem.change[m][on[m]][problem.setting[j]])
            spare = max(0, problem.due[c][j] - work - max(t, problem.ready[c][j]))
            wait = max(0, problem.ready[c][j] - t)
            return float(problem.weight[j] / work * math.exp(-min(700.0, spare / mean)) - 1e-9 * spare - 1e-3 * wait)

        could = [j for j in rest if m in problem.able[j]]
        chosen = max(could, key=lambda j: (urgency(j), -j))
        _append(problem, chosen, orders, free, on)
        rest.remove(chosen)
    return orders


def first_plan(problem: Problem) -> Orders:
    """The best plan of all rules.

    Parameters
    ----------
    problem : Problem
    """
    jobs = range(len(problem.jobs))
    plans = [list_plan(problem, sorted(jobs, key=lambda j: (rule(problem, j), j))) for rule in RULES.values()]
    plans += [urgent_plan(problem, k) for k in _LOOK_AHEAD]
    return min(plans, key=problem.cost)


def _standing(problem: Problem) -> tuple[Orders, list[int], list[int]]:
    """What runs now: orders, and of each press the manned minutes before it is free and its setting then."""
    orders: Orders = [[] if j is None else [j] for j in problem.first]
    free = [problem.ends_of(m, order)[-1][2] if order else problem.free[m] for m, order in enumerate(orders)]
    return orders, free, list(problem.on)


def _append(problem: Problem, j: int, orders: Orders, free: list[int], on: list[int]) -> None:
    """Put a job last on the press on which it is done first; of equals the one with the shorter change."""
    best: tuple[int, int, int, int] | None = None
    after = problem.setting[j]
    for m in problem.able[j]:
        c = problem.clock_of[m]
        change = problem.change[m][on[m]][after]
        end = max(free[m], problem.ready[c][j]) + change + problem.run[j][m]
        tried = (problem.clocks[c].ends(end), change, m, end)
        if best is None or tried < best:
            best = tried
    assert best is not None
    _, _, m, end = best
    orders[m].append(j)
    free[m], on[m] = end, after


def _shortest(problem: Problem, j: int) -> int:
    return min(problem.run[j][m] for m in problem.able[j])
