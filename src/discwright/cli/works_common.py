"""What the verbs of `works` share: the ledger's address, whose hand it is, how an outcome is told."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated

import typer

from discwright.cli.console import print_json
from discwright.errors import CallError

if TYPE_CHECKING:
    from discwright.acts.works import Hand
    from discwright.findings import Finding
    from discwright.works.store.ledger import Ledger, Outcome

Address = Annotated[
    str | None,
    typer.Option(
        "--ledger", metavar="URL", envvar="DISCWRIGHT_LEDGER",
        help="sqlite:///FILE, postgresql://USER@HOST/NAME or a file; without it works.sqlite of this folder.",
    ),
]  # fmt: skip
By = Annotated[str, typer.Option("--by", metavar="NAME", help="Who does it.")]
Station = Annotated[str, typer.Option("--station", metavar="NAME", help="Where.")]
Key = Annotated[str, typer.Option("--key", metavar="KEY", help="Sent again with the same key it is still one line.")]
Accept = Annotated[
    str, typer.Option("--accept", metavar="REASON", help="Why what speaks against it is accepted; kept in the line.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print everything as JSON.")]


@contextmanager
def the_ledger(address: str | None) -> Iterator[Ledger]:
    """The ledger at an address, or the folder's own, open for one verb."""
    try:
        from discwright.works.store.ledger import open_ledger
    except ImportError as trouble:
        raise missing_libraries() from trouble
    ledger = open_ledger(address or ".")
    try:
        yield ledger
    finally:
        ledger.close()


def signed_in_here() -> str:
    """Who is at this machine, where nobody is named."""
    import getpass

    try:
        return getpass.getuser()
    except (KeyError, OSError):
        raise CallError("nobody is named; say who did it with --by NAME.") from None


def missing_libraries() -> CallError:
    """What to say where the ledger's libraries are not installed."""
    return CallError("the works ledger needs a few more libraries; install discwright[works] with pip.")


def tell_outcome(outcome: Outcome, as_json: bool, *, id_only: bool = False) -> None:
    """Print what came of an order; exit code 1 where a stop refused it."""
    line = outcome.line
    tell_findings(outcome.findings, as_json)
    if outcome.clock_behind_s:
        typer.echo(
            f"the clock of this machine stands {outcome.clock_behind_s:.0f} s before the last line; the line is dated "
            "like that one: set the clock.",
            err=True,
        )
    if line is None:
        if as_json:
            print_json({"refused": True, "findings": [one.as_dict() for one in outcome.findings]})
        raise typer.Exit(1)
    if as_json:
        about = {name: getattr(line, name) for name in ("seq", "at", "by", "kind", "title", "part", "key", "hash")}
        about["repeated"] = outcome.repeated
        born = {"id": line.part} if id_only else {}
        print_json(born | about | {"findings": [one.as_dict() for one in outcome.findings]})
    elif id_only:
        typer.echo(line.part)
    else:
        typer.echo(f"line {line.seq}: {line.part or line.title} {line.event.words}{', as before' * outcome.repeated}")


def tell_findings(findings: tuple[Finding, ...], as_json: bool) -> None:
    """What speaks against an order, a line each on standard error."""
    if as_json:
        return
    for one in findings:
        accepted = f" (accepted: {one.accepted})" if one.accepted else ""
        typer.echo(f"{one.severity:4}  {one.code}  {one.remedy}{accepted}", err=True)


def hand_here(by: str, station: str, key: str, accept: str) -> Hand:
    """Whose hand it is: who is named, or who is signed in at this machine."""
    from discwright.acts.works import Hand

    return Hand(by or signed_in_here(), station, key, accept)


def by_side(pairs: list[str], option: str) -> dict[str, str]:
    """`SIDE=TEXT` pairs as a table."""
    found: dict[str, str] = {}
    for pair in pairs:
        side, sign, text = pair.partition("=")
        if not sign or not side.strip() or not text.strip():
            raise CallError(f"{option} {pair[:40]}: is no SIDE=TEXT; write it like A=ST12-3.")
        if side.strip() in found:
            raise CallError(f"{option}: side {side.strip()[:8]} is named twice; name each once.")
        found[side.strip()] = text.strip()
    return found


def counts_by_name(text: str, option: str) -> dict[str, int]:
    """`name=count,…` as a table."""
    found: dict[str, int] = {}
    for pair in text.split(","):
        name, sign, count = (one.strip() for one in pair.partition("="))
        if not sign or not count.isdecimal() or len(count) > 9:
            raise CallError(f"{option} {pair[:40]}: is no NAME=COUNT; write it like major=2,minor=1.")
        found[name] = int(count)
    return found
