"""What a cut must satisfy (DESIGN 6): each check turns one side's motion and spiral into findings."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discwright.findings import Finding
from discwright.groove.equipment import Setup
from discwright.groove.motion import BLEND_CORNERS_HZ, Motion
from discwright.groove.spots import Spot, worst_spots
from discwright.groove.table import SpiralRows
from discwright.units import clock, decibels

Float = NDArray[np.float64]

#: How many spots of one kind are reported, worst first.
MOST_SPOTS = 5


@dataclass(frozen=True)
class Side:
    """One side at one level, as the checks see it: K sectors of music and fine pitch.

    Attributes
    ----------
    motion : Motion
    gain : float
        Amplitude ratio to 0 dB.
    setup : Setup
    rows : SpiralRows
    band_starts : tuple of float, s
    radius : ndarray, shape (K,), m
        At the middle of each sector, not below the locked groove.
    """

    motion: Motion
    gain: float
    setup: Setup
    rows: SpiralRows
    band_starts: tuple[float, ...]
    radius: Float

    @property
    def sectors(self) -> int:
        """Sectors up to the end of the music."""
        return self.motion.grid.end

    @property
    def speed(self) -> Float:
        """Groove speed at the middle of each sector, m/s, shape (K,)."""
        result: Float = 2 * np.pi * self.radius / self.motion.grid.turn_time
        return result

    def finding(
        self, code: str, severity: str, time: float, value: float, limit: float, unit: str, remedy: str
    ) -> Finding:
        """A finding at a time of the side; turn, radius and band follow from it."""
        radius = float(np.interp(time, self.rows.time, self.rows.radius))
        band = max(1, int(np.searchsorted(self.band_starts, time + 1e-9, side="right")))
        turn = time / self.motion.grid.turn_time
        return Finding(code, severity, time, band, turn, radius * 1e3, value, limit, unit, remedy)  # type: ignore[arg-type]


def view(motion: Motion, gain: float, setup: Setup, rows: SpiralRows, band_starts: tuple[float, ...] = (0.0,)) -> Side:
    """Prepare one side for the checks.

    Parameters
    ----------
    motion, gain, setup, rows, band_starts : see :class:`Side`

    Returns
    -------
    Side
    """
    time = motion.grid.time[: motion.grid.end + 1]
    middle = 0.5 * (time[1:] + time[:-1])
    radius = np.interp(middle, rows.time, rows.radius)
    return Side(motion, gain, setup, rows, band_starts, np.maximum(radius, setup.disc.locked_radius))


def check_slope(side: Side) -> list[Finding]:
    """Horizontal slope of each edge against the cutting tip's clearance (stop)."""
    allowed = math.tan(side.setup.cutting_tip.clearance)
    spots, runs = spots_over(side, slope_ratio(side), side.motion.slope_frame)
    limit = math.degrees(side.setup.cutting_tip.clearance)
    return [
        side.finding(
            "slope", "stop", spot.time, math.degrees(math.atan(spot.ratio * allowed)), limit, "deg",
            f"Lower the side or trim this band {down(spot.ratio)} dB, or move the band outward."
            f"{_more(runs, spots, spot)}",
        )
        for spot in spots
    ]  # fmt: skip


def slope_ratio(side: Side) -> Float:
    """Greatest horizontal slope of each edge over what the cutting tip clears, shape (2, K).

    Source: v ≤ V·tan(clearance); for one wall driven alone the edge's slope is √2 times the wall's.
    """
    allowed = math.tan(side.setup.cutting_tip.clearance)
    result: Float = side.motion.slope_velocity[:, : side.sectors] * side.gain / (side.speed * allowed)
    return result


def worst_ratio(side: Side) -> float:
    """The worst of slope, wall velocity, acceleration, heat and depth over its limit, 1 at the limit."""
    practice = side.setup.practice
    head = (value.max(initial=0.0) / limit for _, value, limit, _, _, _ in _head_loads(side))
    deepest = instantaneous_depth(side)[1].max(initial=0.0)
    depth = (deepest - practice.depth_min) / (practice.depth_max - practice.depth_min)
    return float(max(slope_ratio(side).max(initial=0.0), depth, *head))


