"""Verifying: any change of any line is found, what is kept must fit, and a rewritten history only against its head."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from dataclasses import replace

import pytest
from ledgers import Clock, Works
from sqlalchemy import text

from discwright.errors import CallError
from discwright.works import events as e
from discwright.works.chain import BEGIN, FIELDS, Line, linked
from discwright.works.store import kept, tables
from discwright.works.store.connect import writing
from discwright.works.store.ledger import Ledger, Order
from discwright.works.store.refold import refold_into
from discwright.works.store.rows import row_of
from discwright.works.store.verify import MOST_TOLD, verify, verify_in


@pytest.fixture
def made(ledger: Ledger, works: Works) -> Ledger:
    works.take_in(ledger)
    works.make_side(ledger)
    works.take_in(ledger, "VK 1002")
    return ledger


def change(ledger: Ledger, statement: str, **values: object) -> None:
    with writing(ledger.engine) as connection:
        assert connection.execute(text(statement), values).rowcount


def test_a_whole_ledger(made: Ledger) -> None:
    told: list[float] = []
    found = verify(made, tell=lambda _, done: told.append(done))
    assert (found.lines, found.head) == made.head()
    # by hand.
    assert (found.lines, found.titles, found.parts, found.breaks, found.findings, found.more) == (28, 2, 4, (), (), 0)
    assert found.ready
    assert found.whole
    assert told == sorted(told)
    assert told[-1] == 1.0
    plain = found.as_dict()
    assert json.loads(json.dumps(plain)) == plain
    assert (plain["ready"], plain["lines"], plain["breaks"]) == (True, 28, [])


def test_an_empty_ledger(ledger: Ledger) -> None:
    found = verify(ledger, head=BEGIN)
    assert (found.lines, found.head, found.ready) == (0, BEGIN, True)


@pytest.mark.parametrize("name", [name for name in FIELDS if name not in ("seq",)])
def test_any_field_of_any_line_that_is_changed_is_found(made: Ledger, name: str) -> None:
    chance = random.Random(name)
    lines = list(made.lines())
    for line in chance.sample(lines, 10):
        other = {
            "at": "2020-01-01T00:00:00.000000+00:00", "part": "ST9-9",
            "kind": "weighed" if line.kind != "weighed" else "measured",
            "data": json.dumps(line.data | {"note": "changed"}), "prev": "0" * 63 + "1", "hash": "0" * 63 + "1",
        }.get(name, "changed")  # fmt: skip
        change(made, f'UPDATE lines SET "{name}" = :other WHERE seq = :seq', other=other, seq=line.seq)
        found = verify(made)
        assert not found.whole
        assert line.seq in {one.seq for one in found.breaks} | {one.seq - 1 for one in found.breaks}
        change(made, f'UPDATE lines SET "{name}" = :old WHERE seq = :seq', old=row_of(line)[name], seq=line.seq)
    assert verify(made).ready


def test_lines_that_are_gone_or_say_nothing(made: Ledger) -> None:
    change(made, "UPDATE lines SET data = '{broken' WHERE seq = 9")
    assert 9 in {one.seq for one in verify(made).breaks}
    change(made, "UPDATE lines SET data = '[1, 2]' WHERE seq = 9")
    assert 9 in {one.seq for one in verify(made).breaks}
    change(made, "DELETE FROM lines WHERE seq = 9")
    found = verify(made)
    assert "line 10 follows line 8: lines are missing or out of order" in [one.why for one in found.breaks]
    change(made, "UPDATE lines SET data = '{\"editions\":[7]}' WHERE seq = 1")
    whys = [one.why for one in verify(made).breaks]
    assert "line 1 was changed after it was written" in whys
    assert "the lines of VK 1001 tell nothing that can be" in whys


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("UPDATE titles SET name = 'Other' WHERE catalogue = 'VK 1001'", "the title VK 1001 is kept otherwise"),
        ("UPDATE titles SET seq = 3 WHERE catalogue = 'VK 1001'", "the title VK 1001 is kept otherwise"),
        ("UPDATE titles SET doc = '{}' WHERE catalogue = 'VK 1001'", "the title VK 1001 is kept otherwise"),
        ("DELETE FROM titles WHERE catalogue = 'VK 1002'", "the title VK 1002 is not kept"),
        ("UPDATE parts SET state = 'approved' WHERE kind = 'stamper'", "is kept otherwise than its lines say"),
        ("UPDATE parts SET doc = replace(doc, '480', '4') WHERE kind = 'stamper'", "is kept otherwise than its lines"),
        ("UPDATE parts SET title = '', state = 'undone' WHERE kind = 'mother'", "is kept otherwise than its lines"),
        ("DELETE FROM parts WHERE kind = 'mother'", "is not kept"),
        ("UPDATE numbers SET shown = 'S2' WHERE folded = 's1'", "the numbers that lead to VK 1001 are kept otherwise"),
        ("DELETE FROM numbers WHERE folded = 's1'", "the numbers that lead to VK 1001 are kept otherwise"),
    ],
)
def test_what_is_kept_otherwise_than_the_lines_say(made: Ledger, statement: str, words: str) -> None:
    change(made, statement)
    found = verify(made)
    assert not found.whole
    assert words in found.breaks[0].why
    assert found.breaks[0].why.endswith("export the ledger and import it into a new one")
    # What is worked out can be worked out again.
    with writing(made.engine) as connection:
        refold_into(connection, lambda _words, _done: None)
    assert verify(made).ready


def test_what_no_line_tells_of(made: Ledger) -> None:
    with writing(made.engine) as connection:
        kept.put_rows(
            connection, tables.titles,
            [{"catalogue": "VK 9", "name": "", "seq": 1, "open": True, "late_at": "", "doc": "{}"}],
        )  # fmt: skip
        for title in ("VK 1001", ""):
            part = {"id": f"ST90{len(title)}-1", "serial": 900 + len(title), "kind": "stamper", "state": ""}
            kept.put_rows(connection, tables.parts, [part | {"title": title, "doc": "{}"}])
        number = {"folded": "vk9", "what": "title", "title": "VK 9", "part": "", "shown": "VK 9"}
        kept.put_rows(connection, tables.numbers, [number])
    whys = " ".join(one.why for one in verify(made).breaks)
    for words in ("title VK 9", "part ST907-1", "part ST900-1", "number of title VK 9"):
        assert f"the {words} is kept, but no line tells of it" in whys


def test_findings_count_until_they_are_accepted(ledger: Ledger, works: Works) -> None:
    works.take_in(ledger)
    lacquer = works.cut(ledger)
    read = e.Checked(marks_read="something else")
    ledger.append(Order(read, "Ola Berg", part=lacquer, accepted="scribed by hand"))
    assert verify(ledger).ready
    ledger.append(Order(read, "Ola Berg", part=lacquer))
    found = verify(ledger)
    assert (found.whole, found.ready) == (True, False)
    assert [(one.code, one.severity, one.seq, one.part) for one in found.findings] == [("marks", "warn", 6, lacquer)]


def test_only_so_much_is_told_and_the_rest_is_counted(make_ledger: Callable[[str], Ledger], works: Works) -> None:
    ledger = make_ledger("sqlite")
    works.take_in(ledger)
    for k in range(MOST_TOLD + 20):
        works.put(ledger, e.TestCutMeasured(width_um=float(k)), title="VK 1001")
    change(ledger, "UPDATE lines SET \"by\" = 'Someone else'")
    found = verify(ledger)
    # by hand: one line to take the title in.
    assert (len(found.breaks), found.more) == (MOST_TOLD, 21)


# What a chain alone does not show ----------------------------------------------------------------------


def rewrite(ledger: Ledger, lines: list[Line]) -> None:
    """Put other lines in the place of all, with hashes that fit."""
    prev, whole = BEGIN, []
    for k, line in enumerate(lines, 1):
        whole.append(linked(replace(line, seq=k), prev))
        prev = whole[-1].hash
    with writing(ledger.engine) as connection:
        connection.execute(tables.lines.delete())
        kept.insert_lines(connection, whole)
        refold_into(connection, lambda _words, _done: None)


def test_a_history_rewritten_whole_is_found_only_by_a_head(made: Ledger) -> None:
    lines = list(made.lines())
    head, early = made.head()[1], lines[10].hash
    rewrite(made, [replace(line, by="Someone else") if line.seq == 20 else line for line in lines])
    assert verify(made).ready
    found = verify(made, head=head)
    assert [one.why for one in found.breaks] == [
        f"no line has the hash {head}: the history was rewritten or cut off since that was printed"
    ]
    # What was printed before the change still holds.
    assert verify(made, head=early).ready


def test_a_tail_that_was_cut_off_is_found_only_by_a_head(made: Ledger) -> None:
    head = made.head()[1]
    lines = list(made.lines())
    rewrite(made, lines[:-5])
    assert verify(made).ready
    assert not verify(made, head=head).whole
    assert verify(made, head=lines[-6].hash).ready


def test_a_head_may_be_shortened_but_must_be_one(made: Ledger) -> None:
    line = made.line(7)
    assert line is not None
    assert verify(made, head=line.hash.upper()[:12] + " ").ready
    assert not verify(made, head="0123456789ab").whole
    for wrong in ("0123456789a", "g" * 64, "0" * 65):
        with pytest.raises(CallError, match="the head is no hash; type at least the first 12 digits"):
            verify(made, head=wrong)


def test_lines_that_come_while_it_runs_disturb_nothing(
    ledger: Ledger, works: Works, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    works.take_in(ledger)
    works.cut(ledger)
    monkeypatch.setattr("discwright.works.store.verify._PAGE", 2)
    count = [0]

    def write_on(words: str, done: float) -> None:
        if count[0] < 6:
            works.put(ledger, e.TestCutMeasured(width_um=1.0), title="VK 1001")
            works.take_in(ledger, f"VK 2{count[0]}")
            count[0] += 1

    found = verify(ledger, tell=write_on)
    assert count[0] == 6
    assert (found.breaks, found.findings) == ((), ())


def test_it_can_look_into_a_transaction_that_is_not_committed(made: Ledger) -> None:
    from contextlib import nullcontext

    with writing(made.engine) as connection:
        assert verify_in(lambda: nullcontext(connection)).ready
        connection.execute(text("UPDATE parts SET state = 'cut'"))
        assert not verify_in(lambda: nullcontext(connection)).whole
