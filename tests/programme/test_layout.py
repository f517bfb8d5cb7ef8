"""Splits of bands over sides, and where a long work is broken."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise, permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.programme import layout
from discwright.programme.layout import SideKey, Split, find_breaks, splits


def all_fit(_side: SideKey) -> bool:
    return True


def brute(order: str, movable: str, sides: int, fits: Callable[[SideKey], bool]) -> set[Split]:
    """Another road: every order of all bands, every cut by counting in base two, and what breaks a rule left out."""
    fixed = [one for one in order if one not in movable]
    found = set()
    for arranged in permutations(order):
        if [one for one in arranged if one not in movable] != fixed:
            continue
        for bits in range(2 ** (len(order) - 1)):
            split: list[list[str]] = [[arranged[0]]]
            for i, one in enumerate(arranged[1:]):
                if bits >> i & 1:
                    split.append([one])
                else:
                    split[-1].append(one)
            if len(split) == sides and all(fits(tuple(side)) for side in split):
                found.add(tuple(tuple(side) for side in split))
    return found


@pytest.mark.parametrize(
    ("bands", "sides", "count"),
    [(1, 1, 1), (4, 1, 1), (4, 2, 3), (5, 3, 6), (6, 4, 10), (8, 4, 35), (10, 2, 9), (6, 6, 1), (3, 4, 0), (0, 1, 1)],
)
def test_as_many_splits_as_there_are_ways_to_set_the_cuts(bands: int, sides: int, count: int) -> None:
    # By hand: sides - 1 cuts on bands - 1 places, so C(bands - 1, sides - 1); no band at all is one empty side.
    found = splits("abcdefghij"[:bands], frozenset(), sides, all_fit)
    assert len(found) == count
    assert len(set(found)) == count
    for split in found:
        assert "".join("".join(side) for side in split) == "abcdefghij"[:bands]
        assert len(split) == sides
        assert bands == 0 or all(split)


def test_two_sides_of_three_bands_one_of_them_movable() -> None:
    # By hand: c stands last, first or in the middle; each order has two places for one cut.
    assert splits("abc", frozenset("c"), 2, all_fit) == (
        (("a",), ("b", "c")), (("a", "b"), ("c",)),
        (("c",), ("a", "b")), (("c", "a"), ("b",)),
        (("a",), ("c", "b")), (("a", "c"), ("b",)),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("movable", "count"), [("", 3), ("d", 4 * 3), ("bd", 12 * 3), ("bcd", 24 * 3), ("abcd", 24 * 3)]
)
def test_movable_bands_multiply_the_orders(movable: str, count: int) -> None:
    # By hand: m of 4 bands may stand on 4!/(4-m)! places, each with three cuts into two sides.
    found = splits("abcd", frozenset(movable), 2, all_fit)
    assert len(found) == len(set(found)) == count


def test_the_titles_own_order_comes_first() -> None:
    found = splits("abcde", frozenset("abcde"), 2, all_fit)
    own = [split for split in found if split[0] + split[1] == tuple("abcde")]
    assert list(found[:4]) == own


@given(
    bands=st.integers(1, 5),
    sides=st.integers(1, 5),
    movable=st.sets(st.sampled_from("abcde")),
    minutes=st.lists(st.integers(1, 9), min_size=5, max_size=5),
    longest=st.integers(3, 25),
)
def test_just_what_counting_through_finds(
    bands: int, sides: int, movable: set[str], minutes: list[int], longest: int
) -> None:
    order = "abcde"[:bands]

    def fits(side: SideKey) -> bool:
        return sum(minutes["abcde".index(one)] for one in side) <= longest

    found = splits(order, frozenset(movable), sides, fits)
    assert set(found) == brute(order, "".join(movable), sides, fits)  # by another road
    assert len(set(found)) == len(found)


def test_bands_that_may_not_move_are_not_asked_about_elsewhere() -> None:
    asked: set[SideKey] = set()
    splits("abcd", frozenset("d"), 2, lambda side: not asked.add(side))  # type: ignore[func-returns-value]
    assert all([one for one in side if one != "d"] == sorted(set(side) - {"d"}) for side in asked)


def test_no_more_than_so_many_are_kept() -> None:
    # Ten bands that may all move have 10! orders and nine cuts each; regression only: 20 000 are kept.
    found = splits("abcdefghij", frozenset("abcdefghij"), 2, all_fit)
    assert len(found) == len(set(found)) == layout.MOST_SPLITS == 20_000


def test_the_search_ends_where_hardly_anything_fits() -> None:
    asked = 0

    def never(_side: SideKey) -> bool:
        nonlocal asked
        asked += 1
        return False

    # By hand: 12! orders of eleven cuts would be five thousand million; one question for each split looked at.
    assert splits("abcdefghijkl", frozenset("abcdefghijkl"), 2, never) == ()
    assert asked == layout.MOST_LOOKED


# --- breaks ----------------------------------------------------------------------------------------------------

STEP = 0.5
LOUD = 1e-2


def work(seconds: float, *dips: float) -> np.ndarray:
    """Mean square of a work that is loud but for five silent seconds around each dip."""
    power = np.full(round(seconds / STEP), LOUD)
    for dip in dips:
        power[round((dip - 2.5) / STEP) : round((dip + 2.5) / STEP)] = 1e-8
    return power


def evenly(power: np.ndarray, total: float) -> np.ndarray:
    return np.full(len(power), total / len(power))


def test_a_work_that_fits_is_not_broken() -> None:
    power = work(600.0, 300.0)
    assert find_breaks(power, STEP, evenly(power, 0.085), 0.086) == ()
    assert find_breaks(power, STEP, evenly(power, 0.086), 0.086) == ()


def test_the_dip_where_both_pieces_have_room() -> None:
    # By hand: 1200 s take 1.5 sides, so the break lies between 400 and 800 s; the dip is at 530, -80 dBFS.
    power = work(1200.0, 100.0, 530.0, 1000.0)
    ((time, level),) = find_breaks(power, STEP, evenly(power, 0.129), 0.086)
    assert 527.5 <= time <= 532.5
    assert level == pytest.approx(-80.0, abs=1e-6)


def test_without_a_dip_the_level_there_is_told() -> None:
    # By hand: 10·log10(0.01) = -20 dBFS.
    power = work(1200.0)
    ((time, level),) = find_breaks(power, STEP, evenly(power, 0.129), 0.086)
    assert 400.0 <= time <= 800.0
    assert level == pytest.approx(-20.0)


def test_the_quieter_of_two_dips() -> None:
    power = work(1200.0, 450.0, 700.0)
    power[round(697.5 / STEP) : round(702.5 / STEP)] = 1e-9
    ((time, level),) = find_breaks(power, STEP, evenly(power, 0.129), 0.086)
    assert 697.5 <= time <= 702.5
    assert level == pytest.approx(-90.0, abs=1e-6)


def test_perfect_silence_has_a_floor() -> None:
    power = work(1200.0)
    power[1195:1205] = 0.0
    # By hand: 1e-12 is -120 dBFS.
    ((_, level),) = find_breaks(power, STEP, evenly(power, 0.129), 0.086)
    assert level == pytest.approx(-120.0)


def test_two_breaks_for_three_sides() -> None:
    # By hand: 1800 s on sides of 700 s: the first break lies in 400..700, the second at most 700 after it.
    power = work(1800.0, 500.0, 1150.0, 1250.0)
    breaks = find_breaks(power, STEP, evenly(power, 0.18), 0.07)
    assert len(breaks) == 2
    assert 497.5 <= breaks[0][0] <= 502.5
    assert 1147.5 <= breaks[1][0] <= 1152.5


def test_what_counts_is_the_radius_not_the_time() -> None:
    # By hand: the first 300 s take as much as the last 900; half of it is reached at 300 s.
    power = work(1200.0, 600.0, 290.0)
    used = np.concatenate([np.full(600, 0.06 / 600), np.full(1800, 0.06 / 1800)])
    ((time, _),) = find_breaks(power, STEP, used, 0.062)
    assert 280.0 <= time <= 330.0


def test_no_piece_is_shorter_than_asked() -> None:
    # By hand: 605 s where a side takes 600: the break may lie from 5 s on, the dip at 10 s is too near the begin.
    power = work(605.0, 10.0, 595.0, 300.0)
    ((time, _),) = find_breaks(power, STEP, evenly(power, 605.0), 600.0)
    assert 297.5 <= time <= 302.5
    ((time, _),) = find_breaks(work(605.0, 10.0), STEP, evenly(power, 605.0), 600.0, apart=5.0)
    assert 7.0 <= time <= 13.0


def test_steps_that_do_not_divide_a_side() -> None:
    # By hand: three steps of 3 on sides of 5 need three sides, for two sides would have to share a step.
    breaks = find_breaks(np.full(3, LOUD), 1.0, np.full(3, 3.0), 5.0, apart=0.0)
    assert [time for time, _ in breaks] == [1.0, 2.0]


def test_a_moment_longer_than_a_side() -> None:
    power = work(100.0)
    with pytest.raises(CallError) as refused:
        find_breaks(power, STEP, np.full(len(power), 0.1), 0.05)
    assert str(refused.value) == "not even a moment of this work has room at that level; lower the level wanted."


@given(
    seed=st.integers(0, 2**32 - 1),
    seconds=st.integers(300, 3000),
    sides=st.floats(0.3, 5.0),
)
def test_every_piece_has_room_and_no_fewer_would_do(seed: int, seconds: int, sides: float) -> None:
    rng = np.random.default_rng(seed)
    n = round(seconds / STEP)
    used = rng.uniform(0.2, 1.0, n)
    room = float(used.sum()) / sides
    power = rng.uniform(0.0, 1.0, n) ** 4
    places = [0, *(round(time / STEP) for time, _ in find_breaks(power, STEP, used, room)), n]
    pieces = [float(used[a:b].sum()) for a, b in pairwise(places)]
    assert max(pieces) <= room * (1 + 1e-6)
    # By another road: fill one side after another to the brim; nothing needs fewer.
    fewest, filled = 1, 0.0
    for one in used:
        if filled + one > room * (1 + 1e-9):
            fewest, filled = fewest + 1, 0.0
        filled += one
    assert len(pieces) == fewest
    assert all(b - a >= 20.0 / STEP for a, b in pairwise(places)) or room < 60.0
