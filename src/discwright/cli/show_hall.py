"""A schedule of the press hall as a few lines for a person: how good it is, what is late and why, what to do."""

from __future__ import annotations

from typing import TYPE_CHECKING

from discwright.cli.show_plan import show_finding
from discwright.findings import count_words

if TYPE_CHECKING:
    from rich.console import Console

    from discwright.acts.hall_report import HallReport
    from discwright.works.hall import Place, Schedule

#: So many places and findings are printed; the JSON has them all.
_PLACES_SHOWN, _FINDINGS_SHOWN = 40, 20


def show_hall(report: HallReport, console: Console) -> None:
    """Print a schedule.

    Parameters
    ----------
    report : HallReport
    console : rich.console.Console
    """
    schedule, planned, hours = report.schedule, report.planned, report.planned.problem.hours
    console.print(
        f"Hall      {len(report.hall.presses)} presses, {len(schedule.places)} jobs from "
        f"{schedule.start:%Y-%m-%d %H:%M} {report.hall.zone_name}, done {schedule.at(schedule.end):%Y-%m-%d %H:%M}, "
        f"{schedule.change_minutes / 60:.1f} h of changes",
        soft_wrap=True,
    )
    for place in schedule.places[:_PLACES_SHOWN]:
        console.print(_place(place, schedule), soft_wrap=True)
    if len(schedule.places) > _PLACES_SHOWN:
        more = len(schedule.places) - _PLACES_SHOWN
        console.print(f"          and {more} more; --json prints them all, --chart draws them", soft_wrap=True)
    if report.done:
        console.print(f"done      {len(report.done)} jobs are done and left out", soft_wrap=True)
    if report.moved is not None:
        console.print(f"moved     {report.moved} jobs to another press than before", soft_wrap=True)
    if planned.late:
        console.print(
            f"late      {hours(planned.late):.1f} h times weight; no plan has less than "
            f"{hours(planned.bound.late):.1f}, so at most {100 * planned.gap:.0f} % of it could be saved",
            soft_wrap=True,
        )
    for note in report.line_findings:
        console.print(f"{note.severity:8}  {note.code:13} {note.sentence}", soft_wrap=True)
    for finding in report.findings[:_FINDINGS_SHOWN]:
        show_finding(finding, console)
    if len(report.findings) > _FINDINGS_SHOWN:
        more = len(report.findings) - _FINDINGS_SHOWN
        console.print(f"          and {more} more; --json prints them all", soft_wrap=True)
    for word, path in (("chart", report.chart), ("kept", report.kept)):
        if path is not None:
            console.print(f"{word:8}  {path}", soft_wrap=True)
    words = count_words(report.findings)
    verdict = "every job in time" if report.ready else "not all can be promised: agree on new days, or change the hall"
    console.print(f"{words[:1].upper()}{words[1:]}: {verdict}.", soft_wrap=True)


def _place(place: Place, schedule: Schedule) -> str:
    job, at = place.job, schedule.at
    due = "" if job.due is None else f"  due {at(place.due or 0):%m-%d %H:%M}"
    late = "  LATE" if place.late else ""
    return (
        f"{place.press:9} {at(place.start):%m-%d %H:%M} to {at(place.end):%m-%d %H:%M}  {job.id}: {job.left} of "
        f"{job.edition}, {job.size} {job.colour}{due}{late}"
    )
