"""The verbs of `works` that keep the ledger safe: verified, backed up, brought back, out as text and in again."""

from __future__ import annotations

import getpass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from discwright.cli.console import print_json, progress
from discwright.cli.works_common import Address, AsJson, missing_libraries, tell_findings, the_ledger
from discwright.errors import DiscwrightError

if TYPE_CHECKING:
    from discwright.works.store.ledger import Ledger

_MINUTE_S = 60.0


def verify(
    head: Annotated[
        str, typer.Option("--head", metavar="HASH", help="Hash from a card or a backup: is that history still in it?")
    ] = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Hash every line again and work everything out again; exit code 1 on any finding."""
    with the_ledger(address) as ledger:
        from discwright.acts.ledger_keeping import verify_ledger

        with progress(as_json) as tell:
            found = verify_ledger(ledger, head=head, progress=tell)
    if as_json:
        print_json(found.as_dict())
    else:
        for one in found.breaks:
            typer.echo(f"BROKEN  {one.why}")
        tell_findings(found.findings, as_json)
        if found.more:
            typer.echo(f"and {found.more} more.")
        state = "whole" if found.whole else "NOT whole; bring back the last good backup"
        typer.echo(f"{found.lines} lines, {found.titles} titles, {found.parts} parts: the ledger is {state}.")
        typer.echo(f"head {found.head}")
    if not found.ready:
        raise typer.Exit(1)


def backup(
    out: Annotated[
        Path, typer.Argument(metavar="[FILE]", help="File to make, or a folder for one with a name of its own.")
    ] = Path(),
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Back the ledger up while it is in use; the copy is verified before it counts."""
    with the_ledger(address) as ledger:
        from discwright.acts.ledger_keeping import back_up

        with progress(as_json) as tell:
            made = back_up(ledger, out, progress=tell)
        _log(ledger, "backed_up", made.file)
    if as_json:
        print_json(made.as_dict())
        return
    typer.echo(f"{made.file}  {made.lines} lines in {_took(made.took_s)}")
    typer.echo(f"head {made.head}")


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A backup.")],
    drill: Annotated[
        bool, typer.Option("--drill", help="Only for practice: into a place of its own, verified, timed and noted.")
    ] = False,
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Bring a backup back into a place without a ledger, of either kind; with --drill, only to know that it can be."""
    if drill:
        _drill(file, address, as_json)
        return
    from discwright.acts.ledger_keeping import restore as bring_back

    with progress(as_json) as tell:
        made = bring_back(file, address or ".", progress=tell)
    with the_ledger(address) as ledger:
        _log(ledger, "restored", made.file)
    if as_json:
        print_json(made.as_dict())
        return
    typer.echo(f"{made.lines} lines brought back in {_took(made.took_s)}; {_findings(made.findings)}")
    typer.echo(f"head {made.head}")


def _drill(file: Path, address: str | None, as_json: bool) -> None:
    with the_ledger(address) as ledger:
        from discwright.acts.ledger_keeping import drill

        with progress(as_json) as tell:
            done = drill(ledger, file, progress=tell)
        _log(ledger, "restored", f"for practice: {file}")
    if as_json:
        print_json(done.as_dict())
    elif done.good:
        typer.echo(
            f"{done.file} can be relied on: {done.lines} lines brought back and verified in {_took(done.took_s)}."
        )
        typer.echo(f"head {done.head}")
    else:
        typer.echo(f"{done.file} cannot be relied on: {done.wrong}", err=True)
    if not done.good:
        raise typer.Exit(1)


def export(
    file: Annotated[Path, typer.Argument(metavar="FILE.jsonl", help="Text file to make.")],
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Every line as open text: one JSON object a line."""
    with the_ledger(address) as ledger:
        from discwright.acts.ledger_keeping import export_ledger

        with progress(as_json) as tell:
            made = export_ledger(ledger, file, progress=tell)
        _log(ledger, "exported", made.file)
    if as_json:
        print_json(made.as_dict())
        return
    typer.echo(f"{made.file}  {made.lines} lines in {_took(made.took_s)}")
    typer.echo(f"head {made.head}")


def import_(
    file: Annotated[Path, typer.Argument(metavar="FILE.jsonl", help="What `works export` wrote.")],
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Bring open text into a place without a ledger, or into one without lines; every hash is made again."""
    try:
        from discwright.acts.ledger_keeping import import_ledger
    except ImportError as trouble:
        raise missing_libraries() from trouble
    with progress(as_json) as tell:
        made = import_ledger(file, address or ".", progress=tell)
    with the_ledger(address) as ledger:
        _log(ledger, "imported", made.file)
    if as_json:
        print_json(made.as_dict())
        return
    typer.echo(f"{made.lines} lines in {_took(made.took_s)}; {_findings(made.findings)}")
    typer.echo(f"head {made.head}")


def _log(ledger: Ledger, what: str, about: str) -> None:
    """What leaves the house or comes back is in the access log; a log that cannot be written undoes nothing."""
    from discwright.works.store.access_log import log_access

    try:
        who = f"{getpass.getuser()} (at the server)"
    except (KeyError, OSError):
        who = "somebody (at the server)"
    try:
        log_access(ledger, who, what, about, "command line")
    except DiscwrightError as trouble:
        typer.echo(f"the access log was not written: {trouble}", err=True)


def _findings(count: int) -> str:
    return "no findings" if not count else f"{count} findings in its histories (`works verify` tells them)"


def _took(seconds: float) -> str:
    minutes = seconds / _MINUTE_S
    return f"{seconds:.1f} s" if minutes < 1.0 else f"{minutes:.1f} min"
