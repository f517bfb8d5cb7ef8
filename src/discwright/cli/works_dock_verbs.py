"""The verbs of `works` between order and lorry: orders, promises, cartons, loads, recalls."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from discwright.cli.console import print_json, progress
from discwright.cli.works_common import (
    Accept,
    Address,
    AsJson,
    By,
    Key,
    Station,
    by_side,
    hand_here,
    tell_findings,
    tell_outcome,
    the_ledger,
)

if TYPE_CHECKING:
    from discwright.acts.dock import DockReport
    from discwright.acts.orders import OrdersTaken
    from discwright.acts.recalls import RecallReport

_Note = Annotated[str, typer.Option("--note", metavar="TEXT", help="Anything worth knowing.")]
_Sscc = Annotated[str, typer.Argument(metavar="SSCC", help="Number on the label, as it was typed or scanned.")]


def orders(
    file: Annotated[Path, typer.Argument(metavar="ORDERS.csv", help="Orders, as `discwright pack` takes them.")],
    weights: Annotated[
        Path | None, typer.Option("--weights", metavar="FILE", help="CSV account,weight: who counts more when short.")
    ] = None,
    by: By = "",
    station: Station = "",
    key: Key = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Take a file of orders in: every line of it, or none."""
    from discwright.acts.orders import take_orders

    with the_ledger(address) as ledger:
        taken = take_orders(ledger, file, hand_here(by, station, key, ""), weights=weights)
    if as_json:
        print_json(taken.as_dict())
    else:
        _tell_taken(taken)
    if not taken.outcomes:
        raise typer.Exit(2)
    if not taken.written:
        raise typer.Exit(1)


def _tell_taken(taken: OrdersTaken) -> None:
    for one in taken.findings:
        typer.echo(f"{one.severity:4}  {one.sentence}", err=True)
    if taken.more:
        typer.echo(f"and {taken.more} more.", err=True)
    for outcome in taken.outcomes:
        tell_findings(outcome.findings, False)
    if taken.written:
        typer.echo(f"{taken.lines} lines of orders taken.")
    else:
        typer.echo("nothing was taken; mend the file and take it again.", err=True)


