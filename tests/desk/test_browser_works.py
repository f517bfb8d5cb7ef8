"""The ledger in a real browser: the whole way by keyboard, presses while the desk is gone, a photograph of a code."""

from __future__ import annotations

import io
import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from discwright.files.part_label import PartLabel, label_pdf

pytestmark = pytest.mark.slow

PICTURES = Path(__file__).parents[2] / ".screenshots"
SIZES = {"tablet": (1024, 768), "screen": (1920, 1080)}
#: A family is grown once, by keyboard, and then looked at.
FAMILY = "/works/titles/OKW%200042"
_MOST_TABS = 120
#: Name of what has the focus, as far as these pages name things.
FOCUSED = """() => {
  const one = document.activeElement;
  return (one.getAttribute("aria-label") || one.labels?.[0]?.textContent || one.textContent || "").trim();
}"""
#: What a glove can hardly hit.
LOW = """all => all.filter((one) => one.getClientRects().length && one.getBoundingClientRect().height < 63.5)
  .map((one) => one.outerHTML)"""


@pytest.fixture(scope="module")
def desk(
    planned_folder: Path, tmp_path_factory: pytest.TempPathFactory,
    serve: Callable[[Path, Path], AbstractContextManager[str]],
) -> Iterator[str]:  # fmt: skip
    """Address of a desk over a folder without a ledger."""
    place = tmp_path_factory.mktemp("metal")
    shutil.copytree(planned_folder, place / "works")
    with serve(place / "works", place / "state") as address:
        yield address


@pytest.fixture(scope="module")
def grown(browser: Browser, desk: str) -> dict[str, str]:
    """Numbers of a family that was entered by keyboard alone, from taking in to taken off."""
    with opened(browser, desk) as (page, said):
        numbers = whole_way(page, desk)
        assert said == []
    return numbers


class opened:
    """A page of its own, and what its console had to say."""

    def __init__(self, browser: Browser, address: str, size: str = "tablet", look: str = "light") -> None:
        width, height = SIZES[size]
        self.context = browser.new_context(
            viewport={"width": width, "height": height}, color_scheme="dark" if look == "dark" else "light",
            has_touch=size == "tablet", reduced_motion="reduce",
        )  # fmt: skip
        self.context.add_cookies([{"name": "operator", "value": "Ada", "url": address}])
        self.said: list[str] = []

    def __enter__(self) -> tuple[Page, list[str]]:
        page = self.context.new_page()
        page.on("pageerror", lambda error: self.said.append(str(error)))
        page.on("console", lambda one: self.said.append(one.text) if one.type in ("error", "warning") else None)
        return page, self.said

    def __exit__(self, *_: object) -> None:
        self.context.close()


def tab_to(page: Page, words: str) -> None:
    """Go on with Tab until something of that name has the focus."""
    for _ in range(_MOST_TABS):
        page.keyboard.press("Tab")
        name = page.evaluate(FOCUSED)
        if name == words:
            return
    pytest.fail(f"Tab never came to “{words}”")


def press_by_key(page: Page, words: str) -> None:
    tab_to(page, words)
    page.keyboard.press("Enter")


def scan(page: Page, number: str) -> None:
    """As a scanner does it: the field has the focus already."""
    expect(page.locator("#code")).to_be_focused()
    page.keyboard.type(f"{number}\n")
    expect(page.locator("[data-part]")).to_have_attribute("data-part", number)


def step(page: Page, words: str) -> None:
    """Press a step and wait for the line that says so."""
    before = page.locator(".done-line").inner_text() if page.locator(".done-line").count() else ""
    press_by_key(page, words)
    expect(page.locator(".done-line")).not_to_have_text(before)
    expect(page.locator("#code")).to_be_focused()


def grow(page: Page, words: str) -> str:
    step(page, words)
    number = page.locator(".grown-number").inner_text().strip()
    expect(page.locator(".grown img")).to_be_visible()
    return number


