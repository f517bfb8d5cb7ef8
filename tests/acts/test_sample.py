"""Sampling a lot as an act: wiring, keys, verdicts and findings. Numbers are proved where they are reckoned."""

from __future__ import annotations

from pathlib import Path

import pytest

from discwright.acts.sample import SampleOrder, read_defects, sample, write_chart
from discwright.errors import CallError, SettingsError
from discwright.files.defect_settings import load_defects


def codes(order: SampleOrder) -> list[tuple[str, str]]:
    return [(one.severity, one.code) for one in sample(order).findings]


def test_the_plan_of_the_interface() -> None:
    """By hand: letter K, 125 discs, 3 and 4."""
    told = sample(SampleOrder(2000, "II", 1.0)).as_dict()
    wanted = {"table_letter": "K", "letter": "K", "n": 125, "accept": 3, "reject": 4, "inspect_all": False}
    assert {key: told[key] for key in wanted} == wanted
    assert all(set(one) == {"percent_nonconforming", "accept_probability"} for one in told["oc"])
    assert told["oc"][0] == {"percent_nonconforming": 0.0, "accept_probability": 1.0}
    assert told["oc"][-1]["accept_probability"] < 0.005
    assert (told["accepted"], told["found"], told["classes"], told["take"]) == (None, None, [], [])
    at_aql = next(one for one in told["oc"] if one["percent_nonconforming"] == 1.0)
    assert at_aql["accept_probability"] == told["accept_probability_at_aql"] == pytest.approx(0.96255, abs=1e-5)
    assert [one["accept_probability"] for one in told["points"]] == [0.99, 0.95, 0.9, 0.5, 0.1, 0.05]
    # Reference, Poisson at 95, 50 and 10 %.
    poisson = [told["points_poisson"][k]["percent_nonconforming"] for k in (1, 3, 4)]
    assert poisson == pytest.approx((1.093, 2.938, 5.345), abs=0.005)


def test_without_an_aql_each_class_by_the_settings() -> None:
    told = sample(SampleOrder(2000)).as_dict()
    assert (told["level"], told["aql"]) == ("II", 1.0)
    assert [(one["class"], one["rule"], one["n"], one["accept"]) for one in told["classes"]] == [
        ("critical", "none", 125, 0), ("major", 1.0, 125, 3), ("minor", 2.5, 125, 7),
    ]  # fmt: skip
    assert [one["letter"] for one in told["classes"]] == [None, "K", "K"]


def test_an_aql_given_is_that_of_the_major_class() -> None:
    told = sample(SampleOrder(2000, aql=0.65, found={"major": 2})).as_dict()
    assert [(one["class"], one["rule"], one["accept"]) for one in told["classes"]] == [
        ("critical", "none", 0), ("major", 0.65, 2), ("minor", 2.5, 7),
    ]  # fmt: skip
    assert told["accepted"] is True


@pytest.mark.parametrize(("found", "accepted"), [(0, True), (3, True), (4, False)])
def test_a_verdict_by_one_count(found: int, accepted: bool) -> None:
    order = SampleOrder(2000, "II", 1.0, found=found)
    assert sample(order).accepted is accepted
    assert codes(order) == ([] if accepted else [("stop", "lot_refused")])


def test_a_verdict_by_class() -> None:
    report = sample(SampleOrder(2000, found={"critical": 1, "major": 3, "minor": 9}))
    assert report.accepted is False
    told = report.as_dict()
    assert [(one["found"], one["accepted"]) for one in told["classes"]] == [(1, False), (3, True), (9, False)]
    assert [(one.value, one.limit, one.unit) for one in report.findings] == [
        (1, 0, "critical disc"), (9, 7, "minor discs"),
    ]  # fmt: skip
    assert report.findings[0].remedy == (
        "1 critical where none may be found. The lot is not accepted: hold it, then sort it or scrap it."
    )


def test_a_verdict_by_words() -> None:
    report = sample(SampleOrder(2000, defects=["scratch", "12:pit/heard", "12:stain"]))
    assert report.accepted is True
    assert [one["found"] for one in report.as_dict()["classes"]] == [0, 1, 1]


def test_words_as_counts() -> None:
    house = load_defects()
    assert read_defects(["12:stain", "012:jump", "pit/heard", "pit/heard", "bump/jumps"], house, 2000) == {
        "critical": 2, "major": 2,
    }  # fmt: skip
    assert read_defects([], house, 2000) == {}


