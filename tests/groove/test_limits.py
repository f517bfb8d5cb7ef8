"""What stops a cut: each limit is met by a worked signal just over it and passed by one just under it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from support import RATE, authority, coarse_setup, music, sine, walk

from discwright.files.settings import load_setup
from discwright.findings import Finding
from discwright.groove.economy import check_echo, check_vertical_bass
from discwright.groove.equipment import Setup
from discwright.groove.limits import (
    Side,
    check_depth,
    check_head,
    check_land,
    check_radius,
    check_slope,
    instantaneous_depth,
    running_heat,
    slope_ratio,
    view,
    worst_ratio,
)
from discwright.groove.playing import check_clicks, check_curvature, check_sibilance, curvature_share
from discwright.groove.rows import pose, silent_radius_used
from discwright.groove.spiral import lay_spiral
from discwright.groove.spots import worst_spots
from discwright.groove.table import tabulate

G = 9.80665


def planned(programme: np.ndarray, gain: float, setup: Setup) -> Side:
    motion = walk(programme, setup)
    spiral = lay_spiral(pose(motion, gain, setup))
    return view(motion, gain, setup, tabulate(motion, gain, spiral, setup.disc))


def radius_at(side: Side, time: float) -> float:
    return float(np.interp(time, side.rows.time, side.rows.radius))


@pytest.mark.parametrize(("over", "found"), [(1.005, True), (0.995, False)])
def test_slope_is_velocity_against_groove_speed(over: float, found: bool) -> None:
    """Published rule (velocity survey note): v ≤ V tan 45° for the horizontal velocity of the edge."""
    setup = load_setup()
    speed = 2 * math.pi * setup.disc.outermost_radius / setup.disc.turn_time
    assert speed == pytest.approx(0.51068, rel=1e-4)  # published: 51.068 cm/s at 292.6 mm
    # A full-scale 1 kHz tone moves the edge at 5 cm/s, so this gain makes it V at the outermost groove.
    gain = speed / 0.05 * over
    setup = replace(setup, lathe=replace(setup.lathe, pitch_max=1e-3), practice=replace(setup.practice, depth_max=1e-3))
    side = planned(sine(1000.0, 2.0), gain, setup)
    findings = check_slope(side)
    assert bool(findings) == found
    if found:
        assert findings[0].severity == "stop"
        assert findings[0].limit == pytest.approx(45.0)
        assert findings[0].value == pytest.approx(math.degrees(math.atan(1.005)), abs=0.1)
        assert "Lower the side 0.1 dB" in findings[0].remedy
        assert 0.2 < (findings[0].time_s or 0) < 1.9


def test_one_wall_alone_is_root_two_steeper_than_the_wall() -> None:
    """Derived (reference 4.3): the slope that counts is √2 times the wall's own."""
    side = planned(sine(1000.0, 2.0, 1.0, 0.0), 1.0, load_setup())
    wall = 0.05 / math.sqrt(2)
    m = slice(side.motion.grid.start + 8, side.sectors - 8)
    ratio = slope_ratio(side)[0, m].max() * side.speed[m].mean()
    assert ratio == pytest.approx(math.sqrt(2) * wall, rel=2e-3)


@pytest.mark.parametrize(
    "row", authority("curvature_limit_g.csv"), ids=lambda r: f"{r['diameter_mm']:g}-{r['speed_rpm']:.0f}"
)
def test_curvature_limit_table(row: dict[str, float]) -> None:
    """Published limit a ≤ V²/R (Lewis and Hunt 1941); the table prints whole g."""
    setup = load_setup()
    speed = math.pi * row["diameter_mm"] * 1e-3 * row["speed_rpm"] / 60
    for tip in (25, 18, 15, 8, 5):
        assert speed**2 / (tip * 1e-6) / G == pytest.approx(row[f"r{tip}"], abs=0.7)
    del setup


