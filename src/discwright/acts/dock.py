"""Out of the ledger: what is ordered and what is there, packed into cartons with numbers that are never used again."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from discwright.acts.pack import PackOrder, pack_lines
from discwright.acts.pack_report import PackReport
from discwright.acts.works import Hand
from discwright.errors import CallError
from discwright.files.packing_settings import PackingSettings
from discwright.works import run_events as r
from discwright.works.allocation import Allocation
from discwright.works.family import Family
from discwright.works.gs1 import SsccRange
from discwright.works.order_lines import OrderLine, StockLine
from discwright.works.packing import Packed
from discwright.works.store.ledger import Ledger, Order, Outcome
from discwright.works.store.look import families_beyond, greatest_sscc
from discwright.works.yard import edition_code, title_of

#: What a works sets once: its GS1 prefix.
PREFIX = "gs1_prefix"


def open_orders(families: Iterable[Family]) -> list[OrderLine]:
    """What is still to be packed of every line of every order, in the order in which they were taken.

    Parameters
    ----------
    families : iterable of Family
    """
    waiting = [one for family in families for one in family.yard.orders.values() if one.open]
    return [replace(one.line, count=one.open) for one in sorted(waiting, key=lambda one: (one.seq, one.line.line))]


def stock(families: Iterable[Family], *, recalled: bool = False) -> list[StockLine]:
    """What stands in the bins, under the codes that orders use.

    Parameters
    ----------
    families : iterable of Family
    recalled : bool
        Only what is recalled and must not be sent, instead of what may.
    """
    return [
        replace(one, edition=edition_code(family.title, one.edition))
        for family in families
        for one in family.yard.stock()
        if bool(family.recalled_for(family.yard.runs[one.run])) is recalled
    ]


@dataclass(frozen=True)
class DockReport:
    """What was packed out of the ledger.

    Attributes
    ----------
    pack : PackReport
        Who got how many, by which rule, in which cartons and on which pallets.
    outcomes : tuple of Outcome
        One line for each title; without lines where a stop speaks against any of them.
    docks : dict of str to str
        Dock by the SSCC of each carton.
    """

    pack: PackReport
    outcomes: tuple[Outcome, ...]
    docks: dict[str, str]

    @property
    def allocation(self) -> Allocation:
        """Who got how many."""
        return self.pack.allocation

    @property
    def packed(self) -> Packed:
        """Cartons and bundles."""
        return self.pack.packed

    @property
    def written(self) -> bool:
        """All of it stands in the ledger."""
        return all(one.line is not None for one in self.outcomes)

    def as_dict(self) -> dict[str, Any]:
        """Plain JSON values."""
        return {
            "cartons": [
                {
                    "sscc": one.sscc, "account": one.account, "order": one.order, "edition": one.edition,
                    "count": one.count, "run": one.run, "bin": one.bin, "dock": self.docks.get(one.key, ""),
                }
                for one in self.packed.cartons
            ],
            "bundles": [
                {"sscc": one.sscc, "account": one.account, "cartons": [carton.sscc for carton in one.cartons]}
                for one in self.packed.bundles
            ],
            "short": [
                {"account": one.account, "edition": one.edition, "order": one.order, "missing": one.missing}
                for one in self.packed.short
            ],
            "rule": self.allocation.rule, "rule_words": self.allocation.rule_words, "written": self.written,
            "lines": [one.line.seq for one in self.outcomes if one.line is not None],
            "findings": [found.as_dict() for one in self.outcomes for found in one.findings],
        }  # fmt: skip


def pack_orders(
    ledger: Ledger, hand: Hand, *, rule: str = "date", per_carton: int | None = None, per_bundle: int | None = None,
    prefix: str = "", extension: int = 0, first_serial: int = 0, docks: Mapping[str, str] | None = None, dock: str = "",
    accounts: Iterable[str] = (), house: PackingSettings | None = None,
) -> DockReport:  # fmt: skip
    """Pack what is ordered and there, and write it down: all of it, or nothing.

    Parameters
    ----------
    ledger : Ledger
    hand : Hand
    rule : str
        Who comes first where an edition is short.
    per_carton, per_bundle : int, optional
        Those of the house without.
    prefix : str
        GS1 prefix of the works; kept when it was given once.
    extension, first_serial : int
        Extension digit, and the serial number to begin with where the ledger has given out none.
    docks : mapping of str to str, optional
        Dock by account, or by country for accounts that are not named.
    dock : str
        For everybody else.
    accounts : iterable of str
        Only these; all without.
    house : PackingSettings, optional
        The shipped ones without.

    Returns
    -------
    DockReport

    Raises
    ------
    CallError
        If nothing can be packed, or no prefix is known.
    """
    families, only = families_beyond(ledger), set(accounts)
    orders = [one for one in open_orders(families) if not only or one.account in only]
    if not orders:
        raise CallError("no order waits to be packed; take orders first with `discwright works orders ORDERS.csv`.")
    how = PackOrder(per_carton=per_carton, per_bundle=per_bundle, rule=rule)
    there = stock(families)
    report = pack_lines(orders, there, how, house)
    if not report.packed.cartons:
        return DockReport(report, (), {})
    numbers = _numbers(ledger, prefix, extension)
    count = len(report.packed.cartons) + len(report.packed.bundles)
    begin = _reserved(ledger, numbers, count, first_serial)
    how = replace(how, gs1_prefix=numbers.prefix, serial_from=begin, extension=extension)
    report = pack_lines(orders, there, how, house)
    to = {one.key: _dock_of(one.account, one.consignee.country, docks or {}, dock) for one in report.packed.cartons}
    return DockReport(report, ledger.append_together(_lines(report.packed, to, hand)), to)


def _numbers(ledger: Ledger, prefix: str, extension: int) -> SsccRange:
    """The works' own numbers; a prefix that is given is kept."""
    known = ledger.setting(PREFIX)
    if not (prefix or known):
        raise CallError("cartons need numbers, and no GS1 prefix of this works is known; give it once (--gs1-prefix).")
    numbers = SsccRange(prefix or known, extension)
    if numbers.prefix != known:
        ledger.set(PREFIX, numbers.prefix)
    return numbers


