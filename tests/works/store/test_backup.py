"""Backups: made while others write, whole, never over another file; and nothing is left of one that failed."""

from __future__ import annotations

import shutil
import sqlite3
import threading
from collections.abc import Callable
from pathlib import Path

import hand
import pytest
from ledgers import Clock, Works
from sqlalchemy import text

from discwright import __version__
from discwright.errors import LedgerError
from discwright.works.chain import broken
from discwright.works.store import connect
from discwright.works.store.backup import back_up, last_backup
from discwright.works.store.connect import writing
from discwright.works.store.ledger import Ledger, begin_ledger, open_ledger
from discwright.works.store.people_tables import people
from discwright.works.store.verify import verify


def test_a_backup_is_the_whole_ledger(ledger: Ledger, works: Works, clock: Clock, tmp_path: Path) -> None:
    works.take_in(ledger)
    works.make_side(ledger)
    ledger.set("zone", "Europe/Oslo")
    person = {
        "name": "Ola Berg", "folded": "ola berg", "roles": "keeper", "password": "", "must_change": True,
        "made_at": "", "closed_at": "",
    }  # fmt: skip
    with writing(ledger.engine) as connection:
        connection.execute(people.insert().values(person))
    assert last_backup(ledger) is None
    ledger.clock = clock
    told: list[float] = []
    made = back_up(ledger, tmp_path / "b.sqlite", tell=lambda _, done: told.append(done))
    assert (made.lines, made.head) == ledger.head()
    assert (made.at, made.version) == ("2025-03-03T08:00:01+00:00", __version__)
    assert made.size_bytes > 20_000
    assert made.as_dict()["file"] == str(tmp_path / "b.sqlite")
    assert told == sorted(told)
    copy = open_ledger(str(tmp_path / "b.sqlite"))
    assert list(copy.lines()) == list(ledger.lines())
    assert copy.setting("zone") == "Europe/Oslo"
    with copy.engine.connect() as connection:
        assert dict(connection.execute(people.select()).mappings().one()) == person | {"id": 1}
    assert verify(copy).ready
    # It says itself what it is, and the ledger knows of it.
    for one in (copy, ledger):
        last = last_backup(one)
        assert last is not None
        assert (last.head, last.lines, last.file, last.at) == (made.head, made.lines, made.file, made.at)
    copy.close()


def test_a_backup_while_stations_write(ledger: Ledger, works: Works, tmp_path: Path) -> None:
    works.take_in(ledger)
    stop, told = threading.Event(), list[str]()

    def station(k: int) -> None:
        n = 0
        while not stop.is_set():
            line = ledger.append(hand.order(f"station {k}", n)).line
            assert line is not None
            told.append(f"{line.seq} {line.hash} {line.key}")
            n += 1

    stations = [threading.Thread(target=station, args=(k,)) for k in range(6)]
    for one in stations:
        one.start()
    made = []
    for k in range(4):
        before = ledger.head()[0]
        made.append(back_up(ledger, tmp_path / f"{k}.sqlite"))
        assert made[-1].lines >= before
    stop.set()
    for one in stations:
        one.join()
    hand.check_told(ledger, told)
    for one in made:
        line = ledger.line(one.lines)
        assert line is not None
        assert line.hash == one.head
        copy = open_ledger(one.file)
        assert list(broken(copy.lines())) == []
        copy.close()
    assert [one.lines for one in made] == sorted(one.lines for one in made)


def test_a_plain_copy_of_an_open_file_would_not_do(make_ledger: Callable[[str], Ledger], works: Works) -> None:
    """Why backups are not made by copying: a copy taken within a transaction holds half of it."""
    ledger = make_ledger("sqlite")
    works.take_in(ledger)
    path = Path(str(ledger.engine.url.database))
    with writing(ledger.engine) as connection:
        connection.execute(text("PRAGMA cache_size = 1"))
        connection.execute(text("PRAGMA cache_spill = 1"))
        for k in range(400):
            value = {"name": str(k), "value": "x" * 900}
            connection.execute(text("INSERT INTO settings VALUES (:name, :value)"), value)
        shutil.copy(path, path.with_name("copy.sqlite"))
    copy = sqlite3.connect(path.with_name("copy.sqlite"))
    try:
        found = copy.execute("PRAGMA integrity_check").fetchone()[0]
        count = copy.execute("SELECT count(*) FROM settings").fetchone()[0]
    except sqlite3.DatabaseError:
        found, count = "malformed", -1
    copy.close()
    assert (found, count) != ("ok", 400)


def test_nothing_is_written_over(make_ledger: Callable[[str], Ledger], works: Works, tmp_path: Path) -> None:
    ledger = make_ledger("sqlite")
    works.take_in(ledger)
    path = tmp_path / "b.sqlite"
    path.write_text("something of somebody's")
    with pytest.raises(LedgerError, match="is there already, and nothing is written over it; name another file"):
        back_up(ledger, path)
    assert path.read_text() == "something of somebody's"
    with pytest.raises(LedgerError, match="no-such-folder"):
        back_up(ledger, tmp_path / "no-such-folder" / "b.sqlite")
    assert last_backup(ledger) is None


def test_a_ledger_that_does_not_hold_gives_no_backup(ledger: Ledger, works: Works, tmp_path: Path) -> None:
    works.take_in(ledger)
    with writing(ledger.engine) as connection:
        connection.execute(text("UPDATE lines SET \"by\" = 'Someone else'"))
    with pytest.raises(LedgerError, match=r"line 1 was changed after it was written\); look at it with `discw"):
        back_up(ledger, tmp_path / "b.sqlite")
    assert [one.name for one in tmp_path.iterdir() if one.name.startswith("b.")] == []
    assert last_backup(ledger) is None


def test_stopped_in_the_middle(ledger: Ledger, works: Works, tmp_path: Path) -> None:
    works.take_in(ledger)
    works.make_side(ledger)

    def stop(words: str, done: float) -> None:
        if done > 0.2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        back_up(ledger, tmp_path / "b.sqlite", tell=stop)
    assert [one.name for one in tmp_path.iterdir() if one.name.startswith("b.")] == []
    # What a killed one left lying is no hindrance.
    (tmp_path / "b.sqlite.part").write_text("half")
    back_up(ledger, tmp_path / "b.sqlite")
    assert [one.name for one in tmp_path.iterdir() if one.name.startswith("b.")] == ["b.sqlite"]


def test_with_a_write_ahead_log(tmp_path: Path, works: Works, monkeypatch: pytest.MonkeyPatch) -> None:
    """As SQLite is used from the version on that has its fault mended; a backup is still one file."""
    monkeypatch.setattr(connect, "WAL_IS_SAFE", (3, 0, 0))
    ledger = begin_ledger(str(tmp_path / "works.sqlite"))
    works.take_in(ledger)
    works.make_side(ledger)
    assert (tmp_path / "works.sqlite-wal").is_file()
    made = back_up(ledger, tmp_path / "b.sqlite")
    assert (made.lines, made.head) == ledger.head()
    assert sorted(one.name for one in tmp_path.iterdir() if one.name.startswith("b.")) == ["b.sqlite"]
    # by hand: bytes 18 and 19 of an SQLite file are 1 with a rollback journal, 2 with a write-ahead log.
    assert (tmp_path / "b.sqlite").read_bytes()[18:20] == b"\1\1"
    assert (tmp_path / "works.sqlite").read_bytes()[18:20] == b"\2\2"
    ledger.close()
    again = open_ledger(str(tmp_path / "works.sqlite"))
    assert verify(again).ready
    again.close()
