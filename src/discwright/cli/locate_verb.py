"""The verb `locate`: which part of a family is guilty."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from discwright.cli.console import print_json

#: Parts that are shown to people.
_SHOWN = 12


def locate(
    case: Annotated[Path, typer.Argument(metavar="CASE.json", help="The family and what was heard.")],
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """Which part of a family is guilty of a fault that was heard, and what to play next."""
    from discwright.acts.locate import as_dict, read_case

    found = read_case(case).weigh()
    if as_json:
        print_json(as_dict(found))
        return
    ranked = sorted(found.posterior.items(), key=lambda pair: -pair[1])
    for part, chance in ranked[:_SHOWN]:
        typer.echo(f"{100 * chance:7.2f} %  {part}  heads the fault; carries it with {100 * found.carries[part]:.2f} %")
    if len(ranked) > _SHOWN:
        typer.echo(f"and {len(ranked) - _SHOWN} more that are less likely")
    typer.echo(f"{100 * found.none:7.2f} %  there is no fault at all")
    typer.echo(f"next      play {found.next_test}" if found.next_test else "next      no play would tell more")
