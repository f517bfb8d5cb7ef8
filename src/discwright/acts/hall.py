"""Plan the press hall: from presses and jobs to a schedule that is kept, drawn, and planned again as things go."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from discwright.acts.hall_findings import schedule_findings
from discwright.acts.hall_report import HallReport
from discwright.errors import CallError
from discwright.files.csv_guard import LineFinding
from discwright.files.hall_plan import KeptHall, check_free, keep_hall, open_hall
from discwright.files.hall_settings import load_hall
from discwright.files.jobs_csv import DoneRead, JobsRead, read_done, read_jobs
from discwright.works.hall import Hall, Job, OnPress
from discwright.works.hall_late import find_late
from discwright.works.hall_planning import plan_hall
from discwright.works.hall_restart import Told, as_planned, stand
from discwright.works.hall_times import read_moment

WORK_S = 60.0
CHARTS = (".png", ".svg")
Tell = Callable[[str, float], None]


@dataclass(frozen=True)
class RefusedJobs:
    """A file of jobs, or of what happened, that is not used.

    Attributes
    ----------
    findings : tuple of LineFinding
    more : int
        Findings beyond those.
    """

    findings: tuple[LineFinding, ...]
    more: int


@dataclass(frozen=True)
class HallOrder:
    """What is to be planned.

    Attributes
    ----------
    hall : pathlib.Path or None
        HALL.toml; None for the hall of `kept`.
    jobs : pathlib.Path or None
        JOBS.csv; None for the jobs of `kept`.
    kept : pathlib.Path or None
        A schedule that was gone by until now.
    done : pathlib.Path or None
        DONE.csv: what really happened.
    now : datetime or str
        Where nothing else is said the schedule starts then. Text is ISO 8601, in the hall's zone where it has no
        offset.
    start : datetime, str or None
        No change begins before it.
    seconds : float
        Work that is put into it, deterministic.
    keep, chart : pathlib.Path or None
        What to write.
    encoding : str or None
        Of the tables, where they are not UTF-8.
    """

    now: datetime | str
    hall: Path | None = None
    jobs: Path | None = None
    kept: Path | None = None
    done: Path | None = None
    start: datetime | str | None = None
    seconds: float = WORK_S
    keep: Path | None = None
    chart: Path | None = None
    encoding: str | None = None


def schedule_hall(order: HallOrder, tell: Tell = lambda _step, _done: None) -> HallReport | RefusedJobs:
    """Plan a press hall from files.

    Parameters
    ----------
    order : HallOrder
    tell : callable
        Told what is done and the share of it.

    Returns
    -------
    HallReport or RefusedJobs
        The second where a line of a table is wrong: then nothing is planned and nothing written.

    Raises
    ------
    CallError, SettingsError
    """
    _check(order)
    kept = None if order.kept is None else open_hall(order.kept)
    settings = None if order.hall is None else load_hall(order.hall)
    hall = settings.hall if settings is not None else _of(kept).hall
    now = _moment(order.now, hall, "--now")
    start = now if order.start is None else _moment(order.start, hall, "--start")
    if start < now:
        raise CallError("the schedule cannot start before now; give a later --start, or an earlier --now.")
    given, noted = _of(kept).jobs if kept is not None else (), []
    if order.jobs is not None:
        life = settings.stamper_life if settings is not None else 1000
        read: JobsRead | DoneRead = read_jobs(order.jobs, hall.zone, life, order.encoding)
        if read.refused:
            return RefusedJobs(read.findings, read.more)
        assert isinstance(read, JobsRead)
        given, noted = read.jobs, list(read.findings)
    told: tuple[Told, ...] | None = None
    if order.done is not None:
        known = {job.id for job in given} | ({job.id for job in kept.jobs} if kept is not None else set())
        read = read_done(order.done, hall.zone, known, order.encoding)
        if read.refused:
            return RefusedJobs(read.findings, read.more)
        assert isinstance(read, DoneRead)
        told = read.told
        noted += read.findings
    report = plan_jobs(hall, given, start, now=now, kept=kept, told=told, seconds=order.seconds, tell=tell)
    return write_hall(replace(report, line_findings=tuple(noted)), keep=order.keep, chart=order.chart)


def plan_jobs(
    hall: Hall,
    jobs: Sequence[Job],
    start: datetime,
    *,
    now: datetime | None = None,
    kept: KeptHall | None = None,
    told: Sequence[Told] | None = None,
    seconds: float = WORK_S,
    tell: Tell = lambda _step, _done: None,
) -> HallReport:
    """Plan jobs from anywhere.

    Parameters
    ----------
    hall : Hall
    jobs : sequence of Job
        As they were given; what is made of them is told in `told`, or in the jobs themselves.
    start : datetime
        No change begins before it.
    now : datetime, optional
        When `told` was told, or up to when `kept` was gone by; the start without it.
    kept : KeptHall, optional
        The schedule that was gone by.
    told : sequence of Told, optional
        What really happened. Without it, and with `kept`, that schedule is taken as kept to.
    seconds : float
        Work that is put into it, deterministic.
    tell : callable
        Told what is done and the share of it.

    Returns
    -------
    HallReport

    Raises
    ------
    CallError
        If the solver is not installed, or what is asked for cannot be planned.
    """
    now = start if now is None else now
    start = start.astimezone(hall.zone).replace(second=0, microsecond=0)
    standing, done, silent, assumed = tuple(jobs), tuple[str, ...](), tuple[str, ...](), False
    if told is not None or kept is not None:
        assumed = told is None
        if told is None:
            assert kept is not None
            left_out = (job for job, _ in kept.schedule.unplanned)
            made = {job.id: job.made for job in (*(one.job for one in kept.schedule.places), *left_out)}
            told = (*as_planned(kept.schedule, now, made), *_done_before(kept))
        stood = stand(
            hall if kept is None else _still_on(hall, kept.hall),
            jobs,
            told,
            None if kept is None else kept.schedule,
            now,
        )
        hall, standing, done, silent = stood.hall, stood.jobs, stood.done, stood.silent
    try:
        planned = plan_hall(hall, standing, start, seconds, tell)
    except ImportError:
        raise CallError(
            "the solver of schedules is not installed; install discwright[works] with pip, or give --seconds 0."
        ) from None
    late = find_late(planned.problem, planned.orders, planned.schedule.places)
    moved = None
    if kept is not None:
        before = {place.job.id: place.press for place in kept.schedule.places}
        moved = sum(before.get(one.job.id, one.press) != one.press for one in planned.schedule.places)
    findings = schedule_findings(planned.schedule, late, silent, assumed=assumed)
    return HallReport(hall, tuple(jobs), standing, planned, late, findings, seconds, done, moved)


def write_hall(report: HallReport, *, keep: Path | None = None, chart: Path | None = None) -> HallReport:
    """Keep a schedule and draw it; each file is whole or not there.

    Parameters
    ----------
    report : HallReport
    keep : pathlib.Path, optional
        JSON, a name that is not taken.
    chart : pathlib.Path, optional
        PNG or SVG.

    Raises
    ------
    CallError
    """
    if chart is not None:
        from discwright.files.hall_chart import draw_hall

        draw_hall(chart, report.schedule, report.planned.problem, report.caption)
        report = replace(report, chart=chart)
    if keep is not None:
        keep_hall(keep, report.document())
        report = replace(report, kept=keep)
    return report


def _check(order: HallOrder) -> None:
    """What can be refused before any work is done."""
    if order.hall is None and order.kept is None:
        raise CallError("a hall is needed; name HALL.toml with --hall, or a kept schedule with --from.")
    if order.jobs is None and order.kept is None:
        raise CallError("jobs are needed; name JOBS.csv with --jobs, or a kept schedule with --from.")
    if order.keep is not None:
        check_free(order.keep)
    if order.chart is not None and order.chart.suffix.lower() not in CHARTS:
        raise CallError(f"{order.chart}: a chart is a picture; name a file that ends with .png or .svg.")


def _moment(said: datetime | str, hall: Hall, what: str) -> datetime:
    return said if isinstance(said, datetime) else read_moment(said, hall.zone, what)


def _still_on(hall: Hall, before: Hall) -> Hall:
    """What was on each press when the kept schedule was made, where the hall's file does not say."""
    known = {press.name: press.on for press in before.presses}
    presses = tuple(
        replace(press, on=known.get(press.name, press.on)) if press.on == OnPress() else press for press in hall.presses
    )
    return replace(hall, presses=presses)


def _of(kept: KeptHall | None) -> KeptHall:
    assert kept is not None
    return kept


def _done_before(kept: KeptHall) -> tuple[Told, ...]:
    """Jobs that were done when the schedule was made."""
    count = {job.id: job.count for job in kept.jobs}
    return tuple(Told(name, count.get(name, 0), state="done") for name in kept.document["done"])
