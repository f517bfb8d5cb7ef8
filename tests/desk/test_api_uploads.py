"""The routes of uploads behind the guard: in memory where that is enough, through a real server where bytes stream."""

from __future__ import annotations

import asyncio
import hashlib
import http.client
import json
import socket
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx2 as httpx
import pytest
import soundfile
import uvicorn
from fastapi import FastAPI
from starlette.middleware import Middleware

from discwright.desk import api_uploads, upload_pieces
from discwright.desk.api_uploads import router
from discwright.desk.guard import Guard, hosts_for
from discwright.desk.uploads import PIECE_BYTES, Uploads
from discwright.errors import CallError


@dataclass
class Desk:
    """The routes over a folder, with what was made of them."""

    folder: Path
    uploads: Uploads = field(init=False)
    app: FastAPI = field(init=False)
    port: int = 8333
    titles: list[tuple[str, list[str], str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.uploads = Uploads(self.folder / ".desk" / "uploads")
        self.app = FastAPI(middleware=[Middleware(Guard, hosts=hosts_for("127.0.0.1", self.port))])
        self.app.include_router(router(self.uploads, self.make_title))

    def make_title(self, name: str, files: tuple[Path, ...], format: str) -> str:
        if format != "12in-33":
            raise CallError(f"there is no format {format}; choose 12in-33.")
        place = self.folder / "new"
        place.mkdir()
        for file in files:
            file.rename(place / file.name)
        self.titles.append((name, [file.name for file in files], format))
        return "a1b2"

    def ask(self, method: str, path: str, **more: Any) -> httpx.Response:
        async def asked() -> httpx.Response:
            transport = httpx.ASGITransport(self.app)
            async with httpx.AsyncClient(transport=transport, base_url=f"http://127.0.0.1:{self.port}") as client:
                return await client.request(method, f"/api/uploads{path}", **more)

        return asyncio.run(asked())

    def begin(self, size: int, name: str = "side.wav") -> str:
        return str(self.ask("POST", "", json={"name": name, "size": size}).json()["upload"])

    def send(self, content: bytes, name: str = "side.wav") -> str:
        upload = self.begin(len(content), name)
        answer = self.ask("PUT", f"/{upload}?offset=0", content=content)
        assert answer.json() == {"offset": len(content)}
        return upload

    def finish(self, upload: str, content: bytes) -> httpx.Response:
        return self.ask("POST", f"/{upload}/finish", json={"sha256": hashlib.sha256(content).hexdigest()})


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path)


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Desk]:
    """The same behind a real server."""
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        desk = Desk(tmp_path, port=listening.getsockname()[1])
        server = uvicorn.Server(uvicorn.Config(desk.app, log_level="error", ws="none", lifespan="off"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        thread.start()
        try:
            wait_for(lambda: server.started)
            yield desk
        finally:
            server.should_exit = True
            thread.join()
            desk.uploads.close()


@pytest.fixture(scope="session")
def short(tmp_path_factory: pytest.TempPathFactory, side: Path) -> bytes:
    """Two seconds of the side as FLAC."""
    samples, rate = soundfile.read(side, frames=88_200)
    path = tmp_path_factory.mktemp("short") / "short.flac"
    soundfile.write(path, samples, rate)
    return path.read_bytes()


def wait_for(happened: Callable[[], bool]) -> None:
    for _ in range(2000):
        if happened():
            return
        time.sleep(0.01)
    raise AssertionError("it did not happen")


def sentence(answer: httpx.Response, status: int) -> str:
    """What a refusal says; it never repeats a path of this machine."""
    assert answer.status_code == status
    words = answer.json()["sentence"]
    assert words.endswith(".")
    assert "/tmp" not in words
    return str(words)


def test_the_whole_way_to_a_title(desk: Desk, short: bytes) -> None:
    begun = desk.ask("POST", "", json={"name": "..\\Side 1.FLAC", "size": len(short), "sha256": None})
    upload = begun.json()["upload"]
    assert begun.status_code == 201
    assert begun.json() == {"upload": upload, "name": "Side 1.FLAC", "offset": 0, "piece_bytes": 8_388_608}
    assert desk.ask("PUT", f"/{upload}?offset=0", content=short[:1000]).json() == {"offset": 1000}
    assert desk.ask("GET", f"/{upload}").json() == {
        "upload": upload, "name": "Side 1.FLAC", "size": len(short), "offset": 1000, "state": "arriving",
        "sha256": None, "words": "", "piece_bytes": 8_388_608,
    }  # fmt: skip
    assert desk.ask("PUT", f"/{upload}?offset=1000", content=short[1000:]).json() == {"offset": len(short)}
    done = desk.finish(upload, short).json()
    assert (done["state"], done["words"]) == ("ready", "FLAC, stereo, 44.1 kHz, 0:02.0")
    assert desk.ask("GET", "").json()["uploads"] == [done]
    made = desk.ask("POST", "/finish-title", json={"uploads": [upload], "name": " First ", "format": "12in-33"})
    assert (made.status_code, made.json()) == (201, {"title": "a1b2", "href": "/titles/a1b2"})
    assert desk.titles == [("First", ["Side 1.FLAC"], "12in-33")]
    assert (desk.folder / "new" / "Side 1.FLAC").read_bytes() == short
    assert desk.ask("GET", "").json()["uploads"] == []


def test_what_may_be_sent_is_told(desk: Desk) -> None:
    there = desk.ask("GET", "").json()
    assert there["limit_bytes"] == 8 << 30
    # Regression only: the shipped formats.
    assert there["formats"] == ["12in-33", "12in-45", "10in-33", "7in-45", "7in-33"]


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"", 422), (b"{", 422), (b"null", 422), (b"[]", 422), (b"\xc3(", 400), (b"[" * 5000, 400), (b"{}", 422),
        (b'{"name": "a.wav"}', 422), (b'{"name": 5, "size": 5}', 422), (b'{"name": "a.wav", "size": "5"}', 422),
        (b'{"name": "a.wav", "size": 5.0}', 422), (b'{"name": "a.wav", "size": true}', 422),
        (b'{"name": "a.wav", "size": NaN}', 422), (b'{"name": "a.wav", "size": 5, "path": "/etc"}', 422),
        (b'{"name": "a.wav", "size": -5}', 400), (b'{"name": "a.wav", "size": 0}', 400),
        (b'{"name": "a.wav", "size": 1e400}', 422), (b'{"name": "a.wav", "size": ' + b"9" * 4000 + b"}", 413),
        (b'{"name": "a.wav", "size": ' + b"9" * 5000 + b"}", 400), (b'{"name": "a.exe", "size": 5}', 415),
        (b'{"name": "\\ud800.exe", "size": 5}', 415), (b'{"name": "a.wav", "size": 5, "sha256": "x"}', 400),
        (b'{"name": "a.wav", "size": 5, "sha256": 5}', 422),
        (b'{"name": "' + b"a" * 70_000 + b'.wav", "size": 5}', 413),
    ],
)  # fmt: skip
def test_a_wrong_announcement_gets_a_sentence(desk: Desk, body: bytes, status: int) -> None:
    sentence(desk.ask("POST", "", content=body, headers={"Content-Type": "application/json"}), status)
    assert not desk.folder.joinpath(".desk").exists()


