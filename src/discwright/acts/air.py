"""What the air takes away from a recording, and what a change of weather or of microphone place explains."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from discwright.programme.air import THIRDS_HZ, Air, air_difference, lost


@dataclass(frozen=True)
class AirReport:
    """The loss in one air, and the difference to a second.

    Attributes
    ----------
    first : Air
    lost_db : tuple of float
        By third octaves, 25 Hz to 20 kHz.
    then : Air or None
    then_lost_db, difference_db : tuple of float or None
        Of the second air; second less first in level, so negative where the second has lost more.
    """

    first: Air
    lost_db: tuple[float, ...]
    then: Air | None = None
    then_lost_db: tuple[float, ...] | None = None
    difference_db: tuple[float, ...] | None = None

    def as_dict(self) -> dict[str, Any]:
        """Everything as plain JSON values."""
        plain: dict[str, Any] = {"air": _air(self.first)}
        if self.then is not None:
            plain["then"] = _air(self.then)
        rows = [{"frequency_hz": f, "lost_db": _round(one)} for f, one in zip(THIRDS_HZ, self.lost_db, strict=True)]
        if self.then_lost_db is not None and self.difference_db is not None:
            for row, other, difference in zip(rows, self.then_lost_db, self.difference_db, strict=True):
                row |= {"then_lost_db": _round(other), "difference_db": _round(difference)}
        return plain | {"bands": rows}


def air(first: Air, then: Air | None = None) -> AirReport:
    """Work out the loss in the air of a hall, and what a second air changes.

    Parameters
    ----------
    first : Air
    then : Air, optional

    Raises
    ------
    CallError
        If a temperature, humidity, pressure or distance is out of range.
    """
    alone = AirReport(first, tuple(lost(first).tolist()))
    if then is None:
        return alone
    difference = air_difference(first, then)
    return AirReport(first, alone.lost_db, then, tuple(lost(then).tolist()), tuple(difference.tolist()))


def _air(air: Air) -> dict[str, Any]:
    return {
        "temperature_c": air.temperature_c,
        "humidity_percent": air.humidity_percent,
        "pressure_kpa": air.pressure_kpa,
        "distance_m": air.distance,
        "water_percent": _round(air.water_percent),
        "within_standard": air.within,
    }


def _round(value: float) -> float:
    return round(value, 5) + 0.0  # +0.0, never -0.0
