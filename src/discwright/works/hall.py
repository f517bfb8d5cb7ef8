"""The press hall in words: presses and their abilities, shifts, jobs, and where each job is put.

Moments are aware datetimes. Inside a schedule times are whole minutes from its start; work is in minutes in which a
press is manned.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta, tzinfo

SIZES = ("7in", "10in", "12in")
BLACK = "black"
#: More cannot be planned at once; anything above is a slip of the hand.
PRESSES_MOST, JOBS_MOST = 400, 4000
COUNT_MOST, WEIGHT_MOST = 1_000_000, 1000.0


@dataclass(frozen=True)
class Shift:
    """When a press is manned.

    Attributes
    ----------
    days : tuple of int
        On which it begins, 0 = Monday.
    opens, closes : int, minutes of the day
        `closes` above 1440 where it ends on the next day.
    """

    days: tuple[int, ...]
    opens: int
    closes: int


@dataclass(frozen=True)
class OnPress:
    """What a press has on it: stampers of an edition, moulds of a size, compound of a colour; empty where unknown."""

    edition: str = ""
    size: str = ""
    colour: str = ""


@dataclass(frozen=True)
class ChangeMinutes:
    """How long a press stands for a change; the parts of one change follow one another.

    Attributes
    ----------
    stampers, size : int, minutes
    colour : int, minutes
        From one compound to another.
    after_black : int, minutes
        The same where the press ran black, which takes longer to purge.
    """

    stampers: int
    colour: int
    after_black: int
    size: int


@dataclass(frozen=True)
class Press:
    """One press.

    Attributes
    ----------
    name : str
    sizes : frozenset of str
    colours : frozenset of str
        Empty for any.
    abilities : frozenset of str
        Words of the house's own, for example ``heavy``; a job names those it needs.
    shifts : tuple of Shift
    closed_days : frozenset of date
        Days on which no shift begins.
    running : float
        Share of the manned time in which it presses, 0 to 1; changes are not in it.
    changes : ChangeMinutes
    cycle_s : mapping of str to float
        Seconds for a disc, by size; a job may say otherwise.
    on : OnPress
        What is on it at the start.
    free_from : datetime or None
        Before this it cannot be used.
    """

    name: str
    sizes: frozenset[str]
    colours: frozenset[str]
    abilities: frozenset[str]
    shifts: tuple[Shift, ...]
    closed_days: frozenset[date]
    running: float
    changes: ChangeMinutes
    cycle_s: Mapping[str, float]
    on: OnPress = OnPress()
    free_from: datetime | None = None

    def lacks(self, job: Job) -> tuple[str, ...]:
        """What keeps it from a job, in words; nothing where it is able."""
        if job.press and job.press != self.name:
            return (f"the job is bound to press {job.press}",)
        found = [] if job.size in self.sizes else [f"size {job.size}"]
        if self.colours and job.colour not in self.colours:
            found.append(f"colour {job.colour}")
        return (*found, *sorted(job.needs - self.abilities))


@dataclass(frozen=True)
class Hall:
    """The presses, and the zone their shifts are told in."""

    presses: tuple[Press, ...]
    zone: tzinfo = UTC
    zone_name: str = "UTC"


@dataclass(frozen=True)
class Job:
    """So many pressings of one edition, on one press without a break of other work.

    A job is never shared between presses: each press needs stampers of its own. What is to run on two presses is two
    jobs.

    Attributes
    ----------
    id : str
    edition : str
        Jobs of one edition, size and colour can follow each other without a change of stampers.
    size, colour : str
    count : int
        Pressings to start.
    due : datetime or None
        When they are to be pressed; None where nobody waits.
    weight : float
        How much an hour late counts.
    ready : datetime or None
        When its parts are there and its family is approved, so that its change may begin; None for at once.
    waits_for : str
        What it still waits for; `ready` is then only an expectation, and without one it is not planned.
    needs : frozenset of str
        Abilities.
    stamper_life : int
        Pressings after which the stampers are changed within the job.
    cycle_s : float
        Seconds for a disc; 0 for what the press has for its size.
    press : str
        The only press it may go to; empty for any.
    made : int
        Pressed already.
    running : bool
        It is on `press` now and stays there until it is done.
    line : int
        Line of the file it came from, the head being 1; 0 where it came from none.
    """

    id: str
    edition: str
    size: str
    colour: str
    count: int
    due: datetime | None = None
    weight: float = 1.0
    ready: datetime | None = None
    waits_for: str = ""
    needs: frozenset[str] = frozenset()
    stamper_life: int = 1000
    cycle_s: float = 0.0
    press: str = ""
    made: int = 0
    running: bool = False
    line: int = 0

    @property
    def left(self) -> int:
        """Pressings still to make."""
        return max(0, self.count - self.made)

    @property
    def setting(self) -> OnPress:
        """What is on a press that runs it."""
        return OnPress(self.edition, self.size, self.colour)

    @property
    def waits(self) -> bool:
        """Nobody can say when it may begin."""
        return bool(self.waits_for) and self.ready is None


@dataclass(frozen=True)
class Change:
    """Minutes a press stands before a job, by what is changed."""

    stampers: int = 0
    colour: int = 0
    size: int = 0

    @property
    def minutes(self) -> int:
        return self.stampers + self.colour + self.size


@dataclass(frozen=True)
class Place:
    """A job on a press.

    Attributes
    ----------
    job : Job
    press : str
    begin, start, end : int, minutes from the schedule's start
        When its change begins, the first disc is pressed, the last one is done; a closed hall lies between where it
        does.
    change : Change
    run : int, minutes
        Manned time from start to end.
    swaps : int
        Changes of worn stampers within the job; their time is in `run`.
    due : int or None, minutes from the schedule's start
    """

    job: Job
    press: str
    begin: int
    start: int
    end: int
    change: Change
    run: int
    swaps: int
    due: int | None

    @property
    def late(self) -> int:
        """Minutes after it is due, by the clock."""
        return 0 if self.due is None else max(0, self.end - self.due)


@dataclass(frozen=True)
class Schedule:
    """Where and when each job is pressed.

    Attributes
    ----------
    start : datetime
    places : tuple of Place
        Press by press in the hall's order, each in time.
    unplanned : tuple of (Job, str)
        Jobs that have no place, and why.
    """

    start: datetime
    places: tuple[Place, ...]
    unplanned: tuple[tuple[Job, str], ...] = field(default=())

    @property
    def weighted_late_h(self) -> float:
        """What is made least: hours late times weight, summed over the jobs."""
        return sum(place.late * place.job.weight for place in self.places) / 60.0

    @property
    def change_minutes(self) -> int:
        """For which presses stand between jobs, all together."""
        return sum(place.change.minutes for place in self.places)

    @property
    def end(self) -> int:
        """When the last job is done, minutes from the start."""
        return max((place.end for place in self.places), default=0)

    def at(self, minute: int) -> datetime:
        """The moment of a minute, in the zone of the start."""
        moment = self.start.astimezone(UTC) + timedelta(minutes=minute)
        return moment.astimezone(self.start.tzinfo)
