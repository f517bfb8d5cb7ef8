"""Real work in a child: what it makes gets to its place whole or not at all, and a stop is a stop."""

from __future__ import annotations

import hashlib
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from discwright.acts.layout import layout
from discwright.acts.look import read_prepared
from discwright.desk import work
from discwright.desk.expected import stages_of
from discwright.desk.jobs import OUT, Job, Jobs
from discwright.desk.shelf import Shelf
from discwright.desk.work import Asked, Move, put_in_place
from discwright.errors import CallError, TitleError

#: The promise of the desk: so long after a stop the processor is idle, s.
IDLE_WITHIN_S = 2.0


def wait_for(condition: Callable[[], Any], within_s: float = 120.0) -> Any:
    until = time.monotonic() + within_s
    while not (found := condition()) and time.monotonic() < until:
        time.sleep(0.02)
    return found


@pytest.fixture
def jobs(folder: Path) -> Iterator[Jobs]:
    made = Jobs(folder / ".desk" / "jobs")
    yield made
    made.close()


def ended(jobs: Jobs, job: Job) -> Job:
    assert wait_for(lambda: jobs.get(job.id).ended)
    found = jobs.get(job.id)
    assert not (jobs.folder / job.id / OUT).exists()
    return found


def hashes(place: Path) -> dict[str, str]:
    files = (one for one in place.rglob("*") if one.is_file())
    return {one.relative_to(place).as_posix(): hashlib.sha256(one.read_bytes()).hexdigest() for one in files}


def names(place: Path) -> list[str]:
    return sorted(one.name for one in place.iterdir())


# Every kind ----------------------------------------------------------------------------------------------


def orders(folder: Path) -> dict[str, dict[str, Any]]:
    """One order of each kind but the layout, as the desk gives them."""
    ship, cache = folder / "weather-ship", str(folder / ".desk" / "cache")
    kept, what_ifs = str(ship / "lp-A"), folder / ".desk" / "whatifs"
    return {
        "plan": {"title_file": str(ship / "title.toml"), "edition": "lp", "out": str(ship), "cache": cache},
        "what_if": {
            "folder": kept, "changes": {"fit": "cut", "treatments": [{"kind": "treble_limit"}]},
            "out": str(what_ifs / "x.1"), "cache": cache,
        },
        "ladder": {"folder": kept, "changes": {"ladder": True}, "out": str(what_ifs / "x.2"), "cache": cache},
        "make": {"folder": kept, "name": "control.wav"},
        "prepare": {"folder": kept, "cache": f"{cache}/new"},
    }  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["plan", "what_if", "ladder", "make", "prepare"])
def test_every_step_is_foreseen(kind: str, folder: Path, tmp_path: Path) -> None:
    """What an act tells is what the forecast waits for, in its order: renamed steps must be renamed there too."""
    arguments, told = orders(folder)[kind], list[str]()
    place = tmp_path / "out"
    place.mkdir()
    if kind in ("plan", "what_if", "ladder"):  # where nothing has been made ready yet
        arguments["cache"] = str(tmp_path / "cache")
    work.KINDS[kind](arguments, place, lambda step, _done: told.append(step.rpartition(": ")[2]))
    expected = [stage.step for stage in stages_of(kind, arguments)][1:]
    assert [step for k, step in enumerate(told) if k == 0 or step != told[k - 1]] == expected


def test_a_layout_tells_what_it_found(jobs: Jobs, folder: Path) -> None:
    title = folder / "weather-ship" / "title.toml"
    arguments = {"title_file": str(title), "edition": "ep"}
    job = ended(jobs, jobs.start("layout", "lay out ep", arguments))
    assert job.state == "done", job.sentence
    assert job.result == layout(title, edition="ep").as_dict() | {
        "sha256": hashlib.sha256(title.read_bytes()).hexdigest()
    }
    assert job.step.startswith("laying out ep")
    assert [one.step for one in stages_of("layout", arguments)] == ["starting", "laying out"]


