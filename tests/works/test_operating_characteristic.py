"""Operating characteristics against printed figures, bands, and a twin in exact fractions."""

from __future__ import annotations

import csv
from fractions import Fraction
from itertools import pairwise
from math import comb
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.works.operating_characteristic import (
    MARKS,
    Method,
    accept_probability,
    curve,
    marks,
    percent_at,
    plan_probability,
    whole_lot_accepted,
)
from discwright.works.sampling import AQLS, plan_of

AUTHORITIES = Path(__file__).parents[1] / "authorities"


def exact(percent: str, n: int, accept: int) -> float:
    """The binomial sum in fractions."""
    share = Fraction(percent) / 100
    return float(sum(comb(n, k) * share**k * (1 - share) ** (n - k) for k in range(accept + 1)))


@pytest.mark.parametrize(
    ("n", "accept", "method", "percents"),
    # Reference table, worked apart from this program: 99, 95, 90, 50, 10, 5 % accepted.
    [
        (125, 3, "poisson", (0.659, 1.093, 1.396, 2.938, 5.345, 6.203)),
        (125, 3, "binomial", (0.664, 1.100, 1.403, 2.930, 5.266, 6.086)),
        (200, 5, "poisson", (0.893, 1.307, 1.576, 2.835, 4.637, 5.257)),
        (80, 2, "binomial", (0.550, 1.030, 1.385, 3.329, 6.516, 7.661)),
        (50, 3, "binomial", (1.684, 2.779, 3.535, 7.295, 12.876, 14.784)),
        (20, 0, "binomial", (0.050, 0.256, 0.525, 3.406, 10.875, 13.911)),
    ],
)
def test_points_of_the_reference(n: int, accept: int, method: Method, percents: tuple[float, ...]) -> None:
    mine = [percent_at(mark, n, accept, method) for mark in MARKS]
    assert mine == pytest.approx(percents, abs=0.00051)  # three decimals are printed


def test_the_printed_table_of_letter_k() -> None:
    """From memory of the printed table, 1.09 / 2.94 / 5.35: a Poisson figure on a rounding edge, hence 0.01."""
    mine = [percent_at(mark, 125, 3, "poisson") for mark in (0.95, 0.50, 0.10)]
    assert mine == pytest.approx((1.09, 2.94, 5.35), abs=0.01)


def test_a_federal_regulation() -> None:
    """Published, 7 CFR 42.140: n = 500, Ac = 3 accepts 26 % at 1.0 per 100, about 99 % at 0.10."""
    for method in ("binomial", "poisson"):
        assert accept_probability(1.0, 500, 3, method) * 100 == pytest.approx(26, abs=1)
        assert accept_probability(0.10, 500, 3, method) * 100 == pytest.approx(99, abs=1)


def test_a_reliability_textbook() -> None:
    """Published, Birolini 2007 after IEC 60410: Ac = 1, 10 % accepted: m = 3.9, so n = 195 at 2 %."""
    m = percent_at(0.1, 195, 1, "poisson") / 100 * 195
    assert round(m, 1) == 3.9
    assert m / 0.02 == pytest.approx(195, abs=0.6)


#: Published bands of Pa at the AQL, binomial, of the cells without an arrow: reference, computed from the tables.
BANDS = {
    "normal": {
        0: (0.874, 0.887), 1: (0.904, 0.919), 2: (0.951, 0.962), 3: (0.957, 0.967), 5: (0.982, 0.989),
        7: (0.982, 0.989), 10: (0.983, 0.991), 14: (0.981, 0.990), 21: (0.986, 0.994),
    },
    "tightened": {
        0: (0.812, 0.829), 1: (0.795, 0.827), 2: (0.857, 0.881), 3: (0.848, 0.880), 5: (0.890, 0.918),
        8: (0.919, 0.950), 12: (0.931, 0.959), 18: (0.931, 0.964),
    },
}  # fmt: skip


@pytest.mark.parametrize("inspection", ["normal", "tightened"])
def test_every_cell_lies_in_its_band(inspection: str) -> None:
    name = "iso2859_single_normal.csv" if inspection == "normal" else "iso2859_single_tightened.csv"
    seen = set()
    with (AUTHORITIES / name).open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            if (row["code"], row["aql"]) == ("A", "10"):  # printed tables differ there
                continue
            aql, n, accept = float(row["aql"]), int(row["n"]), int(row["ac"])
            chance = accept_probability(aql, n, accept)
            assert chance == pytest.approx(float(row["pa_at_aql_binomial"]), abs=0.000051), row
            poisson = accept_probability(aql, n, accept, "poisson")
            assert poisson == pytest.approx(float(row["pa_at_aql_poisson"]), abs=0.000051), row
            if row["arrow"] == "none":
                low, high = BANDS[inspection][accept]
                # Three decimals are printed, of figures with four.
                assert low - 0.00055 <= chance <= high + 0.00055, row
                seen.add(accept)
    assert seen == set(BANDS[inspection])


