"""Looking into the ledger: the board in order of lateness, a part's whole line, whatever a number leads to."""

from __future__ import annotations

from typing import Any

import pytest

from discwright.works import events as e
from discwright.works.store.ledger import Ledger, Order
from discwright.works.store.look import PAGE, board, part_lines, search

LATER = "2031-06-01T00:00:00.000000+00:00"
NOW = "2031-01-01T00:00:00.000000+00:00"


def found(ledger: Ledger, text: str) -> list[tuple[str, str, str]]:
    return [(one.what, one.title, one.part) for one in search(ledger, text)]


def test_any_printed_number_leads_somewhere(ledger: Ledger, works: Any) -> None:
    works.take_in(ledger)
    made = works.make_side(ledger)
    assert found(ledger, "vk1001")[0] == ("catalogue number", "VK 1001", "")
    assert ("title", "VK 1001", "") in found(ledger, "HARBOUR lights")
    assert found(ledger, made.stamper.lower().replace("-", "")) == [("part", "VK 1001", made.stamper)]
    assert ("run-out mark", "VK 1001", made.master) in found(ledger, "m1")
    assert ("run-out mark", "VK 1001", made.lacquer) in found(ledger, "VK 1001-A")
    assert found(ledger, "l77") == [("lacquer batch", "VK 1001", made.lacquer)]
    assert found(ledger, "T-3") == [("cutting tip", "VK 1001", made.lacquer)]
    assert ("plan fingerprint", "VK 1001", made.lacquer) in found(ledger, works.sha("plan VK 1001A"))
    head = ledger.head()[1]
    assert found(ledger, head) == found(ledger, head[:12]) == [("line", "VK 1001", made.stamper)]
    for nothing in ("", "  -  ", "%", "_", "vk1002", "head"):
        assert found(ledger, nothing) == []


def test_a_beginning_finds_and_the_whole_comes_first(ledger: Ledger, works: Any) -> None:
    for name in ("VK 1001", "VK 100", "VK 1"):
        works.take_in(ledger, name)
    catalogue = [title for what, title, _ in found(ledger, "VK 1") if what == "catalogue number"]
    assert catalogue == ["VK 1", "VK 100", "VK 1001"]
    assert [title for what, title, _ in found(ledger, "vk100") if what == "catalogue number"] == ["VK 100", "VK 1001"]


def test_the_board_shows_first_what_is_late_or_will_be(ledger: Ledger, works: Any) -> None:
    for name, due in (("VK 3", "2031-05-01"), ("VK 1", "2031-04-01"), ("VK 2", ""), ("VK 4", "2031-07-01")):
        edition = {"id": "lp", "format": "12in-33", "quantity": 5, "due": due, "sides": ["A"]}
        ledger.append(Order(e.TitleTakenIn(name=name, editions=(edition,)), "Ann", title=name))
    shown = board(ledger, LATER)
    assert [one.family.title for one in shown.titles] == ["VK 1", "VK 3", "VK 4", "VK 2"]
    assert (shown.open_titles, shown.late_titles, shown.all_titles) == (4, 2, 4)
    assert board(ledger, NOW).late_titles == 0
    assert [one.family.title for one in board(ledger, NOW, first=2).titles] == ["VK 4", "VK 2"]
    assert board(ledger, NOW, finished=True).titles == ()


def test_a_page_of_the_board_is_a_page(ledger: Ledger, works: Any) -> None:
    for k in range(PAGE + 3):
        works.take_in(ledger, f"VK {k:03}")
    first, second = board(ledger, NOW), board(ledger, NOW, first=PAGE)
    assert (len(first.titles), len(second.titles), first.open_titles) == (PAGE, 3, PAGE + 3)


@pytest.mark.parametrize("place", ["lacquer", "master", "mother", "stamper"])
def test_a_part_has_its_own_lines_and_the_births_of_its_children(ledger: Ledger, works: Any, place: str) -> None:
    works.take_in(ledger)
    made = works.make_side(ledger)
    part = getattr(made, place)
    wrong = next(line for line in ledger.lines(part=part))
    again = ledger.append(Order(e.HandedOver(to="vault"), "Ann", part=part)).line
    assert again is not None
    ledger.append(Order(e.Corrected(seq=again.seq), "Ann", title="VK 1001", part=part))
    family = ledger.family("VK 1001")
    lines = part_lines(ledger, family, part)
    # by another road: every line of the title that is about the part, or says that something was grown on it.
    wanted = [line.seq for line in ledger.lines(title="VK 1001") if part in (line.part, line.data.get("parent"))]
    assert [line.seq for line in lines] == wanted
    assert lines[0] == wrong
    assert lines[-1].kind == "corrected"
