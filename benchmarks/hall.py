"""The press hall of a big works: 80 presses, 400 jobs. How soon a plan, how good after a minute, is it the same again.

python benchmarks/hall.py --quick     8 presses, 40 jobs, a few seconds
python benchmarks/hall.py             80 presses, 400 jobs
"""

from __future__ import annotations

import argparse
import json
import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

Row = tuple[str, str, str]
DISCWRIGHT = [sys.executable, "-m", "discwright"]
START = datetime(2031, 4, 7, 6, tzinfo=UTC)
SEED = 5


def write_hall(place: Path, presses: int) -> None:
    """Three in four for 12-inch alone, one in eight for 10-inch too, one in eight for 7-inch; half for black alone."""
    lines = []
    for k in range(presses):
        sizes = ["7in"] if k % 8 == 7 else ["12in", "10in"] if k % 8 == 6 else ["12in"]
        lines += [
            "[[press]]", f'name = "P{k + 1}"', f"sizes = {json.dumps(sizes)}",
            f"colours = {json.dumps(['black'] if k % 2 and k % 8 != 7 else [])}",
            f"abilities = {json.dumps(['heavy'] if k % 3 == 0 else [])}",
            f"shifts = {json.dumps(['early', 'late'] if k % 4 else ['early', 'late', 'night', 'saturday'])}",
            f"stampers_minutes = {40 if k % 5 else 10}", f'on_size = "{sizes[0]}"', 'on_colour = "black"',
        ]  # fmt: skip
    place.write_text("\n".join(lines) + "\n", encoding="utf-8")


def write_jobs(place: Path, jobs: int) -> None:
    """Runs of 300 to 5000 discs, ready within three days, due one to three days after that: not all can be in time."""
    draw = random.Random(SEED)
    lines = ["job,edition,format,colour,count,due,weight,ready,needs"]
    for k in range(jobs):
        size = draw.choices(["12in", "10in", "7in"], [80, 5, 15])[0]
        count = draw.choice([300, 500, 500, 1000, 1000, 2000, 3000, 5000])
        colour = draw.choices(["black", "red", "clear", "blue"], [75, 9, 8, 8])[0]
        heavy = "heavy" if size == "12in" and draw.random() < 0.2 else ""
        ready = START + timedelta(hours=draw.choice([0, 0, 0, 12, 24, 48, 72]))
        due = ready + timedelta(hours=24 + draw.random() * 45)
        weight = draw.choice([1, 1, 1, 2, 5])
        edition = f"NL-{k // 2 if draw.random() < 0.2 else k + jobs}/lp"
        lines.append(
            f"J{k + 1},{edition},{size},{colour},{count},{due:%Y-%m-%dT%H:%M},{weight},{ready:%Y-%m-%dT%H:%M},{heavy}"
        )
    place.write_text("\n".join(lines) + "\n", encoding="utf-8")


def plan(work: Path, seconds: float, *more: str) -> tuple[dict[str, Any], float]:
    """One plan by the command line, and the seconds it took by the clock."""
    began = time.perf_counter()
    done = subprocess.run(
        [*DISCWRIGHT, "works", "schedule", "--hall", str(work / "HALL.toml"), "--jobs", str(work / "JOBS.csv"),
         "--now", f"{START:%Y-%m-%dT%H:%M}", "--seconds", str(seconds), "--json", *more],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    took = time.perf_counter() - began
    if done.returncode not in (0, 1):
        raise RuntimeError(done.stderr)
    return json.loads(done.stdout), took


def hall_rows(work: Path, presses: int = 80, jobs: int = 400, seconds: float = 60.0) -> Iterator[Row]:
    """Rows of the table.

    Parameters
    ----------
    work : pathlib.Path
        Folder for everything.
    presses, jobs : int
    seconds : float
        Work of the longer plan, by its own count.
    """
    work.mkdir(exist_ok=True)
    write_hall(work / "HALL.toml", presses)
    write_jobs(work / "JOBS.csv", jobs)
    load = os.getloadavg()[0]
    quick, took = plan(work, 0.0)
    size = f"{presses} presses, {quick['jobs']} jobs"
    yield (
        f"`works schedule` of {size}, at once", f"{took:.1f} s",
        f"{quick['weighted_late_h']:.0f} h times weight late, {quick['first_h']:.0f} by the rules alone",
    )  # fmt: skip
    longer, took = plan(work, seconds)
    yield (
        f"`works schedule`, {seconds:g} s of work", f"{took:.0f} s",
        f"{longer['weighted_late_h']:.0f} h late ({longer['searched_h']:.0f} before the solver), bound "
        f"{longer['bound_h']:.0f} ({longer['bound_from']}): gap {longer['gap_percent']:.1f} %",
    )  # fmt: skip
    again, _ = plan(work, seconds)
    same = again["schedule_sha256"] == longer["schedule_sha256"]
    yield "the same plan again", "the same hash" if same else "ANOTHER HASH", longer["schedule_sha256"][:16]
    began = time.perf_counter()
    plan(work, 0.0, "--chart", str(work / "hall.png"))
    yield (
        f"chart of {size}, with its plan", f"{time.perf_counter() - began:.1f} s",
        f"{(work / 'hall.png').stat().st_size / 1e6:.1f} MB of PNG; load of the machine at the start {load:.1f}",
    )  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="a small hall: does it still run?")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as directory:
        for row in hall_rows(Path(directory), *((8, 40, 2.0) if options.quick else (80, 400, 60.0))):
            print(*row, sep=" | ", flush=True)


if __name__ == "__main__":
    main()
