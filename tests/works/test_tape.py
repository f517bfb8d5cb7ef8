"""Tape copies: arithmetic of speed, length and time, and the order of programme by running a tape backwards.

Sums are *by hand*, or *by another road*: worked apart.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.works.tape import Copying, TapeBand, halves, running_order, side_seconds

INCH, FOOT = 0.0254, 0.3048
SEVEN_AND_A_HALF = Copying(7.5 * INCH, 4.0, 10, 3.75 * 60)


@pytest.mark.parametrize(("ips", "feet"), [(7.5, 1125.0), (3.75, 562.5), (1.875, 281.25)])
def test_length(ips: float, feet: float) -> None:
    """By hand, exact: 30 minutes."""
    assert Copying(ips * INCH, 4.0, 10, 0.0).length(1800.0) / FOOT == pytest.approx(feet, rel=1e-12)


def test_length_in_metres() -> None:
    assert SEVEN_AND_A_HALF.length(1800.0) == pytest.approx(342.9, abs=1e-9)  # by hand, exact


def test_pass_and_throughput() -> None:
    """By hand, exact: 45 minutes at 4 × are 11.25; ten slaves with 3.75 to reload make 40 an hour."""
    assert SEVEN_AND_A_HALF.pass_seconds(45 * 60) / 60 == 11.25
    assert SEVEN_AND_A_HALF.per_hour(45 * 60) == 40.0
    assert SEVEN_AND_A_HALF.passes(200) == 20
    assert SEVEN_AND_A_HALF.passes(201) == 21
    assert SEVEN_AND_A_HALF.seconds(201, 45 * 60) / 3600 == 21 / 4  # by hand: a quarter of an hour each


def test_speeds_and_what_moves_with_them() -> None:
    """By hand: 30 in/s for copies of 7½; 15 kHz are 60; 3180/50 µs become 795/12.5."""
    assert SEVEN_AND_A_HALF.slave_speed / INCH == pytest.approx(30.0)
    assert Copying(3.75 * INCH, 4.0, 10, 0.0).slave_speed / INCH == pytest.approx(15.0)
    assert SEVEN_AND_A_HALF.at_the_heads(15e3) == 60e3
    assert [SEVEN_AND_A_HALF.time_constant(one * 1e-6) * 1e6 for one in (3180, 50)] == pytest.approx([795, 12.5])


def test_order_of_programme() -> None:
    """By hand: T = 100 s at 4 ×. The first side's place x passes at (100 − x)/4, the second's at x/4."""
    first = (TapeBand("a", 40.0, 2.0), TapeBand("b", 58.0, 5.0))
    second = (TapeBand("c", 30.0, 2.0), TapeBand("d", 48.0, 2.0))
    told = [(one.band, one.start, one.end, one.backwards) for one in running_order((first, second), 4.0)]
    assert told == [
        ("b", 0.0, 14.5, True),
        ("c", 0.0, 7.5, False),
        ("d", 8.0, 20.0, False),
        ("a", 15.0, 25.0, True),
    ]


bands = st.lists(st.tuples(st.floats(1.0, 900.0), st.floats(0.0, 10.0)), min_size=1, max_size=8)


@given(bands, bands, st.sampled_from([1.0, 2.0, 4.0, 8.0]))
def test_a_copy_ends_at_its_head(one: list[tuple[float, float]], two: list[tuple[float, float]], ratio: float) -> None:
    """By another road: wind the tape from its tail to its head and write down what passes."""
    sides = [
        tuple(TapeBand(f"{k}-{i}", *band) for i, band in enumerate(side)) for k, side in enumerate((one, two))
    ]  # fmt: skip
    whole = max(side_seconds(side) for side in sides)
    passing = {band.band: band for band in running_order(sides, ratio)}
    for k, side in enumerate(sides):
        at = 0.0
        for band in side:
            # Where on the tape, from its head, the band begins and ends; the head passes last, at whole/ratio.
            begin, end = (at, at + band.seconds) if k == 0 else (whole - at, whole - at - band.seconds)
            seen = sorted(((whole - begin) / ratio, (whole - end) / ratio))
            assert [passing[band.id].start, passing[band.id].end] == pytest.approx(seen, abs=1e-9)
            at += band.seconds + band.gap
    assert max(one.end for one in passing.values()) <= whole / ratio + 1e-9
    longer = max(range(2), key=lambda k: side_seconds(sides[k]))
    assert max(band.end for band in passing.values() if band.side == longer) == pytest.approx(whole / ratio)


def test_halves() -> None:
    """By hand: 5 + 5 against 11; the gap at the turn is none."""
    made = halves([TapeBand("a", 5.0, 1.0), TapeBand("b", 5.0, 9.0), TapeBand("c", 11.0)])
    assert [[one.id for one in side] for side in made] == [["a", "b"], ["c"]]
    assert [side_seconds(side) for side in made] == [11.0, 11.0]
    assert halves([TapeBand("a", 5.0)]) == ((TapeBand("a", 5.0),),)


@given(st.lists(st.floats(1.0, 600.0), min_size=2, max_size=7))
def test_halves_are_the_best(lengths: list[float]) -> None:
    """By another road: every place to turn the tape over."""
    all_bands = [TapeBand(str(k), length, 2.0) for k, length in enumerate(lengths)]
    made = halves(all_bands)
    assert [one for side in made for one in side] == all_bands
    best = min(max(side_seconds(all_bands[:k]), side_seconds(all_bands[k:])) for k in range(1, len(all_bands)))
    assert max(side_seconds(side) for side in made) == best


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ((0.0, 4.0, 10, 0.0), "a tape speed of 0 cm/s is none; give from 1 to 200 cm/s."),
        ((0.19, 0.5, 10, 0.0), "copying at 0.5 times playing speed is none; give from 1 to 128."),
        ((0.19, math.nan, 10, 0.0), "copying at nan times playing speed is none; give from 1 to 128."),
        ((0.19, 4.0, 0, 0.0), "0 slaves copy nothing; give from 1 to 1000."),
        ((0.19, 4.0, 10, -60.0), "a reload of -1 minutes is none; give from 0 to a day."),
    ],
)
def test_what_cannot_be(values: tuple[float, float, int, float], sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        Copying(*values)
    assert str(refusal.value) == sentence


def test_a_tape_has_one_or_two_sides() -> None:
    side = (TapeBand("a", 5.0),)
    with pytest.raises(CallError) as refusal:
        running_order((side, side, side), 4.0)
    assert str(refusal.value) == "a tape of 3 sides is none; give one or two, and the rest to another tape."
    with pytest.raises(CallError, match="a tape without bands holds nothing"):
        halves([])
