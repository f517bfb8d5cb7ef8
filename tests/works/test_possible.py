"""What a station offers: only what is possible now, the expected step first, closed where a stop speaks against it."""

from __future__ import annotations

import pytest
from telling import Teller

from discwright.works.events import EVENTS
from discwright.works.possible import GROW, expected, steps

ALL = tuple(EVENTS)


def offered(told: Teller, part: str, kinds: tuple[str, ...] = ALL) -> list[str]:
    return [one.kind for one in steps(told.family, told.part(part), kinds, told.now.isoformat())]


def test_the_expected_steps_from_lacquer_to_press() -> None:
    # by hand: the order of the trade.
    told = Teller()
    lacquer = told.cut()
    for kind in ("checked_under_the_microscope", "silvered", GROW):
        assert offered(told, lacquer)[0] == kind
        if kind != GROW:
            told.say(kind, lacquer)
    master = told.grow(lacquer)
    assert offered(told, lacquer)[0] != GROW
    for kind in ("separated", "passivated", GROW):
        assert offered(told, master)[0] == kind
        if kind != GROW:
            told.say(kind, master)
    mother = told.grow(master, passivate=False)
    for kind in ("separated", "test_played", "approved", "passivated", GROW):
        assert offered(told, mother)[0] == kind
        if kind != GROW:
            told.say(kind, mother)
    stamper = told.grow(mother, passivate=False)
    for kind in ("separated", "back_sanded", "centred", "trimmed", "formed", "put_to_press", "taken_off"):
        assert offered(told, stamper)[0] == kind
        told.say(kind, stamper, count=500 if kind == "taken_off" else None)
        assert told.found == ()


def test_only_what_a_person_may_do() -> None:
    told = Teller()
    stamper = told.line_of_parts()[3]
    assert offered(told, stamper, ("weighed", "put_to_press", "silvered")) == ["weighed", "put_to_press"]
    assert GROW not in offered(told, told.line_of_parts()[2], ("weighed",))


def test_a_stop_closes_a_step_and_says_why() -> None:
    told = Teller()
    stamper = told.line_of_parts()[3]
    press = next(
        one for one in steps(told.family, told.part(stamper), ALL, told.now.isoformat()) if one.kind == "put_to_press"
    )
    assert [one.code for one in press.against] == ["unapproved"]


@pytest.mark.parametrize("state", ["scrapped", "refused", "recalled"])
def test_nothing_is_expected_of_a_part_that_failed(state: str) -> None:
    told = Teller()
    mother = told.line_of_parts()[2]
    told.say(state, mother)
    assert expected(told.family, told.part(mother)) == ()
    assert (offered(told, mother) == ["recalled"]) == (state == "scrapped")


def test_what_is_offered_never_turns_out_impossible() -> None:
    told = Teller()
    parts = told.line_of_parts()
    told.say("approved", parts[2])
    for part in parts:
        for one in steps(told.family, told.part(part), ALL, told.now.isoformat()):
            other = Teller()
            other.line_of_parts()
            other.say("approved", parts[2])
            if one.kind == GROW:
                other.grow(part, passivate=False)
            else:
                other.say(
                    one.kind, part, **{"weighed": {"mass_g": 1.0}, "measured": {"thickness_um": 1.0}}.get(one.kind, {})
                )
            assert other.codes() == [found.code for found in one.against], (part, one.kind)