@pytest.mark.parametrize(("over", "found"), [(1.03, True), (0.97, False)])
def test_curvature_flips_at_the_limit(over: float, found: bool) -> None:
    setup = load_setup()
    speed = 2 * math.pi * setup.disc.outermost_radius / setup.disc.turn_time
    limit = speed**2 / setup.tip.side_radius
    # Published: 15 271 m/s² for a lateral 10 kHz at 0 dB, so each wall has 1/√2 of it.
    gain = limit / (15271 / math.sqrt(2)) * over
    side = planned(sine(10_000.0, 2.0), gain, setup)
    findings = check_curvature(side)
    assert bool(findings) == found
    if found:
        share = curvature_share(side)
        assert findings[0].value == pytest.approx(share * 100)
        # By hand: a sine is above 1/1.03 of its peak for 2/π·acos(1/1.03) of the time, here 15 % of most of 2 s.
        assert 0.08 < share < 0.16


def test_share_of_time_of_a_sine() -> None:
    setup = load_setup()
    speed = 2 * math.pi * setup.disc.outermost_radius / setup.disc.turn_time
    limit = speed**2 / setup.tip.side_radius
    gain = 2 * limit / (15271 / math.sqrt(2))
    side = planned(sine(10_000.0, 3.0), gain, setup)
    # By hand: |sin| > 1/2 for two thirds of the time; the fades and 0.1 dB of the curve blur it.
    assert curvature_share(side) == pytest.approx(2 / 3, abs=0.06)


