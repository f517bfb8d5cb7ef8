"""The act behind `plate`: what it takes from the settings, what it says, what it keeps.

Numbers are proved in works/; here they are *by hand* or by the example of the interface.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from discwright.acts.plate import CardLabel, PlateOrder, PlateReport, plate, queue, weigh, write_card
from discwright.errors import CallError, SettingsError
from discwright.units import TO_SI
from discwright.works.metals import AMPERE_HOUR, GRAM, MICRON
from discwright.works.plating import Step

STAMPER = PlateOrder("stamper", diameter=0.3556, target=200e-6, efficiency=0.955, steps="0.5x30,1x30,10")


def codes(report: PlateReport) -> dict[str, str]:
    return {one.code: one.severity for one in report.findings}


def test_the_example_of_the_interface() -> None:
    """By hand: π/4·3.556² dm²; 200 µm at 0.955 are 17.035 Ah/dm², 0.75 of them in the first hour."""
    plain = plate(STAMPER).as_dict()
    assert plain["area_dm2"] == pytest.approx(9.9315, abs=1e-4)
    assert plain["ampere_hours"] == pytest.approx(17.0355 * 9.9315, abs=0.01)
    assert plain["minutes"] == pytest.approx(60 + (17.0355 - 0.75) * 6, abs=0.01)
    assert plain["thickness_um"] == 200.0
    assert plain["thin_um"] == 168.0
    assert plain["mass_g"] == pytest.approx(176.9, abs=0.05)  # by another road: 9.93 dm² × 0.2 mm × 89.07
    assert [one["minutes"] for one in plain["steps"]] == pytest.approx([30.0, 30.0, 97.713], abs=0.01)
    assert [one["amperes"] for one in plain["steps"]] == pytest.approx([4.966, 9.931, 99.315], abs=1e-3)
    assert sum(one["thickness_um"] for one in plain["steps"]) == pytest.approx(200.0)
    assert plain["steps"][-1]["sum_minutes"] == plain["minutes"]
    assert plain["findings"] == []


def test_a_step_that_rises_as_plain_values() -> None:
    """By hand: 0.5 to 2 A/dm² for 30 min on 9.931467 dm² is 1.25 A/dm² in the mean, 0.625 Ah/dm²."""
    first = plate(replace(STAMPER, steps="0.5-2x30,10")).as_dict()["steps"][0]
    assert [first[key] for key in ("a_dm2", "from_a_dm2", "to_a_dm2")] == [1.25, 0.5, 2.0]
    amperes = [first[key] for key in ("amperes", "from_amperes", "to_amperes")]
    assert amperes == pytest.approx([12.414334, 4.965733, 19.862933], abs=1e-5)
    assert first["ampere_hours"] == first["sum_ampere_hours"] == pytest.approx(6.207167, abs=1e-5)


def test_the_settings_give_what_is_not_said() -> None:
    assert plate(PlateOrder("stamper")).as_dict() == plate(STAMPER).as_dict()
    master, mother = plate(PlateOrder("master")), plate(PlateOrder("mother"))
    assert (master.grown_on, mother.grown_on) == ("lacquer", "metal")
    assert (master.run.target, mother.run.target) == pytest.approx((250e-6, 300e-6))
    # By another road: 0.104 g of silver on a 14-inch face.
    assert (master.silver_mass or 0.0) / GRAM == pytest.approx(0.104, abs=5e-4)
    assert mother.silver_mass is None
    assert plate(PlateOrder("master", grown_on="metal")).silver_mass is None
    assert plate(PlateOrder("stamper", metal="copper")).run.efficiency == 1.0
    assert plate(PlateOrder("stamper", plate="10in")).diameter == 0.254
    assert all(codes(plate(PlateOrder(kind))) == {} for kind in ("master", "mother", "stamper"))


def test_a_house_file_is_heard(tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    file.write_text("[stamper]\ntarget_um = 180\nleast_um = 100\n[plates]\nours_mm = 400\n", encoding="utf-8")
    report = plate(PlateOrder("stamper", plate="ours"), settings=file)
    assert (report.diameter, report.run.target, report.least) == pytest.approx((0.4, 180e-6, 100e-6))
    with pytest.raises(SettingsError):
        plate(PlateOrder("stamper"), settings=tmp_path / "none.toml")


def test_steps_may_be_steps() -> None:
    steps = (Step(50.0, 50.0, 1800.0), Step(100.0, 100.0, 1800.0), Step(1000.0, 1000.0, None))
    assert plate(replace(STAMPER, steps=steps)).as_dict() == plate(STAMPER).as_dict()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"steps": "0.5x30"}, {"target_missed": "warn"}),
        ({"steps": "10x600,5"}, {"step_cut_short": "note", "step_not_run": "note"}),
        ({"steps": "25"}, {"current_density": "warn"}),
        ({"metal": "copper", "efficiency": None, "steps": "11"}, {"current_density": "warn"}),
        ({"kind": "master", "target": None, "steps": "5"}, {"first_layer": "warn"}),
        ({"kind": "master", "target": None, "steps": "0-20x10,10"}, {"first_layer": "warn"}),
        ({"kind": "master", "target": None, "steps": "5", "grown_on": "metal"}, {}),
        ({"spread": 0.5}, {"thin_place": "warn"}),
        ({"target": 150e-6}, {}),
        ({"target": 150e-6, "least": 140e-6}, {"thin_place": "warn"}),
        ({"efficiency": 0.85}, {"plating_efficiency": "warn"}),
        ({"ph": 3.0}, {"bath_ph": "warn"}),
        ({"ph": 4.6}, {"bath_ph": "warn"}),
        ({"ph": 4.0, "temperature_c": 45.0}, {}),
        ({"temperature_c": 61.0}, {"bath_temperature": "warn"}),
        ({"temperature_c": 29.0}, {"bath_temperature": "warn"}),
        ({"metal": "copper", "efficiency": None, "ph": 1.0, "temperature_c": 25.0}, {}),
    ],
)  # fmt: skip
def test_what_is_worth_a_word(changes: dict[str, Any], said: dict[str, str]) -> None:
    """Range checks warn and never block."""
    assert codes(plate(replace(STAMPER, **changes))) == said


def test_the_words_of_the_target() -> None:
    cut, left = plate(replace(STAMPER, steps="10x600,5x9,6")).findings
    assert cut.remedy == "Step 1 stops where the target is reached, before its time is up."
    # By hand: 17.035 Ah/dm² at 10 A/dm².
    assert (cut.value, cut.limit, cut.unit) == pytest.approx((102.21, 600.0, "min"), abs=0.01)
    assert left.remedy == "Steps 2 to 3 are not run: the target is reached before."
    (missed,) = plate(replace(STAMPER, steps="0.5x30")).findings
    assert (missed.value, missed.limit) == pytest.approx((2.935, 200.0), abs=1e-3)


def test_a_run_by_its_weight() -> None:
    """By hand: 1.0950 g/Ah; 180 g for 170 Ah are 0.9670, and 17.035 Ah/dm² become 16.824."""
    report = weigh(plate(STAMPER), 180 * GRAM, 170 * AMPERE_HOUR)
    weighing = report.as_dict()["weighing"]
    assert weighing["efficiency"] == pytest.approx(180 / (1.094965 * 170), abs=1e-5)
    charge = 17.0355 * 0.955 / weighing["efficiency"]
    assert weighing["next_minutes"] == pytest.approx(60 + (charge - 0.75) * 6, abs=0.01)
    assert weighing["next_ampere_hours"] == pytest.approx(charge * 9.9315, abs=0.01)
    assert weighing["next_steps"][-1]["sum_thickness_um"] == pytest.approx(200.0)
    assert report.as_dict()["minutes"] == plate(STAMPER).as_dict()["minutes"]
    assert report.findings == ()


def test_the_next_run_reaches_a_target_that_this_one_missed() -> None:
    report = weigh(plate(replace(STAMPER, steps="1x30,10x60")), 115 * GRAM, 109 * AMPERE_HOUR)
    assert report.weighing is not None
    assert report.weighing.next_run.reached
    assert [one.step.seconds for one in report.weighing.next_run.steps] == [1800.0, None]


def test_a_weight_a_little_too_good() -> None:
    report = weigh(plate(STAMPER), 188 * GRAM, 170 * AMPERE_HOUR)  # by hand: 1.0100
    weighing = report.as_dict()["weighing"]
    assert weighing["efficiency"] == pytest.approx(1.01, abs=1e-3)
    assert weighing["next_efficiency"] == 1.0
    assert codes(report) == {"plating_efficiency": "warn"}


@pytest.mark.parametrize(
    ("gained", "ran", "words"),
    [
        (0.0, 170.0, "a gain of 0 g is none of a plate; give more than 0 g, as weighed."),
        (float("nan"), 170.0, "a gain of nan g is none of a plate; give more than 0 g, as weighed."),
        (180.0, -1.0, "a charge of -1 Ah is none of a plate; give more than 0 Ah, by the meter."),
        (180.0, 17.0, "180 g of nickel for 17 Ah would be an efficiency of 967.0 %, more metal than the charge can lay "
         "down; weigh again and look at the ampere-hour meter."),
    ],
)  # fmt: skip
def test_weights_that_cannot_be(gained: float, ran: float, words: str) -> None:
    with pytest.raises(CallError) as refusal:
        weigh(plate(STAMPER), gained * GRAM, ran * AMPERE_HOUR)
    assert str(refusal.value) == words


def test_a_queue_of_like_parts() -> None:
    """By hand: 157.71 min each; five in two tanks are three rounds with two turn-rounds of 20."""
    told = queue(plate(STAMPER), 5, 2).as_dict()["queue"]
    assert told["minutes"] == pytest.approx(3 * 157.7136 + 40, abs=0.01)
    assert [(one["part"], one["tank"]) for one in told["parts"]] == [
        ("1", 1), ("2", 2), ("3", 1), ("4", 2), ("5", 1),
    ]  # fmt: skip
    named = queue(plate(STAMPER), ["ST2-1", "ST3-9"], 1, 0.0).as_dict()["queue"]
    assert [one["part"] for one in named["parts"]] == ["ST2-1", "ST3-9"]
    assert named["parts"][1]["start_minutes"] == named["parts"][0]["end_minutes"]
    for parts in (0, -1, 10_001, 10**12):
        with pytest.raises(CallError, match="parts cannot be queued; give 1 to 10000"):
            queue(plate(STAMPER), parts, 1)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"kind": "lacquer"}, "a lacquer is cut and not grown; choose from master, mother, stamper."),
        ({"kind": "father"}, "there is no part called “father”; choose from master, mother, stamper."),
        ({"metal": "gold"}, "there is no bath for “gold”; choose from nickel, copper, silver."),
        ({"grown_on": "wax"}, "nothing grows on “wax”; choose from lacquer, metal."),
        (
            {"grown_on": "lacquer"},
            "a stamper does not grow on a lacquer; a master does: choose another kind, or metal.",
        ),
        ({"plate": "14in"}, "a plate has one diameter; give its name or its diameter, not both."),
        (
            {"plate": "9in", "diameter": None},
            "there is no plate “9in”; choose from 14in, 12in, 10in, 8in, or give a diameter.",
        ),
        ({"ph": 15.0}, "a pH of 15 is none; give one from 0 to 14."),
        ({"temperature_c": 300.0}, "a bath of 300 °C is none; give a temperature from 0 to 100 °C."),
        (
            {"least": 201e-6},
            "a least thickness of 201 µm does not go with a mean of 200 µm; give one from 0 to the target.",
        ),
    ],
)
def test_orders_that_cannot_be(changes: dict[str, Any], sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        plate(replace(STAMPER, **changes))
    assert str(refusal.value) == sentence


def test_a_card_is_written_and_never_over_another(tmp_path: Path) -> None:
    place = tmp_path / "card.pdf"
    report = write_card(plate(STAMPER), place, CardLabel(number="ST1042-0", ledger_head="0" * 64))
    assert report.as_dict()["card"] == str(place)
    assert place.read_bytes().startswith(b"%PDF")
    with pytest.raises(CallError, match="is there already; choose another name for the card, or move that file away"):
        write_card(plate(STAMPER), place, CardLabel())
    with pytest.raises(CallError, match="a run card is a PDF"):
        write_card(plate(STAMPER), tmp_path / "card.txt", CardLabel())
    with pytest.raises(CallError, match="cannot be written"):
        write_card(plate(STAMPER), tmp_path / "none" / "card.pdf", CardLabel())
    assert [path.name for path in tmp_path.iterdir()] == ["card.pdf"]


def everything() -> dict[str, Any]:
    report = queue(weigh(plate(PlateOrder("master", steps="1-2x30,10", ph=3.0)), 220 * GRAM, 210 * AMPERE_HOUR), 3, 2)
    return replace(report, card=Path("card.pdf")).as_dict()


def keys_in(value: object) -> set[str]:
    if isinstance(value, dict):
        return set(value).union(*(keys_in(inner) for inner in value.values()))
    return set().union(*(keys_in(inner) for inner in value)) if isinstance(value, list) else set()


def test_every_key_wears_its_unit_and_is_explained() -> None:
    plain = everything()
    json.dumps(plain, allow_nan=False)
    page = (Path(__file__).parents[2] / "docs" / "plating.md").read_text(encoding="utf-8")
    assert plain.pop("findings")  # a finding's own keys are explained with the findings
    keys = keys_in(plain)
    assert {"area_dm2", "from_a_dm2", "next_minutes", "silver_mass_g", "turn_round_minutes"} <= keys
    assert [key for key in sorted(keys) if f"`{key}`" not in page] == []
    units = (*TO_SI, "dm2", "amperes", "hours", "minutes", "g", "ah")
    bare = {
        "kind", "grown_on", "metal", "efficiency", "next_efficiency", "reached_target", "stopped_at_target", "steps",
        "next_steps", "steps_not_run", "cut_short", "weighing", "queue", "tanks", "tank_share", "parts",
        "part", "tank", "card",
    }  # fmt: skip
    worn = tuple(f"_{unit}" for unit in units)
    assert [key for key in sorted(keys - bare - set(units)) if not key.endswith(worn)] == []


def test_every_finding_of_a_run_is_told_in_the_page() -> None:
    page = (Path(__file__).parents[2] / "docs" / "plating.md").read_text(encoding="utf-8")
    source = (Path(__file__).parents[2] / "src/discwright/acts/plate_findings.py").read_text(encoding="utf-8")
    found = set(re.findall(r'finding\(\s*"(\w+)"', source))
    assert len(found) == 9
    assert [code for code in sorted(found) if f"`{code}`" not in page] == []


def test_microns_and_metres_agree() -> None:
    report = plate(replace(STAMPER, least=150e-6))
    assert report.as_dict()["least_um"] == pytest.approx(report.least / MICRON)
