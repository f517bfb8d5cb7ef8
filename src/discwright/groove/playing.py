"""What a cut groove asks of the playing tip: curvature, sibilance, clicks (DESIGN 6)."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from discwright.findings import Finding
from discwright.groove import kernels
from discwright.groove.limits import Side, down, spots_over
from discwright.groove.motion import GROUP

Float = NDArray[np.float64]

#: A click: peak acceleration this much above the rms of its own sector, and beyond the tip's reach.
CLICK_CREST = 20.0


def curvature_share(side: Side) -> float:
    """Share of the music's time in which a wall bends more sharply than the tip can follow.

    Parameters
    ----------
    side : Side

    Returns
    -------
    float, 0..1
        Source: playback curvature limit a ≤ V²/R (Lewis and Hunt 1941).
    """
    # Bins are linear within each octave: the five leading bits of the mantissa.
    octave = np.floor(np.arange(kernels.HISTOGRAM_BINS + 1) / 32.0)
    edges = 2.0 ** (octave - 6) * (1 + (np.arange(kernels.HISTOGRAM_BINS + 1) % 32) / 32.0)
    counts = side.motion.acceleration_counts
    above = np.concatenate([np.cumsum(counts[:, ::-1], axis=1)[:, ::-1], np.zeros((len(counts), 1))], axis=1)
    groups = np.arange(side.sectors) // GROUP
    speed = np.bincount(groups, side.speed) / np.bincount(groups)
    limit = speed**2 / (side.setup.tip.side_radius * side.gain)
    over = sum(float(np.interp(limit[g], edges, above[g])) for g in range(len(limit)))
    return over / max(1, side.motion.frames)


def check_curvature(side: Side) -> list[Finding]:
    """Wall acceleration against V²/R of the playing tip (warn, with the share of time)."""
    share = curvature_share(side)
    allowed = side.setup.practice.curvature_share_max
    if share <= allowed:
        return []
    spots, _ = spots_over(side, _bend(side), side.motion.acceleration_frame)
    spot = spots[0]
    tip = side.setup.tip
    return [
        side.finding(
            "curvature", "warn", spot.time, share * 100, allowed * 100, "% of time",
            f"Here {spot.ratio:.1f} × what the {tip.name} tip can follow. Lower the side, limit the treble, "
            "or move the brightest band outward.",
        )
    ]  # fmt: skip


def check_sibilance(side: Side) -> list[Finding]:
    """Bursts between 5 and 12 kHz that stay above what the tip can follow (warn)."""
    k = side.sectors
    limit = side.speed**2 / side.setup.tip.side_radius
    ratio = side.motion.sibilance[:, :k] * (side.gain * math.sqrt(2.0)) / limit
    spots, runs = spots_over(side, ratio, side.motion.acceleration_frame)
    if not spots:
        return []
    spot = spots[0]
    return [
        side.finding(
            "sibilance", "warn", spot.time, spot.ratio, 1.0, "× tip's limit",
            f"{runs} {'burst' if runs == 1 else 'bursts'} of sibilance will splatter with the "
            f"{side.setup.tip.name} tip: lower the side {down(spot.ratio)} dB, limit the treble there, or move "
            "the band outward.",
        )
    ]  # fmt: skip


def check_clicks(side: Side) -> list[Finding]:
    """Single jumps that stand far out of their surroundings and that no tip can follow (warn)."""
    k = side.sectors
    rms = np.sqrt(side.motion.mean_square_acceleration[:, :k])
    peak = side.motion.acceleration[:, :k]
    crest = np.divide(peak, rms, out=np.zeros_like(peak), where=rms > 0)
    ratio = np.where(crest >= CLICK_CREST, _bend(side), 0.0)
    spots, runs = spots_over(side, ratio, side.motion.acceleration_frame)
    if not spots:
        return []
    spot = spots[0]
    return [
        side.finding(
            "click", "warn", spot.time, spot.ratio, 1.0, "× tip's limit",
            f"{runs} {'click' if runs == 1 else 'clicks'} in the programme: listen, and mend "
            f"{'it' if runs == 1 else 'them'} before the cut.",
        )
    ]  # fmt: skip


def _bend(side: Side) -> Float:
    """Peak wall acceleration over the tip's limit, shape (2, K)."""
    limit = side.speed**2 / side.setup.tip.side_radius
    result: Float = side.motion.acceleration[:, : side.sectors] * side.gain / limit
    return result
