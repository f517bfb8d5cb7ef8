"""The ledger: one line at a time is added, each with the hash of the one before; everything else only reads."""

from __future__ import annotations

import json
import unicodedata
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from sqlalchemy import Connection, Engine, Row, func, select
from sqlalchemy.exc import IntegrityError

from discwright.errors import CallError, LedgerError
from discwright.findings import Finding
from discwright.works import events as e
from discwright.works.chain import BEGIN, FIELDS, Line, linked
from discwright.works.family import Family
from discwright.works.history import fold_title, step
from discwright.works.parts import LACQUER, part_number, read_number
from discwright.works.rules import IMPOSSIBLE, finding
from discwright.works.store import kept, tables
from discwright.works.store.connect import make_engine, read_address, reading, shown, writing
from discwright.works.store.schema import NEWEST, check, upgrade

#: A clock that stands so little behind the last line is no news, s: stations do not agree to the millisecond.
_CLOCK_S = 2.0
#: The chain's own unique keys also stop a fork; a writer that meets one tries again.
_TRIES = 5
_MOST_LETTERS = 200
_PAGE = 2000


@dataclass(frozen=True)
class Order:
    """What somebody wants written.

    Attributes
    ----------
    event : Event
    by : str
    title : str
        Needed for events of a title and for a cut; otherwise found by the part.
    part : str
        Left out where a part is born.
    station : str
    key : str
        Idempotency key; made where none is given.
    accepted : str
        Why a finding against it is accepted.
    """

    event: e.Event
    by: str
    title: str = ""
    part: str = ""
    station: str = ""
    key: str = ""
    accepted: str = ""


@dataclass(frozen=True)
class Outcome:
    """What came of an order.

    Attributes
    ----------
    line : Line or None
        As written, now or the first time; None where a stop refused it and nothing was written.
    findings : tuple of Finding
        What speaks against it.
    repeated : bool
        It had been written before, under the same key.
    clock_behind_s : float
        How far the clock stands behind the last line, where that is worth telling.
    """

    line: Line | None
    findings: tuple[Finding, ...] = ()
    repeated: bool = False
    clock_behind_s: float = 0.0


def _now() -> datetime:
    return datetime.now(UTC)


