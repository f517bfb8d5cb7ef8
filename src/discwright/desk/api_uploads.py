"""The routes under `/api/uploads`: audio comes as plain PUT bodies in pieces, never as a form."""

from __future__ import annotations

import asyncio
import unicodedata
from collections.abc import AsyncIterator, Callable, Coroutine
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from fastapi.routing import APIRoute
from pydantic import BaseModel, ConfigDict, StrictInt, StrictStr
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect

from discwright.desk.upload_pieces import STALL_S, UploadRefused
from discwright.desk.uploads import MOST_UPLOADS, PIECE_BYTES, Upload, Uploads
from discwright.errors import DiscwrightError
from discwright.files.settings import shipped
from discwright.groove.equipment import DiscFormat

#: Makes a title of ready files: its name, the files, its format; the id of the new title.
#: It moves the files away, all or none of them, and raises a `DiscwrightError` where it cannot.
MakeTitle = Callable[[str, tuple[Path, ...], str], str]
_MOST_LETTERS = 200
#: More than any file can have; beyond it not every program keeps whole numbers.
_MOST_OFFSET = 2**53


class Trouble(BaseModel):
    """Why something was refused, and where to go on if that helps."""

    sentence: str
    offset: int | None = None
    busy: bool | None = None


class Announced(BaseModel):
    """A file that is to be sent."""

    model_config = ConfigDict(extra="forbid")
    name: StrictStr
    size: StrictInt
    sha256: StrictStr | None = None


class Finish(BaseModel):
    """The hash of the whole file; it may be left out where it was announced."""

    model_config = ConfigDict(extra="forbid")
    sha256: StrictStr | None = None


class FinishTitle(BaseModel):
    """Ready uploads that become a title."""

    model_config = ConfigDict(extra="forbid")
    uploads: list[StrictStr]
    name: StrictStr
    format: StrictStr


class Begun(BaseModel):
    """An upload that may begin."""

    upload: str
    name: str
    offset: int
    piece_bytes: int


class Piece(BaseModel):
    """Where the next piece belongs."""

    offset: int


class Status(BaseModel):
    """How far an upload is; `state` is `arriving`, `whole` or `ready`."""

    upload: str
    name: str
    size: int
    offset: int
    state: str
    sha256: str | None
    words: str
    piece_bytes: int


class Lying(BaseModel):
    """All uploads, and what may be sent."""

    uploads: list[Status]
    limit_bytes: int
    formats: list[str]


class NewTitle(BaseModel):
    """The title that was made."""

    title: str
    href: str


