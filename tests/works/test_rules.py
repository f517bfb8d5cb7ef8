"""What must not happen is found, at its line, and everything else is not."""

from __future__ import annotations

import pytest
from telling import Teller

from discwright.works.against import IMPOSSIBLE, is_approved, released


def stops(told: Teller) -> list[str]:
    return [one.code for one in told.found if one.severity == "stop"]


# Impossible --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("place", "kind", "words"),
    [
        (0, "stamper", "From a lacquer grows a master"),
        (0, "mother", "has the same sign"),
        (1, "master", "has the same sign"),
        (1, "stamper", "has the same sign"),
        (2, "master", "From a mother grows a stamper"),
        (2, "lacquer", "has the same sign"),
        (3, "mother", "nothing is grown from a stamper"),
    ],
)
def test_only_the_next_generation_grows(place: int, kind: str, words: str) -> None:
    # published: reference table of the family; the sign flips each generation.
    told = Teller()
    parent = told.line_of_parts()[place]
    told.say("plated", "MO90-1", parent=parent, part_kind=kind)
    assert told.codes() == [IMPOSSIBLE]
    assert words in told.found[0].remedy
    assert told.found[0].remedy.endswith(".")


@pytest.mark.parametrize(
    ("kind", "wrong"),
    [
        ("silvered", (1, 2, 3)),
        ("passivated", (0,)),
        ("back_sanded", (0, 2)),
        ("formed", (0, 2)),
        ("trimmed", (0,)),
        ("put_to_press", (0, 2)),
        ("taken_off", (0, 1, 2, 3)),
    ],
)
def test_what_does_not_fit_a_part_is_impossible(kind: str, wrong: tuple[int, ...]) -> None:
    for place in range(4):
        told = Teller()
        parts = told.line_of_parts()
        told.say(kind, parts[place], count=1 if kind == "taken_off" else None)
        assert (told.codes() == [IMPOSSIBLE]) == (place in wrong or (kind == "silvered" and place == 0))


def test_a_scrapped_part_is_not_used_again() -> None:
    told = Teller()
    _, _, mother, stamper = told.line_of_parts()
    told.say("approved", mother)
    told.say("scrapped", stamper)
    for kind in ("put_to_press", "weighed", "approved", "handed_over", "scrapped"):
        told.say(kind, stamper, mass_g=1.0 if kind == "weighed" else None)
        assert told.codes() == [IMPOSSIBLE], kind
    told.say("scrapped", mother)
    told.grow(mother, passivate=False)
    assert told.codes() == [IMPOSSIBLE]


def test_what_was_grown_from_a_scrapped_part_goes_on() -> None:
    # by hand: a mother that is worn out says nothing against her stampers.
    told = Teller()
    _, _, mother, stamper = told.line_of_parts()
    told.say("approved", mother)
    told.say("scrapped", mother)
    assert told.say("put_to_press", stamper) == ()


def test_at_the_press_and_off_it() -> None:
    told = Teller()
    _, _, mother, stamper = told.line_of_parts()
    told.say("approved", mother)
    told.say("put_to_press", stamper)
    for kind in ("put_to_press", "back_sanded", "vaulted", "scrapped"):
        told.say(kind, stamper)
        assert told.codes() == [IMPOSSIBLE], kind
    told.say("taken_off", stamper, count=1)
    assert told.found == ()


def test_sides_and_editions_must_be_known() -> None:
    told = Teller()
    told.cut("C")
    assert "its sides are A, B" in told.found[0].remedy
    told.cut("A", edition="single")
    assert "its editions are lp" in told.found[0].remedy


def test_a_number_is_given_once() -> None:
    told = Teller()
    lacquer = told.cut()
    told.serial -= 1
    told.cut()
    assert told.codes() == [IMPOSSIBLE]
    assert list(told.family.parts) == [lacquer]


# Unsafe ------------------------------------------------------------------------------------------------


def test_metal_on_bare_metal() -> None:
    # published: reference 1.7, without passivation the two parts cannot be separated.
    told = Teller()
    master = told.grow(told.cut())
    told.grow(master, passivate=False)
    assert stops(told) == ["passivation"]
    told.grow(master)
    assert stops(told) == []
    told.grow(master, passivate=False)
    assert stops(told) == ["passivation"]


