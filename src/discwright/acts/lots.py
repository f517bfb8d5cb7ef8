"""Lots of a run: how each is to be inspected now, what was found, what becomes of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from discwright.acts.runs import run_for
from discwright.acts.works import Hand
from discwright.errors import CallError
from discwright.files.defect_settings import DefectSettings, load_defects
from discwright.works import run_events as r
from discwright.works.defect_classes import CLASSES, DefectClass, class_named
from discwright.works.family import Family
from discwright.works.lot import ClassPlan, LotDefect, LotVerdict, class_plans, judge, judge_counts, take_sample
from discwright.works.lot_series import series_of
from discwright.works.sampling import Inspection
from discwright.works.store.ledger import Ledger, Outcome
from discwright.works.switching import BEGIN, Switching
from discwright.works.yard import Run, title_of


@dataclass(frozen=True)
class LotPlan:
    """How the next lot of a run is inspected.

    Attributes
    ----------
    run : Run
    count : int
        Discs of the lot.
    level : str
    classes : tuple of ClassPlan
    standing : dict of str to Switching
        Where the lots of this edition have brought each class.
    take : tuple of int
        Discs to take, counted from 1, in the order in which they are drawn.
    """

    run: Run
    count: int
    level: str
    classes: tuple[ClassPlan, ...]
    standing: dict[str, Switching]
    take: tuple[int, ...]

    def as_dict(self) -> dict[str, Any]:
        """Plain JSON values."""
        return {
            "run": self.run.id, "lot": len(self.run.lots) + 1, "count": self.count, "level": self.level,
            "classes": [
                {"class": one.defect_class, "aql": str(one.rule), "n": one.n, "accept": one.accept,
                 "reject": one.reject, "inspection": self.standing[one.defect_class].state,
                 "why": self.standing[one.defect_class].why, "next": self.standing[one.defect_class].next_switch}
                for one in self.classes
            ],
            "take": list(self.take),
        }  # fmt: skip


def plan_lot(
    ledger: Ledger, number: str, *, count: int | None = None, level: str = "", settings: Path | None = None,
    seed: int | None = None,
) -> LotPlan:  # fmt: skip
    """How a lot of a run is to be inspected, as its edition's lots have gone so far.

    Parameters
    ----------
    ledger : Ledger
    number : str
        Of the run.
    count : int, optional
        Discs of the lot; all that wait to be inspected without.
    level : str
        Inspection level; that of the house without.
    settings : pathlib.Path, optional
        House file of inspection.
    seed : int, optional
        Of the random sample; the same for the same lot without.

    Raises
    ------
    CallError
        If there is nothing to inspect, or inspection of a class is stopped.
    """
    family, run = run_for(ledger, number)
    many = run.to_inspect if count is None else count
    if not 1 <= many <= run.to_inspect:
        raise CallError(f"{run.id} has {run.to_inspect} discs to inspect, not {many}; give a lot of these.")
    house = load_defects(settings)
    return _planned(family, run, many, level or house.level, house, seed)


def _planned(family: Family, run: Run, count: int, level: str, house: DefectSettings, seed: int | None) -> LotPlan:
    standing = dict.fromkeys(CLASSES, BEGIN) | series_of(family.yard, run.edition)
    inspections: dict[DefectClass, Inspection] = {}
    for name in CLASSES:
        now = standing[name].inspection
        if now is None:
            raise CallError(
                f"inspection of {family.title}/{run.edition} for {name} defects is stopped ({standing[name].why}); "
                "do something about it, then take it up again with `discwright works restart`."
            )
        inspections[name] = now
    if count == 1:  # the tables begin at 2: one disc is looked at
        plans = tuple(ClassPlan(name, house.rules[name], 1, 0, None) for name in CLASSES)
    else:
        plans = class_plans(count, level, house.rules, inspections)
    most = max(one.n for one in plans)
    drawn = take_sample(count, most, run.begun * 1000 + len(run.lots) if seed is None else seed)
    return LotPlan(run, count, level, plans, standing, drawn)


def inspect_lot(
    ledger: Ledger, number: str, hand: Hand, *, count: int | None = None, found: Mapping[str, int] | None = None,
    defects: Iterable[LotDefect] = (), level: str = "", settings: Path | None = None, seed: int | None = None,
    unsteady: str = "", reduced_agreed: str = "", note: str = "",
) -> tuple[Outcome, LotPlan, LotVerdict]:  # fmt: skip
    """Write down what a lot's sample showed, and with it the verdict.

    Parameters
    ----------
    ledger : Ledger
    number : str
        Of the run.
    hand : Hand
    count, level, settings, seed
        As in :func:`plan_lot`.
    found : mapping of str to int, optional
        Nonconforming discs of the sample by the class of their worst defect; counted from `defects` without.
    defects : iterable of LotDefect
        What was seen, each with its disc.
    unsteady : str
        Why production is not steady, where it is not.
    reduced_agreed : str
        Who agrees to reduced inspection, where somebody does.
    note : str

    Returns
    -------
    outcome : Outcome
    plan : LotPlan
    verdict : LotVerdict

    Raises
    ------
    CallError
        If the counts cannot be, or there is nothing to inspect.
    """
    plan = plan_lot(ledger, number, count=count, level=level, settings=settings, seed=seed)
    seen = tuple(defects)
    if found is None:
        verdict = judge(plan.classes, plan.take, seen)
    else:
        verdict = judge_counts(plan.classes, {class_named(name): many for name, many in found.items()})
    results = []
    for one in verdict.classes:
        row = {
            "class": one.plan.defect_class, "aql": str(one.plan.rule), "n": one.plan.n, "accept": one.plan.accept,
            "reject": one.plan.reject, "found": one.found,
            "inspection": plan.standing[one.plan.defect_class].state,
        }  # fmt: skip
        results.append(row | {"passes_tighter": int(one.lot_result().passes_tighter)})
    event = r.LotInspected(
        count=plan.count, level=plan.level, verdict=r.ACCEPTED if verdict.accepted else r.REFUSED,
        results=tuple(results), defects=tuple(_plain(one) for one in seen), scrapped=verdict.bad, unsteady=unsteady,
        reduced_agreed=reduced_agreed, note=note,
    )  # fmt: skip
    return ledger.append(hand.order(event, part=plan.run.id)), plan, verdict


def _plain(one: LotDefect) -> dict[str, Any]:
    plain = {name: value for name, value in asdict(one).items() if value not in (None, "")}
    return plain | {"class": plain.pop("defect_class")}


def decide_lot(
    ledger: Ledger, number: str, lot: int, disposition: str, hand: Hand, *, good: int | None = None, note: str = ""
) -> Outcome:
    """Say what becomes of a refused lot.

    Parameters
    ----------
    ledger : Ledger
    number : str
        Of the run.
    lot : int
        Which lot of it, from 1.
    disposition : {"sorted", "scrapped", "released"}
    hand : Hand
    good : int, optional
        Good discs of a sorted lot; the others follow from the disposition.
    note : str
        Why it is released although it was refused.

    Raises
    ------
    CallError
        If a sorted lot has no count, or a released one no reason.
    """
    _, run = run_for(ledger, number)
    if disposition == r.SORTED and good is None:
        raise CallError("a sorted lot was counted; say how many are good with --good.")
    if disposition == r.RELEASED and not note.strip():
        raise CallError("a refused lot is released for a reason; say why with --note.")
    known = next((one for one in run.lots if one.number == lot), None)
    left = 0 if known is None or disposition == r.SCRAPPED else known.count - known.scrapped
    event = r.LotDisposed(lot=lot, disposition=disposition, good=left if good is None else good, note=note)
    return ledger.append(hand.order(event, part=run.id))


def restart_inspection(ledger: Ledger, edition: str, defect_class: str, why: str, hand: Hand) -> Outcome:
    """Take inspection of a class of defects up again after a stop; it begins tightened.

    Parameters
    ----------
    ledger : Ledger
    edition : str
        Code of the edition.
    defect_class : str
    why : str
        What was done.
    hand : Hand
    """
    title, id_ = title_of(" ".join(edition.split()))
    event = r.InspectionRestarted(edition=id_, defect_class=class_named(defect_class), why=why)
    return ledger.append(hand.order(event, ledger.family(title).title))
