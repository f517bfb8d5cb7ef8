"""Where each side of a title is, what it waits for, and from when on that is late."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from discwright.works.against import is_approved, released
from discwright.works.family import Family, Part
from discwright.works.parts import KINDS, LACQUER, MASTER, MOTHER, STAMPER

#: What a side can wait for, with the words for it.
WAITS = {
    "plan": "a plan",
    "cut": "the cut",
    "silver": "silvering",
    "plating": "plating",
    "separation": "separation",
    "mother": "a mother",
    "stamper": "a stamper",
    "test_play": "the test play",
    "verdict": "a verdict",
    "again": "a new part",
    "press": "the press",
    "taking_off": "the end of the run",
    "more": "more pressings",
    "": "nothing",
}
#: An edition in this format has no disc.
_TAPE = "tape"


@dataclass(frozen=True)
class SideStanding:
    """One side of one edition.

    Attributes
    ----------
    edition, side : str
    format : str
    part : str
        The part that is furthest along; empty before the first.
    state : str
        Of that part, or ``"planned"`` or ``""``.
    waits_for : str
        A key of :data:`WAITS`.
    since : str
        When its last step was.
    late_at : str
        From when on it is late, ISO 8601; empty where nothing says so.
    pressings : int
        Made of this side by all its negatives.
    quantity : int
        Ordered.
    """

    edition: str
    side: str
    format: str
    part: str
    state: str
    waits_for: str
    since: str
    late_at: str
    pressings: int
    quantity: int


def standings(family: Family) -> tuple[SideStanding, ...]:
    """Every side of every edition that is a disc.

    Parameters
    ----------
    family : Family
    """
    told = [
        (str(one["id"]), str(letter), one)
        for one in family.editions
        if one.get("format") != _TAPE
        for letter in _sides(family, one)
    ]
    return tuple(_standing(family, edition, side, about) for edition, side, about in told)


def _sides(family: Family, edition: dict[str, object]) -> list[str]:
    """The sides the title file fixes, and those that were cut all the same."""
    fixed = edition.get("sides")
    letters = [str(one) for one in fixed] if isinstance(fixed, list | tuple) else []
    own = {one.side for one in family.plans if one.edition == edition["id"]}
    own |= {one.side for one in family.parts.values() if one.edition == edition["id"]}
    return list(dict.fromkeys([*letters, *sorted(own)]))


def _standing(family: Family, edition: str, side: str, about: dict[str, object]) -> SideStanding:
    parts = [one for one in family.parts.values() if (one.edition, one.side) == (edition, side)]
    alive = [one for one in parts if _counts(family, one)]
    front = max(alive, key=lambda one: (KINDS.index(one.kind), one.state == "at_press", one.last), default=None)
    quantity, pressings = _whole(about.get("quantity")), sum(map(family.pressings_of, parts))
    plan = family.plan(edition, side)
    waits = _waits(family, front, plan is not None, bool(parts), pressings, quantity)
    late = [_due(str(about.get("due") or ""))] if waits else []
    if front is not None and front.kind == LACQUER and waits in ("silver", "plating"):
        late.append(_hours_on(front.born_at, family.limits.cut_to_plate_h))
    return SideStanding(
        edition, side, str(about.get("format") or ""), front.id if front else "",
        front.state if front else "planned" if plan else "", waits,
        front.last_at if front else family.last_at, min((one for one in late if one), default=""), pressings, quantity,
    )  # fmt: skip


def _counts(family: Family, part: Part) -> bool:
    """The part can still lead to a disc."""
    path = (part, *family.ancestors(part))
    return part.state != "scrapped" and not any(one.verdict in ("refused", "recalled") for one in path)


def _waits(family: Family, part: Part | None, planned: bool, begun: bool, pressings: int, quantity: int) -> str:
    if quantity and pressings >= quantity and (part is None or part.state != "at_press"):
        return ""
    if part is None:
        return "again" if begun else "cut" if planned else "plan"
    if part.kind == LACQUER:
        return "again" if part.children else "plating" if part.state == "silvered" else "silver"
    if part.state == "plated":
        return "separation"
    if part.state == "at_press":
        return "taking_off"
    if part.kind == MASTER:
        return "mother"
    if part.kind == MOTHER:
        if is_approved(family, part):
            return "stamper"
        return "verdict" if part.played else "test_play"
    return _stamper_waits(family, part, pressings)


def _stamper_waits(family: Family, part: Part, pressings: int) -> str:
    assert part.kind == STAMPER
    if not released(family, part):
        mother = family.parts[part.parent]
        return "verdict" if part.played or mother.played else "test_play"
    if family.pressings_of(part) >= family.limits.press_life:
        return "stamper"
    return "more" if pressings else "press"


def late_at(sides: tuple[SideStanding, ...]) -> str:
    """From when on the first of them is late; empty where none can be.

    Parameters
    ----------
    sides : tuple of SideStanding
    """
    return min((one.late_at for one in sides if one.late_at), default="")


def is_open(sides: tuple[SideStanding, ...]) -> bool:
    """Something is still waited for; a title without sides is open too.

    Parameters
    ----------
    sides : tuple of SideStanding
    """
    return not sides or any(one.waits_for for one in sides)


def _whole(value: object) -> int:
    return int(value) if isinstance(value, int | float) else 0


def _due(day: str) -> str:
    """A due day is over at its end."""
    try:
        return f"{date.fromisoformat(day) + timedelta(days=1)}T00:00:00.000000+00:00"
    except (ValueError, OverflowError):
        return ""


def _hours_on(at: str, hours: float) -> str:
    return (datetime.fromisoformat(at) + timedelta(hours=hours)).isoformat(timespec="microseconds")
