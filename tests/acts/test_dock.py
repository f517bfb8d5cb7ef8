"""Packing, loading, recalls and the road back, out of ledgers on both databases."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

import pytest
from pressed import ANN, made, order_line, stamper_of, stampers_of, stocked_run, take_orders, take_title

from discwright.acts import dock
from discwright.acts.dock import open_orders, pack_orders, packing_key, stock
from discwright.acts.loading import carton_descent, load, open_carton
from discwright.acts.pack import pack_lines
from discwright.acts.recalls import recall_run, recalls, tell_account
from discwright.acts.works import Hand
from discwright.errors import CallError
from discwright.works import events as e
from discwright.works import run_events
from discwright.works.gs1 import is_right
from discwright.works.store.export import export_text, import_text
from discwright.works.store.ledger import Ledger, Order, open_ledger
from discwright.works.store.look import families_beyond
from discwright.works.store.verify import verify

#: 952 is set aside by GS1 for demonstrations and examples (from memory).
PREFIX = "9521234"


@pytest.fixture
def works(ledger: Ledger) -> Ledger:
    """Two titles, of the first one two runs with different stampers of side A."""
    take_title(ledger, "NL 4", "lp")
    take_title(ledger, "NL 5", "ep")
    own = stampers_of(ledger, "NL 4", "lp")
    stocked_run(ledger, "NL 4/lp", own, [("A-2", 60), ("A-10", 40)])
    mother = ledger.family("NL 4").parts[own["A"]].parent
    stocked_run(ledger, "NL 4/lp", own | {"A": stamper_of(ledger, mother)}, [("B-1", 50)])
    stocked_run(ledger, "NL 5/ep", stampers_of(ledger, "NL 5", "ep"), [("C-1", 30)])
    return ledger


def test_what_is_ordered_is_packed_and_nothing_twice(works: Ledger) -> None:
    take_orders(works, order_line("1", "K1", "NL 4/lp", 55), order_line("2", "K2", "NL 4/lp", 70))
    take_orders(works, order_line("1", "K1", "NL 5/ep", 40))
    report = pack_orders(works, ANN, prefix=PREFIX, dock="1", docks={"K2": "2"})
    assert report.written
    told = report.as_dict()
    # By hand: 55 in 3 cartons, 70 in 3, 30 of 40 in 2; K1 has five cartons in two bundles, K2 three in one.
    assert sorted(one["count"] for one in told["cartons"]) == [5, 5, 20, 25, 25, 25, 25, 25]
    assert [len(one["cartons"]) for one in told["bundles"]] == [4, 1, 3]
    assert told["short"] == [{"account": "K1", "edition": "NL 5/ep", "order": "1", "missing": 10}]
    assert {one["dock"] for one in told["cartons"] if one["account"] == "K2"} == {"2"}
    numbers = [one["sscc"] for one in told["cartons"]] + [one["sscc"] for one in told["bundles"]]
    assert len(set(numbers)) == 11
    assert all(is_right(one) and PREFIX in one for one in numbers)
    families = families_beyond(works)
    assert [(one.order, one.edition, one.count) for one in open_orders(families)] == [("1", "NL 5/ep", 10)]
    assert sum(one.count for one in stock(families)) == 180 - 155
    again = pack_orders(works, ANN)  # the backorder stays, and nothing is there for it
    assert (again.packed.cartons, [one.missing for one in again.packed.short]) == ((), [10])
    assert verify(works.engine).breaks == ()


def test_numbers_go_on_where_they_ended_also_for_two_at_once(works: Ledger) -> None:
    take_orders(works, *(order_line(str(k), f"K{k}", "NL 4/lp", 10) for k in range(8)))
    found: list[str] = []

    def packer(account: str) -> None:
        report = pack_orders(works, ANN, prefix=PREFIX, first_serial=500, accounts=[account])
        found.extend(one["sscc"] for one in report.as_dict()["cartons"] + report.as_dict()["bundles"] if report.written)

    threads = [threading.Thread(target=packer, args=(f"K{k}",)) for k in range(8)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert len(found) == len(set(found))
    assert min(int(one[8:17]) for one in found) == 500  # by hand: digit, prefix of seven, nine of the serial number


def test_a_prefix_must_be_known_once(works: Ledger) -> None:
    with pytest.raises(CallError, match="no order waits"):
        pack_orders(works, ANN)
    take_orders(works, order_line("1", "K1", "NL 4/lp", 5))
    with pytest.raises(CallError, match="no GS1 prefix of this works is known"):
        pack_orders(works, ANN)
    with pytest.raises(CallError, match="no GS1 company prefix"):
        pack_orders(works, ANN, prefix="12")
    assert pack_orders(works, ANN, prefix=PREFIX, per_carton=2, per_bundle=2).written
    take_orders(works, order_line("2", "K1", "NL 4/lp", 5))
    assert pack_orders(works, ANN).written


def test_a_bundle_is_loaded_whole_or_not_at_all(works: Ledger) -> None:
    take_orders(works, order_line("1", "K1", "NL 4/lp", 60))
    take_orders(works, order_line("1", "K1", "NL 5/ep", 25))
    told = pack_orders(works, ANN, prefix=PREFIX, dock="1").as_dict()
    bundle = told["bundles"][0]["sscc"]
    refused = load(works, bundle, "7", ANN)
    assert [found.code for one in refused for found in one.findings] == ["wrong_dock"] * 4
    assert all(one.line is None for one in refused)
    loaded = load(works, f"]C100{bundle}", "1", ANN, vehicle="blue van")
    assert [one.line is not None for one in loaded] == [True] * 4
    twice = load(works, told["cartons"][0]["sscc"], "1", ANN)
    assert "was loaded already" in twice[0].findings[0].remedy
    with pytest.raises(CallError, match="no carton that was packed here"):
        load(works, "157035381410375177", "1", ANN)  # published example of an SSCC, not ours


def test_from_the_carton_back_to_the_plan(works: Ledger) -> None:
    take_orders(works, order_line("1", "K1", "NL 4/lp", 10))
    told = pack_orders(works, ANN, prefix=PREFIX).as_dict()
    about = carton_descent(works, told["cartons"][0]["sscc"])
    assert (about["account"], about["count"], about["run"]) == ("K1", 10, told["cartons"][0]["run"])
    for side in about["sides"]:
        assert [number[:2] for number in (side["stamper"], *side["up"])] == ["ST", "MO", "MA", "LA"]
        assert side["plan_fingerprint"] == "f" * 64
    made(open_carton(works, told["cartons"][0]["sscc"], "Z-1", ANN))
    assert carton_descent(works, told["cartons"][0]["sscc"])["opened"] is True


def test_a_recalled_stamper_names_just_the_accounts_that_have_its_discs(works: Ledger) -> None:
    runs = list(works.family("NL 4").yard.runs.values())
    take_orders(works, order_line("1", "K1", "NL 4/lp", 90), order_line("2", "K2", "NL 4/lp", 45))
    take_orders(works, order_line("3", "K3", "NL 5/ep", 20))
    told = pack_orders(works, ANN, prefix=PREFIX).as_dict()
    for one in told["cartons"][:2]:
        load(works, one["sscc"], "1", ANN)
    bad = runs[1].stampers["A"]
    # By another road: from the cartons as they were printed.
    reached = {one["account"] for one in told["cartons"] if one["run"] == runs[1].id}
    asked = recalls(works, bad)
    assert {one.account for one in asked.accounts} == reached == {"K2"}
    assert recalls(works).accounts == ()  # nothing is recalled yet
    made(works.append(Order(e.Recalled(note="a tick"), "Ann", part=bad)))
    report = recalls(works)
    assert [(one.id, why) for _, one, why in report.runs] == [(runs[1].id, bad)]
    assert [(one.account, one.told) for one in report.accounts] == [("K2", False)]
    made(tell_account(works, "K2", runs[1].id, ANN))
    assert [(one.account, one.told) for one in recalls(works).accounts] == [("K2", True)]
    carton = next(one for one in told["cartons"] if one["run"] == runs[1].id)
    assert load(works, carton["sscc"], "1", ANN)[0].findings[0].code == "recalled_run"
    # Both sides' other stamper is of both runs: everybody who has a disc of NL 4.
    assert {one.account for one in recalls(works, runs[0].stampers["B"]).accounts} == {"K1", "K2"}
    with pytest.raises(CallError, match="is not recalled"):
        tell_account(works, "K1", runs[0].id, ANN)
    made(recall_run(works, runs[0].id, ANN, note="labels"))
    assert {one.account for one in recalls(works).accounts} == {"K1", "K2"}
    made(recall_run(works, runs[0].id, ANN, lift=True))
    assert {one.account for one in recalls(works).accounts} == {"K2"}


def test_nothing_of_a_refused_packing_is_written(works: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    take_orders(works, order_line("1", "K1", "NL 4/lp", 10))
    take_orders(works, order_line("1", "K1", "NL 5/ep", 10))
    head = works.head()

    run = next(iter(works.family("NL 5").yard.runs.values()))

    def pack_late(*args: Any) -> Any:
        """Somebody recalls a run between the reading and the writing."""
        monkeypatch.undo()
        made(works.append(Order(e.Recalled(), "Ann", part=run.id)))
        return pack_lines(*args)

    monkeypatch.setattr(dock, "pack_lines", pack_late)
    report = pack_orders(works, ANN, prefix=PREFIX)
    assert not report.written
    assert report.as_dict()["findings"][0]["code"] == "recalled_run"
    assert works.head()[0] == head[0] + 1  # the recall alone
    assert works.family("NL 4").yard.cartons == {}


def test_numbers_go_on_in_a_ledger_that_was_moved_as_text(works: Ledger, tmp_path: Path) -> None:
    take_orders(works, order_line("1", "K1", "NL 4/lp", 55))
    before = pack_orders(works, ANN, prefix=PREFIX, first_serial=700).as_dict()
    export_text(works, tmp_path / "works.jsonl")
    import_text(tmp_path / "works.jsonl", str(tmp_path / "moved.sqlite"))
    moved = open_ledger(str(tmp_path / "moved.sqlite"))
    take_orders(moved, order_line("2", "K2", "NL 4/lp", 30))
    after = pack_orders(moved, ANN, prefix=PREFIX).as_dict()
    moved.close()
    old, new = ({one["sscc"] for one in told["cartons"] + told["bundles"]} for told in (before, after))
    # By hand: three cartons and a bundle from 700 on, so the next is 704.
    assert (max(int(one[8:17]) for one in old), min(int(one[8:17]) for one in new)) == (703, 704)


def test_no_line_of_the_ledger_grows_with_the_order(works: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run_events, "ROWS_OF_A_LINE", 2)
    take_orders(works, order_line("1", "K1", "NL 4/lp", 130))
    report = pack_orders(works, Hand("Ann", key="k"), prefix=PREFIX)
    # By hand: 130 are six cartons, so three lines of two; sent again it is the same packing's first line.
    assert [len(one.line.data["cartons"]) for one in report.outcomes if one.line is not None] == [2, 2, 2]
    found = works.keyed(packing_key("k"))
    assert found is not None
    assert found.seq == report.as_dict()["lines"][0]
    assert len(works.family("NL 4").yard.cartons) == 6
