"""What was measured against what was planned or wanted: findings, and how far the tip must be lowered."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from discwright.errors import CallError
from discwright.findings import Finding, sort_findings
from discwright.inspection.gauge import Gauged

#: Width that may be missing or too much, m, and pitch that may differ, as a share: the house's own.
WIDTH_TOLERANCE, PITCH_TOLERANCE = 2e-6, 0.02
#: A land may be narrower than planned by so much, m.
LAND_TOLERANCE = 2e-6
#: Angles between the walls that a cutting tip can have, rad.
_ANGLES = (math.radians(60.0), math.radians(120.0))
#: Walls that are darker (or lighter) only so many times likelier than not are told of.
_UNSURE = math.log(2.0)


@dataclass(frozen=True)
class Planned:
    """A place of a planned side.

    Attributes
    ----------
    time : float, s
    turn : float
    radius : float, m
    band : int
        Counted from 1.
    width, pitch : float, m
        Without the music, over the turn around the place.
    land_least : float or None, m
        Over that turn, music and guard included; None where there is no turn outside.
    width_min : float, m
        Least width that the practice allows with the music.
    """

    time: float
    turn: float
    radius: float
    band: int
    width: float
    pitch: float
    land_least: float | None
    width_min: float

    def as_dict(self) -> dict[str, Any]:
        """The place as plain JSON values."""
        land = self.land_least
        return {
            "time_s": round(self.time, 4),
            "turn": round(self.turn, 4),
            "radius_mm": round(self.radius * 1e3, 4),
            "width_um": round(self.width * 1e6, 3),
            "land_um": round((self.pitch - self.width) * 1e6, 3),
            "least_land_um": None if land is None else round(land * 1e6, 3),
            "pitch_um": round(self.pitch * 1e6, 3),
        }


def correction(measured: float, wanted: float, included_angle: float = math.pi / 2.0) -> float:
    """How far the tip must be lowered for a groove to come out as wide as wanted, m; negative = raised.

    Parameters
    ----------
    measured, wanted : float, m
        Widths.
    included_angle : float, rad
        Between the walls.

    Raises
    ------
    CallError
        If a width is none, or the angle no cutting tip's.

    Notes
    -----
    A groove with the included angle α is ``2·tan(α/2)`` times as wide as deep: twice for 90°.
    """
    if not (math.isfinite(wanted) and 5e-6 <= wanted <= 400e-6):
        raise CallError(f"no groove is {wanted * 1e6:g} µm wide; give the wanted width in µm, 56 for example.")
    if not _ANGLES[0] <= included_angle <= _ANGLES[1]:
        raise CallError(
            f"no cutting tip has an included angle of {math.degrees(included_angle):g}°; give one from 60 to 120."
        )
    return (wanted - measured) / (2.0 * math.tan(included_angle / 2.0))


def correction_words(lower: float) -> str:
    """A sentence that says what to do.

    Parameters
    ----------
    lower : float, m
        As :func:`correction` gives it.
    """
    if abs(lower) < 0.05e-6:
        return "Leave the tip where it is."
    return f"{'Lower' if lower > 0.0 else 'Raise'} the tip by {abs(lower) * 1e6:.1f} µm."


def check_shade(gauged: Gauged) -> list[Finding]:
    """Say where the picture hardly tells grooves from land.

    Parameters
    ----------
    gauged : Gauged
    """
    if gauged.odds >= _UNSURE:
        return []
    other = "lighter" if gauged.shade == "darker" else "darker"
    return [
        Finding(
            "gauge_walls", "note", None, None, None, None, math.exp(gauged.odds), 2.0, "times likelier",
            f"The {gauged.shade} stripes were taken for grooves, but little tells them from the land; if they are the "
            f"land, say --walls {other}.",
        )
    ]  # fmt: skip


def check_wanted(gauged: Gauged, wanted: float, lower: float, place: Planned | None = None) -> Finding:
    """Hold the mean width against the wanted one.

    Parameters
    ----------
    gauged : Gauged
    wanted : float, m
    lower : float, m
        What would put it right.
    place : Planned, optional
    """
    off = abs(gauged.width.mean - wanted) > WIDTH_TOLERANCE
    time, band, turn, radius = _where(place)
    return Finding(
        "gauge_width", "warn" if off else "note", time, band, turn, radius, gauged.width.mean * 1e6, wanted * 1e6, "µm",
        correction_words(lower) if off else "As wanted.",
    )  # fmt: skip


def check_against(gauged: Gauged, planned: Planned) -> tuple[Finding, ...]:
    """Hold what was measured against the plan, but for the mean width.

    Parameters
    ----------
    gauged : Gauged
    planned : Planned
    """
    time, band, turn, radius = _where(planned)
    found: list[Finding] = []
    if gauged.width.least < planned.width_min:
        found.append(Finding(
            "gauge_narrow", "stop", time, band, turn, radius, gauged.width.least * 1e6, planned.width_min * 1e6, "µm",
            "The groove is too narrow there for a tip to stay in it; lower the cutting tip and cut the test again.",
        ))  # fmt: skip
    if gauged.pitch is not None:
        off = abs(gauged.pitch / planned.pitch - 1.0) > PITCH_TOLERANCE
        found.append(Finding(
            "gauge_pitch", "warn" if off else "note", time, band, turn, radius, gauged.pitch * 1e6, planned.pitch * 1e6,
            "µm", "Check the turn, the scale of the photograph and the lathe's pitch." if off else "As planned.",
        ))  # fmt: skip
    if gauged.land is not None:
        allowed = planned.pitch - planned.width if planned.land_least is None else planned.land_least
        off = gauged.land.least < allowed - LAND_TOLERANCE
        touching = gauged.land.least <= 0.0
        words = "Two turns cut into each other; " if touching else "The land is narrower than the plan leaves it; "
        words += "check depth and pitch of the lathe."
        found.append(Finding(
            "gauge_land", "stop" if touching else "warn" if off else "note", time, band, turn, radius,
            gauged.land.least * 1e6, allowed * 1e6, "µm",
            words if off or touching else "No narrower than the plan leaves it.",
        ))  # fmt: skip
    return sort_findings(found)


def _where(place: Planned | None) -> tuple[float | None, int | None, float | None, float | None]:
    if place is None:
        return None, None, None, None
    return place.time, place.band, place.turn, place.radius * 1e3
