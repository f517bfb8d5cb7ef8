"""Edges sample by sample, against the analogue response and against what the planner sums up of them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support import RATE, exact_edges, music, sine, walk

from discwright.files.settings import load_setup
from discwright.groove.edges import edge_blocks


def edges(x: np.ndarray, gain: float = 1.0, sizes: tuple[int, ...] = (70_001,)) -> np.ndarray:
    def blocks() -> object:
        at, k = 0, 0
        while at < len(x):
            yield x[at : at + sizes[k % len(sizes)]].astype(np.float32)
            at, k = at + sizes[k % len(sizes)], k + 1

    return np.concatenate(list(edge_blocks(blocks(), RATE, 10.0, gain)))  # type: ignore[arg-type]


def test_a_tone_moves_as_far_as_the_handbook_says() -> None:
    # Published: 7 cm/s lateral at 1 kHz is 11.14 µm (Boden 1981); both channels in phase move both edges alike.
    x = sine(1000.0, 2.0)
    found = edges(x, 7.0 / 5.0)[30_000:60_000]
    assert np.abs(found).max() * 1e6 == pytest.approx(11.14, rel=1e-3)
    assert np.array_equal(found[:, 0], found[:, 1])


def test_edges_are_the_analogue_ones() -> None:
    x = music(2.0)
    found, exact = edges(x), exact_edges(x, 10.0)
    # By another road: the analogue response in the frequency domain; 0.01 dB of it at 44.1 kHz.
    assert found == pytest.approx(exact, abs=2e-3 * float(np.abs(exact).max()))


def test_as_many_as_the_programme_has_whatever_the_blocks() -> None:
    assert edges(np.zeros((5, 2))).shape == (5, 2)
    assert edges(np.zeros((0, 2))).shape == (0, 2)


@settings(max_examples=20, deadline=None)
@given(st.lists(st.integers(1, 3000), min_size=1, max_size=6))
def test_blocks_do_not_matter(sizes: list[int]) -> None:
    x = music(0.2)
    assert np.array_equal(edges(x, sizes=tuple(sizes)), edges(x))


def test_the_planner_sums_up_the_same_edges() -> None:
    setup = load_setup()
    x = music(4.0)
    motion = walk(x, setup)
    lift = (edges(x)[:, 0] - edges(x)[:, 1]) / 2
    # By another road: the greatest lift of all hull corners is the greatest of all samples.
    assert motion.shallow.value.max() == pytest.approx(float(lift.max()), rel=1e-5)
    assert math.isfinite(float(lift.min()))
