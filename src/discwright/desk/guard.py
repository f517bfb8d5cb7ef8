"""The guard around the desk: who may ask, what may be posted, and what every answer forbids the browser.

Before anybody is asked who he is (:mod:`discwright.desk.door`), two things count that a browser tells about itself and
a page cannot forge:

- *Host.* The desk answers only under its own addresses. A hostile site whose name is made to point to this machine
  (DNS rebinding) is known by that name. A bare address cannot be such a name: with ``--allow-network`` any is taken.
- *Origin and Sec-Fetch-Site.* What changes something is done only from the desk's own pages. Browsers send
  `Sec-Fetch-Site` only to https and to this machine; over plain http in a network, Origin is held against Host.
  Programs other than browsers send neither and are let through: no page can make a browser leave out both.
"""

from __future__ import annotations

import ipaddress
import json
import logging
import re
from collections.abc import Iterable
from urllib.parse import unquote, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from discwright.desk.micrographs import MICROGRAPH_BYTES
from discwright.desk.uploads import PIECE_BYTES
from discwright.files.photo import PHOTO_BYTES

#: Largest body of a request, bytes, for all but the pieces of uploads, photographs and files of orders.
BODY_BYTES = 1 << 16
#: Largest file of orders, bytes.
ORDERS_BYTES = 64 << 20
CONTENT_POLICY = (
    "default-src 'self'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; "
    "connect-src 'self'; media-src 'self' blob:; object-src 'none'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'"
)
#: What every answer carries.
HEADERS = {
    "content-security-policy": CONTENT_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}
#: Over https a browser that was here once comes back by https only, for a year; never said under a name of this
#: machine, for those are everybody's.
STRICT_TRANSPORT = "max-age=31536000"
_OWN_NAMES = ("localhost", "127.0.0.1", "[::1]")
#: Stands for any bare address of this machine in a list of hosts; no Host header can hold a star.
ANY_ADDRESS = "*"
_SAFE = ("GET", "HEAD", "OPTIONS")
#: Larger bodies. None is read ahead, so that whoever is not let in fills no memory: a piece counts itself, and a
#: photograph or a file of orders is counted while it is read.
_PIECE = re.compile(r"/api/uploads/[^/]+")
_COUNTED = {
    "/api/works/photo": PHOTO_BYTES, "/microscope": MICROGRAPH_BYTES, "/orders/file": ORDERS_BYTES,
    "/api/works/orders": ORDERS_BYTES,
}  # fmt: skip
_HOST = re.compile(r"(\[[0-9a-f:.]{2,45}\]|[a-z0-9._-]{1,253})(?::([0-9]{1,5}))?")
_DEFAULT_PORTS = {"http": "80", "https": "443"}
_MOST_PATH_LETTERS = 2000
_log = logging.getLogger("discwright.desk")


def hosts_for(address: str, port: int, names: Iterable[str] = ()) -> tuple[str, ...]:
    """The hosts under which a desk answers that is bound to an address.

    Parameters
    ----------
    address : str
        What the server is bound to. ``0.0.0.0`` and ``::`` stand for every address of this machine.
    port : int
    names : iterable of str
        Further names of this machine in its network.

    Returns
    -------
    tuple of str
        ``host:port`` each; the first is where this machine itself finds it.
    """
    bare = address.strip("[]").lower()
    own = ["127.0.0.1", "localhost", "[::1]"]
    if bare in ("0.0.0.0", "::"):
        own.append(ANY_ADDRESS)
    else:
        own.insert(0, f"[{bare}]" if ":" in bare else bare)
    return tuple(f"{host}:{port}" for host in dict.fromkeys((*own, *(name.lower() for name in names if name))))


