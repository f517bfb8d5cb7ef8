"""The acts of the ledger from Python, and the run card of a part."""

from __future__ import annotations

import csv
from pathlib import Path

import pdfplumber
import pytest

import discwright
from discwright.acts.demo_works import write_ledger
from discwright.acts.hall_ledger import kept_schedule
from discwright.acts.plan import plan_file
from discwright.acts.recalls import recalls
from discwright.acts.works import Cutting, Hand
from discwright.acts.works_record import Said, event_name, takes
from discwright.errors import CallError, SettingsError
from discwright.files.works_settings import load_limits
from discwright.works.events import EVENTS
from discwright.works.parts import Limits
from discwright.works.store.ledger import Ledger

ANN = Hand("Ann", "lathe")


@pytest.fixture(scope="module")
def plan(side: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("planned") / "plan"
    plan_file(side, level_db=0.0, out=folder, only=())
    return folder


def title_file(folder: Path, side: Path, *editions: str) -> Path:
    path = folder / "title.toml"
    blocks = "".join(f'[[edition]]\nid = "{one}"\nformat = "12in-33"\n' for one in editions)
    path.write_text(
        f'[title]\nname = "Tidemarks"\ncatalogue = "TM 7"\n[[band]]\nid = "a"\nname = "A"\nfile = "{side}"\n{blocks}'
    )
    return path


@pytest.fixture
def ledger(tmp_path: Path, side: Path) -> Ledger:
    made: Ledger = discwright.begin_ledger(str(tmp_path / "works.sqlite"))
    discwright.take_in(made, title_file(tmp_path, side, "lp"), ANN)
    return made


def test_the_edition_is_found_by_the_format(ledger: Ledger, plan: Path) -> None:
    planned = discwright.read_planned(plan)
    outcome = discwright.cut(ledger, planned, "TM 7", "A", Cutting("B 7"), ANN)
    assert outcome.line is not None
    assert outcome.line.data["edition"] == "lp"
    # Keeping the plan came first, by the same hand.
    assert [line.kind for line in ledger.lines(title="TM 7")] == ["title_taken_in", "plan_kept", "lacquer_cut"]
    assert outcome.line.data["fingerprint"] == planned.fingerprint
    again = discwright.cut(ledger, planned, "TM 7", "A", Cutting("B 7"), ANN)
    assert again.line is not None
    assert again.line.seq == outcome.line.seq + 1  # the plan is kept once


def test_a_title_is_known_by_number_part_and_name(ledger: Ledger, plan: Path) -> None:
    lacquer = discwright.cut(ledger, discwright.read_planned(plan), "tidemarks", "A", Cutting("B 7"), ANN).line.part
    for text in ("TM 7", " TM  7 ", "tm7", lacquer, lacquer.lower(), "Tidemarks"):
        assert discwright.tree(ledger, text)["title"] == "TM 7"
    for text in ("TM", "Tide", "LA99-9", "nothing"):
        with pytest.raises(CallError):
            discwright.tree(ledger, text)


def test_several_editions_must_be_told_apart(tmp_path: Path, side: Path, plan: Path) -> None:
    made = discwright.begin_ledger(str(tmp_path / "works.sqlite"))
    discwright.take_in(made, title_file(tmp_path, side, "lp", "again"), ANN)
    planned = discwright.read_planned(plan)
    with pytest.raises(CallError, match=r"several editions .* --edition lp\|again"):
        discwright.cut(made, planned, "TM 7", "A", Cutting("B 7"), ANN)
    assert discwright.keep_plan(made, planned, "TM 7", "A", ANN, edition="again").line is not None


def test_a_title_without_catalogue_number(tmp_path: Path, side: Path) -> None:
    made = discwright.begin_ledger(str(tmp_path / "works.sqlite"))
    path = title_file(tmp_path, side, "lp")
    path.write_text(path.read_text().replace('catalogue = "TM 7"\n', ""))
    with pytest.raises(CallError, match="has no catalogue number"):
        discwright.take_in(made, path, ANN)


def test_a_correction_keeps_what_is_not_said_again(ledger: Ledger, plan: Path) -> None:
    lacquer = discwright.cut(ledger, discwright.read_planned(plan), "TM 7", "A", Cutting("B 7"), ANN).line.part
    wrong = discwright.record(ledger, lacquer, "measured", Said(value=1.02, unit="mm", more={"where": "rim"}), ANN)
    discwright.correct(ledger, wrong.line.seq, "a slip", ANN, instead=Said(value=1.2, unit="mm"))
    assert ledger.family("TM 7").parts[lacquer].thickness_um == pytest.approx(1200.0)
    kinds = [one["kind"] for one in discwright.tree(ledger, "TM 7")["parts"][0]["events"]]
    assert kinds == ["lacquer_cut", "measured", "corrected"]
    with pytest.raises(CallError, match="takes no “wear”"):
        discwright.correct(ledger, wrong.line.seq, "x", ANN, instead=Said(more={"wear": "rim"}))


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("weighed", "weighed"),
        ("Put to press", "put_to_press"),
        ("back-sanded", "back_sanded"),
        ("checked", "checked_under_the_microscope"),
    ],
)
def test_events_are_read_as_people_write_them(typed: str, name: str) -> None:
    assert event_name(typed) == name


@pytest.mark.parametrize(
    ("value", "unit", "field", "inside"),
    [
        # by hand: exact definitions of the units.
        (0.1765, "kg", "mass_g", 176.5),
        (6.0, "oz", "mass_g", 170.097138750),
    ],
)
def test_units_are_converted_at_the_door(
    ledger: Ledger, plan: Path, value: float, unit: str, field: str, inside: float
) -> None:
    lacquer = discwright.cut(ledger, discwright.read_planned(plan), "TM 7", "A", Cutting("B 7"), ANN).line.part
    outcome = discwright.record(ledger, lacquer, "weighed", Said(value=value, unit=unit), ANN)
    assert outcome.line.data[field] == pytest.approx(inside, rel=1e-12)


