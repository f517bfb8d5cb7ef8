"""Shifts, manned minutes, runs and changes. Everything expected is *by hand* unless it says otherwise."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from hall_cases import ALWAYS, EARLY, LATE, NIGHT, START, USUAL, job, press
from hypothesis import given
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.works.hall import Change, OnPress, Shift
from discwright.works.hall_times import (
    PressClock,
    change_between,
    manned_spans,
    minutes_from,
    read_moment,
    run_minutes,
    stamper_swaps,
)

VIENNA = ZoneInfo("Europe/Vienna")


def test_work_and_clock_around_a_closed_night() -> None:
    clock = PressClock([(0, 480), (1440, 1920)])
    assert [clock.work_until(at) for at in (0, 300, 480, 1000, 1440, 1500)] == [0, 300, 480, 480, 480, 540]
    # 480 manned minutes end with the shift; the next minute begins with the next one.
    assert (clock.ends(480), clock.begins(480)) == (480, 1440)
    assert (clock.ends(481), clock.begins(481)) == (1441, 1441)
    assert clock.ends(0) == 0
    # After the last span it counts as manned throughout.
    assert (clock.ends(1000), clock.work_until(2000)) == (1960, 1040)


@given(
    st.lists(st.tuples(st.integers(1, 50), st.integers(1, 50)), min_size=1, max_size=6),
    st.integers(0, 700),
)
def test_clock_and_work_agree_with_counting(steps: list[tuple[int, int]], work: int) -> None:
    """By another road: every manned minute counted."""
    spans, at = [], 0
    for gap, length in steps:
        spans.append((at + gap, at + gap + length))
        at += gap + length
    clock = PressClock(spans)
    minutes = [m for a, b in spans for m in range(a, b)] + list(range(at, at + 1000))
    assert clock.begins(work) == minutes[work]
    assert clock.ends(work) == (minutes[work - 1] + 1 if work else 0)
    assert clock.work_until(minutes[work]) == work


def test_shifts_of_a_week() -> None:
    """Monday 06:00 on: two shifts that touch are one span, nothing on Saturday and Sunday."""
    spans = manned_spans((EARLY, LATE), frozenset(), UTC, START, 8)
    assert spans[:5] == tuple((day * 1440, day * 1440 + 960) for day in range(5))
    assert spans[5] == (7 * 1440, 7 * 1440 + 960)


def test_a_night_shift_belongs_to_the_day_it_begins_on() -> None:
    # From Monday 06:00: what is left of none of Sunday's (there is none); Monday 22:00 is minute 960.
    assert manned_spans((NIGHT,), frozenset(), UTC, START, 2)[0] == (960, 1440)
    # On Tuesday 03:00 the shift of Monday is under way for three hours more.
    assert manned_spans((NIGHT,), frozenset(), UTC, datetime(2031, 4, 8, 3, tzinfo=UTC), 1)[0] == (0, 180)


def test_no_shift_begins_on_a_closed_day() -> None:
    spans = manned_spans((EARLY,), frozenset({date(2031, 4, 8)}), UTC, START, 3)
    assert spans == ((0, 480), (2880, 3360))


def test_when_the_clocks_are_put_on_a_night_is_an_hour_shorter() -> None:
    """Central Europe, the night to Sunday 30 March 2031: 22:00 to 06:00 is seven hours."""
    saturday = Shift((5,), 1320, 1800)
    start = datetime(2031, 3, 29, 12, tzinfo=VIENNA)
    assert manned_spans((saturday,), frozenset(), VIENNA, start, 2) == ((600, 1020),)


def test_always_manned_is_one_span() -> None:
    assert manned_spans((ALWAYS,), frozenset(), UTC, START, 10) == ((0, 14_400),)


def test_days_and_moments() -> None:
    assert read_moment("2031-04-02", VIENNA, "due").isoformat() == "2031-04-02T00:00:00+02:00"
    assert read_moment("2031-04-02", VIENNA, "due", end=True).isoformat() == "2031-04-03T00:00:00+02:00"
    assert read_moment("2031-04-02T14:00", VIENNA, "due", end=True).isoformat() == "2031-04-02T14:00:00+02:00"
    assert read_moment("2031-04-02T14:00Z", VIENNA, "due") == datetime(2031, 4, 2, 14, tzinfo=UTC)


@pytest.mark.parametrize("text", ["tomorrow", "2031-02-30", "", "02.04.2031", "2031-04-02T25:00", "0000-01-01"])
def test_no_moment(text: str) -> None:
    with pytest.raises(CallError, match=r"due: “.*” is no day or time; write 2031-04-02 or 2031-04-02T14:00\."):
        read_moment(text, UTC, "due")


def test_a_year_that_is_a_slip() -> None:
    with pytest.raises(CallError, match="the year 1031 is a slip of the pen"):
        read_moment("1031-04-02", UTC, "due")


def test_minutes_are_rounded_towards_the_safe_side() -> None:
    moment = datetime(2031, 4, 7, 6, 10, 30, tzinfo=UTC)
    assert (minutes_from(START, moment), minutes_from(START, moment, up=True)) == (10, 11)


def test_how_long_a_job_runs() -> None:
    """Published rule: N · cycle / 3600 / running fraction, + changes · change time."""
    one = press(running=0.8, changes=USUAL, cycle_s={"12in": 24.0})
    # 2500 · 24 / 60 / 0.8 = 1250, and stampers after 1000 and 2000 discs: 2 · 40.
    assert run_minutes(one, job("a", 2500, stamper_life=1000)) == 1330
    assert run_minutes(one, job("a", 2500, stamper_life=1000, cycle_s=48.0)) == 2580
    assert run_minutes(one, job("a", 2500, stamper_life=1000, made=2500)) == 0
    # 1 disc is half a minute: a minute is begun.
    assert run_minutes(one, job("a", 1)) == 1


@pytest.mark.parametrize(
    ("count", "made", "swaps"),
    [(1000, 0, 0), (1001, 0, 1), (2000, 0, 1), (2001, 0, 2), (2001, 999, 2), (2001, 1000, 2), (2001, 1001, 1),
     (2001, 2000, 1), (2001, 2001, 0), (5, 0, 0)],
)  # fmt: skip
def test_stampers_within_a_job(count: int, made: int, swaps: int) -> None:
    assert stamper_swaps(job("a", count, stamper_life=1000, made=made)) == swaps


def test_what_is_changed_between_two_jobs() -> None:
    a, b = OnPress("E1", "12in", "black"), OnPress("E2", "12in", "red")
    assert change_between(USUAL, a, a) == Change()
    assert change_between(USUAL, a, OnPress("E2", "12in", "black")) == Change(stampers=40)
    assert change_between(USUAL, a, b) == Change(stampers=40, colour=45)
    assert change_between(USUAL, b, a) == Change(stampers=40, colour=20)
    assert change_between(USUAL, a, OnPress("E1", "7in", "black")) == Change(stampers=40, size=90)
    # Nobody knows what is on the press: everything, as from black.
    assert change_between(USUAL, OnPress(), b).minutes == 40 + 45 + 90
    assert change_between(USUAL, OnPress(), a).minutes == 40 + 20 + 90
