"""Signing in and out, and everybody's page about oneself."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from functools import partial
from typing import TypeVar

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from discwright.desk.api_shapes import desk_of
from discwright.desk.door import keep_operator, person_of, session_cookie, where_of
from discwright.desk.guard import own_path
from discwright.desk.page_parts import Fact
from discwright.desk.people_pages import SignInPage, YouPage
from discwright.desk.rendering import form_of, frame, go_to, render
from discwright.errors import CallError
from discwright.works.events import EVENTS
from discwright.works.people import ROLES, clean_name, recordable_by
from discwright.works.store.ledger import Ledger
from discwright.works.store.passwords import AT_ONCE
from discwright.works.store.people import By
from discwright.works.store.sessions import (
    OLDEST,
    SignedIn,
    WrongPasswordError,
    change_password,
    sign_in,
    sign_out,
    sign_out_everywhere,
)
from discwright.works.store.throttle import SlowedError

router = APIRouter(include_in_schema=False)
#: Further sign-ins that wait for the two that are looked at.
MOST_WAITING = 60
_Result = TypeVar("_Result")


class SignIns:
    """Passwords are looked at two at a time; whoever waits for that holds up nothing else."""

    def __init__(self) -> None:
        self._turn = asyncio.Semaphore(AT_ONCE)
        self._waiting = 0

    @asynccontextmanager
    async def _place(self) -> AsyncIterator[None]:
        if self._waiting >= MOST_WAITING:
            raise SlowedError(10)
        self._waiting += 1
        try:
            async with self._turn:
                yield
        finally:
            self._waiting -= 1

    async def run(self, look: Callable[[], _Result]) -> _Result:
        """Look at a password in a thread, when its turn comes."""
        async with self._place():
            return await run_in_threadpool(look)


def ledger_of(request: Request) -> Ledger | None:
    """The ledger people are known by; None where there is none."""
    books = desk_of(request).books
    return books.present if books is not None else None


def _sign_ins(request: Request) -> SignIns:
    found: SignIns = request.app.state.sign_ins
    return found


def _keep_session(request: Request, response: Response, signed: SignedIn) -> Response:
    response.set_cookie(
        session_cookie(request), signed.number, max_age=int(OLDEST.total_seconds()), path="/", httponly=True,
        samesite="strict", secure=request.url.scheme == "https",
    )  # fmt: skip
    return response


def _drop_session(request: Request, response: Response) -> Response:
    response.delete_cookie(
        session_cookie(request), path="/", httponly=True, samesite="strict", secure=request.url.scheme == "https"
    )
    response.headers["Clear-Site-Data"] = '"cache"'
    return response


def refused(response: Response, why: CallError) -> Response:
    """A page that says why something was refused, with its status."""
    if isinstance(why, SlowedError):
        response.status_code = 429
        response.headers["Retry-After"] = str(max(1, round(why.wait_s)))
    elif isinstance(why, WrongPasswordError):
        response.status_code = 401
    else:
        response.status_code = 422
    return response


def sentence_of(why: CallError) -> str:
    """A refusal as a page says it."""
    words = str(why)
    return f"{words[:1].upper()}{words[1:]}"


@router.get("/sign-in")
def sign_in_page(request: Request, to: str = "/") -> Response:
    """Name and password; where nobody has to sign in, straight on."""
    if person_of(request).one_person:
        return go_to(request, to)
    return render(SignInPage(frame(request), "", own_path(to), ""))


@router.post("/sign-in")
async def signed_in(request: Request) -> Response:
    """Begin a session and go on to where one came from."""
    fields = await form_of(request)
    to, name, password = own_path(fields.get("to", "/")), fields.get("name", ""), fields.get("password", "")
    ledger = ledger_of(request)
    if ledger is None or person_of(request).one_person:
        return go_to(request, to)
    before = request.cookies.get(session_cookie(request), "")
    look = partial(sign_in, ledger, name, password, where_of(request), before=before)
    try:
        signed = await _sign_ins(request).run(look)
    except CallError as why:
        page = SignInPage(frame(request), name[:80], to, sentence_of(why))
        return refused(render(page), why)
    return _keep_session(request, go_to(request, "/you" if signed.person.must_change else to), signed)


@router.post("/sign-out")
async def signed_out(request: Request) -> Response:
    """End the session."""
    ledger, number = ledger_of(request), request.cookies.get(session_cookie(request), "")
    if ledger is not None and number:
        await run_in_threadpool(sign_out, ledger, number, where_of(request))
    return _drop_session(request, go_to(request, "/sign-in"))


def _you(request: Request, *, sentence: str = "", said: str = "", to: str = "/") -> Response:
    person = person_of(request)
    roles = tuple(Fact(role, words) for role, words in ROLES.items() if role in person.roles)
    records = () if person.one_person else tuple(EVENTS[kind].words for kind in recordable_by(person))
    page = YouPage(
        frame(request), person.name, roles, records, person.must_change, own_path(to), sentence=sentence, said=said
    )
    return render(page)


@router.get("/you")
def you_page(request: Request, to: str = "/you") -> Response:
    """Who one is, and one's password."""
    return _you(request, to=to)


@router.post("/you/name")
async def your_name(request: Request) -> Response:
    """In one-person mode: who sits here, remembered in the browser."""
    fields = await form_of(request)
    if not person_of(request).one_person:
        return go_to(request, "/you")
    try:
        name = clean_name(fields.get("name", ""))
    except CallError as why:
        return refused(_you(request, sentence=sentence_of(why)), why)
    response = go_to(request, fields.get("to", "/you"))
    keep_operator(response, name)
    return response


@router.post("/you/password")
async def your_password(request: Request) -> Response:
    """Change one's own password: every session ends, and this browser gets a new one."""
    fields, person, ledger = await form_of(request), person_of(request), ledger_of(request)
    if ledger is None or person.one_person:
        return go_to(request, "/you")
    try:
        if fields.get("new", "") != fields.get("again", ""):
            raise CallError("the new password was not typed alike twice; type it again.")
        look = partial(
            change_password, ledger, person.name, fields.get("password", ""), fields.get("new", ""), where_of(request)
        )
        signed = await _sign_ins(request).run(look)
    except CallError as why:
        return refused(_you(request, sentence=sentence_of(why)), why)
    return _keep_session(request, go_to(request, "/"), signed)


@router.post("/you/sign-out-everywhere")
async def everywhere(request: Request) -> Response:
    """End every session of one's own."""
    ledger, person = ledger_of(request), person_of(request)
    if ledger is not None and not person.one_person:
        by = By(person.name, where_of(request))
        await run_in_threadpool(partial(sign_out_everywhere, ledger, person.name, by=by))
    return _drop_session(request, go_to(request, "/sign-in"))
