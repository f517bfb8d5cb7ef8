"""Faults of several plays matched into spots: by hand, against every partition, and with places planted at random."""

from __future__ import annotations

import itertools
import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from discwright.inspection.spots import Fault, Play, Spot, fault_from, find_spots, window_at

WINDOW = 2.0


def tick(turn: int, angle: float, kind: str = "tick", **more: Any) -> Fault:
    return Fault(kind, turn, angle, **more)


def play(name: str, *faults: Fault, **more: Any) -> Play:
    return Play(name, f"part of {name}", faults, **more)


def found(*plays: Play) -> list[tuple[int, float, str]]:
    """Turn, angle and plays of each spot."""
    return [(one.turn, round(one.angle_deg, 6), "".join(one.heard)) for one in find_spots(plays, WINDOW)]


# Where a fault lies ------------------------------------------------------------------------------------


def test_the_window_is_the_larger_of_angle_and_time() -> None:
    # by hand: 3 ms of a turn of 1.8 s are 0.6°, of one of 0.333 s (180 rpm) 3.24°.
    assert window_at(100 / 3, 2.0, 3e-3) == 2.0
    assert window_at(180.0, 2.0, 3e-3) == pytest.approx(3.24)


@pytest.mark.parametrize(
    ("turn", "angle", "whole"),
    [(312, 200.0, 312), (312.5556, 200.0, 312), (313.0002, 359.9, 312), (312.99, 0.1, 313), (0, 0.0, 0), (-1, 5.0, -1)],
)
def test_a_turn_with_its_fraction_and_a_whole_one(turn: float, angle: float, whole: int) -> None:
    # by hand: 312.5556 turns are 312 and 200°; 313.0002 at 359.9° was rounded up from the end of turn 312.
    assert fault_from({"kind": "tick", "turn": turn, "angle_deg": angle}).turn == whole


def test_a_negative_face_runs_the_other_way() -> None:
    # by hand, after the rule "an angle on a positive reads as its negative on a negative; radius unchanged".
    seen = fault_from({"kind": "scratch", "turn": 40, "angle_deg": 30.0, "radius_mm": 120.0}, "-")
    assert (seen.turn, seen.angle_deg, seen.radius_mm) == (40, 330.0, 120.0)
    assert fault_from({"kind": "tick", "turn": 40, "angle_deg": 30.0}, "+").angle_deg == 30.0
    assert fault_from({"kind": "tick", "turn": 40, "angle_deg": 0.0}, "-").angle_deg == 0.0
    assert fault_from({"kind": "tick", "turn": 40, "angle_deg": 1e-20}, "-").angle_deg == 0.0
    # With its fraction: turn 40.9 is 324° of the disc, which reads as 36° on the negative's own face.
    assert fault_from({"kind": "tick", "turn": 40.9, "angle_deg": 36.0}, "-").place_deg == pytest.approx(40.9 * 360)


def test_a_fault_seen_on_the_stamper_is_the_one_that_is_heard() -> None:
    seen = Play("s", "ST", (fault_from({"kind": "scratch", "turn": 12, "angle_deg": 318.5}, "-"),), whole=False)
    assert found(play("a", tick(12, 41.0)), seen) == [(12, 41.25, "as")]  # by hand: 360 − 318.5 = 41.5


# Matching ----------------------------------------------------------------------------------------------


def test_the_same_place_is_one_spot_and_another_is_not() -> None:
    assert found(play("a", tick(5, 10.0)), play("b", tick(5, 11.8))) == [(5, 10.9, "ab")]
    assert found(play("a", tick(5, 10.0)), play("b", tick(5, 12.2))) == [(5, 10.0, "a"), (5, 12.2, "b")]
    assert found(play("a", tick(5, 10.0)), play("b", tick(6, 10.0))) == [(5, 10.0, "a"), (6, 10.0, "b")]


def test_kinds_that_a_play_may_take_for_another() -> None:
    assert found(play("a", tick(5, 10.0)), play("b", tick(5, 10.5, "pop"))) == [(5, 10.25, "ab")]
    crackle = play("b", tick(5, 10.5, "crackle"))
    assert [one.kind for one in find_spots([play("a", tick(5, 10.0)), crackle], WINDOW)] == ["tick", "crackle"]
    most = find_spots([play("a", tick(5, 1.0, "pop")), play("b", tick(5, 1.0)), play("c", tick(5, 1.0))], WINDOW)
    assert [one.kind for one in most] == ["tick"]


def test_the_seam_at_nought_degrees() -> None:
    assert found(play("a", tick(9, 359.5)), play("b", tick(10, 0.3))) == [(9, 359.9, "ab")]
    # Plays that do not agree in which turn a tick at the seam lies.
    assert found(play("a", tick(10, 359.9)), play("b", tick(10, 0.2)), play("c", tick(9, 359.8))) == [
        (9, pytest.approx(359.966667), "abc")
    ]
    # One play that hears two, a turn apart, hears two.
    assert len(found(play("a", tick(9, 359.9), tick(10, 359.9)), play("b", tick(9, 359.9)))) == 2


