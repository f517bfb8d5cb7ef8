"""Contracts of the pages about people: signing in, oneself, people, tokens, the access log, trusting the desk."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from discwright.desk.page_parts import Fact, Frame, Option


@dataclass(frozen=True)
class SignInPage:
    """Name and password.

    Attributes
    ----------
    frame : Frame
    name : str
        As it was typed.
    to : str
        Page to go on to.
    sentence : str
        Why it did not work the last time.
    """

    template: ClassVar[str] = "people/sign_in.html"
    frame: Frame
    name: str
    to: str
    sentence: str


@dataclass(frozen=True)
class YouPage:
    """Who one is: name, roles, own password; in one-person mode the name that goes into the ledger.

    Attributes
    ----------
    frame : Frame
    name : str
    roles : tuple of Fact
        Each with what it is for.
    records : tuple of str
        Words for what one may record.
    must_change : bool
        Somebody else chose the password.
    to : str
        Page to go on to once a name was given.
    sentence : str
        Why it did not work.
    said : str
        What was done.
    """

    template: ClassVar[str] = "people/you.html"
    frame: Frame
    name: str
    roles: tuple[Fact, ...]
    records: tuple[str, ...]
    must_change: bool
    to: str
    sentence: str
    said: str


@dataclass(frozen=True)
class PersonRow:
    """Somebody the works knows.

    Attributes
    ----------
    id : int
    name, roles : str
    choices : tuple of Option
        Every role.
    closed, must_change : bool
    since : str
        Day of its making, or of its closing.
    """

    id: int
    name: str
    roles: str
    choices: tuple[Option, ...]
    closed: bool
    must_change: bool
    since: str


@dataclass(frozen=True)
class PeoplePage:
    """Everybody, and what a keeper can do about it.

    Attributes
    ----------
    frame : Frame
    people : tuple of PersonRow
    name : str
        As it was typed for somebody new.
    choices : tuple of Option
        Roles for somebody new.
    first : bool
        Nobody is known yet; with the first person signing in begins.
    sentence, said : str
        Why it did not work; what was done.
    """

    template: ClassVar[str] = "people/people.html"
    frame: Frame
    people: tuple[PersonRow, ...]
    name: str
    choices: tuple[Option, ...]
    first: bool
    sentence: str
    said: str


@dataclass(frozen=True)
class TokenRow:
    """A token of a machine.

    Attributes
    ----------
    id, name, scopes, standing : str
        The third and fourth in words.
    good : bool
    made, expires, used : str
    """

    id: str
    name: str
    scopes: str
    standing: str
    good: bool
    made: str
    expires: str
    used: str


@dataclass(frozen=True)
class TokensPage:
    """Tokens of machines.

    Attributes
    ----------
    frame : Frame
    tokens : tuple of TokenRow
    choices : tuple of Option
        What one can be good for.
    name, days : str
        As typed.
    secret : str
        Of the token just made: the only time anybody sees it.
    sentence, said : str
        Why it did not work; what was done.
    """

    template: ClassVar[str] = "people/tokens.html"
    frame: Frame
    tokens: tuple[TokenRow, ...]
    choices: tuple[Option, ...]
    name: str
    days: str
    secret: str
    sentence: str
    said: str


@dataclass(frozen=True)
class AccessRow:
    """A row of the access log.

    Attributes
    ----------
    at, who, what, about, place : str
    """

    at: str
    who: str
    what: str
    about: str
    place: str


@dataclass(frozen=True)
class AccessLogPage:
    """The access log, newest first.

    Attributes
    ----------
    frame : Frame
    rows : tuple of AccessRow
    zone : str
        Of the times.
    older : str
        Address of older rows, or empty.
    """

    template: ClassVar[str] = "people/access_log.html"
    frame: Frame
    rows: tuple[AccessRow, ...]
    zone: str
    older: str


@dataclass(frozen=True)
class TrustPage:
    """How each kind of device learns to trust this desk.

    Attributes
    ----------
    frame : Frame
    there : bool
        The works has a certificate of its own.
    fingerprint : tuple of str
        Of the certificate to be trusted, in groups.
    address : str
        Under which the desk is then opened.
    """

    template: ClassVar[str] = "people/trust.html"
    frame: Frame
    there: bool
    fingerprint: tuple[str, ...]
    address: str


PeoplesPage = SignInPage | YouPage | PeoplePage | TokensPage | AccessLogPage | TrustPage
PEOPLE_PAGES: tuple[type[PeoplesPage], ...] = (SignInPage, YouPage, PeoplePage, TokensPage, AccessLogPage, TrustPage)
