"""Lay out a title: which bands on which side of each edition, by real fits of the sides that can win."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from discwright.acts.fitting import Fitter, SideFit
from discwright.errors import CallError
from discwright.files.settings import load_setup
from discwright.files.side_audio import BandRange, find_range
from discwright.files.title import load_title
from discwright.groove.band_trace import BandTrace, predict_level, room_decides, unknown_trace
from discwright.groove.equipment import Setup
from discwright.programme.layout import Split, find_breaks, splits
from discwright.programme.title import TAPE, Edition, Title
from discwright.units import clock

Progress = Callable[[str, float], None]

#: How many splits are shown.
SHOWN = 3
#: What a level foreseen may be wrong by where room ends it, and where slope, depth or head do, dB.
DOUBT_DB, SMALL_DOUBT_DB = 0.25, 0.03
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True)
class Candidate:
    """One split, every side of it really fitted, and the letters of its sides.

    Curvature at the inner bands counts in steps of `worth`: less is not worth a worry.
    """

    split: Split
    letters: tuple[str, ...]
    fits: tuple[SideFit, ...]
    worth: float

    @property
    def weakest_db(self) -> float:
        """The level the weakest side reaches."""
        return min(fit.level_db for fit in self.fits)

    @property
    def rank(self) -> tuple[float, float, float]:
        """Smaller is better: weakest level, then curvature at the inner bands, then balance."""
        times = [fit.duration for fit in self.fits]
        worry = max(fit.inner_share for fit in self.fits)
        return (-round(self.weakest_db, 1), round(worry / self.worth), max(times) - min(times))

    def as_dict(self) -> dict[str, Any]:
        """As `layout --json` prints it."""
        return {
            "sides": [
                {
                    "letter": letter,
                    "bands": list(fit.bands),
                    "duration_s": round(fit.duration, 3),
                    "level_db": round(fit.level_db, 1) + 0.0,
                    "spare_mm": round(fit.spare * 1e3, 3),
                    "inner_worry": round(fit.inner_share * 100, 4),
                    "ready": fit.ready,
                }
                for letter, fit in zip(self.letters, self.fits, strict=True)
            ],
            "weakest_level_db": round(self.weakest_db, 1) + 0.0,
        }


@dataclass(frozen=True)
class EditionLayout:
    """What `layout` found for one edition: the best splits, remarks, and where a band should be broken."""

    edition: Edition
    candidates: tuple[Candidate, ...]
    remarks: tuple[str, ...] = ()
    breaks: tuple[tuple[str, float, float], ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """As `layout --json` prints it."""
        return {
            "id": self.edition.id,
            "format": self.edition.format,
            "candidates": [one.as_dict() for one in self.candidates],
            "remarks": list(self.remarks),
            "breaks": [
                {"band": band, "time_s": round(time, 2), "level_dbfs": round(level, 1)}
                for band, time, level in self.breaks
            ],
        }


@dataclass(frozen=True)
class LayoutReport:
    """A title with the layout of each edition asked for."""

    title: Title
    editions: tuple[EditionLayout, ...]

    @property
    def complete(self) -> bool:
        """Every disc of every edition has sides that can be cut."""
        return all(
            one.edition.format == TAPE or any(all(fit.ready for fit in c.fits) for c in one.candidates)
            for one in self.editions
        )

    def as_dict(self) -> dict[str, Any]:
        """As `layout --json` prints it."""
        return {"editions": [one.as_dict() for one in self.editions]}


def layout(
    path: str | os.PathLike[str], *, edition: str | None = None, progress: Progress | None = None
) -> LayoutReport:
    """Find the best sides of every edition of a title.

    Parameters
    ----------
    path : str or os.PathLike
        Title file.
    edition : str, optional
        Only this one.
    progress : callable, optional
        Called with a step's name and the fraction of it done.

    Returns
    -------
    LayoutReport

    Raises
    ------
    SettingsError, CallError, AudioError, SolverError
    """
    title = load_title(Path(path))
    chosen = choose_editions(title, edition)
    ranges = {band.id: find_range(band) for band in title.bands}
    with Fitter(ranges, progress or (lambda _step, _done: None)) as fitter:
        return LayoutReport(title, tuple(lay_out(title, one, ranges, fitter) for one in chosen))


def choose_editions(title: Title, wanted: str | None) -> tuple[Edition, ...]:
    """The edition asked for, or all.

    Parameters
    ----------
    title : Title
    wanted : str or None

    Raises
    ------
    CallError
        If there is none of that id.
    """
    chosen = tuple(one for one in title.editions if wanted in (None, one.id))
    if not chosen:
        known = ", ".join(one.id for one in title.editions)
        raise CallError(f"there is no edition “{wanted}”; the title has {known}.")
    return chosen


def edition_setup(edition: Edition) -> Setup:
    """Everything an edition's sides are planned with.

    Parameters
    ----------
    edition : Edition
        Of a disc.
    """
    return load_setup(edition.format, edition.lathe, edition.head, edition.cutting_tip, edition.tip, edition.practice)


def lay_out(title: Title, edition: Edition, ranges: dict[str, BandRange], fitter: Fitter) -> EditionLayout:
    """The best splits of one edition.

    Parameters
    ----------
    title : Title
    edition : Edition
    ranges : dict of str to BandRange
    fitter : Fitter
    """
    if edition.format == TAPE:
        return EditionLayout(edition, (), ("A tape has no groove: nothing to lay out.",))
    setup = edition_setup(edition)
    fitter.begin(setup, edition)
    if edition.sides:
        split = tuple(side.bands for side in edition.sides)
        fitter.fit(split)
        letters = tuple(side.letter for side in edition.sides)
        one = Candidate(split, letters, tuple(fitter.known[side] for side in split), worth(setup))
        return EditionLayout(
            edition, (one,), ("The title file fixes the sides of this edition.", *_low(one, edition, setup))
        )
    return _Search(title, edition, setup, ranges, fitter).run()


@dataclass
class _Search:
    """The splits of one edition, seen through what has been laid so far."""

    title: Title
    edition: Edition
    setup: Setup
    ranges: dict[str, BandRange]
    fitter: Fitter
    foreseen: dict[tuple[str, ...], float] = field(default_factory=dict)

    def run(self) -> EditionLayout:
        order = [band.id for band in self.title.bands]
        movable = frozenset(band.id for band in self.title.bands if band.may_move)
        wanted = self.wanted_db()
        too_long = [one for one in order if not self.short_enough((one,))]
        best: tuple[Candidate, ...] = ()
        remarks: list[str] = []
        least = 1 if len(order) == 1 else 2
        for sides in [n for n in range(least, len(order) + 1) if n == 1 or n % 2 == 0 or n == len(order)]:
            if too_long:
                break
            found = splits(order, movable, sides, self.short_enough)
            if not found or (best and self.foresee_best(found) + DOUBT_DB < wanted and sides < len(order)):
                continue
            fewer, best = best, self.best(found)
            if best[0].weakest_db >= wanted:
                remarks += self.more_discs(sides, fewer)
                break
        weak = too_long or [
            side[0] for side, fit in zip(best[0].split, best[0].fits, strict=True)
            if len(side) == 1 and fit.level_db < wanted
        ] if best or too_long else order  # fmt: skip
        breaks: list[tuple[str, float, float]] = []
        if too_long or (best and best[0].weakest_db < wanted):
            for one in weak:
                breaks += self.breaks(one, wanted)
            if not too_long:
                remarks += list(_low(best[0], self.edition, self.setup))
        remarks += [self.break_sentence(one, breaks) for one in dict.fromkeys(b[0] for b in breaks)]
        return EditionLayout(self.edition, best, tuple(remarks), tuple(breaks))

    def wanted_db(self) -> float:
        level = self.edition.level
        return self.setup.practice.layout_level if isinstance(level, str) else level

    def short_enough(self, side: tuple[str, ...]) -> bool:
        return self.predicted(side) > -np.inf

    def predicted(self, side: tuple[str, ...]) -> float:
        if side not in self.foreseen:
            self.foreseen[side] = predict_level(self.traces(side), self.setup)
        return self.foreseen[side]

    def traces(self, side: tuple[str, ...]) -> list[BandTrace]:
        turn = self.setup.disc.turn_time
        return [
            self.fitter.traces.get(one)
            or unknown_trace(self.ranges[one].duration / turn, self.ranges[one].band.gap / turn)
            for one in side
        ]

    def foresee_best(self, found: tuple[Split, ...]) -> float:
        return max(min(self.hopeful(side) for side in split) for split in found)

    def hopeful(self, side: tuple[str, ...]) -> float:
        """The level a side may reach at best: known, or foreseen with the doubt it deserves."""
        fit = self.fitter.known.get(side)
        if fit is not None:
            return fit.level_db
        level = self.predicted(side)
        if level == -np.inf or any(one not in self.fitter.traces for one in side):
            return level + DOUBT_DB
        if room_decides(self.traces(side), self.setup, level):
            return level + DOUBT_DB
        # A fit ends on a tenth of a decibel, below the limit.
        return float(np.floor((level + SMALL_DOUBT_DB) * 10 + 1e-6) / 10)

    def best(self, found: tuple[Split, ...]) -> tuple[Candidate, ...]:
        """Fit the sides of whatever leads, until the leaders are all known."""
        while True:
            leaders = sorted(found, key=self.promise)[:SHOWN]
            unknown = dict.fromkeys(
                side for split in leaders for side in sorted(split, key=self.predicted) if side not in self.fitter.known
            )
            if not unknown:
                break
            self.fitter.fit(tuple(unknown)[:2], self.starts(tuple(unknown)))
            self.foreseen.clear()
        candidates = [
            Candidate(split, letters_of(split), tuple(self.fitter.known[side] for side in split), worth(self.setup))
            for split in leaders
        ]
        return tuple(sorted(candidates, key=lambda one: one.rank))

    def starts(self, sides: tuple[tuple[str, ...], ...]) -> dict[tuple[str, ...], float]:
        """Where fits begin to look: what is foreseen from traces, where there are any."""
        return {side: self.predicted(side) for side in sides if all(one in self.fitter.traces for one in side)}

    def promise(self, split: Split) -> tuple[float, float, float]:
        """How early a split is to be looked at: by its weakest side, then worry where known, then balance."""
        times = [sum(self.ranges[one].duration for one in side) for side in split]
        step = worth(self.setup)
        known = [round(self.fitter.known[side].inner_share / step) for side in split if side in self.fitter.known]
        weakest = min(self.hopeful(side) for side in split)
        return (-round(weakest, 1), max(known, default=0), max(times) - min(times))

    def more_discs(self, sides: int, fewer: tuple[Candidate, ...]) -> list[str]:
        if sides <= 2:
            return []
        discs = (sides + 1) // 2
        words = f"This edition needs {discs} discs, {sides} sides"
        if fewer:
            words += f": on {len(fewer[0].fits)} sides the weakest reaches only {fewer[0].weakest_db:+.1f} dB"
        return [words + "."]

    def breaks(self, one: str, wanted: float) -> list[tuple[str, float, float]]:
        """Where a band that is too long for a side should be broken, as its own spiral or its length tells."""
        power, step, used = self.fitter.room_of(one, wanted)
        disc = self.setup.disc
        room = disc.outermost_radius - disc.last_radius
        start = self.ranges[one].band.start or 0.0
        return [(one, start + time, level) for time, level in find_breaks(power, step, used, room)]

    def break_sentence(self, one: str, breaks: list[tuple[str, float, float]]) -> str:
        name = self.ranges[one].band.name
        places = ", ".join(f"{clock(time)} ({level:.0f} dBFS)" for band, time, level in breaks if band == one)
        return (
            f"“{name}” does not fit one side at {self.wanted_db():+.1f} dB: break it at {places}, its quietest places."
        )


def worth(setup: Setup) -> float:
    """Share of time in steps of which curvature at the inner bands is compared: half of what the house allows.

    Parameters
    ----------
    setup : Setup
    """
    return max(setup.practice.curvature_share_max / 2, 1e-6)


def letters_of(split: Split) -> tuple[str, ...]:
    """A, B, C …, and after Z the sides' numbers.

    Parameters
    ----------
    split : Split
    """
    return tuple(LETTERS[i] if i < len(LETTERS) else str(i + 1) for i in range(len(split)))


def _low(one: Candidate, edition: Edition, setup: Setup) -> tuple[str, ...]:
    wanted = setup.practice.layout_level if isinstance(edition.level, str) else edition.level
    weak = [letter for letter, fit in zip(one.letters, one.fits, strict=True) if fit.level_db < wanted]
    if not weak:
        return ()
    sides = "side " + " and ".join(weak) if len(weak) < 3 else f"{len(weak)} sides"
    return (
        f"The weakest side reaches {one.weakest_db:+.1f} dB and {wanted:+.1f} dB is wanted: {sides} "
        "must be shortened, or the edition needs another disc.",
    )
