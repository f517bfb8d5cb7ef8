"""The contract of every page: one dataclass per template, each field what that template shows.

Templates hold no arithmetic: every number here is already the text a person reads, in the units of that person.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import ClassVar

from discwright.desk.dock_pages import DOCK_PAGES, DocksPage
from discwright.desk.hall_pages import HALL_PAGES, HallPages
from discwright.desk.inspect_pages import INSPECT_PAGES, InspectPage
from discwright.desk.page_parts import (
    BandRow,
    ComparisonBlock,
    Download,
    Fact,
    FindingRow,
    Frame,
    JobRow,
    Option,
    PlanLink,
    PriceRow,
    RungRow,
    WhatIfForm,
)
from discwright.desk.people_pages import PEOPLE_PAGES, PeoplesPage
from discwright.desk.title_parts import EditionRow, HalfUpload, LooseFolder, RecentFolder, TitleRow
from discwright.desk.works_pages import WORKS_PAGES, WorksPage
from discwright.desk.works_patterns import WorksSamples, works_samples


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
    works : WorksSamples
    """

    template: ClassVar[str] = "patterns.html"
    frame: Frame
    finding_rows: tuple[FindingRow, ...]
    job_rows: tuple[JobRow, ...]
    facts: tuple[Fact, ...]
    options: tuple[Option, ...]
    works: WorksSamples = field(default_factory=works_samples)


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


Page = (
    RecentPage | TitlesPage | TitlePage | SidePage | PatternsPage | TroublePage | JobPart | PeoplesPage | WorksPage
    | InspectPage | HallPages | DocksPage
)  # fmt: skip
PAGES: tuple[type[Page], ...] = (
    RecentPage, TitlesPage, TitlePage, SidePage, PatternsPage, TroublePage, JobPart, *PEOPLE_PAGES, *WORKS_PAGES,
    *INSPECT_PAGES, *HALL_PAGES, *DOCK_PAGES,
)  # fmt: skip


def context(page: Page) -> dict[str, object]:
    """A page's fields, as its template sees them."""
    return {one.name: getattr(page, one.name) for one in fields(page)}
