"""The side page as it is used: map, strip, findings, listening and what-ifs, by mouse and by keys alone."""

from __future__ import annotations

import re
from collections.abc import Iterator
from urllib.parse import parse_qs, urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect

pytestmark = pytest.mark.slow
SIDE = "/plans/weather-ship~lp-A"
#: Switches to a version; where the clip was before and two pictures later, and how long that took, s.
SWITCH = """version => new Promise(done => {
    const box = document.querySelector("#listen-box"), began = performance.now();
    const before = Number(box.dataset.positionS);
    document.querySelector(`[data-version-choice=${version}]`).click();
    requestAnimationFrame(() => requestAnimationFrame(() =>
        done([before, Number(box.dataset.positionS), (performance.now() - began) / 1000])));
})"""


@pytest.fixture
def page(browser: Browser, live: str) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1920, "height": 1080}, reduced_motion="reduce")
    context.set_default_timeout(20_000)
    page, said = context.new_page(), list[str]()
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda message: said.append(message.text) if message.type == "error" else None)
    page.goto(live + SIDE)
    expect(page.locator("#bench")).to_have_attribute("data-ready", "yes")
    yield page
    context.close()
    # A refused request itself is on the console; that is the browser's habit, not the page's.
    assert [one for one in said if "status of 422" not in one and "HTMLDivElement" not in one] == []


def address(page: Page, press: str = "") -> dict[str, str]:
    """What the address says of the view, once things have been quiet; after a key, once it says something else."""
    before = page.url
    if press:
        page.keyboard.press(press)
        page.wait_for_url(lambda url: url != before)
    last = ""
    while last != page.url:
        last = page.url
        page.wait_for_timeout(700)
    return {key: values[0] for key, values in parse_qs(urlsplit(page.url).query).items()}


def test_the_map_by_keys_alone(page: Page) -> None:
    picture = page.locator("#map-picture")
    assert picture.get_attribute("role") == "application"
    assert "Disc map" in (picture.get_attribute("aria-label") or "")
    page.keyboard.press("d")
    expect(picture).to_be_focused()
    ring = picture.evaluate("one => getComputedStyle(one, '::after').borderTopWidth")
    assert float(ring.removesuffix("px")) >= 2
    for _ in range(4):
        near = address(page, "+")
    moved = address(page, "ArrowRight")
    assert float(moved["x_um"]) > float(near["x_um"])
    assert float(moved["wide_um"]) == pytest.approx(float(near["wide_um"]))
    assert float(address(page, "-")["wide_um"]) > float(near["wide_um"])
    assert float(address(page, "0")["wide_um"]) > 301_000


def test_the_address_is_the_view(page: Page, live: str) -> None:
    wanted = "x_um=-100000&y_um=20000&wide_um=4000&layer=depth"
    page.goto(f"{live}{SIDE}?{wanted}")
    expect(page.locator("#bench")).to_have_attribute("data-ready", "yes")
    found = address(page)
    assert float(found["x_um"]) == pytest.approx(-100_000, abs=2)
    assert float(found["y_um"]) == pytest.approx(20_000, abs=2)
    assert float(found["wide_um"]) == pytest.approx(4000, rel=1e-3)
    assert found["layer"] == "depth"
    expect(page.locator("#layer")).to_have_value("depth")
    expect(page.locator("#layer-key")).to_be_visible()
    expect(page.locator("#twin-words")).to_contain_text("turns")


def test_a_finding_moves_map_and_strip_and_fills_in_its_remedy(page: Page) -> None:
    rows = page.locator("#finding-list > li[data-at-s]:not([data-at-s=''])")
    assert rows.count() > 0
    row = rows.first
    at = float(row.get_attribute("data-at-s") or "nan")
    row.locator(".finding-go").click()
    page.wait_for_url(re.compile("at_s="))
    found = address(page)
    assert float(found["at_s"]) == pytest.approx(at, abs=1e-3)
    assert float(found["wide_um"]) < 50_000
    tried = page.locator("form.try button")
    if tried.count():
        tried.first.click()
        expect(page.locator("#what-if-go")).to_be_focused()


def test_the_ruler_and_bookmarks(page: Page) -> None:
    page.locator("#finding-list .finding-go").first.click()
    page.wait_for_url(re.compile("at_s="))
    page.locator("[data-act=ruler]").click()
    box = page.locator("#map-picture").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.click(x - 60, y)
    page.mouse.click(x + 60, y + 30)
    expect(page.locator("main")).to_contain_text("turns between")
    page.keyboard.press("Escape")
    page.locator("[data-act=bookmarks]").click()
    page.locator("#bookmark-words").fill("by the label")
    page.keyboard.press("Enter")
    expect(page.locator("#bookmark-list")).to_contain_text("by the label")


def test_a_spot_is_heard_and_versions_are_switched_without_losing_the_place(page: Page) -> None:
    listen = page.locator("#listen-box")
    page.locator("#finding-list .finding-go").first.click()
    page.locator("[data-listen=loop]").click()
    expect(listen).to_have_attribute("data-loop", "on")
    page.locator("[data-listen=play]").click()
    expect(listen).to_have_attribute("data-state", "playing")
    expect(listen).to_have_attribute("data-latency-ms", re.compile(r"^\d"))
    start = listen.get_attribute("data-start-s")
    for version in ("proof", "difference", "programme"):
        # Within one step of the page's own script, so that no slow machine comes between.
        before, after, took = page.evaluate(SWITCH, version)
        expect(listen).to_have_attribute("data-version", version)
        assert (after - before) % 4.0 == pytest.approx(took, abs=0.25)
        assert listen.get_attribute("data-start-s") == start
        expect(listen).to_have_attribute("data-state", "playing")
    page.locator("[data-listen=before]").click()
    expect(listen).not_to_have_attribute("data-start-s", start or "")
    page.locator("[data-listen=stop]").click()
    expect(listen).to_have_attribute("data-state", "stopped")


def test_blind_listening_tells_only_afterwards(page: Page) -> None:
    page.locator("#finding-list .finding-go").first.click()
    page.locator("[data-listen=play]").click()
    listen = page.locator("#listen-box")
    expect(listen).to_have_attribute("data-state", "playing")
    page.locator("[data-listen=blind]").click()
    expect(listen).to_have_attribute("data-blind", "on")
    assert listen.get_attribute("data-version") in ("", "hidden", "X", "Y", None)
    page.locator("[data-letter=Y]").click()
    page.locator("[data-answer=X]").click()
    expect(page.locator("#blind-said")).to_contain_text(re.compile("right|wrong", re.IGNORECASE))


def test_a_what_if_from_the_form_to_the_page_beside(page: Page, live: str) -> None:
    page.locator("#what-if-form [name=level_db]").fill("3,5")
    page.locator("#what-if-go").click()
    job = page.locator("#jobs .job").first
    expect(job).to_have_attribute("data-state", "done", timeout=60_000)
    page.goto(live + (job.get_attribute("data-href") or ""))
    expect(page.locator("main")).to_contain_text("+3.50 dB")
    expect(page.locator("main")).to_contain_text("−8.50 dB")
    page.get_by_role("button", name=re.compile("drop", re.IGNORECASE)).first.click()
    page.wait_for_url(re.compile(re.escape(SIDE)))


def test_wrong_things_typed_are_a_sentence_in_place(page: Page) -> None:
    page.locator("#what-if-form [name=level_db]").fill("1,234")
    page.locator("#what-if-go").click()
    expect(page.get_by_role("alert").filter(has_text="could mean a thousand or a decimal")).to_be_visible()
