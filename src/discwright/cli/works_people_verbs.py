"""The verbs of `works` about people: who may come in, tokens of machines, the access log, the works' certificate."""

from __future__ import annotations

import getpass
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from discwright.cli.console import print_json
from discwright.cli.works_common import Address, AsJson, missing_libraries, the_ledger
from discwright.errors import CallError

if TYPE_CHECKING:
    from discwright.works.store.people import By, Known
    from discwright.works.store.tokens import Token

people = typer.Typer(
    no_args_is_help=True, rich_markup_mode=None, help="People of the works: who may sign in at the desk, and as what."
)
tokens = typer.Typer(
    no_args_is_help=True, rich_markup_mode=None, help="Tokens that let machines in: scales, counters, the order system."
)
_Name = Annotated[str, typer.Argument(metavar="NAME", help="As it goes into the ledger; capitals make no difference.")]
_Roles = Annotated[
    list[str],
    typer.Option(
        "--role", metavar="ROLE", help="engineer, plating, press, packing, reader or keeper; repeat for more."
    ),
]
_FromStdin = Annotated[
    bool, typer.Option("--password-stdin", help="Read the password from standard input instead of asking twice.")
]
_MustChange = Annotated[
    bool, typer.Option("--must-change", help="Somebody else typed it: it is changed at the next sign-in.")
]


def _by() -> By:
    """Whoever sits at the server; the command line asks nobody to sign in."""
    from discwright.works.store.people import By

    try:
        user = getpass.getuser()
    except (KeyError, OSError):
        user = "somebody"
    return By(f"{user} (at the server)", "command line")


def _password(from_stdin: bool) -> str:
    if from_stdin:
        return sys.stdin.readline().rstrip("\r\n")
    if not sys.stdin.isatty():
        raise CallError("nobody is there to be asked for a password; pipe it in with --password-stdin.")
    return str(typer.prompt("Password", hide_input=True, confirmation_prompt="Password again"))


def _tell(one: Known, as_json: bool, said: str) -> None:
    if as_json:
        print_json(one.as_dict())
    else:
        typer.echo(f"{one.name} {said}")


@people.command("list")
def list_people(address: Address = None, as_json: AsJson = False) -> None:
    """Everybody, with roles; those that are closed at the end."""
    with the_ledger(address) as ledger:
        from discwright.acts.people import people as everybody

        found = everybody(ledger)
    if as_json:
        print_json({"people": [one.as_dict() for one in found]})
        return
    if not found:
        typer.echo("nobody yet; `discwright works people add NAME --role keeper` makes the first.")
    for one in found:
        state = f"closed {one.closed_at[:10]}" if one.closed_at else ""
        state = state or ("password to be changed" if one.must_change else "")
        typer.echo(f"{one.name:24}  {', '.join(one.roles):32}  {state}".rstrip())


@people.command()
def add(
    name: _Name, role: _Roles, password_stdin: _FromStdin = False, must_change: _MustChange = False,
    address: Address = None, as_json: AsJson = False,
) -> None:  # fmt: skip
    """Make a person, or open one again that was closed; with the first, a keeper, signing in begins."""
    with the_ledger(address) as ledger:
        from discwright.acts.people import add_person

        made = add_person(ledger, name, role, _password(password_stdin), _by(), must_change=must_change)
    _tell(made, as_json, f"can sign in as {', '.join(made.roles)}.")


@people.command()
def close(name: _Name, address: Address = None, as_json: AsJson = False) -> None:
    """Close a person: every session ends, and the name stays in the ledger."""
    with the_ledger(address) as ledger:
        from discwright.acts.people import close_person

        closed = close_person(ledger, name, _by())
    _tell(closed, as_json, "cannot sign in any more.")


@people.command()
def roles(name: _Name, role: _Roles, address: Address = None, as_json: AsJson = False) -> None:
    """Give a person other roles, in place of those before."""
    with the_ledger(address) as ledger:
        from discwright.acts.people import change_roles

        changed = change_roles(ledger, name, role, _by())
    _tell(changed, as_json, f"is {', '.join(changed.roles)} now.")


@people.command()
def password(
    name: _Name, password_stdin: _FromStdin = False, must_change: _MustChange = False, address: Address = None,
    as_json: AsJson = False,
) -> None:  # fmt: skip
    """Give a person another password; it is asked for twice and never an argument."""
    with the_ledger(address) as ledger:
        from discwright.acts.people import set_password
        from discwright.works.store.people import find

        find(ledger, name)  # before anybody types
        changed = set_password(ledger, name, _password(password_stdin), _by(), must_change=must_change)
    _tell(changed, as_json, "has a new password.")


