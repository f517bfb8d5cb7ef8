"""The side against time, drawn in as many stretches as there are pixels: least and greatest of each, no peak lost."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discwright.desk.opened import OpenPlan
from discwright.desk.words import Words
from discwright.errors import CallError
from discwright.units import INCH

Float = NDArray[np.float64]

#: Stretches that can be asked for.
LEAST, MOST = 16, 8192


@dataclass(frozen=True)
class Series:
    """One measure against time.

    Attributes
    ----------
    name, words, unit : str
    low, high : list of float or None
        Least and greatest of each stretch; None where there is nothing.
    limit : float or None
    limit_words : str
    """

    name: str
    words: str
    unit: str
    low: list[float | None]
    high: list[float | None]
    limit: float | None = None
    limit_words: str = ""


@dataclass(frozen=True)
class StripFacts:
    """A stretch of the side.

    Attributes
    ----------
    time_s : list of float
        Middle of each stretch.
    from_s, to_s : float
        What is shown.
    series : list of Series
    """

    time_s: list[float]
    from_s: float
    to_s: float
    series: list[Series]


def strip(plan: OpenPlan, begin: float | None, end: float | None, points: int, words: Words) -> StripFacts:
    """Level, pitch, depth, land, groove speed and curvature against time.

    Parameters
    ----------
    plan : OpenPlan
    begin, end : float or None, s
        The whole spiral without.
    points : int
        Stretches wanted; fewer come where there are fewer sectors.
    words : Words

    Raises
    ------
    CallError
        If there is no such stretch.
    """
    rows = plan.rows
    first = float(rows.time[0]) if begin is None else max(begin, float(rows.time[0]))
    last = float(rows.time[-1]) if end is None else min(end, float(rows.time[-1]))
    if not first < last:
        raise CallError("this stretch of the side has no length; zoom out.")
    if not LEAST <= points <= MOST:
        raise CallError(f"a strip has {LEAST} to {MOST} points; ask for as many.")
    row = slice(
        max(0, int(np.searchsorted(rows.time, first, side="right")) - 1),
        min(len(rows.time) - 1, int(np.searchsorted(rows.time, last))),
    )
    times = 0.5 * (rows.time[row] + rows.time[1:][row])
    count = len(times)
    starts = np.unique(np.linspace(0, count, min(points, count), endpoint=False).astype(int))
    ends = np.append(starts[1:], count)
    stretch = _Stretch(plan, row, starts, words)
    middle = 0.5 * (times[starts] + times[ends - 1])
    return StripFacts([round(float(t), 4) for t in middle], round(first, 4), round(last, 4), stretch.series())


@dataclass(frozen=True)
class _Stretch:
    """Rows of the spiral in stretches."""

    plan: OpenPlan
    row: slice
    starts: NDArray[np.int64]
    words: Words

    def series(self) -> list[Series]:
        rows, setup = self.plan.rows, self.plan.setup
        speed = 2 * np.pi * rows.radius[self.row] / setup.disc.turn_time
        depth = rows.depth[self.row]
        small, per_small = self.words.unit("µm")
        fast, per_fast = self.words.unit("mm/s")
        prepared = self.plan.prepared
        asked = None if prepared is None else prepared.measures

        def of_sectors(values: Float | None, otherwise: Float | None = None) -> Float:
            """Values of the sectors of music, laid on the rows of the whole spiral."""
            laid = np.full(len(depth), np.nan) if otherwise is None else otherwise.copy()
            if asked is not None and values is not None:
                middle = 0.5 * (rows.time[self.row] + rows.time[1:][self.row])
                sector = np.searchsorted(asked.time, middle, side="right") - 1
                inside = (sector >= 0) & (sector < len(values))
                laid[inside] = values[sector[inside]]
            return laid

        least, greatest = (None, None) if asked is None else (asked.depth_least, asked.depth_greatest)
        level = None if asked is None else np.where(asked.level_db < -100, np.nan, asked.level_db)
        curvature = None if asked is None else 100 * asked.curvature
        return [
            self.one("level", "level", "dB", of_sectors(level)),
            self.pitch(rows.pitch[self.row]),
            self.one(
                "depth", "depth", small, of_sectors(least, depth) * per_small, of_sectors(greatest, depth) * per_small,
                setup.practice.depth_max * per_small, "deepest the practice allows",
            ),
            self.one(
                "land", "land", small, rows.land[self.row] * per_small, None, setup.practice.land_min * per_small,
                "least the practice allows",
            ),
            self.one("speed", "groove speed", fast, speed * per_fast),
            self.one(
                "curvature", "curvature", "% of the tip's reach", of_sectors(curvature), None, 100.0,
                "all the tip can follow",
            ),
        ]  # fmt: skip

    def pitch(self, pitch: Float) -> Series:
        """Pitch as an advance, or as lines per inch."""
        if not self.words.inches:
            return self.one("pitch", "pitch", "µm", pitch * 1e6)
        moving = np.where(pitch > 0, pitch, np.nan)
        return self.one("pitch", "pitch", "lines per inch", INCH / moving)

    def one(
        self, name: str, words: str, unit: str, low: Float, high: Float | None = None, limit: float | None = None,
        limit_words: str = "",
    ) -> Series:  # fmt: skip
        least = np.fmin.reduceat(low, self.starts)
        greatest = np.fmax.reduceat(low if high is None else high, self.starts)
        told = None if limit is None else float(f"{limit:.6g}")
        return Series(name, words, unit, _plain(least), _plain(greatest), told, limit_words)


def _plain(values: Float) -> list[float | None]:
    return [None if np.isnan(value) else float(f"{value:.6g}") for value in values]
