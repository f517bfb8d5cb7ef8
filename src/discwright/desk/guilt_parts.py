"""What the page on a side's guilty part is made of: the tree by guilt, the face with its spots, tables, the form."""

from __future__ import annotations

from dataclasses import dataclass

from discwright.desk.page_parts import Option
from discwright.desk.tree_picture import TreeTwin
from discwright.desk.works_parts import Badge


@dataclass(frozen=True)
class GuiltCard:
    """One part in the tree.

    Attributes
    ----------
    id, href : str
    words : str
        Everything the card says, for those who hear it.
    x, y : float
        Of its upper left corner.
    sign, kind, condition : str
        `condition` is the state of the part.
    badge : Badge
        Guilty, suspect, doubtful or unsuspected.
    percent : str
    bar_width : float
        Of the bar that shows the probability.
    heard : str
        In how many plays.
    negative : bool
    """

    id: str
    href: str
    words: str
    x: float
    y: float
    sign: str
    kind: str
    condition: str
    badge: Badge
    percent: str
    bar_width: float
    heard: str
    negative: bool


@dataclass(frozen=True)
class GuiltTree:
    """The family of a side, marked by guilt.

    Attributes
    ----------
    words : str
        For those who hear it.
    width, height, width_rem, height_rem : float
        In units of the picture, and in letters of the page.
    cards : tuple of GuiltCard
    joins : tuple of str
        Paths from parent to child.
    heads : tuple of (float, str)
        Where each generation stands, and its name.
    twin : tuple of TreeTwin
    """

    words: str
    width: float
    height: float
    width_rem: float
    height_rem: float
    cards: tuple[GuiltCard, ...]
    joins: tuple[str, ...]
    heads: tuple[tuple[float, str], ...]
    twin: tuple[TreeTwin, ...]


@dataclass(frozen=True)
class FaceMark:
    """What one play found, drawn.

    Attributes
    ----------
    path : str
        In units of the picture, with the shape of the play.
    style : str
        Name of its line.
    soft : bool
        It is not heard.
    """

    path: str
    style: str
    soft: bool


@dataclass(frozen=True)
class FaceLabel:
    """The number of a spot beside it.

    Attributes
    ----------
    words : str
    x, y : float
    chosen : bool
    """

    words: str
    x: float
    y: float
    chosen: bool


@dataclass(frozen=True)
class FacePicture:
    """The face of the disc as it is played, with every spot.

    Attributes
    ----------
    words : str
        For those who hear it.
    half, size : float
        The picture reaches so far from the centre to each side; and twice that.
    rings : tuple of (str, float)
        Name and radius of edge, outermost and innermost groove, label, hole.
    rays : tuple of str
        Paths of the angles that are named.
    angles : tuple of FaceLabel
        Their names.
    marks : tuple of FaceMark
    labels : tuple of FaceLabel
    ring : str
        Path around the chosen spot; empty where none is.
    note : str
        What is not drawn, or drawn only about where it lies.
    """

    words: str
    half: float
    size: float
    rings: tuple[tuple[str, float], ...]
    rays: tuple[str, ...]
    angles: tuple[FaceLabel, ...]
    marks: tuple[FaceMark, ...]
    labels: tuple[FaceLabel, ...]
    ring: str
    note: str


@dataclass(frozen=True)
class PlayRow:
    """One play, and the shape it is drawn with.

    Attributes
    ----------
    letter : str
    path, style : str
        Its shape, as in the picture.
    part, href : str
    pressing, when, how, found : str
        Which pressing, when, by ear or by a capture, how many faults.
    """

    letter: str
    path: str
    style: str
    part: str
    href: str
    pressing: str
    when: str
    how: str
    found: str


@dataclass(frozen=True)
class SpotRow:
    """One spot.

    Attributes
    ----------
    number, kind, turn, angle, radius, level : str
        `level` above what the music masks.
    href : str
        The page with this spot chosen.
    chosen : bool
    badge : Badge
        Whether it is heard.
    letters : str
        Plays that heard it, and those that did not.
    heard : str
        Of each part, in how many of how many plays.
    suspects : str
        The likeliest, with their probabilities.
    """

    number: str
    kind: str
    turn: str
    angle: str
    radius: str
    level: str
    href: str
    chosen: bool
    badge: Badge
    letters: str
    heard: str
    suspects: str


@dataclass(frozen=True)
class SuspectRow:
    """One part, and what follows if it is guilty.

    Attributes
    ----------
    id, href, kind : str
    badge : Badge
    percent : str
    falls, remedy, days : str
    station_href : str
        Where it is approved or refused.
    """

    id: str
    href: str
    kind: str
    badge: Badge
    percent: str
    falls: str
    remedy: str
    days: str
    station_href: str


@dataclass(frozen=True)
class ChoiceRow:
    """Something that can be done now.

    Attributes
    ----------
    words, days, sound, expected : str
        What, how long, how likely it is enough, and how long it takes on the mean.
    """

    words: str
    days: str
    sound: str
    expected: str


@dataclass(frozen=True)
class HeardRow:
    """One fault in the form.

    Attributes
    ----------
    number : int
    kinds : tuple of Option
    place, angle : str
        As they were entered.
    """

    number: int
    kinds: tuple[Option, ...]
    place: str
    angle: str


@dataclass(frozen=True)
class HeardForm:
    """What was heard in one play, entered by hand.

    Attributes
    ----------
    key : str
    parts : tuple of Option
    ways : tuple of Option
        Heard, or seen on the part.
    rows : tuple of HeardRow
    pressing, to_turn, note : str
    none : bool
        Nothing was heard.
    sentence : str
        Why nothing was written.
    """

    key: str
    parts: tuple[Option, ...]
    ways: tuple[Option, ...]
    rows: tuple[HeardRow, ...]
    pressing: str
    to_turn: str
    note: str
    none: bool
    sentence: str