def test_notes() -> None:
    assert codes(SampleOrder(2000, aql=1.0)) == []
    assert codes(SampleOrder(40, aql=0.65)) == [("note", "followed_arrow")]
    assert codes(SampleOrder(3, aql=6.5)) == []
    assert codes(SampleOrder(3, aql=4.0)) == [("note", "followed_arrow"), ("note", "inspect_all")]
    assert codes(SampleOrder(8, aql=10.0)) == [("note", "followed_arrow"), ("note", "unsettled_cell")]
    assert codes(SampleOrder(8, aql=10.0, inspection="tightened")) == [("note", "unsettled_cell")]


def test_a_lot_inspected_whole_says_so() -> None:
    told = sample(SampleOrder(3, aql=4.0, found=0)).as_dict()
    assert (told["n"], told["table_n"], told["inspect_all"], told["oc_method"]) == (3, 3, True, "full inspection")
    assert told["points"] == told["points_poisson"] == []
    assert {one["accept_probability"] for one in told["oc"]} == {0.0, 1.0}


def test_discs_to_take() -> None:
    """So many as the largest sample of all classes wants."""
    assert len(sample(SampleOrder(50, aql=2.5, seed=1)).take) == 5
    report = sample(SampleOrder(50, seed=1))
    assert len(report.take) == 13
    assert report.take == sample(SampleOrder(50, seed=1)).take != sample(SampleOrder(50, seed=2)).take


def test_a_chart_replaces_nothing(tmp_path: Path) -> None:
    path = tmp_path / "oc.svg"
    report = write_chart(sample(SampleOrder(2000)), path)
    assert report.as_dict()["chart"] == str(path)
    before = path.read_bytes()
    with pytest.raises(CallError, match="is there already; choose another name for the chart, or move that file away"):
        write_chart(report, path)
    assert path.read_bytes() == before


def test_a_house_of_its_own(tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    file.write_text('[inspection]\nlevel = "S-4"\n[aql]\nmajor = "none"\n', encoding="utf-8")
    told = sample(SampleOrder(35_001), settings=file).as_dict()
    assert (told["level"], told["table_letter"], told["aql"]) == ("S-4", "J", 2.5)  # of the minor class
    file.write_text('[aql]\ncritical = "all"\nmajor = "all"\nminor = "all"\n', encoding="utf-8")
    with pytest.raises(CallError, match="the settings give no class an AQL; give --aql"):
        sample(SampleOrder(2000), settings=file)
    assert sample(SampleOrder(2000, aql=1.0), settings=file).plan.n == 125
    with pytest.raises(SettingsError):
        sample(SampleOrder(2000), settings=tmp_path / "none.toml")


@pytest.mark.parametrize(
    ("order", "sentence"),
    [
        (SampleOrder(2000, aql=1.0, found=126), "126 nonconforming discs cannot be in a sample of 125; count again."),
        (SampleOrder(2000, found=2), "one count does not say of which class; write --found major=2, or give --aql."),
        (
            SampleOrder(2000, found=2, aql=1.0, defects=["pit"]),
            "what was found is told in counts or in words; give one of them.",
        ),
        (SampleOrder(2000, found={"bad": 2}), "there is no defect class “bad”; choose from critical, major, minor."),
        (SampleOrder(2000, defects=["x:pit"]), "“x:pit”: “x” is no disc of a lot of 2000; write for example 12:pit."),
        (SampleOrder(2000, defects=["0:pit"]), "“0:pit”: “0” is no disc of a lot of 2000; write for example 12:pit."),
        (SampleOrder(9, defects=["10:pit"]), "“10:pit”: “10” is no disc of a lot of 9; write for example 12:pit."),
        (SampleOrder(2000, defects=["pit/loud"]), "a defect cannot be “loud”; choose from seen, heard, jumps."),
        (SampleOrder(2000, defects=["pit/"]), "a defect cannot be “”; choose from seen, heard, jumps."),
        (SampleOrder(2000, defects=["pit"] * 10_001), "10001 defects are more than a sample has; give at most 10000."),
    ],
)
def test_orders_that_cannot_be(order: SampleOrder, sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        sample(order)
    assert str(refusal.value) == sentence
