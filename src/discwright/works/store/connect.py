"""Reaching a database: SQLite in a file or PostgreSQL by its address, with the locks and journals each needs."""

from __future__ import annotations

import math
import random
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, make_url
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, DBAPIError, DisconnectionError, OperationalError, SQLAlchemyError
from sqlalchemy.pool import ConnectionPoolEntry

from discwright.errors import LedgerError

#: File of a folder's own ledger.
FILE = "works.sqlite"
#: SQLite before this can damage a WAL file when two connections checkpoint at once (sqlite.org, "WAL-reset bug").
WAL_IS_SAFE = (3, 51, 3)
#: How long a writer waits for others, s.
PATIENCE_S = 30
#: How often it looks whether they are done, s.
_LOOK_S = 0.004
#: A connection that was not used for so long is asked before it is used again, s.
_RESTED_S = 1.0
#: All writers of a ledger take this lock in PostgreSQL; the number stands for nothing.
ADVISORY_LOCK = 7_316_145_208
#: In one journey to the server; what is read after it is read as it stands then.
_TURN = f"BEGIN ISOLATION LEVEL READ COMMITTED; SELECT pg_advisory_xact_lock({ADVISORY_LOCK})"
_SCHEMES = {"sqlite": "sqlite+pysqlite", "postgresql": "postgresql+psycopg", "postgres": "postgresql+psycopg"}


def read_address(address: str) -> URL:
    """The address of a ledger: a database URL, or a file, or a folder with its own ledger.

    Parameters
    ----------
    address : str
        ``sqlite:///works.sqlite``, ``postgresql://user@host/works``, or a path.

    Raises
    ------
    LedgerError
        If it is neither SQLite nor PostgreSQL.
    """
    if "://" not in address:
        path = Path(address)
        return URL.create("sqlite+pysqlite", database=str(path / FILE if path.is_dir() else path))
    try:
        url = make_url(address)
    except (ArgumentError, ValueError):
        raise LedgerError(
            f"{shown(address)}: is no address of a database; write postgresql://user@host/name."
        ) from None
    scheme = _SCHEMES.get(url.drivername, url.drivername)
    if scheme not in _SCHEMES.values():
        raise LedgerError(f"{url.drivername}: is no kind of ledger; use sqlite:///FILE or postgresql://user@host/name.")
    if scheme.startswith("sqlite") and not url.database:
        raise LedgerError("sqlite: the address names no file; write sqlite:///FILE.")
    return url.set(drivername=scheme)


def shown(address: str) -> str:
    """An address without its password, for sentences.

    Parameters
    ----------
    address : str
    """
    if "://" not in address:
        path = Path(address)
        return str(path / FILE if path.is_dir() else path)
    try:
        return make_url(address).render_as_string(hide_password=True)
    except (ArgumentError, ValueError):
        return address.split("://")[0] + "://…"


def make_engine(url: URL) -> Engine:
    """An engine whose transactions are ours: no driver begins one by itself.

    Parameters
    ----------
    url : sqlalchemy.engine.URL
        Of :func:`read_address`.
    """
    if url.get_backend_name() == "sqlite":
        engine = create_engine(
            url, connect_args={"timeout": PATIENCE_S, "isolation_level": None}, pool_size=20, max_overflow=40,
        )  # fmt: skip
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
        return engine
    engine = create_engine(
        url, pool_size=20, max_overflow=40, isolation_level="AUTOCOMMIT", connect_args={"connect_timeout": 10}
    )
    event.listen(engine, "begin", _begin_postgresql)
    event.listen(engine, "checkin", _note_use)
    event.listen(engine, "checkout", _ask_first)
    return engine


def _note_use(driver: Any, record: ConnectionPoolEntry) -> None:
    del driver
    record.info["used_at"] = time.monotonic()


def _ask_first(driver: Any, record: ConnectionPoolEntry, proxy: Any) -> None:
    """A connection that has rested is asked whether it still stands; a server may have been started anew meanwhile."""
    del proxy
    if time.monotonic() - record.info.get("used_at", math.inf) < _RESTED_S:
        return
    try:
        driver.execute("SELECT 1")
    except driver_errors() as trouble:
        raise DisconnectionError from trouble


def _begin_postgresql(connection: Connection) -> None:
    if not connection.get_execution_options().get("writes", False):
        connection.exec_driver_sql("BEGIN ISOLATION LEVEL REPEATABLE READ")
        return
    driver: Any = connection.connection.dbapi_connection
    try:
        driver.execute(_TURN, prepare=False)
    except driver_errors() as trouble:
        if driver.closed:
            connection.exec_driver_sql(_TURN)  # so that the pool too hears of it
        raise OperationalError(_TURN, None, trouble) from trouble