def check_head(side: Side) -> list[Finding]:
    """Wall velocity, acceleration and running heat against the head's file (stop)."""
    findings = []
    for code, value, limit, frames, unit, scale in _head_loads(side):
        spots, runs = spots_over(side, value / limit, frames)
        findings += [
            side.finding(
                code, "stop", spot.time, spot.ratio * limit * scale, limit * scale, unit,
                f"Lower the side {down(spot.ratio)} dB or limit the treble there."
                f"{f' The worst of {runs} such places.' if runs > 1 else ''}",
            )
            for spot in spots[:1]
        ]  # fmt: skip
    return findings


def _head_loads(side: Side) -> tuple[tuple[str, Float, float, Float, str, float], ...]:
    """Code, loads (2, K), limit, frames where they are met, unit and its factor, for each of the head's limits."""
    head, motion, k = side.setup.head, side.motion, side.sectors
    velocity = motion.slope_velocity[:, :k] * (side.gain / math.sqrt(2.0))
    acceleration = motion.acceleration[:, :k] * side.gain
    frames = (0.5 * (motion.grid.time[1 : k + 1] + motion.grid.time[:k]) * motion.sample_rate)[None, :]
    return (
        ("head_velocity", velocity, head.velocity_max, motion.slope_frame, "cm/s", 100.0),
        ("head_acceleration", acceleration, head.acceleration_max, motion.acceleration_frame, "m/s²", 1.0),
        ("head_heat", running_heat(side), head.heat_acceleration_max, frames, "m/s² rms", 1.0),
    )


def running_heat(side: Side) -> Float:
    """Running rms of the wall acceleration, which a mass-controlled head is driven in proportion to.

    Parameters
    ----------
    side : Side

    Returns
    -------
    ndarray, shape (2, K), m/s²
        First-order average with the head's time constant at the end of each sector.
    """
    k = side.sectors
    mean_square = side.motion.mean_square_acceleration[:, :k] * side.gain**2
    kept = np.exp(-np.diff(side.motion.grid.time[: k + 1]) / side.setup.head.heat_time_constant)
    warmth = np.empty_like(mean_square)
    state = np.zeros(2)
    for i in range(k):
        state = kept[i] * state + (1 - kept[i]) * mean_square[:, i]
        warmth[:, i] = state
    return np.sqrt(warmth)


def check_depth(side: Side) -> list[Finding]:
    """Instantaneous depth within the practice's limits (stop)."""
    practice, k = side.setup.practice, side.sectors
    least, greatest = instantaneous_depth(side)
    middle = 0.5 * (side.motion.grid.time[1 : k + 1] + side.motion.grid.time[:k])
    findings = []
    if greatest.max() > practice.depth_max + 5e-9:
        where = int(np.argmax(greatest))
        ratio = (greatest[where] - practice.depth_min) / (practice.depth_max - practice.depth_min)
        findings.append(
            side.finding(
                "depth", "stop", float(middle[where]), greatest[where] * 1e6, practice.depth_max * 1e6, "µm",
                f"Lower the side {down(ratio)} dB{_blend(side, where, greatest[where] - practice.depth_max)}.",
            )
        )  # fmt: skip
    if least.min() < practice.depth_min - 5e-9:
        where = int(np.argmin(least))
        findings.append(
            side.finding(
                "depth", "stop", float(middle[where]), least[where] * 1e6, practice.depth_min * 1e6, "µm",
                "The groove gets too narrow to play: cut deeper or blend the bass to lateral there.",
            )
        )  # fmt: skip
    return findings


def _blend(side: Side, where: int, too_much: float) -> str:
    """The lowest blend that would take out so much depth, m, in a sector; nothing where none does."""
    lift = side.motion.bass_lift[:, where] * side.gain
    # What no longer lifts the tip need not be cut for in advance either: it counts twice.
    saved = 2 * (lift[0] - lift[1:])
    enough = np.flatnonzero(saved >= too_much)
    return f", or blend the bass to lateral below {BLEND_CORNERS_HZ[enough[0]]:.0f} Hz" if len(enough) else ""


