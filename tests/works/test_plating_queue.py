"""Parts in tanks: small queues *by hand*, and the bounds of list scheduling, *published* (Graham 1966, 1969)."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.works.plating_queue import queue_parts


def jobs(*minutes: float) -> list[tuple[str, float]]:
    return [(f"P{k}", one * 60.0) for k, one in enumerate(minutes, 1)]


def test_five_parts_in_two_tanks() -> None:
    queue = queue_parts(jobs(100, 60, 60, 30, 30), 2, 600.0)
    told = [(p.part, p.tank, p.start / 60, p.end / 60) for p in queue.places]
    assert told == [
        ("P1", 1, 0.0, 100.0), ("P2", 2, 0.0, 60.0), ("P3", 2, 70.0, 130.0), ("P4", 1, 110.0, 140.0),
        ("P5", 2, 140.0, 170.0),
    ]  # fmt: skip
    assert queue.seconds == 170 * 60.0
    assert queue.tank_share == pytest.approx(280 / 340)


def test_more_tanks_than_parts() -> None:
    queue = queue_parts(jobs(100, 60), 5, 600.0)
    assert [(p.tank, p.start) for p in queue.places] == [(1, 0.0), (2, 0.0)]
    assert queue.seconds == 6000.0


@pytest.mark.parametrize(
    ("tanks", "minutes", "listed", "best"),
    # Published (Graham 1969): longest first, the bound 4/3 − 1/(3m) is met.
    [(2, (3, 3, 2, 2, 2), 7, 6), (3, (5, 5, 4, 4, 3, 3, 3), 11, 9)],
)
def test_longest_first_meets_grahams_bound(tanks: int, minutes: tuple[int, ...], listed: int, best: int) -> None:
    assert queue_parts(jobs(*minutes), tanks, 0.0).seconds / 60 == listed
    assert listed / best == pytest.approx(4 / 3 - 1 / (3 * tanks))


@given(st.lists(st.floats(1.0, 500.0), min_size=1, max_size=30), st.integers(1, 6), st.floats(0.0, 60.0))
def test_whatever_the_queue(minutes: list[float], tanks: int, pause: float) -> None:
    """No tank holds two parts at once, no part waits for a tank that is free, no order is changed."""
    queue = queue_parts(jobs(*minutes), tanks, pause * 60.0)
    for tank in range(1, tanks + 1):
        mine = [p for p in queue.places if p.tank == tank]
        for one, other in pairwise(mine):
            assert other.start == pytest.approx(one.end + pause * 60.0)
        assert not mine or mine[0].start == 0.0
    starts = [p.start for p in queue.places]
    assert starts == sorted(starts)
    longest, whole = max(minutes) * 60.0, sum(minutes) * 60.0
    assert queue.seconds >= max(longest, whole / tanks) * (1 - 1e-12)
    if pause == 0.0:  # published (Graham 1966)
        assert queue.seconds <= (whole + (tanks - 1) * longest) / tanks * (1 + 1e-9)


@pytest.mark.parametrize(
    ("parts", "tanks", "pause", "sentence"),
    [
        (jobs(1), 0, 0.0, "0 tanks cannot be planned; give 1 to 100."),
        (jobs(1), 101, 0.0, "101 tanks cannot be planned; give 1 to 100."),
        ([], 1, 0.0, "0 parts cannot be queued; give 1 to 10000."),
        (jobs(1), 1, -60.0, "a turn-round of -1 minutes is none; give 0 or more, a year at most."),
        (jobs(1), 1, float("nan"), "a turn-round of nan minutes is none; give 0 or more, a year at most."),
        (jobs(0), 1, 0.0, "P1: 0 minutes in a tank is no time; give more than 0, a year at most."),
    ],
)
def test_queues_that_cannot_be(parts: list[tuple[str, float]], tanks: int, pause: float, sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        queue_parts(parts, tanks, pause)
    assert str(refusal.value) == sentence
