"""Who may do what: the roles of a works, what each may record and do. A table, and nothing that has to be asked."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from discwright.errors import CallError
from discwright.works.chain import Line
from discwright.works.events import EVENTS

ENGINEER, PLATING, PRESS, PACKING, READER, KEEPER = "engineer", "plating", "press", "packing", "reader", "keeper"
#: Every role with what it is for.
ROLES = {
    ENGINEER: "plans, cuts, listens, gives the verdict",
    PLATING: "silver and nickel, up to the finished part",
    PRESS: "stampers in and out of the presses, runs and their lots",
    PACKING: "hands over and stores, takes orders, packs and loads",
    READER: "looks and changes nothing",
    KEEPER: "everything, people and backups too",
}

#: Who may record an event; a keeper may record all of them.
MAY_RECORD: dict[str, frozenset[str]] = {
    "title_taken_in": frozenset({ENGINEER}),
    "plan_kept": frozenset({ENGINEER}),
    "test_cut_measured": frozenset({ENGINEER}),
    "lacquer_cut": frozenset({ENGINEER}),
    "checked_under_the_microscope": frozenset({ENGINEER, PLATING}),
    "handed_over": frozenset({ENGINEER, PLATING, PRESS, PACKING}),
    "silvered": frozenset({PLATING}),
    "plated": frozenset({PLATING}),
    "separated": frozenset({PLATING}),
    "passivated": frozenset({PLATING}),
    "weighed": frozenset({PLATING}),
    "measured": frozenset({ENGINEER, PLATING}),
    "back_sanded": frozenset({PLATING}),
    "centred": frozenset({PLATING, PRESS}),
    "trimmed": frozenset({PLATING, PRESS}),
    "formed": frozenset({PLATING, PRESS}),
    "test_played": frozenset({ENGINEER}),
    "approved": frozenset({ENGINEER}),
    "refused": frozenset({ENGINEER}),
    "put_to_press": frozenset({PRESS}),
    "taken_off": frozenset({PRESS}),
    "vaulted": frozenset({ENGINEER, PLATING, PRESS, PACKING}),
    "scrapped": frozenset({ENGINEER, PLATING, PRESS}),
    "recalled": frozenset({ENGINEER}),
    "run_begun": frozenset({PRESS}),
    "first_off": frozenset({ENGINEER, PRESS}),
    "run_pressed": frozenset({PRESS}),
    "lot_inspected": frozenset({ENGINEER, PRESS}),
    "lot_disposed": frozenset({ENGINEER}),
    "inspection_restarted": frozenset({ENGINEER}),
    "stocked": frozenset({PRESS, PACKING}),
    "taken_out": frozenset({ENGINEER, PRESS, PACKING}),
    "orders_taken": frozenset({PACKING}),
    "order_cancelled": frozenset({PACKING}),
    "cartons_packed": frozenset({PACKING}),
    "carton_opened": frozenset({PACKING}),
    "loaded": frozenset({PACKING}),
    "account_told": frozenset({ENGINEER, PACKING}),
    # Of which lines, :func:`may_correct` says.
    "corrected": frozenset({ENGINEER, PLATING, PRESS, PACKING}),
}
SEE, PLAN, RECORD, ACCEPT, EXPORT = "see", "plan", "record", "accept", "export"
KEEP_PEOPLE, SET, BACK_UP, RESTORE = "keep_people", "set", "back_up", "restore"
#: Who may do what besides recording; a keeper may do all of it.
MAY: dict[str, frozenset[str]] = {
    SEE: frozenset(ROLES),
    PLAN: frozenset({ENGINEER}),
    RECORD: frozenset({ENGINEER, PLATING, PRESS, PACKING}),
    ACCEPT: frozenset({ENGINEER}),
    EXPORT: frozenset({ENGINEER}),
    KEEP_PEOPLE: frozenset(),
    SET: frozenset(),
    BACK_UP: frozenset(),
    RESTORE: frozenset(),
}
#: The words for an act, after "may".
ACTS = {
    SEE: "look",
    PLAN: "plan, choose and upload",
    RECORD: "record",
    ACCEPT: "accept a stop",
    EXPORT: "take the ledger out",
    KEEP_PEOPLE: "keep people, tokens and the access log",
    SET: "set what holds for the whole works",
    BACK_UP: "back the ledger up",
    RESTORE: "restore or import a ledger",
}
#: What a machine never records: a verdict is a person's, and so is a correction.
NO_MACHINE = frozenset(
    {"approved", "refused", "recalled", "corrected", "scrapped", "lot_disposed", "account_told", "inspection_restarted"}
)
#: A token that may look.
READ = "read"
SCOPES = (READ, *(kind for kind in EVENTS if kind not in NO_MACHINE))
#: So long a person may correct what she recorded herself; later a keeper does it.
RECENT = timedelta(hours=24)
_MOST_LETTERS = 80


@dataclass(frozen=True)
class Person:
    """Who is asking.

    Attributes
    ----------
    name : str
        Goes into the ledger as `by`; empty for nobody, and in one-person mode while no name was given.
    roles : tuple of str
    one_person : bool
        Nobody signs in here; whoever sits at this machine may do everything.
    token : str
        Number of the machine's token; empty for people.
    scopes : frozenset of str
        What the token is good for.
    must_change : bool
        Somebody else chose the password; nothing is done before it is changed.
    """

    name: str = ""
    roles: tuple[str, ...] = ()
    one_person: bool = False
    token: str = ""
    scopes: frozenset[str] = frozenset()
    must_change: bool = False

    @property
    def known(self) -> bool:
        """Somebody signed in, a machine with its token, or whoever sits here in one-person mode."""
        return self.one_person or bool(self.token) or bool(self.roles)


NOBODY = Person()


def may(person: Person, act: str) -> bool:
    """A person or a machine may do something.

    Parameters
    ----------
    person : Person
    act : str
        One of :data:`MAY`; what is not there nobody may.
    """
    if act not in MAY:
        return False
    if person.one_person:
        return True
    if person.token:
        return READ in person.scopes if act == SEE else act == RECORD and bool(person.scopes - {READ})
    return KEEPER in person.roles or not MAY[act].isdisjoint(person.roles)


def may_record(person: Person, kind: str) -> bool:
    """A person or a machine may record an event of a kind.

    Parameters
    ----------
    person : Person
    kind : str
        A name in :data:`discwright.works.events.EVENTS`; what is not there nobody may record.
    """
    if kind not in MAY_RECORD:
        return False
    if person.one_person:
        return True
    if person.token:
        return kind in person.scopes and kind not in NO_MACHINE
    return KEEPER in person.roles or not MAY_RECORD[kind].isdisjoint(person.roles)


def may_correct(person: Person, line: Line, now: datetime) -> bool:
    """A person may correct a line: her own while it is recent, if she may record such a thing; a keeper any.

    Parameters
    ----------
    person : Person
    line : Line
        What is to be corrected.
    now : datetime
        With its zone.
    """
    if not may_record(person, "corrected"):
        return False
    if person.one_person or KEEPER in person.roles:
        return True
    recent = now - datetime.fromisoformat(line.at) <= RECENT
    return line.by == person.name and recent and may_record(person, line.kind)


def recordable_by(person: Person) -> tuple[str, ...]:
    """Every kind of event a person or a machine may record, in the order of a title's life.

    Parameters
    ----------
    person : Person
    """
    return tuple(kind for kind in EVENTS if may_record(person, kind))


def who_may(act: str) -> tuple[str, ...]:
    """The roles that may do something, or record a kind of event; a keeper always among them.

    Parameters
    ----------
    act : str
    """
    allowed = MAY.get(act) or MAY_RECORD.get(act) or frozenset()
    return tuple(role for role in ROLES if role in allowed or role == KEEPER)


# What a name, roles and scopes may be -------------------------------------------------------------------


def clean_name(text: str) -> str:
    """A name as it is kept: composed letters, single blanks.

    Parameters
    ----------
    text : str

    Raises
    ------
    CallError
        If it is empty, too long, or holds what cannot be seen.
    """
    name = " ".join(unicodedata.normalize("NFC", text).split())
    if not name or len(name) > _MOST_LETTERS:
        raise CallError(f"a name has from 1 to {_MOST_LETTERS} letters; write another one.")
    if any(unicodedata.category(letter)[0] == "C" for letter in name):
        raise CallError("a name holds only letters that can be seen; write another one.")
    return name


def same_name(text: str) -> str:
    """What two names that a person takes for one have in common: capitals, blanks and forms of letters do not count.

    Parameters
    ----------
    text : str
    """
    return " ".join(unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", text).casefold()).split())[:200]


def clean_roles(roles: Iterable[str]) -> tuple[str, ...]:
    """Roles in their own order, each once.

    Parameters
    ----------
    roles : iterable of str

    Raises
    ------
    CallError
        If there is none, or one is unknown.
    """
    wanted = set(roles)
    strange = sorted(wanted - set(ROLES))
    if strange or not wanted:
        what = f"“{strange[0][:40]}” is no role" if strange else "a person has at least one role"
        raise CallError(f"{what}; the roles are {', '.join(ROLES)}.")
    return tuple(role for role in ROLES if role in wanted)


def clean_scopes(scopes: Iterable[str]) -> tuple[str, ...]:
    """Scopes of a token in their own order, each once.

    Parameters
    ----------
    scopes : iterable of str

    Raises
    ------
    CallError
        If there is none, or one is unknown or nothing for a machine.
    """
    wanted = set(scopes)
    human = sorted(wanted & NO_MACHINE)
    if human:
        raise CallError(f"{human[0]} is for people, never for a machine; leave it out.")
    strange = sorted(wanted - set(SCOPES))
    if strange or not wanted:
        what = f"“{strange[0][:40]}” is no scope" if strange else "a token is good for something"
        raise CallError(f"{what}; the scopes are {READ} and the events of `discwright works record --list`.")
    return tuple(scope for scope in SCOPES if scope in wanted)
