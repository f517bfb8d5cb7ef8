"""The verbs of `works` at the press: a run begun, its first disc, what was pressed, its lots, its bins."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from discwright.cli.console import print_json
from discwright.cli.works_common import (
    Accept,
    Address,
    AsJson,
    By,
    Key,
    Station,
    by_side,
    counts_by_name,
    hand_here,
    tell_outcome,
    the_ledger,
)
from discwright.units import number

if TYPE_CHECKING:
    from discwright.acts.lots import LotPlan

_Run = Annotated[str, typer.Argument(metavar="RUN", help="Number of the run, RU….")]
_Note = Annotated[str, typer.Option("--note", metavar="TEXT", help="Anything worth knowing.")]
_Bin = Annotated[str, typer.Option("--bin", metavar="NAME", help="Bin or shelf.")]


def run(
    edition: Annotated[str, typer.Argument(metavar="EDITION", help="Code of the edition: CATALOGUE/ID.")],
    stampers: Annotated[
        list[str] | None, typer.Option("--stamper", metavar="SIDE=NUMBER", help="One for each side; none for a tape.")
    ] = None,
    press: Annotated[str, typer.Option("--press", metavar="NAME", help="Where the stampers are, if not said.")] = "",
    planned: Annotated[int, typer.Option("--planned", min=0, help="Pressings to make.")] = 0,
    compound: Annotated[str, typer.Option("--compound", metavar="BATCH", help="Batch of the compound.")] = "",
    by: By = "",
    station: Station = "",
    key: Key = "",
    accept: Accept = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Begin a run: one set of stampers in one press without a change; prints its number."""
    from discwright.acts.runs import begin_run

    with the_ledger(address) as ledger:
        outcome = begin_run(
            ledger, edition, by_side(stampers or [], "--stamper"), hand_here(by, station, key, accept), press=press,
            planned=planned, compound=compound,
        )  # fmt: skip
    tell_outcome(outcome, as_json, id_only=True)


