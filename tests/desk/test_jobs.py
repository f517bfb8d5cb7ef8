"""Jobs: what is said of them is true, whatever ends the child or the desk, and a stop leaves nothing.

The children here are not the real ones but a program of a few lines that does as it is told; `test_work.py` has the
real work.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from discwright.desk import jobs as module
from discwright.desk.children import birth
from discwright.desk.jobs import AT_ONCE, JOB, OUT, PROCESS, PROGRESS, REMEMBERED, RESULT, Job, Jobs, NoSuchJobError
from discwright.errors import CallError

CHILD = """
import json, os, signal, subprocess, sys, time
from pathlib import Path

place = Path(sys.argv[1])
asked = json.loads((place / "job.json").read_text())["arguments"]
(place / "out" / "half").write_text("unfinished")
if "deaf" in asked:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
if "grandchild" in asked:
    code = "import signal, time; signal.signal(signal.SIGINT, signal.SIG_IGN); time.sleep(60)"
    (place / "grandchild").write_text(str(subprocess.Popen([sys.executable, "-c", code]).pid))
(place / "progress.json").write_text(json.dumps({"step": "at it", "done": 0.25, "seconds_left": 7.5}))
if "wait_for" in asked:
    while not Path(asked["wait_for"]).exists():
        time.sleep(0.01)
if "say" in asked:
    (place / "trouble.json").write_text(json.dumps({"state": "failed", "sentence": asked["say"]}))
    sys.exit(1)
if "end_with" in asked:
    sys.exit(asked["end_with"])
(place / "result.json").write_text(json.dumps({"plans": asked.get("plans", [])}))
"""


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where jobs are kept, with children that do as they are told."""
    programs = tmp_path / "programs"
    programs.mkdir()
    (programs / "told_child.py").write_text(CHILD)
    monkeypatch.setenv("PYTHONPATH", str(programs))
    monkeypatch.setattr(module, "_PROGRAM", "told_child")
    return tmp_path / "jobs"


@pytest.fixture
def jobs(place: Path) -> Iterator[Jobs]:
    made = Jobs(place)
    yield made
    made.close()


def wait_for(condition: Callable[[], Any], within_s: float = 60.0) -> Any:
    until = time.monotonic() + within_s
    while not (found := condition()) and time.monotonic() < until:
        time.sleep(0.01)
    return found


def ended(jobs: Jobs, job: Job) -> Job:
    assert wait_for(lambda: jobs.get(job.id).ended)
    return jobs.get(job.id)


def at_it(jobs: Jobs, job: Job) -> Job:
    """The job once its child has told how far it is."""
    assert wait_for(lambda: jobs.get(job.id).step)
    return jobs.get(job.id)


def pid_of(jobs: Jobs, job: Job) -> int:
    return int(json.loads((jobs.folder / job.id / PROCESS).read_text())["pid"])


def test_a_job_that_ends_well(jobs: Jobs, tmp_path: Path) -> None:
    go = tmp_path / "go"
    job = jobs.start("plan", "plan lp side A", {"wait_for": str(go), "plans": ["lp-A"]}, about="lantern")
    assert (job.state, job.words, job.about, job.kind, job.result) == (
        "running",
        "plan lp side A",
        "lantern",
        "plan",
        {},
    )
    assert job.started.tzinfo is UTC
    now = at_it(jobs, job)
    assert (now.state, now.step, now.done, now.seconds_left) == ("running", "at it", 0.25, 7.5)
    go.touch()
    done = ended(jobs, job)
    assert (done.state, done.done, done.seconds_left, done.sentence) == ("done", 1.0, None, "")
    assert done.result == {"plans": ["lp-A"]}
    assert done.arguments["plans"] == ["lp-A"]
    assert not (jobs.folder / job.id / OUT).exists()


def test_a_job_that_fails_says_why(jobs: Jobs) -> None:
    job = ended(jobs, jobs.start("plan", "plan", {"say": "the file is no audio; export it again."}))
    assert (job.state, job.sentence, job.result) == ("failed", "the file is no audio; export it again.", {})
    assert not (jobs.folder / job.id / OUT).exists()


def test_a_child_without_a_word_points_to_its_log(jobs: Jobs) -> None:
    job = ended(jobs, jobs.start("plan", "plan", {"end_with": "a last cry"}))
    log = jobs.folder / job.id / "log.txt"
    # From the opened folder on: nobody's business is where that lies.
    shown = Path(*log.parts[-4:])
    assert (job.state, job.sentence) == ("failed", f"it ended without a word; see {shown}, and start it again.")
    assert log.read_text().strip() == "a last cry"


def test_a_child_killed_from_outside_has_failed(jobs: Jobs, tmp_path: Path) -> None:
    job = at_it(jobs, jobs.start("plan", "plan", {"wait_for": str(tmp_path / "never")}))
    os.kill(pid_of(jobs, job), signal.SIGKILL)
    job = ended(jobs, job)
    assert job.state == "failed"
    assert job.sentence == (
        "it was ended from outside (signal 9), perhaps for want of memory; close other programs and start it again."
    )
    assert not (jobs.folder / job.id / OUT).exists()


