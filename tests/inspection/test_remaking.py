"""What falls with a guilty part, the ways to a good stamper, and what each costs on the mean."""

from __future__ import annotations

from dataclasses import replace

import pytest
from telling import Teller

from discwright.inspection.remaking import Way, choices, fallen, ways

DAYS = {"lacquer": 2.0, "master": 1.0, "mother": 1.5, "stamper": 0.75, "play": 0.5}


class Told(Teller):
    """A family of two mothers with two stampers each."""

    def __init__(self, **limits: float) -> None:
        super().__init__(**limits)
        self.lacquer = self.cut()
        self.master = self.grow(self.lacquer)
        self.mothers = [self.grow(self.master) for _ in range(2)]
        self.stampers = [self.grow(mother) for mother in self.mothers for _ in range(2)]

    @property
    def made(self) -> dict[str, str]:
        return {one.id: f"{one.born_at}#{one.born:06d}" for one in self.family.parts.values()}

    def falls(self, part: str, since: str = "") -> set[str]:
        return set(fallen(self.family, self.part(part), since, self.made))

    def ways(self, *lost: str) -> tuple[Way, ...]:
        return ways(self.family, self.family.parts.values(), lost, DAYS)


def test_a_part_falls_with_everything_grown_from_it() -> None:
    told = Told()
    assert told.falls(told.stampers[0]) == {told.stampers[0]}
    assert told.falls(told.mothers[0]) == {told.mothers[0], *told.stampers[:2]}
    assert told.falls(told.lacquer) == set(told.family.parts)


def test_what_was_grown_before_the_fault_stays() -> None:
    # by hand, after the inheritance rule: a fault made later is only on children grown later.
    told = Told()
    assert told.falls(told.mothers[0], told.made[told.stampers[0]]) == {told.mothers[0], told.stampers[1]}
    assert told.falls(told.master, told.made[told.mothers[0]]) == {told.master, told.mothers[1], *told.stampers[2:]}
    # Lines that were dated alike sort by their number.
    parts = {one.id: replace(one, born_at="2026-01-01") for one in told.family.parts.values()}
    told.family = replace(told.family, parts=parts)
    assert told.falls(told.mothers[0], told.made[told.stampers[0]]) == {told.mothers[0], told.stampers[1]}


def test_the_shortest_way_after_each_guilty_part() -> None:
    told = Told()
    # by hand: a stamper is there; another one of the mother that stays good; a new mother is 1.5 + 0.5 (heard) + 0.75.
    assert told.ways(told.stampers[0])[0] == Way(told.stampers[1], (), 0.0)
    assert told.ways(*told.stampers)[0] == Way(told.mothers[0], ("stamper",), 0.75)
    assert told.ways(*told.mothers, *told.stampers)[0] == Way(told.master, ("mother", "stamper"), 2.75)
    # A lacquer gives one master, so that behind the master there is only a new one: 2 + 1 + 1.5 + 0.5 + 0.75.
    assert told.ways(told.master, *told.mothers, *told.stampers) == (
        Way("", ("lacquer", "master", "mother", "stamper"), 5.75),
    )


def test_a_part_that_can_give_no_more_is_no_way() -> None:
    told = Told(stampers_per_mother=2, mothers_per_master=2, press_life=100)
    starts = {one.start for one in told.ways()}
    assert starts == {*told.stampers, ""}
    told.say("put_to_press", told.stampers[0])
    told.say("taken_off", told.stampers[0], count=100)
    told.say("scrapped", told.stampers[1])
    assert {one.start for one in told.ways()} == {*told.stampers[2:], ""}


def test_nobody_goes_on_from_what_was_refused() -> None:
    told = Told()
    told.say("refused", told.mothers[0])
    told.say("recalled", told.stampers[3])
    assert {one.start for one in told.ways()} == {told.master, told.mothers[1], told.stampers[2], ""}


def test_another_negative_where_the_works_takes_two_of_a_lacquer() -> None:
    told = Told(negatives_per_lacquer=2)
    lost = [one for one in told.family.parts if one != told.lacquer]
    assert told.ways(*lost)[0] == Way(told.lacquer, ("master", "mother", "stamper"), 3.75)
    told.say("test_played", told.lacquer)
    assert told.ways(*lost)[0].start == ""  # a played lacquer is for reference only


def test_what_a_way_costs_on_the_mean() -> None:
    told = Told()
    carries = {told.lacquer: 0.02, told.master: 0.1, told.mothers[0]: 0.4, told.mothers[1]: 0.1}
    carries |= dict.fromkeys(told.stampers[:2], 0.9) | dict.fromkeys(told.stampers[2:], 0.2)
    found = choices(told.family, told.ways(), carries, DAYS)
    by_start = {one.way.start: one for one in found}
    # by hand: 0.75 + 0.4 × (0.5 + 2.75) + 0.1 × (0.5 + 5.75): a stamper; if the mother is guilty, a new mother; if the
    # master is, which makes the mother guilty too, a new lacquer.
    assert by_start[told.mothers[0]].expected_days == pytest.approx(0.75 + 0.4 * 3.25 + 0.1 * 6.25)
    # 2.75 + 0.1 × (0.5 + 5.75)
    assert by_start[told.master].expected_days == pytest.approx(2.75 + 0.1 * 6.25)
    assert by_start[""].expected_days == 5.75
    # 0 + 0.2 × (0.5 + 0.75) + 0.1 × (0.5 + 2.75) + 0.1 × (0.5 + 5.75)
    assert by_start[told.stampers[2]].expected_days == pytest.approx(0.2 * 1.25 + 0.1 * 3.25 + 0.1 * 6.25)
    assert by_start[told.mothers[0]].sound == pytest.approx(0.6)
    assert [one.expected_days for one in found] == sorted(one.expected_days for one in found)
    assert found[0].way.start == told.stampers[2]


def test_a_way_that_surely_fails_costs_what_follows() -> None:
    told = Told()
    everything = dict.fromkeys(told.family.parts, 1.0)
    best = choices(told.family, told.ways(), everything, DAYS)[0]
    assert (best.way.start, best.expected_days) == ("", 5.75)
