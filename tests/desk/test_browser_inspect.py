"""A test play in a real browser: a capture is dropped, inspected, looked at, heard, kept and judged; then several."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Browser, ConsoleMessage, Page, expect

from discwright.acts.look import read_prepared
from discwright.desk.shelf import Shelf

pytestmark = pytest.mark.slow

PICTURES = Path(__file__).parents[2] / ".screenshots"
SIZES = {"tablet": (1024, 768), "screen": (1920, 1080)}
#: Ticks of the capture: when, s, and on which side.
TICKS = ((3.1, 0), (6.0, 1), (17.5, 0))
#: Switches to a version; whether the clip's place went on by the time that took, and nothing else.
SWITCH = """version => new Promise(done => {
    const box = document.querySelector("#hear"), began = performance.now();
    const before = Number(box.dataset.positionS);
    document.querySelector(`[data-version-choice=${version}]`).click();
    requestAnimationFrame(() => requestAnimationFrame(() =>
        done([before, Number(box.dataset.positionS), (performance.now() - began) / 1000])));
})"""


class Desk:
    """A desk over a family, a capture beside it, and two plays of the stamper that were kept."""

    def __init__(self, address: str, capture: Path, mother: str, play: str, lines: list[int]) -> None:
        self.address, self.capture, self.mother, self.play, self.lines = address, capture, mother, play, lines


@pytest.fixture
def desk(
    metal: Any, folder: Path, tmp_path: Path, make_play: Any, reported: Any, faulty: Any,
    serve: Callable[..., AbstractContextManager[str]],
) -> Iterator[Desk]:  # fmt: skip
    _, _, mother, stamper = metal.family()
    place = metal.client.app.state.desk.folder.plays.place
    print_ = metal.client.get("/api/plans/weather-ship~lp-A").json()["fingerprint"]
    lines = []
    for turn, other in ((3.25, 9.5), (3.2505, 10.7)):
        told = reported([faulty("tick", turn), faulty("pop", other), faulty("swish", 11.0, audible=False)])
        play = make_play(place, told, stamper, fingerprint=print_)
        metal.client.post(f"/plays/{play}/keep", data={"key": f"k{other}"})
        lines.append(metal.client.app.state.desk.folder.plays.get(play).kept)
    loose = make_play(place, reported(), mother, fingerprint=print_)
    metal.client.app.state.desk.close()
    with serve(folder, tmp_path / "served") as address:
        yield Desk(address, captured(folder, tmp_path), mother, loose, lines)


def captured(folder: Path, place: Path) -> Path:
    """The side as it was played: quieter, with noise and some ticks."""
    shelf = Shelf(folder)
    plan = shelf.plan("weather-ship~lp-A")
    prepared = read_prepared(shelf.cache(plan))
    assert prepared is not None
    rate = int(plan.document["programme"]["sample_rate_hz"])
    quiet = np.zeros((rate, 2))
    played = np.concatenate([quiet, 0.5 * np.asarray(prepared.programme, dtype=np.float64), quiet])
    played += np.random.default_rng(7).normal(0.0, 2e-4, played.shape)
    for at, channel in TICKS:
        first = round((1.0 + at) * rate)
        played[first : first + 16, channel] += 0.35 * np.hanning(16)
    soundfile.write(place / "a side.wav", played, rate, subtype="PCM_24")
    return place / "a side.wav"


class opened:
    """A page of its own, and what its console had to say."""

    def __init__(self, browser: Browser, address: str, size: str = "screen", look: str = "light") -> None:
        width, height = SIZES[size]
        self.context = browser.new_context(
            viewport={"width": width, "height": height}, color_scheme="dark" if look == "dark" else "light",
            reduced_motion="reduce",
        )  # fmt: skip
        self.context.set_default_timeout(20_000)
        self.context.add_cookies([{"name": "operator", "value": "Ada", "url": address}])
        self.said: list[str] = []

    def __enter__(self) -> tuple[Page, list[str]]:
        page = self.context.new_page()
        page.on("pageerror", lambda error: self.said.append(str(error)))
        page.on("console", self._hear)
        return page, self.said

    def _hear(self, one: ConsoleMessage) -> None:
        # That a face was loaded early and shown late is no fault.
        if one.type in ("error", "warning") and "was preloaded" not in one.text:
            self.said.append(one.text)

    def __exit__(self, *_: object) -> None:
        self.context.close()


def drop(page: Page, file: Path) -> None:
    """Let go of a file over the page, as somebody does who drags it there."""
    session = page.context.new_cdp_session(page)
    box = page.locator("#play-drop").bounding_box()
    assert box is not None
    data = {"items": [], "files": [str(file)], "dragOperationsMask": 1}
    for kind in ("dragEnter", "dragOver", "drop"):
        at = {"x": box["x"] + 20, "y": box["y"] + 20}
        session.send("Input.dispatchDragEvent", {"type": kind, "data": data} | at)


def shown(page: Page) -> int:
    return page.locator("#fault-table tr.fault:visible").count()


def test_a_capture_is_dropped_inspected_heard_kept_and_judged(browser: Browser, desk: Desk) -> None:
    with opened(browser, desk.address) as (page, said):
        page.goto(f"{desk.address}/works/parts/{desk.mother}")
        page.locator("#play-tip").select_option("none")
        page.locator("#play-drop").scroll_into_view_if_needed()
        drop(page, desk.capture)
        job = page.locator("#jobs .job").first
        expect(job).to_contain_text(f"play {desk.mother} against the programme")
        expect(job).to_have_attribute("data-state", "done", timeout=120_000)
        expect(page.locator("#play-sending")).to_be_hidden()
        job.get_by_role("link", name=re.compile("Look at it")).click()
        expect(page.locator("#bench")).to_have_attribute("data-ready", "yes")
        rows = page.locator("#fault-table tr.fault")
        for at, channel in TICKS:
            near = page.locator(f"#fault-table tr.fault[data-at-s^='{at}']").first
            expect(near).to_contain_text("tick")
            expect(near).to_contain_text(("left", "right")[channel])
        look_through(page, rows.count())
        hear(page)
        page.get_by_role("button", name="Keep this play").click()
        expect(page.locator(".side-head")).to_contain_text("Kept as line")
        page.locator("#reason-refuse").fill("ticks to be heard on every side")
        page.get_by_role("button", name=f"Refuse {desk.mother}").click()
        expect(page.get_by_role("button", name=f"Refuse {desk.mother}")).to_have_count(0)
        page.goto(f"{desk.address}/works/parts/{desk.mother}")
        expect(page.locator("#life")).to_contain_text("ticks to be heard on every side")
        assert said == []


def look_through(page: Page, every: int) -> None:
    """Marks, filter and keys of a play's page."""
    assert page.locator("#map-picture .face-mark").count() == every
    page.keyboard.press("n")
    first = page.locator("#fault-table tr.fault[aria-current]")
    expect(first).to_have_count(1)
    expect(page.locator(".face-mark.current")).to_have_count(1)
    number = first.get_attribute("data-number")
    page.keyboard.press("n")
    expect(first).not_to_have_attribute("data-number", number or "")
    page.keyboard.press("Shift+N")
    expect(first).to_have_attribute("data-number", number or "")
    legend = page.locator("#fault-legend input[value=tick]")
    ticks = page.locator("#fault-table tr.fault[data-kind=tick]").count()
    legend.uncheck()
    assert shown(page) == every - ticks
    legend.check()
    page.locator("#only-heard").check()
    assert shown(page) == page.locator("#fault-table tr.fault[data-heard=yes]").count()
    page.locator("#only-heard").uncheck()
    page.locator("#least-db").select_option("20")
    expect(page.locator("#fault-count")).to_have_text(f"{shown(page)} of {every} shown")
    page.locator("#least-db").select_option("-999")
    assert shown(page) == every
    for act in ("zoom-in", "zoom-out", "whole", "next", "before"):
        page.locator(f"[data-act={act}]").click()
    page.locator("[data-act=marks]").click()
    expect(page.locator(".face-marks")).to_be_hidden()
    page.locator("[data-act=marks]").click()
    # A mark on the disc chooses its row.
    mark = page.locator(".face-mark:not(.current)").first
    wanted = mark.get_attribute("data-number")
    mark.dispatch_event("click")
    expect(first).to_have_attribute("data-number", wanted or "")


