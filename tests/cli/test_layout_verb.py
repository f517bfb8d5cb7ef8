"""`layout` of a title: the sides it finds against every split there is, and what it leaves behind when it is ended."""

from __future__ import annotations

import json
import os
import pty
import signal
import subprocess
import sys
import time
from contextlib import suppress
from itertools import combinations, pairwise, permutations
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from discwright.acts.layout import edition_setup
from discwright.acts.side import plan_audio
from discwright.acts.title import plan_title
from discwright.files.side_audio import SideAudio, find_range
from discwright.files.title import load_title
from discwright.plan import Order, Plan

RATE = 44_100
#: Six bands: length in s and how loud, by hand.
BANDS = {"a": (9.0, 0.6), "b": (18.0, 1.0), "c": (10.0, 0.35), "d": (16.0, 0.8), "e": (8.0, 1.0), "f": (14.0, 0.5)}
HEAD = '[title]\nname = "Six Weathers"\ncatalogue = "HL 12"\n'
MINI = '\n[[edition]]\nid = "mini"\nformat = "small.toml"\nquantity = 200\ndue = 2031-04-18\n'


def coloured(seconds: float, seed: int) -> np.ndarray:
    """Noise with a falling spectrum that begins and ends in silence, shape (n, 2)."""
    n = round(seconds * RATE)
    rng = np.random.default_rng(seed)
    f = np.fft.rfftfreq(n, 1 / RATE)
    shape = ((f > 30) * (f < 9000) / np.maximum(f, 80))[:, None]
    a, b, c = np.fft.irfft(np.fft.rfft(rng.standard_normal((n, 3)), axis=0) * shape, n, axis=0).T
    x = np.stack([a + 0.4 * b, a + 0.4 * c], axis=1)
    fade = np.minimum(1, np.minimum(np.arange(n), np.arange(n)[::-1]) / (0.3 * RATE))
    result: np.ndarray = x / np.abs(x).max() * 0.6 * (np.sin(fade * np.pi / 2) ** 2)[:, None]
    return result


