"""The loops that draw a tile, each against a plain twin; the same file also runs uncompiled."""

from __future__ import annotations

import math
import os

import numpy as np
import pytest

from discwright.desk import kernels, tiles
from discwright.files.picture_shading import Groove
from discwright.groove.sight.cut import CutSurface

UNCOMPILED = os.environ.get("NUMBA_DISABLE_JIT") == "1"
SIDE = 4 if UNCOMPILED else 24
RATE, TURN = 44_100.0, 1.8
RNG = np.random.default_rng(11)


def seen_by_tent(light: np.ndarray, at: np.ndarray) -> float:
    """Light at even steps `at`, seen through a tent from -1 to 1: a plain sum."""
    weight = np.clip(1.0 - np.abs(at), 0.0, None)
    return float((light * weight).sum() / weight.sum())


@pytest.mark.parametrize("u", [-1.5, -1.0, -0.7, -0.2, 0.0, 0.4, 0.99, 1.0, 2.5])
def test_tent_and_its_sum(u: float) -> None:
    at = np.linspace(-3.0, u, 100_001)
    # Another road: trapezia under the tent, and under its share.
    share = np.array([kernels.tent(float(v)) for v in np.linspace(-3.0, u, 401)])
    assert kernels.tent(u) == pytest.approx(np.trapezoid(np.clip(1 - np.abs(at), 0, None), at), abs=1e-6)
    assert kernels.tent_sum(u) == pytest.approx(np.trapezoid(share, np.linspace(-3.0, u, 401)), abs=1e-4)


@pytest.mark.parametrize(("a", "b"), [(-0.5, 0.3), (-4.0, 0.1), (0.2, 9.0), (-2.0, 3.0), (1.1, 2.0), (0.4, 0.4)])
def test_a_piece_of_light_seen_through_a_tent(a: float, b: float) -> None:
    at = np.linspace(-1.0, 1.0, 200_001)
    inside = (at > a) & (at < b)
    light = np.where(inside, 0.2 + (0.9 - 0.2) * (at - a) / max(b - a, 1e-9), 0.0)
    assert kernels.ramp_seen(a, b, 0.2, 0.9) == pytest.approx(seen_by_tent(light, at), abs=2e-5)


def test_the_tent_is_a_whole_number_of_turns_wide_where_turns_are_close() -> None:
    for spacing in (0.07, 0.3, 0.5, 0.8, 1.0, 1.3, 1.9):
        width = kernels.tent_width(spacing, 1.0)
        # By hand: an even comb has no component left in a tent whose half-width is a multiple of its step.
        assert width / spacing == pytest.approx(round(width / spacing))
        assert 1.0 <= width <= 2.0
    # By hand: and it narrows without a jump to six tenths of a pixel.
    widths = [kernels.tent_width(p, 1.0) for p in np.linspace(1.99, 8.0, 2000)]
    assert np.abs(np.diff(widths)).max() < 0.02
    assert widths[-1] == 0.6


def test_row_at_is_a_binary_search() -> None:
    values = np.cumsum(RNG.uniform(1e-6, 1.0, 300))
    values[100:130] = values[100] + 1e-12 * np.arange(30)
    values[130:] += 5.0
    table = np.clip(np.searchsorted(values, np.linspace(values[0], values[-1], 65), "right") - 1, 0, 298)
    steps = 64 / (values[-1] - values[0])
    for value in (*RNG.uniform(values[0] - 2, values[-1] + 2, 300), values[0], values[-1], values[115]):
        # Another road.
        wanted = min(max(int(np.searchsorted(values, value, "right")) - 1, 0), 298)
        assert kernels.row_at(values, table.astype(np.int32), steps, float(value)) == wanted


def test_sector_at_is_a_binary_search() -> None:
    time = np.concatenate([np.arange(-3, 40) * 0.05625, [39.4 * 0.05625]])
    for t in (*RNG.uniform(time[0], time[-1], 200), time[0], time[7] + 1e-12, time[-1]):
        wanted = min(int(np.searchsorted(time, t, "right")) - 1, len(time) - 2)
        assert kernels.sector_at(time, 1 / 0.05625, float(t)) == wanted
    assert kernels.sector_at(time, 1 / 0.05625, time[0] - 1e-6) == -1
    assert kernels.sector_at(time, 1 / 0.05625, time[-1] + 1e-6) == -1