def cancel(
    order: Annotated[str, typer.Argument(metavar="ORDER", help="Number of the order.")],
    edition: Annotated[str, typer.Argument(metavar="EDITION", help="Code of the edition: CATALOGUE/ID.")],
    note: _Note = "",
    by: By = "",
    station: Station = "",
    key: Key = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Send no more of a line of an order; what is packed stays packed."""
    from discwright.acts.orders import cancel_order

    with the_ledger(address) as ledger:
        outcome = cancel_order(ledger, order, edition, hand_here(by, station, key, ""), note=note)
    tell_outcome(outcome, as_json)


def promises(
    today: Annotated[str, typer.Option("--today", metavar="DATE", help="As if it were this day.")] = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Every open line of an order: in stock, in time, late, or without a plan. Exit code 1 where any is late."""
    from discwright.acts.hall_ledger import planned_supplies
    from discwright.acts.orders import promise_orders

    with the_ledger(address) as ledger:
        report = promise_orders(ledger, planned_supplies(ledger), today=today)
    if as_json:
        print_json(report.as_dict())
    else:
        from discwright.works.promise import STATES

        for one in report.promises:
            line, day = one.line, f" by {one.day}" if one.day else ""
            who = f"{line.wanted or 'no day':10} {line.account:12} {line.edition:20} {line.count:6}"
            typer.echo(f"{STATES[one.state]:15} {who}{day}  {one.why}".rstrip())
        typer.echo(f"{report.late} of {len(report.promises)} open lines late or without a plan.")
    if report.late:
        raise typer.Exit(1)


def pack(
    prefix: Annotated[str, typer.Option("--gs1-prefix", metavar="P", help="Of this works; kept when given once.")] = "",
    serial_from: Annotated[int, typer.Option("--serial-from", min=0, help="First number, where none was given.")] = 0,
    extension: Annotated[int, typer.Option("--extension", min=0, max=9, help="Digit before the prefix.")] = 0,
    rule: Annotated[str, typer.Option("--rule", metavar="date|weight|fair", help="Who is first when short.")] = "date",
    per_carton: Annotated[int | None, typer.Option("--per-carton", help="Discs of a full carton.")] = None,
    per_bundle: Annotated[int | None, typer.Option("--per-bundle", help="Cartons of a full bundle.")] = None,
    dock: Annotated[str, typer.Option("--dock", metavar="NAME", help="Where everything leaves from.")] = "",
    docks: Annotated[
        list[str] | None, typer.Option("--dock-of", metavar="WHO=NAME", help="Dock of an account or a country.")
    ] = None,
    accounts: Annotated[list[str] | None, typer.Option("--account", metavar="NUMBER", help="Only this one.")] = None,
    labels: Annotated[Path | None, typer.Option("--labels", metavar="FILE.pdf", help="Write the labels.")] = None,
    page: Annotated[str, typer.Option("--page", metavar="A6|A4|letter", help="Paper of the labels.")] = "A6",
    dpi: Annotated[int, typer.Option("--dpi", help="Dots per inch of the label printer.")] = 203,
    manifest: Annotated[Path | None, typer.Option("--manifest", metavar="FILE.csv", help="Write the manifest.")] = None,
    pick_list: Annotated[
        Path | None, typer.Option("--pick-list", metavar="FILE.csv", help="Write what to take from which bin.")
    ] = None,
    sender: Annotated[str, typer.Option("--from-address", metavar="TEXT", help="Sender, lines parted by ;.")] = "",
    settings: Annotated[
        Path | None, typer.Option("--settings", metavar="FILE", help="House file over data/packing.toml.")
    ] = None,
    by: By = "",
    station: Station = "",
    key: Key = "",
    accept: Accept = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Pack what is ordered and stands in the bins into cartons and bundles. Exit code 1 where anything is short."""
    from discwright.acts.dock import pack_orders
    from discwright.acts.pack import PackOrder, Papers, check_order, write_papers
    from discwright.files.packing_settings import load_packing

    house, papers = load_packing(settings), Papers(labels, manifest, pick_list)
    printing = PackOrder(page=page, dpi=dpi, sender=sender, rule=rule, per_carton=per_carton, per_bundle=per_bundle)
    check_order(printing, papers, house)
    with the_ledger(address) as ledger, progress(as_json) as tell:
        report = pack_orders(
            ledger, hand_here(by, station, key, accept), rule=rule, per_carton=per_carton, per_bundle=per_bundle,
            prefix=prefix, extension=extension, first_serial=serial_from, dock=dock,
            docks=by_side(docks or [], "--dock-of"), accounts=accounts or (), house=house,
        )  # fmt: skip
        if report.written and report.packed.cartons:
            write_papers(report.pack, papers, printing, tell)
    if as_json:
        print_json(report.as_dict())
    else:
        _tell_packed(report)
    if not report.written or report.packed.short:
        raise typer.Exit(1)


def _tell_packed(report: DockReport) -> None:
    for outcome in report.outcomes:
        tell_findings(outcome.findings, False)
    for short in report.packed.short:
        typer.echo(f"short {short.account:12} {short.edition:24} {short.missing}", err=True)
    if report.packed.short:
        typer.echo(report.allocation.rule_words, err=True)
    if not report.written:
        typer.echo("nothing was packed; see to what speaks against it and pack again.", err=True)
        return
    discs = sum(one.count for one in report.packed.cartons)
    typer.echo(f"{discs} discs in {len(report.packed.cartons)} cartons and {len(report.packed.bundles)} bundles.")


def load(
    sscc: _Sscc,
    dock: Annotated[str, typer.Option("--dock", metavar="NAME", help="Where it leaves from.")],
    vehicle: Annotated[str, typer.Option("--vehicle", metavar="NAME", help="Which vehicle.")] = "",
    by: By = "",
    station: Station = "",
    key: Key = "",
    accept: Accept = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Scan a carton, or a bundle with all its cartons, into a vehicle."""
    from discwright.acts.loading import load as scan

    with the_ledger(address) as ledger:
        outcomes = scan(ledger, sscc, dock, hand_here(by, station, key, accept), vehicle=vehicle)
    refused = [one for one in outcomes if one.line is None]
    if as_json:
        loaded = [one.line.data["sscc"] for one in outcomes if one.line is not None]
        print_json({"loaded": loaded, "findings": [found.as_dict() for one in outcomes for found in one.findings]})
    else:
        for one in outcomes:
            tell_findings(one.findings, False)
        count = len(outcomes) - len(refused)
        typer.echo(f"{count} carton{'' if count == 1 else 's'} loaded at dock {dock}." if count else "nothing loaded.")
    if refused:
        raise typer.Exit(1)


def open_(
    sscc: _Sscc,
    bin_: Annotated[str, typer.Option("--bin", metavar="NAME", help="Bin its discs go back to.")],
    by: By = "",
    station: Station = "",
    key: Key = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Open a carton that is still here; its discs go back into a bin, and its order waits again."""
    from discwright.acts.loading import open_carton

    with the_ledger(address) as ledger:
        outcome = open_carton(ledger, sscc, bin_, hand_here(by, station, key, ""))
    tell_outcome(outcome, as_json)


def recalls(
    number: Annotated[
        str, typer.Argument(metavar="[NUMBER]", help="Of a part or a run, recalled or not: whom it would reach.")
    ] = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Every account that has discs of what was recalled, with its cartons, and what of them is still here."""
    from discwright.acts.recalls import recalls as reached

    with the_ledger(address) as ledger:
        report = reached(ledger, number)
    if as_json:
        print_json(report.as_dict())
        return
    _tell_recall(report)


def _tell_recall(report: RecallReport) -> None:
    for family, run, why in report.runs:
        words = f"recalled ({why})" if why else "not recalled"
        typer.echo(f"{run.id}  {family.title}/{run.edition}  made {run.made}, in bins {run.stocked}  {words}")
    recalled = any(why for _, _, why in report.runs)
    for one in report.accounts:
        sent, here = sum(c.count for c in one.gone), sum(c.count for c in one.here)
        told = "would be told" if not recalled else "told" if one.told else "to be told"
        typer.echo(f"{one.account:12} {one.name[:32]:32} {one.country:3} sent {sent:6}  here {here:6}  {told}")
    if not report.runs:
        typer.echo("no run is recalled, and none comes from that.")
    elif not report.accounts:
        typer.echo("nobody has any of it.")


def told(
    account: Annotated[str, typer.Argument(metavar="ACCOUNT", help="Number of the account.")],
    run: Annotated[str, typer.Argument(metavar="RUN", help="Number of the recalled run, RU….")],
    by: By = "",
    station: Station = "",
    key: Key = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Note that an account was told of a recall."""
    from discwright.acts.recalls import tell_account

    with the_ledger(address) as ledger:
        outcome = tell_account(ledger, account, run, hand_here(by, station, key, ""))
    tell_outcome(outcome, as_json)