def driver_errors() -> type[Exception]:
    """What the driver of PostgreSQL raises."""
    import psycopg

    return psycopg.Error


def _prepare_sqlite(connection: sqlite3.Connection, record: Any) -> None:
    del record
    connection.execute("PRAGMA foreign_keys = ON")
    # Nothing acknowledged is lost in a power cut; and mmap makes the WAL fault worse.
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA mmap_size = 0")
    # A rollback journal is truncated, not deleted: its end is flushed, so it cannot come back and undo the last line.
    wanted = "WAL" if sqlite3.sqlite_version_info >= WAL_IS_SAFE else "TRUNCATE"
    present = str(connection.execute("PRAGMA journal_mode").fetchone()[0])
    if present.upper() != wanted:
        connection.execute(f"PRAGMA journal_mode = {wanted}")


def _begin_sqlite(connection: Connection) -> None:
    if connection.get_execution_options().get("writes", False):
        if not _got_turn(connection):
            connection.exec_driver_sql("BEGIN IMMEDIATE")
    else:
        connection.exec_driver_sql("BEGIN")


def _got_turn(connection: Connection) -> bool:
    """Begin to write as soon as no other process does.

    SQLite's own waiting sleeps longer and longer, up to 0.1 s, and a process that writes without a pause is always
    there first; asking every few milliseconds gives everybody a turn.
    """
    driver = connection.connection.dbapi_connection
    assert isinstance(driver, sqlite3.Connection)
    limit = time.monotonic() + PATIENCE_S
    driver.execute("PRAGMA busy_timeout = 0")
    try:
        while time.monotonic() < limit:
            try:
                driver.execute("BEGIN IMMEDIATE")
                return True
            except sqlite3.Error as trouble:
                if "locked" not in str(trouble):
                    return False
            time.sleep(random.uniform(0.5, 3) * _LOOK_S)
    finally:
        driver.execute(f"PRAGMA busy_timeout = {1000 * PATIENCE_S}")
    return False


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """A transaction that writes: one at a time over all processes, committed at the end or nothing.

    Parameters
    ----------
    engine : sqlalchemy.Engine

    Raises
    ------
    LedgerError
        If the database does not let it.
    """
    with told(engine), engine.connect().execution_options(writes=True) as connection, connection.begin():
        yield connection


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """A transaction that sees one moment of the ledger.

    Parameters
    ----------
    engine : sqlalchemy.Engine

    Raises
    ------
    LedgerError
        If the database does not let it.
    """
    with told(engine), engine.connect() as connection, connection.begin():
        yield connection


@contextmanager
def told(engine: Engine) -> Iterator[None]:
    """What a database refuses, as a sentence.

    Parameters
    ----------
    engine : sqlalchemy.Engine

    Raises
    ------
    LedgerError
    """
    try:
        yield
    except SQLAlchemyError as trouble:
        raise LedgerError(sentence(engine.url, trouble)) from trouble


def sentence(url: URL, trouble: SQLAlchemyError) -> str:
    """What is wrong with a database and what to do.

    Parameters
    ----------
    url : sqlalchemy.engine.URL
    trouble : sqlalchemy.exc.SQLAlchemyError
    """
    where = str(url.database) if url.get_backend_name() == "sqlite" else url.render_as_string(hide_password=True)
    words = str(trouble.orig if isinstance(trouble, DBAPIError) else trouble).strip()
    lowered = words.lower()
    for sign, what in _KNOWN.items():
        if sign in lowered:
            return f"{where}: {what}"
    if isinstance(trouble, OperationalError) and url.get_backend_name() == "postgresql":
        return (
            f"{where}: cannot be reached ({' '.join(words.split())[:200]}); see that the server runs and lets you in."
        )
    return f"{where}: the ledger cannot be used ({' '.join(words.split())[:200]}); bring back the last good backup."


_KNOWN = {
    "disk is full": "the disk is full, and nothing was written; make room and do it again.",
    "no space left": "the disk is full, and nothing was written; make room and do it again.",
    "could not extend file": "the server's disk is full, and nothing was written; make room and do it again.",
    "disk i/o error": "the disk does not take it, and nothing was written; see to the disk and do it again.",
    "is locked": "somebody else has been writing for too long; close what hangs and do it again.",
    "readonly": "cannot be written; see to the rights of the file and its folder.",
    "unable to open": "cannot be opened; see to the path and the rights of the folder.",
    "not a database": "is no ledger, or a broken one; bring back the last good backup.",
    "malformed": "is a broken ledger; bring back the last good backup.",
    "no such table": "holds no ledger; begin one with `discwright works init`.",
    "does not exist": "holds no ledger; begin one with `discwright works init`, after the database is made.",
    "password authentication failed": "the database does not let you in; see to name and password in its address.",
}
