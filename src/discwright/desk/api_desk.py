"""JSON about titles, long work and bookmarks."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Request, Response
from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from discwright.desk.api_shapes import REFUSALS, JobAnswer, JobFacts, desk_of, job_facts
from discwright.desk.bookmarks import Bookmark, add_bookmark, drop_bookmark, read_bookmarks
from discwright.desk.orders import layouts_of, order_layout, order_plan
from discwright.desk.shelf import KeptPlan, KeptTitle, NotThereError, Shelf
from discwright.desk.show_titles import sides_of
from discwright.desk.state import OpenFolder

router = APIRouter(prefix="/api", responses=REFUSALS)
Name = Annotated[str, StringConstraints(max_length=80)]
Place = Annotated[float, Field(ge=-1e6, le=1e6, allow_inf_nan=False)]


class EditionFacts(BaseModel):
    """An edition of a title; `sides` are those that the title file fixes."""

    id: str
    format: str
    quantity: int
    due: str
    level: str | float
    sides: dict[str, list[str]]


class PlanFacts(BaseModel):
    """A kept plan, or a what-if; edition and side are empty for a bare file."""

    plan: str
    name: str
    edition: str
    side: str
    ready: bool
    level_db: float
    spare_mm: float
    what_if: bool
    dropped: bool


class SideFacts(BaseModel):
    """A side of an edition, with its plans, newest first; none where it was never planned."""

    edition: str
    side: str
    bands: list[str]
    plans: list[PlanFacts]


class TitleFacts(BaseModel):
    """A title; `faults` are those of its file, and then there is nothing else."""

    id: str
    name: str
    catalogue: str
    people: list[str]
    sha256: str
    faults: list[str]
    bands: list[dict[str, str]]
    editions: list[EditionFacts]
    plans: list[PlanFacts]


class Wanted(BaseModel):
    """Which edition and side; all without."""

    model_config = ConfigDict(extra="forbid")
    edition: Name = ""
    side: Name = ""


class NewBookmark(BaseModel):
    """A place to remember: middle and width of the view."""

    model_config = ConfigDict(extra="forbid")
    words: Annotated[str, StringConstraints(min_length=1, max_length=120, strip_whitespace=True)]
    x_um: Place
    y_um: Place
    wide_um: Annotated[float, Field(gt=0, le=1e7, allow_inf_nan=False)]


@router.get("/titles", tags=["titles"])
def titles(request: Request) -> list[TitleFacts]:
    """The titles of the opened folder."""
    shelf = desk_of(request).folder.shelf
    return [_title(shelf, one) for one in shelf.found().titles.values()]


@router.get("/titles/{title}", tags=["titles"])
def one_title(request: Request, title: str) -> TitleFacts:
    """One title."""
    shelf = desk_of(request).folder.shelf
    return _title(shelf, shelf.title(title))


@router.get("/titles/{title}/sides", tags=["sides"])
def sides(request: Request, title: str) -> list[SideFacts]:
    """The sides of a title: those that its file fixes, and those that were planned."""
    shelf = desk_of(request).folder.shelf
    kept = shelf.title(title)
    if kept.title is None:
        return []
    fixed = {(one.id, side.letter): list(side.bands) for one in kept.title.editions for side in one.sides}
    found = sides_of(shelf, kept)
    return [
        SideFacts(
            edition=edition, side=letter, plans=[_plan(one) for one in plans],
            bands=fixed.get((edition, letter)) or [band["id"] for band in plans[0].document["title"]["bands"]],
        )
        for (edition, letter), plans in found.items() if letter
    ]  # fmt: skip


@router.get("/plans", tags=["plans"])
def plans(request: Request) -> list[PlanFacts]:
    """Every plan of the folder, of titles and of bare files, newest first."""
    found = desk_of(request).folder.shelf.found().plans.values()
    return [_plan(one) for one in sorted(found, key=lambda one: one.made, reverse=True)]


@router.get("/titles/{title}/layouts", tags=["titles"])
def layouts(request: Request, title: str) -> dict[str, dict[str, Any]]:
    """The newest layout of each edition that still holds, as `layout --json` prints it."""
    folder = desk_of(request).folder
    return {key: dict(one) for key, one in layouts_of(folder, folder.shelf.title(title)).items()}


@router.post("/titles/{title}/plan", status_code=202, tags=["titles"])
def plan_title(request: Request, title: str, wanted: Wanted) -> JobAnswer:
    """Plan a side, an edition or the whole title."""
    desk = desk_of(request)
    job = order_plan(desk.folder, desk.folder.shelf.title(title), wanted.edition, wanted.side)
    return JobAnswer.of(desk, job)


@router.post("/titles/{title}/layout", status_code=202, tags=["titles"])
def lay_out(request: Request, title: str, wanted: Wanted) -> JobAnswer:
    """Find the best sides of an edition, or of all."""
    desk = desk_of(request)
    return JobAnswer.of(desk, order_layout(desk.folder, desk.folder.shelf.title(title), wanted.edition))


@router.get("/jobs", tags=["jobs"])
def jobs(request: Request) -> list[JobFacts]:
    """Long work, newest first."""
    desk = desk_of(request)
    return [job_facts(desk, one) for one in desk.folder.jobs.all()]


@router.get("/jobs/{job}", tags=["jobs"])
def one_job(request: Request, job: str) -> JobFacts:
    """One piece of work."""
    desk = desk_of(request)
    return job_facts(desk, desk.folder.jobs.get(job))


@router.post("/jobs/{job}/stop", tags=["jobs"])
def stop_job(request: Request, job: str) -> JobFacts:
    """Stop it; nothing unfinished is kept."""
    desk = desk_of(request)
    desk.folder.jobs.stop(job)
    return job_facts(desk, desk.folder.jobs.get(job))


@router.get("/plans/{plan}/bookmarks", tags=["bookmarks"])
def bookmarks(request: Request, plan: str) -> list[Bookmark]:
    """Places that somebody wants to find again."""
    return read_bookmarks(_bookmark_file(desk_of(request).folder, plan))


@router.post("/plans/{plan}/bookmarks", status_code=201, tags=["bookmarks"])
def new_bookmark(request: Request, plan: str, wanted: NewBookmark) -> Bookmark:
    """Remember a place."""
    file = _bookmark_file(desk_of(request).folder, plan)
    return add_bookmark(file, wanted.words, wanted.x_um, wanted.y_um, wanted.wide_um)


@router.delete("/plans/{plan}/bookmarks/{bookmark}", status_code=204, tags=["bookmarks"], response_class=Response)
def no_bookmark(request: Request, plan: str, bookmark: str) -> Response:
    """Forget a place."""
    if not drop_bookmark(_bookmark_file(desk_of(request).folder, plan), bookmark):
        raise NotThereError("this bookmark is not there, or no longer; load the page again.")
    return Response(status_code=204)


def _bookmark_file(folder: OpenFolder, plan: str) -> Any:
    known = folder.shelf.plan(plan)
    return folder.shelf.own / "bookmarks" / f"{known.base or known.id}.json"


def _title(shelf: Shelf, kept: KeptTitle) -> TitleFacts:
    title = kept.title
    if title is None:
        return TitleFacts(
            id=kept.id, name=kept.path.stem, catalogue="", people=[], sha256=kept.sha256, faults=list(kept.faults),
            bands=[], editions=[], plans=[],
        )  # fmt: skip
    return TitleFacts(
        id=kept.id,
        name=title.name,
        catalogue=title.catalogue,
        people=list(title.people),
        sha256=kept.sha256,
        faults=[],
        bands=[{"id": band.id, "name": band.name} for band in title.bands],
        editions=[
            EditionFacts(
                id=one.id, format=one.format, quantity=one.quantity, due=one.due, level=one.level,
                sides={side.letter: list(side.bands) for side in one.sides},
            )
            for one in title.editions
        ],
        plans=[_plan(one) for one in shelf.all_plans_of(kept)],
    )  # fmt: skip


def _plan(one: KeptPlan) -> PlanFacts:
    document = one.document
    label = document.get("title", {})
    return PlanFacts(
        plan=one.id, name=one.name, edition=label.get("edition", ""), side=label.get("side", ""),
        ready=document["ready"], level_db=document["level_db"], spare_mm=document["spare_mm"], what_if=one.what_if,
        dropped=one.dropped,
    )  # fmt: skip
