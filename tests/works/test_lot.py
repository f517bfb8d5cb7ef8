"""One lot's inspection: plans of classes, random samples, verdicts, places on the face. *By hand* unless said."""

from __future__ import annotations

import math
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.works.defect_classes import CLASSES, WORDS, DefectClass
from discwright.works.lot import (
    ALL_DISCS,
    NONE_IN_SAMPLE,
    ClassRule,
    LotDefect,
    check_defects,
    class_plans,
    judge,
    judge_counts,
    place_on_face,
    point_on_face,
    take_sample,
)

RULES: dict[DefectClass, ClassRule] = {"critical": NONE_IN_SAMPLE, "major": 1.0, "minor": 2.5}


def test_plans_of_the_classes() -> None:
    plans = class_plans(2000, "II", RULES, {})
    assert [(one.defect_class, one.n, one.accept, one.reject) for one in plans] == [
        ("critical", 125, 0, 1), ("major", 125, 3, 4), ("minor", 125, 7, 8),
    ]  # fmt: skip
    assert plans[0].plan is None
    tight = class_plans(2000, "II", RULES, {"major": "tightened"})
    assert [one.accept for one in tight] == [0, 2, 7]


def test_classes_with_samples_of_their_own() -> None:
    """Letter D: AQL 1.0 leads down to E, 2.5 up to C."""
    plans = class_plans(50, "II", RULES, {})
    assert [(one.defect_class, one.n) for one in plans] == [("critical", 13), ("major", 13), ("minor", 5)]
    whole = class_plans(50, "II", RULES | {"critical": ALL_DISCS}, {})
    assert (whole[0].n, whole[0].accept) == (50, 0)


def test_a_lot_with_nothing_to_size_a_sample() -> None:
    with pytest.raises(CallError, match="no class has an AQL, so no sample can be sized"):
        class_plans(50, "II", {"critical": NONE_IN_SAMPLE}, {})
    assert class_plans(50, "II", {"critical": ALL_DISCS}, {})[0].n == 50
    with pytest.raises(CallError, match="lots begin at 2"):
        class_plans(1, "II", {"critical": ALL_DISCS}, {})


