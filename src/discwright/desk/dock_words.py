"""Words, addresses and tables that the pages between stock and dock share."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC
from urllib.parse import quote, urlencode

from fastapi.responses import Response

from discwright.desk.csv_words import csv_of, csv_response
from discwright.desk.works_parts import Badge, Paging
from discwright.errors import CallError
from discwright.works.gs1 import read_sscc
from discwright.works.order_lines import OrderLine
from discwright.works.promise import STATES
from discwright.works.store.ledger import Ledger
from discwright.works.yard import Ordered

#: Rows of a long list on one page.
ROWS = 100
OPEN, PACKED, SENT, CANCELLED = "open", "packed", "sent", "cancelled"
#: The shape and the word beside each state of a line of an order.
ORDER_STATES = {
    OPEN: Badge("waiting", "open"), PACKED: Badge("in-hand", "packed"), SENT: Badge("done", "sent"),
    CANCELLED: Badge("gone", "cancelled"),
}  # fmt: skip
_PROMISE_SHAPES = {"here": "ready", "coming": "in-hand", "late": "warn", "unplanned": "unplanned"}


def order_state(one: Ordered) -> str:
    """Where a line of an order is, in a word: what is not packed yet makes it open."""
    if one.cancelled:
        return CANCELLED
    if one.open:
        return OPEN
    return SENT if one.loaded >= one.packed else PACKED


def promise_badge(state: str) -> Badge:
    """A shape and the word for what becomes of a promise."""
    return Badge(_PROMISE_SHAPES[state], STATES[state])


def discs(count: int) -> str:
    """`1 disc`, `25 discs`, `12 000 discs`."""
    return f"{number(count)} {'disc' if count == 1 else 'discs'}"


def cartons(count: int) -> str:
    """`1 carton`, `4 cartons`."""
    return f"{number(count)} {'carton' if count == 1 else 'cartons'}"


def number(count: int) -> str:
    """A count with narrow blanks between its thousands, from five digits on."""
    return f"{count:,}".replace(",", "\u202f") if count >= 10_000 else str(count)


def kg(mass_kg: float) -> str:
    """A mass as it stands on a label: `6.2 kg`."""
    return f"{mass_kg:.1f} kg"


def carton_href(sscc: str) -> str:
    """Address of a carton's or a bundle's page."""
    return f"/cartons/{quote(sscc, safe='')}" if sscc else ""


def orders_href(text: str) -> str:
    """Address of the lines of orders in which a number stands."""
    return f"/orders?{urlencode({'state': 'all', 'q': text})}"


def number_href(what: str, shown: str) -> str:
    """Address of what a number between stock and dock leads to; empty for all others."""
    if what in ("carton", "bundle"):
        return carton_href(shown)
    return orders_href(shown) if what in ("order", "account") else ""


def scanned_carton(text: str) -> str:
    """The SSCC in what was scanned or typed; empty where there is none."""
    try:
        return read_sscc(text)
    except CallError:
        return ""


def packing_href(packing: str, carton: int = 0) -> str:
    """Address of a packing, or of one of its cartons."""
    return f"/packing/{packing}{f'?carton={carton}' if carton else ''}"


def home(line: OrderLine) -> str:
    """Where a line goes, in one line: name, city, country."""
    return ", ".join(one for one in (line.name, line.city, line.country) if one)


def sscc_words(sscc: str) -> str:
    """An SSCC in groups that can be read aloud; other numbers as they are."""
    if len(sscc) != 18 or not sscc.isdecimal():
        return sscc
    return " ".join((sscc[0], *(sscc[at : at + 4] for at in range(1, 17, 4)), sscc[17]))


def today(ledger: Ledger) -> str:
    """The day by the ledger's clock, in UTC as promises count it."""
    return ledger.clock().astimezone(UTC).date().isoformat()


def paging(first: int, shown: int, total: int, address: str, what: str = "lines", step: int = ROWS) -> Paging:
    """Which stretch of a long list is shown; `address` ends where the number of the first is to be written."""
    if not shown:
        return Paging(f"no {what}", f"{address}0" if first else "", "")
    earlier = f"{address}{max(0, first - step)}" if first else ""
    later = f"{address}{first + step}" if first + shown < total else ""
    all_of_them = f"1 {what.removesuffix('s')}" if total == 1 else f"{total} {what}"
    words = all_of_them if shown == total else f"{what} {first + 1} to {first + shown} of {total}"
    return Paging(words, earlier, later)


def _file_name(name: str) -> str:
    return "".join(letter if letter.isascii() and (letter.isalnum() or letter in "-_.") else "-" for letter in name)


def table(name: str, heads: Sequence[str], rows: Iterable[Sequence[object]]) -> Response:
    """A table as CSV to be kept as a file."""
    return csv_response(csv_of(heads, rows), _file_name(name))


def pdf(packed: bytes, name: str) -> Response:
    """A PDF to be looked at and printed."""
    headers = {"Content-Disposition": f'inline; filename="{_file_name(name)}"'}
    return Response(packed, media_type="application/pdf", headers=headers)
