"""Dates counted back in working days. Everything expected is *by hand* or by walking the days one by one."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.works.press_dates import LeadDays, days_back, disc_dates

DAYS = LeadDays(
    week=5, master=1, mother=1, stamper=1, parts_a_day=6, approval=5, labels=2, compound=2, sleeves=1, jackets=1,
    finish=4, pack=2,
)  # fmt: skip


def walked(day: date, count: int, week: int) -> date:
    while day.weekday() >= week:
        day -= timedelta(days=1)
    for _ in range(count):
        day -= timedelta(days=1)
        while day.weekday() >= week:
            day -= timedelta(days=1)
    return day


@given(st.dates(date(1990, 1, 1), date(2060, 1, 1)), st.integers(0, 60), st.sampled_from([5, 6, 7]))
def test_days_are_walked(day: date, count: int, week: int) -> None:
    assert days_back(day, count, week) == walked(day, count, week)


def test_a_week_in_may() -> None:
    """Friday 30 May 2031; a Sunday counts as the Friday before."""
    assert days_back(date(2031, 5, 30), 4, 5) == date(2031, 5, 26)
    assert days_back(date(2031, 5, 30), 5, 5) == date(2031, 5, 23)
    assert days_back(date(2031, 6, 1), 0, 5) == date(2031, 5, 30)
    assert days_back(date(2031, 6, 1), 0, 7) == date(2031, 6, 1)


def test_an_order_of_one_day() -> None:
    """The press works on Monday, four days before Friday the 30th; everything else lies before it."""
    told = disc_dates(date(2031, 5, 30), 4 * 3600.0, 16.0, 4, 2, 2, DAYS)
    assert told.press_start == told.press_end == date(2031, 5, 26)
    assert told.stampers == date(2031, 5, 19)
    assert (told.mothers, told.masters, told.lacquers) == (date(2031, 5, 16), date(2031, 5, 15), date(2031, 5, 14))
    assert told.labels == told.compound == date(2031, 5, 22)
    assert (told.sleeves, told.jackets) == (date(2031, 5, 23), date(2031, 5, 27))


def test_a_long_order_begins_earlier() -> None:
    """33 hours at 16 a day are three days, 22 May to 26 May; 14 stampers at six a day take two days more."""
    told = disc_dates(date(2031, 5, 30), 33 * 3600.0, 16.0, 14, 2, 2, DAYS)
    assert (told.press_start, told.press_end) == (date(2031, 5, 22), date(2031, 5, 26))
    assert told.stampers == date(2031, 5, 15)
    assert told.mothers == date(2031, 5, 12)
    # Exactly 32 hours are two days.
    assert disc_dates(date(2031, 5, 30), 32 * 3600.0, 16.0, 1, 1, 1, DAYS).press_start == date(2031, 5, 23)


@given(st.floats(0.0, 5e6), st.integers(1, 300), st.integers(1, 40), st.integers(1, 40))
def test_one_thing_after_the_other(seconds: float, stampers: int, mothers: int, masters: int) -> None:
    told = disc_dates(date(2031, 5, 30), seconds, 16.0, stampers, mothers, masters, DAYS)
    order = (told.lacquers, told.masters, told.mothers, told.stampers, told.press_start, told.press_end, told.due)
    assert list(order) == sorted(order)
    assert max(told.labels, told.compound, told.sleeves) < told.press_start


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"week": 4}, "a week of 4 working days is none; give 5, 6 or 7."),
        ({"parts_a_day": 0}, "baths that finish no part in a day grow nothing; give at least 1."),
        ({"pack": 5}, "packing of 5 days does not fit into 4 after the press; give fewer."),
    ],
)
def test_days_that_cannot_be(change: dict[str, int], sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        replace(DAYS, **change)
    assert str(refusal.value) == sentence


def test_before_the_calendar() -> None:
    with pytest.raises(CallError) as refusal:
        days_back(date(1, 1, 10), 30, 5)
    assert str(refusal.value) == "30 working days before 0001-01-10 no calendar had begun; give a later due date."
    with pytest.raises(CallError) as refusal:
        disc_dates(date(2031, 5, 30), 1e10, 16.0, 1, 1, 1, DAYS)
    assert str(refusal.value) == (
        "a press that is taken for 173612 days has no date; order fewer, or give it more presses."
    )
