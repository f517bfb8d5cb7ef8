"""The main path: one side from programme to plan. Read this first.

    lay_grid → survey_motion → (fit_level) → pose → lay_spiral → tabulate → check

The programme is read once, at 0 dB; everything after that scales with level.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from discwright.errors import AudioError, CallError
from discwright.findings import Finding, sort_findings
from discwright.groove.echo import check_echo, echo_cost
from discwright.groove.economy import check_vertical_bass
from discwright.groove.equipment import PlayingTip, Setup
from discwright.groove.fit import Trial, fit_level
from discwright.groove.foresee import foresee_level
from discwright.groove.grid import lay_grid
from discwright.groove.ladder import PRICE_STEPS_DB, Price, Rung, climb, price_curve
from discwright.groove.limits import (
    Side,
    check_depth,
    check_head,
    check_land,
    check_radius,
    check_slope,
    instantaneous_depth,
    view,
)
from discwright.groove.motion import Motion, survey_motion
from discwright.groove.playing import check_clicks, check_curvature, check_sibilance, curvature_share
from discwright.groove.rows import pose, silent_radius_used
from discwright.groove.spiral import lay_exact, lay_spiral
from discwright.groove.table import SpiralRows, tabulate
from discwright.units import clock

#: Levels that can be asked for, dB; a fit looks no further than these.
LEVEL_RANGE_DB = (-40.0, 24.0)
#: Samples beyond this many times full scale are no music but a broken export.
ABSURD_PEAK = 1000.0


@dataclass(frozen=True)
class Programme:
    """What a plan must know of its audio.

    Attributes
    ----------
    sample_rate_hz, frames, channels : int
    """

    sample_rate_hz: int
    frames: int
    channels: int

    @property
    def duration(self) -> float:
        """Length of the music, s."""
        return self.frames / self.sample_rate_hz


@dataclass(frozen=True)
class Order:
    """What is asked of a plan.

    Attributes
    ----------
    setup : Setup
    level_db : float or None
        Fixed level, or None to fit it.
    clean : bool
        A fit must also trace cleanly with the chosen playing tip.
    exact : bool
        Solve the whole side as one problem as well.
    band_starts : tuple of float, s
        Where each band's music begins; the first is 0.
    band_ends : tuple of float, s
        Where each band's music ends; as many.
    ladder : tuple of PlayingTip
        Find the level of every limit, and of clean tracing with each of these.
    start_db : float or None
        Where a fit begins to look; None where its own guess will do.
    brief : bool
        Where a spiral proves that no higher level passes, do not lay the one that would not.
    """

    setup: Setup
    level_db: float | None = None
    clean: bool = False
    exact: bool = False
    band_starts: tuple[float, ...] = (0.0,)
    band_ends: tuple[float, ...] = ()
    ladder: tuple[PlayingTip, ...] = ()
    start_db: float | None = None
    brief: bool = False


@dataclass(frozen=True)
class Plan:
    """One planned side.

    Attributes
    ----------
    programme : Programme
    setup : Setup
    level_db : float
    rows : SpiralRows
        All in SI, from the rim to the locked groove.
    motion : Motion
        At 0 dB, per sector.
    bands : tuple of (float, float), s
        Begin and end of each band.
    depth_least, depth_greatest : float, m
        Instantaneous, lift included.
    exact_radius_used : float or None, m
        Of the whole side solved at once.
    curvature_share : float
        Share of time the playing tip is asked for more than it can follow.
    findings : tuple of Finding
    rungs : tuple of Rung
    prices : tuple of Price
        Both empty unless the order asks for the ladder.
    """

    programme: Programme
    setup: Setup
    level_db: float
    rows: SpiralRows
    motion: Motion
    bands: tuple[tuple[float, float], ...]
    depth_least: float
    depth_greatest: float
    exact_radius_used: float | None
    curvature_share: float
    findings: tuple[Finding, ...]
    rungs: tuple[Rung, ...] = ()
    prices: tuple[Price, ...] = ()

    @property
    def side(self) -> Side:
        """The side as the checks see it."""
        return view(self.motion, _gain(self.level_db), self.setup, self.rows, tuple(start for start, _ in self.bands))

    @property
    def ready(self) -> bool:
        """No finding stops the cut."""
        return not any(f.severity == "stop" for f in self.findings)

    @property
    def turns(self) -> float:
        """Turns of music."""
        return self.programme.duration / self.setup.disc.turn_time

    @property
    def start_radius(self) -> float:
        """Radius at the first sample of music, m."""
        return float(self.rows.radius[self.rows.music][0])

    @property
    def end_radius(self) -> float:
        """Radius at the end of the music, m."""
        return float(self.rows.radius[self.rows.music][-1])

    @property
    def radius_used(self) -> float:
        """Radius the music takes, m."""
        return self.start_radius - self.end_radius

    @property
    def spare(self) -> float:
        """Radius left over before the last radius the format allows, m; negative where it does not fit."""
        return self.end_radius - self.setup.disc.last_radius

    @property
    def mean_pitch(self) -> float:
        """Mean pitch of the music, m per turn."""
        return self.radius_used / self.turns

    @property
    def land_least(self) -> float:
        """Least land between any two turns of fine pitch or music, m; infinite where there is none."""
        land = self.rows.land[np.isin(self.rows.zone, ("fine", "music", "join"))]
        land = land[~np.isnan(land)]
        return float(land.min()) if len(land) else float("inf")


def plan_side(
    blocks: Iterable[NDArray[np.float32]],
    programme: Programme,
    order: Order,
    progress: Callable[[str, float], None] | None = None,
) -> Plan:
    """Plan the cut of one side.

    Parameters
    ----------
    blocks : iterable of ndarray, shape (n, 2), float32
        The whole programme, left then right, 1.0 = full scale.
    programme : Programme
    order : Order
    progress : callable, optional
        Called with the step's name and the fraction of it done.

    Returns
    -------
    Plan

    Raises
    ------
    CallError
        If a level or a band's time is out of range.
    AudioError
        If the samples are beyond all measure.
    SolverError
        If the solver stopped without an answer.
    """
    check_order(order, programme)
    tell = progress or (lambda _step, _done: None)
    setup = order.setup
    ends = tuple(min(end, programme.duration) for end in order.band_ends or (programme.duration,))
    bands = tuple(zip(order.band_starts, ends, strict=True))
    joins = tuple((end, start) for (_, end), (start, _) in pairwise(bands))
    grid = lay_grid(programme.duration, setup.disc.turn_time, setup.lathe.sectors_per_turn, joins)
    motion = survey_motion(
        blocks, programme.sample_rate_hz, grid, setup.practice.sync_guard, setup.practice.subsonic,
        lambda done: tell("reading", done),
    )  # fmt: skip
    starts = tuple(start for start, _ in bands)

    if motion.sample_peak > ABSURD_PEAK:
        raise AudioError(
            f"the programme's samples reach {motion.sample_peak:.3g} times full scale: no music does; export it again."
        )

    def attempt(level_db: float) -> Trial:
        return _attempt(motion, setup, level_db, starts, lambda done: tell("laying the spiral", done))

    limits: tuple[Finding, ...] = ()
    above: Trial | None = None
    if order.level_db is None:
        start_db = foresee_level(motion, setup, LEVEL_RANGE_DB) if order.start_db is None else order.start_db
        silent = silent_radius_used(grid, setup)
        trial, above = fit_level(attempt, order.clean, LEVEL_RANGE_DB, silent, start_db, order.brief)
        limits = _what_limits(above)
    else:
        trial = attempt(round(order.level_db, 6) + 0.0)  # as the fingerprint has it
    side, level_db = trial.side, trial.level_db
    findings = [
        *trial.stops,
        *limits,
        *check_curvature(side),
        *check_sibilance(side),
        *check_clicks(side),
        *check_vertical_bass(side),
        *check_echo(side),
        *_echo_room(side),
        *_remarks(motion, programme, order, level_db),
    ]
    exact = None
    if order.exact:
        tell("solving the whole side at once", 0.0)
        exact = -lay_exact(pose(motion, _gain(level_db), setup)).radius[grid.end] * 1e-6
    rungs, prices = _ladder(attempt, trial, above, order) if order.ladder else ((), ())
    least, greatest = instantaneous_depth(side)
    music = slice(grid.start, None)
    return Plan(
        programme=programme,
        setup=setup,
        level_db=level_db,
        rows=side.rows,
        motion=motion,
        bands=bands,
        depth_least=float(least[music].min()),
        depth_greatest=float(greatest[music].max()),
        exact_radius_used=exact,
        curvature_share=curvature_share(side),
        findings=sort_findings(findings),
        rungs=rungs,
        prices=prices,
    )


def check_order(order: Order, programme: Programme) -> None:
    """Refuse what cannot be planned.

    Raises
    ------
    CallError
    """
    low, high = LEVEL_RANGE_DB
    if order.level_db is not None and not low <= order.level_db <= high:
        raise CallError(
            f"the level must lie between {low:.0f} and {high:.0f} dB; {order.level_db:g} dB does not: choose another."
        )
    if len(order.band_ends or (0.0,)) != len(order.band_starts):
        raise CallError("each band needs its begin and its end: give as many ends as begins.")
    reached = 0.0
    for start, end in zip(order.band_starts, order.band_ends or (programme.duration,), strict=True):
        # A tenth of a second is what people are shown: an end typed as shown is the end.
        if not reached <= start < min(end, programme.duration) or end > programme.duration + 0.05:
            raise CallError(
                f"bands must follow one another within the {clock(programme.duration)} of the side; the one from "
                f"{clock(start)} to {clock(end)} does not: mend its times."
            )
        reached = end


def _gain(level_db: float) -> float:
    return float(10.0 ** (level_db / 20.0))


def _attempt(
    motion: Motion,
    setup: Setup,
    level_db: float,
    starts: tuple[float, ...],
    progress: Callable[[float], None],
) -> Trial:
    """Lay the side at one level and find everything that stops the cut."""
    gain = _gain(level_db)
    spiral = lay_spiral(pose(motion, gain, setup), progress=progress)
    rows = tabulate(motion, gain, spiral, setup.disc)
    side = view(motion, gain, setup, rows, starts)
    silent = setup.disc.outermost_radius - silent_radius_used(motion.grid, setup)
    stops = (
        *check_radius(side, silent),
        *check_slope(side),
        *check_head(side),
        *check_depth(side),
        *check_land(side),
    )
    return Trial(level_db, side, stops)


def _ladder(
    attempt: Callable[[float], Trial], trial: Trial, above: Trial | None, order: Order
) -> tuple[tuple[Rung, ...], tuple[Price, ...]]:
    """The ladder and the price curve, from real spirals at the level that fits and below it."""
    grid = trial.side.motion.grid

    def only_room(level_db: float) -> Trial:
        one = attempt(level_db)
        return replace(one, stops=tuple(stop for stop in one.stops if stop.code == "radius"), room_only=True)

    fitting = trial
    if above is None or trial.stops or all(stop.code != "radius" for stop in above.stops):
        silent = silent_radius_used(grid, order.setup)
        fitting, _ = fit_level(only_room, False, LEVEL_RANGE_DB, silent, trial.level_db, brief=True)
    levels = {round(max(fitting.level_db + step, LEVEL_RANGE_DB[0]), 1) for step in PRICE_STEPS_DB}
    trials = tuple(fitting if level == fitting.level_db else attempt(level) for level in sorted(levels))
    return climb(trials, order.ladder, fitting, grid.duration), price_curve(trials)


def _echo_room(side: Side) -> list[Finding]:
    """What land widened against echo costs: the same side laid once more without (note)."""
    practice = side.setup.practice
    if practice.echo_widening <= 0:
        return []
    narrow = replace(side.setup, practice=replace(practice, echo_widening=0.0))
    spiral = lay_spiral(pose(side.motion, side.gain, narrow))
    return echo_cost(side, -float(spiral.radius[side.motion.grid.end]) * 1e-6)


def _what_limits(above: Trial | None) -> tuple[Finding, ...]:
    """What would go wrong a tenth of a decibel above a fitted level (note)."""
    if above is None:
        return ()
    first = next(iter(above.stops or check_curvature(above.side)))
    remedy = f"The level ends here: at {above.level_db:+.1f} dB the {first.code.replace('_', ' ')} would be too much."
    return (replace(first, code="fit", severity="note", remedy=remedy),)


def _remarks(motion: Motion, programme: Programme, order: Order, level_db: float) -> list[Finding]:
    """Facts about the programme that the cut should not pass over in silence (note)."""
    peak_db = 20 * float(np.log10(max(motion.sample_peak, 1e-12)))
    note = Finding("", "note", None, None, None, None, 0.0, 0.0, "", "")
    remarks = []
    if motion.sample_peak > 1.0:
        remarks.append(
            replace(
                note, code="over_full_scale", value=peak_db, unit="dBFS",
                remedy="Samples lie above full scale; they are cut as they are. Ask whether that is meant.",
            )
        )  # fmt: skip
    if motion.lateral:
        remarks.append(
            replace(
                note, code="mono", value=1.0, limit=1.0, unit="correlation",
                remedy="Both channels are alike: cut as lateral, without any vertical motion.",
            )
        )  # fmt: skip
    if programme.duration < order.setup.disc.turn_time:
        remarks.append(
            replace(
                note, code="short", value=programme.duration, limit=order.setup.disc.turn_time, unit="s",
                remedy="The music lasts less than one turn. Check that this is the whole side.",
            )
        )  # fmt: skip
    if order.level_db is None and level_db >= LEVEL_RANGE_DB[1]:
        remarks.append(
            replace(
                note, code="quiet", value=level_db, limit=LEVEL_RANGE_DB[1], unit="dB",
                remedy="Nothing limits the level: the programme is short or very quiet. Set it with --level-db.",
            )
        )  # fmt: skip
    return remarks
