"""Groove echo: a loud turn printed through thin land into the quiet one beside it, and the land that keeps it out.

The loud turn pushes the lacquer over: heard in the quiet turn outside it, one turn early; inside it, one
turn late. Both go through the same land, so widening that land serves both.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from discwright.findings import Finding
from discwright.groove.equipment import Practice
from discwright.groove.motion import Motion

if TYPE_CHECKING:  # the rows ask which pairs to widen, and the checks stand above the rows
    from discwright.groove.limits import Side

Float = NDArray[np.float64]
Bool = NDArray[np.bool_]

#: Sectors over which loud and quiet are compared for echo.
ECHO_SECTORS = 4
#: A turn quieter than this mean square prints nothing worth hearing through the land.
ECHO_LOUD_POWER = 1e-3
#: Land counts as kept when it lacks no more than this, m: land widened to the limit is wide enough.
LAND_TOLERANCE = 5e-9
#: Least mean square that counts, so that silence has a contrast too.
_SILENCE = 1e-12


@dataclass(frozen=True)
class _Beside:
    """Loudness of the music's sectors from the second turn on, and of the turn outside each, shape (n,).

    Attributes
    ----------
    first : int
        Sector of the grid that the first of the n stands for.
    outer, inner : ndarray, shape (n,)
        Mean square at 0 dB of the turn outside and of the sector itself, smoothed.
    """

    first: int
    outer: Float
    inner: Float

    @property
    def contrast(self) -> Float:
        """The louder over the quieter of the two, dB, shape (n,)."""
        quiet = np.maximum(np.minimum(self.outer, self.inner), _SILENCE)
        result: Float = 10 * np.log10(np.maximum(self.loud, _SILENCE) / quiet)
        return result

    @property
    def loud(self) -> Float:
        """Mean square of the louder of the two, shape (n,)."""
        result: Float = np.maximum(self.outer, self.inner)
        return result

    @property
    def early(self) -> Bool:
        """The inner turn is the louder: heard one turn early, in the turn outside it; shape (n,)."""
        result: Bool = self.inner > self.outer
        return result

    def at_risk(self, gain: float, practice: Practice) -> Bool:
        """Loud beside quiet, whatever the land, shape (n,)."""
        result: Bool = (self.contrast >= practice.echo_contrast) & (self.loud * gain**2 >= ECHO_LOUD_POWER)
        return result


def _beside(motion: Motion) -> _Beside:
    grid, turn = motion.grid, motion.grid.sectors_per_turn
    if grid.end <= grid.start + turn:
        return _Beside(grid.end, np.zeros(0), np.zeros(0))
    power = np.convolve(motion.power[grid.start : grid.end], np.ones(ECHO_SECTORS) / ECHO_SECTORS, "same")
    return _Beside(grid.start + turn, power[:-turn], power[turn:])


def echo_pairs(motion: Motion, gain: float, practice: Practice) -> Bool:
    """Which sectors of the music lie beside a turn so much louder or quieter that one may be heard in the other.

    Parameters
    ----------
    motion : Motion
        At 0 dB, K sectors; only its power is asked, so the answer is there before the spiral.
    gain : float
        Amplitude ratio to 0 dB.
    practice : Practice
        Its `echo_contrast`, dB.

    Returns
    -------
    ndarray of bool, shape (K,)
        True where the sector and the turn outside it are such a pair, whichever of the two is the loud one.
    """
    beside = _beside(motion)
    pairs = np.zeros(motion.grid.sectors, dtype=np.bool_)
    pairs[beside.first : beside.first + len(beside.inner)] = beside.at_risk(gain, practice)
    return pairs


def check_echo(side: Side) -> list[Finding]:
    """A quiet turn beside a loud one with thin land: what may be heard a turn early or late (note).

    Parameters
    ----------
    side : Side

    Returns
    -------
    list of Finding
        At most one: the place of greatest contrast, and the seconds at risk of each kind.
    """
    grid, practice = side.motion.grid, side.setup.practice
    beside = _beside(side.motion)
    land = _land(side, beside)
    risk = beside.at_risk(side.gain, practice) & (land < practice.echo_land - LAND_TOLERANCE)
    if not risk.any():
        return []
    where = int(np.argmax(np.where(risk, beside.contrast, -np.inf)))
    early = bool(beside.early[where])
    sector = grid.turn_time / grid.sectors_per_turn
    all_s, early_s = (float(np.sum(which)) * sector for which in (risk, risk & beside.early))
    return [
        side.finding(
            "echo", "note", _quiet_time(side, beside, where), float(beside.contrast[where]), practice.echo_contrast,
            "dB",
            f"The loud turn {'after' if early else 'before'} this quiet one may be heard one turn "
            f"{'early' if early else 'late'}; {all_s:.1f} s of the side are at risk, {early_s:.1f} s of it early and "
            f"{all_s - early_s:.1f} s late. {_remedy(practice)}",
        )
    ]  # fmt: skip


def echo_heard(side: Side) -> Float:
    """Contrast of every pair of turns that could print, at the quiet one of the two, where it is heard.

    Parameters
    ----------
    side : Side

    Returns
    -------
    ndarray, shape (K,), dB
        0 where nothing can be heard.
    """
    beside = _beside(side.motion)
    thin = _land(side, beside) < side.setup.practice.echo_land - LAND_TOLERANCE
    prints = thin & (beside.loud * side.gain**2 >= ECHO_LOUD_POWER)
    turn = side.motion.grid.sectors_per_turn
    quiet = beside.first + np.arange(len(beside.inner)) - np.where(beside.early, turn, 0)
    heard = np.zeros(side.sectors)
    np.maximum.at(heard, quiet[prints], beside.contrast[prints])
    return heard


def echo_cost(side: Side, narrow_radius_used: float) -> list[Finding]:
    """What the land added against echo costs in radius (note).

    Parameters
    ----------
    side : Side
        Laid with `echo_widening`.
    narrow_radius_used : float, m
        Radius the music of the same side takes at the same level without it.

    Returns
    -------
    list of Finding
        One where land was added, at the greatest contrast of all of it; none otherwise.
    """
    grid, practice = side.motion.grid, side.setup.practice
    beside = _beside(side.motion)
    widened = beside.at_risk(side.gain, practice)
    if practice.echo_widening <= 0 or not widened.any():
        return []
    where = int(np.argmax(np.where(widened, beside.contrast, -np.inf)))
    radius = side.rows.radius[side.rows.music]
    # More to keep never makes an optimum tighter: what lies below zero is the solver's rounding.
    cost = max(float(radius[0] - radius[-1]) - narrow_radius_used, 0.0)
    sector = grid.turn_time / grid.sectors_per_turn
    short = _land(side, beside) < practice.land_min + practice.echo_widening - LAND_TOLERANCE
    wide_s, short_s = (float(np.sum(which)) * sector for which in (widened & ~short, widened & short))
    missed = f" In {short_s:.1f} s more the lathe's pitch could not open so far." if short_s else ""
    return [
        side.finding(
            "echo_room", "note", _quiet_time(side, beside, where), cost * 1e3, 0.0, "mm",
            f"Against echo {wide_s:.1f} s of the side keep {practice.echo_widening * 1e6:g} µm of land on top of the "
            f"{practice.land_min * 1e6:g} µm kept everywhere, and that costs {cost * 1e3:.3f} mm of radius.{missed} To "
            "win it back, lower echo_widening_um in the practice.",
        )
    ]  # fmt: skip


def _land(side: Side, beside: _Beside) -> Float:
    """Land between each of the n sectors and the turn outside it, m, shape (n,)."""
    first = int(np.searchsorted(side.rows.time, side.motion.grid.time[beside.first] - 1e-9))
    return side.rows.land[first : first + len(beside.inner)]


def _remedy(practice: Practice) -> str:
    """The widening that would be enough, or what is left to do where it is there already."""
    enough = practice.echo_land - practice.land_min
    if practice.echo_widening >= enough - LAND_TOLERANCE:
        return "The lathe's pitch cannot open far enough there: lower the side."
    return (
        f"To leave {practice.echo_land * 1e6:g} µm of land there, set echo_widening_um to "
        f"{math.ceil(enough * 1e7 - 1e-6) / 10:g} in the practice."
    )


def _quiet_time(side: Side, beside: _Beside, where: int) -> float:
    """Where the quiet turn of one pair lies, s: there the echo is heard."""
    grid = side.motion.grid
    sector = beside.first + where - (grid.sectors_per_turn if beside.early[where] else 0)
    return float(grid.time[sector])
