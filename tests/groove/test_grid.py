"""Sector boundaries: where they lie, what zone they belong to, and what lies one turn outside."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.groove.grid import FINE_TURNS, lay_grid, turn_outside


@given(st.floats(0.01, 30.0), st.sampled_from([4 / 3, 1.8]), st.sampled_from([8, 32]))
def test_every_grid(duration: float, turn: float, sectors: int) -> None:
    grid = lay_grid(duration, turn, sectors)
    # Common practice: fine pitch begins exactly 1.5 turns before the music.
    assert grid.time[0] == pytest.approx(-1.5 * turn, abs=1e-12)
    assert grid.time[grid.start] == 0.0
    assert grid.time[grid.end] == duration
    assert (np.diff(grid.time) > 0).all()
    assert np.diff(grid.time).max() <= turn / sectors + 1e-9
    assert grid.time[-1] >= duration + turn
    assert set(grid.zone[: grid.start]) == {"fine"}
    assert set(grid.zone[grid.start : grid.end]) == {"music"}
    assert set(grid.zone[grid.end :]) == {"lead_out"}
    outside = turn_outside(grid)
    known = outside.index >= 0
    i, w = outside.index[known], outside.weight[known]
    last = np.clip(i + 1, 0, grid.sectors)
    where = (1 - w) * grid.time[i] + w * grid.time[last]
    np.testing.assert_allclose(where, grid.time[known] - turn, atol=2e-9)
    assert (grid.time[~known] < grid.time[0] + turn - 1e-12).all()


def test_end_on_a_boundary_has_one_row() -> None:
    grid = lay_grid(3.6, 1.8, 32)
    # By hand: two turns of 32 sectors, no extra knot.
    assert grid.end - grid.start == 64


def test_joins_take_whole_sectors() -> None:
    grid = lay_grid(20.0, 1.8, 32, ((9.99, 12.01),))
    inside = grid.time[:-1][grid.zone == "join"]
    assert inside.min() >= 9.99
    assert inside.max() + 1.8 / 32 <= 12.01


@pytest.mark.parametrize("sectors", [8, 32, 256])
@pytest.mark.parametrize("turn", [1.8, 4 / 3, 1 / (33.333333333333336 * (1 / 60)), 60 / 45.113])
@pytest.mark.parametrize("frames", [79_379, 79_380, 79_381, 58_800, 158_760, 4_762_800])
def test_ends_on_or_beside_a_boundary(frames: int, turn: float, sectors: int) -> None:
    """A side that lasts whole turns has no sliver of a sector, one a sample longer has a short one."""
    grid = lay_grid(frames / 44_100, turn, sectors)
    step = turn / sectors
    parts = frames / 44_100 / step
    whole = abs(parts - round(parts)) < 1e-6
    # By hand: the whole sectors, and one more for what is left.
    assert grid.end - grid.start == (round(parts) if whole else int(parts) + 1)
    assert grid.time[grid.end] == frames / 44_100
    lengths = np.diff(grid.time)
    assert lengths[: grid.end - 1] == pytest.approx(step)
    assert lengths.min() > 1e-6
    if whole:
        assert lengths == pytest.approx(step)


@pytest.mark.parametrize("duration", [1 / 44_100, 0.001, 0.0562])
def test_less_than_a_sector(duration: float) -> None:
    grid = lay_grid(duration, 1.8, 32)
    # By hand: one short sector of music, and then the boundaries go on where they would have.
    assert (grid.end - grid.start, grid.zone[grid.start]) == (1, "music")
    assert grid.time[grid.end + 1] == pytest.approx(1.8 / 32)
    assert grid.sectors == len(grid.time) - 1 == len(grid.zone)


def test_fine_turns() -> None:
    # Common practice: one and a half turns; by hand: 48 sectors of 32 a turn, 2.7 s at 33 1/3.
    grid = lay_grid(10.0, 1.8, 32)
    assert (FINE_TURNS, grid.start, grid.time[0]) == (1.5, 48, pytest.approx(-2.7))


def test_turn_outside_by_hand() -> None:
    grid = lay_grid(1.81, 1.8, 8)
    outside = turn_outside(grid)
    # By hand: the first 8 knots have no turn outside; the knot at 0 (number 12) has number 4 outside it.
    assert (outside.index[:8] < 0).all()
    assert (outside.index[8], outside.index[12], outside.weight[12]) == (0, 4, 0.0)
    # The end at 1.81 s lies 0.01 s after the knot at 1.8 s: its outside is 0.01/0.225 into the first sector.
    assert grid.time[outside.index[grid.end]] == 0.0
    assert outside.weight[grid.end] == pytest.approx(0.01 / 0.225)
    assert ((outside.weight >= 0) & (outside.weight < 1)).all()


@pytest.mark.parametrize(
    ("begin", "finish", "sectors"),
    [(9.0, 12.6, 64), (9.0 + 1e-4, 12.6 - 1e-4, 62), (9.01, 9.06, 0), (0.0, 1.8, 32)],
)
def test_joins_by_hand(begin: float, finish: float, sectors: int) -> None:
    """By hand: 56.25 ms a sector; a join keeps within its times, so that no music is cut at its pitch."""
    grid = lay_grid(20.0, 1.8, 32, ((begin, finish),))
    join = grid.zone == "join"
    assert join.sum() == sectors
    if sectors:
        assert grid.time[:-1][join].min() >= begin - 1e-9
        assert grid.time[1:][join].max() <= finish + 1e-9


def test_two_joins() -> None:
    grid = lay_grid(40.0, 1.8, 32, ((9.0, 10.8), (18.0, 19.8)))
    runs = np.flatnonzero(np.diff((grid.zone == "join").astype(int)))
    assert len(runs) == 4
    assert (grid.zone == "join").sum() == 64
