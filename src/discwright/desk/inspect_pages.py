"""The contract of every page of test plays, as `pages` has them for the folder."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from discwright.desk.inspect_parts import (
    FaultRow,
    GaugeBlock,
    GaugeLink,
    JudgeForm,
    KindRow,
    LaidPlayRow,
    PlayLink,
    PlayMeasureRow,
    ResponseRow,
    SpotRow,
)
from discwright.desk.page_parts import Fact, FindingRow, Frame, JobRow, Option
from discwright.desk.works_parts import Badge


@dataclass(frozen=True)
class PlayPage:
    """One test play.

    Attributes
    ----------
    frame : Frame
    id : str
    part, part_href, title, title_href, side, edition, pressing : str
    capture, sent : str
        Name of the file; when and by whom.
    plan, plan_href : str
        Id of the plan, for its map, and its page; empty where the folder has it not.
    done : bool
        It was inspected; without that there is only its job.
    jobs : tuple of JobRow
    verdict : Badge
    sentence : str
        The verdict in words.
    reference : str
        What it was held against.
    facts : tuple of Fact
    measures : tuple of PlayMeasureRow
    response : tuple of ResponseRow
    findings : tuple of FindingRow
    kinds : tuple of KindRow
    faults : tuple of FaultRow
    left_out : str
        How many smaller faults are in the file only, or empty.
    picture : bool
        There is a picture of the face.
    files : tuple of Option
        Addresses and names.
    line, line_href : str
        Of the ledger, where it was kept.
    judges : tuple of JudgeForm
    may_again, may_drop : bool
    tips : tuple of Option
    side_plays : tuple of PlayLink
        Kept plays of this side.
    no_map : str
        Why there is no map, or empty.
    """

    template: ClassVar[str] = "inspect/play.html"
    frame: Frame
    id: str
    part: str
    part_href: str
    title: str
    title_href: str
    side: str
    edition: str
    pressing: str
    capture: str
    sent: str
    plan: str
    plan_href: str
    done: bool
    jobs: tuple[JobRow, ...]
    verdict: Badge
    sentence: str
    reference: str
    facts: tuple[Fact, ...]
    measures: tuple[PlayMeasureRow, ...]
    response: tuple[ResponseRow, ...]
    findings: tuple[FindingRow, ...]
    kinds: tuple[KindRow, ...]
    faults: tuple[FaultRow, ...]
    left_out: str
    picture: bool
    files: tuple[Option, ...]
    line: str
    line_href: str
    judges: tuple[JudgeForm, ...]
    may_again: bool
    may_drop: bool
    tips: tuple[Option, ...]
    side_plays: tuple[PlayLink, ...]
    no_map: str


@dataclass(frozen=True)
class OverPage:
    """Several plays of one side, laid over one another.

    Attributes
    ----------
    frame : Frame
    title, title_href, side, edition : str
    plan : str
        Id of the plan, for its map; empty where the folder has it not.
    plays : tuple of LaidPlayRow
    spots : tuple of SpotRow
    counts : tuple of Badge
    window : str
        How near two faults must lie to be one.
    side_plays : tuple of PlayLink
        To choose otherwise.
    no_map : str
        Why there is no map, or empty.
    """

    template: ClassVar[str] = "inspect/over.html"
    frame: Frame
    title: str
    title_href: str
    side: str
    edition: str
    plan: str
    plays: tuple[LaidPlayRow, ...]
    spots: tuple[SpotRow, ...]
    counts: tuple[Badge, ...]
    window: str
    side_plays: tuple[PlayLink, ...]
    no_map: str


@dataclass(frozen=True)
class MicroscopePage:
    """Photographs of cut lacquer, measured.

    Attributes
    ----------
    frame : Frame
    um_per_pixel, wanted_um, turn, part : str
        What stands in the fields.
    plans, walls : tuple of Option
    may : bool
        This person may measure.
    gauge : GaugeBlock or None
        None until a photograph was measured.
    recent : tuple of GaugeLink
        Newest first.
    """

    template: ClassVar[str] = "inspect/microscope.html"
    frame: Frame
    um_per_pixel: str
    wanted_um: str
    turn: str
    part: str
    plans: tuple[Option, ...]
    walls: tuple[Option, ...]
    may: bool
    gauge: GaugeBlock | None
    recent: tuple[GaugeLink, ...]


InspectPage = PlayPage | OverPage | MicroscopePage
INSPECT_PAGES: tuple[type[InspectPage], ...] = (PlayPage, OverPage, MicroscopePage)
