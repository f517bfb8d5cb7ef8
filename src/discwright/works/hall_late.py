"""What is late in a schedule of the press hall, and why: the first reason that would be enough by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from discwright.works.hall import Place
from discwright.works.hall_problem import Orders, Problem

OVERDUE, WORK, READY, CHANGES, PRESS = "overdue", "work", "ready", "changes", "press"
#: What a reason means, in a few words.
REASONS = {
    OVERDUE: "due before the schedule starts",
    WORK: "the work alone is longer than the time",
    READY: "its parts are ready too late",
    CHANGES: "the changes before and within it",
    PRESS: "every press on which it could be in time is taken",
}


@dataclass(frozen=True)
class Late:
    """A job that is late.

    Attributes
    ----------
    place : Place
    reason : str
        A key of :data:`REASONS`.
    earliest : int, minutes from the start
        When it would be done if the hall were empty.
    behind : tuple of str
        Jobs before it on its press that keep it from being in time, the nearest last.
    could : tuple of str
        Presses on which it would be in time if it were alone there.
    """

    place: Place
    reason: str
    earliest: int
    behind: tuple[str, ...]
    could: tuple[str, ...]


def find_late(problem: Problem, orders: Orders, places: Sequence[Place]) -> tuple[Late, ...]:
    """Every late job with its reason, what counts most first.

    Parameters
    ----------
    problem : Problem
    orders : list of list of int
    places : sequence of Place
        Of the same plan, press by press.
    """
    known = {place.job.id: place for place in places}
    found = []
    for m, order in enumerate(orders):
        for k, j in enumerate(order):
            place = known[problem.jobs[j].id]
            if place.late:
                found.append(_why(problem, m, order, k, place))
    return tuple(sorted(found, key=lambda one: (-one.place.late * one.place.job.weight, one.place.job.id)))


def _why(problem: Problem, m: int, order: Sequence[int], k: int, place: Place) -> Late:
    """Reasons are asked in the order in which nothing in the hall could help, then something in it could."""
    j = order[k]
    due = problem.due_clock[j]
    ends = _ends_alone(problem, j, ready=True)
    empty = min(ends.values())
    could = tuple(problem.presses[a].name for a, end in ends.items() if end <= due)
    behind: tuple[str, ...] = ()
    if due <= 0:
        reason = OVERDUE
    elif min(_ends_alone(problem, j, ready=False).values()) > due:
        reason = WORK
    elif empty > due:
        reason = READY
    else:
        reason = CHANGES if _without_changes(problem, m, order, k) <= due else PRESS
        behind = _behind(problem, m, order, k)
    return Late(place, reason, empty, behind, could)


def _ends_alone(problem: Problem, j: int, *, ready: bool) -> dict[int, int]:
    """When a job would be done on each press that can run it, were the hall empty: begun now, or when it is ready."""
    ends = {}
    for m in problem.able[j]:
        c = problem.clock_of[m]
        change = problem.change[m][problem.on[m]][problem.setting[j]]
        begin = max(problem.free[m], problem.ready[c][j] if ready else 0)
        ends[m] = problem.clocks[c].ends(begin + change + problem.run[j][m])
    return ends


def _without_changes(problem: Problem, m: int, order: Sequence[int], k: int) -> int:
    """When it would be done on its press in this order, if no change took any time."""
    c, t = problem.clock_of[m], problem.free[m]
    for j in order[: k + 1]:
        t = max(t, problem.ready[c][j]) + problem.run[j][m]
    return problem.clocks[c].ends(t)


def _behind(problem: Problem, m: int, order: Sequence[int], k: int) -> tuple[str, ...]:
    """Jobs before it without a pause between them: had the press been free sooner, it would have begun sooner."""
    times = problem.ends_of(m, order)
    first = k
    while first > 0 and times[first][0] == times[first - 1][2]:
        first -= 1
    return tuple(problem.jobs[j].id for j in order[first:k])
