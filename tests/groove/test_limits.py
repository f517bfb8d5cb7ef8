"""What stops a cut: each limit is met by a worked signal just over it and passed by one just under it."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from support import RATE, authority, coarse_setup, music, sine, walk

from discwright.files.settings import load_setup
from discwright.findings import Finding
from discwright.groove import kernels
from discwright.groove.echo import check_echo
from discwright.groove.economy import check_vertical_bass
from discwright.groove.equipment import Setup
from discwright.groove.limits import (
    Side,
    check_depth,
    check_head,
    check_land,
    check_radius,
    check_slope,
    down,
    instantaneous_depth,
    running_heat,
    slope_ratio,
    view,
    worst_ratio,
)
from discwright.groove.motion import GROUP, Hulls
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
        assert "Lower the side or trim this band 0.1 dB" in findings[0].remedy
        assert 0.2 < (findings[0].time_s or 0) < 1.9


def test_one_wall_alone_is_root_two_steeper_than_the_wall() -> None:
    """Derived (reference 4.3): the slope that counts is √2 times the wall's own."""
    side = planned(sine(1000.0, 2.0, 1.0, 0.0), 1.0, load_setup())
    wall = 0.05 / math.sqrt(2)
    m = slice(side.motion.grid.start + 8, side.sectors - 8)
    ratio = slope_ratio(side)[0, m].max() * side.speed[m].mean()
    assert ratio == pytest.approx(math.sqrt(2) * wall, rel=2e-3)


@cache
def silent_side(diameter_mm: float, speed_rpm: float) -> Side:
    """Four seconds of silence that begin at this diameter, whatever a side may use."""
    setup = load_setup()
    disc = replace(setup.disc, outermost_radius=diameter_mm / 2e3, revolutions_per_second=speed_rpm / 60)
    # The table goes on inside the 12-inch disc's locked groove, where groove speed is not looked at.
    disc = replace(disc, locked_radius=min(disc.locked_radius, disc.outermost_radius - 0.004))
    return planned(np.zeros((4 * RATE, 2)), 1.0, replace(setup, disc=disc))


