"""The rows of the linear programme: envelopes by another road, nothing lost in what is left out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog
from support import Float, coarse_setup, music, walk

from discwright.files.settings import load_setup
from discwright.groove import rows as rows_module
from discwright.groove.echo import echo_pairs
from discwright.groove.equipment import Setup
from discwright.groove.grid import JOIN, LEAD_OUT, turn_outside
from discwright.groove.motion import Hulls, Motion
from discwright.groove.rows import LEAD_OUT_TURNS, pose, silent_radius_used, slew_envelope
from discwright.groove.spiral import lay_exact, lay_spiral
from discwright.groove.table import tabulate


def silence(seconds: float, setup: Setup, joins: tuple[tuple[float, float], ...] = ()) -> Motion:
    return walk(np.zeros((round(seconds * 44_100), 2)), setup, joins=joins)


# --- the slew-limited envelope ---------------------------------------------------------------------------


def test_envelope_of_one_peak() -> None:
    # By hand: one demand of 10 at the third knot, with 4 and then 3 a step before it, 1 and 2 after.
    envelope = slew_envelope(np.array([0.0, 0.0, 10.0, 0.0, 0.0]), np.array([4.0, 3.0, 1.0, 2.0]))
    assert envelope.tolist() == [3.0, 7.0, 10.0, 9.0, 7.0]


@given(st.lists(st.tuples(st.floats(0, 100), st.floats(0.01, 20)), min_size=2, max_size=30))
def test_envelope_is_the_least_that_keeps_the_slew(pairs: list[tuple[float, float]]) -> None:
    demand, steps = np.array(pairs).T
    slew = steps[:-1]
    envelope = slew_envelope(demand, slew)
    far = np.concatenate([[0.0], np.cumsum(slew)])
    # Another road: every demand reaches every knot, less the slew between the two.
    wanted = (demand[None, :] - np.abs(far[:, None] - far[None, :])).max(axis=1)
    np.testing.assert_allclose(envelope, wanted, atol=1e-9)
    assert (envelope >= demand - 1e-9).all()
    assert (np.abs(np.diff(envelope)) <= slew + 1e-9).all()


# --- what silence takes ----------------------------------------------------------------------------------


@pytest.mark.parametrize("seconds", [0.004, 1.0, 1.8, 9.0, 9.01])
def test_silent_radius_is_what_a_silent_plan_takes(seconds: float) -> None:
    setup = coarse_setup()
    motion = silence(seconds, setup)
    used = -lay_spiral(pose(motion, 1.0, setup)).radius[motion.grid.end]
    # By hand: groove 25 µm and land 8 µm would be 33 µm, and the lathe cuts no finer than 40 µm a turn.
    assert silent_radius_used(motion.grid, setup) * 1e6 == pytest.approx(40.0 * motion.grid.duration / 1.8, rel=1e-9)
    # Another road: the spiral of silence itself, to the solver's own tolerance.
    assert used == pytest.approx(silent_radius_used(motion.grid, setup) * 1e6, abs=1e-5)


def test_silent_radius_counts_joins_and_wide_practice() -> None:
    setup = coarse_setup()
    wide = replace(setup, practice=replace(setup.practice, land_min=20e-6))
    motion = silence(30.0, wide, ((9.0, 12.6),))
    used = -lay_spiral(pose(motion, 1.0, wide)).radius[motion.grid.end]
    # By hand: two turns of join at 1 mm, and 14 2/3 turns of 2·12.5 + 20 = 45 µm.
    wanted = 2 * 1000.0 + (30.0 / 1.8 - 2) * 45.0
    assert silent_radius_used(motion.grid, wide) * 1e6 == pytest.approx(wanted)
    # By hand: the turns beside coarse moves may be cut at the lathe's 40 µm, 5 µm less each: two turns at most.
    assert wanted - 2 * 5.0 <= used <= wanted + 1e-4


# --- what stands in the problem --------------------------------------------------------------------------


def test_limits_of_each_zone() -> None:
    setup = load_setup()
    motion = silence(20.01, setup, ((9.0, 12.6),))
    problem = pose(motion, 1.0, setup)
    grid, sectors = problem.grid, problem.knots - 1
    zone = grid.zone[:sectors]
    assert sectors == grid.end + round(LEAD_OUT_TURNS * 32)
    join, out = zone == JOIN, zone == LEAD_OUT
    # Common practice (data/lathes.toml) for fine pitch; the format's own for coarse moves.
    assert set(problem.pitch_low[~join & ~out].round(9)) == {40.0}
    assert set(problem.pitch_high[~join & ~out].round(9)) == {400.0}
    np.testing.assert_allclose(problem.pitch_low[join], 1000.0)
    np.testing.assert_allclose(problem.pitch_high[out], 3200.0)
    # By hand: 200 µm a turn and turn over 32 sectors is 6.25 µm between neighbours; coarse moves are free.
    coarse = join | out
    free = coarse[1:] | coarse[:-1]
    assert np.isinf(problem.slew[free]).all()
    regular = ~free.copy()
    regular[grid.end - 2] = False  # the last sector of music is a short one
    np.testing.assert_allclose(problem.slew[regular], 6.25)
    # By hand: 20.01 s are 355 whole sectors of 56.25 ms and 41.25 ms more.
    assert problem.sector_turns[grid.end - 1] == pytest.approx(0.04125 / 1.8)
    assert problem.depth_slew[grid.end - 1] == pytest.approx(40.0 * 0.04125 / 1.8)
    assert problem.sector_turns.sum() == pytest.approx(
        1.5 + 20.01 / 1.8 + (grid.time[grid.end + round(LEAD_OUT_TURNS * 32)] - 20.01) / 1.8
    )


def test_depth_box_holds_what_the_lift_demands() -> None:
    setup = coarse_setup()
    motion = walk(music(12.0, 5), setup)
    problem = pose(motion, 2.0, setup)
    # The box: no knot below the minimum, no slew broken along its floor, its roof above its floor.
    assert problem.depth_low.min() >= setup.practice.depth_min * 1e6 - problem.depth_slew.max() - 0.02
    assert (np.abs(np.diff(problem.depth_low)) <= problem.depth_slew + 1e-9).all()
    assert (problem.depth_high >= problem.depth_low).all()
    # By hand: the deepest demand anywhere is the greatest lift on top of the least depth.
    deepest = setup.practice.depth_min * 1e6 + 2.0 * motion.shallow.value.max() * 1e6
    assert deepest <= problem.depth_high.max() <= deepest + problem.depth_slew.max() + 0.04


# --- nothing lost in what is left out --------------------------------------------------------------------


def hulls_of(samples: Float) -> Hulls:
    """Upper hulls of samples, shape (K, P), evenly spread from edge to edge of each sector: brute force."""
    place = np.linspace(0.0, 1.0, samples.shape[1])
    start, kept_place, kept_value = [0], [], []
    for row in samples:
        for i in range(len(row)):
            on_hull = True
            for a in range(i):
                for b in range(i + 1, len(row)):
                    chord = row[a] + (row[b] - row[a]) * (i - a) / (b - a)
                    on_hull &= row[i] > chord
            if on_hull:
                kept_place.append(place[i])
                kept_value.append(row[i])
        start.append(len(kept_place))
    return Hulls(np.array(start), np.array(kept_place), np.array(kept_value))


def invented(seed: int, seconds: float, setup: Setup, joins: tuple[tuple[float, float], ...] = ()) -> Motion:
    """A motion of invented numbers, µm-sized, seven samples a sector; lead-in and lead-out are still."""
    motion = silence(seconds, setup, joins)
    grid = motion.grid
    rng = np.random.default_rng(seed)
    swell = np.abs(np.cumsum(rng.standard_normal(grid.sectors)))[:, None]
    facing = rng.uniform(-1, 3, (grid.sectors, 7)) * swell * 8e-6
    lift = rng.uniform(-1, 1, (grid.sectors, 7)) * np.minimum(swell, 3.0) * 8e-6
    for x in (facing, lift):
        x[: grid.start] = 0.0
        x[grid.end :] = 0.0
    power = 10 ** -rng.choice([1.0, 5.0], grid.sectors, p=[0.7, 0.3])
    return replace(motion, facing=hulls_of(facing), shallow=hulls_of(lift), deep=hulls_of(-lift), power=power)


def whole_programme(motion: Motion, setup: Setup) -> tuple[float, int]:
    """Another road: every corner a row, no row left out, no box on the depth, dense, through SciPy's door."""
    grid, lathe, practice = motion.grid, setup.lathe, setup.practice
    sectors = grid.end + round(LEAD_OUT_TURNS * 8)
    n = sectors + 1
    turns = np.diff(grid.time[:n]) / grid.turn_time
    upper: list[Float] = []
    limit: list[float] = []

    def at(time: float) -> Float:
        k = min(int(np.searchsorted(grid.time[:n], time + 1e-9, side="right")) - 1, sectors - 1)
        s = (time - grid.time[k]) / (grid.time[k + 1] - grid.time[k])
        row = np.zeros(n)
        row[k], row[k + 1] = 1 - s, s
        return row

    def corners(hulls: Hulls) -> list[tuple[int, float, float]]:
        return [
            (k, grid.time[k] + p * (grid.time[k + 1] - grid.time[k]), v * 1e6)
            for k, p, v in zip(hulls.sector, hulls.place, hulls.value, strict=True)
            if k < sectors
        ]

    known = turn_outside(grid).index >= 0
    wider = echo_pairs(motion, 1.0, practice) * practice.echo_widening * 1e6
    for k, time, value in corners(motion.facing):
        at_knot = int(np.searchsorted(grid.time, time + 1e-9, side="right")) - 1
        if not known[min(at_knot, sectors - 1)]:
            continue
        here, there = at(time), at(time - grid.turn_time)
        upper.append(np.concatenate([here - there, here + there]))
        limit.append(-value - practice.land_min * 1e6 - wider[k])
    for _, time, value in corners(motion.shallow):
        upper.append(np.concatenate([np.zeros(n), -at(time)]))
        limit.append(-value - practice.depth_min * 1e6)
    for _, time, value in corners(motion.deep):
        upper.append(np.concatenate([np.zeros(n), at(time)]))
        limit.append(practice.depth_max * 1e6 - value)
    coarse = np.isin(grid.zone[:sectors], (JOIN, LEAD_OUT))
    pitch = -np.diff(np.eye(n), axis=0) / turns[:, None]
    for k in range(sectors):
        low, high = lathe.pitch_min, lathe.pitch_max
        if grid.zone[k] == JOIN:
            low = high = setup.disc.join_pitch
        if grid.zone[k] == LEAD_OUT:
            low = high = setup.disc.lead_out_pitch_min
        upper += [np.concatenate([pitch[k], np.zeros(n)]), np.concatenate([-pitch[k], np.zeros(n)])]
        limit += [high * 1e6, -low * 1e6]
        step = np.zeros(2 * n)
        step[n + k], step[n + k + 1] = -1.0, 1.0
        upper += [step, -step]
        limit += [lathe.depth_slew * 1e6 * turns[k]] * 2
        if k and not coarse[k] and not coarse[k - 1]:
            bend = np.concatenate([pitch[k] - pitch[k - 1], np.zeros(n)])
            upper += [bend, -bend]
            limit += [lathe.pitch_slew * 1e6 * (turns[k] + turns[k - 1]) / 2] * 2
    cost = np.zeros(2 * n)
    cost[grid.start], cost[grid.end] = 1.0, -1.0
    bounds: list[tuple[float | None, float | None]] = [(None, None)] * n + [(0.0, None)] * n
    bounds[grid.start] = (0.0, 0.0)
    found = linprog(cost, np.array(upper), np.array(limit), bounds=bounds, method="highs")
    return float(found.fun) if found.status == 0 else float("nan"), len(limit)


