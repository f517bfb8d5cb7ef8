"""The family tree laid out: where each part's card stands and which lines join them, in units of the picture.

Generations stand side by side, lacquer first; what was grown from a part stands beside and below it. Every number that
the template draws is worked out here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil

from discwright.desk.works_parts import Badge
from discwright.desk.works_words import marks_on, part_badge, verdict_badge
from discwright.works.family import Family, Part
from discwright.works.parts import KINDS, NEGATIVE

#: A card and the room about it; one unit is a sixteenth of the page's letter.
CARD_W, CARD_H, GAP_X, GAP_Y, EDGE = 200.0, 108.0, 32.0, 14.0, 6.0
_UNIT_REM = 16.0
#: The bar of the press life within a card.
_BAR_W = 90.0
#: Letters of run-out marks that a card has room for.
_MARK_LETTERS = 24


@dataclass(frozen=True)
class TreeCard:
    """One part in the picture.

    Attributes
    ----------
    id, href : str
    words : str
        Everything the card says, for those who hear it.
    x, y : float
        Of its upper left corner.
    sign : str
        With a true minus.
    kind, marks, heard : str
    badge : Badge
    life : str
        Pressings made of its press life; empty where nothing is pressed with it.
    life_width : float
        Of the used part of the bar.
    late : bool
    negative : bool
    """

    id: str
    href: str
    words: str
    x: float
    y: float
    sign: str
    kind: str
    marks: str
    heard: str
    badge: Badge
    life: str
    life_width: float
    late: bool
    negative: bool


@dataclass(frozen=True)
class TreeTwin:
    """One part in the list that says the same as the picture.

    Attributes
    ----------
    words, href, id : str
    begins : bool
        A list of what was grown from the part before begins with it.
    ends : tuple of str
        One empty word for each list that ends after it.
    """

    words: str
    href: str
    id: str
    begins: bool
    ends: tuple[str, ...]


@dataclass(frozen=True)
class TreePicture:
    """The tree of one side.

    Attributes
    ----------
    edition, side : str
    words : str
        For those who hear it.
    width, height : float
    width_rem, height_rem : float
        The same in letters of the page.
    cards : tuple of TreeCard
    joins : tuple of str
        Paths from parent to child.
    heads : tuple of (float, str)
        Where each generation stands, and its name.
    twin : tuple of TreeTwin
    """

    edition: str
    side: str
    words: str
    width: float
    height: float
    width_rem: float
    height_rem: float
    cards: tuple[TreeCard, ...]
    joins: tuple[str, ...]
    heads: tuple[tuple[float, str], ...]
    twin: tuple[TreeTwin, ...]


#: Room for the names of the generations.
_HEAD = 26.0


def tree_pictures(family: Family, late: frozenset[str] = frozenset()) -> tuple[TreePicture, ...]:
    """A picture for each side that has a part.

    Parameters
    ----------
    family : Family
    late : frozenset of str
        Numbers of parts whose next step is late.
    """
    sides = dict.fromkeys((one.edition, one.side) for one in family.parts.values())
    return tuple(_picture(family, edition, side, late) for edition, side in sorted(sides))


def _picture(family: Family, edition: str, side: str, late: frozenset[str]) -> TreePicture:
    own = [one for one in family.parts.values() if (one.edition, one.side) == (edition, side)]
    roots = [one for one in own if one.parent not in family.parts]
    places: dict[str, tuple[int, float]] = {}
    rows = 0.0
    for root in roots:
        rows = _place(family, root, 0, rows, places)
    cards = tuple(_card(family, one, places[one.id], one.id in late) for one in own)
    deepest = max((column for column, _ in places.values()), default=0)
    width = 2 * EDGE + (deepest + 1) * CARD_W + deepest * GAP_X
    height = 2 * EDGE + _HEAD + max(1.0, rows) * (CARD_H + GAP_Y) - GAP_Y
    count = f"{len(own)} {'part' if len(own) == 1 else 'parts'}"
    return TreePicture(
        edition, side, f"Family of side {side}, {edition}: {count}", width, height, _rem(width), _rem(height), cards,
        tuple(_join(places[one.parent], places[one.id]) for one in own if one.parent in places),
        tuple((EDGE + column * (CARD_W + GAP_X), KINDS[column]) for column in range(deepest + 1)),
        tuple(_twin(family, roots)),
    )  # fmt: skip


def _place(family: Family, part: Part, column: int, row: float, places: dict[str, tuple[int, float]]) -> float:
    """Put a part and everything grown from it from a row on; the first row below them is given back."""
    places[part.id] = (column, row)
    below = row
    for child in part.children:
        below = _place(family, family.parts[child], column + 1, below, places)
    return max(row + 1.0, below)


def _corner(place: tuple[int, float]) -> tuple[float, float]:
    column, row = place
    return EDGE + column * (CARD_W + GAP_X), EDGE + _HEAD + row * (CARD_H + GAP_Y)


def _join(parent: tuple[int, float], child: tuple[int, float]) -> str:
    """From the right edge of one card to the left edge of another, at right angles."""
    (x0, y0), (x1, y1) = _corner(parent), _corner(child)
    middle = x1 - GAP_X / 2
    return f"M{x0 + CARD_W:g} {y0 + CARD_H / 2:g}H{middle:g}V{y1 + CARD_H / 2:g}H{x1:g}"


def _card(family: Family, part: Part, place: tuple[int, float], late: bool) -> TreeCard:
    x, y = _corner(place)
    life, share = _life(family, part)
    marks = " ".join(part.marks)
    return TreeCard(
        id=part.id, href=f"/works/parts/{part.id}", words=part_words(family, part, late), x=x, y=y,
        sign="−" if part.sign == NEGATIVE else "+", kind=part.kind, marks=_short(marks), heard=_heard(part),
        badge=part_badge(part), life=life, life_width=round(_BAR_W * share, 1), late=late,
        negative=part.sign == NEGATIVE,
    )  # fmt: skip


def _life(family: Family, part: Part) -> tuple[str, float]:
    """Pressings of the press life, in words and as a share that is never more than the whole."""
    if part.sign != NEGATIVE:
        return "", 0.0
    made, most = family.pressings_of(part), family.limits.press_life
    return f"{made} of {most}", min(1.0, made / most)


def _heard(part: Part) -> str:
    if not part.played:
        return ""
    if part.faults is None:
        return "played"
    return "played, no faults" if part.faults == 0 else f"played, {part.faults} fault{'' if part.faults == 1 else 's'}"


def part_words(family: Family, part: Part, late: bool) -> str:
    """A part in a sentence: what its card shows.

    Parameters
    ----------
    family : Family
    part : Part
    late : bool
    """
    badge, verdict = part_badge(part), verdict_badge(part)
    said = [
        f"{part.id}, {part.kind}, {'negative' if part.sign == NEGATIVE else 'positive'}",
        badge.words,
        verdict.words if verdict is not None and verdict.words != badge.words else "",
        _heard(part),
        f"{_life(family, part)[0]} pressings" if part.sign == NEGATIVE else "",
        f"marks {marks_on(part)}" if part.marks else "",
        "late" if late else "",
    ]
    return ", ".join(one for one in said if one)


def _twin(family: Family, roots: list[Part]) -> Iterator[TreeTwin]:
    flat = list(_flat(family, roots, 0))
    for at, (part, level) in enumerate(flat):
        after = flat[at + 1][1] if at + 1 < len(flat) else 0
        begins = at > 0 and level > flat[at - 1][1]
        ends = ("",) * max(0, level - after)
        yield TreeTwin(part_words(family, part, False), f"/works/parts/{part.id}", part.id, begins, ends)


def _flat(family: Family, parts: list[Part], level: int) -> Iterator[tuple[Part, int]]:
    for part in parts:
        yield part, level
        yield from _flat(family, [family.parts[one] for one in part.children], level + 1)


def _short(text: str) -> str:
    return text if len(text) <= _MARK_LETTERS else f"{text[: _MARK_LETTERS - 1]}…"


def _rem(units: float) -> float:
    return ceil(units / _UNIT_REM * 100) / 100
