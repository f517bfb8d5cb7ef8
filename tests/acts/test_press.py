"""The act behind `press`: what it takes from title file and settings, how it counts sides and discs, what it says.

Numbers are proved in works/; here they are *by hand* or those of the worked example.
"""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
import soundfile

from discwright.acts.press import PressOrder, PressReport, press
from discwright.acts.press_report import DiscNeeds
from discwright.acts.press_tape_report import TapeNeeds
from discwright.errors import CallError, SettingsError, TitleError

RATE = 44_100
TODAY = date(2031, 1, 2)
NOW = PressOrder(today=TODAY)
LP = '[[edition]]\nid = "lp"\nformat = "12in-33"\nquantity = 10000\ndue = 2031-05-30\n'
SIDES = "".join(f'[[edition.side]]\nletter = "{letter}"\nbands = ["{band}"]\n' for letter, band in zip("ABCD", "abcd"))
EP = '[[edition]]\nid = "ep"\nformat = "7in-45"\nquantity = 500\n'
TAPE = '[[edition]]\nid = "reel"\nformat = "tape"\nquantity = 200\ndue = 2031-05-30\n'


@pytest.fixture
def title(tmp_path: Path) -> Path:
    """A file of four bands of 4, 2, 3 and 3 seconds; editions are added by the tests."""
    soundfile.write(tmp_path / "reel.wav", np.zeros(12 * RATE, dtype=np.int16), RATE, subtype="PCM_16")
    text = '[title]\nname = "Nine rivers"\n'
    for band, start, end in (("a", 0, 4), ("b", 4, 6), ("c", 6, 9), ("d", 9, 12)):
        text += (
            f'[[band]]\nid = "{band}"\nname = "{band}"\nfile = "reel.wav"\nstart = {start}\nend = {end}\ngap_s = 1.0\n'
        )
    path = tmp_path / "title.toml"
    path.write_text(text, encoding="utf-8")
    return path


def with_editions(title: Path, *editions: str) -> Path:
    title.write_text(title.read_text(encoding="utf-8") + "".join(editions), encoding="utf-8")
    return title


def the_disc(report: PressReport) -> DiscNeeds:
    (one,) = report.editions
    assert isinstance(one, DiscNeeds)
    return one


def the_tape(report: PressReport) -> TapeNeeds:
    (one,) = report.editions
    assert isinstance(one, TapeNeeds)
    return one


def codes(report: PressReport) -> dict[str, str]:
    (one,) = report.editions
    return {finding.code: finding.severity for finding in one.findings}


# discs -------------------------------------------------------------------------------------------------


def test_the_worked_example(title: Path) -> None:
    """By another road (worked apart): 10 000 good at 0.95, lives of 1000 all alike, stampers good with 0.9."""
    plain = press(with_editions(title, LP), replace(NOW, life_cv=0.0)).as_dict()
    assert plain.keys() >= {
        "good", "start", "expected_start", "stampers_per_side", "expected_stampers_per_side", "mothers", "masters",
        "lacquers", "compound_kg", "press_hours", "needs",
    }  # fmt: skip
    assert (plain["good"], plain["start"]) == (10_000, 10_565)
    assert plain["expected_start"] == pytest.approx(10_526.316, abs=1e-3)
    assert (plain["stampers_per_side"], plain["expected_stampers_per_side"]) == (11, 11.0)
    assert plain["expected_stampers_begun_per_side"] == pytest.approx(11 / 0.9, abs=1e-6)
    # Of both sides: two mothers each, one master, one lacquer.
    assert (plain["mothers"], plain["masters"], plain["lacquers"]) == (4, 2, 2)
    assert (plain["mothers_per_side"], plain["masters_per_side"], plain["lacquers_per_side"]) == (2, 1, 1)
    # By hand: 168 g each; 10 526.3 at 30 s and 85 % are 103.2 h, 22 stampers put in 18.3 h.
    assert plain["compound_kg"] == pytest.approx(10_565 * 0.168)
    assert plain["expected_press_hours"] == pytest.approx(103.2 + 22 * 50 / 60, abs=0.01)
    assert plain["press_hours"] == pytest.approx(10_565 * 30 / 0.85 / 3600 + 22 * 50 / 60, abs=1e-5)
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain


