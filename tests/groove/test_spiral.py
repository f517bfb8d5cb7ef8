"""The spiral against brute force, against an independent linear programme, and its lasting properties."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.ndimage import maximum_filter1d, minimum_filter1d
from scipy.optimize import linprog
from support import RATE, coarse_setup, exact_edges, music, sine, walk

from discwright.files.settings import load_setup
from discwright.groove import spiral as spiral_module
from discwright.groove.equipment import Setup
from discwright.groove.limits import check_depth, check_land, instantaneous_depth, view
from discwright.groove.motion import Motion
from discwright.groove.rows import pose
from discwright.groove.spiral import Spiral, lay_exact, lay_spiral
from discwright.groove.table import SpiralRows, tabulate


def plan(motion: Motion, gain: float, setup: Setup) -> tuple[Spiral, SpiralRows]:
    spiral = lay_spiral(pose(motion, gain, setup))
    return spiral, tabulate(motion, gain, spiral, setup.disc)


def check_by_brute_force(programme: np.ndarray, rows: SpiralRows, gain: float, setup: Setup) -> float:
    """Every rule of DESIGN 5 at every sample, by FFT walls; returns the least land, m."""
    turn, practice, lathe = setup.disc.turn_time, setup.practice, setup.lathe
    edges = gain * exact_edges(programme, practice.subsonic)
    before = round(2.5 * turn * RATE)
    walls = np.concatenate([np.zeros((before, 2)), edges])
    t = (np.arange(len(walls)) - before) / RATE
    guard = int(np.ceil(practice.sync_guard * RATE - 1e-6))
    inner = minimum_filter1d(walls[:, 0], 2 * guard + 1)
    outer = maximum_filter1d(walls[:, 1], 2 * guard + 1)
    r, h = (np.interp(t, rows.time, x) for x in (rows.radius, rows.depth))
    step = round(turn * RATE)
    first = round(turn * RATE)  # the first turn of fine pitch has only the coarse lead-in outside it
    land = (r - h + inner)[first:-step] - (r + h + outer)[first + step :]
    depth = h - (walls[:, 0] - walls[:, 1]) / 2
    # 0.02 µm is the realised curve against the analogue one.
    assert depth[before:].min() >= practice.depth_min - 2e-8
    assert depth.max() <= practice.depth_max + 2e-8
    fine = np.isin(rows.zone, ("fine", "music"))
    pitch = rows.pitch[fine]
    sector = lathe.sectors_per_turn
    assert pitch.min() >= lathe.pitch_min - 1e-10
    assert pitch.max() <= lathe.pitch_max + 1e-10
    neighbours = np.diff(np.flatnonzero(fine)) == 1
    assert np.abs(np.diff(pitch)[neighbours]).max() <= lathe.pitch_slew / sector + 1e-10
    assert np.abs(np.diff(rows.depth)[fine[:-1]]).max() <= lathe.depth_slew / sector + 1e-10
    return float(land.min())


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("gain", [0.7, 2.0])
def test_brute_force_finds_nothing(seed: int, gain: float) -> None:
    setup = load_setup()
    x = music(14.0, seed)
    _, rows = plan(walk(x, setup), gain, setup)
    least = check_by_brute_force(x, rows, gain, setup)
    # The rows are kept, and no more than kept: the spiral is tight.
    assert least == pytest.approx(setup.practice.land_min, abs=3e-8)
    land = rows.land[np.isin(rows.zone, ("fine", "music"))]
    assert np.nanmin(land) == pytest.approx(least, abs=3e-8)


def test_brute_force_can_fail() -> None:
    setup = load_setup()
    x = music(14.0)
    _, rows = plan(walk(x, setup), 2.0, setup)
    moved = replace(rows, radius=rows.radius - 1e-6 * (rows.time > 7.0))
    good = check_by_brute_force(x, rows, 2.0, setup)
    moved_out = replace(rows, radius=rows.radius + 1e-6 * (rows.time > 7.0))
    assert check_by_brute_force(x, moved_out, 2.0, setup) < good - 0.9e-6
    assert check_by_brute_force(x, moved, 2.0, setup) >= good - 1e-9


def test_windows_against_the_whole() -> None:
    setup = coarse_setup()
    motion = walk(music(70.0), setup)
    problem = pose(motion, 1.5, setup)
    end = problem.grid.end
    windows, whole = -lay_spiral(problem).radius[end], -lay_exact(problem).radius[end]
    # The issue's own limit: 0.1 % above the exact optimum. Not below it either.
    assert whole - 1e-6 <= windows <= whole * 1.001


def test_exact_against_another_programme() -> None:
    """Another road: the same physics from samples alone, through SciPy's front door.

    A row at every tenth sample misses the peaks between them and asks for too little; a row for the
    extremes of every ten samples asks for a little too much. The truth lies between.
    """
    setup = coarse_setup()
    x = music(9.0, 3)
    gain = 2.0
    motion = walk(x, setup)
    mine = -lay_exact(pose(motion, gain, setup)).radius[motion.grid.end]
    too_little = rows_at_samples(x, gain, setup, every=10, extremes=False)
    too_much = rows_at_samples(x, gain, setup, every=10, extremes=True)
    # Hulls are raised by 0.02 µm where they were thinned, for land and for both depths: 0.06 µm a turn.
    assert too_little <= mine <= too_much + 0.06 * 9.0 / setup.disc.turn_time
    assert too_much == pytest.approx(too_little, rel=0.01)  # near enough to mean something


def rows_at_samples(x: np.ndarray, gain: float, setup: Setup, every: int, extremes: bool) -> float:
    """Radius used, µm: DESIGN 5.4-5.6 with one row per `every` samples, or for the extremes among them."""
    turn, sectors = setup.disc.turn_time, setup.lathe.sectors_per_turn
    walls = np.concatenate([np.zeros((3 * RATE, 2)), gain * exact_edges(x, setup.practice.subsonic)]) * 1e6
    guard = int(np.ceil(setup.practice.sync_guard * RATE - 1e-6))
    inner = minimum_filter1d(walls[:, 0], 2 * guard + 1)
    outer = maximum_filter1d(walls[:, 1], 2 * guard + 1)
    lift = (walls[:, 0] - walls[:, 1]) / 2
    if extremes:
        inner = minimum_filter1d(inner, every + 1)
        outer, lift = maximum_filter1d(outer, every + 1), maximum_filter1d(lift, every + 1)
    step = turn / sectors
    count = round(len(x) / RATE / step) + round(1.5 * sectors)  # 9 s is a whole number of sectors
    n = count + 1
    a, b = [], []

    def at(time: float) -> np.ndarray:
        k = min(int((time + 1.5 * turn) / step), n - 2)
        s = (time + 1.5 * turn) / step - k
        row = np.zeros(n)
        row[k], row[k + 1] = 1 - s, s
        return row

    for i in range(round(-0.5 * turn * RATE), len(x), every):
        here, there = at(i / RATE), at(i / RATE - turn)
        j = i + 3 * RATE
        a.append(np.concatenate([here - there, here + there]))
        b.append(inner[j - round(turn * RATE)] - outer[j] - setup.practice.land_min * 1e6)
    for i in range(0, len(x), every):
        a.append(np.concatenate([np.zeros(n), -at(i / RATE)]))
        b.append(-setup.practice.depth_min * 1e6 - lift[i + 3 * RATE])
    second = np.diff(np.eye(n), 2, axis=0) * sectors
    for sign in (1, -1):
        a.extend(np.concatenate([sign * row, np.zeros(n)]) for row in second)
        b.extend([setup.lathe.pitch_slew * 1e6 / sectors] * len(second))
        first = sign * np.diff(np.eye(n), axis=0)
        a.extend(np.concatenate([np.zeros(n), row]) for row in first)
        b.extend([setup.lathe.depth_slew * 1e6 / sectors] * len(first))
    fall = -np.diff(np.eye(n), axis=0) * sectors
    a.extend(np.concatenate([row, np.zeros(n)]) for row in fall)
    b.extend([setup.lathe.pitch_max * 1e6] * len(fall))
    a.extend(np.concatenate([-row, np.zeros(n)]) for row in fall)
    b.extend([-setup.lathe.pitch_min * 1e6] * len(fall))
    start = round(1.5 * sectors)
    cost = np.zeros(2 * n)
    cost[start], cost[n - 1] = 1.0, -1.0
    bounds = [(None, None)] * n + [(setup.practice.depth_min * 1e6, setup.practice.depth_max * 1e6)] * n
    bounds[start] = (0.0, 0.0)
    found = linprog(cost, np.array(a), np.array(b), bounds=bounds, method="highs")
    assert found.status == 0, found.message
    return float(found.fun)


def test_halves_meet_without_a_seam(monkeypatch: pytest.MonkeyPatch) -> None:
    setup = coarse_setup()
    x = music(70.0, 4)
    motion = walk(x, setup)
    problem = pose(motion, 1.0, setup)
    monkeypatch.setattr(spiral_module, "HALVES_FROM_TURNS", 10**6)
    through = lay_spiral(problem)
    monkeypatch.setattr(spiral_module, "HALVES_FROM_TURNS", 12)
    halves = lay_spiral(problem)
    assert not np.array_equal(through.radius, halves.radius)
    assert not halves.broken, "the second half begins freely, without a turn outside it"
    rows = tabulate(motion, 1.0, halves, setup.disc)
    assert check_by_brute_force(x, rows, 1.0, setup) >= setup.practice.land_min - 3e-8
    # The join costs less than a thousandth of the radius: the limit for windows.
    assert halves.radius[problem.grid.end] == pytest.approx(through.radius[problem.grid.end], rel=1e-3)


def test_the_same_input_gives_the_same_bits(monkeypatch: pytest.MonkeyPatch) -> None:
    setup = coarse_setup()
    monkeypatch.setattr(spiral_module, "HALVES_FROM_TURNS", 12)
    motion = walk(music(55.0, 4), setup)
    one, other = (lay_spiral(pose(motion, 1.0, setup)) for _ in range(2))
    np.testing.assert_array_equal(one.radius, other.radius)
    np.testing.assert_array_equal(one.depth, other.depth)


def test_hopeless_level_is_planned_all_the_same() -> None:
    setup = coarse_setup()
    motion = walk(sine(40.0, 8.0, 1.0, -1.0), setup)
    spiral, rows = plan(motion, 20.0, setup)
    assert spiral.broken
    assert np.isfinite(rows.radius).all()


def test_joins_are_cut_at_the_coarse_pitch() -> None:
    setup = load_setup()
    x = music(30.0)
    x[round(14 * RATE) : round(17 * RATE)] = 0.0
    motion = walk(x, setup, joins=((14.0, 17.0),))
    _, rows = plan(motion, 1.0, setup)
    join = rows.zone == "join"
    # By hand: of the sectors of 56.25 ms, number 249 begins at 14.006 s and number 301 ends at 16.988 s.
    assert join.sum() == 53
    np.testing.assert_allclose(rows.pitch[join], setup.disc.join_pitch, atol=1e-9)
    assert setup.disc.join_pitch <= 0.0254 / 16  # published (RIAA): not fewer than 16 lines per inch
    assert check_by_brute_force(x, rows, 1.0, setup) >= setup.practice.land_min - 3e-8


def test_loud_passages_get_more_space() -> None:
    """Common practice."""
    setup = load_setup()
    x = sine(60.0, 36.0) * np.where((np.arange(36 * RATE) // (12 * RATE)) == 1, 1.0, 0.05)[:, None]
    _, rows = plan(walk(x, setup), 2.0, setup)
    music_rows = rows.zone == "music"
    loud = rows.pitch[music_rows & (rows.time > 14) & (rows.time < 22)].mean()
    soft = rows.pitch[music_rows & (rows.time > 28) & (rows.time < 34)].mean()
    assert loud > 1.5 * soft


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 10_000), st.floats(0.05, 4.0), st.floats(0.004, 12.0), st.booleans())
def test_whatever_the_music(seed: int, gain: float, seconds: float, mono: bool) -> None:
    setup = coarse_setup()
    rng = np.random.default_rng(seed)
    x = np.cumsum(rng.standard_normal((max(2, round(seconds * RATE)), 2)), axis=0)
    x = x / max(1e-9, np.abs(x).max()) * 0.5
    if mono:
        x[:, 1] = x[:, 0]
    motion = walk(x, setup)
    spiral, rows = plan(motion, gain, setup)
    music_rows = np.isin(rows.zone, ("fine", "music"))
    assert (rows.pitch[:-1] >= -1e-12).all(), "the spiral never turns outward"
    assert np.nanmin(np.append(rows.land[music_rows], np.inf)) > 0, "no wall crosses its neighbour"
    assert np.isfinite(rows.radius).all()
    assert rows.radius[rows.music][0] == pytest.approx(setup.disc.outermost_radius, abs=1e-12)
    assert rows.time[rows.music][-1] == pytest.approx(len(x) / RATE, abs=1e-12)
    assert not spiral.broken
    if mono:
        assert motion.shallow.value.max() == 0.0, "a mono side has no vertical motion"
        assert np.ptp(rows.depth) < 1e-12


# --- every kind of programme and every kind of end --------------------------------------------------------------


def bursts(seconds: float, seed: int) -> np.ndarray:
    """Silence with bursts of low noise in either channel or both, in and out of phase."""
    rng = np.random.default_rng(seed)
    x = np.zeros((round(seconds * RATE), 2))
    spectrum = np.fft.rfftfreq(RATE, 1 / RATE)
    shape = (spectrum > 30) & (spectrum < 400)
    for _ in range(round(seconds)):
        at = int(rng.integers(0, max(1, len(x) - RATE // 2)))
        noise = np.fft.irfft(np.fft.rfft(rng.standard_normal(RATE)) * shape, RATE)[: RATE // 2] * np.hanning(RATE // 2)
        sides = ((1.0, 0.0), (0.0, 1.0), (1.0, 1.0), (1.0, -0.7))[int(rng.integers(4))]
        part = x[at : at + RATE // 2]
        part += (0.3 * noise / np.abs(noise).max())[: len(part), None] * np.array(sides)
    return x


@pytest.mark.parametrize("seed", [11, 12])
def test_bursts_in_silence(seed: int) -> None:
    """Twenty turns and more, loud and silent by the second: the spiral must open and close as fast as it may."""
    setup = load_setup()
    x = bursts(38.0, seed)
    _, rows = plan(walk(x, setup), 2.0, setup)
    assert check_by_brute_force(x, rows, 2.0, setup) == pytest.approx(setup.practice.land_min, abs=3e-8)


@pytest.mark.parametrize("frequency", [30.0, 100.0, 1000.0])
@pytest.mark.parametrize(("left", "right"), [(1.0, 1.0), (1.0, -1.0), (1.0, 0.0), (0.0, 1.0)])
def test_sines_by_brute_force(frequency: float, left: float, right: float) -> None:
    setup = coarse_setup()
    x = sine(frequency, 12.6, left, right)
    _, rows = plan(walk(x, setup), 0.8, setup)
    # 0.03 µm: the realised curve against the analogue one, on land and on both walls.
    assert check_by_brute_force(x, rows, 0.8, setup) >= setup.practice.land_min - 3e-8


@pytest.mark.parametrize(
    "frames",
    [
        177,  # 4 ms: shorter than the guard
        RATE,  # one second, just over half a turn
        2480,  # within a hair of one sector of 56.25 ms
        2481,
        79_379,  # one turn less a sample, one turn, one turn and a sample
        79_380,
        79_381,
        4 * 79_380 + 1241,  # four turns and half a sector
        4 * 79_380 + 2480,
    ],
)
def test_ends_of_every_kind(frames: int) -> None:
    """The land is kept up to the last sample and a little beyond, wherever in a sector that lies."""
    setup = load_setup()
    x = np.stack([np.cos(np.arange(frames) * 0.01), np.sin(np.arange(frames) * 0.013)], axis=1) * 0.4
    motion = walk(x, setup)
    spiral, rows = plan(motion, 2.0, setup)
    assert not spiral.broken
    assert rows.time[rows.music][-1] == frames / RATE
    assert rows.radius[rows.music][0] == pytest.approx(setup.disc.outermost_radius)
    assert np.nanmin(rows.land) >= setup.practice.land_min - 1e-9
    tail = 3 * RATE // 2
    rung = np.concatenate([x, np.zeros((tail, 2))])  # the walls ring on after the last sample
    edges = 2.0 * exact_edges(rung, setup.practice.subsonic)
    t = np.arange(len(rung)) / RATE
    here = t < frames / RATE
    depth = np.interp(t, rows.time, rows.depth) - (edges[:, 0] - edges[:, 1]) / 2
    assert depth[here].min() >= setup.practice.depth_min - 2e-8
    assert depth[here].max() <= setup.practice.depth_max + 2e-8
    if frames > 79_380:
        guard = 221
        inner = minimum_filter1d(edges[:, 0], 2 * guard + 1)
        outer = maximum_filter1d(edges[:, 1], 2 * guard + 1)
        r, h = (np.interp(t, rows.time, v) for v in (rows.radius, rows.depth))
        land = (r - h + inner)[:-79_380] - (r + h + outer)[79_380:]
        assert land[: frames - 79_380].min() >= setup.practice.land_min - 3e-8


@pytest.mark.parametrize("disc", ["7in-45", "10in-33"])
def test_other_formats(disc: str) -> None:
    setup = load_setup(disc)
    x = music(9.0, 5)
    _, rows = plan(walk(x, setup), 2.0, setup)
    assert check_by_brute_force(x, rows, 2.0, setup) == pytest.approx(setup.practice.land_min, abs=3e-8)
    assert rows.radius[rows.music][0] == pytest.approx(setup.disc.outermost_radius)


def test_two_joins_and_the_music_between_them() -> None:
    """Land, slews and pitch limits hold before, between and after two joins; only they are cut coarse."""
    setup = load_setup()
    x = music(40.0, 6)
    joins = ((9.0, 12.0), (25.0, 27.5))
    for begin, end in joins:
        x[round(begin * RATE) : round(end * RATE)] = 0.0
    motion = walk(x, setup, joins=joins)
    _, rows = plan(motion, 2.0, setup)
    join = rows.zone == "join"
    np.testing.assert_allclose(rows.pitch[join], setup.disc.join_pitch, atol=1e-9)
    assert rows.pitch[rows.zone == "music"].max() <= setup.lathe.pitch_max + 1e-10 < setup.disc.join_pitch
    assert check_by_brute_force(x, rows, 2.0, setup) >= setup.practice.land_min - 3e-8


# --- what a better spiral would be ---------------------------------------------------------------------------------


def test_louder_never_takes_less_radius() -> None:
    """By hand: at a lower level the louder side's spiral is still allowed."""
    setup = coarse_setup()
    motion = walk(music(20.0, 2), setup)
    used = [-lay_exact(pose(motion, gain, setup)).radius[motion.grid.end] for gain in (0.1, 0.5, 1.0, 2.0, 3.0)]
    assert (np.diff(used) >= -1e-6).all()
    # And the radius used is convex in the gain, on which the search for the level leans (docs/decisions/0011).
    slopes = np.diff(used) / np.diff([0.1, 0.5, 1.0, 2.0, 3.0])
    # 0.1 µm per unit of gain: hulls are thinned by 0.02 µm, each level in its own way.
    assert (np.diff(slopes) >= -1.0).all()


