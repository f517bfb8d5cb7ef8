"""The first disc of a run: each limit at its edge, what was not looked at, and how an off-centre hole is heard."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from discwright.errors import CallError
from discwright.findings import Finding
from discwright.works.first_off import FirstOffLimits, FirstOffSeen, FirstOffWanted, first_off, wow, wow_cents

LIMITS = FirstOffLimits(
    hole_low_mm=7.24, hole_high_mm=7.33, off_centre_mm=0.2, weight_g=140.0, weight_percent=5.0, label_shift_mm=2.0,
    diameter_low_mm=299.0, diameter_high_mm=303.0, label_thickness_low_mm=1.5, label_thickness_high_mm=2.3,
    label_diameter_mm=102.0, recorded_diameter_mm=292.6, locked_low_mm=105.6, locked_high_mm=107.2, warp_mm=2.0,
    balance_mm=4.0,
)  # fmt: skip
WANTED = FirstOffWanted(
    marks={"A": "BRK 0107 LP-A  MO2 ST1042", "B": "BRK 0107 LP-B MO1"}, stampers={"A": "ST1042-0", "B": "ST1043-9"}
)
GOOD = FirstOffSeen(
    hole_mm=7.28, off_centre_mm=0.05, weight_g=141.0, labels="right", marks_read=WANTED.marks,
    stampers=WANTED.stampers, played="pass",
)  # fmt: skip


def stops(seen: FirstOffSeen, wanted: FirstOffWanted = WANTED) -> list[Finding]:
    return [one for one in first_off(seen, wanted, LIMITS) if one.severity == "stop"]


def test_a_good_disc_may_go_on() -> None:
    """By hand: 0.05 mm of 60.325 mm are 0.0829 %, 1.434 cents; 0.2 mm 0.3315 %."""
    (note,) = first_off(GOOD, WANTED, LIMITS)
    assert (note.code, note.severity, note.unit) == ("first_off_wow", "note", "%")
    assert (note.value, note.limit) == pytest.approx((0.08288, 0.33154), abs=1e-5)
    assert note.remedy == "So far off the middle, the innermost music swings by ± 1.43 cents, once a turn."


def test_off_centre_in_per_cent_and_cents() -> None:
    """Published (IEC limit and formula): 0.2 mm at 60.325 mm; the RIAA's run-out of 0.050 in, e = 0.635 mm."""
    assert wow(0.2, 60.325) * 100 == pytest.approx(0.332, abs=0.001)
    assert wow_cents(0.2, 60.325) == pytest.approx(5.73, abs=0.01)
    assert wow(0.635, 60.325) * 100 == pytest.approx(1.05, abs=0.005)
    assert wow_cents(0.635, 60.325) == pytest.approx(18.0, abs=0.2)
    assert wow_cents(0.0, 60.325) == 0.0


def test_off_centre_by_turning_the_disc() -> None:
    """By another road: speed of the groove under a fixed tip while a disc turns about a point off its middle."""
    angles = [k * math.tau / 100_000 for k in range(100_001)]
    # Distance from the pin to a circle of radius r whose middle is e away, and the arc run through.
    radius, off = 60.325, 0.2
    distance = [off * math.cos(a) + math.sqrt(radius**2 - (off * math.sin(a)) ** 2) for a in angles]
    mean = sum(distance[:-1]) / (len(distance) - 1)
    # e/r is of first order; what it leaves out is e/(4r) of itself, 8.3e-4.
    assert (max(distance) - mean) / mean == pytest.approx(wow(off, radius), rel=1e-3)


@pytest.mark.parametrize(("hole", "passes"), [(7.23, False), (7.24, True), (7.33, True), (7.34, False)])
def test_the_hole_to_a_hundredth(hole: float, passes: bool) -> None:
    """Published: IEC 98, 7.24 mm +0.09 −0."""
    found = stops(replace(GOOD, hole_mm=hole))
    assert [one.code for one in found] == ([] if passes else ["first_off_hole"])


def test_a_large_hole_has_its_own_limits() -> None:
    """Published: JIS S 8502-1973, 38.2 ± 0.05 mm."""
    large = replace(LIMITS, hole_low_mm=38.15, hole_high_mm=38.25)
    for hole, passes in ((38.14, False), (38.15, True), (38.25, True), (38.26, False)):
        found = [one for one in first_off(replace(GOOD, hole_mm=hole), WANTED, large) if one.severity == "stop"]
        assert (found == []) == passes


