"""Time in the press hall: manned minutes and the clock, how long a job runs, how long a change takes.

Work stops when a shift ends and goes on, with the stampers still on, when the next one begins.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from discwright.errors import CallError
from discwright.works.hall import BLACK, Change, ChangeMinutes, Job, OnPress, Press, Shift

DAY = 1440
Span = tuple[int, int]


class PressClock:
    """Manned minutes of a press counted through, and the clock they fall on.

    Both clocks count from the schedule's start. After its last span it is taken as manned throughout.

    Parameters
    ----------
    spans : sequence of (int, int)
        Manned from minute to minute, in order, apart from each other.
    """

    def __init__(self, spans: Sequence[Span]) -> None:
        self.opens = [a for a, _ in spans]
        self.closes = [b for _, b in spans]
        self.before = [0]  # work done before each span, and after the last
        for a, b in spans:
            self.before.append(self.before[-1] + b - a)

    @property
    def last(self) -> int:
        """Where the last span ends."""
        return self.closes[-1] if self.closes else 0

    def work_until(self, clock: int) -> int:
        """How many manned minutes lie before a minute of the clock."""
        k = bisect_right(self.opens, clock) - 1
        if k < 0:
            return 0
        if clock > self.last:
            return self.before[-1] + clock - self.last
        return self.before[k] + min(clock, self.closes[k]) - self.opens[k]

    def begins(self, work: int) -> int:
        """Where on the clock work begins that has so many manned minutes before it."""
        k = bisect_right(self.before, work) - 1
        if k >= len(self.opens):
            return self.last + work - self.before[-1]
        return self.opens[k] + work - self.before[k]

    def ends(self, work: int) -> int:
        """Where on the clock the last of so many manned minutes ends."""
        if work <= 0:
            return 0
        k = bisect_left(self.before, work) - 1
        if k >= len(self.opens):
            return self.last + work - self.before[-1]
        return self.opens[k] + work - self.before[k]


def manned_spans(
    shifts: Sequence[Shift], closed_days: frozenset[date], zone: tzinfo, start: datetime, days: int
) -> tuple[Span, ...]:
    """When shifts are manned, as minutes from a start.

    Parameters
    ----------
    shifts : sequence of Shift
    closed_days : frozenset of date
        Days on which none begins.
    zone : tzinfo
        Of the shifts' hours. When clocks are put on, a night shift is an hour shorter.
    start : datetime
    days : int
        So many from the start on.

    Returns
    -------
    tuple of (int, int)
        In order, joined where they touch.
    """
    first = start.astimezone(zone).date() - timedelta(days=1)
    spans = []
    for k in range(days + 2):
        day = first + timedelta(days=k)
        if day in closed_days:
            continue
        for shift in shifts:
            if day.weekday() in shift.days:
                a, b = (minutes_from(start, _moment(day, m, zone)) for m in (shift.opens, shift.closes))
                if max(a, 0) < min(b, days * DAY):
                    spans.append((max(a, 0), min(b, days * DAY)))
    return _joined(spans)


def minutes_from(start: datetime, moment: datetime, *, up: bool = False) -> int:
    """Whole minutes from a start to a moment, rounded down, or up.

    Parameters
    ----------
    start, moment : datetime
        Both aware of their zone.
    up : bool
    """
    minutes = (moment.astimezone(UTC) - start.astimezone(UTC)) / timedelta(minutes=1)
    return math.ceil(minutes) if up else math.floor(minutes)


def read_moment(text: str, zone: tzinfo, what: str, *, end: bool = False) -> datetime:
    """A day or a moment in ISO 8601.

    Parameters
    ----------
    text : str
        ``2031-04-02`` is the begin of that day, or its end; ``2031-04-02T14:00`` is told in the hall's zone, one with
        ``Z`` or an offset is that moment.
    zone : tzinfo
    what : str
        Used in the refusal.
    end : bool
        A day counts as its end.

    Raises
    ------
    CallError
    """
    clean = text.strip()
    try:
        if len(clean) == 10:
            day = date.fromisoformat(clean)
            moment = datetime.combine(day + timedelta(days=1) if end else day, time(), zone)
        else:
            moment = datetime.fromisoformat(clean)
    except (ValueError, OverflowError):
        raise CallError(f"{what}: “{clean[:40]}” is no day or time; write 2031-04-02 or 2031-04-02T14:00.") from None
    if not 1970 < moment.year < 9000:
        raise CallError(f"{what}: the year {moment.year} is a slip of the pen; write for example 2031-04-02.")
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=zone)


def run_minutes(press: Press, job: Job) -> int:
    """How long a press runs for what is left of a job, changes of worn stampers within it included.

    hours = N · cycle/3600 / running fraction + changes · change time, up to the next minute.

    Parameters
    ----------
    press : Press
    job : Job
    """
    if job.left == 0:
        return 0
    cycle = job.cycle_s or press.cycle_s[job.size]
    pressing = job.left * cycle / 60.0 / press.running
    return math.ceil(pressing - 1e-9) + stamper_swaps(job) * press.changes.stampers


def stamper_swaps(job: Job) -> int:
    """How often worn stampers are changed within what is left of a job: after each full life that discs remain after.

    Parameters
    ----------
    job : Job
    """
    if job.left == 0:
        return 0
    already = (job.made - 1) // job.stamper_life if job.made else 0
    return (job.count - 1) // job.stamper_life - already


def change_between(minutes: ChangeMinutes, before: OnPress, after: OnPress) -> Change:
    """What a press must change from one setting to another, and for how long it stands.

    Parameters
    ----------
    minutes : ChangeMinutes
    before, after : OnPress
        Where nobody knows what is on the press, everything is changed, as from black.
    """
    from_black = before.colour in (BLACK, "") and after.colour != BLACK
    return Change(
        stampers=0 if before == after else minutes.stampers,
        colour=0 if before.colour == after.colour else minutes.after_black if from_black else minutes.colour,
        size=0 if before.size == after.size else minutes.size,
    )


def _moment(day: date, minute: int, zone: tzinfo) -> datetime:
    extra, rest = divmod(minute, DAY)
    return datetime.combine(day + timedelta(days=extra), time(rest // 60, rest % 60), zone)


def _joined(spans: list[Span]) -> tuple[Span, ...]:
    joined: list[Span] = []
    for a, b in sorted(spans):
        if joined and a <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(b, joined[-1][1]))
        else:
            joined.append((a, b))
    return tuple(joined)
