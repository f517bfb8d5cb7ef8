"""The motion of the tip against worked figures, channel and phase rules, and another road."""

from __future__ import annotations

import math
from dataclasses import fields, replace

import numpy as np
import pytest
from scipy.signal import butter, sosfilt
from support import RATE, authority, exact_edges, music, sine, walk

from discwright.files.settings import load_setup
from discwright.groove import kernels
from discwright.groove import motion as motion_module
from discwright.groove.curve import HALF_TAPS
from discwright.groove.grid import lay_grid
from discwright.groove.motion import (
    BASS_STEP,
    BLEND_CORNERS_HZ,
    GROUP,
    LIFT_STEP,
    Hulls,
    Motion,
    second_order,
    survey_motion,
)

SETUP = load_setup()


def middle(motion: Motion) -> slice:
    return slice(motion.grid.start + 8, motion.grid.end - 8)


def last_digit(printed: float) -> float:
    """Half of the last printed digit of the acceleration column."""
    return 0.05 if printed < 10 else 0.5


def subsonic(frequency: float) -> float:
    """By hand: what a second-order Butterworth high-pass at 10 Hz leaves; 0.27 dB are gone at 20 Hz."""
    return float(1 / np.sqrt(1 + (10.0 / frequency) ** 4))


#: 0.1 dB, the curve's tolerance (DESIGN 5.1).
CURVE = 10 ** (0.1 / 20) - 1


@pytest.mark.parametrize("rate", [44_100, 96_000])
@pytest.mark.parametrize("row", authority("constant_input.csv"), ids=lambda row: f"{row['hz']:g}Hz")
def test_full_scale_sine_in_both_channels(row: dict[str, float], rate: int) -> None:
    """Published: a constant input that gives 5 cm/s lateral at 1 kHz, through the time constants."""
    motion = walk(sine(row["hz"], 2.0, rate=rate), SETUP, rate)
    m = middle(motion)
    lateral = motion.slope_velocity[0, m].max()
    wanted = row["velocity_cm_s"] / 100 * subsonic(row["hz"])
    assert lateral == pytest.approx(wanted, rel=CURVE, abs=5e-6)
    # Lateral acceleration is root two times each wall's.
    wanted = row["acceleration_m_s2"] * subsonic(row["hz"])
    lateral = motion.acceleration[0, m].max() * np.sqrt(2)
    assert lateral == pytest.approx(wanted, abs=CURVE * wanted + last_digit(row["acceleration_m_s2"]))


@pytest.mark.parametrize("row", authority("velocity_displacement.csv"), ids=lambda row: f"{row['velocity_cm_s']:g}")
def test_displacement_of_a_stated_velocity(row: dict[str, float]) -> None:
    """Published (Boden 1981, reference 4.2): a = v/2πf, as the lift of a tone cut out of phase at that velocity."""
    motion = walk(sine(row["hz"], 3.0, 1.0, -1.0), SETUP)
    gain = row["velocity_cm_s"] / 100 / motion.slope_velocity[0, middle(motion)].max()
    lift = gain * motion.shallow.value.max() * 1e6
    # 0.1 %: the sampled peak of the hull; and the last printed digit.
    assert lift == pytest.approx(row["displacement_um"], rel=1e-3, abs=5e-3)


def test_one_kilohertz_at_zero_decibels() -> None:
    """Published (reference tables 4.1, 4.2): 5 cm/s peak lateral, 7.958 µm edge movement."""
    motion = walk(sine(1000.0, 4.0), SETUP)
    m = middle(motion)
    assert motion.slope_velocity[0, m].max() == pytest.approx(0.05, rel=2e-4)
    edges = exact_edges(sine(1000.0, 4.0), SETUP.practice.subsonic)
    assert np.abs(edges).max() == pytest.approx(7.958e-6, rel=2e-3)
    # Facing edges of equal turns: the outer edge's greatest and the inner edge's least movement, twice 7.958 µm.
    assert motion.facing.value.max() == pytest.approx(2 * 7.958e-6, rel=2e-3)


