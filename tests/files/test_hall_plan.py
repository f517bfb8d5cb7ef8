"""A schedule kept and opened again: the same, whole, and never another's. Everything is *by hand*."""

from __future__ import annotations

import json
import os
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hall_cases import START, hall, job, works_press

from discwright.acts.hall import plan_jobs
from discwright.acts.hall_report import HallReport
from discwright.errors import CallError
from discwright.files.hall_plan import KIND, keep_hall, open_hall, result_sha256
from discwright.works.hall import Hall


@pytest.fixture
def report() -> HallReport:
    given = hall(works_press("P1", abilities=frozenset({"heavy"})), works_press("P2", free_from=START))
    vienna = Hall(given.presses, ZoneInfo("Europe/Vienna"), "Europe/Vienna")
    jobs = [
        job("a", 700, 900, 2.5, ready=START, colour="red", needs=frozenset({"heavy"})), job("b", 1500, None, made=20),
        job("c", 10, size="7in"),
    ]  # fmt: skip
    return plan_jobs(vienna, jobs, START, seconds=0.0)


def test_there_and_back(tmp_path: Path, report: HallReport) -> None:
    file = tmp_path / "kept.json"
    keep_hall(file, report.document())
    kept = open_hall(file)
    assert kept.document == report.document()
    assert kept.hall == report.hall
    assert kept.jobs == report.given
    assert kept.schedule == report.schedule
    assert [one.name for one in tmp_path.iterdir()] == ["kept.json"]


def test_it_holds_what_it_was_made_with(report: HallReport) -> None:
    document = report.document()
    assert (document["kind"], document["made_with"]["work_s"]) == (KIND, 0.0)
    assert document["made_with"]["start_at"] == "2031-04-07T08:00+02:00"
    assert document["made_with"]["solver"].startswith("ortools ")
    assert document["schedule_sha256"] == result_sha256(document["schedule"])
    assert json.loads(json.dumps(document)) == document


def test_the_hash_changes_with_the_schedule(report: HallReport) -> None:
    schedule = report.document()["schedule"]
    changed = [schedule[0] | {"press": "P9"}, *schedule[1:]]
    assert result_sha256(changed) != result_sha256(schedule)


def test_nothing_is_written_over(tmp_path: Path, report: HallReport) -> None:
    file = tmp_path / "kept.json"
    file.write_text("mine", encoding="utf-8")
    with pytest.raises(CallError, match="is there already, and a schedule that was kept is not written over"):
        keep_hall(file, report.document())
    assert file.read_text(encoding="utf-8") == "mine"
    with pytest.raises(CallError, match="there is no such folder; make it, or name another file"):
        keep_hall(tmp_path / "no" / "kept.json", report.document())


def test_a_write_that_fails_leaves_nothing(tmp_path: Path, report: HallReport, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_fd: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(CallError, match="cannot be written"):
        keep_hall(tmp_path / "kept.json", report.document())
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda d: d["schedule"][0].update(press="P2"), "was changed after it was kept; plan again from the jobs."),
        (lambda d: d.pop("schedule"), "is no whole schedule"),
        (lambda d: d["made_with"].pop("hall"), "is no whole schedule"),
        (lambda d: d["made_with"]["hall"].update(zone="Nowhere"), "is no whole schedule"),
        (lambda d: d["made_with"]["standing"].clear(), "is no whole schedule"),
        (lambda d: d.update(kind="plan"), "is no kept schedule; name the file that --keep wrote."),
    ],
)
def test_files_that_are_not_whole(tmp_path: Path, report: HallReport, change: object, words: str) -> None:
    document = report.document()
    change(document)  # type: ignore[operator]
    file = tmp_path / "kept.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(CallError) as refusal:
        open_hall(file)
    assert words in str(refusal.value)


@pytest.mark.parametrize("raw", [b"", b"[]", b"{", b"\xff\xfe", b"[" * 100_000])
def test_files_that_are_none(tmp_path: Path, raw: bytes) -> None:
    file = tmp_path / "kept.json"
    file.write_bytes(raw)
    with pytest.raises(CallError, match="is no kept schedule; name the file that --keep wrote"):
        open_hall(file)
    with pytest.raises(CallError, match="there is no such file"):
        open_hall(tmp_path / "none.json")
