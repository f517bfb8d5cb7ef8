"""Runs, first-offs and lots out of the ledger."""

from __future__ import annotations

import pytest
from pressed import ANN, made, stampers_of, take_title

from discwright.acts.first_off import inspect_first_off
from discwright.acts.lots import decide_lot, inspect_lot, plan_lot, restart_inspection
from discwright.acts.runs import begin_run, press_run, run_for, stock_run, take_out
from discwright.errors import CallError
from discwright.works.first_off import FirstOffSeen
from discwright.works.lot import LotDefect
from discwright.works.store.ledger import Ledger


@pytest.fixture
def run(ledger: Ledger) -> str:
    take_title(ledger, "NL 4", "lp")
    number = made(begin_run(ledger, "NL 4/lp", stampers_of(ledger, "NL 4", "lp"), ANN, planned=1065))
    assert run_for(ledger, number.lower())[1].press == "2"  # where its stampers are
    return number


def seen(ledger: Ledger, number: str, **more: object) -> FirstOffSeen:
    """A first disc as it should be (limits published: hole 7.24 to 7.33, 0.2 mm off centre; weight by the house)."""
    family, run = run_for(ledger, number)
    marks = {side: " ".join(family.parts[one].marks) for side, one in run.stampers.items()}
    good = {
        "hole_mm": 7.26, "off_centre_mm": 0.08, "weight_g": 140.0, "labels": "right", "marks_read": marks,
        "stampers": run.stampers, "played": "pass",
    }  # fmt: skip
    return FirstOffSeen(**good | more)  # type: ignore[arg-type]


def passed(ledger: Ledger, number: str) -> None:
    outcome, found = inspect_first_off(ledger, number, seen(ledger, number), ANN)
    assert outcome.line is not None
    assert [one.severity for one in found] == ["note"]  # the wow alone


@pytest.mark.parametrize(
    ("wrong", "code"),
    [
        ({"hole_mm": 7.23}, "first_off_hole"),
        ({"hole_mm": 7.34}, "first_off_hole"),
        ({"off_centre_mm": 0.21}, "first_off_centring"),
        ({"weight_g": 90.0}, "first_off_weight"),
        ({"labels": "wrong side"}, "first_off_labels"),
        ({"marks_read": {"A": "NL 4 lp A M1 S1", "B": "NL 4 lp A M1 S1"}}, "first_off_marks"),
        ({"stampers": {"A": "ST1-1", "B": "ST2-2"}}, "first_off_stampers"),
        ({"played": "stop"}, "first_off_play"),
        ({"played": None}, "first_off_missing"),
    ],
)
def test_a_first_off_that_misses_a_limit_is_written_down_and_holds_the_run(
    ledger: Ledger, run: str, wrong: dict[str, object], code: str
) -> None:
    outcome, found = inspect_first_off(ledger, run, seen(ledger, run, **wrong), ANN)
    assert outcome.line is not None
    assert code in {one.code for one in found if one.severity == "stop"}
    assert run_for(ledger, run)[1].first_off == "stop"
    refused = press_run(ledger, run, 10, 10, ANN)
    assert [one.code for one in refused.findings] == ["first_off"]
    passed(ledger, run)
    made(press_run(ledger, run, 10, 10, ANN))


def test_a_lot_from_plan_to_bin(ledger: Ledger, run: str) -> None:
    passed(ledger, run)
    made(press_run(ledger, run, 1065, 1040, ANN))
    plan = plan_lot(ledger, run)
    by_class = {one.defect_class: one for one in plan.classes}
    # Published (ISO 2859-1): a lot of 1040, level II, is letter J; at AQL 1.0 n = 80, 2/3; the house may choose others.
    assert by_class["major"].n in (50, 80, 125)
    assert len(set(plan.take)) == max(one.n for one in plan.classes)
    assert plan_lot(ledger, run).take == plan.take
    outcome, _, verdict = inspect_lot(ledger, run, ANN, found={"major": 1})
    made(outcome)
    assert (verdict.accepted, verdict.bad) == (True, 1)
    made(stock_run(ledger, run, "A-1", ANN))
    assert run_for(ledger, run)[1].bins == {"A-1": 1039}
    made(take_out(ledger, run, "A-1", 2, ANN, note="kept"))
    assert run_for(ledger, run)[1].bins == {"A-1": 1037}
    with pytest.raises(CallError, match="has 0 discs to inspect"):
        plan_lot(ledger, run)


def test_a_critical_defect_refuses_a_lot_and_somebody_decides(ledger: Ledger, run: str) -> None:
    passed(ledger, run)
    made(press_run(ledger, run, 300, 300, ANN))
    disc = plan_lot(ledger, run, count=200).take[0]
    defects = [LotDefect("wrong-sleeve", "critical", disc), LotDefect("scratch", "major", disc, "A", 101.5, 45.0)]
    outcome, _, verdict = inspect_lot(ledger, run, ANN, count=200, defects=defects)
    made(outcome)
    assert (verdict.accepted, verdict.critical, verdict.bad) == (False, 1, 1)
    lot = run_for(ledger, run)[1].lots[0]
    assert (lot.verdict, lot.held, len(lot.defects)) == ("refused", 199, 2)
    with pytest.raises(CallError, match="say how many are good"):
        decide_lot(ledger, run, 1, "sorted", ANN)
    with pytest.raises(CallError, match="released for a reason"):
        decide_lot(ledger, run, 1, "released", ANN)
    released = decide_lot(ledger, run, 1, "released", ANN, note="the account wants them so")
    assert "critical defect was found" in released.findings[0].remedy
    assert "at most 199" in decide_lot(ledger, run, 1, "sorted", ANN, good=200).findings[0].remedy
    made(decide_lot(ledger, run, 1, "sorted", ANN, good=190))
    assert run_for(ledger, run)[1].to_stock == 190
    assert "sold" in decide_lot(ledger, run, 1, "sold", ANN).findings[0].remedy


def test_inspection_tightens_stops_and_is_taken_up_again(ledger: Ledger, run: str) -> None:
    passed(ledger, run)
    made(press_run(ledger, run, 9000, 9000, ANN))
    kinds = []
    for _ in range(7):
        kinds.append(plan_lot(ledger, run, count=1000).as_dict()["classes"][1]["inspection"])
        made(inspect_lot(ledger, run, ANN, count=1000, found={"major": 40})[0])
    assert kinds == ["normal", "normal", *["tightened"] * 5]  # by hand, as the switching rules say
    with pytest.raises(CallError, match="is stopped"):
        plan_lot(ledger, run)
    made(restart_inspection(ledger, "NL 4/lp", "major", "the mould was cleaned", ANN))
    assert plan_lot(ledger, run).as_dict()["classes"][1]["inspection"] == "tightened"


def test_numbers_that_are_no_runs(ledger: Ledger, run: str) -> None:
    stamper = run_for(ledger, run)[1].stampers["A"]
    with pytest.raises(CallError, match="is a part and no run"):
        press_run(ledger, stamper, 1, 1, ANN)
    with pytest.raises(CallError, match="is no edition"):
        begin_run(ledger, "NL 4", {"A": stamper}, ANN)
