"""A place for a whole ledger that comes in at once: filled to the end, or as it was before."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from sqlalchemy import Connection, func, inspect, select

from discwright.errors import LedgerError
from discwright.works.store import tables
from discwright.works.store.connect import make_engine, read_address, shown, writing
from discwright.works.store.schema import check, refuse_strange, upgrade_in

#: What SQLite lays beside a file.
_BESIDE = ("-journal", "-wal", "-shm")


@contextmanager
def filling(address: str, *, begun: bool) -> Iterator[Connection]:
    """A transaction in a ledger without lines; what was done counts only if it ends without trouble.

    A new SQLite file is written beside its place and renamed at the end.

    Parameters
    ----------
    address : str
    begun : bool
        A ledger that was begun and has no lines will do too.

    Yields
    ------
    sqlalchemy.Connection
        With the newest tables.

    Raises
    ------
    LedgerError
        If there is a ledger already, or the place cannot be used.
    """
    url = read_address(address)
    if url.get_backend_name() == "sqlite" and not Path(str(url.database)).exists():
        with beside(Path(str(url.database))) as part, _filled(str(part), begun=begun) as connection:
            yield connection
    else:
        with _filled(address, begun=begun) as connection:
            yield connection


@contextmanager
def _filled(address: str, *, begun: bool) -> Iterator[Connection]:
    engine = make_engine(read_address(address))
    try:
        found = check(engine, shown(address))
        if found is None:
            refuse_strange(engine, shown(address))
        with writing(engine) as connection:
            refuse_full(connection, shown(address), begun=begun and found is not None)
            upgrade_in(connection)
            yield connection
    finally:
        engine.dispose()


def refuse_full(connection: Connection, where: str, *, begun: bool) -> None:
    """Only what is empty is filled.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    where : str
        For the sentence.
    begun : bool
        There may be a ledger, but no line in it.

    Raises
    ------
    LedgerError
    """
    if not inspect(connection).has_table("alembic_version"):
        return
    if not begun:
        raise LedgerError(f"{where}: is a ledger already, and nothing is written over one; name an empty place.")
    lines = connection.execute(select(func.count()).select_from(tables.lines)).scalar()
    if lines:
        raise LedgerError(
            f"{where}: has {lines} lines already, and nothing is written over them; name an empty ledger."
        )


@contextmanager
def beside(path: Path) -> Iterator[Path]:
    """A file that is written beside its place and renamed at the end; nothing is left of it after trouble.

    Parameters
    ----------
    path : pathlib.Path
        Where nothing is yet.

    Yields
    ------
    pathlib.Path
        `path` with ``.part`` at its end.

    Raises
    ------
    LedgerError
        If there is something, or it cannot be written.
    """
    if path.exists():
        raise LedgerError(f"{path}: is there already, and nothing is written over it; name another file.")
    part = path.with_name(path.name + ".part")
    try:
        clear(part)
        yield part
        if path.exists():
            raise LedgerError(
                f"{path}: has come into being meanwhile, and nothing is written over it; name another file."
            )
        os.replace(part, path)
        flush_folder(path.parent)
    except OSError as trouble:
        why = trouble.strerror or str(trouble)
        raise LedgerError(
            f"{path}: cannot be written ({why}); see to the disk and the rights of its folder."
        ) from trouble
    finally:
        clear(part)


def clear(path: Path) -> None:
    """Take a file away, and what SQLite lays beside it.

    Parameters
    ----------
    path : pathlib.Path
    """
    for one in (path, *(path.with_name(path.name + end) for end in _BESIDE)):
        with suppress(FileNotFoundError):
            one.unlink()


def flush_folder(folder: Path) -> None:
    """The names in a folder survive a power cut.

    Parameters
    ----------
    folder : pathlib.Path
    """
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
