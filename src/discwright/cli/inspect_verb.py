"""The verb `inspect`: a playing against the programme."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from discwright.cli.console import console, print_json, progress


def inspect(
    capture: Annotated[str, typer.Argument(metavar="CAPTURE", help="Audio file of a playing of mother or pressing.")],
    recording: Annotated[
        str | None, typer.Option(metavar="FILE", help="The approved programme; the plan's own without.")
    ] = None,
    plan: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Folder of the kept plan the side was cut from.")
    ] = None,
    format: Annotated[
        str | None, typer.Option("--format", metavar="NAME", help="Disc format, where there is no plan.")
    ] = None,
    tip: Annotated[
        str | None,
        typer.Option(
            "--tip",
            metavar="NAME",
            help="Playing tip of the proof it is held against: name in data/, TOML file, or none.",
        ),
    ] = None,
    limits: Annotated[
        str | None, typer.Option(metavar="NAME", help="Limits of a test play: name in data/ or TOML file.")
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Folder to make: report, picture, and audio to hear side by side."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """Hold a playing against the programme: speed, sound, every fault with its place, and whether it passes."""
    from discwright.acts.inspect import inspect as inspect_capture
    from discwright.cli.show_inspect import show_inspect

    with progress(as_json) as tell:
        report = inspect_capture(
            capture, recording=recording, plan=plan, format=format, tip=tip, limits=limits, out=out, progress=tell
        )
    if as_json:
        print_json(report.as_dict())
    else:
        show_inspect(report, console())
    if not report.ready:
        raise typer.Exit(1)
