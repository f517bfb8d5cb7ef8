"""Temperature and pressure of saturated steam, by the industrial formulation of 1997. Pressure in Pa, absolute; K.

International Association for the Properties of Water and Steam, Revised Release on the IAPWS Industrial Formulation
1997 (2007), region 4: equations 29 to 31 and table 34.
"""

from __future__ import annotations

import math

from discwright.errors import CallError

ZERO_C = 273.15
MPA = 1e6
#: One standard atmosphere: what a gauge does not show, Pa.
ATMOSPHERE = 101_325.0
PRESSURES = (611.213, 22.064e6)
TEMPERATURES = (273.15, 647.096)
#: Table 34.
_N = (
    0.116_705_214_527_67e4, -0.724_213_167_032_06e6, -0.170_738_469_400_92e2, 0.120_208_247_024_70e5,
    -0.323_255_503_223_33e7, 0.149_151_086_135_30e2, -0.482_326_573_615_91e4, 0.405_113_405_420_57e6,
    -0.238_555_575_678_49, 0.650_175_348_447_98e3,
)  # fmt: skip


def saturation_temperature(pressure: float) -> float:
    """Temperature at which steam of a pressure is saturated.

    Parameters
    ----------
    pressure : float, Pa
        Absolute: what a gauge shows, and the atmosphere.

    Returns
    -------
    float, K

    Raises
    ------
    CallError
    """
    if not PRESSURES[0] <= pressure <= PRESSURES[1]:
        raise CallError(f"steam of {pressure / MPA:g} MPa is not saturated; give from 0.000611213 to 22.064 MPa.")
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _N
    beta = math.sqrt(math.sqrt(pressure / MPA))
    e = beta**2 + n3 * beta + n6
    f = n1 * beta**2 + n4 * beta + n7
    g = n2 * beta**2 + n5 * beta + n8
    d = 2.0 * g / (-f - math.sqrt(f**2 - 4.0 * e * g))
    return (n10 + d - math.sqrt((n10 + d) ** 2 - 4.0 * (n9 + n10 * d))) / 2.0


def saturation_pressure(temperature: float) -> float:
    """Pressure at which steam of a temperature is saturated.

    Parameters
    ----------
    temperature : float, K

    Returns
    -------
    float, Pa
        Absolute.

    Raises
    ------
    CallError
    """
    if not TEMPERATURES[0] <= temperature <= TEMPERATURES[1]:
        raise CallError(f"steam of {temperature - ZERO_C:g} °C is not saturated; give from 0 to 373.946 °C.")
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _N
    theta = temperature + n9 / (temperature - n10)
    a = theta**2 + n1 * theta + n2
    b = n3 * theta**2 + n4 * theta + n5
    c = n6 * theta**2 + n7 * theta + n8
    root = 2.0 * c / (-b + math.sqrt(b**2 - 4.0 * a * c))
    return root * root * root * root * MPA
