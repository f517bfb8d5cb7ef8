"""What stands at a place: scanned across the groove, and against every turn asked one by one."""

from __future__ import annotations

import math

import numpy as np
import pytest

from discwright.groove.sight.cut import CutSurface

RATE, TURN = 44_100.0, 1.8
Float = np.ndarray


def surface(seconds: float = 40.0, swing: float = 20e-6) -> CutSurface:
    """A spiral of 150 µm pitch and 25 µm depth whose edges swing together and apart."""
    step = TURN / 32
    time = np.arange(-2.7, seconds + 3.6, step)
    radius = 0.1 - time / TURN * 150e-6
    depth = np.full(len(time), 25e-6)
    t = np.arange(round(seconds * RATE)) / RATE
    edges = swing * np.stack([np.sin(2 * np.pi * 90 * t), np.sin(2 * np.pi * 90 * t + 0.7)], axis=1)
    return CutSurface(time, radius, depth, TURN, RATE, edges.astype(np.float32))


def scan(cut: CutSurface, time: float, reach: float, step: float) -> tuple[Float, Float, Float, Float]:
    """Radii across the groove at a time, and what is seen there."""
    middle = float(np.interp(time, cut.time, cut.radius))
    r = np.arange(middle - reach, middle + reach, step)
    angle = 2 * np.pi * time / TURN
    sight = cut.look(-r * math.sin(angle), -r * math.cos(angle))
    return r, sight.depth, sight.wall, sight.time


@pytest.mark.parametrize("time", [0.0, 0.4321, 7.7777, 23.4, 39.99])
def test_a_scan_meets_both_edges_and_the_bottom(time: float) -> None:
    cut = surface()
    r, depth, wall, when = scan(cut, time, 60e-6, 0.02e-6)
    own = np.abs(when - time) < 1e-9
    at = time * RATE
    t = np.arange(len(cut.edges))
    # By another road: centre and depth from their straight lines, edges by linear interpolation.
    inner = 0.1 - time / TURN * 150e-6 - 25e-6 + np.interp(at, t, cut.edges[:, 0])
    outer = 0.1 - time / TURN * 150e-6 + 25e-6 + np.interp(at, t, cut.edges[:, 1])
    assert r[own][0] == pytest.approx(inner, abs=0.03e-6)
    assert r[own][-1] == pytest.approx(outer, abs=0.03e-6)
    # By hand: a 90° groove is half as deep as it is wide, in the middle between its edges.
    assert depth[own].max() == pytest.approx((outer - inner) / 2, abs=0.03e-6)
    assert r[own][np.argmax(depth[own])] == pytest.approx((outer + inner) / 2, abs=0.05e-6)
    assert (wall[own][: len(wall[own]) // 2 - 2] == -1).all()
    assert (wall[own][len(wall[own]) // 2 + 2 :] == 1).all()


def test_every_place_is_what_all_turns_asked_one_by_one_say() -> None:
    cut = surface(30.0, 60e-6)
    rng = np.random.default_rng(4)
    r, angle = rng.uniform(0.0972, 0.1004, 3000), rng.uniform(0.0, 1.0, 3000)
    sight = cut.look(-r * np.sin(2 * np.pi * angle), -r * np.cos(2 * np.pi * angle))
    t = np.arange(len(cut.edges)) / RATE
    for k in range(0, 3000, 7):
        # By another road: every turn there is, edges by linear interpolation.
        times = np.arange(-3, 30) * TURN + angle[k] * TURN
        times = times[(times >= cut.time[0]) & (times <= cut.time[-1])]
        inner, outer = (
            0.1 - times / TURN * 150e-6 + sign * 25e-6 + np.interp(times, t, cut.edges[:, wall], left=0.0, right=0.0)
            for sign, wall in ((-1, 0), (1, 1))
        )
        near = np.minimum(np.abs(r[k] - inner), np.abs(r[k] - outer)).min()
        if near < 0.05e-6:
            continue  # too near an edge for two ways of reading between samples
        hit = np.flatnonzero((r[k] > inner) & (r[k] < outer))
        assert math.isnan(sight.time[k]) == (len(hit) == 0)
        if len(hit):
            assert min(abs(times[hit] - sight.time[k])) < 1e-9


def test_places_and_times_are_each_others_inverse() -> None:
    cut = surface()
    time = np.linspace(0.0, 39.0, 500)
    x, y = cut.place_of(time)
    assert cut.look(x, y).time == pytest.approx(time, abs=1e-6)
    # By hand: whole turns at 12 o'clock, a quarter later at 9 o'clock (x to the right, y down).
    x, y = cut.place_of(np.array([0.0, TURN / 4]))
    assert x == pytest.approx([0.0, -0.1 + 150e-6 / 4])
    assert y == pytest.approx([-0.1, 0.0], abs=1e-12)


def test_before_and_after_the_music_the_groove_is_still() -> None:
    cut = surface(5.0)
    inner, outer = cut.groove_at(np.array([-1.0, 5.5, 8.0]))
    assert outer - inner == pytest.approx(np.full(3, 50e-6), abs=1e-12)


def test_nothing_is_cut_off_the_spiral() -> None:
    cut = surface(5.0)
    sight = cut.look(np.array([0.0, 0.2, 0.09]), np.array([0.0, 0.0, 0.0]))
    assert np.isnan(sight.time).all()
    assert sight.depth.tolist() == [0.0, 0.0, 0.0]
    assert sight.wall.tolist() == [0, 0, 0]


def test_the_locked_groove_is_seen_too() -> None:
    open_end = surface(5.0)
    closed = np.arange(1, 33) * TURN / 32
    cut = CutSurface(
        np.concatenate([open_end.time, open_end.time[-1] + closed]),
        np.concatenate([open_end.radius, np.full(32, open_end.radius[-1])]),
        np.full(len(open_end.time) + 32, 25e-6), TURN, RATE, open_end.edges,
    )  # fmt: skip
    time = cut.time[-1] - 0.6
    x, y = cut.place_of(np.array([time]))
    assert not np.isnan(cut.look(x, y).time).any()


def test_shapes_are_kept() -> None:
    cut = surface(5.0)
    x, y = np.meshgrid(np.linspace(-0.1, 0.1, 5), np.linspace(-0.1, 0.1, 3))
    sight = cut.look(x, y)
    assert sight.time.shape == sight.depth.shape == sight.wall.shape == (3, 5)


def test_how_far_an_edge_moves_at_most() -> None:
    cut = surface(5.0)
    # By another road; a tenth more than the samples, for what lies between them.
    assert cut.swing == pytest.approx(1.1 * float(np.abs(cut.edges).max()))
    t = np.linspace(0.0, 4.9, 200_001)
    inner, outer = cut.groove_at(t)
    centre = np.interp(t, cut.time, cut.radius)
    assert max(np.abs(inner - centre + 25e-6).max(), np.abs(outer - centre - 25e-6).max()) < cut.swing


def test_edges_are_only_read() -> None:
    cut = surface(5.0)
    assert not cut.read_only.flags.writeable
    assert np.shares_memory(cut.read_only, cut.edges)
    assert cut.edges.flags.writeable
