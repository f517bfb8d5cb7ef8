"""What the pages of the press hall are made of: forms, presses, runs, lots; numbers as they are read."""

from __future__ import annotations

from dataclasses import dataclass

from discwright.desk.page_parts import Fact, FindingRow, Option
from discwright.desk.works_parts import Badge, PartLink

# Forms -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class SaidField:
    """Something that is said.

    Attributes
    ----------
    name, label, value, unit : str
    hint : str
        The limit it is held against, or what it is for.
    number : bool
        Its keys are digits.
    options : tuple of Option
        Where it is chosen from a list.
    needed : bool
    """

    name: str
    label: str
    value: str = ""
    unit: str = ""
    hint: str = ""
    number: bool = False
    options: tuple[Option, ...] = ()
    needed: bool = False


@dataclass(frozen=True)
class SaidForm:
    """A form with one button.

    Attributes
    ----------
    id : str
        On its page; also what its fields' ids begin with.
    action : str
    words, label : str
        On the button, and for whoever only hears it.
    hidden : tuple of (str, str)
        Its key among them: the same press is one line however often it is sent.
    fields : tuple of SaidField
    sentence : str
        What was wrong with what was sent.
    reason : SaidField or None
        Asked where a stop spoke against it that whoever asks may accept.
    grave : bool
        It takes something out of use.
    """

    id: str
    action: str
    words: str
    label: str
    hidden: tuple[tuple[str, str], ...]
    fields: tuple[SaidField, ...]
    sentence: str = ""
    reason: SaidField | None = None
    grave: bool = False


# The hall ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class RunLink:
    """A run, to go to.

    Attributes
    ----------
    id, href : str
    edition : str
        Its code.
    title : str
    press : str
    badge : Badge
    made : str
        Pressings of those planned.
    percent : int
    planned : bool
    since : str
        How long ago something was last done about it.
    """

    id: str
    href: str
    edition: str
    title: str
    press: str
    badge: Badge
    made: str
    percent: int
    planned: bool
    since: str


@dataclass(frozen=True)
class StamperLine:
    """A negative at a press, or on its way to one.

    Attributes
    ----------
    side : str
    part : PartLink
    life : str
        Pressings made of its press life.
    """

    side: str
    part: PartLink
    life: str


@dataclass(frozen=True)
class StamperSet:
    """The negatives of one edition in one press.

    Attributes
    ----------
    edition, title, title_href : str
    stampers : tuple of StamperLine
    run : RunLink or None
        What is pressed with them now.
    lacking : str
        Why no run can be begun with them.
    form : SaidForm or None
        Begins a run; None for whoever may not, or while one is in work.
    """

    edition: str
    title: str
    title_href: str
    stampers: tuple[StamperLine, ...]
    run: RunLink | None
    lacking: str
    form: SaidForm | None


@dataclass(frozen=True)
class PressCard:
    """One press with what is on it.

    Attributes
    ----------
    name : str
    sets : tuple of StamperSet
    """

    name: str
    sets: tuple[StamperSet, ...]


@dataclass(frozen=True)
class WaitingSide:
    """Negatives of one side that could go to a press.

    Attributes
    ----------
    side : str
    parts : tuple of StamperLine
    """

    side: str
    parts: tuple[StamperLine, ...]


@dataclass(frozen=True)
class WaitingRow:
    """An edition whose negatives wait for a press.

    Attributes
    ----------
    edition, title, title_href : str
    sides : tuple of WaitingSide
    badge : Badge
        Whether there is one of each side.
    due, late : str
    """

    edition: str
    title: str
    title_href: str
    sides: tuple[WaitingSide, ...]
    badge: Badge
    due: str
    late: str


@dataclass(frozen=True)
class LateRow:
    """A job of the schedule that will be late, and why.

    Attributes
    ----------
    job, press, late, why : str
    """

    job: str
    press: str
    late: str
    why: str


@dataclass(frozen=True)
class ScheduleBlock:
    """The schedule that is kept.

    Attributes
    ----------
    sentence : str
        When it was kept and how good it is; or that none is kept.
    picture_href, picture_words : str
        The chart, and what it shows; empty where none is kept.
    late : tuple of LateRow
    """

    sentence: str
    picture_href: str
    picture_words: str
    late: tuple[LateRow, ...]


# A run -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class RunRow:
    """A run in the list of all.

    Attributes
    ----------
    link : RunLink
    good, to_inspect, held, to_stock, stocked, packed : str
    begun : str
    """

    link: RunLink
    good: str
    to_inspect: str
    held: str
    to_stock: str
    stocked: str
    packed: str
    begun: str


@dataclass(frozen=True)
class RunSide:
    """Where one side of a run comes from.

    Attributes
    ----------
    side : str
    stamper : PartLink
    marks : str
        Run-out marks that its discs must show.
    up : tuple of PartLink
        What the stamper was grown from, lacquer last.
    plan, plan_href : str
        Fingerprint, and the planned side where the folder holds it.
    """

    side: str
    stamper: PartLink
    marks: str
    up: tuple[PartLink, ...]
    plan: str
    plan_href: str


@dataclass(frozen=True)
class FirstOffRow:
    """One first disc that was inspected.

    Attributes
    ----------
    when, by : str
    badge : Badge
    facts : tuple of Fact
    wow : str
        What the place of its hole does to the innermost music.
    missed : tuple of FindingRow
    note : str
    """

    when: str
    by: str
    badge: Badge
    facts: tuple[Fact, ...]
    wow: str
    missed: tuple[FindingRow, ...]
    note: str


@dataclass(frozen=True)
class LotRow:
    """A lot of a run.

    Attributes
    ----------
    number, href, count, found, scrapped, good, when : str
    badge : Badge
    """

    number: str
    href: str
    badge: Badge
    count: str
    found: str
    scrapped: str
    good: str
    when: str


@dataclass(frozen=True)
class BinRow:
    """Discs of a run in a bin.

    Attributes
    ----------
    bin, count : str
    """

    bin: str
    count: str


@dataclass(frozen=True)
class AccountRow:
    """An account that has discs of a run, or is about to get them.

    Attributes
    ----------
    account, name, place : str
    sent, here : str
        Discs that left, and discs in cartons that are still here.
    cartons : str
    """

    account: str
    name: str
    place: str
    sent: str
    here: str
    cartons: str


@dataclass(frozen=True)
class RunForms:
    """Everything that can be said of a run, each None where it cannot be said now, or not by whoever asks.

    Attributes
    ----------
    first_off, pressed, stock, take_out, recall : SaidForm or None
    """

    first_off: SaidForm | None
    pressed: SaidForm | None
    stock: SaidForm | None
    take_out: SaidForm | None
    recall: SaidForm | None
