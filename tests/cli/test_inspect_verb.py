"""`discwright inspect` as a person and a program type it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from subprocess import CompletedProcess

import numpy as np
import pytest
import soundfile

Run = Callable[..., CompletedProcess[str]]
RATE = 44_100


@pytest.fixture(scope="module")
def pressing(tmp_path_factory: pytest.TempPathFactory, side: Path) -> Path:
    """The side at half its level, 2 s later, with noise and five sharp ticks."""
    audio, _ = soundfile.read(side)
    rng = np.random.default_rng(1)
    capture = np.pad(0.5 * audio, ((2 * RATE, RATE), (0, 0)))
    capture += 1e-3 * rng.standard_normal(capture.shape)
    for k in range(5):
        capture[round((5.1 + 3.7 * k) * RATE), 0] += 0.4
    path = tmp_path_factory.mktemp("pressing") / "pressing.wav"
    soundfile.write(path, capture, RATE, subtype="PCM_24")
    return path


def test_for_a_person(discwright: Run, side: Path, pressing: Path, tmp_path: Path) -> None:
    result = discwright("inspect", pressing, "--recording", side, "--out", "play")
    assert result.returncode == 1, result.stderr  # five ticks to be heard
    lines = result.stdout.splitlines()
    assert lines[0] == f"Play      {pressing} of side.wav, held against the programme"
    assert "faults    5 tick; 5 to be heard" in lines
    assert any(one.startswith("  level") and "-6.0" in one for one in lines)
    assert any("0:03.1  turn    1.72  r 146." in one and "tick     left" in one for one in lines)
    assert any(one.startswith("stop") and "5 ticks to be heard" in one for one in lines)
    assert lines[-2] == "Kept      play"
    assert lines[-1] == "Verdict   stop"
    assert sorted(one.name for one in (tmp_path / "play").iterdir()) == [
        "capture.flac", "difference.flac", "inspect.json", "inspect.png", "programme.flac",
    ]  # fmt: skip


def test_for_a_program(discwright: Run, side: Path, pressing: Path) -> None:
    result = discwright("inspect", pressing, "--recording", side, "--json")
    assert result.returncode == 1
    assert result.stderr == ""
    plain = json.loads(result.stdout)
    assert plain["verdict"] == "stop"
    ticks = [one for one in plain["defects"] if one["kind"] == "tick"]
    assert [one["time_s"] for one in ticks] == pytest.approx([3.1 + 3.7 * k for k in range(5)], abs=0.001)
    assert {one["channel"] for one in ticks} == {"left"}
    assert plain["measures"]["start_s"] == pytest.approx(2.0, abs=1e-4)
    assert plain["measures"]["level_db"] == pytest.approx(-6.02, abs=0.05)  # by hand


def test_a_good_one_passes(discwright: Run, side: Path) -> None:
    result = discwright("inspect", side, "--recording", side)
    assert result.returncode == 0, result.stderr
    assert "faults    none found; 0 to be heard" in result.stdout
    assert result.stdout.splitlines()[-1] == "Verdict   pass"


def said(result: CompletedProcess[str]) -> str:
    """What was said, in one line."""
    assert result.stdout == ""
    return " ".join(result.stderr.split())


def test_what_is_refused_is_one_sentence(discwright: Run, side: Path, tmp_path: Path) -> None:
    soundfile.write(tmp_path / "silent.wav", np.zeros((10 * RATE, 2)), RATE)
    cases = {
        ("silent.wav", "--recording", str(side)): "silent.wav: is silent from end to end; look at leads and input",
        (str(side),): "give --recording FILE or --plan DIR.",
    }
    for arguments, sentence in cases.items():
        result = discwright("inspect", *arguments, "--out", "play")
        assert result.returncode == 2, arguments
        assert sentence in said(result)
        assert "Traceback" not in result.stderr
    assert sorted(one.name for one in tmp_path.iterdir()) == ["silent.wav"]
