"""Tiles of the disc map: edges in pixels, one tone at every zoom, no false rings, layers, and what is refused."""

from __future__ import annotations

from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
import soundfile
from music import build_programme, find_pieces, missing
from PIL import Image

from discwright.acts.plan import plan_file
from discwright.desk.layers import VINYL, make_layers
from discwright.desk.tiles import FINEST, LABEL, LAND, PAPER, TILE, DiscMap, warm
from discwright.errors import CallError
from discwright.files.picture_shading import Groove
from discwright.files.settings import load_setup
from discwright.groove.edges import edge_blocks
from discwright.groove.measures import sector_measures
from discwright.groove.sight.cut import CutSurface

RATE = 44_100
TURN = 1.8
#: A tile never takes more, bytes.
MOST_BYTES = 200_000


@dataclass(frozen=True)
class Planned:
    """A map, and by another road: rows of the spiral and edges of every sample."""

    map: DiscMap
    time: np.ndarray
    radius: np.ndarray
    depth: np.ndarray
    edges: np.ndarray


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


def mapped(path: Path, level_db: float) -> DiscMap:
    """The map of a file planned as one side."""
    plan = plan_file(path, level_db=level_db).plan
    rows, rate = plan.rows, plan.programme.sample_rate_hz
    x, _ = soundfile.read(path, dtype="float32")
    edges = np.concatenate(list(edge_blocks([x], rate, 10.0, 10 ** (level_db / 20))))
    cut = CutSurface(rows.time, rows.radius, rows.depth, TURN, rate, edges)
    groove = Groove(rows.time, rows.radius, rows.depth, rows.land, rows.zone == "music", TURN)
    return DiscMap(cut, plan.setup.disc, groove, make_layers(sector_measures(plan.side), plan.setup))


@pytest.fixture(scope="module")
def planned(side: Path) -> Planned:
    made = mapped(side, 6.0)
    x, _ = soundfile.read(side, dtype="float32")
    groove = made.groove
    return Planned(made, groove.time, groove.radius, groove.depth, analogue_edges(x, 10 ** (6.0 / 20)))


def tile_at(made: DiscMap, level: int, x: float, y: float) -> tuple[int, int]:
    """Column and row of the tile that holds a place."""
    half = 0.5 * made.width * FINEST
    return int((x + half) / (TILE * made.scale(level))), int((y + half) / (TILE * made.scale(level)))


def place(made: DiscMap, time: float) -> tuple[float, float]:
    """Where the centre line stands."""
    angle = 2 * np.pi * time / TURN
    reach = float(np.interp(time, made.groove.time, made.groove.radius))
    return -reach * float(np.sin(angle)), -reach * float(np.cos(angle))


@pytest.mark.parametrize("turn", [2, 6, 12])
def test_edges_and_land_stand_within_a_micron(planned: Planned, turn: int) -> None:
    made = planned.map
    # At 9 o'clock the radius runs along a row of pixels: x = -r, y = 0.
    when = (turn + 0.25) * TURN
    centre = float(np.interp(when, planned.time, planned.radius))
    column, row = tile_at(made, made.levels, -centre, 0.0)
    strip = np.concatenate([made.tile(made.levels, column + k, row) for k in (-1, 0, 1)], axis=1)[0].astype(int)
    left, _ = made.corner(made.levels, column - 1, row)
    is_land = (np.abs(strip[:, :3] - LAND) <= 1).all(axis=1)
    x = left + (np.arange(len(strip)) + 0.5) * FINEST
    rise = -x[np.flatnonzero(np.diff(is_land.astype(int)))] - 0.5 * FINEST
    seen = 0
    for k in (turn - 1, turn, turn + 1):
        t = (k + 0.25) * TURN
        middle, deep = np.interp(t, planned.time, planned.radius), np.interp(t, planned.time, planned.depth)
        n = np.arange(len(planned.edges))
        inner = middle - deep + np.interp(t * RATE, n, planned.edges[:, 0])
        outer = middle + deep + np.interp(t * RATE, n, planned.edges[:, 1])
        if not -x[-1] < inner < outer < -x[0]:
            continue
        # Asked for: within 1 µm at 0.5 µm a pixel; the row's middle lies a quarter of a micron off the radius.
        assert np.abs(rise - inner).min() < 0.6e-6
        assert np.abs(rise - outer).min() < 0.6e-6
        seen += 1
    assert seen
    assert not is_land.all()


