"""The whole spiral in one table: lead-in, zones, lead-out, locked groove, and land by a plain road."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support import RATE, coarse_setup, exact_edges, music, walk

from discwright.files.settings import load_setup, shipped
from discwright.groove.equipment import DiscFormat, Setup
from discwright.groove.motion import Motion
from discwright.groove.rows import pose
from discwright.groove.spiral import Spiral, lay_spiral
from discwright.groove.table import SpiralRows, lead_out_pitch, tabulate

FORMATS = shipped(DiscFormat)


def silence(seconds: float, setup: Setup, joins: tuple[tuple[float, float], ...] = ()) -> Motion:
    return walk(np.zeros((round(seconds * RATE), 2)), setup, joins=joins)


def table(seconds: float, setup: Setup, joins: tuple[tuple[float, float], ...] = ()) -> SpiralRows:
    motion = silence(seconds, setup, joins)
    return tabulate(motion, 1.0, lay_spiral(pose(motion, 1.0, setup)), setup.disc)


@pytest.mark.parametrize("disc", list(FORMATS))
def test_from_the_rim_to_the_locked_groove(disc: str) -> None:
    setup = load_setup(disc)
    rows = table(20.0, setup)
    turn = setup.disc.turn_time
    # By hand: the zones follow one another in this order, each without a break.
    order = ["lead_in", "fine", "music", "lead_out", "stop"]
    ranks = np.array([order.index(zone) for zone in rows.zone])
    assert (np.diff(ranks) >= 0).all()
    assert set(ranks) == set(range(5))
    assert (np.diff(rows.time) > 1e-9).all()
    assert (np.diff(rows.time) <= turn / setup.lathe.sectors_per_turn + 1e-9).all()
    assert (np.diff(rows.radius) <= 1e-15).all()
    assert rows.radius[0] == pytest.approx(setup.disc.disc_diameter / 2)
    # Common practice: fine pitch begins exactly 1.5 turns before the music.
    assert rows.time[rows.zone == "fine"][0] == pytest.approx(-1.5 * turn, abs=1e-12)
    # Published (IEC 60098:1987): lead-in 1.2 ±0.4 mm a turn, the first whole turn of the lead-out 6.4 ±3.2 mm.
    np.testing.assert_allclose(rows.pitch[rows.zone == "lead_in"], setup.disc.lead_in_pitch, rtol=1e-6)
    lead_out = rows.pitch[rows.zone == "lead_out"]
    assert 3.2e-3 <= lead_out.min() <= lead_out.max() <= 9.6e-3
    np.testing.assert_allclose(rows.turn, rows.time / turn)


def test_lead_in_lasts_as_long_as_printed() -> None:
    """Published: 301 to 292.6 mm at 1.2 mm is 3.5 turns, 6.3 s; here 1.5 turns of 40 µm are already cut outside."""
    rows = table(20.0, load_setup())
    lead_in = rows.time[rows.zone == "fine"][0] - rows.time[0]
    # By hand: 60 µm of fine pitch are 0.05 turn of lead-in, and the rest is 3.45 turns.
    assert lead_in / 1.8 == pytest.approx(3.5 - 0.06 / 1.2, abs=1e-6)


def test_no_lead_in_where_the_music_begins_at_the_rim() -> None:
    setup = load_setup()
    disc = replace(setup.disc, disc_diameter=2 * setup.disc.outermost_radius + 1e-5)
    rows = table(5.0, replace(setup, disc=disc))
    assert rows.zone[0] == "fine"
    assert np.isnan(rows.land[rows.time < -0.5 * 1.8 - 1e-6]).all()


def test_locked_groove_is_one_turn_at_one_radius() -> None:
    setup = load_setup()
    rows = table(20.0, setup)
    stop = rows.zone == "stop"
    assert rows.time[stop][-1] - rows.time[stop][0] == pytest.approx(1.8)
    np.testing.assert_allclose(rows.radius[stop], 53.2e-3, atol=1e-12)  # published: 106.4 mm
    assert np.isnan(rows.land[stop]).all()
    assert (rows.pitch[stop] == 0.0).all()


def ending_at(radius: float, setup: Setup, seconds: float = 5.41) -> SpiralRows:
    """The table of a side whose music ends at this radius, by a straight spiral."""
    motion = silence(seconds, setup)
    grid = motion.grid
    fall = (setup.disc.outermost_radius - radius) * 1e6
    path = -fall * grid.time[: grid.end + 5] / grid.duration
    return tabulate(motion, 1.0, Spiral(path, np.full(len(path), 12.5), False), setup.disc)


@pytest.mark.parametrize(
    ("diameter_mm", "pitch_mm", "turns"),
    [
        (140.0, 6.4, 2.625),  # by hand: 16.8 mm of radius at 6.4 mm
        (119.2, 6.4, 1.0),  # published: the least diameter with a whole turn at 6.4 mm
        (115.0, 4.3, 1.0),  # published: needs 4.3 mm or less for a full turn
        (110.0, 3.2, 0.5625),  # by hand: 1.8 mm at the least pitch allowed; no whole turn left
    ],
)
def test_lead_out_turns(diameter_mm: float, pitch_mm: float, turns: float) -> None:
    setup = load_setup()
    rows = ending_at(diameter_mm / 2e3, setup)
    out = rows.zone == "lead_out"
    np.testing.assert_allclose(rows.pitch[out] * 1e3, pitch_mm, rtol=1e-5)
    stop = rows.time[rows.zone == "stop"][0]
    assert (stop - 5.41) / 1.8 == pytest.approx(turns, abs=1e-4)
    # By hand: however far in the music ends, the locked groove lies where the standard has it.
    assert rows.radius[-1] == pytest.approx(53.2e-3, abs=1e-9)


@given(st.sampled_from(sorted(FORMATS)), st.floats(0.0, 0.03))
def test_lead_out_pitch_leaves_a_whole_turn_where_it_can(name: str, room: float) -> None:
    disc = FORMATS[name]
    pitch = lead_out_pitch(disc, disc.locked_radius + room)
    assert disc.lead_out_pitch_min <= pitch <= disc.lead_out_pitch
    if room >= disc.lead_out_pitch_min:
        assert room / pitch >= 1 - 1e-12


def test_music_that_runs_past_the_locked_groove_has_nothing_after_it() -> None:
    rows = ending_at(0.050, load_setup())
    assert set(rows.zone[rows.time > 5.4]) == {"lead_out"}
    assert len(rows.time[rows.time >= 5.41]) == 1
    assert rows.radius[-1] == pytest.approx(0.050)


@pytest.mark.parametrize("seconds", [0.004, 1.0, 1.8, 3.6, 5.41])
def test_music_runs_from_its_first_to_its_last_sample(seconds: float) -> None:
    setup = load_setup()
    rows = table(seconds, setup)
    music_rows = rows.time[rows.music]
    assert music_rows[0] == pytest.approx(0.0, abs=1e-12)
    assert music_rows[-1] == pytest.approx(round(seconds * RATE) / RATE, abs=1e-12)
    assert rows.radius[rows.music][0] == pytest.approx(setup.disc.outermost_radius)


@pytest.mark.parametrize(("seconds", "joins"), [(14.0, ()), (14.03, ()), (20.0, ((8.0, 11.0),))])
def test_land_by_a_plain_road(seconds: float, joins: tuple[tuple[float, float], ...]) -> None:
    """Another road: FFT walls, every sample, extremes over the guard; each row's land, not only the least."""
    setup = coarse_setup()
    x = music(seconds, 8)
    motion = walk(x, setup, joins=joins)
    gain = 1.5
    rows = tabulate(motion, gain, lay_spiral(pose(motion, gain, setup)), setup.disc)
    turn, guard = round(1.8 * RATE), 221  # 5 ms are 220.5 samples
    before = round(-rows.time[0] * RATE) - 1
    after = round((rows.time[-1] - seconds) * RATE) - 1
    walls = np.pad(gain * exact_edges(x, setup.practice.subsonic), ((before, after), (0, 0)))
    t = (np.arange(len(walls)) - before) / RATE
    window = np.lib.stride_tricks.sliding_window_view
    padded = np.pad(walls, ((guard, guard), (0, 0)), mode="edge")
    pick = slice(None, None, 7)  # the guard is 443 samples wide: every seventh place is near enough
    inner = window(padded[:, 0], 2 * guard + 1)[pick].min(axis=1)
    outer = window(padded[:, 1], 2 * guard + 1)[pick].max(axis=1)
    t = t[pick]
    edge_in = np.interp(t, rows.time, rows.radius - rows.depth) + inner
    edge_out = np.interp(t, rows.time, rows.radius + rows.depth) + outer
    steps = turn // 7  # 79 380 samples a turn are 11 340 whole sevens
    assert steps * 7 == turn
    land = edge_in[:-steps] - edge_out[steps:]
    owner = np.searchsorted(rows.time, t[steps:] + 1e-9, side="right") - 1
    plain = np.full(len(rows.time), np.inf)
    np.minimum.at(plain, owner, land)
    known = np.isfinite(rows.land) & np.isfinite(plain) & (rows.time > rows.time[0] + 1.8 + 0.3)
    tight = known & np.isin(rows.zone, ("fine", "music"))
    # 0.2 µm: in places between every seventh sample the spiral moves on by as much; on the mean a tenth of that.
    np.testing.assert_allclose(rows.land[tight], plain[tight], atol=0.2e-6)
    assert np.abs(rows.land - plain)[tight].mean() < 0.02e-6
    # 0.03 µm: the realised curve against the analogue one.
    assert (rows.land[known] <= plain[known] + 3e-8).all(), "no land is claimed that is not there"


