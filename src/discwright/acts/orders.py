"""Orders taken into the ledger: a whole file or nothing of it, and what becomes of each line."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, date
from pathlib import Path
from typing import Any

from discwright.acts.dock import open_orders, stock
from discwright.acts.works import Hand
from discwright.errors import CallError
from discwright.files.csv_guard import LineFinding
from discwright.files.orders_csv import OrdersRead, check_lines, read_orders
from discwright.files.stock_csv import read_weights
from discwright.works import run_events as r
from discwright.works.family import Family
from discwright.works.order_lines import OrderLine
from discwright.works.promise import Promise, Supply, promises
from discwright.works.store.ledger import Ledger, Outcome
from discwright.works.store.look import edition_codes, families_beyond, titles_of
from discwright.works.yard import edition_code, order_key, title_of


@dataclass(frozen=True)
class OrdersTaken:
    """What became of a file of orders.

    Attributes
    ----------
    findings : tuple of LineFinding
        About lines of the file.
    more : int
        Findings beyond those that are told.
    outcomes : tuple of Outcome
        One or more for each title; none where the file was refused.
    lines : int
        Lines that were taken.
    """

    findings: tuple[LineFinding, ...]
    more: int
    outcomes: tuple[Outcome, ...]
    lines: int

    @property
    def written(self) -> bool:
        """All of it stands in the ledger."""
        return bool(self.outcomes) and all(one.line is not None for one in self.outcomes)

    def as_dict(self) -> dict[str, Any]:
        """Plain JSON values."""
        return {
            "written": self.written, "lines": self.lines if self.written else 0,
            "findings": [one.as_dict() for one in self.findings], "more": self.more,
            "against": [found.as_dict() for one in self.outcomes for found in one.findings],
        }  # fmt: skip


def take_orders(ledger: Ledger, path: Path, hand: Hand, *, weights: Path | None = None) -> OrdersTaken:
    """Take a file of orders: every line of it, or none.

    Parameters
    ----------
    ledger : Ledger
    path : pathlib.Path
        CSV, heads as in :data:`discwright.files.orders_csv.HEADS`; an edition by its code.
    hand : Hand
    weights : pathlib.Path, optional
        CSV of accounts and their weights.

    Returns
    -------
    OrdersTaken

    Raises
    ------
    CallError
        If the file cannot be read as text, or an order was taken before.
    """
    known = frozenset(edition_codes(ledger))
    table = read_weights(weights) if weights is not None else None
    if table is not None and any(one.severity == "stop" for one in table.findings):
        return OrdersTaken(table.findings, 0, (), 0)
    read = read_orders(path, editions=known, weights=table.weights if table is not None else None)
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    return _taken_if_known(ledger, read, known, hand, path.name, digest)


def take_order_lines(ledger: Ledger, rows: Iterable[Mapping[str, object]], hand: Hand, source: str) -> OrdersTaken:
    """Take orders that a program sends: all of them, or none.

    Parameters
    ----------
    ledger : Ledger
    rows : iterable of mapping
        Lines by the heads of an order file; checked as strictly as those.
    hand : Hand
    source : str
        Who sends them.

    Raises
    ------
    CallError
        If an order was taken before.
    """
    known = frozenset(edition_codes(ledger))
    read = check_lines(rows, source, editions=known)
    return _taken_if_known(ledger, read, known, hand, source, "")


def _taken_if_known(
    ledger: Ledger, read: OrdersRead, known: frozenset[str], hand: Hand, source: str, digest: str
) -> OrdersTaken:
    strange = [one for one in read.lines if one.edition not in known]
    if read.refused or strange:
        return OrdersTaken((*read.findings, *_unknown(strange, source)), read.more, (), 0)
    return _taken(ledger, read, hand, source, digest)


def _unknown(lines: Sequence[OrderLine], source: str) -> list[LineFinding]:
    """Stops for editions that no title of the ledger has."""
    return [
        LineFinding(
            "edition_of_no_title", "stop", source, one.line, "edition", one.edition,
            "is no edition of a title in this ledger; take the title in first, or mend the number.",
        )
        for one in lines[:100]
    ]  # fmt: skip


def _taken(ledger: Ledger, read: OrdersRead, hand: Hand, source: str, digest: str) -> OrdersTaken:
    by_title: dict[str, list[OrderLine]] = defaultdict(list)
    for one in read.lines:
        by_title[title_of(one.edition)[0]].append(one)
    parts = [
        (title, lines[k : k + r.ROWS_OF_A_LINE])
        for title, lines in by_title.items()
        for k in range(0, len(lines), r.ROWS_OF_A_LINE)
    ]
    orders = []
    for number, (title, lines) in enumerate(parts):
        own = Hand(hand.by, hand.station, f"{hand.key}-{number}" if hand.key else "", hand.accepted)
        event = r.OrdersTaken(orders=tuple(asdict(one) for one in lines), source=source, file_sha256=digest)
        orders.append(own.order(event, title))
    outcomes = ledger.append_together(orders)
    return OrdersTaken(read.findings, read.more, outcomes, len(read.lines))


def cancel_order(ledger: Ledger, order: str, edition: str, hand: Hand, *, note: str = "") -> Outcome:
    """Send no more of a line of an order.

    Parameters
    ----------
    ledger : Ledger
    order : str
        Its number.
    edition : str
        Code of the edition.
    hand : Hand
    note : str

    Raises
    ------
    CallError
        If there is no such line.
    """
    for title in titles_of(ledger, "order", order):
        family = ledger.family(title)
        if order_key(order, edition) in family.yard.orders:
            return ledger.append(hand.order(r.OrderCancelled(order=order, edition=edition, note=note), title))
    raise CallError(f"order {order[:60]} has no {edition[:60]}; look at the orders with `discwright works promises`.")


@dataclass(frozen=True)
class PromiseReport:
    """Every open line of an order and when it can be sent.

    Attributes
    ----------
    today : str
    promises : tuple of Promise
        Late and unplanned ones first.
    """

    today: str
    promises: tuple[Promise, ...]

    @property
    def late(self) -> int:
        """Lines that will be late, or for which nothing is planned."""
        return sum(one.state in ("late", "unplanned") for one in self.promises)

    def as_dict(self) -> dict[str, Any]:
        """Plain JSON values."""
        return {
            "today": self.today, "late": self.late,
            "promises": [
                {"order": one.line.order, "account": one.line.account, "name": one.line.name,
                 "edition": one.line.edition, "open": one.line.count, "wanted": one.line.wanted or None,
                 "state": one.state, "here": one.here, "missing": one.missing, "day": one.day or None, "why": one.why}
                for one in self.promises
            ],
        }  # fmt: skip


def promise_orders(ledger: Ledger, planned: Sequence[Supply] = (), *, today: str = "") -> PromiseReport:
    """What is promised and what will be late.

    Parameters
    ----------
    ledger : Ledger
    planned : sequence of Supply
        What the press hall will make, by day.
    today : str
        ISO 8601; by the ledger's clock without.
    """
    families = families_beyond(ledger)
    day = today or ledger.clock().astimezone(UTC).date().isoformat()
    here = [Supply(one.edition, one.count) for one in stock(families)]
    return PromiseReport(day, promises(open_orders(families), [*here, *_on_the_way(families, day), *planned], day))


def _on_the_way(families: Sequence[Family], today: str) -> list[Supply]:
    """Discs that are pressed and wait to be inspected, decided about or put into a bin."""
    day = date.fromisoformat(today).isoformat()
    return [
        Supply(edition_code(family.title, run.edition), count, day, f"{run.id} waits {why}")
        for family in families
        for run in family.yard.runs.values()
        if not family.recalled_for(run)
        for count, why in ((run.to_inspect, "to be inspected"), (run.to_stock, "to be put into a bin"))
        if count
    ]