@pytest.mark.parametrize(
    ("left", "right", "inner", "outer", "lift"),
    [
        (1.0, 0.0, 1.0, 0.0, 0.5),
        (0.0, 1.0, 0.0, 1.0, 0.5),
        (1.0, 1.0, 1.0, 1.0, 0.0),
        (1.0, -1.0, 1.0, 1.0, 1.0),
    ],
    ids=["left only", "right only", "in phase", "out of phase"],
)
def test_channels_and_phase(left: float, right: float, inner: float, outer: float, lift: float) -> None:
    """Published (IEC 60098:2020, 6.2): left on the inner wall, right on the outer, in phase is lateral."""
    motion = walk(sine(400.0, 1.5, left, right), SETUP)
    full = walk(sine(400.0, 1.5), SETUP).slope_velocity[0].max()
    assert motion.slope_velocity[0].max() == pytest.approx(inner * full, rel=1e-6, abs=1e-15)
    assert motion.slope_velocity[1].max() == pytest.approx(outer * full, rel=1e-6, abs=1e-15)
    amplitude = np.abs(exact_edges(sine(400.0, 1.5), SETUP.practice.subsonic)).max()
    # In phase the two walls are the same numbers and their difference is nothing at all.
    assert motion.shallow.value.max() == pytest.approx(lift * amplitude, rel=2e-3, abs=1e-18)
    assert motion.deep.value.max() == pytest.approx(lift * amplitude, rel=2e-3, abs=1e-18)
    assert motion.lateral == (left == right)


def test_lift_is_positive_where_the_groove_gets_shallower() -> None:
    """By hand (DESIGN 4): lift = (u_L - u_R)/2, positive shallower; a slow push of the left wall alone."""
    t = np.arange(RATE) / RATE
    push = np.where((t > 0.4) & (t < 0.45), 0.5, 0.0)
    motion = walk(np.stack([push, 0 * push], axis=1), SETUP)
    edges = exact_edges(np.stack([push, 0 * push], axis=1), SETUP.practice.subsonic)
    lift = (edges[:, 0] - edges[:, 1]) / 2
    assert motion.shallow.value.max() == pytest.approx(lift.max(), abs=3e-9)
    assert motion.deep.value.max() == pytest.approx(-lift.min(), abs=3e-9)


def test_swapped_channels_swap_walls() -> None:
    x = music(4.0)
    one, other = walk(x, SETUP), walk(x[:, ::-1], SETUP)
    np.testing.assert_array_equal(one.slope_velocity, other.slope_velocity[::-1])
    np.testing.assert_array_equal(one.acceleration, other.acceleration[::-1])
    # Positive lift becomes negative lift.
    np.testing.assert_array_equal(one.shallow.value, other.deep.value)


def test_facing_edges_against_brute_force() -> None:
    """Another road: FFT walls, every sample, the guard by hand, one turn apart."""
    x = music(6.0)
    motion = walk(x, SETUP)
    edges = exact_edges(x, SETUP.practice.subsonic)
    grid = motion.grid
    turn, guard = round(grid.turn_time * RATE), 221  # 5 ms at 44.1 kHz is 220.5 samples
    left = np.concatenate([np.zeros(2 * turn), edges[:, 0]])
    right = np.concatenate([np.zeros(2 * turn), edges[:, 1], np.zeros(guard)])
    for k in range(grid.start + 3, grid.end - 3, 17):
        frames = np.arange(int(np.ceil(grid.time[k] * RATE)), int(np.ceil(grid.time[k + 1] * RATE)))
        room = [
            right[2 * turn + i - guard : 2 * turn + i + guard + 1].max()
            - left[turn + i - guard : turn + i + guard + 1].min()
            for i in frames
        ]
        here = slice(motion.facing.start[k], motion.facing.start[k + 1])
        # 0.02 µm: the realised curve against the analogue one.
        assert motion.facing.value[here].max() == pytest.approx(max(room), abs=2e-8)
        # So much is asked of any line, and not only a level one: 100 µm down or up over the sector.
        s = (frames - grid.time[k] * RATE) / ((grid.time[k + 1] - grid.time[k]) * RATE)
        for slope in (-100e-6, 100e-6):
            corners = motion.facing.value[here] + slope * motion.facing.place[here]
            # 0.1 µm: the first and the last sample are held out to the edges, a sample or two away.
            assert corners.max() == pytest.approx((np.array(room) + slope * s).max(), abs=1e-7)
            assert corners.max() >= (np.array(room) + slope * s).max() - 2e-8


