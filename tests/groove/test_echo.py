"""Groove echo: who is at risk, what is told of it, what land is added and what that costs; worked by hand."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support import RATE, Float, coarse_setup, sine, walk

from discwright.files.settings import load_setup
from discwright.groove.echo import ECHO_LOUD_POWER, ECHO_SECTORS, LAND_TOLERANCE, check_echo, echo_cost, echo_pairs
from discwright.groove.equipment import Setup
from discwright.groove.limits import Side, check_land, view
from discwright.groove.motion import Motion
from discwright.groove.rows import Corners, Problem, pose
from discwright.groove.spiral import lay_spiral
from discwright.groove.table import tabulate


@pytest.fixture(scope="module")
def silent() -> Side:
    """A minute of silence: 40 µm a turn, 12.5 µm deep."""
    setup = load_setup()
    return laid(walk(np.zeros((60 * RATE, 2)), setup), setup)


def laid(motion: Motion, setup: Setup, gain: float = 1.0) -> Side:
    rows = tabulate(motion, gain, lay_spiral(pose(motion, gain, setup)), setup.disc)
    return view(motion, gain, setup, rows)


def widened(setup: Setup, widening: float) -> Setup:
    return replace(setup, practice=replace(setup.practice, echo_widening=widening))


def used(side: Side) -> float:
    radius = side.rows.radius[side.rows.music]
    return float(radius[0] - radius[-1])


def land_of(side: Side) -> Float:
    """Land of each sector of the grid that has a turn outside it, up to the end of the music; else infinite."""
    grid = side.motion.grid
    first = int(np.searchsorted(side.rows.time, grid.time[0] - 1e-9))
    land = side.rows.land[first : first + grid.end]
    return np.where(np.isnan(land), np.inf, land)


# --- what is told ------------------------------------------------------------------------------------------------


def with_power(side: Side, loud_db: float, quiet_db: float, loud_from: int, loud_to: int, land: float = 15e-6) -> Side:
    """Sectors of music loud from one to another and quiet elsewhere, with this much land everywhere."""
    power = np.full(side.motion.grid.sectors, 10 ** (quiet_db / 10))
    start = side.motion.grid.start
    power[start + loud_from : start + loud_to] = 10 ** (loud_db / 10)
    rows = replace(side.rows, land=np.full(len(side.rows.land), land))
    return replace(side, motion=replace(side.motion, power=power), rows=rows)


@pytest.mark.parametrize(
    ("loud_db", "quiet_db", "land", "found"),
    [
        (-20.0, -50.1, 15e-6, True),
        (-20.0, -49.9, 15e-6, False),  # house rule: 30 dB
        (-20.0, -60.0, 19.9e-6, True),
        (-20.0, -60.0, 20.1e-6, False),  # house rule: 20 µm
        (-29.9, -70.0, 15e-6, True),
        (-30.1, -70.0, 15e-6, False),  # house rule: loud is a mean square of a thousandth
    ],
)
def test_echo_needs_all_three(silent: Side, loud_db: float, quiet_db: float, land: float, found: bool) -> None:
    """Regression only: the house's own numbers, each held from both sides."""
    side = with_power(silent, loud_db, quiet_db, 400, 500, land)
    notes = check_echo(side)
    assert [(f.code, f.severity) for f in notes] == [("echo", "note")] * found
    if found:
        assert notes[0].value == pytest.approx(loud_db - quiet_db, abs=0.01)
        assert notes[0].limit == pytest.approx(30.0)


def test_a_loud_end_is_heard_one_turn_early(silent: Side) -> None:
    side = with_power(silent, -10.0, -60.0, 640, 10_000)
    found = check_echo(side)[0]
    # By hand: sector 640 begins at 36 s; the quiet turn that hears it lies up to a turn before.
    assert 36.0 - 1.8 - 0.2 <= (found.time_s or 0.0) <= 36.0
    assert "The loud turn after this quiet one may be heard one turn early" in found.remedy


