"""Sessions: signing in and out. A session's number is random and known to its browser alone; its hash is kept here."""

from __future__ import annotations

import hashlib
import secrets
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, Row, or_, select

from discwright.errors import CallError, LedgerError
from discwright.works.people import Person, same_name
from discwright.works.store import passwords, throttle
from discwright.works.store.access_log import note, now_of
from discwright.works.store.connect import reading, writing
from discwright.works.store.ledger import Ledger
from discwright.works.store.people import By, Known, end_sessions, known_of
from discwright.works.store.people_tables import people, sessions

#: A session nobody used for so long has ended, and one that is so old has ended in any case: a shift.
IDLE, OLDEST = timedelta(hours=2), timedelta(hours=12)
#: Bits of a session's number.
BITS = 256
#: A session is noted as used no more often than this.
_NOTED_EVERY = timedelta(minutes=1)
#: The same for an unknown name, a wrong password and a person who was closed.
WRONG = "name and password do not fit together; type both again, or ask a keeper for a new password."


class WrongPasswordError(CallError):
    """Name and password do not fit together."""


@dataclass(frozen=True)
class SignedIn:
    """What came of signing in.

    Attributes
    ----------
    number : str
        Of the session; it goes to the browser and is kept nowhere.
    person : Person
    """

    number: str
    person: Person