class Ledger:
    """One ledger, open.

    Parameters
    ----------
    engine : sqlalchemy.Engine
    where : str
        Its address as people may see it.
    clock : callable
        The time in UTC.
    """

    def __init__(self, engine: Engine, where: str, clock: Callable[[], datetime] = _now) -> None:
        self.engine = engine
        self.where = where
        self.clock = clock
        self._families: dict[str, Family] = {}

    def close(self) -> None:
        """Let the database go."""
        self.engine.dispose()

    # writing -------------------------------------------------------------------------------------------

    def append(self, order: Order) -> Outcome:
        """Write one line, unless a stop speaks against it.

        Parameters
        ----------
        order : Order

        Returns
        -------
        Outcome

        Raises
        ------
        CallError
            If the order is no order: unknown title or part, a key used for something else.
        LedgerError
            If the database does not take it; then nothing was written.
        """
        order = _clean(order)
        for last in range(_TRIES, 0, -1):
            try:
                with writing(self.engine) as connection:
                    outcome, family = self._write(connection, order)
                break
            except LedgerError as trouble:
                if last == 1 or not isinstance(trouble.__cause__, IntegrityError):
                    raise
        if family is not None:
            self._families[family.title] = family
        return outcome

    def _write(self, connection: Connection, order: Order) -> tuple[Outcome, Family | None]:
        before = connection.execute(select(tables.lines).where(tables.lines.c.key == order.key)).first()
        if before is not None:
            return _repeated(line_of(before), order), None
        order = replace(order, title=_title_of(connection, order))
        seq, at, prev = _last(connection)
        now = self.clock()
        stamp = _stamp(now)
        line = Line(
            seq + 1, max(stamp, at), order.by, order.station, order.title,
            order.part or _born(connection, order.event), order.event.kind, e.data_of(order.event), order.key,
            order.accepted, stamp if _behind(now, at) > _CLOCK_S else "", prev,
        )  # fmt: skip
        line = linked(line, prev)
        family = self._family(connection, order.title)
        after, found = self._after(connection, family, line)
        if any(one.severity == "stop" and not one.accepted for one in found):
            return Outcome(None, found), None
        kept.insert_lines(connection, [line])
        kept.write_family(connection, family, after)
        kept.write_numbers(connection, line)
        return Outcome(line, found, clock_behind_s=_behind(now, at) if line.clock else 0.0), after

    def _after(self, connection: Connection, family: Family, line: Line) -> tuple[Family, tuple[Finding, ...]]:
        if not isinstance(line.event, e.Corrected):
            return step(family, line)
        past = [line_of(row) for row in connection.execute(_of_title(line.title))]
        return _put_right(family, past, line)

    def _family(self, connection: Connection, title: str) -> Family:
        """A title as it stands; remembered from the last time if nothing happened since."""
        known = self._families.get(title)
        where = tables.titles.c.catalogue == title
        seq = connection.execute(select(tables.titles.c.seq).where(where)).scalar()
        if seq is None:
            return Family(title)
        return known if known is not None and known.seq == seq else kept.read_family(connection, title)

    # reading -------------------------------------------------------------------------------------------

    def head(self) -> tuple[int, str]:
        """Number and hash of the last line; 0 and :data:`BEGIN` of an empty ledger."""
        with reading(self.engine) as connection:
            seq, _, prev = _last(connection)
        return seq, prev

    def family(self, title: str) -> Family:
        """A title and its parts as they stand.

        Parameters
        ----------
        title : str

        Raises
        ------
        CallError
            If it was not taken in.
        """
        with reading(self.engine) as connection:
            found = self._family(connection, title)
        if not found.seq:
            raise CallError(f"{_shown(title)}: is no title of this ledger; take it in with `discwright works add TITLE.toml`.")
        return found

    def family_of(self, part: str) -> Family:
        """The title a part belongs to, as it stands.

        Parameters
        ----------
        part : str
            Its number, as it was typed.

        Raises
        ------
        CallError
            If it is no part's number, or no part has it.
        """
        number = read_number(part)
        with reading(self.engine) as connection:
            title = connection.execute(select(tables.parts.c.title).where(tables.parts.c.id == number)).scalar()
            if title is None:
                raise CallError(f"{number}: no part has this number here; look whether the card is of another works.")
            return self._family(connection, title)

    def lines(self, *, title: str = "", part: str = "", after: int = 0) -> Iterator[Line]:
        """Lines in their order, read page by page.

        Parameters
        ----------
        title, part : str
            Only those of one title, or of one part.
        after : int
            Only those after this line.
        """
        query = select(tables.lines).order_by(tables.lines.c.seq).limit(_PAGE)
        if title:
            query = query.where(tables.lines.c.title == title)
        if part:
            query = query.where(tables.lines.c.part == part)
        while True:
            with reading(self.engine) as connection:
                rows = connection.execute(query.where(tables.lines.c.seq > after)).all()
            yield from (line_of(row) for row in rows)
            if len(rows) < _PAGE:
                return
            after = rows[-1].seq

    def line(self, seq: int) -> Line | None:
        """One line, or None.

        Parameters
        ----------
        seq : int
        """
        with reading(self.engine) as connection:
            row = connection.execute(select(tables.lines).where(tables.lines.c.seq == seq)).first()
        return None if row is None else line_of(row)

    def setting(self, name: str, default: str = "") -> str:
        """What the works has set.

        Parameters
        ----------
        name, default : str
        """
        with reading(self.engine) as connection:
            where = tables.settings.c.name == name
            found = connection.execute(select(tables.settings.c.value).where(where)).scalar()
        return default if found is None else str(found)

    def set(self, name: str, value: str) -> None:
        """Set something for the whole works.

        Parameters
        ----------
        name, value : str
        """
        with writing(self.engine) as connection:
            connection.execute(tables.settings.delete().where(tables.settings.c.name == name))
            connection.execute(tables.settings.insert().values(name=name, value=value))


def open_ledger(address: str, *, clock: Callable[[], datetime] = _now) -> Ledger:
    """Open a ledger, and bring an older one to the present tables.

    Parameters
    ----------
    address : str
        As :func:`discwright.works.store.connect.read_address` reads it.
    clock : callable
        The time in UTC; tests bring their own.

    Raises
    ------
    LedgerError
        If there is none, or it cannot be used.
    """
    url = read_address(address)
    where = shown(address)
    if url.get_backend_name() == "sqlite" and not _is_file(str(url.database)):
        raise LedgerError(f"{url.database}: there is no ledger; begin one with `discwright works init`.")
    engine = make_engine(url)
    found = check(engine, where)
    if found is None:
        raise LedgerError(f"{where}: holds no ledger; begin one with `discwright works init`.")
    if found != NEWEST:
        upgrade(engine)
    return Ledger(engine, where, clock)


def begin_ledger(address: str, *, clock: Callable[[], datetime] = _now) -> Ledger:
    """Begin a ledger where there is none.

    Parameters
    ----------
    address : str
    clock : callable

    Raises
    ------
    LedgerError
        If there is one already, or the place cannot be used.
    """
    engine = make_engine(read_address(address))
    where = shown(address)
    if check(engine, where) is not None:
        raise LedgerError(f"{where}: is a ledger already; go on with it, or name another place.")
    upgrade(engine)
    return Ledger(engine, where, clock)


