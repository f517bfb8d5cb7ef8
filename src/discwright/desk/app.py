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
from discwright.acts.people import NotAllowedError
from discwright.desk import (
    api_desk,
    api_inspect,
    api_orders,
    api_plans,
    api_uploads,
    api_works,
    listening,
    tiles,
    views_desk,
    views_dock,
    views_guilt,
    views_hall,
    views_inspect,
    views_keeper,
    views_lot,
    views_microscope,
    views_orders,
    views_packing,
    views_people,
    views_recalls,
    views_runs,
    views_side,
    views_station,
    views_stock,
    views_title,
    views_trust,
    views_works,
)
from discwright.desk.door import Door
from discwright.desk.guard import Guard
from discwright.desk.jobs import NoSuchJobError
from discwright.desk.making import title_of_files
from discwright.desk.rendering import refusal, trouble
from discwright.desk.shelf import NotThereError
from discwright.desk.state import Desk, OpenLedger, nobody_in
from discwright.desk.uploads import Uploads
from discwright.desk.views_trust import Trust
from discwright.desk.works_door import AtOddsError
from discwright.errors import CallError, DiscwrightError, LedgerError

STATIC = Path(__file__).with_name("static")
#: Statuses of refusals; of all others it is 422.
_STATUSES: tuple[tuple[type[Exception], int], ...] = (
    (NotThereError, 404), (NoSuchJobError, 404), (NotAllowedError, 403), (AtOddsError, 409), (LedgerError, 503),
)  # fmt: skip
#: How long a desk that closes waits for what it was loading, s.
_WARMING_S = 5.0
#: What has pages or answers; each path also needs its rule at the door.
_ROUTED = (
    views_people, views_keeper, views_trust, views_desk, views_title, views_side, views_works, views_guilt,
    views_station, views_inspect, views_microscope, views_hall, views_runs, views_lot, views_stock, views_orders,
    views_packing, views_dock, views_recalls, api_desk, api_plans, api_works, api_orders, api_inspect,
)  # fmt: skip


def create_app(
    folder: Path | None, hosts: tuple[str, ...], *, network: bool = False, ledger: str = "", scheme: str = "http",
    trust: Trust | None = None,
) -> FastAPI:  # fmt: skip
    """The desk over a folder, or over none yet.

    Parameters
    ----------
    folder : pathlib.Path or None
    hosts : tuple of str
        Host headers it answers to; the first is its address.
    network : bool
        Others in the network can reach it, and are let in by sign-in only.
    ledger : str
        Address of the ledger, for whatever folder is open; each folder's own without.
    scheme : {"http", "https"}
    trust : Trust or None
        The works' own certificate, for the page on trusting it.

    Returns
    -------
    fastapi.FastAPI

    Raises
    ------
    CallError
        If the folder cannot be opened, or others can reach it and nobody could sign in.
    LedgerError
        If the ledger cannot be used.
    """
    desk = Desk(address=f"{scheme}://{hosts[0]}", network=network, shared=OpenLedger(ledger, None) if ledger else None)
    if network and (desk.shared is None if folder is None else False):
        raise CallError(nobody_in("without a folder or --ledger there is"))
    if network and desk.shared is not None and not desk.shared.peopled:
        raise CallError(nobody_in("the ledger has"))
    if folder is not None:
        desk.open(folder)
    app = FastAPI(
        title="discwright desk", version=__version__, lifespan=_life, docs_url=None, redoc_url=None,
        openapi_url="/api/openapi.json",
        description="Titles, sides, plans, findings, jobs and tiles, as the pages have them.",
    )  # fmt: skip
    app.state.desk = desk
    app.state.trust = trust
    app.state.sign_ins = views_people.SignIns()
    for module in _ROUTED:
        app.include_router(module.router)
    app.include_router(views_guilt.api)
    app.include_router(api_uploads.router(cast(Uploads, _Current(desk)), _make_title(desk)))
    app.mount("/static", _Static(directory=STATIC), name="static")
    app.add_middleware(Door, desk=desk)
    app.add_middleware(Guard, hosts=hosts)
    app.add_exception_handler(DiscwrightError, _refused)
    app.add_exception_handler(RequestValidationError, _misread)
    app.add_exception_handler(HTTPException, _no_route)
    _make_routes_ready(app)
    return app


def _make_routes_ready(app: FastAPI) -> None:
    """Now, rather than at the first request: other work would run beside it, and it silences warnings for all."""
    nowhere = {"type": "http", "method": "GET", "path": "//", "root_path": "", "headers": []}
    for route in app.routes:
        route.matches(nowhere)


@asynccontextmanager
async def _life(app: FastAPI) -> AsyncIterator[None]:
    """Load what a first question would wait for, while nobody waits; stop all work at the end."""
    warming = Thread(target=_warm, daemon=True)
    warming.start()
    yield
    app.state.desk.close()
    # A desk closed in its first seconds lets go of what it was loading; compiling anew is not waited for to its end.
    warming.join(_WARMING_S)


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
    status = next((status for kind, status in _STATUSES if isinstance(why, kind)), 422)
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
