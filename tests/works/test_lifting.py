"""The lifting equation: its ideal lift, a worked one, each factor by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.works.lifting import LOAD_CONSTANT_KG, Lift, too_heavy


def test_the_ideal_lift() -> None:
    """Published: H 25, V 75, D 25, A 0 → 23.0 kg."""
    assert Lift(25.0, 75.0, 25.0, 0.0).recommended_kg == pytest.approx(23.0, abs=0.01)
    assert Lift() == Lift(25.0, 75.0, 25.0, 0.0, 1.0, 1.0)


def test_a_worked_lift() -> None:
    """By another road: H 35, V 15, D 60, A 0 → 12.06 kg."""
    assert Lift(35.0, 15.0, 60.0).recommended_kg == pytest.approx(12.06, abs=0.01)


@pytest.mark.parametrize(
    ("lift", "factor"),
    [
        (Lift(reach_cm=50.0), 0.5),
        (Lift(reach_cm=10.0), 1.0),
        (Lift(height_cm=175.0), 0.7),
        (Lift(height_cm=0.0), 0.775),
        (Lift(travel_cm=175.0), 0.82 + 4.5 / 175),
        (Lift(twist_deg=135.0), 0.568),
        (Lift(frequency=0.75), 0.75),
        (Lift(grip=0.9), 0.9),
        (Lift(reach_cm=63.1), 0.0),
        (Lift(height_cm=176.0), 0.0),
        (Lift(travel_cm=176.0), 0.0),
        (Lift(twist_deg=136.0), 0.0),
    ],
)
def test_each_factor(lift: Lift, factor: float) -> None:
    """By hand."""
    assert lift.recommended_kg == pytest.approx(23.0 * factor)


@given(
    st.floats(0, 80), st.floats(0, 200), st.floats(0, 200), st.floats(0, 180), st.floats(0, 1), st.floats(0, 1)
)  # fmt: skip
def test_never_more_than_the_ideal(h: float, v: float, d: float, a: float, fm: float, cm: float) -> None:
    assert 0.0 <= Lift(h, v, d, a, fm, cm).recommended_kg <= LOAD_CONSTANT_KG


def test_a_bundle() -> None:
    """By hand: 24.6 kg of 140 g discs is over 23 kg even in the ideal lift, a carton of 6.15 kg is not."""
    assert too_heavy(24.6)
    assert not too_heavy(6.15)
    assert too_heavy(12.1, Lift(35.0, 15.0, 60.0))
    assert Lift().index(46.0) == pytest.approx(2.0)
    assert Lift(reach_cm=70.0).index(0.1) == math.inf


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"reach_cm": -1.0}, "a reach of -1 is none; give 0 or more."),
        ({"twist_deg": math.nan}, "a twist of nan is none; give 0 or more."),
        ({"grip": 1.5}, "a multiplier of 1.5 for the grip is none; give from 0 to 1."),
    ],
)
def test_what_cannot_be(values: dict[str, float], sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        Lift(**values)
    assert str(refusal.value) == sentence
