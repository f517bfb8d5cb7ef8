"""The verb `proof`: hear a planned side before it is cut, or put one tone on the bench."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import typer

from discwright.cli.console import console, print_json, progress
from discwright.errors import CallError
from discwright.units import number, seconds


def proof(
    place: Annotated[
        str | None,
        typer.Argument(metavar="DIR_OR_TITLE", help="Folder that plan --out made, or a title file (.toml)."),
    ] = None,
    edition: Annotated[str | None, typer.Option(metavar="ID", help="Of a title: this edition.")] = None,
    side: Annotated[str | None, typer.Option(metavar="LETTER", help="Of a title: this side.")] = None,
    tip: Annotated[
        list[str] | None,
        typer.Option(
            "--tip", metavar="NAME", help="Playing tip: name in data/, a TOML file, or none; may be given again."
        ),
    ] = None,
    player: Annotated[
        str | None, typer.Option(metavar="NAME", help="Player: name in data/, a TOML file, or off.")
    ] = None,
    effects: Annotated[
        str | None,
        typer.Option(
            metavar="LIST",
            help="Of high_pass,tracking,vertical,scanning,off_centre,warp,noise,rumble only these are heard "
            "(without the option: tracking,vertical,scanning).",
        ),
    ] = None,
    start: Annotated[str | None, typer.Option("--from", metavar="TIME", help="Begin here, e.g. 17:02.4.")] = None,
    end: Annotated[str | None, typer.Option("--to", metavar="TIME", help="End here.")] = None,
    at_radius: Annotated[
        str | None, typer.Option("--at-radius-mm", help="Play the passage as if it lay there.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Audio to write, .flac or .wav; a picture is put beside it.")
    ] = None,
    difference: Annotated[bool, typer.Option("--difference", help="Also write the programme less the proof.")] = False,
    tone: Annotated[
        str | None,
        typer.Option("--tone-hz", help="Bench: this tone instead of a side; harmonics before the replay curve."),
    ] = None,
    velocity: Annotated[
        str | None,
        typer.Option("--velocity-cm-s", help="Bench: peak velocity, per wall, or in the plane itself."),
    ] = None,
    radius: Annotated[str | None, typer.Option("--radius-mm", help="Bench: where the tone lies.")] = None,
    format: Annotated[
        str | None, typer.Option("--format", help="Bench: disc format; 12in-33 without the option.")
    ] = None,
    tip_radius: Annotated[
        str | None, typer.Option("--tip-radius-um", help="Bench: radius of the tip along the groove; 0 for none.")
    ] = None,
    modulation: Annotated[
        str | None, typer.Option(metavar="[left|right|lateral|vertical]", help="Bench: what the tone moves.")
    ] = None,
    tracking_error: Annotated[
        str | None, typer.Option("--tracking-error-deg", help="Bench: angle between cartridge and groove.")
    ] = None,
    vertical_error: Annotated[
        str | None, typer.Option("--vertical-error-deg", help="Bench: playing angle less the angle of the cut.")
    ] = None,
    cut_angle: Annotated[
        str | None, typer.Option("--cut-angle-deg", help="Bench: vertical angle of the cut; 18 without the option.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """Hear the disc before a lacquer is spent: audio, numbers and a picture of what it will do to the programme."""
    bench = {
        "--velocity-cm-s": velocity, "--radius-mm": radius, "--format": format, "--tip-radius-um": tip_radius,
        "--modulation": modulation, "--tracking-error-deg": tracking_error, "--vertical-error-deg": vertical_error,
        "--cut-angle-deg": cut_angle,
    }  # fmt: skip
    of_side = {
        "--edition": edition, "--side": side, "--tip": tip, "--player": player, "--effects": effects, "--from": start,
        "--to": end, "--at-radius-mm": at_radius, "--out": out, "--difference": difference or None,
    }  # fmt: skip
    if tone is not None:
        _refuse(of_side | {"DIR_OR_TITLE": place}, "plays a side, and --tone-hz asks for a tone; give one of the two.")
        _bench(tone, bench, as_json)
        return
    _refuse(bench, "is for the tone bench; give --tone-hz as well.")
    if place is None:
        raise CallError("there is nothing to prove; name a folder that plan --out made, a title file, or --tone-hz.")
    from discwright.acts.proof import proof as prove
    from discwright.cli.show_proof import show_proof

    with progress(as_json) as tell:
        report = prove(
            place,
            tips=tip or (),
            player=player,
            effects=None if effects is None else [word.strip() for word in effects.split(",") if word.strip()],
            start=None if start is None else seconds(start, "--from"),
            end=None if end is None else seconds(end, "--to"),
            at_radius=None if at_radius is None else number(at_radius, "--at-radius-mm") * 1e-3,
            out=out,
            difference=difference,
            edition=edition,
            side=side,
            progress=tell,
        )
    if as_json:
        print_json(report.as_dict())
    else:
        show_proof(report, console())


def _refuse(options: Mapping[str, object], why: str) -> None:
    for name, given in options.items():
        if given is not None:
            raise CallError(f"{name} {why}")


def _bench(tone: str, bench: dict[str, str | None], as_json: bool) -> None:
    needed = ("--velocity-cm-s", "--radius-mm", "--tip-radius-um", "--modulation")
    for name in needed:
        if bench[name] is None:
            raise CallError(f"the tone bench needs {name}; give it.")

    def read(name: str, otherwise: str = "0") -> float:
        return number(bench[name] or otherwise, name)

    from discwright.acts.tone import tone_bench
    from discwright.cli.show_proof import show_tone

    spectrum = tone_bench(
        number(tone, "--tone-hz"),
        read("--velocity-cm-s") * 1e-2,
        read("--radius-mm") * 1e-3,
        read("--tip-radius-um") * 1e-6,
        str(bench["--modulation"]),
        format=bench["--format"],
        tracking_error=math.radians(read("--tracking-error-deg")),
        vertical_error=math.radians(read("--vertical-error-deg")),
        cut_angle=None if bench["--cut-angle-deg"] is None else math.radians(read("--cut-angle-deg")),
    )
    if as_json:
        print_json(spectrum.as_dict())
    else:
        show_tone(spectrum, console())