@settings(max_examples=40, deadline=None)
@given(
    st.integers(0, 10_000),
    st.sampled_from([1.0, 1.8, 4.5, 7.21]),
    st.sampled_from([(), ((2.0, 3.5),)]),
    st.floats(0.3, 2.0),
    st.sampled_from([0.0, 0.0, 6.0, 25.0]),
)
def test_rows_left_out_cost_nothing(
    seed: int, seconds: float, joins: tuple[tuple[float, float], ...], loudness: float, widening_um: float
) -> None:
    """Dropped corners, shared knots and the depth box change no optimum: 0.0001 µm is the solver's tolerance."""
    setup = coarse_setup()
    practice = replace(setup.practice, echo_widening=widening_um * 1e-6, echo_contrast=3.0)
    setup = replace(setup, practice=practice)
    motion = invented(seed, seconds, setup, tuple(j for j in joins if j[1] < seconds))
    motion = replace(
        motion,
        facing=replace(motion.facing, value=motion.facing.value * loudness),
        shallow=replace(motion.shallow, value=motion.shallow.value * loudness),
        deep=replace(motion.deep, value=motion.deep.value * loudness),
    )
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(rows_module, "THINNING", 0.0)
        problem = pose(motion, 1.0, setup)
        mine = lay_exact(problem)
    wanted, count = whole_programme(motion, setup)
    assert mine.broken == np.isnan(wanted), "both roads agree on whether it can be cut at all"
    if mine.broken:
        return
    assert -mine.radius[motion.grid.end] == pytest.approx(wanted, abs=1e-4)
    assert len(problem.land.sector) + len(problem.shallow.sector) + len(problem.deep.sector) < count


