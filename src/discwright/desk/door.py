"""The door: every request to the desk passes it, and what stands in no rule is refused: nothing is open by oversight.

Who asks is found out once, by session, by a machine's token, or by sitting at this machine where nobody was made yet;
then the rule of the path says what is needed. Which events a person may record is asked where they are recorded
(:mod:`discwright.acts.people`), for only there is it known which one it is.
"""

from __future__ import annotations

import logging
import re
from dataclasses import dataclass
from functools import partial
from urllib.parse import quote, unquote, urlsplit

from fastapi import Request
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from discwright.acts.people import NotAllowedError, check_may
from discwright.desk.guard import own_path
from discwright.desk.state import Desk
from discwright.errors import CallError, DiscwrightError
from discwright.works import people as p
from discwright.works.people import NOBODY, Person
from discwright.works.store.sessions import person_of_session
from discwright.works.store.tokens import person_of_token

#: What a path needs besides an act: nothing; or to be a person, whatever her roles.
OPEN, SELF = "open", "self"
_WRITES = ("POST", "PUT", "DELETE", "PATCH")
_log = logging.getLogger("discwright.desk")


@dataclass(frozen=True)
class Rule:
    """What a request needs.

    Attributes
    ----------
    methods : tuple of str
    path : re.Pattern
        All of the path.
    need : str
        :data:`OPEN`, :data:`SELF` or an act of :data:`discwright.works.people.MAY`.
    """

    methods: tuple[str, ...]
    path: re.Pattern[str]
    need: str


def _rule(methods: str, path: str, need: str) -> Rule:
    return Rule(tuple(methods.split()), re.compile(path), need)


#: The first that fits holds. Whatever is added to the desk is closed until it stands here.
RULES = (
    _rule("GET", r"/static/.+", OPEN),
    _rule("GET POST", r"/sign-in", OPEN),
    _rule("POST", r"/sign-out", OPEN),
    _rule("GET", r"/trust(/works-ca\.pem)?", OPEN),
    _rule("POST", r"/(units|look)", OPEN),
    _rule("GET", r"/you", SELF),
    _rule("POST", r"/you/(name|password|sign-out-everywhere)", SELF),
    _rule("GET", r"/(people|tokens|access-log)", p.KEEP_PEOPLE),
    _rule("POST", r"/(people|tokens)/.+", p.KEEP_PEOPLE),
    # The works. Whole-ledger acts come first, then looking and recording.
    _rule("GET POST", r"(/api)?/works/export(/.*)?", p.EXPORT),
    _rule("GET POST", r"(/api)?/works/back-?up(/.*)?", p.BACK_UP),
    _rule("GET POST", r"(/api)?/works/(restore|import)(/.*)?", p.RESTORE),
    _rule("GET POST", r"(/api)?/works/settings(/.*)?", p.SET),
    _rule("GET", r"(/api)?/(works|stations?)(/.*)?", p.SEE),
    _rule("POST", r"/station/(choose|scanner)", p.SEE),  # which station a device is, and what its scanner adds
    _rule("POST", r"(/api)?/(works|stations?)(/.*)?", p.RECORD),
    # The press hall: runs and their lots.
    _rule("GET", r"/(hall|runs)(/.*)?", p.SEE),
    _rule("POST", r"/(hall|runs)/.+", p.RECORD),
    # Titles, sides and long work.
    _rule("GET", r"/", p.SEE),
    _rule("POST", r"/open", p.PLAN),
    _rule("GET", r"/patterns", p.SEE),
    _rule("GET", r"/(titles|plans|jobs)/.+", p.SEE),
    _rule("POST", r"/(titles|plans|jobs)/.+", p.PLAN),
    _rule("GET", r"/api/openapi\.json", p.SEE),
    _rule("GET", r"/api/(titles|plans|jobs|uploads)(/.*)?", p.SEE),
    _rule("POST PUT DELETE", r"/api/(titles|plans|jobs|uploads)(/.*)?", p.PLAN),
    # Test plays: whoever may record one may upload its capture, and is an engineer.
    _rule("GET", r"(/api)?/plays(/.*)?", p.SEE),
    _rule("POST", r"(/api)?/plays(/.*)?", p.PLAN),
    _rule("GET", r"/microscope(/.*)?", p.SEE),
    _rule("POST", r"/microscope(/.*)?", p.RECORD),
    # From stock to dock.
    _rule("GET", r"/(stock|orders|promises|packing|dock|recalls|cartons)(/.*)?", p.SEE),
    _rule("POST", r"/(orders|packing|dock|recalls)/.+", p.RECORD),
)


def person_of(request: Request) -> Person:
    """Who asks; nobody where the door was not passed.

    Parameters
    ----------
    request : fastapi.Request
    """
    person = request.scope.get("state", {}).get("person", NOBODY)
    assert isinstance(person, Person)
    return person


def session_cookie(request: Request) -> str:
    """Name of the cookie that holds the session's number: over https one that no other host can set.

    Parameters
    ----------
    request : fastapi.Request
    """
    return "__Host-session" if request.url.scheme == "https" else "session"


def where_of(request: Request) -> str:
    """Address that a request comes from.

    Parameters
    ----------
    request : fastapi.Request
    """
    return request.client.host[:80] if request.client is not None else ""


def keep_operator(response: Response, name: str) -> None:
    """Remember in one-person mode who sits here.

    Parameters
    ----------
    response : Response
    name : str
    """
    response.set_cookie("operator", quote(name), max_age=365 * 24 * 3600, path="/", httponly=True, samesite="strict")


