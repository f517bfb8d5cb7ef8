"""Whether it is cheaper on the mean to play one more part before anything is made again."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from discwright.inspection.locate import Guilt
from discwright.inspection.remaking import PLAY, Way, choices
from discwright.works.family import Family

#: So many spots are told apart by the play, the most telling ones; of others it changes nothing here.
_MOST_SPOTS = 6


@dataclass(frozen=True)
class PlayFirst:
    """A play, and then what is cheapest by what it tells.

    Attributes
    ----------
    part : str
    days : float
        Of the play.
    expected_days : float
        With what follows, on the mean over everything it can tell.
    """

    part: str
    days: float
    expected_days: float


#: Who may be guilty of a spot once the part was played and reported it, or did not.
After = Callable[[int, bool], Guilt]


def play_first(
    family: Family, part: str, heard: Sequence[Guilt], after: After, found: Sequence[Way], days: Mapping[str, float],
    chances: tuple[float, float],
) -> PlayFirst:  # fmt: skip
    """What one more play of a part costs with everything that follows.

    Parameters
    ----------
    family : Family
    part : str
        What is played.
    heard : sequence of Guilt
        Of each spot that is heard, as it stands; the spots are taken as independent of each other.
    after : callable
        Of a spot by its place in `heard`: who may be guilty once the play reported it, or did not.
    found : sequence of Way
        What can be done.
    days : mapping of str to float
        For each kind of part, and a play.
    chances : (float, float)
        Probability that a play reports a fault that is there, and one that is not.

    Returns
    -------
    PlayFirst
    """
    detect, false_alarm = chances
    telling = sorted(range(len(heard)), key=lambda k: -heard[k].falls_bits.get(part, 0.0))[:_MOST_SPOTS]
    reports = {k: detect * heard[k].carries[part] + false_alarm * (1.0 - heard[k].carries[part]) for k in telling}
    told = {(k, report): after(k, report) for k in telling for report in (True, False)}
    rest = [one.carries for k, one in enumerate(heard) if k not in reports]
    parts = [one for one in heard[0].carries if one in family.parts]
    clean = {one: math.prod(1.0 - it[one] for it in rest) for one in parts}
    total = 0.0
    for outcome in product((True, False), repeat=len(telling)):
        chance = math.prod(
            reports[k] if report else 1.0 - reports[k] for k, report in zip(telling, outcome, strict=True)
        )
        now = [told[k, report].carries for k, report in zip(telling, outcome, strict=True)]
        carries = {one: 1.0 - clean[one] * math.prod(1.0 - it[one] for it in now) for one in parts}
        total += chance * choices(family, found, carries, days)[0].expected_days
    return PlayFirst(part, days[PLAY], days[PLAY] + total)
