"""A plan on disk: exact text, what the fingerprint hangs on, and a folder that is whole or not there."""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from discwright.acts.plan import PlanReport, plan_file
from discwright.errors import CallError
from discwright.files import plans
from discwright.files.plans import (
    COLUMNS,
    PICTURE,
    PLAN,
    SPIRAL,
    Source,
    check_folder,
    fingerprint,
    new_folder,
    plan_as_dict,
    plan_json,
    spiral_csv,
)
from discwright.groove.table import SpiralRows
from discwright.units import INCH

NAMES = (SPIRAL, PLAN, PICTURE)
SOURCE = Source("side.wav", "0" * 64)


@pytest.fixture(scope="module")
def report(side: Path) -> PlanReport:
    return plan_file(side, level_db=2.0)


# spiral.csv -------------------------------------------------------------------------------------------


def rows_of(**columns: list[float]) -> SpiralRows:
    """Three rows by hand: a tenth of a turn before the music, its first sample, the locked groove."""
    given: dict[str, Any] = {
        "time": [-0.18, 0.0, 1.8],
        "turn": [-0.1, 0.0, 1.0],
        "radius": [0.1463, 0.1462, 0.0532],
        "pitch": [1e-4, 40e-6, 0.0],
        "depth": [12.5e-6, 30.12346e-6, 12.5e-6],
        "land": [float("nan"), 8e-6, float("nan")],
    }
    arrays = {name: np.array(values) for name, values in (given | columns).items()}
    return SpiralRows(zone=np.array(["fine", "music", "stop"]), **arrays)


def test_every_digit_of_the_spiral() -> None:
    # by hand: speeds are 2πr/1.8 s, for example 2π·146.3/1.8 = 510.6833 mm/s
    assert spiral_csv(rows_of(), 1.8) == (
        f"{COLUMNS}\n"
        "-0.180000000,-0.100000000,fine,146.300000,100.0000,12.5000,,510.6833\n"
        "0.000000000,0.000000000,music,146.200000,40.0000,30.1235,8.0000,510.3343\n"
        "1.800000000,1.000000000,stop,53.200000,0.0000,12.5000,,185.7030\n"
    )


def test_what_rounds_to_nothing_has_no_sign() -> None:
    text = spiral_csv(rows_of(time=[-0.1, -1e-12, 1.0], turn=[-0.1, -1e-12, 1.0], pitch=[1e-4, 4e-5, -1e-13]), 1.8)
    assert not {"-0.000000000", "-0.0000"} & set(text.replace("\n", ",").split(","))


def test_a_real_spiral_never_turns_outward_and_ends_in_the_locked_groove(report: PlanReport) -> None:
    cells = [line.split(",") for line in report.csv.splitlines()[1:]]
    radius = np.array([float(row[3]) for row in cells])
    assert (np.diff(radius) <= 0).all()
    assert cells[-1][2] == "stop"
    # published: IEC 60098:1987, locked groove of diameter 106.4 mm
    assert radius[-1] == 53.2
    assert all(row[6] == "" or float(row[6]) > 0 for row in cells)


# plan.json --------------------------------------------------------------------------------------------


def test_the_numbers_hang_together(report: PlanReport) -> None:
    document = report.document
    assert document["spiral_sha256"] == hashlib.sha256(report.csv.encode()).hexdigest()
    # by hand: 25 s at 33⅓ turns a minute
    assert document["turns"] == pytest.approx(25 / 1.8, abs=1e-6)
    used = document["start_radius_mm"] - document["end_radius_mm"]
    assert document["radius_used_mm"] == pytest.approx(used, abs=2e-6)
    assert document["mean_pitch_um"] == pytest.approx(used * 1000 / document["turns"], abs=1e-3)
    assert document["mean_lines_per_inch"] == pytest.approx(INCH * 1e6 / document["mean_pitch_um"], abs=2e-3)
    assert document["spare_mm"] == pytest.approx(document["end_radius_mm"] - 60.325, abs=2e-6)  # published: RIAA
    assert document["min_depth_um"] >= 12.5 - 5e-3  # the shipped practice
    assert document["exact"] is None


def test_json_says_the_same_when_read_back(report: PlanReport) -> None:
    assert json.loads(report.json) == report.document
    assert report.json.endswith("}\n")
    assert list(json.loads(report.json)) == list(report.document)


def test_json_holds_no_number_that_is_none(report: PlanReport) -> None:
    with pytest.raises(ValueError, match="JSON compliant"):
        plan_json(report.document | {"spare_mm": float("nan")})


