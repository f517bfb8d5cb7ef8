"""What is kept in memory beside the ledger is what the ledger says, after every line and from every other hand."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from pressed import order_line, take_orders, take_title

from discwright.acts.dock import pack_orders
from discwright.acts.loading import load, open_carton
from discwright.acts.recalls import recall_run
from discwright.acts.works import Hand
from discwright.acts.works_record import correct
from discwright.desk import yards as module
from discwright.desk.yards import whole, yards
from discwright.works.store.ledger import Ledger, begin_ledger, open_ledger

ANN = Hand("Ann", "packing")


@pytest.fixture
def ledger(stocked_folder: Path) -> Iterator[Ledger]:
    found = open_ledger(str(stocked_folder / "works.sqlite"))
    yield found
    found.close()


def same(ledger: Ledger) -> bool:
    """By another road: everything read anew."""
    return yards(ledger).families == whole(ledger).families


def test_every_line_is_seen_and_only_its_title_read(ledger: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    assert same(ledger)
    first = yards(ledger)
    assert yards(ledger) is first  # nothing happened
    monkeypatch.setattr(module, "families_beyond", lambda _: pytest.fail("everything was read anew"))
    told = pack_orders(ledger, ANN, prefix="9521234", dock="1").as_dict()
    after = yards(ledger)
    assert len(after.cartons) == 8
    load(ledger, told["cartons"][0]["sscc"], "1", ANN)
    again = yards(ledger)
    untouched = [one for one in again.families if one.title == "NL 5"]
    assert [one is other for one, other in zip(untouched, after.families[1:], strict=True)] == [True]
    open_carton(ledger, told["cartons"][1]["sscc"], "Z-1", ANN)
    recall_run(ledger, told["cartons"][1]["run"], ANN, note="a tick")
    take_orders(ledger, order_line("9", "K9", "NL 5/ep", 5))
    monkeypatch.undo()
    assert same(ledger)
    assert len(yards(ledger).cartons) == 7


def test_lines_of_another_process_count(ledger: Ledger, stocked_folder: Path) -> None:
    yards(ledger)
    other = open_ledger(str(stocked_folder / "works.sqlite"))
    take_orders(other, order_line("9", "K9", "NL 5/ep", 5))
    other.close()
    assert same(ledger)
    assert any(one.line.order == "9" for family in yards(ledger).families for one in family.yard.orders.values())


def test_a_title_without_run_or_order_is_none_of_it(ledger: Ledger) -> None:
    take_title(ledger, "NL 6", "lp")
    assert [one.title for one in yards(ledger).families] == ["NL 4", "NL 5"]
    assert same(ledger)


def test_a_title_whose_only_order_was_undone_is_gone(ledger: Ledger) -> None:
    take_title(ledger, "NL 6", "lp")
    take_orders(ledger, order_line("9", "K9", "NL 6/lp", 5))
    assert [one.title for one in yards(ledger).families] == ["NL 4", "NL 5", "NL 6"]
    assert correct(ledger, ledger.head()[0], "another works' order", ANN).line is not None
    assert [one.title for one in yards(ledger).families] == ["NL 4", "NL 5"]


def test_another_ledger_in_its_place_is_read_anew(ledger: Ledger, tmp_path: Path) -> None:
    """As after a restore: the same file, other lines."""
    yards(ledger)
    bare = begin_ledger(str(tmp_path / "other.sqlite"))
    take_title(bare, "KV 1", "lp")
    take_orders(bare, order_line("1", "K1", "KV 1/lp", 5))
    bare.close()
    ledger.engine.dispose()
    place = Path(str(ledger.engine.url.database))
    for one in place.parent.glob(f"{place.name}*"):
        one.unlink()
    shutil.copy(tmp_path / "other.sqlite", place)
    assert [one.title for one in yards(ledger).families] == ["KV 1"]


def test_a_bare_ledger_has_nothing(tmp_path: Path) -> None:
    bare = begin_ledger(str(tmp_path / "bare.sqlite"))
    assert yards(bare).families == ()
    take_title(bare, "KV 1", "lp")
    assert yards(bare).packings == ()
    bare.close()
