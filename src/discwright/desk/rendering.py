"""Pages into HTML, forms out of requests, and back to where a person came from."""

from __future__ import annotations

from functools import cache
from typing import Any
from urllib.parse import parse_qsl, quote

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from jinja2 import Environment, PackageLoader, StrictUndefined

from discwright import __version__
from discwright.desk.door import person_of
from discwright.desk.guard import own_path
from discwright.desk.page_parts import Frame
from discwright.desk.pages import Page, TroublePage, context
from discwright.desk.state import Desk
from discwright.desk.words import INCHES, METRIC
from discwright.errors import CallError
from discwright.works.people import KEEP_PEOPLE, may

LOOKS = ("auto", "light", "dark")
#: A form's fields, and how long it may be.
_MOST_FIELDS, _MOST_BYTES = 60, 64 * 1024
#: A year: a person's units and look are remembered that long.
_REMEMBERED_S = 365 * 24 * 3600


@cache
def environment() -> Environment:
    """The templates; everything in them is escaped, and a name they do not know is an error."""
    return Environment(
        loader=PackageLoader("discwright.desk"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip


def render(page: Page, status: int = 200) -> HTMLResponse:
    """A page as HTML.

    Parameters
    ----------
    page : Page
    status : int
    """
    return HTMLResponse(environment().get_template(page.template).render(context(page)), status)


def frame(request: Request) -> Frame:
    """What surrounds every page of this person.

    Parameters
    ----------
    request : Request
    """
    desk: Desk = request.app.state.desk
    person = person_of(request)
    look = request.cookies.get("look", "auto")
    query = f"?{request.url.query}" if request.url.query else ""
    return Frame(
        folder=desk.folder.shelf.folder.name if desk.is_open and person.known else "",
        units=INCHES if request.cookies.get("units") == INCHES else METRIC,
        look=look if look in LOOKS else "auto",
        version=__version__,
        here=own_path(quote(request.url.path) + query) if request.method == "GET" else "/",
        network=desk.network and request.url.scheme != "https",
        person=person.name,
        signed_in=person.known and not person.one_person,
        one_person=person.one_person and desk.books is not None and desk.books.present is not None,
        keeper=may(person, KEEP_PEOPLE) and not person.one_person,
    )


def trouble(request: Request, status: int, sentence: str) -> HTMLResponse:
    """A sentence in place of a page."""
    return render(TroublePage(frame(request), status, sentence), status)


async def form_of(request: Request) -> dict[str, str]:
    """Fields of a form sent as `application/x-www-form-urlencoded`; of several alike the last.

    Raises
    ------
    CallError
        If it is no such form, or too large.
    """
    kind = request.headers.get("content-type", "").split(";")[0].strip().lower()
    body = await request.body()
    if (body and kind != "application/x-www-form-urlencoded") or len(body) > _MOST_BYTES:
        raise CallError("this was not sent as a form of this desk; load the page again and use its buttons.")
    try:
        pairs = parse_qsl(body.decode("utf-8"), keep_blank_values=True, max_num_fields=_MOST_FIELDS, errors="strict")
    except (ValueError, UnicodeDecodeError):
        raise CallError("this form cannot be read; load the page again and use its buttons.") from None
    return dict(pairs)


def is_htmx(request: Request) -> bool:
    """The page's own script asks, for a part of it."""
    return request.headers.get("hx-request") == "true"


def go_to(request: Request, path: str) -> Response:
    """On to another page of this desk, with script or without."""
    place = own_path(path)
    if is_htmx(request):
        return Response(status_code=204, headers={"HX-Redirect": place})
    return RedirectResponse(place, status_code=303)


def remember(response: Response, name: str, value: str) -> Response:
    """Keep a person's choice in a cookie: nobody else's business, and no script's."""
    response.set_cookie(name, value, max_age=_REMEMBERED_S, path="/", httponly=True, samesite="strict")
    return response


def refusal(sentence: str) -> dict[str, Any]:
    """Every refusal of the API has this shape."""
    return {"sentence": sentence}