def test_land_of_a_silent_side_in_every_zone() -> None:
    """Another road: 400 places in every row, the rim's and the lead-out's rows too."""
    rows = ending_at(0.140, load_setup())
    for k in range(len(rows.time) - 1):
        t = np.linspace(rows.time[k], rows.time[k + 1], 400)
        outer = np.interp(t - 1.8, rows.time, rows.radius - rows.depth)
        plain = (outer - np.interp(t, rows.time, rows.radius + rows.depth)).min()
        if np.isnan(rows.land[k]):
            assert rows.zone[k] == "stop" or rows.time[k] < rows.time[0] + 1.8
        elif np.isfinite(rows.land[k]):  # see below
            # 0.2 nm: knots of the turn outside need not lie on one of the places, nor does it cost more.
            assert rows.land[k] == pytest.approx(plain, abs=2e-10), rows.time[k]


@pytest.mark.parametrize("seconds", [5.0, 14.03])
def test_land_is_a_length_or_nothing(seconds: float) -> None:
    rows = table(seconds, load_setup())
    assert not np.isinf(rows.land).any(), rows.time[np.isinf(rows.land)]


def test_depth_and_radius_carry_over_between_zones() -> None:
    setup = coarse_setup()
    motion = walk(music(9.0), setup)
    spiral = lay_spiral(pose(motion, 2.0, setup))
    rows = tabulate(motion, 2.0, spiral, setup.disc)
    end = motion.grid.end
    assert (rows.depth[rows.zone == "lead_in"] == spiral.depth[0] * 1e-6).all()
    assert (rows.depth[rows.time > 9.0] == spiral.depth[end] * 1e-6).all()
    # By hand: the pitch of a row is the fall to the next row, a whole turn's worth.
    np.testing.assert_allclose(rows.pitch[:-1], -np.diff(rows.radius) * 1.8 / np.diff(rows.time), atol=1e-12)


