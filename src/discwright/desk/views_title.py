"""The page of one title, and what can be done there."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from discwright.desk.api_shapes import desk_of, words_of
from discwright.desk.jobs import Job
from discwright.desk.making import title_of_folder
from discwright.desk.orders import layouts_of, order_layout, order_plan
from discwright.desk.pages import JobPart, TitlePage
from discwright.desk.rendering import form_of, frame, go_to, is_htmx, render
from discwright.desk.shelf import KeptTitle
from discwright.desk.show_titles import band_rows, edition_rows
from discwright.desk.state import Desk
from discwright.desk.views_desk import job_rows, row_of
from discwright.errors import CallError
from discwright.files.title_edit import fix_sides
from discwright.programme.title import SideOrder

router = APIRouter(include_in_schema=False)


@router.get("/titles/{title}")
def title_page(request: Request, title: str) -> Response:
    """Bands, editions, sides, layouts to choose from."""
    desk, words = desk_of(request), words_of(request)
    kept = desk.folder.shelf.title(title)
    known: dict[str, Any] = {"name": kept.path.stem, "catalogue": "", "people": "", "bands": (), "editions": ()}
    about = {kept.id}
    if kept.title is not None:
        shelf = desk.folder.shelf
        about |= {one.id for one in shelf.all_plans_of(kept)}
        known = {
            "name": kept.title.name,
            "catalogue": kept.title.catalogue,
            "people": ", ".join(kept.title.people),
            "bands": band_rows(kept.title),
            "editions": edition_rows(shelf, kept, layouts_of(desk.folder, kept), words),
        }
    page = TitlePage(
        frame=frame(request), id=kept.id, file=kept.path.name, sha256=kept.sha256, faults=kept.faults,
        jobs=job_rows(desk, frozenset(about)), **known,
    )  # fmt: skip
    return render(page)


def begun(request: Request, desk: Desk, job: Job, path: str) -> Response:
    """What a page is told when work has begun: the job's own part, or the page once more."""
    return render(JobPart(row_of(desk, job))) if is_htmx(request) else go_to(request, path)


@router.post("/titles/{title}/plan")
async def plan(request: Request, title: str) -> Response:
    """Plan a side, an edition or everything."""
    fields, desk = await form_of(request), desk_of(request)

    def order() -> Job:
        kept = desk.folder.shelf.title(title)
        return order_plan(desk.folder, kept, fields.get("edition", ""), fields.get("side", ""))

    return begun(request, desk, await run_in_threadpool(order), f"/titles/{title}")


@router.post("/titles/{title}/layout")
async def layout(request: Request, title: str) -> Response:
    """Find the best sides."""
    fields, desk = await form_of(request), desk_of(request)

    def order() -> Job:
        return order_layout(desk.folder, desk.folder.shelf.title(title), fields.get("edition", ""))

    return begun(request, desk, await run_in_threadpool(order), f"/titles/{title}")


@router.post("/titles/{title}/choose")
async def choose(request: Request, title: str) -> Response:
    """Fix the sides of an edition as a layout proposes them, in the title file."""
    fields, desk = await form_of(request), desk_of(request)
    await run_in_threadpool(_choose, desk, title, fields)
    return go_to(request, f"/titles/{title}")


def _choose(desk: Desk, title: str, fields: dict[str, str]) -> None:
    kept: KeptTitle = desk.folder.shelf.title(title)
    found = layouts_of(desk.folder, kept).get(fields.get("edition", ""))
    if found is None:
        raise CallError("the title changed since this layout was made; lay it out again.")
    number = fields.get("candidate", "")
    if not number.isdecimal() or not 1 <= int(number) <= len(found["candidates"]):
        raise CallError("this layout has no such candidate; load the page again.")
    sides = [SideOrder(one["letter"], tuple(one["bands"])) for one in found["candidates"][int(number) - 1]["sides"]]
    fix_sides(kept.path, fields["edition"], sides, fields.get("sha256") or None)
    desk.folder.shelf.forget()


@router.post("/titles/new")
async def new(request: Request) -> Response:
    """Make a title of a folder of audio that lies in the opened one."""
    fields, desk = await form_of(request), desk_of(request)

    id_ = await run_in_threadpool(title_of_folder, desk.folder.shelf, fields)
    return go_to(request, f"/titles/{id_}")
