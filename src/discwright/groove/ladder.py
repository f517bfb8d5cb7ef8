"""The ladder: up to what level a side fits, cuts and is traced, and what each decibel costs in room and minutes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from discwright.groove.equipment import PlayingTip, Setup
from discwright.groove.fit import Trial, traces_cleanly
from discwright.groove.limits import Side, check_depth, check_head, check_slope, spots_over, view
from discwright.groove.motion import Motion
from discwright.groove.table import SpiralRows

Float = NDArray[np.float64]

#: Levels below the fit at which the price is found by real spirals, dB.
PRICE_STEPS_DB = (0.0, -3.0, -9.0)
#: Rungs are looked for within this much of the fit, dB.
_REACH_DB = 40.0


@dataclass(frozen=True)
class Rung:
    """One limit and the level at which it is met.

    Attributes
    ----------
    limit : str
        fit, slope, head, depth, or ``traces NAME`` for a playing tip.
    level_db : float
        The highest tenth of a decibel within the limit.
    time : float or None, s
        The spot that decides.
    turn : float or None
    radius : float or None, m
    """

    limit: str
    level_db: float
    time: float | None
    turn: float | None
    radius: float | None


@dataclass(frozen=True)
class Price:
    """What one level costs.

    Attributes
    ----------
    level_db : float
    spare : float, m
        Room left on this side at that level; negative where it does not fit.
    minutes : float
        Of this programme that would fill a side at that level: as it goes where it is cut short, and at its
        own mean pitch where it would have to go on.
    """

    level_db: float
    spare: float
    minutes: float


def price_curve(trials: tuple[Trial, ...]) -> tuple[Price, ...]:
    """Level against spare room and against minutes, from real spirals.

    Parameters
    ----------
    trials : tuple of Trial

    Returns
    -------
    tuple of Price
        Loudest first.
    """
    prices = []
    for trial in sorted(trials, key=lambda t: -t.level_db):
        rows, disc = trial.side.rows, trial.side.setup.disc
        radius, time = rows.radius[rows.music], rows.time[rows.music]
        spare = float(radius[-1]) - disc.last_radius
        room = disc.outermost_radius - disc.last_radius
        full = float(time[-1]) * room / trial.radius_used
        if spare < 0:
            full = float(np.interp(-disc.last_radius, -radius, time))
        prices.append(Price(trial.level_db, spare, full / 60.0))
    return tuple(prices)


def climb(trials: tuple[Trial, ...], tips: tuple[PlayingTip, ...], fit: Trial, fit_spot: float) -> tuple[Rung, ...]:
    """Every limit with the level at which it is met, lowest level first.

    Parameters
    ----------
    trials : tuple of Trial
        Spirals at several levels, the fit's among them; between them radius and depth go linearly with gain,
        and above the loudest the groove lies as it does there, only deeper as its lift grows.
    tips : tuple of PlayingTip
    fit : Trial
        The highest level at which the radius suffices.
    fit_spot : float, s
        Where the room ends.

    Returns
    -------
    tuple of Rung
    """
    between = _Between(trials)
    rungs = [_rung("fit", fit.level_db, fit.side, fit_spot)]
    for name, check in (("slope", check_slope), ("head", check_head), ("depth", check_depth)):
        level = between.highest(lambda side, check=check: not check(side))  # type: ignore[misc]
        above = check(between.side(level + 0.1))
        spot = max(above, key=lambda f: f.value / f.limit).time_s if above else None
        rungs.append(_rung(name, level, between.side(level), spot))
    for tip in tips:
        level = between.highest(lambda side, tip=tip: traces_cleanly(_with(side, tip)))  # type: ignore[misc]
        side = _with(between.side(level), tip)
        rungs.append(_rung(f"traces {tip.name}", level, side, _sharpest(side)))
    return tuple(sorted(rungs, key=lambda r: r.level_db))


def _rung(limit: str, level_db: float, side: Side, time: float | None) -> Rung:
    if time is None:
        return Rung(limit, level_db, None, None, None)
    radius = float(np.interp(time, side.rows.time, side.rows.radius))
    return Rung(limit, level_db, time, time / side.motion.grid.turn_time, radius)


def _with(side: Side, tip: PlayingTip) -> Side:
    return replace(side, setup=replace(side.setup, tip=tip))


def _sharpest(side: Side) -> float | None:
    """Time at which a wall bends most against what the tip can follow; None in silence."""
    bend = side.motion.acceleration[:, : side.sectors] / side.speed**2
    spots, _ = spots_over(side, bend * (1.001 / max(float(bend.max()), 1e-30)), side.motion.acceleration_frame)
    return spots[0].time if spots else None


class _Between:
    """The side at any level, from the spirals laid at a few."""

    def __init__(self, trials: tuple[Trial, ...]) -> None:
        self.trials = sorted(trials, key=lambda t: t.gain)
        self.gains = np.array([trial.gain for trial in self.trials])
        side = self.trials[0].side
        self.motion: Motion = side.motion
        self.setup: Setup = side.setup
        self.starts = side.band_starts

    def side(self, level_db: float) -> Side:
        gain = 10.0 ** (level_db / 20.0)
        at = float(np.clip(gain, self.gains[0], self.gains[-1]))
        k = int(np.clip(np.searchsorted(self.gains, at) - 1, 0, max(0, len(self.gains) - 2)))
        low = self.trials[k].side.rows
        rows = low
        if len(self.trials) > 1:
            weight = (at - self.gains[k]) / (self.gains[k + 1] - self.gains[k])
            rows = _blend(low, self.trials[k + 1].side.rows, weight)
        if gain > at:  # without more depth the first louder sample would already be too shallow
            least = self.setup.practice.depth_min
            rows = replace(rows, depth=least + (rows.depth - least) * (gain / at))
        return view(self.motion, gain, self.setup, rows, self.starts)

    def highest(self, within: Callable[[Side], bool]) -> float:
        """The highest level, on tenths of a decibel, that is within a limit which grows with level."""
        top = round(self.trials[-1].level_db * 10)
        low, high = top - round(_REACH_DB * 10), top + round(_REACH_DB * 10)
        while high - low > 1:
            middle = (low + high) // 2
            if within(self.side(middle / 10)):
                low = middle
            else:
                high = middle
        return low / 10


def _blend(low: SpiralRows, high: SpiralRows, weight: float) -> SpiralRows:
    """Rows of the music between two spirals of one side: they share their times."""
    a, b = low.music, high.music
    radius = (1 - weight) * low.radius[a] + weight * high.radius[b]
    depth = (1 - weight) * low.depth[a] + weight * high.depth[b]
    return replace(
        low,
        radius=np.concatenate([low.radius[: a.start], radius, np.full(len(low.radius) - a.stop, radius[-1])]),
        depth=np.concatenate([low.depth[: a.start], depth, np.full(len(low.depth) - a.stop, depth[-1])]),
    )
