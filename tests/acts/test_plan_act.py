"""The plan as an act: what is kept, what is the same twice, and what survives a failure."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

import discwright
from discwright.acts import keep as keep_module
from discwright.acts.plan import plan_file
from discwright.errors import CallError
from discwright.files.plans import COLUMNS
from discwright.groove.spiral import HALVES_FROM_TURNS


def test_the_spiral_file(side: Path, tmp_path: Path) -> None:
    report = plan_file(side, level_db=3.0, out=tmp_path / "out")
    raw = (tmp_path / "out" / "spiral.csv").read_bytes()
    assert hashlib.sha256(raw).hexdigest() == report.document["spiral_sha256"]
    assert (
        raw.decode().splitlines()[0]
        == COLUMNS
        == "time_s,turn,zone,radius_mm,pitch_um,depth_um,land_um,groove_speed_mm_s"
    )
    rows = list(csv.DictReader(io.StringIO(raw.decode())))
    # Six decimals in mm, four in µm; where there is no neighbour there is no land.
    digits = {"time_s": 9, "turn": 9, "radius_mm": 6, "pitch_um": 4, "depth_um": 4, "land_um": 4}
    for column, decimals in (digits | {"groove_speed_mm_s": 4}).items():
        assert {len(row[column].partition(".")[2]) for row in rows if row[column]} == {decimals}, column
    zones = [row["zone"] for row in rows]
    assert sorted(set(zones), key=zones.index) == ["lead_in", "fine", "music", "lead_out", "stop"]
    end = next(row for row in rows if row["zone"] == "lead_out")
    assert float(end["time_s"]) == pytest.approx(25.0, abs=1e-9)
    assert float(end["radius_mm"]) == report.document["end_radius_mm"]
    first = next(row for row in rows if row["zone"] == "fine")
    # Common practice: fine pitch begins exactly 1.5 turns before the music.
    assert float(first["turn"]) == -1.5
    assert rows[0]["land_um"] == ""
    lands = [float(row["land_um"]) for row in rows if row["zone"] in ("fine", "music") and row["land_um"]]
    assert min(lands) == pytest.approx(report.document["min_land_um"], abs=1e-4)


def planned(side: Path, *options: str, cores: set[int] | None = None, **environment: str) -> bytes:
    """What a process of its own prints as JSON."""
    command = [sys.executable, "-m", "discwright", "plan", str(side), "--level-db", "4", "--json", *options]
    before = os.sched_getaffinity(0)
    try:
        if cores:
            os.sched_setaffinity(0, cores)
        return subprocess.run(command, env=os.environ | environment, check=True, capture_output=True).stdout
    finally:
        os.sched_setaffinity(0, before)


def test_same_inputs_same_bytes(long_side: Path, tmp_path: Path) -> None:
    """One core or two, old kernels or new, and both halves of the side solved at once."""
    side = tmp_path / "side.wav"
    music, rate = soundfile.read(long_side, frames=150 * 44_100, dtype="int16")
    soundfile.write(side, music, rate, subtype="PCM_16")
    first = planned(side, "--out", str(tmp_path / "out"), NUMBA_NUM_THREADS="2")
    document = json.loads(first)
    assert document["turns"] > 2 * HALVES_FROM_TURNS
    spiral = (tmp_path / "out" / "spiral.csv").read_bytes()
    # The hash stands for the whole spiral in every comparison below.
    assert document["spiral_sha256"] == hashlib.sha256(spiral).hexdigest()
    assert planned(side, NUMBA_NUM_THREADS="1") == first
    assert planned(side, cores={min(os.sched_getaffinity(0))}) == first
    # Where the cache cannot be written the kernels are compiled again, elsewhere, to the same code.
    assert planned(side, XDG_CACHE_HOME=str(side), TMPDIR=str(tmp_path)) == first
    assert list(tmp_path.glob("discwright-*/kernels-*/**/*.nbi"))


def test_fingerprint(side: Path, tmp_path: Path) -> None:
    def print_of(path: Path, **options: object) -> str:
        return str(plan_file(path, **options).document["fingerprint"])  # type: ignore[arg-type]

    one = print_of(side, level_db=0.0)
    elsewhere = tmp_path / "elsewhere.wav"
    elsewhere.write_bytes(side.read_bytes())
    assert print_of(elsewhere, level_db=0.0) == one
    assert print_of(side, level_db=0.1) != one
    assert print_of(side, level_db=0.0, tip="elliptical-8") != one
    x, rate = soundfile.read(side, dtype="int16")
    x[1000, 0] += 1
    soundfile.write(elsewhere, x, rate, subtype="PCM_16")
    assert print_of(elsewhere, level_db=0.0) != one


@pytest.fixture
def quick_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    """A word in the place of the picture, which takes longer than all the rest, and of the sheet that shows it."""
    monkeypatch.setattr(keep_module, "draw_disc", lambda path, *_, **__: path.write_text("picture"))
    monkeypatch.setattr(keep_module, "write_sheet", lambda path, *_, **__: path.write_text("sheet"))


@pytest.mark.usefixtures("quick_picture")
def test_planning_again_takes_the_place_and_keeps_what_was_added(side: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    plan_file(side, level_db=0.0, out=out)
    (out / "notes.txt").write_text("bright at the end")
    plan_file(side, level_db=1.0, out=out)
    assert json.loads((out / "plan.json").read_text())["level_db"] == 1.0
    assert (out / "notes.txt").read_text() == "bright at the end"
    assert list(tmp_path.iterdir()) == [out]


@pytest.mark.usefixtures("quick_picture")
@pytest.mark.parametrize("trouble", [RuntimeError("no picture"), OSError(28, "No space left on device")])
def test_a_failure_leaves_the_old_plan(
    side: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, trouble: Exception
) -> None:
    out = tmp_path / "out"
    plan_file(side, level_db=0.0, out=out)
    before = {p.name: p.read_bytes() for p in out.iterdir()}

    def fail(*_: object, **__: object) -> None:
        raise trouble

    monkeypatch.setattr(keep_module, "draw_disc", fail)
    with pytest.raises((RuntimeError, CallError)):
        plan_file(side, level_db=1.0, out=out)
    assert {p.name: p.read_bytes() for p in out.iterdir()} == before
    assert list(tmp_path.iterdir()) == [out]


def test_from_a_notebook(side: Path) -> None:
    steps: set[str] = set()
    report = discwright.plan_file(side, level_db=0.0, progress=lambda step, done: steps.add(step) or None)
    assert report.plan.rows.radius[report.plan.rows.music][0] == pytest.approx(0.1463)
    assert steps == {"reading", "laying the spiral"}
    assert not report.plan.rows.land.flags.owndata or isinstance(report.plan.rows.land, np.ndarray)
    assert set(discwright.__all__) >= {"plan_file", "survey", "examine", "write_demo"}
    with pytest.raises(AttributeError, match="it has"):
        discwright.unheard_of  # noqa: B018


def test_bands_and_joins(side: Path) -> None:
    report = plan_file(side, level_db=0.0, bands=((0.0, 11.0), (13.0, 25.0)))
    assert report.document["settings"]["bands"] == [
        {"start_s": 0.0, "end_s": 11.0},
        {"start_s": 13.0, "end_s": 25.0},
    ]
    join = report.plan.rows.zone == "join"
    assert report.plan.rows.time[join].min() >= 11.0
    assert report.plan.rows.time[join].max() < 13.0
    np.testing.assert_allclose(report.plan.rows.pitch[join], 1e-3, atol=1e-9)
