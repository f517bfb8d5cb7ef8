"""The first guess at a level, and that a fit ends at the same level wherever it begins."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from support import RATE, Float, coarse_setup, music, sine, walk

from discwright.groove.equipment import Setup
from discwright.groove.foresee import foresee_level
from discwright.plan import Order, Programme, plan_side

RANGE = (-40.0, 24.0)


def narrow(mm: float) -> Setup:
    """A disc whose music must end so far inside its outermost radius."""
    setup = coarse_setup()
    return replace(setup, disc=replace(setup.disc, innermost_radius=setup.disc.outermost_radius - mm * 1e-3))


def bright(seconds: float, seed: int) -> Float:
    rng = np.random.default_rng(seed)
    return 0.05 * rng.standard_normal((round(seconds * RATE), 2))


def near_label() -> Setup:
    """Where the tip gives up before the head does."""
    setup = coarse_setup()
    return replace(setup, disc=replace(setup.disc, outermost_radius=0.062))


#: Programme and setup by name: what ends the level is room, slope, depth or heat.
CASES = {
    "room": (music(20.0, 3), narrow(1.5)),
    "more room": (music(20.0, 8), narrow(2.5)),
    "mono": (np.repeat(music(20.0, 5)[:, :1], 2, axis=1), narrow(1.2)),
    "slope": (sine(1000.0, 5.0), coarse_setup()),
    "depth": (sine(50.0, 6.0, 1.0, -1.0), coarse_setup()),
    "bright": (bright(6.0, 2), coarse_setup()),
    "label": (music(6.0) * 0.5 + bright(6.0, 5) / 2, near_label()),
}


@cache
def fitted(name: str, start_db: float | None = None, brief: bool = False, clean: bool = False) -> float:
    programme, setup = CASES[name]
    x = programme.astype(np.float32)
    order = Order(setup, start_db=start_db, brief=brief, clean=clean)
    return plan_side([x], Programme(RATE, len(x), 2), order).level_db


@pytest.mark.parametrize("name", ["room", "more room", "mono", "slope", "depth"])
def test_near_the_level_that_is_found(name: str) -> None:
    """By another road: the fit itself. A guess within 2 dB saves all but a spiral or two; nothing hangs on it."""
    programme, setup = CASES[name]
    guess = foresee_level(walk(programme, setup), setup, RANGE)
    assert guess == pytest.approx(fitted(name), abs=2.0)


def test_slope_by_hand() -> None:
    # By hand: 51.068 cm/s of groove speed over 5 cm/s is 20.18 dB at the rim.
    programme, setup = CASES["slope"]
    assert foresee_level(walk(programme, setup), setup, RANGE) == pytest.approx(20.18, abs=0.05)


def test_a_louder_programme_is_foreseen_lower_by_as_much() -> None:
    """By another road: twice the samples, 6.02 dB less level."""
    programme, setup = CASES["room"]
    level = foresee_level(walk(programme, setup), setup, RANGE)
    assert foresee_level(walk(programme * 2, setup), setup, RANGE) == pytest.approx(level - 6.02, abs=0.05)


def test_more_room_never_lowers_the_guess() -> None:
    motion = walk(CASES["room"][0], narrow(1.0))
    levels = [foresee_level(motion, narrow(mm), RANGE) for mm in (0.5, 0.8, 1.2, 2.0, 4.0)]
    assert levels == sorted(levels)
    assert levels[-1] > levels[0] + 6.0


def test_within_the_range() -> None:
    setup = coarse_setup()
    # By hand: nothing limits silence, and nothing fits where even silence has no room (20 s are 0.44 mm).
    assert foresee_level(walk(np.zeros((RATE, 2)), setup), setup, RANGE) == pytest.approx(24.0, abs=0.03)
    assert foresee_level(walk(CASES["room"][0], narrow(0.3)), narrow(0.3), RANGE) == pytest.approx(-40.0, abs=0.03)
    assert 3.0 <= foresee_level(walk(CASES["room"][0], narrow(1.5)), narrow(1.5), (3.0, 5.0)) <= 5.0


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("brief", [False, True])
@pytest.mark.parametrize("start_db", [-40.0, -7.3, 0.0, 13.0, 24.0])
def test_a_fit_ends_at_the_same_level_wherever_it_begins(name: str, brief: bool, start_db: float) -> None:
    """By another road: begun from the guess, every level above laid."""
    assert fitted(name, start_db, brief) == fitted(name)


@pytest.mark.parametrize("away", [-0.3, -0.1, 0.0, 0.1, 0.3])
def test_begun_beside_the_answer(away: float) -> None:
    level = fitted("room")
    for brief in (False, True):
        assert fitted("room", round(level + away, 1), brief) == level


def test_a_clean_fit_too() -> None:
    level = fitted("label", clean=True)
    assert level < fitted("label")
    for start_db in (-20.0, 5.0, 24.0):
        assert fitted("label", start_db, True, True) == fitted("label", start_db, False, True) == level
