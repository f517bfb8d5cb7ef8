"""A plan made better by moving and exchanging jobs, for a fixed number of tries: the same plan for the same question.

Late-acceptance hill climbing (Burke and Bykov 2017): a change is taken where the plan is then no worse than it was some
tries before. No clock is read.
"""

from __future__ import annotations

import random
from collections.abc import Callable

from discwright.works.hall_problem import Cost, Orders, Problem

#: How far back the comparison looks: so small a share of all tries, and so many at the least. Further back is better
#: where there are tries enough (measured with 80 presses and 400 jobs).
_MEMORY_SHARE, _MEMORY_LEAST = 2500, 50
#: Small halls are begun anew, up to so many times, and then a plan may at first be worse by this share: the first one
#: is often a dead end. With so many jobs once is enough.
_LOOSE = 0.5
_BEGINS_MOST, _ONCE_JOBS = 8, 200
#: Share of tries that begin at a job that is late now.
_AT_LATE = 0.6
_SEED = 1

Tell = Callable[[float], None]
#: The orders of one or two presses as they would be.
Trial = tuple[tuple[int, list[int]], ...]


def search(problem: Problem, orders: Orders, tries: int, tell: Tell = lambda _done: None) -> Orders:
    """The best plan that so many tries find; never worse than the one they begin with.

    Parameters
    ----------
    problem : Problem
    orders : list of list of int
    tries : int
    tell : callable
        Told the share that is done.
    """
    begins = max(1, min(_BEGINS_MOST, _ONCE_JOBS // max(1, len(problem.jobs))))
    found = [orders]
    for k in range(begins):

        def told(done: float, k: int = k) -> None:
            tell((k + done) / begins)

        found.append(Search(problem, orders, _SEED + k).run(tries // begins, told, _LOOSE if k else 0.0))
    return min(found, key=problem.cost)


class Search:
    """A plan on its way to a better one.

    Parameters
    ----------
    problem : Problem
    orders : list of list of int
        Where it begins.
    seed : int
    """

    def __init__(self, problem: Problem, orders: Orders, seed: int = _SEED) -> None:
        self.problem = problem
        self.orders = [list(order) for order in orders]
        self.costs = [problem.press_cost(m, order) for m, order in enumerate(self.orders)]
        self.total: Cost = (sum(a for a, _ in self.costs), sum(b for _, b in self.costs))
        self.best, self.best_orders = self.total, [list(order) for order in self.orders]
        self._random = random.Random(seed)
        self._where = {j: m for m, order in enumerate(self.orders) for j in order}
        self._free = [j for j in range(len(problem.jobs)) if j not in problem.first]
        self._late: list[int] = []

    def run(self, tries: int, tell: Tell = lambda _done: None, loose: float = 0.0) -> Orders:
        """Try so many changes; the best plan that was seen.

        Parameters
        ----------
        tries : int
        tell : callable
            Told the share that is done.
        loose : float
            By which share of its lateness a plan may at first be worse than the one it began with.
        """
        back = max(_MEMORY_LEAST, tries // _MEMORY_SHARE)
        memory = [(self.total[0] + int(loose * self.total[0]), self.total[1])] * back
        for k in range(tries if self._free else 0):
            if k % 1000 == 0:
                tell(k / tries)
                self._find_late()
            trial = self._trial()
            if trial is None:
                continue
            costs = [self.problem.press_cost(m, order) for m, order in trial]
            late = self.total[0] + sum(new[0] - self.costs[m][0] for new, (m, _) in zip(costs, trial, strict=True))
            flow = self.total[1] + sum(new[1] - self.costs[m][1] for new, (m, _) in zip(costs, trial, strict=True))
            if (late, flow) <= self.total or (late, flow) <= memory[k % back]:
                self._take(trial, costs, (late, flow))
            memory[k % back] = min(memory[k % back], self.total)
        return self.best_orders

    def _take(self, trial: Trial, costs: list[Cost], total: Cost) -> None:
        for (m, order), cost in zip(trial, costs, strict=True):
            self.orders[m], self.costs[m] = order, cost
            for j in order:
                self._where[j] = m
        self.total = total
        if total < self.best:
            self.best, self.best_orders = total, [list(order) for order in self.orders]

    def _find_late(self) -> None:
        """Jobs on presses with something late, up to the last late one: those whose moving can help."""
        self._late = []
        for m, order in enumerate(self.orders):
            if self.costs[m][0]:
                self._late += order[self._fixed(m) :]

    def _fixed(self, m: int) -> int:
        """Places at the begin of a press that are taken by what runs."""
        return 0 if self.problem.first[m] is None else 1

    def _trial(self) -> Trial | None:
        """One change: a job moved, or a few in a row, two exchanged, or the tails of two presses exchanged."""
        draw = self._random.random
        pool = self._late if self._late and draw() < _AT_LATE else self._free
        j = pool[int(draw() * len(pool))]
        able = self.problem.able[j]
        a = self._where[j]
        b = a if draw() < 0.25 else able[int(draw() * len(able))]
        kind = draw()
        if kind < 0.4:
            return self._moved(j, a, b, 1)
        if kind < 0.55:
            return self._moved(j, a, b, 2 + int(draw() * 3))
        if kind < 0.92 or a == b:
            return self._exchanged(j, a, b)
        return self._tails(j, a, b)

    def _moved(self, j: int, a: int, b: int, count: int) -> Trial | None:
        """A job and those behind it, so many all together, put elsewhere."""
        source = self.orders[a]
        i = source.index(j)
        taken = source[i : i + count]
        if a != b and any(b not in self.problem.able[k] for k in taken):
            return None
        rest = source[:i] + source[i + count :]
        target = rest if a == b else self.orders[b]
        low = self._fixed(b)
        at = low + int(self._random.random() * (len(target) - low + 1))
        if a == b and at == i:
            return None
        new = [*target[:at], *taken, *target[at:]]
        return ((a, new),) if a == b else ((a, rest), (b, new))

    def _exchanged(self, j: int, a: int, b: int) -> Trial | None:
        low = self._fixed(b)
        target = self.orders[b]
        if len(target) <= low:
            return self._moved(j, a, b, 1)
        at = low + int(self._random.random() * (len(target) - low))
        other = target[at]
        if other == j or a not in self.problem.able[other]:
            return None
        i = self.orders[a].index(j)
        if a == b:
            new = list(target)
            new[i], new[at] = other, j
            return ((a, new),)
        mine, theirs = list(self.orders[a]), list(target)
        mine[i], theirs[at] = other, j
        return ((a, mine), (b, theirs))

    def _tails(self, j: int, a: int, b: int) -> Trial | None:
        able = self.problem.able
        mine, theirs = self.orders[a], self.orders[b]
        i = mine.index(j)
        low = self._fixed(b)
        at = low + int(self._random.random() * (len(theirs) - low + 1))
        if any(b not in able[k] for k in mine[i:]) or any(a not in able[k] for k in theirs[at:]):
            return None
        return ((a, mine[:i] + theirs[at:]), (b, theirs[:at] + mine[i:]))