def own_path(text: str) -> str:
    """A place to redirect to that certainly lies on this desk.

    Parameters
    ----------
    text : str
        A path, with query or not.

    Returns
    -------
    str
        The same, or ``/`` for anything that could lead elsewhere.
    """
    if len(text) > _MOST_PATH_LETTERS or not text.isascii():
        return "/"
    plain = text
    for _ in range(3):  # also what was encoded twice
        plain = unquote(plain)
    # A browser takes \ for / and reads over tabs and line ends.
    if not all(" " < letter < "\x7f" and letter != "\\" for letter in text):
        return "/"
    if any(letter < " " or letter in "\\\x7f" for letter in plain) or not text.startswith("/"):
        return "/"
    path = plain.split("?")[0].split("#")[0]
    return "/" if path.startswith("//") or {".", ".."} & set(path.split("/")) else text


class Guard:
    """Everything that goes in and out of the desk passes here.

    Parameters
    ----------
    app : ASGI application
    hosts : tuple of str
        Of :func:`hosts_for`.
    """

    def __init__(self, app: ASGIApp, hosts: tuple[str, ...]) -> None:
        self._app = app
        self._hosts = frozenset(hosts)
        self._home = hosts[0]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1008})
        elif scope["type"] != "http":
            await self._app(scope, receive, send)
        else:
            await self._http(scope, receive, _Answer(scope, send))

    async def _http(self, scope: Scope, receive: Receive, answer: _Answer) -> None:
        headers = Headers(scope=scope)
        refusal = self._strange_host(scope, headers) or _strange_sender(scope, headers)
        if refusal is None:
            refusal, receive = await _bounded(scope, headers, receive)
        if refusal is not None:
            await answer.say(*refusal)
            return
        try:
            await self._app(scope, receive, answer.send)
        except Exception:
            if isinstance(receive, _Counted) and receive.over and not answer.begun:
                await answer.say(*_too_long(receive.limit))
                return
            _log.exception("%s %r failed", scope["method"], scope["path"][:200])
            if answer.whole:
                return  # somebody within has said so already
            if answer.begun:
                raise  # the server cuts the connection, which is how the other side learns of it
            await answer.say(500, "Something went wrong in the desk; its log tells more: look there, then try again.")

    def _strange_host(self, scope: Scope, headers: Headers) -> tuple[int, str] | None:
        named = headers.getlist("host")
        match = _HOST.fullmatch(named[0].lower()) if len(named) == 1 else None
        if match is None:
            return 400, "The request names no host; send one Host header."
        host, port = match[1], match[2] or _DEFAULT_PORTS.get(scope["scheme"], "80")
        if f"{host}:{port}" in self._hosts:
            return None
        if f"{ANY_ADDRESS}:{port}" in self._hosts and _is_address(host):
            return None
        return 421, f"This desk does not answer under that name; open {scope['scheme']}://{self._home}/ instead."