def need_of(method: str, path: str) -> str | None:
    """What a request needs; None where no rule knows it.

    Parameters
    ----------
    method, path : str
    """
    method = "GET" if method in ("HEAD", "OPTIONS") else method
    return next((rule.need for rule in RULES if method in rule.methods and rule.path.fullmatch(path)), None)


class Door:
    """Lets in whom the rules let in.

    Parameters
    ----------
    app : ASGI application
    desk : Desk
    """

    def __init__(self, app: ASGIApp, desk: Desk) -> None:
        self._app = app
        self._desk = desk

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        request = Request(scope)
        refusal = await self._refusal(request)
        if refusal is not None:
            await refusal(scope, receive, send)
            return
        person = person_of(request)
        private = person.known and not person.one_person and not scope["path"].startswith("/static/")
        await self._app(scope, receive, _privately(send) if private else send)

    async def _refusal(self, request: Request) -> Response | None:
        """Why a request is not let in; who asks is noted in any case."""
        path = request.scope["path"]
        need = need_of(request.method, path)
        state = request.scope.setdefault("state", {})
        state["person"] = NOBODY
        if need == OPEN and path.startswith("/static/"):
            return None
        try:
            found = await run_in_threadpool(partial(_who, self._desk, request))
        except DiscwrightError as trouble:
            _log.error("who asks cannot be found out: %s", trouble)
            shown = str(trouble) if not self._desk.network else "who may come in cannot be read; see the desk's log."
            return _say(request, 503, shown)
        if found is None:
            return _say(request, 401, "this token is not good, or no longer; ask a keeper for another one.")
        state["person"] = found
        if need == OPEN:
            return None
        if not found.known:
            return _sign_in_first(request)
        if need is None:
            return _unknown(request)
        return _not_by(request, found) or _not_allowed(request, found, need)


def _who(desk: Desk, request: Request) -> Person | None:
    """Who asks; None for a token that is not good."""
    books = desk.books
    ledger = books.present if books is not None else None
    sent = request.headers.get("authorization")
    if sent is not None:
        scheme, _, token = sent.partition(" ")
        return person_of_token(ledger, token.strip()) if ledger and scheme.lower() == "bearer" else None
    if books is None or not books.peopled:
        return NOBODY if desk.network else Person(_operator(request), one_person=True)
    number = request.cookies.get(session_cookie(request), "")
    return (ledger and number and person_of_session(ledger, number)) or NOBODY


def _for_programs(request: Request) -> bool:
    path: str = request.scope["path"]
    return path.startswith("/api/")


def _operator(request: Request) -> str:
    try:
        return p.clean_name(unquote(request.cookies.get("operator", ""))[:200])
    except CallError:
        return ""


def _not_by(request: Request, person: Person) -> Response | None:
    """What a session or a token is not good for, whatever its roles."""
    if person.token and not _for_programs(request):
        return _say(
            request, 403, "a token is for programs, and opens only what lies under /api; sign in for the pages."
        )
    headers = request.headers
    told = "sec-fetch-site" in headers or "origin" in headers or "referer" in headers
    if request.method in _WRITES and not person.token and not person.one_person and not told:
        # Browsers say where a form comes from. What says nothing and brings a session is a program, or a trick.
        return _say(request, 403, "a program brings a token, never a session; ask a keeper for one.")
    return None


def _not_allowed(request: Request, person: Person, need: str) -> Response | None:
    if need == SELF:
        return _say(request, 403, "this is for people, never for a token; sign in.") if person.token else None
    if person.must_change:
        if request.method == "GET" and not _for_programs(request):
            return RedirectResponse("/you", 303)
        return _say(request, 403, "somebody else chose your password; change it first, then go on.")
    try:
        check_may(person, need)
    except NotAllowedError as refused:
        return _say(request, 403, str(refused))
    return None


def _sign_in_first(request: Request) -> Response:
    if request.headers.get("hx-request") == "true":
        page = urlsplit(request.headers.get("hx-current-url", "/"))
        response = _say(request, 401, "you are signed out; sign in again.")
        response.headers["HX-Redirect"] = sign_in_path(f"{page.path}?{page.query}" if page.query else page.path)
        return response
    if request.method == "GET" and not _for_programs(request):
        query = f"?{request.url.query}" if request.url.query else ""
        return RedirectResponse(sign_in_path(quote(request.scope["path"]) + query), 303)
    return _say(request, 401, "you are signed out, and nothing was done; sign in, then do it again.")


def sign_in_path(to: str) -> str:
    """The sign-in page that leads on to another page of this desk.

    Parameters
    ----------
    to : str
    """
    place = own_path(to)
    return "/sign-in" if place == "/" else f"/sign-in?to={quote(place, safe='/')}"


def _unknown(request: Request) -> Response:
    path = request.scope["path"]
    if any(rule.path.fullmatch(path) for rule in RULES):
        return _say(request, 405, "this cannot be done at this address; go back to the list of titles.")
    return _say(request, 404, "there is no such page; go back to the list of titles.")


def _say(request: Request, status: int, sentence: str) -> Response:
    from discwright.desk.rendering import refusal, trouble

    sentence = f"{sentence[:1].upper()}{sentence[1:]}"
    if not _for_programs(request) and not request.headers.get("accept", "").startswith("application/json"):
        return trouble(request, status, sentence)
    headers = {"WWW-Authenticate": "Bearer"} if status == 401 else {}
    return JSONResponse(refusal(sentence), status, headers)


def _privately(send: Send) -> Send:
    """What is for one person is kept by nobody: it is asked for again each time, and passes the door each time."""

    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start" and "cache-control" in Headers(raw=message["headers"]):
            headers = MutableHeaders(scope=message)
            kept = "no-store" not in headers["cache-control"]
            headers["cache-control"] = "private, no-cache" if kept else "private, no-store"
        await send(message)

    return sent
