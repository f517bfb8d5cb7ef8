"""Orders worked out one after another inside one transaction, and written together at its end."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime

from sqlalchemy import Connection

from discwright.errors import CallError
from discwright.findings import Finding
from discwright.works import events as e
from discwright.works import run_events as r
from discwright.works.chain import Line, linked
from discwright.works.family import Family
from discwright.works.history import step
from discwright.works.parts import KINDS, LACQUER, RUN, part_number, serial_of
from discwright.works.store import kept, rows
from discwright.works.store.orders import CLOCK_S, Order, Outcome, answer, behind, check_same, plain_data
from discwright.works.store.putting_right import as_said, put_right
from discwright.works.store.remembered import Remembered


class Batch:
    """Some orders in one transaction that writes.

    Nothing reaches the database before :meth:`flush`: an order that is refused leaves nothing behind, and harms none of
    the others.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction that writes; it is the only one in the whole ledger.
    orders : sequence of Order
        All that will be entered, clean.
    remembered : Remembered
    clock : callable
        The time in UTC.
    """

    def __init__(
        self, connection: Connection, orders: Sequence[Order], remembered: Remembered, clock: Callable[[], datetime]
    ) -> None:
        self._connection = connection
        self._remembered = remembered
        self._clock = clock
        last, self._keys = rows.last_and_keyed(connection, [order.key for order in orders])
        self._seq, self._at, self._prev = last
        self._before, self._titles = self._read(orders)
        self._serial: int | None = None
        self._lines: list[Line] = []
        self._numbers: list[kept.Row] = []
        self._births: dict[str, tuple[str, str]] = {}
        #: Titles as they stand after what was entered.
        self.families = dict(self._before)

    def _read(self, orders: Sequence[Order]) -> tuple[dict[str, Family], dict[str, str]]:
        """The titles that orders are about, and to which of them each part belongs."""
        parts = {part for part in map(_known_part, orders) if part}
        guessed = {part: self._remembered.title_of(part) for part in parts}
        titles = {order.title for order in orders if order.title} | set(guessed.values())
        families = self._remembered.read_all(self._connection, titles - {""})
        found = {part: title for part, title in guessed.items() if title and _has(families[title], part)}
        found |= rows.titles_of_parts(self._connection, [part for part in parts if part not in found])
        more = set(found.values()) - families.keys()
        return families | self._remembered.read_all(self._connection, more), found

    def enter(self, order: Order) -> Outcome:
        """Work one order out.

        Parameters
        ----------
        order : Order

        Raises
        ------
        CallError
            If the order is no order: unknown title or part, a key used for something else.
        """
        written = self._keys.get(order.key)
        if written is not None:
            check_same(written, order)
            return answer(written, self._family(written.title), repeated=True)
        line = self._line(order)
        family = self._family(line.title)
        past: list[Line] = []
        if line.kind == "corrected":
            past = self._past(line.title)
            after, found = put_right(family, past, line)
        else:
            after, found = step(family, line)
        if any(one.severity == "stop" and not one.accepted for one in found):
            return Outcome(None, tuple(Finding(**one.as_dict()) for one in found))
        self._numbers += [row for said in as_said(line, past) for row in kept.number_rows(said)]
        self._take(line, after)
        return answer(line, after)

    def _line(self, order: Order) -> Line:
        """The line an order makes, in its place in the chain."""
        title = self._title(order)
        part = order.part or self._born(order.event)
        now = self._clock()
        stamp = now.astimezone(UTC).isoformat(timespec="microseconds")
        clock = stamp if behind(now, self._at) > CLOCK_S else ""
        line = Line(
            self._seq + 1, max(stamp, self._at), order.by, order.station, title, part, order.event.kind,
            plain_data(order.event), order.key, order.accepted, clock,
        )  # fmt: skip
        return linked(line, self._prev)

    def _take(self, line: Line, after: Family) -> None:
        self._seq, self._at, self._prev = line.seq, line.at, line.hash
        self._lines.append(line)
        self._keys[line.key] = line
        self.families[line.title] = after
        if line.part and line.part not in self._titles:  # born
            self._titles[line.part] = line.title
            part = after.parts.get(line.part)
            self._births[line.part] = (line.title, part.kind if part is not None else RUN)
            self._serial = serial_of(line.part)

    def _title(self, order: Order) -> str:
        """The title an order is about: as it says, or as its part or its part's parent does."""
        part = _known_part(order)
        if not part:
            if not order.title:
                raise CallError("this event is of a title; name its catalogue number.")
            return order.title
        if part not in self._titles:
            raise CallError(f"{part}: no part has this number here; look whether the card is of another works.")
        return self._titles[part]

    def _born(self, event: e.Event) -> str:
        """The number of a part that this event makes, or nothing."""
        kind = LACQUER if isinstance(event, e.LacquerCut) else ""
        if isinstance(event, e.Plated) and event.parent:
            kind = event.part_kind
        if isinstance(event, r.RunBegun):
            kind = RUN
        if kind not in (*KINDS, RUN):
            return ""
        if self._serial is None:
            self._serial = rows.last_serial(self._connection)
        return part_number(kind, self._serial + 1)

    def _family(self, title: str) -> Family:
        """A title as it stands within this batch."""
        if title not in self.families:
            family = self._remembered.read(self._connection, title)
            self._before[title] = self.families[title] = family
        return self.families[title]

    def _past(self, title: str) -> list[Line]:
        return [*rows.lines_of_title(self._connection, title), *(one for one in self._lines if one.title == title)]

    def flush(self) -> None:
        """Write everything that was entered."""
        if not self._lines:
            return
        pairs = [(self._before[title], after) for title, after in self.families.items()]
        changed = [(before, after) for before, after in pairs if after is not before]
        titles = [kept.title_row(after) for _, after in changed]
        parts = [row for before, after in changed for row in kept.part_rows(before, after)]
        parts += [
            kept.undone_row(part, kind)
            for part, (title, kind) in self._births.items()
            if not _has(self.families[title], part)
        ]
        kept.write_all(self._connection, self._lines, titles, parts, self._numbers)


def _has(family: Family, number: str) -> bool:
    return number in family.parts or number in family.yard.runs


def _known_part(order: Order) -> str:
    """The part an order starts from: its own, or the one that is grown on."""
    return order.part or (order.event.parent if isinstance(order.event, e.Plated) else "")