def test_a_form_is_no_announcement(desk: Desk) -> None:
    # What a page elsewhere could send without being asked.
    body = b'{"name": "a.wav", "size": 5}'
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"):
        sentence(desk.ask("POST", "", content=body, headers={"Content-Type": kind}), 422)


@pytest.mark.parametrize(
    ("query", "status"),
    [("", 422), ("?offset=", 422), ("?offset=-1", 422), ("?offset=x", 422), ("?offset=1.5", 422), ("?offset=1e3", 422),
     ("?offset=5", 409), ("?offset=9007199254740992", 409), ("?offset=9007199254740993", 422),
     ("?offset=" + "9" * 6000, 422), ("?offset=%00", 422)],
)  # fmt: skip
def test_a_wrong_offset_gets_a_sentence(desk: Desk, query: str, status: int) -> None:
    upload = desk.begin(100)
    answer = desk.ask("PUT", f"/{upload}{query}", content=b"x" * 10)
    sentence(answer, status)
    if status == 409:
        assert answer.json()["offset"] == 0
    assert desk.uploads.status(upload).offset == 0


@pytest.mark.parametrize("upload", ["0" * 32, "x", "..%2f..%2fetc", "%2e%2e", "finish-title", "%00", "a" * 3000])
def test_an_unknown_upload_gets_a_sentence(desk: Desk, upload: str) -> None:
    desk.begin(100)
    for method, path, more in (
        ("GET", f"/{upload}", {}),
        ("PUT", f"/{upload}?offset=0", {"content": b"x"}),
        ("POST", f"/{upload}/finish", {"json": {"sha256": "0" * 64}}),
        ("DELETE", f"/{upload}", {}),
    ):
        answer = desk.ask(method, path, **more)
        # An encoded slash makes another address, which the application answers.
        if "%2f" not in upload:
            sentence(answer, 404)
        assert answer.status_code in (404, 405)


