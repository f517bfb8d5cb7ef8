"""The guilty part: the published table, full enumeration of random families, and cases that cannot be."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.inspection.locate import Audition, Guilt, Member, locate

PARENTS = {"L": "", "N": "L", "M1": "N", "M2": "N", "S11": "M1", "S12": "M1", "S21": "M2", "S22": "M2"}
FAMILY = [Member(name, above, 0.02 if name.startswith("S") else 0.01) for name, above in PARENTS.items()]
STAMPERS = ("S11", "S12", "S21", "S22")

# published: reference table "finding the guilty part" (8 parts, d = 0.9, f = 0.02, one audition each), equal to full
# enumeration of its 256 states; tolerance 1e-4.
TABLE = [
    (STAMPERS, 0.013145, {"L": 0.4991, "N": 0.4941, "M1": 0.0057, "M2": 0.0057}, 0.000),
    (("S11", "S12"), 0.0086995, {"M1": 0.8369, "S11": 0.0692, "S12": 0.0692, "L": 0.0093}, 0.039),
    (("S11",), 0.033026, {"S11": 0.4667, "M1": 0.0245}, 0.505),
    (("S11", "S21"), 0.0014830, {"S11": 0.4162, "S21": 0.4162, "L": 0.0546, "N": 0.0541}, 0.230),
]  # fmt: skip


@pytest.mark.parametrize(("heard", "evidence", "posterior", "none"), TABLE)
def test_the_published_table(heard: tuple[str, ...], evidence: float, posterior: dict[str, float], none: float) -> None:
    found = locate(FAMILY, [Audition(one, int(one in heard), 1) for one in STAMPERS], 0.9, 0.02)
    assert math.exp(found.evidence_log) == pytest.approx(evidence, rel=1e-4)
    for part, chance in posterior.items():
        assert found.posterior[part] == pytest.approx(chance, abs=1e-4)
    assert found.none == pytest.approx(none, abs=5e-4)


# By another road: every state of every part ------------------------------------------------------------


def entropy(p: float) -> float:
    return -sum(x * math.log2(x) for x in (p, 1 - p) if x > 0)


class Enumerated:
    """All 2^n states of own faults, weighed one by one."""

    def __init__(self, family: list[Member], plays: list[Audition], detect: float, false_alarm: float) -> None:
        self.family, self.chances = family, (false_alarm, detect)
        above = {one.id: one.parent for one in family}
        self.worlds: list[tuple[float, dict[str, bool], dict[str, bool]]] = []
        for own in itertools.product((False, True), repeat=len(family)):
            faulty = dict(zip((one.id for one in family), own, strict=True))
            weight = math.prod(one.prior if faulty[one.id] else 1 - one.prior for one in family)
            carries = {}
            for one in family:
                name, bad = one.id, False
                while name:
                    bad, name = bad or faulty[name], above[name]
                carries[one.id] = bad
            heads = {one.id: faulty[one.id] and not carries.get(one.parent, False) for one in family}
            for play in plays:
                q = self.chances[carries[play.part]]
                weight *= q**play.heard * (1 - q) ** (play.of - play.heard)
            self.worlds.append((weight, carries, heads))
        self.evidence = math.fsum(weight for weight, _, _ in self.worlds)

    def chance(self, of: str, part: str) -> float:
        which = {"carries": 1, "heads": 2}[of]
        return math.fsum(world[0] for world in self.worlds if world[which][part]) / self.evidence

    def none(self) -> float:
        return math.fsum(w for w, carries, _ in self.worlds if not any(carries.values())) / self.evidence

    def summed(self, played: str = "", heard: bool = False) -> tuple[float, float]:
        """Chance of a report, and the summed entropy after it."""
        weights = []
        for weight, carries, _ in self.worlds:
            q = self.chances[carries[played]] if played else 1.0
            weights.append(weight * (q if heard or not played else 1 - q))
        whole = math.fsum(weights)
        if whole == 0:
            return 0.0, 0.0
        told = [
            math.fsum(w for w, (_, carries, _) in zip(weights, self.worlds, strict=True) if carries[one.id]) / whole
            for one in self.family
        ]
        return whole / self.evidence, math.fsum(entropy(p) for p in told)

    def fall(self, part: str) -> float:
        reports = [self.summed(part, heard) for heard in (True, False)]
        return self.summed()[1] - math.fsum(chance * after for chance, after in reports)


@st.composite
def cases(draw: st.DrawFn) -> tuple[list[Member], list[Audition], float, float]:
    count = draw(st.integers(1, 9))
    above = [draw(st.integers(-1 if k and draw(st.booleans()) else 0, k - 1)) if k else -1 for k in range(count)]
    prior = st.sampled_from([0.0, 0.01, 0.02, 0.3, 0.9])
    family = [Member(f"p{k}", f"p{above[k]}" if above[k] >= 0 else "", draw(prior)) for k in range(count)]
    plays = []
    for _ in range(draw(st.integers(0, 6))):
        of = draw(st.integers(0, 4))
        plays.append(Audition(f"p{draw(st.integers(0, count - 1))}", draw(st.integers(0, of)), of))
    false_alarm = draw(st.sampled_from([0.01, 0.1, 0.4]))
    return draw(st.permutations(family)), plays, draw(st.sampled_from([0.5, 0.9, 0.99])), false_alarm


@settings(max_examples=150, deadline=None)
@given(cases())
def test_full_enumeration_agrees(case: tuple[list[Member], list[Audition], float, float]) -> None:
    family, plays, detect, false_alarm = case
    found, truth = locate(family, plays, detect, false_alarm), Enumerated(*case)
    assert math.exp(found.evidence_log) == pytest.approx(truth.evidence, rel=1e-9)
    assert found.none == pytest.approx(truth.none(), abs=1e-9)
    for one in family:
        assert found.posterior[one.id] == pytest.approx(truth.chance("heads", one.id), abs=1e-9)
        assert found.carries[one.id] == pytest.approx(truth.chance("carries", one.id), abs=1e-9)
    falls = {one.id: truth.fall(one.id) for one in family}
    most = max(falls.values())
    if most < 1e-8:
        return
    assert found.expected_fall_bits == pytest.approx(most, abs=1e-7)
    assert falls[found.next_test] == pytest.approx(most, abs=1e-7)


def test_twelve_parts_by_enumeration() -> None:
    above = ["", "p0", "p1", "p1", "p1", "p2", "p2", "p3", "p3", "p4", "p4", "p4"]
    family = [Member(f"p{k}", up, 0.01 + 0.003 * k) for k, up in enumerate(above)]
    plays = [Audition("p5", 2, 3), Audition("p6", 1, 2), Audition("p9", 0, 2), Audition("p1", 0, 1)]
    found, truth = locate(family, plays, 0.85, 0.05), Enumerated(family, plays, 0.85, 0.05)
    for one in family:
        assert found.posterior[one.id] == pytest.approx(truth.chance("heads", one.id), abs=1e-10)
    assert found.next_test == max(family, key=lambda one: truth.fall(one.id)).id


# Growth dates ------------------------------------------------------------------------------------------


def dated(damage: float) -> Guilt:
    """A mother with four stampers; the last two tick."""
    family = [Member("M", "", 0.001, "2026-01-01", damage)]
    family += [Member(f"S{k}", "M", 0.001, f"2026-01-0{k + 2}") for k in (3, 0, 2, 1)]
    return locate(family, [Audition(f"S{k}", 3 if k > 1 else 0, 3) for k in range(4)], 0.9, 0.02)


def test_a_mother_damaged_between_two_stampers() -> None:
    # by another road: the damaged mother as a part of its own between the second and the third stamper.
    as_parts = [Member("M", "", 0.001), Member("S0", "M", 0.001)]
    as_parts += [Member("after S0", "M", 0.02), Member("S1", "after S0", 0.001), Member("after S1", "after S0", 0.02)]
    as_parts += [Member("S2", "after S1", 0.001), Member("after S2", "after S1", 0.02), Member("S3", "after S2", 0.001)]
    as_parts += [Member("after S3", "after S2", 0.02)]
    plays = [Audition(f"S{k}", 3 if k > 1 else 0, 3) for k in range(4)]
    truth = locate(as_parts, plays, 0.9, 0.02)
    found = dated(0.02)
    heads = sum(chance for part, chance in truth.posterior.items() if part == "M" or part.startswith("after"))
    assert found.posterior["M"] == pytest.approx(heads, abs=1e-12)
    assert found.carries["M"] == pytest.approx(truth.carries["after S3"], abs=1e-12)
    assert found.posterior["M"] > 0.9
    assert dated(0.0).posterior["M"] < 0.1  # without damage the two quiet ones acquit her


def test_a_play_counts_for_the_time_it_was_made_at() -> None:
    family = [Member("M", "", 0.01, "2026-01-01", 0.02), Member("S", "M", 0.001, "2026-01-05")]
    early = locate(family, [Audition("M", 0, 5, "2026-01-03"), Audition("M", 5, 5, "2026-01-09")], 0.9, 0.02)
    assert early.carries["S"] < 0.01
    assert early.carries["M"] > 0.99


def test_damage_between_two_children_falls_on_either_side_of_a_play() -> None:
    # by another road: the mother in the making of S1, after it until the play, and after the play until S2, as parts.
    half = 1 - (1 - 0.02) ** 0.5
    as_parts = [Member("M", "", 0.001), Member("S1", "M", 0.01), Member("before", "M", half)]
    as_parts += [Member("behind", "before", half), Member("S2", "behind", 0.01), Member("now", "behind", 0.02)]
    heard = {"before": 0, "S1": 0, "S2": 3, "now": 2}
    truth = locate(as_parts, [Audition(part, count, 3) for part, count in heard.items()], 0.9, 0.02)
    family = [Member("M", "", 0.001, "2026-01-01", 0.02)]
    family += [Member(f"S{k}", "M", 0.01, f"2026-01-0{3 * k}") for k in (2, 1)]
    plays = [Audition("M", 0, 3, "2026-01-04"), Audition("S1", 0, 3), Audition("S2", 3, 3), Audition("M", 2, 3)]
    found = locate(family, plays, 0.9, 0.02)
    heads = sum(truth.posterior[part] for part in ("M", "before", "behind", "now"))
    assert found.posterior["M"] == pytest.approx(heads, abs=1e-12)
    assert found.carries["S2"] == pytest.approx(truth.carries["S2"], abs=1e-12)
    assert found.posterior["M"] > 0.6
    assert "2026-01-04" < found.since["M"] < "2026-01-06"  # it began between the play and the second stamper


def test_from_when_on_a_part_has_its_fault() -> None:
    assert dated(0.02).since == {"M": "2026-01-03", "S0": "", "S1": "", "S2": "", "S3": ""}


# Sizes and nonsense ------------------------------------------------------------------------------------


def test_two_thousand_parts_as_in_a_small_family() -> None:
    """Like parts are reckoned once, and single precision only makes a short list: the same answer as in full."""
    family = [Member("L", "", 0.01), Member("N", "L", 0.01)]
    family += [Member(f"M{m}", "N", 0.01) for m in range(20)]
    family += [Member(f"S{k}", f"M{k % 20}", 0.01 + k * 1e-6) for k in range(1978)]
    plays = [Audition(f"S{k}", int(k % 20 == 7), 1) for k in range(400)]
    found = locate(family, plays, 0.9, 0.02)
    assert max(found.posterior, key=lambda part: found.posterior[part]) == "M7"
    assert found.none < 1e-9
    few = locate(family, plays, 0.9, 0.02, playable=["S1", "M7", "S1407"])
    assert few.next_test in ("S1", "M7", "S1407")
    assert few.expected_fall_bits <= found.expected_fall_bits + 1e-9
    assert locate(family, plays, 0.9, 0.02, playable=[found.next_test]).expected_fall_bits == pytest.approx(
        found.expected_fall_bits
    )


def test_a_deep_line_of_parts() -> None:
    family = [Member(f"p{k}", f"p{k - 1}" if k else "", 0.001) for k in range(3000)]
    found = locate(family, [Audition("p2999", 9, 10)], 0.9, 0.02)
    assert found.carries["p2999"] == pytest.approx(1.0, abs=1e-6)


def test_nothing_to_play_tells_nothing() -> None:
    assert locate(FAMILY, [], 0.9, 0.02, playable=[]).next_test == ""
    assert locate([Member("L", "", 0.0)], [], 0.9, 0.02).next_test == ""


@pytest.mark.parametrize(
    ("family", "plays", "chances", "words"),
    [
        ([], [], (0.9, 0.02), "has no parts"),
        ([Member("a", "", 0.1), Member("a", "", 0.1)], [], (0.9, 0.02), "the same id"),
        ([Member("a", "b", 0.1)], [], (0.9, 0.02), "is not in the family"),
        ([Member("a", "b", 0.1), Member("b", "a", 0.1)], [], (0.9, 0.02), "descend from themselves"),
        ([Member("a", "", 1.5)], [], (0.9, 0.02), "is no probability"),
        ([Member("a", "", float("nan"))], [], (0.9, 0.02), "is no probability"),
        (FAMILY, [Audition("X", 1, 1)], (0.9, 0.02), "was played and is not in the family"),
        (FAMILY, [Audition("L", 2, 1)], (0.9, 0.02), "heard 2 times in 1 plays"),
        (FAMILY, [], (0.02, 0.9), "below detect"),
        (FAMILY, [], (1.1, 0.02), "at most 1"),
        ([Member("a", "", 0.0)], [Audition("a", 1, 1)], (0.9, 0.0), "cannot be"),
    ],
)
def test_a_case_that_is_none(
    family: list[Member], plays: list[Audition], chances: tuple[float, float], words: str
) -> None:
    with pytest.raises(CallError, match=words):
        locate(family, plays, *chances)
