"""The whole way to a schedule of the press hall: rules, search, solver, bound; one question has one answer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from discwright.errors import CallError
from discwright.works.hall import Hall, Job, Schedule
from discwright.works.hall_bounds import Bound, alone, priced
from discwright.works.hall_greedy import first_plan
from discwright.works.hall_problem import DAYS_MOST, Orders, Problem, pose
from discwright.works.hall_search import search
from discwright.works.hall_solver import improve

SECONDS_MOST = 3600.0
#: Shifts are laid out so far beyond the last moment that is named, at first.
_DAYS_FIRST = 42
#: Tries of the search for each job at once; and for each job and second of work, up to so many a second.
_TRIES_AT_ONCE, _TRIES_PER_JOB, _TRIES_MOST = 300, 400, 60_000
#: Steps of the prices at the least, and for each second of work.
_STEPS_LEAST, _STEPS = 20, 5.0
#: Share of the work that is the solver's.
_SOLVER = 0.35
#: Presses times jobs that the bound's steps are meant for; larger halls get fewer, smaller ones more, up to so many
#: times.
_STEPS_SIZE, _STEPS_TIMES = 32_000, 20
Tell = Callable[[str, float], None]


@dataclass(frozen=True)
class Planned:
    """A schedule and what is known of how good it is.

    Attributes
    ----------
    schedule : Schedule
    problem : Problem
    orders : list of list of int
        Jobs of each press.
    bound : Bound
        No plan has less weighted lateness than this.
    first_late, searched_late, late : int
        Weighted lateness, in the problem's units, by the rules alone, after the search, and of this schedule.
    """

    schedule: Schedule
    problem: Problem
    orders: Orders
    bound: Bound
    first_late: int
    searched_late: int
    late: int

    @property
    def gap(self) -> float:
        """The share of this weighted lateness that a better plan could save at most; 0 where there is none better."""
        return (self.late - self.bound.late) / self.late if self.late else 0.0


def plan_hall(
    hall: Hall, jobs: Sequence[Job], start: datetime, seconds: float, tell: Tell = lambda _step, _done: None
) -> Planned:
    """Plan a press hall for the least weighted lateness.

    A job begins when its press is free and it is ready; of plans with the same lateness the one with the earlier
    weighted ends is taken.

    Parameters
    ----------
    hall : Hall
    jobs : sequence of Job
    start : datetime
    seconds : float
        How much work is put into it, in deterministic units of about a second; 0 for a plan at once.
    tell : callable
        Told what is done and the share of it.

    Returns
    -------
    Planned

    Raises
    ------
    CallError
        If there is nothing to plan with, or the work goes on for ten years.
    """
    if not 0.0 <= seconds <= SECONDS_MOST:
        raise CallError(f"{seconds:g} s of work cannot be put into a schedule; give 0 to {SECONDS_MOST:g}.")
    days = _first_days(jobs, start)
    while True:
        tell("laying out shifts", 0.0)
        problem = pose(hall, jobs, start, days)
        orders = first_plan(problem)
        first_late = problem.cost(orders)[0]
        orders, bound, searched_late = _better(problem, orders, seconds, tell)
        if not problem.beyond(orders):
            break
        if days >= DAYS_MOST:
            raise CallError("the jobs take longer than ten years; look for a wrong count, or give more presses.")
        days = min(DAYS_MOST, 3 * days)
    late = problem.cost(orders)[0]
    return Planned(problem.schedule(orders), problem, orders, bound, first_late, searched_late, late)


def _better(problem: Problem, orders: Orders, seconds: float, tell: Tell) -> tuple[Orders, Bound, int]:
    """Search and solver by turns, as long as there is lateness above the bound; the bound is the best one known."""
    jobs = len(problem.jobs)
    first = orders
    orders = search(problem, first, _TRIES_AT_ONCE * jobs, lambda done: tell("moving jobs", 0.05 * done))
    late = problem.cost(orders)[0]
    bound = alone(problem) if late else Bound(0, "alone")
    if late <= bound.late or seconds == 0.0:
        return orders, _least(problem, bound, late, _STEPS_LEAST if late > bound.late else 0, tell), late
    tries = round(seconds * min(_TRIES_MOST, _TRIES_PER_JOB * jobs))
    longer = search(problem, first, tries, lambda done: tell("moving jobs", 0.05 + 0.5 * done))
    orders = min(orders, longer, key=problem.cost)
    searched_late = problem.cost(orders)[0]
    solved = improve(
        problem, orders, _SOLVER * seconds, bound.late, lambda done: tell("solving", 0.55 + (0.9 - 0.55) * done)
    )
    orders = solved.orders
    if solved.bettered:
        orders = search(problem, orders, _TRIES_AT_ONCE * jobs)
    late = problem.cost(orders)[0]
    bound = max(bound, Bound(min(late, solved.bound), "solver"), key=lambda one: one.late)
    return orders, _least(problem, bound, late, _STEPS_LEAST + round(_STEPS * seconds), tell), searched_late


def _least(problem: Problem, bound: Bound, late: int, steps: int, tell: Tell) -> Bound:
    """The bound of prices where the one there is leaves something open."""
    if late <= bound.late or steps == 0:
        return bound
    size = max(1, len(problem.jobs) * len(problem.presses))
    steps = max(_STEPS_LEAST, min(_STEPS_TIMES * steps, steps * _STEPS_SIZE // size))
    other = priced(problem, late, steps, lambda done: tell("finding a bound", 0.9 + 0.1 * done))
    return max(bound, other, key=lambda one: one.late)


def _first_days(jobs: Sequence[Job], start: datetime) -> int:
    moments = [moment for job in jobs for moment in (job.due, job.ready) if moment is not None]
    latest = max([start, *moments])
    return min(DAYS_MOST, _DAYS_FIRST + max(0, (latest - start).days))
