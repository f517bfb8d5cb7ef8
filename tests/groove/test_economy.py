"""Notes on room: invented sides whose cost can be worked by hand, just over and just under each limit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support import RATE, Float, walk

from discwright.files.settings import load_setup
from discwright.groove.economy import check_vertical_bass
from discwright.groove.limits import Side, view
from discwright.groove.motion import BLEND_CORNERS_HZ, Hulls
from discwright.groove.rows import pose
from discwright.groove.spiral import lay_spiral
from discwright.groove.table import tabulate


@pytest.fixture(scope="module")
def silent() -> Side:
    """A minute of silence: 40 µm a turn, 12.5 µm deep."""
    setup = load_setup()
    motion = walk(np.zeros((60 * RATE, 2)), setup)
    rows = tabulate(motion, 1.0, lay_spiral(pose(motion, 1.0, setup)), setup.disc)
    return view(motion, 1.0, setup, rows)


# --- vertical bass ---------------------------------------------------------------------------------------


def with_lift(side: Side, lift: Float, left_over: tuple[float, ...]) -> Side:
    """A side that lifts by so much in each sector, all of it bass; each blend leaves a part of it."""
    k = side.motion.grid.sectors
    hulls = Hulls(np.arange(k + 1), np.zeros(k), lift)
    bass = np.stack([lift, *(share * lift for share in left_over)])
    return replace(side, motion=replace(side.motion, shallow=hulls, bass_lift=bass))


def steady(side: Side, lift: float) -> Float:
    return np.full(side.motion.grid.sectors, lift)


def test_the_share_is_twice_the_depth_over_the_pitch(silent: Side) -> None:
    # By hand: 3 µm of lift all along is 6 µm of each 40 µm turn, 15 %.
    found = check_vertical_bass(with_lift(silent, steady(silent, 3e-6), (0.5, 0.2, 0.1, 0.0, 0.0)))
    assert [(f.code, f.severity, f.unit) for f in found] == [("vertical_bass", "note", "% of the side's room")]
    assert found[0].value == pytest.approx(15.0, rel=1e-6)
    assert found[0].limit == pytest.approx(5.0)


@pytest.mark.parametrize(("lift_um", "found"), [(0.999, False), (1.001, True)])
def test_five_per_cent_of_the_side(silent: Side, lift_um: float, found: bool) -> None:
    # By hand: 1 µm of lift is 2 of 40 µm, the 5 % practice allows.
    side = with_lift(silent, steady(silent, lift_um * 1e-6), (0.0,) * 5)
    assert bool(check_vertical_bass(side)) == found
    # Twice the level takes twice the room.
    assert bool(check_vertical_bass(replace(side, gain=2.0)))


@pytest.mark.parametrize(
    ("left_over", "corner"),
    # By hand: of 15 % each blend leaves so much; half of the 5 % allowed, a sixth, is the aim.
    [
        ((0.0, 0.0, 0.0, 0.0, 0.0), 70),
        ((0.2, 0.16, 0.0, 0.0, 0.0), 100),
        ((0.9, 0.5, 0.18, 0.1, 0.0), 250),
        ((0.9, 0.9, 0.9, 0.9, 0.0), 300),
    ],
)
def test_the_lowest_blend_that_is_enough(silent: Side, left_over: tuple[float, ...], corner: int) -> None:
    assert corner in BLEND_CORNERS_HZ
    found = check_vertical_bass(with_lift(silent, steady(silent, 3e-6), left_over))
    assert f"below {corner} Hz wins most of that room back" in found[0].remedy


def test_what_no_blend_can_win_is_not_counted(silent: Side) -> None:
    """By hand: where the highest blend leaves all of it, it is no bass and blending wins nothing."""
    assert check_vertical_bass(with_lift(silent, steady(silent, 3e-6), (1.0,) * 5)) == []


def test_one_deep_turn_is_told_by_its_place(silent: Side) -> None:
    lift = steady(silent, 0.0)
    grid = silent.motion.grid
    middle = grid.start + 16 * 32
    lift[middle - 16 : middle + 16] = 10e-6
    found = check_vertical_bass(with_lift(silent, lift, (0.0,) * 5))
    # By hand: 20 of 40 µm in that turn is half of it, but one turn in 33 is 2 % of the side.
    assert [(f.unit, f.limit) for f in found] == [("% of a turn's room", pytest.approx(40.0))]
    assert found[0].value == pytest.approx(50.0, rel=0.05)
    assert found[0].time_s == pytest.approx(grid.time[middle], abs=0.1)
    lift *= 0.7
    assert check_vertical_bass(with_lift(silent, lift, (0.0,) * 5)) == []


@pytest.mark.parametrize("seconds", [0.004, 1.0, 1.8])
def test_less_than_a_turn_spends_nothing(seconds: float) -> None:
    setup = load_setup()
    motion = walk(np.full((round(seconds * RATE), 2), 0.1), setup)
    rows = tabulate(motion, 1.0, lay_spiral(pose(motion, 1.0, setup)), setup.disc)
    assert check_vertical_bass(view(motion, 1.0, setup, rows)) == []
