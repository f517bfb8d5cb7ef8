"""Runs: all of them, and each with everything that is said of it from its first disc to its bins."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from discwright.acts.first_off import inspect_first_off
from discwright.acts.recalls import recall_run, recalls
from discwright.acts.runs import press_run, stock_run, take_out
from discwright.acts.works import Hand
from discwright.desk import show_run as show
from discwright.desk import show_runs
from discwright.desk.api_shapes import desk_of
from discwright.desk.csv_words import csv_response
from discwright.desk.door import person_of
from discwright.desk.hall_forms import NOTHING_SAID, Said, count_in, frame_at, number_in, take_form, text_in
from discwright.desk.hall_pages import RunPage, RunsPage
from discwright.desk.rendering import form_of, frame, render
from discwright.desk.run_forms import first_off_seen, run_forms
from discwright.desk.run_words import discs, first_off_badge, run_badge, run_href, wait_badges
from discwright.desk.show_board import clock_now, title_href
from discwright.desk.show_family import line_rows, planned_sides
from discwright.desk.views_station import done_of
from discwright.desk.works_door import ledger_of, run_at
from discwright.desk.works_pages import NoLedgerPage
from discwright.desk.works_time import zone_of, zone_words
from discwright.desk.yards import yards
from discwright.files.part_label import code_svg
from discwright.works.history import corrected
from discwright.works.people import RECORD, may
from discwright.works.run_standing import run_standing
from discwright.works.store.ledger import Ledger, Outcome
from discwright.works.store.look import part_lines
from discwright.works.yard import Run, edition_code

router = APIRouter(include_in_schema=False)
#: No works has more runs.
_MOST_RUNS = 10_000_000
Write = Callable[[Ledger, Run, Mapping[str, str], Hand], Outcome]


@router.get("/runs")
def all_runs(request: Request, first: int = 0) -> Response:
    """All runs, open ones first."""
    desk = desk_of(request)
    if desk.books is None or desk.books.present is None:
        return render(NoLedgerPage(frame(request), desk.is_open and may(person_of(request), RECORD)))
    ledger = ledger_of(request)
    zone, first = zone_of(ledger), min(max(0, first), _MOST_RUNS)
    found = show_runs.known_runs(yards(ledger).families)
    shown = found[first : first + show_runs.PAGE]
    page = RunsPage(
        frame(request), show_runs.counts(found), show_runs.run_rows(shown, zone, clock_now(ledger)),
        show_runs.paging(first, len(shown), len(found)), zone_words(zone),
    )  # fmt: skip
    return render(page)


@router.get("/runs/runs.csv")
def runs_table(request: Request) -> Response:
    """All runs as CSV."""
    ledger = ledger_of(request)
    return csv_response(show_runs.runs_csv(show_runs.known_runs(yards(ledger).families), zone_of(ledger)), "runs.csv")


@router.get("/runs/{run}")
def one_run(request: Request, run: str, done: str = "", again: bool = False) -> Response:
    """One run."""
    return render(_page(request, run, NOTHING_SAID, done, again))


def _page(request: Request, number: str, said: Said, done: str = "", again: bool = False) -> RunPage:
    desk, ledger, person = desk_of(request), ledger_of(request), person_of(request)
    family, run = run_at(ledger, number)
    zone, disc, standing = zone_of(ledger), show.disc_or_none(family, run), run_standing(family, run)
    lines = part_lines(ledger, family, run.id)
    shelf = desk.folder.shelf if desk.is_open else None
    return RunPage(
        frame=frame_at(request, run_href(run.id)), id=run.id, edition=edition_code(family.title, run.edition),
        title=f"{family.title} {family.name}".strip(), title_href=title_href(family.title), badge=run_badge(standing),
        waits=wait_badges(standing), recalled=show.recalled_words(family, run), counts=show.run_counts(run),
        facts=show.run_facts(run, zone), sides=show.run_sides(family, run, planned_sides(shelf)),
        first_off=first_off_badge(run.first_off), first_offs=show.first_off_rows(corrected(lines), disc, zone),
        lots=show.lot_rows(run, zone), lot_href=f"{run_href(run.id)}/lot" if run.to_inspect else "",
        lot_words=f"Inspect {discs(run.to_inspect)}", bins=show.bin_rows(run),
        accounts=show.account_rows(recalls(ledger, run.id).accounts),
        asks=run_forms(family, run, standing, disc, person, said), done=done_of(ledger, person, done, again),
        lines=line_rows(lines, run.id, zone), zone=zone_words(zone),
    )  # fmt: skip


@router.get("/runs/{run}/accounts.csv")
def accounts_table(request: Request, run: str) -> Response:
    """Who has discs of a run, or is about to get them."""
    ledger = ledger_of(request)
    _, found = run_at(ledger, run)
    return csv_response(show.account_csv(recalls(ledger, found.id).accounts), f"accounts-{found.id}.csv")


@router.get("/runs/{run}/code.svg")
def run_code(request: Request, run: str) -> Response:
    """The code of a run: its number and nothing else."""
    return Response(code_svg(run_at(ledger_of(request), run)[1].id), media_type="image/svg+xml")


# What is said of it ------------------------------------------------------------------------------------


async def _written(request: Request, number: str, form: str, kind: str, write: Write) -> Response:
    """Write what one of the page's forms says; the page again, with what was done or why nothing was."""
    fields = await form_of(request)

    def do_it() -> Response:
        _, run = run_at(ledger_of(request), number)
        lifted = kind == "recalled" and fields.get("lift") == "on"
        return take_form(
            request, fields, form, "approved" if lifted else kind,
            lambda ledger, hand: write(ledger, run, fields, hand),
            lambda line: f"{run_href(run.id)}?done={line.seq}",
            lambda said, status: render(_page(request, run.id, said), status),
        )  # fmt: skip

    return await run_in_threadpool(do_it)


