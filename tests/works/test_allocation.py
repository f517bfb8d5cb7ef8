"""Sharing out: no disc appears or vanishes, the rule is kept, shares are fair to the last disc.

Expected numbers are *by hand* unless a test says otherwise.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from packing_cases import EDITIONS, FEW, order_lines, ordered, stock_lines, stored

from discwright.errors import CallError
from discwright.works.allocation import RULES, allocate, bin_order, fair_share, share
from discwright.works.order_lines import OrderLine, StockLine

RULE = st.sampled_from(list(RULES))
ASKED = st.lists(st.tuples(st.integers(0, 60), st.sampled_from([1, 2, 3])), min_size=1, max_size=7)


@FEW
@given(order_lines(), stock_lines(), RULE, st.sampled_from([1, 7, 25]))
def test_no_disc_appears_or_vanishes(orders: list[OrderLine], stock: list[StockLine], rule: str, per: int) -> None:
    found = allocate(orders, stock, rule=rule, per_carton=per)
    assert [one.line for one in found.granted] == orders
    taken: Counter[tuple[str, str, str]] = Counter()
    for one in found.granted:
        assert 0 <= one.count <= one.line.count
        assert one.count + one.missing == one.line.count
        for pick in one.picks:
            assert pick.count > 0
            taken[one.line.edition, pick.run, pick.bin] += pick.count  # never of another edition
    left = Counter({(one.edition, one.run, one.bin): one.count for one in found.left})
    assert taken + left == Counter({(one.edition, one.run, one.bin): one.count for one in stock if one.count})
    for edition in EDITIONS:
        wanted = sum(one.count for one in orders if one.edition == edition)
        there = sum(one.count for one in stock if one.edition == edition)
        got = sum(one.count for one in found.granted if one.line.edition == edition)
        assert got == min(wanted, there)
        assert (edition in found.short_editions) is (there < wanted)


@FEW
@given(order_lines(), stock_lines(), RULE)
def test_the_same_lines_give_the_same_shares(orders: list[OrderLine], stock: list[StockLine], rule: str) -> None:
    assert allocate(orders, stock, rule=rule) == allocate(list(orders), list(reversed(stock)), rule=rule)


@FEW
@given(order_lines(), stock_lines())
def test_nobody_is_served_before_an_earlier_day(orders: list[OrderLine], stock: list[StockLine]) -> None:
    for early, late in product(allocate(orders, stock).granted, repeat=2):
        if early.line.edition == late.line.edition and (early.line.wanted or "9") < (late.line.wanted or "9"):
            assert not (early.missing and late.count)


@FEW
@given(order_lines(), stock_lines())
def test_a_heavier_account_is_served_first_under_its_rule(orders: list[OrderLine], stock: list[StockLine]) -> None:
    for heavy, light in product(allocate(orders, stock, rule="weight").granted, repeat=2):
        if heavy.line.edition == light.line.edition and heavy.line.weight > light.line.weight:
            assert not (heavy.missing and light.count)


@given(ASKED, st.integers(0, 200))
def test_fair_shares(asked: list[tuple[int, int]], have: int) -> None:
    """By another road: the shares of water in cups, found by halving, and each share that or the next whole number."""
    counts, weights = [count for count, _ in asked], [Fraction(weight) for _, weight in asked]
    shares = fair_share(counts, weights, have)
    assert sum(shares) == min(have, sum(counts))
    assert all(0 <= got <= count for got, count in zip(shares, counts, strict=True))
    low, high = 0.0, 1.0
    for _ in range(60):
        scale = (low + high) / 2
        full = sum(min(count, count * float(weight) * scale) for count, weight in zip(counts, weights, strict=True))
        low, high = (scale, high) if full < min(have, sum(counts)) else (low, scale)
    for got, count, weight in zip(shares, counts, weights, strict=True):
        assert abs(got - min(count, count * float(weight) * high)) < 1.0 + 1e-6


def test_shares_by_hand() -> None:
    # 30, 60, 10 of 100 ordered, 50 there: halves.
    assert fair_share([30, 60, 10], [Fraction(1)] * 3, 50) == [15, 30, 5]
    # 7 of three times 5: 2⅓ each, the odd disc to the first.
    assert fair_share([5, 5, 5], [Fraction(1)] * 3, 7) == [3, 2, 2]
    # Weight 3 of 10 would get 15 of 20: it gets its 10, the other the rest.
    assert fair_share([10, 10], [Fraction(3), Fraction(1)], 13) == [10, 3]
    # Remainders ¾ and ¼: 3 × 1 of 4 and 1 × 3 of 4 at three quarters.
    assert fair_share([1, 3], [Fraction(1)] * 2, 3) == [1, 2]
    assert fair_share([0, 4], [Fraction(1)] * 2, 3) == [0, 3]
    assert fair_share([4], [Fraction(1)], 0) == [0]


def test_each_rule_by_hand() -> None:
    lines = [
        ordered("A", 60, wanted="2026-12-24", weight=5.0),
        ordered("B", 40, wanted="2026-12-01"),
        ordered("C", 40, wanted="2026-12-01", weight=3.0),
        ordered("D", 20, wanted=""),
    ]
    # 1 December first: 80 are wanted and there.
    assert share(lines, 90, "date") == [10, 40, 40, 0]
    # 60 there on one day: C counts three times and gets its 40, B the other 20.
    assert share(lines, 60, "date") == [0, 20, 40, 0]
    # By weight: A all, then C.
    assert share(lines, 90, "weight") == [60, 0, 30, 0]
    # 300, 40, 120, 20 of 480: 56¼, 7½, 22½, 3¾; the odd two to ¾ and to the first ½.
    assert share(lines, 90, "fair") == [56, 8, 22, 4]
    # 110 of 480 would give A more than its 60; the other 50 go as 40, 120, 20 of 180: 11 1/9, 33 3/9, 5 5/9.
    assert share(lines, 110, "fair") == [60, 11, 33, 6]
    assert share(lines, 160, "fair") == [60, 40, 40, 20]


def test_the_rule_is_told_in_words() -> None:
    for rule, words in RULES.items():
        told = allocate([ordered("A", 10)], [], rule=rule)
        assert told.rule_words.startswith(words)
        assert told.rule_words.endswith("largest remainder, ties to the line that came first.")
        assert [one.missing for one in told.short] == [10]


def test_one_run_where_one_has_enough() -> None:
    found = allocate([ordered("A", 100)], [stored("R-1", 60, "B-1"), stored("R-2", 100, "B-2")])
    assert [(pick.run, pick.count) for pick in found.granted[0].picks] == [("R-2", 100)]
    # Of several the one that is left with least, then the first in bin order.
    found = allocate(
        [ordered("A", 30)], [stored("R-1", 60, "B-1"), stored("R-2", 31, "B-10"), stored("R-3", 31, "B-9")]
    )
    assert [pick.bin for pick in found.granted[0].picks] == ["B-9"]


def test_whole_cartons_first_where_no_run_has_enough() -> None:
    found = allocate([ordered("A", 100)], [stored("R-1", 60, "B-1"), stored("R-2", 70, "B-2")])
    assert [(pick.run, pick.count) for pick in found.granted[0].picks] == [("R-1", 50), ("R-2", 50)]
    # 20 and 20 make no carton: the larger pieces first.
    found = allocate([ordered("A", 30)], [stored("R-1", 20, "B-1"), stored("R-2", 15, "B-2")])
    assert [(pick.run, pick.count) for pick in found.granted[0].picks] == [("R-1", 20), ("R-2", 10)]


def test_a_run_is_taken_bin_by_bin() -> None:
    stock = [stored("R-1", 30, "B-10"), stored("R-1", 30, "B-9"), stored("R-1", 30, "B-2")]
    found = allocate([ordered("A", 70)], stock)
    assert [(pick.bin, pick.count) for pick in found.granted[0].picks] == [("B-2", 30), ("B-9", 30), ("B-10", 10)]
    assert [(one.bin, one.count) for one in found.left] == [("B-10", 20)]


def test_bins_sort_as_they_stand() -> None:
    assert sorted(["B-10", "B-9", "A-2b", "A-2", "", "12", "2"], key=bin_order) == [
        "", "A-2", "A-2b", "B-9", "B-10", "2", "12",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("orders", "stock", "rule", "words"),
    [
        ([], [], "first", "there is no rule “first”; choose from date, weight, fair."),
        ([ordered("A", 0)], [], "date", "order O-A asks for 0 of NL-004/lp; an order is for 1 or more."),
        ([ordered("A", 1, weight=0.0)], [], "date", "account A has a weight of 0; give one above zero."),
        ([ordered("A", 1, weight=float("nan"))], [], "date", "account A has a weight of nan; give one above zero."),
        ([], [stored("R-1", -1, "B-1")], "date", "bin B-1 holds -1 of NL-004/lp; count it again."),
    ],
)
def test_what_cannot_be_shared(orders: list[OrderLine], stock: list[StockLine], rule: str, words: str) -> None:
    with pytest.raises(CallError) as refusal:
        allocate(orders, stock, rule=rule)
    assert str(refusal.value) == words
    with pytest.raises(CallError, match="a carton of 0 holds nothing"):
        allocate([], [], per_carton=0)
