"""The verb `plate`: current, time, thickness and mass of a part in the plating bath, without a ledger."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import typer

from discwright.cli.console import console, print_json
from discwright.errors import CallError
from discwright.units import number


def plate(
    kind: Annotated[str, typer.Option(metavar="[master|mother|stamper]", help="What is grown.")] = "stamper",
    metal: Annotated[str, typer.Option(metavar="[nickel|copper|silver]", help="Of the bath.")] = "nickel",
    plate_name: Annotated[
        str | None, typer.Option("--plate", metavar="NAME", help="Plate by its name; 14in without the option.")
    ] = None,
    diameter: Annotated[str | None, typer.Option("--diameter-mm", help="Plate by its diameter.")] = None,
    hole: Annotated[str, typer.Option("--hole-mm", help="Hole that takes no current; 0 for the whole face.")] = "0",
    target: Annotated[
        str | None, typer.Option("--target-um", help="Mean thickness at which the current is switched off.")
    ] = None,
    least: Annotated[str | None, typer.Option("--least-um", help="Least thickness wanted anywhere.")] = None,
    efficiency: Annotated[
        str | None, typer.Option(help="Share of the current that lays down metal, e.g. 0.955.")
    ] = None,
    spread: Annotated[
        str | None, typer.Option("--spread-percent", help="Thickest less thinnest, of the mean; 32 without the option.")
    ] = None,
    steps: Annotated[
        str | None,
        typer.Option(
            metavar="LIST",
            help="A/dm² x minutes, e.g. 0.5x30,1-2x30,10: 1-2 rises, a last step without minutes runs to the target; "
            "with decimal commas write 0,5x30;10.",
        ),
    ] = None,
    grown_on: Annotated[
        str | None,
        typer.Option(metavar="[lacquer|metal]", help="What it grows on; a lacquer for a master, else metal."),
    ] = None,
    ph: Annotated[str | None, typer.Option("--ph", help="Of the bath; told where it is out of range.")] = None,
    temperature: Annotated[
        str | None, typer.Option("--temperature-c", help="Of the bath; told where it is out of range, and on the card.")
    ] = None,
    gained: Annotated[
        str | None, typer.Option("--gained-g", help="After the run: weight gained; with --ran-ah the efficiency.")
    ] = None,
    ran: Annotated[str | None, typer.Option("--ran-ah", help="After the run: ampere-hours by the meter.")] = None,
    tanks: Annotated[str | None, typer.Option("--tanks", metavar="N", help="Queue: so many tanks.")] = None,
    parts: Annotated[str | None, typer.Option("--parts", metavar="N", help="Queue: so many like parts.")] = None,
    turn_round: Annotated[
        str | None, typer.Option("--turn-round-minutes", help="Queue: between two parts; 20 without the option.")
    ] = None,
    card: Annotated[Path | None, typer.Option(metavar="FILE.pdf", help="Write the run card.")] = None,
    part: Annotated[str | None, typer.Option(metavar="NUMBER", help="Card: the part's own number.")] = None,
    title: Annotated[str | None, typer.Option(metavar="TEXT", help="Card: the title.")] = None,
    catalogue: Annotated[str | None, typer.Option(metavar="TEXT", help="Card: the catalogue number.")] = None,
    side: Annotated[str | None, typer.Option(metavar="LETTER", help="Card: the side.")] = None,
    parent: Annotated[str | None, typer.Option(metavar="NUMBER", help="Card: the part it grows on.")] = None,
    settings: Annotated[
        Path | None, typer.Option(metavar="FILE.toml", help="House file that replaces shipped plating settings.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """Plan a plating run: current, time, thickness, weight and queue of a part, and its run card."""
    from discwright.acts import plate as acts
    from discwright.cli.show_plate import show_plate

    on_card = {"--part": part, "--title": title, "--catalogue": catalogue, "--side": side, "--parent": parent}
    if card is None:
        _refuse(on_card, "stands on the run card; give --card FILE.pdf as well.")
    order = acts.PlateOrder(
        kind=kind,
        metal=metal,
        plate=plate_name,
        diameter=_scaled(diameter, "--diameter-mm", 1e-3),
        hole=number(hole, "--hole-mm") * 1e-3,
        target=_scaled(target, "--target-um", 1e-6),
        least=_scaled(least, "--least-um", 1e-6),
        efficiency=_scaled(efficiency, "--efficiency", 1.0),
        spread=_scaled(spread, "--spread-percent", 1e-2),
        steps=steps,
        grown_on=grown_on,
        ph=_scaled(ph, "--ph", 1.0),
        temperature_c=_scaled(temperature, "--temperature-c", 1.0),
    )
    weight, charge = _pair({"--gained-g": gained, "--ran-ah": ran})
    many, in_tanks = _pair({"--parts": parts, "--tanks": tanks})
    if many is None:
        _refuse({"--turn-round-minutes": turn_round}, "is for a queue; give --tanks and --parts as well.")
    report = acts.plate(order, settings=settings)
    if weight is not None and charge is not None:
        report = acts.weigh(report, number(weight, "--gained-g") * 1e-3, number(charge, "--ran-ah") * 3600.0)
    if many is not None and in_tanks is not None:
        pause = _scaled(turn_round, "--turn-round-minutes", 60.0)
        report = acts.queue(report, _whole(many, "--parts"), _whole(in_tanks, "--tanks"), pause)
    if card is not None:
        label = acts.CardLabel(part or "", title or "", catalogue or "", side or "", parent or "")
        report = acts.write_card(report, card, label)
    if as_json:
        print_json(report.as_dict())
    else:
        show_plate(report, console())


def _scaled(text: str | None, name: str, factor: float) -> float | None:
    return None if text is None else number(text, name) * factor


def _whole(text: str, name: str) -> int:
    if not re.fullmatch(r"[0-9]{1,9}", text.strip()):
        raise CallError(f"{name}: “{text}” is no count; write a whole number such as 4.")
    return int(text)


def _pair(options: Mapping[str, str | None]) -> tuple[str | None, str | None]:
    """Two options that only say something together."""
    (one, first), (other, second) = options.items()
    if (first is None) != (second is None):
        given, lacking = (one, other) if second is None else (other, one)
        raise CallError(f"{given} says nothing alone; give {lacking} as well.")
    return first, second


def _refuse(options: Mapping[str, str | None], why: str) -> None:
    for name, given in options.items():
        if given is not None:
            raise CallError(f"{name} {why}")
