"""What a plating bath lays down: steps of current, thickness, and the moment the target is reached.

All values in SI: current density in A/m², time in s, charge in C, thickness in m, mass in kg, area in m².
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from discwright.errors import CallError
from discwright.works.metals import A_PER_DM2, MINUTE, Metal, check_efficiency

#: What a plate, a target and a step can be, in SI; anything else is a slip of the hand.
DIAMETERS = (0.01, 1.0)
TARGETS = (1e-8, 5e-3)
CURRENT_DENSITY_MOST = 100.0 * A_PER_DM2
STEP_SECONDS_MOST = 14 * 24 * 3600.0
STEPS_MOST = 40
#: The thin place keeps a quarter of the mean at the least.
SPREAD_MOST = 1.5
#: A target counts as reached within so much of it, so that rounding makes no step of its own.
_CLOSE = 1e-9


@dataclass(frozen=True)
class Step:
    """One step of current, steady or running in a straight line from one density to another.

    Attributes
    ----------
    first, last : float, A/m²
        Current density at its begin and end; equal where it is steady.
    seconds : float or None
        None for a step that runs until the target is reached.
    """

    first: float
    last: float
    seconds: float | None

    def charge_after(self, seconds: float) -> float:
        """C/m² passed in its first so many seconds."""
        return self.first * seconds + 0.5 * self._slope * seconds**2

    def seconds_for(self, charge: float) -> float:
        """How long it takes to pass so many C/m²: the root of the quadratic, in the form that loses no digits."""
        return 2.0 * charge / (self.first + math.sqrt(max(0.0, self.first**2 + 2.0 * self._slope * charge)))

    def density_after(self, seconds: float) -> float:
        """Current density at a time from its begin, A/m²."""
        return self.first + self._slope * seconds

    @property
    def _slope(self) -> float:
        return 0.0 if self.seconds is None else (self.last - self.first) / self.seconds


@dataclass(frozen=True)
class StepRun:
    """A step as it is run.

    Attributes
    ----------
    step : Step
        As it was asked for.
    seconds : float
        How long it is run: less than asked where the target is reached on the way.
    charge : float, C/m²
    thickness : float, m
        That this step adds, mean over the face.
    """

    step: Step
    seconds: float
    charge: float
    thickness: float

    @property
    def last(self) -> float:
        """Current density at which it ends, A/m²."""
        return self.step.density_after(self.seconds)

    @property
    def mean(self) -> float:
        """Mean current density, A/m²."""
        return self.charge / self.seconds

    @property
    def most(self) -> float:
        """The highest current density in it, A/m²."""
        return max(self.step.first, self.last)

    @property
    def cut_short(self) -> bool:
        """The target was reached before its time was up."""
        return self.step.seconds is not None and self.seconds < self.step.seconds * (1.0 - _CLOSE)


@dataclass(frozen=True)
class PlatingRun:
    """What steps of current make of one face.

    Attributes
    ----------
    metal : Metal
    efficiency : float
        Share of the charge that lays down metal.
    area : float, m²
    target : float, m
        Mean thickness that is wanted.
    spread : float
        Thickest less thinnest, as a share of the mean.
    steps : tuple of StepRun
        Those that are run.
    left_out : tuple of Step
        Those after the target was reached.
    """

    metal: Metal
    efficiency: float
    area: float
    target: float
    spread: float
    steps: tuple[StepRun, ...]
    left_out: tuple[Step, ...]

    @property
    def seconds(self) -> float:
        return sum(one.seconds for one in self.steps)

    @property
    def charge(self) -> float:
        """C through the whole face."""
        return self.area * sum(one.charge for one in self.steps)

    @property
    def thickness(self) -> float:
        """Mean over the face, m."""
        return sum(one.thickness for one in self.steps)

    @property
    def thin(self) -> float:
        """Thickness at the thin place, m: current crowds at the rim, so mean − ½ spread."""
        return self.thickness * (1.0 - 0.5 * self.spread)

    @property
    def mass(self) -> float:
        """kg of metal laid down."""
        return self.metal.mass_per_charge * self.efficiency * self.charge

    @property
    def most_current(self) -> float:
        """The highest current, A."""
        return self.area * max(one.most for one in self.steps)

    @property
    def reached(self) -> bool:
        return self.thickness >= self.target * (1.0 - _CLOSE)

    def steps_within(self, thickness: float) -> int:
        """How many steps begin while less than `thickness` m has grown."""
        grown = [sum(one.thickness for one in self.steps[:k]) for k in range(len(self.steps))]
        return sum(before < thickness for before in grown)

    def most_density_within(self, thickness: float) -> float:
        """The highest current density while less than `thickness` m has grown, A/m²."""
        highest, grown = 0.0, 0.0
        for one in self.steps:
            if grown >= thickness:
                break
            part = min(1.0, (thickness - grown) / one.thickness)
            end = one.step.density_after(one.step.seconds_for(one.charge * part))
            highest = max(highest, one.step.first, end)
            grown += one.thickness
        return highest


def face_area(diameter: float, hole: float = 0.0) -> float:
    """Area of one face of a round plate.

    Parameters
    ----------
    diameter : float, m
    hole : float, m
        Diameter of a hole that takes no current; 0 for none.

    Returns
    -------
    float, m²

    Raises
    ------
    CallError
    """
    if not DIAMETERS[0] <= diameter <= DIAMETERS[1]:
        raise CallError(
            f"a plate of {diameter * 1e3:g} mm is none; give a diameter from {DIAMETERS[0] * 1e3:g} "
            f"to {DIAMETERS[1] * 1e3:g} mm."
        )
    if not 0.0 <= hole < diameter:
        raise CallError(
            f"a hole of {hole * 1e3:g} mm does not fit a plate of {diameter * 1e3:g} mm; give one from 0 to "
            "less than the plate."
        )
    return math.pi / 4.0 * (diameter**2 - hole**2)


def grow(
    metal: Metal, efficiency: float, area: float, target: float, steps: Sequence[Step], spread: float = 0.0
) -> PlatingRun:
    """Run steps of current until the target is reached or they are over.

    Parameters
    ----------
    metal : Metal
    efficiency : float
        Share of the charge that lays down metal, at most 1.
    area : float, m²
    target : float, m
        Mean thickness at which the current is switched off, whatever the steps say.
    steps : sequence of Step
        Only the last may be without a time of its own.
    spread : float
        Thickest less thinnest, as a share of the mean.

    Returns
    -------
    PlatingRun

    Raises
    ------
    CallError
    """
    check_efficiency(efficiency)
    if not TARGETS[0] <= target <= TARGETS[1]:
        raise CallError(
            f"a target of {target * 1e6:g} µm cannot be grown; give one from {TARGETS[0] * 1e6:g} "
            f"to {TARGETS[1] * 1e6:g} µm."
        )
    if not 0.0 <= spread <= SPREAD_MOST:
        raise CallError(f"a spread of {spread * 100:g} % is none; give one from 0 to {SPREAD_MOST * 100:g} %.")
    check_steps(steps)
    done: list[StepRun] = []
    grown, rate = 0.0, metal.thickness_per_charge * efficiency
    for step in steps:
        lacking = target - grown
        if lacking <= target * _CLOSE:
            break
        whole = math.inf if step.seconds is None else rate * step.charge_after(step.seconds)
        if whole > lacking * (1.0 + _CLOSE):
            seconds, charge = step.seconds_for(lacking / rate), lacking / rate
            if seconds > STEP_SECONDS_MOST:
                raise CallError(
                    f"step {len(done) + 1}: at {step.first / A_PER_DM2:g} A/dm² the target is {seconds / 86_400.0:.0f} "
                    "days away; give more current."
                )
        else:
            assert step.seconds is not None  # a step without a time always passes the target
            seconds, charge = step.seconds, step.charge_after(step.seconds)
        done.append(StepRun(step, seconds, charge, rate * charge))
        grown += done[-1].thickness
    return PlatingRun(metal, efficiency, area, target, spread, tuple(done), tuple(steps[len(done) :]))


def check_steps(steps: Sequence[Step]) -> None:
    """Refuse steps of current that cannot be run.

    Raises
    ------
    CallError
    """
    if not 1 <= len(steps) <= STEPS_MOST:
        raise CallError(f"{len(steps)} steps of current cannot be run; give 1 to {STEPS_MOST}.")
    for number, step in enumerate(steps, 1):
        where = f"step {number}"
        for density in (step.first, step.last):
            if not 0.0 <= density <= CURRENT_DENSITY_MOST:
                raise CallError(
                    f"{where}: {density / A_PER_DM2:g} A/dm² is no plating current; give more than 0 and at most "
                    f"{CURRENT_DENSITY_MOST / A_PER_DM2:g}."
                )
        if step.first == step.last == 0.0:
            raise CallError(f"{where}: without current nothing grows; give more than 0 A/dm².")
        if step.seconds is None:
            if number < len(steps):
                raise CallError(f"{where}: only the last step may be without minutes; write for example 0.5x30.")
            if step.first != step.last:
                raise CallError(f"{where}: a current that changes needs minutes to do so; write for example 0.5-2x30.")
        elif not 0.0 < step.seconds <= STEP_SECONDS_MOST:
            raise CallError(
                f"{where}: {step.seconds / MINUTE:g} minutes is no time for a step; give more than 0 and at most "
                f"{STEP_SECONDS_MOST / MINUTE:g}."
            )


def until_target(steps: Sequence[Step]) -> tuple[Step, ...]:
    """The same steps with the last current held until the target is reached.

    Parameters
    ----------
    steps : sequence of Step
    """
    last = steps[-1]
    if last.seconds is None:
        return tuple(steps)
    held = Step(last.last, last.last, None)
    return (*steps[:-1], held) if last.first == last.last else (*steps, held)
