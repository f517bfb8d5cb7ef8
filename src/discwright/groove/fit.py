"""Find the highest level, to a tenth of a decibel, at which nothing stops the cut."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from discwright.findings import Finding
from discwright.groove.limits import Side
from discwright.groove.playing import curvature_share
from discwright.groove.spiral import Spiral

#: Windows good enough to come near: a little wide everywhere, at a third of the work.
ROUGH_WINDOW = (5, 3)
STEP_DB = 0.1


@dataclass(frozen=True)
class Trial:
    """One level tried: the spiral it takes and what stops it."""

    level_db: float
    spiral: Spiral
    side: Side
    stops: list[Finding]

    def passes(self, clean: bool) -> bool:
        """Nothing stops it and, where asked for, the tip traces it cleanly."""
        if self.stops:
            return False
        return not clean or curvature_share(self.side) <= self.side.setup.practice.curvature_share_max


class Attempt(Protocol):
    """Lays and checks the side at one level."""

    def __call__(
        self, level_db: float, smooth: bool, window: tuple[int, int] | None = None
    ) -> Trial: ...


def fit_level(attempt: Attempt, clean: bool, level_range_db: tuple[float, float]) -> Trial:
    """The highest level on a 0.1 dB grid that passes while the next one does not.

    Parameters
    ----------
    attempt : callable
    clean : bool
        Also demand clean tracing.
    level_range_db : (float, float)

    Returns
    -------
    Trial
        Smoothed. At the lowest level of the range where nothing passes: that trial, with its stops.

    Raises
    ------
    SolverError

    Notes
    -----
    Every limit grows with level, so passing is monotone: rough spirals bracket it, whole ones decide.
    """
    low, high = level_range_db
    rough = _bisect(lambda level: attempt(level, False, ROUGH_WINDOW).passes(clean), low, high)
    level, trial = rough, attempt(rough, True)
    if trial.passes(clean):
        while level + STEP_DB <= high + 1e-9:
            above = attempt(_grid(level + STEP_DB), True)
            if not above.passes(clean):
                break
            level, trial = above.level_db, above
        return trial
    while level - STEP_DB >= low - 1e-9:
        level = _grid(level - STEP_DB)
        trial = attempt(level, True)
        if trial.passes(clean):
            break
    return trial


def _grid(level: float) -> float:
    return round(level, 1)


def _bisect(passes: Callable[[float], bool], low: float, high: float) -> float:
    """Highest passing level on the grid, or `low`; begins around 0 dB where most sides lie."""
    ok, bad = low, high + STEP_DB
    guess, stride = 0.0, 4.0
    while bad - ok > STEP_DB * 1.5:
        if passes(guess):
            ok = guess
            guess = _grid(min(guess + stride, high)) if bad > high else _grid(math.floor((ok + bad) * 5) / 10)
        else:
            bad = guess
            guess = _grid(max(guess - stride, low)) if ok == low else _grid(math.floor((ok + bad) * 5) / 10)
        if guess in (ok, bad):
            break
    return ok
