"""What a proof is found to do: where it departs more than the house allows, and what would cure it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discwright.findings import Finding, Severity
from discwright.groove.distortion import Departures, WorstSpot
from discwright.groove.equipment import PlayingTip, Practice
from discwright.groove.limits import down
from discwright.units import clock

Float = NDArray[np.float64]

#: A tip may stand this much wider than the groove: its flanks, not its widest part, touch the walls' edges.
WIDER = 1.05
#: Per cent of a passage where it does before that is worth a note.
NARROW_SHARE = 1.0


@dataclass(frozen=True)
class Place:
    """Where the moments of a passage lie on the disc.

    Attributes
    ----------
    time, radius : ndarray, shape (N,), s and m
        Radius is linear between and kept beyond the ends.
    turn_time : float, s
    band_starts : tuple of float, s
    outermost_radius : float, m
    """

    time: Float
    radius: Float
    turn_time: float
    band_starts: tuple[float, ...]
    outermost_radius: float

    def radius_at(self, time: float) -> float:
        """Radius at a time of the side, m."""
        return float(np.interp(time, self.time, self.radius))

    def band_at(self, time: float) -> int:
        """Band at a time, counted from 1."""
        return max(1, int(np.searchsorted(self.band_starts, time + 1e-9, side="right")))

    def finding(
        self, code: str, severity: Severity, time: float, value: float, limit: float, unit: str, remedy: str
    ) -> Finding:
        """A finding at a time of the side; turn, radius and band follow from it."""
        radius_mm = self.radius_at(time) * 1e3
        turn = time / self.turn_time
        return Finding(code, severity, time, self.band_at(time), turn, radius_mm, value, limit, unit, remedy)


def check_distortion(
    departures: Departures, spots: Sequence[WorstSpot], tip: PlayingTip, practice: Practice, place: Place,
    known: Sequence[PlayingTip],
) -> list[Finding]:  # fmt: skip
    """The worst second of a proof, where the house allows less (warn), with every way out.

    Parameters
    ----------
    departures : Departures
    spots : sequence of WorstSpot
        Worst first.
    tip : PlayingTip
    practice : Practice
    place : Place
    known : sequence of PlayingTip
        To choose a finer one from.

    Returns
    -------
    list of Finding

    Notes
    -----
    Distortion from tracing grows with q = R·v·w/V² (Lewis and Hunt 1941), so the same share less of level or tip,
    or its root more of radius, brings it down to the limit, to first order.
    """
    limit = practice.heard_distortion_max
    if not spots or spots[0].distortion <= limit:
        return []
    worst = spots[0]
    ratio = worst.distortion / limit
    seconds = int(np.count_nonzero(departures.distortion > limit))
    ways = [f"Lower the side or this band about {down(ratio)} dB"]
    finer = [one for one in known if one.side_radius <= tip.side_radius / ratio]
    if finer:
        ways.append(f"play it with {max(finer, key=lambda one: one.side_radius).name} or finer")
    radius = place.radius_at(worst.time) * math.sqrt(ratio)
    if radius <= place.outermost_radius:
        ways.append(f"move the band outward to {math.ceil(radius * 1e3)} mm or more")
    remedy = f"{', '.join(ways)}, or limit the treble there (treble_limit)."
    count = "" if seconds == 1 else f" {seconds} seconds are over the limit."
    return [
        place.finding(
            "heard_distortion", "warn", worst.time, worst.distortion * 100, limit * 100, "% of the sound",
            f"With {tip.name}: {remedy}{count}",
        )
    ]  # fmt: skip


def check_treble(departures: Departures, tip: PlayingTip, practice: Practice, place: Place) -> list[Finding]:
    """Treble that does not come back where there is any (note), at the second that loses most.

    Parameters
    ----------
    departures : Departures
    tip : PlayingTip
    practice : Practice
    place : Place
    """
    limit = practice.heard_treble_loss_max
    loss = -np.where(np.isnan(departures.treble_db), 0.0, departures.treble_db)
    if len(loss) == 0 or loss.max() <= limit:
        return []
    worst = int(np.argmax(loss))
    over = departures.time[loss > limit]
    return [
        place.finding(
            "heard_treble", "note", float(departures.peak_time[worst]), float(loss[worst]), limit, "dB",
            f"With {tip.name} the treble from 8 to 16 kHz comes back too low in {len(over)} of {len(loss)} seconds, "
            f"first at {clock(float(over[0]))}: a finer tip or a lower level keeps it; put the brightest band outside.",
        )
    ]  # fmt: skip


def check_tip_width(tip: PlayingTip, depth: Float, time: Float, place: Place) -> list[Finding]:
    """Where the tip is wider than the groove between its contacts (note): it rides on the edges there.

    Parameters
    ----------
    tip : PlayingTip
    depth, time : ndarray, shape (N,), m and s
        Unmodulated depth along the passage.
    place : Place

    Returns
    -------
    list of Finding
        Source: a ball touches a 90° groove in two places, sqrt(2)·R apart; the groove is 2·depth wide.
    """
    contact = contact_width(tip)
    share = 100 * float(np.mean(contact > WIDER * 2 * depth))
    if share < NARROW_SHARE:
        return []
    least = int(np.argmin(depth))
    return [
        place.finding(
            "heard_width", "note", float(time[least]), contact * 1e6, 2e6 * float(depth[least]), "µm",
            f"{tip.name} is wider than the unmodulated groove in {share:.0f} % of the passage and rides on its edges "
            "there: cut deeper or play with a smaller tip.",
        )
    ]  # fmt: skip


def contact_width(tip: PlayingTip) -> float:
    """From contact to contact of a tip in a 90° groove, m: sqrt(2) times its radius across the groove."""
    return math.sqrt(2.0) * tip.radius
