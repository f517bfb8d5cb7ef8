"""The press hall: what is on each press, what waits, and runs that begin."""

from __future__ import annotations

from collections.abc import Mapping

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from discwright.acts.hall_ledger import HALL_FILE, keep_schedule, kept_schedule, schedule_works
from discwright.acts.people import NotAllowedError, check_may_record
from discwright.acts.runs import begin_run
from discwright.acts.works import Hand
from discwright.desk import show_hall as show
from discwright.desk.api_shapes import desk_of
from discwright.desk.csv_words import csv_response
from discwright.desk.door import person_of
from discwright.desk.hall_forms import NOTHING_SAID, Said, frame_at, take_form, text_in, whole_in
from discwright.desk.hall_pages import HallPage
from discwright.desk.rendering import form_of, frame, go_to, render
from discwright.desk.run_words import run_href
from discwright.desk.shelf import NotThereError
from discwright.desk.show_board import clock_now
from discwright.desk.show_schedule import schedule_svg
from discwright.desk.works_door import ledger_of
from discwright.desk.works_pages import NoLedgerPage
from discwright.desk.works_time import zone_of, zone_words
from discwright.errors import CallError, DiscwrightError
from discwright.works.people import RECORD, may
from discwright.works.store.ledger import Ledger, Outcome

router = APIRouter(include_in_schema=False)
_STAMPER = "stamper-"
#: Work that is put into a schedule while somebody waits for the page.
_WORK_S = 3.0


@router.get("/hall")
def hall(request: Request) -> Response:
    """What is on each press, and what waits."""
    desk = desk_of(request)
    if desk.books is None or desk.books.present is None:
        return render(NoLedgerPage(frame(request), desk.is_open and may(person_of(request), RECORD)))
    return render(_page(request, NOTHING_SAID))


def _page(request: Request, said: Said) -> HallPage:
    ledger, person = ledger_of(request), person_of(request)
    now, families = clock_now(ledger), show.hall_families(ledger)
    presses = show.press_cards(families, person, said, now)
    first_offs, waiting = show.first_off_runs(families, now), show.waiting_rows(families, now)
    return HallPage(
        frame_at(request, "/hall"), show.counts(presses, first_offs, len(waiting)), presses, first_offs, waiting,
        show.tape_form(person, said), show.schedule_block(ledger), show.planning_form(person, said),
        zone_words(zone_of(ledger)),
    )  # fmt: skip


@router.get("/hall/presses.csv")
def presses_table(request: Request) -> Response:
    """Every press, a line for each negative on it."""
    return csv_response(show.press_csv(show.hall_families(ledger_of(request))), "hall-presses.csv")


@router.get("/hall/waiting.csv")
def waiting_table(request: Request) -> Response:
    """What waits for a press, a line for each negative."""
    return csv_response(show.waiting_csv(show.hall_families(ledger_of(request))), "hall-waiting.csv")


@router.get("/hall/schedule.svg")
def schedule_chart(request: Request) -> Response:
    """The schedule that is kept, drawn."""
    document = kept_schedule(ledger_of(request))
    if document is None:
        raise NotThereError("no schedule is kept yet; go back to the press hall.")
    return Response(schedule_svg(document), media_type="image/svg+xml")


@router.post("/hall/schedule")
async def plan(request: Request) -> Response:
    """Plan the hall from where things stand, and go by that."""
    return await run_in_threadpool(_plan, request)


def _plan(request: Request) -> Response:
    try:
        check_may_record(person_of(request), "run_begun")
        place = desk_of(request).folder.shelf.folder / HALL_FILE
        if not place.is_file():
            raise CallError(f"This folder has no {HALL_FILE}; write one with the presses of the house.")
        ledger = ledger_of(request)
        keep_schedule(ledger, schedule_works(ledger, place, seconds=_WORK_S))
    except NotAllowedError:
        raise
    except DiscwrightError as trouble:
        sentence = f"{str(trouble)[:1].upper()}{str(trouble)[1:]}"
        return render(_page(request, Said(show.PLANNING, {}, sentence)), 422)
    return go_to(request, "/hall#schedule")


@router.post("/hall/begin")
async def begin(request: Request) -> Response:
    """Begin a run; on to its page."""
    fields = await form_of(request)
    return await run_in_threadpool(_begin, request, fields)


def _begin(request: Request, fields: Mapping[str, str]) -> Response:
    edition, press = text_in(fields, "edition"), text_in(fields, "press")
    sides = [name for name in fields if name.startswith(_STAMPER) and text_in(fields, name)]
    stampers = {name.removeprefix(_STAMPER): text_in(fields, name) for name in sides}

    def write(ledger: Ledger, hand: Hand) -> Outcome:
        planned = whole_in(fields, "planned", "pressings planned") or 0
        compound = text_in(fields, "compound")
        return begin_run(ledger, edition, stampers, hand, press=press, planned=planned, compound=compound)

    return take_form(
        request, fields, text_in(fields, "form"), "run_begun", write,
        lambda line: f"{run_href(line.part)}?done={line.seq}",
        lambda said, status: render(_page(request, said), status),
    )  # fmt: skip