def first_off(
    run: _Run,
    hole: Annotated[str | None, typer.Option("--hole-mm", help="Diameter of the hole.")] = None,
    off_centre: Annotated[str | None, typer.Option("--off-centre-mm", help="Hole to the middle of the groove.")] = None,
    weight: Annotated[str | None, typer.Option("--weight-g", help="Weight of the disc.")] = None,
    labels: Annotated[
        str | None,
        typer.Option("--labels", metavar="WORD", help="right, wrong side, wrong way up, off centre, creased."),
    ] = None,
    marks: Annotated[
        list[str] | None, typer.Option("--mark", metavar="SIDE=TEXT", help="Run-out as it reads, of each side.")
    ] = None,
    stampers: Annotated[
        list[str] | None, typer.Option("--stamper", metavar="SIDE=NUMBER", help="In the press, as they read.")
    ] = None,
    played: Annotated[
        str | None, typer.Option("--played", metavar="pass|stop", help="What the full play ended with.")
    ] = None,
    wanted: Annotated[
        str | None, typer.Option("--wanted-g", help="Weight of this edition, if not the house's.")
    ] = None,
    settings: Annotated[
        Path | None, typer.Option("--settings", metavar="FILE", help="House file over data/press.toml.")
    ] = None,
    note: _Note = "",
    by: By = "",
    station: Station = "",
    key: Key = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Inspect the first disc of a run: nothing is pressed before one passes. What nobody looked at does not pass."""
    from discwright.acts.first_off import inspect_first_off
    from discwright.works.first_off import FirstOffSeen

    seen = FirstOffSeen(
        _number(hole, "--hole-mm"), _number(off_centre, "--off-centre-mm"), _number(weight, "--weight-g"), labels,
        by_side(marks, "--mark") if marks else None, by_side(stampers, "--stamper") if stampers else None, played,
    )  # fmt: skip
    with the_ledger(address) as ledger:
        outcome, found = inspect_first_off(
            ledger, run, seen, hand_here(by, station, key, ""), weight_g=_number(wanted, "--wanted-g"),
            settings=settings, note=note,
        )  # fmt: skip
    passed = not any(one.severity == "stop" for one in found)
    if as_json:
        line = outcome.line
        print_json({"passed": passed, "seq": line.seq if line else None, "findings": [one.as_dict() for one in found]})
    else:
        for one in found:
            typer.echo(f"{one.severity:4}  {one.code}  {one.value:g} {one.unit}  {one.remedy}", err=True)
        typer.echo("passed: the run may go on." if passed else "not passed: mend it and press another first disc.")
    if not passed or outcome.line is None:
        raise typer.Exit(1)


def pressed(
    run: _Run,
    count: Annotated[int, typer.Option("--count", min=0, help="Pressings made.")],
    good: Annotated[int, typer.Option("--good", min=0, help="Of them good at the press.")],
    by: By = "",
    station: Station = "",
    key: Key = "",
    accept: Accept = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Note how many of a run were pressed, and how many of them were good."""
    from discwright.acts.runs import press_run

    with the_ledger(address) as ledger:
        outcome = press_run(ledger, run, count, good, hand_here(by, station, key, accept))
    tell_outcome(outcome, as_json)


def lot(
    run: _Run,
    count: Annotated[
        int | None, typer.Option("--count", min=1, help="Discs of the lot; all that wait without.")
    ] = None,
    found: Annotated[
        str | None,
        typer.Option("--found", metavar="LIST", help="critical=0,major=2,minor=1: discs of the sample by their worst."),
    ] = None,
    level: Annotated[str, typer.Option("--level", metavar="II", help="Inspection level; the house's without.")] = "",
    seed: Annotated[int | None, typer.Option("--seed", help="Of the random sample.")] = None,
    unsteady: Annotated[str, typer.Option("--unsteady", metavar="WHY", help="Production is not steady.")] = "",
    reduced: Annotated[str, typer.Option("--reduced-agreed", metavar="NAME", help="Who agrees to reduced.")] = "",
    settings: Annotated[
        Path | None, typer.Option("--settings", metavar="FILE", help="House file over data/defects.toml.")
    ] = None,
    note: _Note = "",
    by: By = "",
    station: Station = "",
    key: Key = "",
    accept: Accept = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """How the next lot of a run is inspected; with --found, what was found and the verdict, which is written down."""
    from discwright.acts.lots import inspect_lot, plan_lot

    with the_ledger(address) as ledger:
        if found is None:
            plan = plan_lot(ledger, run, count=count, level=level, settings=settings, seed=seed)
        else:
            outcome, plan, verdict = inspect_lot(
                ledger, run, hand_here(by, station, key, accept), count=count, found=counts_by_name(found, "--found"),
                level=level, settings=settings, seed=seed, unsteady=unsteady, reduced_agreed=reduced, note=note,
            )  # fmt: skip
    if found is None:
        if as_json:
            print_json(plan.as_dict())
        else:
            for words in _shown(plan):
                typer.echo(words)
        return
    word = "accepted" if verdict.accepted else "refused"
    if as_json:
        seq = outcome.line.seq if outcome.line else None
        classes = [{"class": c.plan.defect_class, "found": c.found, "accepted": c.accepted} for c in verdict.classes]
        print_json({"verdict": word, "seq": seq, "lot": len(plan.run.lots) + 1, "classes": classes})
    else:
        tell_outcome(outcome, as_json)
        typer.echo(f"lot {len(plan.run.lots) + 1} of {plan.run.id}: {word}.")
    if not verdict.accepted or outcome.line is None:
        raise typer.Exit(1)


def _shown(plan: LotPlan) -> Iterator[str]:
    yield f"{plan.run.id} lot {len(plan.run.lots) + 1}: {plan.count} discs, level {plan.level}"
    for one in plan.classes:
        standing = plan.standing[one.defect_class]
        rule = f"AQL {one.rule}" if one.plan is not None else f"{one.rule}"
        yield f"{one.defect_class:9} {standing.state:10} {rule:9} n {one.n}, accept {one.accept}, reject {one.reject}"
        yield f"{'':9} {standing.why} {standing.next_switch}"
    first = ", ".join(str(one) for one in sorted(plan.take)[:20])
    yield f"take      {first}{' … (--json has all)' if len(plan.take) > 20 else ''}"


def decide(
    run: _Run,
    lot_number: Annotated[int, typer.Argument(metavar="LOT", min=1, help="Which lot of the run.")],
    disposition: Annotated[str, typer.Argument(metavar="sorted|scrapped|released", help="What becomes of it.")],
    good: Annotated[int | None, typer.Option("--good", min=0, help="Good discs of a sorted lot.")] = None,
    note: _Note = "",
    by: By = "",
    station: Station = "",
    key: Key = "",
    accept: Accept = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Say what becomes of a refused lot: sorted disc by disc, scrapped, or released with a reason (--note)."""
    from discwright.acts.lots import decide_lot

    with the_ledger(address) as ledger:
        hand = hand_here(by, station, key, accept)
        outcome = decide_lot(ledger, run, lot_number, disposition, hand, good=good, note=note)
    tell_outcome(outcome, as_json)


def restart(
    edition: Annotated[str, typer.Argument(metavar="EDITION", help="Code of the edition: CATALOGUE/ID.")],
    defect_class: Annotated[str, typer.Option("--class", metavar="critical|major|minor", help="Class of defects.")],
    why: Annotated[str, typer.Option("--why", metavar="TEXT", help="What was done.")],
    by: By = "",
    station: Station = "",
    key: Key = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Take inspection up again after it was stopped; it begins tightened."""
    from discwright.acts.lots import restart_inspection

    with the_ledger(address) as ledger:
        outcome = restart_inspection(ledger, edition, defect_class, why, hand_here(by, station, key, ""))
    tell_outcome(outcome, as_json)


def stock(
    run: Annotated[str | None, typer.Argument(metavar="[RUN]", help="Number of the run; without it all stock.")] = None,
    bin_: Annotated[str, typer.Option("--bin", metavar="NAME", help="Bin or shelf.")] = "",
    count: Annotated[int | None, typer.Option("--count", min=1, help="Discs; all accepted ones without.")] = None,
    by: By = "",
    station: Station = "",
    key: Key = "",
    accept: Accept = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Put accepted discs of a run into a bin; without a run, what stands in the bins."""
    with the_ledger(address) as ledger:
        if run is None:
            _list_stock(ledger, as_json)
            return
        from discwright.acts.runs import stock_run

        outcome = stock_run(ledger, run, bin_, hand_here(by, station, key, accept), count=count)
    tell_outcome(outcome, as_json)


def _list_stock(ledger: object, as_json: bool) -> None:
    from discwright.acts.dock import stock as stock_of
    from discwright.works.store.ledger import Ledger
    from discwright.works.store.look import families_beyond

    assert isinstance(ledger, Ledger)
    families = families_beyond(ledger)
    rows = [(one, recalled) for recalled in (False, True) for one in stock_of(families, recalled=recalled)]
    if as_json:
        print_json(
            {
                "stock": [
                    {"edition": one.edition, "run": one.run, "bin": one.bin, "count": one.count, "recalled": recalled}
                    for one, recalled in rows
                ]
            }
        )
        return
    for one, recalled in rows:
        typer.echo(f"{one.bin:12} {one.edition:24} {one.run:10} {one.count:8}{'  recalled' * recalled}")
    if not rows:
        typer.echo("the bins are empty; put accepted discs there with `works stock RUN --bin NAME`.")


def take_out(
    run: _Run,
    bin_: _Bin,
    count: Annotated[int, typer.Option("--count", min=1, help="Discs.")],
    note: _Note = "",
    by: By = "",
    station: Station = "",
    key: Key = "",
    address: Address = None,
    as_json: AsJson = False,
) -> None:
    """Take discs out of a bin that are not sent: broken, kept as a sample, played."""
    from discwright.acts.runs import take_out as take

    with the_ledger(address) as ledger:
        outcome = take(ledger, run, bin_, count, hand_here(by, station, key, ""), note=note)
    tell_outcome(outcome, as_json)


def _number(text: str | None, what: str) -> float | None:
    return None if text is None else number(text, what)
