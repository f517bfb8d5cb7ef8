"""Stampers that a side uses up: renewal theory against drawn lives, exact counts against enumeration.

Drawn lives are *by another road*: NumPy's own gamma variates, added one after another.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from discwright.errors import CallError
from discwright.works.stamper_life import StamperLife

RUNS = 20_000


def drawn(pressings: float, mean: float, cv: float, most: int) -> NDArray[np.int64]:
    """How many stampers each of many drawn runs uses: lives are added until they reach the pressings."""
    rng = np.random.default_rng(8)
    lives = rng.gamma(1.0 / cv**2, mean * cv**2, size=(RUNS, most))
    used: NDArray[np.int64] = 1 + np.sum(np.cumsum(lives, axis=1) < pressings, axis=1)
    assert used.max() < most
    return used


@pytest.mark.parametrize(("pressings", "formula"), [(1000, 1.545), (5000, 5.545), (10_527, 11.07)])
def test_the_reference_renewals(pressings: int, formula: float) -> None:
    """By another road (renewal theory, worked apart): µ = 1000, cv = 0.3."""
    life = StamperLife(1000.0, 0.3)
    assert life.mean_by_formula(pressings) == pytest.approx(formula, abs=0.0021)
    # By another road: 20 000 drawn runs, tolerance 0.02 (a standard error of 0.007 at the most).
    assert float(np.mean(drawn(pressings, 1000.0, 0.3, 40))) == pytest.approx(life.mean_used(pressings), abs=0.02)
    assert life.mean_used(pressings) == pytest.approx(formula, abs=0.05)


def test_a_short_order_uses_one_stamper_whatever_the_formula_says() -> None:
    """The formula is for orders of several lives; the exact mean is never below 1."""
    life = StamperLife(1000.0, 0.3)
    assert life.mean_by_formula(300) == pytest.approx(0.845)  # by hand: 0.3 − 0.455 + 1
    assert life.mean_used(300) == pytest.approx(1.0006, abs=1e-4)  # by another road: the chance of a life below 300
    assert float(np.mean(drawn(300, 1000.0, 0.3, 10))) == pytest.approx(1.0006, abs=0.001)


@pytest.mark.parametrize(
    ("pressings", "cv", "probability"),
    [
        (323, 0.3, 0.95),
        (1065, 0.3, 0.95),
        (10_565, 0.3, 0.95),
        (10_565, 0.3, 0.5),
        (10_565, 1.0, 0.99),
        (2500, 2.0, 0.8),
    ],
)
def test_enough_is_the_smallest_that_drawn_lives_call_enough(pressings: int, cv: float, probability: float) -> None:
    """By another road: of 20 000 drawn runs the share that needs no more, within four standard errors."""
    count = StamperLife(1000.0, cv).enough(pressings, probability)
    used = drawn(pressings, 1000.0, cv, 200)
    error = 4.0 * math.sqrt(probability * (1.0 - probability) / RUNS)
    assert float(np.mean(used <= count)) >= probability - error
    assert float(np.mean(used <= count - 1)) < probability + error


def test_known_counts() -> None:
    """By hand, from tables of χ² and of the normal distribution."""
    # Lives with cv = 1 are exponential: 2·L/µ is χ² with 2 degrees. P(L ≥ N) = exp(−N/µ).
    assert StamperLife(1000.0, 1.0).chance_worn(1, 1000.0) == pytest.approx(1.0 - math.exp(-1.0))
    # 2·ΣL/µ of five lives is χ² with 10 degrees, below 3.940 with 5 %.
    assert StamperLife(1000.0, 1.0).chance_worn(5, 1970.0) == pytest.approx(0.05, abs=1e-4)
    # 3.940 is rounded: to the digits 3.9403, so five last for 1970 with 95 %, and not for 1971.
    assert StamperLife(1000.0, 1.0).enough(1970.0, 0.95) == 5
    assert StamperLife(1000.0, 1.0).enough(1971.0, 0.95) == 6
    # Of many like lives the sum is normal: 100 ± 3 thousand.
    assert StamperLife(1000.0, 0.3).chance_worn(100, 100_000.0 - 1.645 * 3000.0) == pytest.approx(0.05, abs=0.003)


def test_lives_that_are_all_alike() -> None:
    """By hand: 1000 each."""
    life = StamperLife(1000.0, 0.0)
    for pressings, count in ((1, 1), (999, 1), (1000, 1), (1001, 2), (10_527, 11), (11_000, 11)):
        assert life.enough(pressings, 0.95) == life.enough(pressings, 0.01) == count
        assert life.mean_used(pressings) == count
    assert life.mean_by_formula(10_527) == pytest.approx(11.027)
    assert StamperLife(1.0, 0.0).enough(10_000_000, 0.95) == 10_000_000


def test_nothing_to_press_wears_nothing() -> None:
    life = StamperLife(1000.0, 0.3)
    assert life.mean_used(0.0) == 0.0
    assert life.chance_worn(0, 1.0) == 1.0
    assert life.chance_worn(3, 0.0) == 0.0


@given(
    st.floats(1.0, 1e5), st.floats(1.0, 5000.0), st.floats(0.05, 3.0), st.floats(0.01, 0.999),
)  # fmt: skip
def test_enough_is_the_smallest(pressings: float, mean: float, cv: float, probability: float) -> None:
    """By its own definition: it suffices, and one less does not."""
    life = StamperLife(mean, cv)
    count = life.enough(pressings, probability)
    assert count >= 1
    assert 1.0 - life.chance_worn(count, pressings) >= probability - 1e-8
    assert 1.0 - life.chance_worn(count - 1, pressings) < probability + 1e-8


@given(st.floats(1.0, 2e4), st.floats(10.0, 5000.0), st.floats(0.1, 3.0))
def test_the_mean_is_the_plain_sum(pressings: float, mean: float, cv: float) -> None:
    """By another road: the sum over S written out, without looking for where it begins."""
    life = StamperLife(mean, cv)
    plain, count = 0.0, 0
    while (chance := life.chance_worn(count, pressings)) > 1e-13:
        plain, count = plain + chance, count + 1
    assert life.mean_used(pressings) == pytest.approx(plain, rel=1e-9)


@pytest.mark.parametrize(
    ("mean", "cv", "sentence"),
    [
        (0.0, 0.3, "a stamper life of 0 pressings is none; give a mean from 1 to 10000000."),
        (-5.0, 0.3, "a stamper life of -5 pressings is none; give a mean from 1 to 10000000."),
        (math.nan, 0.3, "a stamper life of nan pressings is none; give a mean from 1 to 10000000."),
        (1000.0, -0.1, "a life that varies by -0.1 of its mean is none; give from 0 (all alike) to 3."),
        (1000.0, 30.0, "a life that varies by 30 of its mean is none; give from 0 (all alike) to 3."),
    ],
)
def test_lives_that_are_none(mean: float, cv: float, sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        StamperLife(mean, cv)
    assert str(refusal.value) == sentence
