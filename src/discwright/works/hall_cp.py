"""Some presses and their jobs as a model of CP-SAT: which job on which press, in which order, least weighted lateness.

One circuit a press says what follows what, so that every change has its true length. A job's end counts manned minutes;
where it passes the end of a shift the closed hours are added to its lateness.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from threading import Thread
from typing import TYPE_CHECKING, Any

from discwright.works.hall_problem import Orders, Problem
from discwright.works.hall_times import PressClock

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import CpSolver, IntVar

_SEED = 7
#: How often a stop that was asked for is looked for, s; it changes no result.
_GLANCE_S = 0.1
Tell = Callable[[], None]


@dataclass(frozen=True)
class Solved:
    """What the solver came back with.

    Attributes
    ----------
    orders : dict of int to list of int, or None
        Of the presses asked about; None where it found no plan.
    bound : int
        No plan of these presses has less weighted lateness.
    proved : bool
        The plan is a best one.
    work : float
        Deterministic time it took, about a second each.
    """

    orders: dict[int, list[int]] | None
    bound: int
    proved: bool
    work: float


class PressModel:
    """The question of some presses, with the present orders as a hint.

    Parameters
    ----------
    problem : Problem
    presses : sequence of int
    orders : list of list of int
        The whole plan; jobs of these presses may change places, all others stay. What runs now stays first.
    whole : bool
        Leave room for every order, so that the solver's bound holds for all plans and not only for those that end about
        as early as the present one.
    """

    def __init__(self, problem: Problem, presses: Sequence[int], orders: Orders, *, whole: bool = False) -> None:
        from ortools.sat.python import cp_model

        self.model = cp_model.CpModel()
        self.problem, self.presses = problem, list(presses)
        self._orders = {m: orders[m][self._runs(m) :] for m in self.presses}
        self._begins = {m: self._standing(m, orders[m]) for m in self.presses}
        self.jobs = [j for order in self._orders.values() for j in order]
        self._fixed_late = sum(problem.press_cost(m, orders[m][: self._runs(m)])[0] for m in self.presses)
        self._late_now = sum(problem.press_cost(m, orders[m])[0] for m in self.presses) - self._fixed_late
        able = {j: [m for m in problem.able[j] if m in self._orders] for j in self.jobs}
        self._on = {j: {m: self.model.new_bool_var(f"{j} on {m}") for m in able[j]} for j in self.jobs}
        self._horizon = self._horizons(orders, whole)
        self._ends: dict[tuple[int, int], IntVar] = {}
        self._late: dict[int, IntVar] = {}
        self._arcs: dict[int, dict[tuple[int, int], IntVar]] = {}
        self._build()

    def solve(self, work: float, tell: Tell = lambda: None) -> Solved:
        """Ask the solver: one worker, a fixed seed, a limit in deterministic time, no clock.

        Parameters
        ----------
        work : float
            Deterministic time at the most.
        tell : callable
            Called now and then; what it raises stops the solver.
        """
        from ortools.sat.python import cp_model

        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = _SEED
        solver.parameters.max_deterministic_time = work
        solver.parameters.catch_sigint_signal = False
        found: list[Any] = []
        thread = Thread(target=lambda: found.append(solver.solve(self.model)), daemon=True)
        thread.start()
        try:
            while thread.is_alive():
                thread.join(_GLANCE_S)
                tell()
        except BaseException:
            solver.stop_search()
            thread.join()
            raise
        took = float(solver.response_proto.deterministic_time)
        if found[0] not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return Solved(None, self._fixed_late, False, took)
        bound = self._fixed_late + max(0, math.ceil(solver.best_objective_bound - 1e-6))
        return Solved(self._read(solver), bound, found[0] == cp_model.OPTIMAL, took)

    def _build(self) -> None:
        for j, on in self._on.items():
            self.model.add_exactly_one(on.values())
            self._late[j] = self.model.new_int_var(0, self._late_now // max(1, self.problem.weight[j]), f"late {j}")
            for c in sorted({self.problem.clock_of[m] for m in on}):
                self._ends[j, c] = self._end(j, c)
        for m in self.presses:
            self._circuit(m, [j for j in self.jobs if m in self._on[j]])
        self._hint()
        total = sum(self.problem.weight[j] * self._late[j] for j in self.jobs)
        self.model.add(total <= self._late_now)
        self.model.minimize(total)

    def _end(self, j: int, c: int) -> IntVar:
        """The end of a job in manned minutes of a clock, and how late that is."""
        problem, clock = self.problem, self.problem.clocks[c]
        here = [m for m in self._on[j] if problem.clock_of[m] == c]
        least = problem.ready[c][j] + min(problem.run[j][m] for m in here)
        most = max(self._horizon[c], least)
        end = self.model.new_int_var(least, most, f"end {j} by {c}")
        due = problem.due[c][j]
        if due >= most:
            return end
        late: Any = end - due
        for at, closed in _closed_hours(clock, due, problem.due_clock[j], most):
            passed = self.model.new_bool_var(f"{j} past {at} by {c}")
            self.model.add(end >= at + 1).only_enforce_if(passed)
            self.model.add(end <= at).only_enforce_if(~passed)
            late += closed * passed
        if len(here) == len(self._on[j]):
            self.model.add(self._late[j] >= late)
        else:
            for m in here:
                self.model.add(self._late[j] >= late).only_enforce_if(self._on[j][m])
        return end

    def _circuit(self, m: int, jobs: list[int]) -> None:
        """What follows what on a press: node 0 is where it begins and ends, node k the k-th job."""
        problem, c = self.problem, self.problem.clock_of[m]
        free, on = self._begins[m]
        change, ready = problem.change[m], problem.ready[c]
        arcs = {(-1, -1): self.model.new_bool_var(f"{m} idle")}
        for i in (-1, *jobs):
            for j in (-1, *jobs):
                if i != j:
                    arcs[i, j] = self.model.new_bool_var(f"{m}: {i} then {j}")
        node = {-1: 0} | {j: k for k, j in enumerate(jobs, 1)}
        rows: list[tuple[int, int, Any]] = [(node[i], node[j], arc) for (i, j), arc in arcs.items()]
        rows += [(node[j], node[j], ~self._on[j][m]) for j in jobs]
        self.model.add_circuit(rows)
        intervals = []
        for j in jobs:
            end, run, after = self._ends[j, c], problem.run[j][m], problem.setting[j]
            takes = {i: change[on if i < 0 else problem.setting[i]][after] + run for i in (-1, *jobs) if i != j}
            for i, took in takes.items():
                before = free if i < 0 else self._ends[i, c]
                self.model.add(end >= before + took).only_enforce_if(arcs[i, j])
            self.model.add(end >= sum((ready[j] + took) * arcs[i, j] for i, took in takes.items()))
            least = min(takes.values())
            intervals.append(
                self.model.new_optional_fixed_size_interval_var(end - least, least, self._on[j][m], f"{j} at {m}")
            )
        self.model.add_no_overlap(intervals)
        self._arcs[m] = arcs

    def _hint(self) -> None:
        """The present orders, whole."""
        for m, order in self._orders.items():
            path = [-1, *order, -1]
            taken = set(pairwise(path))
            for pair, arc in self._arcs[m].items():
                self.model.add_hint(arc, pair in taken)
        for m, order in self._orders.items():
            c, (free, on) = self.problem.clock_of[m], self._begins[m]
            ends = self.problem.ends_of(m, order, free, on)
            for j, (_, _, end) in zip(order, ends, strict=True):
                for k, literal in self._on[j].items():
                    self.model.add_hint(literal, k == m)
                self.model.add_hint(self._ends[j, c], end)
                clock = self.problem.clocks[c]
                self.model.add_hint(self._late[j], max(0, clock.ends(end) - self.problem.due_clock[j]))

    def _read(self, solver: CpSolver) -> dict[int, list[int]]:
        orders = {}
        for m, arcs in self._arcs.items():
            follows = {i: j for (i, j), arc in arcs.items() if solver.boolean_value(arc)}
            order, j = [], follows[-1]
            while j >= 0:
                order.append(j)
                j = follows[j]
            first = self.problem.first[m]
            orders[m] = order if first is None else [first, *order]
        return orders

    def _runs(self, m: int) -> int:
        return 0 if self.problem.first[m] is None else 1

    def _standing(self, m: int, order: list[int]) -> tuple[int, int]:
        """Manned minutes before a press is free of what runs now, and its setting then."""
        first = order[: self._runs(m)]
        return self.problem.ends_of(m, first)[-1][2] if first else self.problem.free[m], self.problem.on[m]

    def _horizons(self, orders: Orders, whole: bool) -> dict[int, int]:
        """By clock, before when every job ends: surely where the whole hall is asked about, else a while after the
        present end.
        """
        problem = self.problem
        longest = {
            j: max(problem.run[j][m] + max(row[problem.setting[j]] for row in problem.change[m]) for m in on)
            for j, on in self._on.items()
        }
        found: dict[int, int] = {}
        for m in self.presses:
            c = problem.clock_of[m]
            begin = max([self._begins[m][0], *(problem.ready[c][j] for j in self.jobs)])
            if whole:
                end = begin + sum(longest.values())
            else:
                ends = problem.ends_of(m, orders[m])
                end = (ends[-1][2] if ends else self._begins[m][0]) + 2 * max(longest.values(), default=0)
            found[c] = max(found.get(c, 0), end)
        return found


def _closed_hours(clock: PressClock, due: int, due_clock: int, most: int) -> list[tuple[int, int]]:
    """Where an end passes into another span after it is due: manned minutes before, and minutes the hall was closed."""
    k = min(bisect_left(clock.before, due + 1), len(clock.before)) - 1
    found = [(due, clock.begins(due) - due_clock)]
    found += [
        (clock.before[span], clock.opens[span] - clock.closes[span - 1])
        for span in range(k + 1, len(clock.opens))
        if clock.before[span] < most
    ]
    return [(at, closed) for at, closed in found if closed]