def hear(page: Page) -> None:
    """One fault in its three versions, switched without losing the place."""
    box = page.locator("#hear")
    page.locator("#hear-loop").click()
    page.locator("#fault-table .fault-go").first.click()
    expect(box).to_have_attribute("data-state", "playing")
    start = box.get_attribute("data-start-s")
    for version in ("programme", "difference", "capture"):
        before, after, took = page.evaluate(SWITCH, version)
        expect(box).to_have_attribute("data-version", version)
        assert (after - before) % 2.5 == pytest.approx(took, abs=0.25)
        assert box.get_attribute("data-start-s") == start
    page.locator("#hear-next").click()
    expect(box).not_to_have_attribute("data-start-s", start or "")
    expect(box).to_have_attribute("data-state", "playing")
    page.locator("#hear-before").click()
    expect(box).to_have_attribute("data-start-s", start or "")
    page.locator("#hear-stop").click()
    expect(box).to_have_attribute("data-state", "stopped")
    page.keyboard.press("p")
    expect(box).to_have_attribute("data-state", "playing")
    page.keyboard.press("1")
    expect(box).to_have_attribute("data-version", "programme")
    page.keyboard.press("p")
    expect(box).to_have_attribute("data-state", "stopped")
    expect(page.locator("#hear-said")).to_contain_text("Capture raised by 6.0 dB")