def test_tightened_is_stricter() -> None:
    """Of the same lot, wherever both tables have the same sample for it without an arrow."""
    compared = 0
    for lot in (8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000, 500_001):
        for aql in AQLS:
            normal, tight = (plan_of(lot, "II", aql, one) for one in ("normal", "tightened"))
            if normal.arrow == tight.arrow == "none" and normal.table_n == tight.table_n:
                chances = [accept_probability(aql, one.table_n, one.accept) for one in (tight, normal)]
                assert chances[0] < chances[1]
                compared += 1
    assert compared > 50


@pytest.mark.parametrize(
    ("percent", "n", "accept"),
    [
        ("1", 125, 3),
        ("0.65", 20, 0),
        ("10", 5, 1),
        ("2.5", 50, 3),
        ("0.01", 1250, 0),
        ("6.5", 200, 21),
        ("99.9", 13, 2),
    ],
)
def test_binomial_against_exact_fractions(percent: str, n: int, accept: int) -> None:
    """By another road."""
    assert accept_probability(float(percent), n, accept) == pytest.approx(exact(percent, n, accept), rel=1e-12)


@given(st.integers(1, 400), st.integers(0, 30), st.integers(0, 1000))
def test_binomial_against_exact_fractions_anywhere(n: int, accept: int, per_mille: int) -> None:
    accept = min(accept, n - 1)
    mine = accept_probability(per_mille / 10, n, accept)
    assert mine == pytest.approx(exact(str(Fraction(per_mille, 10)), n, accept), rel=1e-9, abs=1e-12)


@given(st.integers(1, 3150), st.integers(0, 30), st.floats(1e-4, 1 - 1e-4), st.sampled_from(("binomial", "poisson")))
def test_there_and_back(n: int, accept: int, chance: float, method: Method) -> None:
    accept = min(accept, n - 1)
    percent = percent_at(chance, n, accept, method)
    if percent <= 100.0:
        assert accept_probability(percent, n, accept, method) == pytest.approx(chance, rel=1e-8)
    else:
        assert method == "poisson"  # a mean of more than one a disc, which no share is


@given(st.integers(2, 10**6), st.sampled_from(AQLS), st.sampled_from(("normal", "tightened", "reduced")))
def test_a_curve_falls_from_all_to_nearly_none(lot: int, aql: float, inspection: str) -> None:
    plan = plan_of(lot, "II", aql, inspection)  # type: ignore[arg-type]
    points = curve(plan)
    assert (points[0].percent_nonconforming, points[0].accept_probability) == (0.0, 1.0)
    assert points[-1].accept_probability < 0.005
    assert aql in [one.percent_nonconforming for one in points]
    for one, other in pairwise(points):
        assert one.percent_nonconforming < other.percent_nonconforming <= 100.0
        assert one.accept_probability >= other.accept_probability >= 0.0
    assert len(points) < 80
    for mark in marks(plan):
        assert plan_probability(plan, mark.percent_nonconforming) == pytest.approx(mark.accept_probability, rel=1e-9)


def test_a_lot_that_is_inspected_whole() -> None:
    """By hand: 5 of 5 discs, one nonconforming may be among them."""
    plan = plan_of(5, "II", 10.0)
    assert (plan.n, plan.accept, plan.inspect_all) == (5, 1, True)
    told = [(one.percent_nonconforming, one.accept_probability) for one in curve(plan)]
    assert told == [(0.0, 1.0), (10.0, 1.0), (20.0, 1.0), (40.0, 0.0), (100.0, 0.0)]
    assert marks(plan) == ()
    assert [whole_lot_accepted(percent, 5, 1) for percent in (20.0, 39.0, 40.0)] == [True, True, False]


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: accept_probability(-1, 5, 1), "-1 percent nonconforming cannot be; give one from 0 to 100."),
        (lambda: accept_probability(101, 5, 1), "101 percent nonconforming cannot be; give one from 0 to 100."),
        (lambda: percent_at(1.0, 5, 1), "a probability of 1 is met nowhere or everywhere; give one between 0 and 1."),
        (
            lambda: percent_at(0.5, 5, 5),
            "an acceptance number of 5 does not go with a sample of 5; give one from 0 to less than that.",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_asked(call: object, sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        call()  # type: ignore[operator]
    assert str(refusal.value) == sentence
