"""The metals of a plating bath: Faraday's law, one way and back.

All values in SI: charge in C, thickness in m, mass in kg, area in m².
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from discwright.errors import CallError

#: 1/mol and C, both exact (SI, 2019).
AVOGADRO, ELEMENTARY_CHARGE = 6.022_140_76e23, 1.602_176_634e-19
#: C/mol; 96 485.332 12 (CODATA 2018).
FARADAY = AVOGADRO * ELEMENTARY_CHARGE

#: The units of the trade, in SI (exact by definition).
DM2, A_PER_DM2, MINUTE, AMPERE_HOUR, GRAM, MICRON = 1e-2, 100.0, 60.0, 3600.0, 1e-3, 1e-6

#: No bath in order has less.
EFFICIENCY_LEAST = 0.5
#: Scales and meters err: up to here a measured efficiency is still told, beyond it one of the two is wrong.
MEASURED_MOST = 1.03


@dataclass(frozen=True)
class Metal:
    """A metal as it is plated.

    Attributes
    ----------
    name : str
    molar_mass : float, kg/mol
        IUPAC standard atomic weight.
    electrons : int
        For each atom laid down.
    density : float, kg/m³
    """

    name: str
    molar_mass: float
    electrons: int
    density: float

    @property
    def mass_per_charge(self) -> float:
        """kg/C at an efficiency of 1 (Faraday): M / (n·F)."""
        return self.molar_mass / (self.electrons * FARADAY)

    @property
    def thickness_per_charge(self) -> float:
        """m for each C/m² at an efficiency of 1: M / (n·F·ρ)."""
        return self.mass_per_charge / self.density


#: Atomic weights: IUPAC; densities: as printed in plating handbooks (nickel 8.90 to 8.91, copper 8.92 to 8.96, silver
#: 10.49 to 10.50 g/cm³).
METALS = {
    metal.name: metal
    for metal in (
        Metal("nickel", 58.6934e-3, 2, 8907.0),
        Metal("copper", 63.546e-3, 2, 8960.0),
        Metal("silver", 107.8682e-3, 1, 10490.0),
    )
}


def charge_for(metal: Metal, efficiency: float, thickness: float) -> float:
    """Charge on each m² that grows a thickness (Faraday): d·ρ·n·F / (M·η).

    Parameters
    ----------
    metal : Metal
    efficiency : float
    thickness : float, m

    Returns
    -------
    float, C/m²
    """
    return thickness / (metal.thickness_per_charge * efficiency)


def coat_mass(metal: Metal, area: float, thickness: float) -> float:
    """Mass of an even coat: A·d·ρ.

    Parameters
    ----------
    metal : Metal
    area : float, m²
    thickness : float, m

    Returns
    -------
    float, kg
    """
    return area * thickness * metal.density


def check_efficiency(efficiency: float) -> None:
    """Refuse an efficiency that no bath has.

    Raises
    ------
    CallError
    """
    if 1.0 < efficiency <= 100.0:
        share = f"write {efficiency / 100:g}" if efficiency >= 50.0 else f"write one from {EFFICIENCY_LEAST:g} to 1"
        raise CallError(f"an efficiency of {efficiency:g} is more than all of the current; as a share, {share}.")
    if not EFFICIENCY_LEAST <= efficiency <= 1.0:
        raise CallError(
            f"an efficiency of {efficiency:g} is that of no bath; give a share from {EFFICIENCY_LEAST:g} to 1, "
            "such as 0.955."
        )


def measured_efficiency(metal: Metal, gained: float, charge: float) -> float:
    """Efficiency of a run by its weight: gain / (M/(n·F) · charge).

    Parameters
    ----------
    metal : Metal
    gained : float, kg
        Weight after less weight before.
    charge : float, C
        By the ampere-hour meter.

    Returns
    -------
    float
        As measured; it may lie a little above 1.

    Raises
    ------
    CallError
        If weight and charge cannot both be right.
    """
    for value, words in ((gained, "a gain in weight"), (charge, "a charge")):
        if not 0.0 < value < math.inf:
            raise CallError(f"{words} of nothing or less tells no efficiency; give more than 0.")
    share = gained / (metal.mass_per_charge * charge)
    if not EFFICIENCY_LEAST <= share <= MEASURED_MOST:
        what = "more metal than the charge can lay down" if share > 1.0 else "too little metal for any bath in order"
        raise CallError(
            f"{gained / GRAM:g} g of {metal.name} for {charge / AMPERE_HOUR:g} Ah would be an efficiency of "
            f"{share * 100:.1f} %, {what}; weigh again and look at the ampere-hour meter."
        )
    return share
