"""What the station is made of: the part that was scanned, steps to press, what was done, what a scanner sent."""

from __future__ import annotations

from dataclasses import dataclass

from discwright.desk.page_parts import Option
from discwright.desk.works_parts import Badge


@dataclass(frozen=True)
class StepReason:
    """What speaks against a step.

    Attributes
    ----------
    severity, words : str
    """

    severity: str
    words: str


@dataclass(frozen=True)
class StepButton:
    """A step that can be taken now.

    Attributes
    ----------
    number : int
        From 1, as its key.
    kind, words : str
    key : str
        The same press is one line however often it is sent.
    expected : bool
        It is what the part waits for.
    closed : bool
        A stop speaks against it.
    may_accept : bool
        Whoever asks may accept that with a reason.
    asks : bool
        It needs a number first.
    grave : bool
        It takes something out of use.
    more_href : str
        Page on which everything about it can be said.
    reasons : tuple of StepReason
    """

    number: int
    kind: str
    words: str
    key: str
    expected: bool
    closed: bool
    may_accept: bool
    asks: bool
    grave: bool
    more_href: str
    reasons: tuple[StepReason, ...]


@dataclass(frozen=True)
class EntryField:
    """Something that is said of a step.

    Attributes
    ----------
    name, label, unit, value : str
    units : tuple of Option
        Where several can be meant.
    number : bool
        It is a number.
    big : bool
        The one that is asked for.
    needed : bool
    """

    name: str
    label: str
    unit: str
    value: str
    units: tuple[Option, ...]
    number: bool
    big: bool
    needed: bool


@dataclass(frozen=True)
class StationPart:
    """The part that was scanned.

    Attributes
    ----------
    id, href, title, title_href, side : str
    kind, sign : str
    badge : Badge
    marks, marks_hint : str
    elsewhere : str
        Where it belongs, if not here.
    """

    id: str
    href: str
    title: str
    title_href: str
    side: str
    kind: str
    sign: str
    badge: Badge
    marks: str
    marks_hint: str
    elsewhere: str


@dataclass(frozen=True)
class DoneLine:
    """What was done last.

    Attributes
    ----------
    seq : str
    sentence : str
    key : str
        For undoing it once; empty where it cannot be undone here.
    grown, grown_href : str
        Number of the part that was born, to be written on it.
    clock : str
        That the clock stands behind, and by how much.
    warnings : tuple of StepReason
    """

    seq: str
    sentence: str
    key: str
    grown: str
    grown_href: str
    clock: str
    warnings: tuple[StepReason, ...]


@dataclass(frozen=True)
class CodeRow:
    """One character that a scanner sent.

    Attributes
    ----------
    shown, code, name : str
    """

    shown: str
    code: str
    name: str
