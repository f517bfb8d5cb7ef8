"""What is kept beside the lines is what they say, whatever happens; and every printed number leads somewhere."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from happenings import TITLE, Choice, choices, happening, wrongs
from hypothesis import HealthCheck, given, settings
from ledgers import Works
from sqlalchemy import select

from discwright.works import events as e
from discwright.works.family import Family
from discwright.works.history import fold
from discwright.works.store import kept, tables
from discwright.works.store.connect import reading
from discwright.works.store.ledger import Ledger, Order
from discwright.works.store.verify import verify


def happen(ledger: Ledger, title: str, choice: Choice) -> None:
    """Something that may happen to a title, as the ledger lets it."""
    family = next(iter(fold(ledger.lines(title=title)).values()), Family(title))
    lines = list(ledger.lines(title=title))
    kind, part, data, accepted = happening(family, lines, choice)
    event = e.read_event(kind, data)
    about = part if kind not in ("lacquer_cut", "plated") else ""
    known = about in family.parts or kind == "corrected"
    named = title if not about or kind == "corrected" else ""
    if about and not known:
        return
    if kind == "plated" and data["parent"] not in family.parts:
        return
    ledger.append(Order(event, f"person {choice[2] % 3}", named, about, accepted=accepted))


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_what_is_kept_is_what_the_lines_say(kind: str, make_ledger: Callable[[str], Ledger]) -> None:
    ledger, titles = make_ledger(kind), [0]

    @settings(
        max_examples=25 if kind == "sqlite" else 10, deadline=None, suppress_health_check=[HealthCheck.too_slow],
        database=None,
    )  # fmt: skip
    @given(choices)
    def told(story: list[Choice]) -> None:
        titles[0] += 1
        title = f"{TITLE}-{titles[0]}"
        for choice in story[:30]:
            happen(ledger, title, choice)
        lines = list(ledger.lines(title=title))
        # By another road: everything folded at once by a program that has remembered nothing.
        family = fold(lines).get(title, Family(title))
        with reading(ledger.engine) as connection:
            assert kept.read_family(connection, title) == family
        assert list(wrongs(family)) == []

    told()
    found = verify(ledger)
    assert found.breaks == ()


def test_every_printed_number_is_kept(ledger: Ledger, works: Works) -> None:
    works.take_in(ledger)
    made = works.make_side(ledger)
    with reading(ledger.engine) as connection:
        rows = connection.execute(select(tables.numbers)).all()
    found = {(row.what, row.shown, row.part) for row in rows}
    assert found == {
        ("catalogue number", "VK 1001", ""), ("title", "Harbour Lights", ""),
        ("plan fingerprint", works.sha("plan VK 1001A"), ""),
        ("plan fingerprint", works.sha("plan VK 1001A"), made.lacquer),
        ("lacquer batch", "L-77", made.lacquer), ("cutting tip", "T-3", made.lacquer),
        ("run-out mark", "VK 1001-A", made.lacquer), ("run-out mark", "M1", made.master),
        ("run-out mark", "S1", made.stamper), ("press", "press 4", made.stamper), ("place", "shelf 12", made.stamper),
        *(("part", one, one) for one in (made.lacquer, made.master, made.mother, made.stamper)),
        *(("tank", "2", one) for one in (made.master, made.mother, made.stamper)),
    }  # fmt: skip
    assert {row.folded for row in rows if row.what == "run-out mark"} == {"vk1001a", "m1", "s1"}


def test_families_come_in_the_order_they_are_asked_for(make_ledger: Callable[[str], Ledger], works: Works) -> None:
    ledger = make_ledger("sqlite")
    for title in ("VK 1", "VK 2", "VK 3"):
        works.take_in(ledger, title)
    with reading(ledger.engine) as connection:
        found = list(kept.read_families(connection, ["VK 3", "VK 404", "VK 1"]))
        assert list(kept.read_families(connection, [])) == []
    assert [one.title for one in found] == ["VK 3", "VK 1"]


def test_folding_of_numbers() -> None:
    # by hand.
    assert kept.folded("vk-1001 / A") == "vk1001a"
    assert kept.folded("Straße 7") == "strasse7"
    assert kept.folded("·–·") == ""
    assert len(kept.folded("x" * 900)) == 300
