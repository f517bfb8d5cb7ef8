"""What every page is made of: facts, choices, jobs, findings, plans; each number already the text a person reads."""

from __future__ import annotations

from dataclasses import dataclass


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
        Others in the network can reach this desk, and what is sent can be read on the way.
    person : str
        Who is signed in, or who said in one-person mode that she sits here; or empty.
    signed_in, one_person : bool
        Signed in; or nobody has to, and a name is asked for.
    keeper : bool
        May keep people.
    """

    folder: str
    units: str
    look: str
    version: str
    here: str
    network: bool
    person: str = ""
    signed_in: bool = False
    one_person: bool = False
    keeper: bool = False


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
