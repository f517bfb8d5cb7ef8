"""What the pages of test plays are made of: measures, faults, plays; every number already the text a person reads."""

from __future__ import annotations

from dataclasses import dataclass

from discwright.desk.page_parts import Fact, FindingRow, MeasureRow, Option
from discwright.desk.works_parts import Badge


@dataclass(frozen=True)
class KindRow:
    """One kind of fault, as the legend has it.

    Attributes
    ----------
    kind, shape : str
        And the name of its shape.
    count : str
        ``"3, 1 heard"``.
    """

    kind: str
    shape: str
    count: str


@dataclass(frozen=True)
class FaultRow:
    """One fault of a play.

    Attributes
    ----------
    number : int
        From 1, along the groove.
    kind, shape, channel : str
    when, turn, radius, angle, size, duration : str
        Empty where it is not known.
    heard : bool
    at_s, size_db : float
        The same, to be heard and to be filtered.
    x_um, y_um : float
        Place on the disc, to the right and down from its centre.
    """

    number: int
    kind: str
    shape: str
    channel: str
    when: str
    turn: str
    radius: str
    angle: str
    size: str
    duration: str
    heard: bool
    at_s: float
    size_db: float
    x_um: float
    y_um: float


@dataclass(frozen=True)
class PlayMeasureRow:
    """One thing that was measured.

    Attributes
    ----------
    name, value, unit, best, limit : str
        Value and limit are ``"not measured"`` and empty where there are none.
    badge : Badge or None
        Whether it keeps its limit; None where it has none, or was not measured.
    """

    name: str
    value: str
    unit: str
    best: str
    limit: str
    badge: Badge | None


@dataclass(frozen=True)
class ResponseRow:
    """The response at one third of an octave."""

    frequency: str
    left: str
    right: str


@dataclass(frozen=True)
class PlayLink:
    """A play in a list.

    Attributes
    ----------
    name, href : str
        What it is called; its page, or empty where this desk has none.
    part, part_href : str
    pressing, when, by : str
    found : str
        ``"12 faults, 3 to be heard"``.
    badge : Badge
    line : str
        Number of the line it stands in; empty where it was not kept.
    chosen : bool
    """

    name: str
    href: str
    part: str
    part_href: str
    pressing: str
    when: str
    by: str
    found: str
    badge: Badge
    line: str
    chosen: bool = False


@dataclass(frozen=True)
class PlayBlock:
    """What a part's page has of test plays.

    Attributes
    ----------
    part : str
    of_pressing : bool
        A test pressing of it is played.
    why_not : str
        Why it cannot be played against the programme here, or empty.
    may : bool
        This person may play it.
    accept : str
        File name ends that can be sent.
    tips : tuple of Option
        To hear the proof with; the first is the plan's own.
    ready : tuple of Option
        Audio that was sent already and is ready.
    plays : tuple of PlayLink
        Of this part, newest first.
    side_plays : tuple of PlayLink
        Kept plays of its side.
    """

    part: str
    of_pressing: bool
    why_not: str
    may: bool
    accept: str
    tips: tuple[Option, ...]
    ready: tuple[Option, ...]
    plays: tuple[PlayLink, ...]
    side_plays: tuple[PlayLink, ...]


@dataclass(frozen=True)
class JudgeForm:
    """What can be written into the ledger of a play.

    Attributes
    ----------
    kind : str
        ``"keep"``, ``"approve"`` or ``"refuse"``.
    words, key : str
    grave : bool
    needs_reason : bool
    against : tuple of Badge
        What speaks against it.
    closed : bool
        A stop speaks against it: only with a reason to accept that.
    """

    kind: str
    words: str
    key: str
    grave: bool
    needs_reason: bool
    against: tuple[Badge, ...]
    closed: bool


@dataclass(frozen=True)
class SpotRow:
    """A place of the disc with a fault, over several plays.

    Attributes
    ----------
    number : int
    kind, shape : str
    turn, angle, radius, size : str
    heard : bool
    marks : tuple of SpotMark
        One for each play that found it.
    missed : str
        Names of the plays that would have told of it and did not.
    shared : bool
    share : str
        ``"2 of 3"``.
    x_um, y_um : float
    """

    number: int
    kind: str
    shape: str
    turn: str
    angle: str
    radius: str
    size: str
    heard: bool
    marks: tuple[SpotMark, ...]
    missed: str
    shared: bool
    share: str
    x_um: float
    y_um: float


@dataclass(frozen=True)
class SpotMark:
    """A play's own mark at a spot.

    Attributes
    ----------
    shape, name : str
        Of the play.
    x_um, y_um : float
    """

    shape: str
    name: str
    x_um: float
    y_um: float


@dataclass(frozen=True)
class LaidPlayRow:
    """One of the plays laid over one another.

    Attributes
    ----------
    shape : str
        Its mark at every spot.
    link : PlayLink
    count : str
        Of its faults that others found too.
    """

    shape: str
    link: PlayLink
    count: str


# The microscope ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class GaugeLink:
    """A measured photograph in a list."""

    href: str
    name: str
    width: str
    when: str


@dataclass(frozen=True)
class GaugeBlock:
    """A photograph of cut lacquer that was measured.

    Attributes
    ----------
    id, name : str
    picture : str
        Address of the photograph with everything drawn into it.
    badge : Badge
    sentence : str
        The correction to make.
    facts : tuple of Fact
    rows : tuple of MeasureRow
        Measured beside planned or wanted.
    grooves : tuple of (str, str, str, str)
        Number, place, width, narrowest to widest.
    findings : tuple of FindingRow
    part : str
        Number of the lacquer, where it is of one.
    width_um, key : str
        To write it into the ledger; the key is empty for whoever may not, or where there is no part.
    """

    id: str
    name: str
    picture: str
    badge: Badge
    sentence: str
    facts: tuple[Fact, ...]
    rows: tuple[MeasureRow, ...]
    grooves: tuple[tuple[str, str, str, str], ...]
    findings: tuple[FindingRow, ...]
    part: str
    width_um: str
    key: str
