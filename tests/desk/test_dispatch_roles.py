"""Who may take orders, pack, load and tell: every role at every button between stock and dock."""

from __future__ import annotations

from typing import Any

import pytest
from argon2 import PasswordHasher

from discwright.works.people import ROLES
from discwright.works.store import passwords
from discwright.works.store.people import By, add_person
from discwright.works.store.sessions import sign_in

WORDS = "four words in a row"
#: By hand: who may press what. Whoever may is told what is wrong with what was sent, and nobody else.
MAY = {
    "/orders/file": "packing keeper", "/orders/cancel": "packing keeper", "/packing/pack": "packing keeper",
    "/packing/open": "packing keeper", "/dock/load": "packing keeper", "/recalls/told": "engineer packing keeper",
}  # fmt: skip
#: What stands on a page for whoever may, and for nobody else.
SHOWN = {"/orders": 'id="take-orders"', "/packing": 'id="pack"', "/dock": 'id="scan"'}


@pytest.fixture
def sessions(dispatch: Any, monkeypatch: pytest.MonkeyPatch) -> dict[str, dict[str, str]]:
    """Headers of somebody of each role, as the desk's own pages send them."""
    light = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(passwords, "_hasher", lambda: light)
    by = By("root", "command line")
    for role in sorted(ROLES, key=lambda one: one != "keeper"):
        add_person(dispatch.ledger, f"{role} one", (role,), WORDS, by=by)
    dispatch.client.cookies.clear()
    return {
        role: {
            "Cookie": f"session={sign_in(dispatch.ledger, f'{role} one', WORDS, 'testclient').number}; dock=1",
            "Origin": "http://127.0.0.1:8333",
        }
        for role in ROLES
    }


def test_every_role_at_every_button(dispatch: Any, sessions: dict[str, dict[str, str]]) -> None:
    seq = dispatch.ledger.head()[0]
    for role, headers in sessions.items():
        for path, allowed in MAY.items():
            form = {"data": {"order": "9", "code": "x", "run": "x", "prefix": "12"}} if path != "/orders/file" else {}
            status = dispatch.client.post(path, headers=headers, **form).status_code
            assert (status == 403) == (role not in allowed.split()), (role, path, status)
            assert status in (403, 404, 422), (role, path)
    assert dispatch.ledger.head()[0] == seq


def test_nobody_is_shown_what_she_may_not(dispatch: Any, sessions: dict[str, dict[str, str]]) -> None:
    for role, headers in sessions.items():
        for path, what in SHOWN.items():
            page = dispatch.client.get(path, headers=headers)
            assert page.status_code == 200
            shown = what in page.text and (path != "/dock" or 'action="/dock/load"' in page.text)
            assert shown == (role in ("packing", "keeper")), (role, path)
        assert ("/orders/cancel" in dispatch.client.get("/orders", headers=headers).text) == (
            role in ("packing", "keeper")
        )  # fmt: skip


def test_a_line_is_by_whoever_is_signed_in(dispatch: Any, sessions: dict[str, dict[str, str]]) -> None:
    said = {"account": "K2", "prefix": "9521234", "key": "k", "by": "Kay"}
    assert dispatch.client.post("/packing/pack", data=said, headers=sessions["packing"]).status_code == 303
    assert dispatch.ledger.line(dispatch.ledger.head()[0]).by == "packing one"
