"""From an order file to the vehicle in a real browser: by keyboard alone, scans faster than answers, without script."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect

from discwright.works.store.ledger import open_ledger

pytestmark = pytest.mark.slow

PICTURES = Path(__file__).parents[2] / ".screenshots"
HEAD = "order,account,name,address_1,address_2,city,region,postcode,country,edition,count,wanted"
LINE = "{order},K7,Shop K7,Quay 1,,Harbour,,0001,NO,{edition},{count},2031-06-03"
#: What a glove can hardly hit.
LOW = """all => all.filter((one) => one.getClientRects().length && one.getBoundingClientRect().height < 63.5)
  .map((one) => one.outerHTML)"""
#: Name of what has the focus, as far as these pages name things.
FOCUSED = """() => {
  const one = document.activeElement;
  return (one.getAttribute("aria-label") || one.labels?.[0]?.textContent || one.textContent || "").trim();
}"""
#: A refused scan is told by its status as well, which the console repeats.
STATUSES = re.compile(r"the server responded with a status of (404|409|422)")


@pytest.fixture(scope="module")
def place(stocked_ledger: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a stocked ledger."""
    folder = tmp_path_factory.mktemp("dispatch")
    (folder / "works").mkdir()
    shutil.copy(stocked_ledger, folder / "works" / "works.sqlite")
    return folder


@pytest.fixture(scope="module")
def desk(place: Path, serve: Callable[[Path, Path], AbstractContextManager[str]]) -> Iterator[str]:
    """Address of a desk over it."""
    with serve(place / "works", place / "state") as address:
        yield address


def context_of(
    browser: Browser, desk: str, *, width: int = 800, look: str = "light", script: bool = True
) -> BrowserContext:  # fmt: skip
    context = browser.new_context(
        viewport={"width": width, "height": 900}, color_scheme="dark" if look == "dark" else "light",
        reduced_motion="reduce", java_script_enabled=script,
    )  # fmt: skip
    context.add_cookies([{"name": "operator", "value": "Ada", "url": desk}])
    return context


@pytest.fixture
def page(browser: Browser, desk: str) -> Iterator[Page]:
    """A page at the dock's tablet; its console must have had nothing to say in the end."""
    context, said = context_of(browser, desk), []
    opened = context.new_page()
    opened.on("pageerror", lambda error: said.append(str(error)))
    opened.on("console", lambda one: said.append(one.text) if one.type in ("error", "warning") else None)
    yield opened
    context.close()
    assert [one for one in said if not STATUSES.search(one) and "preload" not in one] == []


@pytest.fixture(scope="module")
def packed(browser: Browser, desk: str, place: Path) -> list[str]:
    """Everything packed by keyboard: the prefix, Enter, carton after carton; numbers of the cartons."""
    context = context_of(browser, desk)
    page = context.new_page()
    page.goto(f"{desk}/packing")
    expect(page.locator("#code")).to_be_focused()
    tab_to(page, "GS1 prefix of this works")
    page.keyboard.type("9521234")
    press_by_key(page, "Pack everything that is there")
    expect(page.locator("h1")).to_have_text("Packing")
    walk(page)
    context.close()
    ledger = open_ledger(str(place / "works" / "works.sqlite"))
    numbers = [sscc for title in ("NL 4", "NL 5") for sscc in ledger.family(title).yard.cartons]
    ledger.close()
    return sorted(numbers)


def tab_to(page: Page, words: str) -> None:
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate(FOCUSED) == words:
            return
    pytest.fail(f"Tab never came to “{words}”")


def press_by_key(page: Page, words: str) -> None:
    tab_to(page, words)
    page.keyboard.press("Enter")


def walk(page: Page) -> None:
    """Enter alone shows carton after carton."""
    expect(page.locator("#code")).to_be_focused()
    for number in range(1, 9):
        page.keyboard.press("Enter")
        expect(page.locator("h1")).to_have_text(f"Carton {number} of 8")
        expect(page.locator("#code")).to_be_focused()


def test_a_file_of_orders_is_brought_and_mended(desk: str, page: Page, packed: list[str]) -> None:
    assert len(packed) == 8
    page.goto(f"{desk}/orders")
    take = page.locator("#take-button")
    expect(take).to_be_disabled()
    lines = [LINE.format(order="70", edition=one, count="5") for one in ("NL 4/lp", "NL 5/ep")]
    right = "\n".join((HEAD, *lines)).encode()
    wrong = right.replace(b"ep,5,", b'ep,"5,5",')
    file = {"name": "day.csv", "mimeType": "text/csv", "buffer": wrong}
    page.locator("#orders-file").set_input_files(file)
    take.focus()
    page.keyboard.press("Enter")
    expect(page.locator(".dock-said")).to_contain_text("Nothing was taken: 1 place")
    expect(page.locator("#findings tbody tr")).to_have_count(1)
    expect(page.locator("#findings tbody tr")).to_contain_text("is no count of whole discs")
    page.locator("#orders-file").set_input_files(file | {"buffer": right})
    take.click()
    expect(page.locator(".dock-said")).to_have_text("2 lines of orders taken from day.csv.")
    expect(page.locator(".dock-said")).to_be_focused()
    # The same file once more has the new page's key: the ledger has these orders already.
    page.locator("#orders-file").set_input_files(file | {"buffer": right})
    take.click()
    expect(page.locator(".dock-said")).to_contain_text("Order 70 has NL 4/lp already")


