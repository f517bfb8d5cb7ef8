"""What people type and what they are shown."""

from __future__ import annotations

import math

import pytest

from discwright.errors import CallError
from discwright.units import clock, decibels, lines_per_inch, number, seconds


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("9.2", 9.2),
        ("9,2", 9.2),
        (" -3 ", -3.0),
        ("+0.5", 0.5),
        ("−1,5", -1.5),
        ("0,125", 0.125),
        ("1234", 1234.0),
    ],
)
def test_numbers(text: str, value: float) -> None:
    assert number(text, "level") == value


@pytest.mark.parametrize("text", ["1,234", "-12,500"])
def test_unclear_numbers_are_refused(text: str) -> None:
    with pytest.raises(CallError, match="could mean a thousand or a decimal"):
        number(text, "level")


@pytest.mark.parametrize("text", ["", "abc", "1.2.3", "1,2,3", "nan", "inf", "1e3", "0x10"])
def test_what_is_no_number(text: str) -> None:
    with pytest.raises(CallError, match="is not a number; write for example"):
        number(text, "level")


@pytest.mark.parametrize(
    ("text", "value"), [("75", 75.0), ("1:15", 75.0), ("1:15,5", 75.5), ("1:02:15", 3735.0), ("0:00", 0.0)]
)
def test_times(text: str, value: float) -> None:
    assert seconds(text, "band") == value


@pytest.mark.parametrize("text", ["1:60", "a:10", "1:2:3:4", "-5", "1:-5", ""])
def test_what_is_no_time(text: str) -> None:
    with pytest.raises(CallError):
        seconds(text, "band")


def test_shown() -> None:
    # By hand.
    assert clock(1022.44) == "17:02.4"
    assert clock(59.97) == "1:00.0"
    assert clock(-2.7) == "-0:02.7"
    assert lines_per_inch(0.000127) == pytest.approx(200.0)
    assert decibels(10.0) == 20.0
    assert decibels(0.0) == -math.inf
