"""Backups: a whole ledger in one SQLite file, made while it is used, and opened and verified before it counts."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import UTC
from pathlib import Path
from typing import Any

from sqlalchemy import select

from discwright import __version__
from discwright.errors import LedgerError
from discwright.works.store import tables
from discwright.works.store.connect import make_engine, read_address, reading, told, writing
from discwright.works.store.copying import as_one_file, copy_open_file, copy_tables, sqlite_trouble
from discwright.works.store.filling import beside
from discwright.works.store.ledger import Ledger, open_ledger
from discwright.works.store.refold import Tell
from discwright.works.store.schema import upgrade
from discwright.works.store.verify import verify

#: Share of the work that is copying; the rest is verifying.
_COPYING = 0.2


@dataclass(frozen=True)
class Backup:
    """A backup that was made.

    Attributes
    ----------
    file : str
    at : str
        When, ISO 8601 in UTC.
    version : str
        Of the program.
    lines : int
    head : str
        Hash of its last line.
    size_bytes : int
    took_s : float
    """

    file: str
    at: str
    version: str
    lines: int
    head: str
    size_bytes: int
    took_s: float

    def as_dict(self) -> dict[str, Any]:
        """The backup as plain JSON values."""
        return asdict(self) | {"took_s": round(self.took_s, 3)}


def back_up(ledger: Ledger, path: Path, *, tell: Tell = lambda _words, _done: None) -> Backup:
    """Back a ledger up.

    Parameters
    ----------
    ledger : Ledger
        Others may go on writing.
    path : pathlib.Path
        File to make; nothing is there yet.
    tell : callable
        Told what is done, and how much of it from 0 to 1.

    Raises
    ------
    LedgerError
        If the file is there, cannot be written, or what was copied does not hold; nothing is kept then.
    """
    begin = time.monotonic()
    at = ledger.clock().astimezone(UTC).isoformat(timespec="seconds")
    with beside(path) as part:
        _copy(ledger, part, lambda words, done: tell(words, _COPYING * done))
        made = _checked(part, path, at, begin, lambda words, done: tell(words, _COPYING + (1 - _COPYING) * done))
    note(ledger, tables.backups, made.as_dict())
    return made


def note(ledger: Ledger, table: Any, about: Mapping[str, Any]) -> None:
    """Keep in a ledger that it was backed up or restored for practice.

    Parameters
    ----------
    ledger : Ledger
    table : sqlalchemy.Table
    about : mapping
    """
    with writing(ledger.engine) as connection:
        connection.execute(table.insert().values(**about))


def _copy(ledger: Ledger, part: Path, tell: Tell) -> None:
    if ledger.engine.dialect.name == "sqlite":
        try:
            copy_open_file(ledger.engine, part, tell)
        except sqlite3.Error as trouble:
            raise sqlite_trouble(part, trouble) from trouble
        return
    engine = make_engine(read_address(str(part)))
    try:
        upgrade(engine)
        with told(engine), reading(ledger.engine) as source, writing(engine) as target:
            copy_tables(source, target, tell)
    finally:
        engine.dispose()


def _checked(part: Path, path: Path, at: str, begin: float, tell: Tell) -> Backup:
    """Open what was copied, verify it, and let it say what it is."""
    copy = open_ledger(f"sqlite:///{part}")
    try:
        found = verify(copy, tell=tell)
        if not found.whole:
            raise LedgerError(
                f"{path}: was not kept, for the ledger itself does not hold ({found.breaks[0].why}); look at it with "
                "`discwright works verify`."
            )
        made = Backup(
            str(path), at, __version__, found.lines, found.head, part.stat().st_size, time.monotonic() - begin
        )
        note(copy, tables.backups, made.as_dict())
    finally:
        copy.close()
    as_one_file(part)
    return made


def last_backup(ledger: Ledger) -> Backup | None:
    """The backup that was made last, as the ledger knows of it.

    Parameters
    ----------
    ledger : Ledger
    """
    query = select(tables.backups).order_by(tables.backups.c.id.desc()).limit(1)
    with reading(ledger.engine) as connection:
        row = connection.execute(query).mappings().first()
    return None if row is None else Backup(**{name: row[name] for name in Backup.__dataclass_fields__})
