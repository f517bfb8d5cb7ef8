"""What concerns people: may somebody do this, whose hand is it, and who did what from where."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from discwright.acts.works import Hand
from discwright.errors import CallError
from discwright.works.chain import Line
from discwright.works.people import (
    ACCEPT,
    ACTS,
    KEEPER,
    MAY_RECORD,
    RECENT,
    Person,
    clean_name,
    may,
    may_correct,
    may_record,
    who_may,
)
from discwright.works.store import people as kept
from discwright.works.store import tokens as kept_tokens
from discwright.works.store.access_log import Access, read_log
from discwright.works.store.ledger import Ledger
from discwright.works.store.people import By, Known
from discwright.works.store.tokens import Token


class NotAllowedError(CallError):
    """Somebody who is known may not do this."""


def check_may(person: Person, act: str) -> None:
    """Refuse what a person may not do.

    Parameters
    ----------
    person : Person
    act : str
        One of :data:`discwright.works.people.MAY`.

    Raises
    ------
    NotAllowedError
    """
    if not may(person, act):
        raise NotAllowedError(f"{_roles(person)} may not {ACTS.get(act, 'do this')}; {_ask(act)}.")


def check_may_record(person: Person, kind: str) -> None:
    """Refuse an event that a person, or a machine with its token, may not record.

    Parameters
    ----------
    person : Person
    kind : str
        Name of the event.

    Raises
    ------
    NotAllowedError
    """
    if not may_record(person, kind):
        raise NotAllowedError(f"{_roles(person)} may not record {_known(kind)}; {_ask(kind)}.")


def check_may_correct(ledger: Ledger, person: Person, seq: int) -> None:
    """Refuse a correction that is not a person's to make.

    Parameters
    ----------
    ledger : Ledger
    person : Person
    seq : int
        The line that was wrong.

    Raises
    ------
    NotAllowedError
        If the line is another's, old, or of a kind she may not record.
    CallError
        If there is no such line.
    """
    line = _line(ledger, seq)
    if may_correct(person, line, ledger.clock()):
        return
    check_may_record(person, "corrected")
    check_may_record(person, line.kind)
    hours = round(RECENT.total_seconds() / 3600)
    raise NotAllowedError(
        f"line {seq} is by {line.by} of {line.at[:16]}, and what is another's, or older than {hours} h, only a keeper "
        "corrects; ask one."
    )


def hand_of(person: Person, *, said_by: str = "", station: str = "", key: str = "", accepted: str = "") -> Hand:
    """Whose hand records: of whoever is signed in, whatever a form says.

    Parameters
    ----------
    person : Person
    said_by : str
        Who it is, as told; heard only in one-person mode.
    station, key : str
    accepted : str
        Why a stop is accepted.

    Raises
    ------
    NotAllowedError
        If she may not accept a stop.
    CallError
        If nobody is named.
    """
    if accepted.strip():
        check_may(person, ACCEPT)
    by = (said_by.strip() or person.name) if person.one_person else person.name
    if not by:
        raise CallError("nobody is named, and every line says who it was; say who you are at the top of the page.")
    return Hand(clean_name(by) if person.one_person else by, station, key, accepted)


def _line(ledger: Ledger, seq: int) -> Line:
    line = next(ledger.lines(after=seq - 1), None) if seq > 0 else None
    if line is None or line.seq != seq:
        raise CallError(f"the ledger has no line {seq}; look at the history again.")
    return line


def _roles(person: Person) -> str:
    if person.token:
        return f"the token {person.name}"
    return f"the {' and '.join(person.roles)}" if person.roles else "nobody who is not signed in"


def _known(kind: str) -> str:
    return kind if kind in MAY_RECORD else "what the ledger does not know"


def _ask(act: str) -> str:
    roles = who_may(act)
    return f"ask {'a keeper' if roles == (KEEPER,) else ' or '.join(f'a {role}' for role in roles)}".replace(
        "a engineer", "an engineer"
    )


# People, tokens and the log, as the command line has them ------------------------------------------------


@dataclass(frozen=True)
class NewToken:
    """A token that was made, with what nobody can see again.

    Attributes
    ----------
    token : Token
    secret : str
    """

    token: Token
    secret: str


def people(ledger: Ledger) -> tuple[Known, ...]:
    """Everybody the works knows, those that are closed at the end."""
    return kept.all_people(ledger)


def add_person(
    ledger: Ledger, name: str, roles: Iterable[str], password: str, by: By, *, must_change: bool = False
) -> Known:
    """Make a person, or open one again.

    Parameters
    ----------
    ledger : Ledger
    name : str
    roles : iterable of str
    password : str
    by : By
    must_change : bool
        The password is changed at the first sign-in.

    Raises
    ------
    CallError
    """
    return kept.add_person(ledger, name, roles, password, by=by, must_change=must_change)


def close_person(ledger: Ledger, name: str, by: By) -> Known:
    """Close a person, by a name, on behalf of whoever `by` is.

    Parameters
    ----------
    ledger : Ledger
    name : str
    by : By

    Raises
    ------
    CallError
    """
    return kept.close_person(ledger, name, by=by)


def change_roles(ledger: Ledger, name: str, roles: Iterable[str], by: By) -> Known:
    """Give a person other roles.

    Parameters
    ----------
    ledger : Ledger
    name : str
    roles : iterable of str
    by : By

    Raises
    ------
    CallError
    """
    return kept.set_roles(ledger, name, roles, by=by)


def set_password(ledger: Ledger, name: str, password: str, by: By, *, must_change: bool = False) -> Known:
    """Give a person another password.

    Parameters
    ----------
    ledger : Ledger
    name, password : str
    by : By
    must_change : bool
        It is changed at the next sign-in.

    Raises
    ------
    CallError
    """
    return kept.set_password(ledger, name, password, by=by, must_change=must_change)


def tokens(ledger: Ledger) -> tuple[Token, ...]:
    """Every token there ever was, newest first."""
    return kept_tokens.all_tokens(ledger)


def add_token(ledger: Ledger, name: str, scopes: Iterable[str], days: int, by: By) -> NewToken:
    """Make a token for a machine.

    Parameters
    ----------
    ledger : Ledger
    name : str
    scopes : iterable of str
    days : int
    by : By

    Raises
    ------
    CallError
    """
    return NewToken(*kept_tokens.make_token(ledger, name, scopes, days, by=by))


def revoke_token(ledger: Ledger, name: str, by: By) -> Token:
    """A token is good for nothing from now on.

    Parameters
    ----------
    ledger : Ledger
    name : str
        Its name or number.
    by : By

    Raises
    ------
    CallError
    """
    return kept_tokens.revoke_token(ledger, name, by=by)


def access(ledger: Ledger, *, before: int | None = None, most: int = 100) -> tuple[Access, ...]:
    """Rows of the access log, newest first.

    Parameters
    ----------
    ledger : Ledger
    before : int or None
        Only rows before this one.
    most : int
    """
    return read_log(ledger, before=before, most=most)
