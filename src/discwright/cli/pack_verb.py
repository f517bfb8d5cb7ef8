"""The verb `pack`: orders and stock to cartons, bundles, labels, manifest and pick list, without a ledger."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import Annotated

import typer

from discwright.cli.console import console, print_json, progress
from discwright.errors import CallError


def pack(
    orders: Annotated[Path, typer.Argument(metavar="ORDERS.csv", help="The orders.")],
    stock: Annotated[Path, typer.Option(metavar="STOCK.csv", help="What lies in which bin.")],
    prefix: Annotated[
        str | None, typer.Option("--gs1-prefix", metavar="DIGITS", help="Company prefix; without it no SSCC.")
    ] = None,
    serial: Annotated[
        str | None, typer.Option("--serial-from", metavar="N", help="First serial number that was never used.")
    ] = None,
    extension: Annotated[str, typer.Option(metavar="DIGIT", help="Extension digit of the SSCCs.")] = "0",
    per_carton: Annotated[
        str | None, typer.Option("--per-carton", metavar="N", help="Discs of a carton; 25 without the option.")
    ] = None,
    per_bundle: Annotated[
        str | None, typer.Option("--per-bundle", metavar="N", help="Cartons of a bundle; 4 without the option.")
    ] = None,
    weights: Annotated[
        Path | None, typer.Option(metavar="FILE.csv", help="How much an account counts: account,weight.")
    ] = None,
    rule: Annotated[
        str, typer.Option(metavar="[date|weight|fair]", help="Who comes first where an edition is short.")
    ] = "date",
    recalled: Annotated[
        list[str] | None, typer.Option(metavar="RUN", help="A run that stays in its bins; again for more.")
    ] = None,
    labels: Annotated[Path | None, typer.Option(metavar="FILE.pdf", help="Write the labels.")] = None,
    page: Annotated[str, typer.Option(metavar="[A6|100x150|4x6in|A4|letter]", help="Paper of the labels.")] = "A6",
    dpi: Annotated[str, typer.Option(metavar="N", help="Dots in an inch of the label printer.")] = "203",
    sender: Annotated[
        str, typer.Option("--from-address", metavar="TEXT", help="Sender on the labels, semicolons between lines.")
    ] = "",
    manifest: Annotated[Path | None, typer.Option(metavar="FILE.csv", help="Write the manifest.")] = None,
    pick_list: Annotated[
        Path | None, typer.Option("--pick-list", metavar="FILE.csv", help="Write the pick list.")
    ] = None,
    pallet: Annotated[str | None, typer.Option(metavar="NAME", help="Kind of pallet; eur without the option.")] = None,
    encoding: Annotated[
        str | None, typer.Option(metavar="NAME", help="Of the CSV files, where they are not UTF-8.")
    ] = None,
    settings: Annotated[
        Path | None, typer.Option(metavar="FILE.toml", help="House file that replaces shipped packing settings.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """Share out stock among orders, pack it into cartons and bundles, and write labels and lists."""
    from discwright.acts import pack as acts
    from discwright.cli.show_pack import show_pack

    order = acts.PackOrder(
        gs1_prefix=None if prefix is None else prefix.strip(),
        serial_from=_whole(serial, "--serial-from"),
        extension=_whole(extension, "--extension") or 0,
        per_carton=_whole(per_carton, "--per-carton"),
        per_bundle=_whole(per_bundle, "--per-bundle"),
        rule=rule,
        recalled=tuple(recalled or ()),
        pallet=pallet,
        page=page,
        dpi=_whole(dpi, "--dpi") or 0,
        sender=sender,
    )
    try:
        with progress(as_json) as tell:
            report = acts.pack_files(
                orders, stock, order, weights=weights, papers=acts.Papers(labels, manifest, pick_list),
                settings=settings, encoding=encoding, tell=tell,
            )  # fmt: skip
    except acts.RefusedLines as refused:
        _refuse(refused, as_json)
    if as_json:
        print_json(report.as_dict())
    else:
        show_pack(report, console())
    if report.short:
        raise typer.Exit(1)


def _refuse(refused: Exception, as_json: bool) -> None:
    """Every fault of every line on standard error, in JSON too where that is asked for."""
    from discwright.acts.pack import RefusedLines

    assert isinstance(refused, RefusedLines)
    stops = [one for one in refused.findings if one.severity == "stop"]
    for one in stops:
        typer.echo(f"discwright: {one.sentence}", file=sys.stderr)
    more = len(refused.findings) - len(stops) + refused.more
    rest = f" and {more} more findings" if more else ""
    many = "1 fault" if len(stops) == 1 else f"{len(stops)} faults"
    typer.echo(f"discwright: {many}{rest}; nothing was packed.", file=sys.stderr)
    if as_json:
        print_json(
            {
                "cartons": [], "bundles": [], "short": [], "findings": [one.as_dict() for one in refused.findings],
                "more_findings": refused.more,
            }
        )  # fmt: skip
    raise typer.Exit(2)


def _whole(text: str | None, name: str) -> int | None:
    if text is None:
        return None
    if not re.fullmatch(r"[0-9]{1,17}", text.strip()):
        raise CallError(f"{name}: “{text}” is no whole number; write digits alone, such as 4.")
    return int(text)
