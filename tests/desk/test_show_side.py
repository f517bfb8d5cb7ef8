"""The side page's rows: every number that of `plan.json`, every remedy as fields that the form sends back alike."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from discwright.desk.orders import changes_of
from discwright.desk.shelf import Shelf
from discwright.desk.show_side import (
    downloads,
    facts,
    finding_rows,
    form_fields,
    is_kept_file,
    plan_link,
    price_rows,
    rung_rows,
    verdict,
    what_if_form,
)
from discwright.desk.words import INCHES, Words

METRIC = Words()


def test_facts_are_the_plans(planned_folder: Path) -> None:
    document = json.loads((planned_folder / "bare" / "plan.json").read_text(encoding="utf-8"))
    told = {one.name: one.value for one in facts(document, METRIC)}
    assert told["level"] == "+18.0 dB"
    assert told["room to spare"] == f"{document['spare_mm']:.1f} mm"
    assert told["least land"] == f"{document['min_land_um']:.1f} µm"
    inches = {one.name: one.value for one in facts(document, Words(INCHES))}
    # By hand: 25.4 mm an inch.
    assert inches["room to spare"] == f"{document['spare_mm'] / 25.4:.2f} in"
    assert facts(document | {"spare_mm": -2.0}, METRIC)[1].name == "too long by"


def test_a_finding_offers_what_would_cure_it(planned_folder: Path) -> None:
    shelf = Shelf(planned_folder)
    plan = shelf.plan("bare")
    rows = {one.code: one for one in finding_rows(plan.document["findings"], plan.document, METRIC)}
    assert rows["slope"].severity == "stop"
    assert rows["slope"].try_words
    wanted = dict(rows["slope"].try_fields)
    assert wanted["level"] == "fixed"
    assert float(wanted["level_db"]) < 18.0
    # What the form sends back is what was offered.
    assert changes_of(wanted, plan).level_db == pytest.approx(float(wanted["level_db"]))
    curvature = dict(rows["curvature"].try_fields)
    assert curvature["treble_limit"] == "on"
    sent = changes_of(curvature, plan).treatments
    assert sent is not None
    assert [one.kind for one in sent] == ["treble_limit"]
    assert finding_rows(plan.document["findings"], plan.document, METRIC, offers=False)[0].try_fields == ()


def test_the_form_as_it_stands_changes_nothing(planned_folder: Path) -> None:
    plan = Shelf(planned_folder).plan("bare")
    form = what_if_form(plan.document)
    sent = {
        "level": "fixed", "level_db": form.level_db, "bass_blend_hz": form.bass_blend_hz,
        "low_cut_hz": form.low_cut_hz, "high_cut_hz": form.high_cut_hz,
        **{name: getattr(form, f"{name}s")[0].value for name in ("format", "lathe", "head", "cutting_tip", "tip")},
    }  # fmt: skip
    changes = changes_of(sent, plan)
    assert (changes.level_db, changes.treatments, changes.format) == (18.0, None, None)
    assert [one.chosen for one in form.formats].count(True) == 1


def test_treatments_stay_unless_one_of_their_fields_is_sent(planned_folder: Path) -> None:
    plan = Shelf(planned_folder).plan("bare")
    treated = plan.document | {"settings": plan.document["settings"] | {"treatments": [{"kind": "treble_limit"}]}}
    known = type(plan)(plan.id, plan.folder, treated, plan.made)
    assert changes_of({"level": "cut"}, known).treatments is None
    assert changes_of({"bass_blend_hz": "", "treble_limit": "on"}, known).treatments is None
    assert changes_of({"bass_blend_hz": ""}, known).treatments == ()
    assert form_fields({"treatments": [{"kind": "low_cut", "below_hz": 30.0}]})["low_cut_hz"] == "30"


def test_ladder_and_prices(planned_folder: Path) -> None:
    shelf = Shelf(planned_folder)
    document = shelf.plan("weather-ship~lp-A").document
    assert [one.level for one in rung_rows(document, METRIC)] == [
        f"{one['level_db']:+.1f} dB".replace("-", "−") for one in document["ladder"]
    ]
    assert [one.playing_time_min for one in price_rows(document, METRIC)] == [
        one["playing_time_min"] for one in document["prices"]
    ]
    assert rung_rows(shelf.plan("bare").document, METRIC) == ()


def test_files_and_verdicts(planned_folder: Path) -> None:
    plan = Shelf(planned_folder).plan("bare")
    assert "not ready to cut" in verdict(plan.document)
    assert plan_link(plan, METRIC).ready is False
    assert [one.name for one in downloads(plan)] == ["disc.png", "plan.json", "spiral.csv"]
    assert is_kept_file(plan, "plan.json") == plan.folder / "plan.json"
    for name in ("../bare.wav", "sheet.pdf", "", ".", "title.toml", "/etc/passwd"):
        assert is_kept_file(plan, name) is None
