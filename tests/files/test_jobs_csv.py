"""Files of jobs and of what happened: whole or not at all, every fault with its line. Everything is *by hand*."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from discwright.errors import CallError
from discwright.files.jobs_csv import HEADS, read_done, read_jobs
from discwright.works.hall import Job
from discwright.works.hall_restart import Told

HEAD = ",".join(HEADS)


def jobs(tmp_path: Path, text: str | bytes, encoding: str | None = None) -> object:
    file = tmp_path / "JOBS.csv"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_jobs(file, UTC, 1000, encoding)


def test_a_line_with_everything(tmp_path: Path) -> None:
    line = (
        "J1,NL-1/lp,12in-33,Red,2500,2031-04-10,2.5,2031-04-08T06:00,side A: a verdict,heavy; splatter,30.5,800,P3,120"
    )
    read = jobs(tmp_path, f"{HEAD}\n{line}\n")
    assert read.jobs == (  # type: ignore[attr-defined]
        Job(
            "J1", "NL-1/lp", "12in", "red", 2500, datetime(2031, 4, 11, tzinfo=UTC), 2.5,
            datetime(2031, 4, 8, 6, tzinfo=UTC), "side A: a verdict", frozenset({"heavy", "splatter"}), 800, 30.5,
            "P3", 120, False, 2,
        ),
    )  # fmt: skip
    assert not read.refused  # type: ignore[attr-defined]


def test_what_may_lack_has_its_usual_value(tmp_path: Path) -> None:
    read = jobs(tmp_path, "job,edition,format,colour,count\nJ1,E,7in,,10\n")
    (one,) = read.jobs  # type: ignore[attr-defined]
    assert (one.colour, one.due, one.weight, one.ready, one.stamper_life, one.cycle_s) == (
        "black", None, 1.0, None, 1000, 0.0,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("cells", "code", "column"),
    [
        ("J1,E,12in,black,12x,,,,,,,,,", "wrong_count", "count"),
        ("J1,E,12in,black,-5,,,,,,,,,", "wrong_count", "count"),
        ("J1,E,12in,black,,,,,,,,,,", "wrong_count", "count"),
        ("J1,E,9in,black,5,,,,,,,,,", "wrong_format", "format"),
        ("J1,E,12in,black,5,10.4.2031,,,,,,,,", "wrong_date", "due"),
        ("J1,E,12in,black,5,,0,,,,,,,", "wrong_number", "weight"),
        ("J1,E,12in,black,5,,much,,,,,,,", "wrong_number", "weight"),
        ("J1,E,12in,black,5,,,soon,,,,,,", "wrong_date", "ready"),
        ("J1,E,12in,black,5,,,,,,9999,,,", "wrong_number", "cycle_s"),
        ("J1,E,12in,black,5,,,,,,,0.5,,", "wrong_number", "stamper_life"),
        (",E,12in,black,5,,,,,,,,,", "missing_word", "job"),
        ("J1,,12in,black,5,,,,,,,,,", "missing_word", "edition"),
        ("J1,=cmd|' /C calc'!A0,12in,black,5,,,,,,,,,", "formula", "edition"),
        ("J1,@SUM(A1),12in,black,5,,,,,,,,,", "formula", "edition"),
        ("J1,E\u202e,12in,black,5,,,,,,,,,", "turned_text", "edition"),
        ("J1,E\x07,12in,black,5,,,,,,,,,", "control_character", "edition"),
        ("J1,E\ufffd,12in,black,5,,,,,,,,,", "lost_letters", ""),
        (f"J1,{'x' * 61},12in,black,5,,,,,,,,,", "too_long", "edition"),
        ("J1,E,12in", "cells", ""),
    ],
)
def test_a_wrong_line_refuses_the_whole_file(tmp_path: Path, cells: str, code: str, column: str) -> None:
    good = "J0,E,12in,black,5,,,,,,,,,"
    read = jobs(tmp_path, f"{HEAD}\n{good}\n{cells}\n")
    stops = [one for one in read.findings if one.severity == "stop"]  # type: ignore[attr-defined]
    assert (read.jobs, read.refused) == ((), True)  # type: ignore[attr-defined]
    assert (stops[0].line, stops[0].code, stops[0].column) == (3, code, column)


def test_all_faults_are_told_with_their_lines(tmp_path: Path) -> None:
    read = jobs(tmp_path, f"{HEAD}\nJ1,E,12in,black,x,,,,,,,,,\nJ1,E,8in,black,5,y,,,,,,,,\n")
    told = [(one.line, one.code) for one in read.findings]  # type: ignore[attr-defined]
    assert told == [(2, "wrong_count"), (3, "wrong_format"), (3, "wrong_date"), (3, "twice")]


def test_decimal_commas_and_semicolons(tmp_path: Path) -> None:
    read = jobs(tmp_path, "job;edition;format;colour;count;weight\nJ1;E;12in;black;5;2,5\n")
    assert read.jobs[0].weight == 2.5  # type: ignore[attr-defined]


def test_odd_encodings(tmp_path: Path) -> None:
    text = "job,edition,format,colour,count\nJ1,Größe,12in,weiß,5\n"
    for raw in (text.encode("utf-8-sig"), text.encode("utf-16")):
        assert jobs(tmp_path, raw).jobs[0].colour == "weiß"  # type: ignore[attr-defined]
    assert jobs(tmp_path, text.encode("cp1252"), "windows-1252").jobs[0].edition == "Größe"  # type: ignore[attr-defined]
    with pytest.raises(CallError, match=r"line 2 holds a byte \(0xF6\) that is no UTF-8"):
        jobs(tmp_path, text.encode("cp1252"))


@pytest.mark.parametrize(
    ("text", "code"), [("job,edition,format,colour\nJ1,E,12in,black\n", "head"), (HEAD + "\n", "no_lines")]
)
def test_no_jobs(tmp_path: Path, text: str, code: str) -> None:
    read = jobs(tmp_path, text)
    assert read.refused  # type: ignore[attr-defined]
    assert [one.code for one in read.findings] == [code]  # type: ignore[attr-defined]


def test_files_that_are_none(tmp_path: Path) -> None:
    with pytest.raises(CallError, match="there is no such file"):
        read_jobs(tmp_path / "none.csv", UTC, 1000)
    with pytest.raises(CallError, match="is a workbook and no CSV"):
        jobs(tmp_path, b"PK\x03\x04 something")


def test_what_happened(tmp_path: Path) -> None:
    file = tmp_path / "DONE.csv"
    file.write_text("job,made,press,state,at\nJ1,120,P1,ON,2031-04-08T09:00\nJ2,0,,,\n", encoding="utf-8")
    assert read_done(file, UTC, {"J1", "J2"}).told == (
        Told("J1", 120, "P1", "on", datetime(2031, 4, 8, 9, tzinfo=UTC), 2),
        Told("J2", 0, "", "", None, 3),
    )


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("J9,5,,,", "unknown_job"),
        ("J1,x,,,", "wrong_count"),
        ("J1,5,,gone,", "wrong_state"),
        ("J1,5,,,today", "wrong_date"),
    ],
)
def test_wrong_lines_of_what_happened(tmp_path: Path, line: str, code: str) -> None:
    file = tmp_path / "DONE.csv"
    file.write_text(f"job,made,press,state,at\nJ1,1,,,\n{line}\n", encoding="utf-8")
    read = read_done(file, UTC, {"J1"})
    assert (read.told, read.refused) == ((), True)
    assert [(one.line, one.code) for one in read.findings] == [(3, code)]
