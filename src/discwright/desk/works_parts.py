"""What the pages of the ledger are made of: standings, parts, lines, forms; numbers as they are read."""

from __future__ import annotations

from dataclasses import dataclass

from discwright.desk.page_parts import FindingRow, Option


@dataclass(frozen=True)
class Badge:
    """A shape with its word.

    Attributes
    ----------
    state : str
        Name of the shape.
    words : str
    """

    state: str
    words: str


# The board ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class SidePlace:
    """Where a side is.

    Attributes
    ----------
    edition, side, format : str
    part, part_href : str
        The part that is furthest along; empty before the first.
    badge : Badge
        Its state.
    waits : str
        What it waits for.
    since, since_at : str
        How long, and from when on.
    late : str
        ``late by …``, or empty.
    due : str
    made : str
        Pressings of those ordered; empty where none is ordered.
    """

    edition: str
    side: str
    format: str
    part: str
    part_href: str
    badge: Badge
    waits: str
    since: str
    since_at: str
    late: str
    due: str
    made: str


@dataclass(frozen=True)
class BoardRow:
    """A title on the board.

    Attributes
    ----------
    catalogue, name, href : str
    late : str
        Of its latest side, or empty.
    sides : tuple of SidePlace
    """

    catalogue: str
    name: str
    href: str
    late: str
    sides: tuple[SidePlace, ...]


@dataclass(frozen=True)
class Paging:
    """Which stretch of a long list is shown.

    Attributes
    ----------
    words : str
    earlier, later : str
        Addresses; empty at the ends.
    """

    words: str
    earlier: str
    later: str


@dataclass(frozen=True)
class FoundRow:
    """Something a number leads to.

    Attributes
    ----------
    what, shown, title, part, href : str
    """

    what: str
    shown: str
    title: str
    part: str
    href: str


@dataclass(frozen=True)
class NewTitle:
    """A title of the folder that is not in the ledger.

    Attributes
    ----------
    id, name, catalogue : str
    key : str
        For taking it in once.
    """

    id: str
    name: str
    catalogue: str
    key: str


# A family ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class KeptPlanRow:
    """A plan that was kept for a side.

    Attributes
    ----------
    edition, side, fingerprint, level, when : str
    href : str
        Planned side of the desk, where the folder holds it.
    current : bool
        The one to cut from.
    """

    edition: str
    side: str
    fingerprint: str
    level: str
    when: str
    href: str
    current: bool


@dataclass(frozen=True)
class CutForm:
    """What is told of a lacquer that was cut.

    Attributes
    ----------
    number : int
        Of the form on its page.
    key, edition, side : str
    plans : tuple of Option
        Plans of this side in the folder.
    mark : str
        Matrix number of the first of them.
    blank_mm : str
    may_cut, may_keep : bool
    """

    number: int
    key: str
    edition: str
    side: str
    plans: tuple[Option, ...]
    mark: str
    blank_mm: str
    may_cut: bool
    may_keep: bool


@dataclass(frozen=True)
class WorksFinding:
    """A finding against a line of the ledger.

    Attributes
    ----------
    row : FindingRow
    line : str
    href : str
        The line, on the page of its part; empty where it is of the title.
    """

    row: FindingRow
    line: str
    href: str


# A part ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class PartLink:
    """A part, to go to.

    Attributes
    ----------
    id, href, kind : str
    badge : Badge
    """

    id: str
    href: str
    kind: str
    badge: Badge


@dataclass(frozen=True)
class LineRow:
    """One line of the ledger.

    Attributes
    ----------
    seq, when : str
        Number, and when in the zone of the works.
    by, station, what, said, note : str
    accepted : str
        Why what spoke against it was accepted.
    undone : bool
        It counts as if it had never been.
    instead : str
        What it counts as, where it was put right.
    clock : str
        What the clock said, where it stood before the line before.
    other : str
        Number of the part it is about, where that is another one.
    """

    seq: str
    when: str
    by: str
    station: str
    what: str
    said: str
    note: str
    accepted: str
    undone: bool
    instead: str
    clock: str
    other: str