def test_block_size_does_not_matter() -> None:
    x = music(3.0).astype(np.float32)
    grid = lay_grid(3.0, 1.8, 32)
    whole = survey_motion([x], RATE, grid, 0.005, 10.0)
    cut = survey_motion([x[i : i + 999] for i in range(0, len(x), 999)], RATE, grid, 0.005, 10.0)
    np.testing.assert_array_equal(whole.facing.value, cut.facing.value)
    np.testing.assert_array_equal(whole.slope_velocity, cut.slope_velocity)
    np.testing.assert_array_equal(whole.acceleration_counts, cut.acceleration_counts)
    np.testing.assert_allclose(whole.mean_square_acceleration, cut.mean_square_acceleration, rtol=1e-12)


def test_histogram_counts_every_loud_sample() -> None:
    motion = walk(music(4.0), SETUP)
    assert motion.acceleration_counts.sum() <= motion.frames + (1 << 16) * 2 + 3 * RATE
    assert len(motion.acceleration_counts) == motion.grid.sectors // GROUP + 1
    assert LIFT_STEP * motion.sample_rate**-1 * SETUP.lathe.depth_slew / 1.8 < 1e-8  # as its comment says


def test_second_order_corner() -> None:
    b0, b1, b2, a1, a2 = second_order(48_000.0, 300.0, high=True)[0]
    z = np.exp(2j * np.pi * 300.0 / 48_000.0)
    gain = abs((b0 + b1 / z + b2 / z**2) / (1 + a1 / z + a2 / z**2))
    # By hand: a Butterworth section is 1/√2 at its corner.
    assert gain == pytest.approx(2**-0.5, rel=1e-9)


@pytest.mark.parametrize("rate", [44_100, 48_000, 192_000])
@pytest.mark.parametrize("row", authority("constant_input.csv"), ids=lambda row: f"{row['hz']:g}Hz")
def test_displacement_of_the_printed_tones(row: dict[str, float], rate: int) -> None:
    """Published: displacement of a constant input; out of phase it is all lift, so it is seen in the hulls."""
    motion = walk(sine(row["hz"], 2.0, 1.0, -1.0, rate), SETUP, rate)
    wanted = row["displacement_um"] * 1e-6 * subsonic(row["hz"])
    # By hand: so many samples fall on different places of the wave, and the highest may miss the crest by half a step.
    phases = rate // math.gcd(rate, round(row["hz"]))
    crest = np.cos(np.pi / phases)
    for hulls in (motion.shallow, motion.deep):
        assert wanted * crest * (1 - CURVE) <= hulls.value.max() <= wanted * (1 + CURVE)


def test_one_channel_never_moves_the_other_edge() -> None:
    """Published (IEC 60098:2020, 6.2), to the last bit: the still wall's filters hold zeros and nothing else."""
    for driven, still in ((0, 1), (1, 0)):
        x = np.zeros((2 * RATE, 2))
        x[:, driven] = music(2.0)[:, 0]
        motion = walk(x, SETUP)
        for field in ("slope_velocity", "acceleration", "mean_square_acceleration", "sibilance"):
            values = getattr(motion, field)
            assert values[still].max() == 0.0, field
            assert values[driven].max() > 0.0, field
    in_phase = walk(np.repeat(music(2.0)[:, :1], 2, axis=1), SETUP)
    assert in_phase.shallow.value.max() == 0.0
    assert in_phase.deep.value.max() == 0.0


@pytest.mark.parametrize("phase_turns", [0.0, 0.5])
def test_parallel_turns_take_no_land(phase_turns: float) -> None:
    """By hand: turns that swing alike need no room for it, turns that swing against one another need it twice."""
    frequency = (1800 + phase_turns) / 1.8
    unguarded = replace(SETUP, practice=replace(SETUP.practice, sync_guard=0.0))
    motion = walk(sine(frequency, 9.0), unguarded)
    grid = motion.grid
    late = np.isin(motion.facing.sector, np.arange(grid.start + 40, grid.end - 40))
    room = motion.facing.value[late].max()
    # 0 or 2·7.958 µm (published); 2 nm are float32 and a whole number of samples to the turn.
    assert room == pytest.approx(4 * phase_turns * 7.958e-6, abs=2e-9 + 1e-5 * phase_turns * 7)


