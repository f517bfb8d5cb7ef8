"""Backups brought back: into an empty place on either database, or for practice, to know that they are good."""

from __future__ import annotations

import sqlite3
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select

from discwright.errors import DiscwrightError, LedgerError
from discwright.works.chain import Walk
from discwright.works.store import rows, tables
from discwright.works.store.backup import note
from discwright.works.store.connect import reading
from discwright.works.store.copying import WORKED_OUT, copy_file, copy_tables, sqlite_trouble
from discwright.works.store.filling import filling
from discwright.works.store.ledger import Ledger, open_ledger
from discwright.works.store.refold import Tell, refold_into
from discwright.works.store.verify import readable, verify

_PAGE = 2000
#: Nobody is signed in any more in a ledger that was brought back.
LEFT_BEHIND = ("sessions", "failures")


@dataclass(frozen=True)
class Restored:
    """A ledger that was brought back.

    Attributes
    ----------
    file : str
        The backup.
    lines : int
    head : str
        Hash of the last line.
    findings : int
        Warnings and stops in its histories that nobody has accepted.
    took_s : float
    """

    file: str
    lines: int
    head: str
    findings: int
    took_s: float

    def as_dict(self) -> dict[str, Any]:
        """The result as plain JSON values."""
        return asdict(self) | {"took_s": round(self.took_s, 3)}


@dataclass(frozen=True)
class Drill:
    """A backup that was restored for practice.

    Attributes
    ----------
    at : str
        When, ISO 8601 in UTC.
    file : str
    lines : int
    head : str
    took_s : float
        From the backup to a verified ledger.
    wrong : str
        Why the backup is not good; empty where it is.
    """

    at: str
    file: str
    lines: int
    head: str
    took_s: float
    wrong: str = ""

    @property
    def good(self) -> bool:
        """The backup can be relied on."""
        return not self.wrong

    def as_dict(self) -> dict[str, Any]:
        """The drill as plain JSON values."""
        return asdict(self) | {"took_s": round(self.took_s, 3), "good": self.good}


def restore(file: Path, address: str, *, tell: Tell = lambda _words, _done: None) -> Restored:
    """Bring a backup back.

    Parameters
    ----------
    file : pathlib.Path
        Never changed, even if an older program made it.
    address : str
        Where no ledger is yet; SQLite or PostgreSQL.
    tell : callable
        Told what is done, and how much of it from 0 to 1.

    Raises
    ------
    LedgerError
        If the backup is broken or the place is taken; the place is then as it was before.
    """
    begin = time.monotonic()
    with opened_copy(file, _share(tell, 0.0, 0.1)) as backup, filling(address, begun=False) as connection:
        with reading(backup.engine) as source:
            without = (*WORKED_OUT, *LEFT_BEHIND)
            copy_tables(source, connection, _share(tell, 0.1, 0.3), without=without)
        walk = walked(connection, file, _share(tell, 0.3, 0.5))
        try:
            found = refold_into(connection, _share(tell, 0.5, 1.0))
        except (DiscwrightError, ValueError, KeyError, TypeError, AttributeError, AssertionError) as trouble:
            raise LedgerError(f"{file}: its lines tell nothing that can be; use another backup.") from trouble
        tell("done", 1.0)
    return Restored(str(file), walk.seq, walk.prev, len(found), time.monotonic() - begin)


@contextmanager
def opened_copy(file: Path, tell: Tell) -> Iterator[Ledger]:
    """A backup, opened by way of a copy that may be upgraded.

    Parameters
    ----------
    file : pathlib.Path
    tell : callable

    Raises
    ------
    LedgerError
        If it is no backup.
    """
    if not file.is_file():
        raise LedgerError(f"{file}: there is no such backup; look for its name again.")
    with tempfile.TemporaryDirectory(prefix="discwright-") as folder:
        path = Path(folder) / "backup.sqlite"
        try:
            source = sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None)
            try:
                copy_file(source, path, tell)
            finally:
                source.close()
        except sqlite3.Error as trouble:
            raise sqlite_trouble(file, trouble) from trouble
        try:
            ledger = open_ledger(f"sqlite:///{path}")
        except LedgerError as trouble:
            raise LedgerError(str(trouble).replace(str(path), str(file))) from trouble
        try:
            yield ledger
        finally:
            ledger.close()


def walked(connection: Connection, file: Path, tell: Tell) -> Walk:
    """Hash every line again.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    file : pathlib.Path
        For the sentence.
    tell : callable

    Raises
    ------
    LedgerError
        If the chain does not hold.
    """
    walk = Walk()
    last = max(1, rows.last_line(connection)[0])
    while page := rows.page(connection, walk.seq, _PAGE):
        for row in page:
            for why in walk.step(readable(row)):
                raise LedgerError(f"{file}: {why}; use another backup.")
        tell("hashing every line again", walk.seq / last)
    return walk


def drill(ledger: Ledger | None, file: Path, *, tell: Tell = lambda _words, _done: None) -> Drill:
    """Restore a backup into a temporary place, verify it, and keep in the ledger how that went.

    Parameters
    ----------
    ledger : Ledger or None
        The one that the backup is of; without it nothing is noted.
    file : pathlib.Path
    tell : callable
        Told what is done, and how much of it from 0 to 1.

    Raises
    ------
    LedgerError
        If there is no such file, or the ledger cannot be read.
    """
    if not file.is_file():
        raise LedgerError(f"{file}: there is no such backup; look for its name again.")
    begin = time.monotonic()
    now = ledger.clock() if ledger is not None else datetime.now(UTC)
    at = now.astimezone(UTC).isoformat(timespec="seconds")
    try:
        lines, head, wrong = _practised(file, tell)
    except LedgerError as trouble:
        lines, head, wrong = 0, "", str(trouble)
    if not wrong and ledger is not None and lines:
        own = ledger.line(lines)
        if own is None or own.hash != head:
            wrong = (
                f"{file}: is of another ledger, or the history here was rewritten since; compare both with `verify`."
            )
    done = Drill(at, str(file), lines, head, time.monotonic() - begin, wrong)
    if ledger is not None:
        note(ledger, tables.drills, asdict(done))
    return done


def _practised(file: Path, tell: Tell) -> tuple[int, str, str]:
    with tempfile.TemporaryDirectory(prefix="discwright-") as folder:
        place = f"sqlite:///{folder}/works.sqlite"
        restore(file, place, tell=_share(tell, 0.0, 0.5))
        brought = open_ledger(place)
        try:
            found = verify(brought, tell=_share(tell, 0.5, 1.0))
        finally:
            brought.close()
    wrong = f"{file}: {found.breaks[0].why}; use another backup." if found.breaks else ""
    return found.lines, found.head, wrong


def last_drill(ledger: Ledger, *, good: bool = True) -> Drill | None:
    """The drill that was made last, as the ledger knows of it.

    Parameters
    ----------
    ledger : Ledger
    good : bool
        The last that went well; otherwise the last of all.
    """
    query = select(tables.drills).order_by(tables.drills.c.id.desc()).limit(1)
    if good:
        query = query.where(tables.drills.c.wrong == "")
    with reading(ledger.engine) as connection:
        row = connection.execute(query).mappings().first()
    return None if row is None else Drill(**{name: row[name] for name in Drill.__dataclass_fields__})


def _share(tell: Tell, begin: float, end: float) -> Tell:
    return lambda words, done: tell(words, begin + (end - begin) * done)
