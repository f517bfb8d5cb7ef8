"""Orders as CSV: every line checked before one is used.

Heads ``order,account,name,address_1,address_2,city,region,postcode,country,edition,count,wanted``. A wrong count, a
missing address, an edition that is only spelled otherwise: each is a finding with its line, and one stop refuses the
whole file.
"""

from __future__ import annotations

import datetime
import difflib
import re
import sys
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from discwright.files.addresses import code_of, countries
from discwright.files.csv_guard import LineFinding, Told, check_cells, lost_letters, read_table
from discwright.works.order_lines import OrderLine

HEADS = (
    "order", "account", "name", "address_1", "address_2", "city", "region", "postcode", "country", "edition", "count",
    "wanted",
)  # fmt: skip
#: Columns that may lack.
OPTIONAL = ("address_2", "region", "postcode", "wanted")
#: No line of an order is for more discs, and no number is longer.
COUNT_MOST, NUMBER_MOST = 1_000_000, 60
_NEEDED = {"order": "an order number", "account": "an account number", "edition": "an edition"}
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_ALIKE = str.maketrans("oil|", "0111")


@dataclass(frozen=True)
class OrdersRead:
    """What an order file came to.

    Attributes
    ----------
    lines : tuple of OrderLine
        Empty where there is a stop.
    findings : tuple of LineFinding
    more : int
        Findings beyond those that are told.
    refused : bool
        There is a stop: nothing of the file may be used.
    """

    lines: tuple[OrderLine, ...]
    findings: tuple[LineFinding, ...]
    more: int
    refused: bool


def read_orders(
    path: Path,
    *,
    editions: Collection[str] | None = None,
    weights: Mapping[str, float] | None = None,
    encoding: str | None = None,
) -> OrdersRead:
    """Read an order file, whole or not at all.

    Parameters
    ----------
    path : pathlib.Path
    editions : collection of str or None
        Editions that are known, to find those that are spelled otherwise; None where nothing is known.
    weights : mapping of str to float or None
        Weight by account, 1 where none is given.
    encoding : str or None
        As for :func:`discwright.files.csv_guard.read_table`.

    Returns
    -------
    OrdersRead

    Raises
    ------
    CallError
        If the file cannot be opened or read as text.
    """
    told = Told(path.name)
    reader = _Reader(told, editions, weights or {})
    for line, cells in read_table(path, HEADS, OPTIONAL, told, encoding):
        reader.take(line, cells)
    if not reader.lines and not told.stops:
        told.finding("no_lines", 0, "", "", "has no line of an order; give one at least.")
    lines = () if told.stops else tuple(reader.lines)
    return OrdersRead(lines, tuple(told.findings), told.more, bool(told.stops))


