"""What a side spends its room on: notes, never stops (DESIGN 6)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from discwright.findings import Finding
from discwright.groove.limits import Side
from discwright.groove.motion import BLEND_CORNERS_HZ
from discwright.groove.rows import slew_envelope
from discwright.groove.spots import mean_around

Float = NDArray[np.float64]


def check_vertical_bass(side: Side) -> list[Finding]:
    """Room spent on vertical bass, by the whole side or by one turn, and the blend that wins it back (note)."""
    grid, practice = side.motion.grid, side.setup.practice
    plain, blended = _vertical_depths(side)
    pitch = float(np.mean(side.rows.pitch[side.rows.music][:-1]))
    # A groove and its neighbour enter each pitch with their depth: twice the depth is the room it takes.
    spent = 2 * (np.stack([plain, *blended[:-1]]) - blended[-1]) / pitch
    by_turn = np.stack([mean_around(row, grid.sectors_per_turn // 2) for row in spent])
    where = int(np.argmax(by_turn[0]))
    share, worst = spent.mean(axis=1), by_turn[:, where]
    if share[0] > practice.vertical_share_max:
        cost, limit, unit = share, practice.vertical_share_max, "% of the side's room"
    elif worst[0] > practice.vertical_turn_max:
        cost, limit, unit = worst, practice.vertical_turn_max, "% of a turn's room"
    else:
        return []
    corner = next((f for f, left in zip(BLEND_CORNERS_HZ, cost[1:]) if left <= limit / 2), BLEND_CORNERS_HZ[-1])
    time = float(np.clip(grid.time[where], 0.0, grid.duration))
    return [
        side.finding(
            "vertical_bass", "note", time, float(cost[0]) * 100, limit * 100, unit,
            f"Out-of-phase bass deepens the groove, most of all here; blending it to lateral below {corner:.0f} Hz "
            "wins most of that room back.",
        )
    ]  # fmt: skip


def _vertical_depths(side: Side) -> tuple[Float, list[Float]]:
    """Depth each sector needs as the music is, and with the bass blended at each corner, m, shape (K,)."""
    grid, k, practice = side.motion.grid, side.sectors, side.setup.practice
    lift = np.maximum.reduceat(side.motion.shallow.value, side.motion.shallow.start[:k])[:k]
    bass = side.motion.bass_lift[:, :k]
    slew = np.diff(grid.time[: k + 1]) / grid.turn_time * side.setup.lathe.depth_slew

    def needed(demand: Float) -> Float:
        depth = np.maximum(demand * side.gain, 0.0) + practice.depth_min
        at_knots = np.maximum(np.append(depth, 0.0), np.append(0.0, depth))
        return slew_envelope(at_knots, slew)[:k]

    return needed(lift), [needed(lift - bass[0] + row) for row in bass[1:]]
