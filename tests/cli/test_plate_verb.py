"""`plate` through Typer: the interface, the few lines for a person, and one sentence for each wrong call."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from discwright.cli.plate_verb import plate
from discwright.errors import DiscwrightError

EXAMPLE = (
    "--kind", "stamper", "--diameter-mm", "355.6", "--target-um", "200", "--metal", "nickel", "--efficiency", "0.955",
    "--steps", "0.5x30,1x30,10",
)  # fmt: skip
Call = Callable[..., str]


@pytest.fixture
def call() -> Call:
    """The verb in an app of its own; what it prints, or the refusal it raises."""
    app = typer.Typer(pretty_exceptions_enable=False)
    app.command()(plate)

    def go(*words: object) -> str:
        result = CliRunner().invoke(app, [str(word) for word in words])
        if result.exception is not None:
            raise result.exception
        return result.stdout

    return go


def test_the_example_as_json(call: Call) -> None:
    """By hand: see the act's test."""
    told = json.loads(call(*EXAMPLE, "--json"))
    assert {"area_dm2", "ampere_hours", "minutes", "thickness_um", "mass_g", "steps"} <= set(told)
    assert told["thickness_um"] == 200.0
    assert told["minutes"] == pytest.approx(157.71, abs=0.01)
    assert [set(one) >= {"a_dm2", "amperes", "minutes", "thickness_um"} for one in told["steps"]] == [True] * 3
    assert [one["a_dm2"] for one in told["steps"]] == [0.5, 1.0, 10.0]


def test_the_kind_alone_is_a_sensible_plan(call: Call) -> None:
    assert call("--kind", "stamper", "--json") == call(*EXAMPLE, "--json")
    assert call("--json") == call(*EXAMPLE, "--json")
    assert json.loads(call("--kind", "master", "--json"))["thickness_um"] == 250.0


def test_decimal_commas(call: Call) -> None:
    words = ("--diameter-mm", "355,6", "--efficiency", "0,955", "--steps", "0,5x30;1x30;10", "--json")
    assert call(*words) == call(*EXAMPLE, "--json")


def test_a_hole_is_taken_off(call: Call) -> None:
    told = json.loads(call("--hole-mm", "38.1", "--json"))
    assert told["area_dm2"] == pytest.approx(9.9315 - 0.1140, abs=1e-4)  # by hand: π/4·(3.556² − 0.381²)


def test_for_a_person(call: Call) -> None:
    assert call(*EXAMPLE) == (
        "Plate     stamper in nickel, 355.6 mm, 9.93 dm², target 200 µm, efficiency 95.5 %\n"
        "step 1            0.5 A/dm²             5.0 A      30 min      2.9 µm      2.5 Ah so far\n"
        "step 2              1 A/dm²             9.9 A      30 min      5.9 µm      7.4 Ah so far\n"
        "step 3             10 A/dm²            99.3 A  1 h 38 min    191.2 µm    169.2 Ah so far\n"
        "grows     200.0 µm mean, 168.0 µm at the thin place, 176.9 g in 2 h 38 min, 169.2 Ah, 99.3 A at most\n"
        "No findings.\n"
    )


def test_everything_at_once_for_a_person(call: Call, tmp_path: Path) -> None:
    card = tmp_path / "card.pdf"
    said = call(
        "--kind", "master", "--steps", "0.5-2x30,10x600", "--hole-mm", "7,24", "--gained-g", "221,5", "--ran-ah", "211",
        "--parts", "30", "--tanks", "4", "--turn-round-minutes", "15", "--ph", "3", "--card", card, "--part", "MA7-1",
        "--title", "東京の夜", "--catalogue", "HRB-0417", "--side", "A", "--parent", "LA3-2",
    )  # fmt: skip
    for words in (
        "with a hole of 7.24 mm", "silver    0.104 g on the lacquer", "0.5 to 2 A/dm²", "5.0 to 19.9 A",
        "weighed   221.5 g for 211 Ah: efficiency 95.9 %; next run 2 h 34 min", "part 1    tank 1       0:00 to 2:34",
        "and 6 more; --json prints them all", "queue     30 parts in 4 tanks, 0:15 between two: done after 22:17",
        "note      step_cut_short", "warn      bath_ph       3 against 3.5 pH.", f"card      {card}\n",
        "2 warnings, 1 note.",
    ):  # fmt: skip
        assert words in said, words
    assert card.read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--kind", "father"), "there is no part called “father”; choose from master, mother, stamper."),
        (("--metal", "tin"), "there is no bath for “tin”; choose from nickel, copper, silver."),
        (("--efficiency", "95.5"), "an efficiency of 95.5 is more than all of the current; as a share, write 0.955."),
        (("--efficiency", "95,5"), "an efficiency of 95.5 is more than all of the current; as a share, write 0.955."),
        (("--efficiency", "nan"), "--efficiency: “nan” is not a number; write for example 9.2 or 9,2."),
        (("--target-um", "inf"), "--target-um: “inf” is not a number; write for example 9.2 or 9,2."),
        (("--target-um", "-200"), "a target of -200 µm cannot be grown; give one from 0.01 to 5000 µm."),
        (("--target-um", "0"), "a target of 0 µm cannot be grown; give one from 0.01 to 5000 µm."),
        (("--diameter-mm", "0"), "a plate of 0 mm is none; give a diameter from 10 to 1000 mm."),
        (("--diameter-mm", "9" * 400), "a plate of inf mm is none; give a diameter from 10 to 1000 mm."),
        (("--diameter-mm", "1,234"), "--diameter-mm: “1,234” could mean a thousand or a decimal; write 1234 or 1.234."),
        (
            ("--hole-mm", "400"),
            "a hole of 400 mm does not fit a plate of 355.6 mm; give one from 0 to less than the plate.",
        ),
        (
            ("--steps", "0,5x30"),
            "step 1: “0” has no minutes, and only the last step may lack them; for decimal commas put semicolons "
            "between them: 0,5x30; 1x30; 10.",
        ),
        (("--gained-g", "180"), "--gained-g says nothing alone; give --ran-ah as well."),
        (("--ran-ah", "180"), "--ran-ah says nothing alone; give --gained-g as well."),
        (("--tanks", "2"), "--tanks says nothing alone; give --parts as well."),
        (("--parts", "2"), "--parts says nothing alone; give --tanks as well."),
        (("--parts", "2", "--tanks", "1.5"), "--tanks: “1.5” is no count; write a whole number such as 4."),
        (("--parts", "-2", "--tanks", "1"), "--parts: “-2” is no count; write a whole number such as 4."),
        (("--parts", "0", "--tanks", "1"), "0 parts cannot be queued; give 1 to 10000."),
        (("--turn-round-minutes", "5"), "--turn-round-minutes is for a queue; give --tanks and --parts as well."),
        (("--title", "x"), "--title stands on the run card; give --card FILE.pdf as well."),
        (
            ("--plate", "14in", "--diameter-mm", "300"),
            "a plate has one diameter; give its name or its diameter, not both.",
        ),
    ],
)
def test_wrong_calls(words: tuple[str, ...], sentence: str, call: Call) -> None:
    with pytest.raises(DiscwrightError) as refusal:
        call(*words)
    assert str(refusal.value) == sentence


def test_nothing_is_written_by_a_wrong_call(call: Call, tmp_path: Path) -> None:
    for words in (("--efficiency", "2"), ("--part", "x\ny"), ("--gained-g", "1", "--ran-ah", "100")):
        with pytest.raises(DiscwrightError):
            call("--card", tmp_path / "card.pdf", *words)
    assert list(tmp_path.iterdir()) == []
