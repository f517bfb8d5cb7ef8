"""The guard, around the smallest applications that show what it does."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncIterator, Iterable, Mapping
from pathlib import Path
from typing import Any

import httpx2 as httpx
import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response, StreamingResponse
from starlette.routing import Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from discwright.desk.guard import ANY_ADDRESS, BODY_BYTES, CONTENT_POLICY, HEADERS, Guard, hosts_for, own_path
from discwright.desk.uploads import PIECE_BYTES
from discwright.files.photo import PHOTO_BYTES

LOCAL = hosts_for("127.0.0.1", 8333)
NETWORK = hosts_for("0.0.0.0", 8333, ["Works-Desk"])
UNSAFE = ("POST", "PUT", "DELETE")


async def echo(request: Request) -> Response:
    """How many bytes came."""
    return PlainTextResponse(str(len(await request.body())))


async def broken(request: Request) -> Response:
    raise ZeroDivisionError("a secret of ours")


async def own_cache(request: Request) -> Response:
    return PlainTextResponse("tile", headers={"Cache-Control": "max-age=60", "Content-Security-Policy": "none"})


ROUTES = [
    Route("/", echo, methods=["GET", *UNSAFE]),
    Route("/broken", broken),
    Route("/api/broken", broken),
    Route("/tile", own_cache),
    Route("/api/uploads/one", echo, methods=["PUT", "POST"]),
    Route("/api/works/photo", echo, methods=["PUT", "POST"]),
    Route("/static/x.css", echo),
]


def app(hosts: tuple[str, ...] = LOCAL) -> ASGIApp:
    return Starlette(routes=ROUTES, middleware=[Middleware(Guard, hosts=hosts)])


def ask(
    guarded: ASGIApp,
    method: str = "GET",
    path: str = "/",
    headers: Mapping[str, str] | None = None,
    content: bytes | AsyncIterator[bytes] | None = None,
    base: str = "http://127.0.0.1:8333",
) -> httpx.Response:
    async def asked() -> httpx.Response:
        transport = httpx.ASGITransport(guarded, raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url=base) as client:
            return await client.request(method, path, headers=headers, content=content)

    return asyncio.run(asked())


def raw(
    guarded: ASGIApp, headers: Iterable[tuple[bytes, bytes]], method: str = "GET", kind: str = "http"
) -> list[Message]:
    """Asked past any client, which would mend the headers."""
    sent: list[Message] = []

    async def receive() -> Message:
        return {"type": "websocket.connect" if kind == "websocket" else "http.request", "body": b"", "more_body": False}

    async def send(message: Message) -> None:
        sent.append(message)

    scope: Scope = {
        "type": kind, "http_version": "1.1", "method": method, "scheme": "http", "path": "/", "raw_path": b"/",
        "query_string": b"", "root_path": "", "headers": list(headers), "server": ("127.0.0.1", 8333),
    }  # fmt: skip

    async def asked() -> None:
        await guarded(scope, receive, send)

    asyncio.run(asked())
    return sent


# Host --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("host", ["127.0.0.1:8333", "localhost:8333", "LOCALHOST:8333", "[::1]:8333"])
def test_its_own_names_are_answered(host: str) -> None:
    assert ask(app(), headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    ["evil.example:8333", "127.0.0.1:9999", "127.0.0.1", "localhost", "localhost.evil.example:8333", "localhost.:8333",
     "192.168.1.5:8333", "0.0.0.0:8333", "2130706433:8333", "[::]:8333", "*:8333", "[::ffff:7f00:1]:8333"],
)  # fmt: skip
def test_a_name_made_to_point_here_is_not(host: str) -> None:
    answer = ask(app(), headers={"Host": host})
    assert answer.status_code in (400, 421)
    if answer.status_code == 421:
        assert answer.text == "This desk does not answer under that name; open http://127.0.0.1:8333/ instead.\n"


@pytest.mark.parametrize(
    "headers",
    [[], [(b"host", b"")], [(b"host", b"127.0.0.1:8333"), (b"host", b"evil.example")],
     [(b"host", b"127.0.0.1:8333@evil")], [(b"host", b"127.0.0.1:8333/x")], [(b"host", b"\xff\xfe")],
     [(b"host", b"localhost:")]],
)  # fmt: skip
def test_no_host_or_a_broken_one_is_refused(headers: list[tuple[bytes, bytes]]) -> None:
    assert raw(app(), headers)[0]["status"] == 400


@pytest.mark.parametrize(
    ("host", "status"),
    [("192.168.1.5:8333", 200), ("[fe80::1]:8333", 200), ("127.0.0.1:8333", 200), ("works-desk:8333", 200),
     ("evil.example:8333", 421), ("192.168.1.5:80", 421), ("192.168.1.5", 421), ("1.2.3:8333", 421), ("*:8333", 400)],
)  # fmt: skip
def test_in_a_network_bare_addresses_and_given_names_are_answered(host: str, status: int) -> None:
    assert ask(app(NETWORK), headers={"Host": host}).status_code == status


def test_hosts_begin_with_the_one_that_is_served() -> None:
    assert hosts_for("127.0.0.1", 1) == ("127.0.0.1:1", "localhost:1", "[::1]:1")
    assert hosts_for("::1", 1)[0] == "[::1]:1"
    assert hosts_for("192.168.1.5", 1) == ("192.168.1.5:1", "127.0.0.1:1", "localhost:1", "[::1]:1")
    assert hosts_for("fe80::1", 1)[0] == "[fe80::1]:1"
    assert hosts_for("::", 1, ["", "A"]) == ("127.0.0.1:1", "localhost:1", "[::1]:1", f"{ANY_ADDRESS}:1", "a:1")


def test_the_usual_port_may_be_left_out() -> None:
    assert ask(app(hosts_for("127.0.0.1", 80)), base="http://127.0.0.1").status_code == 200


# Other sites -------------------------------------------------------------------------------------------

PLACES = {
    "localhost": "http://localhost:8333",
    "127.0.0.1": "http://127.0.0.1:8333",
    "network": "http://192.168.1.5:8333",
    "https": "https://192.168.1.5:8333",
    "https by name": "https://works-desk:8333",
}
OTHER = "http://evil.example"
#: What a sender tells of itself, `{here}` being the desk; and whether it may change something.
SENDERS: dict[str, tuple[dict[str, str], bool]] = {
    "same, new browser on this machine": ({"Origin": "{here}", "Sec-Fetch-Site": "same-origin"}, True),
    "same, browser over plain http": ({"Origin": "{here}"}, True),
    "same, typed by a person": ({"Sec-Fetch-Site": "none"}, True),
    "same, browser from before 2020": ({"Referer": "{here}/titles/1", "User-Agent": "Mozilla/5.0"}, True),
    "no header, a program": ({"User-Agent": "curl/8.5"}, True),
    "no header, a program with a cookie": ({"Cookie": "units=inch", "User-Agent": "python-httpx"}, True),
    "no header, a browser": ({"User-Agent": "Mozilla/5.0 (X11)"}, False),
    "other site, new browser": ({"Origin": OTHER, "Sec-Fetch-Site": "cross-site"}, False),
    "other site, over plain http": ({"Origin": OTHER}, False),
    "other site, only where it came from": ({"Referer": f"{OTHER}/page"}, False),
    "other site, image or form without Origin": ({"Sec-Fetch-Site": "cross-site"}, False),
    "other port": ({"Origin": "{here}1"}, False),
    "other port of the same machine": ({"Origin": "http://127.0.0.1:9999", "Sec-Fetch-Site": "same-site"}, False),
    "other port, without Origin": ({"Sec-Fetch-Site": "same-site"}, False),
    "other scheme": ({"Origin": "{other scheme}"}, False),
    "name that begins alike": ({"Origin": "{here}.evil.example"}, False),
    "the desk as a user name": ({"Origin": "{here}@evil.example"}, False),
    "null origin": ({"Origin": "null"}, False),
    "null origin, sandboxed": ({"Origin": "null", "Sec-Fetch-Site": "cross-site"}, False),
    "null origin that claims to be ours": ({"Origin": "null", "Sec-Fetch-Site": "same-origin"}, False),
    "other origin that claims to be ours": ({"Origin": OTHER, "Sec-Fetch-Site": "same-origin"}, False),
    "nonsense": ({"Origin": "http://[::"}, False),
    "empty": ({"Origin": ""}, False),
}  # fmt: skip


@pytest.mark.parametrize("method", UNSAFE)
@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("sender", SENDERS)
def test_only_our_own_pages_and_programs_change_something(place: str, sender: str, method: str) -> None:
    headers, allowed = SENDERS[sender]
    here = PLACES[place]
    other = here.replace("http:", "x:").replace("https:", "http:").replace("x:", "https:")
    told = {name: value.replace("{here}", here).replace("{other scheme}", other) for name, value in headers.items()}
    answer = ask(app(NETWORK), method, headers=told, base=here)
    assert answer.status_code == (200 if allowed else 403)


def test_one_name_of_the_desk_is_another_site_to_its_other_name() -> None:
    answer = ask(app(), "POST", headers={"Origin": "http://localhost:8333"})
    assert answer.text == "Only pages of this desk can change something here; open the desk itself and do it there.\n"


@pytest.mark.parametrize("method", ["PATCH", "TRACE", "PROPFIND"])
def test_unusual_methods_count_as_changing_something(method: str) -> None:
    assert ask(app(), method, headers={"Origin": OTHER}).status_code == 403


def test_reading_is_open_to_links_from_elsewhere_but_to_no_script() -> None:
    answer = ask(app(), headers={"Origin": OTHER, "Sec-Fetch-Site": "cross-site"})
    assert answer.status_code == 200
    assert "access-control-allow-origin" not in answer.headers
    assert ask(app(), "OPTIONS", headers={"Origin": OTHER, "Access-Control-Request-Method": "PUT"}).status_code == 405


def test_two_origins_are_both_looked_at() -> None:
    host = (b"host", b"127.0.0.1:8333")
    ours, other = (b"origin", b"http://127.0.0.1:8333"), (b"origin", OTHER.encode())
    assert raw(app(), [host, ours], "POST")[0]["status"] == 200
    assert raw(app(), [host, ours, other], "POST")[0]["status"] == 403


def test_there_are_no_sockets() -> None:
    assert raw(app(), [(b"host", b"127.0.0.1:8333")], kind="websocket") == [{"type": "websocket.close", "code": 1008}]


# Headers -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("method", "path", "headers", "status"),
    [("GET", "/", {}, 200), ("GET", "/nowhere", {}, 404), ("DELETE", "/tile", {}, 405), ("GET", "/broken", {}, 500),
     ("POST", "/", {"Origin": OTHER}, 403), ("GET", "/", {"Host": "evil.example"}, 421), ("HEAD", "/", {}, 200)],
)  # fmt: skip
def test_every_answer_carries_them(method: str, path: str, headers: dict[str, str], status: int) -> None:
    answer = ask(app(), method, path, headers)
    assert answer.status_code == status
    assert {name: answer.headers.get(name) for name in HEADERS} == HEADERS
    assert answer.headers["cache-control"] == "no-store"


def test_the_policy_is_the_agreed_one() -> None:
    policy = dict(part.split(" ", 1) for part in CONTENT_POLICY.split("; "))
    assert policy == {
        "default-src": "'self'", "script-src": "'self'", "style-src": "'self' 'unsafe-inline'",
        "img-src": "'self' data: blob:", "connect-src": "'self'", "media-src": "'self' blob:", "object-src": "'none'",
        "base-uri": "'none'", "form-action": "'self'", "frame-ancestors": "'none'",
    }  # fmt: skip


def test_a_route_may_say_how_long_it_is_kept_but_not_loosen_the_policy() -> None:
    answer = ask(app(), path="/tile")
    assert answer.headers.get_list("cache-control") == ["max-age=60"]
    assert answer.headers.get_list("content-security-policy") == [CONTENT_POLICY]
    assert ask(app(), path="/static/x.css").headers["cache-control"] == "no-cache"


# Bodies ------------------------------------------------------------------------------------------------


async def chunks(count: int, size: int = 1000) -> AsyncIterator[bytes]:
    for _ in range(count):
        yield b"x" * size


@pytest.mark.parametrize("streamed", [False, True])
@pytest.mark.parametrize(("size", "status"), [(0, 200), (1, 200), (BODY_BYTES, 200), (BODY_BYTES + 1, 413)])
def test_a_body_is_small(size: int, status: int, streamed: bool) -> None:
    content = chunks(size, 1) if streamed and size < 2 else chunks(1, size) if streamed else b"x" * size
    answer = ask(app(), "POST", content=content)
    assert (answer.status_code, answer.text) == (
        (200, str(size)) if status == 200 else (413, "That is more than the 65536 bytes taken here; send less.\n")
    )


def test_a_long_stream_is_not_read_to_its_end() -> None:
    read = 0

    async def endless() -> AsyncIterator[bytes]:
        nonlocal read
        while True:
            read += 1000
            yield b"x" * 1000

    assert ask(app(), "POST", content=endless()).status_code == 413
    assert read <= BODY_BYTES + 2000


@pytest.mark.parametrize("length", ["-1", "abc", "", "1e3", "²"])
def test_a_length_that_is_no_number_is_refused(length: str) -> None:
    headers = [(b"host", b"127.0.0.1:8333"), (b"content-length", length.encode("latin-1"))]
    assert raw(app(), headers, "POST")[0]["status"] == 400


def test_a_length_without_end_is_refused() -> None:
    headers = [(b"host", b"127.0.0.1:8333"), (b"content-length", b"9" * 5000)]
    start = raw(app(), headers, "POST")[0]
    assert start["status"] == 413
    assert (b"connection", b"close") in start["headers"]


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [("PUT", "/api/uploads/one", 200), ("POST", "/api/uploads/one", 413), ("PUT", "/", 413),
     ("PUT", "/api/uploads/one/finish", 413)],
)  # fmt: skip
def test_only_the_pieces_of_uploads_may_be_large(method: str, path: str, status: int) -> None:
    assert ask(app(), method, path, content=b"x" * (BODY_BYTES + 1)).status_code == status
    assert ask(app(), method, path, content=b"x" * (PIECE_BYTES + 1)).status_code == 413


@pytest.mark.parametrize("streamed", [False, True])
@pytest.mark.parametrize(("size", "status"), [(BODY_BYTES + 1, 200), (PHOTO_BYTES, 200), (PHOTO_BYTES + 1, 413)])
def test_a_photograph_may_be_large_too(size: int, status: int, streamed: bool) -> None:
    content = (
        chunks(-(-size // 4096), 4096) if streamed and status == 413 else chunks(1, size) if streamed else b"x" * size
    )
    assert ask(app(), "POST", "/api/works/photo", content=content).status_code == status
    assert ask(app(), "PUT", "/api/works/photo", content=b"x" * (BODY_BYTES + 1)).status_code == 413


def test_what_is_refused_within_is_not_read() -> None:
    """A photograph is not read ahead: whoever is not let in fills no memory."""
    read = 0

    async def endless() -> AsyncIterator[bytes]:
        nonlocal read
        while True:
            read += 1000
            yield b"x" * 1000

    async def refusing(scope: Scope, receive: Receive, send: Send) -> None:
        await PlainTextResponse("no", 401)(scope, receive, send)

    assert ask(Guard(refusing, LOCAL), "POST", "/api/works/photo", content=endless()).status_code == 401
    assert read <= 2000


def over_https(hosts: tuple[str, ...]) -> ASGIApp:
    async def cookies(request: Request) -> Response:
        response = PlainTextResponse("x")
        response.set_cookie("units", "inch")
        response.set_cookie("__Host-session", "n", secure=True, path="/")
        return response

    return Starlette(routes=[Route("/", cookies)], middleware=[Middleware(Guard, hosts=hosts)])


def test_over_https_browsers_come_back_by_https_and_cookies_stay_there() -> None:
    hosts = hosts_for("0.0.0.0", 8333, ["works-desk"])
    answer = ask(over_https(hosts), base="https://works-desk:8333")
    assert answer.headers["strict-transport-security"] == "max-age=31536000"
    cookies = answer.headers.get_list("set-cookie")
    assert [one.split("=")[0] for one in cookies] == ["units", "__Host-session"]
    assert [one.lower().count("; secure") for one in cookies] == [1, 1]
    # The names of this machine are everybody's here, and over plain http it would be no good.
    for base in ("https://localhost:8333", "https://127.0.0.1:8333", "http://works-desk:8333"):
        answer = ask(over_https(hosts), base=base)
        assert "strict-transport-security" not in answer.headers
    assert "secure" not in answer.headers.get_list("set-cookie")[0].lower()


def test_a_request_that_breaks_off_reaches_nobody() -> None:
    sent: list[Message] = []

    async def gone() -> Message:
        return {"type": "http.disconnect"}

    async def send(message: Message) -> None:
        sent.append(message)

    async def never(scope: Scope, receive: Receive, send: Send) -> None:
        raise AssertionError

    scope: Scope = {
        "type": "http", "method": "POST", "scheme": "http", "path": "/",
        "headers": [(b"host", b"127.0.0.1:8333"), (b"content-length", b"10")],
    }  # fmt: skip
    asyncio.run(Guard(never, LOCAL)(scope, gone, send))
    assert sent[0]["status"] == 400


# Failures ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("outermost", [False, True])
def test_a_failure_is_a_sentence_to_the_person_and_a_traceback_to_the_log(
    caplog: pytest.LogCaptureFixture, outermost: bool
) -> None:
    guarded = Guard(Starlette(routes=ROUTES), LOCAL) if outermost else app()
    with caplog.at_level(logging.ERROR, "discwright.desk"):
        answer = ask(guarded, path="/broken")
    assert answer.status_code == 500
    assert "secret" not in answer.text
    assert "Traceback" not in answer.text
    (record,) = caplog.records
    assert record.getMessage() == "GET '/broken' failed"
    assert record.exc_info
    if not outermost:
        assert answer.text.startswith("Something went wrong in the desk; ")
        answer = ask(guarded, path="/api/broken")
        assert answer.json() == {"sentence": answer.json()["sentence"]}


def test_an_answer_that_breaks_off_does_not_look_whole(caplog: pytest.LogCaptureFixture) -> None:
    sent: list[Message] = []

    async def breaking(scope: Scope, receive: Receive, send: Send) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b"half", "more_body": True})
        raise ZeroDivisionError

    async def receive() -> Message:
        raise AssertionError

    async def send(message: Message) -> None:
        sent.append(message)

    scope: dict[str, Any] = {
        "type": "http", "method": "GET", "scheme": "http", "path": "/", "headers": [(b"host", b"127.0.0.1:8333")],
    }  # fmt: skip
    with pytest.raises(ZeroDivisionError):
        asyncio.run(Guard(breaking, LOCAL)(scope, receive, send))
    assert [message["type"] for message in sent] == ["http.response.start", "http.response.body"]


def test_a_refusal_to_a_program_is_json_and_head_has_no_body() -> None:
    answer = ask(app(), path="/api/x", headers={"Host": "evil.example"})
    assert answer.json() == {
        "sentence": "This desk does not answer under that name; open http://127.0.0.1:8333/ instead."
    }
    answer = ask(app(), "HEAD", headers={"Host": "evil.example"})
    assert (answer.status_code, answer.content) == (421, b"")


def test_what_is_streamed_arrives_piece_by_piece() -> None:
    seen: list[int] = []

    async def streamed(request: Request) -> Response:
        async def some() -> AsyncIterator[bytes]:
            for number in range(3):
                seen.append(number)
                yield b"x"

        return StreamingResponse(some())

    sent: list[tuple[int, int]] = []

    async def send(message: Message) -> None:
        sent.append((len(seen), len(message.get("body", b""))))

    async def receive() -> Message:
        await asyncio.sleep(60)
        raise AssertionError

    guarded = Guard(Starlette(routes=[Route("/", streamed)]), LOCAL)
    scope: Scope = {
        "type": "http", "method": "GET", "scheme": "http", "path": "/", "query_string": b"", "root_path": "",
        "headers": [(b"host", b"127.0.0.1:8333")],
    }  # fmt: skip
    asyncio.run(guarded(scope, receive, send))
    assert [count for count, size in sent if size] == [1, 2, 3]


def test_ranges_and_heads_of_files_pass(tmp_path: Path) -> None:
    (tmp_path / "x.wav").write_bytes(bytes(range(100)))
    guarded = Guard(StaticFiles(directory=tmp_path), LOCAL)
    answer = ask(guarded, path="/x.wav", headers={"Range": "bytes=10-19"})
    assert (answer.status_code, answer.content) == (206, bytes(range(10, 20)))
    assert ask(guarded, path="/x.wav", headers={"Range": "bytes=200-"}).status_code == 416
    answer = ask(guarded, "HEAD", "/x.wav")
    assert (answer.status_code, answer.content, answer.headers["content-length"]) == (200, b"", "100")
    mark = answer.headers["etag"]
    assert ask(guarded, path="/x.wav", headers={"If-None-Match": mark}).status_code == 304


# Redirects ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "path", ["/", "/titles/1", "/plans/a?x_um=1.5&y_um=-2#map", "/a//b", "/x?next=//evil.example", "/%C3%A9"]
)
def test_an_own_path_stays(path: str) -> None:
    assert own_path(path) == path


@pytest.mark.parametrize(
    "text",
    ["", "titles", "//evil.example", "///evil.example", "/\\evil.example", "\\\\evil.example", "/%2f/evil.example",
     "/%2F%2Fevil.example", "/%5cevil.example", "/%255cevil.example", "/%252f/evil.example", "https://evil.example",
     "https:evil.example", "javascript:alert(1)", "data:text/html,x", "/%09/evil.example", "/\t/evil.example",
     "/\n/evil.example", " //evil.example", "\x00/", "/x\r\nSet-Cookie: a=b", "/x%0d%0aSet-Cookie:%20a=b",
     "/x%0D%0A%20folded", "/x\x7f", "/x\u2028", "/ü", "/./x", "/../x", "/.//evil.example", "/%2e%2e/x", "/a/../../x",
     "/" + "a" * 2000, "http:/evil.example", "@evil.example", "/ x"],
)  # fmt: skip
def test_whatever_could_lead_elsewhere_becomes_home(text: str) -> None:
    assert own_path(text) == "/"


@given(st.text(alphabet="/\\.%2f5cC?#:@evil \t\r\n\0é", max_size=20))
def test_no_text_at_all_leads_elsewhere(text: str) -> None:
    # By another road: how an address is joined to the page it stands on.
    joined = httpx.URL("http://127.0.0.1:8333/titles/1").join(own_path(text))
    assert (joined.scheme, joined.host, joined.port) == ("http", "127.0.0.1", 8333)
