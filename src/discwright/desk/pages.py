"""The contract of every page: one dataclass per template, each field what that template shows.

Templates hold no arithmetic: every number here is already the text a person reads, in the units of that person.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import ClassVar


@dataclass(frozen=True)
class Option:
    """One choice of a list.

    Attributes
    ----------
    value, words : str
        What is sent, what is read.
    chosen : bool
    """

    value: str
    words: str
    chosen: bool = False


@dataclass(frozen=True)
class Fact:
    """One number with its name.

    Attributes
    ----------
    name, value : str
    hint : str
        What it means, where that is not plain.
    """

    name: str
    value: str
    hint: str = ""


@dataclass(frozen=True)
class Frame:
    """What surrounds every page.

    Attributes
    ----------
    folder : str
        Name of the opened folder, or empty.
    units : str
        ``"metric"`` or ``"inch"``.
    look : str
        ``"auto"``, ``"light"`` or ``"dark"``.
    version : str
    here : str
        Path and query of this page, to come back to.
    network : bool
        Others in the network can reach this desk.
    """

    folder: str
    units: str
    look: str
    version: str
    here: str
    network: bool


@dataclass(frozen=True)
class JobRow:
    """A long piece of work.

    Attributes
    ----------
    id, words : str
    state : str
        ``"waiting"``, ``"running"``, ``"done"``, ``"failed"`` or ``"stopped"``.
    step : str
        What it is at.
    percent : int
    left : str
        Time left as people say it, or empty while nobody knows.
    sentence : str
        Why it failed.
    href : str
        Page with what came of it; empty until then.
    """

    id: str
    words: str
    state: str
    step: str = ""
    percent: int = 0
    left: str = ""
    sentence: str = ""
    href: str = ""


@dataclass(frozen=True)
class FindingRow:
    """A finding as a page shows it.

    Attributes
    ----------
    number : int
        From 1, as on the map.
    severity, code : str
    when, turn, radius : str
        Empty where the finding has no place.
    against : str
        Value against limit with unit, or empty.
    remedy, accepted : str
    at_s : float or None, s
    try_words : str
        What the offered what-if would do, or empty.
    try_fields : tuple of (str, str)
        Fields of the what-if form and what they are set to.
    """

    number: int
    severity: str
    code: str
    when: str
    turn: str
    radius: str
    against: str
    remedy: str
    accepted: str
    at_s: float | None
    try_words: str = ""
    try_fields: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class BandRow:
    """A band of a title or of a side.

    Attributes
    ----------
    number : int
    id, name, file, start, end, length : str
    radius : str
        Where it begins on the side, or empty.
    start_s : float, s
    trouble : str
        Why its audio cannot be used, or empty.
    """

    number: int
    id: str
    name: str
    file: str
    start: str
    end: str
    length: str
    radius: str = ""
    start_s: float = 0.0
    trouble: str = ""


@dataclass(frozen=True)
class PlanLink:
    """A kept plan, or a what-if, of a side.

    Attributes
    ----------
    id, words, href : str
    what_if : bool
        Neither kept nor dropped yet.
    ready : bool
    verdict : str
        Counts of findings and whether it can be cut.
    level, spare, length : str
    made : str
        When.
    """

    id: str
    words: str
    href: str
    what_if: bool
    ready: bool
    verdict: str
    level: str
    spare: str
    length: str
    made: str


@dataclass(frozen=True)
class SideRow:
    """A side of an edition.

    Attributes
    ----------
    letter : str
    bands : tuple of str
        Names, in order.
    plans : tuple of PlanLink
        Newest first; empty where it was never planned.
    stale : str
        Why its newest plan no longer fits the title file, or empty.
    """

    letter: str
    bands: tuple[str, ...]
    plans: tuple[PlanLink, ...]
    stale: str = ""


@dataclass(frozen=True)
class CandidateSide:
    """A side as a layout proposes it.

    Attributes
    ----------
    letter : str
    bands : tuple of str
    length, level, spare : str
    inner : str
        Share of time that the playing tip is asked for too much at the inner grooves, or that it never is.
    ready : bool
    """

    letter: str
    bands: tuple[str, ...]
    length: str
    level: str
    spare: str
    inner: str
    ready: bool


@dataclass(frozen=True)
class CandidateRow:
    """A split of an edition that was found.

    Attributes
    ----------
    number : int
        From 1, best first.
    weakest : str
        Level of its weakest side.
    sides : tuple of CandidateSide
    chosen : bool
        The title file fixes just these sides.
    """

    number: int
    weakest: str
    sides: tuple[CandidateSide, ...]
    chosen: bool


@dataclass(frozen=True)
class EditionRow:
    """An edition of a title.

    Attributes
    ----------
    id, format, quantity, due, level : str
    tape : bool
    fixed : bool
        The title file fixes its sides.
    sides : tuple of SideRow
    candidates : tuple of CandidateRow
        Empty where no layout was made, or the title changed since.
    remarks : tuple of str
        Of the layout.
    """

    id: str
    format: str
    quantity: str
    due: str
    level: str
    tape: bool
    fixed: bool
    sides: tuple[SideRow, ...]
    candidates: tuple[CandidateRow, ...] = ()
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class TitleRow:
    """A title of the opened folder, in a line.

    Attributes
    ----------
    id, name, catalogue, people, href : str
    editions : tuple of str
        Id and format, a phrase each.
    ready, stopped, unplanned : int
        Sides.
    trouble : str
        Why the title file cannot be read, or empty.
    """

    id: str
    name: str
    catalogue: str
    people: str
    href: str
    editions: tuple[str, ...]
    ready: int
    stopped: int
    unplanned: int
    trouble: str = ""


@dataclass(frozen=True)
class LooseFolder:
    """A folder with audio and no title file.

    Attributes
    ----------
    id, name : str
    files : tuple of str
    """

    id: str
    name: str
    files: tuple[str, ...]


@dataclass(frozen=True)
class HalfUpload:
    """An upload that has not all arrived.

    Attributes
    ----------
    id, name, arrived, size : str
        File name, and how much of how much.
    percent : int
    """

    id: str
    name: str
    arrived: str
    size: str
    percent: int


@dataclass(frozen=True)
class RecentFolder:
    """A folder that was opened before.

    Attributes
    ----------
    number : int
        To open it by.
    name, place, when : str
    there : bool
        It still exists.
    """

    number: int
    name: str
    place: str
    when: str
    there: bool


@dataclass(frozen=True)
class MeasureRow:
    """A number of two plans side by side.

    Attributes
    ----------
    name, old, new, change : str
    """

    name: str
    old: str
    new: str
    change: str


@dataclass(frozen=True)
class ComparisonBlock:
    """A what-if beside the plan it was made from.

    Attributes
    ----------
    base_words, base_href : str
    alike : bool
        Nothing differs.
    settings, measures : tuple of MeasureRow
    gained, cured, changed : tuple of FindingRow
    """

    base_words: str
    base_href: str
    alike: bool
    settings: tuple[MeasureRow, ...]
    measures: tuple[MeasureRow, ...]
    gained: tuple[FindingRow, ...]
    cured: tuple[FindingRow, ...]
    changed: tuple[FindingRow, ...]


@dataclass(frozen=True)
class RungRow:
    """A rung of the ladder, or a step of the price curve.

    Attributes
    ----------
    name, level, when, turn, radius : str
    at_s : float or None, s
    """

    name: str
    level: str
    when: str
    turn: str
    radius: str
    at_s: float | None


@dataclass(frozen=True)
class PriceRow:
    """What a level costs.

    Attributes
    ----------
    level, spare, minutes : str
    level_db, spare_mm, playing_time_min : float
        The same, to be drawn.
    """

    level: str
    spare: str
    minutes: str
    level_db: float
    spare_mm: float
    playing_time_min: float


@dataclass(frozen=True)
class Download:
    """A file of the plan's folder.

    Attributes
    ----------
    name, words, size, href : str
    """

    name: str
    words: str
    size: str
    href: str


@dataclass(frozen=True)
class WhatIfForm:
    """What can be asked otherwise; each list begins with what the plan was made with.

    Attributes
    ----------
    level_db : str
        As it was planned.
    levels : tuple of Option
        ``fixed``, ``cut``, ``clean``.
    formats, lathes, heads, cutting_tips, tips, practices : tuple of Option
    bass_blend_hz, low_cut_hz, high_cut_hz : str
        Corner, or empty for none.
    treble_limit : bool
    """

    level_db: str
    levels: tuple[Option, ...]
    formats: tuple[Option, ...]
    lathes: tuple[Option, ...]
    heads: tuple[Option, ...]
    cutting_tips: tuple[Option, ...]
    tips: tuple[Option, ...]
    practices: tuple[Option, ...]
    bass_blend_hz: str
    low_cut_hz: str
    high_cut_hz: str
    treble_limit: bool


@dataclass(frozen=True)
class RecentPage:
    """No folder is open yet."""

    template: ClassVar[str] = "recent.html"
    frame: Frame
    folders: tuple[RecentFolder, ...]


@dataclass(frozen=True)
class TitlesPage:
    """The titles of the opened folder.

    Attributes
    ----------
    frame : Frame
    titles : tuple of TitleRow
    sides : tuple of PlanLink
        Plans of bare files.
    loose : tuple of LooseFolder
        Could become titles.
    uploads : tuple of HalfUpload
    jobs : tuple of JobRow
        Newest first.
    accept : str
        File name ends that can be uploaded, for the file field.
    formats : tuple of Option
        What a new title's first edition can be.
    """

    template: ClassVar[str] = "titles.html"
    frame: Frame
    titles: tuple[TitleRow, ...]
    sides: tuple[PlanLink, ...]
    loose: tuple[LooseFolder, ...]
    uploads: tuple[HalfUpload, ...]
    jobs: tuple[JobRow, ...]
    accept: str
    formats: tuple[Option, ...]


@dataclass(frozen=True)
class TitlePage:
    """One title.

    Attributes
    ----------
    frame : Frame
    id, name, catalogue, people, file : str
    sha256 : str
        Of the title file as shown: what is sent back with a choice.
    bands : tuple of BandRow
    editions : tuple of EditionRow
    faults : tuple of str
        Of the title file; then there is nothing else.
    jobs : tuple of JobRow
        Of this title.
    """

    template: ClassVar[str] = "title.html"
    frame: Frame
    id: str
    name: str
    catalogue: str
    people: str
    file: str
    sha256: str
    bands: tuple[BandRow, ...]
    editions: tuple[EditionRow, ...]
    faults: tuple[str, ...]
    jobs: tuple[JobRow, ...]


@dataclass(frozen=True)
class SidePage:
    """One planned side.

    Attributes
    ----------
    frame : Frame
    id, name : str
        Of the plan.
    title, title_href : str
        Empty for a bare file.
    what_if : bool
        Neither kept nor dropped yet.
    verdict : str
    ready : bool
    facts : tuple of Fact
    findings : tuple of FindingRow
    bands : tuple of BandRow
    plans : tuple of PlanLink
        All of this side, this one among them.
    comparison : ComparisonBlock or None
    form : WhatIfForm
    rungs : tuple of RungRow
    prices : tuple of PriceRow
    downloads : tuple of Download
    missing : tuple of Option
        Files that can be made: value and words.
    layers : tuple of Option
    tips : tuple of Option
        To listen with.
    jobs : tuple of JobRow
    prepared : bool
        The groove can be looked at and listened to.
    no_audio : str
        Why it never can, or empty.
    """

    template: ClassVar[str] = "side.html"
    frame: Frame
    id: str
    name: str
    title: str
    title_href: str
    what_if: bool
    verdict: str
    ready: bool
    facts: tuple[Fact, ...]
    findings: tuple[FindingRow, ...]
    bands: tuple[BandRow, ...]
    plans: tuple[PlanLink, ...]
    comparison: ComparisonBlock | None
    form: WhatIfForm
    rungs: tuple[RungRow, ...]
    prices: tuple[PriceRow, ...]
    downloads: tuple[Download, ...]
    missing: tuple[Option, ...]
    layers: tuple[Option, ...]
    tips: tuple[Option, ...]
    jobs: tuple[JobRow, ...]
    prepared: bool
    no_audio: str


@dataclass(frozen=True)
class PatternsPage:
    """Every visual element once.

    Attributes
    ----------
    frame : Frame
    finding_rows : tuple of FindingRow
    job_rows : tuple of JobRow
    facts : tuple of Fact
    options : tuple of Option
    """

    template: ClassVar[str] = "patterns.html"
    frame: Frame
    finding_rows: tuple[FindingRow, ...]
    job_rows: tuple[JobRow, ...]
    facts: tuple[Fact, ...]
    options: tuple[Option, ...]


@dataclass(frozen=True)
class TroublePage:
    """A sentence in place of a page.

    Attributes
    ----------
    frame : Frame
    status : int
    sentence : str
    """

    template: ClassVar[str] = "trouble.html"
    frame: Frame
    status: int
    sentence: str


@dataclass(frozen=True)
class JobPart:
    """One job, drawn again and again while it runs.

    Attributes
    ----------
    job : JobRow
    """

    template: ClassVar[str] = "job_part.html"
    job: JobRow


Page = RecentPage | TitlesPage | TitlePage | SidePage | PatternsPage | TroublePage | JobPart
PAGES: tuple[type[Page], ...] = (RecentPage, TitlesPage, TitlePage, SidePage, PatternsPage, TroublePage, JobPart)


def context(page: Page) -> dict[str, object]:
    """A page's fields, as its template sees them."""
    return {field.name: getattr(page, field.name) for field in fields(page)}
