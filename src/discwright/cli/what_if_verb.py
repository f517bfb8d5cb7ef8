"""`plan DIR`: a kept plan planned once more with what the options put in its place, and what that changes."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from discwright.cli.console import console, progress, write
from discwright.errors import CallError
from discwright.units import number

if TYPE_CHECKING:
    from discwright.acts.changes import Changes
    from discwright.acts.what_if import WhatIfReport
    from discwright.programme.title import Treatment

#: In the place of a treatment: none at all.
NONE = "none"


def is_kept(file: str) -> bool:
    """A folder, or the `plan.json` in one: a plan that was kept."""
    path = Path(file)
    if path.is_dir() and not (path / "plan.json").is_file():
        raise CallError(f"{file} is a folder and holds no plan; name one file inside it, or a folder made with --out.")
    return path.is_dir() or path.name == "plan.json"


def refuse_with_kept(options: Mapping[str, object]) -> None:
    """Refuse options that a kept plan has answered already.

    Parameters
    ----------
    options : dict
        Name of each with its value.
    """
    for name, given in options.items():
        if given:
            raise CallError(f"{name} is for a file that is planned anew; a kept plan has settled that, leave it out.")


def read_changes(
    level_db: float | None,
    fit: str | None,
    kinds: Mapping[str, str | None],
    treatments: list[str] | None,
    ladder: bool,
) -> Changes:
    """What the options put in a kept plan's place.

    Parameters
    ----------
    level_db, fit, kinds, treatments, ladder : as given
    """
    from discwright.acts.changes import Changes

    wanted = None if not treatments else _treatments(treatments)
    return Changes(level_db=level_db, fit=fit, **kinds, treatments=wanted, ladder=ladder)


def plan_otherwise(
    folder: str, changes: Changes, exact: bool, out: Path | None, only: tuple[str, ...] | None, calibration: bool,
    as_json: bool,
) -> tuple[dict[str, Any], bool]:  # fmt: skip
    """Plan it, print the plan and then the differences; its document, and whether it is ready.

    Parameters
    ----------
    folder, changes, exact, out, only, calibration : see :func:`discwright.acts.what_if.what_if`
    as_json : bool
        Print `plan.json` only.
    """
    from discwright.acts.what_if import what_if

    with progress(as_json) as tell:
        report = what_if(
            folder, changes, exact=exact, out=out, only=only, calibration=calibration, progress=tell
        )  # fmt: skip
    if as_json:
        write(report.json)
    else:
        _show(report, folder)
    return report.document, report.plan.ready


def _show(report: WhatIfReport, folder: str) -> None:
    from discwright.acts.plan import PlanReport
    from discwright.acts.title import SideReport
    from discwright.cli.show_compare import show_compare
    from discwright.cli.show_plan import show_plan, show_side

    screen = console()
    if "title" in report.document:
        side = SideReport(
            report.plan, report.label, report.document, report.treatments, report.folder, report.side, report.audio
        )
        show_side(side, screen)
    else:
        for sentence in report.treatments:
            screen.print(f"treated   {sentence}", soft_wrap=True)
        show_plan(PlanReport(report.plan, report.document, report.csv, report.folder), screen)
    screen.print(f"\nAgainst {folder}:", soft_wrap=True)
    show_compare(report.comparison, screen)


def _treatments(texts: list[str]) -> tuple[Treatment, ...]:
    from discwright.acts.changes import treatment

    if NONE in texts:
        if len(texts) > 1:
            raise CallError("--treatment none goes with no other treatment; give one or the other.")
        return ()
    made = []
    for text in texts:
        kind, colon, hz = text.partition(":")
        made.append(treatment(kind.strip(), number(hz, f"--treatment {kind}") if colon else None))
    return tuple(made)
