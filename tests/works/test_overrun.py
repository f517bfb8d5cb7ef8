"""The newsvendor's quantity: a textbook example, a package's example, and drawn demands."""

from __future__ import annotations

import math

import numpy as np
import pytest

from discwright.errors import CallError
from discwright.works.overrun import newsvendor


def test_the_textbook() -> None:
    """Published: Snyder and Shen (2019), example 4.3: h = 0.18, p = 0.70, N(50, 8); 56.604, 1.9976."""
    one = newsvendor(50.0, 8.0, short=0.70, over=0.18)
    assert one.quantity == pytest.approx(56.604, abs=1e-3)
    assert one.cost == pytest.approx(1.9976, abs=1e-4)


def test_the_package() -> None:
    """Published: documentation of a Python package, h = 2, p = 18, N(120, 10)."""
    one = newsvendor(120.0, 10.0, short=18.0, over=2.0)
    assert one.quantity == pytest.approx(132.8155157, abs=1e-6)
    assert one.cost == pytest.approx(35.0996664, abs=1e-6)
    assert one.share == pytest.approx(0.9)


def test_drawn_demands() -> None:
    """By another road: 400 000 drawn demands cost that on the average, and more a little beside it."""
    demand = np.random.default_rng(5).normal(300.0, 30.0, 400_000)
    best = newsvendor(300.0, 30.0, short=5.0, over=2.0)

    def cost(quantity: float) -> float:
        return float(np.mean(5.0 * np.maximum(demand - quantity, 0) + 2.0 * np.maximum(quantity - demand, 0)))

    assert cost(best.quantity) == pytest.approx(best.cost, rel=0.01)
    assert cost(best.quantity) < min(cost(best.quantity - 5), cost(best.quantity + 5))


def test_a_demand_that_is_known() -> None:
    one = newsvendor(300.0, 0.0, 5.0, 2.0)
    assert (one.quantity, one.cost) == (300.0, 0.0)


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        (
            (300.0, 30.0, 0.0, 2.0),
            "costs of 0 for one too few and 2 for one too many weigh nothing; give both above 0.",
        ),
        (
            (300.0, 30.0, math.inf, 2.0),
            "costs of inf for one too few and 2 for one too many weigh nothing; give both above 0.",
        ),
        ((0.0, 30.0, 1.0, 2.0), "a demand of 0 ± 30 is none; give a mean above 0 and a deviation from 0 up."),
        ((9.0, -1.0, 1.0, 2.0), "a demand of 9 ± -1 is none; give a mean above 0 and a deviation from 0 up."),
    ],
)
def test_what_cannot_be(values: tuple[float, ...], sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        newsvendor(*values)
    assert str(refusal.value) == sentence
