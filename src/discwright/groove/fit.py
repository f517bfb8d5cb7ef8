"""Find the highest level, to a tenth of a decibel, at which nothing stops the cut."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from discwright.findings import Finding
from discwright.groove.limits import Side, worst_ratio
from discwright.groove.playing import curvature_share

STEP_DB = 0.1


@dataclass(frozen=True)
class Trial:
    """One level tried: the side it makes and what stops it.

    Attributes
    ----------
    level_db : float
    side : Side
    stops : tuple of Finding
    room_only : bool
        Nothing but the radius is of concern.
    """

    level_db: float
    side: Side
    stops: tuple[Finding, ...]
    room_only: bool = False

    def passes(self, clean: bool) -> bool:
        """Nothing stops it and, where asked for, the tip traces it cleanly."""
        return not self.stops and (not clean or traces_cleanly(self.side))

    @property
    def gain(self) -> float:
        """Amplitude ratio to 0 dB."""
        return self.side.gain

    @property
    def radius_used(self) -> float:
        """Radius the music takes, m."""
        radius = self.side.rows.radius[self.side.rows.music]
        return float(radius[0] - radius[-1])


def traces_cleanly(side: Side) -> bool:
    """The playing tip follows the wall for all but the practice's share of the time."""
    return curvature_share(side) <= side.setup.practice.curvature_share_max


def fit_level(
    attempt: Callable[[float], Trial],
    clean: bool,
    level_range_db: tuple[float, float],
    silent_radius_used: float,
    start_db: float = 0.0,
    brief: bool = False,
) -> tuple[Trial, Trial | None]:
    """The highest level on a 0.1 dB grid that passes while the next one does not.

    Parameters
    ----------
    attempt : callable
        Plans the side at a level.
    clean : bool
        Also demand clean tracing.
    level_range_db : (float, float)
    silent_radius_used : float, m
        What the side takes without any modulation.
    start_db : float
        The level tried first; the answer does not hang on it.
    brief : bool
        Leave out the level above where what is at hand proves that it would not pass.

    Returns
    -------
    best : Trial
        The lowest level of the range, with its stops, where nothing passes.
    above : Trial or None
        The level a step above it, which tells what the limit is; None at the top of the range.

    Raises
    ------
    SolverError

    Notes
    -----
    Every limit grows with level, so passing is monotone. All limits but the radius follow at once from a
    spiral at hand; the radius used is a convex function of gain, nearly straight. So a few whole spirals
    are enough: each predicts the next, until one passes and the one above it does not.
    """
    low, high = level_range_db
    lowest, highest = round(low / STEP_DB), round(high / STEP_DB)
    ok, bad = lowest - 1, highest + 1
    level, stride = min(max(round(start_db / STEP_DB), lowest), highest), 1
    good: Trial | None = None
    above: Trial | None = None
    trial: Trial | None = None
    while True:
        # The spiral on the other side of the limit, or else the one before, bends the prediction.
        before = trial
        trial = attempt(round(level * STEP_DB, 1))  # to the bit what a person would type
        passed = trial.passes(clean)
        if passed:
            good, ok = trial, level
            if brief and _is_last(trial, silent_radius_used):
                return good, None
        else:
            above, bad = trial, level
        if bad - ok <= 1:
            return (good, above) if good is not None else (trial, None)
        if silent_radius_used > _room(trial):  # no level makes it fit: say so at the lowest
            level = ok + 1
            continue
        other = (above if passed else good) or before
        guess = _predict(trial, other, clean, silent_radius_used)
        if guess <= ok if passed else guess >= bad:
            # The limit at hand does not follow the prediction: feel for it in growing steps, no further than half way.
            step = stride if good is None or bad > highest else min(stride, max(1, (bad - ok) // 2))
            guess = ok + step if passed else bad - step
            stride *= 2
        level = min(max(guess, ok + 1), bad - 1)


def _is_last(trial: Trial, silent: float) -> bool:
    """A step more would not pass: what is used beyond silence grows at least as fast as the gain, and so do
    slope and the loads of the head, for the groove then lies no further out.

    Two per mille are left for what windows may cost against the exact optimum. Depth proves nothing: a spiral may
    lie deeper than its lift asks for, and the next one need not.
    """
    more = 10.0 ** (STEP_DB / 20.0) - 0.002
    used = silent + (trial.radius_used - silent) * more
    endless = replace(trial.side.setup.practice, depth_max=math.inf)
    side = replace(trial.side, setup=replace(trial.side.setup, practice=endless))
    return bool(used > _room(trial) or (not trial.room_only and worst_ratio(side) * more > 1.0))


def _room(trial: Trial) -> float:
    disc = trial.side.setup.disc
    return disc.outermost_radius - disc.last_radius


def _predict(trial: Trial, other: Trial | None, clean: bool, silent: float) -> int:
    """Step of 0.1 dB just below the level where the first limit should be met."""
    gains = [trial.gain * 100.0 if trial.room_only else trial.gain / max(worst_ratio(trial.side), 1e-9)]
    if trial.radius_used > silent:
        gains.append(_room_gain(trial, other, silent))
    if clean:
        gains.append(_clean_gain(trial.side))
    return math.floor(20 * math.log10(max(min(gains), 1e-9)) / STEP_DB + 1e-6)


def _room_gain(trial: Trial, other: Trial | None, silent: float) -> float:
    """Gain at which the room is used up: along a parabola through silence and two spirals, or a line through one."""
    room = _room(trial) - silent
    line = (trial.radius_used - silent) / trial.gain
    if other is None or other.gain == trial.gain:
        return room / line
    bend = (line - (other.radius_used - silent) / other.gain) / (trial.gain - other.gain)
    slope = line - bend * trial.gain
    root = slope * slope + 4 * bend * room
    if bend <= 0 or slope <= 0 or root < 0:
        return room / line
    return 2 * room / (slope + math.sqrt(root))


def _clean_gain(side: Side) -> float:
    """Gain up to which the tip traces this spiral cleanly."""
    low, high = side.gain * 1e-3, side.gain * 1e3
    while high / low > 1.002:
        middle = math.sqrt(low * high)
        if traces_cleanly(replace(side, gain=middle)):
            low = middle
        else:
            high = middle
    return low