def test_land_of_a_turn_that_is_no_whole_number_of_sectors() -> None:
    """Another road: after a partial last sector the outer turn's knots lie within the inner turn's sectors."""
    setup = load_setup()
    rows = table(7.333, setup)
    out = np.flatnonzero(rows.zone == "lead_out")
    for k in out[:40]:
        t = np.linspace(rows.time[k], rows.time[k + 1], 2001)
        outer = np.interp(t - 1.8, rows.time, rows.radius - rows.depth)
        plain = (outer - np.interp(t, rows.time, rows.radius + rows.depth)).min()
        # 3 nm: the outer turn's end at 7.333 s falls between two of the 2001 places.
        assert rows.land[k] == pytest.approx(plain, abs=3e-9)


@settings(max_examples=25, deadline=None)
@given(st.floats(0.0602, 0.140), st.floats(0.5, 12.0))
def test_one_whole_turn_of_lead_out_wherever_the_music_may_end(radius: float, seconds: float) -> None:
    """Published (IEC 60098:1987): 6.4 ±3.2 mm, at least one turn, then the locked groove at 106.4 mm."""
    rows = ending_at(radius, load_setup(), round(seconds * RATE) / RATE)
    stop = rows.zone == "stop"
    out = rows.zone == "lead_out"
    turns = (rows.time[stop][0] - rows.time[out][0]) / 1.8
    assert turns >= 1 - 1e-6
    assert 3.2e-3 - 1e-9 <= rows.pitch[out].min() <= rows.pitch[out].max() <= 9.6e-3 + 1e-9
    assert rows.radius[stop] == pytest.approx(53.2e-3, abs=1e-9)
    assert (np.diff(rows.time) > 1e-9).all()