def moving(side: Side, velocity: float, acceleration: float, tip_um: float = 18.0) -> Side:
    """The right wall moves so fast and bends so sharply for half a second, the left wall not at all."""
    motion = side.motion
    k = motion.grid.start + np.arange(9)
    slope, bend = np.zeros_like(motion.slope_velocity), np.zeros_like(motion.acceleration)
    slope[1, k], bend[1, k] = velocity, acceleration
    counts = np.zeros_like(motion.acceleration_counts)
    samples = np.full(RATE // 2, acceleration, dtype=np.float32)
    limits = np.ceil(motion.grid.time * RATE - 1e-6).astype(np.int64)
    kernels.curvature_histogram(samples, 0 * samples, 0, limits, motion.grid.start, GROUP, counts)
    motion = replace(motion, slope_velocity=slope, acceleration=bend, acceleration_counts=counts)
    tip = replace(side.setup.tip, radius=tip_um * 1e-6, side_radius=tip_um * 1e-6)
    return replace(side, motion=motion, setup=replace(side.setup, tip=tip))


SPEEDS = [
    (row["diameter_mm"], rpm, row[key])
    for row in authority("groove_speed.csv")
    for rpm, key in ((100 / 3, "v33_cm_s"), (45.0, "v45_cm_s"))
]


@pytest.mark.parametrize(("diameter_mm", "speed_rpm", "speed_cm_s"), SPEEDS)
def test_slope_flips_at_the_printed_groove_speed(diameter_mm: float, speed_rpm: float, speed_cm_s: float) -> None:
    """Published: groove speed at each diameter, and v ≤ V tan 45° (velocity survey note)."""
    side = silent_side(diameter_mm, speed_rpm)
    # 0.05 %: in those nine sectors the groove has gone 10 µm inward.
    assert check_slope(moving(side, speed_cm_s / 100 * 0.9995, 0.0)) == []
    found = check_slope(moving(side, speed_cm_s / 100 * 1.0005, 0.0))
    assert [(f.code, f.severity, f.limit) for f in found] == [("slope", "stop", pytest.approx(45.0))]
    # Twice the velocity at half the level is the same.
    assert check_slope(replace(moving(side, speed_cm_s / 50 * 0.9995, 0.0), gain=0.5)) == []


@pytest.mark.parametrize("degrees", [30.0, 40.0, 50.0, 60.0])
def test_slope_of_other_cutting_tips(degrees: float) -> None:
    # Published rule v ≤ V tan β; 51.068 cm/s at 292.6 mm.
    side = silent_side(292.6, 100 / 3)
    tip = replace(side.setup.cutting_tip, clearance=math.radians(degrees))
    steepest = 0.51068 * math.tan(math.radians(degrees))
    for share, found in ((0.9995, False), (1.0005, True)):
        tried = moving(side, steepest * share, 0.0)
        findings = check_slope(replace(tried, setup=replace(tried.setup, cutting_tip=tip)))
        assert bool(findings) == found
        assert all(f.limit == pytest.approx(degrees) for f in findings)
        assert all(f.value == pytest.approx(degrees, abs=0.03) for f in findings)


@pytest.mark.parametrize("tip_um", [25, 18, 15, 8, 5])
@pytest.mark.parametrize(
    "row", authority("curvature_limit_g.csv"), ids=lambda r: f"{r['diameter_mm']:g}-{r['speed_rpm']:.0f}"
)
def test_curvature_flips_at_the_printed_g(row: dict[str, float], tip_um: int) -> None:
    """Published limit a ≤ V²/R (Lewis and Hunt 1941), in whole g at five diameters and five tips."""
    side = silent_side(row["diameter_mm"], row["speed_rpm"])
    limit = row[f"r{tip_um}"] * G
    # The histogram's bins are up to 3.1 % wide, and the table is rounded by up to 0.3 %.
    assert check_curvature(moving(side, 0.0, limit * 0.965, tip_um)) == []
    found = check_curvature(moving(side, 0.0, limit * 1.035, tip_um))
    assert [(f.code, f.severity) for f in found] == [("curvature", "warn")]
    # By hand: half a second of four.
    assert found[0].value == pytest.approx(12.5, abs=0.01)
    # What a burst may reach follows the same limit, without a histogram: half of it, and 0.35 of it standing alone.
    splatter = limit * 0.35 / math.sqrt(2)
    for share, codes in ((0.994, []), (1.006, ["sibilance"])):
        burst = np.zeros_like(side.motion.sibilance)
        burst[0, side.motion.grid.start + 4] = splatter * share
        tried = moving(side, 0.0, 0.0, tip_um)
        tried = replace(tried, motion=replace(tried.motion, sibilance=burst))
        assert [f.code for f in check_sibilance(tried)] == codes


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


# --- the head, just over and just under each of its limits -----------------------------------------------------


def head_side(velocity: float, acceleration: float, mean_square: float) -> Side:
    """One sector of the left wall at these loads, in a silent side at half the level."""
    side = silent_side(292.6, 100 / 3)
    motion, k = side.motion, side.motion.grid.start + 20
    loads = np.zeros((3, *motion.acceleration.shape))
    loads[:, 0, k] = velocity * math.sqrt(2), acceleration, mean_square
    frames = np.full_like(motion.acceleration_frame, 1.25 * RATE)
    motion = replace(
        motion, slope_velocity=loads[0] * 2, acceleration=loads[1] * 2, mean_square_acceleration=loads[2] * 4,
        acceleration_frame=frames, slope_frame=frames,
    )  # fmt: skip
    return replace(side, motion=motion, gain=0.5)


@pytest.mark.parametrize("over", [0.999, 1.001])
def test_each_limit_of_the_head(over: float) -> None:
    head = load_setup().head
    # Common practice (data/heads.toml): 50 cm/s and 49 km/s² per wall.
    found = check_head(head_side(0.5 * over, 0.0, 0.0))
    assert [(f.code, f.unit, f.limit) for f in found] == [("head_velocity", "cm/s", pytest.approx(50.0))] * (over > 1)
    found += check_head(head_side(0.0, 49_000.0 * over, 0.0))
    assert [f.code for f in found] == ["head_velocity", "head_acceleration"] * (over > 1)
    # By hand: one sector of 56.25 ms fills 1 - exp(-0.05625/2) of the average.
    kept = 1 - math.exp(-0.05625 / head.heat_time_constant)
    found += check_head(head_side(0.0, 0.0, (4000.0 * over) ** 2 / kept))
    assert [f.code for f in found] == ["head_velocity", "head_acceleration", "head_heat"] * (over > 1)
    for finding in found:
        assert finding.severity == "stop"
        assert finding.value / finding.limit == pytest.approx(over)
        assert finding.remedy.startswith("Lower the side 0.1 dB or limit the treble there.")
    # Its place: where the greatest is met, or for heat the sector's middle: 20.5 sectors of 56.25 ms.
    assert [f.time_s for f in found] == [pytest.approx(t) for t in (1.25, 1.25, 20.5 * 0.05625)] * (over > 1)


def test_worst_ratio_is_the_worst_of_all() -> None:
    # By hand: 60 of 50 cm/s is 1.2, 73.5 of 49 km/s² is 1.5; 60 cm/s per wall is √2·60 of the 51 cm/s groove speed.
    assert worst_ratio(head_side(0.0, 73_500.0, 0.0)) == pytest.approx(1.5)
    assert worst_ratio(head_side(0.6, 0.0, 0.0)) == pytest.approx(0.6 * math.sqrt(2) / 0.51066, rel=1e-3)
    assert worst_ratio(silent_side(292.6, 100 / 3)) == pytest.approx(0.0, abs=1e-6)


def test_heat_forgets() -> None:
    """By hand: after 2 s, the time constant, 1/e of the mean square is left."""
    side = head_side(0.0, 0.0, 1e6)
    heat = running_heat(side)[0]
    k = side.motion.grid.start + 20
    later = k + round(2.0 / 0.05625)
    assert heat[k] > 0.0
    assert (heat[later] / heat[k]) ** 2 == pytest.approx(math.exp(-round(2.0 / 0.05625) * 0.05625 / 2.0), rel=1e-9)
    assert running_heat(side)[1].max() == 0.0


# --- depth, its limits and where it is met ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("depth_um", "codes"),
    [(12.49, ["depth"]), (12.5, []), (99.99, []), (100.01, ["depth"])],
)
def test_depth_between_its_limits(depth_um: float, codes: list[str]) -> None:
    # Published: 25 µm of top width (RIAA) is 12.5 µm of depth; common practice: 100 µm at most.
    side = silent_side(292.6, 100 / 3)
    side = replace(side, rows=replace(side.rows, depth=np.full_like(side.rows.depth, depth_um * 1e-6)))
    found = check_depth(side)
    assert [f.code for f in found] == codes
    assert all(f.value == pytest.approx(depth_um) for f in found)
    assert all(f.limit == pytest.approx(12.5 if depth_um < 50 else 100.0) for f in found)


