"""The verb `sample`: how many discs of a lot to look at, when to accept it, and the verdict on what was found."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated

import typer

from discwright.cli.console import console, print_json
from discwright.errors import CallError
from discwright.units import number


def sample(
    lot: Annotated[str, typer.Option(metavar="N", help="Discs in the lot.")],
    level: Annotated[
        str | None, typer.Option(metavar="[S-1|S-2|S-3|S-4|I|II|III]", help="Inspection level; II without the option.")
    ] = None,
    aql: Annotated[
        str | None,
        typer.Option(
            metavar="PERCENT", help="Acceptance quality limit, e.g. 1.0; without it each defect class by the settings."
        ),
    ] = None,
    inspection: Annotated[
        str, typer.Option(metavar="[normal|tightened|reduced]", help="Severity that the switching rules ask for.")
    ] = "normal",
    found: Annotated[
        str | None,
        typer.Option(
            metavar="COUNTS", help="Nonconforming discs found: 3, or by class critical=0,major=2,minor=1; the verdict."
        ),
    ] = None,
    defects: Annotated[
        str | None,
        typer.Option(
            metavar="WORDS",
            help="Defects found, e.g. scratch,pit/heard,bump/jumps; 12:stain,12:flash for two on disc 12; the verdict.",
        ),
    ] = None,
    seed: Annotated[
        str | None, typer.Option(metavar="N", help="Draw which discs to take; the same number draws the same discs.")
    ] = None,
    chart: Annotated[
        Path | None, typer.Option(metavar="FILE.png|svg", help="Draw the operating characteristic.")
    ] = None,
    settings: Annotated[
        Path | None, typer.Option(metavar="FILE.toml", help="House file that replaces shipped inspection settings.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """Plan the inspection of a lot by ISO 2859-1, or give the verdict on what was found."""
    from discwright.acts import sample as acts
    from discwright.cli.show_sample import show_sample

    report = acts.sample(
        acts.SampleOrder(
            lot=_whole(lot, "--lot"),
            level=level,
            aql=None if aql is None else number(aql, "--aql"),
            inspection=inspection,
            found=None if found is None else _found(found),
            defects=None if defects is None else _listed(defects),
            seed=None if seed is None else _whole(seed, "--seed"),
        ),
        settings=settings,
    )
    if chart is not None:
        report = acts.write_chart(report, chart)
    if as_json:
        print_json(report.as_dict())
    else:
        show_sample(report, console())
    if report.accepted is False:
        raise typer.Exit(1)


def _whole(text: str, name: str) -> int:
    if not re.fullmatch(r"[0-9]{1,9}", text.strip()):
        raise CallError(f"{name}: “{text[:40]}” is no count; write a whole number such as 2000.")
    return int(text)


def _found(text: str) -> int | dict[str, int]:
    """One count, or counts by class."""
    if "=" not in text:
        return _whole(text, "--found")
    counts: dict[str, int] = {}
    for one in _listed(text):
        name, _, count = (part.strip() for part in one.partition("="))
        if name in counts:
            raise CallError(f"--found: {name} is counted twice; add the two up.")
        counts[name] = _whole(count, f"--found {name[:40]}")
    return counts


def _listed(text: str) -> list[str]:
    """Words between commas; nothing between two commas is nothing, and an empty text no word at all."""
    return [one.strip() for one in text.split(",") if one.strip()]
