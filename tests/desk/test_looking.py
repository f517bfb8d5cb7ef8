"""Places of the disc against the spiral's own rows and the motion of every sample, by another road."""

from __future__ import annotations

import math

import numpy as np
import pytest

from discwright.desk.looking import clock3, describe, look_at, look_up, measure
from discwright.desk.opened import OpenPlan
from discwright.desk.words import INCHES, Words
from discwright.errors import CallError

METRIC = Words()


def place(radius: float, time: float, turn_time: float) -> tuple[float, float]:
    """A place by polar coordinates: anticlockwise from 12 o'clock, x right, y down."""
    angle = 2 * math.pi * time / turn_time
    return -radius * math.sin(angle), -radius * math.cos(angle)


@pytest.mark.parametrize("time", [1.0, 7.3, 16.777, 23.9])
def test_walls_land_and_depth_where_the_motion_puts_them(side_a: OpenPlan, time: float) -> None:
    turn_time = side_a.setup.disc.turn_time
    rows, prepared = side_a.rows, side_a.prepared
    assert prepared is not None
    # By another road: straight between rows and between samples.
    at = time * side_a.sample_rate
    moved = [float(np.interp(at, np.arange(len(prepared.edges)), prepared.edges[:, wall])) for wall in (0, 1)]
    centre, half = (float(np.interp(time, rows.time, column)) for column in (rows.radius, rows.depth))
    inner, outer = centre - half + moved[0], centre + half + moved[1]
    for radius, on, deep in (
        (inner + 3e-6, "inner wall", 3.0),
        (outer - 3e-6, "outer wall", 3.0),
        (inner - 2e-6, "land", None),
        (outer + 2e-6, "land", None),
    ):
        found = look_at(side_a, *place(radius, time, turn_time), METRIC)
        assert found.on == on
        assert found.time_s == pytest.approx(time, abs=1e-4)
        assert found.radius_mm == pytest.approx(radius * 1e3, abs=1e-6)
        assert found.width_um == pytest.approx((outer - inner) * 1e6, abs=0.3)
        if deep is not None:
            assert found.depth_um == pytest.approx(deep, abs=0.3)
            assert found.turn == pytest.approx(time / turn_time, abs=1e-4)
    assert found.band == (1 if time < 11 else 2)


def test_parts_of_the_disc_that_hold_no_groove(side_a: OpenPlan) -> None:
    disc = side_a.setup.disc
    for radius, on in (
        (disc.disc_diameter / 2 + 1e-3, "beside the disc"),
        (disc.label_diameter / 2 - 1e-3, "label"),
        (disc.hole_diameter / 2 - 1e-3, "hole"),
    ):
        found = look_at(side_a, radius, 0.0, METRIC)
        assert (found.on, found.time_s, found.angle_deg) == (on, None, 270.0)
    with pytest.raises(CallError, match="choose one on it"):
        look_at(side_a, 1e9, 0.0, METRIC)
    with pytest.raises(CallError, match="choose one on it"):
        look_at(side_a, float("nan"), 0.0, METRIC)


def test_a_moment_and_its_place_are_the_same_spot(side_a: OpenPlan) -> None:
    for time in (-1.0, 0.0, 11.5, 24.0):
        there = look_up(side_a, time, METRIC)
        back = look_at(side_a, there.x_um * 1e-6, there.y_um * 1e-6, METRIC)
        assert back.time_s == pytest.approx(time, abs=1e-4)
        assert there.turn == pytest.approx(time / 1.8, abs=1e-6)  # by hand: 33⅓ rpm
    with pytest.raises(CallError, match="choose a time between"):
        look_up(side_a, 1e4, METRIC)


def test_the_ruler_by_hand(side_a: OpenPlan) -> None:
    # By hand: from 12 o'clock to 9 o'clock at 0.1 m.
    found = measure(side_a, (0.0, -0.1), (-0.1, 0.0), METRIC)
    assert found.distance_um == pytest.approx(0.1e6 * math.sqrt(2), abs=1e-3)
    assert found.angle_deg == pytest.approx(90.0, abs=1e-5)
    assert found.radial_um == pytest.approx(0.0, abs=1e-3)
    # Five turns further along the same angle, by the spiral itself.
    times = np.array([2.0, 11.0]) * 1.8
    ends = [place(float(np.interp(t, side_a.rows.time, side_a.rows.radius)), t, 1.8) for t in times]
    found = measure(side_a, ends[0], ends[1], METRIC)
    assert found.turns == pytest.approx(9.0, abs=1e-4)
    assert dict(measure(side_a, ends[0], ends[1], Words(INCHES)).words)["turns between"] == "9.00"


def test_a_view_in_sentences(side_a: OpenPlan) -> None:
    whole = " ".join(describe(side_a, 0.0, 0.0, 0.32, 0.32, METRIC).sentences)
    assert "It shows the whole disc." in whole
    assert "of bands 1 to 2" in whole
    at = look_up(side_a, 5.0, METRIC)
    near = " ".join(describe(side_a, at.x_um * 1e-6, at.y_um * 1e-6, 2e-4, 2e-4, METRIC).sentences)
    assert "turns 2.7 to 2.8" in near or "turns 2.8 to 2.8" in near
    assert "of band 1" in near
    label = " ".join(describe(side_a, 0.03, 0.0, 1e-4, 1e-4, METRIC).sentences)
    assert "only label" in label
    with pytest.raises(CallError, match="zoom in or out"):
        describe(side_a, 0.0, 0.0, 0.0, 1.0, METRIC)


def test_thousandths_of_a_second() -> None:
    assert (clock3(1022.4171), clock3(-0.0001), clock3(-1.5)) == ("17:02.417", "0:00.000", "−0:01.500")
