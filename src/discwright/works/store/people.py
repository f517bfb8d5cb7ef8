"""People of a works: made, given roles and passwords, closed; never deleted, for their names stand in the ledger."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, select

from discwright.errors import CallError
from discwright.works.people import KEEPER, clean_name, clean_roles, same_name
from discwright.works.store import passwords
from discwright.works.store.access_log import note, now_of
from discwright.works.store.connect import reading, writing
from discwright.works.store.ledger import Ledger
from discwright.works.store.people_tables import people, sessions, tokens


@dataclass(frozen=True)
class Known:
    """Somebody the works knows.

    Attributes
    ----------
    id : int
    name : str
    roles : tuple of str
    must_change : bool
        Somebody else chose the password.
    made_at, closed_at : str
        ISO 8601 in UTC; the second empty while they can sign in.
    """

    id: int
    name: str
    roles: tuple[str, ...]
    must_change: bool
    made_at: str
    closed_at: str

    def as_dict(self) -> dict[str, Any]:
        """The person as plain JSON values."""
        return {
            "name": self.name, "roles": list(self.roles), "must_change": self.must_change, "made_at": self.made_at,
            "closed_at": self.closed_at,
        }  # fmt: skip


@dataclass(frozen=True)
class By:
    """Who does something to people, and where from: for the access log.

    Attributes
    ----------
    name, where : str
    """

    name: str
    where: str = ""


def any_people(ledger: Ledger) -> bool:
    """Anybody was ever made: from then on nobody comes in without signing in.

    Parameters
    ----------
    ledger : Ledger
    """
    with reading(ledger.engine) as connection:
        return connection.execute(select(people.c.id).limit(1)).first() is not None


def all_people(ledger: Ledger) -> tuple[Known, ...]:
    """Everybody, those that are closed at the end.

    Parameters
    ----------
    ledger : Ledger
    """
    with reading(ledger.engine) as connection:
        found = [known_of(row) for row in connection.execute(select(people))]
    return tuple(sorted(found, key=lambda one: (bool(one.closed_at), same_name(one.name))))


def find(ledger: Ledger, name: str) -> Known:
    """A person by name; capitals and blanks make no difference.

    Parameters
    ----------
    ledger : Ledger
    name : str

    Raises
    ------
    CallError
        If nobody has it.
    """
    with reading(ledger.engine) as connection:
        return known_of(_row(connection, name))


def add_person(
    ledger: Ledger, name: str, roles: Iterable[str], password: str, *, by: By, must_change: bool = False
) -> Known:
    """Make a person, or open one again that was closed.

    Parameters
    ----------
    ledger : Ledger
    name : str
        No other person and no token has it.
    roles : iterable of str
    password : str
    by : By
    must_change : bool
        The password is changed at the first sign-in.

    Raises
    ------
    CallError
        If the name is taken, a role is unknown, the password is weak, or the first person is no keeper.
    """
    name, wanted = clean_name(name), clean_roles(roles)
    passwords.check_new(password, name)
    row = {"roles": ",".join(wanted), "password": passwords.hash_password(password), "must_change": must_change}
    at = now_of(ledger)
    with writing(ledger.engine) as connection:
        first = connection.execute(select(people.c.id).limit(1)).first() is None
        if first and KEEPER not in wanted:
            raise CallError("the first person keeps the others; give the role keeper.")
        before = connection.execute(select(people).where(people.c.folded == same_name(name))).first()
        if before is not None and not before.closed_at:
            raise CallError(f"{before.name} is here already; choose another name, or change her roles or password.")
        refuse_token_name(connection, name)
        if before is None:
            new = row | {"name": name, "folded": same_name(name), "made_at": at, "closed_at": ""}
            connection.execute(people.insert().values(**new))
        else:
            connection.execute(people.update().where(people.c.id == before.id).values(**row, closed_at=""))
        shown = name if before is None else before.name
        what = "person_added" if before is None else "person_opened_again"
        note(connection, at, by.name, what, f"{shown}: {', '.join(wanted)}", by.where)
        return known_of(_row(connection, name))


def close_person(ledger: Ledger, name: str, *, by: By) -> Known:
    """Close a person: her sessions end, and she cannot sign in any more.

    Parameters
    ----------
    ledger : Ledger
    name : str
    by : By

    Raises
    ------
    CallError
        If nobody has the name, or she is the last keeper.
    """
    at = now_of(ledger)
    with writing(ledger.engine) as connection:
        row = _open_row(connection, name)
        _keep_a_keeper(connection, row, ())
        connection.execute(people.update().where(people.c.id == row.id).values(closed_at=at))
        end_sessions(connection, row.id)
        note(connection, at, by.name, "person_closed", row.name, by.where)
        return known_of(_row(connection, name))


def set_roles(ledger: Ledger, name: str, roles: Iterable[str], *, by: By) -> Known:
    """Give a person other roles; her sessions end, so that nothing goes on under the old ones.

    Parameters
    ----------
    ledger : Ledger
    name : str
    roles : iterable of str
    by : By

    Raises
    ------
    CallError
        If nobody has the name, a role is unknown, or nobody would be left to keep people.
    """
    wanted, at = clean_roles(roles), now_of(ledger)
    with writing(ledger.engine) as connection:
        row = _open_row(connection, name)
        _keep_a_keeper(connection, row, wanted)
        connection.execute(people.update().where(people.c.id == row.id).values(roles=",".join(wanted)))
        end_sessions(connection, row.id)
        about = f"{row.name}: {row.roles.replace(',', ', ')} → {', '.join(wanted)}"
        note(connection, at, by.name, "roles_changed", about, by.where)
        return known_of(_row(connection, name))


def set_password(ledger: Ledger, name: str, password: str, *, by: By, must_change: bool = False) -> Known:
    """Give a person another password; her sessions end.

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
        If nobody has the name, or the password is weak.
    """
    passwords.check_new(password, name)
    kept, at = passwords.hash_password(password), now_of(ledger)
    with writing(ledger.engine) as connection:
        row = _open_row(connection, name)
        change = people.update().where(people.c.id == row.id)
        connection.execute(change.values(password=kept, must_change=must_change))
        end_sessions(connection, row.id)
        note(connection, at, by.name, "password_changed", row.name, by.where)
        return known_of(_row(connection, name))


# Within a transaction ----------------------------------------------------------------------------------


def known_of(row: Row[Any]) -> Known:
    """A row of the table as a person.

    Parameters
    ----------
    row : sqlalchemy.Row
    """
    return Known(row.id, row.name, tuple(row.roles.split(",")), bool(row.must_change), row.made_at, row.closed_at)


def end_sessions(connection: Connection, person: int) -> None:
    """End every session of a person.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction that writes.
    person : int
    """
    connection.execute(sessions.delete().where(sessions.c.person == person))


def refuse_person_name(connection: Connection, name: str) -> None:
    """No machine is called like a person, so that the ledger says who it was.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    name : str

    Raises
    ------
    CallError
    """
    taken = connection.execute(select(people.c.name).where(people.c.folded == same_name(name))).scalar()
    if taken is not None:
        raise CallError(f"{taken} is a person; call the token after the machine that uses it.")


def refuse_token_name(connection: Connection, name: str) -> None:
    """No person is called like a machine.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    name : str

    Raises
    ------
    CallError
    """
    taken = connection.execute(select(tokens.c.name).where(tokens.c.folded == same_name(name))).scalar()
    if taken is not None:
        raise CallError(f"{taken} is the token of a machine; choose another name.")


def _row(connection: Connection, name: str) -> Row[Any]:
    row = connection.execute(select(people).where(people.c.folded == same_name(name))).first()
    if row is None:
        raise CallError(f"{_shown(name)}: nobody has this name; see `discwright works people list`.")
    return row


def _open_row(connection: Connection, name: str) -> Row[Any]:
    row = _row(connection, name)
    if row.closed_at:
        raise CallError(f"{row.name} was closed; add that person again first.")
    return row


def _keep_a_keeper(connection: Connection, row: Row[Any], roles: tuple[str, ...]) -> None:
    """Refuse what would leave nobody to keep people."""
    if KEEPER in roles:
        return
    others = connection.execute(select(people.c.roles).where(people.c.closed_at == "", people.c.id != row.id)).scalars()
    if KEEPER in row.roles.split(",") and not any(KEEPER in one.split(",") for one in others):
        raise CallError(f"{row.name} is the last keeper; make another one first.")


def _shown(text: str) -> str:
    return "".join(letter if letter.isprintable() else "?" for letter in text[:60])
