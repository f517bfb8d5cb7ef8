"""The verbs of `works` that write: a title taken in, a plan kept, a lacquer cut, parts grown, lines recorded."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from discwright.cli import (
    works_dock_verbs,
    works_keep_verbs,
    works_locate_verb,
    works_look_verbs,
    works_people_verbs,
    works_run_verbs,
    works_schedule_verb,
)
from discwright.cli.console import print_json
from discwright.cli.works_common import (
    Accept,
    Address,
    AsJson,
    By,
    Key,
    Station,
    missing_libraries,
    signed_in_here,
    tell_outcome,
    the_ledger,
)
from discwright.errors import CallError
from discwright.units import number

#: Limits of the works, where they lie beside the ledger.
PRACTICE = "works.toml"

works = typer.Typer(
    no_args_is_help=True, rich_markup_mode=None,
    help="The ledger of the works: where every part comes from, and every step of it.",
)  # fmt: skip
_Title = Annotated[str, typer.Option("--title", metavar="CATALOGUE", help="Catalogue number of the title.")]
_Side = Annotated[str, typer.Option("--side", metavar="LETTER", help="Which side.")]
_Edition = Annotated[str, typer.Option("--edition", metavar="ID", help="Where several could be meant.")]
_PlanDir = Annotated[Path, typer.Argument(metavar="PLAN_DIR", help="Folder of a kept plan.")]


@works.command()
def init(address: Address = None, as_json: AsJson = False) -> None:
    """Begin a ledger: works.sqlite in this folder, or the database at the address."""
    try:
        from discwright.works.store.ledger import begin_ledger
    except ImportError as trouble:
        raise missing_libraries() from trouble
    ledger = begin_ledger(address or ".")
    seq, head = ledger.head()
    ledger.close()
    if as_json:
        print_json({"ledger": ledger.where, "lines": seq, "head": head})
    else:
        typer.echo(f"a ledger is begun: {ledger.where if address else 'works.sqlite in this folder'}")


@works.command()
def add(
    title_file: Annotated[Path, typer.Argument(metavar="TITLE.toml", help="The title file.")],
    practice: Annotated[
        Path | None,
        typer.Option("--practice", metavar="FILE", help="TOML file with a table [limits]; works.toml of this folder."),
    ] = None,
    revised: Annotated[bool, typer.Option("--revised", help="The title is known; its file counts anew.")] = False,
    by: By = "",
    station: Station = "",
    key: Key = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Take a title in."""
    from discwright.acts.works import Hand, take_in

    own = practice if practice is not None else Path(PRACTICE) if Path(PRACTICE).is_file() else None
    with the_ledger(address) as ledger:
        outcome = take_in(ledger, title_file, Hand(by or signed_in_here(), station, key), practice=own, revised=revised)
    tell_outcome(outcome, as_json)


