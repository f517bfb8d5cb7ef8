"""A ledger in which titles were cut, grown, approved, pressed and stocked: for tests of what comes after the press."""

from __future__ import annotations

from collections.abc import Sequence

from discwright.acts.runs import begin_run, press_run, stock_run
from discwright.acts.works import Hand
from discwright.works import events as e
from discwright.works import run_events as r
from discwright.works.order_lines import OrderLine
from discwright.works.store.ledger import Ledger, Order, Outcome

ANN = Hand("Ann", "press")
PASSED = {"class": "major", "aql": "1.0", "n": 13, "accept": 1, "reject": 2, "found": 0, "inspection": "normal"}


def made(outcome: Outcome) -> str:
    """Number of what was made; nothing may speak against it."""
    assert outcome.line is not None, outcome.findings
    return outcome.line.part


def take_title(ledger: Ledger, title: str, *editions: str) -> None:
    """A title with editions of two sides each."""
    told = [
        {"id": one, "format": "12in-33", "quantity": 500, "due": "2031-05-30", "sides": ["A", "B"]} for one in editions
    ]
    event = e.TitleTakenIn(name=f"Name of {title}", editions=tuple(told))
    assert ledger.append(Order(event, "Ann", title)).line is not None


def stampers_of(ledger: Ledger, title: str, edition: str) -> dict[str, str]:
    """A stamper of each side at the press, from an approved mother."""
    found = {}
    for side in "AB":
        programme = "a" * 64
        cut = e.LacquerCut(
            edition=edition, side=side, fingerprint="f" * 64, programme_sha256=programme, lacquer_batch="B1",
            mark=f"{title} {edition} {side}",
        )  # fmt: skip
        lacquer = made(ledger.append(Order(cut, "Ann", title)))
        master = made(ledger.append(Order(e.Plated(parent=lacquer, part_kind="master"), "Ann")))
        ledger.append(Order(e.Passivated(), "Ann", part=master))
        mother = made(ledger.append(Order(e.Plated(parent=master, part_kind="mother", mark="M1"), "Ann")))
        ledger.append(Order(e.Approved(), "Ann", part=mother))
        found[side] = stamper_of(ledger, mother)
    return found


def stamper_of(ledger: Ledger, mother: str, press: str = "2") -> str:
    """One more stamper of a mother, at the press."""
    ledger.append(Order(e.Passivated(), "Ann", part=mother))
    stamper = made(ledger.append(Order(e.Plated(parent=mother, part_kind="stamper", mark="S1"), "Ann")))
    made(ledger.append(Order(e.PutToPress(press=press), "Ann", part=stamper)))
    return stamper


def stocked_run(ledger: Ledger, edition: str, stampers: dict[str, str], bins: Sequence[tuple[str, int]]) -> str:
    """A run that was pressed, inspected and put into these bins."""
    run = made(begin_run(ledger, edition, stampers, ANN))
    made(ledger.append(Order(r.FirstOff(verdict="pass", played="pass"), "Ann", part=run)))
    count = sum(one for _, one in bins)
    made(press_run(ledger, run, count + 3, count, ANN))
    made(ledger.append(Order(r.LotInspected(count=count, verdict="accepted", results=(PASSED,)), "Ann", part=run)))
    for name, many in bins:
        made(stock_run(ledger, run, name, ANN, count=many))
    return run


def order_line(order: str, account: str, edition: str, count: int, wanted: str = "2031-06-01") -> OrderLine:
    """A line of an order of an invented account."""
    return OrderLine(
        order, account, f"Shop {account}", "Quay 1", "", "Harbour", "", "0001", "NO", edition, count, wanted
    )


def take_orders(ledger: Ledger, *lines: OrderLine) -> None:
    """Orders of one title."""
    from dataclasses import asdict

    title = lines[0].edition.rpartition("/")[0]
    event = r.OrdersTaken(orders=tuple(asdict(one) for one in lines))
    assert ledger.append(Order(event, "Ann", title)).line is not None
