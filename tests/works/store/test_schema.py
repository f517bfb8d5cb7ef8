"""Tables and migrations: the sample ledgers of every release come up to the newest tables, with what is in them."""

from __future__ import annotations

import json
import shutil
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from ledgers import Places, Works
from sqlalchemy import inspect

from discwright.errors import LedgerError
from discwright.works import events as e
from discwright.works.store.connect import make_engine, read_address, writing
from discwright.works.store.export import export_text, import_text
from discwright.works.store.ledger import Ledger, begin_ledger, open_ledger
from discwright.works.store.people_tables import people
from discwright.works.store.schema import NEWEST, known_revisions, revision, upgrade_in
from discwright.works.store.tables import metadata
from discwright.works.store.verify import verify

SAMPLES = sorted(path.parent for path in (Path(__file__).parents[2] / "authorities" / "ledgers").glob("*/about.json"))


@pytest.fixture(params=SAMPLES, ids=lambda path: path.name)
def sample(request: pytest.FixtureRequest) -> Path:
    """Folder of a sample ledger."""
    path: Path = request.param
    return path


def brought(sample: Path, database: str, places: Places) -> str:
    """A sample at a place of its own, as it was written."""
    place = places(database)
    if database == "sqlite":
        shutil.copy(sample / "works.sqlite", place.removeprefix("sqlite:///"))
    else:
        with psycopg.connect(place, autocommit=True) as connection:
            connection.execute((sample / "works.sql").read_bytes())
    return place


@pytest.fixture
def opened(sample: Path, database: str, places: Places) -> Iterator[Ledger]:
    """A sample, opened by this program."""
    ledger = open_ledger(brought(sample, database, places))
    yield ledger
    ledger.close()


def test_samples_are_there() -> None:
    assert {"0.1.0", "0.1.0-0001"} <= {path.name for path in SAMPLES}


def test_an_old_ledger_is_what_it_was(opened: Ledger, sample: Path, database: str, works: Works) -> None:
    about = json.loads((sample / "about.json").read_text())
    # regression only: what the program of that release wrote.
    assert opened.head() == (about[database]["lines"], about[database]["head"])
    found = verify(opened, head=about[database]["head"])
    assert found.breaks == ()
    # The one thing that the sample's own people left open.
    assert [one.code for one in found.findings] == ["marks"]
    with opened.engine.connect() as connection:
        assert revision(connection) == NEWEST
        names = connection.execute(people.select()).all()
    assert [row.name for row in names] == ([] if about["revision"] == "0001" else ["Ola Berg"])
    assert opened.setting("zone") == "Europe/Oslo"
    stamper = next(one for one in opened.family("VK 1001").parts.values() if one.kind == "stamper")
    assert (stamper.pressings, stamper.state, stamper.place) == (84, "taken_off", "the press")
    assert opened.family("ŽM 7").name == "Dvořák – 東京 ‘live’"
    late = next(line for line in opened.lines() if line.key == "tap 1")
    assert late.clock < late.at
    works.put(opened, e.TestCutMeasured(width_um=1.0), title="ŽM 7")
    assert verify(opened).breaks == ()


def test_an_old_text_comes_in(sample: Path, places: Places, database: str, tmp_path: Path) -> None:
    place = places(database)
    moved = import_text(sample / "works.jsonl", place)
    assert moved.head == json.loads((sample / "about.json").read_text())["sqlite"]["head"]
    ledger = open_ledger(place)
    export_text(ledger, tmp_path / "again.jsonl")
    ledger.close()
    assert (tmp_path / "again.jsonl").read_bytes() == (sample / "works.jsonl").read_bytes()


def test_two_programs_that_open_an_old_ledger_at_once(places: Places, database: str) -> None:
    place = brought(SAMPLES[0], database, places)
    troubles: list[Exception] = []

    def open_it() -> None:
        try:
            open_ledger(place).close()
        except LedgerError as trouble:
            troubles.append(trouble)

    threads = [threading.Thread(target=open_it) for _ in range(4)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert troubles == []
    ledger = open_ledger(place)
    assert verify(ledger).breaks == ()
    ledger.close()


def test_migrations_make_the_tables_that_the_program_uses(ledger: Ledger) -> None:
    with ledger.engine.connect() as connection:
        context = MigrationContext.configure(connection)
        differences = [one for one in compare_metadata(context, metadata) if one[0] != "modify_type"]
    assert differences == []


def test_an_upgrade_is_whole_or_not_at_all(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    engine = make_engine(read_address(address))
    with writing(engine) as connection:
        upgrade_in(connection, "0001")

    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("the light went out")

    with monkeypatch.context() as patched:
        patched.setattr("alembic.op.create_index", broken)
        with pytest.raises(RuntimeError, match="the light went out"):
            open_ledger(address)
    with engine.connect() as connection:
        assert revision(connection) == "0001"
        assert not inspect(connection).has_table("people")
    engine.dispose()
    open_ledger(address).close()


def test_revisions_are_a_row_without_gaps() -> None:
    # by hand: files are named by their place.
    assert known_revisions() == tuple(f"{k:04}" for k in range(1, len(known_revisions()) + 1))
    assert known_revisions()[-1] == NEWEST


def test_beginning_where_a_beginning_failed(make_ledger: Callable[[str], Ledger], tmp_path: Path) -> None:
    (tmp_path / "works.sqlite").touch()
    ledger = begin_ledger(str(tmp_path / "works.sqlite"))
    assert ledger.head()[0] == 0
    ledger.close()
