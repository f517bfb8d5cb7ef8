"""The board: where each side is, what it waits for, from when on it is late."""

from __future__ import annotations

from telling import Teller

from discwright.works.standing import WAITS, SideStanding, is_open, late_at, standings


def side_a(told: Teller) -> SideStanding:
    return standings(told.family)[0]


def test_what_a_side_waits_for_on_its_way() -> None:
    # by hand: the order of the trade.
    told = Teller()
    waits = [side_a(told).waits_for]
    told.say("plan_kept", side="A", edition="lp", fingerprint="1" * 64, programme_sha256="a" * 64)
    waits.append(side_a(told).waits_for)
    lacquer = told.cut()
    waits.append(side_a(told).waits_for)
    told.say("silvered", lacquer)
    waits.append(side_a(told).waits_for)
    master = told.grow(lacquer)
    waits.append(side_a(told).waits_for)
    told.say("separated", master)
    waits.append(side_a(told).waits_for)
    mother = told.grow(master)
    told.say("separated", mother)
    waits.append(side_a(told).waits_for)
    told.say("test_played", mother)
    waits.append(side_a(told).waits_for)
    told.say("approved", mother)
    waits.append(side_a(told).waits_for)
    stamper = told.grow(mother)
    told.say("separated", stamper)
    waits.append(side_a(told).waits_for)
    told.say("put_to_press", stamper)
    waits.append(side_a(told).waits_for)
    told.say("taken_off", stamper, count=500)
    waits.append(side_a(told).waits_for)
    told.say("put_to_press", stamper)
    told.say("taken_off", stamper, count=400)
    waits.append(side_a(told).waits_for)
    assert waits == [
        "plan", "cut", "silver", "plating", "separation", "mother", "test_play", "verdict", "stamper", "press",
        "taking_off", "more", "",
    ]  # fmt: skip
    assert set(waits) <= set(WAITS)
    assert side_a(told).pressings == 900


def test_a_part_that_failed_is_passed_over() -> None:
    told = Teller()
    _, master, mother, stamper = told.line_of_parts()
    told.say("refused", mother)
    assert (side_a(told).part, side_a(told).waits_for) == (master, "mother")
    told.say("scrapped", master)
    assert side_a(told).waits_for == "again"
    assert stamper in told.family.parts


def test_a_worn_stamper_asks_for_the_next() -> None:
    told = Teller(press_life=300)
    _, _, mother, stamper = told.line_of_parts()
    told.say("approved", mother)
    told.say("put_to_press", stamper)
    told.say("taken_off", stamper, count=300)
    assert side_a(told).waits_for == "stamper"


def test_a_lacquer_is_late_after_its_hours_and_a_side_after_its_due_day() -> None:
    told = Teller()
    lacquer = told.cut()
    born = told.part(lacquer).born_at
    assert born.startswith("2026-03-01T08:02")
    assert side_a(told).late_at == "2026-03-04T08:02:00.000000+00:00"  # by hand: 72 h on
    told.grow(lacquer)
    assert side_a(told).late_at == "2026-03-21T00:00:00.000000+00:00"  # by hand: the due day is over
    assert late_at(standings(told.family)) == "2026-03-21T00:00:00.000000+00:00"


def test_a_finished_title_is_not_open_and_never_late() -> None:
    told = Teller()
    for side in ("A", "B"):
        lacquer = told.cut(side)
        mother = told.grow(told.grow(lacquer))
        told.say("approved", mother)
        stamper = told.grow(mother)
        told.say("put_to_press", stamper)
        assert is_open(standings(told.family))
        told.say("taken_off", stamper, count=900)
    assert not is_open(standings(told.family))
    assert late_at(standings(told.family)) == ""


def test_a_title_without_fixed_sides_shows_those_that_were_cut() -> None:
    told = Teller()
    edition = {"id": "lp", "format": "12in-33", "quantity": 0, "due": "no day", "sides": []}
    told.say("title_taken_in", name="x", editions=[edition, {"id": "reel", "format": "tape", "sides": ["A"]}])
    assert standings(told.family) == ()
    assert is_open(())
    told.cut("C")
    told.cut("A")
    assert [one.side for one in standings(told.family)] == ["A", "C"]
