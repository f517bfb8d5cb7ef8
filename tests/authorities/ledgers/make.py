"""Makes the sample ledgers of a release: run once before it, by the program as it is then, and never again.

python tests/authorities/ledgers/make.py 0.1.0
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parents[1] / "works"))

from ledgers import Clock, Server, cut, make_side, programs, put, take_in  # noqa: E402

from discwright.works import events as e  # noqa: E402
from discwright.works.store.connect import make_engine, read_address, writing  # noqa: E402
from discwright.works.store.export import export_text  # noqa: E402
from discwright.works.store.ledger import Ledger, Order, open_ledger  # noqa: E402
from discwright.works.store.people_tables import people  # noqa: E402
from discwright.works.store.schema import known_revisions, upgrade_in  # noqa: E402

FIRST = "0001"


def tell(address: str, revision: str) -> Ledger:
    """A ledger at a migration with something of everything in it."""
    engine = make_engine(read_address(address))
    with writing(engine) as connection:
        upgrade_in(connection, revision)
    clock = Clock()
    ledger = Ledger(engine, address, clock)
    take_in(ledger)
    made = make_side(ledger)
    take_in(ledger, "ŽM 7", "Dvořák – 東京 ‘live’")
    cut(ledger, "ŽM 7", "B")
    ledger.append(Order(e.Checked(marks_read="?"), "Łucja Wójcik", part=made.lacquer, accepted="scribed by hand"))
    ledger.append(Order(e.Checked(marks_read="VK"), "Ola Berg", part=made.lacquer))
    count = next(line.seq for line in ledger.lines(part=made.stamper) if line.kind == "taken_off")
    put(ledger, e.Corrected(seq=count, instead={"count": 84}, note="figures swapped"), title="VK 1001")
    put(ledger, e.Corrected(seq=count + 1, note="not on the shelf"), title="VK 1001", part=made.stamper)
    clock.now -= timedelta(hours=2)
    put(ledger, e.HandedOver(to="the press"), part=made.stamper, station="bench 2", key="tap 1")
    ledger.set("zone", "Europe/Oslo")
    if revision != FIRST:
        person = {"name": "Ola Berg", "folded": "ola berg", "roles": "keeper", "password": "", "must_change": True}
        with writing(engine) as connection:
            more = {"made_at": datetime(2025, 3, 3, tzinfo=UTC).isoformat(), "closed_at": ""}
            connection.execute(people.insert().values(person | more))
    return ledger


def dump(server: Server, name: str, out: Path) -> None:
    """A PostgreSQL database as plain SQL."""
    plain = ["--no-owner", "--no-privileges", "--inserts"]
    command = [str(programs() / "pg_dump"), *plain, "--host", str(server.folder), "--port", str(server.port)]
    told = subprocess.run([*command, "--username", "postgres", name], check=True, capture_output=True, text=True).stdout
    # Words to the psql program alone; others need not understand them.
    out.write_text("".join(line for line in told.splitlines(keepends=True) if not line.startswith("\\")))


def make(release: str) -> None:
    """All samples of a release."""
    server = Server(Path(tempfile.mkdtemp(prefix="works-postgresql-")))
    try:
        server.make()
        server.start()
        for name, revision in ((f"{release}-{FIRST}", FIRST), (release, known_revisions()[-1])):
            folder = HERE / name
            folder.mkdir()
            ledger = tell(f"sqlite:///{folder / 'works.sqlite'}", revision)
            export_text(ledger, folder / "works.jsonl")
            ledger.close()
            (folder / "works.sqlite-journal").unlink(missing_ok=True)
            database = f"sample_{revision}"
            server.run(f"CREATE DATABASE {database}")
            ledger = tell(server.address(database), revision)
            about = {"revision": revision, "postgresql": dict(zip(("lines", "head"), ledger.head(), strict=True))}
            ledger.close()
            dump(server, database, folder / "works.sql")
            # Opening brings to the newest tables, so the sample itself is only looked at through a copy.
            with tempfile.TemporaryDirectory() as copy:
                ledger = open_ledger(shutil.copy(folder / "works.sqlite", copy))
                about["sqlite"] = dict(zip(("lines", "head"), ledger.head(), strict=True))
                ledger.close()
            (folder / "about.json").write_text(json.dumps(about, indent=1) + "\n")
    finally:
        server.stop()
        shutil.rmtree(server.folder, ignore_errors=True)


if __name__ == "__main__":
    os.umask(0o022)
    make(sys.argv[1])