@pytest.mark.parametrize("harder", ["land_min", "depth_min", "pitch_min", "pitch_slew", "depth_slew"])
def test_a_harder_rule_never_takes_less_radius(harder: str) -> None:
    """By hand: what a harder rule allows, the easier one allows too."""
    setup = coarse_setup()
    motion = walk(music(20.0, 2), setup)
    easy = -lay_exact(pose(motion, 2.0, setup)).radius[motion.grid.end]
    if harder in ("land_min", "depth_min"):
        practice = replace(setup.practice, **{harder: getattr(setup.practice, harder) * 1.3})
        hard_setup = replace(setup, practice=practice)
    else:
        share = 1.3 if harder == "pitch_min" else 0.5
        hard_setup = replace(setup, lathe=replace(setup.lathe, **{harder: getattr(setup.lathe, harder) * share}))
    hard = -lay_exact(pose(motion, 2.0, hard_setup)).radius[motion.grid.end]
    assert hard > easy + 0.2, "each of these rules is felt by loud music, in µm"


def test_slow_lathe_begins_earlier() -> None:
    """Common practice: the carriage must have moved before the loud turn comes, the earlier the slower it is."""
    setup = coarse_setup()
    x = sine(60.0, 30.0) * (np.arange(30 * RATE) > 18 * RATE)[:, None]
    began = []
    for slew in (400e-6, 50e-6):
        slow = replace(setup, lathe=replace(setup.lathe, pitch_slew=slew))
        _, rows = plan(walk(x, slow), 2.0, slow)
        began.append(float(rows.time[(rows.pitch > 50e-6) & (rows.zone == "music")][0]))
        # By hand: from 40 µm to the pitch at 18 s it goes up by no more than the slew each turn.
        top = float(np.interp(18.0, rows.time, rows.pitch))
        assert began[-1] <= 18.0 - 1.8 * max(0.0, (top - 50e-6) / slew - 1) + 1.8 / 8
    assert began[1] < began[0] - 0.3