def test_a_child_that_cannot_be_started_has_failed(jobs: Jobs, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", "/no/such/python")
    job = jobs.start("plan", "plan", {})
    assert job.state == "failed"
    assert job.sentence == "it could not be started (No such file or directory); close other programs and try again."


def test_so_many_at_once_and_the_others_in_order(jobs: Jobs, tmp_path: Path) -> None:
    gates = [tmp_path / f"go-{k}" for k in range(AT_ONCE + 2)]
    started = [jobs.start("plan", f"plan {k}", {"wait_for": str(gate)}) for k, gate in enumerate(gates)]
    assert [one.state for one in started] == ["running"] * AT_ONCE + ["waiting"] * 2
    assert [one.words for one in jobs.all()] == [one.words for one in reversed(started)]
    gates[0].touch()
    ended(jobs, started[0])
    assert wait_for(lambda: jobs.get(started[AT_ONCE].id).state == "running")
    assert jobs.get(started[AT_ONCE + 1].id).state == "waiting"
    for gate in gates:
        gate.touch()
    assert [ended(jobs, one).state for one in started] == ["done"] * len(gates)


def test_a_waiting_job_is_stopped_without_ever_running(jobs: Jobs, tmp_path: Path) -> None:
    never = {"wait_for": str(tmp_path / "never")}
    *_, last = [jobs.start("plan", "plan", never) for _ in range(AT_ONCE + 1)]
    job = jobs.stop(last.id)
    assert (job.state, job.sentence) == ("stopped", "")
    assert not (jobs.folder / job.id / PROCESS).exists()
    assert not (jobs.folder / job.id / OUT).exists()


@pytest.mark.parametrize("manner", ["polite", "deaf"])
def test_a_stop_leaves_nothing(jobs: Jobs, tmp_path: Path, manner: str) -> None:
    """Not even of what the child has started, and of a child that does not listen."""
    job = jobs.start("plan", "plan", {"wait_for": str(tmp_path / "never"), "grandchild": 1, manner: 1})
    at_it(jobs, job)
    family = [pid_of(jobs, job), int((jobs.folder / job.id / "grandchild").read_text())]
    assert all(birth(pid) for pid in family)
    stopped = jobs.stop(job.id)
    assert (stopped.state, stopped.sentence, stopped.seconds_left) == ("stopped", "", None)
    assert not (jobs.folder / job.id / OUT).exists()
    assert wait_for(lambda: not any(birth(pid) for pid in family), 5.0)
    assert jobs.stop(job.id) == stopped, "a second time does nothing"


def test_a_stop_makes_room_for_the_next(jobs: Jobs, tmp_path: Path) -> None:
    never = {"wait_for": str(tmp_path / "never")}
    first, *_, last = [jobs.start("plan", "plan", never) for _ in range(AT_ONCE + 1)]
    jobs.stop(first.id)
    assert wait_for(lambda: jobs.get(last.id).state == "running")


def test_a_desk_that_goes_down_stops_everything(place: Path, tmp_path: Path) -> None:
    jobs = Jobs(place)
    started = [jobs.start("plan", "plan", {"wait_for": str(tmp_path / "never")}) for _ in range(AT_ONCE + 1)]
    for one in started[:AT_ONCE]:
        at_it(jobs, one)
    children = [pid_of(jobs, one) for one in started[:AT_ONCE]]
    jobs.close()
    assert [jobs.get(one.id).state for one in started] == ["stopped"] * len(started)
    assert [birth(pid) for pid in children] == [""] * AT_ONCE
    with pytest.raises(CallError, match=r"^the desk is being closed; open it again and start this once more\.$"):
        jobs.start("plan", "plan", {})


# A desk that was killed, and the next ------------------------------------------------------------------


@pytest.fixture
def abandoned(place: Path, tmp_path: Path) -> Iterator[list[str]]:
    """Jobs of a desk that was killed: two that run on, as real children do for a moment, and one that waits."""
    code = (
        "import os, sys, time; from pathlib import Path; from discwright.desk import jobs as module\n"
        "module._PROGRAM = 'told_child'; jobs = module.Jobs(Path(sys.argv[1]))\n"
        "for k in range(module.AT_ONCE + 1): print(jobs.start('plan', 'plan', {'wait_for': sys.argv[2]}).id)\n"
        "while not all((jobs.folder / j.id / 'process.json').exists() for j in jobs.all()[1:]): time.sleep(0.01)\n"
        "sys.stdout.flush(); os.kill(os.getpid(), 9)\n"
    )
    told = subprocess.run(
        [sys.executable, "-c", code, str(place), str(tmp_path / "go")], capture_output=True, text=True, timeout=120
    )
    assert told.returncode == -signal.SIGKILL, told.stderr
    ids = told.stdout.split()
    running = [json.loads((place / id_ / PROCESS).read_text())["pid"] for id_ in ids[:AT_ONCE]]
    yield ids
    for pid in running:
        with suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)