def bands_text(ids: str, may_move: str = "") -> str:
    """Bands of the reel, in any order."""
    starts = dict(zip(BANDS, np.cumsum([0.0, *(length for length, _ in BANDS.values())]).tolist()))
    return "".join(
        f'\n[[band]]\nid = "{one}"\nname = "Weather {one}"\nfile = "reel.wav"\nstart = {starts[one]}\n'
        f"end = {starts[one] + BANDS[one][0]}\ngap_s = 0.5\n" + ("may_move = true\n" if one in may_move else "")
        for one in ids
    )


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a reel, disc formats so small that room decides, and titles."""
    folder = tmp_path_factory.mktemp("layout")
    reel = [coloured(seconds, 20 + i) * loud for i, (seconds, loud) in enumerate(BANDS.values())]
    soundfile.write(folder / "reel.wav", np.concatenate(reel), RATE, subtype="PCM_16")
    text = (Path(__file__).parents[2] / "src/discwright/data/formats.toml").read_text(encoding="utf-8")
    entry = text[text.index('["7in-45"]') : text.index('["7in-33"]')]
    for name, outermost_mm in (("small", "57.2"), ("tiny", "55.4"), ("wide", "61.0")):
        (folder / f"{name}.toml").write_text(entry.replace("84.15", outermost_mm), encoding="utf-8")
    (folder / "six.toml").write_text(HEAD + bands_text("abcdef") + MINI, encoding="utf-8")
    return folder


def command(folder: Path, *arguments: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "discwright", *map(str, arguments)],
        cwd=folder, capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip


def laid_out(folder: Path, title: str, *options: str) -> dict[str, Any]:
    """The only edition asked for."""
    done = command(folder, "layout", title, *options, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    (edition,) = json.loads(done.stdout)["editions"]
    return dict(edition)


@pytest.fixture(scope="module")
def six(shelf: Path) -> dict[str, Any]:
    return laid_out(shelf, "six.toml")


def fitted(title: Path, sides: set[tuple[str, ...]]) -> dict[tuple[str, ...], Plan]:
    """A real fit of each side, one after the other, with nothing foreseen from any other."""
    read = load_title(title)
    ranges = {band.id: find_range(band) for band in read.bands}
    setup = edition_setup(read.editions[0])
    plans = {}
    for side in sorted(sides):
        audio = SideAudio([ranges[one] for one in side])
        order = Order(
            setup=setup, band_starts=tuple(start for start, _ in audio.places),
            band_ends=tuple(end for _, end in audio.places),
        )  # fmt: skip
        plans[side] = plan_audio(audio, order).plan
    return plans


def every_split(orders: set[tuple[str, ...]], sides: int) -> set[tuple[tuple[str, ...], ...]]:
    return {
        tuple(order[a:b] for a, b in pairwise((0, *cut, len(order))))
        for order in orders
        for cut in combinations(range(1, len(order)), sides - 1)
    }


def check_against_all(found: dict[str, Any], plans: dict[tuple[str, ...], Plan], splits: set[Any]) -> None:
    """The best that was found is the best there is, and every level is that of a real fit of its own."""
    for candidate in found["candidates"]:
        split = tuple(tuple(side["bands"]) for side in candidate["sides"])
        assert split in splits
        for side in candidate["sides"]:
            plan = plans[tuple(side["bands"])]
            assert side["level_db"] == round(plan.level_db, 1)
            assert side["spare_mm"] == pytest.approx(plan.spare * 1e3, abs=2e-3)
            assert side["duration_s"] == pytest.approx(plan.programme.duration, abs=1e-3)
            assert side["ready"] is plan.ready
        assert candidate["weakest_level_db"] == min(side["level_db"] for side in candidate["sides"])
    weakest = sorted((min(round(plans[side].level_db, 1) for side in split) for split in splits), reverse=True)
    assert [one["weakest_level_db"] for one in found["candidates"]] == weakest[: len(found["candidates"])]


def test_the_shape_of_the_json(six: dict[str, Any]) -> None:
    assert {"id", "format", "candidates"} <= set(six)
    assert (six["id"], Path(six["format"]).name) == ("mini", "small.toml")
    assert len(six["candidates"]) == 3
    for candidate in six["candidates"]:
        assert {"sides", "weakest_level_db"} <= set(candidate)
        assert [side["letter"] for side in candidate["sides"]] == ["A", "B"]
        for side in candidate["sides"]:
            assert {"letter", "bands", "duration_s", "level_db", "spare_mm", "inner_worry"} <= set(side)
        assert [one for side in candidate["sides"] for one in side["bands"]] == list("abcdef")


def test_the_best_split_of_all(six: dict[str, Any], shelf: Path) -> None:
    """By another road: all five ways to cut six bands in two, every side really fitted."""
    splits = every_split({tuple("abcdef")}, 2)
    assert len(splits) == 5
    plans = fitted(shelf / "six.toml", {side for split in splits for side in split})
    check_against_all(six, plans, splits)
    # Room decides, or there would be nothing to choose.
    best = [plans[tuple(side["bands"])] for side in six["candidates"][0]["sides"]]
    assert all(0 <= plan.spare < 0.1e-3 for plan in best)
    assert six["candidates"][0]["weakest_level_db"] > six["candidates"][1]["weakest_level_db"] + 1.0


def test_a_band_that_may_move(shelf: Path) -> None:
    """By hand: as they stand, 9, 18 and 10 s leave 28 s on one side; with the first one moved, 19 s."""
    title = shelf / "moving.toml"
    title.write_text(HEAD + bands_text("abc", may_move="a") + MINI, encoding="utf-8")
    # By another road: every order in which only that band stands elsewhere.
    orders = {order for order in permutations("abc") if order.index("b") < order.index("c")}
    splits = every_split(orders, 2)
    found = laid_out(shelf, "moving.toml")
    check_against_all(found, fitted(title, {side for split in splits for side in split}), splits)
    best = [side["bands"] for side in found["candidates"][0]["sides"]]
    assert best in ([["b"], ["a", "c"]], [["b"], ["c", "a"]])


FIXED = """
[[edition.side]]
letter = "X"
bands = ["d", "a"]