def test_a_loud_beginning_is_heard_one_turn_late(silent: Side) -> None:
    side = with_power(silent, -10.0, -60.0, 0, 640)
    found = check_echo(side)[0]
    assert 36.0 - 0.2 <= (found.time_s or 0.0) <= 36.0 + 1.8
    assert "The loud turn before this quiet one may be heard one turn late" in found.remedy


def test_time_at_risk(silent: Side) -> None:
    found = check_echo(with_power(silent, -10.0, -60.0, 320, 352))[0]
    # By hand: one loud turn is heard in the turn before and the turn after, 3.6 s; over four sectors the loudness is
    # smeared, two more on either side of each: up to 4 s.
    seconds = float(found.remedy.split("; ")[1].split(" s ")[0])
    assert 3.5 <= seconds <= 4.1


def test_even_loudness_has_no_echo(silent: Side) -> None:
    assert check_echo(with_power(silent, -10.0, -10.0, 0, 640)) == []
    assert check_echo(with_power(silent, -60.0, -60.0, 0, 640)) == []


@pytest.mark.parametrize("seconds", [0.004, 1.0, 1.8])
def test_less_than_a_turn_has_no_neighbour(seconds: float) -> None:
    setup: Setup = load_setup()
    motion = walk(np.full((round(seconds * RATE), 2), 0.1), setup)
    rows = tabulate(motion, 1.0, lay_spiral(pose(motion, 1.0, setup)), setup.disc)
    side = view(motion, 1.0, setup, rows)
    assert check_echo(side) == []


def test_echo_is_judged_at_the_level_cut(silent: Side) -> None:
    # By hand: -31 dB is below the house's -30 dB for loud, and above it when cut 2 dB louder.
    side = with_power(silent, -31.0, -70.0, 400, 500)
    assert check_echo(side) == []
    assert [f.code for f in check_echo(replace(side, gain=10 ** (2 / 20)))] == ["echo"]


def test_a_short_blow_is_smeared_over_four_sectors(silent: Side) -> None:
    # By hand: two loud sectors smeared over four are five; five a turn early and five a turn late are 0.56 s.
    found = check_echo(with_power(silent, -10.0, -60.0, 320, 322))[0]
    assert "0.6 s of the side are at risk" in found.remedy


def test_seconds_of_each_kind(silent: Side) -> None:
    # By hand: a loud turn is heard for one turn early and one turn late, 1.8 s each. Smeared over four sectors it lasts
    # three more, and those three lie beside loud ones.
    found = check_echo(with_power(silent, -10.0, -60.0, 320, 352))[0]
    assert "; 3.6 s of the side are at risk, 1.8 s of it early and 1.8 s late. " in found.remedy
    # By hand: a loud beginning is heard late only, a loud end early only.
    assert " 0.0 s of it early and 1.8 s late. " in check_echo(with_power(silent, -10.0, -60.0, 0, 640))[0].remedy
    assert " of it early and 0.0 s late. " in check_echo(with_power(silent, -10.0, -60.0, 640, 10_000))[0].remedy


def test_the_remedy_is_enough(silent: Side) -> None:
    # By hand: 20 µm of land against echo less the 8 µm kept everywhere.
    side = with_power(silent, -10.0, -60.0, 320, 352)
    assert check_echo(side)[0].remedy.endswith(
        " To leave 20 µm of land there, set echo_widening_um to 12 in the practice."
    )
    # Where that is set and the land is thin all the same, the lathe could not follow.
    full = replace(side, setup=widened(side.setup, 12e-6))
    assert check_echo(full)[0].remedy.endswith(" The lathe's pitch cannot open far enough there: lower the side.")


