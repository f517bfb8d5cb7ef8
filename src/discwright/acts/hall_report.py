"""What a plan of the press hall came to, and the same as plain values: what is shown is what is kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from discwright import __version__
from discwright.files.csv_guard import LineFinding
from discwright.files.hall_plan import KIND, hall_as_plain, jobs_as_plain, places_as_plain, result_sha256
from discwright.findings import Finding
from discwright.works.hall import Hall, Job, Schedule
from discwright.works.hall_bounds import least_end
from discwright.works.hall_late import Late
from discwright.works.hall_planning import Planned


@dataclass(frozen=True)
class HallReport:
    """A schedule of the press hall, what is late in it and why.

    Attributes
    ----------
    hall : Hall
    given : tuple of Job
        The jobs as they were given.
    standing : tuple of Job
        The same as they stand at the start; what is done is left out.
    planned : Planned
    late : tuple of Late
        What counts most first.
    findings : tuple of Finding
    seconds : float
        Work that was allowed, deterministic.
    done : tuple of str
        Jobs that are done.
    moved : int or None
        Jobs on another press than in the schedule that was gone by; None where there was none.
    line_findings : tuple of LineFinding
        What was noted of the lines of the files.
    kept, chart : pathlib.Path or None
        What was written.
    """

    hall: Hall
    given: tuple[Job, ...]
    standing: tuple[Job, ...]
    planned: Planned
    late: tuple[Late, ...]
    findings: tuple[Finding, ...]
    seconds: float
    done: tuple[str, ...] = ()
    moved: int | None = None
    line_findings: tuple[LineFinding, ...] = ()
    kept: Path | None = None
    chart: Path | None = None

    @property
    def schedule(self) -> Schedule:
        return self.planned.schedule

    @property
    def ready(self) -> bool:
        """Nothing is late and everything has its place."""
        return not any(one.severity == "stop" for one in self.findings)

    @property
    def caption(self) -> str:
        """What stands above the chart."""
        planned, hours = self.planned, self.planned.problem.hours
        late = f"{len(self.late)} late, {hours(planned.late):.1f} h times weight" if self.late else "nothing late"
        if planned.late > planned.bound.late:
            late += f" (no plan below {hours(planned.bound.late):.1f})"
        unplanned = f", {len(self.schedule.unplanned)} without a place" if self.schedule.unplanned else ""
        return f"Press hall: {len(self.hall.presses)} presses, {len(self.schedule.places)} jobs, {late}{unplanned}"

    def as_dict(self) -> dict[str, Any]:
        """Everything as plain JSON values; the document that is kept, with what was written."""
        return self.document() | {
            "kept": None if self.kept is None else str(self.kept),
            "chart": None if self.chart is None else str(self.chart),
        }

    def document(self) -> dict[str, Any]:
        """What a kept schedule holds."""
        planned, schedule = self.planned, self.schedule
        places = places_as_plain(schedule)
        hours = planned.problem.hours
        return {
            "kind": KIND,
            "version": __version__,
            "schedule_sha256": result_sha256(places),
            "made_with": {
                "start_at": _iso(schedule.start),
                "work_s": self.seconds,
                "solver": solver_version(),
                "hall": hall_as_plain(self.hall),
                "jobs": jobs_as_plain(self.given),
                "standing": jobs_as_plain(self.standing),
            },
            "ready": self.ready,
            "jobs": len(schedule.places),
            "late": len(self.late),
            "weighted_late_h": round(hours(planned.late), 4),
            "bound_h": round(hours(planned.bound.late), 4),
            "bound_from": planned.bound.how,
            "gap_percent": round(100.0 * planned.gap, 2),
            "first_h": round(hours(planned.first_late), 4),
            "searched_h": round(hours(planned.searched_late), 4),
            "end_at": _iso(schedule.at(schedule.end)),
            "least_end_at": _iso(schedule.at(least_end(planned.problem))),
            "change_minutes": schedule.change_minutes,
            "done": list(self.done),
            "moved": self.moved,
            "schedule": places,
            "late_jobs": [_late(one, schedule) for one in self.late],
            "unplanned": [{"job": job.id, "why": why} for job, why in schedule.unplanned],
            "findings": [one.as_dict() for one in self.findings],
            "line_findings": [one.as_dict() for one in self.line_findings],
        }


def solver_version() -> str:
    """Name and version of the solver; told where it is not installed."""
    try:
        return f"ortools {version('ortools')}"
    except PackageNotFoundError:
        return "none"


def refused_as_dict(findings: Sequence[LineFinding], more: int) -> dict[str, Any]:
    """What is told where a file of jobs is refused.

    Parameters
    ----------
    findings : sequence of LineFinding
    more : int
        Findings beyond those.
    """
    return {"ready": False, "schedule": [], "line_findings": [one.as_dict() for one in findings], "more_findings": more}


def _late(one: Late, schedule: Schedule) -> dict[str, Any]:
    return {
        "job": one.place.job.id,
        "press": one.place.press,
        "late_minutes": one.place.late,
        "weight": one.place.job.weight,
        "why": one.reason,
        "earliest_at": _iso(schedule.at(one.earliest)),
        "behind": list(one.behind),
        "could": list(one.could),
    }


def _iso(moment: datetime) -> str:
    return moment.isoformat(timespec="minutes")
