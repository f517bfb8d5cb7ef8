"""A day of a big works in the ledger: its orders taken, all of it packed, promised, loaded, and one stamper recalled.

python benchmarks/works_day.py --quick     a small works: does it still run?
python benchmarks/works_day.py             250,000 discs, 400 titles, 3,000 accounts, 12,000 lines of orders
"""

from __future__ import annotations

import argparse
import random
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from discwright.acts.dock import pack_orders
from discwright.acts.loading import load
from discwright.acts.orders import promise_orders, take_order_lines
from discwright.acts.recalls import recalls
from discwright.acts.works import Hand
from discwright.works import events as e
from discwright.works import run_events as r
from discwright.works.store.ledger import Ledger, Order, begin_ledger
from ledger import postgresql

Row = tuple[str, str, str]
HAND = Hand("Ann")
PREFIX, DISCS_OF_A_TITLE = "9521234", 640
_LOT = {"class": "major", "aql": "1.0", "n": 80, "accept": 2, "reject": 3, "found": 0, "inspection": "normal"}


def fill(ledger: Ledger, titles: int) -> str:
    """Titles of which each has a pressed run in a bin; the number of a stamper of the last."""
    negatives: dict[str, str] = {}
    for number in range(titles):
        title = f"HW-{number:04d}"
        edition = {"id": "lp", "format": "12in-33", "quantity": 700, "due": "2031-05-30", "sides": ["A", "B"]}
        ledger.append(Order(e.TitleTakenIn(name=title, editions=(edition,)), "Ann", title))
        for side in "AB":
            cut = e.LacquerCut(
                edition="lp", side=side, fingerprint="f" * 64, programme_sha256="a" * 64, lacquer_batch="B"
            )
            lacquer = _part(ledger, Order(cut, "Ann", title))
            negatives[side] = _part(ledger, Order(e.Plated(parent=lacquer, part_kind="master"), "Ann"))
            at_press = (e.Approved(), e.PutToPress(press="1"))
            ledger.append_together([Order(one, "Ann", part=negatives[side]) for one in at_press])
        run = _part(ledger, Order(r.RunBegun(edition="lp", stampers=dict(negatives)), "Ann", title))
        made: tuple[e.Event, ...] = (
            r.FirstOff(verdict="pass"), r.RunPressed(count=700, good=DISCS_OF_A_TITLE),
            r.LotInspected(count=DISCS_OF_A_TITLE, verdict="accepted", results=(_LOT,)),
            r.Stocked(bin=f"A-{number}", count=DISCS_OF_A_TITLE),
        )  # fmt: skip
        ledger.append_together([Order(one, "Ann", part=run) for one in made])
    return negatives["A"]


def _part(ledger: Ledger, order: Order) -> str:
    outcome = ledger.append(order)
    if outcome.line is None:
        raise RuntimeError(str(outcome.findings))
    return outcome.line.part


def orders(titles: int, accounts: int, lines: int) -> list[dict[str, Any]]:
    """Lines of orders, as a program sends them."""
    chance, found = random.Random(1), []
    for number in range(lines):
        account = chance.randrange(accounts)
        found.append(
            {
                "order": f"O-{number}", "account": f"K-{account}", "name": f"Shop {account}", "address_1": "Quay 1",
                "city": "Harbour", "postcode": "0001", "country": "NO", "edition": f"HW-{number % titles:04d}/lp",
                "count": chance.choice((5, 10, 15, 20, 25, 25, 25, 41)), "wanted": "2031-06-01",
            }
        )  # fmt: skip
    return found


def day_rows(name: str, address: str, titles: int, accounts: int, lines: int) -> Iterator[Row]:
    """Rows of the table for one database.

    Parameters
    ----------
    name, address : str
    titles, accounts, lines : int
    """
    ledger = begin_ledger(address)
    stamper = fill(ledger, titles)
    sent = orders(titles, accounts, lines)
    took, taken = _timed(lambda: take_order_lines(ledger, sent, HAND, "benchmark"))
    packing, report = _timed(lambda: pack_orders(ledger, HAND, prefix=PREFIX, dock="1"))
    promised, _ = _timed(lambda: promise_orders(ledger))
    bundles = [one.key for one in report.packed.bundles[:50]]
    loading, _ = _timed(lambda: [load(ledger, one, "1", HAND) for one in bundles])
    recalling, reached = _timed(lambda: recalls(ledger, stamper))
    if not (taken.written and report.written and reached.accounts):
        raise RuntimeError(f"{name}: the day was not written")
    discs = sum(one.count for one in report.packed.cartons)
    ledger.close()
    yield (
        f"a day's orders taken into the ledger and packed, {name}",
        f"{took:.1f} s and {packing:.1f} s",
        f"{lines:,} lines of {accounts:,} accounts, {titles} titles, {discs:,} discs in "
        f"{len(report.packed.cartons):,} cartons; without papers",
    )
    yield (
        f"after it, {name}",
        f"{1000 * loading / max(1, len(bundles)):.0f} ms, {1000 * recalling:.0f} ms, {promised:.1f} s",
        f"a bundle loaded, whom one stamper's recall reaches ({len(reached.accounts)} accounts), every promise",
    )


def _timed(act: Callable[[], Any]) -> tuple[float, Any]:
    begin = time.perf_counter()
    result = act()
    return time.perf_counter() - begin, result


def works_day_rows(work: Path, titles: int, accounts: int, lines: int) -> Iterator[Row]:
    """Rows of the table, on both databases.

    Parameters
    ----------
    work : pathlib.Path
    titles, accounts, lines : int
    """
    work.mkdir(parents=True, exist_ok=True)
    yield from day_rows("SQLite", str(work / "day.sqlite"), titles, accounts, lines)
    with postgresql() as server:
        if server is not None:
            server.run("CREATE DATABASE day")
            yield from day_rows("PostgreSQL", server.address("day"), titles, accounts, lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="a small works: does it still run?")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as directory:
        for row in works_day_rows(Path(directory), *((6, 20, 60) if options.quick else (400, 3_000, 12_000))):
            print(*row, sep=" | ", flush=True)


if __name__ == "__main__":
    main()
