"""What a keeper sees to: people, tokens of machines, the access log."""

from __future__ import annotations

from functools import partial
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from discwright.acts import people as acts
from discwright.desk.api_shapes import desk_of
from discwright.desk.door import person_of, where_of
from discwright.desk.page_parts import Option
from discwright.desk.people_pages import AccessLogPage, AccessRow, PeoplePage, PersonRow, TokenRow, TokensPage
from discwright.desk.rendering import form_of, frame, go_to, render
from discwright.desk.views_people import ledger_of, refused, sentence_of
from discwright.desk.works_time import at_words, day_words, server_zone, zone_of
from discwright.errors import CallError
from discwright.works.events import EVENTS
from discwright.works.people import READ, ROLES, SCOPES
from discwright.works.store.ledger import Ledger
from discwright.works.store.people import By, Known
from discwright.works.store.tokens import Token

router = APIRouter(include_in_schema=False)
#: Rows of the access log on a page.
ROWS = 100
USUAL_DAYS = "365"
_SCOPE_WORDS = {READ: "looking at everything"} | {kind: EVENTS[kind].words for kind in SCOPES if kind != READ}


def _by(request: Request) -> By:
    person = person_of(request)
    return By(person.name or "nobody named", where_of(request))


def _ledger(request: Request) -> Ledger:
    """The ledger people are known by, begun where there is none."""
    return ledger_of(request) or desk_of(request).folder.begin_ledger()


# People ------------------------------------------------------------------------------------------------


def _people_page(
    request: Request, *, sentence: str = "", said: str = "", name: str = "", roles: tuple[str, ...] = ()
) -> Response:
    ledger = ledger_of(request)
    known = acts.people(ledger) if ledger is not None else ()
    zone = zone_of(ledger) if ledger is not None else server_zone()
    first = not known
    page = PeoplePage(
        frame(request), tuple(_person_row(one, day_words(one.closed_at or one.made_at, zone)) for one in known), name,
        _role_options(roles or (("keeper", "engineer") if first else ())), first, sentence, said,
    )  # fmt: skip
    return render(page)


def _person_row(one: Known, day: str) -> PersonRow:
    return PersonRow(
        one.id, one.name, ", ".join(one.roles), _role_options(one.roles), bool(one.closed_at), one.must_change, day
    )


def _role_options(chosen: tuple[str, ...]) -> tuple[Option, ...]:
    return tuple(Option(role, words, role in chosen) for role, words in ROLES.items())


def _picked(fields: dict[str, str], prefix: str) -> tuple[str, ...]:
    return tuple(name.removeprefix(prefix) for name in fields if name.startswith(prefix))


def _known(ledger: Ledger, id_: str) -> Known:
    found = next((one for one in acts.people(ledger) if str(one.id) == id_), None)
    if found is None:
        raise CallError("there is no such person; load the page again.")
    return found


@router.get("/people")
def people_page(request: Request) -> Response:
    """Everybody."""
    return _people_page(request)


@router.post("/people/add")
async def add_person(request: Request) -> Response:
    """Make a person; with the first one signing in begins."""
    fields = await form_of(request)
    name, roles = fields.get("name", ""), _picked(fields, "role-")

    def add() -> tuple[Known, bool]:
        if fields.get("password", "") != fields.get("again", ""):
            raise CallError("the password was not typed alike twice; type it again.")
        ledger, own = _ledger(request), person_of(request).one_person
        # Whoever makes the first person chooses her own password, for nobody else is there yet.
        return acts.add_person(ledger, name, roles, fields["password"], _by(request), must_change=not own), own

    try:
        added, first = await run_in_threadpool(add)
    except CallError as why:
        shown = partial(_people_page, request, sentence=sentence_of(why), name=name[:80], roles=roles)
        return refused(await run_in_threadpool(shown), why)
    if first:
        return go_to(request, "/sign-in")
    return await run_in_threadpool(partial(_people_page, request, said=f"{added.name} can sign in now."))