def _shown(one: Token, state: str) -> str:
    used = f"used {one.used_at[:10]}" if one.used_at else "never used"
    return f"{one.id}  {one.name:20}  {state:8}  until {one.expires_at[:10]}  {used}  {', '.join(one.scopes)}"


@tokens.command("list")
def list_tokens(address: Address = None, as_json: AsJson = False) -> None:
    """Every token there ever was, newest first; never the token itself."""
    with the_ledger(address) as ledger:
        from discwright.acts.people import tokens as all_tokens

        now, found = ledger.clock(), all_tokens(ledger)
    if as_json:
        print_json({"tokens": [one.as_dict(now) for one in found]})
        return
    if not found:
        typer.echo("no machine has a token; `discwright works tokens add NAME --scope weighed` makes one.")
    for one in found:
        typer.echo(_shown(one, one.state(now)))


@tokens.command("add")
def add_token(
    name: Annotated[str, typer.Argument(metavar="NAME", help="Of the machine, as it goes into the ledger.")],
    scope: Annotated[
        list[str],
        typer.Option("--scope", metavar="SCOPE", help="`read`, or the name of an event it records; repeat for more."),
    ],
    days: Annotated[int, typer.Option("--days", help="It is good for so long.")] = 365,
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Make a token for a machine; it is printed this once."""
    with the_ledger(address) as ledger:
        from discwright.acts.people import add_token as make

        made, now = make(ledger, name, scope, days, _by()), ledger.clock()
    if as_json:
        print_json(made.token.as_dict(now) | {"token": made.secret})
        return
    typer.echo(made.secret)
    typer.echo(
        f"{made.token.name} sends it as `Authorization: Bearer …`, until {made.token.expires_at[:10]}; nobody can see "
        "it again.",
        err=True,
    )


@tokens.command()
def revoke(
    name: Annotated[str, typer.Argument(metavar="NAME", help="Name or number of the token.")],
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """A token is good for nothing from now on."""
    with the_ledger(address) as ledger:
        from discwright.acts.people import revoke_token

        gone, now = revoke_token(ledger, name, _by()), ledger.clock()
    if as_json:
        print_json(gone.as_dict(now))
    else:
        typer.echo(f"{gone.name} is good for nothing any more.")


def log(
    most: Annotated[int, typer.Option("--most", min=1, max=1000, help="So many rows, newest first.")] = 50,
    before: Annotated[int | None, typer.Option("--before", min=1, help="Only rows before this one.")] = None,
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """The access log: who signed in or failed to, whose roles changed, what was exported, backed up and restored."""
    with the_ledger(address) as ledger:
        from discwright.acts.people import access

        found = access(ledger, before=before, most=most)
    if as_json:
        print_json({"rows": [one.as_dict() for one in found]})
        return
    for one in found:
        about = f": {one.about}" if one.about else ""
        place = f"  ({one.place})" if one.place else ""
        typer.echo(f"{one.seq:6}  {one.at[:19]}Z  {one.who} {one.words}{about}{place}")


def certificate(
    name: Annotated[
        list[str],
        typer.Option("--name", metavar="HOST", help="Name or address under which tablets reach it; repeat for more."),
    ],
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for the files.")] = Path(),
    days: Annotated[int, typer.Option("--days", help="The desk's certificate is good for so long.")] = 397,
    renew: Annotated[
        bool, typer.Option("--renew", help="A new certificate under the same authority: no tablet is told again.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Make the works' own certificate, so that tablets reach the desk over https and their cameras work."""
    try:
        from discwright.acts.certificate import works_certificate

        made = works_certificate(out, name, days=days, renew=renew)
    except ImportError as trouble:
        raise missing_libraries() from trouble
    if as_json:
        print_json(made.as_dict())
        return
    facts = made.as_dict()
    typer.echo(f"{facts['certificate']}  for the desk, good until {made.good_until}: {', '.join(made.hosts)}")
    typer.echo(f"{facts['key']}  its key; nobody else may read it")
    if not renew:
        typer.echo(f"{facts['authority']}  to be trusted by every tablet, good until {made.authority_until}")
        typer.echo(f"{facts['authority_key']}  signs certificates that every tablet trusts: keep it where only you are")
    typer.echo("fingerprint of works-ca.pem (SHA-256), to be compared at each tablet before it is trusted:")
    digits = made.fingerprint
    typer.echo("  " + " ".join(digits[i : i + 4] for i in range(0, len(digits), 4)))
    typer.echo(f"serve with it: discwright desk FOLDER --address 0.0.0.0 --tls-cert {facts['certificate']} "
               f"--tls-key {facts['key']}")  # fmt: skip