class SentenceRoute(APIRoute):
    """A route on which every refusal is a sentence."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        handle = super().get_route_handler()

        async def handled(request: Request) -> Response:
            try:
                return await handle(request)
            except UploadRefused as refused:
                return _trouble(refused.status, str(refused), refused.offset, refused.busy)
            except DiscwrightError as refused:
                return _trouble(400, str(refused))
            except RequestValidationError as refused:
                return _trouble(422, _misread(refused))
            except HTTPException as refused:
                return _trouble(refused.status_code, "The request could not be read; send it as JSON.")

        return handled


def router(uploads: Uploads, make_title: MakeTitle) -> APIRouter:
    """All routes of uploads.

    Parameters
    ----------
    uploads : Uploads
    make_title : callable
        See `MakeTitle`; called in a thread.

    Returns
    -------
    fastapi.APIRouter
        To be included without a prefix.
    """
    statuses = (400, 404, 408, 409, 413, 415, 422, 429)
    responses: dict[int | str, dict[str, Any]] = {status: {"model": Trouble} for status in statuses}
    routes = APIRouter(prefix="/api/uploads", route_class=SentenceRoute, tags=["uploads"], responses=responses)
    formats = list(shipped(DiscFormat))

    @routes.get("")
    def lying() -> Lying:
        """All uploads that lie here, half and ready."""
        there = [_status(one) for one in uploads.lying()]
        return Lying(uploads=there, limit_bytes=uploads.limit_bytes, formats=formats)

    @routes.post("", status_code=201)
    def begin(announced: Announced) -> Begun:
        """Announce a file."""
        upload = uploads.begin(announced.name, announced.size, announced.sha256)
        return Begun(upload=upload.id, name=upload.name, offset=0, piece_bytes=PIECE_BYTES)

    @routes.post("/finish-title", status_code=201)
    def finish_title(wanted: FinishTitle) -> NewTitle:
        """Make a title of ready uploads; bands follow the natural order of their names, 2 before 10."""
        _check_wanted(wanted)
        with uploads.taking(wanted.uploads) as files:
            title = make_title(wanted.name.strip(), files, wanted.format)
        return NewTitle(title=title, href=f"/titles/{title}")

    @routes.get("/{upload}")
    def status(upload: str) -> Status:
        """How far an upload is."""
        return _status(uploads.status(upload))

    raw = {"content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}}}

    @routes.put("/{upload}", openapi_extra={"requestBody": raw | {"required": True}})
    async def append(upload: str, offset: Annotated[int, Query(ge=0, le=_MOST_OFFSET)], request: Request) -> Piece:
        """Send the piece that begins at `offset`: the bare bytes, no more than `piece_bytes`."""
        return Piece(offset=await _append(uploads, upload, offset, request))

    @routes.post("/{upload}/finish")
    async def finish(upload: str, wanted: Finish) -> Status:
        """Have the whole file checked: its hash, and its sound to the last sample."""
        return _status(await uploads.finish(upload, wanted.sha256))

    @routes.delete("/{upload}", status_code=204)
    def drop(upload: str) -> None:
        """Throw an upload away."""
        uploads.drop(upload)

    return routes


async def _append(uploads: Uploads, upload: str, offset: int, request: Request) -> int:
    announced = request.headers.get("content-length", "")
    if announced.isdecimal() and int(announced[:20]) > PIECE_BYTES:
        raise UploadRefused(413, f"A piece has at most {PIECE_BYTES} bytes; send the file in such pieces.")
    stream = request.stream()
    try:
        return await uploads.append(upload, offset, stream)
    except ClientDisconnect:
        # What arrived was kept; nobody is left to read this.
        raise UploadRefused(400, "The piece broke off; go on from what is there.") from None
    except UploadRefused as refused:
        if refused.status != 408:
            await _read_away(stream)
        raise


async def _read_away(stream: AsyncIterator[bytes]) -> None:
    """Take the rest of a refused piece: whoever is still sending does not hear the answer."""
    rest = PIECE_BYTES
    try:
        async with asyncio.timeout(STALL_S):
            async for chunk in stream:
                rest -= len(chunk)
                if rest < 0:
                    return
    except (TimeoutError, ClientDisconnect):
        return


def _check_wanted(wanted: FinishTitle) -> None:
    name = wanted.name.strip()
    if not name or len(name) > _MOST_LETTERS or any(unicodedata.category(letter) in ("Cc", "Cs") for letter in name):
        raise UploadRefused(422, f"A title needs a name of 1 to {_MOST_LETTERS} letters on one line; give it one.")
    if not wanted.uploads or len(wanted.uploads) > MOST_UPLOADS:
        raise UploadRefused(422, "A title needs at least one file; choose some that are ready.")
    if len(set(wanted.uploads)) != len(wanted.uploads):
        raise UploadRefused(422, "A file is named twice; name each once.")


def _misread(refused: RequestValidationError) -> str:
    """Which part of a request is wrong; what was sent is not repeated."""
    where = refused.errors()[0].get("loc", ())
    # Keys that nobody knows come from the sender.
    known = ("offset", "name", "size", "sha256", "uploads", "format")
    part = next((word for word in where if word in known), None)
    if part is None:
        return "The request could not be read; send the JSON that the description of this address shows."
    return f"The request's “{part}” is missing or wrong; send it as the description of this address shows."


def _trouble(status: int, sentence: str, offset: int | None = None, busy: bool = False) -> JSONResponse:
    content: dict[str, Any] = {"sentence": sentence}
    if offset is not None:
        content["offset"] = offset
    if busy:
        content["busy"] = True
    return JSONResponse(content, status)


def _status(one: Upload) -> Status:
    return Status(
        upload=one.id,
        name=one.name,
        size=one.size,
        offset=one.offset,
        state=one.state,
        sha256=one.sha256,
        words=one.words,
        piece_bytes=PIECE_BYTES,
    )
