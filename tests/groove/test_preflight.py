"""How far inside each limit a side stays: silence, one sine and planted excesses, whose margins are worked by hand.

Limits are those of the shipped 12-inch disc, lathe, head, tip and practice, read from the setup.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from support import RATE, music, sine, walk

from discwright.files.settings import load_setup
from discwright.groove.equipment import Setup
from discwright.groove.limits import check_depth, check_head, check_land, check_slope, view
from discwright.groove.motion import Motion
from discwright.groove.preflight import MARGINS, Margin, preflight
from discwright.groove.rows import pose
from discwright.groove.spiral import lay_spiral
from discwright.groove.table import SpiralRows, tabulate

SETUP = load_setup()
TURN = 1.8  # published: 33⅓ turns a minute


def lay(motion: Motion, gain: float = 1.0, setup: Setup = SETUP) -> SpiralRows:
    return tabulate(motion, gain, lay_spiral(pose(motion, gain, setup)), setup.disc)


@pytest.fixture(scope="module")
def motion() -> Motion:
    """Twenty-seven seconds of silence, fifteen turns, with a join of five seconds from the tenth second on."""
    return walk(np.zeros((27 * RATE, 2)), SETUP, joins=((10.0, 15.0),))


@pytest.fixture(scope="module")
def rows(motion: Motion) -> SpiralRows:
    return lay(motion)


def margins(rows: SpiralRows, motion: Motion, gain: float = 1.0, setup: Setup = SETUP) -> dict[str, Margin]:
    found = preflight(rows, motion, gain, setup)
    assert [m.what for m in found] == [what for what in MARGINS if what in {m.what for m in found}]
    return {m.what: m for m in found}


def changed(rows: SpiralRows, name: str, at: int, value: float) -> SpiralRows:
    column = getattr(rows, name).copy()
    column[at] = value
    return replace(rows, **{name: column})


def row_at(rows: SpiralRows, time: float) -> int:
    return int(np.searchsorted(rows.time, time - 1e-6))


# silence ----------------------------------------------------------------------------------------------


def test_silence_by_hand(motion: Motion, rows: SpiralRows) -> None:
    """40 µm a turn and 12.5 µm deep: land 40 - 2·12.5 = 15 µm; the lead-out goes 6.4 mm in 1.8 s."""
    found = margins(rows, motion)
    assert tuple(found) == MARGINS
    expected = {
        "least_pitch": (40.0, 40.0, "µm", 0.0),
        "greatest_pitch": (40.0, 400.0, "µm", 90.0),
        "pitch_slew": (0.0, 200.0, "µm per turn", 100.0),
        "depth_slew": (0.0, 40.0, "µm per turn", 100.0),
        "carriage_speed": (6.4 / 1.8, 10.0, "mm/s", 100 - 64 / 1.8),
        "head_velocity": (0.0, SETUP.head.velocity_max * 100, "cm/s", 100.0),
        "head_acceleration": (0.0, SETUP.head.acceleration_max, "m/s²", 100.0),
        "head_heat": (0.0, SETUP.head.heat_acceleration_max, "m/s² rms", 100.0),
        "slope": (0.0, 45.0, "deg", 100.0),
        "least_depth": (12.5, 12.5, "µm", 0.0),
        "greatest_depth": (12.5, 100.0, "µm", 87.5),
        "least_land": (15.0, 8.0, "µm", 87.5),
    }
    for what, (value, limit, unit, inside) in expected.items():
        margin = found[what]
        assert (margin.what, margin.unit) == (what, unit)
        assert margin.value == pytest.approx(value, abs=1e-4), what
        assert margin.limit == pytest.approx(limit), what
        assert margin.inside_percent == pytest.approx(inside, abs=1e-2), what


def test_the_last_radius_by_hand(motion: Motion, rows: SpiralRows) -> None:
    """146.3 mm less 22 s of 40 µm a turn and the join; published: RIAA, 60.325 mm at the innermost."""
    found = margins(rows, motion)["last_radius"]
    end = 146.3 - (27 - 5) / TURN * 0.04 - 5 / TURN * SETUP.disc.join_pitch * 1e3
    assert found.value == pytest.approx(end, abs=0.15)  # the join is moved inward to whole sectors
    assert found.value == pytest.approx(rows.radius[rows.music][-1] * 1e3, abs=1e-9)
    assert (found.limit, found.unit, found.time) == (pytest.approx(60.325), "mm", 27.0)
    assert found.inside_percent == pytest.approx((found.value - 60.325) / 60.325 * 100, abs=1e-9)


# one sine ---------------------------------------------------------------------------------------------


def test_a_sine_by_hand() -> None:
    """1 kHz in both channels at +6.02 dB: 10 cm/s lateral, so 10/√2 cm/s a wall, times 2π·1000 for acceleration.

    Steady for longer than the head's time constant, its heat comes near the rms; the slope is that against the groove
    speed at the radius where it is worst, 2πr/1.8 s.
    """
    motion = walk(sine(1000.0, 30.0), SETUP)
    rows = lay(motion, 2.0)
    found = margins(rows, motion, 2.0)
    velocity = 10.0 / math.sqrt(2.0)
    acceleration = velocity / 100 * 2 * math.pi * 1000
    assert found["head_velocity"].value == pytest.approx(velocity, rel=5e-3)
    assert found["head_acceleration"].value == pytest.approx(acceleration, rel=5e-3)
    steady = 1 - math.exp(-29.5 / SETUP.head.heat_time_constant)
    assert found["head_heat"].value == pytest.approx(acceleration * math.sqrt(steady / 2), rel=2e-2)
    reach = float(np.interp(found["slope"].time or 0.0, rows.time, rows.radius))
    slope = math.degrees(math.atan(0.1 / (2 * math.pi * reach / TURN)))
    assert found["slope"].value == pytest.approx(slope, rel=1e-2)
    for what in ("head_velocity", "head_acceleration", "head_heat", "slope"):
        margin = found[what]
        assert margin.inside_percent == pytest.approx(100 * (1 - margin.value / margin.limit), abs=1e-9)
        assert margin.time is not None
        assert 0.2 < margin.time < 29.9
    # A lateral sine has no lift: the groove may stay as shallow as it is allowed.
    assert found["greatest_depth"].value == pytest.approx(12.5, abs=0.1)


def test_margins_agree_with_what_stops_the_cut() -> None:
    """By another road: a margin is negative exactly where the check of the same limit speaks."""
    motion = walk(music(8.0), SETUP)
    for gain in (1.0, 300.0):
        rows = lay(motion, gain)
        found, side = margins(rows, motion, gain), view(motion, gain, SETUP, rows)
        stops = {f.code for f in (*check_head(side), *check_slope(side), *check_land(side), *check_depth(side))}
        for what, code in (
            ("slope", "slope"), ("head_velocity", "head_velocity"), ("head_acceleration", "head_acceleration"),
            ("head_heat", "head_heat"), ("least_land", "land"),
        ):  # fmt: skip
            # A tenth of a per cent: within the solver's tolerance a side may stand on its limit.
            assert (found[what].inside_percent < -0.1) == (code in stops), what
        deep = min(found["least_depth"].inside_percent, found["greatest_depth"].inside_percent)
        assert (deep < -0.1) == ("depth" in stops)
    assert {"slope", "head_velocity", "head_acceleration"} <= stops


# planted excesses -------------------------------------------------------------------------------------


def test_a_pitch_out_of_range(motion: Motion, rows: SpiralRows) -> None:
    """By hand: 500 µm is 25 % over 400, 30 µm is 25 % under 40."""
    at = row_at(rows, 5.0)
    found = margins(changed(changed(rows, "pitch", at, 500e-6), "pitch", at + 40, 30e-6), motion)
    high, low = found["greatest_pitch"], found["least_pitch"]
    assert (high.value, high.inside_percent) == (pytest.approx(500.0), pytest.approx(-25.0))
    assert (low.value, low.inside_percent) == (pytest.approx(30.0), pytest.approx(-25.0))
    assert (high.time, low.time) == (rows.time[at], rows.time[at + 40])


def test_pitch_slew_by_hand(motion: Motion, rows: SpiralRows) -> None:
    """10 µm from one sector to the next are 320 µm per turn at 32 sectors: 60 % over 200."""
    at = row_at(rows, 5.0)
    found = margins(changed(rows, "pitch", at, 50e-6), motion)["pitch_slew"]
    assert found.value == pytest.approx(320.0, abs=1e-2)
    assert found.inside_percent == pytest.approx(-60.0, abs=1e-2)
    assert found.time == rows.time[at]


def test_coarse_moves_have_no_slew_and_no_pitch_but_a_speed(motion: Motion, rows: SpiralRows) -> None:
    """By hand: 0.9 mm in a sector of 56.25 ms are 16 mm/s, 60 % over 10."""
    join = row_at(rows, 12.0)
    assert rows.zone[join] == "join"
    wide = changed(rows, "pitch", join, 5e-3)
    quiet, found = margins(rows, motion), margins(wide, motion)
    for what in ("greatest_pitch", "pitch_slew"):
        assert found[what] == quiet[what]
    leap = replace(rows, radius=np.where(np.arange(len(rows.time)) > join, rows.radius - 0.9e-3, rows.radius))
    speed = margins(leap, motion)["carriage_speed"]
    own = SETUP.disc.join_pitch / TURN * 1e3
    assert speed.value == pytest.approx(16.0 + own, abs=1e-6)
    assert speed.inside_percent == pytest.approx(-60.0 - own * 10, abs=1e-5)
    assert speed.time == rows.time[join]


@pytest.mark.parametrize("time", [5.0, 12.0])
def test_depth_slew_holds_in_music_and_in_joins(motion: Motion, rows: SpiralRows, time: float) -> None:
    """By hand: 2 µm within a sector are 64 µm per turn, 60 % over 40."""
    at = row_at(rows, time)
    found = margins(changed(rows, "depth", at, rows.depth[at] + 2e-6), motion)["depth_slew"]
    assert found.value == pytest.approx(64.0, abs=1e-2)
    assert found.inside_percent == pytest.approx(-60.0, abs=1e-2)
    assert found.time in (rows.time[at - 1], rows.time[at])  # down and up again are equally steep


def test_depth_out_of_range(motion: Motion, rows: SpiralRows) -> None:
    """By hand: 110 µm is 10 % over 100, 10 µm is 20 % under 12.5."""
    at = row_at(rows, 5.0)
    found = margins(changed(changed(rows, "depth", at, 110e-6), "depth", at + 40, 10e-6), motion)
    high, low = found["greatest_depth"], found["least_depth"]
    assert (high.value, high.inside_percent) == (pytest.approx(110.0), pytest.approx(-10.0))
    assert (low.value, low.inside_percent) == (pytest.approx(10.0), pytest.approx(-20.0))
    assert high.time == pytest.approx(rows.time[at], abs=TURN / 32)
    assert low.time == pytest.approx(rows.time[at + 40], abs=TURN / 32)


def test_land_and_radius_short_of_their_limits(motion: Motion, rows: SpiralRows) -> None:
    """By hand: 6 µm is 25 % under 8; a side 100 mm farther in ends below the centre's side of 60.325 mm."""
    at = row_at(rows, 5.0)
    land = margins(changed(rows, "land", at, 6e-6), motion)["least_land"]
    assert (land.value, land.inside_percent, land.time) == (pytest.approx(6.0), pytest.approx(-25.0), rows.time[at])
    last = rows.music.stop - 1
    inner = margins(changed(rows, "radius", last, 60.325e-3 * 0.9), motion)["last_radius"]
    assert inner.inside_percent == pytest.approx(-10.0)


