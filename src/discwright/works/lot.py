"""Inspection of one lot: which discs are taken, what was found on them, class by class the verdict.

A disc counts once, in the class of its worst defect (MIL-STD-105E: a major defective has major and perhaps minor
defects, but none that is critical). Classes may need samples of different size: each is judged on the first discs of
the same random order.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from random import Random
from typing import Literal

from discwright.errors import CallError
from discwright.works.defect_classes import CLASSES, DefectClass, class_named, word_named, worse
from discwright.works.sampling import Inspection, Plan, code_letter, plan_of
from discwright.works.switching import LotResult

#: How a class is judged: by an AQL; by none in the sample at all; by none in the whole lot, disc after disc.
NONE_IN_SAMPLE: Literal["none"] = "none"
ALL_DISCS: Literal["all"] = "all"
ClassRule = float | Literal["none", "all"]


@dataclass(frozen=True)
class LotDefect:
    """One defect on one disc of the sample.

    Attributes
    ----------
    word : str
    defect_class : {"critical", "major", "minor"}
    disc : int
        Which disc of the lot, counted from 1.
    side : str
        Its letter; empty where the defect is of the whole disc.
    radius_mm, angle_deg : float or None
        Where on the face as it is played: 0° at the top, against the clock; None where it has no place.
    """

    word: str
    defect_class: DefectClass
    disc: int
    side: str = ""
    radius_mm: float | None = None
    angle_deg: float | None = None


@dataclass(frozen=True)
class ClassPlan:
    """How one defect class is judged.

    Attributes
    ----------
    defect_class : {"critical", "major", "minor"}
    rule : float, "none" or "all"
    n : int
        So many discs of the sample.
    accept : int
    plan : Plan or None
        Of the tables; None without an AQL.
    """

    defect_class: DefectClass
    rule: ClassRule
    n: int
    accept: int
    plan: Plan | None

    @property
    def reject(self) -> int:
        return self.accept + 1


@dataclass(frozen=True)
class ClassVerdict:
    """What was found of one class.

    Attributes
    ----------
    plan : ClassPlan
    found : int
        Discs whose worst defect is of this class.
    """

    plan: ClassPlan
    found: int

    @property
    def accepted(self) -> bool:
        return self.found <= self.plan.accept

    def lot_result(
        self, *, original: bool = True, steady: bool = True, authority_agrees: bool = False, lot: str = ""
    ) -> LotResult:
        """The same for the switching rules.

        Parameters
        ----------
        original, steady, authority_agrees, lot
            As in :class:`discwright.works.switching.LotResult`.
        """
        tighter = None if self.plan.plan is None else self.plan.plan.tighter_accept
        passes = tighter is not None and self.found <= tighter
        return LotResult(self.accepted, self.plan.accept, passes, original, steady, authority_agrees, "", lot)


@dataclass(frozen=True)
class LotVerdict:
    """Verdict in all: a lot is accepted when every class accepts it.

    Attributes
    ----------
    classes : tuple of ClassVerdict
        Worst class first.
    bad : int
        Nonconforming discs found, of whatever class.
    """

    classes: tuple[ClassVerdict, ...]
    bad: int

    @property
    def accepted(self) -> bool:
        return all(one.accepted for one in self.classes)

    @property
    def critical(self) -> int:
        """Discs found with a critical defect."""
        return sum(one.found for one in self.classes if one.plan.defect_class == "critical")


def class_plans(
    lot: int, level: str, rules: Mapping[DefectClass, ClassRule], inspections: Mapping[DefectClass, Inspection]
) -> tuple[ClassPlan, ...]:
    """How each class of a lot is judged.

    Parameters
    ----------
    lot : int
        Discs in it.
    level : str
    rules : mapping of defect class to float, "none" or "all"
        AQL in percent nonconforming; "none": no such disc may be in the sample the other classes take; "all": every
        disc is looked at, and none may be found.
    inspections : mapping of defect class to {"normal", "tightened", "reduced"}
        Normal for a class that is not there.

    Returns
    -------
    tuple of ClassPlan
        Worst class first.

    Raises
    ------
    CallError
    """
    code_letter(lot, level)
    tabled = {
        name: plan_of(lot, level, rule, inspections.get(name, "normal"))
        for name, rule in rules.items()
        if not isinstance(rule, str)
    }
    most = max((plan.n for plan in tabled.values()), default=0)
    if not most and ALL_DISCS not in rules.values():
        raise CallError("no class has an AQL, so no sample can be sized; give one, or have all discs looked at.")
    plans = []
    for name in CLASSES:
        if name in tabled:
            plans.append(ClassPlan(name, tabled[name].aql, tabled[name].n, tabled[name].accept, tabled[name]))
        elif name in rules:
            sized = lot if rules[name] == ALL_DISCS or not most else most
            plans.append(ClassPlan(name, rules[name], sized, 0, None))
    return tuple(plans)


def take_sample(lot: int, n: int, seed: int) -> tuple[int, ...]:
    """Which discs to take, every choice equally likely, in the order they were drawn.

    The same seed draws the same discs on every machine: only `random()` is used, which Python keeps as it is.

    Parameters
    ----------
    lot : int
        Discs in it.
    n : int
        Discs to take.
    seed : int

    Returns
    -------
    tuple of int
        Discs of the lot, counted from 1, each once.

    Raises
    ------
    CallError
    """
    if not 0 <= n <= lot:
        raise CallError(f"{n} discs cannot be taken from a lot of {lot}; give 0 to {lot}.")
    chance, moved, drawn = Random(seed), dict[int, int](), list[int]()
    # The first n steps of a shuffle; only what was moved is remembered.
    for place in range(n):
        other = place + int(chance.random() * (lot - place))
        drawn.append(moved.get(other, other) + 1)
        moved[other] = moved.get(place, place)
    return tuple(drawn)


def check_defects(sample: Sequence[int], defects: Sequence[LotDefect], edge_mm: float | None = None) -> None:
    """Refuse defects that cannot be: of discs that were not taken, of unknown words, beside the disc.

    Parameters
    ----------
    sample : sequence of int
        Discs that were taken.
    defects : sequence of LotDefect
    edge_mm : float, optional
        Radius of the disc.

    Raises
    ------
    CallError
    """
    taken = set(sample)
    for one in defects:
        word_named(one.word)
        class_named(one.defect_class)
        if one.disc not in taken:
            raise CallError(f"{one.word}: disc {one.disc} is not in the sample; give one of the discs that were taken.")
        if (one.radius_mm is None) != (one.angle_deg is None):
            raise CallError(f"{one.word}: a place has a radius and an angle; give both or neither.")
        if one.radius_mm is None or one.angle_deg is None:
            continue
        most = math.inf if edge_mm is None else edge_mm
        if not (0.0 <= one.radius_mm <= most and math.isfinite(one.radius_mm) and math.isfinite(one.angle_deg)):
            raise CallError(f"{one.word}: {one.radius_mm:g} mm, {one.angle_deg:g}° is not on the disc; mend the place.")


def judge(plans: Sequence[ClassPlan], sample: Sequence[int], defects: Sequence[LotDefect]) -> LotVerdict:
    """Verdict on a lot by the defects that were entered.

    Parameters
    ----------
    plans : sequence of ClassPlan
    sample : sequence of int
        Discs that were taken, in the order they were drawn; at least as many as the largest plan wants.
    defects : sequence of LotDefect

    Raises
    ------
    CallError
    """
    check_defects(sample, defects)
    wanted = max((one.n for one in plans), default=0)
    if len(set(sample)) < wanted:
        raise CallError(f"{len(set(sample))} discs were taken and the plan wants {wanted}; take the rest first.")
    worst: dict[int, DefectClass] = {}
    for one in defects:
        worst[one.disc] = worse(one.defect_class, worst.get(one.disc, one.defect_class))
    verdicts = []
    for plan in plans:
        own = set(sample[: plan.n])
        verdicts.append(
            ClassVerdict(plan, sum(disc in own and grade == plan.defect_class for disc, grade in worst.items()))
        )
    return LotVerdict(tuple(verdicts), len(worst))


def judge_counts(plans: Sequence[ClassPlan], found: Mapping[DefectClass, int]) -> LotVerdict:
    """Verdict on a lot by counts of nonconforming discs alone.

    Parameters
    ----------
    plans : sequence of ClassPlan
    found : mapping of defect class to int
        Discs whose worst defect is of the class; none of a class that is not there.

    Raises
    ------
    CallError
    """
    largest = max((one.n for one in plans), default=0)
    for name, count in found.items():
        sizes = [one.n for one in plans if one.defect_class == class_named(name)]
        if not sizes:
            raise CallError(f"no plan judges {name} defects; give that class an AQL.")
        if not 0 <= count <= sizes[0]:
            raise CallError(f"{count} discs of class {name} cannot be in a sample of {sizes[0]}; count again.")
    if sum(found.values()) > largest:
        raise CallError(
            f"{sum(found.values())} discs cannot be in a sample of {largest}; count each disc once, in its worst class."
        )
    verdicts = tuple(ClassVerdict(one, found.get(one.defect_class, 0)) for one in plans)
    return LotVerdict(verdicts, sum(found.values()))


def place_on_face(x: float, y: float) -> tuple[float, float]:
    """A point of the picture of a face as a place of the disc.

    Parameters
    ----------
    x, y : float
        mm to the right of the centre, and below it, as the picture's own units are.

    Returns
    -------
    radius_mm, angle_deg : float
        0° at the top, running against the clock, below 360.
    """
    angle = math.degrees(math.atan2(-x, -y)) % 360.0
    # A hair below nothing is nothing, not a whole turn.
    return math.hypot(x, y), 0.0 if angle >= 360.0 else angle + 0.0


def point_on_face(radius_mm: float, angle_deg: float) -> tuple[float, float]:
    """A place of the disc as a point of the picture of its face.

    Parameters
    ----------
    radius_mm, angle_deg : float

    Returns
    -------
    x, y : float
        mm to the right of the centre, and below it.
    """
    angle = math.radians(angle_deg)
    return -radius_mm * math.sin(angle) + 0.0, -radius_mm * math.cos(angle) + 0.0
