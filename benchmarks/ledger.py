"""The works ledger with a million lines: how fast lines are added, looked at, verified, backed up and brought back.

python benchmarks/ledger.py --quick     a few thousand lines
python benchmarks/ledger.py             a million
"""

from __future__ import annotations

import argparse
import importlib.util
import itertools
import json
import random
import shutil
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from discwright.works.chain import BEGIN, FIELDS, Line, linked
from discwright.works.parts import part_number
from discwright.works.store import kept, tables
from discwright.works.store.connect import writing
from discwright.works.store.ledger import Ledger, Order, begin_ledger, open_ledger
from discwright.works.store.look import board, part_lines, search
from discwright.works.store.refold import refold
from discwright.works.store.rows import row_of

Row = tuple[str, str, str]
SERVER = Path(__file__).parents[1] / "tests" / "works" / "ledgers.py"
STATIONS = 40
#: Of one title.
LINES = 53
#: Titles that are at work at the same time.
AT_ONCE = 50
#: Share of titles that are not finished.
OPEN = 0.02
START = datetime(2015, 1, 5, 6, tzinfo=UTC)


# An invented works -------------------------------------------------------------------------------------


def story(number: int, serials: Iterator[int], quantity: int) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """A title of two sides from its file to the vault: part, event and data of all its lines."""
    title = catalogue(number)
    due = (START + timedelta(days=number // 4 + 60)).date().isoformat()
    edition = {"id": "lp", "format": "12in-33", "quantity": quantity, "due": due, "sides": ["A", "B"]}
    yield "", "title_taken_in", {"name": f"Harbour Lights {number}", "people": ["The Quay Trio"], "editions": [edition]}
    for side in "AB":
        plan = {"edition": "lp", "side": side, "fingerprint": f"{number:062x}0{side.lower()}"}
        programme = {"programme_sha256": f"{number:062x}1{side.lower()}"}
        yield "", "plan_kept", plan | programme | {"format": "12in-33", "level_db": 1.5}
        yield "", "test_cut_measured", {"width_um": 52.0}
        lacquer, master, mother, stamper = (
            part_number(kind, next(serials)) for kind in ("lacquer", "master", "mother", "stamper")
        )
        cut = {"lacquer_batch": f"L-{number // 40}", "tip": "T-3", "tip_hours": 4.5, "mark": f"{title}-{side}"}
        yield lacquer, "lacquer_cut", plan | programme | cut
        yield lacquer, "checked_under_the_microscope", {"width_um": 51.0}
        yield lacquer, "handed_over", {"to": "plating"}
        yield lacquer, "silvered", {}
        for child, kind, parent in ((master, "master", lacquer), (mother, "mother", master)):
            grown = {"parent": parent, "part_kind": kind, "metal": "nickel", "tank": "2", "ampere_hours": 190.0}
            yield child, "plated", grown
            yield child, "separated", {}
            yield child, "weighed", {"mass_g": 180.5}
            yield child, "passivated", {}
        yield mother, "test_played", {"count": 0}
        yield mother, "approved", {}
        yield stamper, "plated", {"parent": mother, "part_kind": "stamper", "mark": "S1", "metal": "nickel"}
        for kind, data in (
            ("separated", {}), ("measured", {"thickness_um": 201.0, "where": "mean"}), ("back_sanded", {}),
            ("centred", {"run_out_um": 20.0}), ("trimmed", {"diameter_mm": 330.0}), ("formed", {}),
            ("put_to_press", {"press": "press 4"}), ("taken_off", {"count": 480}), ("vaulted", {"place": "shelf 12"}),
        ):  # fmt: skip
            yield stamper, kind, dict(data)


def catalogue(number: int) -> str:
    """Catalogue number of a title."""
    return f"BM {number:05}"


def told(count: int) -> Iterator[list[Line]]:
    """So many chained lines of whole titles, in the order in which fifty titles at a time are worked on."""
    prev, seq, number = BEGIN, 0, 0
    serials = itertools.count(1)
    chance = random.Random(1)
    while seq < count:
        stories = []
        for _ in range(AT_ONCE):
            quantity = 9000 if chance.random() < OPEN else 400
            stories.append((catalogue(number), story(number, serials, quantity)))
            number += 1
        wave: list[Line] = []
        while stories:
            left = []
            for title, events in stories:
                event = next(events, None)
                if event is None:
                    continue
                part, kind, data = event
                seq += 1
                at = (START + timedelta(minutes=5 * seq)).isoformat(timespec="microseconds")
                line = linked(Line(seq, at, "Ida Vik", "bench 2", title, part, kind, data, f"key-{seq}"), prev)
                prev = line.hash
                wave.append(line)
                left.append((title, events))
            stories = left
        yield wave


def fill(address: str, count: int) -> int:
    """A ledger of about so many lines, everything that is kept beside them with them; how many they became."""
    ledger, seq = begin_ledger(address), 0
    for wave in told(count):
        titles: dict[str, list[Line]] = {}
        for line in wave:
            titles.setdefault(line.title, []).append(line)
        worked_out = [refold(title, lines) for title, lines in titles.items()]
        with writing(ledger.engine) as connection:
            kept.insert_lines(connection, wave)
            kept.put_rows(connection, tables.titles, [one.title for one in worked_out])
            kept.put_rows(connection, tables.parts, [row for one in worked_out for row in one.parts])
            kept.put_rows(connection, tables.numbers, [row for one in worked_out for row in one.numbers])
        seq = wave[-1].seq
    ledger.close()
    return seq


# Adding ------------------------------------------------------------------------------------------------


def work_on(ledger: Ledger, number: int) -> int:
    """One more title, line by line as people tell them; how many lines that were."""
    from discwright.works.events import read_event

    titles, numbers, count = catalogue(number), {}, 0
    for part, kind, data in story(number, itertools.count(1), 400):
        parent = data.get("parent", "")
        event = read_event(kind, data | ({"parent": numbers[parent]} if parent else {}))
        born = kind == "lacquer_cut" or bool(parent)
        known = "" if born or not part else numbers[part]
        outcome = ledger.append(Order(event, "Ida Vik", titles, known, "bench 2"))
        assert outcome.line is not None, outcome.findings
        if born:
            numbers[part] = outcome.line.part
        count += 1
    return count


def appended(ledger: Ledger, first: int, lines: int, threads: int) -> float:
    """Lines a second, so many threads at once."""
    titles = max(threads, lines // LINES)
    shares = [range(first + k, first + titles, threads) for k in range(threads)]
    counts: list[int] = []
    workers = [
        threading.Thread(target=lambda own=own: counts.append(sum(work_on(ledger, one) for one in own)))
        for own in shares
    ]
    begin = time.perf_counter()
    for one in workers:
        one.start()
    for one in workers:
        one.join()
    assert len(counts) == threads
    return sum(counts) / (time.perf_counter() - begin)


def plain_sqlite(path: Path, rows: list[dict[str, Any]]) -> float:
    """Rows a second by an INSERT and a commit each, into a table with the same columns and keys."""
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode = TRUNCATE")
    connection.execute("PRAGMA synchronous = FULL")
    return _plain(connection.execute, ":{}", rows, connection.close)


def plain_postgresql(address: str, rows: list[dict[str, Any]]) -> float:
    """The same on PostgreSQL."""
    import psycopg

    connection = psycopg.connect(address, autocommit=True)
    return _plain(connection.execute, "%({})s", rows, connection.close)  # type: ignore[arg-type]


def _plain(execute: Callable[..., Any], mark: str, rows: list[dict[str, Any]], close: Callable[[], None]) -> float:
    columns = ", ".join(f'"{name}" {"INTEGER PRIMARY KEY" if name == "seq" else "TEXT NOT NULL"}' for name in FIELDS)
    execute(f"CREATE TABLE plain ({columns}, UNIQUE (key), UNIQUE (prev), UNIQUE (hash))")
    names = ", ".join(f'"{name}"' for name in FIELDS)
    statement = f"INSERT INTO plain ({names}) VALUES ({', '.join(mark.format(name) for name in FIELDS)})"
    begin = time.perf_counter()
    for row in rows:
        execute("BEGIN")
        execute(statement, row)
        execute("COMMIT")
    rate = len(rows) / (time.perf_counter() - begin)
    close()
    return rate


def adding_rows(name: str, ledger: Ledger, lines: int, plain: float) -> Iterator[Row]:
    """How fast lines are added, beside a plain loop in the same run."""
    one = appended(ledger, 10**5, lines, 1)
    beside = f"{one / plain:.2f} × a plain INSERT and commit ({plain:.0f} a second)"
    yield f"lines added one after another, {name}", f"{one:.0f} a second", beside
    many = appended(ledger, 2 * 10**5, 4 * lines, STATIONS)
    beside = f"{many / plain:.1f} × the plain loop; every line on the disk before it is answered"
    yield f"lines added by {STATIONS} stations at once, {name}", f"{many:.0f} a second", beside


# Looking -----------------------------------------------------------------------------------------------


def _times(act: Callable[[int], object], repeats: int) -> str:
    took = []
    for k in range(repeats):
        begin = time.perf_counter()
        act(k)
        took.append(1e3 * (time.perf_counter() - begin))
    return f"{statistics.median(took):.0f} ms, greatest {max(took):.0f} ms"


def looking_rows(name: str, address: str, count: int, repeats: int) -> Iterator[Row]:
    """The board, a part with all its lines, a search; by a program that has just been started."""
    now = (START + timedelta(minutes=5 * count)).isoformat(timespec="microseconds")
    chance = random.Random(2)
    parts = (count // LINES) * 8

    def part(_: int) -> object:
        serial = chance.randint(1, parts)
        number = part_number(("lacquer", "master", "mother", "stamper")[(serial - 1) % 4], serial)
        ledger = open_ledger(address)
        try:
            family = ledger.family_of(number)
            return part_lines(ledger, family, number)
        finally:
            ledger.close()

    ledger = open_ledger(address)
    where = f"{count:,} lines, {name}"
    yield "works board", _times(lambda _: board(ledger, now), repeats), where
    yield "works board, finished titles", _times(lambda _: board(ledger, now, finished=True), repeats), where
    yield "part with all its lines", _times(part, repeats), f"{where}, opened anew each time"
    look = _times(lambda _: search(ledger, f"BM {chance.randint(0, count // LINES):05}"), repeats)
    yield "search by a number", look, where
    ledger.close()


# Keeping -----------------------------------------------------------------------------------------------


def act(words: list[str]) -> dict[str, float]:
    """One act of keeping the ledger, in a process of its own: seconds, and the most memory it held, MiB."""
    child = subprocess.run([sys.executable, __file__, "--act", *words], capture_output=True, text=True, check=False)
    if child.returncode:
        raise RuntimeError(child.stderr[-2000:])
    found: dict[str, float] = json.loads(child.stdout)
    return found


def keep(what: str, *words: str) -> None:
    """What the child does."""
    from discwright.acts import ledger_keeping as keeping

    begin = time.perf_counter()
    if what == "fill":
        fill(words[0], int(words[1]))
    elif what == "verify":
        assert keeping.verify_ledger(open_ledger(words[0])).whole
    elif what == "back up":
        keeping.back_up(open_ledger(words[0]), Path(words[1]))
    elif what == "restore":
        keeping.restore(Path(words[0]), words[1])
    elif what == "export":
        keeping.export_ledger(open_ledger(words[0]), Path(words[1]))
    elif what == "import":
        keeping.import_ledger(Path(words[0]), words[1])
    seconds = time.perf_counter() - begin
    print(json.dumps({"seconds": seconds, "peak_mib": peak_mib()}))


def peak_mib() -> float:
    """Most memory this process held; `ru_maxrss` would also count that of whoever started it."""
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return int(next(line for line in status.splitlines() if line.startswith("VmHWM")).split()[1]) / 1024


def keeping_row(words: str, count: int, about: str, what: list[str]) -> Row:
    """One act of keeping, per million lines."""
    done = act(what)
    minutes = done["seconds"] / 60 * 1e6 / count
    return words, f"{minutes:.1f} min per million lines, {done['peak_mib']:.0f} MiB", about


@contextmanager
def postgresql() -> Iterator[Any]:
    """The tests' own server; nothing where none is installed."""
    if not list(Path("/usr/lib/postgresql").glob("*/bin/postgres")):
        yield None
        return
    spec = importlib.util.spec_from_file_location("ledgers", SERVER)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["ledgers"] = module
    spec.loader.exec_module(module)
    server = module.Server(Path(tempfile.mkdtemp(prefix="works-postgresql-")))
    try:
        server.make()
        server.start()
        yield server
    finally:
        server.stop()
        shutil.rmtree(server.folder, ignore_errors=True)


def ledger_rows(work: Path, lines: int, added: int, repeats: int) -> Iterator[Row]:
    """Rows of the table.

    Parameters
    ----------
    work : pathlib.Path
        Folder for everything.
    lines : int
        In the ledger.
    added : int
        Lines added one after another.
    repeats : int
        How often a look is timed.
    """
    work.mkdir(exist_ok=True)
    sqlite, backup, text = f"sqlite:///{work / 'works.sqlite'}", str(work / "backup.sqlite"), str(work / "works.jsonl")
    filled = act(["fill", sqlite, str(lines)])
    ledger = open_ledger(sqlite)
    count = ledger.head()[0]
    size = (work / "works.sqlite").stat().st_size / 1e6
    yield "ledger of so many lines", f"{count:,}", f"{size:.0f} MB of SQLite, told in {filled['seconds'] / 60:.1f} min"
    yield from looking_rows("SQLite", sqlite, count, repeats)
    yield keeping_row("`works verify`", count, "SQLite", ["verify", sqlite])
    yield keeping_row("`works backup`, verified", count, "SQLite", ["back up", sqlite, backup])
    yield keeping_row("`works restore`", count, "SQLite to SQLite", ["restore", backup, str(work / "again.sqlite")])
    yield keeping_row("`works export`", count, "SQLite", ["export", sqlite, text])
    yield keeping_row("`works import`", count, "to SQLite", ["import", text, str(work / "imported.sqlite")])
    plain = [row_of(line) for wave in told(1) for line in wave][:added]
    yield from adding_rows("SQLite", ledger, added, plain_sqlite(work / "plain.sqlite", plain))
    ledger.close()
    with postgresql() as server:
        if server is None:
            yield "PostgreSQL", "not installed", "apt-get install postgresql"
            return
        for name in ("works", "imported"):
            server.run(f"CREATE DATABASE {name}")
        address = server.address("works")
        yield keeping_row("`works restore`", count, "SQLite to PostgreSQL", ["restore", backup, address])
        server.run("ANALYZE", "works")
        yield from looking_rows("PostgreSQL", address, count, repeats)
        yield keeping_row("`works verify`", count, "PostgreSQL", ["verify", address])
        again = str(work / "from-postgresql.sqlite")
        yield keeping_row("`works backup`, verified", count, "PostgreSQL", ["back up", address, again])
        ledger = open_ledger(address)
        yield from adding_rows("PostgreSQL", ledger, added, plain_postgresql(server.address("imported"), plain))
        ledger.close()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="a few thousand lines: does it still run?")
    parser.add_argument("--lines", type=int, default=1_000_000, help="lines in the ledger")
    parser.add_argument("--act", nargs="+", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.act:
        keep(*options.act)
        return
    with tempfile.TemporaryDirectory() as directory:
        for row in ledger_rows(Path(directory), *((3000, 300, 3) if options.quick else (options.lines, 2500, 15))):
            print(*row, sep=" | ", flush=True)


if __name__ == "__main__":
    main()