def test_a_fault_told_twice_by_one_play_is_one() -> None:
    twice = play("a", tick(5, 10.0, size_db=3.0), tick(5, 10.1, size_db=9.0, audible=True))
    (one,) = find_spots([twice], WINDOW)
    assert (one.size_db, one.audible, one.angle_deg) == (9.0, True, pytest.approx(10.1))
    assert len(find_spots([play("a", tick(5, 10.0), tick(5, 10.9))], WINDOW)) == 2


def test_a_chain_of_near_spots_stays_a_chain() -> None:
    """Each is nearer to the next than the window is wide; joined one by one they would run away over the whole turn."""
    places = [10.0 + 1.5 * k for k in range(200)]
    plays = [
        play(name, *(tick(0, angle + off) for angle in places)) for name, off in (("a", 0), ("b", 0.4), ("c", -0.3))
    ]
    spots = find_spots(plays, WINDOW)
    assert [one.heard for one in spots] == [("a", "b", "c")] * 200
    assert [one.angle_deg for one in spots] == pytest.approx([angle + 0.1 / 3 for angle in places])


def test_in_a_chain_each_play_keeps_to_its_own_spot() -> None:
    """A play that missed a spot of the chain does not take its neighbour's fault for it."""
    plays = [
        play(str(n), *(tick(0, 10.0 + 1.5 * k + 0.1 * n) for k in range(40) if (k + n) % 5)) for n in range(5)
    ]  # fmt: skip
    spots = find_spots(plays, WINDOW)
    assert len(spots) == 40
    assert [one.heard for one in spots] == [tuple(str(n) for n in range(5) if (k + n) % 5) for k in range(40)]


def wide(spot: Spot) -> float:
    places = [one.fault.place_deg for one in spot.marks]
    return max(places) - min(places)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.lists(st.integers(0, 60), max_size=6), min_size=1, max_size=6))
def test_no_spot_is_wider_than_the_window_or_has_a_play_twice(told: list[list[int]]) -> None:
    plays = [play(str(n), *(tick(0, 20 + k / 4, "dropout") for k in places)) for n, places in enumerate(told)]
    spots = find_spots(plays, WINDOW)
    assert all(wide(one) <= WINDOW for one in spots)
    assert all(len(set(one.heard)) == len(one.heard) for one in spots)
    # Every fault stands in just one spot; of those told twice one was kept.
    assert sum(len(one.marks) for one in spots) == sum(len(set(places)) for places in told)
    assert all(set(one.heard) | set(one.missed) == {str(n) for n in range(len(told))} for one in spots if one.audible)


def partitions(items: list[Any]) -> Any:
    """Every partition of some items."""
    if not items:
        yield []
        return
    for rest in partitions(items[1:]):
        yield [[items[0]], *rest]
        for k in range(len(rest)):
            yield [*rest[:k], [items[0], *rest[k]], *rest[k + 1 :]]


@pytest.mark.parametrize("seed", range(12))
def test_planted_places_are_found_as_the_best_of_all_partitions(seed: int) -> None:
    """By another road: of all partitions without a play twice or a group too wide, fewest groups, then tightest."""
    choose = random.Random(seed)
    places = [30.0, 30.0 + choose.uniform(1.2, 1.9), 36.0][: choose.choice((2, 3))]
    told = [(n, angle + choose.gauss(0, 0.15)) for n in range(3) for angle in places if choose.random() < 0.85]
    plays = [play(str(n), *(tick(0, angle, "skip") for own, angle in told if own == n)) for n in range(3)]

    def cost(groups: list[list[tuple[int, float]]]) -> tuple[int, float] | None:
        total = 0.0
        for group in groups:
            names, angles = [n for n, _ in group], [angle for _, angle in group]
            if len(set(names)) < len(names) or max(angles) - min(angles) > WINDOW:
                return None
            total += sum((angle - sum(angles) / len(angles)) ** 2 for angle in angles)
        return len(groups), total

    priced = [(cost(one), one) for one in partitions(told)]
    best = min(((price, one) for price, one in priced if price is not None), key=lambda pair: pair[0])[1]
    truth = sorted(sorted(round(angle, 9) for _, angle in group) for group in best)
    spots = find_spots(plays, WINDOW)
    assert sorted(sorted(round(one.fault.angle_deg, 9) for one in spot.marks) for spot in spots) == truth


