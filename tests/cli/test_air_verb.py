"""`air` through Typer: the lines for a person, JSON, and one sentence for each wrong call."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest
import typer
from typer.testing import CliRunner

from discwright.cli.air_verb import air
from discwright.errors import CallError

HALL = ("--temperature-c", "20", "--humidity-percent", "50", "--distance-m", "30")
Call = Callable[..., str]


@pytest.fixture
def call() -> Call:
    app = typer.Typer(pretty_exceptions_enable=False)
    app.command()(air)

    def go(*words: str) -> str:
        result = CliRunner().invoke(app, list(words))
        if isinstance(result.exception, CallError):
            raise result.exception
        assert result.exit_code == 0, result.output
        return result.output

    return go


def test_one_air_and_what_to_do_next(call: Call) -> None:
    lines = call(*HALL).splitlines()
    assert lines[0] == "Air       20 °C, 50 %, 101.325 kPa, over 30 m"
    assert lines[2].split()[1:4] == ["0.013", "0.040", "0.082"]  # published: 0.445, and 1.33, 2.73 dB/km by table 1
    assert lines[-1] == "Give --then for what another weather or another place changes."


def test_a_drier_hall_explains_a_duller_take(call: Call) -> None:
    lines = call(*HALL, "--then", "24/35/30").splitlines()
    assert lines[1] == "then      24 °C, 35 %, 101.325 kPa, over 30 m"
    assert lines[-1].startswith("The air makes the second duller at the top, by up to 1.98 dB")
    assert call(*HALL, "--then", "20/50/29").splitlines()[-1].startswith("The air makes the second brighter")


def test_too_little_to_hear_is_said(call: Call) -> None:
    last = call(*HALL, "--then", "20,2/51/30").splitlines()[-1]
    assert last == "Nobody hears that: a change of balance has another reason; look for it."


def test_very_dry_air_is_a_caution(call: Call) -> None:
    text = call("--temperature-c", "-20", "--humidity-percent", "10", "--distance-m", "30")
    assert "caution   0.01 % of this air is water" in text


def test_everything_as_json(call: Call) -> None:
    plain = json.loads(call(*HALL, "--pressure-kpa", "95", "--then", "24/35/20/101.3", "--json"))
    assert (plain["air"]["pressure_kpa"], plain["then"]["pressure_kpa"]) == (95.0, 101.3)
    assert plain["bands"][0].keys() == {"frequency_hz", "lost_db", "then_lost_db", "difference_db"}


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--then", "24/35"), "--then: “24/35” is no air; write temperature/humidity/distance, for example 24/35/30."),
        (("--then", "24/a/30"), "--then: “a” is not a number; write for example 9.2 or 9,2."),
        (("--pressure-kpa", "1013"), "a pressure of 1013 kPa is not known here; give 50 to 110 kPa."),
    ],
)
def test_a_wrong_call_is_one_sentence(call: Call, words: tuple[str, ...], sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        call(*HALL, *words)
    assert str(refusal.value) == sentence
