"""The job of a test play: a capture of a real plan, inspected in a child; what cannot be inspected is a sentence."""

from __future__ import annotations

import json
import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from discwright.acts.look import read_prepared
from discwright.desk import work
from discwright.desk.expected import stages_of
from discwright.desk.jobs import Job, Jobs
from discwright.desk.shelf import Shelf
from discwright.errors import CallError

pytestmark = pytest.mark.slow
#: Where the needle was set down in the capture, s, and where a tick was put into the programme.
BEFORE_S, TICK_S = 1.5, 6.0


@pytest.fixture(scope="module")
def capture(planned_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The side played 6 dB too low, with noise and one great tick in its left channel."""
    shelf = Shelf(planned_folder)
    plan = shelf.plan("weather-ship~lp-A")
    prepared = read_prepared(shelf.cache(plan))
    assert prepared is not None
    rate = int(plan.document["programme"]["sample_rate_hz"])
    quiet = np.zeros((round(BEFORE_S * rate), 2))
    played = np.concatenate([quiet, 0.5 * np.asarray(prepared.programme, dtype=np.float64), quiet])
    played += np.random.default_rng(7).normal(0.0, 2e-4, played.shape)
    at = round((BEFORE_S + TICK_S) * rate)
    played[at : at + 16, 0] += 0.35 * np.hanning(16)
    path = tmp_path_factory.mktemp("capture") / "a side.wav"
    soundfile.write(path, played, rate, subtype="PCM_24")
    return path


def order(folder: Path, capture: Path) -> dict[str, Any]:
    return {
        "capture": str(capture), "plan": str(folder / "weather-ship" / "lp-A"), "tip": "none",
        "out": str(folder / ".desk" / "plays" / "0" / "result"),
    }  # fmt: skip


@pytest.fixture
def jobs(folder: Path) -> Iterator[Jobs]:
    made = Jobs(folder / ".desk" / "jobs")
    yield made
    made.close()


def ended(jobs: Jobs, job: Job) -> Job:
    until = time.monotonic() + 180
    while not jobs.get(job.id).ended and time.monotonic() < until:
        time.sleep(0.05)
    return jobs.get(job.id)


def test_a_capture_is_inspected_and_put_in_its_place(jobs: Jobs, folder: Path, capture: Path) -> None:
    arguments = order(folder, capture)
    job = ended(jobs, jobs.start("play", "play MO3-2 against the programme", arguments, "MO3-2"))
    assert (job.state, job.sentence) == ("done", "")
    out = Path(arguments["out"])
    assert sorted(one.name for one in out.iterdir()) == [
        "capture.flac", "difference.flac", "inspect.json", "inspect.png", "programme.flac"
    ]  # fmt: skip
    told = json.loads((out / "inspect.json").read_text())
    assert job.result == {"verdict": told["verdict"], "defects": len(told["defects"])}
    # Where this machine keeps its files is not told.
    assert (told["capture"]["path"], told["kept"]) == ("a side.wav", None)
    assert str(folder) not in json.dumps(told)
    # What was put in comes out; the level to a hundredth of what was taken.
    assert told["measures"]["start_s"] == pytest.approx(BEFORE_S, abs=0.001)
    assert told["measures"]["level_db"] == pytest.approx(-6.02, abs=0.1)
    near = [one for one in told["defects"] if abs(one["time_s"] - TICK_S) < 0.002]
    assert [(one["kind"], one["channel"], one["audible"]) for one in near] == [("tick", "left", True)]
    lengths = {soundfile.info(one).frames for one in out.glob("*.flac")}
    assert len(lengths) == 1


def test_every_step_of_a_play_is_foreseen(folder: Path, capture: Path, tmp_path: Path) -> None:
    """What the act tells is what the forecast waits for, in its order."""
    arguments, told = order(folder, capture), list[str]()
    work.KINDS["play"](arguments, tmp_path, lambda step, _done: told.append(step))
    expected = [stage.step for stage in stages_of("play", arguments)][1:]
    assert [step for k, step in enumerate(told) if k == 0 or step != told[k - 1]] == expected
    # With a tip the proof is made as well.
    assert "proving the plan" in [one.step for one in stages_of("play", arguments | {"tip": None})]


@pytest.mark.parametrize("what", ["silent", "mono", "gone"])
def test_what_cannot_be_inspected_is_a_sentence_without_a_path(
    folder: Path, tmp_path: Path, what: str, side: Path
) -> None:  # fmt: skip
    capture = tmp_path / "a.wav"
    if what == "silent":
        soundfile.write(capture, np.zeros((44_100 * 20, 2)), 44_100)
    if what == "mono":
        soundfile.write(capture, soundfile.read(side)[0][:, 0], 44_100)
    (tmp_path / "out").mkdir()
    with pytest.raises(CallError) as refused:
        work.KINDS["play"](order(folder, capture), tmp_path / "out", lambda _step, _done: None)
    assert str(tmp_path) not in str(refused.value)
    assert str(refused.value).startswith("a.wav")
    assert str(refused.value).endswith(".")


def test_a_stop_leaves_nothing(jobs: Jobs, folder: Path, capture: Path) -> None:
    arguments = order(folder, capture)
    shutil.rmtree(Path(arguments["out"]).parent, ignore_errors=True)
    job = jobs.start("play", "play", arguments)
    until = time.monotonic() + 60
    while jobs.get(job.id).step in ("", "starting") and time.monotonic() < until:
        time.sleep(0.02)
    jobs.stop(job.id)
    assert jobs.get(job.id).state == "stopped"
    assert not Path(arguments["out"]).exists()
