"""`plan DIR` through the real command line: the plan once more, what changed, and what cannot be asked."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import soundfile
from typer.testing import CliRunner

from discwright.acts.plan import plan_file
from discwright.cli.main import app
from discwright.errors import DiscwrightError

RATE = 44_100


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory, side: Path) -> Path:
    """The plan of eight seconds of a bare file, at 3 dB."""
    place = tmp_path_factory.mktemp("kept")
    music, _ = soundfile.read(side, frames=8 * RATE, dtype="int16")
    soundfile.write(place / "side.wav", music, RATE, subtype="PCM_16")
    plan_file(place / "side.wav", level_db=3.0, out=place / "plan", only=())
    return place / "plan"


def command(folder: Path, *arguments: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "discwright", "plan", *map(str, arguments)],
        cwd=folder, capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip


def test_the_plan_and_then_the_differences(kept: Path, tmp_path: Path) -> None:
    done = command(
        kept.parent, "plan", "--level-db", "2,5", "--treatment", "bass_blend:150", "--treatment", "treble_limit",
        "--tip", "elliptical-8", "--out", tmp_path / "new", "--only", "removed", "--save-house", tmp_path / "h.toml",
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, f"house set {tmp_path / 'h.toml'}\n")
    plan, _, against = done.stdout.partition("\nAgainst plan:\n")
    assert "+2.5 dB" in plan
    assert plan.startswith("treated   bass blend below 150 Hz: ")
    assert "treated   treble limit: " in plan
    assert f"kept      {tmp_path / 'new'}\n" in plan
    assert "level     +3.00 → +2.50 dB, 0.50 dB lost\n" in against
    assert "setting   tip.name  spherical-18 → elliptical-8\n" in against
    assert "setting   treatments.1.kind  none → bass_blend\n" in against
    names = sorted(path.name for path in (tmp_path / "new").iterdir())
    assert names == ["disc.png", "plan.json", "removed.wav", "spiral.csv"]
    # What was kept is a plan like any other, and can be taken further.
    again = command(kept.parent, tmp_path / "new" / "plan.json", "--treatment", "none", "--json")
    assert "treatments" not in json.loads(again.stdout)["settings"]


def test_json_without_a_change_is_the_kept_plan(kept: Path) -> None:
    done = command(kept.parent, kept, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == (kept / "plan.json").read_text(encoding="utf-8")
    told = command(kept.parent, kept).stdout
    assert told.endswith("The two plans are alike.\n")


def test_a_plan_that_is_stopped_exits_with_one(kept: Path, tmp_path: Path) -> None:
    head = tmp_path / "weak.toml"
    head.write_text(
        "velocity_max_cm_s = 1\nacceleration_max_m_s2 = 50000\nheat_acceleration_max_m_s2 = 5000\n"
        "heat_time_constant_s = 10\n",
        encoding="utf-8",
    )
    done = command(kept.parent, kept, "--head", head, "--ladder")
    assert done.returncode == 1
    assert "gained    stop     head_velocity" in done.stdout
    assert "up to " in done.stdout
    assert done.stdout.endswith("ready to cut → not ready to cut.\n")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--edition", "lp"], "is for a file that is planned anew; a kept plan has settled that, leave it out."),
        (["--side", "A"], "--side is for a file that is planned anew;"),
        (["--house", "h.toml"], "--house is for a file that is planned anew;"),
        (["--like", "x"], "--like is for a file that is planned anew;"),
        (["--band", "0-1"], "--band is for a file that is planned anew;"),
        (["--level-db", "3", "--fit", "cut"], "give level_db or fit, not both."),
        (["--level-db", "30"], "the level must lie between -40 and 24 dB; 30 dB does not: choose another."),
        (["--fit", "loud"], "--fit: there is no “loud”; write cut or clean."),
        (["--treatment", "bass_blend"], "bass_blend needs a corner in Hz; give it one, as in bass_blend:150."),
        (["--treatment", "bass_blend:1,000"], "could mean a thousand or a decimal; write 1000 or 1.000."),
        (["--treatment", "low_cut:"], "--treatment low_cut: “” is not a number; write for example 9.2 or 9,2."),
        (["--treatment", "low_cut:2"], "below_hz must lie between 5 and 30000; got 2: choose another."),
        (["--treatment", "treble_limit:9000"], "treble_limit has no corner; leave 9000 Hz out."),
        (["--treatment", "nothing"], "there is no treatment “nothing”; there are bass_blend,"),
        (["--treatment", "none", "--treatment", "low_cut:30"], "--treatment none goes with no other treatment;"),
        (["--lathe", "swift"], "there is no lathe “swift”;"),
        (["--only", "sheet"], "--only chooses what --out keeps; give --out DIR as well."),
    ],
)  # fmt: skip
def test_refused_in_a_sentence(kept: Path, options: list[str], words: str) -> None:
    done = CliRunner().invoke(app, ["plan", str(kept), *options])
    assert isinstance(done.exception, DiscwrightError)
    assert words in str(done.exception)


def test_refused_before_anything_is_planned(kept: Path, tmp_path: Path) -> None:
    """Of the real command line: exit code 2 and one sentence."""
    done = command(kept.parent, kept, "--out", kept)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        f"discwright: {kept}: holds a plan, and a what-if takes no other's place; choose an empty or a new folder.\n"
    )
    done = command(kept.parent, tmp_path)
    assert done.stderr == (
        f"discwright: {tmp_path} is a folder and holds no plan; name one file inside it, or a folder made with --out.\n"
    )
    shutil.copy(kept.parent / "side.wav", tmp_path / "side.wav")
    done = command(tmp_path, "side.wav", "--treatment", "low_cut:30")
    assert done.stderr == (
        "discwright: --treatment is for a kept plan's folder; a title file names its own, a bare file has none.\n"
    )
