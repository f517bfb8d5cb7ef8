"""The contract of every page of the ledger, as `pages` has them for the folder."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from discwright.desk.guilt_parts import ChoiceRow, FacePicture, GuiltTree, HeardForm, PlayRow, SpotRow, SuspectRow
from discwright.desk.hall_parts import RunLink
from discwright.desk.inspect_parts import PlayBlock
from discwright.desk.page_parts import Fact, Frame, JobRow, Option
from discwright.desk.station_parts import (
    CodeRow,
    DoneLine,
    EntryField,
    StationPart,
    StepButton,
)
from discwright.desk.tree_picture import TreePicture
from discwright.desk.works_parts import (
    Badge,
    BoardRow,
    CutForm,
    FoundRow,
    KeptPlanRow,
    LineRow,
    NewTitle,
    Paging,
    PartLink,
    SidePlace,
    WorksFinding,
)


@dataclass(frozen=True)
class NoLedgerPage:
    """The folder has no ledger yet.

    Attributes
    ----------
    frame : Frame
    may_begin : bool
    """

    template: ClassVar[str] = "works/no_ledger.html"
    frame: Frame
    may_begin: bool


@dataclass(frozen=True)
class BoardPage:
    """Where every title is.

    Attributes
    ----------
    frame : Frame
    counts : tuple of Badge
    finished : bool
        The other half of the board.
    rows : tuple of BoardRow
    paging : Paging
    new_titles : tuple of NewTitle
        Of the folder and not in the ledger.
    drill : Badge
        How old the last good restore is.
    zone : str
    csv_href : str
    """

    template: ClassVar[str] = "works/board.html"
    frame: Frame
    counts: tuple[Badge, ...]
    finished: bool
    rows: tuple[BoardRow, ...]
    paging: Paging
    new_titles: tuple[NewTitle, ...]
    drill: Badge
    zone: str
    csv_href: str


@dataclass(frozen=True)
class SearchPage:
    """What a number leads to.

    Attributes
    ----------
    frame : Frame
    asked : str
    found : tuple of FoundRow
    sentence : str
        Why nothing was found, or empty.
    """

    template: ClassVar[str] = "works/search.html"
    frame: Frame
    asked: str
    found: tuple[FoundRow, ...]
    sentence: str


@dataclass(frozen=True)
class FamilyPage:
    """One title at the works.

    Attributes
    ----------
    frame : Frame
    catalogue, name, people : str
    facts : tuple of Fact
    sides : tuple of SidePlace
    trees : tuple of TreePicture
    findings : tuple of WorksFinding
    plans : tuple of KeptPlanRow
    cuts : tuple of CutForm
    zone : str
    title_href : str
        Its page among the titles of the folder; empty where the folder has it not.
    labels_href : str
        Empty while there is no part.
    guilt_href : str
        Where its faults are weighed; empty while there is no part.
    """

    template: ClassVar[str] = "works/family.html"
    frame: Frame
    catalogue: str
    name: str
    people: str
    facts: tuple[Fact, ...]
    sides: tuple[SidePlace, ...]
    trees: tuple[TreePicture, ...]
    findings: tuple[WorksFinding, ...]
    plans: tuple[KeptPlanRow, ...]
    cuts: tuple[CutForm, ...]
    zone: str
    title_href: str
    labels_href: str
    guilt_href: str


@dataclass(frozen=True)
class PartPage:
    """One part and everything that happened to it.

    Attributes
    ----------
    frame : Frame
    id, kind, sign, title, title_href, side, edition : str
    badge : Badge
    verdict : Badge or None
    facts : tuple of Fact
    run_out, run_out_hint : str
        Its marks, and how they read on it.
    plan, plan_href : str
        Fingerprint, and the planned side where the folder holds it.
    parents, children : tuple of PartLink
        What it was grown from, lacquer last; what was grown from it.
    steps : tuple of str
        What can be done next, the expected first.
    station_href, guilt_href : str
    lines : tuple of LineRow
    findings : tuple of WorksFinding
    cards : tuple of Option
        Run cards that can be printed: address and words.
    play : PlayBlock or None
        Test plays; None for what is no disc.
    jobs : tuple of JobRow
        Of its plays.
    runs : tuple of RunLink
        What was pressed with it, the last begun first.
    zone : str
    """

    template: ClassVar[str] = "works/part.html"
    frame: Frame
    id: str
    kind: str
    sign: str
    title: str
    title_href: str
    side: str
    edition: str
    badge: Badge
    verdict: Badge | None
    facts: tuple[Fact, ...]
    run_out: str
    run_out_hint: str
    plan: str
    plan_href: str
    parents: tuple[PartLink, ...]
    children: tuple[PartLink, ...]
    steps: tuple[str, ...]
    station_href: str
    guilt_href: str
    lines: tuple[LineRow, ...]
    findings: tuple[WorksFinding, ...]
    cards: tuple[Option, ...]
    play: PlayBlock | None
    jobs: tuple[JobRow, ...]
    runs: tuple[RunLink, ...]
    zone: str


@dataclass(frozen=True)
class GuiltPage:
    """Who is guilty of the faults of one side.

    Attributes
    ----------
    frame : Frame
    catalogue, name, family_href : str
    sides : tuple of Option
        Every side of the title: address, words, whether it is this one.
    side, edition : str
    advice, counts : str
        What is best done, and how much was played and found.
    placeless : str
        That some plays did not say where; or empty.
    next_play, next_href : str
        The part whose play would tell most; empty where none would.
    tree : GuiltTree or None
    tree_words : str
        Of what the probabilities in the tree are.
    all_href : str
        The tree over all spots; empty where it is that already.
    spots : tuple of SpotRow
    more, more_href : str
        Spots that are not in the table, and where they all are.
    face : FacePicture
    plays : tuple of PlayRow
    suspects : tuple of SuspectRow
    choices : tuple of ChoiceRow
    paces : str
        How long each step takes.
    form : HeardForm or None
        None for whoever may not record a play.
    assumption, zone : str
    """

    template: ClassVar[str] = "works/guilt.html"
    frame: Frame
    catalogue: str
    name: str
    family_href: str
    sides: tuple[Option, ...]
    side: str
    edition: str
    advice: str
    counts: str
    placeless: str
    next_play: str
    next_href: str
    tree: GuiltTree | None
    tree_words: str
    all_href: str
    spots: tuple[SpotRow, ...]
    more: str
    more_href: str
    face: FacePicture
    plays: tuple[PlayRow, ...]
    suspects: tuple[SuspectRow, ...]
    choices: tuple[ChoiceRow, ...]
    paces: str
    form: HeardForm | None
    assumption: str
    zone: str


@dataclass(frozen=True)
class StationPage:
    """Where steps are confirmed with one press.

    Attributes
    ----------
    frame : Frame
    person : str
        Who is here; empty while nobody said so.
    stations : tuple of Option
    station : str
        Words for the chosen one.
    part : StationPart or None
        None until something was scanned.
    steps : tuple of StepButton
    done : DoneLine or None
    sentence : str
        Why there is no part, or why nothing was written.
    nothing : str
        Why there is no step.
    """

    template: ClassVar[str] = "station/station.html"
    frame: Frame
    person: str
    stations: tuple[Option, ...]
    station: str
    part: StationPart | None
    steps: tuple[StepButton, ...]
    done: DoneLine | None
    sentence: str
    nothing: str


@dataclass(frozen=True)
class EntryPage:
    """What a step needs to be told.

    Attributes
    ----------
    frame : Frame
    person : str
    part : StationPart
    kind, words, key : str
    fields : tuple of EntryField
    sentence : str
        What is wrong with what was entered.
    accepted : str
    """

    template: ClassVar[str] = "station/entry.html"
    frame: Frame
    person: str
    part: StationPart
    kind: str
    words: str
    key: str
    fields: tuple[EntryField, ...]
    sentence: str
    accepted: str


@dataclass(frozen=True)
class ScannerPage:
    """A place to try a scanner.

    Attributes
    ----------
    frame : Frame
    codes : tuple of CodeRow
        What arrived.
    understood : str
    number : str
    before, after : str
        What stood around the number, as it would be remembered.
    before_words, after_words : str
        The same so that it can be read.
    prefix, suffix : str
        What this device is known to add.
    example : str
        A number to try with.
    """

    template: ClassVar[str] = "station/scanner.html"
    frame: Frame
    codes: tuple[CodeRow, ...]
    understood: str
    number: str
    before: str
    after: str
    before_words: str
    after_words: str
    prefix: str
    suffix: str
    example: str


WorksPage = (
    NoLedgerPage | BoardPage | SearchPage | FamilyPage | PartPage | GuiltPage | StationPage | EntryPage | ScannerPage
)  # fmt: skip
WORKS_PAGES: tuple[type[WorksPage], ...] = (
    NoLedgerPage, BoardPage, SearchPage, FamilyPage, PartPage, GuiltPage, StationPage, EntryPage, ScannerPage,
)  # fmt: skip
