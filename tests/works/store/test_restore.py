"""Backups brought back, into either database; and drills, which know a bad backup from a good one."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from ledgers import Clock, Places, Works
from sqlalchemy import select

from discwright.errors import LedgerError
from discwright.works import events as e
from discwright.works.store import tables
from discwright.works.store.backup import back_up, last_backup
from discwright.works.store.connect import writing
from discwright.works.store.copying import WORKED_OUT
from discwright.works.store.ledger import Ledger, open_ledger
from discwright.works.store.people_tables import access_log, people, sessions
from discwright.works.store.restore import LEFT_BEHIND, drill, last_drill, restore
from discwright.works.store.verify import verify


@pytest.fixture
def filled(ledger: Ledger, works: Works) -> Ledger:
    works.take_in(ledger)
    works.make_side(ledger)
    ledger.set("zone", "Europe/Oslo")
    with writing(ledger.engine) as connection:
        for k in (4, 7):
            person = {"id": k, "name": f"P{k}", "folded": f"p{k}", "roles": "keeper", "password": ""}
            more = {"must_change": False, "made_at": "", "closed_at": ""}
            connection.execute(people.insert().values(person | more))
        seen = {"hash": "h", "person": 4, "made_at": "", "seen_at": "", "place": ""}
        connection.execute(sessions.insert().values(seen))
        entry = {"at": "", "who": "P4", "what": "ledger_begun", "about": "", "place": ""}
        connection.execute(access_log.insert().values(entry))
    return ledger


@pytest.mark.parametrize("to", ["sqlite", "postgresql"])
def test_a_backup_of_either_comes_back_on_either(filled: Ledger, to: str, places: Places, tmp_path: Path) -> None:
    made = back_up(filled, tmp_path / "b.sqlite")
    before = (tmp_path / "b.sqlite").read_bytes()
    told: list[float] = []
    place = places(to)
    done = restore(tmp_path / "b.sqlite", place, tell=lambda _, share: told.append(share))
    assert (done.lines, done.head, done.findings) == (made.lines, made.head, 0)
    assert told == sorted(told)
    assert (tmp_path / "b.sqlite").read_bytes() == before
    again = open_ledger(place)
    assert list(again.lines()) == list(filled.lines())
    assert again.family("VK 1001") == filled.family("VK 1001")
    assert again.setting("zone") == "Europe/Oslo"
    assert verify(again, head=made.head).ready
    last = last_backup(again)
    assert last is not None
    assert last.head == made.head
    with again.engine.connect() as connection:
        found = connection.execute(select(people.c.id, people.c.name).order_by(people.c.id)).all()
        assert found == [(4, "P4"), (7, "P7")]
        assert connection.execute(select(access_log.c.who)).all() == [("P4",)]
        # Nobody is signed in after a restore.
        assert connection.execute(select(sessions)).all() == []
    # Numbers that the database gives go on after those that came in.
    with writing(again.engine) as connection:
        person = {"name": "New", "folded": "new", "roles": "", "password": "", "must_change": False, "made_at": ""}
        assert connection.execute(people.insert().values(person | {"closed_at": ""})).inserted_primary_key == (8,)
    again.close()


def test_only_an_empty_place_is_filled(filled: Ledger, places: Places, database: str, tmp_path: Path) -> None:
    back_up(filled, tmp_path / "b.sqlite")
    place = places(database)
    restore(tmp_path / "b.sqlite", place)
    head = filled.head()
    with pytest.raises(LedgerError, match="is a ledger already, and nothing is written over one; name an empty place"):
        restore(tmp_path / "b.sqlite", place)
    other = places("sqlite")
    sqlite3.connect(other.removeprefix("sqlite:///")).execute("CREATE TABLE recipes (name TEXT)").connection.close()
    with pytest.raises(LedgerError, match="holds something else"):
        restore(tmp_path / "b.sqlite", other)
    again = open_ledger(place)
    assert again.head() == head
    again.close()


def damaged(path: Path, statement: str) -> Path:
    """A copy of a backup with something changed in it."""
    copy = path.with_name("damaged.sqlite")
    copy.unlink(missing_ok=True)
    copy.write_bytes(path.read_bytes())
    connection = sqlite3.connect(copy)
    assert connection.execute(statement).rowcount
    connection.commit()
    connection.close()
    return copy


def empty(place: str) -> bool:
    """There is nothing at a place."""
    with pytest.raises(LedgerError, match="no ledger; begin one"):
        open_ledger(place)
    return not list(Path(place.removeprefix("sqlite:///")).parent.glob("*.part*")) if "sqlite" in place else True


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("UPDATE lines SET \"by\" = 'Someone else' WHERE seq = 9", "line 9 was changed after it was written; use"),
        ("DELETE FROM lines WHERE seq = 9", "line 10 follows line 8: lines are missing or out of order; use another"),
        ("UPDATE lines SET data = '{' WHERE seq = 9", "line 9 was changed after it was written; use another backup"),
        ("UPDATE alembic_version SET version_num = '0099'", "was written by a newer discwright"),
        ("DELETE FROM alembic_version", "holds no ledger"),
    ],
)
def test_a_broken_backup_is_refused_and_leaves_nothing(
    filled: Ledger, places: Places, database: str, tmp_path: Path, statement: str, words: str
) -> None:
    back_up(filled, tmp_path / "b.sqlite")
    bad, place = damaged(tmp_path / "b.sqlite", statement), places(database)
    with pytest.raises(LedgerError, match=words) as refused:
        restore(bad, place)
    assert str(bad) in str(refused.value)
    assert empty(place)
    done = drill(filled, bad)
    assert not done.good
    assert words.split(";")[0] in done.wrong
    assert last_drill(filled) is None
    assert last_drill(filled, good=False) == done


@pytest.mark.parametrize("content", [b"", b"not a database" * 400, os.urandom(8000)], ids=["zero", "text", "noise"])
def test_what_is_no_backup(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "b.sqlite").write_bytes(content)
    with pytest.raises(LedgerError, match=r"b.sqlite: (is no ledger, or a broken one; use another|holds no ledger)"):
        restore(tmp_path / "b.sqlite", str(tmp_path / "new.sqlite"))
    with pytest.raises(LedgerError, match="there is no such backup; look for its name again"):
        restore(tmp_path / "c.sqlite", str(tmp_path / "new.sqlite"))
    assert not (tmp_path / "new.sqlite").exists()
    assert not drill(None, tmp_path / "b.sqlite").good


def test_what_was_worked_out_wrongly_is_worked_out_again(filled: Ledger, places: Places, tmp_path: Path) -> None:
    back_up(filled, tmp_path / "b.sqlite")
    bad = damaged(tmp_path / "b.sqlite", "UPDATE parts SET state = 'cut', doc = '{}'")
    place = places("sqlite")
    restore(bad, place)
    again = open_ledger(place)
    assert verify(again).ready
    assert again.family("VK 1001") == filled.family("VK 1001")
    again.close()


def test_a_drill_is_noted(filled: Ledger, works: Works, clock: Clock, tmp_path: Path) -> None:
    made = back_up(filled, tmp_path / "b.sqlite")
    assert last_drill(filled) is None
    works.put(filled, e.TestCutMeasured(width_um=50.0), title="VK 1001")  # the ledger has gone on since
    filled.clock = clock
    done = drill(filled, tmp_path / "b.sqlite")
    assert done.good
    assert (done.lines, done.head, done.at) == (made.lines, made.head, "2025-03-03T08:00:01+00:00")
    assert done.took_s > 0
    assert last_drill(filled) == done
    assert drill(None, tmp_path / "b.sqlite").good
    assert done.as_dict()["good"] is True
    bad = drill(filled, damaged(tmp_path / "b.sqlite", "UPDATE lines SET station = 'x' WHERE seq = 3"))
    assert last_drill(filled) == done
    assert last_drill(filled, good=False) == bad


def test_a_drill_knows_the_backup_of_another_ledger(
    filled: Ledger, make_ledger: Callable[[str], Ledger], works: Works, tmp_path: Path
) -> None:
    other = make_ledger("sqlite")
    works.take_in(other)
    back_up(other, tmp_path / "other.sqlite")
    done = drill(filled, tmp_path / "other.sqlite")
    assert not done.good
    assert "is of another ledger, or the history here was rewritten since; compare both with `verify`" in done.wrong


def test_stopped_in_the_middle(filled: Ledger, places: Places, database: str, tmp_path: Path) -> None:
    back_up(filled, tmp_path / "b.sqlite")
    for share in (0.05, 0.25, 0.45, 0.6):
        place = places(database)

        def stop(words: str, done: float, share: float = share) -> None:
            if done >= share:
                raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            restore(tmp_path / "b.sqlite", place, tell=stop)
        assert empty(place)
        restore(tmp_path / "b.sqlite", place)
        again = open_ledger(place)
        assert verify(again).ready
        again.close()


def test_findings_come_along(ledger: Ledger, works: Works, places: Places, tmp_path: Path) -> None:
    works.take_in(ledger)
    lacquer = works.cut(ledger)
    works.put(ledger, e.Checked(marks_read="another mark"), part=lacquer)
    back_up(ledger, tmp_path / "b.sqlite")
    assert restore(tmp_path / "b.sqlite", places("sqlite")).findings == 1


def test_what_is_left_behind_are_tables_of_the_ledger() -> None:
    assert {*WORKED_OUT, *LEFT_BEHIND} <= set(tables.metadata.tables)