@router.post("/runs/{run}/first-off")
async def first_off(request: Request, run: str) -> Response:
    """Write down what the first disc showed."""

    def write(ledger: Ledger, own: Run, fields: Mapping[str, str], hand: Hand) -> Outcome:
        weight = number_in(fields, "wanted_g", "weight wanted")
        seen, note = first_off_seen(own, fields), text_in(fields, "note")
        return inspect_first_off(ledger, own.id, seen, hand, weight_g=weight, note=note)[0]

    return await _written(request, run, "first-off", "first_off", write)


@router.post("/runs/{run}/pressed")
async def pressed(request: Request, run: str) -> Response:
    """Note how many were pressed, and how many of them were good."""

    def write(ledger: Ledger, own: Run, fields: Mapping[str, str], hand: Hand) -> Outcome:
        count, good = count_in(fields, "count", "pressings made"), count_in(fields, "good", "good ones")
        return press_run(ledger, own.id, count, good, hand)

    return await _written(request, run, "pressed", "run_pressed", write)


@router.post("/runs/{run}/stock")
async def stock(request: Request, run: str) -> Response:
    """Put accepted discs into a bin."""

    def write(ledger: Ledger, own: Run, fields: Mapping[str, str], hand: Hand) -> Outcome:
        return stock_run(ledger, own.id, text_in(fields, "bin"), hand, count=count_in(fields, "count", "discs"))

    return await _written(request, run, "stock", "stocked", write)


@router.post("/runs/{run}/take-out")
async def out_of_stock(request: Request, run: str) -> Response:
    """Take discs out of a bin that are not sent."""

    def write(ledger: Ledger, own: Run, fields: Mapping[str, str], hand: Hand) -> Outcome:
        count, bin_ = count_in(fields, "count", "discs"), text_in(fields, "bin")
        return take_out(ledger, own.id, bin_, count, hand, note=text_in(fields, "note"))

    return await _written(request, run, "take-out", "taken_out", write)


@router.post("/runs/{run}/recall")
async def recall(request: Request, run: str) -> Response:
    """Recall a run, or let it go again."""

    def write(ledger: Ledger, own: Run, fields: Mapping[str, str], hand: Hand) -> Outcome:
        return recall_run(ledger, own.id, hand, note=text_in(fields, "note"), lift=fields.get("lift") == "on")

    return await _written(request, run, "recall", "recalled", write)
