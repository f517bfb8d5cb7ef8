"""The verbs of `works` for the guilty part: what was heard and where, and which part of the family it comes from."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from discwright.cli.console import print_json
from discwright.cli.works_common import (
    Accept,
    Address,
    AsJson,
    By,
    Key,
    Station,
    signed_in_here,
    tell_outcome,
    the_ledger,
)
from discwright.errors import CallError
from discwright.units import number

_Title = Annotated[str, typer.Argument(metavar="TITLE", help="Catalogue number, or the number of any of its parts.")]


def locate(
    title: _Title,
    side: Annotated[str, typer.Option("--side", metavar="LETTER", help="Only this side.")] = "",
    edition: Annotated[str, typer.Option("--edition", metavar="ID", help="Only of this edition.")] = "",
    turn: Annotated[str | None, typer.Option("--turn", metavar="N", help="Only the spot in this turn.")] = None,
    angle_deg: Annotated[
        str | None, typer.Option("--angle-deg", metavar="A", help="Its angle, degrees, as the disc is played.")
    ] = None,
    settings: Annotated[
        Path | None, typer.Option("--settings", metavar="FILE", help="House file over data/guilt.toml.")
    ] = None,
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Which part is guilty of what the test plays found, what to play next, what to make again and in how many days."""
    from discwright.acts.works_locate import find_guilty, spots_at
    from discwright.acts.works_locate_told import guilt_as_dict

    if (turn is None) != (angle_deg is None):
        raise CallError("a place is a turn and an angle; give both --turn and --angle-deg.")
    with the_ledger(address) as ledger:
        found = find_guilty(ledger, title, side=side, edition=edition, settings=settings)
    only = None
    if turn is not None and angle_deg is not None:
        only = spots_at(found, number(turn, "--turn"), number(angle_deg, "--angle-deg"))
    if as_json:
        print_json(guilt_as_dict(found, only))
        return
    from discwright.cli.show_guilt import show_guilt

    for line in show_guilt(found, only):
        typer.echo(line)


def heard(
    part: Annotated[str, typer.Argument(metavar="PART", help="The mother, or the stamper of the pressing.")],
    fault: Annotated[
        list[str] | None,
        typer.Option("--fault", metavar="TEXT", help='Kind, turn or time, angle: "tick 312 41.5"; repeated for more.'),
    ] = None,
    none: Annotated[bool, typer.Option("--none", help="It was played, and nothing was heard.")] = False,
    seen: Annotated[
        bool, typer.Option("--seen", help="Seen on the part itself, at the angles that read on its own face.")
    ] = False,
    pressing: Annotated[str, typer.Option("--pressing", metavar="NAME", help="Which pressing was played.")] = "",
    to_turn: Annotated[
        str | None, typer.Option("--to-turn", metavar="N", help="Turn at which the play ended, if not the last.")
    ] = None,
    note: Annotated[str, typer.Option("--note", metavar="TEXT", help="Anything worth knowing.")] = "",
    by: By = "",
    station: Station = "",
    key: Key = "",
    accept: Accept = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Write down the faults somebody heard in one play, or saw under the microscope, each with its place."""
    from discwright.acts.works import Hand
    from discwright.acts.works_look import part_for
    from discwright.acts.works_plays import fault_text, hear

    if bool(fault) == none:
        raise CallError("say what was heard with --fault, once for each, or --none where nothing was.")
    faults = [fault_text(one) for one in fault or ()]
    ended = None if to_turn is None else number(to_turn, "--to-turn")
    with the_ledger(address) as ledger:
        family, which = part_for(ledger, part)
        hand = Hand(by or signed_in_here(), station, key, accept)
        outcome = hear(ledger, which, family, faults, hand, seen=seen, pressing=pressing, note=note, to_turn=ended)
    tell_outcome(outcome, as_json)