def test_no_corner_is_dropped_where_a_join_opens_the_pitch() -> None:
    """Within one sector of a join the land grows by 120 µm: a corner 60 µm lower, but earlier, still counts."""
    setup = coarse_setup()
    motion = silence(9.0, setup, ((4.5, 7.2),))
    first = int(np.flatnonzero(motion.grid.zone == JOIN)[0])
    facing = np.zeros((motion.grid.sectors, 7))
    facing[first, 1:] = np.linspace(60e-6, 130e-6, 6)
    motion = replace(motion, facing=hulls_of(facing))
    used = -lay_exact(pose(motion, 1.0, setup)).radius[motion.grid.end]
    wanted, _ = whole_programme(motion, setup)
    # Another road; thinning may add 0.02 µm a turn.
    assert wanted - 1e-4 <= used <= wanted + 3 * rows_module.THINNING * 5


def test_thinning_costs_less_than_it_says() -> None:
    setup = coarse_setup()
    motion = invented(7, 7.2, setup)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(rows_module, "THINNING", 0.0)
        whole = -lay_exact(pose(motion, 1.0, setup)).radius[motion.grid.end]
    thinned = -lay_exact(pose(motion, 1.0, setup)).radius[motion.grid.end]
    # By hand: at most 0.02 µm on land and on both turns' depths, each turn.
    assert whole - 1e-6 <= thinned <= whole + 3 * rows_module.THINNING * 7.2 / 1.8