def sign_in(ledger: Ledger, name: str, password: str, where: str, *, before: str = "") -> SignedIn:
    """Begin a session.

    Parameters
    ----------
    ledger : Ledger
    name, password : str
        As typed.
    where : str
        Address it comes from.
    before : str
        Number of the session the browser had, which ends.

    Raises
    ------
    SlowedError
        If it comes too soon after failures; then nothing was looked at.
    WrongPasswordError
        If name and password do not fit.
    LedgerError
    """
    row = _prove(ledger, name, password, where)
    number = secrets.token_urlsafe(BITS // 8)
    renewed = {"password": passwords.hash_password(password)} if passwords.is_old(row.password) else {}
    at = now_of(ledger)
    with writing(ledger.engine) as connection:
        # Between looking and this she may have been closed or given another password.
        same = people.c.id == row.id, people.c.password == row.password, people.c.closed_at == ""
        if connection.execute(select(people.c.id).where(*same)).first() is None:
            raise WrongPasswordError(WRONG)
        if renewed:
            connection.execute(people.update().where(people.c.id == row.id).values(**renewed))
        throttle.forgive(connection, row.name, where, at)
        if before:
            connection.execute(sessions.delete().where(sessions.c.hash == _hash(before)))
        _tidy(connection, at)
        begun = {"hash": _hash(number), "person": row.id, "made_at": at, "seen_at": at, "place": where[:80]}
        connection.execute(sessions.insert().values(**begun))
        note(connection, at, row.name, "signed_in", "", where)
    return SignedIn(number, _person(known_of(row)))


def change_password(ledger: Ledger, name: str, password: str, new: str, where: str) -> SignedIn:
    """A person changes her own password; all her sessions end, and a new one begins.

    Parameters
    ----------
    ledger : Ledger
    name : str
    password, new : str
        The present one, and the one to come.
    where : str

    Raises
    ------
    SlowedError, WrongPasswordError
        As :func:`sign_in`.
    CallError
        If the new one is weak, or the same.
    """
    row = _prove(ledger, name, password, where)
    if new == password:
        raise CallError("this is the password you have; choose another one.")
    passwords.check_new(new, row.name)
    kept, number, at = passwords.hash_password(new), secrets.token_urlsafe(BITS // 8), now_of(ledger)
    with writing(ledger.engine) as connection:
        same = people.c.id == row.id, people.c.password == row.password, people.c.closed_at == ""
        if not connection.execute(people.update().where(*same).values(password=kept, must_change=False)).rowcount:
            raise WrongPasswordError(WRONG)
        throttle.forgive(connection, row.name, where, at)
        end_sessions(connection, row.id)
        begun = {"hash": _hash(number), "person": row.id, "made_at": at, "seen_at": at, "place": where[:80]}
        connection.execute(sessions.insert().values(**begun))
        note(connection, at, row.name, "password_changed", row.name, where)
    return SignedIn(number, Person(row.name, known_of(row).roles))


def _prove(ledger: Ledger, name: str, password: str, where: str) -> Row[Any]:
    """The row of a person whose password this is. Every way through takes one look-up and one hash."""
    at = now_of(ledger)
    with writing(ledger.engine) as connection:
        row = connection.execute(select(people).where(people.c.folded == same_name(name))).first()
        throttle.begin(connection, name if row is None else row.name, where, at)
    nobodys = passwords.nobodys_hash()  # made at the first attempt, whoever makes it
    good = passwords.fits(nobodys if row is None else row.password, password)
    if row is not None and good and not row.closed_at:
        return row
    with writing(ledger.engine) as connection:
        # What was typed for a name may have been a password: only names that are known are kept.
        note(connection, at, "unknown name" if row is None else row.name, "sign_in_failed", "", where)
        throttle.tidy(connection, at)
    raise WrongPasswordError(WRONG)


def person_of_session(ledger: Ledger, number: str) -> Person | None:
    """Who is signed in with a session; None if it has ended or never was.

    Parameters
    ----------
    ledger : Ledger
    number : str

    Raises
    ------
    LedgerError
    """
    if not 20 <= len(number) <= 100:
        return None
    now = ledger.clock()
    joined = select(people, sessions.c.seen_at).join(sessions, sessions.c.person == people.c.id)
    with reading(ledger.engine) as connection:
        row = connection.execute(joined.where(sessions.c.hash == _hash(number), *_alive(now))).first()
    if row is None:
        return None
    if now - datetime.fromisoformat(row.seen_at) >= _NOTED_EVERY:
        _note_use(ledger, number)
    return _person(known_of(row))


def sign_out(ledger: Ledger, number: str, where: str) -> None:
    """End a session.

    Parameters
    ----------
    ledger : Ledger
    number : str
    where : str
    """
    at = now_of(ledger)
    with writing(ledger.engine) as connection:
        whose = select(people.c.name).join(sessions, sessions.c.person == people.c.id)
        name = connection.execute(whose.where(sessions.c.hash == _hash(number))).scalar()
        if name is not None:
            connection.execute(sessions.delete().where(sessions.c.hash == _hash(number)))
            note(connection, at, name, "signed_out", "", where)


def sign_out_everywhere(ledger: Ledger, name: str, *, by: By) -> None:
    """End every session of a person.

    Parameters
    ----------
    ledger : Ledger
    name : str
    by : By
    """
    at = now_of(ledger)
    with writing(ledger.engine) as connection:
        id_ = connection.execute(select(people.c.id).where(people.c.folded == same_name(name))).scalar()
        if id_ is not None:
            end_sessions(connection, id_)
            note(connection, at, by.name, "sessions_ended", name, by.where)


def _person(known: Known) -> Person:
    return Person(known.name, known.roles, must_change=known.must_change)


def _alive(now: datetime) -> tuple[Any, ...]:
    idle, oldest = ((now - span).isoformat(timespec="microseconds") for span in (IDLE, OLDEST))
    return sessions.c.seen_at > idle, sessions.c.made_at > oldest, people.c.closed_at == ""


def _note_use(ledger: Ledger, number: str) -> None:
    """A disk that is full keeps nobody from looking; the session then ends when its time is up."""
    with suppress(LedgerError), writing(ledger.engine) as connection:
        where = sessions.c.hash == _hash(number)
        connection.execute(sessions.update().where(where).values(seen_at=now_of(ledger)))


def _tidy(connection: Connection, at: str) -> None:
    now = datetime.fromisoformat(at)
    idle, oldest = ((now - span).isoformat(timespec="microseconds") for span in (IDLE, OLDEST))
    connection.execute(sessions.delete().where(or_(sessions.c.seen_at <= idle, sessions.c.made_at <= oldest)))


def _hash(number: str) -> str:
    return hashlib.sha256(number.encode("utf-8", "replace")).hexdigest()
