"""A ledger that another version folded works its tables out again when it is opened; its lines stay as they are."""

from __future__ import annotations

import pytest
from sqlalchemy import text

from discwright.works import events as e
from discwright.works.store import ledger as ledger_module
from discwright.works.store.connect import writing
from discwright.works.store.ledger import Order, begin_ledger, open_ledger
from discwright.works.store.verify import verify


def told(address: str) -> str:
    """A title with a lacquer; its number."""
    ledger = begin_ledger(address)
    edition = {"id": "lp", "format": "12in-33", "quantity": 1, "due": "", "sides": ["A"]}
    ledger.append(Order(e.TitleTakenIn(name="Quayside", editions=(edition,)), "Ann", title="QS 1"))
    cut = e.LacquerCut(edition="lp", side="A", fingerprint="f" * 64, programme_sha256="a" * 64, lacquer_batch="B")
    line = ledger.append(Order(cut, "Ann", title="QS 1")).line
    assert line is not None
    with writing(ledger.engine) as connection:
        connection.execute(text("UPDATE parts SET state = 'vaulted'"))
        connection.execute(text("DELETE FROM numbers"))
    assert [one.seq for one in verify(ledger).breaks] != []
    ledger.close()
    return line.part


def test_what_is_kept_is_made_again_once(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    part = told(address)
    same = open_ledger(address)
    assert verify(same).breaks != ()  # this version folded it: nothing is hidden by opening it
    head = same.head()
    same.close()
    monkeypatch.setattr(ledger_module, "FOLDING", 99)
    newer = open_ledger(address)
    assert verify(newer).ready
    assert newer.family("QS 1").parts[part].state == "cut"
    assert newer.head() == head
    assert newer.setting("folding") == "99"
    newer.close()


def test_lines_that_tell_nothing_keep_nobody_out(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    told(address)
    spoiled = open_ledger(address)
    with writing(spoiled.engine) as connection:
        connection.execute(text("UPDATE lines SET data = '[' WHERE seq = 2"))
    spoiled.close()
    monkeypatch.setattr(ledger_module, "FOLDING", 99)
    opened = open_ledger(address)
    assert not verify(opened).whole
    opened.close()
