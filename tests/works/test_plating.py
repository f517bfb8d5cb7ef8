"""Steps of current and what they grow, against printed tables, plain sums and small steps of time.

Kinds of expected numbers: tables are *published* or *by another road* as authorities/README.md says, sums *by hand*.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.works.metals import A_PER_DM2, AMPERE_HOUR, DM2, GRAM, METALS, MICRON, MINUTE
from discwright.works.plating import PlatingRun, Step, face_area, grow, until_target

AUTHORITIES = Path(__file__).parents[1] / "authorities"
NICKEL = METALS["nickel"]
CURRENTS = ("0.5", "1", "1.5", "2", "3", "4", "5", "6", "8", "10", "12")


def rows(name: str) -> list[dict[str, float]]:
    with (AUTHORITIES / name).open(encoding="utf-8") as file:
        return [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]


def step(a_dm2: float, minutes: float | None = None, to_a_dm2: float | None = None) -> Step:
    end = a_dm2 if to_a_dm2 is None else to_a_dm2
    return Step(a_dm2 * A_PER_DM2, end * A_PER_DM2, None if minutes is None else minutes * MINUTE)


def run(*steps: Step, target_um: float = 5000.0, efficiency: float = 1.0, area: float = DM2) -> PlatingRun:
    return grow(NICKEL, efficiency, area, target_um * MICRON, steps)


# tables ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("row", rows("nickel_time_table.csv"), ids=lambda row: f"{row['um']:g}um")
def test_the_printed_time_table(row: dict[str, float]) -> None:
    """Published, at 0.95, two figures: each time within 5 % or 0.6 min, mass and charge within 0.005."""
    for current in CURRENTS:
        grown = run(step(float(current)), target_um=row["um"], efficiency=0.95)
        assert grown.reached
        assert grown.seconds / MINUTE == pytest.approx(row[current], rel=0.05, abs=0.6)
        # The tighter half of the rule, which the printed rounding allows.
        assert grown.seconds / MINUTE == pytest.approx(row[current], rel=0.05)
        assert grown.mass / GRAM == pytest.approx(row["g_dm2"], abs=0.0051)
        assert grown.charge / AMPERE_HOUR == pytest.approx(row["ah_dm2"], abs=0.0051)


def test_the_printed_time_table_has_33_cells() -> None:
    assert sum(len(CURRENTS) for _ in rows("nickel_time_table.csv")) == 33


@pytest.mark.parametrize("row", rows("nickel_planning_hours.csv"), ids=lambda row: f"{row['target_um']:g}um")
def test_planning_times(row: dict[str, float]) -> None:
    """By another road, at 0.955: hours within the last printed digit; 21.30 Ah/dm² is 2½ times a rounded 8.52."""
    for current in ("5", "10", "15", "20"):
        grown = run(step(float(current)), target_um=row["target_um"], efficiency=0.955)
        assert grown.seconds / 3600.0 == pytest.approx(row[current], abs=0.0051)
        assert grown.charge / AMPERE_HOUR == pytest.approx(row["ah_dm2"], abs=0.006)


@pytest.mark.parametrize("row", rows("nickel_plates.csv"), ids=lambda row: f"{row['diameter_mm']:g}mm")
def test_plates(row: dict[str, float]) -> None:
    """By another road: area, weight within 0.5 g, current within 0.5 A."""
    area = face_area(row["diameter_mm"] * 1e-3)
    assert area / DM2 == pytest.approx(row["area_dm2"], abs=0.0051)
    for thickness in ("0.20", "0.25", "0.50"):
        grown = run(step(10.0), target_um=float(thickness) * 1e3, efficiency=0.955, area=area)
        assert grown.mass / GRAM == pytest.approx(row[f"g_at_{thickness}_mm"], abs=0.51)
        assert grown.most_current == pytest.approx(row["amperes_at_10_a_dm2"], abs=0.51)


def test_a_fourteen_inch_plate_to_a_tenth() -> None:
    """By another road: 0.20 mm weigh 176.9 g. Published: 110 to 200 A on it; worked apart, 11.1 to 20.1 A/dm², 1 %."""
    area = face_area(0.3556)
    assert run(step(10.0), target_um=200.0, area=area).mass / GRAM == pytest.approx(176.9, abs=0.1)
    for amperes, a_dm2 in ((110.0, 11.1), (200.0, 20.1)):
        assert amperes / area / A_PER_DM2 == pytest.approx(a_dm2, rel=0.01)
        assert run(step(amperes / area / A_PER_DM2, 1.0), area=area).most_current == pytest.approx(amperes)


def test_electrotypes() -> None:
    """Published: 150 to 200 µm in 30 to 40 min at 20 to 30 A/dm²; worked apart: 25 for 34 min is 174, at 0.955 166."""
    for efficiency, microns in ((1.0, 174.0), (0.955, 166.0)):
        grown = run(step(25.0, 34.0), efficiency=efficiency).thickness / MICRON
        assert 150.0 < grown < 200.0
        assert grown == pytest.approx(microns, abs=0.6)


def test_the_sum_of_steps() -> None:
    """By another road: 21.75 Ah/dm² are 267.4 µm at 1 and 255.3 at 0.955, within 0.1 µm."""
    steps = (step(0.5, 30), step(1, 30), step(2, 30), step(5, 30), step(10, 60), step(15, 30))
    for efficiency, microns in ((1.0, 267.4), (0.955, 255.3)):
        grown = run(*steps, efficiency=efficiency)
        assert grown.charge / AMPERE_HOUR == pytest.approx(21.75, abs=1e-9)
        assert grown.thickness / MICRON == pytest.approx(microns, abs=0.1)
        assert (grown.reached, grown.left_out) == (False, ())


def test_slow_and_fast_regimes() -> None:
    """By another road: 250 µm at 0.955 in 15 h is 1.4 A/dm², in 1.5 h 14."""
    for hours, a_dm2 in ((15.0, 1.4), (1.5, 14.0)):
        charge = run(step(1.0), target_um=250.0, efficiency=0.955).charge / AMPERE_HOUR
        assert charge / hours == pytest.approx(a_dm2, rel=0.02)


# ramps -------------------------------------------------------------------------------------------------


def in_small_steps(first: float, last: float, seconds: float, until: float) -> float:
    """C/m² of a ramp up to a time, by summing a hundred thousand short steady currents."""
    edges = np.linspace(0.0, until, 100_001)
    middles = (edges[:-1] + edges[1:]) / 2
    return float(np.sum((first + (last - first) * middles / seconds) * np.diff(edges)))


@pytest.mark.parametrize(("begin", "end"), [(0.5, 2.0), (0.0, 10.0), (10.0, 0.0), (7.0, 3.0)])
def test_a_ramp_is_the_sum_of_its_moments(begin: float, end: float) -> None:
    """By another road."""
    ramp = step(begin, 30, end)
    for share in (0.25, 0.7, 1.0):
        charge = in_small_steps(ramp.first, ramp.last, 1800.0, 1800.0 * share)
        assert ramp.charge_after(1800.0 * share) == pytest.approx(charge, rel=1e-9)
        assert ramp.seconds_for(charge) == pytest.approx(1800.0 * share, rel=1e-6)
    assert run(ramp).charge / AMPERE_HOUR == pytest.approx((begin + end) / 2 * 0.5)  # by hand: mean × half an hour


def test_a_ramp_stops_on_its_way() -> None:
    whole = run(step(0.0, 60, 10.0)).thickness / MICRON
    grown = run(step(0.0, 60, 10.0), step(10.0, 10), target_um=whole / 4)
    # By hand: from nothing, a quarter of the charge takes half of the time, and half of the current is reached.
    assert grown.seconds / MINUTE == pytest.approx(30.0)
    assert grown.steps[0].last / A_PER_DM2 == pytest.approx(5.0)
    assert grown.steps[0].mean / A_PER_DM2 == pytest.approx(2.5)
    assert grown.most_current == pytest.approx(5.0)
    assert grown.steps[0].cut_short
    assert grown.left_out == (step(10.0, 10),)


# the target --------------------------------------------------------------------------------------------


def test_a_last_step_without_minutes_runs_to_the_target() -> None:
    grown = run(step(0.5, 30), step(1, 30), step(10), target_um=200.0, efficiency=0.955)
    assert grown.thickness == pytest.approx(200e-6, rel=1e-12)
    # By hand: 17.035 Ah/dm² less 0.75, at 10 A/dm².
    assert grown.steps[2].seconds / MINUTE == pytest.approx((17.0355 - 0.75) / 10 * 60, abs=0.01)
    assert [one.cut_short for one in grown.steps] == [False, False, False]


def test_a_step_that_would_pass_the_target_stops_there() -> None:
    grown = run(step(1, 30), step(10, 120), step(5, 30), step(2), target_um=50.0)
    assert grown.thickness == pytest.approx(50e-6, rel=1e-12)
    assert [one.cut_short for one in grown.steps] == [False, True]
    assert grown.left_out == (step(5, 30), step(2))


def test_a_step_that_ends_at_the_target_is_not_cut_short() -> None:
    exact = run(step(1, 30), step(3, 20)).thickness / MICRON
    grown = run(step(1, 30), step(3, 20), step(4), target_um=exact)
    assert [one.cut_short for one in grown.steps] == [False, False]
    assert grown.reached
    assert grown.left_out == (step(4),)


def test_a_target_that_is_never_reached() -> None:
    grown = run(step(1, 30), target_um=200.0)
    assert not grown.reached
    assert grown.thickness / MICRON == pytest.approx(6.147, abs=1e-3)  # by hand: 12.294 µm for each Ah/dm²


def test_the_thin_place() -> None:
    """Published study: mean 484 µm and spread 157 µm, so by the rule 405.5 µm where it is thinnest."""
    grown = grow(NICKEL, 1.0, DM2, 484e-6, [step(11)], 157 / 484)
    assert grown.thin / MICRON == pytest.approx(405.5)


def test_what_is_grown_first() -> None:
    grown = run(step(0.5, 30), step(1, 30), step(2, 30, 8), step(3, 30))
    assert [grown.steps_within(x * MICRON) for x in (1e-3, 3.0, 7.5, 1000.0)] == [1, 1, 2, 4]
    assert grown.most_density_within(7.5 * MICRON) == pytest.approx(100.0)
    assert grown.most_density_within(1.0) == pytest.approx(800.0)
    # By hand: 9.22 µm before the ramp of 2 to 8 A/dm² in 30 min, which adds 30.73; after 5/12 of that, half-way in
    # current squared: 2² + 2·(6/0.5)·q with q = 2.5·5/12.
    far = (9.2205 + 30.735 * 5 / 12) * MICRON
    assert grown.most_density_within(far) / A_PER_DM2 == pytest.approx(math.sqrt(4 + 24 * 2.5 * 5 / 12), abs=1e-3)


def test_the_same_steps_until_the_target() -> None:
    assert until_target([step(1, 30), step(10, 20)]) == (step(1, 30), step(10))
    assert until_target([step(1, 30), step(10)]) == (step(1, 30), step(10))
    assert until_target([step(1, 30, 4)]) == (step(1, 30, 4), step(4))


minutes = st.floats(0.1, 600.0)
density = st.floats(2.0, 50.0)  # so that no target is more than a fortnight away
timed = st.builds(lambda a, b, t: step(a, t, b), density, density, minutes)


@given(st.lists(timed, min_size=1, max_size=8), st.floats(1.0, 4000.0), st.floats(0.5, 1.0), st.floats(0.0, 1.5))
def test_whatever_the_steps(steps: list[Step], target_um: float, efficiency: float, spread: float) -> None:
    """The target is never passed; nothing is run longer than asked; mass is area × thickness × density."""
    grown = grow(NICKEL, efficiency, DM2, target_um * MICRON, steps, spread)
    assert grown.thickness <= grown.target * (1 + 1e-8)
    assert len(grown.steps) + len(grown.left_out) == len(steps)
    assert all(0.0 < one.seconds <= one.step.seconds * (1 + 1e-9) for one in grown.steps)  # type: ignore[operator]
    assert all(not one.cut_short for one in grown.steps[:-1])
    assert grown.mass == pytest.approx(DM2 * grown.thickness * NICKEL.density, rel=1e-9)
    assert 0.0 < grown.thin <= grown.thickness
    assert grown.reached or not grown.left_out
    again = grow(NICKEL, efficiency, DM2, target_um * MICRON, [*steps[:-1], *until_target(steps[-1:])], spread)
    assert again.thickness == pytest.approx(grown.target, rel=1e-8)


# refusals ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("diameter", "hole", "sentence"),
    [
        (0.0, 0.0, "a plate of 0 mm is none; give a diameter from 10 to 1000 mm."),
        (355.6, 0.0, "a plate of 355600 mm is none; give a diameter from 10 to 1000 mm."),
        (math.nan, 0.0, "a plate of nan mm is none; give a diameter from 10 to 1000 mm."),
        (0.3, 0.3, "a hole of 300 mm does not fit a plate of 300 mm; give one from 0 to less than the plate."),
        (0.3, -0.1, "a hole of -100 mm does not fit a plate of 300 mm; give one from 0 to less than the plate."),
    ],
)
def test_faces_that_cannot_be(diameter: float, hole: float, sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        face_area(diameter, hole)
    assert str(refusal.value) == sentence


def test_a_hole_is_taken_off() -> None:
    assert face_area(0.4, 0.1) == pytest.approx(math.pi * (0.2**2 - 0.05**2))


@pytest.mark.parametrize(
    ("steps", "sentence"),
    [
        ([], "0 steps of current cannot be run; give 1 to 40."),
        ([step(1, 1)] * 41, "41 steps of current cannot be run; give 1 to 40."),
        ([step(-1, 30)], "step 1: -1 A/dm² is no plating current; give more than 0 and at most 100."),
        ([step(1, 30, 101)], "step 1: 101 A/dm² is no plating current; give more than 0 and at most 100."),
        ([step(math.nan, 30)], "step 1: nan A/dm² is no plating current; give more than 0 and at most 100."),
        ([step(1, 30), step(0, 30)], "step 2: without current nothing grows; give more than 0 A/dm²."),
        ([step(1), step(1)], "step 1: only the last step may be without minutes; write for example 0.5x30."),
        ([step(1, None, 2)], "step 1: a current that changes needs minutes to do so; write for example 0.5-2x30."),
        ([step(1, 0)], "step 1: 0 minutes is no time for a step; give more than 0 and at most 20160."),
        ([step(1, math.inf)], "step 1: inf minutes is no time for a step; give more than 0 and at most 20160."),
        ([step(1e-4)], "step 1: at 0.0001 A/dm² the target is 6779 days away; give more current."),
    ],
)
def test_steps_that_cannot_be(steps: list[Step], sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        run(*steps, target_um=200.0)
    assert str(refusal.value) == sentence


@pytest.mark.parametrize(
    ("target_um", "spread", "sentence"),
    [
        (0.0, 0.0, "a target of 0 µm cannot be grown; give one from 0.01 to 5000 µm."),
        (5001.0, 0.0, "a target of 5001 µm cannot be grown; give one from 0.01 to 5000 µm."),
        (math.nan, 0.0, "a target of nan µm cannot be grown; give one from 0.01 to 5000 µm."),
        (200.0, -0.1, "a spread of -10 % is none; give one from 0 to 150 %."),
        (200.0, 2.0, "a spread of 200 % is none; give one from 0 to 150 %."),
    ],
)
def test_wishes_that_cannot_be(target_um: float, spread: float, sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        grow(NICKEL, 1.0, DM2, target_um * MICRON, [step(1)], spread)
    assert str(refusal.value) == sentence
