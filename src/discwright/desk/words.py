"""Numbers as the person at the desk reads them: metric, or inches, lines per inch and thousandths."""

from __future__ import annotations

import math
from dataclasses import dataclass

from discwright.units import INCH, clock

METRIC, INCHES = "metric", "inch"
_THOU = INCH / 1000.0


@dataclass(frozen=True)
class Words:
    """Lengths and other measures in one person's units.

    Attributes
    ----------
    units : str
        ``"metric"`` or ``"inch"``.
    """

    units: str = METRIC

    @property
    def inches(self) -> bool:
        """Inches are wanted."""
        return self.units == INCHES

    def radius(self, value: float, decimals: int = 2) -> str:
        """A radius or another length of that size, m: `101.23 mm` or `3.985 in`."""
        if self.inches:
            return f"{minus(value / INCH, decimals + 1)} in"
        return f"{minus(value * 1e3, decimals)} mm"

    def small(self, value: float, decimals: int = 1) -> str:
        """A depth, width or land, m: `12.3 µm` or `0.48 thou`."""
        if self.inches:
            return f"{minus(value / _THOU, decimals + 1)} thou"
        return f"{minus(value * 1e6, decimals)} µm"

    def pitch(self, value: float) -> str:
        """A pitch, m per turn: `118 µm` or `215 lines per inch`."""
        if self.inches:
            return f"{INCH / value:.0f} lines per inch" if value > 0 else "no advance"
        return f"{minus(value * 1e6, 1)} µm"

    def speed(self, value: float) -> str:
        """A groove speed, m/s: `412 mm/s` or `16.2 in/s`."""
        return f"{value / INCH:.2f} in/s" if self.inches else f"{value * 1e3:.1f} mm/s"

    def length(self, value: float) -> str:
        """A length of any size, m, in the unit that suits it."""
        if self.inches:
            return self.small(value, 2) if abs(value) < 0.1 * INCH else self.radius(value, 3)
        return self.small(value, 2) if abs(value) < 1e-3 else self.radius(value, 3)

    def measured(self, value: float, limit: float, unit: str) -> str:
        """A finding's value against its limit, in the finding's unit or this person's."""
        if self.inches and unit in ("mm", "µm"):
            size = 1e-3 if unit == "mm" else 1e-6
            pairs = [figures(one * size / (INCH if unit == "mm" else _THOU)) for one in (value, limit)]
            return f"{pairs[0]} against {pairs[1]} {'in' if unit == 'mm' else 'thou'}"
        return f"{figures(value)} against {figures(limit)} {unit}"

    def unit(self, name: str) -> tuple[str, float]:
        """Unit and factor from SI for a series of the strip or a layer of the map: `mm`, `µm`, `mm/s`."""
        if self.inches:
            return {"mm": ("in", 1 / INCH), "µm": ("thou", 1 / _THOU), "mm/s": ("in/s", 1 / INCH)}[name]
        return {"mm": ("mm", 1e3), "µm": ("µm", 1e6), "mm/s": ("mm/s", 1e3)}[name]


def minus(value: float, decimals: int) -> str:
    """A fixed number of decimals, a true minus sign, and never a negative nothing."""
    return f"{round(value, decimals) + 0.0:.{decimals}f}".replace("-", "−")


def level(value_db: float, decimals: int = 1) -> str:
    """`+3.2 dB`."""
    return f"{round(value_db, decimals) + 0.0:+.{decimals}f} dB".replace("-", "−")


def figures(value: float) -> str:
    """Four figures, as on the sheet."""
    text = f"{value:.4g}" if abs(value) < 1000 else f"{value:.0f}"
    return text.replace("-", "−")


def time_left(seconds: float | None) -> str:
    """`about 12 s`, `about 3 min`; empty while nobody knows."""
    if seconds is None or not math.isfinite(seconds):
        return ""
    if seconds < 1.5:
        return "a second"
    if seconds < 10:
        return f"about {seconds:.0f} s"
    if seconds < 90:
        return f"about {5 * round(seconds / 5)} s"
    return f"about {seconds / 60:.0f} min"


def size(count: int) -> str:
    """`12 kB`, `3.4 MB`: in thousands, as disks are sold."""
    if count < 1000:
        return f"{count} bytes"
    for unit, factor in (("kB", 1e3), ("MB", 1e6)):
        if count < 1000 * factor:
            return f"{count / factor:.3g} {unit}"
    return f"{count / 1e9:.3g} GB"


def at_clock(seconds: float | None) -> str:
    """`17:02.4`, or nothing."""
    return "" if seconds is None else clock(seconds).replace("-", "−")
