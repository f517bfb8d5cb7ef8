"""Sector boundaries: where they lie, what zone they belong to, and what lies one turn outside."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.groove.grid import lay_grid, turn_outside


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
