"""Pages of the folder: titles, recent folders, jobs, and what a person prefers."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from discwright.acts.new_title import AUDIO_ENDS
from discwright.desk.api_shapes import desk_of, job_href, words_of
from discwright.desk.jobs import Job
from discwright.desk.page_parts import JobRow, Option
from discwright.desk.pages import JobPart, PatternsPage, RecentPage, TitlesPage
from discwright.desk.patterns import sample_facts, sample_findings, sample_jobs, sample_options
from discwright.desk.recent import read_recent
from discwright.desk.rendering import LOOKS, form_of, frame, go_to, is_htmx, remember, render
from discwright.desk.show_side import when
from discwright.desk.show_titles import bare_sides, job_row, loose_folders, title_row
from discwright.desk.state import Desk
from discwright.desk.title_parts import RecentFolder
from discwright.desk.words import INCHES, METRIC
from discwright.errors import CallError
from discwright.files.settings import shipped
from discwright.groove.equipment import DiscFormat

router = APIRouter(include_in_schema=False)
#: Jobs that a list shows, and how long after its beginning one that is done is still news.
SHOWN_JOBS, NEWS_FOR = 8, timedelta(hours=1)


@router.get("/")
def titles(request: Request) -> Response:
    """The titles of the opened folder; without one, folders that were opened before."""
    desk = desk_of(request)
    if not desk.is_open:
        folders = tuple(
            RecentFolder(i, one.place.name, str(one.place), when(one.opened), one.place.is_dir())
            for i, one in enumerate(read_recent(), 1)
        )
        return render(RecentPage(frame(request), folders))
    folder, words = desk.folder, words_of(request)
    found = folder.shelf.found()
    page = TitlesPage(
        frame=frame(request),
        titles=tuple(title_row(folder.shelf, one) for one in found.titles.values()),
        sides=bare_sides(found, folder.shelf, words),
        loose=loose_folders(found),
        uploads=folder.uploads.half(),
        jobs=job_rows(desk, None),
        accept=",".join(AUDIO_ENDS),
        formats=tuple(Option(name, name) for name in shipped(DiscFormat)),
    )
    return render(page)


def job_rows(desk: Desk, about: frozenset[str] | None) -> tuple[JobRow, ...]:
    """Jobs newest first: of everything, or of some titles and plans."""
    jobs = [one for one in desk.folder.jobs.all() if _is_news(one) and (about is None or one.about in about)]
    return tuple(row_of(desk, one) for one in jobs[:SHOWN_JOBS])


def _is_news(job: Job) -> bool:
    """Whatever goes on or failed, until it is put aside; what ended well only while somebody may wait for it."""
    if job.aside:
        return False
    return job.state in ("waiting", "running", "failed") or datetime.now(UTC) - job.started < NEWS_FOR


def row_of(desk: Desk, job: Job) -> JobRow:
    """One job in a line."""
    return job_row(job, job_href(desk, job))


@router.post("/open")
async def open_folder(request: Request) -> Response:
    """Open one of the recent folders, by its number: a page never names a path."""
    fields = await form_of(request)
    recent = read_recent()
    number = fields.get("number", "")
    if not number.isdecimal() or not 1 <= int(number) <= len(recent):
        raise CallError("this folder is not in the list any more; load the page again.")
    place: Path = recent[int(number) - 1].place
    await run_in_threadpool(desk_of(request).open, place)
    return go_to(request, "/")


@router.get("/jobs/{job}")
def job_part(request: Request, job: str) -> Response:
    """One job; when it is done and made one plan, on to that."""
    desk = desk_of(request)
    return render(JobPart(row_of(desk, desk.folder.jobs.get(job))))


@router.post("/jobs/{job}/stop")
def stop_job(request: Request, job: str) -> Response:
    """Stop it."""
    desk = desk_of(request)
    desk.folder.jobs.stop(job)
    if is_htmx(request):
        return render(JobPart(row_of(desk, desk.folder.jobs.get(job))))
    return go_to(request, "/")


@router.post("/jobs/{job}/aside")
def put_job_aside(request: Request, job: str) -> Response:
    """Take a job that has ended out of the lists."""
    desk_of(request).folder.jobs.put_aside(job)
    return Response("") if is_htmx(request) else go_to(request, "/")


@router.post("/units")
async def units(request: Request) -> Response:
    """Metric or inches, for this person."""
    fields = await form_of(request)
    if fields.get("units") not in (METRIC, INCHES):
        raise CallError("units are metric or inch; choose one of them.")
    return remember(go_to(request, fields.get("here", "/")), "units", fields["units"])


@router.post("/look")
async def look(request: Request) -> Response:
    """Light, dark, or as the computer has it, for this person."""
    fields = await form_of(request)
    if fields.get("look") not in LOOKS:
        raise CallError("the look is auto, light or dark; choose one of them.")
    return remember(go_to(request, fields.get("here", "/")), "look", fields["look"])


@router.get("/patterns")
def patterns(request: Request) -> Response:
    """Every visual element once."""
    page = PatternsPage(frame(request), sample_findings(), sample_jobs(), sample_facts(), sample_options())
    return render(page)