def test_one_negative_per_lacquer_unless_said_otherwise() -> None:
    # published: reference, one negative per lacquer.
    told = Teller()
    lacquer = told.cut()
    told.grow(lacquer)
    told.grow(lacquer)
    assert stops(told) == ["generation"]
    other = Teller(negatives_per_lacquer=2)
    lacquer = other.cut()
    other.grow(lacquer)
    other.grow(lacquer)
    assert stops(other) == []


@pytest.mark.parametrize("place", [1, 2])
def test_ten_from_one_and_no_more(place: int) -> None:
    # published: reference, up to 10 mothers a master and up to 10 stampers a mother.
    told = Teller()
    parent = told.line_of_parts()[place]
    for _ in range(9):
        told.grow(parent)
        assert stops(told) == []
    told.grow(parent)
    assert stops(told) == ["generation"]
    assert (told.found[0].value, told.found[0].limit) == (11, 10)


def test_a_lacquer_waits_three_days_at_most() -> None:
    # published: reference (cutting), a plant asks for plating within 48-72 h.
    told = Teller()
    lacquer = told.cut()
    told.pass_hours(71.9)
    told.say("silvered", lacquer)
    assert told.found == ()
    told.pass_hours(0.2)
    told.grow(lacquer)
    assert stops(told) == ["lacquer_late"]
    assert told.found[0].value == pytest.approx(72.1, abs=0.1)


def test_a_plan_whose_audio_changed() -> None:
    told = Teller()
    plan = {"edition": "lp", "fingerprint": "1" * 64, "programme_sha256": "a" * 64}
    told.say("plan_kept", side="A", **plan)
    lacquer = told.cut()
    assert told.found == ()
    told.say("plan_kept", side="A", **plan | {"programme_sha256": "b" * 64})
    told.cut()
    assert stops(told) == ["audio_changed"]
    told.say("silvered", lacquer)
    assert stops(told) == ["audio_changed"]
    told.grow(lacquer)
    assert stops(told) == ["audio_changed"]
    told.cut("B")
    assert told.found == ()  # the other side has a plan of its own


def test_another_plan_of_the_same_audio_is_no_matter() -> None:
    told = Teller()
    told.say("plan_kept", side="A", edition="lp", fingerprint="1" * 64, programme_sha256="a" * 64)
    lacquer = told.cut()
    told.say("plan_kept", side="A", edition="lp", fingerprint="2" * 64, programme_sha256="a" * 64)
    told.grow(lacquer)
    assert told.found == ()


def test_stampers_of_a_lacquer_that_no_longer_matches_stay_out_of_the_press() -> None:
    told = Teller()
    told.say("plan_kept", side="A", edition="lp", fingerprint="1" * 64, programme_sha256="a" * 64)
    _, _, mother, stamper = told.line_of_parts()
    told.say("approved", mother)
    told.say("plan_kept", side="A", edition="lp", fingerprint="2" * 64, programme_sha256="b" * 64)
    told.say("put_to_press", stamper)
    assert stops(told) == ["audio_changed"]


def test_no_press_from_an_unapproved_family() -> None:
    for place in (None, 0, 1):  # lacquer and master cannot be heard on an ordinary tip
        told = Teller()
        parts = told.line_of_parts()
        if place is not None:
            told.say("approved", parts[place])
        told.say("put_to_press", parts[3])
        assert stops(told) == ["unapproved"]
    other = Teller()
    _, _, mother, stamper = other.line_of_parts()
    other.say("approved", mother)
    assert other.say("put_to_press", stamper) == ()


def test_a_stamper_that_was_heard_speaks_for_its_sisters() -> None:
    told = Teller()
    _, master, mother, stamper = told.line_of_parts()
    sister = told.grow(mother)
    stranger = told.grow(told.grow(master))
    told.say("approved", stamper)
    assert told.say("put_to_press", sister) == ()
    told.say("put_to_press", stranger)  # its mother was never heard
    assert stops(told) == ["unapproved"]


