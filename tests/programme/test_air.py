"""Absorption of air against the printed table of the standard, and what a change of weather comes to."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from discwright.errors import CallError
from discwright.programme.air import (
    THIRDS_HZ,
    Air,
    absorption,
    air_difference,
    exact_midbands,
    lost,
)

TABLE = Path(__file__).parents[1] / "authorities" / "air_absorption.csv"
#: Rows in which the transcription and the standard's own equations part: 9.189 and 0.0784 dB/km by the equations. Each
#: stands in one transcription alone, so a slip of the pen is likely.
PARTED = {(-10.0, 70.0, 1000.0): 0.0011, (20.0, 50.0, 50.0): 0.0125}


def rows() -> list[tuple[float, float, float, float]]:
    with TABLE.open(encoding="utf-8", newline="") as stream:
        keys = ("temperature_c", "humidity_percent", "frequency_hz", "db_per_km")
        return [tuple(float(row[key]) for key in keys) for row in csv.DictReader(stream)]  # type: ignore[misc]


def test_the_table_of_the_standard_comes_out_to_its_last_digit() -> None:
    """published: ISO 9613-1:1993, table 1, three digits, through two transcriptions."""
    parted = {}
    for temperature, humidity, frequency, printed in rows():
        here = 1000.0 * float(absorption(exact_midbands([frequency]), Air(temperature, humidity, 1.0))[0])
        if f"{here:.2e}" != f"{printed:.2e}":
            parted[temperature, humidity, frequency] = abs(here / printed - 1.0)
    assert len(rows()) == 134
    assert parted.keys() == PARTED.keys()
    assert all(parted[key] < PARTED[key] for key in PARTED)


def test_a_second_printed_table_agrees() -> None:
    """published: Cox, D'Antonio, Acoustic Absorbers and Diffusers (2017), table 4.2; 10⁻³/m, nominal octaves, 20 °C."""
    bands = np.array([63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0])
    for humidity, printed in (
        (50.0, ("0.028", "0.1", "0.3", "0.63", "1.07", "2.28", "6.83", "24.24")),
        (60.0, ("0.024", "0.088", "0.28", "0.64", "1.11", "2.14", "5.9", "20.48")),
        (70.0, ("0.021", "0.077", "0.26", "0.64", "1.15", "2.08", "5.32", "17.88")),
    ):
        # An energy decays by 10·log10(e) dB for each 1/m.
        here = 1000.0 * absorption(bands, Air(20.0, humidity, 1.0)) / (10.0 * np.log10(np.e))
        for value, words in zip(here, printed, strict=True):
            digits = len(words.partition(".")[2])
            assert value == pytest.approx(float(words), abs=0.5 * 10.0**-digits)


def test_it_grows_with_distance_and_follows_the_pressure() -> None:
    near, far = Air(20.0, 50.0, 10.0), Air(20.0, 50.0, 30.0)
    assert lost(far) == pytest.approx(3.0 * lost(near))  # by hand
    # by hand, from the equations: at the same share of water all scales with the pressure, the frequency, too.
    low = Air(20.0, 40.0, 10.0, 0.8 * 101.325)
    assert low.water_percent == pytest.approx(near.water_percent)
    hz = np.array([100.0, 1000.0, 10_000.0])
    assert absorption(0.8 * hz, low) == pytest.approx(0.8 * absorption(hz, near))


def test_the_second_is_duller_where_it_has_lost_more() -> None:
    """by hand: 30 m instead of 20 at 8 kHz, 20 °C and 50 % (published 24.24·10⁻³/m at 8000 Hz): −1.05 dB."""
    change = dict(zip(THIRDS_HZ, air_difference(Air(20.0, 50.0, 20.0), Air(20.0, 50.0, 30.0)), strict=True))
    assert change[8000.0] == pytest.approx(-10.0 * 24.24e-3 * 4.343, rel=0.02)
    assert abs(change[100.0]) < 0.01
    assert air_difference(Air(20.0, 50.0, 20.0), Air(20.0, 50.0, 20.0)) == pytest.approx(0.0)


def test_dry_air_takes_more_treble() -> None:
    """common practice: a dry hall sounds duller than a damp one."""
    assert lost(Air(20.0, 20.0, 30.0))[-6] > 2.0 * lost(Air(20.0, 80.0, 30.0))[-6]


def test_the_nominal_frequencies_mean_their_exact_midbands() -> None:
    """published: ISO 266; 1000·10^(k/10)."""
    assert exact_midbands([31.5, 1250.0, 20_000.0]) == pytest.approx([31.6228, 1258.925, 19_952.62])
    assert len(set(exact_midbands(THIRDS_HZ))) == len(THIRDS_HZ) == 30


def test_where_the_accuracy_is_claimed() -> None:
    assert Air(20.0, 50.0, 1.0).within
    assert Air(20.0, 50.0, 1.0).water_percent == pytest.approx(1.153, abs=0.002)  # by hand: 2.337 kPa · 0.5/101.325
    assert not Air(-20.0, 10.0, 1.0).within


@pytest.mark.parametrize(
    ("air", "words"),
    [
        (Air(80.0, 50.0, 10.0), "a temperature of 80 °C is not known here; give -20 to 50 °C."),
        (Air(20.0, 0.0, 10.0), "a relative humidity of 0 % is not known here; give 1 to 100 %."),
        (Air(20.0, 50.0, -1.0), "a distance of -1 m is not known here; give 0 to 10000 m."),
        (Air(20.0, 50.0, 1.0, 1013.25), "a pressure of 1013.25 kPa is not known here; give 50 to 110 kPa."),
        (Air(float("nan"), 50.0, 1.0), "a temperature of nan °C is not known here; give -20 to 50 °C."),
    ],
)
def test_a_weather_that_no_place_has_is_refused(air: Air, words: str) -> None:
    with pytest.raises(CallError) as refusal:
        lost(air)
    assert str(refusal.value) == words