def test_depth_counts_the_lift_of_the_level() -> None:
    """By hand: 10 µm up in one sector and 12 µm down in another, at half the level, of a groove 20 µm deep."""
    side = silent_side(292.6, 100 / 3)
    motion, sectors = side.motion, side.motion.grid.sectors
    up, down_ = np.zeros(sectors), np.zeros(sectors)
    up[100], down_[110] = 10e-6, 12e-6
    start, place = np.arange(sectors + 1), np.full(sectors, 0.25)
    motion = replace(motion, shallow=Hulls(start, place, up), deep=Hulls(start, place, down_))
    rows = replace(side.rows, depth=np.full_like(side.rows.depth, 20e-6))
    least, greatest = instantaneous_depth(replace(side, motion=motion, rows=rows, gain=0.5))
    assert (least[100], least[99], greatest[110], greatest[99]) == pytest.approx((15e-6, 20e-6, 26e-6, 20e-6))


# --- radius and land --------------------------------------------------------------------------------------------


def ending(radius: float) -> Side:
    """A silent side whose last groove of music lies at this radius."""
    side = silent_side(292.6, 100 / 3)
    rows = side.rows
    music_rows = rows.time[rows.music]
    share = (music_rows - music_rows[0]) / (music_rows[-1] - music_rows[0])
    moved = rows.radius.copy()
    moved[rows.music] = moved[rows.music][0] + share * (radius - moved[rows.music][0])
    return replace(side, rows=replace(rows, radius=moved))


@pytest.mark.parametrize(("radius_mm", "found"), [(60.3251, False), (60.325, False), (60.3249, True)])
def test_last_radius(radius_mm: float, found: bool) -> None:
    # Published (RIAA 1963): 4 3/4 in, 120.65 mm of diameter.
    findings = check_radius(ending(radius_mm * 1e-3), 0.146)
    assert [(f.code, f.severity, f.limit) for f in findings] == [("radius", "stop", pytest.approx(60.325))] * found