def whole_way(page: Page, desk: str) -> dict[str, str]:
    """A title from being taken in to a stamper that is taken off the press; nothing but keys."""
    page.goto(f"{desk}/works")
    press_by_key(page, "Begin a ledger in this folder")
    expect(page.locator("h1")).to_have_text("Works")
    press_by_key(page, "Take in Notes from a Weather Ship")
    expect(page.locator("h1")).to_have_text("Notes from a Weather Ship")
    press_by_key(page, "Side A of lp")
    tab_to(page, "Batch of the lacquer")
    page.keyboard.type("B-77")
    press_by_key(page, "The lacquer of side A of lp was cut")
    expect(page.locator("h1")).to_have_text(re.compile(r"LA1-\d"))
    lacquer = page.locator("h1").inner_text()
    press_by_key(page, "Take it to the station")
    expect(page.locator("#code")).to_be_focused()
    for words in ("Checked under the microscope", "Silvered"):
        step(page, words)
    master = grow(page, "Grow a master")
    scan(page, master)
    for words in ("Separated", "Passivated"):
        step(page, words)
    mother = grow(page, "Grow a mother")
    scan(page, mother)
    step(page, "Separated")
    press_by_key(page, "Test played …")
    expect(page.locator("#say-count")).to_be_focused()
    page.keyboard.type("0\n")
    expect(page.locator(".done-line")).to_contain_text("test played, 0 faults")
    for words in ("Approved", "Passivated"):
        step(page, words)
    stamper = grow(page, "Grow a stamper")
    scan(page, stamper)
    for words in ("Separated", "Back sanded", "Centred", "Trimmed", "Formed", "Put to press"):
        step(page, words)
    press_by_key(page, "Taken off, with its count …")
    expect(page.locator("#say-count")).to_be_focused()
    page.keyboard.type("640\n")
    expect(page.locator(".done-line")).to_contain_text(f"{stamper} taken off, 640 pressings")
    return {"lacquer": lacquer, "master": master, "mother": mother, "stamper": stamper}


def kinds_of(page: Page, desk: str, part: str) -> list[str]:
    told: dict[str, Any] = page.request.get(f"{desk}/api/works/parts/{part}").json()
    return [one["kind"] for one in told["events"]]


def test_the_whole_way_by_keyboard(browser: Browser, desk: str, grown: dict[str, str]) -> None:
    with opened(browser, desk) as (page, _):
        page.goto(desk + FAMILY)
        tab_to(page, page.locator(".tree-card").last.get_attribute("aria-label") or "")
        page.keyboard.press("Enter")
        expect(page.locator("h1")).to_have_text(grown["stamper"])
        assert kinds_of(page, desk, grown["stamper"])[-2:] == ["put_to_press", "taken_off"]


def test_a_double_tap_is_one_line_and_undo_takes_it_back(browser: Browser, desk: str, grown: dict[str, str]) -> None:
    with opened(browser, desk) as (page, said):
        page.goto(f"{desk}/station")
        scan(page, grown["mother"])
        page.get_by_role("button", name="Passivated", exact=True).dblclick()
        expect(page.locator(".done-line")).to_contain_text("passivated")
        assert kinds_of(page, desk, grown["mother"]).count("passivated") == 2  # once before, once now
        press_by_key(page, f"Undo: Done: {grown['mother']} passivated.")
        expect(page.locator(".done-line")).to_contain_text("Undone: line")
        assert kinds_of(page, desk, grown["mother"])[-1] == "corrected"
        assert said == []


def test_a_press_while_the_desk_is_gone_is_sent_once(browser: Browser, desk: str, grown: dict[str, str]) -> None:
    master = grown["master"]
    with opened(browser, desk) as (page, _):
        page.goto(f"{desk}/station")
        scan(page, master)
        page.route("**/station/do", lambda route: route.abort())
        page.get_by_role("button", name="Vaulted", exact=True).tap()
        waiting = page.locator("#unsent li")
        expect(waiting).to_contain_text(f"{master}: Vaulted, not sent")
        # Kept over a reload, and once more pressed it is still one.
        page.reload()
        expect(waiting).to_have_count(1)
        assert "vaulted" not in kinds_of(page, desk, master)
        page.screenshot(path=PICTURES / "station-unsent-tablet-light.png", full_page=True)
        page.unroute("**/station/do")
        expect(waiting).to_have_count(0, timeout=15_000)
        expect(page.locator("#unsent")).to_be_hidden()
        page.wait_for_timeout(300)
        assert kinds_of(page, desk, master).count("vaulted") == 1


def test_an_answer_that_got_lost_makes_no_second_line(browser: Browser, desk: str, grown: dict[str, str]) -> None:
    master = grown["master"]
    with opened(browser, desk) as (page, _):
        page.goto(f"{desk}/station?code={master}")
        before = kinds_of(page, desk, master).count("handed_over")

        def lose(route: Any) -> None:
            route.fetch(max_redirects=0)
            route.abort()

        page.route("**/station/do", lose)
        page.get_by_role("button", name="Handed over", exact=True).tap()
        expect(page.locator("#unsent li")).to_have_count(1)
        page.unroute("**/station/do")
        expect(page.locator("#unsent li")).to_have_count(0, timeout=15_000)
        assert kinds_of(page, desk, master).count("handed_over") == before + 1