def test_land_widened_to_the_limit_is_wide_enough(silent: Side) -> None:
    """The solver keeps 20 µm to a few thousandths: that is no finding."""
    assert check_echo(with_power(silent, -10.0, -60.0, 320, 352, 20e-6 - 0.9 * LAND_TOLERANCE)) == []
    assert check_echo(with_power(silent, -10.0, -60.0, 320, 352, 20e-6 - 1.1 * LAND_TOLERANCE)) != []


# --- who is at risk --------------------------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.floats(1.0, 30.0), st.floats(-12.0, 12.0), st.floats(3.0, 40.0))
def test_pairs_by_another_road(seed: int, seconds: float, level_db: float, contrast: float) -> None:
    setup = coarse_setup()
    practice = replace(setup.practice, echo_contrast=contrast)
    motion = walk(np.zeros((round(seconds * RATE), 2)), setup)
    grid, gain = motion.grid, 10 ** (level_db / 20)
    rng = np.random.default_rng(seed)
    motion = replace(motion, power=10 ** rng.uniform(-9, -0.3, grid.sectors) * rng.integers(0, 2, grid.sectors))
    pairs = echo_pairs(motion, gain, practice)
    assert pairs.shape == (grid.sectors,)
    # Another road: sector by sector, each mean over the two sectors before, the sector itself and the one after.
    for k in range(grid.sectors):
        outside = k - grid.sectors_per_turn
        if outside < grid.start or k >= grid.end:
            assert not pairs[k]
            continue
        here, there = (
            sum(motion.power[j] for j in range(i - 2, i + 2) if grid.start <= j < grid.end) / ECHO_SECTORS
            for i in (k, outside)
        )
        loud, quiet = max(here, there), max(min(here, there), 1e-12)
        margin = 10 * np.log10(max(loud, 1e-12) / quiet) - contrast
        if abs(margin) > 1e-6 and abs(loud * gain**2 / ECHO_LOUD_POWER - 1) > 1e-9:
            assert pairs[k] == (margin > 0 and loud * gain**2 > ECHO_LOUD_POWER)


# --- the land that is added ------------------------------------------------------------------------------


def alternation(setup: Setup, blocks: int = 3, turns: int = 4) -> Motion:
    """Four quiet turns, four loud ones, and so on, beginning and ending quiet; 250 Hz, lateral."""
    seconds = turns * setup.disc.turn_time
    quiet, loud = 0.002 * sine(250.0, seconds), sine(250.0, seconds)
    return walk(np.concatenate([quiet, *[loud, quiet] * blocks]), setup)


@pytest.fixture(scope="module")
def alternating() -> Motion:
    return alternation(load_setup())


@pytest.mark.parametrize("widening_um", [3.0, 12.0, 25.0])
def test_land_is_widened_at_every_pair_and_nowhere_broken(alternating: Motion, widening_um: float) -> None:
    setup = widened(load_setup(), widening_um * 1e-6)
    side = laid(alternating, setup)
    land, pairs = land_of(side), echo_pairs(alternating, 1.0, setup.practice)[: alternating.grid.end]
    # By hand: three loud blocks begin and end, a turn each, less the fades and more the smear.
    assert 5 * 32 <= pairs.sum() <= 7 * 32
    # The solver's tolerance, 1e-4 µm, on either side.
    assert land[pairs].min() >= 8e-6 + widening_um * 1e-6 - 1e-10
    assert land[~pairs].min() >= 8e-6 - 1e-10
    assert check_land(side) == []
    # What is left is told: at 12 µm and more none is.
    assert bool(check_echo(side)) == (widening_um < 12.0)


