"""What must be made again where a part is guilty, from which part it can go on, and how many days that takes.

With a guilty part falls everything that was grown from it after it had the fault. A way to a good stamper goes on from
a part that stays good: an existing stamper, a mother that may give another one, a master that may give another mother;
or from nothing, with a new lacquer.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from discwright.works.family import Family, Part
from discwright.works.parts import GROWS, KINDS, LACQUER, STAMPER

#: A test play, among the days of the kinds of part.
PLAY = "play"


@dataclass(frozen=True)
class Way:
    """A way to a good stamper.

    Attributes
    ----------
    start : str
        The part it goes on from; empty for a new lacquer.
    makes : tuple of str
        Kinds of the parts to be made, in order; none where the stamper is there.
    days : float
    """

    start: str
    makes: tuple[str, ...]
    days: float


@dataclass(frozen=True)
class Choice:
    """A way, chosen while nobody knows for sure who is guilty.

    Attributes
    ----------
    way : Way
    sound : float
        Probability that the part it goes on from carries no fault.
    expected_days : float
        Its days, and those of the ways that are left where it fails.
    """

    way: Way
    sound: float
    expected_days: float


def fallen(family: Family, part: Part, since: str, made: Mapping[str, str]) -> tuple[str, ...]:
    """A guilty part and everything that was grown from it with the fault.

    Parameters
    ----------
    family : Family
    part : Part
    since : str
        When the last child was made that was still grown from it without; empty if it had the fault from its making on.
    made : mapping of str to str
        When each part was made; as texts that sort by time.

    Returns
    -------
    tuple of str
        Eldest first; what is scrapped is among them.
    """
    found = [part.id]
    for child in part.children:
        if made[child] > since:
            one = family.parts[child]
            found += [child, *(below.id for below in family.descendants(one))]
    return tuple(sorted(found, key=lambda one: made[one]))


def ways(
    family: Family, parts: Iterable[Part], lost: Iterable[str], days: Mapping[str, float]
) -> tuple[Way, ...]:  # fmt: skip
    """Every way to a good stamper, the shortest first.

    Parameters
    ----------
    family : Family
    parts : iterable of Part
        Those of the side.
    lost : iterable of str
        Parts that cannot be gone on from.
    days : mapping of str to float
        For each kind of part, from when what it grows on is ready until it is; and for :data:`PLAY`.

    Returns
    -------
    tuple of Way
        The last resort, a new lacquer, among them.
    """
    gone = set(lost)
    found = [
        _way(one.id, KINDS[KINDS.index(one.kind) + 1 :], days)
        for one in parts if one.id not in gone and _can_go_on(family, one)
    ]  # fmt: skip
    found.append(_way("", KINDS, days))
    return tuple(sorted(found, key=lambda one: (one.days, len(one.makes))))


def _way(start: str, makes: tuple[str, ...], days: Mapping[str, float]) -> Way:
    # A new mother is heard before stampers are grown from her.
    heard = days[PLAY] if "mother" in makes else 0.0
    return Way(start, makes, sum(days[kind] for kind in makes) + heard)


def _can_go_on(family: Family, part: Part) -> bool:
    """It is there, nobody condemned it or what it was grown from, and it may give another."""
    path = (part, *family.ancestors(part))
    if part.state == "scrapped" or any(one.verdict in ("refused", "recalled") for one in path):
        return False
    if part.kind == STAMPER:
        return family.pressings_of(part) < family.limits.press_life
    if part.kind == LACQUER and part.played:
        return False
    return part.kind in GROWS and len(part.children) < family.limits.children(part.kind)


def choices(
    family: Family, found: Sequence[Way], carries: Mapping[str, float], days: Mapping[str, float]
) -> tuple[Choice, ...]:
    """What each way costs on the mean, the cheapest first.

    Where a way fails, because the part it goes on from carries a fault, the next part up the same line is gone on from,
    and in the end a new lacquer is cut.

    Parameters
    ----------
    family : Family
    found : sequence of Way
        As :func:`ways` has them, with a new lacquer among them.
    carries : mapping of str to float
        Probability that a part carries a fault.
    days : mapping of str to float
        As for :func:`ways`.

    Returns
    -------
    tuple of Choice
    """
    by_start = {one.start: one for one in found}
    told = [
        Choice(one, 1.0 - carries.get(one.start, 0.0), _expected(family, by_start, one, carries, days)) for one in found
    ]
    return tuple(sorted(told, key=lambda one: (one.expected_days, one.way.days, len(one.way.makes))))


def _expected(
    family: Family, by_start: Mapping[str, Way], way: Way, carries: Mapping[str, float], days: Mapping[str, float]
) -> float:
    """Days of a way and of what is left where it fails.

    A part above another carries a fault only together with it, so that the chance of failing again, once a part has
    failed, is the quotient of the two.
    """
    total, reached, above = way.days, 1.0, 1.0
    for part in _line(family, by_start, way.start):
        # `reached`: the way that goes on from here is tried at all; `above`: what was known of the part before it.
        risk = carries.get(part, 0.0)
        reached *= min(1.0, risk / above) if above > 0 else 0.0
        above = risk
        total += reached * (days[PLAY] + _next_days(family, by_start, part))
    return total


def _line(family: Family, by_start: Mapping[str, Way], start: str) -> Iterator[str]:
    """The part a way goes on from, and those above it that could be gone on from instead."""
    if not start:
        return
    yield start
    for one in family.ancestors(family.parts[start]):
        if one.id in by_start:
            yield one.id


def _next_days(family: Family, by_start: Mapping[str, Way], failed: str) -> float:
    above = (one.id for one in family.ancestors(family.parts[failed]) if one.id in by_start)
    return by_start[next(above, "")].days
