"""The dock: scan to load, what is still missing, what went on; and a carton's way back to the plans of its sides."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated
from urllib.parse import quote, unquote

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from discwright.acts.loading import carton_descent, cartons_of, load
from discwright.acts.people import check_may_record, hand_of
from discwright.desk import show_dock as show
from discwright.desk.api_shapes import desk_of
from discwright.desk.dock_pages import CartonPage, DockPage
from discwright.desk.dock_parts import ScanAnswer
from discwright.desk.dock_words import (
    ROWS,
    cartons,
    discs,
    home,
    kg,
    orders_href,
    packing_href,
    sscc_words,
    table,
)
from discwright.desk.door import person_of
from discwright.desk.page_parts import Fact, Option
from discwright.desk.rendering import form_of, frame, go_to, remember, render
from discwright.desk.run_words import run_href
from discwright.desk.shelf import NotThereError
from discwright.desk.show_board import new_key, part_href, title_href
from discwright.desk.show_family import planned_sides
from discwright.desk.show_packing import carton_rows, state_badge
from discwright.desk.views_packing import packing_at
from discwright.desk.works_door import ledger_of
from discwright.desk.works_parts import Badge
from discwright.desk.works_time import at_words, day_words, due_words, now_stamp, zone_of, zone_words
from discwright.desk.yards import house, yards
from discwright.errors import CallError
from discwright.works.gs1 import read_sscc
from discwright.works.people import may_record
from discwright.works.store.ledger import Ledger

router = APIRouter(include_in_schema=False)
Text = Annotated[str, Query(max_length=200)]
LOADED = "loaded"
_MOST_NAME = 80
FIRST_DOCK = "Choose the dock and the vehicle first; then scan the carton again."
_STATUSES = {show.UNKNOWN.words: 404, show.UNREADABLE.words: 422}


@router.get("/dock")
def dock(request: Request) -> Response:
    """A field for the next scan; below it what is missing, and what went on."""
    return render(_page(request, ledger_of(request), None))


def _chosen(request: Request) -> tuple[str, str]:
    """Dock and vehicle of this device."""
    name, vehicle = (unquote(request.cookies.get(one, "")) for one in ("dock", "vehicle"))
    return " ".join(name.split())[:_MOST_NAME], " ".join(vehicle.split())[:_MOST_NAME]


def _page(request: Request, ledger: Ledger, answer: ScanAnswer | None) -> DockPage:
    name, vehicle = _chosen(request)
    zone, found = zone_of(ledger), yards(ledger).cartons
    day = day_words(now_stamp(ledger), zone)
    waiting = show.waiting_at(found, name) if name else []
    held = [one for one in waiting if one.recalled]
    missing = [one for one in waiting if not one.recalled]
    gone = show.gone_on(found, name, day, zone) if name else []
    accounts = show.missing_rows(missing)
    left = len(accounts) - ROWS
    return DockPage(
        frame=replace(frame(request), here="/dock"), dock=name, vehicle=vehicle,
        docks=tuple(Option(one, f"dock {one}", one == name) for one in show.docks_known(found)), key=new_key(),
        answer=answer, missing=cartons(len(missing)) if missing else "",
        held=cartons(len(held)) if held else "", waiting=accounts[:ROWS],
        more_waiting=f"and {left} more accounts" if left > 0 else "",
        vehicles=show.vehicle_rows(gone, name, day, house()), loaded=show.loaded_rows(gone, zone), day=day,
        zone=zone_words(zone), may_load=may_record(person_of(request), LOADED),
    )  # fmt: skip


@router.post("/dock/choose")
async def choose(request: Request) -> Response:
    """This device stands at that dock and loads that vehicle."""
    fields = await form_of(request)
    name, vehicle = (" ".join(fields.get(one, "").split())[:_MOST_NAME] for one in ("dock", "vehicle"))
    if not name:
        raise CallError("the dock has no name; choose one, or write one.")
    response = go_to(request, "/dock")
    remember(response, "dock", quote(name))
    return remember(response, "vehicle", quote(vehicle))


@router.post("/dock/load")
async def scanned(request: Request) -> Response:
    """Load what was scanned; the page again with what came of it."""
    fields = await form_of(request)

    def do_it() -> Response:
        ledger = ledger_of(request)
        check_may_record(person_of(request), LOADED)
        answer = _scanned(request, ledger, fields)
        status = _STATUSES.get(answer.badge.words, 200 if answer.badge == show.LOADED else 409)
        return render(_page(request, ledger, answer), status)

    return await run_in_threadpool(do_it)


def _scanned(request: Request, ledger: Ledger, fields: Mapping[str, str]) -> ScanAnswer:
    code, (name, vehicle) = fields.get("code", ""), _chosen(request)
    if not name:
        return show.answer(show.REFUSED, FIRST_DOCK, code)
    try:
        sscc = read_sscc(code)
    except CallError as why:
        return show.answer(show.UNREADABLE, str(why), code)
    hand = hand_of(person_of(request), station=f"dock {name}", key=fields.get("key", ""))
    try:
        outcomes = load(ledger, sscc, name, hand, vehicle=vehicle)
    except CallError as why:
        return show.answer(show.UNKNOWN, str(why), sscc)
    if any(one.line is None for one in outcomes):
        stops = {found.code: found.remedy for one in outcomes for found in one.findings if found.severity == "stop"}
        return _refused(ledger, sscc, stops)
    own = {one.line.data["sscc"] for one in outcomes if one.line is not None}
    found = yards(ledger).cartons
    left = [one for one in show.waiting_at(found, name) if not one.recalled]
    on = [one for one in found if one.carton.sscc in own]
    return show.answer(show.LOADED, show.loaded_words(on, len(left), name), sscc)


def _refused(ledger: Ledger, sscc: str, stops: Mapping[str, str]) -> ScanAnswer:
    """Why nothing went on: what must not leave at all comes first."""
    if "recalled_run" in stops:
        return show.answer(show.RECALLED, stops["recalled_run"], sscc)
    if "wrong_dock" in stops:
        return show.answer(show.WRONG_DOCK, stops["wrong_dock"], sscc)
    own = [carton for _, carton in cartons_of(ledger, sscc)]
    gone = [one for one in own if one.loaded_at]
    if gone and len(gone) < len(own):
        words = f"{len(gone)} of the {len(own)} cartons of this bundle went on before; scan the others one by one."
        return show.answer(show.BEFORE, words, sscc)
    badge = show.BEFORE if gone else show.OPENED if any(one.opened for one in own) else show.REFUSED
    return show.answer(badge, " ".join(stops.values()), sscc)


@router.get("/dock/load.csv")
def load_list(request: Request, dock: Text = "", day: Text = "", vehicle: str | None = None) -> Response:
    """What went on at a dock on a day, of one vehicle or of all, as a file."""
    ledger = ledger_of(request)
    zone = zone_of(ledger)
    day = due_words(day) or day_words(now_stamp(ledger), zone)
    gone = show.gone_on(yards(ledger).cartons, dock, day, zone, vehicle)
    name = "-".join(one for one in ("load", dock, vehicle or "", day) if one)
    return table(f"{name}.csv", show.LOAD_HEADS, show.load_csv(gone, house(), zone))


# A carton ----------------------------------------------------------------------------------------------


@router.get("/cartons/{sscc}")
def carton(request: Request, sscc: str) -> Response:
    """Where a carton, or each carton of a bundle, goes and comes from."""
    ledger = ledger_of(request)
    try:
        wanted = read_sscc(sscc)
    except CallError as why:
        raise NotThereError(str(why)) from None
    packing, number = packing_at(ledger, wanted)
    kept = packing.kept[number - 1]
    if kept.carton.sscc != wanted:
        return render(_bundle(request, ledger, wanted))
    descent = carton_descent(ledger, wanted)
    desk, one = desk_of(request), packing.packed.cartons[number - 1]
    plans = planned_sides(desk.folder.shelf if desk.is_open else None)
    zone, line, title = zone_of(ledger), kept.line, kept.family
    facts = [
        Fact("account", kept.carton.account, home(line)), Fact("discs", f"{one.count} of {one.capacity}"),
        Fact("weight", kg(house().weights.carton_kg(one))), Fact("packed", at_words(kept.carton.at, zone)),
        Fact("wanted", line.wanted or "no day"), Fact("dock", kept.carton.dock or "any"),
    ]  # fmt: skip
    if kept.carton.loaded_at:
        facts.append(Fact("loaded", at_words(kept.carton.loaded_at, zone), kept.carton.vehicle))
    links = (
        Option(orders_href(kept.carton.order), f"Order {kept.carton.order}"),
        Option(run_href(kept.carton.run), f"Run {kept.carton.run}"),
        Option(packing_href(packing.id, number), f"Carton {number} of its packing"),
        Option(title_href(title.title), f"{title.title} {title.name}".strip()),
    )  # fmt: skip
    recalled = kept.recalled
    page = CartonPage(
        frame(request), "Carton", sscc_words(wanted), state_badge(kept), tuple(facts), links,
        show.descent_sides(descent, plans), recalled,
        run_href(recalled) if recalled == kept.carton.run else part_href(recalled),
        tuple(row for row in carton_rows(packing) if row.bundle == str(one.bundle) and row.sscc != wanted),
    )  # fmt: skip
    return render(page)


def _bundle(request: Request, ledger: Ledger, wanted: str) -> CartonPage:
    packing, number = packing_at(ledger, wanted)
    bundle = packing.packed.bundles[packing.packed.cartons[number - 1].bundle - 1]
    own = [packing.kept[one.number - 1] for one in bundle.cartons]
    there = [one for one in own if not one.carton.opened]
    gone = sum(bool(one.carton.loaded_at) for one in there)
    badge = Badge("done", "loaded") if there and gone == len(there) else Badge("stored", f"{gone} of {len(own)} loaded")
    facts = (
        Fact("account", bundle.account, home(own[0].line)), Fact("cartons", cartons(len(own))),
        Fact("discs", discs(bundle.count)), Fact("weight", kg(house().weights.bundle_kg(bundle))),
    )  # fmt: skip
    links = (Option(packing_href(packing.id, number), "Its packing"),)
    rows = tuple(row for row in carton_rows(packing) if row.bundle == str(bundle.number))
    return CartonPage(frame(request), "Bundle", sscc_words(wanted), badge, facts, links, (), "", "", rows)