def test_plays_over_one_another_and_every_page_in_both_looks(browser: Browser, desk: Desk) -> None:
    with opened(browser, desk.address, "tablet") as (page, said):
        page.goto(f"{desk.address}/plays/{desk.play}")
        for line in desk.lines:
            page.locator(f"#over-{line}").check()
        page.keyboard.press("v")
        expect(page.locator("#bench")).to_have_attribute("data-ready", "yes")
        expect(page.locator(".counts")).to_contain_text("2 in every play")
        # The tick and the swish are of both plays, the pops of one each: six marks, in two shapes.
        assert page.locator("#map-picture .face-mark").count() == 6
        page.locator("#only-shared").check()
        expect(page.locator("#fault-count")).to_have_text("2 of 4 shown")
        page.locator("[data-play-shape=play-1]").uncheck()
        assert page.locator("#map-picture .face-mark:visible").count() == 2
        page.keyboard.press("n")
        expect(page.locator("#fault-table tr[aria-current]")).to_have_count(1)
        over = page.url
        assert said == []
    paths = {"play": f"{desk.address}/plays/{desk.play}", "play-over": over}
    for size, look in (("tablet", "light"), ("screen", "dark")):
        looked_at(browser, desk, paths, size, look)


def looked_at(browser: Browser, desk: Desk, paths: dict[str, str], size: str, look: str) -> None:
    """Each page photographed, held against what everybody must be able to use, and never wider than its window."""
    PICTURES.mkdir(exist_ok=True)
    with opened(browser, desk.address, size, look) as (page, said):
        for name, path in paths.items():
            page.goto(path)
            page.wait_for_load_state("networkidle")
            page.screenshot(path=PICTURES / f"{name}-{size}-{look}.png", full_page=True)
            found = Axe().run(page).response["violations"]
            wrong = [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found if one["impact"] != "minor"]
            assert wrong == [], (name, size)
            assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth"), name
        assert said == []


def test_a_photograph_of_a_cut_is_dropped_and_the_correction_told(
    browser: Browser, desk: Desk, tmp_path: Path
) -> None:  # fmt: skip
    # Grooves of 52 µm, 120 µm apart, at half a micrometre a pixel.
    across = (np.arange(1400) + 0.5) * 0.5
    line = np.where(np.abs((across - 40.0) % 120.0 - 60.0) < 26.0, 60, 190)
    Image.fromarray(np.tile(line.astype(np.uint8), (500, 1))).save(tmp_path / "cut.png")
    with opened(browser, desk.address, "tablet") as (page, said):
        page.goto(f"{desk.address}/microscope")
        page.locator("#wanted_um").fill("56")
        page.locator("#micro-file").set_input_files(tmp_path / "cut.png")  # the scale is missing still
        page.locator("#um_per_pixel").fill("0,5")
        page.locator("#micro-again").click()
        expect(page.locator("#correction")).to_have_text("Lower the tip by 2.0 µm.", timeout=30_000)
        expect(page.locator(".micrograph")).to_be_visible()
        page.locator("#wanted_um").fill("50")
        page.get_by_role("button", name="Measure this one once more").click()
        expect(page.locator("#correction")).to_have_text("Raise the tip by 1.0 µm.", timeout=30_000)
        place = page.url
        assert said == []
    for size, look in (("tablet", "light"), ("screen", "dark")):
        looked_at(browser, desk, {"microscope": place}, size, look)


def test_what_the_desk_refuses_stands_on_the_page(browser: Browser, desk: Desk, tmp_path: Path) -> None:
    (tmp_path / "note.wav").write_bytes(b"no sound at all")
    with opened(browser, desk.address, "tablet") as (page, _):
        page.goto(f"{desk.address}/works/parts/{desk.mother}")
        page.locator("#play-file").set_input_files(tmp_path / "note.wav")
        sending = page.locator("#play-sending")
        expect(sending).to_contain_text("refused")
        expect(sending).to_contain_text("note.wav")
        page.locator("#play-remove").click()
        expect(sending).to_be_hidden()
        page.goto(f"{desk.address}/plays/{desk.play}")
        page.get_by_role("button", name="Drop this play").click()
        expect(page.locator("h1")).to_have_text(desk.mother)
