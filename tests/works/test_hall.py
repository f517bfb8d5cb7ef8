"""Presses, jobs, places: what they say of themselves. Everything expected is *by hand*."""

from __future__ import annotations

from datetime import timedelta
from zoneinfo import ZoneInfo

from hall_cases import START, job, press

from discwright.works.hall import Change, Place, Schedule


def test_what_a_press_lacks_for_a_job() -> None:
    one = press(colours=frozenset({"black"}), abilities=frozenset({"heavy"}))
    assert one.lacks(job("a", 10)) == ()
    assert one.lacks(job("a", 10, needs=frozenset({"heavy"}))) == ()
    assert one.lacks(job("a", 10, size="7in", colour="red", needs=frozenset({"splatter"}))) == (
        "size 7in", "colour red", "splatter",
    )  # fmt: skip
    assert one.lacks(job("a", 10, press="P9")) == ("the job is bound to press P9",)


def test_a_press_without_colours_runs_any() -> None:
    assert press().lacks(job("a", 10, colour="orange")) == ()


def test_what_is_left_and_what_waits() -> None:
    assert job("a", 500, made=120).left == 380
    assert job("a", 500, made=501).left == 0
    assert job("a", 500, waits_for="a verdict").waits
    assert not job("a", 500, waits_for="a verdict", ready=START).waits
    assert not job("a", 500).waits


def test_a_schedules_sums_and_moments() -> None:
    start = START.astimezone(ZoneInfo("Europe/Vienna"))
    places = (
        Place(job("a", 60, 100, 2.0), "P1", 0, 40, 160, Change(40), 60, 0, 100),
        Place(job("b", 60), "P1", 160, 180, 240, Change(colour=20), 60, 0, None),
    )
    schedule = Schedule(start, places)
    assert (places[0].late, places[1].late) == (60, 0)
    assert schedule.weighted_late_h == 2.0
    assert (schedule.change_minutes, schedule.end) == (60, 240)
    assert schedule.at(90) == START + timedelta(minutes=90)
    assert schedule.at(90).isoformat() == "2031-04-07T09:30:00+02:00"