def moving(swing: float = 20e-6, pitch: float = 150e-6) -> CutSurface:
    """Some turns of an even spiral, 25 µm deep, whose edges swing together and apart."""
    time = np.arange(-2.7, 30.0 + 3.6, TURN / 32)
    t = np.arange(round(30.0 * RATE)) / RATE
    edges = swing * np.stack([np.sin(2 * np.pi * 90 * t), np.sin(2 * np.pi * 130 * t + 0.7)], axis=1)
    radius = 0.1 - time / TURN * pitch
    return CutSurface(time, radius, np.full(len(time), 25e-6), TURN, RATE, edges.astype(np.float32))


def groove(cut: CutSurface) -> tiles.Spiral:
    land = np.full(len(cut.time), 20e-6)
    return tiles.spiral_of(Groove(cut.time, cut.radius, cut.depth, land, np.ones(len(land), dtype=bool), TURN))


def music(cut: CutSurface, moved: bool = True) -> tuple[np.ndarray, float, float]:
    return (cut.read_only, RATE, cut.swing) if moved else (tiles._STILL, 1.0, 0.0)


def test_both_edges_are_those_of_the_surface_and_rise_as_they_do() -> None:
    cut = moving()
    for at in (0.0, 0.4, 1000.3, 17_000.75, 1_322_998.5, -1.5, -40.0, 1_400_000.0):
        inner, outer, rise_in, rise_out = kernels.both_edges(cut.read_only, at)
        low, high = cut.groove_at(np.array([at / RATE]))
        middle = float(np.interp(at / RATE, cut.time, cut.radius))
        # Another road: the surface's own reading, and the slope between two close places.
        assert (inner, outer) == pytest.approx((low[0] - middle + 25e-6, high[0] - middle - 25e-6), abs=1e-12)
        before, after = (kernels.both_edges(cut.read_only, at + d) for d in (-1e-4, 1e-4))
        if at != math.floor(at):
            assert rise_in == pytest.approx((after[0] - before[0]) / 2e-4, abs=1e-10)
            assert rise_out == pytest.approx((after[1] - before[1]) / 2e-4, abs=1e-10)


#: No label and no hole within reach; runs of the palette as they are.
COAT = np.array([0.15, 0.01, 0.005, 1e-4, 0.0, 16.0, 16.0, 16.0, 32.0, 40.0])


def cover(cut: CutSurface, left: float, top: float, pixel: float, moved: bool) -> np.ndarray:
    """Share of groove in each pixel, from its light: grooves shine evenly here, land hardly at all."""
    out = np.empty((SIDE, SIDE), dtype=np.uint8)
    shine = np.tile([0.5, 0.0], (8, 1))
    tone = np.clip(255.0 * np.linspace(0.0, 1.0, 8192) ** 2, 0, 255).astype(np.uint8)
    hidden = np.zeros((SIDE, SIDE), dtype=np.float32)
    # Bare land makes a groove brighter; an even spiral has none.
    corner = (left, top, pixel)
    kernels.vinyl(out, corner, groove(cut), music(cut, moved), tiles._LIGHT, False, COAT, shine, tone, hidden)
    return (out / 255.0 - kernels.LAND_LIGHT) / (0.5 - kernels.LAND_LIGHT)


@pytest.mark.parametrize(("pixel", "moved"), [(1e-6, True), (8e-6, True), (25e-6, True), (60e-6, False)])
def test_vinyl_is_what_many_rays_through_a_pixel_see(pixel: float, moved: bool) -> None:
    cut = moving() if moved else moving(0.0)
    x, y = (float(v[0]) for v in cut.place_of(np.array([7.3])))
    found = cover(cut, x, y, pixel, moved)
    wide = kernels.tent_width(150e-6, pixel)
    steps = np.linspace(-1.0, 1.0, 401)
    for i in range(0, SIDE, 3):
        for j in range(0, SIDE, 3):
            px, py = x + (j + 0.5) * pixel, y + (i + 0.5) * pixel
            r = math.hypot(px, py)
            along = 1.0 + steps * wide / r
            # Another road: rays along the radius, asked one by one.
            cut_away = cut.look(px * along, py * along).wall != 0
            assert found[i, j] == pytest.approx(seen_by_tent(cut_away.astype(float), steps), abs=0.012)


def told(
    cut: CutSurface, corner: tuple[float, float, float], side: int, moved: bool, said: tuple[np.ndarray, ...]
) -> tuple[np.ndarray, ...]:
    """What a layer says of a square, walls left out: value, known, over, shade."""
    value, known, shade = (np.empty((side, side), dtype=np.float32) for _ in range(3))
    over, within = np.empty((side, side), dtype=bool), np.array([0.01, 0.15])
    kernels.tint(
        value, known, over, shade, corner, groove(cut), music(cut, moved), tiles._LIGHT, 0.0, within, said
    )  # fmt: skip
    return value, known, over, shade


