"""Cartons and bundles: nothing is lost or mixed, the last ones are part-filled, numbers follow one another.

Expected numbers are *by hand*.
"""

from __future__ import annotations

from collections import Counter, defaultdict

import pytest
from hypothesis import given
from hypothesis import strategies as st
from packing_cases import FEW, RULES, SERIALS, order_lines, ordered, packed, stock_lines, stored

from discwright.errors import CallError
from discwright.works.allocation import allocate
from discwright.works.gs1 import Serials, SsccRange, is_right
from discwright.works.order_lines import OrderLine, StockLine
from discwright.works.packing import PackRules, consignee_of, pack


@FEW
@given(order_lines(), stock_lines(), RULES)
def test_counts_never_appear_or_vanish(orders: list[OrderLine], stock: list[StockLine], rules: PackRules) -> None:
    """Between orders, stock, cartons and shorts; and what is picked is what lies in the cartons."""
    found = packed(orders, stock, rules)
    asked = Counter({(one.order, one.account, one.edition): one.count for one in orders})
    in_cartons: Counter[tuple[str, str, str]] = Counter()
    taken: Counter[tuple[str, str, str]] = Counter()
    for one in found.cartons:
        in_cartons[one.order, one.account, one.edition] += one.count
        assert 1 <= one.count == sum(pick.count for pick in one.picks) <= rules.per_carton
        for pick in one.picks:
            taken[one.edition, pick.run, pick.bin] += pick.count
    short = Counter({(one.order, one.account, one.edition): one.missing for one in found.short})
    assert in_cartons + short == asked
    there = Counter({(one.edition, one.run, one.bin): one.count for one in stock})
    assert all(count <= there[place] for place, count in taken.items())
    walked = Counter[tuple[str, str, str]]()
    for row in found.pick_list:
        walked[row.edition, row.run, row.bin] += row.count
    assert walked == taken
    assert sum(one.count for one in found.bundles) == sum(in_cartons.values())


@FEW
@given(order_lines(), stock_lines(), RULES)
def test_nobody_receives_anothers_and_nothing_is_mixed(
    orders: list[OrderLine], stock: list[StockLine], rules: PackRules
) -> None:
    found = packed(orders, stock, rules)
    homes = {one.order: consignee_of(one) for one in orders}
    runs = {(one.run, one.edition) for one in stock}
    for one in found.cartons:
        assert one.consignee == homes[one.order]
        assert {pick.run for pick in one.picks} == {one.run}
        assert (one.run, one.edition) in runs
    for bundle in found.bundles:
        assert {one.consignee for one in bundle.cartons} == {bundle.consignee}
        assert {one.bundle for one in bundle.cartons} == {bundle.number}
        assert bundle.full is (len(bundle.cartons) == rules.per_bundle)
    assert [one for bundle in found.bundles for one in bundle.cartons] == list(found.cartons)


