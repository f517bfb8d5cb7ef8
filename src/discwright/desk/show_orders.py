"""Lines of orders and promises put together: what is open, packed, sent; what will be late and why."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from zoneinfo import ZoneInfo

from discwright.acts.orders import PromiseReport
from discwright.desk.csv_words import moment_cell
from discwright.desk.dock_parts import DayRow, LineFindingRow, OrderRow, PromiseRow
from discwright.desk.dock_words import (
    CANCELLED,
    OPEN,
    ORDER_STATES,
    PACKED,
    SENT,
    home,
    number,
    order_state,
    orders_href,
    promise_badge,
)
from discwright.desk.page_parts import Option
from discwright.desk.show_board import new_key, title_href
from discwright.desk.works_parts import Badge
from discwright.files.csv_guard import LineFinding
from discwright.works.allocation import bin_order
from discwright.works.family import Family
from discwright.works.promise import STATES, Promise
from discwright.works.yard import Ordered, title_of

ALL = "all"
#: What the list can be narrowed to.
FILTERS = {OPEN: "Open", PACKED: "Packed", SENT: "Sent", CANCELLED: "Cancelled", ALL: "All"}
ORDER_HEADS = (
    "order", "account", "name", "address_1", "address_2", "city", "region", "postcode", "country", "edition",
    "count_discs", "packed_discs", "sent_discs", "wanted", "state", "taken_at",
)  # fmt: skip
PROMISE_HEADS = (
    "order", "account", "name", "edition", "open_discs", "here_discs", "missing_discs", "wanted", "ready", "state",
    "why",
)  # fmt: skip
#: Later than every day that anybody writes.
_NO_DAY = "9999-99-99"


# Orders ------------------------------------------------------------------------------------------------


def ordered_lines(families: Iterable[Family], state: str, text: str) -> list[Ordered]:
    """Lines of orders in a state in which a text stands, by the day they are wanted.

    Parameters
    ----------
    families : iterable of Family
    state : str
        One of :data:`FILTERS`.
    text : str
        Beginning or part of an order, account, name, city or edition; empty for all.
    """
    wanted = " ".join(text.split()).casefold()
    found = [
        one
        for family in families
        for one in family.yard.orders.values()
        if state in (ALL, order_state(one)) and (not wanted or _holds(one, wanted))
    ]
    return sorted(found, key=lambda one: (one.line.wanted or _NO_DAY, bin_order(one.line.order), one.line.edition))


def _holds(one: Ordered, wanted: str) -> bool:
    line = one.line
    return any(wanted in cell.casefold() for cell in (line.order, line.account, line.edition, line.name, line.city))


def counts(families: Iterable[Family]) -> dict[str, int]:
    """How many lines are in each state."""
    found = dict.fromkeys(FILTERS, 0)
    for family in families:
        for one in family.yard.orders.values():
            found[order_state(one)] += 1
            found[ALL] += 1
    return found


def filters(found: dict[str, int], chosen: str) -> tuple[Option, ...]:
    """Links to each state, with how many lines are in it."""
    return tuple(
        Option(f"/orders?state={id_}", f"{words} {found[id_]}", id_ == chosen) for id_, words in FILTERS.items()
    )


def order_rows(lines: Sequence[Ordered], today: str, *, may_cancel: bool) -> tuple[OrderRow, ...]:
    """Lines of orders as a table has them.

    Parameters
    ----------
    lines : sequence of Ordered
    today : str
    may_cancel : bool
        Whoever looks may cancel what is open.
    """
    return tuple(_order(k, one, today, may_cancel) for k, one in enumerate(lines, 1))


def _order(k: int, one: Ordered, today: str, may_cancel: bool) -> OrderRow:
    line, state = one.line, order_state(one)
    return OrderRow(
        k, line.order, line.account, home(line), line.edition, title_href(title_of(line.edition)[0]),
        number(line.count), number(one.packed), number(one.loaded), line.wanted,
        _late(line.wanted, today) if state in (OPEN, PACKED) else "", ORDER_STATES[state],
        new_key() if may_cancel and state == OPEN else "",
    )  # fmt: skip


def _late(wanted: str, today: str) -> str:
    over = (date.fromisoformat(today) - date.fromisoformat(wanted)).days if wanted else 0
    return f"late by {over} {'day' if over == 1 else 'days'}" if over > 0 else ""


def order_csv(lines: Iterable[Ordered], zone: ZoneInfo) -> Iterator[tuple[object, ...]]:
    """Lines of orders for a file."""
    for one in lines:
        line = one.line
        yield (
            line.order, line.account, line.name, line.address_1, line.address_2, line.city, line.region, line.postcode,
            line.country, line.edition, line.count, one.packed, one.loaded, line.wanted, order_state(one),
            moment_cell(one.at, zone),
        )  # fmt: skip


def finding_rows(found: Iterable[LineFinding]) -> tuple[LineFindingRow, ...]:
    """What there is to say of lines of a file, stops first."""
    order = {"stop": 0, "warn": 1, "note": 2}
    return tuple(
        LineFindingRow(str(one.line) if one.line else "", one.column, one.value, one.severity, one.remedy)
        for one in sorted(found, key=lambda one: (order[one.severity], one.line))
    )


# Promises ----------------------------------------------------------------------------------------------


def promise_counts(report: PromiseReport) -> tuple[Badge, ...]:
    """All promises in words: late, without a plan, in time."""
    count = {state: sum(one.state == state for one in report.promises) for state in STATES}
    kept = count["here"] + count["coming"]
    return (
        Badge("warn", f"{count['late']} late") if count["late"] else Badge("ready", "nothing is late"),
        Badge("unplanned", f"{count['unplanned']} without a plan") if count["unplanned"]
        else Badge("ready", "everything has a plan"),
        Badge("ready", f"{kept} in time"),
    )  # fmt: skip


def in_trouble(report: PromiseReport) -> list[Promise]:
    """Promises that will not be kept as things stand."""
    return [one for one in report.promises if one.state in ("late", "unplanned")]


def promise_rows(found: Iterable[Promise]) -> tuple[PromiseRow, ...]:
    """Promises as a table has them."""
    return tuple(
        PromiseRow(
            one.line.order, orders_href(one.line.order), one.line.account, home(one.line), one.line.edition,
            number(one.line.count), number(one.here), number(one.missing) if one.missing else "", one.line.wanted,
            one.day, promise_badge(one.state), one.why,
        )
        for one in found
    )  # fmt: skip


def day_rows(report: PromiseReport) -> tuple[DayRow, ...]:
    """Day by day what is wanted, and whether it will be there; what has no day comes last."""
    days: dict[str, list[Promise]] = {}
    for one in report.promises:
        days.setdefault(one.line.wanted, []).append(one)
    return tuple(_day(day, days[day]) for day in sorted(days, key=lambda day: day or _NO_DAY))


def _day(day: str, found: Sequence[Promise]) -> DayRow:
    late, unplanned = (sum(one.state == state for one in found) for state in ("late", "unplanned"))
    if late:
        badge = Badge("warn", "late")
    else:
        badge = Badge("unplanned", "nothing planned") if unplanned else Badge("ready", "in time")
    return DayRow(
        day or "no day", str(len(found)), number(sum(one.line.count for one in found)), str(late), str(unplanned),
        str(len(found) - late - unplanned), badge,
    )  # fmt: skip


def promise_csv(report: PromiseReport) -> Iterator[tuple[object, ...]]:
    """All promises for a file."""
    for one in report.promises:
        line = one.line
        yield (
            line.order, line.account, line.name, line.edition, line.count, one.here, one.missing, line.wanted, one.day,
            STATES[one.state], one.why,
        )  # fmt: skip
