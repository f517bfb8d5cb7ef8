"""Halls and jobs for the tests, and a checker of schedules that shares no line with what made them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta

from discwright.works.hall import ChangeMinutes, Hall, Job, OnPress, Place, Press, Schedule, Shift

#: A Monday.
START = datetime(2031, 4, 7, 6, tzinfo=UTC)
ALWAYS = Shift(tuple(range(7)), 0, 1440)
EARLY = Shift((0, 1, 2, 3, 4), 360, 840)
LATE = Shift((0, 1, 2, 3, 4), 840, 1320)
NIGHT = Shift((0, 1, 2, 3, 4), 1320, 1800)
NONE = ChangeMinutes(0, 0, 0, 0)
USUAL = ChangeMinutes(40, 20, 45, 90)
CYCLES = {"7in": 15.0, "10in": 20.0, "12in": 30.0}


def press(name: str = "P1", **said: object) -> Press:
    """A press that runs 12-inch discs all the time, one a minute, without any change, but for what is said."""
    usual: dict[str, object] = {
        "sizes": frozenset({"12in"}), "colours": frozenset(), "abilities": frozenset(), "shifts": (ALWAYS,),
        "closed_days": frozenset(), "running": 1.0, "changes": NONE, "cycle_s": dict.fromkeys(CYCLES, 60.0),
    }  # fmt: skip
    return Press(name, **(usual | said))  # type: ignore[arg-type]


def works_press(name: str = "P1", **said: object) -> Press:
    """A press as a works has it: two shifts, changes, 85 % of the time running."""
    usual: dict[str, object] = {
        "shifts": (EARLY, LATE), "running": 0.85, "changes": USUAL, "cycle_s": CYCLES, "on": OnPress("", "12in",
        "black"),
    }  # fmt: skip
    return press(name, **(usual | said))


def hall(*presses: Press) -> Hall:
    return Hall(presses)


def alike(count: int) -> Hall:
    """So many presses that are always manned and never stand for a change."""
    return hall(*(press(f"P{k}") for k in range(1, count + 1)))


def job(name: str, minutes: int, due: int | None = None, weight: float = 1.0, **said: object) -> Job:
    """A job that runs so many minutes on :func:`press`, due so many minutes after the start."""
    usual: dict[str, object] = {
        "edition": "NL-1/lp", "size": "12in", "colour": "black", "count": minutes, "weight": weight,
        "due": None if due is None else START + timedelta(minutes=due), "stamper_life": 10**6,
    }  # fmt: skip
    return Job(name, **(usual | said))  # type: ignore[arg-type]


# The checker -------------------------------------------------------------------------------------------


def manned(press: Press, begin: datetime, end: datetime) -> int:
    """Minutes between two moments in which a press is manned: counted one by one, in UTC."""
    found = 0
    for k in range(round((end - begin) / timedelta(minutes=1))):
        moment = begin + timedelta(minutes=k)
        found += any(_within(press, shift, moment) for shift in press.shifts)
    return found


def _within(press: Press, shift: Shift, moment: datetime) -> bool:
    minute = moment.hour * 60 + moment.minute
    for back in (0, 1):
        day: date = moment.date() - timedelta(days=back)
        begins = day.weekday() in shift.days and day not in press.closed_days
        if begins and shift.opens <= minute + back * 1440 < shift.closes:
            return True
    return False


def faults(schedule: Schedule, hall: Hall, jobs: Sequence[Job]) -> list[str]:
    """Everything that is wrong with a schedule, in words."""
    found = []
    names = [place.job.id for place in schedule.places] + [one.id for one, _ in schedule.unplanned]
    if sorted(names) != sorted(one.id for one in jobs if one.made < one.count):
        found.append("jobs are missing, invented or twice")
    for press in hall.presses:
        places = sorted((p for p in schedule.places if p.press == press.name), key=lambda p: p.begin)
        on, free = press.on, press.free_from or schedule.start
        for k, place in enumerate(places):
            begin, start, end = (schedule.start + timedelta(minutes=m) for m in (place.begin, place.start, place.end))
            if begin < free or begin < schedule.start:
                found.append(f"{place.job.id} begins before its press is free")
            found += _of_place(place, press, on, begin, start, end, first=k == 0)
            on, free = OnPress(place.job.edition, place.job.size, place.job.colour), end
    return found


def _of_place(
    place: Place, press: Press, on: OnPress, begin: datetime, start: datetime, end: datetime, *, first: bool
) -> list[str]:
    one, found = place.job, []
    if one.size not in press.sizes or (press.colours and one.colour not in press.colours):
        found.append(f"{one.id}: wrong press")
    if not one.needs <= press.abilities or (one.press and one.press != press.name):
        found.append(f"{one.id}: press is not able")
    if one.ready is not None and begin < one.ready and not one.running:
        found.append(f"{one.id} begins before it is ready")
    asked = 0 if one.running and first else _change(press.changes, on, one)
    if place.change.minutes != asked or manned(press, begin, start) != asked:
        found.append(f"{one.id}: its change takes {manned(press, begin, start)} and not {asked}")
    left = one.count - one.made
    pressing = left * (one.cycle_s or press.cycle_s[one.size]) / 60 / press.running
    # Stampers are changed before every disc after a full life, the discs counted from the first one made.
    swaps = sum(disc % one.stamper_life == 0 for disc in range(max(one.made, 1), one.count))
    wanted = math.ceil(pressing - 1e-9) + swaps * press.changes.stampers
    found += [
        f"{one.id}: nobody is at the press at {moment}"
        for moment in (begin, start, end - timedelta(minutes=1))
        if not any(_within(press, shift, moment) for shift in press.shifts)
    ]
    if manned(press, start, end) != wanted:
        found.append(f"{one.id}: runs {manned(press, start, end)} minutes and not {wanted}")
    late = 0 if one.due is None else max(0.0, (end - one.due) / timedelta(minutes=1))
    if abs(place.late - late) >= 1.0:
        found.append(f"{one.id}: told as {place.late} late, and is {late}")
    return found


def _change(minutes: ChangeMinutes, on: OnPress, one: Job) -> int:
    total = 0
    if (on.edition, on.size, on.colour) != (one.edition, one.size, one.colour):
        total += minutes.stampers
    if on.size != one.size:
        total += minutes.size
    if on.colour != one.colour:
        purge = on.colour in ("black", "") and one.colour != "black"
        total += minutes.after_black if purge else minutes.colour
    return total


def late_hours(schedule: Schedule) -> float:
    """Weighted lateness by the clock, from the places' ends alone."""
    total = 0.0
    for place in schedule.places:
        if place.job.due is not None:
            end = schedule.start + timedelta(minutes=place.end)
            total += place.job.weight * max(0.0, (end - place.job.due).total_seconds() / 3600)
    return total