def test_what_is_not_the_file_that_was_sent_is_refused(desk: Desk, side: Path, short: bytes) -> None:
    upload = desk.send(short)
    sentence(desk.ask("POST", f"/{upload}/finish", json={"sha256": "0" * 64}), 422)
    sentence(desk.ask("POST", f"/{upload}/finish", json={"sha256": "short"}), 400)
    sentence(desk.ask("POST", f"/{upload}/finish", json={}), 400)
    half = desk.begin(len(short))
    assert "are missing" in sentence(desk.finish(half, short), 409)


def test_what_does_not_sound_is_refused(desk: Desk, side: Path, short: bytes) -> None:
    wav = side.read_bytes()
    # By hand: 44 bytes of header and 25 s of 176 400 bytes; half of that is missing.
    for content, why in (
        (wav[: len(wav) // 2], "side.wav is 2205022 bytes shorter than its header says"),
        (short[: len(short) // 2], "side.wav cannot be decoded beyond"),
        (b"no sound", "side.wav is no audio file of a known kind"),
        (b"ID3" + bytes(100), "send the WAV or FLAC original"),
    ):
        upload = desk.send(content)
        assert why in sentence(desk.finish(upload, content), 422)
    assert [one.ready for one in desk.uploads.lying()] == [None] * 4


def test_an_upload_can_be_dropped(desk: Desk) -> None:
    upload = desk.begin(100)
    answer = desk.ask("DELETE", f"/{upload}")
    assert (answer.status_code, answer.content) == (204, b"")
    sentence(desk.ask("DELETE", f"/{upload}"), 404)


def test_a_title_of_something_else_is_refused(desk: Desk, short: bytes) -> None:
    upload = desk.send(short)
    whole = {"uploads": [upload], "name": "First", "format": "12in-33"}
    assert "wait until it is ready" in sentence(desk.ask("POST", "/finish-title", json=whole), 409)
    desk.finish(upload, short)
    for change, status in (
        ({"uploads": []}, 422), ({"uploads": [upload, upload]}, 422), ({"uploads": ["x"]}, 404),
        ({"uploads": "x"}, 422),
        ({"uploads": ["0" * 32] * 500}, 422), ({"name": " "}, 422), ({"name": "a\nb"}, 422), ({"name": "a" * 201}, 422),
        ({"name": "\ud800"}, 422), ({"name": None}, 422), ({"format": "8-track"}, 400), ({"format": 5}, 422),
        ({"more": 1}, 422),
    ):  # fmt: skip
        body = json.dumps({**whole, **change}).encode()
        answer = desk.ask("POST", "/finish-title", content=body, headers={"Content-Type": "application/json"})
        sentence(answer, status)
    assert desk.titles == []
    assert desk.uploads.status(upload).ready, "nothing is lost by a refusal"


def test_other_sites_send_nothing(desk: Desk) -> None:
    upload = desk.begin(100)
    evil = {"Origin": "http://evil.example"}
    for method, path in (
        ("POST", ""),
        ("PUT", f"/{upload}?offset=0"),
        ("POST", f"/{upload}/finish"),
        ("DELETE", f"/{upload}"),
    ):
        sentence(desk.ask(method, path, headers=evil), 403)
    assert desk.uploads.status(upload).offset == 0


def test_the_description_names_the_raw_body_and_every_refusal(desk: Desk) -> None:
    paths = desk.app.openapi()["paths"]
    put = paths["/api/uploads/{upload}"]["put"]
    assert list(put["requestBody"]["content"]) == ["application/octet-stream"]
    for path in paths.values():
        for method in path.values():
            assert {"400", "404", "409", "413", "415", "422", "429"} <= set(method["responses"])
            shape = method["responses"]["422"]["content"]["application/json"]["schema"]
            assert shape == {"$ref": "#/components/schemas/Trouble"}
    assert "multipart" not in json.dumps(paths)


def test_without_an_open_folder_there_is_a_sentence() -> None:
    class Closed:
        def __getattr__(self, name: str) -> object:
            raise CallError("no folder is open; open one.")

    app = FastAPI()
    app.include_router(router(Closed(), lambda *_: ""))  # type: ignore[arg-type]
    desk = Desk.__new__(Desk)
    desk.app, desk.port = app, 8333
    sentence(desk.ask("GET", ""), 400)
    sentence(desk.ask("PUT", f"/{'0' * 32}?offset=0", content=b"x"), 400)


# Through a real server -----------------------------------------------------------------------------------


def dial(desk: Desk) -> socket.socket:
    return socket.create_connection(("127.0.0.1", desk.port), timeout=20)


def head(desk: Desk, upload: str, offset: int, length: int) -> bytes:
    return (
        f"PUT /api/uploads/{upload}?offset={offset} HTTP/1.1\r\nHost: 127.0.0.1:{desk.port}\r\n"
        f"Content-Length: {length}\r\n\r\n"
    ).encode()


def test_a_whole_piece_streams_and_one_byte_more_does_not(served: Desk) -> None:
    upload = served.uploads.begin("side.wav", PIECE_BYTES * 2).id
    content = bytes(range(256)) * (PIECE_BYTES // 256)
    line = http.client.HTTPConnection("127.0.0.1", served.port)
    line.request("PUT", f"/api/uploads/{upload}?offset=0", body=content)
    assert json.loads(line.getresponse().read()) == {"offset": PIECE_BYTES}
    # Without a length, so that only counting helps.
    line.request("PUT", f"/api/uploads/{upload}?offset={PIECE_BYTES}", body=iter([content, b"x"]), encode_chunked=True)
    answer = line.getresponse()
    assert answer.status == 413
    assert json.loads(answer.read())["offset"] == 2 * PIECE_BYTES
    line.close()
    assert (served.uploads.place / upload / "part").read_bytes() == content * 2
    with dial(served) as line2:
        line2.sendall(head(served, upload, 0, PIECE_BYTES + 1))
        assert line2.recv(100).startswith(b"HTTP/1.1 413 "), "told before a byte of it was sent"


def test_a_connection_that_breaks_keeps_what_arrived(
    served: Desk, short: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Written at once, so that it shows from outside that it arrived.
    monkeypatch.setattr(upload_pieces, "_WRITE_BYTES", 1)
    upload = served.uploads.begin("side.wav", len(short)).id
    half = len(short) // 2
    with dial(served) as line:
        line.sendall(head(served, upload, 0, len(short)) + short[:half])
        wait_for(lambda: served.uploads.status(upload).offset == half)
        assert upload in served.uploads._busy
    wait_for(lambda: upload not in served.uploads._busy)
    answer = httpx.put(f"http://127.0.0.1:{served.port}/api/uploads/{upload}?offset={half}", content=short[half:])
    assert answer.json() == {"offset": len(short)}
    answer = httpx.post(
        f"http://127.0.0.1:{served.port}/api/uploads/{upload}/finish",
        json={"sha256": hashlib.sha256(short).hexdigest()},
    )
    assert answer.json()["state"] == "ready"


def test_a_second_page_is_told_to_wait_and_its_piece_is_read_away(served: Desk) -> None:
    upload = served.uploads.begin("side.wav", PIECE_BYTES).id
    with dial(served) as first:
        first.sendall(head(served, upload, 0, 1000) + b"x" * 500)
        wait_for(lambda: upload in served.uploads._busy)
        second = http.client.HTTPConnection("127.0.0.1", served.port)
        second.request("PUT", f"/api/uploads/{upload}?offset=0", body=b"y" * PIECE_BYTES)
        answer = second.getresponse()
        assert answer.status == 409
        assert json.loads(answer.read())["busy"] is True
        second.request("GET", f"/api/uploads/{upload}")
        assert second.getresponse().read(), "the connection still works"
        second.close()
        first.sendall(b"x" * 500)
        assert first.recv(100).startswith(b"HTTP/1.1 200 ")


def test_one_who_stands_still_does_not_keep_others_away(served: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(upload_pieces, "STALL_S", 0.2)
    monkeypatch.setattr(api_uploads, "STALL_S", 0.2)
    upload = served.uploads.begin("side.wav", 1000).id
    with dial(served) as still:
        still.sendall(head(served, upload, 0, 1000) + b"x" * 500)
        assert still.recv(100).startswith(b"HTTP/1.1 408 ")
        answer = httpx.put(f"http://127.0.0.1:{served.port}/api/uploads/{upload}?offset=500", content=b"x" * 500)
        assert answer.json() == {"offset": 1000}
