"""The microscope: a photograph of cut lacquer measured, with the correction to make."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import FileResponse, JSONResponse, Response
from starlette.concurrency import run_in_threadpool

from discwright.acts.people import check_may_record
from discwright.desk.api_shapes import desk_of, words_of
from discwright.desk.door import person_of
from discwright.desk.inspect_pages import MicroscopePage
from discwright.desk.micrographs import PICTURE, Asked, Measured, Micrographs, plain_name
from discwright.desk.orders_play import plan_of_part
from discwright.desk.page_parts import Option
from discwright.desk.rendering import form_of, frame, go_to, render
from discwright.desk.shelf import KeptPlan, NotThereError
from discwright.desk.show_gauge import WALLS, gauge_block, gauge_link, measure_photograph, plan_options
from discwright.desk.state import Desk
from discwright.desk.works_door import ledger_of, part_at
from discwright.desk.works_time import server_zone, zone_of
from discwright.errors import CallError
from discwright.works.people import may_record

router = APIRouter(include_in_schema=False)
#: Event that a measured lacquer is written down as.
CHECKED = "checked_under_the_microscope"
Text = Annotated[str, Query(max_length=100)]


def micrographs_of(desk: Desk) -> Micrographs:
    """The photographs measured last in the opened folder."""
    return Micrographs(desk.folder.shelf.own / "micrographs")


@router.get("/microscope")
def microscope(request: Request, plan: Text = "", part: Text = "") -> Response:
    """A place to drop a photograph."""
    desk = desk_of(request)
    kept = micrographs_of(desk).all()
    asked = Asked("", kept[0].asked.um_per_pixel if kept else "", plan=plan)
    if part:
        family, found = part_at(ledger_of(request), part)
        of = plan_of_part(desk.folder.shelf, family, found)
        asked = replace(asked, part=found.id, plan=of.id if of is not None else "")
    return render(_page(request, asked, None, kept))


@router.get("/microscope/{photo}")
def measured(request: Request, photo: str) -> Response:
    """A photograph that was measured."""
    pictures = micrographs_of(desk_of(request))
    found = pictures.get(photo)
    return render(_page(request, found.asked, found, pictures.all()))


def _page(request: Request, asked: Asked, found: Measured | None, kept: list[Measured]) -> MicroscopePage:
    desk, person, words = desk_of(request), person_of(request), words_of(request)
    ledger = desk.books.present if desk.books is not None else None
    zone = zone_of(ledger) if ledger is not None else server_zone()
    may = may_record(person, CHECKED)
    return MicroscopePage(
        frame=frame(request), um_per_pixel=asked.um_per_pixel, wanted_um=asked.wanted_um, turn=asked.turn,
        part=asked.part, plans=plan_options(desk.folder.shelf, asked.plan),
        walls=tuple(Option(value, told, value == asked.walls) for value, told in WALLS), may=may,
        gauge=gauge_block(found, words, may and ledger is not None) if found is not None else None,
        recent=tuple(gauge_link(one, zone) for one in kept if found is None or one.id != found.id),
    )  # fmt: skip


@router.post("/microscope")
async def measure(
    request: Request, name: Text = "", um_per_pixel: Text = "", wanted_um: Text = "", plan: Text = "", turn: Text = "",
    walls: Text = "", part: Text = "",
) -> Response:  # fmt: skip
    """Measure the photograph that is the body; where to look at it."""
    packed = await request.body()
    asked = Asked(plain_name(name), um_per_pixel, wanted_um, plan, turn, walls, part)
    found = await run_in_threadpool(_measured, request, asked, packed)
    return JSONResponse({"href": f"/microscope/{found.id}"})


@router.post("/microscope/{photo}/again")
async def again(request: Request, photo: str) -> Response:
    """Measure a photograph once more, with other numbers."""
    fields = await form_of(request)

    def do_it() -> Measured:
        before = micrographs_of(desk_of(request)).get(photo)
        told = {name: fields.get(name, "")[:100] for name in ("um_per_pixel", "wanted_um", "plan", "turn", "walls")}
        return _measured(request, replace(before.asked, **told), before.photograph.read_bytes())

    return go_to(request, f"/microscope/{(await run_in_threadpool(do_it)).id}")


def _measured(request: Request, asked: Asked, packed: bytes) -> Measured:
    desk, person = desk_of(request), person_of(request)
    check_may_record(person, CHECKED)
    if not packed:
        raise CallError("no photograph arrived; drop one, or choose a file.")
    plan: KeptPlan | None = desk.folder.shelf.plan(asked.plan) if asked.plan else None

    def look(photograph: Any, picture: Any) -> dict[str, Any]:
        return measure_photograph(asked, plan, photograph, picture)

    return micrographs_of(desk).add(
        replace(asked, at=datetime.now(UTC).isoformat(timespec="microseconds")), packed, look
    )


@router.get("/microscope/{photo}/gauge.png")
def overlay(request: Request, photo: str) -> Response:
    """The photograph with everything that was measured drawn into it."""
    path = micrographs_of(desk_of(request)).get(photo).folder / PICTURE
    if not path.is_file() or path.is_symlink():
        raise NotThereError("this picture is not here, or no longer; measure the photograph once more.")
    return FileResponse(path, media_type="image/png", headers={"Cache-Control": "private, no-cache"})
