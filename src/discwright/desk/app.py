"""The desk as a web application: pages for people, the same under /api for programs."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from threading import Thread
from typing import Any, cast

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException

from discwright import __version__
from discwright.desk import api_desk, api_plans, api_uploads, listening, tiles, views_desk, views_side, views_title
from discwright.desk.guard import Guard
from discwright.desk.jobs import NoSuchJobError
from discwright.desk.making import title_of_files
from discwright.desk.rendering import refusal, trouble
from discwright.desk.shelf import NotThereError
from discwright.desk.state import Desk
from discwright.desk.uploads import Uploads
from discwright.errors import DiscwrightError

STATIC = Path(__file__).with_name("static")


def create_app(folder: Path | None, hosts: tuple[str, ...], *, network: bool = False) -> FastAPI:
    """The desk over a folder, or over none yet.

    Parameters
    ----------
    folder : pathlib.Path or None
    hosts : tuple of str
        Host headers it answers to; the first is its address.
    network : bool
        Others in the network can reach it.

    Returns
    -------
    fastapi.FastAPI

    Raises
    ------
    CallError
        If the folder cannot be opened.
    """
    desk = Desk(address=f"http://{hosts[0]}", network=network)
    if folder is not None:
        desk.open(folder)
    app = FastAPI(
        title="discwright desk", version=__version__, lifespan=_life, docs_url=None, redoc_url=None,
        openapi_url="/api/openapi.json",
        description="Titles, sides, plans, findings, jobs and tiles, as the pages have them.",
    )  # fmt: skip
    app.state.desk = desk
    for router in (views_desk.router, views_title.router, views_side.router, api_desk.router, api_plans.router):
        app.include_router(router)
    app.include_router(api_uploads.router(cast(Uploads, _Current(desk)), _make_title(desk)))
    app.mount("/static", _Static(directory=STATIC), name="static")
    app.add_middleware(Guard, hosts=hosts)
    app.add_exception_handler(DiscwrightError, _refused)
    app.add_exception_handler(RequestValidationError, _misread)
    app.add_exception_handler(HTTPException, _no_route)
    return app


@asynccontextmanager
async def _life(app: FastAPI) -> AsyncIterator[None]:
    """Load what a first question would wait for, while nobody waits; stop all work at the end."""
    Thread(target=_warm, daemon=True).start()
    yield
    app.state.desk.close()


def _warm() -> None:
    tiles.warm()
    listening.warm()


class _Current:
    """The uploads of whatever folder is open."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def __getattr__(self, name: str) -> Any:
        return getattr(self._desk.folder.uploads, name)


class _Static(StaticFiles):
    """Shipped files: asked for again each time, and told when they have not changed."""

    def file_response(self, *args: Any, **kwargs: Any) -> Response:
        response = super().file_response(*args, **kwargs)
        response.headers["Cache-Control"] = "no-cache"
        return response


def _make_title(desk: Desk) -> api_uploads.MakeTitle:
    def make(name: str, files: tuple[Path, ...], format: str) -> str:
        return title_of_files(desk.folder.shelf, name, files, format)

    return make


def _answer(request: Request, status: int, sentence: str) -> Response:
    """A refusal as JSON for programs and as a page for people."""
    if request.url.path.startswith("/api/"):
        return JSONResponse(refusal(sentence), status)
    return trouble(request, status, sentence)


def _refused(request: Request, why: Exception) -> Response:
    status = 404 if isinstance(why, NotThereError | NoSuchJobError) else 422
    sentence = str(why)
    return _answer(request, status, f"{sentence[:1].upper()}{sentence[1:]}")


def _misread(request: Request, why: Exception) -> Response:
    first = cast(RequestValidationError, why).errors()[0]
    # Only the name of a field that we know ourselves is repeated, never what was sent.
    known = [str(part) for part in first["loc"][1:2] if isinstance(part, str) and first["type"] != "extra_forbidden"]
    what = f"“{known[0]}”" if known else "The request"
    return _answer(request, 422, f"{what} is missing or is not what it must be; load the page again.")


def _no_route(request: Request, why: Exception) -> Response:
    status = cast(HTTPException, why).status_code
    sentence = {
        404: "There is no such page; go back to the list of titles.",
        405: "This cannot be done at this address; go back to the list of titles.",
    }.get(status, "This cannot be done; go back to the list of titles.")
    response = _answer(request, status, sentence)
    for name, value in (cast(HTTPException, why).headers or {}).items():
        response.headers[name] = value
    return response