@given(st.integers(2, 5000), st.data())
def test_a_sample_takes_each_disc_once(lot: int, data: st.DataObject) -> None:
    n, seed = data.draw(st.integers(0, min(lot, 300))), data.draw(st.integers(0, 2**40))
    drawn = take_sample(lot, n, seed)
    assert len(set(drawn)) == len(drawn) == n
    assert all(1 <= one <= lot for one in drawn)
    assert drawn == take_sample(lot, n, seed)
    assert drawn[: n // 2] == take_sample(lot, n // 2, seed)  # the first discs of a smaller sample are the same


def test_every_disc_is_as_likely() -> None:
    """4000 draws of 3 from 10: each disc 1200 times, ± 5 standard deviations of 29."""
    taken = Counter(disc for seed in range(4000) for disc in take_sample(10, 3, seed))
    first = Counter(take_sample(10, 3, seed)[0] for seed in range(4000))
    assert all(abs(taken[disc] - 1200) < 145 for disc in range(1, 11))
    assert all(abs(first[disc] - 400) < 95 for disc in range(1, 11))


def test_the_same_discs_on_every_machine() -> None:
    """Regression only."""
    assert take_sample(2000, 5, 7) == (648, 303, 1303, 148, 1074)


def test_no_more_discs_than_there_are() -> None:
    assert sorted(take_sample(5, 5, 1)) == [1, 2, 3, 4, 5]
    with pytest.raises(CallError, match="6 discs cannot be taken from a lot of 5; give 0 to 5"):
        take_sample(5, 6, 1)


def on(disc: int, word: str, grade: DefectClass) -> LotDefect:
    return LotDefect(word, grade, disc)


def test_a_disc_counts_once_in_its_worst_class() -> None:
    plans, sample = class_plans(2000, "II", RULES, {}), take_sample(2000, 125, 1)
    a, b, c = sample[:3]
    found = [on(a, "stain", "minor"), on(a, "pit", "major"), on(a, "pit", "major"), on(b, "flash", "minor")]
    verdict = judge(plans, sample, found)
    assert [(one.plan.defect_class, one.found) for one in verdict.classes] == [
        ("critical", 0), ("major", 1), ("minor", 1),
    ]  # fmt: skip
    assert (verdict.accepted, verdict.bad, verdict.critical) == (True, 2, 0)
    worse = judge(plans, sample, [*found, on(c, "jump", "critical")])
    assert (worse.accepted, worse.critical) == (False, 1)


@pytest.mark.parametrize(("major", "accepted"), [(3, True), (4, False)])
def test_the_acceptance_number_is_the_last_that_is_accepted(major: int, accepted: bool) -> None:
    plans, sample = class_plans(2000, "II", RULES, {}), take_sample(2000, 125, 1)
    assert judge(plans, sample, [on(disc, "grain", "major") for disc in sample[:major]]).accepted is accepted
    assert judge_counts(plans, {"major": major}).accepted is accepted


def test_a_class_looks_at_the_first_discs_of_its_own_sample() -> None:
    plans, sample = class_plans(50, "II", RULES, {}), take_sample(50, 13, 1)  # minor: 5 of 13
    inside, beyond = on(sample[4], "stain", "minor"), on(sample[5], "stain", "minor")
    assert not judge(plans, sample, [inside]).accepted  # C: none in 5
    verdict = judge(plans, sample, [beyond])
    assert (verdict.accepted, verdict.bad) == (True, 1)


def test_what_a_verdict_says_to_the_switching_rules() -> None:
    plans = class_plans(2000, "II", RULES, {})
    results = [judge_counts(plans, {"major": count}).classes[1].lot_result(lot="L1") for count in (2, 3, 4)]
    # Ac 3; one step tighter it is 2.
    assert [(one.accepted, one.accept, one.passes_tighter) for one in results] == [
        (True, 3, True), (True, 3, False), (False, 3, False),
    ]  # fmt: skip
    assert results[0].lot == "L1"
    assert judge_counts(plans, {}).classes[0].lot_result().passes_tighter is False


@given(st.integers(2, 3000), st.data())
def test_counts_and_defects_agree(lot: int, data: st.DataObject) -> None:
    """One defect a disc, every class on the whole sample: two roads to one verdict."""
    plans = class_plans(lot, "II", {"critical": NONE_IN_SAMPLE, "major": 1.0, "minor": 1.0}, {})
    sample = take_sample(lot, plans[0].n, 3)
    grades = data.draw(st.lists(st.sampled_from(CLASSES), max_size=min(len(sample), 12)))
    defects = [on(disc, "pit", grade) for disc, grade in zip(sample, grades, strict=False)]
    counted = judge_counts(plans, {name: grades.count(name) for name in set(grades)})
    assert judge(plans, sample, defects) == counted


@pytest.mark.parametrize(
    ("found", "sentence"),
    [
        ({"major": 126}, "126 discs of class major cannot be in a sample of 125; count again."),
        ({"major": -1}, "-1 discs of class major cannot be in a sample of 125; count again."),
        (
            {"major": 100, "minor": 100},
            "200 discs cannot be in a sample of 125; count each disc once, in its worst class.",
        ),
        ({"bad": 1}, "there is no defect class “bad”; choose from critical, major, minor."),
    ],
)
def test_counts_that_cannot_be(found: dict[DefectClass, int], sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        judge_counts(class_plans(2000, "II", RULES, {}), found)
    assert str(refusal.value) == sentence


def test_a_class_without_a_plan() -> None:
    plans = class_plans(2000, "II", {"major": 1.0}, {})
    with pytest.raises(CallError, match="no plan judges minor defects; give that class an AQL"):
        judge_counts(plans, {"minor": 1})


@pytest.mark.parametrize(
    ("defect", "sentence"),
    [
        (on(9, "pit", "major"), "pit: disc 9 is not in the sample; give one of the discs that were taken."),
        (LotDefect("pit", "major", 1, "A", 80.0), "pit: a place has a radius and an angle; give both or neither."),
        (LotDefect("pit", "major", 1, "A", 151.0, 3.0), "pit: 151 mm, 3° is not on the disc; mend the place."),
        (LotDefect("pit", "major", 1, "A", math.nan, 3.0), "pit: nan mm, 3° is not on the disc; mend the place."),
        (on(1, "pitt", "major"), "there is no defect “pitt”; write pit."),
    ],
)
def test_defects_that_cannot_be(defect: LotDefect, sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        check_defects((1, 2, 3), [defect], edge_mm=150.5)
    assert str(refusal.value) == sentence


def test_an_unfinished_sample_has_no_verdict() -> None:
    with pytest.raises(CallError, match="124 discs were taken and the plan wants 125; take the rest first"):
        judge(class_plans(2000, "II", RULES, {}), range(1, 125), [])


def test_places_on_the_face() -> None:
    """0° at the top, against the clock, as on the disc map; the picture's y runs down."""
    told = [place_on_face(x, y) for x, y in ((0, -100), (-100, 0), (0, 100), (100, 0))]
    assert told == [(100, 0), (100, 90), (100, 180), (100, 270)]
    assert place_on_face(0, 0)[0] == 0


@given(st.floats(0.1, 160.0), st.floats(0.0, 359.999))
def test_there_and_back(radius: float, angle: float) -> None:
    back = place_on_face(*point_on_face(radius, angle))
    assert back[0] == pytest.approx(radius)
    assert abs((back[1] - angle + 180.0) % 360.0 - 180.0) < 1e-9
    assert 0.0 <= back[1] < 360.0


@given(st.floats(-160.0, 160.0), st.floats(-160.0, 160.0))
def test_every_tap_is_a_place(x: float, y: float) -> None:
    radius, angle = place_on_face(x, y)
    assert 0.0 <= angle < 360.0
    assert radius == pytest.approx(math.hypot(x, y))


def test_the_words_fit_the_defects() -> None:
    check_defects((1,), [LotDefect(word, "minor", 1) for word in WORDS])
