"""What is worth a word about a schedule of the press hall: what is late and why, what has no place."""

from __future__ import annotations

from collections.abc import Sequence

from discwright.findings import Finding, Severity
from discwright.works.hall import Job, Schedule
from discwright.works.hall_late import CHANGES, OVERDUE, PRESS, READY, WORK, Late

#: So many jobs are named in one sentence.
_NAMED = 3


def finding(code: str, severity: Severity, value: float, limit: float, unit: str, remedy: str) -> Finding:
    """A finding that has no place on a side.

    Parameters
    ----------
    code, severity, value, limit, unit, remedy
        As in :class:`discwright.findings.Finding`.
    """
    return Finding(code, severity, None, None, None, None, value, limit, unit, remedy)


def schedule_findings(
    schedule: Schedule, late: Sequence[Late], silent: Sequence[str] = (), *, assumed: bool = False
) -> tuple[Finding, ...]:
    """A stop for each late job and each that has no place; warnings for what is only hoped for.

    Parameters
    ----------
    schedule : Schedule
    late : sequence of Late
        What counts most first; the findings keep that order.
    silent : sequence of str
        Jobs that should have been begun and that nobody told of.
    assumed : bool
        The schedule that was gone by is taken as kept to, as nobody told otherwise.
    """
    found = [
        finding("late", "stop", round(one.place.late / 60.0, 2), 0.0, "h", f"{_words(one)} {_remedy(one)}")
        for one in late
    ]
    found += [
        finding("unplanned", "stop", job.left, 0.0, "pressings", f"{job.id} has no place: it {why}. {_mend(job)}")
        for job, why in schedule.unplanned
    ]
    hoped = [place.job for place in schedule.places if place.job.waits_for]
    if hoped:
        found.append(
            finding(
                "expected", "warn", len(hoped), 0.0, "jobs",
                f"{_names([f'{job.id} ({job.waits_for})' for job in hoped])}: planned on what is only expected. Plan "
                "again when it has come, or has not.",
            )
        )  # fmt: skip
    if silent:
        found.append(
            finding(
                "not_told", "warn", len(silent), 0.0, "jobs",
                f"{_names(list(silent))} should have been begun and nobody told of them; they are taken to stand as "
                "before: say what is made.",
            )
        )  # fmt: skip
    if assumed:
        words = "Nobody told what was really made: the schedule is taken as kept to. Give --done with what happened."
        found.append(finding("as_planned", "note", 0.0, 0.0, "", words))
    return tuple(found)


def _words(late: Late) -> str:
    return f"{late.place.job.id} on press {late.place.press} is {duration(late.place.late)} late."


def _remedy(late: Late) -> str:
    job = late.place.job
    if late.reason == OVERDUE:
        return "It was due before the schedule starts: agree on another day."
    if late.reason == WORK:
        return (
            f"Its {job.left} pressings take longer than there is time on any press: give it two sets of stampers "
            "and make two jobs of it, or agree on another day."
        )
    if late.reason == READY:
        what = f"Its parts ({job.waits_for})" if job.waits_for else "Its parts"
        return f"{what} are ready too late even for an empty hall: have them sooner, or agree on another day."
    before = f" behind {_names(list(late.behind))}" if late.behind else ""
    if late.reason == CHANGES:
        return f"It waits{before}; without the changes it would be in time: put like beside like, or change quicker."
    assert late.reason == PRESS
    one = len(late.could) == 1
    where = f"press {late.could[0]}, where alone it could be in time, is" if one else f"{_names(list(late.could))} are"
    return f"It waits{before}; {where} taken. Add a shift, or let what counts less wait."


def _mend(job: Job) -> str:
    if job.waits:
        return "Say from when on it can be planned (ready)."
    return "Add the ability or a shift to a press, or mend the job."


def _names(names: list[str]) -> str:
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return f"{', '.join(names[:_NAMED])}{more}"


def duration(minutes: int) -> str:
    """`3 d 4 h`, `4 h 20 min`, `20 min`.

    Parameters
    ----------
    minutes : int
    """
    days, rest = divmod(minutes, 1440)
    hours, rest = divmod(rest, 60)
    if days:
        return f"{days} d {hours} h" if hours else f"{days} d"
    if hours:
        return f"{hours} h {rest} min" if rest else f"{hours} h"
    return f"{rest} min"
