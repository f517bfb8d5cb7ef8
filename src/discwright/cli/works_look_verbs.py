"""The verbs of `works` that look: a title's family, a part's descent, whatever a number leads to."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from discwright.cli.console import print_json
from discwright.cli.works_common import Address, AsJson, the_ledger


def tree(
    title: Annotated[str, typer.Argument(metavar="TITLE", help="Catalogue number, or the number of any of its parts.")],
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """A title's family: every part, where it came from, how it stands, what happened to it."""
    from discwright.acts.works_look import tree as family_tree

    with the_ledger(address) as ledger:
        found = family_tree(ledger, title)
    if as_json:
        print_json(found)
        return
    from discwright.cli.show_works import show_tree

    for line in show_tree(found):
        typer.echo(line)


def trace(
    part: Annotated[str, typer.Argument(metavar="NUMBER", help="Of the part, the run or the carton.")],
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Where a part, a run or a carton comes from, up to the plan, and everything that came of it."""
    from discwright.acts.works_descent import descent

    with the_ledger(address) as ledger:
        found = descent(ledger, part)
    if as_json:
        print_json(found)
        return
    if "sides" in found:
        _tell_run(found)
        return
    typer.echo(f"{found['id']}  {found['title']} side {found['side']}")
    typer.echo(f"from   {', '.join(found['up']) or 'nothing: it was cut'}")
    typer.echo(f"plan   {found['plan_fingerprint']}")
    typer.echo(f"below  {', '.join(found['down']) or 'nothing yet'}")


def _tell_run(found: dict[str, Any]) -> None:
    """A run, or a carton with its run."""
    if "sscc" in found:
        sent = (
            f"sent {found['loaded_at'][:10]}" if found["loaded_at"] else "opened again" if found["opened"] else "here"
        )
        typer.echo(f"{found['sscc']}  {found['count']} discs for {found['account']}, order {found['order']}, {sent}")
    recalled = f"  recalled ({found['recalled']})" if found["recalled"] else ""
    typer.echo(f"run    {found['run']}  {found['title']}/{found['edition']}  press {found['press']}{recalled}")
    for side in found["sides"]:
        typer.echo(
            f"side {side['side']} {side['stamper']} from {', '.join(side['up'])}  plan {side['plan_fingerprint']}"
        )
    for one in found.get("accounts", ()):
        typer.echo(f"below  {one['account']}: {one['sent']} sent, {one['here']} here")


def search(
    number: Annotated[str, typer.Argument(metavar="NUMBER", help="Any number that is printed or stamped anywhere.")],
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Whatever a number leads to: part, catalogue number, run-out mark, batch, tip, plan, line."""
    from discwright.works.store.look import search as look_up

    with the_ledger(address) as ledger:
        found = look_up(ledger, number)
    if as_json:
        print_json({"found": [{"what": f.what, "shown": f.shown, "title": f.title, "part": f.part} for f in found]})
        return
    for one in found:
        typer.echo(f"{one.what:16}  {one.shown}  {one.title}  {one.part}".rstrip())
    if not found:
        typer.echo("nothing has this number; try a shorter beginning of it.")


def card(
    part: Annotated[str, typer.Argument(metavar="PART", help="Number of the part that goes into the bath.")],
    out: Annotated[Path, typer.Option("--out", metavar="FILE.pdf", help="The card; a file that is not there yet.")],
    metal: Annotated[str, typer.Option("--metal", help="nickel, copper or silver.")] = "nickel",
    plate: Annotated[
        str | None, typer.Option("--plate", help="The plate by its name; as wide as the blank without it.")
    ] = None,
    steps: Annotated[str | None, typer.Option("--steps", help="Steps of current; the house's own without it.")] = None,
    settings: Annotated[
        Path | None, typer.Option("--settings", metavar="FILE", help="House file of plating settings.")
    ] = None,
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """The run card of what is grown next on a part, with the ledger's head on it."""
    from discwright.acts.plate import PlateOrder
    from discwright.acts.works_card import write_part_card
    from discwright.acts.works_look import part_for
    from discwright.works.parts import GROWS

    with the_ledger(address) as ledger:
        _, on = part_for(ledger, part)
        order = PlateOrder(GROWS.get(on.kind, on.kind), metal=metal, plate=plate, steps=steps)
        report = write_part_card(ledger, on.id, out, order, settings=settings)
    if as_json:
        print_json(report.as_dict())
    else:
        typer.echo(f"card      {out}")