# what is not there ------------------------------------------------------------------------------------


def test_without_a_neighbour_there_is_no_land_to_tell_of(motion: Motion, rows: SpiralRows) -> None:
    found = margins(replace(rows, land=np.full(len(rows.land), np.nan)), motion)
    assert tuple(found) == tuple(what for what in MARGINS if what != "least_land")


def test_without_a_coarse_move_the_carriage_has_no_time(motion: Motion, rows: SpiralRows) -> None:
    end = rows.music.stop
    begin = row_at(rows, -1.5 * TURN)
    part = SpiralRows(**{name: column[begin:end].copy() for name, column in vars(rows).items()})
    part.zone[part.zone == "join"] = "music"
    found = margins(part, motion)["carriage_speed"]
    assert (found.value, found.inside_percent, found.time) == (0.0, 100.0, None)


def test_a_limit_of_nothing_has_no_per_cent(motion: Motion, rows: SpiralRows) -> None:
    """By hand: 15 µm of land against none asked for is boundlessly inside."""
    setup = replace(SETUP, practice=replace(SETUP.practice, land_min=0.0))
    assert margins(rows, motion, setup=setup)["least_land"].inside_percent == math.inf
    bare = margins(changed(rows, "land", row_at(rows, 5.0), 0.0), motion, setup=setup)
    assert bare["least_land"].inside_percent == 0.0