def test_heat_follows_a_first_order_average() -> None:
    setup = load_setup()
    side = planned(sine(8000.0, 6.0), 1.0, setup)
    heat = running_heat(side)
    time = side.motion.grid.time[1 : side.sectors + 1]
    # Published: acceleration of the table at 8 kHz by the curve; rms per wall is lateral/2.
    steady = np.sqrt(side.motion.mean_square_acceleration[0, side.sectors // 2])
    tau = setup.head.heat_time_constant
    at = int(np.searchsorted(time, 4.0))
    # By hand: 1 - exp(-t/τ) of the mean square, from the tone's beginning.
    assert heat[0, at] == pytest.approx(steady * math.sqrt(1 - math.exp(-4.0 / tau)), rel=0.03)


def test_head_limits() -> None:
    setup = load_setup()
    side = planned(sine(3000.0, 3.0), 1.0, setup)
    assert check_head(side) == []
    weak = replace(setup.head, velocity_max=0.01, acceleration_max=100.0, heat_acceleration_max=50.0)
    codes = {f.code for f in check_head(replace(side, setup=replace(setup, head=weak)))}
    assert codes == {"head_velocity", "head_acceleration", "head_heat"}
    assert worst_ratio(replace(side, setup=replace(setup, head=weak))) > 10


def test_depth_of_vertical_bass() -> None:
    setup = load_setup()
    bass = sine(50.0, 4.0, 1.0, -1.0)
    side = planned(bass, 1.0, setup)
    assert check_depth(side) == []
    least, greatest = instantaneous_depth(side)
    m = slice(side.motion.grid.start, side.sectors)
    # Published: 22.62 µm at 50 Hz for a full-scale input (10 Hz high-pass leaves 0.9992 of it).
    assert least[m].min() == pytest.approx(setup.practice.depth_min, abs=3e-8)
    assert greatest[m].max() == pytest.approx(setup.practice.depth_min + 2 * 22.6e-6, abs=1e-6)
    # By hand: (100 - 12.5)/2 = 43.75 µm of lift is the most there is room for, 1.93 times 22.6 µm.
    deep = planned(bass, 2.0, setup)
    assert [f.code for f in check_depth(deep)] == ["depth"]


def test_land_that_cannot_be_kept_is_a_stop() -> None:
    setup = coarse_setup()
    narrow = replace(setup, lathe=replace(setup.lathe, pitch_max=60e-6))
    side = planned(sine(50.0, 8.0), 2.0, narrow)
    findings = check_land(side)
    assert [(f.code, f.severity) for f in findings] == [("land", "stop")]
    assert findings[0].value < 8.0
    assert check_land(planned(sine(50.0, 8.0), 2.0, setup)) == []


def radius_findings(setup: Setup, seconds: float, gain: float) -> list[Finding]:
    side = planned(sine(40.0, seconds), gain, setup)
    return check_radius(side, setup.disc.outermost_radius - silent_radius_used(side.motion.grid, setup))


def test_radius_says_how_much_too_long() -> None:
    setup = coarse_setup("7in-45")
    small = replace(setup, disc=replace(setup.disc, outermost_radius=0.0560))
    assert radius_findings(small, 20.0, 0.1) == []
    findings = radius_findings(small, 20.0, 4.0)
    assert [(f.code, f.severity) for f in findings] == [("radius", "stop")]
    assert findings[0].limit == pytest.approx(53.975)
    assert "shorten it, or lower the side about" in findings[0].remedy
    # By hand: 2 mm of band hold 50 turns of 40 µm; at 45 rpm that is 67 s of silence.
    too_long = radius_findings(small, 100.0, 0.01)
    assert "Too long at any level" in too_long[0].remedy
    assert "0:32." in too_long[0].remedy or "0:33." in too_long[0].remedy


def test_planted_faults_are_found_and_plain_music_is_not() -> None:
    setup = load_setup()
    plain = music(20.0)
    side = planned(plain, 2.0, setup)
    for check in (check_curvature, check_sibilance, check_clicks, check_slope, check_head, check_depth):
        assert check(side) == []
    click = plain.copy()
    click[round(12.3 * RATE)] += 0.5
    found = check_clicks(planned(click, 2.0, setup))
    assert [(f.code, f.severity) for f in found] == [("click", "warn")]
    assert found[0].time_s == pytest.approx(12.3, abs=0.002)
    hiss = plain.copy()
    t = np.arange(round(0.15 * RATE)) / RATE
    hiss[round(9.0 * RATE) : round(9.0 * RATE) + len(t)] += 0.6 * np.sin(2 * np.pi * 7500 * t)[:, None]
    found = check_sibilance(planned(hiss, 2.0, setup))
    assert [(f.code, f.severity) for f in found] == [("sibilance", "warn")]
    assert found[0].time_s == pytest.approx(9.07, abs=0.1)
    bass = plain.copy()
    swell = 0.5 * np.sin(2 * np.pi * 45 * np.arange(3 * RATE) / RATE) * np.hanning(3 * RATE)
    bass[6 * RATE : 9 * RATE] += np.stack([swell, -swell], axis=1)
    found = check_vertical_bass(planned(bass, 2.0, setup))
    assert [(f.code, f.severity) for f in found] == [("vertical_bass", "note")]
    assert found[0].time_s == pytest.approx(7.5, abs=1.0)
    # By hand: 45 Hz through a second-order high-pass at 150 Hz keeps a tenth, at 70 Hz four tenths.
    assert "below 150 Hz" in found[0].remedy or "below 100 Hz" in found[0].remedy
    assert check_vertical_bass(planned(np.repeat(plain[:, :1], 2, axis=1), 2.0, setup)) == []


def test_echo_beside_a_quiet_turn() -> None:
    setup = load_setup()
    x = 0.001 * sine(500.0, 20.0)
    x[10 * RATE :] = sine(500.0, 10.0)
    found = check_echo(planned(x, 1.0, setup))
    assert [(f.code, f.severity) for f in found] == [("echo", "note")]
    # One turn before the loud passage begins.
    assert 8.0 < (found[0].time_s or 0) < 10.2
    assert "one turn early" in found[0].remedy
    assert check_echo(planned(sine(500.0, 20.0), 1.0, setup)) == []


def test_worst_spots() -> None:
    ratio = np.array([0.5, 1.2, 1.5, 0.2, 0.2, 0.2, 1.1, 0.9])
    spots, runs = worst_spots(ratio, np.arange(8.0), 2, 5)
    # By hand: two runs, the worse first.
    assert (runs, [s.sector for s in spots]) == (2, [2, 6])
    assert worst_spots(np.zeros(3), np.zeros(3), 2, 5) == ((), 0)
    assert len(worst_spots(ratio, np.arange(8.0), 2, 1)[0]) == 1


def test_a_place_is_time_turn_and_radius() -> None:
    side = planned(sine(1000.0, 2.0), 15.0, load_setup())
    for finding in check_slope(side):
        assert finding.time_s is not None
        assert finding.turn == pytest.approx(finding.time_s / 1.8)
        assert finding.radius_mm == pytest.approx(radius_at(side, finding.time_s) * 1e3)
        assert finding.band == 1