[[edition.side]]
letter = "Y"
bands = ["c"]
"""


def test_fixed_sides_and_a_tape(shelf: Path) -> None:
    """Each edition as the file has it; what `plan` then finds for the same sides is the same."""
    title = shelf / "fixed.toml"
    title.write_text(
        HEAD + bands_text("acd") + MINI + FIXED + '\n[[edition]]\nid = "reel"\nformat = "tape"\n', encoding="utf-8"
    )
    done = command(shelf, "layout", "fixed.toml", "--json")
    assert done.returncode == 0
    disc, tape = json.loads(done.stdout)["editions"]
    assert (tape["id"], tape["format"], tape["candidates"]) == ("reel", "tape", [])
    assert tape["remarks"] == ["A tape has no groove: nothing to lay out."]
    (candidate,) = disc["candidates"]
    assert [(side["letter"], side["bands"]) for side in candidate["sides"]] == [("X", ["d", "a"]), ("Y", ["c"])]
    assert disc["remarks"] == ["The title file fixes the sides of this edition."]
    for side, report in zip(candidate["sides"], plan_title(title), strict=True):
        # by another road: the plan of the side
        assert side["level_db"] == round(report.plan.level_db, 1)
        assert side["spare_mm"] == pytest.approx(report.document["spare_mm"], abs=2e-3)
    assert laid_out(shelf, "fixed.toml", "--edition", "reel") == tape


def test_text_for_people(shelf: Path) -> None:
    """Wording: regression only."""
    title = shelf / "told.toml"
    title.write_text(
        HEAD + bands_text("c") + MINI + '[[edition.side]]\nletter = "A"\nbands = ["c"]\n'
        '\n[[edition]]\nid = "reel"\nformat = "tape"\n', encoding="utf-8",
    )  # fmt: skip
    done = command(shelf, "layout", "told.toml")
    assert (done.returncode, done.stderr) == (0, "")
    (report,) = plan_title(title)
    level_db, spare_mm = report.document["level_db"], report.document["spare_mm"]
    lines = done.stdout.splitlines()
    assert lines[:2] == ["Six Weathers, HL 12", ""]
    assert lines[2].startswith("mini: ")
    assert lines[2].endswith("small.toml, 200 copies, due 2031-04-18")
    assert lines[3] == f"  1. weakest side {level_db:+.1f} dB"
    assert lines[4].startswith(f"     A   0:10.0  {level_db:+.1f} dB  {spare_mm:5.1f} mm to spare  inner groove ")
    assert lines[4].endswith(" c")
    assert lines[5:] == [
        "  The title file fixes the sides of this edition.", "", "reel: tape",
        "  A tape has no groove: nothing to lay out.",
    ]  # fmt: skip


def test_a_plan_lays_out_what_the_file_leaves_open(shelf: Path) -> None:
    title = shelf / "open.toml"
    title.write_text(HEAD + bands_text("ace") + MINI, encoding="utf-8")
    best = laid_out(shelf, "open.toml")["candidates"][0]
    done = command(shelf, "plan", "open.toml", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    sides = json.loads(done.stdout)["sides"]
    for side, document in zip(best["sides"], sides, strict=True):
        assert document["title"]["side"] == side["letter"]
        assert [band["id"] for band in document["title"]["bands"]] == side["bands"]
        assert document["level_db"] == side["level_db"]
        assert document["spare_mm"] == pytest.approx(side["spare_mm"], abs=2e-3)


def test_more_discs_where_two_sides_are_too_few(shelf: Path) -> None:
    title = shelf / "loud.toml"
    title.write_text(HEAD + bands_text("abd") + MINI + "level = 21\n", encoding="utf-8")
    found = laid_out(shelf, "loud.toml")
    # By another road: no split on two sides reaches that level, and three sides do.
    two, three = every_split({tuple("abd")}, 2), every_split({tuple("abd")}, 3)
    plans = fitted(title, {side for split in two | three for side in split})
    assert max(min(plans[side].level_db for side in split) for split in two) < 21.0
    check_against_all(found, plans, three)
    assert found["candidates"][0]["weakest_level_db"] >= 21.0
    assert found["remarks"][0].startswith("This edition needs 2 discs, 3 sides")


def test_a_work_too_long_for_a_side_is_broken_where_it_is_quiet(shelf: Path) -> None:
    """By hand: 64 s at 45 turns a minute are 48 turns; 40 µm each are 1.92 mm, and the disc has 1.43."""
    x = np.concatenate([coloured(30, 51), np.zeros((2 * RATE, 2)), coloured(32, 52)]) * 0.2
    soundfile.write(shelf / "work.wav", x, RATE, subtype="PCM_16")
    title = shelf / "work.toml"
    title.write_text(
        HEAD
        + '\n[[band]]\nid = "work"\nname = "The Long Ebb"\nfile = "work.wav"\n'
        + '\n[[edition]]\nid = "tiny"\nformat = "tiny.toml"\nlevel = -12\n'
        + '\n[[edition]]\nid = "lp"\nformat = "12in-33"\n',
        encoding="utf-8",
    )
    done = command(shelf, "layout", "work.toml", "--edition", "tiny", "--json")
    assert (done.returncode, done.stderr) == (1, "")
    (found,) = json.loads(done.stdout)["editions"]
    assert found["candidates"] == []
    (place,) = found["breaks"]
    assert place["band"] == "work"
    assert 30.0 <= place["time_s"] <= 32.0  # by hand: the two seconds of nothing
    assert place["level_dbfs"] <= -80.0
    assert found["remarks"] == [
        f"“The Long Ebb” does not fit one side at -12.0 dB: break it at 0:{place['time_s']:.1f} "
        f"({place['level_dbfs']:.0f} dBFS), its quietest places."
    ]
    # What cannot be laid out cannot be planned, and says so in one sentence.
    plan = command(shelf, "plan", "work.toml", "--edition", "tiny")
    assert (plan.returncode, plan.stdout) == (2, "")
    assert plan.stderr == (
        f"discwright: edition “tiny” cannot be laid out as it is: {found['remarks'][0]} `discwright layout` says more; "
        "mend the title file.\n"
    )


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        ([], "there is no title to lay out; name its file, or write one with --new FILE."),
        (["six.toml", "--edition", "maxi"], "there is no edition “maxi”; the title has mini."),
        (["none.toml"], "none.toml: there is no such title file; `discwright layout --new FILE` writes one."),
        (["reel.wav"], "reel.wav: cannot be read as text (it is not UTF-8); check the file."),
    ],
)
def test_wrong_calls(options: list[str], sentence: str, shelf: Path) -> None:
    """Wording: regression only."""
    before = sorted(shelf.rglob("*"))
    done = command(shelf, "layout", *options)
    assert (done.returncode, done.stdout, done.stderr) == (2, "", f"discwright: {sentence}\n")
    assert sorted(shelf.rglob("*")) == before


# What is left when it is ended -------------------------------------------------------------------------


def family(group: int) -> list[str]:
    """Command lines of every process that still runs in a process group."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                fields = (entry / "stat").read_text().rpartition(")")[2].split()
                if int(fields[2]) == group and fields[0] != "Z":
                    found.append((entry / "cmdline").read_text())
            except OSError:  # it ended while we looked
                continue
    return found


