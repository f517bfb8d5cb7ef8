"""The page on a side's guilty part in a real browser: read by everybody, filled in by keyboard, in both looks."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

pytestmark = pytest.mark.slow

PICTURES = Path(__file__).parents[2] / ".screenshots"
SIZES = {"tablet": (1024, 768), "screen": (1920, 1080)}
PAGE = "/works/guilt/OKW%200042"
_MOST_TABS = 160
FOCUSED = """() => {
  const one = document.activeElement;
  return (one.getAttribute("aria-label") || one.labels?.[0]?.textContent || one.textContent || "").trim();
}"""


@pytest.fixture
def desk(metal: Any, folder: Path, tmp_path: Path, serve: Callable[..., AbstractContextManager[str]]) -> Iterator[str]:
    """Address of a desk over a family with two stampers, two plays of the first and none of the second."""
    _, _, mother, stamper = metal.family()
    metal.record(mother, "passivated")
    metal.record(metal.grow(mother, mark="S2"), "separated")
    for angle in ("41.5", "42.1"):
        form = {"part": stamper, "key": angle, "how": "heard", "kind-1": "tick", "place-1": "7", "angle-1": angle}
        form |= {
            "kind-2": "scratch",
            "place-2": "3",
            "angle-2": "200",
            "kind-3": "pop",
            "place-3": "0:11",
            "angle-3": "5",
        }
        assert metal.client.post("/works/heard", data=form).status_code == 303
    metal.client.app.state.desk.close()
    with serve(folder, tmp_path / "served") as address:
        yield address


def page_of(browser: Browser, address: str, size: str, look: str, said: list[str]) -> Page:
    width, height = SIZES[size]
    context = browser.new_context(
        viewport={"width": width, "height": height}, color_scheme="dark" if look == "dark" else "light",
        reduced_motion="reduce",
    )  # fmt: skip
    context.add_cookies([{"name": "operator", "value": "Ada", "url": address}])
    page = context.new_page()
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda one: said.append(one.text) if one.type in ("error", "warning") else None)
    return page


def tab_to(page: Page, words: str) -> None:
    for _ in range(_MOST_TABS):
        page.keyboard.press("Tab")
        if page.evaluate(FOCUSED) == words:
            return
    pytest.fail(f"Tab never came to “{words}”")


def test_everybody_can_read_it_in_both_looks(browser: Browser, desk: str) -> None:
    PICTURES.mkdir(exist_ok=True)
    for size, look in (("tablet", "light"), ("screen", "dark")):
        for name, query in (("guilt", ""), ("guilt-spot", "?spot=1")):
            said: list[str] = []
            page = page_of(browser, desk, size, look, said)
            page.goto(desk + PAGE + query)
            page.wait_for_load_state("networkidle")
            page.screenshot(path=PICTURES / f"{name}-{size}-{look}.png", full_page=True)
            assert said == []
            found = Axe().run(page).response["violations"]
            assert [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found if one["impact"] != "minor"] == []
            assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
            page.context.close()


def test_a_play_is_written_down_by_keyboard_alone(browser: Browser, desk: str) -> None:
    said: list[str] = []
    page = page_of(browser, desk, "tablet", "light", said)
    page.goto(desk + PAGE)
    tab_to(page, "Part")
    mother = next(one for one in page.locator("#part option").all_inner_texts() if one.endswith("mother"))
    page.keyboard.type(mother[:5])  # as a list of choices is searched
    tab_to(page, "Turn or time")
    page.keyboard.type("0:12,6")
    page.keyboard.press("Tab")
    page.keyboard.type("41")
    tab_to(page, "Write this play down")
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_contain_text("3 plays")
    # By hand: 12.6 s are turn 7 of 1.8 s each; the tick of the two plays before lies in turn 7 at 42°.
    expect(page.locator("main")).to_contain_text(f"{mother.split()[0]} 1 of 1")
    tab_to(page, "Spot 1: its own tree")
    page.keyboard.press("Enter")
    expect(page.locator("#tree")).to_contain_text("heads spot 1")
    assert said == []
    page.context.close()


def test_what_is_wrong_is_told_beside_what_was_typed(browser: Browser, desk: str) -> None:
    page = page_of(browser, desk, "screen", "light", [])
    page.goto(desk + PAGE)
    page.locator("#place-1").fill("7.5")
    page.locator("#angle-1").fill("41")
    page.get_by_role("button", name="Write this play down").click()
    expect(page.locator(".heard-sentence")).to_contain_text("Turn 7.5 is no whole turn")
    assert page.locator("#place-1").input_value() == "7.5"
    page.context.close()