def test_the_master_as_a_stamper() -> None:
    # published: reference, a master can be used as a stamper.
    told = Teller()
    master = told.grow(told.cut())
    told.say("put_to_press", master)
    assert stops(told) == ["unapproved"]
    other = Teller()
    master = other.grow(other.cut())
    other.say("approved", master)
    assert other.say("put_to_press", master) == ()


@pytest.mark.parametrize("verdict", ["refused", "recalled"])
@pytest.mark.parametrize("place", range(4))
def test_no_press_and_no_growth_below_a_part_that_failed(verdict: str, place: int) -> None:
    told = Teller()
    parts = told.line_of_parts()
    told.say("approved", parts[2])
    told.say("approved", parts[3])
    told.say(verdict, parts[place])
    told.say("put_to_press", parts[3])
    assert stops(told) == ["failed_part"]
    assert f"was {verdict}" in told.found[0].remedy
    told.grow(parts[2])
    assert ("failed_part" in stops(told)) == (place < 3)


def test_a_second_person() -> None:
    told = Teller(approvals=2)
    _, _, mother, stamper = told.line_of_parts()
    told.say("approved", mother, by="Ann")
    told.say("approved", mother, by="Ann")
    assert not is_approved(told.family, told.part(mother))
    told.say("approved", mother, by="Bo")
    assert released(told.family, told.part(stamper))


def test_press_life() -> None:
    told = Teller(press_life=600)
    _, _, mother, stamper = told.line_of_parts()
    told.say("approved", mother)
    told.say("put_to_press", stamper)
    told.say("taken_off", stamper, count=600)
    assert told.found == ()
    told.say("put_to_press", stamper)
    assert stops(told) == ["press_life"]
    told.say("taken_off", stamper, count=1)
    assert [(one.code, one.severity, one.value) for one in told.found] == [("press_life", "warn", 601)]


def test_a_tip_over_its_hours() -> None:
    told = Teller()
    told.cut(tip="T4", tip_hours=20.0)
    assert told.found == ()
    told.cut("B", tip="T4", tip_hours=20.5)
    assert [(one.code, one.severity) for one in told.found] == [("tip_hours", "warn")]


def test_a_played_lacquer_is_not_plated() -> None:
    # published: reference, a lacquer is playable only as a reference cut, never the one to be plated.
    told = Teller()
    lacquer = told.cut()
    told.say("test_played", lacquer)
    told.grow(lacquer)
    assert stops(told) == ["played_lacquer"]


def test_a_run_out_that_does_not_belong() -> None:
    told = Teller()
    stamper = told.line_of_parts()[3]
    told.say("test_played", stamper, marks_read="HL 12 A M1 S1")
    assert told.found == ()
    told.say("test_played", stamper, marks_read="HL 12 A M2 S1")
    assert [(one.code, one.severity) for one in told.found] == [("marks", "warn")]
    assert "M1 is not there and “m2” does not belong there" in told.found[0].remedy


def test_more_runs_of_a_part_still_in_the_bath() -> None:
    told = Teller()
    master = told.grow(told.cut())
    assert told.say("plated", master, ampere_hours=90.0) == ()
    told.say("separated", master)
    told.say("plated", master, ampere_hours=90.0)
    assert stops(told) == ["passivation"]


def test_an_accepted_stop_keeps_its_reason_and_an_impossible_one_has_none() -> None:
    told = Teller()
    lacquer = told.cut()
    told.pass_hours(100)
    told.say("silvered", lacquer, accepted="kept cold")
    assert [(one.code, one.accepted) for one in told.found] == [("lacquer_late", "kept cold")]
    told.say("taken_off", lacquer, accepted="kept cold", count=1)
    assert [(one.code, one.accepted) for one in told.found] == [(IMPOSSIBLE, "")]


def test_every_finding_names_its_line_and_part() -> None:
    told = Teller()
    master = told.grow(told.cut())
    told.grow(master, passivate=False)
    plain = told.family.findings[-1]
    assert plain["seq"] == len(told.lines)
    assert plain["part"] == told.lines[-1].part
