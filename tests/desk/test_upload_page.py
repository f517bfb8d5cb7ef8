"""The upload part of the titles page in a real browser, over the real routes and a page of its own."""

from __future__ import annotations

import contextlib
import hashlib
import socket
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from fastapi import FastAPI
from fastapi.responses import HTMLResponse
from fastapi.staticfiles import StaticFiles
from playwright.sync_api import Browser, ConsoleMessage, Error, Page, Route, TimeoutError, expect, sync_playwright
from starlette.middleware import Middleware

from discwright.acts.new_title import AUDIO_ENDS
from discwright.desk import api_uploads, guard, uploads
from discwright.desk.api_uploads import router
from discwright.desk.app import STATIC
from discwright.desk.guard import Guard, hosts_for
from discwright.desk.page_parts import Frame
from discwright.desk.rendering import environment
from discwright.desk.uploads import Uploads
from discwright.errors import CallError

pytestmark = pytest.mark.slow

PIECES = "**/api/uploads/*?offset=*"
PAGE = """{% extends "base.html" %}{% block main %}<h1>Titles</h1><h2>Add audio</h2>{% include "upload_part.html" %}
{% endblock %}{% block scripts %}<script type="module" src="/static/upload.js"></script>{% endblock %}"""


@dataclass
class Desk:
    """A page with nothing but the upload part, and what was made of it."""

    folder: Path
    port: int
    uploads: Uploads = field(init=False)
    titles: list[tuple[str, list[str], str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.uploads = Uploads(self.folder / "uploads")

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def app(self) -> FastAPI:
        app = FastAPI(middleware=[Middleware(Guard, hosts=hosts_for("127.0.0.1", self.port))])
        app.include_router(router(self.uploads, self.make_title))
        app.mount("/static", StaticFiles(directory=STATIC))
        app.add_api_route("/", self.page, response_class=HTMLResponse)
        app.add_api_route("/titles/{title}", lambda title: HTMLResponse("<title>made</title>"))
        return app

    def page(self) -> HTMLResponse:
        frame = Frame(folder="a", units="metric", look="light", version="0", here="/", network=False)
        page = environment().from_string(PAGE)
        return HTMLResponse(page.render(frame=frame, uploads=self.uploads.half(), accept=",".join(AUDIO_ENDS)))

    def make_title(self, name: str, files: tuple[Path, ...], format: str) -> str:
        if name == "Taken":
            raise CallError("Taken is taken; choose another name.")
        place = self.folder / "made"
        place.mkdir()
        for file in files:
            file.rename(place / file.name)
        self.titles.append((name, [file.name for file in files], format))
        return "a1b2"


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Desk]:
    # Small pieces, so that a short file has several.
    for module in (uploads, api_uploads, guard):
        monkeypatch.setattr(module, "PIECE_BYTES", 1 << 20)
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        desk = Desk(tmp_path, listening.getsockname()[1])
        server = uvicorn.Server(
            uvicorn.Config(desk.app(), log_level="error", ws="none", lifespan="off", timeout_graceful_shutdown=1)
        )
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        thread.start()
        try:
            while not server.started:
                time.sleep(0.01)
            yield desk
        finally:
            server.should_exit = True
            thread.join()
            desk.uploads.close()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture
def page(browser: Browser, desk: Desk) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1024, "height": 768})
    page = context.new_page()
    page.goto(desk.address)
    yield page
    context.close()


def choose(page: Page, *files: Path) -> None:
    page.locator("#upload-files-input").set_input_files(files)


def row(page: Page, name: str, state: str) -> None:
    """Wait until a file's line is in a state."""
    expect(page.locator("#upload-list > li", has_text=name)).to_have_attribute("data-state", state, timeout=30_000)


def press(page: Page, words: str, name: str) -> None:
    page.get_by_role("button", name=f"{words}: {name}", exact=True).click()


class Gate:
    """Lets so many pieces pass, and then does something else with the next ones."""

    def __init__(self, page: Page, passing: int, then: Callable[[Route], None] | None = None) -> None:
        self.offsets: list[int] = []
        self.hanging: list[Route] = []
        self.passing = passing
        self.then = then or self.hanging.append
        self.page = page
        page.route(PIECES, self.piece)

    def piece(self, route: Route) -> None:
        self.offsets.append(int(route.request.url.split("offset=")[1]))
        if self.passing > 0:
            self.passing -= 1
            route.continue_()
        else:
            self.then(route)

    def wait(self) -> None:
        """Until a piece hangs."""
        while not self.hanging:
            self.page.wait_for_timeout(20)

    def let_go(self) -> None:
        """Forget the pieces that hang, whose page has given them up, and let all others pass."""
        for route in self.hanging:
            with contextlib.suppress(Error):
                route.abort()
        self.offsets.clear()
        self.passing = 99


