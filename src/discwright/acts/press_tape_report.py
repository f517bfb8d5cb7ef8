"""What an order of tapes needs, resolved, and the same as plain values in the units of the trade."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from discwright.acts.press_report import Ordered, day_text, rounded
from discwright.programme.title import TAPE
from discwright.works.tape import Copying, Passing


@dataclass(frozen=True)
class TapeSide:
    """A tape of the edition: its length, its pass, and when each band goes over.

    Attributes
    ----------
    letters : tuple of str
        Of its one or two sides.
    seconds : float
        Of its longer side.
    order : tuple of Passing
    """

    letters: tuple[str, ...]
    seconds: float
    order: tuple[Passing, ...]


@dataclass(frozen=True)
class TapeNeeds(Ordered):
    """What a tape edition needs.

    Attributes
    ----------
    copying : Copying
    tapes : tuple of TapeSide
        One for every two sides.
    top : float, Hz
        Highest frequency of the programme.
    time_constants : tuple of float, s
        Of the equalisation at playing speed.
    copying_start, copying_end : date or None
    """

    copying: Copying
    tapes: tuple[TapeSide, ...]
    top: float
    time_constants: tuple[float, ...]
    copying_start: date | None
    copying_end: date | None

    @property
    def seconds(self) -> float:
        """How long all copies take."""
        return sum(self.copying.seconds(self.start, one.seconds) for one in self.tapes)

    @property
    def length(self) -> float:
        """Tape of one copy, m."""
        return sum(self.copying.length(one.seconds) for one in self.tapes)

    def as_dict(self) -> dict[str, Any]:
        """Everything as plain JSON values."""
        how, longest = self.copying, max(one.seconds for one in self.tapes)
        return {
            **self.head(TAPE),
            "sides": sum(len(one.letters) for one in self.tapes),
            "tapes": [self._tape(one) for one in self.tapes],
            "speed_cm_s": rounded(how.speed * 100.0),
            "ratio": rounded(how.ratio),
            "copying_speed_cm_s": rounded(how.slave_speed * 100.0),
            "pass_minutes": rounded(how.pass_seconds(longest) / 60.0),
            "reload_minutes": rounded(how.reload / 60.0),
            "slaves": how.slaves,
            "passes": how.passes(self.start) * len(self.tapes),
            "copies_per_hour": rounded(how.per_hour(longest)),
            "copying_hours": rounded(self.seconds / 3600.0),
            "tape_m": rounded(self.length),
            "top_hz": rounded(self.top),
            "copied_top_hz": rounded(how.at_the_heads(self.top)),
            "time_constants_us": [rounded(one * 1e6) for one in self.time_constants],
            "copied_time_constants_us": [rounded(how.time_constant(one) * 1e6) for one in self.time_constants],
            "copying_start": day_text(self.copying_start),
            "copying_end": day_text(self.copying_end),
            **self.tail(),
        }

    def _tape(self, one: TapeSide) -> dict[str, Any]:
        return {
            "letters": list(one.letters),
            "minutes": rounded(one.seconds / 60.0),
            "pass_minutes": rounded(self.copying.pass_seconds(one.seconds) / 60.0),
            "tape_m": rounded(self.copying.length(one.seconds)),
            "order": [
                {
                    "band": band.band,
                    "side": one.letters[band.side],
                    "start_s": rounded(band.start),
                    "end_s": rounded(band.end),
                    "backwards": band.backwards,
                }
                for band in one.order
            ],
        }