def test_lives_that_differ(title: Path) -> None:
    """By another road (renewal theory): 11.07 on the average with cv = 0.3; 13 suffice with 95 %."""
    one = the_disc(press(with_editions(title, LP), NOW))
    assert one.mean.stampers == pytest.approx(11.07, abs=0.01)
    assert one.as_dict()["formula_stampers_per_side"] == pytest.approx(11.07, abs=0.01)
    assert one.parts.stampers == 13


def test_what_each_thing_needs(title: Path) -> None:
    """By hand, two sides: labels 2 % more than two a pressing, sleeves and jackets 2 % more than the good ones."""
    plain = press(with_editions(title, LP), replace(NOW, life_cv=0.0)).as_dict()
    needs = {row["what"]: row for row in plain["needs"]}
    assert list(needs) == [
        "lacquers", "masters", "mothers", "stampers", "labels", "compound", "sleeves", "press start", "jackets",
    ]  # fmt: skip
    metal = ("lacquers", "masters", "mothers", "stampers")
    assert [(needs[what]["count"], needs[what]["begun"]) for what in metal] == [
        (2, 2), (2, 2), (4, 4), (22, 28),
    ]  # fmt: skip
    assert (needs["labels"]["count"], needs["labels"]["expected"]) == (21_553, pytest.approx(21_052.63, abs=0.01))
    assert (needs["sleeves"]["count"], needs["jackets"]["count"]) == (10_200, 10_200)
    assert needs["compound"] == {
        "what": "compound", "count": 1774.92, "begun": 1774.92, "expected": pytest.approx(1768.42, abs=0.01),
        "unit": "kg", "by": "2031-05-13",
    }  # fmt: skip
    # 121.9 h of pressing at 16 h a day are 8 working days, the last one four days before the due date.
    assert (plain["press_start"], plain["press_end"]) == ("2031-05-15", "2031-05-26")
    assert needs["press start"]["by"] == "2031-05-15"
    dates = [row["by"] for row in plain["needs"]]
    assert dates == sorted(dates)
    assert needs["jackets"]["by"] == "2031-05-27"


def test_the_chance_of_all_together(title: Path) -> None:
    """By hand: 14 stampers begun for 11 come out with 95.587 % on a side; 10 565 pressings give 10 000 with 95 %."""
    with_editions(title, LP)
    plain = press(title, replace(NOW, life_cv=0.0)).as_dict()
    assert plain["together_probability"] == pytest.approx(0.9559**2 * 0.9505, abs=6e-4)
    four = press(with_editions(title, SIDES), replace(NOW, life_cv=0.0)).as_dict()
    assert four["together_probability"] == pytest.approx(plain["together_probability"] ** 2, abs=1e-5)


def test_a_set_of_two_discs(title: Path) -> None:
    """By hand: four fixed sides are two discs, each pressed by itself."""
    one = the_disc(press(with_editions(title, LP, SIDES), replace(NOW, life_cv=0.0)))
    assert (one.sides, one.discs, one.start, one.pressings) == (4, 2, 10_565, 21_130)
    plain = one.as_dict()
    assert (plain["mothers"], plain["lacquers"], plain["stampers_per_side"]) == (8, 4, 11)
    assert (plain["labels"], plain["sleeves"], plain["jackets"]) == (43_106, 20_400, 10_200)
    assert plain["compound_kg"] == pytest.approx(21_130 * 0.168)
    assert codes(press(title, NOW)) == {}


