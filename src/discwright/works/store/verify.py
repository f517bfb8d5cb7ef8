"""Is the ledger whole? Every line hashed again, every title worked out again and held against what is kept of it.

What this cannot see: somebody who holds the database can cut off the last lines, or write the whole chain anew, and it
holds. That shows only against a head that is known from elsewhere: a card, a backup, a drill.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import asdict, dataclass, field
from typing import Any

from sqlalchemy import Connection, Row, exists, func, select

from discwright.errors import CallError, SettingsError
from discwright.findings import Finding
from discwright.works.chain import BEGIN, FIELDS, Break, Line, Walk
from discwright.works.store import rows, tables
from discwright.works.store.connect import reading
from discwright.works.store.ledger import Ledger
from discwright.works.store.refold import Tell, against, differences, refold

#: A head may be shortened to so many digits.
LEAST_DIGITS = 12
#: So many breaks and findings are told in full; the others are counted.
MOST_TOLD = 200
_PAGE = 2000
#: All fields of a row but its number are text.
_TEXTS = len(FIELDS) - 1
#: Share of the work that is hashing.
_HASHING = 0.3
Moment = Callable[[], AbstractContextManager[Connection]]


@dataclass(frozen=True)
class Verified:
    """What came of it.

    Attributes
    ----------
    lines : int
    head : str
        Hash of the last line.
    titles, parts : int
        Worked out again.
    breaks : tuple of Break
        Where the ledger does not hold; line 0 where it is no single line.
    findings : tuple of Finding
        Warnings and stops in the histories that nobody has accepted.
    more : int
        Breaks and findings beyond those that are told.
    took_s : float
    """

    lines: int
    head: str
    titles: int
    parts: int
    breaks: tuple[Break, ...]
    findings: tuple[Finding, ...]
    more: int
    took_s: float

    @property
    def whole(self) -> bool:
        """The ledger holds, whatever its histories are like."""
        return not self.breaks

    @property
    def ready(self) -> bool:
        """Nothing was found at all."""
        return not self.breaks and not self.findings

    def as_dict(self) -> dict[str, Any]:
        """The result as plain JSON values."""
        return {
            "ready": self.ready, "whole": self.whole, "lines": self.lines, "head": self.head, "titles": self.titles,
            "parts": self.parts, "breaks": [asdict(one) for one in self.breaks],
            "findings": [one.as_dict() for one in self.findings], "more": self.more, "took_s": round(self.took_s, 3),
        }  # fmt: skip


@dataclass
class _Told:
    """What was found so far; only so much of it is kept."""

    breaks: list[Break] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    more: int = 0

    def broken(self, seq: int, why: str) -> None:
        if len(self.breaks) < MOST_TOLD:
            self.breaks.append(Break(seq, why))
        else:
            self.more += 1

    def found(self, one: Finding) -> None:
        if len(self.findings) < MOST_TOLD:
            self.findings.append(one)
        else:
            self.more += 1


def verify(ledger: Ledger, *, head: str = "", tell: Tell = lambda _words, _done: None) -> Verified:
    """Hash every line again and work everything out again; others may go on writing.

    Parameters
    ----------
    ledger : Ledger
    head : str
        Hash that was printed once, whole or at least its first twelve digits; a line must have it.
    tell : callable
        Told what is done, and how much of it from 0 to 1.

    Raises
    ------
    CallError
        If the head is none.
    LedgerError
        If the database cannot be read.
    """
    return verify_in(lambda: reading(ledger.engine), head=head, tell=tell)


def verify_in(moment: Moment, *, head: str = "", tell: Tell = lambda _words, _done: None) -> Verified:
    """The same by way of transactions that somebody else makes.

    Parameters
    ----------
    moment : callable
        A transaction that reads; it is asked for again and again, so that nobody who writes is kept waiting.
    head : str
    tell : callable
    """
    head = head.strip().lower()
    if head and (not LEAST_DIGITS <= len(head) <= len(BEGIN) or set(head) - set("0123456789abcdef")):
        raise CallError(f"the head is no hash; type at least the first {LEAST_DIGITS} digits as they are printed.")
    begin = time.monotonic()
    told = _Told()
    walk, seen = _hash_again(moment, told, head, tell)
    begun = walk.seq > 0 or head != BEGIN[: len(head)]  # the head of an empty ledger says nothing of one with lines
    if head and not seen and begun:
        told.broken(0, f"no line has the hash {head}: the history was rewritten or cut off since that was printed")
    titles, parts = _fold_again(moment, told, walk.seq, tell)
    tell("done", 1.0)
    took = time.monotonic() - begin
    breaks = tuple(sorted(told.breaks, key=lambda one: one.seq))
    return Verified(walk.seq, walk.prev, titles, parts, breaks, tuple(told.findings), told.more, took)


def _hash_again(moment: Moment, told: _Told, head: str, tell: Tell) -> tuple[Walk, bool]:
    walk, seen = Walk(), False
    with moment() as connection:
        last = max(1, rows.last_line(connection)[0])
    while True:
        with moment() as connection:
            page = rows.page(connection, walk.seq, _PAGE)
        for row in page:
            line = readable(row)
            for why in walk.step(line):
                told.broken(line.seq, why)
            seen = seen or (bool(head) and line.hash.startswith(head))
        if len(page) < _PAGE:
            return walk, seen
        tell("hashing every line again", _HASHING * min(1.0, walk.seq / last))


def readable(row: Row[Any]) -> Line:
    """A row as a line, even where it holds what no line can; then its hash will not fit.

    Parameters
    ----------
    row : sqlalchemy.Row
    """
    try:
        line = rows.line_of(row)
    except (ValueError, TypeError):
        line = None
    values: list[Any] = list(row)
    if line is not None and isinstance(line.data, dict) and sum(isinstance(one, str) for one in values) == _TEXTS:
        return line
    values[1:] = map(str, values[1:])
    values[rows.DATA] = {"": values[rows.DATA]}
    return Line(*values)


def _fold_again(moment: Moment, told: _Told, last: int, tell: Tell) -> tuple[int, int]:
    """Title by title, each in a moment of its own; lines that came since are folded with the others."""
    titles = parts = met = 0
    for title in _titles(moment):
        with moment() as connection:
            lines = [readable(row) for row in rows.rows_of_title(connection, title)]
            met += sum(line.seq <= last for line in lines)
            try:
                right = refold(title, lines)
            except (SettingsError, CallError, ValueError, KeyError, TypeError, AttributeError, AssertionError):
                told.broken(lines[0].seq, f"the lines of {title} tell nothing that can be")
                continue
            for what in differences(connection, right):
                told.broken(right.family.seq, f"{what}; export the ledger and import it into a new one")
        for one in against(right.family):
            told.found(one)
        titles, parts = titles + 1, parts + len(right.family.parts)
        tell("working everything out again", _HASHING + (1 - _HASHING) * min(1.0, met / max(1, last)))
    with moment() as connection:
        for what in _strange(connection):
            told.broken(0, what)
    if met != last:
        told.broken(0, f"{last} lines are there by their number, but {met} by their title: the file is damaged")
    return titles, parts


def _titles(moment: Moment) -> Iterator[str]:
    """Every title with a line, each looked up in a moment of its own."""
    with moment() as connection:
        title = rows.title_after(connection, None)
    while title is not None:
        yield title
        with moment() as connection:
            title = rows.title_after(connection, title)


def _strange(connection: Connection) -> Iterator[str]:
    """What is kept of titles and parts that no line tells of."""
    lines = tables.lines.c
    for column, words in ((tables.titles.c.catalogue, "title"), (tables.numbers.c.title, "number of title")):
        query = select(column).where(~exists().where(lines.title == column)).distinct().limit(MOST_TOLD)
        for name in connection.execute(query).scalars():
            yield f"the {words} {name} is kept, but no line tells of it"
    part = tables.parts.c
    undone = select(part.id).where(part.title == "", ~exists().where(lines.part == part.id)).limit(MOST_TOLD)
    for name in connection.execute(undone).scalars():
        yield f"the part {name} is kept, but no line tells of it"
    twice = select(lines.key).group_by(lines.key).having(func.count() > 1).limit(MOST_TOLD)
    for key in connection.execute(twice).scalars():
        yield f"the key {key} stands at two lines"
