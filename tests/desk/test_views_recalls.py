"""Recalls as a person meets them: just the accounts that have its discs, told one by one; what a recall would reach."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest

from discwright.acts.dock import pack_orders
from discwright.acts.loading import load
from discwright.acts.recalls import recall_run
from discwright.acts.works import Hand
from discwright.desk.show_recalls import HEADS
from discwright.works import events as e
from discwright.works.parts import part_number
from discwright.works.store.ledger import Order

ANN = Hand("Ann", "packing")


@pytest.fixture
def packed(dispatch: Any) -> Any:
    """Everything packed; the first carton of K2 has left."""
    dispatch.cartons = pack_orders(dispatch.ledger, ANN, prefix="9521234", dock="1").as_dict()["cartons"]
    first = next(one for one in dispatch.cartons if one["account"] == "K2")
    load(dispatch.ledger, first["sscc"], "1", ANN)
    return dispatch


def test_nothing_is_recalled(packed: Any) -> None:
    assert "Nothing is recalled." in packed.text("/recalls")
    assert packed.client.get("/recalls/recalls.csv").text == f"{','.join(HEADS)}\n"


def test_a_recalled_stamper_names_its_accounts_and_they_are_told(packed: Any) -> None:
    run = next(one["run"] for one in packed.cartons if one["account"] == "K2")
    stamper = packed.ledger.family("NL 4").yard.runs[run].stampers["A"]
    assert packed.ledger.append(Order(e.Recalled(note="a tick"), "Eve", part=stamper)).line is not None
    # By another road: from the cartons as they were packed.
    reached = {one["account"] for one in packed.cartons if one["run"] == run}
    told = packed.text("/recalls")
    assert f"{len(reached)} to be told" in told
    for account in ("K1", "K2"):
        assert (f"{account} Shop" in told) == (account in reached)
    assert "25 discs sent" in told
    assert f'href="/works/parts/{stamper}"' in packed.client.get("/recalls").text
    rows = list(csv.DictReader(io.StringIO(packed.client.get("/recalls/recalls.csv").text)))
    assert {one["account"] for one in rows} == reached
    assert {one["recalled_by"] for one in rows} == {stamper}
    for account in sorted(reached):
        form = packed.form("/recalls", "/recalls/told", account=account)
        for _ in range(2):
            assert packed.client.post("/recalls/told", data=form).headers["location"] == "/recalls"
    told = packed.text("/recalls")
    assert "everybody is told" in told
    assert "It was told" not in told
    kinds = [line.kind for line in packed.ledger.lines()]
    assert kinds.count("account_told") == len(reached)


def test_whom_a_recall_would_reach(packed: Any) -> None:
    run = packed.ledger.family("NL 5").yard.runs
    (number,) = run
    told = packed.text(f"/recalls?number={number.lower()}")
    assert f"Who has discs of {number}" in told
    assert "1 account would be told" in told
    assert "not recalled" in told
    assert "It was told" not in told
    lacquer = packed.ledger.family("NL 5").lacquer(packed.ledger.family("NL 5").parts[run[number].stampers["B"]]).id
    assert "K1 Shop K1" in packed.text(f"/recalls?number={lacquer}")
    assert "K2" not in packed.text(f"/recalls?number={lacquer}")
    assert "no part has this number" in packed.text(f"/recalls?number={part_number('lacquer', 999)}", 404)
    assert packed.client.get("/recalls?number=%00").status_code == 404
    form = {"account": "K1", "run": number, "key": "x"}
    assert packed.client.post("/recalls/told", data=form).status_code == 422
    recall_run(packed.ledger, number, ANN, note="labels")
    assert "1 to be told" in packed.text("/recalls")