def test_scan_to_load_by_keyboard_alone(desk: str, page: Page, packed: list[str]) -> None:
    page.goto(f"{desk}/dock")
    tab_to(page, "Vehicle")
    page.keyboard.type("blue van")
    page.keyboard.press("Tab")
    page.keyboard.type("3")
    page.keyboard.press("Enter")
    expect(page.locator("#code")).to_be_focused()
    word = page.locator(".answer-word")
    for code, told in ((packed[0], "loaded"), (packed[0], "loaded before"), ("]C100" + packed[1], "loaded"),
                       ("157035381410375177", "unknown"), ("hello", "not readable")):  # fmt: skip
        page.keyboard.type(code)
        page.keyboard.press("Enter")
        expect(word).to_have_text(told)
        expect(page.locator("#code")).to_be_focused()
        expect(page.locator("#code")).to_have_value("")
    expect(page.locator("#said")).to_contain_text("not readable: ")
    # What is typed while nothing has the focus is a scan.
    page.locator("main").evaluate("main => { document.activeElement.blur(); main.focus(); }")
    page.keyboard.type(f"{packed[2]}\n")
    expect(word).to_have_text("loaded")
    expect(page.locator(".dock-missing")).to_contain_text("still to come")


def test_scans_faster_than_answers_are_each_loaded_once(desk: str, page: Page, packed: list[str], place: Path) -> None:
    page.goto(f"{desk}/dock")
    page.context.add_cookies([{"name": "dock", "value": "3", "url": desk}])
    page.goto(f"{desk}/dock")
    page.route("**/dock/load", lambda route: (page.wait_for_timeout(150), route.continue_()))
    for one in packed[3:6]:
        page.keyboard.type(f"{one}\n")
    expect(page.locator(".answer-code")).to_contain_text(packed[5][-5:-1], timeout=10_000)
    ledger = open_ledger(str(place / "works" / "works.sqlite"))
    loaded = [line.data["sscc"] for line in ledger.lines() if line.kind == "loaded"]
    ledger.close()
    assert sorted(loaded) == sorted({*packed[:3], *packed[3:6]})


def test_a_scan_that_cannot_be_sent_is_told(desk: str, page: Page, packed: list[str]) -> None:
    page.context.add_cookies([{"name": "dock", "value": "3", "url": desk}])
    page.goto(f"{desk}/dock")
    page.route("**/dock/load", lambda route: route.fulfill(status=200, body="a page of somebody else"))
    page.keyboard.type(f"{packed[6]}\n")
    expect(page.locator("#trouble")).to_contain_text("answered with no page")
    page.unroute("**/dock/load")
    page.keyboard.type(f"{packed[6]}\n")
    expect(page.locator(".answer-word")).to_have_text("loaded")


def test_bench_and_dock_work_without_script(browser: Browser, desk: str, packed: list[str]) -> None:
    context = context_of(browser, desk, script=False)
    page = context.new_page()
    page.goto(f"{desk}/dock")
    page.get_by_label("Dock", exact=True).fill("3")
    page.get_by_role("button", name="Load here").click()
    page.locator("#code").fill(packed[7])
    page.keyboard.press("Enter")
    expect(page.locator(".answer-word")).to_have_text("loaded")
    page.goto(f"{desk}/packing")
    page.locator("#code").fill(packed[4])
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("Carton 5 of 8")
    context.close()


@pytest.mark.parametrize(("width", "look"), [(800, "light"), (1280, "dark")])
def test_every_page_from_stock_to_dock(browser: Browser, desk: str, packed: list[str], width: int, look: str) -> None:
    context = context_of(browser, desk, width=width, look=look)
    context.add_cookies([{"name": "dock", "value": "3", "url": desk}])
    page = context.new_page()
    PICTURES.mkdir(exist_ok=True)
    paths = {"promises": "", "orders": "?state=all", "stock": "", "packing": "", f"packing/{packed[0]}": "?carton=3",
             "dock": "", "recalls": f"?number={run_of(page, desk, packed[0])}", f"cartons/{packed[0]}": ""}  # fmt: skip
    for path, query in paths.items():
        page.goto(f"{desk}/{path}{query}")
        page.wait_for_load_state("networkidle")
        page.screenshot(path=PICTURES / f"{path.replace('/', '-')}-{width}-{look}.png", full_page=True)
        found = Axe().run(page).response["violations"]
        serious = [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found if one["impact"] != "minor"]
        assert serious == [], path
    context.close()


def run_of(page: Page, desk: str, sscc: str) -> str:
    page.goto(f"{desk}/cartons/{sscc}")
    words = page.get_by_role("link", name=re.compile(r"^Run RU")).inner_text()
    return words.removeprefix("Run ")
