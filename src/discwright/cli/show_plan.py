"""A plan as a few lines for a person: what it is, whether it fits, what is wrong, whether it is ready."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from discwright.findings import Finding, count_words
from discwright.units import clock, lines_per_inch

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from discwright.acts.plan import PlanReport
    from discwright.acts.title import SideReport
    from discwright.plan import Plan

_COLOUR = {"stop": "bold red", "warn": "yellow", "note": "cyan"}


def show_plan(report: PlanReport, console: Console) -> None:
    """Print a plan.

    Parameters
    ----------
    report : PlanReport
    console : rich.console.Console
    """
    _show(report.plan, report.document, report.folder, (), console)


def show_side(report: SideReport, console: Console) -> None:
    """Print one planned side of a title.

    Parameters
    ----------
    report : SideReport
    console : rich.console.Console
    """
    plan, label = report.plan, report.label
    console.print(f"\n{label.title}, {label.edition} side {label.letter}", style="bold", soft_wrap=True)
    for name, one in zip(label.band_names, report.document["title"]["bands"], strict=True):
        console.print(
            f"band      {clock(one['start_s']):>7}  turn {one['turn']:6.1f}  r {one['radius_mm']:6.2f} mm  {name}",
            soft_wrap=True,
        )
    _show(plan, report.document, report.folder, report.treatments, console)


def _show(
    plan: Plan, document: dict[str, Any], folder: Path | None, treatments: tuple[str, ...], console: Console
) -> None:
    disc = plan.setup.disc
    spare_mm = plan.spare * 1e3
    verdict, room = ("fits", "to spare") if spare_mm >= 0 else ("too long", "too much")
    level_db = round(plan.level_db, 1) + 0.0  # +0.0, never -0.0
    console.print(f"Side      {disc.name}, {clock(plan.programme.duration)}, {level_db:+.1f} dB")
    console.print(
        f"{verdict:8}  {plan.start_radius * 1e3:.1f} → {plan.end_radius * 1e3:.1f} mm, "
        f"{abs(spare_mm):.1f} mm {room}, {plan.turns:.1f} turns, "
        f"mean {lines_per_inch(plan.mean_pitch):.0f} lines per inch",
        soft_wrap=True,
    )
    land = f"land {plan.land_least * 1e6:.1f} µm and more, " if math.isfinite(plan.land_least) else ""
    console.print(
        f"groove    {land}depth {plan.depth_least * 1e6:.1f} to {plan.depth_greatest * 1e6:.1f} µm, "
        f"mean pitch {plan.mean_pitch * 1e6:.0f} µm",
        soft_wrap=True,
    )
    console.print(
        f"playing   {plan.curvature_share * 100:.3f} % of the time beyond what the {plan.setup.tip.name} tip "
        "can follow",
        soft_wrap=True,
    )
    exact = document["exact"]
    if exact is not None:
        console.print(
            f"exact     {exact['radius_used_mm']:.4f} mm used by the optimum of the whole side; this plan is "
            f"{exact['gap_percent']:.4f} % above it",
            soft_wrap=True,
        )
    for sentence in treatments:
        console.print(f"treated   {sentence}", soft_wrap=True)
    _show_ladder(plan, console)
    for finding in plan.findings:
        show_finding(finding, console)
    if folder is not None:
        lathe = "" if plan.ready else "; no lathe files for a cut that is stopped"
        console.print(f"kept      {folder}{lathe}", soft_wrap=True)
    verdict = "ready to cut" if plan.ready else "not ready to cut"
    console.print(f"{count_words(plan.findings)}: {verdict}.", soft_wrap=True)


def _show_ladder(plan: Plan, console: Console) -> None:
    for rung in plan.rungs:
        place = ""
        if rung.time is not None and rung.turn is not None and rung.radius is not None:
            place = f"{clock(rung.time):>8}  turn {rung.turn:5.1f}  r {rung.radius * 1e3:6.2f} mm"
        console.print(f"up to     {rung.level_db:+5.1f} dB  {rung.limit:22}{place}", soft_wrap=True)
    for price in plan.prices:
        console.print(
            f"price     {price.level_db:+5.1f} dB  {price.spare * 1e3:6.1f} mm to spare, "
            f"{price.minutes:.1f} min of it would fill a side",
            soft_wrap=True,
        )


def show_finding(finding: Finding, console: Console) -> None:
    """Print a finding on one line.

    Parameters
    ----------
    finding : Finding
    console : rich.console.Console
    """
    from rich.text import Text

    line = Text(f"{finding.severity:8}  ", style=_COLOUR[finding.severity])
    line.append(f"{finding.code:13} ", style="default")
    if finding.time_s is not None and finding.turn is not None and finding.radius_mm is not None:
        line.append(
            f"{clock(finding.time_s):>8}  turn {finding.turn:5.1f}  r {finding.radius_mm:6.2f} mm  ",
            style="default",
        )
    if finding.time_s is not None or finding.limit:
        line.append(f"{_plain(finding.value)} against {_plain(finding.limit)} {finding.unit}. ", style="default")
    line.append(finding.remedy, style="default")
    if finding.accepted:
        line.append(f" Accepted: {finding.accepted}", style="default")
    console.print(line, soft_wrap=True)


def _plain(value: float) -> str:
    return f"{value:.4g}" if abs(value) < 1000 else f"{value:.0f}"
