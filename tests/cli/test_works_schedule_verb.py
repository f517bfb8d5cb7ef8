"""`works schedule` through Typer: the few lines for a person, the JSON, exit codes, one sentence for a wrong call."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from discwright.cli.works_verbs import works
from discwright.errors import DiscwrightError

HALL = '[[press]]\nname = "P1"\nsizes = ["12in"]\non_edition = "NL-1/lp"\non_size = "12in"\non_colour = "black"\n'
JOBS = (
    "job,edition,format,colour,count,due\nJ1,NL-1/lp,12in-33,black,510,2031-04-07T10:15\n"
    "J2,NL-2/lp,12in,black,340,2031-04-08\n"
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "HALL.toml").write_text(HALL, encoding="utf-8")
    (tmp_path / "JOBS.csv").write_text(JOBS, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def call(*words: str) -> Result:
    result = CliRunner().invoke(works, ["schedule", *words])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


FILES = ("--hall", "HALL.toml", "--jobs", "JOBS.csv", "--now", "2031-04-07T06:00")


def test_for_a_person(folder: Path) -> None:
    """By hand: 510 · 25 s / 0.85 = 250 min without a change; 40 for stampers; 340 · 25 / 0.85 / 60 = 166.7."""
    result = call(*FILES, "--seconds", "0")
    assert result.exit_code == 0
    assert result.stdout == (
        "Hall      1 presses, 2 jobs from 2031-04-07 06:00 UTC, done 2031-04-07 13:37, 0.7 h of changes\n"
        "P1        04-07 06:00 to 04-07 10:10  J1: 510 of NL-1/lp, 12in black  due 04-07 10:15\n"
        "P1        04-07 10:50 to 04-07 13:37  J2: 340 of NL-2/lp, 12in black  due 04-09 00:00\n"
        "No findings: every job in time.\n"
    )


def test_a_late_job_is_a_stop(folder: Path) -> None:
    (folder / "JOBS.csv").write_text(JOBS.replace("T10:15", "T09:10"), encoding="utf-8")
    result = call(*FILES, "--seconds", "0,2", "--chart", "c.svg", "--keep", "k.json")
    assert result.exit_code == 1
    assert "LATE" in result.stdout
    assert "no plan has less than 1.0, so at most 0 % of it could be saved" in result.stdout
    assert "J1 on press P1 is 1 h late. Its 510 pressings take longer than there is time on any press" in result.stdout
    assert "chart     c.svg" in result.stdout
    assert result.stdout.endswith("not all can be promised: agree on new days, or change the hall.\n")
    assert (folder / "c.svg").is_file()


def test_json_is_what_is_kept(folder: Path) -> None:
    told = json.loads(call(*FILES, "--json", "--keep", "k.json", "--seconds", "0").stdout)
    kept = json.loads((folder / "k.json").read_text(encoding="utf-8"))
    assert {key: value for key, value in told.items() if key not in ("kept", "chart")} == kept
    assert told["kept"] == "k.json"
    assert [one["job"] for one in told["schedule"]] == ["J1", "J2"]


def test_planned_again(folder: Path) -> None:
    call(*FILES, "--keep", "k.json", "--seconds", "0")
    (folder / "DONE.csv").write_text("job,made,press\nJ1,255,P1\n", encoding="utf-8")
    result = call("--from", "k.json", "--done", "DONE.csv", "--now", "2031-04-07T08:05", "--json", "--seconds", "0")
    (first, _) = json.loads(result.stdout)["schedule"]
    assert (first["job"], first["count"], first["end_at"]) == ("J1", 255, "2031-04-07T10:10+00:00")


def test_wrong_lines_are_one_sentence_each(folder: Path) -> None:
    (folder / "JOBS.csv").write_text(JOBS + "J3,=1+1,12in,black,0,\n", encoding="utf-8")
    result = call(*FILES)
    assert result.exit_code == 2
    assert result.stderr.splitlines() == [
        "discwright: JOBS.csv, line 4, edition: begins like a formula of a spreadsheet; write it without the first "
        "character.",
        "discwright: JOBS.csv, line 4, count: is too few; give 1 at least.",
        "discwright: 2 faults; nothing was planned.",
    ]
    told = json.loads(call(*FILES, "--json").stdout)
    assert (told["ready"], told["schedule"], len(told["line_findings"]), told["more_findings"]) == (False, [], 2, 0)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ((), "a hall is needed; write hall.toml beside the ledger, or name one with --hall."),
        (FILES[2:], "a hall is needed; name HALL.toml with --hall, or a kept schedule with --from."),
        ((*FILES, "--go-by"), "--go-by and --settings are for jobs of the ledger; leave --jobs and --from away."),
        ((*FILES, "--seconds", "long"), "--seconds: “long” is not a number"),
        ((*FILES, "--keep", "JOBS.csv"), "is there already, and a schedule that was kept is not written over"),
        ((*FILES, "--encoding", "klingon"), "there is no encoding “klingon”"),
        (("--from", "none.json"), "there is no such file; name the one that --keep wrote."),
    ],
)
def test_wrong_calls(folder: Path, words: tuple[str, ...], sentence: str) -> None:
    with pytest.raises(DiscwrightError) as refusal:
        call(*words)
    assert sentence in str(refusal.value)


def test_many_places_and_findings_are_cut_short(folder: Path) -> None:
    rows = "".join(f"K{k},NL-{k},12in,black,500,2031-04-06\n" for k in range(60))
    (folder / "JOBS.csv").write_text(JOBS + rows, encoding="utf-8")
    result = call(*FILES, "--seconds", "0")
    assert "and 22 more; --json prints them all, --chart draws them" in result.stdout
    assert len(result.stdout.splitlines()) < 75