async def _changed(request: Request, person: str, what: str) -> Response:
    fields = await form_of(request)

    def change() -> str:
        ledger, by = _ledger(request), _by(request)
        known = _known(ledger, person)
        if what == "roles":
            changed = acts.change_roles(ledger, known.name, _picked(fields, "role-"), by)
            return f"{known.name} is {', '.join(changed.roles)} now, and signs in again."
        if what == "password":
            acts.set_password(ledger, known.name, fields.get("password", ""), by, must_change=True)
            return f"{known.name} has a new password, and changes it at the next sign-in."
        acts.close_person(ledger, known.name, by)
        return f"{known.name} was closed."

    try:
        said = await run_in_threadpool(change)
    except CallError as why:
        return refused(await run_in_threadpool(partial(_people_page, request, sentence=sentence_of(why))), why)
    return await run_in_threadpool(partial(_people_page, request, said=said))


@router.post("/people/{person}/roles")
async def change_roles(request: Request, person: str) -> Response:
    """Give somebody other roles."""
    return await _changed(request, person, "roles")


@router.post("/people/{person}/password")
async def give_password(request: Request, person: str) -> Response:
    """Give somebody a password, to be changed at the next sign-in."""
    return await _changed(request, person, "password")


@router.post("/people/{person}/close")
async def close_person(request: Request, person: str) -> Response:
    """Close somebody."""
    return await _changed(request, person, "close")


# Tokens ------------------------------------------------------------------------------------------------


def _tokens_page(
    request: Request, *, sentence: str = "", said: str = "", secret: str = "", name: str = "", days: str = USUAL_DAYS,
    scopes: tuple[str, ...] = (),
) -> Response:  # fmt: skip
    ledger = ledger_of(request)
    rows = tuple(_token_row(ledger, one) for one in acts.tokens(ledger)) if ledger is not None else ()
    choices = tuple(Option(scope, words, scope in scopes) for scope, words in _SCOPE_WORDS.items())
    page = TokensPage(frame(request), rows, choices, name, days, secret, sentence, said)
    return render(page)


def _token_row(ledger: Ledger, one: Token) -> TokenRow:
    zone, state = zone_of(ledger), one.state(ledger.clock())
    return TokenRow(
        one.id, one.name, ", ".join(_SCOPE_WORDS.get(scope, scope) for scope in one.scopes), state, state == "good",
        day_words(one.made_at, zone), day_words(one.expires_at, zone), at_words(one.used_at, zone),
    )  # fmt: skip


@router.get("/tokens")
def tokens_page(request: Request) -> Response:
    """Tokens of machines."""
    return _tokens_page(request)


@router.post("/tokens/add")
async def add_token(request: Request) -> Response:
    """Make a token; the answer is the only place where it is ever shown."""
    fields = await form_of(request)
    name, days, scopes = fields.get("name", ""), fields.get("days", ""), _picked(fields, "scope-")

    def add() -> str:
        if not days.strip().isdecimal() or len(days) > 6:
            raise CallError("days are a whole number; write one.")
        return acts.add_token(_ledger(request), name, scopes, int(days), _by(request)).secret

    try:
        secret = await run_in_threadpool(add)
    except CallError as why:
        shown = partial(_tokens_page, request, sentence=sentence_of(why), name=name[:80], days=days[:6], scopes=scopes)
        return refused(await run_in_threadpool(shown), why)
    return await run_in_threadpool(partial(_tokens_page, request, secret=secret))


@router.post("/tokens/{token}/revoke")
async def revoke(request: Request, token: str) -> Response:
    """A token is good for nothing from now on."""

    def end() -> str:
        return f"{acts.revoke_token(_ledger(request), token, _by(request)).name} is good for nothing any more."

    try:
        said = await run_in_threadpool(end)
    except CallError as why:
        return refused(await run_in_threadpool(partial(_tokens_page, request, sentence=sentence_of(why))), why)
    return await run_in_threadpool(partial(_tokens_page, request, said=said))


# The access log ----------------------------------------------------------------------------------------


@router.get("/access-log")
def access_log(request: Request, before: Annotated[int | None, Query(ge=1, le=1 << 31)] = None) -> Response:
    """Who came in, failed to, or did what concerns everybody."""
    ledger = ledger_of(request)
    found = acts.access(ledger, before=before, most=ROWS) if ledger is not None else ()
    zone = zone_of(ledger) if ledger is not None else server_zone()
    rows = tuple(AccessRow(at_words(one.at, zone), one.who, one.words, one.about, one.place) for one in found)
    older = f"/access-log?before={found[-1].seq}" if len(found) == ROWS else ""
    return render(AccessLogPage(frame(request), rows, str(zone), older))
