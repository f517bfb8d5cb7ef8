"""What a person sees of a plan: exact text, whatever the folder is called and the terminal speaks."""

from __future__ import annotations

import io
import json
import os
import pty
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import numpy as np
from rich.console import Console

from discwright.acts.plan import PlanReport
from discwright.cli.show_plan import show_plan
from discwright.files.settings import load_setup
from discwright.findings import Finding
from discwright.groove.motion import Motion
from discwright.groove.table import SpiralRows
from discwright.plan import Plan, Programme

Run = Callable[..., Any]

FINDINGS = (
    Finding("slope", "stop", 739.8, 1, 411.0, 91.0, 47.12, 45.0, "deg", "Lower the side 0.6 dB."),
    Finding("curvature", "warn", 1022.4, 2, 568.0, 74.1, 1.4, 0.1, "% of time", "Lower 2.9 dB there."),
    Finding("mono", "note", None, None, None, None, 1.0, 1.0, "correlation", "Cut as lateral."),
    Finding("over_full_scale", "note", None, None, None, None, 2.9, 0.0, "dBFS", "Ask whether that is meant."),
)


def invented_plan(end_mm: float = 62.8, findings: tuple[Finding, ...] = FINDINGS) -> Plan:
    """21:40.2 at 33⅓ laid from 146.3 mm to `end_mm`; everything by hand, nothing solved."""
    duration = 1300.2
    rows = SpiralRows(
        time=np.array([-2.7, 0.0, duration, duration + 1.8]),
        turn=np.array([-1.5, 0.0, duration / 1.8, duration / 1.8 + 1.0]),
        zone=np.array(["fine", "music", "lead_out", "stop"]),
        radius=np.array([146.42, 146.3, end_mm, 53.2]) * 1e-3,
        pitch=np.array([80e-6, 115.6e-6, 6.4e-3, 0.0]),
        depth=np.full(4, 25e-6),
        land=np.array([np.nan, 8e-6, 4e-3, np.nan]),
    )
    return Plan(
        programme=Programme(44_100, round(duration * 44_100), 2),
        setup=load_setup("12in-33", tip="spherical-18"),
        level_db=3.2,
        rows=rows,
        motion=cast("Motion", None),
        bands=((0.0, duration),),
        depth_least=12.5e-6,
        depth_greatest=61.24e-6,
        exact_radius_used=None,
        curvature_share=0.00142,
        findings=findings,
    )


def printed(plan: Plan, exact: dict[str, float] | None = None, folder: Path | None = None, width: int = 80) -> str:
    out = io.StringIO()
    console = Console(file=out, width=width, color_system=None, highlight=False, markup=False, emoji=False)
    show_plan(PlanReport(plan, {"exact": exact}, "", folder), console)
    return out.getvalue()


def test_every_line() -> None:
    # by hand: 1300.2/1.8 = 722.3 turns; 83.5 mm/722.3 = 115.6 µm; 25400/115.6 = 220 lines; 62.8 − 60.325 = 2.475;
    # the wording is ours: regression only
    exact = {"radius_used_mm": 83.4123, "gap_percent": 0.0034}
    assert printed(invented_plan(), exact, Path("plans/side-a")) == (
        "Side      12in-33, 21:40.2, +3.2 dB\n"
        "fits      146.3 → 62.8 mm, 2.5 mm to spare, 722.3 turns, mean 220 lines per inch\n"
        "groove    land 8.0 µm and more, depth 12.5 to 61.2 µm, mean pitch 116 µm\n"
        "playing   0.142 % of the time beyond what the spherical-18 tip can follow\n"
        "exact     83.4123 mm used by the optimum of the whole side; this plan is 0.0034 % above it\n"
        "stop      slope          12:19.8  turn 411.0  r  91.00 mm  47.12 against 45 deg. Lower the side 0.6 dB.\n"
        "warn      curvature      17:02.4  turn 568.0  r  74.10 mm  1.4 against 0.1 % of time. Lower 2.9 dB there.\n"
        "note      mono          1 against 1 correlation. Cut as lateral.\n"
        "note      over_full_scale Ask whether that is meant.\n"
        "kept      plans/side-a; no lathe files for a cut that is stopped\n"
        "1 stop, 1 warning, 2 notes: not ready to cut.\n"
    )


def test_a_side_without_findings_is_ready() -> None:
    lines = printed(invented_plan(findings=())).splitlines()
    assert [line.split()[0] for line in lines] == ["Side", "fits", "groove", "playing", "no"]
    assert lines[-1] == "no findings: ready to cut."


def test_a_warning_alone_is_ready() -> None:
    assert printed(invented_plan(findings=FINDINGS[1:2])).splitlines()[-1] == "1 warning: ready to cut."