def test_three_sides_leave_one_face_blank(title: Path) -> None:
    three = SIDES[: SIDES.index('[[edition.side]]\nletter = "D"')]
    report = press(with_editions(title, LP, three), NOW)
    one = the_disc(report)
    assert (one.sides, one.discs, one.changes) == (3, 2, 39)
    assert codes(report) == {"blank_side": "note"}


def test_sides_that_nobody_fixed_are_said(title: Path) -> None:
    report = press(with_editions(title, LP), NOW)
    assert codes(report) == {"sides_assumed": "note"}
    assert "--fix" in report.editions[0].findings[0].remedy


def test_what_is_asked_goes_before_the_settings(title: Path, tmp_path: Path) -> None:
    house = tmp_path / "house.toml"
    house.write_text("[press]\ngood_share = 0.9\n[parts]\nstamper_life = 700\nstamper_share = 0.5\n", encoding="utf-8")
    with_editions(title, LP)
    one = the_disc(press(title, NOW, house))
    assert (one.asked.share, one.life.mean, one.life.cv, one.stamper_share) == (0.9, 700.0, 0.3, 0.5)
    asked = replace(NOW, share=0.8, stamper_life=900.0, life_cv=0.1, stamper_share=0.7, quantity=20, probability=0.5)
    one = the_disc(press(title, asked, house))
    assert (one.asked.share, one.life.mean, one.life.cv, one.stamper_share) == (0.8, 900.0, 0.1, 0.7)
    assert (one.asked.good, one.start) == (20, 25)  # by hand: the median of the 20th success at 0.8 is 25


def test_the_size_of_the_disc_chooses_its_weight(title: Path) -> None:
    plain = press(with_editions(title, EP), NOW).as_dict()
    assert (plain["disc_g"], plain["cycle_s"], plain["format"]) == (41.0, 15.0, "7in-45")
    assert plain["mean_thickness_mm"] == pytest.approx(1.22, abs=0.005)  # by hand: 29.29 cm³ on 240.1 cm²


def test_cooling_and_steam(title: Path) -> None:
    """By another road (the table): 2.3 mm takes 8.417 and 11.443 s. Steam of 160 °C: 6.18 bar, 5.17 by the gauge."""
    cool = press(with_editions(title, LP), NOW).as_dict()["cooling"]
    assert (cool["mean_s"], cool["centre_s"]) == pytest.approx((8.417, 11.443), abs=1e-3)
    assert cool["valid"] is True
    assert cool["steam_gauge_bar"] == pytest.approx(5.17, abs=0.01)  # from memory: steam tables, 0.618 MPa at 160 °C


@pytest.mark.parametrize(
    ("cycle", "limit"), [(8.0, 8.417), (10.0, 11.443), (12.0, None)]
)  # fmt: skip
def test_a_cycle_below_the_floor(cycle: float, limit: float | None, title: Path, tmp_path: Path) -> None:
    house = tmp_path / "house.toml"
    house.write_text(f"[12in]\ncycle_s = {cycle}\n", encoding="utf-8")
    found = [
        one for one in press(with_editions(title, LP), NOW, house).editions[0].findings if one.code == "cooling_floor"
    ]
    assert len(found) == (limit is not None)
    for one in found:
        assert (one.severity, one.value) == ("warn", cycle)
        assert one.limit == pytest.approx(limit, abs=1e-3)


def test_a_formula_out_of_its_range(title: Path, tmp_path: Path) -> None:
    house = tmp_path / "house.toml"
    house.write_text("[press]\nopen_c = 140\n", encoding="utf-8")
    report = press(with_editions(title, LP), NOW, house)
    assert codes(report)["cooling_range"] == "note"
    assert report.as_dict()["cooling"]["valid"] is False


