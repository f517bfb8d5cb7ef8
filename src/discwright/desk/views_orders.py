"""Orders and promises: a file of orders is brought in whole, lines are looked at and cancelled, lateness is told."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from discwright.acts.hall_ledger import planned_supplies
from discwright.acts.orders import OrdersTaken, PromiseReport, cancel_order, promise_orders
from discwright.acts.people import check_may_record, hand_of
from discwright.desk import show_orders as show
from discwright.desk.dock_pages import OrdersPage, PromisesPage
from discwright.desk.dock_words import OPEN, ROWS, orders_href, paging, table, today
from discwright.desk.door import person_of
from discwright.desk.orders_sent import TAKEN, against, hand_for_orders, orders_name, take_sent_file
from discwright.desk.rendering import form_of, frame, go_to, render
from discwright.desk.show_board import new_key
from discwright.desk.works_door import came, ledger_of
from discwright.desk.works_time import zone_of
from discwright.desk.yards import yards
from discwright.files.orders_csv import HEADS
from discwright.works.people import may_record
from discwright.works.store.ledger import Ledger

router = APIRouter(include_in_schema=False)
Text = Annotated[str, Query(max_length=200)]
CANCELLED = "order_cancelled"
_MOST = 10_000_000
_MOST_FINDINGS = 300


@router.get("/orders")
def orders(request: Request, state: Text = OPEN, q: Text = "", first: int = 0) -> Response:
    """Lines of orders."""
    return render(_page(request, state, q, first))


def _page(request: Request, state: str = OPEN, q: str = "", first: int = 0) -> OrdersPage:
    ledger, person = ledger_of(request), person_of(request)
    families = yards(ledger).families
    state, first = state if state in show.FILTERS else OPEN, min(max(0, first), _MOST)
    found = show.ordered_lines(families, state, q)
    shown = show.order_rows(
        found[first : first + ROWS], today(ledger), may_cancel=may_record(person, CANCELLED)
    )  # fmt: skip
    query = urlencode({"state": state, "q": q})
    return OrdersPage(
        frame=frame(request), filters=show.filters(show.counts(families), state), state=state, asked=q, rows=shown,
        paging=paging(first, len(shown), len(found), f"/orders?{query}&first="),
        csv_href=f"/orders/orders.csv?{query}", may_take=may_record(person, TAKEN), key=new_key(), said="", sentence="",
        file="", findings=(), more="", heads=",".join(HEADS),
    )  # fmt: skip


@router.get("/orders/orders.csv")
def orders_table(request: Request, state: Text = OPEN, q: Text = "") -> Response:
    """The same lines as a file; its first heads are those of a file of orders."""
    state = state if state in show.FILTERS else OPEN
    ledger = ledger_of(request)
    found = show.ordered_lines(yards(ledger).families, state, q)
    return table(f"orders-{state}.csv", show.ORDER_HEADS, show.order_csv(found, zone_of(ledger)))


@router.post("/orders/file")
async def take(request: Request, name: Text = "", key: Text = "") -> Response:
    """Take the file of orders that is the body: every line of it, or none; what there is to say of it is shown."""
    hand = hand_for_orders(request, key)
    taken = await take_sent_file(request, name, hand)
    return await run_in_threadpool(_told, request, taken, orders_name(name))


def _told(request: Request, taken: OrdersTaken, file: str) -> Response:
    sentence = against(taken)
    again = any(one.repeated for one in taken.outcomes)
    many = f"{taken.lines} {'line' if taken.lines == 1 else 'lines'} of orders"
    found = show.finding_rows(taken.findings)
    page = replace(
        _page(request), frame=replace(frame(request), here="/orders"), sentence=sentence, file=file,
        said="" if sentence else f"{many} {'had been taken already' if again else 'taken'} from {file}.",
        findings=found[:_MOST_FINDINGS], more=_more(len(found) + taken.more),
    )  # fmt: skip
    return render(page, 422 if sentence else 200)


def _more(count: int) -> str:
    left = count - _MOST_FINDINGS
    return f"And {left} more: mend these first." if left > 0 else ""


@router.post("/orders/cancel")
async def cancel(request: Request) -> Response:
    """Send no more of a line of an order; what is packed stays packed."""
    fields = await form_of(request)

    def do_it() -> str:
        person = person_of(request)
        check_may_record(person, CANCELLED)
        hand = hand_of(person, station="desk", key=fields.get("key", ""))
        order, note = fields.get("order", ""), fields.get("note", "").strip()[:500]
        came(cancel_order(ledger_of(request), order, fields.get("edition", ""), hand, note=note))
        return orders_href(order)

    return go_to(request, await run_in_threadpool(do_it))


# Promises ----------------------------------------------------------------------------------------------


def promised(ledger: Ledger) -> PromiseReport:
    """Every open line against stock, the hall and the day it is wanted.

    Parameters
    ----------
    ledger : Ledger
    """
    return promise_orders(ledger, planned_supplies(ledger))


@router.get("/promises")
def promises(request: Request, whole: bool = False, first: int = 0) -> Response:
    """What is promised and what will be late."""
    report = promised(ledger_of(request))
    listed = list(report.promises) if whole else show.in_trouble(report)
    first = min(max(0, first), _MOST)
    rows = show.promise_rows(listed[first : first + ROWS])
    address = f"/promises?whole={'true' if whole else 'false'}&first="
    page = PromisesPage(
        frame(request), report.today, show.promise_counts(report), whole, rows,
        paging(first, len(rows), len(listed), address), show.day_rows(report),
    )  # fmt: skip
    return render(page)


@router.get("/promises/promises.csv")
def promises_table(request: Request) -> Response:
    """All promises as a file."""
    return table("promises.csv", show.PROMISE_HEADS, show.promise_csv(promised(ledger_of(request))))
