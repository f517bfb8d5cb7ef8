"""What an order of discs needs, resolved, and the same as plain values in the units of the trade."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from discwright.acts.press_cautions import DEFER, HOT_WORK
from discwright.findings import Finding
from discwright.programme.title import Edition
from discwright.works.cooling import FOURIER_LEAST, Cooling
from discwright.works.overrun import Overrun
from discwright.works.press import MeanParts, Shot, SideParts
from discwright.works.press_dates import DiscDates
from discwright.works.stamper_life import StamperLife

_MODEL = (
    "Pressings: each is good by itself with the yield; start is the smallest number of which enough are good with the "
    "probability. Stampers: lives drawn by themselves from a gamma distribution of that mean and coefficient of "
    "variation. Parts: each is good by itself with its yield. Every count suffices with the probability for the count "
    "it serves, all of them together with together_probability. Expected counts belong to expected_start."
)


@dataclass(frozen=True)
class Need:
    """One thing that an order needs.

    Attributes
    ----------
    what : str
    count : float
        That must be there, good.
    begun : float
        To be begun, so that with the probability wanted so many are good.
    expected : float
        Used on the average.
    unit : str
        ``"pieces"``, ``"kg"`` or ``"m"``.
    by : date or None
        On this day at the latest; None without a due date.
    """

    what: str
    count: float
    begun: float
    expected: float
    unit: str
    by: date | None

    def as_dict(self) -> dict[str, Any]:
        """The need as plain JSON values."""
        pieces = self.unit == "pieces"
        return {
            "what": self.what,
            "count": int(self.count) if pieces else rounded(self.count),
            "begun": int(self.begun) if pieces else rounded(self.begun),
            "expected": rounded(self.expected),
            "unit": self.unit,
            "by": day_text(self.by),
        }


@dataclass(frozen=True)
class Asked:
    """What is asked of one edition, resolved.

    Attributes
    ----------
    edition : Edition
    good : int
        Copies wanted.
    probability, share : float
        Wanted, and good ones among those made.
    due : date or None
    today : date
    """

    edition: Edition
    good: int
    probability: float
    share: float
    due: date | None
    today: date


@dataclass(frozen=True)
class Ordered:
    """What an order has, of discs or of tapes.

    Attributes
    ----------
    asked : Asked
    start : int
        To be made: of each disc, or of the tape.
    mean_start : float
        Made on the average until there are enough good ones.
    needs : tuple of Need
        In the order in which they must be there.
    findings : tuple of Finding
    """

    asked: Asked
    start: int
    mean_start: float
    needs: tuple[Need, ...]
    findings: tuple[Finding, ...]

    @property
    def first(self) -> Need | None:
        """What must be there first; None without a due date."""
        return self.needs[0] if self.needs and self.needs[0].by is not None else None

    def head(self, form: str) -> dict[str, Any]:
        """What both kinds say first.

        Parameters
        ----------
        form : str
            Name of the format.
        """
        asked = self.asked
        return {
            "edition": asked.edition.id,
            "format": form,
            "due": day_text(asked.due),
            "today": day_text(asked.today),
            "probability": rounded(asked.probability),
            "yield": rounded(asked.share),
            "good": asked.good,
            "start": self.start,
            "expected_start": rounded(self.mean_start),
        }

    def tail(self) -> dict[str, Any]:
        """What both kinds say last."""
        return {
            "needs": [one.as_dict() for one in self.needs],
            "findings": [one.as_dict() for one in self.findings],
        }


@dataclass(frozen=True)
class DiscNeeds(Ordered):
    """What a disc edition needs.

    Attributes
    ----------
    format : str
        Name of the disc format.
    sides, discs : int
    life : StamperLife
    stamper_share : float
    parts : SideParts
        Of each side.
    mean : MeanParts
        Of each side, for `mean_start`.
    chance : float
        That every step comes out as reckoned.
    shot : Shot
    labels, sleeves, jackets : int
    changes : int
        How often a stamper is put in.
    cycle, seconds, mean_seconds : float, s
        Of a pressing; of the press in all; the same on the average.
    cooling : Cooling
        Of the label, the thickest place.
    steam : float, Pa
        Gauge pressure of saturated steam as hot as the mould.
    dates : DiscDates or None
    most : int
        Copies that may be delivered by the usual terms.
    overrun : Overrun or None
        The quantity that pays best, where the house says what too few and too many cost.
    """

    format: str
    sides: int
    discs: int
    life: StamperLife
    stamper_share: float
    parts: SideParts
    mean: MeanParts
    chance: float
    shot: Shot
    labels: int
    sleeves: int
    jackets: int
    changes: int
    cycle: float
    seconds: float
    mean_seconds: float
    cooling: Cooling
    steam: float
    dates: DiscDates | None
    most: int
    overrun: Overrun | None

    @property
    def pressings(self) -> int:
        """Of all discs together."""
        return self.start * self.discs

    @property
    def compound(self) -> float:
        """kg of compound, flash included."""
        return self.pressings * self.shot.mass

    def as_dict(self) -> dict[str, Any]:
        """Everything as plain JSON values."""
        parts, mean, sides = self.parts, self.mean, self.sides
        return {
            **self.head(self.format),
            "sides": sides,
            "discs": self.discs,
            "pressings": self.pressings,
            "stampers_per_side": parts.stampers,
            "expected_stampers_per_side": rounded(mean.stampers),
            "formula_stampers_per_side": rounded(self.life.mean_by_formula(self.mean_start)),
            "stampers_begun_per_side": parts.stampers_begun,
            "expected_stampers_begun_per_side": rounded(mean.stampers_begun),
            "stamper_life": rounded(self.life.mean),
            "life_cv": rounded(self.life.cv),
            "stamper_yield": rounded(self.stamper_share),
            "mothers": parts.mothers * sides,
            "masters": parts.masters * sides,
            "lacquers": parts.lacquers * sides,
            "expected_mothers": mean.mothers * sides,
            "expected_masters": mean.masters * sides,
            "expected_lacquers": mean.lacquers * sides,
            "mothers_per_side": parts.mothers,
            "masters_per_side": parts.masters,
            "lacquers_per_side": parts.lacquers,
            "together_probability": rounded(self.chance),
            "disc_g": rounded(self.shot.disc * 1e3),
            "shot_g": rounded(self.shot.mass * 1e3),
            "flash_percent": rounded(self.shot.flash * 100.0),
            "disc_cm3": rounded(self.shot.volume * 1e6),
            "mean_thickness_mm": rounded(self.shot.thickness * 1e3),
            "compound_kg": rounded(self.compound),
            "expected_compound_kg": rounded(self.mean_start * self.discs * self.shot.mass),
            "labels": self.labels,
            "sleeves": self.sleeves,
            "jackets": self.jackets,
            "cycle_s": rounded(self.cycle),
            "stamper_changes": self.changes,
            "press_hours": rounded(self.seconds / 3600.0),
            "expected_press_hours": rounded(self.mean_seconds / 3600.0),
            "press_start": None if self.dates is None else day_text(self.dates.press_start),
            "press_end": None if self.dates is None else day_text(self.dates.press_end),
            "cooling": self._cooling(),
            "overrun": self._overrun(),
            "model": _MODEL,
            "cautions": [{"about": one.about, "words": one.words, "rule": one.rule} for one in HOT_WORK],
            "defer": DEFER,
            **self.tail(),
        }

    def _cooling(self) -> dict[str, Any]:
        cool = self.cooling
        return {
            "thickness_mm": rounded(cool.thickness * 1e3),
            "diffusivity_mm2_s": rounded(cool.diffusivity * 1e6),
            "hot_c": rounded(cool.hot_c),
            "cold_c": rounded(cool.wall_c),
            "open_c": rounded(cool.open_c),
            "mean_s": rounded(cool.mean),
            "centre_s": rounded(cool.centre),
            "mean_fourier": rounded(cool.fourier(cool.mean)),
            "centre_fourier": rounded(cool.fourier(cool.centre)),
            "fourier_least": FOURIER_LEAST,
            "valid": cool.mean_valid and cool.centre_valid,
            "steam_gauge_bar": rounded(self.steam / 1e5),
        }

    def _overrun(self) -> dict[str, Any]:
        best = self.overrun
        return {
            "most": self.most,
            "best_quantity": None if best is None else rounded(best.quantity),
            "best_cost": None if best is None else rounded(best.cost),
        }


def day_text(day: date | None) -> str | None:
    """A day as it stands in JSON."""
    return None if day is None else day.isoformat()


def rounded(value: float) -> float:
    """A number to what it is worth, and never −0."""
    return round(value, 6) + 0.0