def test_the_next_desk_finds_what_still_runs(place: Path, tmp_path: Path, abandoned: list[str]) -> None:
    jobs = Jobs(place)
    assert [jobs.get(id_).state for id_ in abandoned] == ["running", "running", "waiting"]
    pid = json.loads((place / abandoned[0] / PROCESS).read_text())["pid"]
    os.kill(pid, signal.SIGKILL)
    assert wait_for(lambda: jobs.get(abandoned[0]).ended)
    job = jobs.get(abandoned[0])
    assert (job.state, job.sentence) == ("failed", "it ended with the desk that ran it; start it again.")
    assert wait_for(lambda: jobs.get(abandoned[2]).state == "running"), "its turn has come"
    (tmp_path / "go").touch()
    assert wait_for(lambda: all(jobs.get(id_).ended for id_ in abandoned[1:]))
    assert [jobs.get(id_).state for id_ in abandoned[1:]] == ["done", "done"]
    jobs.close()


def test_the_next_desk_can_stop_what_still_runs(place: Path, abandoned: list[str]) -> None:
    jobs = Jobs(place)
    pid = json.loads((place / abandoned[0] / PROCESS).read_text())["pid"]
    assert jobs.stop(abandoned[0]).state == "stopped"
    assert birth(pid) == ""
    assert not (place / abandoned[0] / OUT).exists()
    jobs.close()


def test_what_died_with_its_desk_has_failed(place: Path, abandoned: list[str]) -> None:
    """Also where another process has got its number since: this one's own stands for it."""
    process = place / abandoned[0] / PROCESS
    process.write_text(json.dumps({"pid": os.getpid(), "born": "another time"}))
    jobs = Jobs(place)
    job = jobs.get(abandoned[0])
    assert (job.state, job.sentence) == ("failed", "it ended with the desk that ran it; start it again.")
    assert jobs.stop(abandoned[0]).state == "failed"
    assert not (place / abandoned[0] / OUT).exists()
    jobs.close()


def test_ended_jobs_are_remembered(place: Path, tmp_path: Path) -> None:
    first = Jobs(place)
    kept = [
        ended(first, first.start("plan", "one", {"plans": ["lp-A"]}, "x")),
        ended(first, first.start("layout", "two", {"say": "no."})),
        first.stop(at_it(first, first.start("plan", "three", {"wait_for": str(tmp_path / "never")})).id),
    ]
    first.close()
    assert Jobs(place).all() == list(reversed(kept))


# What lies about ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "id_", ["", ".", "..", "../jobs", "0123456789abcdef", "0123456789ABCDEF", "/etc", "a" * 16 + "\n"]
)
def test_an_id_is_no_path(jobs: Jobs, id_: str) -> None:
    sentence = r"^there is no such job, or no longer; look at the list of work\.$"
    with pytest.raises(NoSuchJobError, match=sentence):
        jobs.get(id_)
    with pytest.raises(NoSuchJobError, match=sentence):
        jobs.stop(id_)


def write_old(place: Path, number: int, started: datetime, ends_with: str = RESULT) -> str:
    home = place / f"{number:016x}"
    home.mkdir(parents=True)
    asked = {"kind": "plan", "words": "old", "about": "", "arguments": {}, "started": started.isoformat()}
    (home / JOB).write_text(json.dumps(asked))
    (home / ends_with).write_text("{}")
    return home.name


def test_old_jobs_are_forgotten(place: Path) -> None:
    """Those beyond the number that is remembered, those that are too old, and what is no job at all."""
    now = datetime.now(UTC)
    recent = [write_old(place, k, now - timedelta(minutes=k)) for k in range(REMEMBERED + 3)]
    ancient = write_old(place, 1000, now - timedelta(days=400))
    broken = place / "00000000000000ff"
    broken.mkdir()
    (broken / JOB).write_text('{"kind": "pl')
    (place / "not ours").mkdir()
    jobs = Jobs(place)
    assert [one.id for one in jobs.all()] == recent[:REMEMBERED]
    assert not (place / ancient).exists()
    assert not broken.exists()
    assert (place / "not ours").exists()


@pytest.mark.parametrize("text", ["", "{", "[]", '{"done": "much"}', '{"seconds_left": []}', "\x00"])
def test_broken_progress_is_no_progress(jobs: Jobs, tmp_path: Path, text: str) -> None:
    job = at_it(jobs, jobs.start("plan", "plan", {"wait_for": str(tmp_path / "never")}))
    (jobs.folder / job.id / PROGRESS).write_text(text)
    now = jobs.get(job.id)
    assert (now.state, now.done, now.seconds_left) == ("running", 0.0, None)


def test_a_folder_that_cannot_be_written_is_said(jobs: Jobs) -> None:
    jobs.folder.rmdir()
    jobs.folder.write_text("a file")
    with pytest.raises(CallError, match=r"cannot be written \(.*\); check the disk\.$"):
        jobs.start("plan", "plan", {})
    jobs.folder.unlink()
    jobs.folder.mkdir()
