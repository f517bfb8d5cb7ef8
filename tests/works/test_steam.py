"""Saturated steam: the verification values of the formulation, and each way undone by the other."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.works.steam import ATMOSPHERE, ZERO_C, saturation_pressure, saturation_temperature

AUTHORITIES = Path(__file__).parents[1] / "authorities"
PSI = 6894.757293168


def rows(name: str) -> list[dict[str, float]]:
    with (AUTHORITIES / name).open(encoding="utf-8") as file:
        return [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]


@pytest.mark.parametrize("row", rows("steam_saturation.csv"), ids=lambda row: f"{row['pressure_mpa']:g}MPa")
def test_temperatures(row: dict[str, float]) -> None:
    """Published, to 1e-5 K and better."""
    assert saturation_temperature(row["pressure_mpa"] * 1e6) == pytest.approx(row["temperature_k"], abs=1e-6)


@pytest.mark.parametrize("row", rows("steam_pressure.csv"), ids=lambda row: f"{row['temperature_k']:g}K")
def test_pressures(row: dict[str, float]) -> None:
    """Published, all nine digits."""
    assert saturation_pressure(row["temperature_k"]) == pytest.approx(row["pressure_mpa"] * 1e6, rel=2e-9)


def test_the_steam_of_a_press() -> None:
    """By another road (worked apart): 140 to 170 psi by the gauge are 182.7 to 190.7 °C."""
    told = [saturation_temperature(psi * PSI + ATMOSPHERE) - ZERO_C for psi in (140, 170)]
    assert told == pytest.approx([182.7, 190.7], abs=0.051)


@given(st.floats(273.15, 647.096))
def test_there_and_back(temperature: float) -> None:
    """By another road: equation 31 undoes equation 30."""
    pressure = min(max(saturation_pressure(temperature), 611.213), 22.064e6)
    assert saturation_temperature(pressure) == pytest.approx(temperature, abs=1e-3)


@pytest.mark.parametrize("pressure", [0.0, 600.0, 23e6, float("nan")])
def test_no_saturated_steam(pressure: float) -> None:
    with pytest.raises(CallError, match=r"is not saturated; give from 0\.000611213 to 22\.064 MPa\.$"):
        saturation_temperature(pressure)


def test_no_saturated_temperature() -> None:
    with pytest.raises(CallError) as refusal:
        saturation_pressure(700.0)
    assert str(refusal.value) == "steam of 426.85 °C is not saturated; give from 0 to 373.946 °C."