def test_every_loop_runs_the_same_uncompiled(monkeypatch: pytest.MonkeyPatch) -> None:
    """Another road: the whole motion without the compiler, which also checks every index; to the last bit."""
    x = music(0.11).astype(np.float32)
    grid = lay_grid(0.11, 0.05, 8)  # a turn of 50 ms, so that plain Python gets through it

    def read() -> Motion:
        return survey_motion([x[:3001], x[3001:]], RATE, grid, 0.001, 10.0)

    compiled = read()
    for name in dir(kernels):
        monkeypatch.setattr(kernels, name, getattr(getattr(kernels, name), "py_func", getattr(kernels, name)))
    plain = read()
    for field in fields(Motion):
        one, other = getattr(compiled, field.name), getattr(plain, field.name)
        if isinstance(one, Hulls):
            np.testing.assert_array_equal(one.start, other.start, field.name)
            np.testing.assert_allclose(one.value, other.value, rtol=1e-5, atol=1e-12, err_msg=field.name)
        elif isinstance(one, np.ndarray):
            # float32 sums in another order of rounding: 24 bits, times the taps.
            np.testing.assert_allclose(one, other, rtol=2e-4, atol=1e-9, err_msg=field.name)
        elif field.name != "grid":
            assert one == other, field.name


def test_vertical_only_takes_land_as_much_as_depth() -> None:
    """By hand: out of phase both edges of a turn part by twice the lift; turns that lift alike meet half way."""
    unguarded = replace(SETUP, practice=replace(SETUP.practice, sync_guard=0.0))
    motion = walk(sine(1000.0, 9.0, 1.0, -1.0), unguarded)  # 1800 whole waves to the turn
    # Published: 7.958 µm of movement of each edge; the lift is as much, the two edges facing each other twice that.
    assert motion.shallow.value.max() == pytest.approx(7.958e-6, rel=1e-3)
    assert motion.facing.value.max() == pytest.approx(2 * 7.958e-6, rel=1e-3)
    # Lateral motion is nothing: the edges mirror one another to the last bit.
    np.testing.assert_array_equal(motion.slope_velocity[0], motion.slope_velocity[1])
    flipped = walk(sine(1000.0, 9.0, -1.0, 1.0), unguarded)
    np.testing.assert_array_equal(motion.shallow.value, flipped.deep.value)


def test_only_the_facing_edges_take_land() -> None:
    """Published (IEC 60098:2020, 6.2): left is the inner wall, so it faces the *next* turn and comes one turn late."""
    x = np.zeros((6 * RATE, 2))
    push = slice(round(1.0 * RATE), round(1.05 * RATE))
    for channel, comes in ((0, 1.0 + 1.8), (1, 1.0)):
        sided = x.copy()
        sided[push, channel] = -0.5 if channel == 0 else 0.5
        motion = walk(sided, SETUP)
        best = int(np.argmax(motion.facing.value))
        k = int(motion.facing.sector[best])
        grid = motion.grid
        at = grid.time[k] + motion.facing.place[best] * (grid.time[k + 1] - grid.time[k])
        # By hand: within the 50 ms of the push, its fall after it, and 5 ms of guard.
        assert comes - 0.006 <= at <= comes + 0.08


@pytest.mark.parametrize("speed_rpm", [45.113, 33.4])
def test_facing_edges_where_a_turn_is_no_whole_number_of_samples(speed_rpm: float) -> None:
    """Another road: FFT walls, the turn outside interpolated between samples; 45.113 rpm is published (strobe bars)."""
    setup = replace(SETUP, disc=replace(SETUP.disc, revolutions_per_second=speed_rpm / 60))
    x = music(5.0, 6)
    motion = walk(x, setup)
    edges = exact_edges(x, setup.practice.subsonic)
    turn, guard = setup.disc.turn_time * RATE, 221
    assert abs(turn - round(turn)) > 0.1
    pad = math.ceil(turn) + guard + 2
    left = np.concatenate([np.zeros(pad), edges[:, 0]])
    right = np.concatenate([np.zeros(pad), edges[:, 1], np.zeros(guard)])
    grid = motion.grid
    for k in range(grid.start + 3, grid.end - 3, 29):
        frames = np.arange(int(np.ceil(grid.time[k] * RATE)), int(np.ceil(grid.time[k + 1] * RATE)))
        room = []
        for i in frames:
            outside = np.interp(i - turn + np.arange(-guard, guard + 1) + pad, np.arange(len(left)), left)
            room.append(right[pad + i - guard : pad + i + guard + 1].max() - outside.min())
        found = motion.facing.value[motion.facing.start[k] : motion.facing.start[k + 1]].max()
        # Never less than the truth (0.02 µm: realised against analogue), and more by one sample's guard only.
        assert max(room) - 2e-8 <= found <= max(room) + 2e-7