@pytest.mark.parametrize("level_db", [-3.0, 0.0, 3.0])
def test_what_it_costs(alternating: Motion, level_db: float) -> None:
    gain, narrow_setup = 10 ** (level_db / 20), load_setup()
    setup = widened(narrow_setup, 12e-6)
    narrow, wide = laid(alternating, narrow_setup, gain), laid(alternating, setup, gain)
    pairs = echo_pairs(alternating, gain, setup.practice)
    cost = used(wide) - used(narrow)
    # By hand: each turn at risk pushes all inside it in by 12 µm; 7 of them may be there already, where quiet turns lie
    # at the lathe's 40 µm instead of 33. The pitch slew opens over part of a turn, not at once: a tenth more.
    turns = pairs.sum() / 32
    assert 5 <= turns <= 6.5
    assert turns * 5e-6 <= cost <= 1.1 * turns * 12e-6
    found = echo_cost(wide, used(narrow))
    assert [(f.code, f.severity, f.unit, f.limit) for f in found] == [("echo_room", "note", "mm", 0.0)]
    assert found[0].value == pytest.approx(cost * 1e3, abs=1e-12)
    seconds = pairs.sum() * 1.8 / 32
    assert found[0].remedy == (
        f"Against echo {seconds:.1f} s of the side keep 12 µm of land on top of the 8 µm kept everywhere, and that "
        f"costs {cost * 1e3:.3f} mm of radius. To win it back, lower echo_widening_um in the practice."
    )
    # The place is that of a quiet turn beside a loud one.
    place = round((found[0].time_s or 0.0) / 1.8 * 32) + alternating.grid.start
    assert 10 * np.log10(alternating.power[place]) < -50


def test_a_lathe_that_cannot_open_so_far(alternating: Motion) -> None:
    """Widening asks for land and never for a stop: where it cannot be had, the least land is kept all the same."""
    setup = widened(load_setup(), 40e-6)
    setup = replace(setup, lathe=replace(setup.lathe, pitch_max=75e-6))
    assert lay_spiral(pose(alternating, 1.0, setup)).broken
    side = laid(alternating, setup)
    pairs = echo_pairs(alternating, 1.0, setup.practice)[: alternating.grid.end]
    assert check_land(side) == []
    land = land_of(side)[pairs]
    assert land.min() >= 20e-6, "as much as there is is taken"
    told = echo_cost(side, used(side))[0].remedy
    # By hand: 1.8 s over 32 sectors, kept and not.
    assert f" {np.sum(land >= 48e-6 - LAND_TOLERANCE) * 1.8 / 32:.1f} s of the side keep 40 µm of land" in told
    assert f" In {np.sum(land < 48e-6 - LAND_TOLERANCE) * 1.8 / 32:.1f} s more the lathe's pitch could not" in told


def test_no_cost_where_nothing_was_widened(alternating: Motion, silent: Side) -> None:
    assert echo_cost(laid(alternating, load_setup()), 0.0) == []
    assert echo_cost(replace(silent, setup=widened(silent.setup, 12e-6)), 0.0) == []


def test_a_cost_below_nothing_is_none(alternating: Motion) -> None:
    side = laid(alternating, widened(load_setup(), 12e-6))
    assert echo_cost(side, used(side) + 1e-9)[0].value == 0.0


def same(a: Problem, b: Problem) -> bool:
    """Every number of two problems, bit by bit."""

    def bits(item: object) -> list[bytes]:
        if isinstance(item, Corners):
            return [np.asarray(getattr(item, f.name)).tobytes() for f in fields(item)]
        return [np.asarray(item).tobytes()]

    return all(bits(getattr(a, f.name)) == bits(getattr(b, f.name)) for f in fields(Problem) if f.name != "grid")


def test_no_pair_no_change(alternating: Motion, silent: Side) -> None:
    """Bit by bit: silence has no pair, and a widening of nothing is the problem it always was."""
    plain, wide = load_setup(), widened(load_setup(), 12e-6)
    assert same(pose(silent.motion, 1.0, plain), pose(silent.motion, 1.0, wide))
    assert same(pose(alternating, 1.0, plain), pose(alternating, 1.0, widened(plain, 0.0)))
    # The comparison itself can fail.
    assert not same(pose(alternating, 1.0, plain), pose(alternating, 1.0, wide))
