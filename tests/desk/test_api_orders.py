"""Orders and stock for programs: lines as strict as a file's, all or none, once under a key, by whom they may."""

from __future__ import annotations

from typing import Any

import pytest
from argon2 import PasswordHasher

from discwright.desk.api_orders_shapes import WantedOrderLine
from discwright.files.orders_csv import HEADS
from discwright.works.store import passwords
from discwright.works.store.people import By, add_person
from discwright.works.store.tokens import make_token

LINE: dict[str, Any] = {
    "order": "77", "account": "K7", "name": "Shop K7", "address_1": "Quay 1", "city": "Harbour", "postcode": "1",
    "country": "no", "edition": "NL 4/lp", "count": 25, "wanted": "2031-06-03",
}  # fmt: skip


def post(desk: Any, *lines: dict[str, Any], status: int = 200, **query: str) -> dict[str, Any]:
    answer = desk.client.post("/api/works/orders", params=query, json=list(lines))
    assert answer.status_code == status, answer.text
    told: dict[str, Any] = answer.json()
    return told


def test_a_line_has_just_the_heads_of_a_file() -> None:
    assert tuple(WantedOrderLine.model_fields) == HEADS


def test_lines_are_taken_once_under_a_key(dispatch: Any) -> None:
    told = post(dispatch, LINE, LINE | {"edition": "NL 5/ep"}, key="shop-1", station="shop", name="web shop")
    assert (told["lines"], told["repeated"], told["findings"]) == (2, False, [])
    assert post(dispatch, LINE, LINE | {"edition": "NL 5/ep"}, key="shop-1", name="web shop")["repeated"] is True
    line = dispatch.ledger.line(dispatch.ledger.head()[0])
    assert (line.by, line.station, line.data["source"]) == ("Ada", "shop", "web shop")
    found = dispatch.client.get("/api/works/orders?state=open&q=77").json()
    assert (found["total"], found["orders"][0]["count"], found["orders"][0]["open"]) == (2, 25, 25)
    assert found["orders"][0]["country"] == "NO"


WRONG: list[tuple[dict[str, Any], str]] = [
    ({"count": 0}, "wrong_count"), ({"count": 1_000_001}, "wrong_count"), ({"wanted": "3.6.2031"}, "wrong_date"),
    ({"country": "Norge"}, "unknown_country"), ({"name": ""}, "missing_address"), ({"order": " "}, "missing_number"),
    ({"name": "=1+1"}, "formula"), ({"name": "a\nb"}, "line_break"), ({"name": "a\x00b"}, "control_character"),
    ({"name": "x" * 201}, "too_long"), ({"order": "7" * 61}, "too_long"), ({"edition": "nl4/LP"}, "edition_spelled"),
    ({"edition": "NL 9/lp"}, "edition_of_no_title"), ({"name": "Bj\ufffdrn"}, "lost_letters"),
]  # fmt: skip


def test_a_line_is_held_to_what_a_file_is_held_to(dispatch: Any) -> None:
    seq = dispatch.ledger.head()[0]
    for wrong, code in WRONG:
        told = post(dispatch, LINE, LINE | {"order": "78"} | wrong, status=422)
        assert told["sentence"].startswith("Nothing was taken: ")
        assert [(one["code"], one["line"]) for one in told["findings"] if one["severity"] == "stop"] == [(code, 2)]
    assert dispatch.ledger.head()[0] == seq


def test_what_is_no_list_of_lines(dispatch: Any) -> None:
    client = dispatch.client
    for body in (b"", b"{}", b"[]", b"[1]", b"[" * 5000, b'[{"order": 1}]', b"\xff"):
        answer = client.post("/api/works/orders", content=body, headers={"content-type": "application/json"})
        assert answer.status_code == 422, body
        assert "send a list of objects with the heads of an order file" in answer.json()["sentence"]
    assert "Line 2: count is missing" in post(dispatch, LINE, LINE | {"count": "25"}, status=422)["sentence"]
    assert "Line 1: " in post(dispatch, LINE | {"price": 3}, status=422)["sentence"]
    assert "price" not in post(dispatch, LINE | {"price": 3}, status=422)["sentence"]
    answer = client.post("/api/works/orders", content=b"x", headers={"content-type": "text/plain"})
    assert "say which in the content type" in answer.json()["sentence"]
    long = b'["' + b"x" * (17 << 20) + b'"]'
    answer = client.post("/api/works/orders", content=long, headers={"content-type": "application/json"})
    assert "more than 16 MiB of lines" in answer.json()["sentence"]


def test_a_stop_of_the_ledger_is_a_conflict(dispatch: Any) -> None:
    post(dispatch, LINE)
    told = post(dispatch, LINE, status=409, key="other")
    assert "Order 77 has NL 4/lp already" in told["sentence"]
    assert told["findings"][0]["code"] == "impossible"


def test_the_file_itself(dispatch: Any) -> None:
    cells = [str(LINE.get(name, "")) for name in HEADS]
    body = f"{','.join(HEADS)}\n{','.join(cells)}\n".encode()
    headers = {"content-type": "text/csv; charset=utf-8"}
    told = dispatch.client.post("/api/works/orders?key=a", content=body, headers=headers)
    assert (told.status_code, told.json()["lines"]) == (200, 1)
    assert dispatch.client.post("/api/works/orders?key=a", content=body, headers=headers).json()["repeated"] is True


def test_stock_for_programs(dispatch: Any) -> None:
    told = dispatch.client.get("/api/works/stock").json()
    # By hand, as it was put there.
    assert sorted((one["edition"], one["bin"], one["count"], one["state"]) for one in told) == [
        ("NL 4/lp", "A-10", 40, "may be sent"), ("NL 4/lp", "A-2", 60, "may be sent"),
        ("NL 4/lp", "B-1", 50, "may be sent"), ("NL 5/ep", "C-1", 30, "may be sent"),
    ]  # fmt: skip


def test_a_token_for_orders_takes_orders_and_no_other(dispatch: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    light = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(passwords, "_hasher", lambda: light)
    by = By("root", "command line")
    add_person(dispatch.ledger, "Kay", ("keeper",), "four words in a row", by=by)
    dispatch.client.cookies.clear()
    for scope, status in (("weighed", 403), ("read", 403), ("orders_taken", 200)):
        _, secret = make_token(dispatch.ledger, f"machine {scope}", (scope,), 30, by=by)
        answer = dispatch.client.post("/api/works/orders", json=[LINE], headers={"Authorization": f"Bearer {secret}"})
        assert answer.status_code == status, answer.text
    assert dispatch.ledger.line(dispatch.ledger.head()[0]).by == "machine orders_taken"
    assert dispatch.client.post("/api/works/orders", json=[LINE]).status_code == 401
