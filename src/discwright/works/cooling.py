"""How long a disc must stay in the closed mould until its plastic is cold enough: a floor for the cycle, not the cycle.

A flat plate between two walls that are held cold, heat flowing through its thickness alone. The plastic needs only part
of a cycle: closing, heating and cooling the steel take the rest. Lengths in m, times in s, temperatures in °C.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from discwright.errors import CallError

#: First terms of the Fourier series: temperature averaged over the section, and in its middle plane.
MEAN, CENTRE = 8.0 / math.pi**2, 4.0 / math.pi
#: Above this a·t/s² the first term alone stands for the whole series, within 0.001 s for a disc.
FOURIER_LEAST = 0.1
THICKNESSES = (1e-4, 0.05)
DIFFUSIVITIES = (1e-9, 1e-4)
_TEMPERATURES = (-50.0, 400.0)


@dataclass(frozen=True)
class Cooling:
    """How long a place of the disc takes to cool.

    Attributes
    ----------
    thickness : float, m
    diffusivity : float, m²/s
    hot_c, wall_c, open_c : float
        Of the plastic at the begin, of the cold mould, and of the plastic when the mould may open.
    mean, centre : float, s
        Until the section is that cold on the average, and in its middle.
    """

    thickness: float
    diffusivity: float
    hot_c: float
    wall_c: float
    open_c: float
    mean: float
    centre: float

    def fourier(self, seconds: float) -> float:
        """a·t/s², by which the formula is valid or not.

        Parameters
        ----------
        seconds : float
        """
        return self.diffusivity * seconds / self.thickness**2

    @property
    def mean_valid(self) -> bool:
        """Whether the first term alone is enough for the mean."""
        return self.fourier(self.mean) >= FOURIER_LEAST

    @property
    def centre_valid(self) -> bool:
        """Whether the first term alone is enough for the middle."""
        return self.fourier(self.centre) >= FOURIER_LEAST


def cooling(thickness: float, diffusivity: float, hot_c: float, wall_c: float, open_c: float) -> Cooling:
    """Cooling time of a flat plate, by both forms.

    Parameters
    ----------
    thickness : float, m
        Of the thickest place: it is cold last.
    diffusivity : float, m²/s
    hot_c, wall_c, open_c : float, °C
        Plastic at the begin, mould, plastic at the end.

    Returns
    -------
    Cooling
        t = s²/(π²a) · ln(k·(hot − wall)/(open − wall)), k = 8/π² for the mean and 4/π for the middle; 0 where the
        plastic is cold enough at once.

    Raises
    ------
    CallError

    References
    ----------
    Standard result of polymer processing; the form with 4/π is printed in a moulding training article (2010). H. S.
    Carslaw, J. C. Jaeger, Conduction of Heat in Solids, 2nd ed. (1959), 3.3 has the series.
    """
    if not THICKNESSES[0] <= thickness <= THICKNESSES[1]:
        raise CallError(f"a thickness of {thickness * 1e3:g} mm is no disc's; give from 0.1 to 50 mm.")
    if not DIFFUSIVITIES[0] <= diffusivity <= DIFFUSIVITIES[1]:
        raise CallError(f"a diffusivity of {diffusivity * 1e6:g} mm²/s is none; give from 0.001 to 100 mm²/s.")
    low, high = _TEMPERATURES
    if not low <= wall_c < open_c < hot_c <= high:
        raise CallError(
            f"a mould of {wall_c:g} °C does not cool from {hot_c:g} to {open_c:g} °C; give mould, opening and hot "
            f"plastic in rising order, from {low:g} to {high:g} °C."
        )
    slowest = thickness**2 / (math.pi**2 * diffusivity)
    ratio = (hot_c - wall_c) / (open_c - wall_c)
    mean, centre = (max(0.0, slowest * math.log(k * ratio)) for k in (MEAN, CENTRE))
    return Cooling(thickness, diffusivity, hot_c, wall_c, open_c, mean, centre)
