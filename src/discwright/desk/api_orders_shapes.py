"""Shapes of orders and stock in the API: lines as an order file has them, what became of them, what stands where."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, TypeAdapter

from discwright.desk.api_works_shapes import WORKS_REFUSALS, Stopped
from discwright.desk.dock_words import order_state
from discwright.desk.show_stock import Standing
from discwright.files.csv_guard import FIELD_MOST, LineFinding
from discwright.findings import Severity
from discwright.works.yard import Ordered

Cell = Annotated[str, StringConstraints(max_length=FIELD_MOST)]
#: More lines than this are sent as a file.
LINES_MOST = 100_000


class WantedOrderLine(BaseModel):
    """A line of an order by the heads of an order file; checked as strictly as one of a file.

    `country` is two letters of ISO 3166-1, `edition` is CATALOGUE/ID, `wanted` is YYYY-MM-DD or empty.
    """

    model_config = ConfigDict(extra="forbid")
    order: Cell
    account: Cell
    name: Cell
    address_1: Cell
    address_2: Cell = ""
    city: Cell
    region: Cell = ""
    postcode: Cell = ""
    country: Cell
    edition: Cell
    count: Annotated[int, Field(strict=True)]
    wanted: Cell = ""


#: What is sent as JSON: lines, and nothing around them.
WANTED_LINES: TypeAdapter[list[WantedOrderLine]] = TypeAdapter(
    Annotated[list[WantedOrderLine], Field(min_length=1, max_length=LINES_MOST)]
)
#: The two ways in which orders are sent, as the description of the API has them.
ORDERS_BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {
            "application/json": {
                "schema": {
                    "type": "array", "minItems": 1, "maxItems": LINES_MOST, "items": WantedOrderLine.model_json_schema()
                }
            },
            "text/csv": {"schema": {"type": "string"}},
        },
    }
}  # fmt: skip


class OrderFinding(BaseModel):
    """A fact about one line of what was sent; `line` counts from 1, the head of a file included, and is 0 for none."""

    code: str
    severity: Severity
    line: int
    column: str
    value: str
    remedy: str

    @classmethod
    def of(cls, one: LineFinding) -> OrderFinding:
        """A finding as the API tells it."""
        return cls(
            code=one.code, severity=one.severity, line=one.line, column=one.column, value=one.value, remedy=one.remedy
        )


class OrdersTakenFacts(BaseModel):
    """How many lines were taken, now or, where `repeated`, the first time they were sent under this key."""

    lines: int
    repeated: bool
    findings: list[OrderFinding]
    more: int


class OrdersRefused(BaseModel):
    """Why nothing was taken; other refusals have no findings. `more` are counted and not told."""

    sentence: str
    findings: list[OrderFinding] = []
    more: int = 0


ORDERS_REFUSALS: dict[int | str, dict[str, Any]] = {
    **WORKS_REFUSALS,
    409: {"model": Stopped, "description": "A stop of the ledger speaks against it; nothing was taken."},
    422: {"model": OrdersRefused, "description": "A line cannot be used, or nothing can be read; nothing was taken."},
}


class OrderFacts(BaseModel):
    """A line of an order: of its `count`, `packed` are in cartons, `sent` left, and `open` wait to be packed."""

    order: str
    account: str
    name: str
    city: str
    country: str
    edition: str
    count: int
    packed: int
    sent: int
    open: int
    wanted: str
    state: str
    taken_at: str

    @classmethod
    def of(cls, one: Ordered) -> OrderFacts:
        """A line as the API tells it."""
        line = one.line
        return cls(
            order=line.order, account=line.account, name=line.name, city=line.city, country=line.country,
            edition=line.edition, count=line.count, packed=one.packed, sent=one.loaded, open=one.open,
            wanted=line.wanted, state=order_state(one), taken_at=one.at,
        )  # fmt: skip


class OrdersFacts(BaseModel):
    """Lines of orders from `first` on, of `total` that fit."""

    first: int
    total: int
    orders: list[OrderFacts]


class StockFacts(BaseModel):
    """Discs of one run in one place; `bin` is empty where they are in none. Only what "may be sent" may be packed."""

    edition: str
    run: str
    bin: str
    state: str
    count: int

    @classmethod
    def of(cls, one: Standing) -> StockFacts:
        """Discs in one place as the API tells them."""
        return cls(edition=one.edition, run=one.run, bin=one.bin, state=one.state, count=one.count)
