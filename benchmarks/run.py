"""How fast, how large and how tight: one table, printed and on request written to README.md.

python benchmarks/run.py --quick     a dry run in a minute or two
python benchmarks/run.py --write     everything on a 20-minute side, table into README.md
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np

import chain as chain_signals
import desk
import dilation
import hall
import ledger
import pack
import programmes
import simple_spirals
import test_play
import tiles
import works_day
from independent import check_plan, disagreements

README = Path(__file__).with_name("README.md")
BEGIN, END = "<!-- table begins -->", "<!-- table ends -->"
DISCWRIGHT = [sys.executable, "-m", "discwright"]
POLL_S = 0.02
TURN_S = 1.8

Row = tuple[str, str, str]


@dataclass(frozen=True)
class Run:
    """One command that has ended: wall time, s, and the greatest memory of its whole process tree, MiB."""

    seconds: float
    peak_mib: float
    code: int


def _tree(pid: int) -> Iterator[int]:
    """A process and all below it, as far as they still live."""
    yield pid
    try:
        for task in Path(f"/proc/{pid}/task").iterdir():
            for child in (task / "children").read_text().split():
                yield from _tree(int(child))
    except OSError:
        return


def _resident_mib(pid: int) -> float:
    """Resident memory of one process, nothing if it has gone or the system keeps no such count."""
    try:
        status = Path(f"/proc/{pid}/status").read_text()
    except OSError:
        return 0.0
    found = re.search(r"VmRSS:\s+(\d+) kB", status)
    return int(found[1]) / 1024 if found else 0.0


def run(command: list[str], accepted: tuple[int, ...] = (0,)) -> Run:
    """Run a command to its end, watching the memory of its process tree.

    Raises
    ------
    RuntimeError
        If it ends with an exit code that is not accepted; the message holds the end of its stderr.
    """
    with tempfile.TemporaryFile() as said:
        begin = time.perf_counter()
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=said)
        peak = 0.0
        while process.poll() is None:
            peak = max(peak, sum(_resident_mib(pid) for pid in _tree(process.pid)))
            time.sleep(POLL_S)
        seconds = time.perf_counter() - begin
        if process.returncode not in accepted:
            said.seek(0)
            tail = said.read().decode("utf-8", "replace")[-2000:]
            raise RuntimeError(f"{' '.join(command)} ended with {process.returncode}:\n{tail}")
    return Run(seconds, peak, process.returncode)


def plan(audio: Path, out: Path, *options: str) -> tuple[Run, dict[str, Any]]:
    """One `discwright plan`, measured, and the plan it wrote, without sheet and lathe files."""
    measured = run([*DISCWRIGHT, "plan", str(audio), "--out", str(out), "--only", "", *options], accepted=(0, 1))
    return measured, json.loads((out / "plan.json").read_text(encoding="utf-8"))


def _time(measured: Run) -> str:
    return f"{measured.seconds:.1f} s, {measured.peak_mib:.0f} MiB"


def starting_rows(repeats: int) -> Iterator[Row]:
    """How long help and the import take, best of several."""
    best = min(run([*DISCWRIGHT, "--help"]).seconds for _ in range(repeats))
    yield "`discwright --help`", f"{best:.2f} s", f"best of {repeats}"
    code = "import time; t = time.perf_counter(); import discwright; print(time.perf_counter() - t)"
    times = [
        float(subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True).stdout)
        for _ in range(repeats)
    ]
    yield "`import discwright`", f"{min(times):.3f} s", f"best of {repeats}, without starting Python"


def side_rows(seconds: float, level_db: float, work: Path) -> Iterator[Row]:
    """The acts on one side, the judgement of the independent checker, and simpler spirals beside it."""
    audio, kind = programmes.side(seconds)
    name = f"{seconds / 60:g} min of {kind}"
    fixed_level, found = plan(audio, work / "fixed", "--level-db", str(level_db))
    yield "plan at a fixed level", _time(fixed_level), f"{name}, {level_db:+g} dB, exit {fixed_level.code}"
    result = check_plan(work / "fixed", audio)
    wrong = disagreements(result, found)
    verdict = "agrees" if not wrong else "; ".join(wrong)
    yield "independent check of that plan", verdict, f"least land {result.least_land_um:.2f} µm"
    fitted, best = plan(audio, work / "fit")
    yield "plan that finds the level", _time(fitted), f"came to {best['level_db']:+.2f} dB"
    climbed, ladder = plan(audio, work / "ladder", "--ladder")
    rungs = len(ladder["ladder"])
    yield "ladder and price curve, beyond the fit", f"{climbed.seconds - fitted.seconds:.1f} s", f"{rungs} limits"
    whole = run([*DISCWRIGHT, "plan", str(audio), "--out", str(work / "whole"), "--level-db", str(level_db)])
    size = sum(file.stat().st_size for file in (work / "whole").iterdir()) / 1e6
    more = whole.seconds - fixed_level.seconds
    yield "sheet and lathe files, beyond the plan", f"{more:.1f} s, {whole.peak_mib:.0f} MiB", f"{size:.0f} MB in all"
    yield "survey", _time(run([*DISCWRIGHT, "survey", str(audio)], accepted=(0, 1))), name
    if shutil.which("ffmpeg"):
        curve = ["-af", "aemphasis=mode=production:type=riaa", "-f", "null", "-"]
        filtered = run(["ffmpeg", "-nostdin", "-v", "error", "-i", str(audio), *curve])
        yield "FFmpeg, recording curve alone", _time(filtered), "aemphasis, same file, same run"
        ratio = fixed_level.seconds / filtered.seconds
        yield "plan over FFmpeg", f"{ratio:.1f} ×", "fixed level, wall time"
    exact, solved = plan(audio, work / "exact", "--level-db", str(level_db), "--exact")
    gap = solved["exact"]["gap_percent"]
    yield "windows against the exact optimum", f"{gap:.4f} %", f"more radius; `--exact` took {_time(exact)}"
    used = found["radius_used_mm"]
    yield "radius used by the plan", f"{used:.2f} mm", f"{found['mean_lines_per_inch']:.0f} lines per inch"
    laid = simple_spirals.read_side(audio, level_db, found["settings"])
    for title, simple in (
        ("half a turn of look-ahead", simple_spirals.look_ahead(laid)),
        ("fixed pitch and depth", simple_spirals.fixed(laid)),
    ):
        land = f"least land {simple.least_land_um:.2f} µm by brute force"
        more = 100 * (simple.radius_used_mm / used - 1)
        yield f"radius used by {title}", f"{simple.radius_used_mm:.2f} mm", f"{more:+.1f} %, {land}"


def row_rows(turns: int, level_db: float, work: Path) -> Iterator[Row]:
    """The planner's optimum against a programme with a row every 5 ms, on a stretch of some turns."""
    audio, kind = programmes.side(turns * TURN_S)
    _, found = plan(audio, work / "rows", "--level-db", str(level_db), "--exact")
    laid = simple_spirals.read_side(audio, level_db, found["settings"])
    begin = time.perf_counter()
    other = simple_spirals.guard_rows(laid)
    seconds = time.perf_counter() - begin
    used = found["exact"]["radius_used_mm"]
    yield f"exact optimum, {turns} turns", f"{used:.4f} mm", f"{kind}, {level_db:+g} dB"
    short = f"{seconds:.1f} s; leaves {other.least_land_um:.2f} µm of land between its rows"
    more = 100 * (used / other.radius_used_mm - 1)
    yield "same with a row every 5 ms", f"{other.radius_used_mm:.4f} mm", f"planner {more:+.2f} %; {short}"


