"""Corrections in the ledger: undone, said otherwise, corrected again; and what may not be corrected."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ledgers import Made, Works

from discwright.works import events as e
from discwright.works.parts import part_number
from discwright.works.store.ledger import Ledger, Order, Outcome
from discwright.works.store.look import search
from discwright.works.store.verify import verify


def line_about(ledger: Ledger, part: str, kind: str) -> int:
    return next(line.seq for line in ledger.lines(part=part) if line.kind == kind)


def correct(ledger: Ledger, part: str, seq: int, instead: dict[str, Any] | None = None) -> Outcome:
    event = e.Corrected(seq=seq, instead=instead, note="a slip of the hand")
    return ledger.append(Order(event, "Ola Berg", "VK 1001", part))


def made_works(ledger: Ledger, works: Works) -> Made:
    works.take_in(ledger)
    return works.make_side(ledger)


def test_undone_and_brought_back(ledger: Ledger, works: Works) -> None:
    made = made_works(ledger, works)
    before = ledger.family("VK 1001").parts[made.stamper]
    vaulted = line_about(ledger, made.stamper, "vaulted")
    undone = correct(ledger, made.stamper, vaulted)
    assert undone.line is not None
    assert ledger.family("VK 1001").parts[made.stamper].state == "taken_off"
    assert verify(ledger).ready
    assert correct(ledger, made.stamper, undone.line.seq).line is not None
    assert ledger.family("VK 1001").parts[made.stamper] == before
    assert verify(ledger).ready


def test_said_otherwise_and_found_under_both_names(ledger: Ledger, works: Works) -> None:
    made = made_works(ledger, works)
    birth = ledger.line(line_about(ledger, made.stamper, "plated"))
    assert birth is not None
    outcome = correct(ledger, made.stamper, birth.seq, dict(birth.data) | {"mark": "S17"})
    assert outcome.line is not None
    assert ledger.family("VK 1001").parts[made.stamper].marks == ("VK 1001-A", "M1", "S17")
    # The card that was printed with the wrong mark still leads to the part.
    assert {(one.shown, one.part) for mark in ("S1", "s17") for one in search(ledger, mark)} >= {
        ("S1", made.stamper), ("S17", made.stamper),
    }  # fmt: skip
    assert verify(ledger).ready
    count = line_about(ledger, made.stamper, "taken_off")
    assert correct(ledger, made.stamper, count, {"count": 48}).line is not None
    assert ledger.family("VK 1001").parts[made.stamper].pressings == 48
    # by hand: a correction of the correction counts instead of it.
    again = correct(ledger, made.stamper, ledger.head()[0], {"seq": count, "instead": {"count": 84}})
    assert again.line is not None
    assert ledger.family("VK 1001").parts[made.stamper].pressings == 84
    assert verify(ledger).ready


def test_a_part_that_was_never_born_keeps_its_number(ledger: Ledger, works: Works) -> None:
    made = made_works(ledger, works)
    other = works.grow(ledger, made.mother, "stamper")
    separated = line_about(ledger, other, "separated")
    birth = line_about(ledger, other, "plated")
    # The line that rests on it is put right first.
    refused = correct(ledger, other, birth)
    assert refused.line is None
    assert refused.findings[0].remedy == (
        f"Line {separated} rests on line {birth} and would be impossible without it; correct the later one first."
    )
    assert correct(ledger, other, separated).line is not None
    undone = correct(ledger, other, birth)
    assert undone.line is not None
    family = ledger.family("VK 1001")
    assert other not in family.parts
    assert family.parts[made.mother].children == (made.stamper,)
    assert ledger.family_of(other) == family
    gone = ledger.append(Order(e.Weighed(mass_g=1.0), "Ola Berg", part=other))
    assert gone.line is None
    assert [one.code for one in gone.findings] == ["impossible"]
    assert verify(ledger).ready
    # Nobody else gets the number, not even after the ledger is opened anew.
    fresh = Ledger(ledger.engine, ledger.where)
    assert works.cut(fresh, side="B") == part_number("lacquer", 6)
    assert correct(fresh, other, undone.line.seq).line is not None
    assert fresh.family("VK 1001").parts[other].state == "plated"
    assert verify(ledger).ready


def test_what_cannot_be_corrected(make_ledger: Callable[[str], Ledger], works: Works) -> None:
    ledger = make_ledger("sqlite")
    made = made_works(ledger, works)
    works.take_in(ledger, "VK 1002")
    head = ledger.head()
    for part, seq, words in (
        (made.stamper, 999, "VK 1001 has no line 999"), (made.stamper, head[0], f"VK 1001 has no line {head[0]}"),
        (made.mother, line_about(ledger, made.mother, "passivated"), "would be passivation without it"),
        (made.mother, line_about(ledger, made.mother, "approved"), "would be unapproved without it"),
        (made.lacquer, 1, "would be impossible without it"),
    ):  # fmt: skip
        outcome = correct(ledger, part, seq)
        assert outcome.line is None
        assert words in outcome.findings[0].remedy
    assert ledger.head() == head


def test_a_title_that_was_undone_was_not_taken_in(ledger: Ledger, works: Works) -> None:
    works.take_in(ledger)
    assert correct(ledger, "", 1).line is not None
    outcome = ledger.append(Order(e.TestCutMeasured(width_um=50.0), "Ola Berg", "VK 1001"))
    assert outcome.line is None
    assert "was not taken in; take it in first" in outcome.findings[0].remedy
    works.take_in(ledger)
    works.make_side(ledger)
    assert verify(ledger).ready
