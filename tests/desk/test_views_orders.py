"""Orders and promises as a person meets them: a file brought in whole or not at all, lines cancelled, lateness told."""

from __future__ import annotations

import csv
import html
import io
import re
from typing import Any

from discwright.desk.guard import ORDERS_BYTES
from discwright.desk.show_orders import ORDER_HEADS, PROMISE_HEADS

HEAD = "order,account,name,address_1,address_2,city,region,postcode,country,edition,count,wanted"
GOOD = "77,K7,Shop K7,Quay 1,,Harbour,,0001,NO,NL 4/lp,25,2031-06-03"


def plain_text(page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def bring(desk: Any, *lines: str, key: str = "k1", name: str = "day.csv", status: int = 200) -> str:
    """Send a file of orders as the page's script does; what the page says then."""
    body = "\n".join((HEAD, *lines)).encode()
    answer = desk.client.post("/orders/file", params={"name": name, "key": key}, content=body)
    assert answer.status_code == status, plain_text(answer.text)
    return plain_text(answer.text)


def rows_of(answer: Any) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(answer.text)))


def test_lines_by_state_and_as_a_table(dispatch: Any) -> None:
    told = dispatch.text("/orders")
    for words in ("Open 3", "Packed 0", "Sent 0", "Cancelled 0", "All 3", "late by "):
        assert words in told, words
    assert told.index("2026-01-12") < told.index("2031-06-01")  # what is wanted first comes first
    rows = rows_of(dispatch.client.get("/orders/orders.csv?state=all"))
    assert tuple(rows[0]) == ORDER_HEADS
    assert [(one["order"], one["edition"], one["count_discs"], one["state"]) for one in rows] == [
        ("2", "NL 4/lp", "70", "open"), ("1", "NL 4/lp", "55", "open"), ("1", "NL 5/ep", "40", "open"),
    ]  # fmt: skip
    assert dispatch.text("/orders?q=k2").count("NL 4/lp") == 1
    assert "No line of an order is here" in dispatch.text("/orders?state=sent")
    assert dispatch.client.get("/orders?state=nonsense&first=-7").status_code == 200


def test_a_file_is_taken_once_however_often_it_is_sent(dispatch: Any) -> None:
    key = dispatch.client.get("/orders").text.split('data-key="')[1].split('"')[0]
    more = GOOD.replace("77,", "78,").replace("NL 4/lp", "NL 5/ep")
    assert "2 lines of orders taken from day.csv." in bring(dispatch, GOOD, more, key=key)
    assert "2 lines of orders had been taken already from day.csv." in bring(dispatch, GOOD, more, key=key)
    assert "All 5" in dispatch.text("/orders")
    line = dispatch.ledger.line(dispatch.ledger.head()[0])
    assert (line.by, line.kind, line.data["source"]) == ("Ada", "orders_taken", "day.csv")
    assert len(line.data["file_sha256"]) == 64


WRONG = {
    "78,K7,Shop,Quay 1,,Harbour,,1,NO,NL 4/lp,1.5,": "3 count 1.5 stop is no count of whole discs",
    "78,K7,Shop,Quay 1,,Harbour,,1,NO,NL 9/lp,5,": "3 edition NL 9/lp stop is no edition of a title in this ledger",
    "78,K7,Shop,,,Harbour,,1,NO,NL 4/lp,5,": "3 address_1 stop the address lacks address_1",
    "78,K7,=HYPERLINK(1),Quay 1,,Harbour,,1,NO,NL 4/lp,5,": "3 name =HYPERLINK(1) stop begins like a formula",
    "78,K7,Sh\u202eop,Quay 1,,Harbour,,1,NO,NL 4/lp,5,": "3 name Sh\\u202eop stop holds characters that turn text",
}


def test_one_wrong_line_refuses_all_with_its_number(dispatch: Any) -> None:
    seq = dispatch.ledger.head()[0]
    for line, told in WRONG.items():
        page = bring(dispatch, GOOD, line, status=422)
        assert "Nothing was taken: " in page
        assert told in page  # the head is line 1
    assert dispatch.ledger.head()[0] == seq


def test_what_is_no_file_of_orders(dispatch: Any) -> None:
    client = dispatch.client
    for body, told in ((b"", "No file of orders arrived"), (b"PK\x03\x04zip", "is a workbook and no CSV"),
                       (HEAD.encode() + b"\n\xff\xfe,", "is no UTF-8")):  # fmt: skip
        answer = client.post("/orders/file?name=../../etc/passwd", content=body)
        assert answer.status_code == 422
        assert told in plain_text(answer.text)
        assert "/tmp" not in answer.text
    assert "Nothing was taken: 1 place" in bring(dispatch, status=422)  # a head and no line
    answer = client.post("/orders/file", content=b"x" * (ORDERS_BYTES + 1))
    assert answer.status_code == 413
    long = f"{HEAD}\n{'x' * 20_000}".encode()
    assert client.post("/orders/file", content=long).status_code == 422


def test_an_order_that_was_taken_before_stops_it(dispatch: Any) -> None:
    bring(dispatch, GOOD)
    again = bring(dispatch, GOOD, key="k2", status=422)
    assert "Nothing was taken. Order 77 has NL 4/lp already" in again


def test_a_line_is_cancelled(dispatch: Any) -> None:
    form = dispatch.form("/orders", "/orders/cancel", order="2")
    answer = dispatch.client.post("/orders/cancel", data=form | {"note": "=closed"})
    assert answer.headers["location"] == "/orders?state=all&q=2"
    assert "cancelled" in dispatch.text("/orders?state=all&q=2")
    assert "Cancelled 1" in dispatch.text("/orders")
    again = dispatch.client.post("/orders/cancel", data=form | {"key": "other"})
    assert again.status_code == 409
    assert "waits for nothing more" in again.text
    assert dispatch.client.post("/orders/cancel", data=form | {"order": "9", "key": "x"}).status_code == 422


def test_promises_late_and_unplanned_first(dispatch: Any) -> None:
    bring(dispatch, GOOD.replace("25,", "500,"))
    told = dispatch.text("/promises")
    # By hand: of 150 lp the line of 2026 gets 70 and is late, that of 1 June gets 55, of the 500 then 475 are missing;
    # of 40 ep 30 are there.
    assert "1 late" in told
    assert "2 without a plan" in told
    assert "1 in time" in told
    assert told.index("475 missing") < told.index(" late it was wanted before today")
    assert "no press is planned for it" in told
    whole = dispatch.text("/promises?whole=true")
    assert whole.count("in stock") == 1
    for words in ("Day by day", "2026-01-12 1 70 1 0 0 late", "2031-06-01 2 95 0 1 1 nothing planned"):
        assert words in told, words
    rows = rows_of(dispatch.client.get("/promises/promises.csv"))
    assert tuple(rows[0]) == PROMISE_HEADS
    assert [one["state"] for one in rows] == ["nothing planned", "nothing planned", "late", "in stock"]


def test_without_orders_nothing_is_promised(hall: Any) -> None:
    told = hall.text("/promises")
    for words in ("nothing is late", "everything has a plan", "0 in time", "Nothing is promised: no order is open."):
        assert words in told, words


def test_the_form_can_be_sent_without_script_only_at_the_command_line(dispatch: Any) -> None:
    page = dispatch.client.get("/orders").text
    assert "discwright works orders FILE.csv" in page
    assert 'action="/orders/file"' not in page
