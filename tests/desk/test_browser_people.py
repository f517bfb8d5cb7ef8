"""Signing in and out, a person made and a token, in a real browser; the pages about people held against axe."""

from __future__ import annotations

import re
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import uvicorn
from argon2 import PasswordHasher
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from discwright.acts.certificate import works_certificate
from discwright.desk.app import create_app
from discwright.desk.guard import hosts_for
from discwright.desk.views_trust import read_trust
from discwright.works.store import passwords
from discwright.works.store.ledger import begin_ledger
from discwright.works.store.people import By, add_person

pytestmark = pytest.mark.slow

PICTURES = Path(__file__).parents[2] / ".screenshots"
WORDS, OTHER = "four words in a row", "tank and silver spoon"
BY = By("root", "command line")


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """An https desk with a works certificate over a folder with a ledger and people."""
    place = tmp_path_factory.mktemp("people")
    (place / "works").mkdir()
    works_certificate(place, ["localhost", "127.0.0.1"])
    with pytest.MonkeyPatch.context() as patch, socket.socket() as listening:
        patch.setenv("XDG_STATE_HOME", str(place / "state"))
        light = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
        patch.setattr(passwords, "_hasher", lambda: light)
        ledger = begin_ledger(str(place / "works"))
        add_person(ledger, "Kay Orr", ("engineer", "keeper"), WORDS, by=BY)
        add_person(ledger, "Ada Kell", ("plating",), OTHER, by=BY)
        ledger.close()
        listening.bind(("127.0.0.1", 0))
        listening.listen(64)
        port = listening.getsockname()[1]
        trust = read_trust(place / "works-cert.pem")
        app = create_app(place / "works", hosts_for("127.0.0.1", port), network=True, scheme="https", trust=trust)
        config = uvicorn.Config(
            app, log_level="error", ws="none", timeout_graceful_shutdown=1,
            ssl_certfile=place / "works-cert.pem", ssl_keyfile=place / "works-key.pem",
        )  # fmt: skip
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.02)
        yield f"https://localhost:{port}"
        server.should_exit = True
        thread.join(20)


@pytest.fixture
def page(browser: Browser, served: str, request: pytest.FixtureRequest) -> Iterator[Page]:
    """A tablet that trusts the works; what its console says is a fault."""
    look = getattr(request, "param", "light")
    context = browser.new_context(
        viewport={"width": 1024, "height": 768}, color_scheme=look, base_url=served, ignore_https_errors=True,
        has_touch=True, reduced_motion="reduce",
    )  # fmt: skip
    opened, said = context.new_page(), list[str]()
    opened.on("pageerror", lambda error: said.append(str(error)))
    opened.on("console", lambda message: said.append(message.text) if message.type == "error" else None)
    yield opened
    context.close()
    # A refusal is an answer with such a status, and the browser notes it.
    assert [one for one in said if not re.search(r"status of 40[13]", one)] == []


def sign_in(page: Page, name: str, password: str) -> None:
    page.goto("/sign-in")
    page.get_by_label("Name").fill(name)
    page.get_by_label("Password").fill(password)
    with page.expect_navigation():
        page.keyboard.press("Enter")


def look_at(page: Page, name: str) -> None:
    """A picture to be looked at, and nothing serious for axe."""
    PICTURES.mkdir(exist_ok=True)
    scheme = page.evaluate("matchMedia('(prefers-color-scheme: dark)').matches ? 'dark' : 'light'")
    page.screenshot(path=PICTURES / f"people-{name}-{scheme}.png", full_page=True)
    found = Axe().run(page).response["violations"]
    grave = [
        f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found if one["impact"] in ("serious", "critical")
    ]
    assert grave == []
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


@pytest.mark.parametrize("page", ["light", "dark"], indirect=True)
def test_pages_about_people(page: Page) -> None:
    page.goto("/trust")
    look_at(page, "trust")
    sign_in(page, "Kay Orr", "not the password")
    expect(page.get_by_role("alert").filter(has_text="Name and password")).to_be_visible()
    look_at(page, "sign-in")
    sign_in(page, "kay orr", WORDS)
    expect(page.get_by_role("link", name="Kay Orr")).to_be_visible()
    for path in ("you", "people", "tokens", "access-log"):
        page.goto(f"/{path}")
        look_at(page, path)


def test_in_and_out_by_keyboard(page: Page) -> None:
    page.goto("/works?finished=true")
    expect(page).to_have_url(re.compile(r"/sign-in\?to=/works%3Ffinished%3Dtrue$"))
    page.get_by_label("Name").focus()
    page.keyboard.type("Ada Kell")
    page.keyboard.press("Tab")
    page.keyboard.type(OTHER)
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile(r"/works\?finished=true$"))
    cookie = next(one for one in page.context.cookies() if "session" in one["name"])
    assert (cookie["name"], cookie["secure"], cookie["httpOnly"], cookie["sameSite"]) == (
        "__Host-session", True, True, "Strict",
    )  # fmt: skip
    page.goto("/people")
    expect(page.get_by_role("heading", level=1)).to_have_text("This is for others")
    page.get_by_role("button", name="Sign out").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Sign in")
    page.go_back()
    expect(page.get_by_role("heading", level=1)).to_have_text("Sign in")  # nothing is shown again


def test_a_person_is_made_and_changes_the_password_first(page: Page) -> None:
    sign_in(page, "Kay Orr", WORDS)
    page.goto("/people")
    page.get_by_label("Name", exact=True).fill("Bo Lund")
    page.locator("#new-password").fill("chosen by somebody 7")
    page.get_by_label("Password again").fill("chosen by somebody 7")
    page.locator("#new-press").check()
    page.get_by_role("button", name="Add").click()
    expect(page.get_by_role("status").filter(has_text="Bo Lund can sign in now.")).to_be_visible()
    page.get_by_text("Change Bo Lund").click()
    look_at(page, "changing")
    with page.expect_navigation():
        page.get_by_role("button", name="Sign out").click()
    sign_in(page, "Bo Lund", "chosen by somebody 7")
    expect(page.locator("main")).to_contain_text("Somebody else chose your password.")
    page.get_by_label("Present password").fill("chosen by somebody 7")
    page.get_by_label("New password", exact=True).fill("rain over the tin roof")
    page.get_by_label("New password again").fill("rain over the tin roof")
    page.get_by_role("button", name="Change it").click()
    expect(page).to_have_url(re.compile(r":\d+/$"))


def test_a_token_is_seen_once(page: Page) -> None:
    sign_in(page, "Kay Orr", WORDS)
    page.goto("/tokens")
    page.get_by_label("Name of the machine").fill("scale 2")
    page.get_by_label("weighed").check()
    page.get_by_role("button", name="Make it").click()
    expect(page.locator(".secret")).to_have_text(re.compile(r"^dw_[0-9a-f]{12}_[\w-]{43}$"))
    look_at(page, "token")
    page.goto("/tokens")
    expect(page.locator(".secret")).to_have_count(0)
    page.get_by_role("button", name="Revoke scale 2").click()
    expect(page.locator("main")).to_contain_text("revoked")
