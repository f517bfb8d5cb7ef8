"""What an order needs, by count: pressings to start, stampers, mothers, masters, lacquers, compound, press hours.

Every count is the smallest that suffices with the probability wanted, given the count it serves; what is used on the
average stands beside it. The steps are taken as independent of one another, so the chance that all of them come out is
the product of their own. Masses in kg, lengths in m, times in s.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from discwright.errors import CallError
from discwright.works.stamper_life import StamperLife

QUANTITY_MOST = 10_000_000
SHARES = (0.01, 1.0)
FLASH_MOST = 1.0
#: Densities that a record compound can have, kg/m³, and a disc's mass, kg.
DENSITIES, MASSES = (800.0, 3000.0), (0.005, 1.0)
_CYCLES = (1.0, 3600.0)
#: Chances that differ by so small a share are the same: sums of rounding.
_SAME = 1e-9


@dataclass(frozen=True)
class TreeLimits:
    """How many parts come of one, and which share of them is good.

    Attributes
    ----------
    stamper_share, mother_share, master_share : float
        Good ones among those that are begun.
    stampers_per_mother, mothers_per_master, masters_per_lacquer : int
    """

    stamper_share: float
    mother_share: float = 1.0
    master_share: float = 1.0
    stampers_per_mother: int = 10
    mothers_per_master: int = 10
    masters_per_lacquer: int = 1

    def __post_init__(self) -> None:
        for share, what in (
            (self.stamper_share, "stampers"), (self.mother_share, "mothers"), (self.master_share, "masters"),
        ):  # fmt: skip
            check_share(share, what)
        for count, what in (
            (self.stampers_per_mother, "stampers from a mother"), (self.mothers_per_master, "mothers from a master"),
            (self.masters_per_lacquer, "masters from a lacquer"),
        ):  # fmt: skip
            if count < 1:
                raise CallError(f"{count} {what} make no disc; give at least 1.")


@dataclass(frozen=True)
class SideParts:
    """The metal of one side.

    Attributes
    ----------
    stampers, mothers, masters, lacquers : int
        Good ones that must be there; of lacquers, those to cut.
    stampers_begun, mothers_begun, masters_begun : int
        To be grown, so that with the probability wanted so many of them are good.
    chance : float
        That every step from the lacquer to the last stamper's wear comes out so.
    """

    stampers: int
    stampers_begun: int
    mothers: int
    mothers_begun: int
    masters: int
    masters_begun: int
    lacquers: int
    chance: float


@dataclass(frozen=True)
class MeanParts:
    """The metal of one side on the average.

    Attributes
    ----------
    stampers, stampers_begun : float
    mothers, masters, lacquers : int
        That so many stampers on the average ask for; whole ones.
    """

    stampers: float
    stampers_begun: float
    mothers: int
    masters: int
    lacquers: int


@dataclass(frozen=True)
class Shot:
    """What is laid into the press for one disc.

    Attributes
    ----------
    disc, mass : float, kg
        Of the trimmed disc, and of the shot.
    volume : float, m³
        Of the disc.
    thickness : float, m
        Of a flat plate of the same volume and face.
    flash : float
        What is pressed out and trimmed off, as a share of the disc.
    """

    disc: float
    mass: float
    volume: float
    thickness: float
    flash: float


def check_share(share: float, what: str) -> None:
    """Refuse a share of good ones that cannot be.

    Parameters
    ----------
    share : float
    what : str
        Of what, in the plural.

    Raises
    ------
    CallError
    """
    if not SHARES[0] <= share <= SHARES[1]:
        advice = f"; as a share, write {share / 100:g}." if 2.0 <= share <= 100.0 else "."
        raise CallError(
            f"a yield of {share:g} for {what} cannot be; give a share from {SHARES[0]:g} to {SHARES[1]:g}{advice}"
        )


def check_probability(probability: float) -> None:
    """Refuse what is no probability, or a certainty.

    Parameters
    ----------
    probability : float

    Raises
    ------
    CallError
    """
    if not 0.0 < probability < 1.0:
        advice = f"; for {probability:g} % write {probability / 100:g}." if 2.0 <= probability < 100.0 else "."
        raise CallError(f"a probability of {probability:g} cannot be kept; give more than 0 and less than 1{advice}")


def check_quantity(quantity: int) -> None:
    """Refuse an order of nothing, or of more than anybody presses.

    Parameters
    ----------
    quantity : int

    Raises
    ------
    CallError
    """
    if not 1 <= quantity <= QUANTITY_MOST:
        raise CallError(f"an order of {quantity} cannot be pressed; give a quantity from 1 to {QUANTITY_MOST}.")


def chance_short(begun: int, good: int, share: float) -> float:
    """Probability that fewer than so many good ones come of those begun.

    Parameters
    ----------
    begun, good : int
    share : float
        Good ones on the average, each independent of the others.

    Returns
    -------
    float
        P(Binomial(begun, share) < good), by the incomplete beta function.
    """
    if good <= 0:
        return 0.0
    if begun < good:
        return 1.0
    if share >= 1.0:
        return 0.0
    from scipy.special import betainc

    return float(betainc(begun - good + 1, good, 1.0 - share))


def enough_begun(good: int, share: float, probability: float) -> int:
    """The smallest number to begin of which so many are good with a probability.

    Parameters
    ----------
    good : int
    share : float
    probability : float

    Returns
    -------
    int
        The smallest N with P(Binomial(N, share) ≥ good) ≥ probability.

    Raises
    ------
    CallError
    """
    check_probability(probability)
    may_fail = (1.0 - probability) * (1.0 + _SAME)
    low, high = good - 1, max(good, 1)
    while chance_short(high, good, share) > may_fail:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        if chance_short(middle, good, share) > may_fail:
            low = middle
        else:
            high = middle
    return high


def side_parts(pressings: int, life: StamperLife, limits: TreeLimits, probability: float) -> SideParts:
    """The metal that one side needs for so many pressings.

    Parameters
    ----------
    pressings : int
    life : StamperLife
    limits : TreeLimits
    probability : float
        For each step by itself.

    Returns
    -------
    SideParts

    Raises
    ------
    CallError
    """
    check_probability(probability)
    stampers = life.enough(pressings, probability)
    stampers_begun = enough_begun(stampers, limits.stamper_share, probability)
    mothers = _of(stampers_begun, limits.stampers_per_mother)
    mothers_begun = enough_begun(mothers, limits.mother_share, probability)
    masters = _of(mothers_begun, limits.mothers_per_master)
    masters_begun = enough_begun(masters, limits.master_share, probability)
    chance = (
        (1.0 - life.chance_worn(stampers, pressings))
        * (1.0 - chance_short(stampers_begun, stampers, limits.stamper_share))
        * (1.0 - chance_short(mothers_begun, mothers, limits.mother_share))
        * (1.0 - chance_short(masters_begun, masters, limits.master_share))
    )
    return SideParts(
        stampers, stampers_begun, mothers, mothers_begun, masters, masters_begun,
        _of(masters_begun, limits.masters_per_lacquer), chance,
    )  # fmt: skip


def mean_parts(pressings: float, life: StamperLife, limits: TreeLimits) -> MeanParts:
    """The metal that one side uses on the average for so many pressings.

    Parameters
    ----------
    pressings : float
    life : StamperLife
    limits : TreeLimits

    Returns
    -------
    MeanParts
        Attempts are stampers over their share; of mothers and above, as many as are needed for those attempts.
    """
    stampers = life.mean_used(pressings)
    begun = stampers / limits.stamper_share
    mothers = _of(begun / limits.mother_share, limits.stampers_per_mother)
    masters = _of(mothers / limits.master_share, limits.mothers_per_master)
    return MeanParts(stampers, begun, mothers, masters, _of(masters, limits.masters_per_lacquer))


def shot(disc: float, density: float, face: float, flash: float) -> Shot:
    """The shot for a disc of a mass.

    Parameters
    ----------
    disc : float, kg
    density : float, kg/m³
    face : float, m²
        One face of the disc less the hole.
    flash : float
        Share of the disc that is trimmed off.

    Returns
    -------
    Shot

    Raises
    ------
    CallError
    """
    if not MASSES[0] <= disc <= MASSES[1]:
        raise CallError(f"a disc of {disc * 1e3:g} g is none; give from {MASSES[0] * 1e3:g} to {MASSES[1] * 1e3:g} g.")
    if not DENSITIES[0] <= density <= DENSITIES[1]:
        raise CallError(f"a compound of {density / 1e3:g} g/cm³ is none; give from 0.8 to 3 g/cm³.")
    if not 0.0 <= flash <= FLASH_MOST:
        raise CallError(f"a flash of {flash * 100:g} % is none; give from 0 to {FLASH_MOST * 100:g} % of the disc.")
    volume = disc / density
    return Shot(disc, density * volume * (1.0 + flash), volume, volume / face, flash)


def press_seconds(
    pressings: float, cycle: float, running: float, changes: float, change: float, first_off: float
) -> float:
    """How long one press is taken.

    Parameters
    ----------
    pressings : float
    cycle : float, s
        From one disc to the next.
    running : float
        Share of the time in which the press makes discs.
    changes : float
        How often a stamper is put in.
    change, first_off : float, s
        For each of them: putting it in, and the inspection of the first disc.

    Returns
    -------
    float, s

    Raises
    ------
    CallError
    """
    if not _CYCLES[0] <= cycle <= _CYCLES[1]:
        raise CallError(f"a cycle of {cycle:g} s is none; give from {_CYCLES[0]:g} to {_CYCLES[1]:g} s.")
    if not 0.0 < running <= 1.0:
        raise CallError(f"a press that runs {running * 100:g} % of its time is none; give more than 0, 100 at most.")
    return pressings * cycle / running + changes * (change + first_off)


def _of(count: float, from_one: int) -> int:
    """How many to take so many from; a count that is whole but for rounding is whole."""
    return math.ceil(count / from_one - _SAME)
