"""Many stations at once: every acknowledged line is there once, in order, and one hand's trouble is nobody else's."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import hand
import pytest
from ledgers import Works
from sqlalchemy import event
from sqlalchemy.exc import DataError, IntegrityError, OperationalError

from discwright.errors import CallError, DiscwrightError, LedgerError
from discwright.works import events as e
from discwright.works.store import writer
from discwright.works.store.ledger import Ledger, Order, Outcome
from discwright.works.store.verify import verify

STATIONS = 40


def test_forty_stations_at_once(ledger: Ledger, works: Works) -> None:
    works.take_in(ledger)
    told: list[str] = []
    gate, troubles = threading.Barrier(STATIONS), list[Exception]()

    def station(k: int) -> None:
        gate.wait()
        try:
            hand.write(ledger, f"station {k}", 25, told.append)
        except DiscwrightError as trouble:
            troubles.append(trouble)

    stations = [threading.Thread(target=station, args=(k,)) for k in range(STATIONS)]
    for one in stations:
        one.start()
    for one in stations:
        one.join()
    assert troubles == []
    assert len(told) == 25 * STATIONS
    hand.check_told(ledger, told)
    # Each station's own lines stand in the order in which it wrote them.
    for k in range(STATIONS):
        keys = [line.key for line in ledger.lines() if line.by == f"station {k}"]
        assert keys == [f"station {k}-{n}" for n in range(25)]


def test_stations_in_several_processes_at_once(ledger: Ledger, works: Works, address: str) -> None:
    works.take_in(ledger)
    where = ledger.engine.url.render_as_string(hide_password=False).replace("+psycopg", "").replace("+pysqlite", "")
    command = [sys.executable, str(Path(hand.__file__)), "write", where]
    children = [
        subprocess.Popen([*command, f"process {k}", "10", "12"], stdout=subprocess.PIPE, text=True) for k in range(4)
    ]
    told = [line for child in children for line in child.communicate(timeout=120)[0].splitlines()]
    assert [child.returncode for child in children] == [0] * 4
    assert len(told) == 4 * 10 * 12
    hand.check_told(ledger, told)


# Several orders in one transaction ---------------------------------------------------------------------


class Gate:
    """A clock that holds the first who looks at it, until the others have handed their orders in."""

    def __init__(self, ledger: Ledger) -> None:
        self.ledger, self.held, self.go = ledger, threading.Event(), threading.Event()
        self.looks = 0
        self.trouble: dict[int, BaseException] = {}

    def __call__(self) -> datetime:
        self.looks += 1
        if self.looks == 1:
            self.held.set()
            assert self.go.wait(30)
        if self.looks in self.trouble:
            raise self.trouble[self.looks]
        return datetime.now(UTC)


def together(ledger: Ledger, orders: list[Order], gate: Gate) -> list[Outcome | BaseException]:
    """The first order is held at the clock; all others are written in one transaction after it."""
    ledger.clock = gate
    outcomes: list[Outcome | BaseException] = [RuntimeError("not run")] * len(orders)

    def run(k: int) -> None:
        try:
            outcomes[k] = ledger.append(orders[k])
        except BaseException as trouble:
            outcomes[k] = trouble

    threads = [threading.Thread(target=run, args=(k,)) for k in range(len(orders))]
    threads[0].start()
    assert gate.held.wait(30)
    for waiting, one in enumerate(threads[1:], 1):
        one.start()
        while len(ledger._writer._queue) < waiting:
            pass
    gate.go.set()
    for one in threads:
        one.join()
    return outcomes


def seqs(outcomes: list[Outcome | BaseException]) -> list[int | None]:
    return [one.line.seq if isinstance(one, Outcome) and one.line else None for one in outcomes]


def commits(ledger: Ledger) -> list[str]:
    made: list[str] = []
    event.listen(ledger.engine, "commit", lambda connection: made.append("commit"))
    return made


def measured(k: int, **about: str) -> Order:
    return Order(e.TestCutMeasured(width_um=float(k)), f"hand {k}", about.pop("title", "VK 1001"), **about)


def test_those_who_wait_are_written_in_one_transaction(ledger: Ledger, works: Works) -> None:
    works.take_in(ledger)
    made = commits(ledger)
    outcomes = together(ledger, [measured(k) for k in range(8)], Gate(ledger))
    assert sorted(seqs(outcomes)) == list(range(2, 10))  # type: ignore[type-var]
    assert len(made) == 2
    assert verify(ledger).ready


def test_nobody_is_answered_before_the_commit(ledger: Ledger, works: Works) -> None:
    works.take_in(ledger)
    answered: list[int] = []
    at_commit: list[int] = []
    settle = writer._Waiting.settle

    def look(connection: Any) -> None:
        time.sleep(0.05)
        at_commit.append(len(answered))

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(writer._Waiting, "settle", lambda own, what: (answered.append(1), settle(own, what))[1])
        event.listen(ledger.engine, "commit", look)
        together(ledger, [measured(k) for k in range(6)], Gate(ledger))
    # by hand: the first order alone, then five; at each commit only those before it are answered.
    assert (at_commit, len(answered)) == ([0, 1], 6)


def test_a_refused_order_harms_none_of_the_others(ledger: Ledger, works: Works) -> None:
    works.take_in(ledger)
    lacquer = works.cut(ledger)
    orders = [
        measured(0), measured(1), measured(2, title="VK 404"), Order(e.PutToPress(), "hand 3", part=lacquer),
        Order(e.Weighed(mass_g=1.0), "hand 4", part="ST99-9"[:0] or lacquer), measured(5, key="same"),
        measured(6, key="same"), measured(7),
    ]  # fmt: skip
    outcomes = together(ledger, orders, Gate(ledger))
    assert seqs(outcomes) == [5, 6, None, None, 7, 8, None, 9]
    assert isinstance(outcomes[6], CallError)
    assert all(isinstance(outcomes[k], Outcome) and outcomes[k].findings for k in (2, 3))  # type: ignore[union-attr]
    assert verify(ledger).ready


def test_births_in_one_transaction_get_numbers_of_their_own(ledger: Ledger, works: Works) -> None:
    works.take_in(ledger)
    orders = [hand.order(f"hand {k}", 0) for k in range(6)]
    outcomes = together(ledger, orders, Gate(ledger))
    parts = [one.line.part for one in outcomes if isinstance(one, Outcome) and one.line]
    assert len(set(parts)) == 6
    assert sorted(ledger.family("VK 1001").parts) == sorted(parts)
    assert verify(ledger).ready


@contextmanager
def failing(ledger: Ledger, when: Callable[[str, Any], Exception | None]) -> Iterator[None]:
    """Statements that fail where `when` says so, before they reach the database."""

    def look(connection: Any, cursor: Any, statement: str, parameters: Any, context: Any, many: bool) -> None:
        trouble = when(statement, parameters)
        if trouble is not None:
            raise trouble

    event.listen(ledger.engine, "before_cursor_execute", look)
    try:
        yield
    finally:
        event.remove(ledger.engine, "before_cursor_execute", look)


def test_what_the_database_refuses_harms_none_of_the_others(ledger: Ledger, works: Works) -> None:
    works.take_in(ledger)

    def bad(statement: str, parameters: Any) -> Exception | None:
        wrong = "INSERT INTO lines" in statement and "hand 3" in str(parameters)
        return DataError(statement, None, Exception("value too long")) if wrong else None

    with failing(ledger, bad):
        outcomes = together(ledger, [measured(k) for k in range(6)], Gate(ledger))
    assert [k for k, one in enumerate(outcomes) if isinstance(one, Exception)] == [3]
    assert isinstance(outcomes[3], LedgerError)
    assert ledger.head()[0] == 6
    assert verify(ledger).ready


def test_a_fault_in_working_out_harms_none_of_the_others(ledger: Ledger, works: Works) -> None:
    works.take_in(ledger)
    gate = Gate(ledger)
    gate.trouble[3] = ZeroDivisionError("a fault of the program")
    outcomes = together(ledger, [measured(k) for k in range(5)], gate)
    assert [type(one).__name__ for one in outcomes].count("ZeroDivisionError") == 1
    assert ledger.head()[0] == 5
    assert verify(ledger).ready


def test_a_thread_that_is_stopped_while_it_writes_for_all(ledger: Ledger, works: Works) -> None:
    works.take_in(ledger)
    gate = Gate(ledger)
    gate.trouble[4] = KeyboardInterrupt()
    outcomes = together(ledger, [measured(k) for k in range(6)], gate)
    stopped = [k for k, one in enumerate(outcomes) if isinstance(one, KeyboardInterrupt)]
    assert len(stopped) == 1
    assert ledger.head()[0] in (6, 7)  # its own order is lost, or was written by the next
    assert [one for one in outcomes if not isinstance(one, Outcome | KeyboardInterrupt)] == []
    works.put(ledger, e.TestCutMeasured(width_um=9.0), title="VK 1001")
    assert verify(ledger).ready


def test_a_database_that_is_gone_is_told_to_everybody_at_once(ledger: Ledger, works: Works) -> None:
    works.take_in(ledger)
    tries: list[str] = []

    def gone(statement: str, parameters: Any) -> Exception | None:
        tries.append(statement)
        return OperationalError(statement, None, Exception("disk I/O error"))

    gate = Gate(ledger)
    with failing(ledger, lambda statement, _: gone(statement, _) if gate.looks else None):
        outcomes = together(ledger, [measured(k) for k in range(6)], gate)
    assert all(isinstance(one, LedgerError) for one in outcomes)
    assert {str(one).split(": ", 1)[1] for one in outcomes} == {
        "the disk does not take it, and nothing was written; see to the disk and do it again."
    }
    assert len(tries) <= 4
    assert ledger.head()[0] == 1


def test_a_place_in_the_chain_that_is_taken_is_tried_again(ledger: Ledger, works: Works) -> None:
    works.take_in(ledger)
    left = [2]

    def taken(statement: str, parameters: Any) -> Exception | None:
        if "INSERT INTO lines" not in statement or not left[0]:
            return None
        left[0] -= 1
        return IntegrityError(statement, None, Exception("UNIQUE constraint failed: lines.prev"))

    with failing(ledger, taken):
        works.put(ledger, e.TestCutMeasured(width_um=9.0), title="VK 1001")
    assert ledger.head()[0] == 2


# A failure at every step -------------------------------------------------------------------------------


def statements(ledger: Ledger, order: Order) -> list[str]:
    """Every statement of one append."""
    seen: list[str] = []
    with failing(ledger, lambda statement, _: seen.append(statement)):  # type: ignore[func-returns-value]
        ledger.append(order)
    return seen


@pytest.mark.parametrize("when", ["before", "after"])
def test_a_failure_at_every_statement_loses_nothing_and_leaves_nothing_half(
    ledger: Ledger, works: Works, when: str
) -> None:
    works.take_in(ledger)
    steps = statements(ledger, hand.order("first", 0))
    # by hand: last line and key, title, serial; then lines, titles, parts, numbers, on PostgreSQL in one statement.
    assert len(steps) >= (7 if ledger.engine.dialect.name == "sqlite" else 4)
    assert " ".join(steps).count("INSERT INTO") == 4
    for k in range(len(steps)):
        before, order = ledger.head(), hand.order(f"hand {k}", 0)
        count = [k]

        def fail(*about: Any, count: list[int] = count) -> None:
            count[0] -= 1
            if count[0] == -1:
                raise OperationalError(str(about[2]), None, Exception("disk I/O error"))

        name = f"{when}_cursor_execute"
        event.listen(ledger.engine, name, fail)
        try:
            with pytest.raises(LedgerError, match="nothing was written; see to the disk and do it again"):
                ledger.append(order)
        finally:
            event.remove(ledger.engine, name, fail)
        assert count[0] == -1
        assert ledger.head() == before
        found = verify(ledger)
        assert (found.breaks, found.findings) == ((), ())
        again = ledger.append(order)
        assert again.line is not None
        assert not again.repeated
    assert verify(ledger).ready


def test_a_commit_that_fails_leaves_nothing(ledger: Ledger, works: Works, monkeypatch: pytest.MonkeyPatch) -> None:
    works.take_in(ledger)
    order = hand.order("hand", 0)

    def refused(connection: Any) -> None:
        raise OperationalError("COMMIT", None, Exception("disk I/O error"))

    event.listen(ledger.engine, "commit", refused)
    with pytest.raises(LedgerError, match="the disk does not take it"):
        ledger.append(order)
    event.remove(ledger.engine, "commit", refused)
    assert ledger.head()[0] == 1
    assert verify(ledger).ready
    assert not ledger.append(order).repeated


def test_a_commit_whose_answer_is_lost_is_found_by_its_key(
    ledger: Ledger, works: Works, monkeypatch: pytest.MonkeyPatch
) -> None:
    works.take_in(ledger)
    order = hand.order("hand", 0)
    commit = ledger.engine.dialect.do_commit

    def lost(connection: Any) -> None:
        commit(connection)
        raise OperationalError("COMMIT", None, Exception("server closed the connection"))

    monkeypatch.setattr(ledger.engine.dialect, "do_commit", lost)
    with pytest.raises(LedgerError):
        ledger.append(order)
    monkeypatch.undo()
    again = ledger.append(order)
    assert again.repeated
    assert again.line is not None
    assert (again.line.seq, ledger.head()[0]) == (2, 2)
    assert verify(ledger).ready
