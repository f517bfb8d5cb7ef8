"""The press hall planned from a ledger, kept in it, and what it promises."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from pressed import ANN, made, order_line, stampers_of, stocked_run, take_orders, take_title

from discwright.acts.hall_ledger import keep_schedule, kept_schedule, planned_supplies, schedule_works
from discwright.acts.orders import promise_orders
from discwright.acts.runs import begin_run, press_run
from discwright.errors import CallError
from discwright.files.press_settings import load_press
from discwright.works import run_events as r
from discwright.works.store.ledger import Ledger, Order

NOW = datetime(2031, 5, 5, 6, 0, tzinfo=UTC)  # a Monday
HALL = """
[hall]
zone = "UTC"

[shifts]
early = "mon-fri 06:00-14:00"

[[press]]
name = "2"
sizes = ["12in", "7in"]
shifts = ["early"]

[[press]]
name = "3"
sizes = ["12in"]
shifts = ["early"]
"""


@pytest.fixture
def hall(tmp_path: Path) -> Path:
    path = tmp_path / "hall.toml"
    path.write_text(HALL, encoding="utf-8")
    return path


def test_the_hall_is_planned_from_where_things_stand(ledger: Ledger, hall: Path) -> None:
    with pytest.raises(CallError, match="nothing waits to be pressed"):
        schedule_works(ledger, hall, now=NOW)
    take_title(ledger, "NL 4", "lp")
    take_title(ledger, "NL 5", "lp")
    stampers = stampers_of(ledger, "NL 4", "lp")
    stocked_run(ledger, "NL 4/lp", stampers, [("A-1", 100)])
    run = made(begin_run(ledger, "NL 4/lp", stampers, ANN, planned=200))
    made(ledger.append(Order(r.FirstOff(verdict="pass", played="pass"), "Ann", part=run)))
    made(press_run(ledger, run, 50, 48, ANN))
    report = schedule_works(ledger, hall, now=NOW, seconds=1.0)
    places = {one.job.id: one for one in report.schedule.places}
    going = places[f"NL 4/lp A/B {run}"]
    # It goes on where it is, at once, with what is left of it.
    assert (going.press, going.begin, going.job.left) == ("2", 0, 150)
    # Nobody has heard the other title: it has no place, and the reason is told.
    assert [job.edition for job, _ in report.schedule.unplanned] == ["NL 5/lp"]
    assert kept_schedule(ledger) is None
    keep_schedule(ledger, report)
    document = kept_schedule(ledger)
    assert document is not None
    assert document["schedule_sha256"] == report.document()["schedule_sha256"]
    # The same question has the same answer.
    assert schedule_works(ledger, hall, now=NOW, seconds=1.0).document() == report.document()


def test_promises_count_on_the_kept_schedule(ledger: Ledger, hall: Path) -> None:
    take_title(ledger, "NL 4", "lp")
    stampers = stampers_of(ledger, "NL 4", "lp")
    stocked_run(ledger, "NL 4/lp", stampers, [("A-1", 100)])
    take_orders(
        ledger, order_line("1", "K1", "NL 4/lp", 90, "2031-06-20"), order_line("2", "K2", "NL 4/lp", 200, "2031-06-21"),
        order_line("3", "K3", "NL 4/lp", 150, "2031-05-06"),
    )  # fmt: skip
    before = promise_orders(ledger, planned_supplies(ledger), today="2031-05-05")
    assert [one.state for one in before.promises] == ["unplanned", "unplanned", "unplanned"]
    keep_schedule(ledger, schedule_works(ledger, hall, now=NOW, seconds=1.0))
    (supply,) = planned_supplies(ledger)
    # By another road: pressed on the first days, then so many working days to the dock; 400 of 500 are still wanted.
    pressed = date.fromisoformat(supply.why.rpartition(" ")[2])
    days = sum((date.fromordinal(day).weekday() < 5) for day in range(pressed.toordinal() + 1,
               date.fromisoformat(supply.day).toordinal() + 1))  # fmt: skip
    assert days == load_press().days.finish_days
    assert supply.count >= 400
    after = promise_orders(ledger, planned_supplies(ledger), today="2031-05-05")
    states = {one.line.order: one.state for one in after.promises}
    assert states == {"3": "late", "1": "coming", "2": "coming"}


def test_a_run_at_a_press_that_the_hall_has_not_is_told(ledger: Ledger, hall: Path) -> None:
    take_title(ledger, "NL 4", "lp")
    run = made(begin_run(ledger, "NL 4/lp", stampers_of(ledger, "NL 4", "lp"), ANN, planned=100, press="9"))
    made(ledger.append(Order(r.FirstOff(verdict="pass", played="pass"), "Ann", part=run)))
    report = schedule_works(ledger, hall, now=NOW, seconds=0.0)
    why = {job.id: words for job, words in report.schedule.unplanned}
    assert "press 9" in why[f"NL 4/lp A/B {run}"]
    assert not report.ready
