"""Tiles of the disc map: squares of 256 pixels at any zoom, from the whole face down to half a micron a pixel.

Each tile is drawn for itself, in indices of one palette: paper is left clear, so that the page shows through.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from discwright.desk import kernels
from discwright.desk.layers import VINYL, Layer
from discwright.errors import CallError
from discwright.files.picture_shading import Groove
from discwright.groove.equipment import DiscFormat
from discwright.groove.sight.cut import CutSurface

Float = NDArray[np.float64]
Pixels = NDArray[np.uint8]
Table = NDArray[np.int32]
Spiral = tuple[Float, Float, Table, Float, Table, Float, float, float]

#: Side of a tile, px, and the finest scale, m per px.
TILE, FINEST = 256, 0.5e-6
#: Margin around the disc, m.
_MARGIN = 4e-3
#: Coarser than this, m per px, the music moves no edge by much more than a pixel: the spiral alone is drawn.
_STILL_FROM = 30e-6
#: Up to this, m per px, walls are told from each other.
_WALLS_TO = 40e-6
#: How much of the walls is seen under a tint, over m per px.
_DARK_AT, _DARK = (16e-6, 64e-6, 256e-6), (1.0, 0.5, 0.0)
#: Where the light falls from, turns anticlockwise from 12 o'clock, as in the picture of the disc.
_LIGHT_FROM = 0.13

#: Runs of the palette: first index and number, of rim, hole, label and tones.
_RIM, _HOLE, _LABEL, _TONES = (0, 10), (10, 10), (20, 26), (46, 210)
PAPER, LABEL, LABEL_EDGE, _DARK_RGB = (244, 241, 233), (216, 203, 172), (176, 161, 128), (28, 29, 30)
#: Width of the printed edge of a label, m.
_EDGE = 0.3e-3
_TONE_STEPS, _SHINE_STEPS = 4096, 2048
#: Every tone up to here has an index of its own.
_FULLY_TO = 166

#: A beyond-the-limit hatching: px from line to line along a row, px of the line, and its ink.
_HATCH, _HATCH_LINE, _INK = 8, 3, np.array([18.0, 18.0, 20.0])
#: Movement that counts half, and land beside a groove from which that side begins to be bare, and is so fully, m.
_HALF_SWING, _LONE_FROM, _LONE_FULLY = 25e-6, 0.15e-3, 0.6e-3
_TABLE_STEPS = 16384


@dataclass(frozen=True)
class DiscMap:
    """The pyramid of one side.

    Attributes
    ----------
    cut : CutSurface or None
        None until the movement of every sample is known: then only the levels before :attr:`deep_level` can be drawn.
    disc : DiscFormat
    groove : Groove
        The spiral with its land.
    layers : tuple of Layer
        What can be drawn besides the plain vinyl.
    """

    cut: CutSurface | None
    disc: DiscFormat
    groove: Groove
    layers: tuple[Layer, ...] = ()

    @property
    def levels(self) -> int:
        """Number of the finest level; level 0 is one pixel."""
        return math.ceil(math.log2((self.disc.disc_diameter + 2 * _MARGIN) / FINEST))

    @property
    def deep_level(self) -> int:
        """First level that shows the music's movement, and so needs `cut`."""
        return next(level for level in range(self.levels + 1) if self.scale(level) < _STILL_FROM)

    @property
    def width(self) -> int:
        """Side of the finest level, px."""
        return 1 << self.levels

    def scale(self, level: int) -> float:
        """m per px of a level."""
        return FINEST * float(1 << (self.levels - level))

    def corner(self, level: int, column: int, row: int) -> tuple[float, float]:
        """Upper left corner of a tile, m to the right and down from the disc's centre."""
        half = 0.5 * self.width * FINEST
        return column * TILE * self.scale(level) - half, row * TILE * self.scale(level) - half

    def tile(self, level: int, column: int, row: int, layer: str = VINYL) -> Pixels:
        """Draw one tile.

        Parameters
        ----------
        level, column, row : int
            From 0; level 0 shows everything in one pixel.
        layer : str
            ``"vinyl"``, or the name of one of the layers.

        Returns
        -------
        ndarray, shape (h, w, 4), uint8
            256 by 256, or what is left at the coarsest levels; clear beyond the rim and in the hole.

        Raises
        ------
        CallError
            If there is no such tile or layer, or it cannot be drawn yet.
        """
        indices, colours = self._drawn(level, column, row, layer)
        if indices is not None:
            return np.asarray(_PALETTE[indices])
        assert colours is not None
        return colours

    def png(self, level: int, column: int, row: int, layer: str = VINYL) -> bytes:
        """A tile as PNG; see :meth:`tile`."""
        indices, colours = self._drawn(level, column, row, layer)
        out = BytesIO()
        if indices is not None:
            image = Image.fromarray(indices)
            image.putpalette(_PALETTE[:, :3].tobytes())
            clear = indices.min(initial=255) < _LABEL[0]
            image.save(out, "PNG", compress_level=2, **({"transparency": _PALETTE[:, 3].tobytes()} if clear else {}))
        elif colours is not None:
            opaque = bool(colours[..., 3].min() == 255)
            Image.fromarray(np.ascontiguousarray(colours[..., :3]) if opaque else colours).save(
                out, "PNG", compress_level=2
            )
        return out.getvalue()

    def _drawn(self, level: int, column: int, row: int, layer: str) -> tuple[Pixels | None, Pixels | None]:
        """Indices of a plain tile, or colours of one with a layer on it."""
        self._check(level, column, row)
        if layer == VINYL:
            return self._vinyl(level, column, row, _NOTHING_HIDDEN), None
        chosen = self._layer(layer)
        said = self._said(chosen, level, column, row)
        indices = self._vinyl(level, column, row, said[1])
        if not said[1].any():
            return indices, None
        colours = np.empty((*indices.shape, 4), dtype=np.uint8)
        at = (row + column) * TILE % _HATCH
        kernels.lay_tint(colours, _PALETTE, indices, _TONES[0], *said, chosen.ramp, at, _HATCH, _HATCH_LINE, _INK)
        return None, colours

    def _check(self, level: int, column: int, row: int) -> None:
        if not 0 <= level <= self.levels:
            raise CallError(f"the map has the levels 0 to {self.levels}, and not {level}; ask for one of them.")
        tiles = -(-(1 << level) // TILE)
        if not (0 <= column < tiles and 0 <= row < tiles):
            raise CallError(f"level {level} has {tiles} by {tiles} tiles; ask for one of them.")
        if self.cut is None and level >= self.deep_level:
            raise CallError(
                f"the groove is still being prepared; until it is, ask for a level before {self.deep_level}."
            )

    def _layer(self, name: str) -> Layer:
        found = next((layer for layer in self.layers if layer.name == name), None)
        if found is None:
            names = ", ".join([VINYL, *(layer.name for layer in self.layers)])
            raise CallError(f"the map has no layer {name!r} now; ask for one of these: {names}.")
        return found

    def _place(self, level: int, column: int, row: int) -> tuple[float, float, float]:
        return (*self.corner(level, column, row), self.scale(level))

    def _music(self, level: int) -> tuple[NDArray[np.float32], float, float]:
        """Edges, their rate and how far they move, as the compiled loops take them."""
        if self.cut is None or level < self.deep_level:
            return _STILL, 1.0, 0.0
        # Silence moves no edge; but it is looked at, as at every level as deep.
        return self.cut.read_only, float(self.cut.sample_rate), max(self.cut.swing, 1e-9)

    def _vinyl(self, level: int, column: int, row: int, hidden: NDArray[np.float32]) -> Pixels:
        side = min(TILE, 1 << level)
        out = np.empty((side, side), dtype=np.uint8)
        coat = np.array([
            0.5 * self.disc.disc_diameter, 0.5 * self.disc.label_diameter, 0.5 * self.disc.hole_diameter, _EDGE,
            *_RIM, *_HOLE, *_LABEL,
        ])  # fmt: skip
        walls = self.scale(level) <= _WALLS_TO
        place, music = self._place(level, column, row), self._music(level)
        kernels.vinyl(out, place, self._groove, music, _LIGHT, walls, coat, _SHINE, _TONE, hidden)
        return out

    def _said(self, layer: Layer, level: int, column: int, row: int) -> tuple[NDArray[Any], ...]:
        """Value, how much of the pixel has one, whether it is beyond the limit, and the shade of the walls."""
        shape = (min(TILE, 1 << level),) * 2
        value, known, shade = (np.empty(shape, dtype=np.float32) for _ in range(3))
        over = np.empty(shape, dtype=np.bool_)
        place = self._place(level, column, row)
        dark = float(np.interp(place[2], _DARK_AT, _DARK))
        within = 0.5 * np.array([self.disc.label_diameter - place[2], self.disc.disc_diameter + place[2]])
        kernels.tint(
            value, known, over, shade, place, self._groove, self._music(level), _LIGHT, dark, within,
            (layer.time, layer.place, layer.beyond),
        )  # fmt: skip
        return value, known, over, shade

    @cached_property
    def _groove(self) -> Spiral:
        return spiral_of(self.groove)


def warm() -> None:
    """Draw a few pixels and look once, so that no loop is left to compile when a tile is asked for."""
    time = np.linspace(0.0, 4.0, 9)
    spiral = (time, np.linspace(0.1, 0.0999, 9), np.full(9, 25e-6))
    disc = DiscFormat("", 0.5, 0.3, 0.146, 0.06, 0.053, 1e-3, 6e-3, 3e-3, 9e-3, 1e-3, 0.1, 0.007)
    groove = Groove(*spiral, np.full(9, np.nan), np.zeros(9, dtype=np.bool_), 2.0)
    edges = np.zeros((1, 2), dtype=np.float32)
    layer = Layer("warm", "", "", 0.0, 1.0, 1.0, ((0.0, "#000000"), (1.0, "#ffffff")), time, time[1:], time[1:] > 2.0)
    cut = CutSurface(*spiral, 2.0, 44_100.0, edges)
    DiscMap(cut, disc, groove, (layer,)).png(3, 0, 0, layer.name)
    cut.look(np.zeros(1), np.zeros(1))


def spiral_of(groove: Groove) -> Spiral:
    """What the light of each turn is made of, row by row, as the compiled loops take it; see there."""
    time, turn = groove.time, groove.turn_time

    def radius(at: Float) -> Float:
        return np.interp(at, time, groove.radius, left=np.nan, right=np.nan)

    def depth(at: Float) -> Float:
        return np.interp(at, time, groove.depth)

    # Between each piece and the turn outside it: the gap between the grooves at rest, and what of it the music takes.
    middle = 0.5 * (time[1:] + time[:-1])
    gap = radius(middle - turn) - depth(middle - turn) - radius(middle) - depth(middle)
    land = groove.land[:-1]
    outside = np.clip(np.searchsorted(time, middle - turn, side="right") - 1, 0, len(middle) - 1)
    moved = groove.music[:-1] & groove.music[outside] & np.isfinite(land) & np.isfinite(gap)
    swing = np.where(moved, np.clip(gap - land, 0.0, None), 0.0)
    counts = swing**2 / (swing + _HALF_SWING)
    alone = np.clip((gap - swing - _LONE_FROM) / (_LONE_FULLY - _LONE_FROM), 0.0, 1.0)
    alone[np.isnan(alone)] = 1.0

    def both_sides(value: Float, beyond: float) -> Float:
        result: Float = 0.5 * (np.interp(time, middle, value) + np.interp(time + turn, middle, value, right=beyond))
        return result

    clipped = np.interp(time - turn / 2, time, groove.radius) - np.interp(time + turn / 2, time, groove.radius)
    before = np.interp(time - turn, time, groove.radius) - groove.radius
    spacing = np.maximum(np.where(clipped < 10e-6, before, clipped), 10e-6)
    inward = np.maximum.accumulate(-groove.radius) + 1e-12 * np.arange(len(time)) / len(time)
    columns = [time]
    for value in (groove.radius, groove.depth, both_sides(counts, 0.0), both_sides(alone, 1.0)):
        columns += [value, _rise(value, time)]
    rows = np.stack([*columns, _rise(time, inward), spacing], axis=1)
    span = np.array([
        time[0], time[-1], _TABLE_STEPS / (time[-1] - time[0]), inward[0], _TABLE_STEPS / (inward[-1] - inward[0]),
    ])  # fmt: skip
    time, deepest = np.ascontiguousarray(time, dtype=np.float64), float(groove.depth.max())
    return rows, time, _table(time), inward, _table(inward), span, turn, deepest


def _rise(value: Float, over: Float) -> Float:
    """From each row to the next."""
    rise = np.diff(value) / np.diff(over)
    return np.append(rise, rise[-1])


def _table(values: Float) -> Table:
    """The last row not above each of even steps of rising values."""
    steps = np.linspace(values[0], values[-1], _TABLE_STEPS + 1)
    return np.clip(np.searchsorted(values, steps, side="right") - 1, 0, len(values) - 2).astype(np.int32)


def _toned(light: Float) -> Float:
    """Light to colour, shape (n, 3): a black that is a little cool, a shine that is a little warm."""
    level = np.clip(light, 0.0, 1.0)[:, None] ** (1.0 / 2.2)
    warm, cool = np.array([1.0, 0.985, 0.955]), np.array([0.96, 0.99, 1.03])
    result: Float = 255.0 * level * (cool + (warm - cool) * np.sqrt(level))
    return np.clip(result, 0.0, 255.0)


def _levels() -> Float:
    """Lightness of each index of the run of tones, 0 to 255."""
    return np.concatenate([np.arange(_FULLY_TO), np.linspace(_FULLY_TO + 1, 255, _TONES[1] - _FULLY_TO)])


def _palette() -> Pixels:
    """Red, green, blue and opacity of every index, shape (256, 4)."""
    found = np.zeros((256, 4))
    for (first, count), colour in ((_RIM, _DARK_RGB), (_HOLE, LABEL_EDGE)):
        found[first : first + count, :3] = colour
        found[first : first + count, 3] = np.linspace(0.0, 255.0, count)
        found[first, :3] = PAPER
    stops = np.array([_DARK_RGB, LABEL_EDGE, LABEL], dtype=np.float64)
    run = slice(_LABEL[0], sum(_LABEL))
    for channel in range(3):
        found[run, channel] = np.interp(np.linspace(0.0, 1.0, _LABEL[1]), (0.0, 0.6, 1.0), stops[:, channel])
    found[_TONES[0] :, :3] = _toned((_levels() / 255.0) ** 2.2)
    found[_LABEL[0] :, 3] = 255.0
    return (found + 0.5).astype(np.uint8)


def _tone_indices() -> Pixels:
    """Index of the nearest tone, over the root of the light."""
    levels = _levels()
    wanted = 255.0 * (np.linspace(0.0, 1.0, _TONE_STEPS) ** 2) ** (1.0 / 2.2)
    return (_TONES[0] + np.searchsorted(0.5 * (levels[1:] + levels[:-1]), wanted)).astype(np.uint8)


def _shine() -> Float:
    """Light of still and of swung grooves over the square of the cosine to the light, shape (steps, 2)."""
    across = 2.0 * np.linspace(0.0, 1.0, _SHINE_STEPS) - 2.0
    narrow = np.exp(kernels.NARROW * across) + 0.22 * np.exp(2.0 * across)
    still = kernels.GROOVE_LIGHT + kernels.GROOVE_FLASH * narrow
    return np.stack([still, kernels.SWING_LIGHT + kernels.SWING_FLASH * np.exp(kernels.WIDE * across)], axis=1)


_PALETTE, _TONE, _SHINE = _palette(), _tone_indices(), _shine()
_STILL = np.zeros((1, 2), dtype=np.float32)
_STILL.flags.writeable = False
_NOTHING_HIDDEN = np.zeros((TILE, TILE), dtype=np.float32)
_LIGHT = np.array([-math.sin(2 * math.pi * _LIGHT_FROM), -math.cos(2 * math.pi * _LIGHT_FROM)])
_LAND_INDEX = int(_TONE[round(math.sqrt(kernels.LAND_LIGHT) * (_TONE_STEPS - 1))])
#: Colour of land wherever nothing else falls into the pixel.
LAND = (int(_PALETTE[_LAND_INDEX, 0]), int(_PALETTE[_LAND_INDEX, 1]), int(_PALETTE[_LAND_INDEX, 2]))
