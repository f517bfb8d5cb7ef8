"""A report as a person reads it: measures with their limits, faults with their places on the map."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from discwright.desk.show_play import (
    MOST_ROWS,
    NOT_MEASURED,
    fault_rows,
    kind_rows,
    left_out,
    measure_rows,
    place_um,
    play_facts,
    response_rows,
    verdict_badge,
    verdict_sentence,
)
from discwright.desk.words import INCHES, Words

METRIC = Words()


def test_a_place_on_the_map_is_that_of_the_groove() -> None:
    """By hand: the music runs anticlockwise from 12 o'clock; y runs down."""
    assert place_um(100.0, 0.0) == pytest.approx((0.0, -100_000.0))
    assert place_um(100.0, 90.0) == pytest.approx((-100_000.0, 0.0))
    assert place_um(100.0, 180.0) == pytest.approx((0.0, 100_000.0))
    assert place_um(100.0, 270.0) == pytest.approx((100_000.0, 0.0))


def test_a_fault_lies_where_the_groove_has_its_time(side_a: Any, faulty: Any, reported: Any) -> None:
    """By another road: the surface that the map is drawn from."""
    turn_time = side_a.setup.disc.turn_time
    time = 7.3 * turn_time
    x, y = (float(one[0]) * 1e6 for one in side_a.still.place_of(np.array([time])))
    radius = float(np.interp(time, side_a.rows.time, side_a.rows.radius)) * 1e3
    (row,) = fault_rows(reported([faulty("tick", 7.3, radius_mm=radius)]), METRIC)
    assert (row.x_um, row.y_um) == pytest.approx((x, y), abs=1.0)


def test_measures_with_a_limit_come_first_and_say_whether_they_keep_it(reported: Any) -> None:
    rows = {row.name: row for row in measure_rows(reported(), METRIC)}
    assert list(rows)[:5] == [
        "speed, fast is positive", "wow and flutter, weighted", "hole off the spiral's centre", "separation",
        "surface noise in quiet places",
    ]  # fmt: skip
    off = rows["hole off the spiral's centre"]
    assert (off.value, off.unit, off.best, off.limit) == ("0.31", "mm", "0", "0.2")
    assert off.badge is not None
    assert off.badge.words == "beyond"
    for name in ("speed, fast is positive", "separation", "surface noise in quiet places"):
        badge = rows[name].badge
        assert badge is not None
        assert badge.words == "within"
    assert rows["separation"].best == "more is better"
    assert rows["wow and flutter, weighted"].value == NOT_MEASURED
    assert rows["wow and flutter, weighted"].badge is None
    assert rows["rumble"].badge is None


def test_whoever_reads_inches_gets_inches(reported: Any) -> None:
    rows = {row.name: row for row in measure_rows(reported(), Words(INCHES))}
    # By hand: 0.31 mm / 25.4 = 0.0122 in, 0.2 mm = 0.007874 in.
    assert (rows["hole off the spiral's centre"].value, rows["hole off the spiral's centre"].unit) == ("0.0122", "in")
    assert rows["hole off the spiral's centre"].limit == "0.007874"


def test_faults_as_rows(reported: Any) -> None:
    tick, crackle, skip = fault_rows(reported(), METRIC)
    assert (tick.number, tick.kind, tick.shape, tick.channel) == (1, "tick", "fault-tick", "left")
    # By hand: turn 3.25 at 33⅓ is 5.85 s and a quarter turn.
    assert (tick.when, tick.turn, tick.angle, tick.radius) == ("0:05.850", "3", "90.0°", "145.00 mm")
    assert (tick.size, tick.duration, tick.heard) == ("+14.0 dB", "0.2 ms", True)
    assert (crackle.duration, crackle.heard) == ("0.80 s", False)
    assert (skip.size, skip.duration) == ("", "1.80 s")


def test_the_legend_counts_each_kind_in_its_own_order(reported: Any) -> None:
    assert [(one.kind, one.count) for one in kind_rows(reported())] == [
        ("tick", "1, 1 heard"), ("crackle", "1, none heard"), ("skip", "1, 1 heard")
    ]  # fmt: skip


def test_of_very_many_faults_the_largest_are_shown(reported: Any, faulty: Any) -> None:
    many = reported([faulty("tick", k + 0.5, size_db=k / 100, audible=False) for k in range(MOST_ROWS + 3)])
    rows = fault_rows(many, METRIC)
    assert (len(rows), rows[0].number) == (MOST_ROWS, 4)
    assert left_out(many) == "3 more, the smallest of those that are not heard, stand in inspect.json."
    assert left_out(reported()) == ""


def test_the_verdict_is_a_word_a_shape_and_a_sentence(reported: Any) -> None:
    assert (verdict_badge(reported()).state, verdict_badge(reported()).words) == ("ready", "pass")
    assert verdict_badge(reported(verdict="stop")).words == "stop"
    assert verdict_sentence(reported()) == "3 faults, 2 to be heard; 1 warning."
    assert verdict_sentence(reported([], findings=[])) == "No faults; nothing speaks against it."


def test_response_and_facts(reported: Any) -> None:
    first, second = response_rows(reported())
    assert (first.frequency, first.left, first.right) == ("63 Hz", "+0.1 dB", "")
    assert (second.frequency, second.right) == ("1 kHz", "−0.2 dB")
    facts = {one.name: one for one in play_facts(reported())}
    assert facts["sample rate"].value == "44.1 kHz"
    assert facts["distortion about 0:10.0"].hint == "the proof foretold 0.9 %"


def test_nonsense_in_a_report_is_passed_over(reported: Any, faulty: Any) -> None:
    told = reported([faulty("pop", 3.0, time_s="<b>", radius_mm=None, size_db=float("nan"), angle_deg=True)])
    told["measures"]["noise_db"] = "loud"
    (row,) = fault_rows(told, METRIC)
    assert (row.when, row.radius, row.size, row.angle) == ("", "", "", "")
    assert next(one for one in measure_rows(told, METRIC) if one.name.startswith("surface")).value == NOT_MEASURED