class _Answer:
    """An answer on its way out, with the headers every answer has."""

    def __init__(self, scope: Scope, send: Send) -> None:
        self._scope = scope
        self._send = send
        self.begun = False
        self.whole = False

    async def send(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.begun = True
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers[name] = value
            # Files of the package are asked for again each time, and mostly not sent again.
            static = self._scope["path"].startswith("/static/")
            headers.setdefault("cache-control", "no-cache" if static else "no-store")
            if self._scope["scheme"] == "https":
                self._over_https(headers)
        elif message["type"] == "http.response.body" and not message.get("more_body", False):
            self.whole = True
        await self._send(message)

    def _over_https(self, headers: MutableHeaders) -> None:
        host = Headers(scope=self._scope).get("host", "").lower()
        if _authority(host, "https")[0] not in ("", *_OWN_NAMES):
            headers["strict-transport-security"] = STRICT_TRANSPORT
        cookies = headers.getlist("set-cookie")
        del headers["set-cookie"]
        for one in cookies:
            headers.append("set-cookie", one if "; secure" in one.lower() else f"{one}; Secure")

    async def say(self, status: int, sentence: str) -> None:
        """A sentence in place of an answer."""
        wants_json = self._scope["path"].startswith("/api/")
        body = (json.dumps({"sentence": sentence}) if wants_json else f"{sentence}\n").encode()
        headers = [
            (b"content-type", b"application/json" if wants_json else b"text/plain; charset=utf-8"),
            (b"content-length", str(len(body)).encode()),
        ]
        if status == 413:
            headers.append((b"connection", b"close"))  # the rest of the body is not read
        await self.send({"type": "http.response.start", "status": status, "headers": headers})
        await self.send({"type": "http.response.body", "body": b"" if self._scope["method"] == "HEAD" else body})


def _strange_sender(scope: Scope, headers: Headers) -> tuple[int, str] | None:
    """Why a request that changes something does not come from a page of this desk."""
    if scope["method"] in _SAFE:
        return None
    refusal = 403, "Only pages of this desk can change something here; open the desk itself and do it there."
    here = (scope["scheme"], *_authority(headers["host"].lower(), scope["scheme"]))
    fetch_sites, origins = headers.getlist("sec-fetch-site"), headers.getlist("origin")
    if any(site not in ("same-origin", "none") for site in fetch_sites):
        return refusal
    if any(_origin(origin) != here for origin in origins):
        return refusal
    if not fetch_sites and not origins:
        # A browser from before 2020, or a program. The first tells where it comes from, or at least what it is.
        referer = headers.get("referer")
        if referer is not None:
            return None if _origin(referer) == here else refusal
        if headers.get("user-agent", "").startswith("Mozilla/"):
            return refusal
    return None


def _origin(text: str) -> tuple[str, str, str] | None:
    """Scheme, host and port of an address; None for `null` and for nonsense."""
    try:
        parts = urlsplit(text.lower())
    except ValueError:
        return None
    if parts.scheme not in _DEFAULT_PORTS or "@" in parts.netloc or not parts.netloc:
        return None
    return parts.scheme, *_authority(parts.netloc, parts.scheme)


def _authority(text: str, scheme: str) -> tuple[str, str]:
    match = _HOST.fullmatch(text)
    return (match[1], match[2] or _DEFAULT_PORTS.get(scheme, "80")) if match else ("", "")


def _is_address(host: str) -> bool:
    try:
        ipaddress.ip_address(host.strip("[]"))
    except ValueError:
        return False
    return True


async def _bounded(scope: Scope, headers: Headers, receive: Receive) -> tuple[tuple[int, str] | None, Receive]:
    """The body of a request, read ahead where it is small; or why it is refused."""
    piece = scope["method"] == "PUT" and _PIECE.fullmatch(scope["path"]) is not None
    counted = scope["method"] == "POST" and scope["path"] in _COUNTED
    limit = PIECE_BYTES if piece else _COUNTED[scope["path"]] if counted else BODY_BYTES
    told = headers.get("content-length", "0")
    if not told.isascii() or not told.isdecimal():
        return (400, "The length of the request is no number; send it again."), receive
    if len(told) > 18 or int(told) > limit:
        return _too_long(limit), receive
    if counted:
        return None, _Counted(receive, limit)
    if piece or (told.strip("0") == "" and "transfer-encoding" not in headers):
        return None, receive  # and what has no body has nothing to read
    body = bytearray()
    while True:
        message = await receive()
        if message["type"] != "http.request":
            return (400, "The request broke off; send it again."), receive
        body += message.get("body", b"")
        if len(body) > limit:
            return _too_long(limit), receive
        if not message.get("more_body", False):
            return None, _replay(bytes(body), receive)


def _too_long(limit: int) -> tuple[int, str]:
    return 413, f"That is more than the {limit} bytes taken here; send less."


class _Counted:
    """A body on its way in: one that tells no length, or a wrong one, ends where it may go no further."""

    def __init__(self, receive: Receive, limit: int) -> None:
        self._receive = receive
        self.limit = limit
        self._count = 0
        self.over = False

    async def __call__(self) -> Message:
        message = await self._receive()
        self._count += len(message.get("body", b""))
        if self._count > self.limit:
            self.over = True
            return {"type": "http.disconnect"}
        return message


def _replay(body: bytes, receive: Receive) -> Receive:
    waiting = [body]

    async def replayed() -> Message:
        if waiting:
            return {"type": "http.request", "body": waiting.pop(), "more_body": False}
        return await receive()

    return replayed