def instantaneous_depth(side: Side) -> tuple[Float, Float]:
    """Least and greatest depth, lift included, of each sector.

    Parameters
    ----------
    side : Side

    Returns
    -------
    least, greatest : ndarray, shape (K,), m
    """
    grid, k = side.motion.grid, side.sectors
    depth = np.interp(grid.time[: k + 1], side.rows.time, side.rows.depth)
    found = []
    for hulls, sign in ((side.motion.shallow, -1.0), (side.motion.deep, 1.0)):
        used = int(hulls.start[k])
        sector, place = hulls.sector[:used], hulls.place[:used]
        here = (1 - place) * depth[sector] + place * depth[sector + 1]
        value = sign * here + side.gain * hulls.value[:used]
        found.append(sign * np.maximum.reduceat(value, hulls.start[:k]))
    return found[0], found[1]


def check_land(side: Side) -> list[Finding]:
    """Land kept everywhere (stop): broken only where the lathe's greatest pitch is too small."""
    land_min = side.setup.practice.land_min
    rows = side.rows
    land = np.where(np.isnan(rows.land), np.inf, rows.land)
    where = int(np.argmin(land))
    if land[where] >= land_min - 5e-9:
        return []
    return [
        side.finding(
            "land", "stop", float(rows.time[where]), float(land[where] * 1e6), land_min * 1e6, "µm",
            "The lathe's pitch cannot open far enough here: lower the side or blend the bass.",
        )
    ]  # fmt: skip


def check_radius(side: Side, silent_radius: float) -> list[Finding]:
    """Room for the music and one whole lead-out turn (stop).

    Parameters
    ----------
    side : Side
    silent_radius : float, m
        Where the same side would end without any modulation.
    """
    disc, rows, motion = side.setup.disc, side.rows, side.motion
    end = float(rows.radius[rows.music][-1])
    limit = disc.last_radius
    if end >= limit - 5e-10:
        return []
    duration = motion.grid.duration
    crossed = float(np.interp(-limit, -rows.radius[rows.music], rows.time[rows.music]))
    if silent_radius < limit:
        turns = (disc.outermost_radius - limit) / (disc.outermost_radius - silent_radius)
        over = duration * (1 - turns)
        remedy = (
            f"Too long at any level: even silence would be {clock(over)} (min:s) too long, and at this level "
            f"{clock(duration - crossed)} must go to another side."
        )
    else:
        # The radius used is a convex function of gain: the chord to silence asks for enough.
        share = max(silent_radius - limit, 1e-9) / (silent_radius - end)
        remedy = (
            f"Too long by {clock(duration - crossed)} (min:s) at this level: shorten it, or lower the side "
            f"about {down(1 / share)} dB."
        )
    return [side.finding("radius", "stop", duration, end * 1e3, limit * 1e3, "mm", remedy)]


def spots_over(side: Side, ratio: Float, frames: Float) -> tuple[tuple[Spot, ...], int]:
    """Worst spots of two walls.

    Parameters
    ----------
    side : Side
    ratio : ndarray, shape (2, K)
        Value over limit of each wall.
    frames : ndarray, shape (2, K) or (1, K)
        Frame of the programme where each value is met.

    Returns
    -------
    spots : tuple of Spot
    runs : int
    """
    k = side.sectors
    wall = np.argmax(ratio, axis=0)
    pick = (wall, np.arange(k))
    time = np.clip(
        np.broadcast_to(frames[:, :k], ratio.shape)[pick] / side.motion.sample_rate,
        0.0,
        side.motion.grid.duration,
    )
    return worst_spots(ratio[pick], time, side.motion.grid.sectors_per_turn // 2, MOST_SPOTS)


def down(ratio: float) -> str:
    """Decibels to come down, rounded up to a tenth."""
    return f"{max(0.1, math.ceil(decibels(ratio) * 10 - 1e-9) / 10):.1f}"


def _more(runs: int, spots: tuple[Spot, ...], spot: Spot) -> str:
    """Said with the worst spot only: how many places there are in all."""
    if spot is not spots[0] or runs <= len(spots):
        return ""
    return f" {runs} such places; the worst {len(spots)} are listed."
