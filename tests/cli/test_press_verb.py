"""`press` through Typer: the interface, the few lines for a person, and one sentence for each wrong call."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
import typer
from typer.testing import CliRunner

from discwright.cli.press_verb import press
from discwright.errors import DiscwrightError

RATE = 44_100
DOCS = Path(__file__).parents[2] / "docs"
Call = Callable[..., str]
TITLE = """\
[title]
name = "Nine rivers"
[[band]]
id = "a"
name = "Source"
file = "reel.wav"
end = 4
[[band]]
id = "b"
name = "Mouth"
file = "reel.wav"
start = 4
[[edition]]
id = "lp"
format = "12in-33"
quantity = 300
due = 2031-05-30
[[edition]]
id = "reel"
format = "tape"
quantity = 200
due = 2031-05-30
[[edition]]
id = "bare"
format = "7in-45"
"""


@pytest.fixture
def title(tmp_path: Path) -> Path:
    soundfile.write(tmp_path / "reel.wav", np.zeros(12 * RATE, dtype=np.int16), RATE, subtype="PCM_16")
    path = tmp_path / "title.toml"
    path.write_text(TITLE, encoding="utf-8")
    return path


@pytest.fixture
def call(title: Path) -> Call:
    """The verb in an app of its own; what it prints, or the refusal it raises."""
    app = typer.Typer(pretty_exceptions_enable=False)
    app.command()(press)

    def go(*words: object) -> str:
        result = CliRunner().invoke(app, [str(title), *map(str, words)])
        if result.exception is not None:
            raise result.exception
        return result.stdout

    return go


def keys_in(value: Any) -> set[str]:
    if isinstance(value, dict):
        return set(value).union(*(keys_in(inner) for inner in value.values()))
    return set().union(*(keys_in(inner) for inner in value)) if isinstance(value, list) else set()


def test_the_interface(call: Call) -> None:
    """By hand: 300 at 0.95 start 323 with 95 % (by another road: enumeration), 315.79 on the average."""
    told = json.loads(call("--edition", "lp", "--today", "2031-01-02", "--json"))
    assert (told["good"], told["start"], told["expected_start"]) == (300, 323, 315.789474)
    assert {type(row["what"]) for row in told["needs"]} == {str}
    assert all({"what", "count", "by"} <= set(row) for row in told["needs"])
    for key in ("stampers_per_side", "mothers", "masters", "lacquers"):
        assert isinstance(told[key], int)
    for key in ("expected_stampers_per_side", "compound_kg", "press_hours"):
        assert isinstance(told[key], float)


def test_every_key_is_told(call: Call, tmp_path: Path) -> None:
    house = tmp_path / "house.toml"
    house.write_text("[overrun]\nshort_cost = 3\nover_cost = 1\n", encoding="utf-8")
    page = (DOCS / "commands.md").read_text(encoding="utf-8").partition("## discwright press")[2]
    page = page.partition("\n## ")[0] + (DOCS / "findings.md").read_text(encoding="utf-8")
    for edition in ("lp", "reel"):
        told = json.loads(call("--edition", edition, "--settings", house, "--today", "2031-06-01", "--json"))
        told["findings"] = []  # a finding's own keys are told with the plans
        assert [key for key in sorted(keys_in(told)) if f"`{key}`" not in page] == []


def test_several_editions(call: Call, title: Path) -> None:
    title.write_text(TITLE.replace('format = "7in-45"', 'format = "7in-45"\nquantity = 5'), encoding="utf-8")
    told = json.loads(call("--json", "--today", "2031-01-02"))
    assert [one["edition"] for one in told["editions"]] == ["lp", "reel", "bare"]
    assert told["editions"][0] == json.loads(call("--json", "--today", "2031-01-02", "--edition", "lp"))


def test_decimal_commas(call: Call) -> None:
    words = ("--edition", "lp", "--today", "2031-01-02", "--json")
    assert call(
        "--probability", "0,9", "--yield", "0,96", "--life-cv", "0,2", "--stamper-yield", "0,8", *words
    ) == call("--probability", "0.9", "--yield", "0.96", "--life-cv", "0.2", "--stamper-yield", "0.8", *words)


def test_for_a_person(call: Call) -> None:
    said = call("--edition", "lp", "--today", "2031-01-02").splitlines()
    assert said[0] == "Order     lp (12in-33): 300 good, 1 disc of 2 sides, due 2031-05-30"
    assert said[1] == "start     323 pressings (315.8 expected): with 95 % enough are good, 95 % of them being good"
    assert said[3] == "          lacquers                     2           2         2.0   2031-05-14"
    assert said[-1] == "1 note. First: 2 lacquers by 2031-05-14."
    assert any(line.startswith("care      Hot work: hands out of the press") for line in said)


def test_the_page_shows_what_is_printed(call: Call) -> None:
    """docs/press.md prints these lines of the same order."""
    shown = (DOCS / "press.md").read_text(encoding="utf-8")
    block = re.search(r"    \$ discwright press .*\n((?:    .*\n)+)", shown)
    assert block is not None
    said = call("--edition", "lp", "--today", "2031-01-02").splitlines()
    printed = [line.removeprefix("    ") for line in block[1].splitlines()]
    assert said[: len(printed)] == printed


def test_a_tape_for_a_person(call: Call) -> None:
    said = call("--edition", "reel", "--today", "2031-06-01")
    for words in (
        "Order     reel (tape): 200 good, 1 tape, due 2031-05-30", "start     208 copies (204.1 expected)",
        "sides A, B: 0:02.0 at 4 times 19.05 cm/s, 1.5 m of tape", "side A  a                    backwards",
        "side B  b                    forwards", "copies end at their heads", "warn      late",
    ):  # fmt: skip
        assert words in said, words
    assert "Hot work" not in said


def test_all_of_a_title_for_a_person(call: Call, title: Path) -> None:
    title.write_text(TITLE.replace('format = "7in-45"', 'format = "7in-45"\nquantity = 5'), encoding="utf-8")
    said = call("--today", "2031-01-02")
    assert [line.split()[1] for line in said.splitlines() if line.startswith("Order")] == ["lp", "reel", "bare"]
    assert said.rstrip().endswith("notes.")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--probability", "1"), "a probability of 1 cannot be kept; give more than 0 and less than 1."),
        (("--probability", "0"), "a probability of 0 cannot be kept; give more than 0 and less than 1."),
        (("--probability", "nan"), "--probability: “nan” is not a number; write for example 9.2 or 9,2."),
        (("--yield", "0"), "a yield of 0 for pressings cannot be; give a share from 0.01 to 1."),
        (
            ("--yield", "95"),
            "a yield of 95 for pressings cannot be; give a share from 0.01 to 1; as a share, write 0.95.",
        ),
        (("--yield", "-0.5"), "a yield of -0.5 for pressings cannot be; give a share from 0.01 to 1."),
        (("--stamper-yield", "1.1"), "a yield of 1.1 for stampers cannot be; give a share from 0.01 to 1."),
        (("--stamper-life", "0"), "a stamper life of 0 pressings is none; give a mean from 1 to 10000000."),
        (("--stamper-life", "9" * 400), "a stamper life of inf pressings is none; give a mean from 1 to 10000000."),
        (
            ("--stamper-life", "1,000"),
            "--stamper-life: “1,000” could mean a thousand or a decimal; write 1000 or 1.000.",
        ),
        (("--life-cv", "-1"), "a life that varies by -1 of its mean is none; give from 0 (all alike) to 3."),
        (("--quantity", "0"), "an order of 0 cannot be pressed; give a quantity from 1 to 10000000."),
        (("--quantity", "1e6"), "--quantity: “1e6” is no count; write a whole number such as 300."),
        (("--quantity", "-5"), "--quantity: “-5” is no count; write a whole number such as 300."),
        (("--quantity", "20000000"), "an order of 20000000 cannot be pressed; give a quantity from 1 to 10000000."),
        (("--today", "2031-02-30"), "--today: “2031-02-30” is no date; write one such as 2031-05-30."),
        (("--today", "20310230"), "--today: “20310230” is no date; write one such as 2031-05-30."),
    ],
)
def test_wrong_calls(words: tuple[str, ...], sentence: str, call: Call) -> None:
    with pytest.raises(DiscwrightError) as refusal:
        call("--edition", "lp", *words)
    assert str(refusal.value) == sentence


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ((), "edition “bare” has no quantity; write quantity = 300 below it in the title file, give --quantity, or "
             "name another edition with --edition."),
        (("--edition", "x"), "there is no edition “x”; the title has lp, reel, bare."),
        (("--quantity", "5"),
         "a quantity is for one edition and the title has lp, reel, bare; name one with --edition."),
        (("--edition", "reel", "--stamper-life", "500"),
         "a tape is copied without stampers; leave out their life and their yield."),
    ],
)  # fmt: skip
def test_wrong_editions(words: tuple[str, ...], sentence: str, call: Call) -> None:
    with pytest.raises(DiscwrightError) as refusal:
        call(*words)
    assert str(refusal.value) == sentence


def test_from_the_shell(discwright: Callable[..., Any], title: Path) -> None:
    """One sentence and exit code 2; a note is no reason for another exit code than 0."""
    good = discwright("press", title, "--edition", "bare", "--quantity", 12, "--json")
    assert (good.returncode, json.loads(good.stdout)["good"]) == (0, 12)
    bad = discwright("press", title, "--edition", "lp", "--yield", 2)
    assert (bad.returncode, bad.stdout) == (2, "")
    assert len(bad.stderr.strip().splitlines()) == 1