def test_progress_goes_up_to_one() -> None:
    setup = coarse_setup()
    told: list[float] = []
    motion = walk(music(30.0), setup)
    lay_spiral(pose(motion, 1.0, setup), told.append)
    assert told == sorted(told)
    assert 0.0 < told[0] <= told[-1] <= 1.0


@pytest.mark.parametrize(
    ("programme", "gain"),
    [
        (sine(40.0, 6.0, 1.0, -1.0), 16.0),
        (sine(40.0, 6.0), 16.0),
        (sine(40.0, 6.0, 1.0, 0.0), 16.0),
        (np.sign(sine(25.0, 6.0, 1.0, -1.0)), 16.0),
    ],
    ids=["vertical", "lateral", "one wall", "square"],
)
def test_hopeless_levels_of_every_kind(programme: np.ndarray, gain: float) -> None:
    """At +24 dB the lathe gives what it can: its own limits are kept, what cannot be kept is broken and told."""
    setup = coarse_setup()
    motion = walk(programme, setup)
    spiral, rows = plan(motion, gain, setup)
    fine = np.isin(rows.zone, ("fine", "music"))
    assert rows.pitch[fine].min() >= setup.lathe.pitch_min - 1e-9
    assert rows.pitch[fine].max() <= setup.lathe.pitch_max + 1e-9
    assert np.abs(np.diff(rows.pitch[fine])).max() <= setup.lathe.pitch_slew / 8 + 1e-9
    assert np.abs(np.diff(rows.depth)).max() <= setup.lathe.depth_slew / 8 + 1e-9
    side = view(motion, gain, setup, rows)
    assert spiral.broken
    assert {f.severity for f in check_depth(side) + check_land(side)} == {"stop"}