def wait_for(condition: Any, within_s: float) -> bool:
    until = time.monotonic() + within_s
    while not condition() and time.monotonic() < until:
        time.sleep(0.02)
    return bool(condition())


def workers(group: int) -> int:
    return sum("multiprocessing.spawn" in line for line in family(group))


@pytest.mark.parametrize("moment", ["a worker begins", "fitting", "later"])
@pytest.mark.parametrize("verb", ["layout", "plan"])
def test_interrupt_leaves_nothing(verb: str, moment: str, shelf: Path, tmp_path: Path) -> None:
    """As from a keyboard: to the workers and their decoders too."""
    master, slave = pty.openpty()
    options = ("--out", str(tmp_path / "deep" / "out")) if verb == "plan" else ()
    process = subprocess.Popen(
        [sys.executable, "-m", "discwright", verb, str(shelf / "six.toml"), *options],
        cwd=tmp_path, stdout=subprocess.PIPE, stderr=slave, start_new_session=True,
        env=os.environ | {"TERM": "xterm", "COLUMNS": "100"},
    )  # fmt: skip
    os.close(slave)
    try:
        assert wait_for(lambda: workers(process.pid) >= 1, 30.0)
        time.sleep({"a worker begins": 0.0, "fitting": 0.3, "later": 1.5}[moment])
        began = time.monotonic()
        os.killpg(process.pid, signal.SIGINT)
        said = b""
        try:
            while piece := os.read(master, 1 << 16):
                said += piece
        except OSError:  # how Linux tells that nobody is at the other end
            pass
        out, _ = process.communicate(timeout=20)
    finally:
        os.close(master)
    assert (process.returncode, out) == (130, b"")
    assert time.monotonic() - began < 3.0
    assert b"Traceback" not in said
    assert said.decode().splitlines()[-1].endswith("discwright: stopped; nothing unfinished was kept.")
    assert wait_for(lambda: not family(process.pid), 3.0)
    assert list(tmp_path.iterdir()) == []


