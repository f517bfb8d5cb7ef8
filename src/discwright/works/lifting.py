"""What one person may lift, by the revised equation of NIOSH. A reckoning, and no proof that a lift is safe.

T. R. Waters, V. Putz-Anderson, A. Garg, L. J. Fine, Revised NIOSH equation for the design and evaluation of manual
lifting tasks, Ergonomics 36 (1993) 749-776. Two hands, standing, no slipping floor, no sudden movement. Weights in kg,
lengths in cm, angles in degrees, as the equation has them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from discwright.errors import CallError

#: What may be lifted where everything is ideal, kg.
LOAD_CONSTANT_KG = 23.0
#: Beyond these nothing should be lifted by hand at all.
REACH_CM, HEIGHT_CM, TRAVEL_CM, TWIST_DEG = (25.0, 63.0), (0.0, 175.0), (25.0, 175.0), (0.0, 135.0)


@dataclass(frozen=True)
class Lift:
    """How something is lifted.

    Attributes
    ----------
    reach_cm : float
        From the ankles to the hands, forward.
    height_cm : float
        Of the hands above the floor at the begin.
    travel_cm : float
        How far up or down it goes.
    twist_deg : float
        How far the body turns.
    frequency, grip : float
        Multipliers for how often and how well it can be held, from the tables of the equation; 1 for now and then, and
        a good grip.
    """

    reach_cm: float = 25.0
    height_cm: float = 75.0
    travel_cm: float = 25.0
    twist_deg: float = 0.0
    frequency: float = 1.0
    grip: float = 1.0

    def __post_init__(self) -> None:
        for value, what in (
            (self.reach_cm, "a reach"), (self.height_cm, "a height"), (self.travel_cm, "a way"),
            (self.twist_deg, "a twist"),
        ):  # fmt: skip
            if not (math.isfinite(value) and value >= 0.0):
                raise CallError(f"{what} of {value:g} is none; give 0 or more.")
        for value, what in ((self.frequency, "how often"), (self.grip, "the grip")):
            if not 0.0 <= value <= 1.0:
                raise CallError(f"a multiplier of {value:g} for {what} is none; give from 0 to 1.")

    @property
    def recommended_kg(self) -> float:
        """The recommended weight limit; 0 where nothing should be lifted so."""
        if (
            self.reach_cm > REACH_CM[1]
            or self.height_cm > HEIGHT_CM[1]
            or self.travel_cm > TRAVEL_CM[1]
            or self.twist_deg > TWIST_DEG[1]
        ):
            return 0.0
        horizontal = REACH_CM[0] / max(self.reach_cm, REACH_CM[0])
        vertical = 1.0 - 0.003 * abs(self.height_cm - 75.0)
        distance = min(1.0, 0.82 + 4.5 / max(self.travel_cm, TRAVEL_CM[0]))
        asymmetry = 1.0 - 0.0032 * self.twist_deg
        return LOAD_CONSTANT_KG * horizontal * vertical * distance * asymmetry * self.frequency * self.grip

    def index(self, weight_kg: float) -> float:
        """Weight over the recommended limit; above 1 it is too much for one person, infinite where nothing may be.

        Parameters
        ----------
        weight_kg : float
        """
        limit = self.recommended_kg
        return math.inf if limit <= 0.0 else weight_kg / limit


def too_heavy(weight_kg: float, lift: Lift | None = None) -> bool:
    """Whether a weight is more than one person should lift; then two people, or a lifting aid.

    Parameters
    ----------
    weight_kg : float
    lift : Lift, optional
        The ideal one without: no lift is better than that.
    """
    return (lift or Lift()).index(weight_kg) > 1.0
