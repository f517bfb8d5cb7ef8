"""The motion of the tip against worked figures, channel and phase rules, and another road."""

from __future__ import annotations

import numpy as np
import pytest
from support import RATE, authority, exact_edges, music, sine, walk

from discwright.files.settings import load_setup
from discwright.groove.motion import GROUP, LIFT_STEP, Motion, second_order

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
    from discwright.groove.grid import lay_grid
    from discwright.groove.motion import survey_motion

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
