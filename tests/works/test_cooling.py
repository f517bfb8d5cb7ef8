"""Cooling of a flat plate: against a table and against the whole series."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest

from discwright.errors import CallError
from discwright.works.cooling import FOURIER_LEAST, cooling

AUTHORITIES = Path(__file__).parents[1] / "authorities"


def rows(name: str) -> list[dict[str, float]]:
    with (AUTHORITIES / name).open(encoding="utf-8") as file:
        return [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]


def share(fourier: float, mean: bool) -> float:
    """(T − wall)/(hot − wall) at a·t/s², by 200 terms of the series: of the mean, or of the middle plane."""
    total = 0.0
    for n in range(200):
        odd = 2 * n + 1
        term = math.exp(-(odd**2) * math.pi**2 * fourier)
        total += 8 / (odd * math.pi) ** 2 * term if mean else 4 / (odd * math.pi) * (-1) ** n * term
    return total


def by_series(thickness_mm: float, diffusivity: float, target: float, mean: bool) -> float:
    """Seconds to a share, by halving."""
    low, high = 0.0, 10.0
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if share(middle, mean) > target else (low, middle)
    return high * thickness_mm**2 / diffusivity


@pytest.mark.parametrize("row", rows("cooling_times.csv"), ids=lambda row: f"{row['thickness_mm']:g}mm")
def test_the_table(row: dict[str, float]) -> None:
    """By another road, within 0.001 s of what is printed; 1.9 mm takes 5.744 and 7.809 s."""
    one = cooling(row["thickness_mm"] * 1e-3, row["diffusivity_mm2_s"] * 1e-6, 160.0, 30.0, 60.0)
    assert one.mean == pytest.approx(row["mean_s"], abs=0.001)
    assert one.centre == pytest.approx(row["centre_s"], abs=0.001)
    # By another road: 200 terms of the series.
    assert one.mean_valid
    assert one.centre_valid
    assert one.mean == pytest.approx(
        by_series(row["thickness_mm"], row["diffusivity_mm2_s"], 30 / 130, True), abs=0.001
    )  # fmt: skip
    assert one.centre == pytest.approx(
        by_series(row["thickness_mm"], row["diffusivity_mm2_s"], 30 / 130, False), abs=0.001
    )  # fmt: skip


def test_twice_as_thick_takes_four_times_as_long() -> None:
    thin, thick = cooling(1e-3, 8e-8, 160.0, 30.0, 60.0), cooling(2e-3, 8e-8, 160.0, 30.0, 60.0)
    assert (thick.mean, thick.centre) == pytest.approx((4 * thin.mean, 4 * thin.centre), rel=1e-12)


def test_where_the_first_term_is_not_enough() -> None:
    """By another road: opened early, the mean is told too short and the middle too long, and both say so."""
    early = cooling(2e-3, 8e-8, 160.0, 30.0, 140.0)
    assert not early.mean_valid
    assert not early.centre_valid
    assert early.fourier(early.centre) < FOURIER_LEAST
    assert early.mean < by_series(2.0, 0.08, 110 / 130, True)
    assert early.centre > by_series(2.0, 0.08, 110 / 130, False)


def test_what_is_cold_at_once_takes_no_time() -> None:
    """By hand: 8/π² of 130 K is below 110 K."""
    assert cooling(2e-3, 8e-8, 160.0, 30.0, 140.0).mean == 0.0


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ((0.0, 8e-8, 160, 30, 60), "a thickness of 0 mm is no disc's; give from 0.1 to 50 mm."),
        ((2e-3, 0.0, 160, 30, 60), "a diffusivity of 0 mm²/s is none; give from 0.001 to 100 mm²/s."),
        (
            (2e-3, 8e-8, 160, 70, 60),
            "a mould of 70 °C does not cool from 160 to 60 °C; give mould, opening and hot plastic in rising order, "
            "from -50 to 400 °C.",
        ),
        (
            (2e-3, 8e-8, math.nan, 30, 60),
            "a mould of 30 °C does not cool from nan to 60 °C; give mould, opening and hot plastic in rising order, "
            "from -50 to 400 °C.",
        ),
    ],
)
def test_what_cannot_be(values: tuple[float, ...], sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        cooling(*values)
    assert str(refusal.value) == sentence
