"""A day of a big works at the packing table: allocated, cartoned, labelled and listed, and a million lines read.

python benchmarks/pack.py --quick     a small works: does it still run?
python benchmarks/pack.py             250,000 discs, 400 titles, 3,000 accounts, 12,000 lines of orders
"""

from __future__ import annotations

import argparse
import contextlib
import csv
import json
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

Row = tuple[str, str, str]
_POLL_S = 0.02
HEADS = (
    "order", "account", "name", "address_1", "address_2", "city", "region", "postcode", "country", "edition", "count",
    "wanted",
)  # fmt: skip
#: Invented places in scripts that a label must print.
PLACES = (
    ("Music Trade", "Harbour Road", "Bergen", "5003", "NO"), ("Přístav hudby", "Nábřežní", "Praha", "170 00", "CZ"),
    ("Жуки и волны", "Портовая", "Рига", "LV-1010", "LV"), ("Δίσκοι", "Ερμού", "Αθήνα", "105 63", "GR"),
    ("港町音楽商店", "Minato-ku", "Tokyo", "105-0011", "JP"), ("Quay Records", "Pier Street", "Boston", "02110", "US"),
)  # fmt: skip
#: Discs of a line of an order: most are less than a carton, a few are many.
COUNTS = (5, 10, 10, 15, 15, 20, 20, 25, 25, 25, 30, 50)


def write_orders(path: Path, lines: int, titles: int, accounts: int) -> int:
    """An order file; how many discs it asks for."""
    chance = random.Random(1)
    asked = 0
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(HEADS)
        for k in range(lines):
            account = chance.randrange(accounts)
            name, street, city, postcode, country = PLACES[account % len(PLACES)]
            count = chance.choice(COUNTS)
            asked += count
            writer.writerow(
                (
                    f"O-{k}", f"A-{account}", f"{name} {account}", f"{street} {account % 90 + 1}", "", city,
                    "MA" if country == "US" else "", postcode, country, f"HW-{k % titles:04d}/lp", count,
                    f"2026-12-{chance.randrange(1, 29):02d}",
                )
            )  # fmt: skip
    return asked


def write_stock(path: Path, titles: int, discs: int) -> None:
    """Two runs of each title in two bins each; one title in fifty is short."""
    each = discs // titles // 4 + 1
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(("edition", "run", "count", "bin"))
        for k in range(titles):
            for run in (1, 2):
                for bin_ in (1, 2):
                    there = each // 2 if k % 50 == 0 else each + 40
                    writer.writerow(
                        (f"HW-{k:04d}/lp", f"R-{k}-{run}", there, f"{chr(65 + k % 20)}-{k // 20}-{run}{bin_}")
                    )


def measured(command: list[str], accepted: tuple[int, ...], out: Path) -> tuple[float, float]:
    """Seconds, and greatest memory in MiB, of one command; its standard output goes to a file."""
    begin, peak = time.perf_counter(), 0
    with out.open("wb") as stream:
        process = subprocess.Popen(command, stdout=stream, stderr=subprocess.DEVNULL)
        while process.poll() is None:
            peak = max(peak, peak_kib(process.pid))
            time.sleep(_POLL_S)
    seconds = time.perf_counter() - begin
    if process.returncode not in accepted:
        raise RuntimeError(f"{' '.join(command)} ended with {process.returncode}")
    return seconds, peak / 1024


def peak_kib(pid: int) -> int:
    """Most memory a process held so far; what `wait4` tells would also count that of whoever started it."""
    with contextlib.suppress(OSError, StopIteration):
        status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
        return int(next(line for line in status.splitlines() if line.startswith("VmHWM")).split()[1])
    return 0


def pack_rows(work: Path, lines: int, titles: int, accounts: int, many: int) -> Iterator[Row]:
    """A day packed by the command line, then a file of many lines of which one is wrong."""
    work.mkdir(parents=True, exist_ok=True)
    orders, stock, told = work / "orders.csv", work / "stock.csv", work / "told.json"
    asked = write_orders(orders, lines, titles, accounts)
    write_stock(stock, titles, asked)
    pack = [sys.executable, "-m", "discwright", "pack", str(orders), "--stock", str(stock)]
    papers = ["labels.pdf", "manifest.csv", "picks.csv"]
    options = [
        "--gs1-prefix", "9521234", "--serial-from", "1", "--labels", str(work / papers[0]), "--manifest",
        str(work / papers[1]), "--pick-list", str(work / papers[2]), "--from-address",
        "Harbour Records; Quay 7; Bergen", "--json",
    ]  # fmt: skip
    seconds, peak = measured([*pack, *options], (0, 1), told)
    made: dict[str, Any] = json.loads(told.read_text(encoding="utf-8"))
    check(made, asked, work / papers[1])
    cartons, bundles, labels = len(made["cartons"]), len(made["bundles"]), made["labels"]["labels"]
    yield (
        "a day packed, labelled and listed",
        f"{seconds:.1f} s, {peak:.0f} MiB",
        f"{asked:,} discs, {titles} titles, {accounts:,} accounts, {lines:,} lines: {cartons:,} cartons, {bundles:,} "
        f"bundles, {labels:,} labels of {(work / papers[0]).stat().st_size / 2**20:.0f} MiB, "
        f"{len(made['short'])} lines short",
    )
    write_orders(orders, many, titles, accounts)
    with orders.open("a", encoding="utf-8") as stream:
        stream.write("O-last,A-1,,,,,,,,HW-0001/lp,1.5,\n")
    seconds, peak = measured([*pack, "--json"], (2,), told)
    faults = [
        one["line"] for one in json.loads(told.read_text(encoding="utf-8"))["findings"] if one["severity"] == "stop"
    ]
    if set(faults) != {many + 2}:
        raise RuntimeError(f"the wrong line is {many + 2}, told were {faults}")
    yield f"{many:,} lines of orders, the last one wrong", f"{seconds:.1f} s, {peak:.0f} MiB", "refused with its line"


def check(made: dict[str, Any], asked: int, manifest: Path) -> None:
    """Nothing appeared or vanished, and no SSCC comes twice."""
    packed = sum(one["count"] for one in made["cartons"])
    missing = sum(one["missing"] for one in made["short"])
    numbers = [one["sscc"] for one in (*made["cartons"], *made["bundles"])]
    with manifest.open(encoding="utf-8", newline="") as stream:
        listed = sum(int(row["count"]) for row in csv.DictReader(stream))
    if packed + missing != asked or listed != packed or len(set(numbers)) != len(numbers):
        raise RuntimeError(f"{asked} asked, {packed} packed, {listed} listed, {missing} missing: they do not agree")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="a small works: does it still run?")
    options = parser.parse_args()
    sizes = (300, 20, 80, 5000) if options.quick else (12_000, 400, 3_000, 999_000)
    with tempfile.TemporaryDirectory() as directory:
        for row in pack_rows(Path(directory), *sizes):
            print(*row, sep=" | ", flush=True)


if __name__ == "__main__":
    main()
