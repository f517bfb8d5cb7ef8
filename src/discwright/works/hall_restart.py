"""A press hall planned again from where things really stand: what is made, what is on which press."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from discwright.errors import CallError
from discwright.works.hall import Hall, Job, OnPress, Place, Schedule
from discwright.works.hall_times import minutes_from

ON, OFF, DONE = "on", "off", "done"
STATES = (ON, OFF, DONE)


@dataclass(frozen=True)
class Told:
    """What somebody told of a job.

    Attributes
    ----------
    job : str
    made : int
        Pressed so far, all together.
    press : str
        Where it is or was; empty where nobody says.
    state : str
        ``on`` the press now, taken ``off``, or ``done`` whatever was made.
    at : datetime or None
        When that was.
    line : int
        Line of the file it came from.
    """

    job: str
    made: int
    press: str = ""
    state: str = ""
    at: datetime | None = None
    line: int = 0


@dataclass(frozen=True)
class Standing:
    """Where things stand.

    Attributes
    ----------
    hall : Hall
        With what is on each press.
    jobs : tuple of Job
        With what is made of each; those that are done are left out.
    done : tuple of str
        Jobs that are done.
    silent : tuple of str
        Jobs that the kept schedule has begun by now and nobody told of; they are taken to stand as before.
    """

    hall: Hall
    jobs: tuple[Job, ...]
    done: tuple[str, ...]
    silent: tuple[str, ...]


def as_planned(schedule: Schedule, now: datetime, made_before: Mapping[str, int]) -> tuple[Told, ...]:
    """What would have been told, had everything gone as it was planned.

    Parameters
    ----------
    schedule : Schedule
        That was kept.
    now : datetime
    made_before : mapping of str to int
        Of the jobs, when the schedule was made.
    """
    minute = minutes_from(schedule.start, now)
    told = []
    for place in schedule.places:
        if place.end <= minute:
            told.append(Told(place.job.id, place.job.count, place.press, DONE, schedule.at(place.end)))
        elif place.begin < minute or place.job.running:
            told.append(Told(place.job.id, _share(place, minute), place.press, ON, now))
    known = {one.job for one in told}
    told += [Told(job, made) for job, made in made_before.items() if made and job not in known]
    return tuple(told)


def stand(hall: Hall, jobs: Sequence[Job], told: Sequence[Told], kept: Schedule | None, now: datetime) -> Standing:
    """Hall and jobs as they are now.

    Parameters
    ----------
    hall : Hall
    jobs : sequence of Job
    told : sequence of Told
        The last word on a job counts: the latest moment, and of one moment the last in the sequence.
    kept : Schedule or None
        The schedule that was gone by.
    now : datetime

    Raises
    ------
    CallError
        If two jobs are said to be on one press, or one on a press that is not there.
    """
    names = {press.name for press in hall.presses}
    last = _last_words(told)
    by_id = {job.id: job for job in jobs}
    on_press: dict[str, str] = {}
    left, done = [], []
    for job in jobs:
        word = last.get(job.id)
        if word is None:
            left.append(job)
            continue
        if word.state == DONE or word.made >= job.count:
            done.append(job.id)
            continue
        job = replace(job, made=word.made, running=False)
        if word.press and (word.state or ON) == ON:
            if word.press not in names:
                raise CallError(
                    f"{job.id} is said to be on press {word.press}, which the hall has not; look at its name."
                )
            if word.press in on_press:
                raise CallError(
                    f"{on_press[word.press]} and {job.id} cannot both be on press {word.press}; say which is."
                )
            on_press[word.press] = job.id
            job = replace(job, press=word.press, running=True, ready=None, waits_for="")
        left.append(job)
    setting = _settings(told, by_id)
    presses = tuple(replace(press, on=setting.get(press.name, press.on)) for press in hall.presses)
    return Standing(replace(hall, presses=presses), tuple(left), tuple(done), _silent(kept, last, by_id, now))


def _last_words(told: Sequence[Told]) -> dict[str, Told]:
    last: dict[str, Told] = {}
    for word in sorted(told, key=_moment):
        last[word.job] = word
    return last


def _settings(told: Sequence[Told], jobs: Mapping[str, Job]) -> dict[str, OnPress]:
    """What the last job on each press left on it."""
    return {word.press: jobs[word.job].setting for word in sorted(told, key=_moment) if word.press and word.job in jobs}


def _moment(word: Told) -> datetime:
    return datetime.min.replace(tzinfo=UTC) if word.at is None else word.at


def _silent(kept: Schedule | None, last: Mapping[str, Told], jobs: Mapping[str, Job], now: datetime) -> tuple[str, ...]:
    if kept is None:
        return ()
    minute = minutes_from(kept.start, now)
    return tuple(
        place.job.id
        for place in kept.places
        if place.begin < minute and place.job.id in jobs and place.job.id not in last
    )


def _share(place: Place, minute: int) -> int:
    """Pressed by a minute, as if the discs came evenly from the first to the last."""
    share = max(0, minute - place.start) / max(1, place.end - place.start)
    return place.job.made + int(place.job.left * share)
