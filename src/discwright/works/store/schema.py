"""Making and upgrading the tables: Alembic's migrations, run by the program itself."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, Engine, inspect, text
from sqlalchemy.exc import SQLAlchemyError

from discwright.errors import LedgerError
from discwright.works.store.connect import sentence, told, writing


def revision(connection: Connection) -> str | None:
    """The migration a database is at; None where it holds no ledger.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    """
    if not inspect(connection).has_table("alembic_version"):
        return None
    found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return None if found is None else str(found)


def known_revisions() -> tuple[str, ...]:
    """Every migration this program has, oldest first."""
    folder = Path(__file__).with_name("migrations") / "versions"
    return tuple(sorted(path.name.split("_")[0] for path in folder.glob("[0-9]*.py")))


#: The migration this program was written with.
NEWEST = known_revisions()[-1]


def check(engine: Engine, where: str) -> str | None:
    """Where a database stands.

    Parameters
    ----------
    engine : sqlalchemy.Engine
    where : str
        For sentences.

    Returns
    -------
    str or None
        Its migration; None where there is no ledger.

    Raises
    ------
    LedgerError
        If it is broken, out of reach, or newer than this program.
    """
    try:
        with engine.connect() as connection:
            found = revision(connection)
    except SQLAlchemyError as trouble:
        raise LedgerError(sentence(engine.url, trouble)) from trouble
    if found is not None and found not in known_revisions():
        raise LedgerError(
            f"{where}: was written by a newer discwright (its tables are at {found}, this one knows {NEWEST}); use "
            "that one. Nothing was changed."
        )
    return found


def refuse_strange(engine: Engine, where: str) -> None:
    """A database with tables of something else is no place for a ledger.

    Parameters
    ----------
    engine : sqlalchemy.Engine
        Of a database that holds no ledger.
    where : str
        For the sentence.

    Raises
    ------
    LedgerError
    """
    with told(engine), engine.connect() as connection:
        tables = inspect(connection).get_table_names()
    if tables:
        raise LedgerError(f"{where}: holds something else (a table {tables[0]}); name an empty place for the ledger.")


def upgrade(engine: Engine) -> None:
    """Bring a database to the newest tables; all or nothing.

    Parameters
    ----------
    engine : sqlalchemy.Engine

    Raises
    ------
    LedgerError
    """
    with writing(engine) as connection:
        upgrade_in(connection)


def upgrade_in(connection: Connection, to: str = "head") -> None:
    """Bring a database to the newest tables, inside a transaction that writes.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    to : str
        Another migration, for tests of upgrades.
    """
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).with_name("migrations")).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, to)