def test_bass_lift_by_another_road() -> None:
    """Another road: SciPy's Butterworth sections over every sixteenth sample's mean of the FFT lift."""
    x = music(4.0, 2)
    motion = walk(x, SETUP)
    edges = exact_edges(x, SETUP.practice.subsonic)
    # The first sample looked at is a block's first, HALF_TAPS before the programme.
    lift = np.concatenate([np.zeros(HALF_TAPS), (edges[:, 0] - edges[:, 1]) / 2])
    lift = lift[: len(lift) // BASS_STEP * BASS_STEP].reshape(-1, BASS_STEP).mean(axis=1)
    frame = np.arange(len(lift)) * BASS_STEP - HALF_TAPS
    limits = np.ceil(motion.grid.time * RATE - 1e-6)
    sections = [butter(2, corner, "high", fs=RATE / BASS_STEP, output="sos") for corner in BLEND_CORNERS_HZ]
    rows = [lift, *(sosfilt(section, lift) for section in sections)]
    for row, found in zip(rows, motion.bass_lift, strict=True):
        for k in range(motion.grid.start, motion.grid.end - 1, 5):
            inside = row[(frame >= limits[k]) & (frame < limits[k + 1])]
            # 0.02 µm: the realised curve against the analogue one.
            assert found[k] == pytest.approx(max(0.0, inside.max()), abs=2e-8)


@pytest.mark.parametrize("frequency", [2500.0, 5000.0, 8000.0, 12_000.0, 15_000.0])
def test_sibilance_is_the_energy_between_its_corners(frequency: float) -> None:
    """By hand: rms of a tone's acceleration times the Butterworth magnitudes at 5 and 12 kHz, warped as digital."""
    motion = walk(sine(frequency, 2.0), SETUP)
    m = middle(motion)
    warped = [np.tan(np.pi * f / RATE) for f in (frequency, 5000.0, 12_000.0)]
    passed = 1 / np.sqrt(1 + (warped[1] / warped[0]) ** 4) / np.sqrt(1 + (warped[0] / warped[2]) ** 4)
    rms = np.sqrt(motion.mean_square_acceleration[0, m].mean())
    assert np.sqrt((motion.sibilance[0, m] ** 2).mean()) == pytest.approx(rms * passed, rel=2e-3)


def test_power_and_peak_of_a_tone() -> None:
    # By hand: 0.8 and 0.4 in the channels is a mean square of (0.32 + 0.08)/2, whatever the curve.
    motion = walk(sine(1000.0, 3.0, 0.8, -0.4), SETUP)
    assert motion.power[middle(motion)].mean() == pytest.approx(0.2, rel=1e-3)
    assert motion.sample_peak == pytest.approx(0.8, rel=1e-4)
    assert motion.frames == 3 * RATE
    # By hand: nothing sounds in the fine turns and after the end.
    assert motion.power[: motion.grid.start].max() == motion.power[motion.grid.end + 1 :].max() == 0.0


def test_peak_below_zero_is_a_peak() -> None:
    x = np.zeros((RATE, 2))
    x[9000, 1] = -0.625
    assert walk(x, SETUP).sample_peak == 0.625


def test_places_of_the_greatest() -> None:
    """By hand: a spike's acceleration is greatest at its own sample, whatever the sector and block it lies in."""
    for at in (0, 1, 2479, 2480, 2481, 70_000, 70_001, 88_199):
        x = np.zeros((2 * RATE, 2))
        x[at, 0] = 0.5
        motion = walk(x, SETUP)
        k = int(np.argmax(motion.acceleration[0]))
        assert motion.acceleration_frame[0, k] == at
        assert motion.grid.time[k] * RATE - 1 <= at < motion.grid.time[k + 1] * RATE
        k = int(np.argmax(motion.slope_velocity[0]))
        # The jump up and the jump down are alike: half a sample before or after.
        assert abs(motion.slope_frame[0, k] - at) <= 0.5 + 1e-9
        assert motion.acceleration[1].max() == 0.0


@pytest.mark.parametrize("cuts", [(0,), (1,), (2,), (24, 25), (13_229,), (13_230, 13_231)])
def test_blocks_of_any_size(cuts: tuple[int, ...]) -> None:
    """An empty block, one of a single sample, and one that ends where the filters still look ahead."""
    x = music(0.3).astype(np.float32)
    grid = lay_grid(0.3, 1.8, 32)
    whole = survey_motion([x], RATE, grid, 0.005, 10.0)
    cut = survey_motion(np.split(x, cuts), RATE, grid, 0.005, 10.0)
    for hulls in ("facing", "shallow", "deep"):
        np.testing.assert_array_equal(getattr(whole, hulls).value, getattr(cut, hulls).value)
        np.testing.assert_array_equal(getattr(whole, hulls).start, getattr(cut, hulls).start)
    np.testing.assert_array_equal(whole.acceleration_counts, cut.acceleration_counts)
    np.testing.assert_array_equal(whole.acceleration_frame, cut.acceleration_frame)
    np.testing.assert_allclose(whole.sibilance, cut.sibilance, rtol=1e-9)
    np.testing.assert_allclose(whole.power, cut.power, rtol=1e-9)


@pytest.mark.parametrize(("sectors", "guard"), [(32, 0.0), (32, 0.05), (256, 0.005)])
def test_guards_up_to_a_sector(sectors: int, guard: float) -> None:
    grid = lay_grid(0.5, 1.8, sectors)
    motion = survey_motion([music(0.5).astype(np.float32)], RATE, grid, guard, 10.0)
    assert motion.facing.start[grid.end] > 0


@pytest.mark.parametrize(("sectors", "guard"), [(32, 0.06), (256, 0.008)])
def test_guards_beyond_a_sector(sectors: int, guard: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """Half a second of music needs a few blocks of silence after it, not hundreds."""
    pushes = []
    push = motion_module._Stream.push

    def counted(self: motion_module._Stream, *rest: object) -> None:
        pushes.append(1)
        assert len(pushes) < 300, "no end of silence"
        push(self, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(motion_module._Stream, "push", counted)
    test_guards_up_to_a_sector(sectors, guard)


@pytest.mark.parametrize("speed_rpm", [45.113, 45.0])
def test_every_corner_is_a_sample_and_its_two_neighbours_outside(speed_rpm: float) -> None:
    """By hand: at 45.113 rpm a turn is 58 652.7 samples; without a guard the worse of two neighbours counts."""
    setup = replace(SETUP, disc=replace(SETUP.disc, revolutions_per_second=speed_rpm / 60))
    setup = replace(setup, practice=replace(setup.practice, sync_guard=0.0))
    spectrum = np.fft.rfft(np.random.default_rng(8).standard_normal((3 * RATE, 2)), axis=0)
    f = np.fft.rfftfreq(3 * RATE, 1 / RATE)
    spectrum[(f < 4000.0) | (f > 11_000.0)] = 0.0
    x = 0.3 * np.fft.irfft(spectrum, 3 * RATE, axis=0)
    motion = walk(x, setup)
    edges = exact_edges(x, setup.practice.subsonic)
    turn = setup.disc.turn_time * RATE
    assert turn == pytest.approx(58_652.7 if speed_rpm > 45 else 58_800.0, abs=0.05)
    near, far = math.floor(turn + 1e-6), math.ceil(turn - 1e-6)
    grid = motion.grid
    for k in range(grid.start + 40, grid.end - 3):
        here = slice(motion.facing.start[k] + 1, motion.facing.start[k + 1] - 1)
        bounds = grid.time[k : k + 2] * RATE
        frames = bounds[0] + motion.facing.place[here] * (bounds[1] - bounds[0])
        np.testing.assert_allclose(frames, np.round(frames), atol=1e-6)
        i = np.round(frames).astype(int)
        room = edges[i, 1] - np.minimum(edges[i - near, 0], edges[i - far, 0])
        # 0.03 µm: the realised curve against the analogue one; one sample on, the edges are elsewhere by a µm.
        np.testing.assert_allclose(motion.facing.value[here], room, atol=3e-8)


def test_mean_square_of_a_tone() -> None:
    """Published: 5.038 dB at 3150 Hz by the table; by hand: a sine's mean square is half its peak's."""
    motion = walk(sine(3150.0, 3.0), SETUP)
    peak = 0.05 / math.sqrt(2) * 10 ** (5.038 / 20) * 2 * math.pi * 3150.0
    m = slice(motion.grid.start + 8, motion.grid.start + 40)
    # 0.05 %: half of the last printed digit is 0.006 %, the realised curve 0.01 %; 32 sectors are whole periods.
    assert motion.mean_square_acceleration[0, m].mean() == pytest.approx(peak**2 / 2, rel=5e-4)
