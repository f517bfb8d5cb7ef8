"""What the page of a lot is made of: the plan, the sample, words to choose, defects that were entered, the verdict."""

from __future__ import annotations

from dataclasses import dataclass

from discwright.desk.hall_parts import SaidField, SaidForm
from discwright.desk.page_parts import Option
from discwright.desk.works_parts import Badge


@dataclass(frozen=True)
class ClassRow:
    """How one class of defects is judged.

    Attributes
    ----------
    badge : Badge
    rule : str
        Its AQL, or how it does without one.
    n, accept, reject : str
    inspection : str
        Normal, tightened, reduced.
    why, next : str
        What brought it there, and what would change it next.
    oc_href, oc_words : str
        Picture of its operating characteristic; empty where there is none.
    """

    badge: Badge
    rule: str
    n: str
    accept: str
    reject: str
    inspection: str
    why: str
    next: str
    oc_href: str
    oc_words: str


@dataclass(frozen=True)
class WordChoice:
    """A word for a defect.

    Attributes
    ----------
    word, mark : str
    badge : Badge
        Its class, as it is seen.
    says : str
        How it shows, and what it does to the sound.
    on_face : bool
    chosen : bool
    """

    word: str
    mark: str
    badge: Badge
    says: str
    on_face: bool
    chosen: bool


@dataclass(frozen=True)
class SampleDisc:
    """A disc of the sample.

    Attributes
    ----------
    disc : str
        Which of the lot, from 1.
    at : str
        Its place in the order they are taken in.
    defects : str
        How many were entered; empty for none.
    done, chosen : bool
        Passed by already; in hand now.
    """

    disc: str
    at: str
    defects: str
    done: bool
    chosen: bool


@dataclass(frozen=True)
class EnteredRow:
    """A defect that was entered.

    Attributes
    ----------
    number, disc, side, word, hearing, place : str
    badge : Badge
        Its class.
    """

    number: str
    disc: str
    side: str
    word: str
    hearing: str
    place: str
    badge: Badge


@dataclass(frozen=True)
class LotForm:
    """The form that carries a lot from the first disc to the verdict; it holds everything that was entered.

    Attributes
    ----------
    action : str
    hidden : tuple of (str, str)
        Lot, key, discs, level, the defects themselves, and what is in hand.
    picture : str
        The face as a data address, with the defects of this side; empty for what has no face.
    picture_px : int
        Width and height at which it is shown without script.
    picture_words : str
    sides : tuple of Option
    hearings : tuple of Option
    words : tuple of WordChoice
    disc : str
        In hand.
    progress : str
    first, last : bool
        The first or the last disc of the sample is in hand.
    sample : tuple of SampleDisc
    radius, angle : SaidField
    entered : tuple of EnteredRow
    summary : str
    all_looked : bool
        Every disc was passed by.
    looked_words : str
    more : tuple of SaidField
        What else can be said with the verdict.
    sentence : str
        What is wrong with what was sent.
    kept : str
        Name under which this device keeps the entered defects.
    """

    action: str
    hidden: tuple[tuple[str, str], ...]
    picture: str
    picture_px: int
    picture_words: str
    sides: tuple[Option, ...]
    hearings: tuple[Option, ...]
    words: tuple[WordChoice, ...]
    disc: str
    progress: str
    first: bool
    last: bool
    sample: tuple[SampleDisc, ...]
    radius: SaidField
    angle: SaidField
    entered: tuple[EnteredRow, ...]
    summary: str
    all_looked: bool
    looked_words: str
    more: tuple[SaidField, ...]
    sentence: str
    kept: str


@dataclass(frozen=True)
class StoppedRow:
    """A class of defects whose inspection is stopped.

    Attributes
    ----------
    badge : Badge
    why : str
    form : SaidForm or None
        Takes it up again.
    """

    badge: Badge
    why: str
    form: SaidForm | None


@dataclass(frozen=True)
class FoundRow:
    """What was found of one class in a judged lot.

    Attributes
    ----------
    badge : Badge
    rule, inspection, n, found, accept, reject : str
    verdict : Badge
    """

    badge: Badge
    rule: str
    inspection: str
    n: str
    found: str
    accept: str
    reject: str
    verdict: Badge
