"""Press hall, runs and lots in a real browser: a defect by tap, by keyboard, without script; read by everybody."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect
from pressed import ANN, made

from discwright.acts.first_off import inspect_first_off
from discwright.acts.lots import inspect_lot
from discwright.acts.runs import press_run
from discwright.works import run_events as r
from discwright.works.first_off import FirstOffSeen
from discwright.works.lot import LotDefect
from discwright.works.store.ledger import Order, open_ledger

pytestmark = pytest.mark.slow

PICTURES = Path(__file__).parents[2] / ".screenshots"
SIZES = {"tablet": (800, 1280), "screen": (1280, 800)}
RUN, LOT = "/runs/RU9-0", "/runs/RU9-0/lot"
_MOST_TABS = 80
FOCUSED = """() => {
  const one = document.activeElement;
  return (one.getAttribute("aria-label") || one.alt || one.labels?.[0]?.textContent || one.textContent || "").trim();
}"""
#: What a glove can hardly hit; a radio or a box is hit at its label.
LOW = """all => all.filter((one) => one.getClientRects().length && one.getBoundingClientRect().height < 63.5)
  .map((one) => one.outerHTML.slice(0, 200))"""


@pytest.fixture
def desk(pressed_folder: Path, tmp_path: Path, serve: Callable[..., AbstractContextManager[str]]) -> Iterator[str]:
    """Address of a desk with a run that missed a first-off, has a refused lot, and discs to inspect."""
    ledger = open_ledger(str(pressed_folder / "works.sqlite"))
    inspect_first_off(ledger, "RU9-0", FirstOffSeen(hole_mm=7.4, off_centre_mm=0.31), ANN)
    made(ledger.append(Order(r.FirstOff(verdict="pass", played="pass"), "Ann", part="RU9-0")))
    made(press_run(ledger, "RU9-0", 820, 800, ANN))
    # By hand: all of a lot of two discs is looked at.
    defects = [LotDefect("jump", "critical", 1, "A", 80.0, 45.0), LotDefect("off-centre", "major", 2)]
    made(inspect_lot(ledger, "RU9-0", ANN, count=2, defects=defects)[0])
    ledger.close()
    with serve(pressed_folder, tmp_path / "served") as address:
        yield address


def context_of(
    browser: Browser, address: str, size: str = "tablet", look: str = "light", **more: Any
) -> BrowserContext:
    width, height = SIZES[size]
    context = browser.new_context(
        viewport={"width": width, "height": height}, color_scheme="dark" if look == "dark" else "light",
        reduced_motion="reduce", **more,
    )  # fmt: skip
    context.add_cookies([{"name": "operator", "value": "Ada", "url": address}])
    return context


def page_of(context: BrowserContext, said: list[str]) -> Page:
    page = context.new_page()
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda one: said.append(one.text) if one.type in ("error", "warning") else None)
    return page


def tab_to(page: Page, words: str) -> None:
    for _ in range(_MOST_TABS):
        page.keyboard.press("Tab")
        if re.match(words, page.evaluate(FOCUSED)):
            return
    pytest.fail(f"Tab never came to “{words}”")


def entered(page: Page) -> str:
    return str(page.locator(".lot-entered tbody").inner_text()) if page.locator(".lot-entered tbody").count() else ""


def test_everybody_can_read_it_in_both_looks(browser: Browser, desk: str) -> None:
    PICTURES.mkdir(exist_ok=True)
    places = {"hall": "/hall", "runs": "/runs", "run": RUN, "lot": LOT, "judged": f"{RUN}/lots/1"}
    for size, look in (("tablet", "light"), ("screen", "dark")):
        said: list[str] = []
        context = context_of(browser, desk, size, look)
        page = page_of(context, said)
        for name, path in places.items():
            page.goto(desk + path)
            page.wait_for_load_state("networkidle")
            page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
            page.screenshot(path=PICTURES / f"{name}-{size}-{look}.png", full_page=True)
            assert said == []
            found = Axe().run(page).response["violations"]
            assert [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found if one["impact"] != "minor"] == []
            assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
            low = page.eval_on_selector_all("main .button, main summary, main .word-face, main select", LOW)
            assert low == []
        context.close()


def test_a_tap_a_double_tap_and_a_page_loaded_again(browser: Browser, desk: str) -> None:
    said: list[str] = []
    context = context_of(browser, desk, "screen")
    page = page_of(context, said)
    page.goto(desk + LOT)
    page.locator(".word", has_text="stain").click()
    box = page.locator("#face").bounding_box()
    assert box is not None
    # By hand: a quarter of the picture above its middle is 84.25 mm from it, at 0°.
    at = {"x": box["width"] / 2, "y": box["height"] / 4}
    page.locator("#face").dblclick(position=at)
    expect(page.locator("#entered-summary")).to_contain_text("1 defect on 1 disc")
    assert re.search(r"stain seen\s+minor\s+\d+\s+A\s+84\.\d mm, (0\.\d|359\.\d)°", entered(page))
    page.reload()  # the form is sent again as it was
    expect(page.locator("#entered-summary")).to_contain_text("1 defect on 1 disc")
    # A new page of the same lot knows of it only by this device, and asks.
    page.goto(desk + LOT)
    expect(page.locator("#entered-summary")).to_contain_text("No defect was entered")
    expect(page.locator("#kept-here")).to_contain_text("not judged yet: 1 defect.")
    page.get_by_role("button", name="Take them up again").click()
    expect(page.locator("#entered-summary")).to_contain_text("1 defect on 1 disc")
    page.get_by_role("button", name="Remove defect 1, stain").click()
    expect(page.locator("#entered-summary")).to_contain_text("No defect was entered")
    expect(page.locator("#kept-here")).to_be_hidden()
    assert said == []
    context.close()


def test_a_lot_by_keyboard_alone(browser: Browser, desk: str) -> None:
    said: list[str] = []
    context = context_of(browser, desk)
    page = page_of(context, said)
    page.goto(desk + RUN)
    tab_to(page, "Inspect 798 discs")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("Lot 2")
    tab_to(page, "N non-fill")
    for _ in range(2):
        page.keyboard.press("ArrowRight")  # non-fill, stitching, pit: radios of one name
    # The picture stands before the words.
    for _ in range(_MOST_TABS):
        page.keyboard.press("Shift+Tab")
        if page.evaluate("document.activeElement.id") == "face":
            break
    expect(page.locator("#cross")).to_be_visible()
    # By hand: the cross begins 0.35 of the picture above the middle; nine steps of 0.05 down and two right.
    for _ in range(9):
        page.keyboard.press("Shift+ArrowDown")
    for _ in range(2):
        page.keyboard.press("Shift+ArrowRight")
    expect(page.locator("#said")).to_have_text("Cross at 60 percent across, 60 percent down.")
    page.keyboard.press("Enter")
    expect(page.locator("#entered-summary")).to_contain_text("1 defect on 1 disc")
    # By hand: 0.1 of 337 mm right and below is 47.7 mm from the middle, at 225° against the clock.
    assert re.search(r"pit seen\s+minor\s+\d+\s+A\s+47\.[67] mm, 225\.0°", entered(page))
    tab_to(page, "Looked at, next")
    page.keyboard.press("Enter")
    expect(page.locator(".take")).to_contain_text("disc 2 of 80")
    tab_to(page, "All 80 discs of the sample were looked at")
    page.keyboard.press("Space")
    tab_to(page, "Judge the lot")
    page.keyboard.press("Enter")
    expect(page.locator(".big-verdict")).to_have_text(re.compile("accepted"))
    expect(page.locator("main")).to_contain_text("797 discs may be put into stock")
    assert said == []
    context.close()


def test_it_works_without_script(browser: Browser, desk: str) -> None:
    context = context_of(browser, desk, "screen", java_script_enabled=False)
    page = context.new_page()
    page.goto(desk + LOT)
    page.locator(".word", has_text="scratch-repeated").click()
    page.locator("#face").click(position={"x": 320, "y": 160})
    expect(page.locator("#entered-summary")).to_contain_text("1 defect on 1 disc, by their worst: 1 major.")
    assert "84.2 mm, 0.0°" in entered(page) or "84.3 mm, 0.0°" in entered(page)
    page.get_by_role("button", name="Side B").click()
    page.locator("#lot-radius_mm").fill("101,5")
    page.locator("#lot-angle_deg").fill("45")
    page.locator("#lot-angle_deg").press("Enter")
    expect(page.locator(".lot-entered tbody")).to_contain_text("101.5 mm, 45.0°")
    page.get_by_label("All 80 discs of the sample were looked at").check()
    page.get_by_role("button", name="Judge the lot").click()
    expect(page.locator(".big-verdict")).to_contain_text("accepted")
    context.close()


def test_a_first_off_is_written_down_and_its_misses_told(browser: Browser, desk: str) -> None:
    said: list[str] = []
    context = context_of(browser, desk)
    page = page_of(context, said)
    page.goto(f"{desk}/hall")
    page.get_by_text("Begin a run of KV 900/lp").click()
    page.get_by_label("Pressings planned").fill("500")
    page.get_by_role("button", name="Begin a run of KV 900/lp on press 2").click()
    expect(page.locator("h1")).to_have_text(re.compile(r"RU\d+-\d"))
    page.get_by_label("Hole, diameter").fill("7,4")
    page.get_by_role("button", name="Write the first-off down").click()
    expect(page.locator(".missed").filter(has_text="7.4 against 7.33 mm")).to_be_visible()
    assert said == []
    context.close()
