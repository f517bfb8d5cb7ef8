"""What is still to be pressed, out of ledgers in which parts, runs and orders stand at different places."""

from __future__ import annotations

from datetime import UTC, datetime

from pressed import ANN, made, order_line, stampers_of, stocked_run, take_orders, take_title

from discwright.acts.hall_jobs import works_jobs
from discwright.acts.runs import begin_run, press_run
from discwright.files.press_settings import load_press
from discwright.works import events as e
from discwright.works import run_events as r
from discwright.works.press import enough_begun
from discwright.works.store.ledger import Ledger, Order

HOUSE = load_press()


def test_an_edition_without_metal_waits_for_it(ledger: Ledger) -> None:
    take_title(ledger, "NL 4", "lp")
    (job,) = works_jobs([ledger.family("NL 4")], HOUSE, UTC)
    assert (job.id, job.edition, job.size, job.running) == ("NL 4/lp A/B", "NL 4/lp", "12in", False)
    assert job.waits_for == "side A: a plan; side B: a plan"
    assert job.waits
    # By another road: the binomial of the house's yield for the 500 that the title orders.
    assert job.count == enough_begun(500, HOUSE.press.good_share, 0.95)
    # By hand: due on Friday 30 May 2031, so many working days after the last pressing, by the end of a day.
    assert job.due is not None
    assert (datetime(2031, 5, 31, tzinfo=UTC) - job.due).days >= HOUSE.days.finish_days


def test_what_is_made_is_not_made_again_and_a_run_goes_on_where_it_is(ledger: Ledger) -> None:
    take_title(ledger, "NL 4", "lp")
    stampers = stampers_of(ledger, "NL 4", "lp")
    stocked_run(ledger, "NL 4/lp", stampers, [("A-1", 200)])
    (job,) = works_jobs([ledger.family("NL 4")], HOUSE, UTC)
    assert (job.waits_for, job.count) == ("", enough_begun(300, HOUSE.press.good_share, 0.95))
    run = made(begin_run(ledger, "NL 4/lp", stampers, ANN, planned=100))
    made(ledger.append(Order(r.FirstOff(verdict="pass", played="pass"), "Ann", part=run)))
    made(press_run(ledger, run, 40, 38, ANN))
    rest, going = sorted(works_jobs([ledger.family("NL 4")], HOUSE, UTC), key=lambda one: one.running)
    assert (going.running, going.press, going.count, going.made) == (True, "2", 100, 40)
    left = 500 - 238 - round(60 * HOUSE.press.good_share)
    assert rest.count == enough_begun(left, HOUSE.press.good_share, 0.95)
    # More ordered than the title says: the orders count, and the first day wanted.
    take_orders(ledger, order_line("1", "K1", "NL 4/lp", 900, "2031-04-01"))
    jobs = works_jobs([ledger.family("NL 4")], HOUSE, UTC)
    assert sum(one.count for one in jobs) > 600
    assert all(one.due is not None and one.due < datetime(2031, 4, 1, tzinfo=UTC) for one in jobs)


def test_a_recalled_stamper_leaves_its_discs_to_be_made_again(ledger: Ledger) -> None:
    take_title(ledger, "NL 4", "lp")
    stampers = stampers_of(ledger, "NL 4", "lp")
    stocked_run(ledger, "NL 4/lp", stampers, [("A-1", 500)])
    assert works_jobs([ledger.family("NL 4")], HOUSE, UTC) == []
    made(ledger.append(Order(e.Recalled(), "Ann", part=stampers["B"])))
    (job,) = works_jobs([ledger.family("NL 4")], HOUSE, UTC)
    assert job.count == enough_begun(500, HOUSE.press.good_share, 0.95)
    assert job.waits_for.startswith("side B: ")
