"""The level a side should reach, from what its bands took where they have been laid.

Bands leave a trace in every spiral that is laid: how much radius they took at which level, and how steep they
are. From the traces the level of any other side follows within a few tenths of a decibel, so that real fits are
spent only where they decide.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discwright.groove.equipment import Setup
from discwright.groove.room import silent_pitch

Float = NDArray[np.float64]

#: Radius beyond silence grows a little faster than the gain.
_EXPONENT = 1.06
#: What a turn takes beyond silence at 0 dB before anything is known of the music, m.
_UNKNOWN = 60e-6
#: Share of the room from which on it may be the room that ends a level.
_NEARLY_ALL = 0.95
#: Levels looked for lie within these, dB.
_LOWEST_DB, _HIGHEST_DB = -40.0, 24.0


@dataclass(frozen=True)
class BandTrace:
    """What one band took where it has been laid.

    Attributes
    ----------
    turns : float
    gap_turns : float
        Of the join after it.
    gain : float
        At which it was laid.
    modulated : float, m
        Radius beyond what silence takes, at that gain.
    steepness : ndarray, shape (n,), m/s
        Greatest radial velocity of an edge at 0 dB, in stretches of equal length.
    cap : float
        Gain beyond which depth or head stop the cut wherever the band lies.
    """

    turns: float
    gap_turns: float
    gain: float
    modulated: float
    steepness: Float
    cap: float = math.inf


def unknown_trace(turns: float, gap_turns: float) -> BandTrace:
    """A band of which only the length is known.

    Parameters
    ----------
    turns, gap_turns : float
    """
    return BandTrace(turns, gap_turns, 1.0, _UNKNOWN * turns, np.zeros(1))


def predict_level(traces: Sequence[BandTrace], setup: Setup) -> float:
    """Level a side of these bands should reach, dB.

    Parameters
    ----------
    traces : sequence of BandTrace
        In the side's order.
    setup : Setup

    Returns
    -------
    float, dB
        Minus infinity where even silence is too long.
    """
    disc = setup.disc
    room = disc.outermost_radius - disc.last_radius
    silent = _silent(traces, setup)
    if silent > room:
        return -math.inf
    low, high = _LOWEST_DB, _HIGHEST_DB
    while high - low > 0.005:
        middle = (low + high) / 2
        if _holds(traces, setup, 10.0 ** (middle / 20.0)):
            low = middle
        else:
            high = middle
    return low


def room_decides(traces: Sequence[BandTrace], setup: Setup, level_db: float) -> bool:
    """Whether it is the room that ends the level foreseen: it is nearly used up there.

    Parameters
    ----------
    traces : sequence of BandTrace
    setup : Setup
    level_db : float
    """
    gain = 10.0 ** (level_db / 20.0)
    modulated = sum(trace.modulated * (gain / trace.gain) ** _EXPONENT for trace in traces)
    room = setup.disc.outermost_radius - setup.disc.last_radius
    return bool(_silent(traces, setup) + modulated > _NEARLY_ALL * room)


def _silent(traces: Sequence[BandTrace], setup: Setup) -> float:
    joins = sum(trace.gap_turns for trace in traces[:-1]) * setup.disc.join_pitch
    return sum(trace.turns for trace in traces) * silent_pitch(setup) + joins


def _holds(traces: Sequence[BandTrace], setup: Setup, gain: float) -> bool:
    """Room and slope suffice at this gain."""
    disc = setup.disc
    radius = disc.outermost_radius
    clears = math.tan(setup.cutting_tip.clearance) * 2 * math.pi / disc.turn_time
    for trace in traces:
        if gain > trace.cap:
            return False
        used = trace.turns * silent_pitch(setup) + trace.modulated * (gain / trace.gain) ** _EXPONENT
        along = (np.arange(len(trace.steepness)) + 0.5) / len(trace.steepness)
        if (trace.steepness * gain > (radius - along * used) * clears).any():
            return False
        radius -= used
        if radius < disc.last_radius - 1e-9:
            return False
        radius -= trace.gap_turns * disc.join_pitch
    return True
