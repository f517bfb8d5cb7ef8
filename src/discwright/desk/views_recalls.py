"""Recalls: everything that is recalled and every account to be told; or whom a recall would reach."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from discwright.acts.people import check_may_record, hand_of
from discwright.acts.recalls import RecallReport, tell_account
from discwright.acts.recalls import recalls as reached
from discwright.desk import show_recalls as show
from discwright.desk.dock_pages import RecallsPage
from discwright.desk.dock_words import table
from discwright.desk.door import person_of
from discwright.desk.rendering import form_of, frame, go_to, render
from discwright.desk.works_door import came, ledger_of
from discwright.desk.works_time import zone_of
from discwright.errors import CallError
from discwright.works.people import may_record

router = APIRouter(include_in_schema=False)
Text = Annotated[str, Query(max_length=60)]
TOLD = "account_told"
_NOTHING, _NO_RUN = "Nothing is recalled.", "No run comes from it, and so nobody has any of it."


@router.get("/recalls")
def recalls(request: Request, number: Text = "") -> Response:
    """What is recalled, and whom to tell; with a number, whom the recall of that would reach."""
    try:
        report, sentence, status = reached(ledger_of(request), number.strip()), "", 200
    except CallError as why:
        words = str(why)
        report, sentence, status = RecallReport(number, (), ()), f"{words[:1].upper()}{words[1:]}", 404
    if not report.runs and not sentence:
        sentence = _NO_RUN if report.number else _NOTHING
    rows = show.reached_rows(report, may_tell=may_record(person_of(request), TOLD))
    page = RecallsPage(
        frame(request), report.number, sentence, show.counts(report, rows) if report.runs else (),
        show.run_rows(report), rows, f"/recalls/recalls.csv?{urlencode({'number': report.number})}",
    )  # fmt: skip
    return render(page, status)


@router.get("/recalls/recalls.csv")
def recalls_table(request: Request, number: Text = "") -> Response:
    """The same as a file, a line for each carton."""
    ledger = ledger_of(request)
    report = reached(ledger, number.strip())
    name = f"recall-{report.number}.csv" if report.number else "recalls.csv"
    return table(name, show.HEADS, show.csv_rows(report, zone_of(ledger)))


@router.post("/recalls/told")
async def told(request: Request) -> Response:
    """Write down that an account was told of a recall."""
    fields = await form_of(request)

    def do_it() -> None:
        person = person_of(request)
        check_may_record(person, TOLD)
        hand = hand_of(person, station="desk", key=fields.get("key", ""))
        came(tell_account(ledger_of(request), fields.get("account", ""), fields.get("run", ""), hand))

    await run_in_threadpool(do_it)
    asked = fields.get("number", "")
    return go_to(request, f"/recalls?{urlencode({'number': asked})}" if asked else "/recalls")