def test_a_tint_is_that_of_the_nearest_turn() -> None:
    cut = moving()
    pixel = 6e-6
    x, y = (float(v[0]) for v in cut.place_of(np.array([7.3])))
    sector_time = np.arange(0.0, 12.01, TURN / 32)
    place = RNG.uniform(0.0, 1.0, len(sector_time) - 1).astype(np.float32)
    beyond = RNG.uniform(size=len(place)) < 0.3
    value, known, over, shade = told(cut, (x, y, pixel), SIDE, True, (sector_time, place, beyond))
    assert known == pytest.approx(1.0)
    assert shade == pytest.approx(1.0)
    checked = 0
    for i in range(SIDE):
        for j in range(SIDE):
            px, py = x + (j + 0.5) * pixel, y + (i + 0.5) * pixel
            r, angle = math.hypot(px, py), math.atan2(-px, -py) / (2 * math.pi)
            times = (np.arange(1, 6) + angle) * TURN
            inner, outer = cut.groove_at(times)
            # Another road: every turn asked how far its groove is.
            away = np.maximum(np.maximum(inner - r, r - outer), 0.0)
            nearest, second = np.argsort(away)[:2]
            if away[second] - away[nearest] < 4 * pixel:
                continue
            sector = int(np.searchsorted(sector_time, times[nearest], "right")) - 1
            assert value[i, j] == pytest.approx(place[sector], abs=1e-6)
            assert over[i, j] == beyond[sector]
            checked += 1
    assert checked > SIDE * SIDE / 3


def test_a_sector_beyond_is_not_lost_among_many_in_a_pixel() -> None:
    cut = moving(0.0)
    sector_time = np.arange(0.0, 12.01, TURN / 32)
    place = np.full(len(sector_time) - 1, 0.2, dtype=np.float32)
    beyond = np.zeros(len(place), dtype=bool)
    place[100], beyond[100] = 0.9, True
    x, y = (float(v[0]) for v in cut.place_of(np.array([100.5 * TURN / 32])))
    pixel = 1e-3
    corner = (x - pixel / 2, y - pixel / 2, pixel)
    value, _, over, _ = told(cut, corner, 1, False, (sector_time, place, beyond))
    # By hand: one of six turns in the pixel is beyond, and the pixel says so in its colour and by its pattern.
    assert (value[0, 0], over[0, 0]) == (pytest.approx(0.9), True)
    value, _, over, _ = told(cut, corner, 1, False, (sector_time, place, np.zeros_like(beyond)))
    assert not over[0, 0]
    assert 0.2 < value[0, 0] < 0.4


def test_where_no_sector_is_there_is_nothing_to_say() -> None:
    cut = moving(0.0)
    x, y = (float(v[0]) for v in cut.place_of(np.array([7.3])))
    sector_time = np.arange(0.0, 12.01, TURN / 32)
    place = np.full(len(sector_time) - 1, np.nan, dtype=np.float32)
    everywhere = np.ones(len(place), dtype=bool)
    _, known, over, _ = told(cut, (x, y, 8e-6), 2, False, (sector_time, place, everywhere))
    assert known.max() == 0.0
    assert not over.any()


def test_a_tint_is_laid_over_vinyl_alone_and_its_hatching_runs_on() -> None:
    palette = np.zeros((256, 4), dtype=np.uint8)
    palette[:, 0], palette[:, 3] = np.arange(256), 255
    indices = np.array([[100, 100, 40, 100]], dtype=np.uint8)
    value = np.array([[0.0, 1.0, 1.0, 0.5]], dtype=np.float32)
    known = np.array([[1.0, 1.0, 1.0, 0.5]], dtype=np.float32)
    over = np.array([[False, True, True, False]])
    out = np.empty((1, 4, 4), dtype=np.uint8)
    ramp = np.array([[0.0, 0.0, 0.0], [50.0, 60.0, 70.0], [100.0, 120.0, 140.0]])
    shade, ink = np.full((1, 4), 0.5, dtype=np.float32), np.array([9.0, 9.0, 9.0])
    kernels.lay_tint(out, palette, indices, 72, value, known, over, shade, ramp, 0, 4, 2, ink)
    # By hand: plain end; ink; label; half of vinyl (100, 0, 0) and half of (25, 30, 35).
    assert out[0, :, :3].tolist() == [[0, 0, 0], [9, 9, 9], [40, 0, 0], [63, 15, 18]]
    kernels.lay_tint(out, palette, indices, 72, value, known, over, shade, ramp, 1, 4, 2, ink)
    assert out[0, 1, :3].tolist() == [50, 60, 70]
