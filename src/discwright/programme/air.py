"""How much the air takes away from sound, so that a change of weather is not taken for one of the recording.

ISO 9613-1:1993, equations 3 to 5 and annex B: absorption of a pure tone by temperature, humidity, pressure and
frequency. The standard claims ± 10 % (clause 7.1) from −20 to 50 °C, for 0.05 to 5 % of the molecules being water and
below 200 kPa (these three from memory); its tables reach from 50 Hz to 10 kHz.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discwright.errors import CallError

Float = NDArray[np.float64]

#: Reference pressure, kPa, reference and triple-point temperature, K (clause 4.2, annex B).
REFERENCE_KPA, REFERENCE_K, TRIPLE_K = 101.325, 293.15, 273.16
ZERO_C_K = 273.15
#: Nominal third octaves from 25 Hz to 20 kHz, those that balance is compared in and the two above.
THIRDS_HZ = (
    25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 315.0, 400.0, 500.0, 630.0, 800.0, 1000.0,
    1250.0, 1600.0, 2000.0, 2500.0, 3150.0, 4000.0, 5000.0, 6300.0, 8000.0, 10_000.0, 12_500.0, 16_000.0, 20_000.0,
)  # fmt: skip
#: What a hall, a field and an instrument can have.
TEMPERATURES_C, PRESSURES_KPA, DISTANCE_MOST_M = (-20.0, 50.0), (50.0, 110.0), 10_000.0
#: Share of molecules that are water for which the accuracy is claimed, per cent (clause 7.1).
WATER_PERCENT = (0.05, 5.0)


@dataclass(frozen=True)
class Air:
    """The weather of a hall, and how far sound travels in it.

    Attributes
    ----------
    temperature_c : float
    humidity_percent : float
        Relative.
    distance : float, m
        From the instruments to the microphones.
    pressure_kpa : float
        101.325 at sea level.
    """

    temperature_c: float
    humidity_percent: float
    distance: float
    pressure_kpa: float = REFERENCE_KPA

    @property
    def water_percent(self) -> float:
        """Share of the molecules that are water: annex B, equations B.1 to B.3."""
        kelvin = self.temperature_c + ZERO_C_K
        saturation = 10.0 ** (-6.8346 * (TRIPLE_K / kelvin) ** 1.261 + 4.6151)
        return float(self.humidity_percent * saturation * REFERENCE_KPA / self.pressure_kpa)

    @property
    def within(self) -> bool:
        """Whether the standard claims its ± 10 % for this air."""
        return WATER_PERCENT[0] <= self.water_percent <= WATER_PERCENT[1]


def check_air(air: Air) -> None:
    """Refuse a weather that no place has.

    Parameters
    ----------
    air : Air

    Raises
    ------
    CallError
        If temperature, humidity, pressure or distance is out of range.
    """
    for name, value, (low, high), unit in (
        ("a temperature", air.temperature_c, TEMPERATURES_C, "°C"),
        ("a relative humidity", air.humidity_percent, (1.0, 100.0), "%"),
        ("a pressure", air.pressure_kpa, PRESSURES_KPA, "kPa"),
        ("a distance", air.distance, (0.0, DISTANCE_MOST_M), "m"),
    ):
        if not (math.isfinite(value) and low <= value <= high):
            raise CallError(f"{name} of {value:g} {unit} is not known here; give {low:g} to {high:g} {unit}.")


def absorption(frequency: float | Float, air: Air) -> Float:
    """Absorption of a pure tone, dB/m: ISO 9613-1:1993, equations 3, 4 and 5.

    Parameters
    ----------
    frequency : float or ndarray, Hz
    air : Air
        Its distance does not matter here.
    """
    f = np.asarray(frequency, dtype=np.float64)
    kelvin, pressure, water = air.temperature_c + ZERO_C_K, air.pressure_kpa / REFERENCE_KPA, air.water_percent
    warm = kelvin / REFERENCE_K
    oxygen = pressure * (24.0 + 4.04e4 * water * (0.02 + water) / (0.391 + water))
    nitrogen = pressure * warm**-0.5 * (9.0 + 280.0 * water * math.exp(-4.170 * (warm ** (-1.0 / 3.0) - 1.0)))
    classical = 1.84e-11 / pressure * warm**0.5
    relaxed = 0.01275 * math.exp(-2239.1 / kelvin) / (oxygen + f * f / oxygen)
    relaxed = relaxed + 0.1068 * math.exp(-3352.0 / kelvin) / (nitrogen + f * f / nitrogen)
    return np.asarray(8.686 * f * f * (classical + warm**-2.5 * relaxed), dtype=np.float64)


def lost(air: Air, frequencies: Sequence[float] = THIRDS_HZ) -> Float:
    """What the air takes away on its way, dB, without the spreading of sound.

    Parameters
    ----------
    air : Air
    frequencies : sequence of float, Hz
        Nominal third octaves; reckoned at their exact midbands, 1000·10^(k/10), as the standard's own table is.

    Returns
    -------
    ndarray, shape (frequencies,)
    """
    check_air(air)
    return absorption(exact_midbands(frequencies), air) * air.distance


def air_difference(first: Air, then: Air, frequencies: Sequence[float] = THIRDS_HZ) -> Float:
    """By how much a second recording is brighter than a first, dB, if nothing but the air and the way changed.

    Negative where the second has lost more. It is the change of balance that is explained; what a comparison of two
    takes finds beyond it is another matter.

    Parameters
    ----------
    first, then : Air
    frequencies : sequence of float, Hz
        As in :func:`lost`.

    Returns
    -------
    ndarray, shape (frequencies,)
        Second less first.
    """
    return lost(first, frequencies) - lost(then, frequencies)


def exact_midbands(frequencies: Sequence[float]) -> Float:
    """The exact midband, 1000·10^(k/10) Hz, that each nominal frequency stands for (ISO 9613-1:1993, equation 6).

    Parameters
    ----------
    frequencies : sequence of float, Hz
    """
    places = 10.0 * np.log10(np.asarray(frequencies, dtype=np.float64) / 1000.0)
    return np.asarray(1000.0 * 10.0 ** (np.round(places) / 10.0), dtype=np.float64)
