"""The schedule of the press hall as the page has it: how good it is, what is late in it and why, the chart."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from discwright.acts.hall_findings import duration
from discwright.desk.hall_parts import LateRow, ScheduleBlock
from discwright.files.hall_chart import draw_hall
from discwright.files.hall_plan import open_hall
from discwright.works.hall_late import REASONS
from discwright.works.hall_problem import pose

CHART = "/hall/schedule.svg"
_DAY_MIN = 1440
#: Jobs that are named as those before a late one.
_NAMED = 3


def schedule_of(document: Mapping[str, Any] | None) -> ScheduleBlock:
    """What a kept schedule says; that none is kept, where none is.

    Parameters
    ----------
    document : mapping or None
        As :meth:`discwright.acts.hall_report.HallReport.document` makes it.
    """
    if document is None:
        return ScheduleBlock("No schedule is kept yet.", "", "", ())
    late = [_late(one) for one in document["late_jobs"]]
    late += [LateRow(one["job"], "", "has no place", f"It {one['why']}.") for one in document["unplanned"]]
    presses = len(document["made_with"]["hall"]["presses"])
    words = f"{_many(document['jobs'], 'job')} on {_many(presses, 'press', 'presses')}"
    return ScheduleBlock(_sentence(document, words), CHART, f"Chart of the schedule: {words}", tuple(late))


def _many(count: int, one: str, many: str = "") -> str:
    return f"{count} {one if count == 1 else many or f'{one}s'}"


def _sentence(document: Mapping[str, Any], words: str) -> str:
    """From when to when, how many are late, and how much better the best plan could be."""
    start, end = document["made_with"]["start_at"], document["end_at"]
    late = f"{_many(document['late'], 'job')} late" if document["late"] else "nothing is late"
    gap = ""
    if document["late"]:
        bound = document["bound_h"]
        best = f" (no plan below {bound:g})" if bound < document["weighted_late_h"] else " (no plan has less)"
        gap = f", {document['weighted_late_h']:g} h times weight{best}"
    return f"{words}, {_moment(start)} to {_moment(end)}: {late}{gap}."


def _moment(text: str) -> str:
    """A moment as it was written in the hall's zone, without its offset."""
    return text[:16].replace("T", " ")


def _late(one: Mapping[str, Any]) -> LateRow:
    behind = list(one["behind"])[-_NAMED:]
    before = f"; it waits behind {', '.join(behind)}" if behind else ""
    could = f"; alone it would be in time on {', '.join(one['could'][:_NAMED])}" if one["could"] else ""
    why = REASONS.get(one["why"], str(one["why"]))
    words = f"{why}{before}{could}."
    return LateRow(
        one["job"], one["press"], f"late by {duration(one['late_minutes'])}", f"{words[:1].upper()}{words[1:]}"
    )


def schedule_svg(document: Mapping[str, Any]) -> bytes:
    """The chart of a kept schedule.

    Parameters
    ----------
    document : mapping

    Raises
    ------
    CallError
        If it is no whole schedule, or was changed after it was kept.
    """
    with tempfile.TemporaryDirectory(prefix="discwright-hall-") as place:
        kept_at, chart = Path(place) / "schedule.json", Path(place) / "schedule.svg"
        kept_at.write_text(json.dumps(dict(document)), encoding="utf-8")
        kept = open_hall(kept_at)
        schedule = kept.schedule
        standing = [one.job for one in schedule.places]
        problem = pose(kept.hall, standing, schedule.start, schedule.end // _DAY_MIN + 2)
        draw_hall(chart, schedule, problem, schedule_of(document).picture_words)
        return chart.read_bytes()
