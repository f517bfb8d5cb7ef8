"""Whole plans of real music, made by the command line as a person would and judged by the checker."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile as sf
from checker import check_plan, disagreements
from music import build_programme, find_pieces, missing
from scipy.stats import spearmanr

pytestmark = [pytest.mark.music, pytest.mark.slow]

TURN_S = 1.8


@dataclass(frozen=True)
class Case:
    """A piece of music: its kind, which of the installed ones, and how it is planned."""

    kind: str
    number: int
    seconds: float
    subtype: str
    level_db: float
    options: tuple[str, ...] = ()

    def audio(self) -> Path:
        if missing(self.kind, self.number + 1):
            pytest.skip(missing(self.kind, self.number + 1))
        return build_programme(find_pieces(self.kind)[self.number :], self.seconds, self.subtype)


CASES = [
    pytest.param(Case("orchestral", 0, 310, "PCM_16", 0.0), id="orchestral-16-bit"),
    pytest.param(Case("orchestral", 5, 200, "PCM_24", 3.0), id="orchestral-24-bit-loud"),
    pytest.param(Case("orchestral", 9, 240, "PCM_16", 0.0, ("--format", "7in-45")), id="orchestral-7-inch"),
    pytest.param(Case("electronic", 2, 330, "PCM_24", -3.0), id="electronic-48-kHz"),
]


def plan_side(audio: Path, out: Path, *options: str) -> dict[str, Any]:
    """Run the command; a stop finding (exit code 1) still leaves a plan to judge."""
    command = [sys.executable, "-m", "discwright", "plan", str(audio), "--out", str(out), *options]
    done = subprocess.run(command, capture_output=True, text=True, timeout=900, check=False)
    assert done.returncode in (0, 1), done.stderr
    plan: dict[str, Any] = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert plan["ready"] == (done.returncode == 0)
    return plan


def loudness_and_pitch(audio: Path, out: Path) -> tuple[list[float], list[float]]:
    """Root mean square of the programme and mean pitch for every whole turn of music."""
    samples, rate = sf.read(audio, dtype="float32", always_2d=True)
    rows = list(csv.DictReader((out / "spiral.csv").read_text(encoding="utf-8").splitlines()))
    time = [float(row["time_s"]) for row in rows]
    radius = [float(row["radius_mm"]) for row in rows]
    turn = round(TURN_S * rate)
    count = len(samples) // turn
    rms = np.sqrt(np.mean(np.square(samples[: count * turn]).reshape(count, -1), axis=1))
    pitch = -np.diff(np.interp(np.arange(count + 1) * TURN_S, time, radius))
    return rms.tolist(), pitch.tolist()


@pytest.mark.parametrize("case", CASES)
def test_plan_agrees_with_the_checker(case: Case, tmp_path: Path) -> None:
    audio = case.audio()
    plan = plan_side(audio, tmp_path / "plan", "--level-db", str(case.level_db), *case.options)
    assert plan["level_db"] == case.level_db
    # by another road: every sample of both walls, 0.5 µm
    assert disagreements(check_plan(tmp_path / "plan", audio), plan, tolerance_um=0.5) == []


def test_loud_passages_get_more_space_than_soft_ones(tmp_path: Path) -> None:
    audio = Case("orchestral", 0, 310, "PCM_16", 6.0).audio()
    plan_side(audio, tmp_path / "plan", "--level-db", "6")
    rms, pitch = loudness_and_pitch(audio, tmp_path / "plan")
    # common practice: space follows loudness; a plain look-ahead spiral reaches 0.95 here (another road)
    assert spearmanr(rms, pitch).statistic > 0.8


def test_a_louder_side_takes_more_space(tmp_path: Path) -> None:
    audio = Case("orchestral", 5, 200, "PCM_16", 0.0).audio()
    used = [plan_side(audio, tmp_path / level, "--level-db", level)["radius_used_mm"] for level in ("-6", "0", "6")]
    # by hand: edges that move twice as far never need less
    assert used[0] < used[1] < used[2]


def test_nineteen_minutes_fit_one_side(tmp_path: Path) -> None:
    audio = Case("orchestral", 0, 19 * 60, "PCM_16", 0.0).audio()
    plan = plan_side(audio, tmp_path / "plan", "--level-db", "0", "--format", "12in-33")
    # common practice: trade charts give 19.5 to 20 minutes for a 12-inch at the reference level
    assert plan["spare_mm"] > 0
    assert not [finding for finding in plan["findings"] if finding["severity"] == "stop"]
    # common practice: uncritical music at an ordinary level gives one warning at most
    assert sum(finding["severity"] == "warn" for finding in plan["findings"]) <= 1
    assert disagreements(check_plan(tmp_path / "plan", audio), plan, tolerance_um=0.5) == []
