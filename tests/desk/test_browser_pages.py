"""Every page in a real browser, at both sizes and in both looks: nothing on the console, nothing serious for axe."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

pytestmark = pytest.mark.slow

#: Pictures of every page are kept here, to be looked at.
PICTURES = Path(__file__).parents[2] / ".screenshots"
SIZES = {"tablet": (1024, 768), "screen": (1920, 1080)}
PAGES = {
    "titles": "/", "title": "/titles/weather-ship~title", "side": "/plans/weather-ship~lp-A",
    "bare side": "/plans/bare", "patterns": "/patterns", "trouble": "/plans/nope",
}  # fmt: skip


@contextmanager
def opened(browser: Browser, address: str, size: str, look: str = "light") -> Iterator[tuple[Page, list[str]]]:
    """A page of its own, and what its console had to say."""
    width, height = SIZES[size]
    context = browser.new_context(
        viewport={"width": width, "height": height}, color_scheme="dark" if look == "dark" else "light",
        has_touch=size == "tablet", reduced_motion="reduce",
    )  # fmt: skip
    page, said = context.new_page(), []
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda message: said.append(message.text) if message.type in ("error", "warning") else None)
    page.goto(address)
    if page.locator("#bench").count():
        expect(page.locator("#bench")).to_have_attribute("data-ready", "yes", timeout=30_000)
    page.wait_for_load_state("networkidle")
    yield page, list(said)
    context.close()


@pytest.mark.parametrize(("size", "look"), [("tablet", "light"), ("screen", "light"), ("screen", "dark")])
@pytest.mark.parametrize("name", PAGES)
def test_every_page(browser: Browser, live: str, name: str, size: str, look: str) -> None:
    with opened(browser, live + PAGES[name], size, look) as (page, said):
        PICTURES.mkdir(exist_ok=True)
        page.screenshot(path=PICTURES / f"{name.replace(' ', '-')}-{size}-{look}.png", full_page=True)
        # The driver's own word on slow reading is no fault of the page; the page that is not there is meant to be 404.
        faults = [one for one in said if "GPU stall" not in one and not (name == "trouble" and "404" in one)]
        assert faults == []
        found = Axe().run(page).response["violations"]
        grave = [one for one in found if one["impact"] in ("serious", "critical")]
        grave = [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in grave]
        assert grave == []
        assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
        assert page.title().endswith("discwright")


def test_keys_are_listed_and_work_everywhere(browser: Browser, live: str) -> None:
    with opened(browser, live + PAGES["side"], "screen") as (page, _):
        page.keyboard.press("?")
        keys = page.get_by_role("dialog")
        expect(keys).to_be_visible()
        listed = keys.inner_text()
        for words in ("nearer", "ruler", "titles"):
            assert words in listed.lower()
        page.keyboard.press("Escape")
        expect(keys).to_be_hidden()
        # Each key also stands in its button's hint.
        hints = page.eval_on_selector_all("button[aria-keyshortcuts]", "all => all.map(one => one.title)")
        assert len(hints) > 12
        assert all("key" in title for title in hints), hints
        page.keyboard.press("Shift+T")
        page.wait_for_url(f"{live}/")


def test_the_first_tab_stop_leads_past_the_head(browser: Browser, live: str) -> None:
    for name in ("titles", "title", "side"):
        with opened(browser, live + PAGES[name], "screen") as (page, _):
            page.keyboard.press("Tab")
            page.keyboard.press("Enter")
            assert page.evaluate("location.hash") == "#main"


def test_units_and_looks_are_switched_by_key_and_stay(browser: Browser, live: str) -> None:
    with opened(browser, live + PAGES["side"], "screen") as (page, _):
        expect(page.locator("main")).to_contain_text("mm")
        page.keyboard.press("Shift+U")
        expect(page.locator("main")).to_contain_text("lines per inch")
        page.reload()
        expect(page.locator("main")).to_contain_text("lines per inch")
        page.keyboard.press("Shift+L")
        expect(page.locator("html")).not_to_have_attribute("data-look", "auto")


def test_without_script_everything_can_still_be_read(browser: Browser, live: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(live + PAGES["side"])
    words = page.locator("main").inner_text()
    for needed in ("+12.0 dB", "room", "sibilance", "spiral.csv"):
        assert needed in words
    assert page.locator("img").count() >= 1
    context.close()
