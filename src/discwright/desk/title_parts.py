"""What the pages of titles are made of: titles, editions, sides, candidates, folders and uploads."""

from __future__ import annotations

from dataclasses import dataclass

from discwright.desk.page_parts import PlanLink


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