@works.command()
def keep(
    plan_dir: _PlanDir,
    title: _Title,
    side: _Side,
    edition: _Edition = "",
    by: By = "",
    station: Station = "",
    key: Key = "",
    accept: Accept = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Say that a plan is the one to cut a side from; lacquers of another programme are barred from then on."""
    from discwright.acts.works import Hand, keep_plan, read_planned

    with the_ledger(address) as ledger:
        outcome = keep_plan(
            ledger, read_planned(plan_dir), title, side, _hand(Hand, by, station, key, accept), edition=edition
        )
    tell_outcome(outcome, as_json)


@works.command()
def cut(
    plan_dir: _PlanDir,
    title: _Title,
    side: _Side,
    lacquer: Annotated[str, typer.Option("--lacquer", metavar="BATCH", help="Batch of the lacquer.")],
    edition: _Edition = "",
    tip: Annotated[str, typer.Option("--tip", metavar="NUMBER", help="The cutting tip.")] = "",
    tip_hours: Annotated[str | None, typer.Option("--tip-hours", help="Hours on the tip after the cut.")] = None,
    blank_mm: Annotated[str | None, typer.Option("--blank-mm", help="Diameter of the blank.")] = None,
    heat_a: Annotated[str | None, typer.Option("--heat-a", help="Current of the tip's heater.")] = None,
    operator: Annotated[str, typer.Option("--operator", metavar="NAME", help="Who cut it, if not who notes it.")] = "",
    mark: Annotated[str, typer.Option("--mark", metavar="TEXT", help="Run-out marks scribed into the lacquer.")] = "",
    by: By = "",
    station: Station = "",
    key: Key = "",
    accept: Accept = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Note that a lacquer was cut from a plan; prints the number of the new part."""
    from discwright.acts.works import Cutting, Hand, read_planned
    from discwright.acts.works import cut as note_cut

    cutting = Cutting(
        lacquer, tip, _number(tip_hours, "--tip-hours"), _number(blank_mm, "--blank-mm"), _number(heat_a, "--heat-a"),
        operator, mark,
    )  # fmt: skip
    with the_ledger(address) as ledger:
        plan = read_planned(plan_dir)
        hand = _hand(Hand, by, station, key, accept)
        outcome = note_cut(ledger, plan, title, side, cutting, hand, edition=edition)
    if not as_json and outcome.line is not None:
        if plan.audio == "missing":
            typer.echo("the audio was not there to be compared with the plan; see that it is approved.", err=True)
        if not plan.ready:
            typer.echo("the plan has stops and was not ready to cut.", err=True)
    tell_outcome(outcome, as_json, id_only=True)


@works.command()
def grow(
    parent: Annotated[str, typer.Argument(metavar="PARENT", help="Number of the part it is grown on.")],
    kind: Annotated[str, typer.Option("--kind", metavar="master|mother|stamper", help="What is grown.")],
    mark: Annotated[str, typer.Option("--mark", metavar="TEXT", help="Run-out marks put on the new part.")] = "",
    tank: Annotated[str, typer.Option("--tank", metavar="NAME", help="Which tank.")] = "",
    ampere_hours: Annotated[str | None, typer.Option("--ampere-hours", help="Charge of the run.")] = None,
    minutes: Annotated[str | None, typer.Option("--minutes", help="Time in the bath.")] = None,
    by: By = "",
    station: Station = "",
    key: Key = "",
    accept: Accept = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Note that a part was grown on another; prints the number of the new part."""
    from discwright.acts.works import Hand
    from discwright.acts.works import grow as note_grown

    with the_ledger(address) as ledger:
        outcome = note_grown(
            ledger, parent, kind, _hand(Hand, by, station, key, accept), mark=mark, tank=tank,
            ampere_hours=_number(ampere_hours, "--ampere-hours"), minutes=_number(minutes, "--minutes"),
        )  # fmt: skip
    tell_outcome(outcome, as_json, id_only=True)


@works.command()
def record(
    part: Annotated[
        str | None, typer.Argument(metavar="PART", help="Number of the part; catalogue number for a test cut.")
    ] = None,
    kind: Annotated[str | None, typer.Argument(metavar="KIND", help="What happened; --list prints all.")] = None,
    count: Annotated[int | None, typer.Option("--count", min=0, help="How many: pressings, faults heard.")] = None,
    value: Annotated[str | None, typer.Option("--value", help="What was weighed or measured, in --unit.")] = None,
    unit: Annotated[str, typer.Option("--unit", help="Unit of the value.")] = "",
    note: Annotated[str, typer.Option("--note", metavar="TEXT", help="Anything worth knowing.")] = "",
    more: Annotated[
        list[str] | None, typer.Option("--with", metavar="FIELD=TEXT", help="A further field of the event.")
    ] = None,
    listing: Annotated[bool, typer.Option("--list", help="Print every event and what it takes.")] = False,
    by: By = "",
    station: Station = "",
    key: Key = "",
    accept: Accept = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Write one line: what was done to a part."""
    if listing:
        _list_events(as_json)
        return
    if part is None or kind is None:
        raise CallError("which part, and what happened? Write `works record PART KIND`; --list prints the kinds.")
    from discwright.acts.works import Hand
    from discwright.acts.works_record import Said
    from discwright.acts.works_record import record as write_line

    said = Said(count, _number(value, "--value"), unit, note, _fields(more or []))
    with the_ledger(address) as ledger:
        outcome = write_line(ledger, part, kind, said, _hand(Hand, by, station, key, accept))
    tell_outcome(outcome, as_json)


@works.command()
def correct(
    line: Annotated[int, typer.Argument(metavar="LINE", min=1, help="Number of the line that is wrong.")],
    reason: Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why.")],
    count: Annotated[int | None, typer.Option("--count", min=0, help="What it should have said.")] = None,
    value: Annotated[str | None, typer.Option("--value", help="What it should have said, in --unit.")] = None,
    unit: Annotated[str, typer.Option("--unit", help="Unit of the value.")] = "",
    note: Annotated[str, typer.Option("--note", metavar="TEXT", help="What it should have said.")] = "",
    more: Annotated[
        list[str] | None, typer.Option("--with", metavar="FIELD=TEXT", help="A further field of the event.")
    ] = None,
    by: By = "",
    station: Station = "",
    key: Key = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Put a line right: as if it had never been, or as if it had said something else. The line itself stays."""
    from discwright.acts.works import Hand
    from discwright.acts.works_record import Said
    from discwright.acts.works_record import correct as put_right

    said = Said(count, _number(value, "--value"), unit, note, _fields(more or []))
    with the_ledger(address) as ledger:
        outcome = put_right(
            ledger, line, reason, _hand(Hand, by, station, key, ""), instead=None if said == Said() else said
        )
    tell_outcome(outcome, as_json)


works.command()(works_look_verbs.tree)
works.command()(works_look_verbs.trace)
works.command()(works_look_verbs.search)
works.command()(works_look_verbs.card)
works.command()(works_schedule_verb.schedule)
works.command()(works_locate_verb.heard)
works.command()(works_locate_verb.locate)
works.command()(works_run_verbs.run)
works.command("first-off")(works_run_verbs.first_off)
works.command()(works_run_verbs.pressed)
works.command()(works_run_verbs.lot)
works.command()(works_run_verbs.decide)
works.command()(works_run_verbs.restart)
works.command()(works_run_verbs.stock)
works.command("take-out")(works_run_verbs.take_out)
works.command()(works_dock_verbs.orders)
works.command()(works_dock_verbs.cancel)
works.command()(works_dock_verbs.promises)
works.command()(works_dock_verbs.pack)
works.command()(works_dock_verbs.load)
works.command("open")(works_dock_verbs.open_)
works.command()(works_dock_verbs.recalls)
works.command()(works_dock_verbs.told)
works.command()(works_keep_verbs.verify)
works.command()(works_keep_verbs.backup)
works.command()(works_keep_verbs.restore)
works.command()(works_keep_verbs.export)
works.command("import")(works_keep_verbs.import_)
works.add_typer(works_people_verbs.people, name="people")
works.add_typer(works_people_verbs.tokens, name="tokens")
works.command()(works_people_verbs.log)
works.command()(works_people_verbs.certificate)


def _hand(hand: Any, by: str, station: str, key: str, accept: str) -> Any:
    return hand(by or signed_in_here(), station, key, accept)


def _number(text: str | None, what: str) -> float | None:
    return None if text is None else number(text, what)


def _fields(pairs: list[str]) -> dict[str, Any]:
    """`FIELD=TEXT` pairs; numbers become numbers where the field wants one."""
    from discwright.acts.works_record import NUMBERS

    found: dict[str, Any] = {}
    for pair in pairs:
        name, sign, text = pair.partition("=")
        if not sign:
            raise CallError(f"--with {pair[:40]}: is no FIELD=TEXT; `works record --list` prints the fields.")
        found[name] = number(text, name) if name in NUMBERS else text
    return found


def _list_events(as_json: bool) -> None:
    from discwright.acts.works_record import takes
    from discwright.works.events import EVENTS

    if as_json:
        print_json(
            {
                kind: {
                    "recordable": event.recordable,
                    "takes": [
                        {"field": name, "words": words, "needed": needed, "units": list(units)}
                        for name, words, needed, units in takes(kind)
                    ],
                }
                for kind, event in EVENTS.items()
            }
        )
        return
    for kind, event in EVENTS.items():
        if not event.recordable:
            continue
        typer.echo(kind)
        for name, words, needed, units in takes(kind):
            how = f"--value V --unit {'|'.join(units)}" if units else _option(name)
            typer.echo(f"    {how:38} {words}{' (needed)' if needed else ''}")


def _option(name: str) -> str:
    own = {"count": "--count N", "note": "--note TEXT", "defects": "`works heard PART`"}
    return own.get(name, f"--with {name}=…")