def test_the_pyramid_from_one_pixel_to_the_finest(planned: Planned) -> None:
    made = planned.map
    # By hand: 301 mm and 4 mm of margin on either side, at half a micron, is 618,000 px: the next power of two is 2^20.
    assert (made.levels, made.width) == (20, 1 << 20)
    for layer in (VINYL, *(one.name for one in made.layers)):
        assert made.tile(0, 0, 0, layer).shape == (1, 1, 4)
        assert made.tile(7, 0, 0, layer).shape == (128, 128, 4)
        assert made.tile(9, 1, 1, layer).shape == (256, 256, 4)
    assert made.scale(20) == 0.5e-6
    assert made.corner(20, 2048, 2048) == (0.0, 0.0)


def test_margin_and_hole_are_clear_and_the_label_is_plain(planned: Planned) -> None:
    made = planned.map
    for column, row in ((0, 0), (2048, 2048)):
        assert (made.tile(20, column, row)[..., :3] == PAPER).all()
        assert (made.tile(20, column, row)[..., 3] == 0).all()
    for level in (12, 16, 20):
        tile = made.tile(level, *tile_at(made, level, 0.03, 0.001))
        assert (tile == (*LABEL, 255)).all(axis=2).mean() > 0.3
    # By hand: the rim at 150.5 mm, seen at 12 o'clock.
    column, row = tile_at(made, 20, 1e-6, -0.1505)
    _, top = made.corner(20, column, row)
    clear = made.tile(20, column, row)[:, 10, 3]
    edge = top + FINEST * int(np.argmax(clear > 127))
    assert edge == pytest.approx(-0.1505, abs=1e-6)
    assert (clear[int((-0.1505 - top) / FINEST) + 3 :] == 255).all()


@pytest.mark.parametrize("level", range(6, 20))
def test_a_tile_has_the_tone_of_its_four_children(planned: Planned, level: int) -> None:
    made = planned.map
    column, row = tile_at(made, level, *place(made, 9.0))
    coarse = made.tile(level, column, row).astype(float)
    children = [[(2 * column + i, 2 * row + j) for i in (0, 1)] for j in (0, 1)]
    if level < 8:
        fine = made.tile(level + 1, 0, 0).astype(float)
    else:
        fine = np.concatenate(
            [np.concatenate([made.tile(level + 1, *at) for at in line], axis=1) for line in children], axis=0
        ).astype(float)

    def light(pixels: np.ndarray) -> float:
        return float((((pixels[..., :3] / 255) ** 2.2) * pixels[..., 3:] / 255).mean())

    # Grooves at a tile's rim move in and out of it: two parts in a hundred of light at most.
    assert light(coarse) == pytest.approx(light(fine), rel=0.02)
    # Light is the same, tone is its root: where grooves come apart from each other the mean tone falls a little.
    assert abs(coarse[..., :3].mean() - fine[..., :3].mean()) < 12.0
    assert abs(coarse[..., 3].mean() - fine[..., 3].mean()) < 1.0


def even(pitch: float, turns: int = 250) -> DiscMap:
    """A spiral of one pitch, loud throughout."""
    n = turns * 32 + 1
    time = np.arange(n) * TURN / 32
    radius = 0.146 - time / TURN * pitch
    land = np.full(n, 0.1 * pitch)
    land[:32] = np.nan
    groove = Groove(time, radius, np.full(n, 0.25 * pitch), land, np.ones(n, dtype=bool), TURN)
    return DiscMap(None, load_setup("12in-33").disc, groove)


@pytest.mark.parametrize("pitch", [53e-6, 64e-6, 87e-6, 100e-6, 131e-6, 200e-6])
@pytest.mark.parametrize("level", [10, 11, 12, 13])
def test_an_even_spiral_leaves_no_false_rings(pitch: float, level: int) -> None:
    made = even(pitch)
    scale = made.scale(level)
    if pitch > 2 * scale:
        pytest.skip("turns are seen one by one here")
    # Along the row through the centre, and where pixels stand askew to the radius, well inside the spiral.
    for angle in (0.2, 0.31, 0.37, 0.4):
        x, y = -0.139 * np.sin(2 * np.pi * angle), -0.139 * np.cos(2 * np.pi * angle)
        tile = made.tile(level, *tile_at(made, level, x, y)).astype(float)[..., 1]
        left, top = made.corner(level, *tile_at(made, level, x, y))
        at_x, at_y = np.meshgrid(left + (np.arange(TILE) + 0.5) * scale, top + (np.arange(TILE) + 0.5) * scale)
        reach, turn = np.hypot(at_x, at_y), np.arctan2(-at_x, -at_y) / (2 * np.pi)
        ring = (reach > 0.1355) & (reach < 0.1435)
        # Light falls evenly along the radius: what is left beside a smooth change with the angle is moiré.
        steps = np.digitize(turn[ring], np.linspace(turn[ring].min(), turn[ring].max(), 400))
        tone = tile[ring]
        mean = np.bincount(steps, tone, 402) / np.maximum(np.bincount(steps, minlength=402), 1)
        # By hand: tones are whole numbers, and differ by one within a step of the angle where the flash rises.
        assert np.std(tone - mean[steps]) < 1.3


