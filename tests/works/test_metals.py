"""Faraday's law against printed tables and a schoolbook; efficiency by weight.

Kinds of expected numbers: constants and tables are *published* (the sources stand in authorities/README.md), the
rest is *by hand* where not said otherwise.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest

from discwright.errors import CallError
from discwright.works.metals import (
    AMPERE_HOUR,
    FARADAY,
    GRAM,
    METALS,
    MICRON,
    MINUTE,
    charge_for,
    check_efficiency,
    coat_mass,
    measured_efficiency,
)

AUTHORITIES = Path(__file__).parents[1] / "authorities"
NICKEL = METALS["nickel"]


def rows(name: str) -> list[dict[str, str]]:
    with (AUTHORITIES / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_the_constant_of_faraday() -> None:
    assert abs(FARADAY - 96_485.332_12) < 5e-6  # published: CODATA 2018
    assert abs(FARADAY / AMPERE_HOUR - 26.801) < 5e-4  # published: Ah for a mol of electrons


def test_every_metal_is_in_the_printed_table() -> None:
    assert [row["metal"] for row in rows("faraday_metals.csv")] == list(METALS)


@pytest.mark.parametrize("row", rows("faraday_metals.csv"), ids=lambda row: row["metal"])
def test_grams_microns_and_ampere_hours_as_printed(row: dict[str, str]) -> None:
    """Published, rounded: 0.5 %, and 1 % for copper's thickness, which one table has for 8.92 g/cm³."""
    metal = METALS[row["metal"]]
    assert metal.mass_per_charge * AMPERE_HOUR / GRAM == pytest.approx(float(row["g_per_ah"]), rel=0.005)
    micron_minute = metal.thickness_per_charge * 100.0 * MINUTE / MICRON
    off = 0.01 if metal.name == "copper" else 0.005
    assert micron_minute == pytest.approx(float(row["um_per_min_at_1_a_dm2"]), rel=off)
    # 1 ft² = 0.3048² m², a thousandth of an inch = 25.4 µm; printed with two or three figures.
    square_foot = charge_for(metal, 1.0, 25.4e-6) * 0.3048**2 / AMPERE_HOUR
    assert square_foot == pytest.approx(float(row["ah_per_ft2_mil"]), rel=0.011)


def test_the_finer_figures_of_the_metals() -> None:
    """By another road (worked apart from this program): g/Ah, and µm for each Ah/dm²."""
    for name, grams, microns in (("nickel", 1.0950, 12.29), ("copper", 1.1855, 13.23), ("silver", 4.0247, 38.37)):
        metal = METALS[name]
        assert metal.mass_per_charge * AMPERE_HOUR / GRAM == pytest.approx(grams, abs=5e-5)
        assert metal.thickness_per_charge * AMPERE_HOUR / 1e-2 / MICRON == pytest.approx(microns, abs=5e-3)


def test_the_schoolbook_example() -> None:
    """Published (physics exercise): 40 A/m² for 2 h on nickel, k = 0.304 mg/C, 8900 kg/m³, is 9.84 µm; 0.5 %."""
    assert NICKEL.mass_per_charge == pytest.approx(0.304e-6, rel=0.005)
    assert NICKEL.thickness_per_charge * 40.0 * 7200.0 / MICRON == pytest.approx(9.84, rel=0.005)


def test_charge_and_back() -> None:
    charge = charge_for(NICKEL, 0.955, 200e-6)
    assert charge / AMPERE_HOUR * 1e-2 == pytest.approx(17.04, abs=5e-3)  # by another road: Ah/dm²
    assert charge * NICKEL.thickness_per_charge * 0.955 == pytest.approx(200e-6, rel=1e-12)


def test_the_mass_of_a_silver_film() -> None:
    """By another road: 0.1 µm on a 14-inch face is 0.104 g."""
    area = math.pi / 4 * 0.3556**2
    assert coat_mass(METALS["silver"], area, 0.1e-6) / GRAM == pytest.approx(0.104, abs=5e-4)


def test_efficiency_by_weight() -> None:
    # 1.0950 g/Ah: 104.57 g in 100 Ah is 0.955.
    assert measured_efficiency(NICKEL, 104.57e-3, 100 * AMPERE_HOUR) == pytest.approx(0.955, abs=1e-4)
    assert measured_efficiency(NICKEL, 111e-3, 100 * AMPERE_HOUR) > 1.0  # scales and meter err a little


@pytest.mark.parametrize(
    ("gained_g", "ran_ah", "words"),
    [
        (
            120.0,
            100.0,
            "120 g of nickel for 100 Ah would be an efficiency of 109.6 %, more metal than the charge can lay",
        ),
        (
            10.0,
            100.0,
            "10 g of nickel for 100 Ah would be an efficiency of 9.1 %, too little metal for any bath in order",
        ),
        (0.0, 100.0, "a gain in weight of nothing or less tells no efficiency; give more than 0."),
        (-3.0, 100.0, "a gain in weight of nothing"),
        (math.nan, 100.0, "a gain in weight of nothing"),
        (100.0, 0.0, "a charge of nothing"),
        (100.0, math.inf, "a charge of nothing"),
    ],
)
def test_weights_that_cannot_be(gained_g: float, ran_ah: float, words: str) -> None:
    with pytest.raises(CallError) as refusal:
        measured_efficiency(NICKEL, gained_g * GRAM, ran_ah * AMPERE_HOUR)
    assert str(refusal.value).startswith(words)


@pytest.mark.parametrize(
    ("share", "sentence"),
    [
        (95.5, "an efficiency of 95.5 is more than all of the current; as a share, write 0.955."),
        (1.2, "an efficiency of 1.2 is more than all of the current; as a share, write one from 0.5 to 1."),
        (0.0, "an efficiency of 0 is that of no bath; give a share from 0.5 to 1, such as 0.955."),
        (-0.9, "an efficiency of -0.9 is that of no bath; give a share from 0.5 to 1, such as 0.955."),
        (955.0, "an efficiency of 955 is that of no bath; give a share from 0.5 to 1, such as 0.955."),
        (math.nan, "an efficiency of nan is that of no bath; give a share from 0.5 to 1, such as 0.955."),
    ],
)
def test_efficiencies_that_cannot_be(share: float, sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        check_efficiency(share)
    assert str(refusal.value) == sentence
