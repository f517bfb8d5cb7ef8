"""The ledger through the command line: a title from the plan to the press, and everything typed wrongly."""

from __future__ import annotations

import io
import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest import mock

import pytest

from discwright.acts.plan import plan_file
from discwright.cli import main
from discwright.works.events import EVENTS

TITLE = """
[title]
name = "Tidemarks"
catalogue = "TM 7"

[[band]]
id = "one"
name = "One"
file = "side.wav"

[[edition]]
id = "lp"
format = "12in-33"
quantity = 500
due = "2026-12-24"

[[edition.side]]
letter = "A"
bands = ["one"]
"""

Result = subprocess.CompletedProcess[str]
Run = Callable[..., Result]


@pytest.fixture(scope="module")
def planned(side: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with audio, a title file and a kept plan."""
    folder = tmp_path_factory.mktemp("works")
    shutil.copy(side, folder / "side.wav")
    (folder / "title.toml").write_text(TITLE, encoding="utf-8")
    plan_file(folder / "side.wav", level_db=0.0, out=folder / "plan", only=())
    return folder


def run_in(folder: Path) -> Run:
    """The command line within this process: the same as in one of its own, and ten times as fast."""

    def run(*arguments: object, **environment: str) -> Result:
        argv = ["discwright", "works", *map(str, arguments)]
        out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8") for _ in range(2))
        before, handler = os.getcwd(), signal.getsignal(signal.SIGINT)
        os.chdir(folder)
        try:
            with (
                mock.patch.dict(os.environ, environment), mock.patch.object(sys, "argv", argv),
                mock.patch.object(sys, "stdout", out), mock.patch.object(sys, "stderr", err),
                pytest.raises(SystemExit) as left,
            ):  # fmt: skip
                main.run()
        finally:
            os.chdir(before)
            signal.signal(signal.SIGINT, handler)
        for stream in (out, err):
            stream.flush()
        texts = [stream.buffer.getvalue().decode() for stream in (out, err)]  # type: ignore[attr-defined]
        return subprocess.CompletedProcess(argv, int(left.value.code or 0), *texts)

    return run


@pytest.fixture
def works(planned: Path, tmp_path: Path) -> Run:
    """`discwright works …` in a folder with a ledger of its own."""
    folder = tmp_path / "works"
    shutil.copytree(planned, folder)
    run = run_in(folder)
    assert run("init").returncode == 0
    return run


def out(result: Result) -> Any:
    assert result.returncode == 0, result.stderr
    return json.loads(result.stdout)


def refused(result: Result, *words: str) -> None:
    """One sentence on standard error that says what to do, and exit code 2."""
    assert result.returncode == 2, result.stdout + result.stderr
    sentence = result.stderr.strip()
    assert sentence.count("\n") == 0
    assert sentence.startswith("discwright: ")
    assert sentence.endswith(".")
    assert "Traceback" not in sentence
    for word in words:
        assert word in sentence


def test_from_the_plan_to_the_press_and_back(works: Run, planned: Path) -> None:
    fingerprint = json.loads((planned / "plan" / "plan.json").read_text())["fingerprint"]
    taken = out(works("add", "title.toml", "--by", "Ann", "--json"))
    assert (taken["seq"], taken["title"], taken["kind"]) == (1, "TM 7", "title_taken_in")
    cut = ["cut", "plan", "--title", "TM 7", "--side", "A", "--lacquer", "B 77", "--by", "Ann"]
    lacquer = out(works(*cut, "--tip", "T3", "--tip-hours", "7,5", "--mark", "TM 7 LP-A", "--json"))["id"]
    master = works("grow", lacquer, "--kind", "master", "--by", "Bo").stdout.strip()
    bare = works("grow", master, "--kind", "mother", "--by", "Bo")
    assert (bare.returncode, bare.stdout) == (1, "")
    assert "passivated" in bare.stderr
    out(works("record", master, "passivated", "--by", "Bo", "--json"))
    mother = out(works("grow", master, "--kind", "mother", "--mark", "M1", "--by", "Bo", "--json"))["id"]
    out(works("record", mother, "passivated", "--by", "Bo", "--json"))
    stamper = out(works("grow", mother, "--kind", "stamper", "--mark", "S1", "--by", "Bo", "--json"))["id"]

    barred = works("record", stamper, "put_to_press", "--by", "Cy", "--json")
    assert barred.returncode == 1
    assert [one["code"] for one in json.loads(barred.stdout)["findings"]] == ["unapproved"]
    out(works("record", mother, "approved", "--by", "Ann", "--json"))
    out(works("record", stamper, "put_to_press", "--by", "Cy", "--json"))
    first = out(works("record", stamper, "taken_off", "--count", 480, "--key", "tap 9", "--by", "Cy", "--json"))
    again = out(works("record", stamper, "taken_off", "--count", 480, "--key", "tap 9", "--by", "Cy", "--json"))
    assert (again["seq"], again["repeated"], first["repeated"]) == (first["seq"], True, False)

    tree = out(works("tree", "TM 7", "--json"))
    parts = {part["id"]: part for part in tree["parts"]}
    assert list(parts) == [lacquer, master, mother, stamper]
    assert [part["sign"] for part in parts.values()] == ["+", "-", "+", "-"]
    assert [part["parent"] for part in parts.values()] == [None, lacquer, master, mother]
    assert parts[stamper]["marks"] == ["TM 7 LP-A", "M1", "S1"]
    assert parts[stamper]["pressings"] == 480
    assert [one["kind"] for one in parts[stamper]["events"]] == ["plated", "put_to_press", "taken_off"]
    assert {"seq", "at", "by", "kind"} <= set(parts[stamper]["events"][0])
    traced = out(works("trace", stamper.lower(), "--json"))
    assert traced["up"] == [mother, master, lacquer]
    assert traced["plan_fingerprint"] == fingerprint
    assert out(works("trace", lacquer, "--json"))["down"] == [master, mother, stamper]

    said = works("tree", stamper).stdout
    assert said.splitlines()[0] == "TM 7  Tidemarks"
    assert f"− {stamper}  stamper  taken off the press  480 of 1000 pressings" in said
    assert stamper in works("search", "s1").stdout + works("search", "tm7lpa").stdout + works("trace", master).stdout

    wrong = works("correct", 7, "--reason", "another mother", "--by", "Ann")
    assert wrong.returncode == 1
    assert "rests on line 7" in wrong.stderr
    out(works("correct", first["seq"], "--count", 48, "--reason", "one zero too many", "--by", "Cy", "--json"))
    assert {p["id"]: p for p in out(works("tree", "TM 7", "--json"))["parts"]}[stamper]["pressings"] == 48


def test_the_audio_is_held_against_the_plan(works: Run, planned: Path, tmp_path: Path) -> None:
    out(works("add", "title.toml", "--by", "Ann", "--json"))
    cut = ["cut", "plan", "--title", "TM 7", "--side", "A", "--lacquer", "B 77", "--by", "Ann"]
    audio = tmp_path / "works" / "side.wav"
    data = bytearray(audio.read_bytes())
    data[-1000] ^= 1
    plan = tmp_path / "works" / "plan" / "plan.json"
    document = json.loads(plan.read_text())
    document["programme"]["path"] = str(audio)  # this copy, not the one the plan was made from
    plan.write_text(json.dumps(document))
    audio.write_bytes(data)
    refused(works(*cut), "not what was planned", "plan the side again")
    audio.unlink()
    (planned / "away").mkdir(exist_ok=True)
    missing = works(*cut)
    assert missing.returncode == 0
    assert "the audio was not there" in missing.stderr


def test_every_event_is_listed_with_what_it_takes(planned: Path) -> None:
    listed = out(run_in(planned)("record", "--list", "--json"))
    assert set(listed) == set(EVENTS)
    assert {"field", "words", "needed", "units"} == set(listed["weighed"]["takes"][0])
    text = run_in(planned)("record", "--list").stdout
    assert [line for line in text.splitlines() if not line.startswith(" ")] == [
        kind for kind, event in EVENTS.items() if event.recordable
    ]


def test_what_is_typed_wrongly_is_told_in_a_sentence(works: Run) -> None:
    works("add", "title.toml", "--by", "Ann")
    lacquer = works("cut", "plan", "--title", "TM 7", "--side", "A", "--lacquer", "B", "--by", "Ann").stdout.strip()
    refused(works("init"), "is a ledger already")
    refused(works("add", "title.toml"), "was taken in on", "works tree")
    refused(works("add", "other.toml"), "other.toml")
    refused(works("cut", "plan", "--title", "TM 8", "--side", "A", "--lacquer", "B"), "no title of this ledger")
    refused(works("cut", "nowhere", "--title", "TM 7", "--side", "A", "--lacquer", "B"), "there is no plan")
    refused(works("cut", "plan", "--title", "TM 7", "--side", "A", "--lacquer", " "), "no batch")
    refused(works("cut", "plan", "--title", "TM 7", "--side", "A", "--lacquer", "B", "--edition", "x"), "no edition x")
    refused(works("grow", lacquer, "--kind", "moulder"), "nothing that is grown")
    refused(works("grow", "LA1-0", "--kind", "master"), "last digit")
    refused(works("grow", "LA99-9", "--kind", "master"), "LA99")
    refused(works("record", lacquer, "polished"), "is no event")
    refused(works("record", lacquer, "lacquer_cut"), "verb of its own")
    refused(works("record", lacquer), "--list")
    refused(works("record", lacquer, "weighed"), "needs the mass")
    refused(works("record", lacquer, "weighed", "--value", "1,234", "--unit", "g"), "could mean a thousand")
    refused(works("record", lacquer, "weighed", "--value", "12", "--unit", "stone"), "no unit")
    refused(works("record", lacquer, "weighed", "--value", "12"), "Give --unit")
    refused(works("record", lacquer, "silvered", "--count", "3"), "takes no")
    refused(works("record", lacquer, "silvered", "--with", "tank"), "FIELD=TEXT")
    refused(works("record", lacquer, "silvered", "--unit", "g"), "without a value")
    refused(works("record", lacquer, "silvered", "--by", "x" * 300), "by:")
    refused(works("tree", "TM 9"), "no title of this ledger")
    refused(works("trace", "hello"), "is no part's number")
    refused(works("correct", 99, "--reason", "x"), "there is no line 99")
    refused(works("correct", 2, "--reason", " "), "needs a reason")
    refused(works("tree", "TM 7", "--ledger", "mysql://x/y"), "is no kind of ledger")
    refused(works("tree", "TM 7", "--ledger", "elsewhere.sqlite"), "there is no ledger")


def test_a_key_stands_for_one_thing(works: Run) -> None:
    works("add", "title.toml", "--by", "Ann")
    cut = ["cut", "plan", "--title", "TM 7", "--side", "A", "--lacquer", "B", "--by", "Ann", "--key", "tap"]
    lacquer = works(*cut).stdout.strip()
    assert works(*cut).stdout.strip() == lacquer
    refused(works("record", lacquer, "silvered", "--key", "tap", "--by", "Ann"), "for something else")
    assert len(out(works("tree", "TM 7", "--json"))["parts"]) == 1


def test_limits_of_the_works_stand_beside_the_ledger(works: Run, tmp_path: Path) -> None:
    practice = tmp_path / "works" / "works.toml"
    practice.write_text("[limits]\npress_life = 0\n", encoding="utf-8")
    refused(works("add", "title.toml"), "press_life = 0", "works.toml")
    practice.write_text("[limits]\nnegatives_per_lacquer = { value = 2, source = 'our own' }\n", encoding="utf-8")
    works("add", "title.toml", "--by", "Ann")
    lacquer = works("cut", "plan", "--title", "TM 7", "--side", "A", "--lacquer", "B", "--by", "Ann").stdout.strip()
    for _ in range(2):
        assert works("grow", lacquer, "--kind", "master", "--by", "Bo").returncode == 0
    third = works("grow", lacquer, "--kind", "master", "--by", "Bo")
    assert (third.returncode, "has given 2 already" in third.stderr) == (1, True)
    assert works("grow", lacquer, "--kind", "master", "--by", "Bo", "--accept", "a spare").returncode == 0


def test_a_changed_title_file_counts_only_when_that_is_said(works: Run, tmp_path: Path) -> None:
    works("add", "title.toml", "--by", "Ann")
    file = tmp_path / "works" / "title.toml"
    file.write_text(TITLE.replace("quantity = 500", "quantity = 700"), encoding="utf-8")
    refused(works("add", "title.toml"), "read otherwise", "--revised")
    assert works("add", "title.toml", "--revised", "--by", "Ann").returncode == 0


def test_the_ledger_can_be_named_by_the_environment(works: Run, tmp_path: Path) -> None:
    elsewhere = tmp_path / "other.sqlite"
    assert works("init", DISCWRIGHT_LEDGER=f"sqlite:///{elsewhere}").returncode == 0
    assert elsewhere.is_file()


def test_verified_backed_up_and_brought_back(works: Run, tmp_path: Path) -> None:
    folder = tmp_path / "works"
    works("add", "title.toml", "--by", "Ann")
    works("cut", "plan", "--title", "TM 7", "--side", "A", "--lacquer", "B", "--by", "Ann")
    head = out(works("verify", "--json"))["head"]
    kept = out(works("backup", "kept.sqlite", "--json"))
    assert (kept["head"], kept["lines"]) == (head, 3)
    refused(works("backup", "kept.sqlite"), "kept.sqlite")
    assert "can be relied on" in works("restore", "kept.sqlite", "--drill").stdout
    assert out(works("restore", "kept.sqlite", "--ledger", "back.sqlite", "--json"))["head"] == head
    refused(works("restore", "kept.sqlite"), "works.sqlite: is a ledger already", "nothing is written over one")
    out(works("export", "all.jsonl", "--json"))
    out(works("import", "all.jsonl", "--ledger", "text.sqlite", "--json"))
    for address in ("back.sqlite", "text.sqlite"):
        assert works("verify", "--ledger", address, "--head", head).returncode == 0
    other = works("verify", "--head", head[::-1])
    assert other.returncode == 1
    words = [row["what"] for row in out(works("log", "--json"))["rows"]]
    assert words == ["exported", "restored", "backed_up"]  # newest first
    (folder / "broken.sqlite").write_bytes(b"no ledger" * 200)
    refused(works("restore", "broken.sqlite", "--ledger", "new.sqlite"), "broken.sqlite")
    refused(works("tree", "TM 7", "--ledger", "broken.sqlite"), "broken.sqlite")
    refused(works("restore", "none.sqlite", "--ledger", "new.sqlite"), "there is no such backup")
    assert works("restore", "broken.sqlite", "--drill").returncode in (1, 2)
    lines = (folder / "all.jsonl").read_text(encoding="utf-8").replace('"B"', '"C"')
    (folder / "edited.jsonl").write_text(lines, encoding="utf-8")
    refused(works("import", "edited.jsonl", "--ledger", "new.sqlite"), "edited.jsonl")
    assert not (folder / "new.sqlite").exists()


def test_a_ledger_that_was_meddled_with(works: Run, tmp_path: Path) -> None:
    works("add", "title.toml", "--by", "Ann")
    lacquer = works("cut", "plan", "--title", "TM 7", "--side", "A", "--lacquer", "B", "--by", "Ann").stdout.strip()
    with sqlite3.connect(tmp_path / "works" / "works.sqlite") as meddled:
        meddled.execute("UPDATE lines SET by = 'somebody else' WHERE part = ?", (lacquer,))
    meddled.close()
    found = works("verify", "--json")
    assert found.returncode == 1
    assert json.loads(found.stdout)["breaks"][0]["seq"] == 3
    assert "line 3 was changed after it was written" in works("verify").stdout


def test_a_ledger_of_a_newer_version(works: Run, tmp_path: Path) -> None:
    with sqlite3.connect(tmp_path / "works" / "works.sqlite") as newer:
        newer.execute("UPDATE alembic_version SET version_num = '9999'")
    newer.close()
    refused(works("tree", "TM 7"), "newer discwright", "Nothing was changed")
