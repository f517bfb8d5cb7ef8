"""Lots: the page on which one is inspected, disc by disc, and each that was judged. The verdict is made here alone."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from discwright.acts.lots import decide_lot, inspect_lot, plan_lot, restart_inspection
from discwright.acts.people import NotAllowedError, check_may_record, hand_of
from discwright.acts.works import Hand
from discwright.desk import show_judged as judged
from discwright.desk import show_lot as show
from discwright.desk.door import person_of
from discwright.desk.hall_forms import (
    NOTHING_SAID,
    Said,
    count_in,
    frame_at,
    sentence_of,
    take_form,
    text_in,
    whole_in,
)
from discwright.desk.hall_pages import JudgedPage, LotPage
from discwright.desk.lot_entry import Entered, fitting_entries, pressed, read_entered
from discwright.desk.rendering import form_of, go_to, render
from discwright.desk.run_words import discs, run_href
from discwright.desk.shelf import NotThereError
from discwright.desk.show_run import disc_or_none, lot_href, lot_rows
from discwright.desk.views_station import done_of, station_of
from discwright.desk.works_door import AtOddsError, ledger_of, run_at
from discwright.desk.works_time import zone_of
from discwright.errors import CallError, DiscwrightError, LedgerError
from discwright.files.defect_settings import load_defects
from discwright.files.face_picture import Face, face_of, face_svg
from discwright.files.oc_picture import draw_oc
from discwright.works.defect_classes import class_named
from discwright.works.family import Family
from discwright.works.people import may_record
from discwright.works.run_events import RELEASED, SORTED
from discwright.works.store.ledger import Ledger, Outcome
from discwright.works.yard import Lot, Run, edition_code

router = APIRouter(include_in_schema=False)
_NOT_YOURS = "Your roles may look at this plan and enter nothing; ask whoever inspects."


def _face(family: Family, run: Run) -> Face | None:
    disc = disc_or_none(family, run)
    return face_of(disc) if disc is not None else None


def _here(ledger: Ledger, family: Family, run: Run, count: int | None, level: str) -> show.LotHere:
    plan = plan_lot(ledger, run.id, count=count, level=level)
    return show.LotHere(family, run, plan, load_defects(), _face(family, run))


# The next lot ------------------------------------------------------------------------------------------


@router.get("/runs/{run}/lot")
def next_lot(request: Request, run: str, count: str = "", level: str = "") -> Response:
    """How the next lot of a run is inspected, and the form in which it is."""
    ledger = ledger_of(request)
    family, found = run_at(ledger, run)
    asked = {"count": count, "level": level}
    if not found.to_inspect or show.stopped_rows(family, found, person_of(request), NOTHING_SAID):
        return render(_idle_page(request, family, found, NOTHING_SAID))
    try:
        here = _here(ledger, family, found, whole_in(asked, "count", "discs of the lot"), level.strip()[:10])
    except DiscwrightError as why:
        here = _here(ledger, family, found, None, "")
        return render(_lot_page(request, here, Entered(), {}, "", Said("size", asked, sentence_of(why))), 422)
    return render(_lot_page(request, here, _begun(here), {}, "", NOTHING_SAID))


def _begun(here: show.LotHere) -> Entered:
    """Nothing is entered yet."""
    return Entered(side=here.sides[0] if here.sides else "")


def _lot_page(
    request: Request, here: show.LotHere, now: Entered, fields: Mapping[str, str], sentence: str, said: Said
) -> LotPage:
    person, run = person_of(request), here.run
    may = may_record(person, "lot_inspected")
    place = show.lot_page_href(run, count=here.plan.count, level=here.plan.level)
    return LotPage(
        frame=frame_at(request, place), run=run.id, run_href=run_href(run.id),
        edition=edition_code(here.family.title, run.edition), title=here.family.name or here.family.title,
        heading=f"Lot {here.number}", facts=show.lot_facts(here), classes=show.class_rows(here),
        form=show.lot_form(here, now, fields, sentence) if may else None, nothing="" if may else _NOT_YOURS,
        stopped=(), lots=lot_rows(run, zone_of(ledger_of(request))), size=show.size_form(here, person, said),
    )  # fmt: skip


def _idle_page(request: Request, family: Family, run: Run, said: Said) -> LotPage:
    """Nothing can be inspected now: there is nothing, or inspection is stopped."""
    stopped = show.stopped_rows(family, run, person_of(request), said)
    why = "Inspection is stopped: something is done about it first." if stopped else ""
    return LotPage(
        frame=frame_at(request, show.lot_page_href(run)), run=run.id, run_href=run_href(run.id),
        edition=edition_code(family.title, run.edition), title=family.name or family.title,
        heading="Inspection is stopped" if stopped else "Nothing to inspect", facts=(), classes=(), form=None,
        nothing=why or f"{run.id} has no disc that waits to be inspected; note what was pressed first.",
        stopped=stopped, lots=lot_rows(run, zone_of(ledger_of(request))), size=None,
    )  # fmt: skip


@router.post("/runs/{run}/lot")
async def press_lot(request: Request, run: str) -> Response:
    """Whatever was pressed on the page of a lot; the page again with what came of it, or the verdict."""
    fields = await form_of(request)
    return await run_in_threadpool(_press, request, run, fields)


def _press(request: Request, number: str, fields: Mapping[str, str]) -> Response:
    ledger, person = ledger_of(request), person_of(request)
    check_may_record(person, "lot_inspected")
    family, run = run_at(ledger, number)
    before = ledger.keyed(fields["key"][:200]) if fields.get("key") else None
    if before is not None and before.part == run.id:
        lot = next((one for one in run.lots if one.seq == before.seq), None)
        return go_to(request, lot_href(run, lot.number) if lot is not None else run_href(run.id))
    if fields.get("lot", "") != str(len(run.lots) + 1):
        raise AtOddsError(f"lot {fields.get('lot', '')[:9]} of {run.id} was judged meanwhile; look at it, then go on.")
    here = _here(ledger, family, run, whole_in(fields, "count", "discs of the lot"), text_in(fields, "level"))
    try:
        now = read_entered(fields, here.sample, here.sides, here.face)
    except CallError as why:
        kept = fitting_entries(fields.get("defects", ""), here.sample, here.sides, here.face)
        now = replace(_begun(here), entries=kept)
        return render(_lot_page(request, here, now, fields, sentence_of(why), NOTHING_SAID), 422)
    if fields.get("do") == "verdict":
        return _judge(request, here, now, fields)
    try:
        after, sentence = pressed(now, fields, here.sample, here.sides, here.face), ""
    except CallError as why:
        after, sentence = now, sentence_of(why)
    page = _lot_page(request, here, after, fields, sentence, NOTHING_SAID)
    return render(page, 422 if sentence else 200)


def _judge(request: Request, here: show.LotHere, now: Entered, fields: Mapping[str, str]) -> Response:
    """Write the lot down with its verdict; what was entered stays on the page where that cannot be."""
    ledger, person = ledger_of(request), person_of(request)
    try:
        if fields.get("looked") != "on" and now.seen < len(here.sample):
            raise CallError(
                "a lot is judged when its whole sample was looked at; look at the rest, or tick that it was."
            )
        hand = hand_of(person, station=station_of(request).id, key=fields.get("key", ""))
        outcome, _, _ = inspect_lot(
            ledger, here.run.id, hand, count=here.plan.count, level=here.plan.level,
            defects=[one.defect(here.house) for one in now.entries], unsteady=text_in(fields, "unsteady")[:200],
            reduced_agreed=text_in(fields, "reduced_agreed")[:200], note=text_in(fields, "note"),
        )  # fmt: skip
    except (NotAllowedError, NotThereError, LedgerError):
        raise
    except DiscwrightError as why:
        return render(_lot_page(request, here, now, fields, sentence_of(why), NOTHING_SAID), 422)
    if outcome.line is None:
        words = " ".join(one.remedy for one in outcome.findings if one.severity == "stop")
        return render(_lot_page(request, here, now, fields, f"Nothing was written. {words}", NOTHING_SAID), 409)
    return go_to(request, f"{lot_href(here.run, here.number)}?done={outcome.line.seq}")


@router.get("/runs/{run}/lot/oc.svg")
def characteristic(
    request: Request, run: str, grade: Annotated[str, Query(alias="class")] = "", count: str = "", level: str = ""
) -> Response:
    """What the plan of one class of defects lets through, drawn."""
    ledger = ledger_of(request)
    family, found = run_at(ledger, run)
    named, asked = class_named(grade), {"count": count}
    here = _here(ledger, family, found, whole_in(asked, "count", "discs of the lot"), level.strip()[:10])
    plan = next((one.plan for one in here.plan.classes if one.defect_class == named), None)
    if plan is None:
        raise NotThereError(f"{named} defects are judged without a table here, and have no characteristic; go back.")
    with tempfile.TemporaryDirectory(prefix="discwright-oc-") as place:
        path = Path(place) / "oc.svg"
        draw_oc(path, plan)
        return Response(path.read_bytes(), media_type="image/svg+xml")


@router.post("/runs/{run}/lot/restart")
async def restart(request: Request, run: str) -> Response:
    """Take inspection of a class of defects up again after a stop."""
    fields = await form_of(request)

    def do_it() -> Response:
        family, found = run_at(ledger_of(request), run)
        code, name = edition_code(family.title, found.edition), text_in(fields, "class")

        def write(ledger: Ledger, hand: Hand) -> Outcome:
            return restart_inspection(ledger, code, name, text_in(fields, "why"), hand)

        return take_form(
            request, fields, f"restart-{name}", "inspection_restarted", write,
            lambda line: show.lot_page_href(found),
            lambda said, status: render(_idle_page(request, family, found, said), status),
        )  # fmt: skip

    return await run_in_threadpool(do_it)


# Lots that were judged ---------------------------------------------------------------------------------


def _lot(run: Run, number: str) -> Lot:
    found = next((one for one in run.lots if str(one.number) == number), None)
    if found is None:
        raise NotThereError(f"{run.id} has no lot {number[:9]}; go back to the run.")
    return found


@router.get("/runs/{run}/lots/{lot}")
def judged_lot(request: Request, run: str, lot: str, done: str = "", again: bool = False) -> Response:
    """A lot that was judged, and what becomes of it."""
    return render(_judged_page(request, run, lot, NOTHING_SAID, done, again))


def _judged_page(
    request: Request, number: str, which: str, said: Said, done: str = "", again: bool = False
) -> JudgedPage:  # fmt: skip
    ledger, person = ledger_of(request), person_of(request)
    family, run = run_at(ledger, number)
    lot = _lot(run, which)
    forms = judged.decisions(run, lot, person, said)
    to_lot = bool(run.to_inspect)
    to_stock = not to_lot and run.to_stock > 0
    return JudgedPage(
        frame=frame_at(request, lot_href(run, lot.number)), run=run.id, run_href=run_href(run.id),
        edition=edition_code(family.title, run.edition), title=family.name or family.title, number=str(lot.number),
        verdict=judged.verdict_of(lot), sentence=judged.sentence_of_lot(lot),
        facts=judged.judged_facts(run, lot, zone_of(ledger)), rows=judged.found_rows(lot),
        defects=judged.defect_rows(lot), faces=judged.face_options(run, lot), decisions=forms,
        wait_for=judged.WAIT_FOR if lot.held and not forms else "",
        next_href=show.lot_page_href(run) if to_lot else f"{run_href(run.id)}#stock" if to_stock else "",
        next_words=f"Inspect {discs(run.to_inspect)}" if to_lot else f"Put {discs(run.to_stock)} into stock",
        done=done_of(ledger, person, done, again),
    )  # fmt: skip


@router.get("/runs/{run}/lots/{lot}/face.svg")
def lot_face(request: Request, run: str, lot: str, side: str = "") -> Response:
    """The face of a side with the defects that were found on it."""
    family, found = run_at(ledger_of(request), run)
    one, face = _lot(found, lot), _face(family, found)
    if face is None or side not in found.stampers:
        raise NotThereError(f"{found.id} has no such side; go back to the lot.")
    own = [defect for defect in judged.defects_of(one) if defect.side == side]
    return Response(face_svg(face, own, f"Side {side} of lot {one.number}"), media_type="image/svg+xml")


@router.post("/runs/{run}/lots/{lot}/decide")
async def decide(request: Request, run: str, lot: str) -> Response:
    """Say what becomes of a refused lot."""
    fields = await form_of(request)

    def do_it() -> Response:
        _, found = run_at(ledger_of(request), run)
        one, what = _lot(found, lot), text_in(fields, "disposition")

        def write(ledger: Ledger, hand: Hand) -> Outcome:
            good = count_in(fields, "good", "good discs") if what == SORTED else None
            note = text_in(fields, "note")
            if what == RELEASED and not note:
                raise CallError("a refused lot is released for a reason; write it down.")
            return decide_lot(ledger, found.id, one.number, what, hand, good=good, note=note)

        return take_form(
            request, fields, f"decide-{what}", "lot_disposed", write,
            lambda line: f"{lot_href(found, one.number)}?done={line.seq}",
            lambda said, status: render(_judged_page(request, found.id, lot, said), status),
        )  # fmt: skip

    return await run_in_threadpool(do_it)
