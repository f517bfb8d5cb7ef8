"""Packings out of the ledger again: just as they were packed, apart from each other, whatever happened since."""

from __future__ import annotations

from dataclasses import replace

import pytest
from pressed import ANN, order_line, stampers_of, stocked_run, take_orders, take_title

from discwright.acts.dock import DockReport, pack_orders
from discwright.acts.loading import load, open_carton
from discwright.acts.packings import packing_with, packings
from discwright.errors import CallError
from discwright.works.packing import PackRules
from discwright.works.store.ledger import Ledger
from discwright.works.store.look import families_beyond

#: 952 is set aside by GS1 for demonstrations and examples (from memory).
PREFIX = "9521234"
RULES = PackRules()


@pytest.fixture
def works(ledger: Ledger) -> Ledger:
    """Two titles in bins."""
    for title, edition, bins in (("NL 4", "lp", [("A-2", 60), ("A-10", 40)]), ("NL 5", "ep", [("C-1", 90)])):
        take_title(ledger, title, edition)
        stocked_run(ledger, f"{title}/{edition}", stampers_of(ledger, title, edition), bins)
    return ledger


def packed_now(ledger: Ledger, **more: object) -> DockReport:
    report = pack_orders(ledger, ANN, prefix=PREFIX, **more)  # type: ignore[arg-type]
    assert report.written
    return report


def test_a_packing_comes_back_as_it_was_packed(works: Ledger) -> None:
    take_orders(works, order_line("1", "K1", "NL 4/lp", 85), order_line("2", "K20", "NL 4/lp", 7))
    take_orders(works, order_line("1", "K1", "NL 5/ep", 40))
    report = packed_now(works, dock="1")
    (found,) = packings(families_beyond(works), RULES)
    # By another road: what packing gave, but for what only it knows (who is short, the next number).
    wanted = replace(report.packed, short=(), next_serial=None)
    assert found.packed == wanted
    assert found.packed.pick_list == report.packed.pick_list
    assert found.id == report.packed.cartons[0].sscc
    assert found.there == wanted


def test_packings_are_kept_apart_also_where_one_follows_the_other(works: Ledger) -> None:
    reports = []
    for number, count in enumerate((30, 5, 55)):
        take_orders(works, order_line(str(number), f"K{number}", "NL 5/ep", count))
        reports.append(packed_now(works))
    found = packings(families_beyond(works), RULES)
    assert [one.packed.cartons for one in found] == [one.packed.cartons for one in reports]
    for report, one in zip(reports, found, strict=True):
        for carton in report.packed.cartons:
            assert packing_with(found, str(carton.sscc)) == (one, carton.number)
        for bundle in report.packed.bundles:
            assert packing_with(found, str(bundle.sscc)) == (one, bundle.cartons[0].number)
    with pytest.raises(CallError, match="is no carton that was packed here"):
        packing_with(found, "157035381410375177")


def test_another_extension_digit_begins_its_own(works: Ledger) -> None:
    take_orders(works, order_line("1", "K1", "NL 5/ep", 10))
    packed_now(works, extension=3)
    take_orders(works, order_line("2", "K1", "NL 5/ep", 10))
    packed_now(works, extension=0)
    assert [one.id[0] for one in packings(families_beyond(works), RULES)] == ["0", "3"]


def test_what_was_opened_or_loaded_since(works: Ledger) -> None:
    take_orders(works, order_line("1", "K1", "NL 4/lp", 100))
    report = packed_now(works, dock="1")
    numbers = [str(one.sscc) for one in report.packed.cartons]
    open_carton(works, numbers[1], "Z-1", ANN)
    load(works, numbers[0], "1", ANN)
    (found,) = packings(families_beyond(works), RULES)
    assert [one.number for one in found.packed.cartons] == [1, 2, 3, 4]
    assert [one.number for one in found.there.cartons] == [1, 3, 4]
    assert [(len(one.cartons), one.full) for one in found.there.bundles] == [(3, False)]
    # The places on the labels stay what they were.
    assert [(one.place, one.of) for one in found.there.cartons] == [(1, 4), (3, 4), (4, 4)]


def test_a_full_carton_stays_one_whatever_the_house_packs_now(works: Ledger) -> None:
    take_orders(works, order_line("1", "K1", "NL 4/lp", 23))
    packed_now(works, per_carton=10)
    (found,) = packings(families_beyond(works), RULES)
    assert [(one.count, one.capacity, one.full) for one in found.packed.cartons] == [
        (10, 10, True), (10, 10, True), (3, 10, False),
    ]  # fmt: skip


def test_one_press_of_several_titles_stands_under_one_key(works: Ledger) -> None:
    take_orders(works, order_line("1", "K1", "NL 4/lp", 10))
    take_orders(works, order_line("1", "K1", "NL 5/ep", 10))
    report = pack_orders(works, replace(ANN, key="press-1"), prefix=PREFIX)
    assert report.written
    assert {works.keyed(f"press-1-{k}").title for k in (0, 1)} == {"NL 4", "NL 5"}  # type: ignore[union-attr]
    assert works.keyed("press-1-2") is None