def test_widening_reaches_both_sides_of_a_knot() -> None:
    """One sector at risk between two that are not: its own rows are raised, and no corner at its ends is lost."""
    setup = coarse_setup()
    setup = replace(setup, practice=replace(setup.practice, echo_widening=10e-6))
    motion = silence(9.0, setup)
    grid = motion.grid
    risk = np.zeros(grid.sectors, dtype=np.bool_)
    risk[grid.start + 20] = True
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(rows_module, "echo_pairs", lambda *_: risk)
        land = pose(motion, 1.0, setup).land
    at_risk = grid.start + 20
    raised = land.take(land.bound > 8.001)
    # By hand: 8 + 10 µm at both ends of that sector, instead of the 8 µm of the sectors it meets there.
    assert raised.sector.tolist() == [at_risk, at_risk]
    assert raised.place.tolist() == [0.0, 1.0]
    np.testing.assert_allclose(raised.bound, 18.0)


@pytest.mark.parametrize(
    "sectors",
    [
        32,
        256,
    ],
)
def test_the_lead_out_clears_the_last_turn(sectors: int) -> None:
    """A deep swing one turn before the end, then silence: the lead-out must pass it with the land asked for."""
    setup = load_setup()
    setup = replace(setup, lathe=replace(setup.lathe, sectors_per_turn=sectors))
    t = np.arange(9 * 44_100) / 44_100
    swing = np.cos(2 * np.pi * 30 * (t - 7.23) + 2.0) * np.exp(-(((t - 7.23) / 0.02) ** 2))
    motion = walk(np.stack([swing, swing], axis=1), setup)
    rows = tabulate(motion, 9.0, lay_spiral(pose(motion, 9.0, setup)), setup.disc)
    assert np.nanmin(rows.land) >= setup.practice.land_min - 3e-8
