"""Tokens of machines: named, good for a few things, expiring, revocable; shown once, and only their hash is kept."""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import Row, select

from discwright.errors import CallError, LedgerError
from discwright.works.people import Person, clean_name, clean_scopes, same_name
from discwright.works.store.access_log import note, now_of
from discwright.works.store.connect import reading, writing
from discwright.works.store.ledger import Ledger
from discwright.works.store.people import By, refuse_person_name
from discwright.works.store.people_tables import tokens

MOST_DAYS = 730
_TOKEN = re.compile(r"dw_([0-9a-f]{12})_([A-Za-z0-9_-]{43})")
_NOTED_EVERY = timedelta(hours=1)


@dataclass(frozen=True)
class Token:
    """A token as it is kept.

    Attributes
    ----------
    id, name : str
        The number is no secret.
    scopes : tuple of str
    made_at, made_by, expires_at : str
    revoked_at, used_at : str
        Empty if it never was; the second true to the hour.
    """

    id: str
    name: str
    scopes: tuple[str, ...]
    made_at: str
    made_by: str
    expires_at: str
    revoked_at: str
    used_at: str

    def state(self, now: datetime) -> str:
        """``"good"``, ``"expired"`` or ``"revoked"``.

        Parameters
        ----------
        now : datetime
        """
        if self.revoked_at:
            return "revoked"
        return "good" if now < datetime.fromisoformat(self.expires_at) else "expired"

    def as_dict(self, now: datetime) -> dict[str, Any]:
        """The token as plain JSON values, without its secret.

        Parameters
        ----------
        now : datetime
        """
        return {
            "id": self.id, "name": self.name, "scopes": list(self.scopes), "state": self.state(now),
            "made_at": self.made_at, "made_by": self.made_by, "expires_at": self.expires_at,
            "revoked_at": self.revoked_at, "used_at": self.used_at,
        }  # fmt: skip


def make_token(ledger: Ledger, name: str, scopes: Iterable[str], days: int, *, by: By) -> tuple[Token, str]:
    """Make a token for a machine.

    Parameters
    ----------
    ledger : Ledger
    name : str
        What the ledger will say; no person and no other token has it.
    scopes : iterable of str
        What it is good for: ``read`` and names of events.
    days : int
        After which it is good for nothing.
    by : By

    Returns
    -------
    token : Token
    secret : str
        What the machine sends; nobody can see it again.

    Raises
    ------
    CallError
        If the name is taken, a scope is unknown, or the days are out of range.
    """
    name, wanted = clean_name(name), clean_scopes(scopes)
    if not 1 <= days <= MOST_DAYS:
        raise CallError(f"a token is good for 1 to {MOST_DAYS} days; write a number between.")
    id_, secret, at = secrets.token_hex(6), secrets.token_urlsafe(32), now_of(ledger)
    expires = (ledger.clock().astimezone(UTC) + timedelta(days=days)).isoformat(timespec="microseconds")
    row = {
        "id": id_, "name": name, "folded": same_name(name), "hash": _hash(secret), "scopes": ",".join(wanted),
        "made_at": at, "made_by": by.name[:80], "expires_at": expires, "revoked_at": "", "used_at": "",
    }  # fmt: skip
    with writing(ledger.engine) as connection:
        refuse_person_name(connection, name)
        if connection.execute(select(tokens.c.id).where(tokens.c.folded == row["folded"])).first() is not None:
            raise CallError(f"{name}: a token had this name already; choose another one.")
        connection.execute(tokens.insert().values(**row))
        note(connection, at, by.name, "token_made", f"{name}: {', '.join(wanted)}", by.where)
        made = connection.execute(select(tokens).where(tokens.c.id == id_)).one()
    return _token(made), f"dw_{id_}_{secret}"


def all_tokens(ledger: Ledger) -> tuple[Token, ...]:
    """Every token there ever was, newest first.

    Parameters
    ----------
    ledger : Ledger
    """
    with reading(ledger.engine) as connection:
        rows = connection.execute(select(tokens).order_by(tokens.c.made_at.desc(), tokens.c.id))
        return tuple(_token(row) for row in rows)


def revoke_token(ledger: Ledger, name: str, *, by: By) -> Token:
    """A token is good for nothing from now on.

    Parameters
    ----------
    ledger : Ledger
    name : str
        Its name, or its number.
    by : By

    Raises
    ------
    CallError
        If there is none.
    """
    at = now_of(ledger)
    either = (tokens.c.folded == same_name(name)) | (tokens.c.id == name)
    with writing(ledger.engine) as connection:
        row = connection.execute(select(tokens).where(either)).first()
        if row is None:
            raise CallError("there is no such token; see `discwright works tokens list`.")
        if not row.revoked_at:
            connection.execute(tokens.update().where(tokens.c.id == row.id).values(revoked_at=at))
            note(connection, at, by.name, "token_revoked", row.name, by.where)
        return _token(connection.execute(select(tokens).where(tokens.c.id == row.id)).one())


def person_of_token(ledger: Ledger, text: str) -> Person | None:
    """The machine a token stands for; None if it is none, expired or revoked.

    Parameters
    ----------
    ledger : Ledger
    text : str
        As it was sent.

    Raises
    ------
    LedgerError
    """
    parts = _TOKEN.fullmatch(text)
    if parts is None:
        return None
    with reading(ledger.engine) as connection:
        row = connection.execute(select(tokens).where(tokens.c.id == parts[1])).first()
    if row is None or not hmac.compare_digest(row.hash, _hash(parts[2])):
        return None
    token, now = _token(row), ledger.clock()
    if token.state(now) != "good":
        return None
    if not token.used_at or now - datetime.fromisoformat(token.used_at) >= _NOTED_EVERY:
        with suppress(LedgerError), writing(ledger.engine) as connection:
            connection.execute(tokens.update().where(tokens.c.id == token.id).values(used_at=now_of(ledger)))
    return Person(token.name, token=token.id, scopes=frozenset(token.scopes))


def _token(row: Row[Any]) -> Token:
    return Token(
        row.id, row.name, tuple(row.scopes.split(",")), row.made_at, row.made_by, row.expires_at, row.revoked_at,
        row.used_at,
    )  # fmt: skip


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode("ascii", "replace")).hexdigest()
