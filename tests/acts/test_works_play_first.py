"""Whether a play pays: one spot by another road out of the search itself, several taken as independent."""

from __future__ import annotations

import pytest
from telling import Teller

from discwright.acts.works_play_first import play_first
from discwright.inspection.locate import Audition, Guilt, Member, locate
from discwright.inspection.remaking import choices, ways

DAYS = {"lacquer": 2.0, "master": 1.0, "mother": 1.0, "stamper": 1.0, "play": 0.5}
CHANCES = (0.9, 0.02)


class Bench:
    """A line of parts whose stamper was heard to tick."""

    def __init__(self, heard: int) -> None:
        told = Teller()
        self.parts = told.line_of_parts()
        self.family = told.family
        self.members = [
            Member(one, told.part(one).parent, 0.02 if told.part(one).kind == "stamper" else 0.01) for one in self.parts
        ]
        self.plays = [Audition(self.parts[3], heard, heard)]
        self.ways = ways(self.family, self.family.parts.values(), (), DAYS)

    def guilt(self, *more: Audition) -> Guilt:
        return locate(self.members, [*self.plays, *more], *CHANCES)

    def after(self, part: str) -> dict[bool, Guilt]:
        return {report: self.guilt(Audition(part, int(report), 1)) for report in (True, False)}

    def cost(self, *told: Guilt) -> float:
        """Of what is cheapest, over several spots."""
        clean = dict.fromkeys(self.parts, 1.0)
        for guilt in told:
            clean = {one: chance * (1 - guilt.carries[one]) for one, chance in clean.items()}
        carries = {one: 1 - chance for one, chance in clean.items()}
        return choices(self.family, self.ways, carries, DAYS)[0].expected_days


def test_one_spot_by_hand() -> None:
    bench = Bench(2)
    mother, now = bench.parts[2], bench.guilt()
    after = bench.after(mother)
    found = play_first(
        bench.family, mother, [now], lambda k, report: after[report], bench.ways, DAYS, CHANCES
    )  # fmt: skip
    # by another road: the chance of a report out of the evidence, each side priced alone.
    chance = 10 ** ((after[True].evidence_log - now.evidence_log) / 2.302585092994046)
    by_hand = 0.5 + chance * bench.cost(after[True]) + (1 - chance) * bench.cost(after[False])
    assert found.expected_days == pytest.approx(by_hand, abs=1e-9)
    assert (found.part, found.days) == (mother, 0.5)
    # Nobody heard the mother yet, and behind her stands a lacquer: hearing her is cheaper than another lacquer.
    assert found.expected_days < bench.cost(now)


def test_two_spots_are_four_outcomes() -> None:
    bench = Bench(1)
    mother, now = bench.parts[2], bench.guilt()
    after = bench.after(mother)
    found = play_first(bench.family, mother, [now, now], lambda k, report: after[report], bench.ways, DAYS, CHANCES)
    chance = 0.9 * now.carries[mother] + 0.02 * (1 - now.carries[mother])
    by_hand = 0.5
    for first, one in ((True, chance), (False, 1 - chance)):
        for second, other in ((True, chance), (False, 1 - chance)):
            by_hand += one * other * bench.cost(after[first], after[second])
    assert found.expected_days == pytest.approx(by_hand, abs=1e-9)


def test_many_spots_take_no_time() -> None:
    """Beyond six, a spot stays as it is: 2^40 outcomes are never gone through."""
    bench = Bench(1)
    now, after = bench.guilt(), bench.after(bench.parts[2])
    found = play_first(
        bench.family, bench.parts[2], [now] * 40, lambda k, report: after[report], bench.ways, DAYS, CHANCES
    )  # fmt: skip
    assert 0.5 < found.expected_days <= 0.5 + bench.cost(*[after[True]] * 6, *[now] * 34) + 1e-9
