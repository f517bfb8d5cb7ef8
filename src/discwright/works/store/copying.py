"""Every table of one ledger into another, whatever database each is on."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection
from pathlib import Path

from sqlalchemy import Connection, Engine, Integer, MetaData, Table, func, insert, select, text

from discwright.errors import LedgerError
from discwright.works.store.refold import Tell

#: What is worked out from the lines, and can be again.
WORKED_OUT = ("titles", "parts", "numbers")
_VERSION = "alembic_version"
_ROWS = 2000
#: Pages of SQLite between two looks at how far it is.
_PAGES = 4000


def copy_tables(source: Connection, target: Connection, tell: Tell, *, without: Collection[str] = ()) -> None:
    """Copy the rows of every table, as both databases name them.

    Parameters
    ----------
    source, target : sqlalchemy.Connection
        At the same migration; the target in a transaction that writes, its tables empty.
    tell : callable
    without : collection of str
        Tables to leave out.
    """
    there, here = MetaData(), MetaData()
    there.reflect(source)
    here.reflect(target)
    wanted = [table for table in here.sorted_tables if table.name not in (_VERSION, *without)]
    counts = {one.name: source.execute(select(func.count()).select_from(one)).scalar() or 0 for one in wanted}
    whole, done = max(1, sum(counts.values())), 0
    for table in wanted:
        found = source.execute(select(there.tables[table.name]), execution_options={"yield_per": _ROWS})
        for rows in found.mappings().partitions():
            target.execute(insert(table), [dict(row) for row in rows])
            done += len(rows)
            tell(f"copying {table.name}", done / whole)
        if target.dialect.name == "postgresql":
            _count_on(target, table)


def _count_on(connection: Connection, table: Table) -> None:
    """PostgreSQL gives numbers by itself; it goes on after the greatest that was copied."""
    keys = [column for column in table.primary_key if isinstance(column.type, Integer)]
    if len(keys) != 1:
        return
    find = text("SELECT pg_get_serial_sequence(:table, :column)")
    sequence = connection.execute(find, {"table": f'"{table.name}"', "column": keys[0].name}).scalar()
    last = connection.execute(select(func.max(keys[0]))).scalar()
    if sequence is not None and last is not None:
        connection.execute(text("SELECT setval(:sequence, :last)"), {"sequence": sequence, "last": last})


def copy_file(source: sqlite3.Connection, path: Path, tell: Tell) -> None:
    """Copy a whole SQLite database, by its own means and while others use it.

    Parameters
    ----------
    source : sqlite3.Connection
        Held at one moment for as long as it takes: nobody's change makes it begin again.
    path : pathlib.Path
    tell : callable
    """
    target = sqlite3.connect(path)
    try:
        source.execute("BEGIN")
        source.execute("SELECT count(*) FROM sqlite_master").fetchone()
        source.backup(
            target, pages=_PAGES, progress=lambda _code, left, whole: tell("copying", 1 - left / max(1, whole))
        )
    finally:
        if source.in_transaction:
            source.execute("ROLLBACK")
        target.close()


def as_one_file(path: Path) -> None:
    """Leave a closed SQLite database as one file that can be read anywhere, even where nothing can be written.

    Parameters
    ----------
    path : pathlib.Path
    """
    connection = sqlite3.connect(path)
    try:
        connection.execute("PRAGMA journal_mode = DELETE")
    finally:
        connection.close()


def copy_open_file(engine: Engine, path: Path, tell: Tell) -> None:
    """Copy the SQLite database of an engine.

    Parameters
    ----------
    engine : sqlalchemy.Engine
    path : pathlib.Path
    tell : callable
    """
    connection = engine.raw_connection()
    try:
        driver = connection.driver_connection
        assert isinstance(driver, sqlite3.Connection)
        copy_file(driver, path, tell)
    finally:
        connection.close()


def sqlite_trouble(path: Path, trouble: sqlite3.Error) -> LedgerError:
    """What SQLite refuses, as a sentence.

    Parameters
    ----------
    path : pathlib.Path
    trouble : sqlite3.Error
    """
    words = str(trouble).lower()
    if "full" in words:
        return LedgerError(f"{path}: the disk is full, and nothing was kept; make room and do it again.")
    if "not a database" in words or "malformed" in words:
        return LedgerError(f"{path}: is no ledger, or a broken one; use another backup.")
    return LedgerError(f"{path}: cannot be used ({trouble}); see to the disk and its rights.")