def growth_rows(minutes: list[float], level_db: float, work: Path) -> Iterator[Row]:
    """Time and memory against the length of the side."""
    for length in minutes:
        audio, kind = programmes.side(length * 60)
        measured, _ = plan(audio, work / f"growth-{length}", "--level-db", str(level_db))
        per_minute = measured.seconds / length
        yield f"plan, {length:g} min", _time(measured), f"{per_minute:.2f} s per minute of {kind}"


def layout_rows(bands: int, seconds: float, work: Path) -> Iterator[Row]:
    """The layout of a title, over two long-player sides and over 7-inch sides."""
    audio, kind = programmes.side(seconds)
    text = ["[title]", 'name = "Benchmark"']
    edges = [round(seconds * (k + 0.25 * (k % 2)) / bands, 1) for k in range(bands)] + [seconds]
    for k in range(bands):
        text += ["[[band]]", f'id = "b{k + 1}"', f'name = "Band {k + 1}"', f'file = "{audio}"']
        text += [f"start = {edges[k]}", f"end = {edges[k + 1]}"]
    for name, disc in (("lp", "12in-33"), ("ep", "7in-45")):
        text += ["[[edition]]", f'id = "{name}"', f'format = "{disc}"']
    title = work / "title.toml"
    title.write_text("\n".join(text) + "\n", encoding="utf-8")
    for name, about in (("lp", "two 12-inch sides"), ("ep", "7-inch sides")):
        measured = run([*DISCWRIGHT, "layout", str(title), "--edition", name, "--json"], accepted=(0, 1))
        yield f"layout over {about}", _time(measured), f"{bands} bands, {seconds / 60:g} min of {kind}"