def _is_file(path: str) -> bool:
    from pathlib import Path

    return Path(path).is_file()


def line_of(row: Row[tuple[object, ...]]) -> Line:
    """A row of the table as a line.

    Parameters
    ----------
    row : sqlalchemy.Row
    """
    values = {name: getattr(row, name) for name in FIELDS}
    return Line(**values | {"data": json.loads(values["data"])})


def _of_title(title: str):  # type: ignore[no-untyped-def]
    return select(tables.lines).where(tables.lines.c.title == title).order_by(tables.lines.c.seq)


def _last(connection: Connection) -> tuple[int, str, str]:
    row = connection.execute(
        select(tables.lines.c.seq, tables.lines.c.at, tables.lines.c.hash).order_by(tables.lines.c.seq.desc()).limit(1)
    ).first()
    return (0, "", BEGIN) if row is None else (row.seq, row.at, row.hash)


def _title_of(connection: Connection, order: Order) -> str:
    """The title an order is about: as it says, or as its part or its part's parent does."""
    known = order.part or (order.event.parent if isinstance(order.event, e.Plated) else "")
    if not known:
        if not order.title:
            raise CallError("this event is of a title; name its catalogue number.")
        return order.title
    title = connection.execute(select(tables.parts.c.title).where(tables.parts.c.id == known)).scalar()
    if title is None:
        raise CallError(f"{known}: no part has this number here; look whether the card is of another works.")
    return str(title)


def _born(connection: Connection, event: e.Event) -> str:
    """The number of a part that this event makes, or nothing."""
    kind = LACQUER if isinstance(event, e.LacquerCut) else ""
    if isinstance(event, e.Plated) and event.parent:
        kind = event.part_kind
    if kind not in ("lacquer", "master", "mother", "stamper"):
        return ""
    last = connection.execute(select(func.max(tables.parts.c.serial))).scalar()
    return part_number(kind, int(last or 0) + 1)


def _put_right(family: Family, past: list[Line], line: Line) -> tuple[Family, tuple[Finding, ...]]:
    """A correction: everything folded again, and refused where that makes later lines impossible."""
    event = line.event
    assert isinstance(event, e.Corrected)
    wrong = next((one for one in past if one.seq == event.seq), None)
    if wrong is None:
        return family, (finding(IMPOSSIBLE, "stop", line, f"{line.title} has no line {event.seq}; look at its history again."),)
    if event.instead is not None:
        e.read_event(wrong.kind, event.instead)
    after = fold_title([*past, line], Family(family.title))
    bad = _stops(after) - _stops(family)
    if bad:
        first = min(bad)
        why = f"Line {first[0]} rests on line {event.seq} and would be {first[1]} without it; correct the later one first."
        return family, (finding(IMPOSSIBLE, "stop", line, why),)
    return after, ()


def _stops(family: Family) -> set[tuple[int, str]]:
    return {
        (int(one.get("seq", 0)), str(one["code"]))
        for one in family.findings
        if one["severity"] == "stop" and not one.get("accepted")
    }


def _repeated(line: Line, order: Order) -> Outcome:
    same = line.kind == order.event.kind and line.data == e.data_of(order.event) and line.by == order.by
    if not same or (order.part and order.part != line.part) or (order.title and order.title != line.title):
        raise CallError(f"the key {order.key[:40]} stands at line {line.seq} for something else; use a new one.")
    return Outcome(line, repeated=True)


def _stamp(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


def _behind(now: datetime, last: str) -> float:
    """How far the clock stands behind the last line, s."""
    return (datetime.fromisoformat(last) - now) / timedelta(seconds=1) if last else 0.0


def _clean(order: Order) -> Order:
    """Names without stray blanks; refused where they are no names."""
    if not order.by.strip():
        raise CallError("nobody is named; say who did it with --by NAME.")
    part = read_number(order.part) if order.part else ""
    texts = {name: " ".join(getattr(order, name).split()) for name in ("by", "title", "station", "key", "accepted")}
    for name, text in texts.items():
        if len(text) > _MOST_LETTERS or any(unicodedata.category(letter) in ("Cc", "Cs") for letter in text):
            raise CallError(f"{name}: is no text of at most {_MOST_LETTERS} letters; write a shorter one.")
    return replace(order, part=part, **texts | {"key": texts["key"] or uuid.uuid4().hex})


def _shown(text: str) -> str:
    return "".join(letter if letter.isprintable() else "?" for letter in text[:60])
