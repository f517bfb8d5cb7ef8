"""The worst place of each run over a limit, against a plain walk through the sectors."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.groove.spots import mean_around, worst_spots


def by_walking(ratio: list[float], apart: int) -> list[tuple[int, float]]:
    """Another road: one sector after another, a new run after more than `apart` steps; worst first."""
    worst: list[tuple[int, float]] = []
    previous: int | None = None
    for k, value in enumerate(ratio):
        if value <= 1.0:
            continue
        if previous is None or k - previous > apart:
            worst.append((k, value))
        elif value > worst[-1][1]:
            worst[-1] = (k, value)
        previous = k
    return sorted(worst, key=lambda spot: (-spot[1], spot[0]))


@given(
    st.lists(st.sampled_from([0.0, 0.99, 1.0, 1.01, 1.5, 2.0]), min_size=1, max_size=60),
    st.integers(1, 16),
    st.integers(1, 6),
)
def test_every_row_of_ratios(ratio: list[float], apart: int, most: int) -> None:
    time = np.arange(len(ratio)) * 0.05 + 0.01
    spots, runs = worst_spots(np.array(ratio), time, apart, most)
    wanted = by_walking(ratio, apart)
    assert runs == len(wanted)
    assert [(s.sector, s.ratio) for s in spots] == wanted[:most]
    assert [s.time for s in spots] == [time[s.sector] for s in spots]


def test_exactly_at_the_limit_is_within_it() -> None:
    assert worst_spots(np.array([1.0, 1.0]), np.zeros(2), 1, 5) == ((), 0)
    spots, runs = worst_spots(np.array([1.0, np.nextafter(1.0, 2.0)]), np.zeros(2), 1, 5)
    assert (runs, spots[0].sector) == (1, 1)


@pytest.mark.parametrize(("gap", "runs"), [(3, 1), (4, 2)])
def test_runs_part_where_the_gap_is_wider(gap: int, runs: int) -> None:
    # By hand: with `apart` 3, the sectors 0 and 3 are one run, 0 and 4 are two.
    ratio = np.zeros(6)
    ratio[[0, gap]] = 2.0
    assert worst_spots(ratio, np.zeros(6), 3, 5)[1] == runs


@given(st.lists(st.floats(0, 100), min_size=1, max_size=50), st.integers(0, 60))
def test_mean_around_by_walking(values: list[float], reach: int) -> None:
    """Another road: the mean of a slice; at the ends there are fewer neighbours, and no zeros in their place."""
    plain = [np.mean(values[max(0, k - reach) : k + reach + 1]) for k in range(len(values))]
    np.testing.assert_allclose(mean_around(np.array(values), reach), plain, atol=1e-9)


def test_equal_spots_keep_their_order() -> None:
    # By hand: of two alike the earlier comes first, and within a run the first of the highest.
    ratio = np.array([2.0, 2.0, 0.0, 0.0, 2.0, 2.0])
    spots, runs = worst_spots(ratio, np.arange(6.0), 1, 5)
    assert ([s.sector for s in spots], runs) == ([0, 4], 2)
