"""A lot's plan as a few lines for a person: how many discs, when to accept, the characteristic, the verdict."""

from __future__ import annotations

from typing import TYPE_CHECKING

from discwright.cli.show_plan import show_finding
from discwright.findings import count_words

if TYPE_CHECKING:
    from rich.console import Console

    from discwright.acts.sample_report import SampleReport
    from discwright.works.sampling import Plan

#: So many discs to take are printed; the JSON has them all.
_TAKE_SHOWN = 200
#: Of the marks, these are printed.
_MARKS_SHOWN = (0.95, 0.50, 0.10)


def show_sample(report: SampleReport, console: Console) -> None:
    """Print a lot's plan and verdict.

    Parameters
    ----------
    report : SampleReport
    console : rich.console.Console
    """
    plan = report.plan
    console.print(
        f"Sample    lot of {plan.lot}, level {plan.level}, AQL {plan.aql:g} %, {plan.inspection}: letter "
        f"{plan.table_letter}{'' if plan.letter == plan.table_letter else f', by the arrow {plan.letter}'}",
        soft_wrap=True,
    )
    if not report.classes:
        console.print(f"take      {_take_words(plan.n, plan.lot)}; {_rule(plan.accept)}", soft_wrap=True)
    _show_classes(report, console)
    _show_characteristic(report, plan, console)
    if report.take:
        shown = sorted(report.take)[:_TAKE_SHOWN]
        more = len(report.take) - len(shown)
        rest = f" and {more} more; --json prints them all" if more else ""
        console.print(f"discs     {', '.join(map(str, shown))}{rest}", soft_wrap=True)
    if report.chart is not None:
        console.print(f"chart     {report.chart}", soft_wrap=True)
    for one in report.findings:
        show_finding(one, console)
    console.print(_last_words(report), soft_wrap=True)


def _take_words(n: int, lot: int) -> str:
    return f"all {n} discs of the lot" if n == lot else f"{n} discs"


def _rule(accept: int) -> str:
    if accept == 0:
        return "accept with no nonconforming disc, refuse with 1"
    return f"accept with {accept} nonconforming or fewer, refuse with {accept + 1}"


def _show_classes(report: SampleReport, console: Console) -> None:
    judged = {} if report.verdict is None else {one.plan.defect_class: one for one in report.verdict.classes}
    for one in report.classes:
        by = {"none": "none in the sample", "all": "every disc"}.get(str(one.rule), f"AQL {one.rule:>4} %")
        own = judged.get(one.defect_class)
        told = "" if own is None else f"; found {own.found}: {'accepted' if own.accepted else 'refused'}"
        console.print(
            f"{one.defect_class:<9} {by:<18}  {_take_words(one.n, report.plan.lot)}, {_rule(one.accept)}{told}",
            soft_wrap=True,
        )


def _show_characteristic(report: SampleReport, plan: Plan, console: Console) -> None:
    if plan.inspect_all:
        console.print("accepts   by all its discs, not by chance: every nonconforming one is found", soft_wrap=True)
        return
    at_aql = report.as_dict()["accept_probability_at_aql"]
    marks = [one for one in report.marks if one.accept_probability in _MARKS_SHOWN]
    told = ", ".join(f"{100 * one.accept_probability:.0f} at {one.percent_nonconforming:.3g} %" for one in marks)
    console.print(f"accepts   {100 * at_aql:.1f} of 100 lots at the AQL; {told}", soft_wrap=True)


def _last_words(report: SampleReport) -> str:
    words = count_words(report.findings)
    if report.accepted is None:
        return f"{words[:1].upper()}{words[1:]}. Take the discs, look at them, and give what you found with --found."
    verdict = "accepted; scrap what was found bad" if report.accepted else "not accepted; hold it"
    return f"{words[:1].upper()}{words[1:]}: the lot is {verdict}."
