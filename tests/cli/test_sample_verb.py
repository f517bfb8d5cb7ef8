"""`sample` through Typer: the interface, the few lines for a person, exit codes, a sentence for each wrong call."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from discwright.cli.sample_verb import sample
from discwright.errors import DiscwrightError

EXAMPLE = ("--lot", "2000", "--level", "II", "--aql", "1.0")
Call = Callable[..., tuple[int, str]]


@pytest.fixture
def call() -> Call:
    """The verb in an app of its own; its exit code and what it prints, or the refusal it raises."""
    app = typer.Typer(pretty_exceptions_enable=False)
    app.command()(sample)

    def go(*words: object) -> tuple[int, str]:
        result = CliRunner().invoke(app, [str(word) for word in words])
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result.exit_code, result.stdout

    return go


def test_the_example_as_json(call: Call) -> None:
    code, said = call(*EXAMPLE, "--json")
    told = json.loads(said)
    assert code == 0
    assert {"table_letter", "letter", "n", "accept", "reject", "oc"} <= set(told)
    assert (told["letter"], told["n"], told["accept"], told["reject"]) == ("K", 125, 3, 4)


@pytest.mark.parametrize(
    ("inspection", "plan"),
    # Published tables: normal and tightened; reduced as the 1999 edition has it.
    [("normal", (125, 3, 4)), ("tightened", (125, 2, 3)), ("reduced", (50, 2, 3))],
)
def test_the_three_severities(inspection: str, plan: tuple[int, ...], call: Call) -> None:
    told = json.loads(call(*EXAMPLE, "--inspection", inspection, "--json")[1])
    assert (told["n"], told["accept"], told["reject"]) == plan


def test_for_a_person(call: Call) -> None:
    assert call(*EXAMPLE) == (
        0,
        "Sample    lot of 2000, level II, AQL 1 %, normal: letter K\n"
        "take      125 discs; accept with 3 nonconforming or fewer, refuse with 4\n"
        "accepts   96.3 of 100 lots at the AQL; 95 at 1.1 %, 50 at 2.93 %, 10 at 5.27 %\n"
        "No findings. Take the discs, look at them, and give what you found with --found.\n",
    )


def test_a_small_lot_for_a_person(call: Call) -> None:
    code, said = call("--lot", "3", "--aql", "1", "--seed", "1")
    assert code == 0
    for words in (
        "letter A, by the arrow E", "all 3 discs of the lot; accept with no nonconforming disc, refuse with 1",
        "every nonconforming one is found", "discs     1, 2, 3\n", "note      inspect_all   13 against 3 discs. ",
    ):  # fmt: skip
        assert words in said, words


def test_found_and_refused(call: Call) -> None:
    code, said = call("--lot", "2000", "--found", "critical=0,major=2,minor=9")
    assert code == 1
    for words in (
        "critical  none in the sample  125 discs, accept with no nonconforming disc, refuse with 1; found 0: accepted",
        "minor     AQL  2.5 %          125 discs, accept with 7 nonconforming or fewer, refuse with 8; found 9: refu",
        "stop      lot_refused   9 against 7 minor discs. ", "1 stop: the lot is not accepted; hold it.\n",
    ):  # fmt: skip
        assert words in said, words


def test_found_and_accepted(call: Call) -> None:
    code, said = call(*EXAMPLE, "--found", "3")
    assert (code, said.splitlines()[-1]) == (0, "No findings: the lot is accepted; scrap what was found bad.")
    assert call(*EXAMPLE, "--found", "4")[0] == 1
    assert call(*EXAMPLE, "--found", "4", "--json")[0] == 1
    assert call("--lot", "2000", "--found", "critical=0,major=2,minor=1")[0] == 0
    assert call("--lot", "2000", "--defects", "pit, 12:stain,12:flash")[0] == 0
    assert call("--lot", "2000", "--defects", "")[0] == 0
    assert call("--lot", "2000", "--defects", "bump/jumps")[0] == 1


def test_decimal_commas(call: Call) -> None:
    assert call("--lot", "2000", "--aql", "0,65") == call("--lot", "2000", "--aql", "0.65")


def test_a_long_list_of_discs_is_cut_for_a_person_only(call: Call) -> None:
    words = ("--lot", "100000", "--aql", "1", "--seed", "4")
    assert " and 300 more; --json prints them all" in call(*words)[1]
    assert len(set(json.loads(call(*words, "--json")[1])["take"])) == 500


def test_a_chart(call: Call, tmp_path: Path) -> None:
    for name, head in (("oc.png", b"\x89PNG"), ("oc.svg", b"<svg ")):
        said = call(*EXAMPLE, "--chart", tmp_path / name)[1]
        assert f"chart     {tmp_path / name}\n" in said
        assert (tmp_path / name).read_bytes().startswith(head)


def test_a_house_file(call: Call, tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    file.write_text('[aql]\ncritical = "all"\n', encoding="utf-8")
    assert "critical  every disc          all 2000 discs of the lot" in call("--lot", "2000", "--settings", file)[1]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--lot", "0"), "a lot of 0 discs cannot be sampled, lots begin at 2; look at every disc there is."),
        (("--lot", "1"), "a lot of 1 disc cannot be sampled, lots begin at 2; look at every disc there is."),
        (("--lot", "-5"), "--lot: “-5” is no count; write a whole number such as 2000."),
        (("--lot", "2e3"), "--lot: “2e3” is no count; write a whole number such as 2000."),
        (("--lot", "9" * 400), f"--lot: “{'9' * 40}” is no count; write a whole number such as 2000."),
        (("--lot", "٣"), "--lot: “٣” is no count; write a whole number such as 2000."),
        ((*EXAMPLE, "--level", "IV"), "there is no inspection level “IV”; choose from S-1, S-2, S-3, S-4, I, II, III."),
        ((*EXAMPLE, "--aql", "3"), "an AQL of 3 is not in the table; give 2.5 or 4."),
        ((*EXAMPLE, "--aql", "nan"), "--aql: “nan” is not a number; write for example 9.2 or 9,2."),
        (
            (*EXAMPLE, "--aql", "15"),
            "an AQL of 15 would count nonconformities per 100 discs and not nonconforming discs; give 10 or less.",
        ),
        ((*EXAMPLE, "--aql", "-1"), "an AQL of -1 is not in the table; give 0.01."),
        ((*EXAMPLE, "--inspection", "lax"), "there is no inspection “lax”; choose from normal, tightened, reduced."),
        ((*EXAMPLE, "--found", "x"), "--found: “x” is no count; write a whole number such as 2000."),
        ((*EXAMPLE, "--found", "major=x"), "--found major: “x” is no count; write a whole number such as 2000."),
        ((*EXAMPLE, "--found", "major=1,major=2"), "--found: major is counted twice; add the two up."),
        ((*EXAMPLE, "--found", "major=1,2"), "--found 2: “” is no count; write a whole number such as 2000."),
        ((*EXAMPLE, "--found", "small=1"), "there is no defect class “small”; choose from critical, major, minor."),
        ((*EXAMPLE, "--defects", "scrach"), "there is no defect “scrach”; write scratch."),
        ((*EXAMPLE, "--seed", "x"), "--seed: “x” is no count; write a whole number such as 2000."),
        (
            (*EXAMPLE, "--found", "1", "--defects", "pit"),
            "what was found is told in counts or in words; give one of them.",
        ),
        (
            (*EXAMPLE, "--chart", "oc.pdf"),
            "oc.pdf: a characteristic is drawn as PNG or SVG; choose a name that ends with .png or .svg.",
        ),
    ],
)  # fmt: skip
def test_wrong_calls(words: tuple[str, ...], sentence: str, call: Call) -> None:
    with pytest.raises(DiscwrightError) as refusal:
        call(*words)
    assert str(refusal.value) == sentence