def test_the_whole_solution_is_told_with_its_gap(report: PlanReport) -> None:
    plan = replace(report.plan, exact_radius_used=report.plan.radius_used / 1.01)
    # by hand: one per cent above
    assert plan_as_dict(plan, SOURCE, report.csv)["exact"]["gap_percent"] == pytest.approx(1.0, abs=1e-5)


def test_a_file_name_that_is_no_utf_8_survives(report: PlanReport) -> None:
    name = os.fsdecode(b"side\xff.wav")
    text = plan_json(plan_as_dict(report.plan, Source(name, "0" * 64), report.csv))
    assert json.loads(text.encode("utf-8"))["programme"]["path"] == name


# fingerprint ------------------------------------------------------------------------------------------


def test_the_fingerprint_hangs_on_every_setting(report: PlanReport) -> None:
    """A changed default in `data/` must never pass for the old one."""
    plan, setup = report.plan, report.plan.setup
    found = {"as it is": fingerprint(plan, SOURCE)}
    for part in fields(setup):
        entry = getattr(setup, part.name)
        for f in fields(entry):
            value = getattr(entry, f.name)
            other = f"{value}s" if isinstance(value, str) else value + 2 if f.type == "int" else (value or 1.0) * 1.001
            if f.name != "name":
                changed = replace(setup, **{part.name: replace(entry, **{f.name: other})})
                found[f"{part.name} {f.name}"] = fingerprint(replace(plan, setup=changed), SOURCE)
    assert len(found) > 30
    assert len(set(found.values())) == len(found), "two of these have one fingerprint"


