"""The page of one planned side, and what can be done there."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, Response
from starlette.concurrency import run_in_threadpool

from discwright.acts.what_if import Changes
from discwright.desk import show_side as show
from discwright.desk.api_shapes import desk_of, words_of
from discwright.desk.jobs import Job
from discwright.desk.layers import LAYER_NAMES, VINYL
from discwright.desk.orders import changes_of, order_file, order_preparation, order_what_if
from discwright.desk.page_parts import ComparisonBlock, Option
from discwright.desk.pages import SidePage
from discwright.desk.rendering import form_of, frame, go_to, render
from discwright.desk.shelf import KeptPlan, NotThereError
from discwright.desk.state import Desk
from discwright.desk.views_desk import job_rows
from discwright.desk.views_title import begun
from discwright.desk.words import Words
from discwright.errors import CallError
from discwright.files.compare import compare

router = APIRouter(include_in_schema=False)
#: Files that a browser shows; all else is saved.
SHOWN = (".pdf", ".png", ".svg", ".json", ".csv", ".toml", ".ngc")
TYPES = {
    ".json": "application/json", ".csv": "text/csv; charset=utf-8", ".toml": "text/plain; charset=utf-8",
    ".ngc": "text/plain; charset=ascii", ".wav": "audio/wav", ".pdf": "application/pdf", ".png": "image/png",
    ".svg": "image/svg+xml",
}  # fmt: skip


@router.get("/plans/{plan}")
def side_page(request: Request, plan: str) -> Response:
    """Everything about one planned side."""
    desk, words = desk_of(request), words_of(request)
    folder = desk.folder
    kept = folder.shelf.plan(plan)
    document = kept.document
    title = folder.shelf.title_of(kept)
    preparing = order_preparation(folder, kept)
    siblings = folder.shelf.siblings(kept)
    about = frozenset({one.id for one in siblings} | {kept.id, kept.base})
    failed = preparing is not None and preparing.state in ("failed", "stopped")
    page = SidePage(
        frame=frame(request),
        id=kept.id,
        name=kept.name,
        title=str(document["title"]["name"]) if "title" in document else "",
        title_href="" if title is None else f"/titles/{title.id}",
        what_if=kept.what_if,
        verdict=show.verdict(document),
        ready=bool(document["ready"]),
        facts=show.facts(document, words),
        findings=show.finding_rows(document["findings"], document, words),
        bands=show.band_rows(document, words),
        plans=tuple(show.plan_link(one, words) for one in siblings),
        comparison=_comparison(desk, kept, words),
        form=show.what_if_form(document),
        rungs=show.rung_rows(document, words),
        prices=show.price_rows(document, words),
        downloads=show.downloads(kept),
        missing=() if kept.what_if else show.missing(kept),
        layers=tuple(Option(name, name, name == VINYL) for name in LAYER_NAMES),
        tips=show.listening_tips(document),
        jobs=job_rows(desk, about),
        prepared=preparing is None,
        no_audio="" if preparing is None or not failed else preparing.sentence or "Making it ready was stopped.",
    )
    return render(page)


def _comparison(desk: Desk, kept: KeptPlan, words: Words) -> ComparisonBlock | None:
    if not kept.what_if:
        return None
    base = desk.folder.shelf.found().plans.get(kept.base)
    if base is None:
        return None
    return show.comparison_block(compare(base.document, kept.document), base, kept.document, words)


@router.post("/plans/{plan}/what-if")
async def what_if(request: Request, plan: str) -> Response:
    """Plan it with something otherwise."""
    fields, desk = await form_of(request), desk_of(request)

    def order() -> Job:
        kept = desk.folder.shelf.plan(plan)
        return order_what_if(desk.folder, kept, changes_of(fields, kept))

    return begun(request, desk, await run_in_threadpool(order), f"/plans/{plan}")


@router.post("/plans/{plan}/ladder")
def ladder(request: Request, plan: str) -> Response:
    """Find the ladder and the price curve."""
    desk = desk_of(request)
    job = order_what_if(desk.folder, desk.folder.shelf.plan(plan), Changes(ladder=True))
    return begun(request, desk, job, f"/plans/{plan}")


@router.post("/plans/{plan}/make")
async def make(request: Request, plan: str) -> Response:
    """Make a file that is missing."""
    fields, desk = await form_of(request), desk_of(request)

    def order() -> Job:
        return order_file(desk.folder, desk.folder.shelf.plan(plan), fields.get("file", ""))

    return begun(request, desk, await run_in_threadpool(order), f"/plans/{plan}")


@router.post("/plans/{plan}/prepare")
def prepare_again(request: Request, plan: str) -> Response:
    """Make it ready once more, where that failed or was stopped."""
    desk = desk_of(request)
    kept = desk.folder.shelf.plan(plan)
    job = order_preparation(desk.folder, kept, again=True)
    return go_to(request, f"/plans/{plan}") if job is None else begun(request, desk, job, f"/plans/{plan}")


@router.post("/plans/{plan}/keep")
def keep(request: Request, plan: str) -> Response:
    """Put a what-if beside the plans of its side."""
    shelf = desk_of(request).folder.shelf
    kept = shelf.plan(plan)
    if not kept.what_if:
        raise CallError("this plan is kept already; there is nothing to do.")
    return go_to(request, f"/plans/{shelf.id_of(shelf.keep(kept))}")


@router.post("/plans/{plan}/drop")
def drop(request: Request, plan: str) -> Response:
    """Put a what-if aside, or bring it back."""
    shelf = desk_of(request).folder.shelf
    kept = shelf.plan(plan)
    if not kept.what_if:
        raise CallError("this plan is kept, and what is kept is not dropped here; remove its folder by hand.")
    shelf.drop(kept, not kept.dropped)
    return go_to(request, f"/plans/{kept.id if kept.dropped else kept.base}")


@router.get("/plans/{plan}/files/{name}")
def kept_file(request: Request, plan: str, name: str) -> Response:
    """One of the plan's own files."""
    path = show.is_kept_file(desk_of(request).folder.shelf.plan(plan), name)
    if path is None:
        raise NotThereError("this plan has no such file, or no longer; look at its list of files.")
    shown = "inline" if path.suffix in SHOWN else "attachment"
    return FileResponse(
        path, media_type=TYPES[path.suffix], filename=f"{plan}-{name}", content_disposition_type=shown,
        headers={"Cache-Control": "private, no-cache"},
    )  # fmt: skip