def test_full_turn_rule_where_it_asks_for_more() -> None:
    """Published: 119.2 mm is the least diameter with a whole turn at 6.4 mm (IEC 60098:1987, 106.4 + 2·6.4)."""
    for end_mm, found in ((119.21 / 2, False), (119.19 / 2, True)):
        side = ending(end_mm * 1e-3)
        disc = replace(side.setup.disc, innermost_radius=0.0575, lead_out_pitch_min=6.4e-3)
        findings = check_radius(replace(side, setup=replace(side.setup, disc=disc)), 0.146)
        assert bool(findings) == found
        assert all(f.limit * 2 == pytest.approx(119.2) for f in findings)


def test_too_long_in_words() -> None:
    """By hand: 146.3 to 50 mm in 4 s passes 60.325 mm at 3.571 s; silence to 61 mm asks for 0.67/11 of the gain."""
    side = ending(0.050)
    words = check_radius(side, 0.061)[0].remedy
    assert words.startswith("Too long by 0:00.4 (min:s) at this level")
    share_db = -20 * math.log10((61.0 - 60.325) / (61.0 - 50.0))
    assert f"about {math.ceil(share_db * 10) / 10:.1f} dB." in words
    words = check_radius(side, 0.0571)[0].remedy
    # By hand: silence to 57.1 mm crosses 89.2 mm in 4 s and 85.975 mm of them fit: 0.14 s too long.
    assert "Too long at any level: even silence would be 0:00.1 (min:s) too long" in words
    assert "0:00.4 must go to another side" in words


@pytest.mark.parametrize(("land_um", "found"), [(8.001, False), (7.999, False), (7.99, True)])
def test_least_land(land_um: float, found: bool) -> None:
    # Common practice: 8 µm; 5 nm are left for the solver.
    side = silent_side(292.6, 100 / 3)
    land = np.where(np.isnan(side.rows.land), np.nan, 20e-6)
    land[200] = land_um * 1e-6
    findings = check_land(replace(side, rows=replace(side.rows, land=land)))
    assert [(f.code, f.severity) for f in findings] == [("land", "stop")] * found
    assert all(f.time_s == side.rows.time[200] for f in findings)


# --- how much to come down --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ratio", "words"),
    # By hand: 20·log10, rounded up to a tenth, never less than a tenth.
    [(1.0000001, "0.1"), (1.0116, "0.2"), (1.01, "0.1"), (1.122018454, "1.0"), (1.1221, "1.1"), (2.0, "6.1")],
)
def test_down(ratio: float, words: str) -> None:
    assert down(ratio) == words
    assert 10 ** (float(words) / 20) * (1 + 1e-9) >= ratio, "coming down so far is enough"


def test_bands_are_counted_from_one() -> None:
    side = replace(silent_side(292.6, 100 / 3), band_starts=(0.0, 1.0, 2.5))
    # By hand: a band begins with its first sample; before the music is the first band.
    for time, band in ((-1.0, 1), (0.0, 1), (0.999, 1), (1.0, 2), (2.499, 2), (2.5, 3), (3.9, 3)):
        found = side.finding("x", "note", time, 1.0, 1.0, "", "")
        assert found.band == band
        assert found.turn == pytest.approx(time / 1.8)


def test_hopeless_levels_end_in_findings() -> None:
    """No exception, whatever is asked for: at +24 dB loud low noise breaks nearly everything."""
    setup = coarse_setup()
    x = music(8.0, 9)
    x[:, 1] *= -1  # as vertical as can be
    side = planned(x, 10 ** (24 / 20), setup)
    codes = {f.code for check in (check_slope, check_head, check_depth, check_land) for f in check(side)}
    assert "depth" in codes
    assert worst_ratio(side) > 1
    for finding in check_depth(side):
        assert math.isfinite(finding.value)
        assert finding.time_s is not None


def test_past_the_locked_groove_the_groove_speed_is_that_of_the_locked_groove() -> None:
    """A side far too long is still checked: no speed of nothing, no limit of nothing."""
    long = ending(-0.020)
    side = view(long.motion, 1.0, long.setup, long.rows)
    # By hand: 2π·53.2 mm in 1.8 s.
    assert side.speed.min() == pytest.approx(2 * math.pi * 0.0532 / 1.8)
    assert np.isfinite(slope_ratio(side)).all()
    assert math.isfinite(curvature_share(side))