@pytest.mark.parametrize(
    ("field", "kept", "missed", "code", "limit", "unit"),
    [
        ("off_centre_mm", 0.2, 0.21, "first_off_centring", 0.2, "mm"),
        ("weight_g", 133.0, 132.9, "first_off_weight", 133.0, "g"),
        ("weight_g", 147.0, 147.1, "first_off_weight", 147.0, "g"),
        ("label_shift_mm", 2.0, 2.1, "first_off_label_shift", 2.0, "mm"),
        ("diameter_mm", 299.0, 298.9, "first_off_diameter", 299.0, "mm"),
        ("diameter_mm", 303.0, 303.1, "first_off_diameter", 303.0, "mm"),
        ("label_thickness_mm", 1.5, 1.4, "first_off_thickness", 1.5, "mm"),
        ("label_thickness_mm", 2.3, 2.4, "first_off_thickness", 2.3, "mm"),
        ("label_diameter_mm", 102.0, 102.1, "first_off_label_size", 102.0, "mm"),
        ("recorded_diameter_mm", 292.6, 292.7, "first_off_recorded", 292.6, "mm"),
        ("locked_mm", 105.6, 105.5, "first_off_locked", 105.6, "mm"),
        ("locked_mm", 107.2, 107.3, "first_off_locked", 107.2, "mm"),
        ("warp_mm", 2.0, 2.1, "first_off_warp", 2.0, "mm"),
        ("balance_mm", 4.0, 4.1, "first_off_balance", 4.0, "mm"),
    ],
)
def test_each_limit(field: str, kept: float, missed: float, code: str, limit: float, unit: str) -> None:
    """Published limits; by hand: 140 g ± 5 %."""
    assert stops(replace(GOOD, **{field: kept})) == []
    (stop,) = stops(replace(GOOD, **{field: missed}))
    assert (stop.code, stop.value, stop.unit) == (code, missed, unit)
    assert stop.limit == pytest.approx(limit)
    assert stop.remedy.startswith("Below" if missed < limit else "Above")
    assert stop.remedy.endswith(".")


@pytest.mark.parametrize("how", ["wrong side", "wrong way up", "creased"])
def test_labels(how: str) -> None:
    (stop,) = stops(replace(GOOD, labels=how))
    assert stop.code == "first_off_labels"
    assert how in stop.remedy


def test_a_play_that_does_not_pass() -> None:
    assert [one.code for one in stops(replace(GOOD, played="stop"))] == ["first_off_play"]


def test_marks_and_numbers_are_read_against_the_ledger() -> None:
    read = {"A": "brk 0107 lp-a mo2   st1042", "B": "BRK 0107 LP-B MO2"}
    (stop,) = stops(replace(GOOD, marks_read=read))
    assert (stop.code, stop.value, stop.part) == ("first_off_marks", 1, "ST1043-9")
    assert stop.remedy == (
        "Side B: the run-out reads “BRK 0107 LP-B MO2” and the ledger has “BRK 0107 LP-B MO1”: make sure which "
        "stampers are in the press."
    )
    swapped = {"A": "ST1043-9", "B": "ST1042-0"}
    assert [one.code for one in stops(replace(GOOD, stampers=swapped))] == ["first_off_stampers"] * 2
    assert [one.code for one in stops(replace(GOOD, stampers={"A": "ST1042-0"}))] == ["first_off_stampers"]
    assert stops(replace(GOOD, stampers={}), FirstOffWanted(marks=WANTED.marks)) == []


def test_nothing_passes_that_was_not_looked_at() -> None:
    (stop,) = stops(FirstOffSeen())
    assert (stop.code, stop.value, stop.limit) == ("first_off_missing", 0, 7)
    assert stop.remedy == (
        "Nobody looked at the hole, hole to groove, the weight, how the labels lie, the run-out marks, the stampers' "
        "numbers, a full play: do it before another disc is pressed."
    )
    (stop,) = stops(replace(GOOD, played=None))
    assert (stop.value, stop.remedy) == (6, "Nobody looked at a full play: do it before another disc is pressed.")


def test_everything_at_once() -> None:
    seen = replace(GOOD, hole_mm=7.4, weight_g=120.0, labels="creased", played=None, warp_mm=3.0)
    assert {one.code for one in stops(seen)} == {
        "first_off_hole", "first_off_weight", "first_off_labels", "first_off_missing", "first_off_warp",
    }  # fmt: skip


@pytest.mark.parametrize("value", [-1.0, math.nan, math.inf, 1e6])
def test_what_cannot_have_been_measured(value: float) -> None:
    with pytest.raises(CallError, match=r"^weight_g: .* cannot have been measured; give 0 or more\.$"):
        first_off(replace(GOOD, weight_g=value), WANTED, LIMITS)


def test_a_hole_outside_the_groove() -> None:
    with pytest.raises(CallError) as refusal:
        first_off(replace(GOOD, off_centre_mm=90.0), WANTED, LIMITS)
    assert str(refusal.value) == (
        "a hole 90 off the middle of a groove of radius 60.325 is none; give less than the radius."
    )
