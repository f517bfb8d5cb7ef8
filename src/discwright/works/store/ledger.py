"""The ledger: one line at a time is added, each with the hash of the one before; everything else only reads."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Engine, select

from discwright.errors import CallError, LedgerError, SettingsError
from discwright.works.chain import Line
from discwright.works.family import Family
from discwright.works.history import FOLDING
from discwright.works.parts import read_number
from discwright.works.store import rows, tables
from discwright.works.store.connect import make_engine, read_address, reading, shown, writing
from discwright.works.store.orders import Order, Outcome, clean
from discwright.works.store.refold import refold_into
from discwright.works.store.remembered import Remembered
from discwright.works.store.rows import line_of
from discwright.works.store.schema import NEWEST, check, refuse_strange, upgrade
from discwright.works.store.writer import Writer

__all__ = ["Ledger", "Order", "Outcome", "begin_ledger", "line_of", "open_ledger"]

_PAGE = 2000
#: Setting that says how the kept tables were folded.
_FOLDING = "folding"


def _now() -> datetime:
    return datetime.now(UTC)


class Ledger:
    """One ledger, open; any number of threads may use it.

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
        self._remembered = Remembered()
        self._writer = Writer(engine, self._remembered, lambda: self.clock())

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
            The same however often the order is sent under the same key.

        Raises
        ------
        CallError
            If the order is no order: unknown title or part, a key used for something else.
        LedgerError
            If the database does not take it; then nothing was written.
        """
        return self._writer.write(clean(order))

    def append_together(self, orders: Sequence[Order]) -> tuple[Outcome, ...]:
        """Write several lines in one transaction: all of them, or none.

        Parameters
        ----------
        orders : sequence of Order

        Returns
        -------
        tuple of Outcome
            One for each order. Where a stop speaks against any of them nothing was written, and every outcome is
            without its line but those that had been written before.

        Raises
        ------
        CallError
            If one is no order.
        LedgerError
            If the database does not take them; then nothing was written.
        """
        return self._writer.write_together([clean(order) for order in orders])

    def reserve(self, name: str, count: int, first: int = 1) -> int:
        """Set numbers aside that nobody else gets, now or later; what is not used is lost.

        Parameters
        ----------
        name : str
            Of the series.
        count : int
        first : int
            Where the series begins, or goes on if it stands below.

        Returns
        -------
        int
            The first of them; the others follow it.
        """
        setting = f"series:{name}"
        with writing(self.engine) as connection:
            where = tables.settings.c.name == setting
            found = connection.execute(select(tables.settings.c.value).where(where)).scalar()
            begin = max(first, int(found) if found is not None else first)
            connection.execute(tables.settings.delete().where(where))
            connection.execute(tables.settings.insert().values(name=setting, value=str(begin + count)))
        return begin

    # reading -------------------------------------------------------------------------------------------

    def head(self) -> tuple[int, str]:
        """Number and hash of the last line; 0 and :data:`BEGIN` of an empty ledger."""
        with reading(self.engine) as connection:
            seq, _, prev = rows.last_line(connection)
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
            found = self._remembered.read(connection, title)
        if not found.seq:
            raise CallError(
                f"{_shown(title)}: is no title of this ledger; take it in with `discwright works add TITLE.toml`."
            )
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
            title = rows.titles_of_parts(connection, [number]).get(number)
            if title is None:
                raise CallError(f"{number}: no part has this number here; look whether the card is of another works.")
            return self._remembered.read(connection, title)

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
                page = connection.execute(query.where(tables.lines.c.seq > after)).all()
            yield from (line_of(row) for row in page)
            if len(page) < _PAGE:
                return
            after = page[-1].seq

    def line(self, seq: int) -> Line | None:
        """One line, or None.

        Parameters
        ----------
        seq : int
        """
        with reading(self.engine) as connection:
            return rows.line_at(connection, seq)

    def keyed(self, key: str) -> Line | None:
        """The line that was written under a key, or None.

        Parameters
        ----------
        key : str
        """
        with reading(self.engine) as connection:
            return rows.last_and_keyed(connection, [key])[1].get(key)

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
    if url.get_backend_name() == "sqlite" and not Path(str(url.database)).is_file():
        raise LedgerError(f"{url.database}: there is no ledger; begin one with `discwright works init`.")
    engine = make_engine(url)
    with _let_go(engine):
        found = check(engine, where)
        if found is None:
            raise LedgerError(f"{where}: holds no ledger; begin one with `discwright works init`.")
        if found != NEWEST:
            upgrade(engine)
    ledger = Ledger(engine, where, clock)
    fold_anew(ledger)
    return ledger


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
    with _let_go(engine):
        if check(engine, where) is not None:
            raise LedgerError(f"{where}: is a ledger already; go on with it, or name another place.")
        refuse_strange(engine, where)
        upgrade(engine)
    ledger = Ledger(engine, where, clock)
    fold_anew(ledger)
    return ledger


@contextmanager
def _let_go(engine: Engine) -> Iterator[None]:
    """No connection stays behind where a ledger cannot be opened."""
    try:
        yield
    except BaseException:
        engine.dispose()
        raise


def fold_anew(ledger: Ledger) -> None:
    """Work out again what is kept beside the lines, where another version folded them.

    Lines that tell nothing stop nobody from opening the ledger: it stays as it was, and `verify` says what is wrong.

    Parameters
    ----------
    ledger : Ledger

    Raises
    ------
    LedgerError
    """
    if ledger.setting(_FOLDING) == str(FOLDING):
        return
    with suppress(CallError, SettingsError, ValueError, KeyError, TypeError), writing(ledger.engine) as connection:
        refold_into(connection, lambda _words, _done: None)
        connection.execute(tables.settings.delete().where(tables.settings.c.name == _FOLDING))
        connection.execute(tables.settings.insert().values(name=_FOLDING, value=str(FOLDING)))


def _shown(text: str) -> str:
    return "".join(letter if letter.isprintable() else "?" for letter in text[:60])