def test_a_spiral_that_keeps_everything_is_not_called_broken() -> None:
    setup = coarse_setup()
    motion = walk(music(12.0), setup)
    for gain in (0.1, 1.0, 2.0):
        spiral, rows = plan(motion, gain, setup)
        assert not spiral.broken
        assert check_land(view(motion, gain, setup, rows)) == []


def test_the_join_arrives_in_the_shape_of_the_inner_half(monkeypatch: pytest.MonkeyPatch) -> None:
    """The turn before the join is the inner half's own, at another radius: all that the next turn sees of it."""
    setup = coarse_setup()
    x = music(55.0, 4) + 0.3 * sine(60.0, 55.0, 1.0, -1.0)
    problem = pose(walk(x, setup), 1.0, setup)
    inner: list[spiral_module._Chain] = []
    join = spiral_module._Chain.join

    def noted(self: spiral_module._Chain, other: spiral_module._Chain, stop: int) -> bool:
        inner.append(other)
        other.stop = stop  # type: ignore[attr-defined]
        return join(self, other, stop)

    monkeypatch.setattr(spiral_module._Chain, "join", noted)
    monkeypatch.setattr(spiral_module, "HALVES_FROM_TURNS", 12)
    halves = lay_spiral(problem)
    stop = inner[0].stop  # type: ignore[attr-defined]
    turn = slice(stop - 8, stop + 1)
    shape = inner[0].radius[turn] - inner[0].radius[stop]
    # 1e-5 µm: the solver's own tolerance.
    np.testing.assert_allclose(halves.radius[turn] - halves.radius[stop], shape, atol=1e-5)
    np.testing.assert_allclose(halves.depth[turn], inner[0].depth[turn], atol=1e-5)
    rest = halves.radius[stop:] - halves.radius[stop]
    np.testing.assert_allclose(rest, inner[0].radius[stop:] - inner[0].radius[stop], atol=1e-9)
    assert np.ptp(halves.depth[turn]) > 0.1, "a depth that never changes would show nothing"