def photograph(number: str) -> bytes:
    """A label lying askew on a bench, larger than any form may be."""
    label = pypdfium2.PdfDocument(label_pdf(PartLabel(number, "stamper (−)")))[0].render(scale=3).to_pil()
    bench = Image.effect_noise((1500, 1100), 40).convert("L")
    bench.paste(label.convert("L").rotate(112, expand=True, fillcolor=128), (520, 200))
    packed = io.BytesIO()
    bench.save(packed, "JPEG", quality=85)
    assert len(packed.getvalue()) > 1 << 17
    return packed.getvalue()


def test_a_photograph_of_a_turned_code_is_read(browser: Browser, desk: str, grown: dict[str, str]) -> None:
    with opened(browser, desk) as (page, said):
        page.goto(f"{desk}/station")
        photo = {"name": "IMG.jpg", "mimeType": "image/jpeg", "buffer": photograph(grown["stamper"])}
        page.locator("#photo").set_input_files(photo)
        expect(page.locator("[data-part]")).to_have_attribute("data-part", grown["stamper"], timeout=30_000)
        assert said == []


def test_what_is_typed_anywhere_is_a_scan(browser: Browser, desk: str, grown: dict[str, str]) -> None:
    with opened(browser, desk) as (page, _):
        page.goto(f"{desk}/station")
        page.locator("main").evaluate("main => { document.activeElement.blur(); main.focus(); }")
        # The letters of a scan are no keys of the page: Shift+T would lead to the titles.
        page.keyboard.press("Shift+S")
        page.keyboard.press("Shift+T")
        page.keyboard.type(f"{grown['stamper'][2:]}\n")
        expect(page.locator("[data-part]")).to_have_attribute("data-part", grown["stamper"])


def test_a_tab_right_behind_a_number_ends_a_scan(browser: Browser, desk: str, grown: dict[str, str]) -> None:
    with opened(browser, desk) as (page, _):
        page.goto(f"{desk}/station")
        # Keys that a test strikes are not always as quick as a scanner's: some tries may be taken for a person's.
        for _ in range(20):
            page.locator("#code").fill(grown["mother"][:-1])
            page.keyboard.press(grown["mother"][-1])
            page.keyboard.press("Tab")
            if page.locator("#code").input_value() == "" or page.locator("#code:focus").count():
                break
        expect(page.locator("[data-part]")).to_have_attribute("data-part", grown["mother"])


def test_a_scanner_is_tried_key_by_key(browser: Browser, desk: str, grown: dict[str, str]) -> None:
    with opened(browser, desk) as (page, said):
        page.goto(f"{desk}/station/scanner")
        page.keyboard.press("Control+]")
        page.keyboard.type(grown["stamper"])
        expect(page.locator("#strokes")).to_have_text(re.compile(r"Keys as they came: Ctrl\+\] S T 4"))
        page.get_by_role("button", name="See what arrived").click()
        words = page.locator("main")
        expect(words).to_contain_text("group separator")
        expect(words).to_contain_text(f"{grown['stamper']}.")
        assert said == []


@pytest.mark.parametrize(("size", "look"), [("tablet", "light"), ("screen", "dark")])
@pytest.mark.parametrize(
    ("name", "path"),
    [("works", "/works"), ("family", FAMILY), ("part", "/works/parts/{stamper}"), ("station", "/station"),
     ("station-part", "/station?code={master}"), ("entry", "/station/say?code={master}&kind=measured"),
     ("scanner", "/station/scanner?arrived={stamper}"), ("search", "/works/search?q=okw")],
)  # fmt: skip
def test_every_page_of_the_works(
    browser: Browser, desk: str, grown: dict[str, str], name: str, path: str, size: str, look: str
) -> None:
    with opened(browser, desk, size, look) as (page, said):
        page.goto(desk + path.format(**grown))
        page.wait_for_load_state("networkidle")
        PICTURES.mkdir(exist_ok=True)
        page.screenshot(path=PICTURES / f"{name}-{size}-{look}.png", full_page=True)
        assert said == []
        found = Axe().run(page).response["violations"]
        assert [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found if one["impact"] != "minor"] == []
        assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
        if name.startswith("station"):
            low = page.eval_on_selector_all("main .button, main summary, main #code", LOW)
            assert low == []


def test_the_station_works_without_script(browser: Browser, desk: str, grown: dict[str, str]) -> None:
    context = browser.new_context(java_script_enabled=False)
    context.add_cookies([{"name": "operator", "value": "Ada", "url": desk}])
    page = context.new_page()
    page.goto(f"{desk}/station")
    page.locator("#code").fill(grown["mother"].lower())
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Handed over", exact=True).click()
    expect(page.locator(".done-line")).to_contain_text("handed over")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".done-line")).to_contain_text("Undone")
    context.close()