def test_a_reload_in_the_middle_loses_nothing(desk: Desk, page: Page, side: Path, tmp_path: Path) -> None:
    said: list[ConsoleMessage] = []
    page.on("console", lambda message: said.append(message))
    gate = Gate(page, 2)  # the third piece hangs
    choose(page, side)
    row(page, "side.wav", "sending")
    gate.wait()
    expect(page.locator("#upload-list .job-said")).to_contain_text("47 %")
    assert gate.offsets == [0, 1 << 20, 2 << 20]
    page.reload()
    # By hand: 2 of 4.2 MiB.
    expect(page.locator("#upload-list > li")).to_contain_text("half sent2 MB of 4 MB")
    gate.let_go()
    choose(page, side)
    row(page, "side.wav", "ready")
    assert gate.offsets == [2 << 20, 3 << 20, 4 << 20], "what was there is not sent again"
    expect(page.locator("#upload-list > li")).to_contain_text("WAV, stereo, 44.1 kHz, 0:25.0")
    (upload,) = desk.uploads.lying()
    # By another road: the hash that the browser computed piece by piece.
    assert upload.sha256 == hashlib.sha256(side.read_bytes()).hexdigest()
    page.get_by_label("Name of the title").fill("First")
    page.get_by_label("Format of its first edition").select_option("7in-45")
    page.get_by_role("button", name="Make the title").click()
    page.wait_for_url("**/titles/a1b2")
    assert desk.titles == [("First", ["side.wav"], "7in-45")]
    assert (tmp_path / "made" / "side.wav").read_bytes() == side.read_bytes()
    assert [message.text for message in said if message.type in ("error", "warning")] == []


def test_a_network_fault_is_waited_out(desk: Desk, page: Page, side: Path) -> None:
    faults = 0

    def fault(route: Route) -> None:
        nonlocal faults
        faults += 1
        if faults == 2:
            gate.passing = 99
        route.abort("connectionreset")

    gate = Gate(page, 1, fault)
    choose(page, side)
    row(page, "side.wav", "retrying")
    expect(page.locator("#upload-list > li")).to_contain_text("The desk does not answer; nothing is lost")
    row(page, "side.wav", "ready")
    assert gate.offsets == [0, *[1 << 20] * 3, 2 << 20, 3 << 20, 4 << 20]


def opens(page: Page, key: str) -> None:
    """A key opens the chooser of files; on a busy machine the browser may pass over one that follows another."""
    for _ in range(5):
        try:
            with page.expect_file_chooser(timeout=4000):
                page.keyboard.press(key)
        except TimeoutError:
            continue
        return
    pytest.fail(f"“{key}” opens no chooser of files")


def test_a_pause_and_going_on_by_keys_alone(desk: Desk, page: Page, side: Path) -> None:
    gate = Gate(page, 1)
    choose(page, side)
    gate.wait()
    page.keyboard.press("p")
    row(page, "side.wav", "paused")
    assert desk.uploads.lying()[0].offset == 1 << 20
    gate.let_go()
    page.get_by_role("button", name="Go on: side.wav", exact=True).press("Enter")
    row(page, "side.wav", "ready")
    opens(page, "u")
    opens(page, "f")
    hint = page.locator("#upload-files").get_attribute("title")
    assert hint == "Choose files (key u)"
    # The title too: name, format, Enter.
    page.get_by_label("Name of the title").press_sequentially("up")
    page.get_by_label("Name of the title").press("Enter")
    page.wait_for_url("**/titles/a1b2")
    assert desk.titles == [("up", ["side.wav"], "12in-33")], "letters typed into a field are no keys"


def test_a_refusal_stands_beside_its_file(desk: Desk, page: Page, side: Path, tmp_path: Path) -> None:
    files = {"empty.wav": b"", "text.wav": b"no sound", "notes.txt": b"notes", "half.wav": side.read_bytes()[:100_000]}
    for name, content in files.items():
        (tmp_path / name).write_bytes(content)
        choose(page, tmp_path / name)
        row(page, name, "refused")
    expected = {
        "empty.wav": "An empty file holds no sound; choose another.",
        "text.wav": "text.wav is no audio file of a known kind; send WAV, RF64, BW64, AIFF, FLAC or Ogg.",
        "notes.txt": "Only audio can be sent here; choose a file that ends in .wav",
        "half.wav": "half.wav is 4310044 bytes shorter than its header says, 0:00.6 of 0:25.0; send the whole file",
    }
    for name, sentence in expected.items():
        expect(page.locator("#upload-list > li", has_text=name).first).to_contain_text(f"refused{sentence}")
    expect(page.locator("#said")).to_contain_text("half.wav: refused. half.wav is 4310044 bytes shorter")
    expect(page.locator("#upload-title")).to_be_hidden()
    press(page, "Remove", "text.wav")
    expect(page.locator("#upload-list > li")).to_have_count(3)
    assert [one.name for one in desk.uploads.lying()] == ["half.wav"]
    # Mended on the disk and chosen again, it takes the place of the bad one.
    (tmp_path / "half.wav").write_bytes(side.read_bytes())
    choose(page, tmp_path / "half.wav")
    row(page, "half.wav", "ready")
    assert [one.state for one in desk.uploads.lying()] == ["ready"]


