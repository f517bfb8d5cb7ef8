"""The contract of every page of the press hall, as `works_pages` has them for the metal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from discwright.desk.hall_parts import (
    AccountRow,
    BinRow,
    FirstOffRow,
    LotRow,
    PressCard,
    RunForms,
    RunLink,
    RunRow,
    RunSide,
    SaidForm,
    ScheduleBlock,
    WaitingRow,
)
from discwright.desk.lot_parts import ClassRow, EnteredRow, FoundRow, LotForm, StoppedRow
from discwright.desk.page_parts import Fact, Frame, Option
from discwright.desk.station_parts import DoneLine
from discwright.desk.works_parts import Badge, LineRow, Paging


@dataclass(frozen=True)
class HallPage:
    """The press hall: what is on each press, what waits.

    Attributes
    ----------
    frame : Frame
    counts : tuple of Badge
    presses : tuple of PressCard
    first_offs : tuple of RunLink
        Runs that wait for a first-off.
    waiting : tuple of WaitingRow
    tape : SaidForm or None
        Begins a run of a tape edition.
    schedule : ScheduleBlock
    planning : SaidForm or None
        Plans the hall anew.
    zone : str
    """

    template: ClassVar[str] = "hall/hall.html"
    frame: Frame
    counts: tuple[Badge, ...]
    presses: tuple[PressCard, ...]
    first_offs: tuple[RunLink, ...]
    waiting: tuple[WaitingRow, ...]
    tape: SaidForm | None
    schedule: ScheduleBlock
    planning: SaidForm | None
    zone: str


@dataclass(frozen=True)
class RunsPage:
    """All runs, open ones first.

    Attributes
    ----------
    frame : Frame
    counts : tuple of Badge
    rows : tuple of RunRow
    paging : Paging
    zone : str
    """

    template: ClassVar[str] = "hall/runs.html"
    frame: Frame
    counts: tuple[Badge, ...]
    rows: tuple[RunRow, ...]
    paging: Paging
    zone: str


@dataclass(frozen=True)
class RunPage:
    """One run.

    Attributes
    ----------
    frame : Frame
    id, edition, title, title_href : str
    badge : Badge
    waits : tuple of Badge
    recalled : str
        Why it must not be used further; empty where nothing was recalled.
    counts, facts : tuple of Fact
    sides : tuple of RunSide
    first_off : Badge
    first_offs : tuple of FirstOffRow
        Newest first.
    lots : tuple of LotRow
    lot_href, lot_words : str
        Where the next lot is inspected; empty where nothing waits for it.
    bins : tuple of BinRow
    accounts : tuple of AccountRow
    asks : RunForms
    done : DoneLine or None
    lines : tuple of LineRow
    zone : str
    """

    template: ClassVar[str] = "hall/run.html"
    frame: Frame
    id: str
    edition: str
    title: str
    title_href: str
    badge: Badge
    waits: tuple[Badge, ...]
    recalled: str
    counts: tuple[Fact, ...]
    facts: tuple[Fact, ...]
    sides: tuple[RunSide, ...]
    first_off: Badge
    first_offs: tuple[FirstOffRow, ...]
    lots: tuple[LotRow, ...]
    lot_href: str
    lot_words: str
    bins: tuple[BinRow, ...]
    accounts: tuple[AccountRow, ...]
    asks: RunForms
    done: DoneLine | None
    lines: tuple[LineRow, ...]
    zone: str


@dataclass(frozen=True)
class LotPage:
    """The next lot of a run, on a tablet.

    Attributes
    ----------
    frame : Frame
    run, run_href, edition, title : str
    heading : str
    facts : tuple of Fact
    classes : tuple of ClassRow
    form : LotForm or None
    nothing : str
        Why there is nothing to enter; or empty.
    stopped : tuple of StoppedRow
    lots : tuple of LotRow
        Judged before.
    size : SaidForm or None
        Another size of the lot, or another level.
    """

    template: ClassVar[str] = "hall/lot.html"
    frame: Frame
    run: str
    run_href: str
    edition: str
    title: str
    heading: str
    facts: tuple[Fact, ...]
    classes: tuple[ClassRow, ...]
    form: LotForm | None
    nothing: str
    stopped: tuple[StoppedRow, ...]
    lots: tuple[LotRow, ...]
    size: SaidForm | None


@dataclass(frozen=True)
class JudgedPage:
    """A lot that was judged.

    Attributes
    ----------
    frame : Frame
    run, run_href, edition, title, number : str
    verdict : Badge
    sentence : str
        What that means for its discs.
    facts : tuple of Fact
    rows : tuple of FoundRow
    defects : tuple of EnteredRow
    faces : tuple of Option
        Picture of each side that has a defect with a place: address and words.
    decisions : tuple of SaidForm
        What can become of it.
    wait_for : str
        Who decides, where whoever asks may not.
    next_href, next_words : str
    done : DoneLine or None
    """

    template: ClassVar[str] = "hall/judged.html"
    frame: Frame
    run: str
    run_href: str
    edition: str
    title: str
    number: str
    verdict: Badge
    sentence: str
    facts: tuple[Fact, ...]
    rows: tuple[FoundRow, ...]
    defects: tuple[EnteredRow, ...]
    faces: tuple[Option, ...]
    decisions: tuple[SaidForm, ...]
    wait_for: str
    next_href: str
    next_words: str
    done: DoneLine | None


HallPages = HallPage | RunsPage | RunPage | LotPage | JudgedPage
HALL_PAGES: tuple[type[HallPages], ...] = (HallPage, RunsPage, RunPage, LotPage, JudgedPage)
