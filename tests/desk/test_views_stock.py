"""The stock as a person meets it: what may be sent, what waits, what is held, what is set aside; and its table."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from discwright.acts.recalls import recall_run
from discwright.acts.works import Hand
from discwright.desk.app import create_app
from discwright.desk.show_stock import HEADS
from discwright.works import run_events as r
from discwright.works.store.ledger import Order

ANN = Hand("Ann", "press")


def rows_of(answer: Any) -> list[dict[str, str]]:
    assert answer.headers["content-type"].startswith("text/csv")
    return list(csv.DictReader(io.StringIO(answer.text)))


def test_what_stands_in_which_bin(dispatch: Any) -> None:
    told = dispatch.text("/stock")
    # By hand: 150 lp and 30 ep in bins; 125 lp and 40 ep are ordered.
    assert "may be sent 180" in told
    assert "orders wait for 165" in told
    assert "10 discs short" in told
    assert told.index("A-2 ") < told.index("A-10 ") < told.index("B-1 ")  # as one walks past them
    rows = rows_of(dispatch.client.get("/stock/stock.csv"))
    assert tuple(rows[0]) == HEADS
    assert [(one["edition"], one["bin"], one["count_discs"]) for one in rows] == [
        ("NL 4/lp", "A-2", "60"), ("NL 4/lp", "A-10", "40"), ("NL 4/lp", "B-1", "50"), ("NL 5/ep", "C-1", "30"),
    ]  # fmt: skip


def test_it_can_be_narrowed_down(dispatch: Any) -> None:
    assert "C-1" not in dispatch.text("/stock?q=nl+4")
    assert len(rows_of(dispatch.client.get("/stock/stock.csv?q=b-1"))) == 1
    assert "Nothing in the stock is called so" in dispatch.text("/stock?q=nothing")
    assert dispatch.client.get("/stock?first=99999999999&q=%00").status_code == 200


def test_waiting_held_and_recalled_discs_are_told_apart(dispatch: Any) -> None:
    ledger = dispatch.ledger
    second, first = sorted(
        ledger.family("NL 4").yard.runs, key=lambda run: len(ledger.family("NL 4").yard.runs[run].bins)
    )
    (third,) = ledger.family("NL 5").yard.runs
    assert ledger.append(Order(r.RunPressed(count=60, good=57), "Ann", part=third)).line is not None
    refused = {"class": "major", "aql": "1.0", "n": 20, "accept": 0, "reject": 1, "found": 2, "inspection": "normal"}
    lot = r.LotInspected(count=20, verdict="refused", results=(refused,), scrapped=2)
    assert ledger.append(Order(lot, "Ann", part=third)).line is not None
    recall_run(ledger, second, ANN, note="labels")
    states = {
        (one["run"], one["state"]): one["count_discs"] for one in rows_of(dispatch.client.get("/stock/stock.csv"))
    }
    # By hand: of 57 good ones 20 are in the lot; 2 of those are scrapped.
    assert states[third, "waits for inspection"] == "37"
    assert states[third, "held"] == "18"
    assert states[second, "recalled"] == "50"
    assert {run for run, state in states if state == "may be sent"} == {first, third}
    told = dispatch.text("/stock")
    for words in ("held: lot refused", "recalled: set aside", "waits for inspection", "may be sent 130", "recalled 50"):
        assert words in told, words
    assert f'href="/runs/{second}"' in dispatch.client.get("/stock").text


def test_without_a_ledger_it_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setattr("discwright.desk.app._warm", lambda: None)
    (tmp_path / "bare").mkdir()
    host = "127.0.0.1:8333"
    made = create_app(tmp_path / "bare", (host,))
    with TestClient(made, base_url=f"http://{host}") as client:
        for path in (
            "/stock",
            "/orders",
            "/promises",
            "/packing",
            "/dock",
            "/recalls",
            "/cartons/1",
            "/api/works/stock",
        ):
            answer = client.get(path)
            assert answer.status_code == 404, path
            assert "no ledger yet" in answer.text.lower(), path
    made.state.desk.close()
