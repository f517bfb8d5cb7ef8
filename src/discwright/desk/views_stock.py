"""The stock: what stands in which bin, what is held, waits, or is recalled and set aside."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from discwright.acts.dock import open_orders
from discwright.desk import show_stock as show
from discwright.desk.dock_pages import StockPage
from discwright.desk.dock_words import paging, table
from discwright.desk.rendering import frame, render
from discwright.desk.works_door import ledger_of
from discwright.desk.yards import yards

router = APIRouter(include_in_schema=False)
Text = Annotated[str, Query(max_length=200)]
#: Editions on one page.
_STEP = 50
_MOST = 1_000_000


@router.get("/stock")
def stock(request: Request, q: Text = "", first: int = 0) -> Response:
    """What there is of each edition, and where it stands."""
    families = yards(ledger_of(request)).families
    rows = show.standings(families)
    wanted, first = " ".join(q.split()).casefold(), min(max(0, first), _MOST)
    fitting = [one for one in rows if not wanted or _holds(one, wanted)]
    codes = {one.edition for one in fitting}
    every = [
        one
        for one in show.edition_rows(families, rows)
        if one.code in codes or not wanted or wanted in f"{one.code} {one.name}".casefold()
    ]
    editions = tuple(every[first : first + _STEP])
    here = {one.code for one in editions}
    page = StockPage(
        frame(request), show.totals(rows, sum(one.count for one in open_orders(families))), q, editions,
        show.bin_rows([one for one in fitting if one.edition in here]),
        paging(first, len(editions), len(every), f"/stock?{urlencode({'q': q})}&first=", "editions", _STEP),
        f"/stock/stock.csv?{urlencode({'q': q})}",
    )  # fmt: skip
    return render(page)


def _holds(one: show.Standing, wanted: str) -> bool:
    return any(wanted in cell.casefold() for cell in (one.edition, one.name, one.run, one.bin, one.state))


@router.get("/stock/stock.csv")
def stock_table(request: Request, q: Text = "") -> Response:
    """All of it, a line for each run, bin and state."""
    wanted = " ".join(q.split()).casefold()
    rows = show.standings(yards(ledger_of(request)).families)
    fitting = [one for one in rows if not wanted or _holds(one, wanted)]
    return table("stock.csv", show.HEADS, show.csv_rows(fitting))
