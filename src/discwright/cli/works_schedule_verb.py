"""The verb `works schedule`: what is pressed where and when, what is late and why."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from discwright.cli.console import console, print_json, progress
from discwright.cli.works_common import Address, the_ledger
from discwright.errors import CallError
from discwright.units import number

if TYPE_CHECKING:
    from discwright.acts.hall import RefusedJobs


def schedule(
    hall: Annotated[
        Path | None, typer.Option("--hall", metavar="HALL.toml", help="Presses, shifts and change times of the house.")
    ] = None,
    jobs: Annotated[
        Path | None, typer.Option("--jobs", metavar="JOBS.csv", help="What is to be pressed, by when.")
    ] = None,
    start: Annotated[
        str | None, typer.Option("--start", metavar="TIME", help="No change begins before; now without it.")
    ] = None,
    now: Annotated[
        str | None, typer.Option("--now", metavar="TIME", help="The present moment; by the clock without it.")
    ] = None,
    keep: Annotated[
        Path | None, typer.Option("--keep", metavar="FILE.json", help="Keep the schedule; never over another.")
    ] = None,
    kept: Annotated[
        Path | None,
        typer.Option("--from", metavar="FILE.json", help="Plan again: the kept schedule that was gone by."),
    ] = None,
    done: Annotated[
        Path | None,
        typer.Option("--done", metavar="DONE.csv", help="What really happened: job, made, press, state, at."),
    ] = None,
    seconds: Annotated[
        str, typer.Option("--seconds", metavar="S", help="Work put into it, by its own count; 0 for a plan at once.")
    ] = "60",
    chart: Annotated[
        Path | None, typer.Option("--chart", metavar="FILE.png|svg", help="Draw it: a row for each press.")
    ] = None,
    encoding: Annotated[
        str | None, typer.Option("--encoding", metavar="NAME", help="Of the tables, e.g. windows-1252; else UTF-8.")
    ] = None,
    go_by: Annotated[
        bool, typer.Option("--go-by", help="Out of the ledger: keep it there; promises count on it from now on.")
    ] = False,
    settings: Annotated[
        Path | None, typer.Option("--settings", metavar="FILE", help="Out of the ledger: house file over press.toml.")
    ] = None,
    address: Address = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """Plan the press hall for the least weighted lateness; what is late and why. Exit code 1 where anything is.

    Without --jobs and --from the jobs are those of the ledger, and the hall is hall.toml of this folder.
    """
    if jobs is None and kept is None:
        _of_the_ledger(address, hall, now or start, number(seconds, "--seconds"), keep, chart, settings, go_by, as_json)
        return
    if go_by or settings is not None:
        raise CallError("--go-by and --settings are for jobs of the ledger; leave --jobs and --from away.")
    from discwright.acts.hall import HallOrder, RefusedJobs, schedule_hall
    from discwright.cli.show_hall import show_hall

    order = HallOrder(
        now=now or datetime.now(UTC),
        hall=hall,
        jobs=jobs,
        kept=kept,
        done=done,
        start=start,
        seconds=number(seconds, "--seconds"),
        keep=keep,
        chart=chart,
        encoding=encoding,
    )
    with progress(as_json) as tell:
        report = schedule_hall(order, tell)
    if isinstance(report, RefusedJobs):
        _refuse(report, as_json)
    if as_json:
        print_json(report.as_dict())
    else:
        show_hall(report, console())
    if not report.ready:
        raise typer.Exit(1)


def _refuse(refused: RefusedJobs, as_json: bool) -> NoReturn:
    """Every fault of every line on standard error, in JSON too where that is asked for."""
    from discwright.acts.hall_report import refused_as_dict

    stops = [one for one in refused.findings if one.severity == "stop"]
    for one in stops:
        typer.echo(f"discwright: {one.sentence}", file=sys.stderr)
    more = len(refused.findings) - len(stops) + refused.more
    rest = f" and {more} more findings" if more else ""
    many = "1 fault" if len(stops) == 1 else f"{len(stops)} faults"
    typer.echo(f"discwright: {many}{rest}; nothing was planned.", file=sys.stderr)
    if as_json:
        print_json(refused_as_dict(refused.findings, refused.more))
    raise typer.Exit(2)


def _of_the_ledger(
    address: str | None, hall: Path | None, now: str | None, seconds: float, keep: Path | None, chart: Path | None,
    settings: Path | None, go_by: bool, as_json: bool,
) -> None:  # fmt: skip
    """Plan from where things stand in the ledger."""
    from discwright.acts.hall import write_hall
    from discwright.acts.hall_ledger import HALL_FILE, keep_schedule, schedule_works
    from discwright.cli.show_hall import show_hall
    from discwright.files.hall_plan import check_free
    from discwright.files.hall_settings import load_hall
    from discwright.works.hall_times import read_moment

    place = hall or Path(HALL_FILE)
    if hall is None and not place.is_file():
        raise CallError(f"a hall is needed; write {HALL_FILE} beside the ledger, or name one with --hall.")
    moment = None if now is None else read_moment(now, load_hall(place).hall.zone, "--now")
    if keep is not None:
        check_free(keep)
    with the_ledger(address) as ledger, progress(as_json) as tell:
        report = schedule_works(ledger, place, now=moment, seconds=seconds, settings=settings, tell=tell)
        report = write_hall(report, keep=keep, chart=chart)
        if go_by:
            keep_schedule(ledger, report)
    if as_json:
        print_json(report.as_dict())
    else:
        show_hall(report, console())
    if not report.ready:
        raise typer.Exit(1)