def test_plans_go_beside_those_that_are_there(jobs: Jobs, folder: Path) -> None:
    ship = folder / "weather-ship"
    before = hashes(ship)
    job = ended(jobs, jobs.start("plan", "plan lp", orders(folder)["plan"]))
    assert (job.state, job.result) == ("done", {"plans": ["lp-A-2"]}), job.sentence
    after = hashes(ship)
    assert {name: value for name, value in after.items() if not name.startswith("lp-A-2/")} == before
    assert names(ship / "lp-A-2") == [
        "air-run.ngc", "disc.png", "lathe.ngc", "plan.json", "sheet.pdf", "spiral.csv", "spiral.svg"
    ]  # fmt: skip
    shelf = Shelf(folder)
    (new,) = (one for one in shelf.found().plans.values() if one.folder.name == "lp-A-2")
    assert read_prepared(shelf.cache(new)) is not None


@pytest.mark.slow
def test_what_ifs_and_files_and_preparations(jobs: Jobs, folder: Path) -> None:
    ordered = orders(folder)
    kept = Path(ordered["make"]["folder"])
    before = hashes(kept)
    found = {kind: jobs.start(kind, kind, ordered[kind]) for kind in ("what_if", "ladder", "make", "prepare")}
    found = {kind: ended(jobs, job) for kind, job in found.items()}
    assert {kind: (job.state, job.sentence) for kind, job in found.items()} == dict.fromkeys(found, ("done", ""))
    assert [found[kind].result for kind in found] == [
        {"plan": "x.1"}, {"plan": "x.2"}, {"files": ["control.wav", "control.toml"]}, {}
    ]  # fmt: skip
    changed, climbed = (
        json.loads((Path(ordered[kind]["out"]) / "plan.json").read_text()) for kind in ("what_if", "ladder")
    )
    assert [one["kind"] for one in changed["settings"]["treatments"]] == ["treble_limit"]
    assert climbed["spiral_sha256"] == json.loads((kept / "plan.json").read_text())["spiral_sha256"]
    assert climbed["ladder"]
    assert names(kept) == sorted([*before, "control.wav", "control.toml"])
    assert {name: value for name, value in hashes(kept).items() if name in before} == before
    assert read_prepared(Path(ordered["prepare"]["cache"])) is not None


# Trouble -------------------------------------------------------------------------------------------------


def test_trouble_is_a_sentence(jobs: Jobs, folder: Path) -> None:
    """The act's own sentence where it has one."""
    ship = folder / "weather-ship"
    (ship / "reel.wav").write_bytes(b"no audio")
    job = ended(jobs, jobs.start("plan", "plan lp", orders(folder)["plan"]))
    assert job.state == "failed"
    assert "reel.wav" in job.sentence
    assert job.sentence.endswith(".")
    assert "\n" not in job.sentence


def test_work_that_nobody_knows_is_refused(jobs: Jobs) -> None:
    job = ended(jobs, jobs.start("brew", "brew coffee", {}))
    assert (job.state, job.sentence) == (
        "failed", "there is no work called “brew”; choose from plan, layout, what_if, ladder, make, prepare, play."
    )  # fmt: skip


def test_trouble_that_is_none_of_ours_points_to_the_log(jobs: Jobs) -> None:
    job = ended(jobs, jobs.start("plan", "plan lp side A", {}))
    log = jobs.folder / job.id / "log.txt"
    assert job.state == "failed"
    assert job.sentence == f"something went wrong inside “plan lp side A” (KeyError); see {log}, and report it."
    assert log.read_text().rstrip().endswith("KeyError: 'title_file'")


def test_faults_of_a_title_are_one_paragraph(tmp_path: Path) -> None:
    said = work._sentence(TitleError(("one is wrong; mend it.", "two is wrong; mend it.")), tmp_path, "plan")
    assert said == "one is wrong; mend it. two is wrong; mend it."


# Putting in place ----------------------------------------------------------------------------------------


def made(place: Path, name: str) -> Path:
    folder = place / "made" / name
    folder.mkdir(parents=True)
    (folder / "file").write_text(name)
    return folder


def test_a_place_that_is_taken_is_let_be(tmp_path: Path) -> None:
    for name in ("lp-A", "lp-A-2"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "old").touch()
    (tmp_path / "lp-A-3").touch()
    (tmp_path / "lp-A-4").symlink_to(tmp_path / "nowhere")
    (tmp_path / "lp-A-6").mkdir()
    assert put_in_place([Move(made(tmp_path, "lp-A"), tmp_path / "lp-A", "next")]) == [tmp_path / "lp-A-5"]
    assert (tmp_path / "lp-A-5" / "file").read_text() == "lp-A"
    assert [names(tmp_path / name) for name in ("lp-A", "lp-A-2")] == [["old"], ["old"]]
    assert (tmp_path / "lp-A-4").is_symlink()


