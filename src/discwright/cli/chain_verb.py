"""The verb `chain`: measure a recording or cutting chain, or write the signals for it."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated

import typer

from discwright.cli.console import console, print_json, progress
from discwright.errors import CallError


def chain(
    files: Annotated[
        list[str] | None,
        typer.Argument(metavar="FILE...", help="Captures of the signals; several are compared with the first."),
    ] = None,
    make: Annotated[
        Path | None, typer.Option("--make", metavar="FILE.wav", help="Write the signals to play through the chain.")
    ] = None,
    rate: Annotated[
        str | None, typer.Option("--rate", metavar="HZ", help="With --make: sample rate; 96000 without the option.")
    ] = None,
    bits: Annotated[
        str | None, typer.Option("--bits", metavar="[16|24]", help="With --make: bits a sample; 24 without the option.")
    ] = None,
    settings: Annotated[
        Path | None, typer.Option(metavar="FILE.toml", help="House file that replaces shipped limits.")
    ] = None,
    picture: Annotated[
        Path | None, typer.Option(metavar="FILE.png", help="Draw response and distortion by frequency.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """Measure a chain by a capture of test signals: response, distortion, noise, hum, separation, speed, wiring."""
    from discwright.acts import chain as acts
    from discwright.cli.show_chain import show_chains, show_made

    if make is not None:
        for name, given in (("FILE", files), ("--settings", settings), ("--picture", picture)):
            if given:
                raise CallError(f"{name} is for measuring and --make writes the signals; give one of the two.")
        hz, depth = _whole(rate or "96000", "--rate"), _whole(bits or "24", "--bits")
        with progress(as_json) as tell:
            length = acts.make_signals(make, sample_rate_hz=hz, bits=depth, progress=tell)
        made = {"path": str(make), "duration_s": length, "sample_rate_hz": hz, "bits": depth}
        if as_json:
            print_json(made)
        else:
            show_made(made, console())
        return
    for name, text in (("--rate", rate), ("--bits", bits)):
        if text is not None:
            raise CallError(f"{name} says how the signals are written; give --make FILE.wav as well.")
    with progress(as_json) as tell:
        report = acts.chain(files or (), settings=settings, picture=picture, progress=tell)
    if as_json:
        print_json(report.as_dict())
    else:
        show_chains(report, picture, console())
    if any(finding.severity == "stop" for one in report.captures for finding in one.report.findings):
        raise typer.Exit(1)


def _whole(text: str, name: str) -> int:
    if not re.fullmatch(r"[0-9]{1,7}", text.strip()):
        raise CallError(f"{name}: “{text}” is no whole number; write for example 96000 or 24.")
    return int(text)
