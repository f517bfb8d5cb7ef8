"""The schedule on the page of the hall: from a schedule that was planned and kept, to words and a chart."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from discwright.acts.hall import plan_jobs
from discwright.desk.show_schedule import CHART, schedule_of, schedule_svg
from discwright.errors import CallError
from discwright.works.hall import ChangeMinutes, Hall, Job, Press, Shift

MONDAY = datetime(2031, 4, 7, 6, 0, tzinfo=UTC)


def document(due_h: float = 3.0) -> dict[str, Any]:
    """Two jobs of 240 discs at 30 s on one press, manned from six to six; the second is due after some hours."""
    shifts, nothing = (Shift(tuple(range(7)), 360, 1080),), frozenset[str]()
    changes, cycle = ChangeMinutes(30, 0, 0, 0), {"12in": 30.0}
    press = Press("2", frozenset({"12in"}), nothing, nothing, shifts, frozenset(), 1.0, changes, cycle)
    jobs = [
        Job("NL 4/lp A/B", "NL 4/lp", "12in", "black", 240, due=MONDAY + timedelta(hours=2.5), weight=9.0),
        Job("KV 900/lp A/B", "KV 900/lp", "12in", "black", 240, due=MONDAY + timedelta(hours=due_h)),
        Job("MB 2/lp A/B", "MB 2/lp", "12in", "black", 100, waits_for="side B: a stamper"),
    ]
    return plan_jobs(Hall((press,)), jobs, MONDAY, seconds=0.0).document()


def test_none_is_kept() -> None:
    block = schedule_of(None)
    assert (block.sentence, block.picture_href, block.late) == ("No schedule is kept yet.", "", ())


def test_what_is_late_and_why() -> None:
    block = schedule_of(document())
    # By hand: each takes 30 min of change and 2 h; the first ends at 8:30, the second at 11:00, 2 h after it is due.
    assert block.sentence.startswith("2 jobs on 1 press, 2031-04-07 06:00 to 2031-04-07 11:00: 1 job late, 2 h times")
    assert "(no plan" in block.sentence
    late, placeless = block.late
    assert (late.job, late.press, late.late) == ("KV 900/lp A/B", "2", "late by 2 h")
    assert "it waits behind NL 4/lp A/B" in late.why
    assert "alone it would be in time on 2" in late.why
    assert (placeless.job, placeless.late) == ("MB 2/lp A/B", "has no place")
    assert (block.picture_href, block.picture_words) == (CHART, "Chart of the schedule: 2 jobs on 1 press")


def test_nothing_is_late() -> None:
    assert "nothing is late." in schedule_of(document(due_h=5.0)).sentence


def test_the_chart_is_drawn_from_what_was_kept() -> None:
    kept = document()
    drawn = schedule_svg(kept).decode()
    assert drawn.lstrip().startswith(("<svg", "<?xml"))
    for words in ("NL 4/lp A/B on 2: 240 of NL 4/lp", "LATE", "late 2 h"):
        assert words in drawn
    kept["schedule"][0]["end_at"] = kept["schedule"][0]["start_at"]
    with pytest.raises(CallError, match="was changed after it was kept"):
        schedule_svg(kept)