def test_the_test_for_false_rings_can_fail() -> None:
    made = even(100e-6)
    # Seen with pixels of 16 µm each turn is a line: tones differ by much more.
    tile = made.tile(made.deep_level - 1, *tile_at(made, made.deep_level - 1, -0.139, 0.0)).astype(float)[..., 1]
    assert tile.std() > 10.0


def test_coarse_levels_need_the_spiral_alone(planned: Planned) -> None:
    made = planned.map
    bare = replace(made, cut=None)
    # By hand: 32 µm a pixel is drawn from the spiral, 16 µm needs the edges.
    assert made.deep_level == 15
    assert made.scale(made.deep_level) == 16e-6
    for level in (3, 9, 12, 14):
        where = tile_at(made, level, *place(made, 9.0))
        assert np.array_equal(bare.tile(level, *where), made.tile(level, *where))
        assert np.array_equal(bare.tile(level, *where, "slope"), made.tile(level, *where, "slope"))
    with pytest.raises(CallError) as refused:
        bare.tile(15, *tile_at(made, 15, *place(made, 9.0)))
    assert str(refused.value) == "the groove is still being prepared; until it is, ask for a level before 15."


def test_silence_is_drawn_still_at_deep_levels(planned: Planned) -> None:
    made = planned.map
    assert made.cut is not None
    still = replace(made, cut=replace(made.cut, edges=np.zeros((1, 2), dtype=np.float32)))
    where = tile_at(made, 18, *place(made, 9.0))
    assert not np.array_equal(still.tile(18, *where), made.tile(18, *where))
    # By hand: a row across the lead-in, where no music is.
    where = tile_at(made, 18, *place(made, -4.0))
    assert np.array_equal(still.tile(18, *where), made.tile(18, *where))


@pytest.mark.parametrize("layer", ["vinyl", "slope"])
def test_a_png_is_the_tile(planned: Planned, layer: str) -> None:
    made = planned.map
    for level, time in ((9, 9.0), (12, 9.0), (18, 9.0), (12, -4.0)):
        where = tile_at(made, level, *place(made, time))
        with Image.open(BytesIO(made.png(level, *where, layer))) as image:
            assert np.array_equal(np.asarray(image.convert("RGBA")), made.tile(level, *where, layer))


def land_beside(made: DiscMap, time: float, level: int) -> np.ndarray:
    """What a layer's tile shows 3 µm outside the outer edge at a time: land that belongs to this turn."""
    assert made.cut is not None
    _, outer = made.cut.groove_at(np.array([time]))
    angle = 2 * np.pi * time / TURN
    x, y = (float(-(outer[0] + 3e-6) * f(angle)) for f in (np.sin, np.cos))
    column, row = tile_at(made, level, x, y)
    left, top = made.corner(level, column, row)
    tile = made.tile(level, column, row, "slope")
    scale = made.scale(level)
    result: np.ndarray = tile[int((y - top) / scale), int((x - left) / scale)]
    return result


def test_land_has_the_colour_of_its_turns_value(planned: Planned) -> None:
    made = planned.map
    slope = next(layer for layer in made.layers if layer.name == "slope")
    for sector in (80, 150, 333):
        middle = 0.5 * (slope.time[sector] + slope.time[sector + 1])
        assert not slope.beyond[sector]
        found = land_beside(made, float(middle), 19)
        assert np.abs(found[:3].astype(int) - slope.colour_of(float(slope.value[sector]))).max() <= 1


def test_walls_are_seen_under_a_tint(planned: Planned) -> None:
    made = planned.map
    tile = made.tile(18, *tile_at(made, 18, *place(made, 9.0)), "depth")[..., :3].astype(float).mean(axis=2)
    assert tile.min() < 0.75 * tile.max()


def ink(tile: np.ndarray) -> np.ndarray:
    return np.asarray((tile[..., :3] == 18).sum(axis=2) >= 2)


