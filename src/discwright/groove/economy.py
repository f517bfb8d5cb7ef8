"""What a side spends its room on, and what thin land may print through: notes, never stops (DESIGN 6)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from discwright.findings import Finding
from discwright.groove.limits import Side
from discwright.groove.motion import BLEND_CORNERS_HZ
from discwright.groove.rows import slew_envelope

Float = NDArray[np.float64]

#: Sectors over which loud and quiet are compared for echo.
ECHO_SECTORS = 4
#: A turn quieter than this mean square prints nothing worth hearing through the land.
ECHO_LOUD_POWER = 1e-3


def check_vertical_bass(side: Side) -> list[Finding]:
    """Room spent on vertical bass, and the blend frequency that would win it back (note)."""
    grid, k, practice = side.motion.grid, side.sectors, side.setup.practice
    lift = np.maximum.reduceat(side.motion.shallow.value, side.motion.shallow.start[:-1][:k + 1])[:k]
    bass = side.motion.bass_lift[:, :k]
    slew = np.diff(grid.time[: k + 1]) / grid.turn_time * side.setup.lathe.depth_slew

    def mean_depth(demand: Float) -> float:
        depth = np.maximum(demand * side.gain, 0.0) + practice.depth_min
        return float(np.mean(slew_envelope(np.maximum(np.append(depth, 0), np.append(0, depth)), slew)))

    plain = mean_depth(lift)
    blended = [mean_depth(lift - bass[0] + row) for row in bass[1:]]
    pitch = float(np.mean(side.rows.pitch[side.rows.music][:-1]))
    # The groove's width and its neighbour's enter each pitch: twice the depth.
    cost = [2 * (depth - blended[-1]) / pitch for depth in (plain, *blended)]
    limit = practice.vertical_share_max
    if cost[0] <= limit:
        return []
    corner = next(f for f, left in zip(BLEND_CORNERS_HZ, cost[1:], strict=True) if left <= limit)
    where = int(np.argmax(bass[0]))
    time = float(np.clip(grid.time[where], 0.0, grid.duration))
    return [
        side.finding(
            "vertical_bass", "note", time, cost[0] * 100, limit * 100, "% of area",
            f"Out-of-phase bass deepens the groove here; blending it to lateral below {corner:.0f} Hz wins "
            "most of that back.",
        )
    ]  # fmt: skip


def check_echo(side: Side) -> list[Finding]:
    """A quiet turn beside a loud one with thin land: what may be heard a turn early or late (note)."""
    grid, practice, k = side.motion.grid, side.setup.practice, side.sectors
    turn = grid.sectors_per_turn
    if k <= grid.start + turn:
        return []
    power = np.convolve(side.motion.power[grid.start : k], np.ones(ECHO_SECTORS) / ECHO_SECTORS, "same")
    first = int(np.searchsorted(side.rows.time, grid.time[grid.start] - 1e-9))
    land = side.rows.land[first : first + len(power)][turn:]
    outer, inner = power[:-turn], power[turn:]
    loud, quiet = np.maximum(outer, inner), np.maximum(np.minimum(outer, inner), 1e-12)
    contrast = 10 * np.log10(np.maximum(loud, 1e-12) / quiet)
    risk = (contrast >= practice.echo_contrast) & (land <= practice.echo_land) & (loud >= ECHO_LOUD_POWER)
    if not risk.any():
        return []
    where = int(np.argmax(np.where(risk, contrast, -np.inf)))
    early = inner[where] > outer[where]
    at = where if early else where + turn
    share = float(np.mean(risk)) * 100
    return [
        side.finding(
            "echo", "note", float(grid.time[grid.start + at]), float(contrast[where]), practice.echo_contrast, "dB",
            f"The loud turn {'after' if early else 'before'} this quiet one may be heard one turn "
            f"{'early' if early else 'late'}; {share:.1f} % of the side is at risk. Leave more land there.",
        )
    ]  # fmt: skip
