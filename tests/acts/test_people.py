"""May somebody do this, and whose hand is it: the sentences, and what stays out of forms."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from discwright.acts.people import NotAllowedError, check_may, check_may_correct, check_may_record, hand_of
from discwright.errors import CallError
from discwright.works import events as e
from discwright.works.people import NOBODY, Person
from discwright.works.store.ledger import Ledger, Order, begin_ledger

ADA = Person("Ada Kell", ("plating",))
ALONE = Person("", one_person=True)
NOW = datetime(2031, 4, 2, 9, 0, tzinfo=UTC)


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    """Three lines: one by Ada, one by Bo, a verdict in Ada's name."""
    ledger = begin_ledger(str(tmp_path / "works.sqlite"), clock=lambda: NOW)
    put = [
        Order(e.TitleTakenIn(name="Quay"), "Bo", "VK 1"),
        Order(e.LacquerCut(side="A", fingerprint="0" * 64, programme_sha256="0" * 64, lacquer_batch="7"), "Bo", "VK 1"),
        Order(e.Silvered(), "Ada Kell", part="LA1-3"),
        Order(e.Approved(), "Ada Kell", part="LA1-3"),
    ]
    lacquer = ""
    for order in put:
        outcome = ledger.append(Order(order.event, order.by, order.title, lacquer if order.part else ""))
        assert outcome.line is not None, outcome.findings
        lacquer = outcome.line.part or lacquer
    yield ledger
    ledger.close()


def test_a_refusal_says_what_and_whom_to_ask() -> None:
    with pytest.raises(
        NotAllowedError, match=r"^the plating may not plan, choose and upload; ask an engineer or a keeper\.$"
    ):
        check_may(ADA, "plan")
    with pytest.raises(NotAllowedError, match=r"^the plating may not keep people, .*; ask a keeper\.$"):
        check_may(ADA, "keep_people")
    with pytest.raises(NotAllowedError, match=r"^the plating may not record approved; ask an engineer or a keeper\.$"):
        check_may_record(ADA, "approved")
    with pytest.raises(NotAllowedError, match=r"^the token scale 2 may not record plated; ask "):
        check_may_record(Person("scale 2", token="1", scopes=frozenset({"weighed"})), "plated")
    with pytest.raises(
        NotAllowedError, match=r"^nobody who is not signed in may not look|^nobody who is not signed in"
    ):
        check_may(NOBODY, "see")
    with pytest.raises(NotAllowedError, match="what the ledger does not know"):
        check_may_record(ADA, "<b>nonsense</b>")


def test_a_hand_is_whoever_is_signed_in() -> None:
    assert hand_of(ADA, said_by="Kay Orr", station="bath 1", key="k").by == "Ada Kell"
    assert hand_of(ALONE, said_by=" Anna  Østby ").by == "Anna Østby"
    assert hand_of(Person("Anna", one_person=True)).by == "Anna"
    with pytest.raises(CallError, match="say who you are at the top of the page"):
        hand_of(ALONE)
    with pytest.raises(CallError, match="letters that can be seen"):
        hand_of(ALONE, said_by="a\u202eb")


def test_a_stop_is_accepted_by_some_only() -> None:
    with pytest.raises(NotAllowedError, match="may not accept a stop"):
        hand_of(ADA, accepted="it is fine")
    assert hand_of(Person("Eva", ("engineer",)), accepted="it is fine").accepted == "it is fine"
    assert hand_of(ADA, accepted="  ").by == "Ada Kell"


def test_whose_line_it_is(ledger: Ledger) -> None:
    check_may_correct(ledger, ADA, 3)
    with pytest.raises(NotAllowedError, match="may not record lacquer_cut"):
        check_may_correct(ledger, ADA, 2)
    with pytest.raises(NotAllowedError, match="may not record approved"):
        check_may_correct(ledger, ADA, 4)
    with pytest.raises(NotAllowedError, match=r"line 2 is by Bo of 2031-04-02T09:00.*only a keeper corrects"):
        check_may_correct(ledger, Person("Eva", ("engineer",)), 2)
    ledger.clock = lambda: NOW + timedelta(hours=25)
    with pytest.raises(NotAllowedError, match="older than 24 h, only a keeper corrects"):
        check_may_correct(ledger, ADA, 3)
    check_may_correct(ledger, Person("Kay", ("keeper",)), 2)
    for none in (0, -1, 99):
        with pytest.raises(CallError, match=f"has no line {none}"):
            check_may_correct(ledger, ADA, none)