def test_the_fingerprint_hangs_on_audio_level_bands_and_versions(
    report: PlanReport, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = report.plan
    one = fingerprint(plan, SOURCE)
    assert len(one) == 64
    others = [
        fingerprint(plan, replace(SOURCE, sha256="1" * 64)),
        fingerprint(replace(plan, level_db=2.1), SOURCE),
        fingerprint(replace(plan, bands=((0.0, 24.0),)), SOURCE),
    ]
    monkeypatch.setattr(plans, "__version__", "99.0")
    others.append(fingerprint(plan, SOURCE))
    monkeypatch.setattr(plans, "version", lambda _name: "99.0")
    others.append(fingerprint(plan, SOURCE))
    assert len({one, *others}) == 6


def test_minus_nothing_is_nothing(report: PlanReport) -> None:
    plus, minus = (replace(report.plan, level_db=level_db) for level_db in (0.0, -0.0))
    assert fingerprint(plus, SOURCE) == fingerprint(minus, SOURCE)
    assert str(plan_as_dict(minus, SOURCE, report.csv)["level_db"]) == "0.0"


def test_the_fingerprint_does_not_hang_on_path_or_result(report: PlanReport) -> None:
    one = fingerprint(report.plan, SOURCE)
    assert fingerprint(report.plan, replace(SOURCE, path="/elsewhere/b.wav")) == one
    assert fingerprint(replace(report.plan, findings=(), exact_radius_used=0.01), SOURCE) == one


# the folder -------------------------------------------------------------------------------------------


def write(part: Path, word: str) -> None:
    for name in NAMES:
        (part / name).write_text(word)


def held(folder: Path) -> dict[str, str]:
    return {p.relative_to(folder).as_posix(): p.read_text() for p in folder.rglob("*") if p.is_file()}


def old_plan(out: Path) -> dict[str, str]:
    """A plan with notes and a subfolder that somebody added later."""
    out.mkdir()
    write(out, "old")
    (out / "notes.txt").write_text("bright at the end")
    (out / "photos").mkdir()
    (out / "photos" / "groove.txt").write_text("under the microscope")
    return held(out)


def test_a_new_folder_appears_whole_and_readable(tmp_path: Path) -> None:
    out = tmp_path / "a" / "b"
    before = os.umask(0o027)
    try:
        with new_folder(out) as part:
            write(part, "new")
            assert not out.exists(), "nothing is seen before all is written"
    finally:
        os.umask(before)
    assert held(tmp_path) == {f"a/b/{name}": "new" for name in NAMES}
    assert out.stat().st_mode & 0o777 == 0o750
    assert [p.name for p in out.parent.iterdir()] == ["b"]


def test_a_new_plan_exchanges_its_own_files_only(tmp_path: Path) -> None:
    out = tmp_path / "out"
    before = old_plan(out)
    out.chmod(0o700)
    inode = out.stat().st_ino
    with new_folder(out) as part:
        write(part, "new")
        assert {name: text for name, text in held(out).items() if ".part-" not in name} == before
    assert held(out) == before | dict.fromkeys(NAMES, "new")
    assert (out.stat().st_ino, out.stat().st_mode & 0o777) == (inode, 0o700), "it is still the user's folder"
    assert list(tmp_path.iterdir()) == [out]


def test_here_and_through_a_link(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The folder one stands in may hold other people's files too; a link stays a link."""
    out = tmp_path / "out"
    before = old_plan(out)
    link = tmp_path / "link"
    link.symlink_to(out)
    with new_folder(link) as part:
        write(part, "linked")
    assert link.is_symlink()
    assert held(out) == before | dict.fromkeys(NAMES, "linked")
    monkeypatch.chdir(out)
    with new_folder(Path()) as part:
        write(part, "here")
    assert held(out) == before | dict.fromkeys(NAMES, "here")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["link", "out"]


@pytest.mark.parametrize("trouble", [RuntimeError, KeyboardInterrupt])
@pytest.mark.parametrize("kind", ["none", "empty", "old"])
def test_a_failure_while_writing_leaves_things_as_they_were(
    kind: str, trouble: type[BaseException], tmp_path: Path
) -> None:
    out = tmp_path / "out"
    if kind == "empty":
        out.mkdir()
    before = old_plan(out) if kind == "old" else {}

    def half() -> None:
        with new_folder(out) as part:
            (part / SPIRAL).write_text("half")
            raise trouble

    with pytest.raises(trouble):
        half()
    assert held(tmp_path) == {f"out/{name}": text for name, text in before.items()}
    assert out.exists() == (kind != "none")
    assert [p.name for p in tmp_path.rglob(".*")] == []


def test_a_failure_takes_the_folders_on_the_way_along(tmp_path: Path) -> None:
    """Those that were made for the plan, and no other."""
    mine = tmp_path / "mine"
    mine.mkdir()

    def half() -> None:
        with new_folder(mine / "a" / "b" / "out") as part:
            write(part, "new")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        half()
    assert list(tmp_path.rglob("*")) == [mine]


@pytest.mark.parametrize("trouble", [OSError(28, "No space left on device"), KeyboardInterrupt()])
@pytest.mark.parametrize("good_moves", range(6))
@pytest.mark.parametrize("kind", ["empty", "old"])
def test_a_failure_between_two_files_brings_the_old_ones_back(
    kind: str, good_moves: int, trouble: BaseException, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three files go out and three come in; whichever move fails, the folder is as it was."""
    out = tmp_path / "out"
    if kind == "empty":
        out.mkdir()
        good_moves //= 2  # there is nothing to move out of the way
    before = old_plan(out) if kind == "old" else {}
    rename, moves = Path.rename, 0

    def failing(self: Path, target: Path) -> Path:
        nonlocal moves
        moves += 1
        if moves == good_moves + 1:
            raise trouble
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", failing)

    def go() -> None:
        with new_folder(out) as part:
            write(part, "new")

    with pytest.raises((CallError, KeyboardInterrupt)):
        go()
    assert moves == good_moves + 1, "the failure came where it was meant to"
    assert held(out) == before
    assert [p.name for p in tmp_path.rglob(".*")] == []


def test_a_full_disk_is_a_sentence(tmp_path: Path) -> None:
    def full() -> None:
        with new_folder(tmp_path / "out"):
            raise OSError(28, "No space left on device")

    with pytest.raises(CallError, match=r"out: could not be written \(No space left on device\); check the disk\.$"):
        full()


def test_places_that_cannot_hold_a_plan(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file, foreign, link = tmp_path / "file", tmp_path / "foreign", tmp_path / "link"
    file.write_text("mine")
    foreign.mkdir()
    (foreign / "letter.txt").write_text("mine")
    link.symlink_to(tmp_path / "nowhere")
    long = tmp_path / ("a" * 300)
    refusals = {
        file: f"{file}: is a file, and a plan needs a folder; choose another name.",
        link: f"{link}: is a file, and a plan needs a folder; choose another name.",
        foreign: f"{foreign}: holds files but no plan; choose an empty or a new folder.",
        file / "x" / "y": f"{file / 'x' / 'y'}: cannot be written (Not a directory); choose another folder.",
        long: f"{long}: cannot be written (File name too long); choose another folder.",
    }
    for place, sentence in refusals.items():
        with pytest.raises(CallError) as refusal:
            check_folder(place)
        assert str(refusal.value) == sentence
    check_folder(tmp_path / "new" / "one")
    monkeypatch.setattr(os, "access", lambda *_: False)
    with pytest.raises(CallError, match=r"new: cannot be written \(Permission denied\); choose another folder\.$"):
        check_folder(tmp_path / "new")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["file", "foreign", "link"]
