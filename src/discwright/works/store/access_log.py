"""The access log: who came in, failed to, or did what concerns everybody. It is only ever added to."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import UTC
from typing import Any

from sqlalchemy import Connection, select

from discwright.errors import CallError
from discwright.works.store.connect import reading, writing
from discwright.works.store.ledger import Ledger
from discwright.works.store.people_tables import access_log

#: What stands in the log, and the words for it.
ACCESS = {
    "signed_in": "signed in",
    "sign_in_failed": "failed to sign in",
    "signed_out": "signed out",
    "sessions_ended": "ended all sessions",
    "person_added": "added a person",
    "person_opened_again": "opened a person again",
    "person_closed": "closed a person",
    "roles_changed": "changed roles",
    "password_changed": "changed a password",
    "token_made": "made a token",
    "token_revoked": "revoked a token",
    "setting_changed": "changed a setting",
    "exported": "exported the ledger",
    "imported": "imported a ledger",
    "backed_up": "backed the ledger up",
    "restored": "restored a backup",
}
_MOST_LETTERS = 200
_MOST_PLACE = 80
#: Rows that are read at once.
_PAGE = 1000


@dataclass(frozen=True)
class Access:
    """One row of the access log.

    Attributes
    ----------
    seq : int
    at : str
        ISO 8601 in UTC.
    who : str
    what : str
        One of :data:`ACCESS`.
    about : str
        Whom or what it concerned.
    place : str
        Address it came from, or the command line.
    """

    seq: int
    at: str
    who: str
    what: str
    about: str
    place: str

    @property
    def words(self) -> str:
        """What it was, for people."""
        return ACCESS.get(self.what, self.what)

    def as_dict(self) -> dict[str, Any]:
        """The row as plain JSON values."""
        return asdict(self)


def log_access(ledger: Ledger, who: str, what: str, about: str = "", where: str = "") -> None:
    """Add a row to the access log.

    Parameters
    ----------
    ledger : Ledger
    who : str
    what : str
        One of :data:`ACCESS`.
    about : str
        Whom or what it concerned.
    where : str
        Address it came from, or the command line.

    Raises
    ------
    CallError
        If the log knows no such thing.
    LedgerError
    """
    with writing(ledger.engine) as connection:
        note(connection, now_of(ledger), who, what, about, where)


def note(connection: Connection, at: str, who: str, what: str, about: str = "", where: str = "") -> None:
    """The same within a transaction, so that it stands or falls with what it tells of.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction that writes.
    at : str
        Of :func:`now_of`.
    who, what, about, where : str
        As in :func:`log_access`.

    Raises
    ------
    CallError
    """
    if what not in ACCESS:
        raise CallError(f"{what}: the access log knows no such thing; it knows {', '.join(ACCESS)}.")
    connection.execute(
        access_log.insert().values(
            at=at, who=_plain(who), what=what, about=_plain(about), place=_plain(where)[:_MOST_PLACE]
        )
    )


def read_log(ledger: Ledger, *, before: int | None = None, most: int = 100) -> tuple[Access, ...]:
    """Rows of the access log, newest first.

    Parameters
    ----------
    ledger : Ledger
    before : int or None
        Only rows before this one.
    most : int

    Raises
    ------
    LedgerError
    """
    query = select(access_log).order_by(access_log.c.seq.desc()).limit(max(1, min(most, _PAGE)))
    if before is not None:
        query = query.where(access_log.c.seq < before)
    with reading(ledger.engine) as connection:
        return tuple(Access(*row) for row in connection.execute(query))


def now_of(ledger: Ledger) -> str:
    """The ledger's time as it is kept: ISO 8601 in UTC.

    Parameters
    ----------
    ledger : Ledger
    """
    return ledger.clock().astimezone(UTC).isoformat(timespec="microseconds")


def _plain(text: str) -> str:
    """Nothing that could pass for another row, or be seen otherwise than it is."""
    return "".join(letter if letter.isprintable() else "?" for letter in text[:_MOST_LETTERS])
