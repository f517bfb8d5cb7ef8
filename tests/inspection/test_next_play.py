"""What to play next in large families: bounds only pass over parts, never change which one is found."""

from __future__ import annotations

import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from discwright.inspection import next_play as module
from discwright.inspection.locate import Audition, Guilt, Member, locate


def family(seed: int, count: int, shape: str) -> tuple[list[Member], list[Audition]]:
    """A family of some shape with priors that all differ, and plays of some of it."""
    choose = random.Random(seed)

    def above(k: int) -> int:
        if shape == "broad":
            return 0 if k < 3 else choose.randrange(min(k, 25))
        if shape == "deep":
            return k - 1 - (k > 5 and choose.random() < 0.3)
        return choose.randrange(max(0, k // 6 - 3), k // 6 + 1)

    members = [Member("p0", "", 0.01)]
    members += [Member(f"p{k}", f"p{above(k)}", choose.uniform(0.0, 0.08)) for k in range(1, count)]
    members += [Member("other", "", 0.03), Member("below", "other", 0.04)]  # a second lacquer
    plays = [Audition(f"p{choose.randrange(count)}", int(choose.random() < 0.3), 1) for _ in range(count // 4)]
    return members, plays


@pytest.mark.parametrize("shape", ["broad", "bushy", "deep"])
@pytest.mark.parametrize("seed", range(3))
def test_bounds_find_the_part_that_is_found_in_full(seed: int, shape: str, monkeypatch: pytest.MonkeyPatch) -> None:
    members, plays = family(seed, 420, shape)
    quick = locate(members, plays, 0.9, 0.02)
    monkeypatch.setattr(module, "_ALL_IN_FULL", 10**9)  # by another road: every part reckoned in full
    full = locate(members, plays, 0.9, 0.02)
    assert quick.next_test == full.next_test
    assert quick.expected_fall_bits == pytest.approx(full.expected_fall_bits, abs=1e-12)
    assert max(full.falls_bits.values()) == pytest.approx(full.expected_fall_bits, abs=1e-9)
    for part, fall in quick.falls_bits.items():
        assert fall == pytest.approx(full.falls_bits[part], abs=1e-12)


def test_bounds_pass_over_most_parts() -> None:
    members, plays = family(1, 1500, "broad")
    assert len(locate(members, plays, 0.9, 0.02).falls_bits) < 200


def test_equal_parts_are_played_in_the_order_of_the_family(monkeypatch: pytest.MonkeyPatch) -> None:
    """Four hundred mothers of one stamper each, all alike but for where they stand: the first is as good as any."""
    members = [Member("L", "", 0.01)]
    members += [one for k in range(400) for one in (Member(f"M{k}", "L", 0.02), Member(f"S{k}", f"M{k}", 0.02))]

    def first() -> Guilt:
        return locate(members, [Audition("L", 0, 1)], 0.9, 0.02, [f"S{k}" for k in range(400)])

    quick = first()
    monkeypatch.setattr(module, "_ALL_IN_FULL", 10**9)
    assert (quick.next_test, first().next_test) == ("S0", "S0")


def test_a_part_that_is_surely_faulty_or_surely_sound() -> None:
    members, plays = family(2, 400, "broad")
    members[0] = Member("p0", "", 1.0)
    assert locate(members, plays, 0.9, 0.02).next_test in {"other", "below"}  # all else carries it for sure
    sound = [Member(one.id, one.parent, 0.0) for one in members]
    assert locate(sound, plays, 0.9, 0.02).next_test == ""


@pytest.mark.parametrize("seed", range(4))
def test_bounds_that_are_loose_still_let_the_best_through(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    members, plays = family(seed, 420, "broad")
    monkeypatch.setattr(module, "_TOUCHES", 2)
    loose = locate(members, plays, 0.9, 0.02)
    monkeypatch.setattr(module, "_ALL_IN_FULL", 10**9)
    assert loose.next_test == locate(members, plays, 0.9, 0.02).next_test


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(0.0, 1.0), min_size=1, max_size=8), st.lists(st.floats(0.0, 1.0), min_size=60, max_size=90),
    st.sampled_from([2, 5, 24]),
)  # fmt: skip
def test_a_sum_of_entropies_lies_between_its_chords_and_tangents(
    clean: list[float], shares: list[float], touches: int
) -> None:
    """by another road: the sum itself; factors up to the largest that leaves every probability at most one."""
    chances = np.array(clean)
    factors = np.array(shares) / max(chances.max(), 1e-3)
    many = np.arange(1.0, len(chances) + 1)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "_TOUCHES", touches)
        low, high = module._enclosed(chances, many, factors)
    p = np.clip(factors[:, None] * chances, 1e-300, 1.0)
    q = np.clip(1.0 - p, 1e-300, 1.0)
    exact = -(p * np.log2(p) + q * np.log2(q)) @ many
    assert np.all(low <= exact + 1e-9)
    assert np.all(high >= exact - 1e-9)
