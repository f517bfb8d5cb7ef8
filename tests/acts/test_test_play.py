"""A test play in the ledger: kept with its faults, judged with a reason, laid over others of its side."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from discwright.acts.test_play import faults_of, judge, keep_play, kept_plays, lay_over
from discwright.acts.works import Hand
from discwright.acts.works_look import part_for
from discwright.acts.works_record import Said, record
from discwright.errors import CallError
from discwright.faults import MOST_FAULTS
from discwright.works import events as e
from discwright.works.store.ledger import Ledger, Order, begin_ledger

HAND = Hand("Ada")
NOUGHT = "0" * 64


def fault(turn: float, kind: str = "tick", **more: Any) -> dict[str, Any]:
    return {
        "time_s": turn * 1.8, "kind": kind, "turn": turn, "radius_mm": 120.0, "angle_deg": 360.0 * (turn % 1.0),
        "channel": "both", "duration_s": 0.001, "size_db": 12.0, "audible": True,
    } | more  # fmt: skip


def report(*faults: dict[str, Any], verdict: str = "pass", **more: Any) -> dict[str, Any]:
    return {
        "measures": {}, "defects": list(faults), "findings": [], "verdict": verdict,
        "capture": {"path": "a.wav", "sha256": "ab" * 32},
    } | more  # fmt: skip


def written(ledger: Ledger, event: e.Event) -> str:
    line = ledger.append(Order(event, "Ada", "VK 1", accepted="for this")).line
    assert line is not None
    return line.part


def grown(ledger: Ledger, parent: str, kind: str) -> str:
    return written(ledger, e.Plated(parent=parent, part_kind=kind))


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    """A title; of each of its sides a lacquer, a master, two mothers and a stamper."""
    ledger = begin_ledger(str(tmp_path / "works.sqlite"))
    edition = {"id": "lp", "format": "12in-33", "quantity": 1, "due": "", "sides": ["A", "B"]}
    ledger.append(Order(e.TitleTakenIn(name="Quay", editions=(edition,)), "Ada", "VK 1"))
    for side in ("A", "B"):
        cut = e.LacquerCut(edition="lp", side=side, fingerprint=NOUGHT, programme_sha256=NOUGHT, lacquer_batch="7")
        master = grown(ledger, written(ledger, cut), "master")
        mother, _ = (grown(ledger, master, "mother") for _ in range(2))
        grown(ledger, mother, "stamper")
    return ledger


def parts(ledger: Ledger, kind: str, side: str = "A") -> list[str]:
    return [one.id for one in ledger.family("VK 1").parts.values() if one.kind == kind and one.side == side]


def kept(ledger: Ledger, part: str, told: dict[str, Any], **more: Any) -> int:
    outcome = keep_play(ledger, part_for(ledger, part)[1], told, HAND, **more)
    assert outcome.line is not None
    return outcome.line.seq


def test_a_play_is_kept_with_its_faults(ledger: Ledger) -> None:
    (mother, _) = parts(ledger, "mother")
    seq = kept(
        ledger, mother, report(fault(3.25), fault(7.5, audible=False)), kept_as="desk play 1", note="two light ones"
    )
    line = ledger.line(seq)
    assert line is not None
    assert line.data["verdict"] == "pass"
    assert line.data["report"] == "desk play 1"
    assert line.data["capture_sha256"] == "ab" * 32
    assert [one["turn"] for one in line.data["defects"]] == [3.25, 7.5]
    _, part = part_for(ledger, mother)
    assert (part.played, part.faults, part.audible) == (True, 2, 1)


def test_a_pressing_is_named_only_of_a_stamper(ledger: Ledger) -> None:
    (stamper,), mother = parts(ledger, "stamper"), parts(ledger, "mother")[0]
    of_stamper = ledger.line(kept(ledger, stamper, report(), pressing="3"))
    of_mother = ledger.line(kept(ledger, mother, report(), pressing="3"))
    assert of_stamper is not None
    assert of_mother is not None
    assert of_stamper.data["pressing"] == "3"
    assert "pressing" not in of_mother.data


def test_a_master_is_no_disc(ledger: Ledger) -> None:
    (master,) = parts(ledger, "master")
    with pytest.raises(CallError, match=r"is a master and no disc to play; play one of its mothers\.$"):
        keep_play(ledger, part_for(ledger, master)[1], report(), HAND)


def test_a_capture_that_ends_early_says_how_far_it_went(ledger: Ledger) -> None:
    early = {"code": "ends_early", "severity": "stop", "turn": 312.5}
    line = ledger.line(kept(ledger, parts(ledger, "mother")[0], report(findings=[early], verdict="stop")))
    assert line is not None
    assert line.data["to_turn"] == 312.5


def test_of_too_many_faults_those_that_are_heard_and_the_largest_are_kept(ledger: Ledger) -> None:
    many = [fault(k + 0.5, size_db=0.1 * k, audible=False) for k in range(MOST_FAULTS + 20)]
    many[3] |= {"audible": True}
    chosen = faults_of(report(*many))
    assert len(chosen) == MOST_FAULTS
    # By hand: 21 of the smallest stand back but for the one that is heard, which is number 3.
    assert [one["turn"] for one in chosen][:2] == [3.5, 21.5]
    line = ledger.line(kept(ledger, parts(ledger, "mother")[0], report(*many)))
    assert line is not None
    assert line.data["count"] == MOST_FAULTS + 20


def test_a_verdict_needs_a_reason_unless_the_play_says_the_same(ledger: Ledger) -> None:
    mother = part_for(ledger, parts(ledger, "mother")[0])[1]
    with pytest.raises(CallError, match=r"cannot be refused without a reason; say why\.$"):
        judge(ledger, mother, False, " ", HAND, heard="stop")
    with pytest.raises(CallError, match=r"cannot be approved against its play without a reason"):
        judge(ledger, mother, True, "", HAND, heard="stop")
    assert judge(ledger, mother, True, "", HAND, heard="pass").line is not None
    refused = judge(ledger, mother, False, "a scratch at 40°", HAND).line
    assert refused is not None
    assert (refused.kind, refused.data["note"]) == ("refused", "a scratch at 40°")
    assert part_for(ledger, mother.id)[1].verdict == "refused"


def test_plays_over_one_another_share_what_lies_at_one_place(ledger: Ledger) -> None:
    one, other = parts(ledger, "mother")
    first = kept(ledger, one, report(fault(3.25), fault(9.0, size_db=20.0)))
    # By hand: 1° and 1.8 ms later is within the window of 2°; 10° is not; a crackle is no tick.
    second = kept(ledger, other, report(fault(3.2528), fault(9.0278), fault(9.0, "crackle")))
    laid = lay_over(ledger, [second, first, second])
    assert [one.line.seq for one in laid.plays] == [first, second]
    assert (laid.edition, laid.side, laid.shared) == ("lp", "A", 1)
    assert {(one.kind, one.turn, len(one.marks)) for one in laid.spots} == {
        ("tick", 3, 2), ("tick", 9, 1), ("crackle", 9, 1)
    }  # fmt: skip
    assert laid.window_deg == pytest.approx(2.0)


def test_plays_of_two_sides_are_no_pair(ledger: Ledger) -> None:
    seqs = [kept(ledger, parts(ledger, "mother", side)[0], report()) for side in ("A", "B")]
    with pytest.raises(CallError, match=r"is no test play of side A that says where its faults lie"):
        lay_over(ledger, seqs)
    with pytest.raises(CallError, match=r"from two to 6 plays are laid over one another; choose so many\.$"):
        lay_over(ledger, seqs[:1])
    with pytest.raises(CallError, match=r"line 1 is no test play; choose plays of the list\.$"):
        lay_over(ledger, [1, 2])


def test_a_play_by_ear_that_says_no_place_is_not_offered(ledger: Ledger) -> None:
    mother = parts(ledger, "mother")[0]
    record(ledger, mother, "test_played", Said(count=4), HAND)
    clean = record(ledger, mother, "test_played", Said(count=0), HAND).line
    assert clean is not None
    family = ledger.family("VK 1")
    assert [one.line.seq for one in kept_plays(ledger, family, "lp", "A")] == [clean.seq]