def test_dates_that_have_gone_by(title: Path) -> None:
    report = press(with_editions(title, LP), PressOrder(today=date(2031, 5, 8)))
    late = next(one for one in report.editions[0].findings if one.code == "late")
    first = report.editions[0].first
    assert first is not None
    assert first.by is not None
    assert (late.severity, late.value) == ("warn", (date(2031, 5, 8) - first.by).days)
    assert f"the first, lacquers, by {first.by}" in late.remedy


def test_without_a_due_date(title: Path) -> None:
    report = press(with_editions(title, EP), NOW)
    assert codes(report)["no_due_date"] == "note"
    plain = report.as_dict()
    assert {row["by"] for row in plain["needs"]} == {None}
    assert (plain["press_start"], plain["due"], report.editions[0].first) == (None, None, None)


def test_more_good_ones_than_may_be_delivered(title: Path) -> None:
    """By hand: of 13 at 0.95 12.35 are good on the average, and ten per cent over 10 are 11."""
    report = press(with_editions(title, LP), replace(NOW, quantity=10, probability=0.99))
    (note,) = [one for one in report.editions[0].findings if one.code == "overrun"]
    assert (note.value, note.limit) == pytest.approx((12.35, 11))


def test_the_quantity_that_pays_best(title: Path, tmp_path: Path) -> None:
    """Published (a package's example, scaled by hand): h = 2, p = 18, N(120, 10) → 132.8155, 35.0997."""
    house = tmp_path / "house.toml"
    house.write_text(f"[overrun]\nshort_cost = 18\nover_cost = 2\ndeviation_percent = {100 / 12}\n", encoding="utf-8")
    with_editions(title, LP)
    told = press(title, replace(NOW, quantity=120), house).as_dict()["overrun"]
    assert told == {"most": 132, "best_quantity": 132.815516, "best_cost": 35.099666}
    assert press(title, NOW).as_dict()["overrun"]["best_quantity"] is None
    house.write_text("[overrun]\nshort_cost = 18\n", encoding="utf-8")
    with pytest.raises(CallError, match="give both above 0"):
        press(title, NOW, house)


def test_a_life_that_nobody_tells_of(title: Path) -> None:
    with_editions(title, LP)
    assert codes(press(title, replace(NOW, stamper_life=5000.0)))["stamper_life"] == "note"
    assert "stamper_life" not in codes(press(title, replace(NOW, stamper_life=1500.0)))


def test_cautions_stand_with_every_disc(title: Path) -> None:
    plain = press(with_editions(title, LP), NOW).as_dict()
    assert [one["about"] for one in plain["cautions"]][:3] == ["Press", "Hot vinyl", "Extruder"]
    assert all(one["rule"] for one in plain["cautions"])
    assert "no place that it is safe" in plain["defer"]


# tapes -------------------------------------------------------------------------------------------------


def test_a_tape(title: Path) -> None:
    """By hand: 4 + 1 + 2 s against 3 + 1 + 3 s: seven each, 1.75 s at four times; 1.3335 m at 19.05 cm/s."""
    one = the_tape(press(with_editions(title, TAPE), NOW))
    plain = one.as_dict()
    assert plain["tapes"][0]["letters"] == ["A", "B"]
    assert (plain["pass_minutes"], plain["tape_m"]) == (pytest.approx(1.75 / 60, abs=1e-6), pytest.approx(1.3335))
    assert (plain["slaves"], plain["copied_top_hz"], plain["copied_time_constants_us"]) == (10, 60_000.0, [795.0, 12.5])
    assert plain["copies_per_hour"] == pytest.approx(10 * 3600 / (1.75 + 225), abs=1e-5)
    order = [(row["band"], row["side"], row["start_s"], row["end_s"]) for row in plain["tapes"][0]["order"]]
    assert order == [("b", "A", 0.0, 0.5), ("c", "B", 0.0, 0.75), ("a", "A", 0.75, 1.75), ("d", "B", 1.0, 1.75)]
    assert plain["good"] == 200
    assert plain["start"] == 208  # regression only; the rule is that of the discs
    assert [row["what"] for row in plain["needs"]] == ["labels", "running tapes", "tape", "copying start", "boxes"]
    assert plain["copying_start"] == plain["copying_end"] == "2031-05-26"
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain


def test_a_tape_with_fixed_sides(title: Path) -> None:
    """Four sides are two tapes, each copied by itself."""
    one = the_tape(press(with_editions(title, TAPE, SIDES), replace(NOW, share=1.0)))
    assert [tape.letters for tape in one.tapes] == [("A", "B"), ("C", "D")]
    assert [tape.seconds for tape in one.tapes] == [4.0, 3.0]
    plain = one.as_dict()
    assert (plain["start"], plain["passes"]) == (200, 40)
    assert {row["what"]: row["count"] for row in plain["needs"]}["running tapes"] == 2


def test_a_tape_knows_no_stampers(title: Path) -> None:
    with_editions(title, TAPE)
    with pytest.raises(CallError) as refusal:
        press(title, replace(NOW, stamper_life=500.0))
    assert str(refusal.value) == "a tape is copied without stampers; leave out their life and their yield."


# editions ----------------------------------------------------------------------------------------------


def test_several_editions(title: Path) -> None:
    with_editions(title, LP, EP, TAPE)
    plain = press(title, NOW).as_dict()
    assert list(plain) == ["editions"]
    assert [one["edition"] for one in plain["editions"]] == ["lp", "ep", "reel"]
    assert press(title, replace(NOW, edition="ep")).as_dict() == plain["editions"][1]


def test_a_million_is_no_trouble(title: Path) -> None:
    """By hand: 1 052 632 on the average; the deviation is 235."""
    one = the_disc(press(with_editions(title, LP), replace(NOW, quantity=1_000_000)))
    assert 1_052_632 < one.start < 1_052_632 + 2 * 235
    assert one.parts.stampers > one.mean.stampers


@pytest.mark.parametrize(
    ("order", "sentence"),
    [
        (
            PressOrder(edition="bare"),
            "edition “bare” has no quantity; write quantity = 300 below it in the title file, give --quantity, or name "
            "another edition with --edition.",
        ),
        (PressOrder(edition="x"), "there is no edition “x”; the title has lp, bare."),
        (PressOrder(quantity=5), "a quantity is for one edition and the title has lp, bare; name one with --edition."),
        (PressOrder(edition="lp", quantity=0), "an order of 0 cannot be pressed; give a quantity from 1 to 10000000."),
        (PressOrder(edition="lp", probability=1.0),
         "a probability of 1 cannot be kept; give more than 0 and less than 1."),
        (PressOrder(edition="lp", share=0.0), "a yield of 0 for pressings cannot be; give a share from 0.01 to 1."),
        (PressOrder(edition="lp", share=1.5), "a yield of 1.5 for pressings cannot be; give a share from 0.01 to 1."),
        (PressOrder(edition="lp", stamper_share=0.0),
         "a yield of 0 for stampers cannot be; give a share from 0.01 to 1."),
        (PressOrder(edition="lp", stamper_life=0.0),
         "a stamper life of 0 pressings is none; give a mean from 1 to 10000000."),
        (PressOrder(edition="lp", life_cv=-0.1),
         "a life that varies by -0.1 of its mean is none; give from 0 (all alike) to 3."),
    ],
)  # fmt: skip
def test_what_cannot_be(order: PressOrder, sentence: str, title: Path) -> None:
    with_editions(title, LP, '[[edition]]\nid = "bare"\nformat = "12in-33"\n')
    with pytest.raises(CallError) as refusal:
        press(title, order)
    assert str(refusal.value) == sentence


def test_a_broken_title_and_settings(title: Path, tmp_path: Path) -> None:
    with pytest.raises(TitleError):
        press(title, NOW)  # it has no edition
    with pytest.raises(SettingsError):
        press(with_editions(title, LP), NOW, tmp_path / "none.toml")
