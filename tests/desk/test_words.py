"""Numbers as people read them; conversions by hand."""

from __future__ import annotations

import pytest

from discwright.desk.words import INCHES, Words, at_clock, figures, level, size, time_left

MM, INCH = Words(), Words(INCHES)


def test_lengths_in_both_units() -> None:
    # By hand: 101.6 mm are 4 inches, 25.4 µm a thousandth, 254 µm a turn 100 lines per inch.
    assert (MM.radius(0.1016), INCH.radius(0.1016)) == ("101.60 mm", "4.000 in")
    assert (MM.small(25.4e-6), INCH.small(25.4e-6)) == ("25.4 µm", "1.00 thou")
    assert (MM.pitch(254e-6), INCH.pitch(254e-6)) == ("254.0 µm", "100 lines per inch")
    assert (MM.speed(0.508), INCH.speed(0.508)) == ("508.0 mm/s", "20.00 in/s")
    assert (MM.length(0.5e-3), MM.length(2e-3)) == ("500.00 µm", "2.000 mm")
    assert INCH.pitch(0.0) == "no advance"


def test_a_finding_keeps_its_own_unit_where_inches_have_none() -> None:
    assert INCH.measured(47.2, 45.0, "deg") == "47.2 against 45 deg"
    assert INCH.measured(50.8, 25.4, "mm") == "2 against 1 in"
    assert INCH.measured(50.8, 25.4, "µm") == "2 against 1 thou"
    assert MM.measured(1234.5, -3.0, "mm") == "1234 against −3 mm"


def test_signs_are_true_and_nothing_is_never_negative() -> None:
    assert (level(-0.04), level(3.25), level(-3.2)) == ("+0.0 dB", "+3.2 dB", "−3.2 dB")
    assert MM.radius(-1e-9) == "0.00 mm"
    assert figures(-1e-3) == "−0.001"
    assert (at_clock(None), at_clock(-1.5), at_clock(1022.4)) == ("", "−0:01.5", "17:02.4")


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (None, ""),
        (float("inf"), ""),
        (1.0, "a second"),
        (8.2, "about 8 s"),
        (43.0, "about 45 s"),
        (130.0, "about 2 min"),
    ],
)
def test_time_left_is_no_more_exact_than_it_is_known(seconds: float | None, words: str) -> None:
    assert time_left(seconds) == words


def test_sizes() -> None:
    assert [size(n) for n in (12, 1200, 3_400_000, 2_000_000_000)] == ["12 bytes", "1.2 kB", "3.4 MB", "2 GB"]