def test_every_event_says_what_it_takes() -> None:
    for kind in EVENTS:
        assert all(words for _, words, _, _ in takes(kind))


def test_limits_of_the_house(tmp_path: Path) -> None:
    assert load_limits() == Limits()  # shipped file and code agree
    own = tmp_path / "works.toml"
    own.write_text("[limits]\npress_life = { value = 800, source = 'ours' }\napprovals = 2\n")
    assert load_limits(own) == Limits(press_life=800, approvals=2)
    for text, words in (("", "has no table"), ("[limits]\nlife = 1", "is no limit"), ("[limits", "cannot be read")):
        own.write_text(text)
        with pytest.raises(SettingsError, match=words):
            load_limits(own)
    with pytest.raises(SettingsError, match="there is no such file"):
        load_limits(tmp_path / "none.toml")


def test_a_card_for_what_grows_next(ledger: Ledger, plan: Path, tmp_path: Path) -> None:
    lacquer = discwright.cut(ledger, discwright.read_planned(plan), "TM 7", "A", Cutting("B 7"), ANN).line.part
    card = tmp_path / "card.pdf"
    report = discwright.write_part_card(ledger, lacquer, card)
    assert report.kind == "master"
    with pdfplumber.open(card) as pages:
        text = pages.pages[0].extract_text()
    assert f"on {lacquer}" in text
    assert "Tidemarks" in text
    assert ledger.head()[1] in text
    with pytest.raises(CallError, match="is there already"):
        discwright.write_part_card(ledger, lacquer, card)
    with pytest.raises(CallError, match="is cut and not grown"):
        discwright.write_part_card(ledger, lacquer, tmp_path / "own.pdf", own=True)
    master = discwright.grow(ledger, lacquer, "master", ANN).line.part
    own = discwright.write_part_card(ledger, master, tmp_path / "own.pdf", own=True)
    assert (own.kind, own.grown_on) == ("master", "lacquer")


def test_a_card_is_for_the_blank_that_was_cut(ledger: Ledger, plan: Path, tmp_path: Path) -> None:
    cutting = Cutting("B 7", blank_mm=355.6)
    line = discwright.cut(ledger, discwright.read_planned(plan), "TM 7", "A", cutting, ANN).line
    discwright.correct(ledger, line.seq, "a smaller one", ANN, instead=Said(more={"blank_mm": 254.0}))
    master = discwright.grow(ledger, line.part, "master", ANN).line.part
    report = discwright.write_part_card(ledger, master, tmp_path / "card.pdf")
    # published: reference table of plates, 254 mm takes 51 A at 10 A/dm2 (tolerance: its rounding).
    assert report.as_dict()["most_amperes"] == pytest.approx(51, abs=0.5)
    bare = discwright.cut(ledger, discwright.read_planned(plan), "TM 7", "A", Cutting("B 8"), ANN).line.part
    usual = discwright.write_part_card(ledger, bare, tmp_path / "usual.pdf")
    assert usual.as_dict()["diameter_mm"] == 355.6  # house default where the ledger does not say


def test_the_demos_week(ledger: Ledger, plan: Path, tmp_path: Path, side: Path) -> None:
    folder = tmp_path / "demo"
    folder.mkdir()
    path = title_file(folder, side, "lp", "ep")
    plans = {(edition, letter): plan for edition in ("lp", "ep") for letter in "AB"}
    made = write_ledger(path, plans)
    assert made == folder / "works.sqlite"
    assert [one.name for one in folder.glob(".*")] == []
    told = discwright.open_ledger(str(made))
    family = told.family("TM 7")
    assert [one for one in family.findings if one["severity"] == "stop"] == []
    assert {part.state for part in family.parts.values()} >= {"cut", "spent", "refused", "at_press", "separated"}
    runs = list(family.yard.runs.values())
    assert [(one.made, one.good) for one in runs] == [(320, 311), (235, 229)]
    ordered = sum(one.line.count for one in family.yard.orders.values())
    loaded = sum(one.loaded for one in family.yard.orders.values())
    packed = sum(one.packed for one in family.yard.orders.values())
    # By hand: 580 ordered and 538 good, one disc less of each lot's sample.
    assert (ordered, packed, sum(one.open for one in family.yard.orders.values())) == (580, 538, 42)
    assert 0 < loaded < packed
    schedule = kept_schedule(told)
    assert schedule is not None
    assert [one["edition"] for one in schedule["schedule"]] == ["TM 7/ep"]  # the long-player waits for its test play
    assert (folder / "hall.toml").is_file()
    papers = {one.name for one in (folder / "dispatch").iterdir()}
    assert papers == {"orders.csv", "labels.pdf", "manifest.csv", "pick-list.csv"}
    # The recall of one stamper names just the accounts with its discs: by another road, from the manifest.
    first = runs[0].stampers["A"]
    with open(folder / "dispatch" / "manifest.csv", encoding="utf-8-sig", newline="") as file:
        listed = {row["account"] for row in csv.DictReader(file) if row["run"] == runs[0].id}
    reached = recalls(told, first)
    assert {one.account for one in reached.accounts} == listed
    assert 0 < len(listed) < 6
    times = [line.at for line in told.lines()]
    assert times == sorted(times)
    assert not any(line.clock for line in told.lines())
    assert write_ledger(path, plans) is None  # one that is there stays as it is
