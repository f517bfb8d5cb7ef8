"""JSON about orders and stock, and orders taken from programs: as lines, or as the file itself."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import JSONResponse
from pydantic import ValidationError
from starlette.concurrency import run_in_threadpool

from discwright.acts.orders import OrdersTaken, take_order_lines
from discwright.desk.api_orders_shapes import (
    ORDERS_BODY,
    ORDERS_REFUSALS,
    WANTED_LINES,
    OrderFacts,
    OrderFinding,
    OrdersFacts,
    OrdersRefused,
    OrdersTakenFacts,
    StockFacts,
    WantedOrderLine,
)
from discwright.desk.api_works_shapes import WORKS_REFUSALS, FindingOfWorks, Stopped
from discwright.desk.orders_sent import LINES_BYTES, against, hand_for_orders, take_sent_file
from discwright.desk.show_orders import ordered_lines
from discwright.desk.show_stock import standings
from discwright.desk.works_door import ledger_of
from discwright.desk.yards import yards
from discwright.errors import CallError

router = APIRouter(prefix="/api/works", tags=["orders and stock"], responses=WORKS_REFUSALS)
Word = Annotated[str, Query(max_length=150)]
#: Lines of orders in one answer.
PAGE = 500


@router.get("/orders")
def orders(
    request: Request, state: Literal["open", "packed", "sent", "cancelled", "all"] = "open", q: Word = "",
    first: Annotated[int, Query(ge=0, le=10_000_000)] = 0,
) -> OrdersFacts:  # fmt: skip
    """Lines of orders by the day they are wanted, five hundred from `first` on."""
    found = ordered_lines(yards(ledger_of(request)).families, state, q)
    return OrdersFacts(
        first=first, total=len(found), orders=[OrderFacts.of(one) for one in found[first : first + PAGE]]
    )


@router.get("/stock")
def stock(request: Request) -> list[StockFacts]:
    """Everything that was pressed and is not packed: where it stands, and whether it may be sent."""
    return [StockFacts.of(one) for one in standings(yards(ledger_of(request)).families)]


@router.post("/orders", response_model=OrdersTakenFacts, responses=ORDERS_REFUSALS, openapi_extra=ORDERS_BODY)
async def take(
    request: Request, key: Word = "", name: Word = "", station: Word = "", by: Word = ""
) -> OrdersTakenFacts | JSONResponse:
    """Take orders, all of them or none; sent again under the same `key` they are taken once."""
    hand = hand_for_orders(request, key, station=station, by=by)
    kind = request.headers.get("content-type", "").split(";")[0].strip().lower()
    if kind == "text/csv":
        return _answer(await take_sent_file(request, name or "orders.csv", hand))
    if kind != "application/json":
        raise CallError("orders are sent as application/json or as text/csv; say which in the content type.")
    lines = await _lines(request)
    rows = (one.model_dump() for one in lines)
    return _answer(await run_in_threadpool(take_order_lines, ledger_of(request), rows, hand, name or "lines"))


async def _lines(request: Request) -> list[WantedOrderLine]:
    """The lines that are the body."""
    packed = bytearray()
    async for piece in request.stream():
        packed += piece
        if len(packed) > LINES_BYTES:
            raise CallError(f"that is more than {LINES_BYTES >> 20} MiB of lines; send them as a file, as text/csv.")
    return await run_in_threadpool(_read, bytes(packed))


def _read(packed: bytes) -> list[WantedOrderLine]:
    try:
        return WANTED_LINES.validate_json(packed)
    except ValidationError as why:
        place = why.errors()[0]["loc"]
    known = [str(part) for part in place if isinstance(part, str) and part in WantedOrderLine.model_fields]
    line = f"line {place[0] + 1}: " if place and isinstance(place[0], int) else ""
    what = f"{known[0]} is missing or is not what it must be" if known else "this is no list of lines of orders"
    raise CallError(f"{line}{what}; send a list of objects with the heads of an order file, and a whole count.")


def _answer(taken: OrdersTaken) -> OrdersTakenFacts | JSONResponse:
    """What was taken; 409 with what the ledger has against it, 422 with what is wrong with the lines."""
    found, sentence = [OrderFinding.of(one) for one in taken.findings], against(taken)
    if not sentence:
        repeated = any(one.repeated for one in taken.outcomes)
        return OrdersTakenFacts(lines=taken.lines, repeated=repeated, findings=found, more=taken.more)
    if taken.outcomes:
        speaks = [FindingOfWorks.model_validate(one.as_dict()) for two in taken.outcomes for one in two.findings]
        return JSONResponse(Stopped(sentence=sentence, findings=speaks).model_dump(), 409)
    return JSONResponse(OrdersRefused(sentence=sentence, findings=found, more=taken.more).model_dump(), 422)
