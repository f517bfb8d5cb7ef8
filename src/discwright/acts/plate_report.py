"""What a plating order came to: the run, what to say of it, and the same as plain values in the units of the trade."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from discwright.files.plating_settings import PlatingSettings
from discwright.findings import Finding
from discwright.works.metals import A_PER_DM2, AMPERE_HOUR, DM2, GRAM, MICRON, MINUTE
from discwright.works.plating import PlatingRun, StepRun
from discwright.works.plating_queue import Queue


@dataclass(frozen=True)
class Weighing:
    """A run by its weight, and the next one corrected by it.

    Attributes
    ----------
    gained : float, kg
    charge : float, C
    efficiency : float
        As measured; a little above 1 where scales and meter err.
    next_run : PlatingRun
        The same steps with the measured efficiency, at most 1, and the last current held until the target.
    """

    gained: float
    charge: float
    efficiency: float
    next_run: PlatingRun


@dataclass(frozen=True)
class PlateReport:
    """A plating run, resolved.

    Attributes
    ----------
    kind : str
    grown_on : {"lacquer", "metal"}
    diameter, hole : float, m
    least : float, m
        The least thickness that is wanted anywhere.
    run : PlatingRun
    silver_mass : float or None, kg
        Of the film on a lacquer; None on metal.
    temperature_c : float or None
        Of the bath, where it was given.
    settings : PlatingSettings
    findings : tuple of Finding
    weighing : Weighing or None
    queue : Queue or None
    card : pathlib.Path or None
        Where the run card was written.
    """

    kind: str
    grown_on: str
    diameter: float
    hole: float
    least: float
    run: PlatingRun
    silver_mass: float | None
    temperature_c: float | None
    settings: PlatingSettings
    findings: tuple[Finding, ...]
    weighing: Weighing | None = None
    queue: Queue | None = None
    card: Path | None = None

    def as_dict(self) -> dict[str, Any]:
        """Everything as plain JSON values."""
        run = self.run
        plain: dict[str, Any] = {
            "kind": self.kind,
            "grown_on": self.grown_on,
            "metal": run.metal.name,
            "diameter_mm": _round(self.diameter * 1e3),
            "hole_mm": _round(self.hole * 1e3),
            "area_dm2": _round(run.area / DM2),
            "target_um": _round(run.target / MICRON),
            "efficiency": _round(run.efficiency),
            "spread_percent": _round(run.spread * 100.0),
            "ampere_hours": _round(run.charge / AMPERE_HOUR),
            "minutes": _round(run.seconds / MINUTE),
            "thickness_um": _round(run.thickness / MICRON),
            "thin_um": _round(run.thin / MICRON),
            "least_um": _round(self.least / MICRON),
            "mass_g": _round(run.mass / GRAM),
            "silver_mass_g": None if self.silver_mass is None else _round(self.silver_mass / GRAM),
            "most_amperes": _round(run.most_current),
            "reached_target": run.reached,
            "stopped_at_target": run.steps[-1].cut_short or bool(run.left_out),
            "steps": step_rows(run),
            "steps_not_run": len(run.left_out),
            "findings": [one.as_dict() for one in self.findings],
        }
        if self.weighing is not None:
            plain["weighing"] = _weighing(self.weighing)
        if self.queue is not None:
            plain["queue"] = _queue(self.queue)
        if self.card is not None:
            plain["card"] = str(self.card)
        return plain


def step_rows(run: PlatingRun) -> list[dict[str, Any]]:
    """The steps that are run as plain values: what each adds, and the sums up to its end.

    Parameters
    ----------
    run : PlatingRun
    """
    rows, charge, thickness, seconds = [], 0.0, 0.0, 0.0
    for one in run.steps:
        charge, thickness, seconds = charge + one.charge, thickness + one.thickness, seconds + one.seconds
        sums = {
            "sum_ampere_hours": _round(charge * run.area / AMPERE_HOUR),
            "sum_minutes": _round(seconds / MINUTE),
            "sum_thickness_um": _round(thickness / MICRON),
        }
        rows.append(_step(one, run.area) | sums)
    return rows


def _step(one: StepRun, area: float) -> dict[str, Any]:
    return {
        "a_dm2": _round(one.mean / A_PER_DM2),
        "from_a_dm2": _round(one.step.first / A_PER_DM2),
        "to_a_dm2": _round(one.last / A_PER_DM2),
        "amperes": _round(one.mean * area),
        "from_amperes": _round(one.step.first * area),
        "to_amperes": _round(one.last * area),
        "minutes": _round(one.seconds / MINUTE),
        "asked_minutes": None if one.step.seconds is None else _round(one.step.seconds / MINUTE),
        "ampere_hours": _round(one.charge * area / AMPERE_HOUR),
        "thickness_um": _round(one.thickness / MICRON),
        "cut_short": one.cut_short,
    }


def _weighing(weighing: Weighing) -> dict[str, Any]:
    return {
        "gained_g": _round(weighing.gained / GRAM),
        "ran_ah": _round(weighing.charge / AMPERE_HOUR),
        "efficiency": _round(weighing.efficiency),
        "next_efficiency": _round(weighing.next_run.efficiency),
        "next_minutes": _round(weighing.next_run.seconds / MINUTE),
        "next_ampere_hours": _round(weighing.next_run.charge / AMPERE_HOUR),
        "next_steps": step_rows(weighing.next_run),
    }


def _queue(queue: Queue) -> dict[str, Any]:
    return {
        "tanks": queue.tanks,
        "turn_round_minutes": _round(queue.turn_round / MINUTE),
        "minutes": _round(queue.seconds / MINUTE),
        "tank_share": _round(queue.tank_share),
        "parts": [
            {
                "part": place.part,
                "tank": place.tank,
                "start_minutes": _round(place.start / MINUTE),
                "end_minutes": _round(place.end / MINUTE),
            }
            for place in queue.places
        ],
    }


def _round(value: float) -> float:
    return round(value, 6) + 0.0  # +0.0, never -0.0