def test_planted_spots_among_strays() -> None:
    choose = random.Random(7)
    places = [(k * 3 + choose.randrange(3), choose.uniform(3, 357)) for k in range(150)]
    plays, truth = [], {place: set() for place in places}
    for n in range(20):
        own = []
        for turn, angle in places:
            if choose.random() < 0.8:
                own.append(tick(turn, angle + max(-0.9, min(0.9, choose.gauss(0, 0.3)))))
                truth[turn, angle].add(str(n))
        plays.append(play(str(n), *own, *(tick(choose.randrange(450), choose.uniform(0, 360)) for _ in range(20))))
    spots = [one for one in find_spots(plays, WINDOW) if len(one.marks) > 5]
    assert len(spots) == len(places)
    for (turn, angle), spot in zip(sorted(places), spots, strict=True):
        assert (spot.turn, spot.angle_deg) == (turn, pytest.approx(angle, abs=0.5))
        assert len(truth[turn, angle] - set(spot.heard)) <= 1  # a stray beside it may have taken a place


# Scratches ---------------------------------------------------------------------------------------------


def test_ticks_once_a_turn_at_a_steady_angle_are_one_scratch() -> None:
    first = play("a", *(tick(turn, 40.0 + 0.2 * (turn - 10)) for turn in range(10, 16)))
    second = play("b", *(tick(turn, 40.3) for turn in (11, 12, 14)))
    third = play("c", tick(200, 40.0))
    scratch, alone = find_spots([first, second, third], WINDOW)
    assert (scratch.kind, scratch.turn, scratch.last_turn, scratch.heard, scratch.missed) == (
        "scratch", 10, 15, ("a", "b"), ("c",),
    )  # fmt: skip
    assert scratch.angle_deg == pytest.approx(40.5, abs=0.2)
    assert (alone.kind, alone.turn, alone.heard) == ("tick", 200, ("c",))


def test_a_scratch_across_the_seam() -> None:
    across = play("a", tick(10, 359.6), tick(11, 359.9), tick(13, 0.2), tick(14, 0.4))
    (one,) = find_spots([across], WINDOW)
    assert (one.kind, one.turn, one.last_turn) == ("scratch", 10, 14)


def test_two_turns_are_a_scratch_only_where_the_play_says_so() -> None:
    assert len(find_spots([play("a", tick(3, 50.0), tick(4, 50.0))], WINDOW)) == 2
    named = play("a", tick(3, 50.0, "scratch"), tick(4, 50.2, "scratch"))
    assert [(one.kind, one.last_turn) for one in find_spots([named], WINDOW)] == [("scratch", 4)]


def test_ticks_of_different_plays_are_no_scratch() -> None:
    plays = [play(str(turn), tick(turn, 50.0)) for turn in range(6)]
    assert len(find_spots(plays, WINDOW)) == 6


def test_two_scratches_side_by_side() -> None:
    both = play("a", *(tick(turn, angle) for turn in range(5) for angle in (50.0, 53.0)))
    assert [(one.kind, one.angle_deg, one.last_turn) for one in find_spots([both], WINDOW)] == [
        ("scratch", 50.0, 4), ("scratch", 53.0, 4),
    ]  # fmt: skip


def test_strays_of_many_plays_make_hardly_a_scratch() -> None:
    choose = random.Random(3)
    plays = [
        play(str(n), *(tick(choose.randrange(600), choose.uniform(0, 360)) for _ in range(100))) for n in range(20)
    ]
    assert sum(one.kind == "scratch" for one in find_spots(plays, WINDOW)) <= 1


# What a play says of a place ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("audible", "other", "missed"),
    [
        (True, {}, True), (True, {"by_ear": True}, True), (False, {"by_ear": True}, False),
        (None, {"by_ear": True}, False), (False, {}, True), (True, {"whole": False}, False),
        (True, {"to_turn": 50.0}, False), (True, {"to_turn": 51.0}, True),
    ],
)  # fmt: skip
def test_which_plays_would_have_told_of_it(audible: bool | None, other: dict[str, Any], missed: bool) -> None:
    (one,) = find_spots([play("a", tick(50, 1.0, audible=audible)), play("b", **other)], WINDOW)
    assert one.missed == (("b",) if missed else ())


def test_nothing_played_is_no_spot() -> None:
    assert find_spots([], WINDOW) == find_spots([play("a")], WINDOW) == ()


def test_the_order_of_the_plays_makes_no_difference() -> None:
    choose = random.Random(11)
    plays = [play(str(n), *(tick(0, choose.uniform(0, 90)) for _ in range(12))) for n in range(4)]
    once = {frozenset(one.heard) | {round(one.angle_deg, 6)} for one in find_spots(plays, WINDOW)}
    for order in itertools.permutations(plays):
        assert {frozenset(one.heard) | {round(one.angle_deg, 6)} for one in find_spots(order, WINDOW)} == once
