"""What an order needs, by count: against tables in whole numbers, enumeration and drawn orders.

Tables are *by another road* as authorities/README.md says.
"""

from __future__ import annotations

import csv
import math
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.works.plating import face_area
from discwright.works.press import (
    TreeLimits,
    chance_short,
    check_probability,
    check_quantity,
    check_share,
    enough_begun,
    mean_parts,
    press_seconds,
    shot,
    side_parts,
)
from discwright.works.stamper_life import StamperLife

AUTHORITIES = Path(__file__).parents[1] / "authorities"


def rows(name: str) -> list[dict[str, float]]:
    with (AUTHORITIES / name).open(encoding="utf-8") as file:
        return [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]


def in_fractions(begun: int, good: int, share: Fraction) -> Fraction:
    """P(Binomial(begun, share) < good), term by term and without rounding."""
    return sum(
        (math.comb(begun, k) * share**k * (1 - share) ** (begun - k) for k in range(good)), start=Fraction(0)
    )  # fmt: skip


# pressings ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("row", rows("run_sizes.csv"), ids=lambda row: f"{row['good']:g}")
def test_run_sizes(row: dict[str, float]) -> None:
    """By another road, exact; 1000 at 0.95 with 95 % is 1065."""
    for probability in ("0.90", "0.95", "0.99"):
        assert enough_begun(int(row["good"]), row["yield"], float(probability)) == row[f"p_{probability}"]
    assert row["good"] / row["yield"] == pytest.approx(row["mean"], abs=0.051)


@given(st.integers(1, 60), st.integers(2, 99), st.integers(1, 999))
def test_enough_is_the_smallest_in_whole_fractions(good: int, percent: int, per_mille: int) -> None:
    """By another road: enumeration in exact fractions."""
    if percent < 30:
        good = min(good, 8)
    share = Fraction(percent, 100)
    begun = enough_begun(good, percent / 100, per_mille / 1000)
    may_fail = 1 - Fraction(per_mille, 1000)
    assert in_fractions(begun, good, share) <= may_fail * (1 + Fraction(1, 10**8))
    assert begun == good or in_fractions(begun - 1, good, share) > may_fail * (1 - Fraction(1, 10**8))


def test_the_boundary_is_kept_in_spite_of_rounding() -> None:
    """By hand: one at a yield of 0.95 is good with exactly 0.95; two of two at 0.9 with 0.81."""
    assert enough_begun(1, 0.95, 0.95) == 1
    assert enough_begun(2, 0.9, 0.81) == 2
    assert enough_begun(2, 0.9, 0.8101) == 3


def test_all_good_and_none_wanted() -> None:
    """By hand."""
    assert enough_begun(700, 1.0, 0.999999) == 700
    assert chance_short(5, 0, 0.5) == 0.0
    assert chance_short(4, 5, 0.5) == 1.0


def test_ten_million() -> None:
    """By another road: mean and deviation of a normal distribution, N·y − 1.645·√(N·y·(1−y)) = Q."""
    begun = enough_begun(10_000_000, 0.95, 0.95)
    assert begun == pytest.approx((10_000_000 + 1.645 * math.sqrt(10_526_316 * 0.95 * 0.05)) / 0.95, rel=1e-6)


# metal -------------------------------------------------------------------------------------------------


def test_the_worked_example_on_the_average() -> None:
    """By another road (the reference): 10 000 at 0.95 begin 10 527; 11 stampers of 1000, 13 attempts, 2 mothers."""
    mean_start = 10_000 / 0.95
    assert math.ceil(mean_start) == 10_527
    mean = mean_parts(mean_start, StamperLife(1000.0, 0.0), TreeLimits(0.9))
    assert mean.stampers == 11
    assert mean.stampers_begun == pytest.approx(11 / 0.9)
    assert math.ceil(mean.stampers_begun) == 13
    assert (mean.mothers, mean.masters, mean.lacquers) == (2, 1, 1)


def test_the_worked_example_with_a_probability() -> None:
    """By another road: 10 565 begun; 11 stampers all alike. By hand: of 14 begun eleven are good with 95.6 %, of 13
    with 86.6 %."""
    start = enough_begun(10_000, 0.95, 0.95)
    assert start == 10_565
    parts = side_parts(start, StamperLife(1000.0, 0.0), TreeLimits(0.9), 0.95)
    assert (parts.stampers, parts.stampers_begun, parts.mothers, parts.masters, parts.lacquers) == (11, 14, 2, 1, 1)
    assert parts.chance == pytest.approx(0.9559, abs=1e-4)
    assert 1 - chance_short(13, 11, 0.9) == pytest.approx(0.8661, abs=1e-4)
    # Lives that differ ask for more: the sum of 12 reaches 10 565 with 91.6 %, of 13 with 99 %.
    assert side_parts(start, StamperLife(1000.0, 0.3), TreeLimits(0.9), 0.95).stampers == 13


def test_mothers_and_masters_that_fail_are_grown_more_of() -> None:
    """By hand: at 0.5, two mothers need 8 with 95 % (1 − 9/256 = 96.5 %; of 7: 93.8 %), one master 5 (96.9 %)."""
    tree = TreeLimits(1.0, 0.5, 0.5, stampers_per_mother=10, mothers_per_master=10)
    parts = side_parts(11_000, StamperLife(1000.0, 0.0), tree, 0.95)
    assert (parts.stampers, parts.stampers_begun) == (11, 11)
    assert (parts.mothers, parts.mothers_begun) == (2, 8)
    assert (parts.masters, parts.masters_begun, parts.lacquers) == (1, 5, 5)
    assert parts.chance == pytest.approx((1 - 9 / 256) * (1 - 1 / 32))
    assert mean_parts(11_000.0, StamperLife(1000.0, 0.0), tree).mothers == 3  # 22 attempts, ten to a mother


