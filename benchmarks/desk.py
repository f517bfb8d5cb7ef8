"""The desk on a planned side, asked by a real browser: how soon a page can be used and a spot is heard."""

from __future__ import annotations

import os
import re
import statistics
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Page, expect, sync_playwright

Row = tuple[str, str, str]
BROWSER = "/usr/bin/chromium"
REPEATS = 5


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """The desk in a process of its own, warm: asked once, and everything it loads in the background loaded."""
    state = os.environ | {"XDG_STATE_HOME": str(folder / "state")}
    command = [sys.executable, "-m", "discwright", "desk", str(folder), "--port", "0"]
    child = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=state)
    try:
        assert child.stdout is not None
        found = re.search(r"http://\S+", child.stdout.readline())
        assert found is not None
        yield found.group()
    finally:
        child.terminate()
        child.wait()


def ask(address: str) -> bytes:
    """What an address answers."""
    with urllib.request.urlopen(address, timeout=120) as answer:
        return bytes(answer.read())


def until_ready(address: str, plan: str) -> float:
    """Seconds until the side can be looked into."""
    begin = time.perf_counter()
    ask(f"{address}/plans/{plan}")
    while b'"prepared":true' not in ask(f"{address}/api/plans/{plan}/map"):
        time.sleep(0.1)
    return time.perf_counter() - begin


def first_page(page: Page, address: str, plan: str) -> float:
    """Seconds from asking for the page until map, strip and findings are drawn and answer."""
    begin = time.perf_counter()
    page.goto(f"{address}/plans/{plan}")
    page.wait_for_selector("#bench[data-ready=yes]")
    return time.perf_counter() - begin


def spot(page: Page) -> float:
    """Seconds from the key until a new spot sounds, as the page itself measures it."""
    listen = page.locator("#listen-box")
    listen.evaluate("one => { one.dataset.latencyMs = ''; }")
    page.keyboard.press("p")
    expect(listen).to_have_attribute("data-latency-ms", re.compile(r"^\d"), timeout=30_000)
    took = float(listen.get_attribute("data-latency-ms") or "nan") / 1000
    page.keyboard.press("p")
    return took


def desk_rows(folder: Path, plan: str, minutes: float) -> Iterator[Row]:
    """Rows of the table.

    Parameters
    ----------
    folder : pathlib.Path
        Holds the folder of a kept plan.
    plan : str
        Its id: the folder's name.
    minutes : float
        Length of the side.
    """
    with served(folder) as address, sync_playwright() as play:
        ready = until_ready(address, plan)
        yield "side made ready to be looked at and heard", f"{ready:.1f} s", f"once for a plan, {minutes:.0f} min"
        time.sleep(5)
        browser = play.chromium.launch(executable_path=BROWSER, args=["--no-sandbox"])
        try:
            page = browser.new_page(viewport={"width": 1920, "height": 1080})
            times = [first_page(page, address, plan) for _ in range(REPEATS)]
            yield (
                "page of a planned side, until map and strip answer", f"{statistics.median(times):.2f} s",
                f"{minutes:.0f} min, warm server, greatest {max(times):.2f} s",
            )  # fmt: skip
            heard = []
            for k in range(REPEATS):
                page.goto(f"{address}/plans/{plan}?at_s={(0.1 + 0.15 * k) * 60 * minutes}")
                page.wait_for_selector("#bench[data-ready=yes]")
                page.wait_for_timeout(1000)
                heard.append(spot(page))
            yield (
                "a spot until it sounds", f"{statistics.median(heard):.2f} s",
                f"programme, proof and difference, never heard before; greatest {max(heard):.2f} s",
            )  # fmt: skip
        finally:
            browser.close()