def proof_rows(seconds: float, level_db: float, work: Path) -> Iterator[Row]:
    """The proof of a side, and its tracing against a plain sampled dilation."""
    audio, kind = programmes.side(seconds)
    plan(audio, work / "proof", "--level-db", str(level_db))
    name = f"{seconds / 60:g} min of {kind}, {level_db:+g} dB"
    command = [*DISCWRIGHT, "proof", str(work / "proof")]
    for words, options in (
        ("proof, numbers alone", ["--tip", "spherical-18"]),
        ("proof, tip alone", ["--tip", "spherical-18", "--player", "off"]),
        ("proof with audio, difference and picture", ["--out", str(work / "proof.flac"), "--difference"]),
        ("proof with two tips and an uneven disc", [
            "--tip", "spherical-18", "--tip", "elliptical-8", "--effects", "tracking,vertical,scanning,off_centre",
        ]),
    ):  # fmt: skip
        yield words, _time(run([*command, *options], accepted=(0, 1))), name
    bench = ["--tone-hz", "1000", "--velocity-cm-s", "5", "--radius-mm", "60", "--tip-radius-um", "18"]
    yield "one tone on the bench", _time(run([*DISCWRIGHT, "proof", *bench, "--modulation", "left"])), "the worked case"
    rate = 352_800.0
    rng = np.random.default_rng(1)
    wall = np.cumsum(rng.standard_normal(round(min(seconds, 60.0) * rate))) * 1e-9
    contact, plain = dilation.compare(np.convolve(wall, np.ones(32) / 32, "same"), rate)
    _, coarse = dilation.compare(wall[:100_000], 192_000.0)
    yield (
        "tracing one wall, contact between samples",
        f"{contact.seconds:.2f} s",
        f"{len(wall) / rate:g} s at 352.8 kHz",
    )
    yield "same samples by `grey_dilation`", f"{plain.seconds / contact.seconds:.1f} ×", f"{plain.seconds:.2f} s"
    exact = f"{contact.second_percent:.2f} % against {plain.second_percent:.2f} % by dilation"
    yield "second harmonic where 4.5 % is right", exact, f"{coarse.second_percent:.2f} % by dilation at 192 kHz"


def kept_side(seconds: float, level_db: float, work: Path) -> tuple[Path, str]:
    """A folder with a kept plan in it, and the plan's name, for the desk."""
    folder = work / "works"
    folder.mkdir()
    plan(programmes.side(seconds)[0], folder / "side", "--level-db", str(level_db))
    return folder, "side"


def machine() -> str:
    """What the table was measured on, in words that outlive the machine."""
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    where = f"{platform.system()} on {platform.machine()}, Python {platform.python_version()}"
    return f"{len(os.sched_getaffinity(0))} cores, {memory:.0f} GiB of memory, {where}."


def table(rows: list[Row]) -> str:
    """The rows as a Markdown table under the machine they were measured on."""
    lines = ["| what | measured | about |", "|---|---|---|", *(f"| {a} | {b} | {c} |" for a, b, c in rows)]
    return "\n".join([machine(), "", *lines])


def write_readme(text: str) -> None:
    """Put the table between the two marks of README.md."""
    before, rest = README.read_text(encoding="utf-8").split(BEGIN)
    README.write_text(f"{before}{BEGIN}\n\n{text}\n\n{END}{rest.split(END)[1]}", encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="short sides: does every benchmark still run?")
    parser.add_argument("--write", action="store_true", help="write the table into README.md")
    parser.add_argument("--level-db", type=float, default=6.0, help="level of the side, dB (default +6)")
    parser.add_argument("--growth-level-db", type=float, default=-6.0, help="level of the growth rows, dB")
    parser.add_argument("--turns", type=int, default=60, help="turns compared with a row every 5 ms")
    options = parser.parse_args()
    if options.quick and options.write:
        parser.error("a quick run is not worth writing down; leave out --quick or --write")
    seconds, turns = (60.0, 12) if options.quick else (1200.0, options.turns)
    minutes = [0.5, 1.0] if options.quick else [5.0, 10.0, 20.0, 40.0]
    rows: list[Row] = []
    with tempfile.TemporaryDirectory() as directory:
        work = Path(directory)
        plan(programmes.side(20.0)[0], work / "warm", "--level-db", "0")  # compiled loops are cached from here
        for row in chain(
            starting_rows(1 if options.quick else 5),
            side_rows(seconds, options.level_db, work),
            row_rows(turns, options.level_db, work),
            layout_rows(*((4, 60.0) if options.quick else (12, 2700.0)), work),
            proof_rows(seconds, options.level_db, work),
            test_play.play_rows(seconds, options.level_db, work, run),
            test_play.guilt_rows(),
            test_play.gauge_rows(work, run),
            tiles.tile_rows(seconds, options.level_db, work, *([40] if options.quick else [])),
            desk.desk_rows(*kept_side(seconds, options.level_db, work), seconds / 60),
            ledger.ledger_rows(work / "ledger", *((3000, 300, 3) if options.quick else (1_000_000, 2500, 15))),
            pack.pack_rows(work / "pack", *((300, 20, 80, 5000) if options.quick else (12_000, 400, 3_000, 999_000))),
            works_day.works_day_rows(work / "day", *((6, 20, 60) if options.quick else (400, 3_000, 12_000))),
            hall.hall_rows(work / "hall", *((6, 20, 1.0) if options.quick else (80, 400, 60.0))),
            chain_signals.chain_rows(work / "chain", 48_000 if options.quick else 96_000),
            growth_rows(minutes, options.growth_level_db, work),
        ):
            print(*row, sep=" | ", file=sys.stderr, flush=True)
            rows.append(row)
    print(table(rows))
    if options.write:
        write_readme(table(rows))


if __name__ == "__main__":
    main()