def test_a_whole_tree_is_what_its_limits_say() -> None:
    """By hand: 10 × 10 × 1000 = 100 000 from a lacquer; one pressing more asks for a second."""
    life, tree = StamperLife(1000.0, 0.0), TreeLimits(1.0)
    assert side_parts(100_000, life, tree, 0.95).lacquers == 1
    full = side_parts(100_001, life, tree, 0.95)
    assert (full.stampers, full.mothers, full.masters, full.lacquers) == (101, 11, 2, 2)


def test_the_chance_of_all_steps_by_drawn_orders() -> None:
    """By another road: 40 000 drawn orders; a step that fails fails the order. Within four standard errors."""
    rng, runs = np.random.default_rng(3), 40_000
    good, share, life, tree = 1000, 0.95, StamperLife(300.0, 0.4), TreeLimits(0.8, 0.9, 0.9)
    start = enough_begun(good, share, 0.9)
    parts = side_parts(start, life, tree, 0.9)
    ok = rng.binomial(parts.masters_begun, 0.9, runs) >= parts.masters
    ok &= rng.binomial(parts.mothers_begun, 0.9, runs) >= parts.mothers
    ok &= rng.binomial(parts.stampers_begun, 0.8, runs) >= parts.stampers
    lives = rng.gamma(1 / 0.4**2, 300.0 * 0.4**2, (runs, parts.stampers))
    ok &= lives.sum(axis=1) >= start
    assert float(ok.mean()) == pytest.approx(parts.chance, abs=4 * math.sqrt(parts.chance * (1 - parts.chance) / runs))


# compound and press ------------------------------------------------------------------------------------


@pytest.mark.parametrize("row", rows("disc_weights.csv"), ids=lambda row: f"{row['weight_g']:g}g")
def test_disc_weights(row: dict[str, float]) -> None:
    """By another road, to the last printed digit."""
    face = face_area(row["diameter_mm"] * 1e-3, row["hole_mm"] * 1e-3)
    assert face * 1e4 == pytest.approx(row["area_cm2"], abs=0.051)
    one = shot(row["weight_g"] * 1e-3, 1400.0, face, 0.2)
    assert one.thickness * 1e3 == pytest.approx(row["thickness_mm"], abs=0.0051)
    assert one.mass == pytest.approx(row["weight_g"] * 1.2e-3)


def test_a_published_shot() -> None:
    """Published: one works lays in 175 g for a 12-inch disc; 140 g and 25 % flash, the upper end of the usual range."""
    assert shot(0.140, 1400.0, 0.07112, 0.25).mass == pytest.approx(0.175)


def test_press_hours() -> None:
    """By another road: 10 527 at 30 s and 85 % are 103.2 h; by hand: 22 changes of 50 minutes 18.3 h more."""
    assert press_seconds(10_527, 30.0, 0.85, 0, 0.0, 0.0) / 3600 == pytest.approx(103.2, abs=0.05)
    assert press_seconds(10_527, 30.0, 0.85, 22, 1800.0, 1200.0) / 3600 == pytest.approx(103.206 + 18.333, abs=0.01)


def test_a_big_works() -> None:
    """By another road (worked apart): 200 000 a day at 25 s, 85 % and 20 h take 82 presses."""
    assert math.ceil(press_seconds(200_000, 25.0, 0.85, 0, 0.0, 0.0) / 3600 / 20) == 82


# what cannot be ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: check_probability(1.0), "a probability of 1 cannot be kept; give more than 0 and less than 1."),
        (
            lambda: check_probability(95.0),
            "a probability of 95 cannot be kept; give more than 0 and less than 1; for 95 % write 0.95.",
        ),
        (lambda: check_probability(math.nan), "a probability of nan cannot be kept; give more than 0 and less than 1."),
        (lambda: check_share(0.0, "pressings"), "a yield of 0 for pressings cannot be; give a share from 0.01 to 1."),
        (
            lambda: check_share(1.01, "pressings"),
            "a yield of 1.01 for pressings cannot be; give a share from 0.01 to 1.",
        ),
        (
            lambda: check_share(90.0, "stampers"),
            "a yield of 90 for stampers cannot be; give a share from 0.01 to 1; as a share, write 0.9.",
        ),
        (lambda: check_quantity(0), "an order of 0 cannot be pressed; give a quantity from 1 to 10000000."),
        (
            lambda: check_quantity(10_000_001),
            "an order of 10000001 cannot be pressed; give a quantity from 1 to 10000000.",
        ),
        (lambda: TreeLimits(0.9, stampers_per_mother=0), "0 stampers from a mother make no disc; give at least 1."),
        (lambda: shot(2.0, 1400.0, 0.07, 0.2), "a disc of 2000 g is none; give from 5 to 1000 g."),
        (lambda: shot(0.1, 14.0, 0.07, 0.2), "a compound of 0.014 g/cm³ is none; give from 0.8 to 3 g/cm³."),
        (lambda: shot(0.1, 1400.0, 0.07, 20.0), "a flash of 2000 % is none; give from 0 to 100 % of the disc."),
        (lambda: press_seconds(1, 0.0, 0.85, 0, 0, 0), "a cycle of 0 s is none; give from 1 to 3600 s."),
        (
            lambda: press_seconds(1, 30.0, 85.0, 0, 0, 0),
            "a press that runs 8500 % of its time is none; give more than 0, 100 at most.",
        ),
    ],
)
def test_what_cannot_be(call: object, sentence: str) -> None:
    assert callable(call)
    with pytest.raises(CallError) as refusal:
        call()
    assert str(refusal.value) == sentence
