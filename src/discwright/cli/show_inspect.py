"""A test play as a few lines for a person."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from discwright.cli.show_plan import show_finding
from discwright.units import clock

if TYPE_CHECKING:
    from rich.console import Console

    from discwright.acts.inspect_report import InspectReport

#: Faults listed one by one; all of them are in the JSON and on the picture.
_LISTED = 12


def show_inspect(report: InspectReport, console: Console) -> None:
    """Print a test play.

    Parameters
    ----------
    report : InspectReport
    console : rich.console.Console
    """
    played, limits = report.played, report.limits_told()
    console.print(f"Play      {report.capture.path} of {report.name}, held against {report.reference}", soft_wrap=True)
    for name, value in report.measures().items():
        unit, best, limit = (limits[name][key] for key in ("unit", "best", "limit"))
        words = name.removesuffix(f"_{'percent' if unit == '%' else unit.lower()}").replace("_", " ")
        told = "not to be told" if value is None else f"{value:10.4g} {unit}"
        aim = "" if best is None else f"   best {best}" + ("" if limit is None else f", limit {limit:g}")
        console.print(f"  {words:22} {told:18}{aim}", soft_wrap=True)
    counts = Counter(one.kind for one in played.defects)
    heard = sum(one.audible for one in played.defects)
    listed = ", ".join(f"{count} {kind}" for kind, count in counts.items()) or "none found"
    console.print(f"faults    {listed}; {heard} to be heard", soft_wrap=True)
    worst = sorted(played.defects, key=lambda one: (not one.audible, -one.size_db))[:_LISTED]
    for one in sorted(worst, key=lambda one: one.time):
        console.print(
            f"  {clock(one.time):>8}  turn {one.turn:7.2f}  r {one.radius * 1e3:6.2f} mm  {one.angle:5.1f} deg  "
            f"{one.kind:8} {one.channel:5}  {one.size_db:+5.1f} dB{'' if one.audible else '  masked'}",
            soft_wrap=True,
        )
    if len(played.defects) > len(worst):
        console.print(f"  and {len(played.defects) - len(worst)} more (--json lists all)", soft_wrap=True)
    for finding in report.findings:
        show_finding(finding, console)
    if report.kept is not None:
        console.print(f"Kept      {report.kept}", soft_wrap=True)
    console.print(f"Verdict   {report.verdict}", soft_wrap=True)
