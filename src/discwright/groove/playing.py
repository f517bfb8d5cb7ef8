"""What a cut groove asks of the playing tip: curvature, sibilance, clicks (DESIGN 6)."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from discwright.findings import Finding
from discwright.groove import kernels
from discwright.groove.limits import Side, down, spots_over
from discwright.groove.motion import GROUP
from discwright.groove.spots import mean_around

Float = NDArray[np.float64]

#: A burst stands alone where its energy is this many times the mean of so many sectors on either side; then
#: this share of the limit is enough. Set so that most plain music passes and planted bursts do not.
BURST_CONTRAST = 20.0
BURST_ALONE = 0.7
BURST_SURROUNDINGS = 36
#: A click: this share of a sector's acceleration energy in one sample, a peak this much above the sectors
#: around it, and no less than this at 0 dB, m/s². Found by planting clicks in real music.
CLICK_SHARE = 0.35
CLICK_TOWER = 2.5
CLICK_FLOOR = 300.0
CLICK_SURROUNDINGS = 12


def curvature_share(side: Side, since: float = 0.0) -> float:
    """Share of the music's time in which a wall bends more sharply than the tip can follow.

    Parameters
    ----------
    side : Side
    since : float, s
        Count only from here on, to the turn.

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
    first = 0 if since <= 0.0 else int(np.searchsorted(side.motion.grid.time, since + 1e-9)) // GROUP
    over = sum(float(np.interp(limit[g], edges, above[g])) for g in range(first, len(limit)))
    return over / max(1, side.motion.frames - round(max(since, 0.0) * side.motion.sample_rate))


def check_curvature(side: Side) -> list[Finding]:
    """Wall acceleration against V²/R of the playing tip (warn, with the share of time)."""
    share = curvature_share(side)
    allowed = side.setup.practice.curvature_share_max
    if share <= allowed:
        return []
    # The share comes from a histogram: it may pass its limit a hair before any single peak does.
    bend = bend_ratio(side)
    spots, _ = spots_over(side, bend * max(1.0, 1.001 / bend.max()), side.motion.acceleration_frame)
    spot = replace(spots[0], ratio=float(bend.max()))
    tip = side.setup.tip
    return [
        side.finding(
            "curvature", "warn", spot.time, share * 100, allowed * 100, "% of time",
            f"Here {spot.ratio:.1f} × what the {tip.name} tip can follow. A treble_limit cures it and touches nothing "
            "else; or lower the side, or move the brightest band outward.",
        )
    ]  # fmt: skip


def check_sibilance(side: Side) -> list[Finding]:
    """Bursts between 5 and 12 kHz so strong, for as long as a sector, that tracing turns them to splatter (warn)."""
    k = side.sectors
    allowed = side.setup.practice.sibilance_limit
    limit = side.speed**2 / side.setup.tip.side_radius * allowed
    # The amplitude of a tone with this much energy: a burst is judged by what lasts, not by its peaks.
    burst = side.motion.sibilance[:, :k]
    around = np.stack([mean_around(row**2, BURST_SURROUNDINGS) for row in burst])
    # What stands out of its surroundings is heard as a fault sooner than what is bright throughout.
    alone = np.where(burst**2 > BURST_CONTRAST * around, 1 / BURST_ALONE, 1.0)
    ratio = burst * alone * (side.gain * math.sqrt(2.0)) / limit
    spots, runs = spots_over(side, ratio, side.motion.acceleration_frame)
    if not spots:
        return []
    runs_text = f"{runs} {'burst' if runs == 1 else 'bursts'}"
    findings = []
    for spot in spots:
        limit_here = allowed / alone[np.argmax(ratio[:, spot.sector]), spot.sector] * 100
        first = spot is spots[0]
        remedy = (
            f"{runs_text} of sibilance will splatter with the {side.setup.tip.name} tip: lower the side "
            f"{down(spot.ratio)} dB, limit the treble there, or move the band outward."
        )
        findings.append(
            side.finding(
                "sibilance", "warn" if first else "note", spot.time, spot.ratio * limit_here, limit_here,
                "% of the tip's reach", remedy if first else f"Another of the {runs_text} of sibilance.",
            )
        )  # fmt: skip
    return findings


def check_clicks(side: Side) -> list[Finding]:
    """Single jumps that stand far out of their surroundings (warn).

    A jump of one sample holds a large share of its sector's acceleration energy in one place and towers
    over the sectors around it; drums and cymbals last or come again, and so do not.
    """
    k, motion = side.sectors, side.motion
    peak = motion.acceleration[:, :k]
    samples = np.diff(motion.grid.time[: k + 1]) * motion.sample_rate
    energy = motion.mean_square_acceleration[:, :k] * samples
    share = np.divide(peak**2, energy, out=np.zeros_like(peak), where=energy > 0)
    reach = CLICK_SURROUNDINGS
    around = np.pad(peak, ((0, 0), (reach, reach)))
    nearby = np.max([around[:, i : i + k] for i in range(2 * reach + 1) if i != reach], axis=0)
    tower = peak / np.maximum(nearby, CLICK_FLOOR / CLICK_TOWER)
    click = (share >= CLICK_SHARE) & (peak >= CLICK_FLOOR)
    spots, runs = spots_over(side, np.where(click, tower / CLICK_TOWER, 0.0), motion.acceleration_frame)
    if not spots:
        return []
    runs_text = f"{runs} {'click' if runs == 1 else 'clicks'}"
    remedy = f"{runs_text} in the programme: listen, and mend {'it' if runs == 1 else 'them'} before the cut."
    return [
        side.finding(
            "click", "warn" if spot is spots[0] else "note", spot.time, spot.ratio * CLICK_TOWER, CLICK_TOWER,
            "× its surroundings", remedy if spot is spots[0] else f"Another of the {runs_text}.",
        )
        for spot in spots
    ]  # fmt: skip


def bend_ratio(side: Side) -> Float:
    """Peak wall acceleration over what the playing tip can follow.

    Parameters
    ----------
    side : Side

    Returns
    -------
    ndarray, shape (2, K)
        Left and right wall, 1 at the limit a = V²/R (Lewis and Hunt 1941).
    """
    limit = side.speed**2 / side.setup.tip.side_radius
    result: Float = side.motion.acceleration[:, : side.sectors] * side.gain / limit
    return result
