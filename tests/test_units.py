"""What people type and what they are shown."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.units import INCH, TO_SI, clock, decibels, lines_per_inch, number, seconds


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


def test_every_factor_to_si() -> None:
    # Exact by definition; a turn a minute is a sixtieth of a turn a second.
    assert {unit: pytest.approx(factor, rel=1e-15) for unit, factor in TO_SI.items()} == {
        "mm": 0.001,
        "um": 0.000001,
        "cm_s": 0.01,
        "mm_s": 0.001,
        "m_s": 1.0,
        "m_s2": 1.0,
        "km_s2": 1000.0,
        "hz": 1.0,
        "s": 1.0,
        "ms": 0.001,
        "deg": 0.017453292519943295,
        "db": 1.0,
        "v": 1.0,
        "rpm": 0.016666666666666666,
        "percent": 0.01,
        "mn": 0.001,
        "um_per_turn": 0.000001,
    }
    assert INCH == 0.0254


@given(st.decimals(-1000, 1000, places=4), st.sampled_from([".", ","]))
def test_point_and_comma_mean_the_same(value: object, mark: str) -> None:
    text = str(value).replace(".", mark)
    assert number(text, "level") == float(str(value))


@pytest.mark.parametrize(
    ("text", "value"), [("0,125", 0.125), ("1,25", 1.25), ("1234,567", 1234.567), ("12,3456", 12.3456)]
)
def test_a_comma_that_can_only_be_a_decimal(text: str, value: float) -> None:
    assert number(text, "width") == value


def test_refusals_end_with_what_to_type() -> None:
    with pytest.raises(CallError) as trouble:
        number("1,234", "width")
    assert str(trouble.value) == "width: “1,234” could mean a thousand or a decimal; write 1234 or 1.234."
    with pytest.raises(CallError) as trouble:
        number("wide", "width")
    assert str(trouble.value) == "width: “wide” is not a number; write for example 9.2 or 9,2."
    with pytest.raises(CallError) as trouble:
        seconds("4:61", "band")
    assert str(trouble.value) == "band: “4:61” is not a time; write for example 4:31.5."


@given(st.integers(0, 35_999))
def test_what_the_clock_shows_is_the_time_that_is_read(tenths: int) -> None:
    """There and back, to the tenth, for everything a side can last."""
    assert seconds(clock(tenths / 10), "band") == pytest.approx(tenths / 10, abs=1e-9)


@pytest.mark.parametrize(
    ("time", "shown"),
    # By hand.
    [(0.0, "0:00.0"), (-0.04, "0:00.0"), (-0.06, "-0:00.1"), (59.94, "0:59.9"), (59.96, "1:00.0"), (3661.0, "61:01.0")],
)
def test_clock(time: float, shown: str) -> None:
    assert clock(time) == shown


def test_lines_and_decibels() -> None:
    # Published (handbook): 8.8 lines/mm are 223 lines per inch; by hand: √2 is 3.01 dB, 0.1 is -20 dB.
    assert lines_per_inch(1e-3 / 8.8) == pytest.approx(223.5, abs=0.1)
    assert lines_per_inch(1.5875e-3) == pytest.approx(16.0)
    assert decibels(math.sqrt(2)) == pytest.approx(3.0103, abs=1e-4)
    assert decibels(0.1) == pytest.approx(-20.0)
    # Published (reference 4.1): 5 to 7.07 is 3.01 dB, 5 to 8 is 4.08, 5 to 10 is 6.02, 7 to 8 is 1.16.
    for low, high, db in ((5, 7.07, 3.01), (5, 8, 4.08), (5, 10, 6.02), (7, 8, 1.16)):
        assert decibels(high / low) == pytest.approx(db, abs=0.005)
