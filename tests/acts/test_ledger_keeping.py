"""The acts of keeping: thin over the store, with names for backups and progress that a person can read."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from ledgers import Clock, Places, Works

from discwright.acts import ledger_keeping as keeping
from discwright.errors import LedgerError
from discwright.works.store.ledger import Ledger, open_ledger
from discwright.works.store.restore import last_drill


@pytest.fixture
def filled(ledger: Ledger, works: Works) -> Ledger:
    works.take_in(ledger)
    works.make_side(ledger)
    return ledger


def test_once_round(filled: Ledger, places: Places, database: str, tmp_path: Path) -> None:
    said: list[str] = []

    def progress(words: str, done: float) -> None:
        assert 0 <= done <= 1
        said.append(words)

    out = tmp_path / "kept"
    out.mkdir()
    backup = keeping.back_up(filled, out, progress=progress)
    assert keeping.drill(filled, Path(backup.file), progress=progress).good
    assert last_drill(filled) is not None
    restored = places(database)
    keeping.restore(Path(backup.file), restored, progress=progress)
    keeping.export_ledger(filled, out / "works.jsonl", progress=progress)
    imported = places("postgresql" if database == "sqlite" else "sqlite")
    keeping.import_ledger(out / "works.jsonl", imported, progress=progress)
    for address in (restored, imported):
        ledger = open_ledger(address)
        assert keeping.verify_ledger(ledger, head=backup.head, progress=progress).ready
        assert ledger.family("VK 1001") == filled.family("VK 1001")
        ledger.close()
    assert {"copying", "hashing every line again", "writing lines", "taking lines in", "done"} & set(said)


def test_a_backup_has_a_name_of_its_own(
    make_ledger: Callable[[str], Ledger], works: Works, clock: Clock, tmp_path: Path
) -> None:
    ledger = make_ledger("sqlite")
    works.take_in(ledger)
    ledger.clock = clock
    head = ledger.head()[1]
    # by hand: the clock goes on by a second with each look.
    assert keeping.backup_name(ledger) == f"works-2025-03-03-080001-1-{head[:12]}.sqlite"
    made = keeping.back_up(ledger, tmp_path / "mine.sqlite")
    assert made.file == str(tmp_path / "mine.sqlite")
    with pytest.raises(LedgerError, match="is there already"):
        keeping.back_up(ledger, tmp_path / "mine.sqlite")
