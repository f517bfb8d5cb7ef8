"""The press hall in whole numbers: what the searches, the bounds and the solver all reckon with.

An order of jobs on each press is a whole plan: every job begins as soon as its press is free and it is ready. Presses
with the same shifts share a clock; on each press times are counted in its manned minutes.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import reduce

from discwright.errors import CallError
from discwright.works.hall import JOBS_MOST, PRESSES_MOST, Hall, Job, OnPress, Place, Press, Schedule
from discwright.works.hall_times import (
    PressClock,
    change_between,
    manned_spans,
    minutes_from,
    run_minutes,
    stamper_swaps,
)

#: A moment that no job is late for.
NEVER = 1 << 50
#: Weights count in hundredths.
_FINE = 100
#: Shifts are laid out until all work fits, so many days at the most.
DAYS_MOST = 3660

Orders = list[list[int]]
#: Weighted lateness, and weighted sum of the ends, that breaks ties.
Cost = tuple[int, int]


@dataclass
class Problem:
    """Presses and jobs by number.

    Attributes
    ----------
    hall : Hall
    start : datetime
    jobs : list of Job
        Those that can be planned.
    unplanned : list of (Job, str)
        Those that cannot, and why.
    clocks : list of PressClock
    clock_of : list of int
        Of each press.
    able : list of list of int
        Presses that can run each job.
    run : list of list of int
        Minutes of each job on each press; 0 where it is not able.
    setting : list of int
        Of each job.
    settings : list of OnPress
    change : list of list of list of int
        By press, setting before, setting after: minutes; presses that change alike share a table.
    on : list of int
        Setting of each press at the start.
    free : list of int
        Manned minutes before each press can be used.
    ready, due : list of list of int
        By clock and job: manned minutes before it is ready; manned minutes at which it is just not late.
    due_clock : list of int
        Minutes from the start; :data:`NEVER` for none.
    weight : list of int
        Whole numbers in the proportion of the jobs' weights.
    unit : float
        Weight of one.
    first : list of int or None
        The job that is on each press now.
    """

    hall: Hall
    start: datetime
    jobs: list[Job]
    unplanned: list[tuple[Job, str]]
    clocks: list[PressClock]
    clock_of: list[int]
    able: list[list[int]]
    run: list[list[int]]
    setting: list[int]
    settings: list[OnPress]
    change: list[list[list[int]]]
    on: list[int]
    free: list[int]
    ready: list[list[int]]
    due: list[list[int]]
    due_clock: list[int]
    weight: list[int]
    unit: float
    first: list[int | None]

    @property
    def presses(self) -> tuple[Press, ...]:
        return self.hall.presses

    def press_cost(self, m: int, order: Sequence[int]) -> Cost:
        """Weighted lateness and weighted ends of one press's jobs in an order.

        Parameters
        ----------
        m : int
        order : sequence of int
        """
        late, flow, t, before = 0, 0, self.free[m], self.on[m]
        c = self.clock_of[m]
        ready, due, change, ends = self.ready[c], self.due[c], self.change[m], self.clocks[c].ends
        run, setting, weight = self.run, self.setting, self.weight
        for j in order:
            if t < ready[j]:
                t = ready[j]
            after = setting[j]
            t += change[before][after] + run[j][m]
            before = after
            flow += weight[j] * t
            if t > due[j]:
                late += weight[j] * (ends(t) - self.due_clock[j])
        return late, flow

    def ends_of(
        self, m: int, order: Sequence[int], free: int | None = None, on: int | None = None
    ) -> list[tuple[int, int, int]]:
        """Manned minutes before each job's change begins, before its first disc, and at its end.

        Parameters
        ----------
        m : int
        order : sequence of int
        free, on : int, optional
            Where the press is free and what is on it then; as the problem says without.
        """
        t, before = self.free[m] if free is None else free, self.on[m] if on is None else on
        found = []
        ready = self.ready[self.clock_of[m]]
        for j in order:
            begin = max(t, ready[j])
            start = begin + self.change[m][before][self.setting[j]]
            t = start + self.run[j][m]
            found.append((begin, start, t))
            before = self.setting[j]
        return found

    def cost(self, orders: Orders) -> Cost:
        """Of a whole plan."""
        costs = [self.press_cost(m, order) for m, order in enumerate(orders)]
        return sum(late for late, _ in costs), sum(flow for _, flow in costs)

    def hours(self, late: int) -> float:
        """Weighted lateness in hours times weight, as people are told it."""
        return late * self.unit / 60.0

    def schedule(self, orders: Orders) -> Schedule:
        """A plan with its clock times."""
        places = []
        for m, (press, order) in enumerate(zip(self.presses, orders, strict=True)):
            clock, before = self.clocks[self.clock_of[m]], self.on[m]
            for j, (begin, start, end) in zip(order, self.ends_of(m, order), strict=True):
                job, after = self.jobs[j], self.setting[j]
                change = change_between(press.changes, self.settings[before], self.settings[after])
                due = None if self.due_clock[j] == NEVER else self.due_clock[j]
                places.append(
                    Place(
                        job, press.name, clock.begins(begin), clock.begins(start), clock.ends(end), change,
                        self.run[j][m], stamper_swaps(job), due,
                    )
                )  # fmt: skip
                before = after
        return Schedule(self.start, tuple(places), tuple(self.unplanned))

    def beyond(self, orders: Orders) -> bool:
        """Whether a press works past the days its shifts are laid out for."""
        return any(
            order and self.ends_of(m, order)[-1][2] > self.clocks[self.clock_of[m]].before[-1]
            for m, order in enumerate(orders)
        )


def pose(hall: Hall, jobs: Sequence[Job], start: datetime, days: int) -> Problem:
    """Put a hall and its jobs into numbers.

    Parameters
    ----------
    hall : Hall
    jobs : sequence of Job
    start : datetime
        No change begins before it.
    days : int
        For which shifts are laid out.

    Returns
    -------
    Problem

    Raises
    ------
    CallError
        If there are no presses, too many of anything, or two of one name.
    """
    _check(hall, jobs)
    planned, unplanned, able = _divide(hall, [job for job in jobs if job.left])
    clocks, clock_of = _clocks(hall, start, days)
    settings = list(dict.fromkeys([press.on for press in hall.presses] + [job.setting for job in planned]))
    index = {one: k for k, one in enumerate(settings)}
    weight, unit = _weights(planned)
    due_clock = [NEVER if job.due is None else minutes_from(start, job.due) for job in planned]
    ready_clock = [0 if job.ready is None else max(0, minutes_from(start, job.ready, up=True)) for job in planned]
    tables = {
        changes: [[change_between(changes, a, b).minutes for b in settings] for a in settings]
        for changes in dict.fromkeys(press.changes for press in hall.presses)
    }
    where = {press.name: m for m, press in enumerate(hall.presses)}
    first: list[int | None] = [None] * len(hall.presses)
    for j, job in enumerate(planned):
        if job.running:
            m = where[job.press]
            if (other := first[m]) is not None:
                raise CallError(f"{planned[other].id} and {job.id} cannot both be on press {job.press}; say which is.")
            first[m], ready_clock[j] = j, 0
    return Problem(
        hall, start, planned, unplanned, clocks, clock_of, able,
        run=[[run_minutes(p, job) if m in could else 0 for m, p in enumerate(hall.presses)]
             for job, could in zip(planned, map(frozenset, able), strict=True)],
        setting=[index[job.setting] for job in planned],
        settings=settings,
        change=[tables[press.changes] for press in hall.presses],
        on=[_on(index, press, None if j is None else planned[j]) for press, j in zip(hall.presses, first, strict=True)],
        free=[0 if press.free_from is None
              else clocks[c].work_until(max(0, minutes_from(start, press.free_from, up=True)))
              for press, c in zip(hall.presses, clock_of, strict=True)],
        ready=[[clock.work_until(at) for at in ready_clock] for clock in clocks],
        due=[[NEVER if at == NEVER else clock.work_until(max(0, at)) for at in due_clock] for clock in clocks],
        due_clock=due_clock, weight=weight, unit=unit, first=first,
    )  # fmt: skip


def _on(index: dict[OnPress, int], press: Press, running: Job | None) -> int:
    return index[press.on if running is None else running.setting]


def _check(hall: Hall, jobs: Sequence[Job]) -> None:
    if not 1 <= len(hall.presses) <= PRESSES_MOST:
        raise CallError(f"{len(hall.presses)} presses cannot be planned; give 1 to {PRESSES_MOST}.")
    if len(jobs) > JOBS_MOST:
        raise CallError(f"{len(jobs)} jobs cannot be planned at once; give {JOBS_MOST} at most.")
    for what, names in (("presses", [p.name for p in hall.presses]), ("jobs", [job.id for job in jobs])):
        twice = next((name for name, n in Counter(names).items() if n > 1), None)
        if twice is not None:
            raise CallError(f"two {what} are called “{twice}”; give each a name of its own.")


def _divide(hall: Hall, jobs: Sequence[Job]) -> tuple[list[Job], list[tuple[Job, str]], list[list[int]]]:
    """Jobs that can be planned with their presses, and those that cannot with the reason."""
    planned, unplanned, able = [], [], []
    for job in jobs:
        could = [
            m
            for m, press in enumerate(hall.presses)
            if press.shifts and not press.lacks(job) and (job.press or not job.running)
        ]
        if job.waits:
            unplanned.append((job, f"waits for {job.waits_for}, and nobody says until when"))
        elif not could:
            unplanned.append((job, _why_none(hall, job)))
        else:
            planned.append(job)
            able.append(could)
    return planned, unplanned, able


def _why_none(hall: Hall, job: Job) -> str:
    if job.running and not job.press:
        return "is said to run, and nobody says on which press"
    if job.press and job.press not in [press.name for press in hall.presses]:
        return f"is bound to press {job.press}, which the hall has not"
    nearest = min(hall.presses, key=lambda press: (len(press.lacks(job)), not press.shifts))
    lacks = nearest.lacks(job)
    return f"fits no press: {nearest.name} comes nearest and lacks {', '.join(lacks) or 'a shift'}"


def _clocks(hall: Hall, start: datetime, days: int) -> tuple[list[PressClock], list[int]]:
    kinds = list(dict.fromkeys((press.shifts, press.closed_days) for press in hall.presses))
    clocks = [PressClock(manned_spans(shifts, closed, hall.zone, start, days)) for shifts, closed in kinds]
    return clocks, [kinds.index((press.shifts, press.closed_days)) for press in hall.presses]


def _weights(jobs: Sequence[Job]) -> tuple[list[int], float]:
    """Weights as the smallest whole numbers in their proportion, to a hundredth."""
    fine = [round(job.weight * _FINE) for job in jobs]
    common = reduce(math.gcd, fine, 0) or 1
    return [one // common for one in fine], common / _FINE
