"""What can happen from the press to the dock: runs, their first-off, lots, stock, orders, cartons, loads.

A run is what one set of stampers made in one press without a change, so that whatever is true of a stamper is true of
whole runs. It has a number like a part's. Orders, cartons and loads are events of the title whose discs they are.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields
from typing import Any, ClassVar

from discwright.errors import CallError
from discwright.works.event import MOST_LETTERS, Event, Plain, read_hash, told
from discwright.works.order_lines import OrderLine

#: No works makes more of anything at once.
_MOST_COUNT = 1_000_000_000
#: So many orders or cartons stand in one line of the ledger; more make further lines, so that none is too long to move.
ROWS_OF_A_LINE = 1000
LABELS_RIGHT = "right"
#: How the labels of a first-off may lie; only the first will do.
LABELS = (LABELS_RIGHT, "wrong side", "wrong way up", "off centre", "creased")
ACCEPTED, REFUSED = "accepted", "refused"
SORTED, SCRAPPED, RELEASED = "sorted", "scrapped", "released"
DISPOSITIONS = (SORTED, SCRAPPED, RELEASED)


def _one_of(known: tuple[str, ...]) -> Any:
    def read(value: object, what: str) -> str:
        text = str(value)
        if text and text not in known:
            raise CallError(f"{what}: “{text[:40]}” is none; write {', '.join(known)}.")
        return text

    return read


def _texts(value: object, what: str) -> Plain:
    """A table of short texts."""
    assert isinstance(value, Mapping)
    for name, text in value.items():
        if not isinstance(text, str) or not text.strip() or len(text) > 80:
            raise CallError(f"{what}: “{str(name)[:20]}” has no short text; write one.")
    return dict(value)


def _rows(needed: dict[str, type], optional: dict[str, type]) -> Any:
    """Reads a list of tables with fixed names; whole numbers from 0 up, short texts."""

    def read(value: object, what: str) -> tuple[Plain, ...]:
        assert isinstance(value, tuple)
        return tuple(_row(one, f"{what}, row {k}", needed, optional) for k, one in enumerate(value, 1))

    return read


def _row(one: object, what: str, needed: dict[str, type], optional: dict[str, type]) -> Plain:
    if not isinstance(one, Mapping):
        raise CallError(f"{what}: is no table of names and values; write one.")
    strange = sorted(set(one) - set(needed) - set(optional))
    missing = sorted(set(needed) - set(one))
    if strange or missing:
        wrong = f"has no {missing[0]}" if missing else f"takes no “{str(strange[0])[:40]}”"
        raise CallError(f"{what}: {wrong}; write {', '.join(needed)}.")
    return {name: _cell(value, f"{what}, {name}", (needed | optional)[name]) for name, value in one.items()}


def _cell(value: object, what: str, kind: type) -> Any:
    if kind is dict:
        if not isinstance(value, Mapping) or not value:
            raise CallError(f"{what}: is no table of bins and counts; write one.")
        return {str(name)[:80]: _cell(count, f"{what}, {str(name)[:20]}", int) for name, count in value.items()}
    if kind is str:
        if not isinstance(value, str) or len(value) > MOST_LETTERS:
            raise CallError(f"{what}: is no text of at most {MOST_LETTERS} letters; write a shorter one.")
        return value
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= _MOST_COUNT:
        raise CallError(f"{what}: is no number from 0 up; write one.")
    if kind is int and value != int(value):
        raise CallError(f"{what}: is no whole number; write one.")
    return kind(value)


_TYPES: dict[str, type] = {"str": str, "int": int, "float": float}
_ORDER_NEEDED = {one.name: _TYPES[str(one.type)] for one in fields(OrderLine) if one.default is MISSING}
_ORDER_MORE = {one.name: _TYPES[str(one.type)] for one in fields(OrderLine) if one.default is not MISSING}
_CARTON: dict[str, type] = {
    "sscc": str, "order": str, "account": str, "edition": str, "run": str, "bins": dict,
}  # fmt: skip
_RESULT: dict[str, type] = {
    "class": str, "aql": str, "n": int, "accept": int, "reject": int, "found": int, "inspection": str,
}  # fmt: skip
_RESULT_MORE: dict[str, type] = {"passes_tighter": int}
_MISSED: dict[str, type] = {"code": str, "value": float, "limit": float, "unit": str, "remedy": str}
_DEFECT: dict[str, type] = {"word": str, "class": str}
_DEFECT_MORE: dict[str, type] = {"side": str, "radius_mm": float, "angle_deg": float, "disc": int, "note": str}


@dataclass(frozen=True, kw_only=True)
class RunBegun(Event):
    """A set of stampers begins to press; the run has a number of its own from here on."""

    kind: ClassVar[str] = "run_begun"
    words: ClassVar[str] = "run begun"
    recordable: ClassVar[bool] = False
    edition: str = told("edition of the title")
    press: str = told("which press", "")
    stampers: Plain = told("number of the stamper of each side", read=_texts)
    planned: int = told("pressings to make", 0)
    compound: str = told("batch of the compound", "")


@dataclass(frozen=True, kw_only=True)
class FirstOff(Event):
    """The first disc of a run was looked at, measured and played; nothing is pressed before it passes."""

    kind: ClassVar[str] = "first_off"
    words: ClassVar[str] = "first-off inspected"
    recordable: ClassVar[bool] = False
    hole_mm: float | None = told("diameter of the hole", None)
    off_centre_mm: float | None = told("distance of the hole from the middle of the groove", None)
    weight_g: float | None = told("weight of the disc", None)
    labels: str = told(f"how the labels lie: {', '.join(LABELS)}", "", read=_one_of(LABELS))
    marks_read: Plain | None = told("run-out marks as they were read, of each side", None, read=_texts)
    stampers_read: Plain | None = told("numbers of the stampers in the press, of each side", None, read=_texts)
    played: str = told("what the full play ended with: pass or stop", "", read=_one_of(("pass", "stop")))
    verdict: str = told("pass or stop, by the limits of the house", read=_one_of(("pass", "stop")))
    missed: tuple[Plain, ...] = told("limits that were missed", (), read=_rows(_MISSED, {}))


@dataclass(frozen=True, kw_only=True)
class RunPressed(Event):
    """So many were pressed, and so many of them were good at the press."""

    kind: ClassVar[str] = "run_pressed"
    words: ClassVar[str] = "pressed"
    recordable: ClassVar[bool] = False
    count: int = told("pressings made")
    good: int = told("of them good")


@dataclass(frozen=True, kw_only=True)
class LotInspected(Event):
    """A sample of a lot was inspected, class by class."""

    kind: ClassVar[str] = "lot_inspected"
    words: ClassVar[str] = "lot inspected"
    recordable: ClassVar[bool] = False
    count: int = told("discs of the lot")
    level: str = told("inspection level", "II")
    verdict: str = told("accepted or refused", read=_one_of((ACCEPTED, REFUSED)))
    results: tuple[Plain, ...] = told("plan and result of each class of defects", read=_rows(_RESULT, _RESULT_MORE))
    defects: tuple[Plain, ...] = told("defects that were seen", (), read=_rows(_DEFECT, _DEFECT_MORE))
    scrapped: int = told("bad discs of the sample that were taken out", 0)
    unsteady: str = told("why production is not steady, where it is not", "")
    reduced_agreed: str = told("who agrees to reduced inspection, where somebody does", "")


@dataclass(frozen=True, kw_only=True)
class LotDisposed(Event):
    """What became of a refused lot: sorted disc by disc, scrapped, or released all the same."""

    kind: ClassVar[str] = "lot_disposed"
    words: ClassVar[str] = "lot decided"
    recordable: ClassVar[bool] = False
    lot: int = told("which lot of the run, from 1")
    disposition: str = told(f"{', '.join(DISPOSITIONS)}", read=_one_of(DISPOSITIONS))
    good: int = told("discs that are good after it", 0)


@dataclass(frozen=True, kw_only=True)
class InspectionRestarted(Event):
    """Inspection of a class of defects was stopped, something was done, and it is taken up again."""

    kind: ClassVar[str] = "inspection_restarted"
    words: ClassVar[str] = "inspection restarted"
    recordable: ClassVar[bool] = False
    edition: str = told("edition of the title")
    defect_class: str = told("class of defects")
    why: str = told("what was done")


@dataclass(frozen=True, kw_only=True)
class Stocked(Event):
    """Good discs of accepted lots went into a bin."""

    kind: ClassVar[str] = "stocked"
    words: ClassVar[str] = "put into stock"
    recordable: ClassVar[bool] = False
    bin: str = told("bin or shelf")
    count: int = told("discs")


@dataclass(frozen=True, kw_only=True)
class TakenOut(Event):
    """Discs left a bin without being sent: broken, kept as a sample, played."""

    kind: ClassVar[str] = "taken_out"
    words: ClassVar[str] = "taken out of stock"
    recordable: ClassVar[bool] = False
    bin: str = told("bin or shelf")
    count: int = told("discs")


@dataclass(frozen=True, kw_only=True)
class OrdersTaken(Event):
    """Orders for this title came in together."""

    kind: ClassVar[str] = "orders_taken"
    words: ClassVar[str] = "orders taken"
    recordable: ClassVar[bool] = False
    orders: tuple[Plain, ...] = told("the lines of the orders", read=_rows(_ORDER_NEEDED, _ORDER_MORE))
    source: str = told("file or program they came from", "")
    file_sha256: str = told("hash of the file", "", read=read_hash)


@dataclass(frozen=True, kw_only=True)
class OrderCancelled(Event):
    """What is still to be sent of a line of an order is sent no more."""

    kind: ClassVar[str] = "order_cancelled"
    words: ClassVar[str] = "order cancelled"
    recordable: ClassVar[bool] = False
    order: str = told("number of the order")
    edition: str = told("code of the edition")


@dataclass(frozen=True, kw_only=True)
class CartonsPacked(Event):
    """Discs went from their bins into cartons."""

    kind: ClassVar[str] = "cartons_packed"
    words: ClassVar[str] = "cartons packed"
    recordable: ClassVar[bool] = False
    cartons: tuple[Plain, ...] = told("the cartons", read=_rows(_CARTON, {"bundle": str, "dock": str, "capacity": int}))


@dataclass(frozen=True, kw_only=True)
class CartonOpened(Event):
    """A carton was opened again, and its discs went back into their bin."""

    kind: ClassVar[str] = "carton_opened"
    words: ClassVar[str] = "carton opened"
    recordable: ClassVar[bool] = False
    sscc: str = told("number of the carton")
    bin: str = told("bin the discs went to")


@dataclass(frozen=True, kw_only=True)
class Loaded(Event):
    """A carton was scanned into a vehicle."""

    kind: ClassVar[str] = "loaded"
    words: ClassVar[str] = "loaded"
    recordable: ClassVar[bool] = False
    sscc: str = told("number of the carton")
    dock: str = told("dock it left from")
    vehicle: str = told("which vehicle", "")


@dataclass(frozen=True, kw_only=True)
class AccountTold(Event):
    """An account was told that discs it has are recalled."""

    kind: ClassVar[str] = "account_told"
    words: ClassVar[str] = "account told"
    recordable: ClassVar[bool] = False
    account: str = told("number of the account")
    run: str = told("run that is recalled")


RUN_EVENTS: tuple[type[Event], ...] = (
    RunBegun, FirstOff, RunPressed, LotInspected, LotDisposed, InspectionRestarted, Stocked, TakenOut, OrdersTaken,
    OrderCancelled, CartonsPacked, CartonOpened, Loaded, AccountTold,
)  # fmt: skip
#: Events about one run, by its number.
OF_A_RUN = ("first_off", "run_pressed", "lot_inspected", "lot_disposed", "stocked", "taken_out")
#: Events of the title: of no part and no run.
OF_THE_DOCK = (
    "inspection_restarted", "orders_taken", "order_cancelled", "cartons_packed", "carton_opened", "loaded",
    "account_told",
)  # fmt: skip
