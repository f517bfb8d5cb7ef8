"""The moment the groove was left, from the first guess of some seconds to some hundredths."""

from __future__ import annotations

import numpy as np
import pytest
from invented import RATE, TURN_S, Held, held, piece, play, rough
from numpy.typing import NDArray
from spoiler import Jump

from discwright.inspection.edges import sharpen
from discwright.inspection.frames import Pair
from discwright.inspection.jumps import Stretch
from discwright.inspection.timemap import BEYOND, STEP, TimeMap

Floats = NDArray[np.float64]


@pytest.fixture(scope="module")
def music() -> Floats:
    return piece(30.0)


def straight(seconds: float, *stretches: Stretch) -> TimeMap:
    time = np.arange(-BEYOND, seconds + BEYOND + STEP, STEP)
    return TimeMap(time, time.copy(), np.full(len(time), 1e-3), stretches)


@pytest.mark.parametrize("guess", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("to", [16.8, 15.7, 18.6, 13.2, 14.5, 11.4])
def test_a_cut_by_hand(music: Floats, to: float, guess: float) -> None:
    audio = np.concatenate([music[: 15 * RATE], music[round(to * RATE) :]])
    # The guess lies anywhere in what was skipped or played twice.
    cut = 15.0 + guess * (to - 15.0)
    known = straight(30.0, Stretch(0.0, cut, 0.0), Stretch(cut, 30.0, 15.0 - to))
    first, last = sharpen(Pair(held(music), held(audio)), known).stretches
    assert first.end == last.begin == pytest.approx(15.0, abs=0.04)  # by hand: likeness is seen over 50 ms
    assert (first.offset, last.offset) == (0.0, 15.0 - to)


def test_a_cut_is_not_moved_past_its_neighbours(music: Floats) -> None:
    cuts = (10.0, 10.5, 20.0)
    edges = [0.0, *cuts, 30.0]
    ways = [Stretch(a, b, o) for a, b, o in zip(edges[:-1], edges[1:], (0.0, -1.0, -2.0, -1.0), strict=True)]
    found = sharpen(Pair(held(music), held(music)), straight(30.0, *ways)).stretches
    assert all(one.begin <= one.end for one in found)
    assert [one.end for one in found[:-1]] == [one.begin for one in found[1:]]


def test_nothing_is_sharpened_where_nothing_jumps(music: Floats) -> None:
    known = straight(30.0, Stretch(0.0, 30.0, 0.0))
    assert sharpen(Pair(held(music), held(music)), known).stretches == known.stretches


def test_the_way_there_from_a_capture(music: Floats) -> None:
    disc = play(music, jumps=(Jump(15.0, 1),), noise_dbfs=-60.0, start_s=1.0)
    programme, capture = held(music), Held(RATE, disc.audio)
    first, _ = sharpen(Pair(programme, capture), rough(programme, capture)).stretches
    assert first.end == pytest.approx(15.0, abs=0.1)
    assert first.offset == pytest.approx(TURN_S, abs=0.03) or first.offset == pytest.approx(0.0, abs=0.03)
