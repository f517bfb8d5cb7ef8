"""A plan as a few lines for a person: what it is, whether it fits, what is wrong, whether it is ready."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from discwright.findings import Finding, count_words
from discwright.units import clock, lines_per_inch

if TYPE_CHECKING:
    from rich.console import Console

    from discwright.acts.plan import PlanReport

_COLOUR = {"stop": "bold red", "warn": "yellow", "note": "cyan"}


def show_plan(report: PlanReport, console: Console) -> None:
    """Print a plan.

    Parameters
    ----------
    report : PlanReport
    console : rich.console.Console
    """
    plan = report.plan
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
    exact = report.document["exact"]
    if exact is not None:
        console.print(
            f"exact     {exact['radius_used_mm']:.4f} mm used by the optimum of the whole side; this plan is "
            f"{exact['gap_percent']:.4f} % above it",
            soft_wrap=True,
        )
    for finding in plan.findings:
        _show_finding(finding, console)
    if report.folder is not None:
        console.print(f"kept      {report.folder}", soft_wrap=True)
    verdict = "ready to cut" if plan.ready else "not ready to cut"
    console.print(f"{count_words(plan.findings)}: {verdict}.", soft_wrap=True)


def _show_finding(finding: Finding, console: Console) -> None:
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
    console.print(line, soft_wrap=True)


def _plain(value: float) -> str:
    return f"{value:.4g}" if abs(value) < 1000 else f"{value:.0f}"