class _Reader:
    """Lines and findings while a file is read."""

    def __init__(self, told: Told, editions: Collection[str] | None, weights: Mapping[str, float]) -> None:
        self.lines: list[OrderLine] = []
        self._told, self._weights = told, weights
        self._editions = None if editions is None else frozenset(editions)
        self._spelled = {_bare(one): one for one in editions or ()}
        self._seen: dict[tuple[str, str], int] = {}
        self._unknown: dict[str, int] = {}
        self._homes: dict[str, tuple[str, ...]] = {}

    def take(self, line: int, cells: list[str]) -> None:
        """Check one line and keep it."""
        order, account, name, address_1, address_2, city, region, postcode, country, edition, counted, wanted = (
            sys.intern(cell) for cell in cells
        )
        stops = self._told.stops
        self._check_numbers(line, order, account, edition)
        country = self._check_address(line, name, address_1 or address_2, city, region, postcode, country)
        count = read_count(self._told, line, counted, least=1)
        self._check_day(line, wanted)
        if lost_letters(cells):
            self._told.finding("lost_letters", line, "", "", "holds the sign for a letter that was lost; type it anew.")
        if self._told.stops > stops:  # the file is refused; what follows is only said of lines that are right
            return
        first = self._seen.setdefault((order, edition), line)
        if first != line:
            words = f"order {order} has {edition} in line {first} already; put them together."
            self._told.finding("twice", line, "order", order, words)
            return
        home = (name, address_1, address_2, city, region, postcode, country)
        self._note_home(line, account, home)
        weight = self._weights.get(account, 1.0)
        self.lines.append(OrderLine(order, account, *home, edition, count, wanted, weight, line))

    def _check_numbers(self, line: int, order: str, account: str, edition: str) -> None:
        for column, value in (("order", order), ("account", account), ("edition", edition)):
            if not value:
                self._told.finding("missing_number", line, column, "", f"lacks {_NEEDED[column]}; fill it in.")
            elif len(value) > NUMBER_MOST:
                words = f"has {len(value)} characters; a number has at most {NUMBER_MOST}."
                self._told.finding("too_long", line, column, value, words)
        if edition and self._editions is not None and edition not in self._editions:
            self._check_spelling(line, edition, self._editions)

    def _check_spelling(self, line: int, edition: str, editions: frozenset[str]) -> None:
        meant = self._spelled.get(_bare(edition))
        if meant is not None:
            self._told.finding("edition_spelled", line, "edition", edition, f"is in stock as {meant}; write it so.")
        elif edition not in self._unknown:
            self._unknown[edition] = line
            near = difflib.get_close_matches(edition, editions, 1, 0.75) if len(self._unknown) <= 100 else []
            like = f"; the nearest in stock is {near[0]}" if near else ""
            words = f"is not in the stock list{like}: all of it is short unless the number is mended."
            self._told.finding("unknown_edition", line, "edition", edition, words, "warn")

    def _check_address(
        self, line: int, name: str, street: str, city: str, region: str, postcode: str, country: str
    ) -> str:
        """What an address cannot do without; the country in capitals."""
        lacking = [
            column
            for column, value in (("name", name), ("address_1", street), ("city", city), ("country", country))
            if not value
        ]
        if lacking:
            words = f"the address lacks {', '.join(lacking)}; fill it in."
            self._told.finding("missing_address", line, lacking[0], "", words)
        code = sys.intern(country.upper())
        known = countries()
        if country and code not in known.layouts:
            meant = code_of(country)
            words = f"write {meant}" if meant else "give its two letters of ISO 3166-1, such as CZ"
            self._told.finding("unknown_country", line, "country", country, f"is no country's code; {words}.")
        if not lacking and not postcode and code in known.needs_postcode:
            words = f"an address in {code} usually has a postcode; ask for it."
            self._told.finding("missing_postcode", line, "postcode", "", words, "warn")
        if not lacking and not region and code in known.needs_region:
            words = f"an address in {code} usually has a region; ask for it."
            self._told.finding("missing_region", line, "region", "", words, "warn")
        return code

    def _check_day(self, line: int, wanted: str) -> None:
        if not wanted:
            return
        try:
            if not _DATE.fullmatch(wanted):
                raise ValueError
            datetime.date.fromisoformat(wanted)
        except ValueError:
            self._told.finding("wrong_date", line, "wanted", wanted, "is no day; write it as 2026-12-24.")

    def _note_home(self, line: int, account: str, home: tuple[str, ...]) -> None:
        first = self._homes.setdefault(account, home)
        if first != home:
            words = f"account {account} has another address further up: its cartons are kept apart."
            self._told.finding("two_addresses", line, "account", account, words, "note")
            self._homes[account] = home


def read_count(told: Told, line: int, text: str, least: int) -> int:
    """A count of discs, or a finding and 0.

    Parameters
    ----------
    told : Told
    line : int
    text : str
    least : int
        0 for stock, 1 for an order.
    """
    if re.fullmatch(r"[0-9]{1,9}", text):
        count = int(text)
        if least <= count <= COUNT_MOST:
            return count
        words = f"is too few; give {least} at least." if count < least else f"is more than {COUNT_MOST}; split it."
    elif not text:
        words = f"the count is missing; give {least} or more."
    elif re.fullmatch(r"[0-9]{1,3}([.,\u00a0\u202f' ][0-9]{3})+", text):
        words = f"could be a thousand or a decimal; write {re.sub('[^0-9]', '', text)}, if that is meant."
    elif re.fullmatch(r"-\s?[0-9.,]+", text):
        words = f"is less than nothing; give {least} at least."
    else:
        words = "is no count of whole discs; write digits alone, such as 25."
    told.finding("wrong_count", line, "count", text, words)
    return 0


def _bare(edition: str) -> str:
    """An edition without what the eye passes over: capitals, blanks, strokes, 0 for O, 1 for I and l."""
    return re.sub(r"[^0-9a-z]", "", edition.casefold()).translate(_ALIKE)


def check_lines(
    rows: Iterable[Mapping[str, object]], source: str, *, editions: Collection[str] | None = None
) -> OrdersRead:
    """Check lines of orders that a program sends, as strictly as those of a file, whole or not at all.

    Parameters
    ----------
    rows : iterable of mapping
        By :data:`HEADS`; what lacks is empty, and a count may be a number.
    source : str
        Who sends them; findings name it, and the first row as line 1.
    editions : collection of str or None
        As for :func:`read_orders`.

    Returns
    -------
    OrdersRead
    """
    told = Told(source)
    reader = _Reader(told, editions, {})
    for line, row in enumerate(rows, 1):
        cells = [str(row.get(name, "")).strip(" ") for name in HEADS]
        check_cells(cells, HEADS, line, told)
        reader.take(line, cells)
    if not reader.lines and not told.stops:
        told.finding("no_lines", 0, "", "", "has no line of an order; give one at least.")
    return OrdersRead(() if told.stops else tuple(reader.lines), tuple(told.findings), told.more, bool(told.stops))
