"""The road of the checker itself: motion against published values, land and depth against spikes by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from checker import compare_lands
from walls import Spiral, Walls, depth_range, lands, motion_blocks, recording_response

RATE = 44100
TURN = 1.8  # 33 1/3 rpm, s
SECTORS = 32
STEP = TURN / SECTORS
PITCH, DEPTH = 100.0, 30.0  # µm


@pytest.mark.parametrize(
    ("frequency_hz", "level_db"),
    # published: time constants of IEC 60098, table to three decimals
    [(50.0, -16.946), (100.0, -13.088), (500.0, -2.648), (1000.0, 0.0), (10000.0, 13.734), (20000.0, 19.620)],
)
def test_recording_response(frequency_hz: float, level_db: float) -> None:
    gain = abs(recording_response(np.array([frequency_hz]), 0.1))[0]
    assert 20 * math.log10(gain) == pytest.approx(level_db, abs=0.001)


def test_subsonic_corner_is_three_decibels_down() -> None:
    # by hand: a Butterworth high-pass passes 1/√2 at its corner, whatever the curve does there
    at = np.array([10.0])
    ratio = abs(recording_response(at, 10.0))[0] / abs(recording_response(at, 1e-4))[0]
    assert ratio == pytest.approx(1 / math.sqrt(2), rel=1e-6)


@pytest.mark.parametrize(
    ("frequency_hz", "amplitude_um", "acceleration_m_s2"),
    # published: displacement and acceleration of 5 cm/s lateral through the curve (table of IEC 60098 values)
    [(100.0, 17.64, 7.0), (1000.0, 7.958, 314.0), (10000.0, 3.868, 15271.0)],
)
def test_motion_of_a_tone(frequency_hz: float, amplitude_um: float, acceleration_m_s2: float) -> None:
    t = np.arange(4 * RATE) / RATE
    wave = np.sin(2 * np.pi * frequency_hz * t) * np.sin(np.pi * t / 4) ** 0.25
    audio = np.stack((wave, wave), axis=1).astype(np.float32)
    blocks = list(motion_blocks(audio, RATE, 0.0, 10.0, 0, len(audio)))
    middle = slice(RATE, 3 * RATE)
    edge = math.sqrt(2) * np.concatenate([d for _, d, _, _ in blocks])[middle]
    acceleration = math.sqrt(2) * np.concatenate([a for _, _, _, a in blocks])[middle]
    assert edge.max() * 1e6 == pytest.approx(amplitude_um, rel=0.005)
    assert acceleration.max() == pytest.approx(acceleration_m_s2, rel=0.01)
    np.testing.assert_array_equal(edge[:, 0], edge[:, 1])


def test_blocks_join_without_a_seam(monkeypatch: pytest.MonkeyPatch) -> None:
    # by another road: short blocks against one block over everything
    audio = np.random.default_rng(1).uniform(-0.5, 0.5, (9 * RATE, 2)).astype(np.float32)
    whole = np.concatenate([d for _, d, _, _ in motion_blocks(audio, RATE, 0.0, 10.0, -1000, 9 * RATE)])
    monkeypatch.setattr("walls.BLOCK", 1)
    parts = [d for _, d, _, _ in motion_blocks(audio, RATE, 0.0, 10.0, -1000, 9 * RATE)]
    assert len(parts) > 3
    np.testing.assert_allclose(np.concatenate(parts), whole, atol=1e-9)


def flat_spiral(duration: float) -> Spiral:
    """Constant pitch and depth in SI, far beyond the music on both sides."""
    time = np.arange(-4 * SECTORS, math.ceil((duration + 3 * TURN) / STEP)) * STEP
    radius = 0.1 - PITCH * 1e-6 * time / TURN
    fixed = np.full(len(time), 1e-6)
    return Spiral(
        time=time,
        written_time=time,
        turn=time / TURN,
        zone=np.full(len(time), "music"),
        radius=radius,
        pitch=PITCH * fixed,
        depth=DEPTH * fixed,
        land=40 * fixed,
        speed=2 * np.pi * radius / TURN,
        turn_time=TURN,
        duration=duration,
        sectors=SECTORS,
        sha256="",
    )


def spiked_walls(left_s: float, right_s: float, duration: float) -> Walls:
    """One sample of −10 µm on the inner edge, one of +20 µm on the outer."""
    first = -round(2.6 * TURN * RATE)
    left, right = np.zeros((2, round((duration + 2 * TURN) * RATE) - first), np.float32)
    left[round(left_s * RATE) - first] = -10e-6
    right[round(right_s * RATE) - first] = 20e-6
    return Walls(left, right, first, RATE)


@pytest.mark.parametrize(
    ("late_s", "land_um"),
    # by hand: spikes of 10 and 20 µm meet when they stand less than twice the guard of 5 ms apart
    [(0.0, 10.0), (0.0099, 10.0), (-0.0099, 10.0), (0.0101, 20.0), (-0.0101, 20.0)],
)
def test_guard_reaches_exactly_its_own_width(late_s: float, land_um: float) -> None:
    spiral, walls = flat_spiral(6.0), spiked_walls(2.0, 2.0 + TURN + late_s, 6.0)
    _, land = lands(spiral, walls, 0.005)
    assert land.min() * 1e6 == pytest.approx(land_um, abs=0.01)
    _, bare = lands(spiral, walls, 0.0)
    assert bare.min() * 1e6 == pytest.approx(10.0 if late_s == 0 else 20.0, abs=0.01)


def test_inner_edge_counts_one_turn_later_and_outer_edge_now() -> None:
    # by hand: left is the inner edge and meets the next turn inward, right is the outer and meets the last
    first, land = lands(flat_spiral(6.0), spiked_walls(1.0, 5.0, 6.0), 0.0)
    assert (first + int(np.argmin(land))) / RATE == pytest.approx(5.0, abs=1e-9)
    assert land[round((1.0 + TURN) * RATE) - first] * 1e6 == pytest.approx(30.0, abs=0.01)
    assert land[round(1.0 * RATE) - first] * 1e6 == pytest.approx(40.0, abs=0.01)


def test_depth_takes_half_of_each_edge() -> None:
    # by hand: inner edge −10 µm makes the groove 5 µm deeper, outer edge +20 µm 10 µm deeper
    least, greatest = depth_range(flat_spiral(6.0), spiked_walls(1.0, 5.0, 6.0))
    assert (least * 1e6, greatest * 1e6) == pytest.approx((30.0, 40.0), abs=1e-4)


def test_land_between_two_samples_is_interpolated() -> None:
    # by hand: a turn of 1.8 s at 11 025.25 Hz lasts 19 845.45 samples; a ramp has an exact value in between
    rate = 11025
    spiral = flat_spiral(6.0)
    slow = Spiral(**{**vars(spiral), "turn_time": TURN + 0.4 / rate})
    first = -round(2.7 * TURN * rate)
    ramp = (np.arange(first, round(10 * rate)) * 1e-9).astype(np.float32)
    begin, land = lands(slow, Walls(ramp, np.zeros_like(ramp), first, rate), 0.0)
    at = round(3.0 * rate)
    pitch = PITCH * 1e-6 * slow.turn_time / TURN
    assert land[at - begin] == pytest.approx(pitch - 60e-6 + (at - TURN * rate - 0.4) * 1e-9, abs=2e-12)


def test_land_column_is_compared_sector_by_sector() -> None:
    spiral = flat_spiral(6.0)
    first, land = lands(spiral, spiked_walls(1.0, 5.0, 6.0), 0.005)
    error, where, missing = compare_lands(spiral, first, land, RATE)
    # by hand: the column says 40 µm everywhere, the outer edge leaves 20 µm in the sectors about 5 s
    assert error * 1e6 == pytest.approx(20.0, abs=0.01)
    assert abs(where - 5.0) < 2 * STEP
    assert missing == 0