def test_workers_end_with_the_one_who_asked(shelf: Path, tmp_path: Path) -> None:
    """However that one ends: here it has no time to say goodbye."""
    process = subprocess.Popen(
        [sys.executable, "-m", "discwright", "layout", str(shelf / "six.toml")],
        cwd=tmp_path, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, start_new_session=True,
    )  # fmt: skip
    assert process.stderr is not None
    try:
        assert wait_for(lambda: workers(process.pid) == 2, 30.0)
        time.sleep(0.5)
        process.kill()
        process.wait(timeout=10)
        assert wait_for(lambda: not family(process.pid), 5.0)
    finally:
        with suppress(ProcessLookupError):  # as it should be
            os.killpg(process.pid, signal.SIGKILL)
    with process.stderr:
        assert b"Traceback" not in process.stderr.read()
    assert list(tmp_path.iterdir()) == []


def test_a_worker_that_is_ended_is_a_sentence(shelf: Path, tmp_path: Path) -> None:
    """As by a system that is short of memory."""
    process = subprocess.Popen(
        [sys.executable, "-m", "discwright", "layout", str(shelf / "six.toml")],
        cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True, text=True,
    )  # fmt: skip
    assert wait_for(lambda: workers(process.pid) == 2, 30.0)
    time.sleep(0.8)
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                fields = (entry / "stat").read_text().rpartition(")")[2].split()
                if int(fields[2]) == process.pid and "multiprocessing.spawn" in (entry / "cmdline").read_text():
                    os.kill(int(entry.name), signal.SIGKILL)
                    break
            except OSError:
                continue
    out, err = process.communicate(timeout=30)
    assert (process.returncode, out) == (2, "")
    assert err == (
        "discwright: fitting a side was ended from outside, perhaps for want of memory; close other programs and lay "
        "the title out again.\n"
    )
    assert wait_for(lambda: not family(process.pid), 3.0)
