"""`works heard` and `works locate`: what was heard goes in by words, who is guilty comes out as text and as JSON."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from ledgers import cut, grow, take_in
from typer.testing import CliRunner

from discwright.cli.main import app
from discwright.errors import CallError, SettingsError
from discwright.works.store.ledger import begin_ledger, open_ledger

Family = tuple[Path, list[str]]


@pytest.fixture(scope="module")
def family(tmp_path_factory: pytest.TempPathFactory) -> Family:
    """A ledger with one line of parts and a second stamper, played through the verbs."""
    path = tmp_path_factory.mktemp("ledger") / "works.sqlite"
    ledger = begin_ledger(str(path))
    take_in(ledger)
    parts = [cut(ledger)]
    for kind in ("master", "mother", "stamper"):
        parts.append(grow(ledger, parts[-1], kind))
    parts.append(grow(ledger, parts[2], "stamper"))
    ledger.close()
    at = ("--ledger", path, "--by", "Ann")
    run("heard", parts[3], "--fault", "tick 312 41.5", "--fault", "pop 9:21.8 300", "--pressing", "1", *at)
    run("heard", parts[3], "--fault", "tick 312 42,3", "--pressing", "2", *at)
    run("heard", parts[4], "--none", "--note", "quiet", *at)
    run("heard", parts[3], "--seen", "--fault", "scratch 312 318", *at)
    return path, parts


def run(*words: object) -> str:
    """What a verb of `works` prints; its refusal raised."""
    result = CliRunner().invoke(app, ["works", *map(str, words)])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == 0, result.output
    return result.output


def located(family: Family, *words: object) -> dict[str, Any]:
    told: dict[str, Any] = json.loads(run("locate", "VK 1001", "--ledger", family[0], "--json", *words))
    return told


def test_what_was_heard_stands_in_the_ledger(family: Family) -> None:
    ledger = open_ledger(str(family[0]))
    lines = [line for line in ledger.lines() if line.kind in ("test_played", "checked_under_the_microscope")]
    ledger.close()
    assert [line.kind for line in lines] == ["test_played"] * 3 + ["checked_under_the_microscope"]
    assert lines[0].data["defects"][0] == {"kind": "tick", "turn": 312, "angle_deg": 41.5, "audible": True}
    assert (lines[0].data["pressing"], lines[2].data) == ("1", {"count": 0, "note": "quiet"})
    assert lines[3].data["defects"] == [{"kind": "scratch", "turn": 312, "angle_deg": 318.0}]


def test_a_line_is_told_in_few_words(family: Family) -> None:
    tree = run("tree", "VK 1001", "--ledger", family[0])
    assert "1 fault, 1 to be heard" in tree
    assert "0 faults heard" in tree
    assert "41.5" not in tree


def test_the_guilty_part_as_json(family: Family) -> None:
    (side,) = located(family)["sides"]
    assert len(side["spots"]) == 2
    both = next(one for one in side["spots"] if len(one["heard"]) == 3)  # two pressings, and the stamper itself
    guilty = max(side["parts"], key=lambda one: one["heads"])
    assert (guilty["id"], guilty["word"]) == (family[1][3], "guilty")
    assert max(both["posterior"], key=lambda one: both["posterior"][one]) == guilty["id"]
    assert side["choices"][0]["start"] == family[1][4]


def test_one_place_alone(family: Family) -> None:
    (side,) = located(family, "--turn", 312, "--angle-deg", "41,9", "--side", "A")["sides"]
    assert [one["kind"] for one in side["spots"]] == ["tick"]
    with pytest.raises(CallError, match="no play found anything at turn 5, 0"):
        located(family, "--turn", 5, "--angle-deg", 0)
    with pytest.raises(CallError, match="give both --turn and --angle-deg"):
        located(family, "--turn", 5)


def test_the_guilty_part_as_text(family: Family) -> None:
    text = run("locate", family[1][0], "--ledger", family[0])
    for told in (
        "VK 1001  Harbour Lights", "side A, lp: 4 plays, 2 spots, 2 to be heard", "turn 312  41.9°", "no fault at all",
        f"guilty       {family[1][3]} stamper  falls alone; press from {family[1][4]}: at once",
        f"do        Press from {family[1][4]}: at once", "days      lacquer 2.0, master 1.0",
        "as if the spots had nothing to do with each other",
    ):  # fmt: skip
        assert told in text, told
    assert re.search(r"8\d\.\d %  guilty", text)


def test_a_house_file(family: Family, tmp_path: Path) -> None:
    house = tmp_path / "guilt.toml"
    house.write_text("[days]\nlacquer = 4\n[match]\nwindow_deg = 0.5\n", encoding="utf-8")
    (side,) = located(family, "--settings", house)["sides"]
    assert side["days"]["lacquer"] == {"days": 4, "measured": 0}
    assert len(side["spots"]) == 3  # half a degree apart they are two
    with pytest.raises(SettingsError, match="there is no such file"):
        located(family, "--settings", tmp_path / "none.toml")


def test_what_is_said_wrongly(family: Family) -> None:
    path, parts = family
    for words, sentence in (
        (("heard", parts[3]), "say what was heard with --fault"),
        (("heard", parts[3], "--none", "--fault", "tick 1 2"), "or --none where nothing was"),
        (("heard", parts[3], "--fault", "tick 1"), "is no fault; write kind, turn or time, and angle"),
        (("heard", parts[1], "--none"), "is a master and no disc to play"),
        (("locate", "VK 1001", "--side", "C"), "no lacquer was cut yet of side C"),
        (("locate", "XY 9"), "XY 9"),
    ):
        with pytest.raises(CallError, match=re.escape(sentence)):
            run(*words, "--ledger", path)


def test_the_list_of_events_says_how_faults_are_entered(family: Family) -> None:
    assert "`works heard PART`" in run("record", "--list")
