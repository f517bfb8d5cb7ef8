"""Tiles of the disc map: edges measured in pixels, the pyramid from end to end, and what is refused."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
import soundfile
from PIL import Image

from discwright.acts.plan import plan_file
from discwright.desk.tiles import FINEST, TILE, DiscMap
from discwright.errors import CallError
from discwright.files.picture_shading import Groove
from discwright.groove.edges import edge_blocks
from discwright.groove.sight.cut import CutSurface

RATE = 44_100
LAND = (92, 88, 82)
PAPER = (244, 241, 233)


def analogue_edges(programme: np.ndarray, gain: float) -> np.ndarray:
    """Edge movement by the analogue response in the frequency domain, m: another road."""
    pad = 2 * RATE
    x = np.concatenate([np.zeros((pad, 2)), programme, np.zeros((pad, 2))])
    s = 2j * np.pi * np.fft.rfftfreq(len(x), 1 / RATE)
    s[0] = 1e-9
    curve = (1 + s * 3180e-6) * (1 + s * 75e-6) / (1 + s * 318e-6)
    at = 2j * np.pi * 1000
    curve /= abs((1 + at * 3180e-6) * (1 + at * 75e-6) / (1 + at * 318e-6))
    w0 = 2 * np.pi * 10.0
    wall = 0.05 / np.sqrt(2) * curve * s**2 / (s**2 + np.sqrt(2) * w0 * s + w0**2) / s
    moved = np.fft.irfft(np.fft.rfft(x, axis=0) * wall[:, None], len(x), axis=0)
    return gain * np.sqrt(2) * moved[pad : pad + len(programme)]


@pytest.fixture(scope="module")
def planned(side: Path) -> tuple[DiscMap, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """A map, and by another road: rows of the spiral and edges of every sample."""
    plan = plan_file(side, level_db=6.0).plan
    x, _ = soundfile.read(side, dtype="float32")
    gain = 10 ** (6.0 / 20)
    edges = np.concatenate(list(edge_blocks([x], RATE, 10.0, gain)))
    rows = plan.rows
    cut = CutSurface(rows.time, rows.radius, rows.depth, 1.8, RATE, edges)
    groove = Groove(rows.time, rows.radius, rows.depth, rows.land, rows.zone == "music", 1.8)
    return DiscMap(cut, plan.setup.disc, groove), rows.time, rows.radius, rows.depth, analogue_edges(x, gain)


@pytest.mark.parametrize("turn", [2, 6, 12])
def test_edges_and_land_stand_within_a_micron(
    planned: tuple[DiscMap, np.ndarray, np.ndarray, np.ndarray, np.ndarray], turn: int
) -> None:
    made, time, radius, depth, edges = planned
    # At 9 o'clock the radius runs along a row of pixels: x = -r, y = 0.
    when = (turn + 0.25) * 1.8
    centre = float(np.interp(when, time, radius))
    half = 0.5 * made.width * FINEST
    column, row = int((half - centre) / (TILE * FINEST)), int(half / (TILE * FINEST))
    strip = np.concatenate([made.tile(made.levels, column + k, row) for k in (-1, 0, 1)], axis=1)[0].astype(int)
    left, _ = made.corner(made.levels, column - 1, row)
    is_land = (np.abs(strip - LAND) <= 1).all(axis=1)
    x = left + (np.arange(len(strip)) + 0.5) * FINEST
    rise = -x[np.flatnonzero(np.diff(is_land.astype(int)))] - 0.5 * FINEST
    for k in (turn - 1, turn, turn + 1):
        t = (k + 0.25) * 1.8
        middle, deep = np.interp(t, time, radius), np.interp(t, time, depth)
        n = np.arange(len(edges))
        inner = middle - deep + np.interp(t * RATE, n, edges[:, 0])
        outer = middle + deep + np.interp(t * RATE, n, edges[:, 1])
        if not -x[-1] < inner < outer < -x[0]:
            continue
        # Asked for: within 1 µm at 0.5 µm a pixel; the row's middle lies a quarter of a micron off the radius.
        assert np.abs(rise - inner).min() < 0.6e-6
        assert np.abs(rise - outer).min() < 0.6e-6
    assert not is_land.all()


def test_the_pyramid_from_one_pixel_to_the_finest(
    planned: tuple[DiscMap, np.ndarray, np.ndarray, np.ndarray, np.ndarray],
) -> None:
    made = planned[0]
    # By hand: 301 mm and 4 mm of margin on either side, at half a micron, is 618,000 px: the next power of two is 2^20.
    assert (made.levels, made.width) == (20, 1 << 20)
    assert made.tile(0, 0, 0).shape == (1, 1, 3)
    assert made.tile(7, 0, 0).shape == (128, 128, 3)
    assert made.tile(9, 1, 1).shape == (256, 256, 3)
    assert made.scale(20) == 0.5e-6
    assert made.corner(20, 2048, 2048) == (0.0, 0.0)


def test_margin_label_and_hole(planned: tuple[DiscMap, np.ndarray, np.ndarray, np.ndarray, np.ndarray]) -> None:
    made = planned[0]
    assert (made.tile(20, 0, 0) == PAPER).all()
    assert (made.tile(20, 2048, 2048) == PAPER).all()  # the hole
    half = 0.5 * made.width * FINEST
    on_label = int((half + 0.03) / (TILE * FINEST))
    assert (made.tile(20, on_label, 2048) == (216, 203, 172)).all()


def test_neighbouring_levels_show_the_same(
    planned: tuple[DiscMap, np.ndarray, np.ndarray, np.ndarray, np.ndarray],
) -> None:
    made = planned[0]
    x, y = made.cut.place_of(np.array([9.0]))
    half = 0.5 * made.width * FINEST
    place = [int((v + half) / (TILE * made.scale(16))) for v in (float(x[0]), float(y[0]))]
    coarse = made.tile(16, *place).astype(float)
    fine = np.concatenate(
        [np.concatenate([made.tile(17, 2 * place[0] + i, 2 * place[1] + j) for i in (0, 1)], axis=1) for j in (0, 1)],
        axis=0,
    )
    shrunk = fine.reshape(TILE, 2, TILE, 2, 3).mean(axis=(1, 3))
    # Four rays a pixel against sixteen: alike on the whole, grainy at edges.
    assert abs(coarse.mean() - shrunk.mean()) < 2.0
    assert np.corrcoef(coarse.ravel(), shrunk.ravel())[0, 1] > 0.9


def test_a_png_is_the_tile(planned: tuple[DiscMap, np.ndarray, np.ndarray, np.ndarray, np.ndarray]) -> None:
    made = planned[0]
    data = made.png(10, 1, 1)
    with Image.open(BytesIO(data)) as image:
        assert np.array_equal(np.asarray(image), made.tile(10, 1, 1))


@pytest.mark.parametrize("where", [(-1, 0, 0), (21, 0, 0), (3, 1, 0), (20, -1, 0), (20, 0, 4096)])
def test_no_such_tile(
    planned: tuple[DiscMap, np.ndarray, np.ndarray, np.ndarray, np.ndarray], where: tuple[int, int, int]
) -> None:
    with pytest.raises(CallError, match="ask for one of them"):
        planned[0].tile(*where)