def test_a_folder_and_the_order_of_its_bands(desk: Desk, page: Page, side: Path, tmp_path: Path) -> None:
    folder = tmp_path / "Long Night"
    (folder / "more").mkdir(parents=True)
    whole = side.read_bytes()
    for name in ("10 last.wav", "2 second.wav", "more/1 first.wav", "cover.txt"):
        (folder / name).write_bytes(whole)
    page.locator("#upload-folder-input").set_input_files(folder)
    expect(page.locator("#upload-list > li[data-state=ready]")).to_have_count(3, timeout=30_000)
    expect(page.get_by_label("Name of the title")).to_have_value("Long Night")
    page.get_by_label("Name of the title").fill("Taken")
    page.get_by_role("button", name="Make the title").click()
    expect(page.locator("#upload-title-said")).to_have_text("Taken is taken; choose another name.")
    assert desk.titles == []
    page.get_by_label("Name of the title").fill("Long Night")
    page.get_by_role("button", name="Make the title").click()
    page.wait_for_url("**/titles/a1b2")
    assert desk.titles == [("Long Night", ["1 first.wav", "2 second.wav", "10 last.wav"], "12in-33")]


def test_what_another_visit_left_is_shown_and_can_go_on(desk: Desk, page: Page, side: Path, tmp_path: Path) -> None:
    whole = side.read_bytes()
    half = desk.uploads.begin("side.wav", len(whole)).id
    (desk.uploads.place / half / "part").write_bytes(whole[:1_000_000])
    page.reload()
    (tmp_path / "other.wav").write_bytes(whole[:50_000])
    with page.expect_file_chooser() as chooser:
        press(page, "Choose it again", "side.wav")
    assert not chooser.value.is_multiple()
    chooser.value.set_files(tmp_path / "other.wav")
    expect(page.locator("#upload-list > li")).to_contain_text("other.wav has another length than side.wav")
    with page.expect_file_chooser() as chooser:
        press(page, "Choose it again", "side.wav")
    chooser.value.set_files(side)
    row(page, "side.wav", "ready")
    assert [one.id for one in desk.uploads.lying()] == [half]
    page.reload()
    row(page, "side.wav", "ready")
    expect(page.locator("#upload-title")).to_be_visible()
    page.get_by_label("In the title: side.wav").uncheck()
    expect(page.get_by_role("button", name="Make the title")).to_be_disabled()
    press(page, "Remove", "side.wav")
    expect(page.locator("#upload-list > li")).to_have_count(0)
    expect(page.locator("#upload-files")).to_be_focused()
    assert desk.uploads.lying() == ()


def test_dropped_files_are_taken(page: Page, side: Path) -> None:
    # What desk.js tells of dropped files.
    taken = page.evaluate(
        """async () => {
          const files = [new File(["x"], "a.wav"), new File(["x"], "b.txt")];
          return document.dispatchEvent(new CustomEvent("desk:files", { detail: { files }, cancelable: true }));
        }"""
    )
    assert taken is False
    row(page, "a.wav", "refused")
    expect(page.locator("#upload-list > li")).to_have_count(1)


@pytest.mark.parametrize("look", ["light", "dark"])
def test_nothing_serious_stands_in_the_way_of_anybody(
    desk: Desk, page: Page, side: Path, tmp_path: Path, look: str
) -> None:
    desk.uploads.begin("half.wav", 100)
    page.emulate_media(color_scheme=look, reduced_motion="reduce")  # type: ignore[arg-type]
    page.reload()
    page.locator("html").evaluate("(html, look) => (html.dataset.look = look)", look)
    (tmp_path / "text.wav").write_bytes(b"no sound")
    choose(page, tmp_path / "text.wav")
    row(page, "text.wav", "refused")
    choose(page, side)
    row(page, "side.wav", "ready")
    found = Axe().run(page)
    serious = [one for one in found.response["violations"] if one["impact"] in ("serious", "critical")]
    assert [(one["id"], [node["target"] for node in one["nodes"]]) for one in serious] == []