def test_what_is_of_no_use_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "cache" / "key").mkdir(parents=True)
    (tmp_path / "cache" / "key" / "old").touch()
    put_in_place([Move(made(tmp_path, "new"), tmp_path / "cache" / "key", "replace")])
    assert names(tmp_path / "cache" / "key") == ["file"]


def test_all_get_to_their_places_or_none(tmp_path: Path) -> None:
    (tmp_path / "taken").mkdir()
    (tmp_path / "taken" / "old").touch()
    moves = [Move(made(tmp_path, "a"), tmp_path / "deep" / "a"), Move(made(tmp_path, "b"), tmp_path / "taken")]
    with pytest.raises(CallError, match=r"taken: cannot be written \(.+\); check folder and disk\.$"):
        put_in_place(moves)
    assert not (tmp_path / "deep" / "a").exists()
    assert names(tmp_path / "made") == ["a", "b"]
    assert names(tmp_path / "taken") == ["old"]


def test_another_disk_is_reached_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rename = Path.rename

    def far(self: Path, target: Path) -> Path:
        if self.parent.name == "made":
            raise OSError(18, "Invalid cross-device link")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", far)
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "old").touch()
    assert put_in_place([Move(made(tmp_path, "a"), tmp_path / "a", "next")]) == [tmp_path / "a-2"]
    assert names(tmp_path) == ["a", "a-2", "made"]


# A stop --------------------------------------------------------------------------------------------------


def test_a_stop_that_a_library_swallows_is_not_lost() -> None:
    asked = Asked()
    before = signal.getsignal(signal.SIGINT)
    try:
        asked.listen()
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
        signal.raise_signal(signal.SIGINT)  # while it tidies up: once is enough
        with pytest.raises(KeyboardInterrupt):
            asked.check()
        with pytest.raises(KeyboardInterrupt):
            asked.no_more()
    finally:
        signal.signal(signal.SIGINT, before)


def test_what_is_being_put_in_place_cannot_be_stopped() -> None:
    asked = Asked()
    before = signal.getsignal(signal.SIGINT)
    try:
        asked.listen()
        asked.no_more()
        signal.raise_signal(signal.SIGINT)
        asked.check()
    finally:
        signal.signal(signal.SIGINT, before)


WATCHER = """
import json, sys, time
from pathlib import Path

session, title, own = int(sys.argv[1]), Path(sys.argv[2]), Path(sys.argv[3])
while True:
    ticks, alive = 0, 0
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                words = (entry / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            if int(words[3]) == session and words[0] not in "ZX":
                alive, ticks = alive + 1, ticks + int(words[11]) + int(words[12])
    files = sorted(one.name for one in title.iterdir()) + (["out"] if own.exists() else [])
    print(json.dumps({"at": time.monotonic(), "alive": alive, "ticks": ticks, "files": files}), flush=True)
    time.sleep(0.02)
"""


def long_title(folder: Path, audio: Path) -> Path:
    """A title of one long side, in a folder of its own."""
    place = folder / "long"
    place.mkdir()
    path = place / "title.toml"
    path.write_text(
        '[title]\nname = "Long"\ncatalogue = "L 1"\n'
        f'[[band]]\nid = "one"\nname = "One"\nfile = "{audio}"\n'
        '[[edition]]\nid = "lp"\nformat = "12in-33"\nlevel = "fit"\n'
        '[[edition.side]]\nletter = "A"\nbands = ["one"]\n'
    )
    return path


