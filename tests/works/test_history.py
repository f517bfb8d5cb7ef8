"""Folding: what each step leaves behind, corrections, and that batches make no difference."""

from __future__ import annotations

from dataclasses import asdict

import pytest
from telling import TITLE, Teller

from discwright.works.chain import Line
from discwright.works.family import STATES, Family, family_as_dict, family_from
from discwright.works.history import corrected, fold, fold_title, step


def test_a_line_of_parts_from_lacquer_to_press() -> None:
    told = Teller()
    lacquer, master, mother, stamper = told.line_of_parts()
    assert [told.part(one).sign for one in (lacquer, master, mother, stamper)] == ["+", "-", "+", "-"]
    assert told.part(lacquer).state == "spent"
    assert told.part(stamper).state == "plated"
    told.say("separated", stamper)
    told.say("test_played", mother, count=2)
    told.say("approved", mother)
    told.say("put_to_press", stamper, press="3")
    assert told.part(stamper).state == "at_press"
    told.say("taken_off", stamper, count=480)
    told.say("put_to_press", stamper)
    told.say("taken_off", stamper, count=20)
    assert (told.part(stamper).pressings, told.part(stamper).state) == (500, "taken_off")
    assert (told.part(mother).faults, told.part(mother).played) == (2, True)
    assert told.family.findings == ()


def test_how_many_faults_a_play_found() -> None:
    told = Teller()
    mother = told.line_of_parts()[2]
    ticks = [{"kind": "tick", "turn": k, "angle_deg": 1.5, "audible": k < 2} for k in range(5)]
    # by hand: as it was said; as many as were told of; none where a capture was examined; unknown where nobody said.
    for data, faults, audible in (
        ({"count": 7, "defects": ticks}, 7, 2), ({"defects": ticks}, 5, 2), ({"count": 2}, 2, None),
        ({"capture_sha256": "0" * 64}, 0, None), ({}, None, None),
    ):  # fmt: skip
        told.say("test_played", mother, **data)  # type: ignore[arg-type]
        assert (told.part(mother).faults, told.part(mother).audible) == (faults, audible)


def test_marks_are_the_union_of_the_ancestors() -> None:
    told = Teller()
    lacquer, master, mother, stamper = told.line_of_parts()
    second = told.grow(mother, mark="S2")
    # by hand, after the rule "a mark put on a part shows on that part and on all below it".
    assert told.part(lacquer).marks == told.part(master).marks == ("HL 12 A",)
    assert told.part(mother).marks == ("HL 12 A", "M1")
    assert told.part(stamper).marks == ("HL 12 A", "M1", "S1")
    assert told.part(second).marks == ("HL 12 A", "M1", "S2")


def test_growing_uses_up_the_film() -> None:
    told = Teller()
    master = told.grow(told.cut())
    told.say("passivated", master)
    assert told.part(master).passivated
    told.grow(master, passivate=False)
    assert not told.part(master).passivated


def test_growing_the_next_shows_that_the_last_came_off() -> None:
    told = Teller()
    master = told.grow(told.cut())
    first, second = told.grow(master), told.grow(master)
    assert [told.part(one).state for one in (master, first, second)] == ["separated", "separated", "plated"]


def test_parting_entered_at_the_lacquer() -> None:
    told = Teller()
    lacquer = told.cut()
    master = told.grow(lacquer)
    told.say("separated", lacquer)
    assert (told.part(lacquer).state, told.part(master).state) == ("spent", "separated")


def test_numbers_of_a_part() -> None:
    told = Teller()
    _, _, _, stamper = told.line_of_parts()
    told.say("weighed", stamper, mass_g=176.5)
    told.say("measured", stamper, thickness_um=205.0)
    told.say("vaulted", stamper, place="shelf 4")
    part = told.part(stamper)
    assert (part.mass_g, part.thickness_um, part.place, part.state) == (176.5, 205.0, "shelf 4", "vaulted")
    assert part.done == ("plated", "weighed", "measured", "vaulted")


def test_a_verdict_at_the_press_moves_nothing() -> None:
    told = Teller()
    _, _, mother, stamper = told.line_of_parts()
    told.say("approved", mother)
    told.say("put_to_press", stamper)
    told.say("refused", stamper)
    assert (told.part(stamper).state, told.part(stamper).verdict) == ("at_press", "refused")
    assert told.say("taken_off", stamper, count=5) == ()


def test_approval_is_counted_by_person_and_begins_anew_after_a_refusal() -> None:
    told = Teller()
    mother = told.line_of_parts()[2]
    for by in ("Ann", "Ann", "Bo"):
        told.say("approved", mother, by=by)
    assert told.part(mother).approved_by == ("Ann", "Bo")
    told.say("refused", mother)
    told.say("approved", mother, by="Cy")
    assert told.part(mother).approved_by == ("Cy",)


# Corrections -------------------------------------------------------------------------------------------