def _reserved(ledger: Ledger, numbers: SsccRange, count: int, first: int) -> int:
    """Numbers set aside in the ledger, so that nobody else gets them, whatever becomes of this packing.

    The cartons themselves count too: a ledger that was moved as text has its lines and not the series.
    """
    given = greatest_sscc(ledger, f"{numbers.extension}{numbers.prefix}")
    if given:
        first = max(first, int(given[1 + len(numbers.prefix) : -1]) + 1)
    numbers.check(first, count)
    begin = ledger.reserve(f"sscc:{numbers.extension}{numbers.prefix}", count, first)
    numbers.check(begin, count)
    return begin


def _dock_of(account: str, country: str, docks: Mapping[str, str], otherwise: str) -> str:
    return docks.get(account, docks.get(country, otherwise))


def _lines(packed: Packed, docks: Mapping[str, str], hand: Hand) -> list[Order]:
    """A line for each title, or several where it has very many cartons."""
    bundles = {carton.key: one.key for one in packed.bundles for carton in one.cartons}
    by_title: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for one in packed.cartons:
        bins: dict[str, int] = defaultdict(int)
        for pick in one.picks:
            bins[pick.bin] += pick.count
        by_title[title_of(one.edition)[0]].append(
            {
                "sscc": one.key,
                "order": one.order,
                "account": one.account,
                "edition": one.edition,
                "run": one.run,
                "bins": dict(bins),
                "bundle": bundles[one.key],
                "dock": docks[one.key],
                "capacity": one.capacity,
            }
        )
    events = [
        (r.CartonsPacked(cartons=tuple(rows[k : k + r.ROWS_OF_A_LINE])), title)
        for title, rows in by_title.items()
        for k in range(0, len(rows), r.ROWS_OF_A_LINE)
    ]
    return [
        Hand(hand.by, hand.station, packing_key(hand.key, k), hand.accepted).order(event, title)
        for k, (event, title) in enumerate(events)
    ]


def packing_key(key: str, number: int = 0) -> str:
    """The key under which a line of a packing stands: each has its own.

    Parameters
    ----------
    key : str
        Of the whole packing; empty for none.
    number : int
        Of the line, from 0.
    """
    return f"{key}-{number}" if key else ""