@pytest.mark.parametrize("where", [5.0, 50.0])
def test_broken_in_either_half_is_broken(where: float, monkeypatch: pytest.MonkeyPatch) -> None:
    setup = coarse_setup()
    x = 0.05 * music(55.0, 4)
    at = round(where * RATE)
    x[at : at + 2 * RATE] += sine(40.0, 2.0, 1.0, -1.0)
    monkeypatch.setattr(spiral_module, "HALVES_FROM_TURNS", 12)
    assert lay_spiral(pose(walk(x, setup), 4.0, setup)).broken


def test_what_cannot_be_kept_is_broken_there_and_nowhere_else() -> None:
    """Too deep for two seconds: the land and every other turn's depth are kept all the same."""
    setup = coarse_setup()
    x = music(30.0, 4)
    at = 15 * RATE
    x[at : at + 2 * RATE] += sine(40.0, 2.0, 1.0, -1.0)
    motion = walk(x, setup)
    gain = 4.0
    spiral, rows = plan(motion, gain, setup)
    assert spiral.broken
    side = view(motion, gain, setup, rows)
    least, greatest = instantaneous_depth(side)
    # By hand: 40 Hz at full scale lifts by 23.9 µm, so here the groove goes up and down by 96 µm from over 108 µm.
    assert greatest.max() > setup.practice.depth_max + 50e-6
    assert least.min() >= setup.practice.depth_min - 1e-8
    away = np.abs(motion.grid.time[: side.sectors] - 16.0) > 4.0
    assert greatest[away].max() <= setup.practice.depth_max + 1e-8
    assert check_land(side) == []