def session_of(pid: int) -> list[str]:
    """Command lines of every process of a session that still runs."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                words = (entry / "stat").read_text().rpartition(")")[2].split()
                if int(words[3]) == pid and words[0] not in "ZX":
                    found.append((entry / "cmdline").read_text())
            except OSError:  # it ended while we looked
                continue
    return found


@pytest.mark.slow
@pytest.mark.parametrize(
    ("kind", "step"),
    [
        ("plan", "reading"),
        ("plan", "laying the spiral"),
        ("plan", "drawing the disc"),
        ("plan", "moving the tip"),
        ("layout", "laying out"),
    ],
)
def test_a_stop_leaves_the_processor_idle_and_no_file(
    kind: str, step: str, jobs: Jobs, folder: Path, long_side: Path
) -> None:
    """Seen by another process: decoders and the workers of a layout are of the child's session too."""
    title = long_title(folder, long_side)
    cache = folder / ".desk" / "cache"
    arguments = {"title_file": str(title), "edition": "lp", "out": str(title.parent), "cache": str(cache)}
    before = names(cache)
    job = jobs.start(kind, kind, arguments)
    process = jobs.folder / job.id / "process.json"
    assert wait_for(process.exists)
    pid = json.loads(process.read_text())["pid"]
    # It watches from early on: some steps are over sooner than a program starts.
    said = folder / "seen"  # no pipe, which would fill
    with said.open("w") as file:
        words = [sys.executable, "-c", WATCHER, str(pid), str(title.parent), str(jobs.folder / job.id / OUT)]
        watcher = subprocess.Popen(words, stdout=file)
    assert wait_for(lambda: "\n" in said.read_text())
    # A step of a quarter of a second may never be told: then its neighbours will do.
    near = {
        "reading": ("laying the spiral",),
        "moving the tip": ("opening the plan", "reading the programme", "measuring the groove"),
    }
    wanted = (step, *near.get(step, ()))
    assert wait_for(lambda: any(one in jobs.get(job.id).step for one in wanted))
    if kind == "layout":
        assert wait_for(lambda: any("spawn" in line for line in session_of(pid)))
        time.sleep(0.5)
    asked = time.monotonic()
    stopped = jobs.stop(job.id)
    time.sleep(max(0.0, asked + IDLE_WITHIN_S + 1.0 - time.monotonic()))
    watcher.terminate()
    watcher.wait()
    seen = [json.loads(line) for line in said.read_text().splitlines()[:-1]]
    before_it = [one for one in seen if one["at"] <= asked]
    assert before_it[-1]["alive"] >= 1
    assert before_it[-1]["files"] == ["title.toml", "out"]
    assert (stopped.state, stopped.sentence) == ("stopped", "")
    late = [one for one in seen if one["at"] > asked + IDLE_WITHIN_S]
    assert late
    assert [one for one in late if one["alive"] or one["files"] != ["title.toml"]] == []
    assert names(cache) == before


DESK = """
import sys, time
from pathlib import Path
from discwright.desk.jobs import Jobs

jobs = Jobs(Path(sys.argv[1]))
job = jobs.start("plan", "plan", {"title_file": sys.argv[2], "edition": "lp", "out": sys.argv[3]})
while "laying" not in jobs.get(job.id).step:
    time.sleep(0.02)
print(job.id, flush=True)
time.sleep(600)
"""


def test_children_end_with_their_desk(folder: Path, long_side: Path, tmp_path: Path) -> None:
    """However it ends: here it has no time to say goodbye, and the child tidies up for itself."""
    title, place = long_title(folder, long_side), tmp_path / "jobs"
    desk = subprocess.Popen(
        [sys.executable, "-c", DESK, str(place), str(title), str(title.parent)], stdout=subprocess.PIPE, text=True
    )
    assert desk.stdout is not None
    id_ = desk.stdout.readline().strip()
    pid = json.loads((place / id_ / "process.json").read_text())["pid"]
    assert session_of(pid)
    desk.send_signal(signal.SIGKILL)
    desk.wait()
    desk.stdout.close()
    assert wait_for(lambda: not session_of(pid), 20.0)
    assert not (place / id_ / OUT).exists()
    assert names(title.parent) == ["title.toml"]
    later = Jobs(place)
    job = later.get(id_)
    assert (job.state, job.sentence) == ("failed", "it ended with the desk that ran it; start it again.")
    later.close()


def test_a_child_takes_interrupts_even_where_the_desk_ignores_them(
    jobs: Jobs, folder: Path, long_side: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A desk in the background of a script does, and children inherit it."""
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        title = long_title(folder, long_side)
        job = jobs.start("plan", "plan", {"title_file": str(title), "edition": "lp", "out": str(title.parent)})
        assert wait_for(lambda: "laying" in jobs.get(job.id).step)
    finally:
        signal.signal(signal.SIGINT, before)
    os.kill(json.loads((jobs.folder / job.id / "process.json").read_text())["pid"], signal.SIGINT)
    assert ended(jobs, job).state == "failed", "nobody asked for it here"
