"""When each thing an order needs must be there: counted back from the day it is due, in working days."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta

from discwright.errors import CallError

#: Nothing is pressed for longer than this: a hundred years.
PRESS_DAYS_MOST = 36_500


@dataclass(frozen=True)
class LeadDays:
    """How many working days lie between one thing and the next.

    Attributes
    ----------
    week : int
        Working days of a week, 5 to 7, from Monday on.
    master, mother, stamper : int
        From the part above to parts of this kind.
    parts_a_day : int
        Parts of one kind that the baths finish in a day.
    approval : int
        From stampers to a release: test pressings made, sent, played.
    labels, compound, sleeves, jackets : int
        That each must be there before the press, or before packing, begins.
    finish : int
        From the last pressing to the dock: rest, inspection of the lot, packing.
    pack : int
        Of these, packing.
    """

    week: int
    master: int
    mother: int
    stamper: int
    parts_a_day: int
    approval: int
    labels: int
    compound: int
    sleeves: int
    jackets: int
    finish: int
    pack: int

    def __post_init__(self) -> None:
        if not 5 <= self.week <= 7:
            raise CallError(f"a week of {self.week} working days is none; give 5, 6 or 7.")
        if self.parts_a_day < 1:
            raise CallError("baths that finish no part in a day grow nothing; give at least 1.")
        if self.pack > self.finish:
            raise CallError(f"packing of {self.pack} days does not fit into {self.finish} after the press; give fewer.")


@dataclass(frozen=True)
class DiscDates:
    """When everything for a disc edition must be there, or begin.

    Attributes
    ----------
    lacquers, masters, mothers, stampers, labels, compound, sleeves, jackets : date
        On this day at the latest it is there, good.
    press_start, press_end : date
        First and last day of pressing.
    due : date
    """

    lacquers: date
    masters: date
    mothers: date
    stampers: date
    labels: date
    compound: date
    sleeves: date
    jackets: date
    press_start: date
    press_end: date
    due: date


def days_back(day: date, count: int, week: int) -> date:
    """The working day so many before another; one that is not worked itself counts as the last worked before it.

    Parameters
    ----------
    day : date
    count : int
        0 or more.
    week : int
        Working days of a week, from Monday on.

    Returns
    -------
    date

    Raises
    ------
    CallError
        If it lies before the calendar begins.
    """
    try:
        day -= timedelta(days=max(0, day.weekday() - (week - 1)))
        weeks, rest = divmod(count, week)
        day -= timedelta(weeks=weeks)
        over = timedelta(days=7 - week) if rest > day.weekday() else timedelta(0)
        return day - timedelta(days=rest) - over
    except OverflowError:
        raise CallError(f"{count} working days before {day} no calendar had begun; give a later due date.") from None


def disc_dates(
    due: date, press_seconds: float, hours_a_day: float, stampers: int, mothers: int, masters: int, days: LeadDays
) -> DiscDates:
    """Count back from the due date of a disc edition.

    Parameters
    ----------
    due : date
        On this day the discs stand at the dock.
    press_seconds : float
        How long the press is taken, of all presses together.
    hours_a_day : float
        That all presses on this edition work in a day, together.
    stampers, mothers, masters : int
        To be grown.
    days : LeadDays

    Returns
    -------
    DiscDates

    Raises
    ------
    CallError
    """
    last = days_back(due, days.finish, days.week)
    press_days = max(1, math.ceil(press_seconds / 3600.0 / hours_a_day - 1e-9))
    if press_days > PRESS_DAYS_MOST:
        raise CallError(
            f"a press that is taken for {press_days} days has no date; order fewer, or give it more presses."
        )
    first = days_back(last, press_days - 1, days.week)

    def before(day: date, count: int) -> date:
        return days_back(day, count, days.week)

    def growing(each: int, parts: int) -> int:
        """Days from the first part in the bath to the last one good."""
        return each + math.ceil(parts / days.parts_a_day) - 1

    stampers_by = before(first, days.approval)
    mothers_by = before(stampers_by, growing(days.stamper, stampers))
    masters_by = before(mothers_by, growing(days.mother, mothers))
    return DiscDates(
        lacquers=before(masters_by, growing(days.master, masters)),
        masters=masters_by,
        mothers=mothers_by,
        stampers=stampers_by,
        labels=before(first, days.labels),
        compound=before(first, days.compound),
        sleeves=before(first, days.sleeves),
        jackets=before(days_back(due, days.pack, days.week), days.jackets),
        press_start=first,
        press_end=last,
        due=due,
    )
