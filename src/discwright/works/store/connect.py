"""Reaching a database: SQLite in a file or PostgreSQL by its address, with the locks and journals each needs."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, make_url, text
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, DBAPIError, OperationalError, SQLAlchemyError

from discwright.errors import LedgerError

#: File of a folder's own ledger.
FILE = "works.sqlite"
#: SQLite before this can damage a WAL file when two connections checkpoint at once (sqlite.org, "WAL-reset bug").
WAL_IS_SAFE = (3, 51, 3)
#: How long a writer waits for others, s.
PATIENCE_S = 30
#: All writers of a ledger take this lock in PostgreSQL; the number stands for nothing.
ADVISORY_LOCK = 7_316_145_208
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
        raise LedgerError(f"{shown(address)}: is no address of a database; write postgresql://user@host/name.") from None
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
        return address
    try:
        return make_url(address).render_as_string(hide_password=True)
    except (ArgumentError, ValueError):
        return address.split("://")[0] + "://…"


def make_engine(url: URL) -> Engine:
    """An engine whose transactions are ours: SQLite's driver begins none by itself.

    Parameters
    ----------
    url : sqlalchemy.engine.URL
        Of :func:`read_address`.
    """
    if url.get_backend_name() == "sqlite":
        engine = create_engine(url, connect_args={"timeout": PATIENCE_S, "isolation_level": None}, pool_size=20)
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
        return engine
    return create_engine(
        url, pool_pre_ping=True, pool_size=20, max_overflow=40, isolation_level="READ COMMITTED",
        connect_args={"connect_timeout": 10},
    )  # fmt: skip


def _prepare_sqlite(connection: sqlite3.Connection, record: Any) -> None:
    del record
    connection.execute("PRAGMA foreign_keys = ON")
    # Nothing acknowledged is lost in a power cut; and mmap makes the WAL fault worse.
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA mmap_size = 0")
    wanted = "WAL" if sqlite3.sqlite_version_info >= WAL_IS_SAFE else "DELETE"
    present = str(connection.execute("PRAGMA journal_mode").fetchone()[0])
    if present.upper() != wanted:
        connection.execute(f"PRAGMA journal_mode = {wanted}")


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


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
        if engine.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": ADVISORY_LOCK})
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
    with told(engine), engine.connect() as connection:
        if engine.dialect.name == "postgresql":
            connection = connection.execution_options(isolation_level="REPEATABLE READ")
        with connection.begin():
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
        return f"{where}: cannot be reached ({' '.join(words.split())[:200]}); see that the server runs and lets you in."
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