def test_an_undone_line_is_as_if_it_had_never_been() -> None:
    told, other = Teller(), Teller()
    mother = told.line_of_parts()[2]
    other.line_of_parts()
    told.say("refused", mother)
    told.say("corrected", mother, seq=len(told.lines), note="meant another")
    told.say("weighed", mother, mass_g=400.0)
    other.pass_hours(2 / 60)
    other.say("weighed", mother, mass_g=400.0)
    mine, theirs = asdict(told.part(mother)), asdict(other.part(mother))
    assert mine.pop("last") - theirs.pop("last") == 2
    assert mine == theirs


def test_a_line_put_right_says_the_other_thing() -> None:
    told = Teller()
    _, _, mother, stamper = told.line_of_parts()
    told.say("approved", mother)
    told.say("put_to_press", stamper)
    told.say("taken_off", stamper, count=4800)
    told.say("corrected", stamper, seq=len(told.lines), instead={"count": 480})
    assert told.part(stamper).pressings == 480
    told.say("corrected", stamper, seq=len(told.lines) - 1, instead={"count": 481})
    assert told.part(stamper).pressings == 481  # the last word counts


def test_a_correction_can_be_corrected() -> None:
    told = Teller()
    mother = told.line_of_parts()[2]
    told.say("refused", mother)
    told.say("corrected", mother, seq=len(told.lines))
    assert told.part(mother).verdict == ""
    told.say("corrected", mother, seq=len(told.lines))
    assert told.part(mother).verdict == "refused"


def test_an_undone_birth_takes_the_part_away_and_back() -> None:
    told = Teller()
    _, _, mother, stamper = told.line_of_parts()
    told.say("corrected", stamper, seq=told.part(stamper).born)
    assert stamper not in told.family.parts
    assert told.part(mother).children == ()
    told.say("corrected", stamper, seq=len(told.lines))
    assert told.part(mother).children == (stamper,)


def test_corrected_lines_keep_their_place() -> None:
    told = Teller()
    mother = told.line_of_parts()[2]
    told.say("weighed", mother, mass_g=1.0)
    told.say("corrected", mother, seq=len(told.lines), instead={"mass_g": 2.0})
    assert [line.seq for line in corrected(told.lines)] == [line.seq for line in told.lines]


# Batches, and lines nobody expects ---------------------------------------------------------------------


@pytest.mark.parametrize("cut", range(1, 12))
def test_batches_make_no_difference(cut: int) -> None:
    told = Teller()
    _, _, mother, stamper = told.line_of_parts()
    told.say("approved", mother)
    told.say("put_to_press", stamper)
    told.say("taken_off", stamper, count=3)
    at_once = fold(told.lines)[TITLE]
    in_two = fold(told.lines[cut:], fold(told.lines[:cut]))[TITLE]
    assert at_once == in_two == told.family


def test_a_family_comes_back_from_plain_values() -> None:
    told = Teller(press_life=700)
    told.line_of_parts()
    told.say("put_to_press", told.cut())
    assert family_from(family_as_dict(told.family)) == told.family
    assert family_as_dict(told.family)["limits"]["press_life"] == 700


@pytest.mark.parametrize(
    ("kind", "part", "data"),
    [
        ("weighed", "ST99-1", {"mass_g": 1.0}),
        ("weighed", "", {"mass_g": "heavy"}),
        ("moulded", "", {}),
        ("plated", "ST99-1", {"parent": "MO98-1", "part_kind": "stamper"}),
        ("lacquer_cut", "", {"side": "A", "fingerprint": "", "programme_sha256": "", "lacquer_batch": ""}),
    ],
)
def test_any_line_folds_and_an_impossible_one_changes_nothing(kind: str, part: str, data: dict[str, object]) -> None:
    told = Teller()
    told.line_of_parts()
    before = told.family.parts
    line = Line(99, "2026-03-09T00:00:00.000000+00:00", "Ann", "", TITLE, part, kind, data, "k99")
    after, found = step(told.family, line)
    assert [one.code for one in found] == ["impossible"]
    assert after.parts == before


def test_states_are_those_that_have_words() -> None:
    told = Teller()
    lacquer, _, mother, stamper = told.line_of_parts()
    for kind in ("scrapped", "recalled"):
        told.say(kind, stamper)
    told.say("silvered", told.cut("B"))
    assert {part.state for part in told.family.parts.values()} <= set(STATES)
    assert told.part(stamper).state == "scrapped"
    assert (told.part(lacquer).kind, told.part(mother).kind) == ("lacquer", "mother")


def test_a_title_nobody_took_in() -> None:
    line = Line(1, "2026-03-09T00:00:00.000000+00:00", "Ann", "", "X", "", "test_cut_measured", {"width_um": 50.0}, "k")
    family = fold_title([line], Family("X"))
    assert [one["code"] for one in family.findings] == ["impossible"]