@FEW
@given(order_lines(), stock_lines(), RULES)
def test_only_last_ones_are_part_filled(orders: list[OrderLine], stock: list[StockLine], rules: PackRules) -> None:
    found = packed(orders, stock, rules)
    lines = defaultdict(list)
    for one in found.cartons:
        lines[one.order, one.edition, one.run].append(one.full)
    assert all(all(full[:-1]) for full in lines.values())
    bundles = defaultdict(list)
    for bundle in found.bundles:
        bundles[bundle.consignee].append(bundle.full)
    assert all(all(full[:-1]) for full in bundles.values())
    for to, own in bundles.items():
        places = [one.place for one in found.cartons if one.consignee == to]
        assert places == list(range(1, len(places) + 1))
        assert {one.of for one in found.cartons if one.consignee == to} == {len(places)}
        assert len(own) == -(-len(places) // rules.per_bundle)


@FEW
@given(order_lines(), stock_lines(), RULES)
def test_every_unit_has_an_sscc_of_its_own(orders: list[OrderLine], stock: list[StockLine], rules: PackRules) -> None:
    found = packed(orders, stock, rules)
    numbers = [*(one.sscc for one in found.cartons), *(one.sscc for one in found.bundles)]
    assert numbers == [SERIALS.numbers.sscc(1 + k) for k in range(len(numbers))]
    assert len(set(numbers)) == len(numbers)
    assert all(one is not None and is_right(one) for one in numbers)
    assert found.next_serial == 1 + len(numbers)
    assert packed(orders, stock, rules) == found


@FEW
@given(order_lines(), stock_lines())
def test_a_packing_after_another_uses_no_sscc_again(orders: list[OrderLine], stock: list[StockLine]) -> None:
    first = packed(orders, stock)
    assert first.next_serial is not None
    second = packed(orders, stock, serials=Serials(SERIALS.numbers, first.next_serial))
    used = {one.sscc for one in (*first.cartons, *first.bundles)}
    assert not used & {one.sscc for one in (*second.cartons, *second.bundles)}


def test_a_hundred_and_twelve_discs() -> None:
    found = packed([ordered("A-1", 112)], [stored("R-1", 200, "B-1")])
    assert [one.count for one in found.cartons] == [25, 25, 25, 25, 12]
    assert [one.full for one in found.cartons] == [True] * 4 + [False]
    assert [len(one.cartons) for one in found.bundles] == [4, 1]
    assert [(one.full, one.count) for one in found.bundles] == [(True, 100), (False, 12)]
    assert [(one.place, one.of, one.bundle) for one in found.cartons] == [(k, 5, 1 + (k == 5)) for k in range(1, 6)]
    assert found.short == ()


def test_one_disc_less_is_part_filled() -> None:
    found = packed([ordered("A-1", 49)], [stored("R-1", 49, "B-1")])
    assert [(one.count, one.full) for one in found.cartons] == [(25, True), (24, False)]


def test_a_carton_may_be_filled_from_two_bins_of_one_run() -> None:
    found = packed([ordered("A-1", 50)], [stored("R-1", 30, "B-1"), stored("R-1", 30, "B-2")])
    assert [(one.count, one.bin) for one in found.cartons] == [(25, "B-1"), (25, "B-1 + B-2")]
    assert [(row.bin, row.count, row.first, row.last) for row in found.pick_list] == [
        ("B-1", 30, 1, 2), ("B-2", 20, 2, 2),
    ]  # fmt: skip


def test_two_runs_never_share_a_carton() -> None:
    found = packed([ordered("A-1", 60)], [stored("R-1", 30, "B-1"), stored("R-2", 30, "B-2")])
    assert [(one.run, one.count) for one in found.cartons] == [("R-1", 25), ("R-1", 5), ("R-2", 25), ("R-2", 5)]


def test_two_addresses_of_an_account_are_kept_apart() -> None:
    orders = [ordered("A-1", 10, order="O-1"), ordered("A-1", 10, order="O-2", street="Quay 2")]
    found = packed(orders, [stored("R-1", 30, "B-1")])
    assert [one.account for one in found.bundles] == ["A-1", "A-1"]
    assert len(found.consignees) == 2


def test_accounts_stand_as_people_count() -> None:
    orders = [ordered(account, 5) for account in ("A-10", "A-9", "A-1")]
    assert [one.account for one in packed(orders, [stored("R-1", 30, "B-1")]).cartons] == ["A-1", "A-9", "A-10"]


def test_without_a_prefix_there_are_plain_numbers() -> None:
    found = packed([ordered("A-1", 30)], [stored("R-1", 30, "B-1")], serials=None)
    assert [(one.sscc, one.number, one.key) for one in found.cartons] == [(None, 1, "1"), (None, 2, "2")]
    assert [(one.sscc, one.key) for one in found.bundles] == [(None, "B1")]
    assert found.next_serial is None


def test_serials_that_do_not_suffice() -> None:
    allocation = allocate([ordered("A-1", 30)], [stored("R-1", 30, "B-1")])
    with pytest.raises(CallError, match=r"3 SSCC from serial number 9998 on are more than prefix 501234567890 .*left"):
        pack(allocation, PackRules(), Serials(SsccRange("501234567890"), 9998))


@given(st.integers(-3, 1100), st.integers(-3, 110))
def test_rules_that_nobody_packs_by(per_carton: int, per_bundle: int) -> None:
    if 1 <= per_carton <= 1000 and 1 <= per_bundle <= 100:
        assert PackRules(per_carton, per_bundle).per_carton == per_carton
    else:
        with pytest.raises(CallError, match=r"cannot be packed; give 1 to (1000|100)\."):
            PackRules(per_carton, per_bundle)
