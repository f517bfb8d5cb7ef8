"""A test play as a few lines for a person."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from rich.console import Console

from discwright.acts.inspect_report import CaptureFacts, InspectReport
from discwright.cli.show_inspect import show_inspect
from discwright.files.settings import load
from discwright.findings import Finding
from discwright.inspection.defects import Defect
from discwright.inspection.limits import PlayLimits
from discwright.inspection.sound import Sound
from discwright.inspection.speed import Turning
from discwright.inspection.verdict import Played


def defect(time: float, size_db: float, kind: str = "tick") -> Defect:
    return Defect(kind, time, time / 1.8, 0.1, 90.0, "left", 1e-4, size_db, size_db >= 6.0)


def shown(*defects: Defect, findings: tuple[Finding, ...] = (), kept: Path | None = None) -> list[str]:
    played = Played(
        Turning(2.0, 0.0035, 0.004, None, 0.12e-3, 0.0),
        Sound(-3.0, 0.2, np.zeros((30, 2)), None, False, (False, False), -55.0, -60.0), defects, [], (0.0, 60.0), 60.0,
        0.0, False,
    )  # fmt: skip
    report = InspectReport(
        CaptureFacts("a [bold].wav", "", 44_100, 2, 44_100, 0.0, True), "side.wav", "the programme", "", played, -50.0,
        load(PlayLimits, None), findings, 1.8, kept,
    )  # fmt: skip
    out = io.StringIO()
    show_inspect(report, Console(file=out, width=80, color_system=None, markup=False))
    return out.getvalue().splitlines()


def test_measures_with_what_is_best_and_the_limit() -> None:
    lines = shown()
    assert lines[0] == "Play      a [bold].wav of side.wav, held against the programme"
    told = {one.split("   ")[0].strip(): one for one in lines[1:12]}
    assert told["speed error"].endswith("0.35 %         best 0, limit 0.5")
    assert told["eccentricity"].endswith("0.12 mm        best 0, limit 0.2")
    assert "not to be told" in told["separation"]
    assert told["separation"].endswith("best more, limit 20")
    assert lines[-2:] == ["faults    none found; 0 to be heard", "Verdict   pass"]


def test_the_worst_faults_by_time_and_the_rest_counted() -> None:
    lines = shown(*(defect(3.0 * k, float(k)) for k in range(20)), defect(1.0, 30.0, "pop"))
    assert "faults    20 tick, 1 pop; 15 to be heard" in lines
    listed = [one for one in lines if "  turn  " in one]
    assert len(listed) == 12
    assert listed[0] == "    0:01.0  turn    0.56  r 100.00 mm   90.0 deg  pop      left   +30.0 dB"
    assert [one.split()[0] for one in listed[1:]] == [f"0:{3.0 * k:04.1f}" for k in range(9, 20)]
    assert "  and 9 more (--json lists all)" in lines


def test_masked_ones_say_so() -> None:
    assert any(one.endswith("+5.0 dB  masked") for one in shown(defect(3.0, 5.0)))


def test_findings_folder_and_verdict_come_last() -> None:
    stop = Finding("off_centre", "stop", None, None, None, None, 0.4, 0.2, "mm", "Look at the hole.")
    lines = shown(findings=(stop,), kept=Path("play"))
    assert lines[-2:] == ["Kept      play", "Verdict   stop"]
    assert any("Look at the hole." in one for one in lines)