def test_only_what_is_beyond_its_limit_is_hatched(planned: Planned) -> None:
    made = planned.map
    assert made.cut is not None
    slope = next(layer for layer in made.layers if layer.name == "slope")
    sector = 160
    alone = np.zeros(len(slope.value), dtype=bool)
    plain = replace(made, layers=(replace(slope, beyond=alone.copy()),))
    alone[sector] = True
    marked = replace(made, layers=(replace(slope, beyond=alone),))
    middle = 0.5 * float(slope.time[sector] + slope.time[sector + 1])
    for level in (9, 11, 13, 16, 19):
        where = tile_at(made, level, *place(made, middle))
        assert not ink(plain.tile(level, *where, "slope")).any()
        hatched = ink(marked.tile(level, *where, "slope"))
        assert hatched.any()
        left, top = made.corner(level, *where)
        rows, columns = np.nonzero(hatched)
        scale = made.scale(level)
        x, y = left + (columns + 0.5) * scale, top + (rows + 0.5) * scale
        turn = np.arctan2(-x, -y) / (2 * np.pi) * TURN
        # By hand: every inked pixel lies within a pixel of the sector, in angle and in radius.
        late = (turn - slope.time[sector] + 0.5 * TURN) % TURN - 0.5 * TURN
        slack = scale / np.hypot(x, y) / (2 * np.pi) * TURN
        assert (late > -slack).all()
        assert (late < TURN / 32 + slack).all()
        reach = np.interp(middle, made.groove.time, made.groove.radius)
        assert np.abs(np.hypot(x, y) - reach).max() < 150e-6 + 1.5 * scale


def test_hatching_runs_on_from_tile_to_tile(planned: Planned) -> None:
    made = planned.map
    slope = next(layer for layer in made.layers if layer.name == "slope")
    everywhere = replace(slope, beyond=np.ones(len(slope.value), dtype=bool))
    marked = replace(made, layers=(everywhere,))
    column, row = tile_at(made, 13, *place(made, 9.0))
    both = np.concatenate([marked.tile(13, column + k, row, "slope") for k in (0, 1)], axis=1)
    hatched = ink(both)
    down, across = np.nonzero(hatched)
    # By hand: lines of three pixels in eight, at forty-five degrees.
    assert set((down + across) % 8) == {0, 1, 2}


@pytest.mark.parametrize("where", [(-1, 0, 0), (21, 0, 0), (3, 1, 0), (20, -1, 0), (20, 0, 4096)])
@pytest.mark.parametrize("layer", [VINYL, "slope"])
def test_no_such_tile(planned: Planned, where: tuple[int, int, int], layer: str) -> None:
    with pytest.raises(CallError, match="ask for one of them"):
        planned.map.tile(*where, layer)


def test_no_such_layer(planned: Planned) -> None:
    with pytest.raises(CallError) as refused:
        planned.map.png(3, 0, 0, "rainbow")
    names = "vinyl, land, depth, curvature, slope, echo"
    assert str(refused.value) == f"the map has no layer 'rainbow' now; ask for one of these: {names}."


def test_a_spiral_that_runs_onto_the_label_is_seen_there() -> None:
    made = even(350e-6, 290)
    # By hand: 146 mm less 290 turns of 0.35 mm is 44.5 mm, and the label ends at 51 mm.
    tile = made.tile(14, *tile_at(made, 14, -0.0475, 0.0))[..., :3].astype(int)
    assert (np.abs(tile - LABEL).max(axis=2) > 40).mean() > 0.2
    assert (np.abs(tile - LABEL).max(axis=2) <= 1).mean() > 0.1


def test_warming_draws_without_complaint() -> None:
    warm()


@pytest.mark.music
@pytest.mark.slow
@pytest.mark.skipif(bool(missing("orchestral")), reason=missing("orchestral") or "-")
def test_a_tile_of_real_music_is_small(tmp_path: Path) -> None:
    made = mapped(build_programme(find_pieces("orchestral"), 300.0), 6.0)
    greatest: dict[str, int] = {}
    for layer in (VINYL, *(one.name for one in made.layers)):
        for level in range(made.levels + 1):
            for time in (40.0, 200.3):
                size = len(made.png(level, *tile_at(made, level, *place(made, time)), layer))
                greatest[layer] = max(greatest.get(layer, 0), size)
    assert max(greatest.values()) <= MOST_BYTES
    # By hand: an index a pixel and a palette can never be more.
    assert greatest[VINYL] <= TILE * TILE + 2000
