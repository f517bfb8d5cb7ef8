"""The motion of the tip against worked figures, channel and phase rules, and another road."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from support import RATE, authority, exact_edges, music, sine, walk

from discwright.files.settings import load_setup
from discwright.groove import kernels
from discwright.groove.grid import lay_grid
from discwright.groove.motion import GROUP, LIFT_STEP, Hulls, Motion, second_order, survey_motion

SETUP = load_setup()


def middle(motion: Motion) -> slice:
    return slice(motion.grid.start + 8, motion.grid.end - 8)


@pytest.mark.parametrize("row", authority("constant_input.csv"), ids=lambda row: f"{row['hz']:g}Hz")
def test_full_scale_sine_in_both_channels(row: dict[str, float]) -> None:
    """Published: a constant input that gives 5 cm/s lateral at 1 kHz, through the time constants."""
    motion = walk(sine(row["hz"], 2.0), SETUP)
    m = middle(motion)
    lateral = motion.slope_velocity[0, m].max()
    # 0.1 dB is the curve's tolerance; the table prints three or four digits.
    assert lateral == pytest.approx(row["velocity_cm_s"] / 100, rel=0.0125)
    # Lateral acceleration is root two times each wall's.
    assert motion.acceleration[0, m].max() * np.sqrt(2) == pytest.approx(row["acceleration_m_s2"], rel=0.025)


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
    # By hand: the 10 Hz high-pass takes 0.27 dB from 20 Hz, 0.007 dB from 50 Hz, and nothing to speak of above.
    left = 1 / np.sqrt(1 + (10.0 / row["hz"]) ** 4)
    wanted = row["displacement_um"] * 1e-6 * left
    # 0.1 dB is the curve's tolerance; peaks of the highest tones fall between samples of the hull.
    between = np.cos(np.pi * row["hz"] / rate)
    for hulls in (motion.shallow, motion.deep):
        assert wanted * between * 0.9885 <= hulls.value.max() <= wanted * 1.0116


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
