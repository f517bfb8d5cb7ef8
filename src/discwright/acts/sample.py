"""Sample a lot: the plan to go by, its characteristic, which discs to take, and the verdict on what was found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import cast

from discwright.acts.plate_findings import finding
from discwright.acts.sample_report import SampleReport
from discwright.errors import CallError
from discwright.files.defect_settings import DefectSettings, load_defects
from discwright.findings import Finding, sort_findings
from discwright.works.defect_classes import DefectClass, Hearing, class_named, word_named, worse
from discwright.works.lot import ClassRule, LotVerdict, class_plans, judge_counts, take_sample
from discwright.works.operating_characteristic import curve, marks
from discwright.works.sampling import Plan, inspection_named, plan_of

#: The class whose AQL is meant where one number is given for all.
MAIN_CLASS: DefectClass = "major"
#: Defects in one call; more are a slip of the hand.
DEFECTS_MOST = 10_000


@dataclass(frozen=True)
class SampleOrder:
    """A lot, and how it is to be judged; what is None is taken from the inspection settings.

    Attributes
    ----------
    lot : int
        Discs in it.
    level : str or None
        Inspection level.
    aql : float or None
        Percent nonconforming: of the one plan, or of the major class where classes are judged.
    inspection : str
        normal, tightened or reduced.
    found : int, mapping of str to int, or None
        Nonconforming discs found: a number judges the one plan, a mapping judges class by class.
    defects : sequence of str or None
        Words of defects found, as in `read_defects`; judged class by class.
    seed : int or None
        Draws which discs to take.
    """

    lot: int
    level: str | None = None
    aql: float | None = None
    inspection: str = "normal"
    found: int | Mapping[str, int] | None = None
    defects: Sequence[str] | None = None
    seed: int | None = None


def sample(order: SampleOrder, *, settings: Path | None = None) -> SampleReport:
    """The plan of a lot, and where something was found, the verdict.

    Parameters
    ----------
    order : SampleOrder
    settings : pathlib.Path, optional
        A house file that replaces some of the shipped inspection settings.

    Returns
    -------
    SampleReport

    Raises
    ------
    CallError, SettingsError
    """
    if order.found is not None and order.defects is not None:
        raise CallError("what was found is told in counts or in words; give one of them.")
    house = load_defects(settings)
    level, inspection = order.level or house.level, inspection_named(order.inspection)
    rules = dict(house.rules)
    if order.aql is not None:
        rules[MAIN_CLASS] = order.aql
    by_class = order.aql is None or order.defects is not None or isinstance(order.found, Mapping)
    plan = plan_of(order.lot, level, _main_aql(rules), inspection)
    plans = class_plans(order.lot, level, rules, dict.fromkeys(rules, inspection)) if by_class else ()
    report = SampleReport(
        plan=plan,
        oc=curve(plan),
        marks=marks(plan),
        poisson_marks=marks(plan, "poisson"),
        classes=plans,
        take=() if order.seed is None else take_sample(order.lot, max((plan.n, *(one.n for one in plans))), order.seed),
        verdict=None,
        found=None,
        findings=sort_findings(_notes(plan)),
    )
    if isinstance(order.found, int):
        if by_class:
            raise CallError("one count does not say of which class; write --found major=2, or give --aql.")
        return _judged(report, order.found)
    if order.found is not None:
        return _by_class(report, {class_named(name): count for name, count in order.found.items()})
    if order.defects is not None:
        return _by_class(report, read_defects(order.defects, house, order.lot))
    return report


def read_defects(words: Sequence[str], house: DefectSettings, lot: int) -> dict[DefectClass, int]:
    """Words of defects as counts of discs, each disc in its worst class.

    Parameters
    ----------
    words : sequence of str
        ``scratch``, ``pit/heard`` or ``bump/jumps``; with a disc before it, ``12:pit/heard``, where a disc has several.
        A word without a disc is a disc of its own.
    house : DefectSettings
    lot : int
        Discs in it.

    Raises
    ------
    CallError
    """
    if len(words) > DEFECTS_MOST:
        raise CallError(f"{len(words)} defects are more than a sample has; give at most {DEFECTS_MOST}.")
    worst: dict[str, DefectClass] = {}
    for k, text in enumerate(words):
        disc, colon, rest = text.strip().rpartition(":")
        word, slash, hearing = rest.strip().partition("/")
        if colon and not (disc.isascii() and disc.isdigit() and 1 <= int(disc[:12]) <= lot):
            raise CallError(f"“{text[:40]}”: “{disc[:20]}” is no disc of a lot of {lot}; write for example 12:pit.")
        word_named(word)
        # A wrong word for what was heard is refused by the settings.
        grade = house.class_of(word, cast("Hearing", hearing if slash else "seen"))
        key = f"disc {int(disc)}" if colon else f"word {k}"
        worst[key] = worse(grade, worst.get(key, grade))
    grades = list(worst.values())
    return {grade: grades.count(grade) for grade in dict.fromkeys(grades)}


def write_chart(report: SampleReport, path: Path) -> SampleReport:
    """Draw the characteristic of the plan; nothing that is there is written over.

    Parameters
    ----------
    report : SampleReport
    path : pathlib.Path
        PNG or SVG, not there yet.

    Raises
    ------
    CallError
    """
    from discwright.files.oc_picture import draw_oc

    if path.exists() or path.is_symlink():
        raise CallError(f"{path}: is there already; choose another name for the chart, or move that file away.")
    draw_oc(path, report.plan)
    return replace(report, chart=path)


def _main_aql(rules: Mapping[DefectClass, ClassRule]) -> float:
    """AQL of the plan that is told first: of the major class, or else of the first class that has one."""
    for name in (MAIN_CLASS, *rules):
        rule = rules[name]
        if not isinstance(rule, str):
            return rule
    raise CallError("the settings give no class an AQL; give --aql.")


def _judged(report: SampleReport, found: int) -> SampleReport:
    plan = report.plan
    if not 0 <= found <= plan.n:
        raise CallError(f"{found} nonconforming discs cannot be in a sample of {plan.n}; count again.")
    refused = [] if found <= plan.accept else [_refused("nonconforming", found, plan.accept)]
    return replace(report, found=found, findings=sort_findings([*report.findings, *refused]))


def _by_class(report: SampleReport, found: Mapping[DefectClass, int]) -> SampleReport:
    verdict: LotVerdict = judge_counts(report.classes, found)
    refused = [
        _refused(one.plan.defect_class, one.found, one.plan.accept) for one in verdict.classes if not one.accepted
    ]
    return replace(report, verdict=verdict, findings=sort_findings([*report.findings, *refused]))


def _refused(name: str, found: int, accept: int) -> Finding:
    discs = "disc" if found == 1 else "discs"
    ways = "sort it or scrap it" if name == "critical" else "sort it, scrap it, or release it with a reason"
    none = "" if accept else f"{found} {name} where none may be found. "
    return finding(
        "lot_refused", "stop", found, accept, f"{name} {discs}", f"{none}The lot is not accepted: hold it, then {ways}."
    )


def _notes(plan: Plan) -> list[Finding]:
    found = []
    if plan.inspect_all:
        found.append(
            finding(
                "inspect_all", "note", plan.table_n, plan.lot, "discs",
                "The table asks for as many discs as the lot has, or more: look at every disc.",
            )
        )  # fmt: skip
    if plan.arrow != "none":
        way = "below" if plan.arrow == "down" else "above"
        found.append(
            finding(
                "followed_arrow", "note", plan.table_n, 0, "discs",
                f"At letter {plan.table_letter} the table has an arrow: the plan is that of letter {plan.letter} {way} "
                "it, sample size and all.",
            )
        )  # fmt: skip
    if plan.unsettled:
        found.append(
            finding(
                "unsettled_cell", "note", plan.aql, 0, "% AQL",
                "Printed tables differ in the cell of letter A at AQL 10: hold it against your own copy of the "
                "standard, or take another level.",
            )
        )  # fmt: skip
    return found