def test_a_level_of_nothing_has_a_plus() -> None:
    for level_db in (0.0, -0.0, -0.04):
        assert printed(replace(invented_plan(), level_db=level_db)).startswith("Side      12in-33, 21:40.2, +0.0 dB\n")


def test_too_long_says_by_how_much() -> None:
    # by hand: 60.325 − 55.0 = 5.325 mm
    assert "too long  146.3 → 55.0 mm, 5.3 mm too much, " in printed(invented_plan(end_mm=55.0))


def test_no_land_no_word_of_it() -> None:
    """A side of a turn or less has no neighbour, and infinity is no number for a person."""
    plan = invented_plan()
    plan = replace(plan, rows=replace(plan.rows, land=np.full(4, np.nan)))
    assert "groove    depth 12.5 to 61.2 µm" in printed(plan)
    assert "inf" not in printed(plan)


def test_no_line_is_broken_by_a_narrow_terminal() -> None:
    assert printed(invented_plan(), folder=Path("a b " * 30), width=40).splitlines() == (
        printed(invented_plan(), folder=Path("a b " * 30), width=400).splitlines()
    )


# the real command -------------------------------------------------------------------------------------


def test_a_folder_is_shown_as_it_is_called_on_any_terminal(side: Path, tmp_path: Path, discwright: Run) -> None:
    """Brackets and colons are no markup, and a terminal of ASCII still gets every line."""
    result = discwright("plan", side, "--level-db", 0, "--out", "[b]mu:smile:", PYTHONIOENCODING="ascii")
    assert result.returncode == 0, result.stderr
    assert "kept      [b]mu:smile:" in result.stdout.splitlines()
    assert "146.3 \\u2192 14" in result.stdout
    assert [p.name for p in tmp_path.iterdir()] == ["[b]mu:smile:"]


def test_json_is_utf_8_on_any_terminal_and_keeps_any_name(side: Path, tmp_path: Path) -> None:
    name = os.fsdecode(b"s\xc3\xa9ance [b] \xff.wav")
    (tmp_path / name).write_bytes(side.read_bytes())
    done = subprocess.run(
        [sys.executable, "-m", "discwright", "plan", name, "--level-db", "0", "--json", "--out", "out"],
        cwd=tmp_path, env=os.environ | {"PYTHONIOENCODING": "ascii"}, capture_output=True,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout == (tmp_path / "out" / "plan.json").read_bytes()
    assert json.loads(done.stdout.decode("utf-8"))["programme"]["path"] == name


def test_a_name_of_two_lines_is_refused_in_one(discwright: Run) -> None:
    result = discwright("plan", "no\nsuch.wav")
    assert result.returncode == 2
    assert result.stderr == "discwright: no such.wav does not exist; check the name and the folder.\n"


def test_a_name_too_long_is_refused_in_one_line(side: Path, discwright: Run) -> None:
    for option in ("--format", "--out"):
        result = discwright("plan", side, option, "a" * 300)
        assert result.returncode == 2
        assert result.stderr.count("\n") == 1
        assert "File name too long" in result.stderr


def test_a_reader_that_has_gone_is_no_trouble(tmp_path: Path) -> None:
    for arguments in (["doctor", "--json"], ["plan", "--help"]):
        process = subprocess.Popen(
            [sys.executable, "-m", "discwright", *arguments],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=tmp_path,
        )  # fmt: skip
        assert process.stdout is not None
        process.stdout.close()
        assert process.stderr is not None
        err = process.stderr.read()
        assert (process.wait(timeout=60), err) == (0, b"")
        process.stderr.close()


def test_progress_is_for_terminals_only(side: Path, tmp_path: Path) -> None:
    """On a terminal the steps are named on standard error; with --json not even there."""
    seen = {}
    for options in ((), ("--json",)):
        master, slave = pty.openpty()
        process = subprocess.Popen(
            [sys.executable, "-m", "discwright", "plan", str(side), "--level-db", "0", *options],
            stdout=subprocess.PIPE, stderr=slave, cwd=tmp_path, env=os.environ | {"TERM": "xterm", "COLUMNS": "100"},
        )  # fmt: skip
        os.close(slave)
        out, _ = process.communicate(timeout=60)
        assert process.returncode == 0
        seen[options] = read_terminal(master)
        assert b"reading" not in out
    assert b"reading" in seen[()]
    assert seen[("--json",)] == b""


def read_terminal(master: int) -> bytes:
    """Everything that was written to the other end, which is closed by now."""
    pieces = []
    try:
        while piece := os.read(master, 1 << 16):
            pieces.append(piece)
    except OSError:  # how Linux tells that nobody is at the other end
        pass
    finally:
        os.close(master)
    return b"".join(pieces)
