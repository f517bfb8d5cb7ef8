"""Tiles of the disc map: squares of 256 pixels at any zoom, from the whole face down to half a micron a pixel."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from discwright.errors import CallError
from discwright.files.picture_shading import PAPER, Groove, face
from discwright.groove.equipment import DiscFormat
from discwright.groove.sight.cut import CutSurface

Float = NDArray[np.float64]
Pixels = NDArray[np.uint8]

#: Side of a tile, px, and the finest scale, m per px.
TILE, FINEST = 256, 0.5e-6
#: Margin around the disc, m.
_MARGIN = 4e-3
#: Coarser than this, m per px, a tile is cut from one picture of the whole face.
_FACE_FROM = 40e-6
#: Rays asked in each pixel, along the radius and across it, where grooves are only a few pixels wide.
_RAYS = 2
#: Where the light falls from, turns anticlockwise from 12 o'clock, as in the picture of the disc.
_LIGHT_FROM = 0.13
_LAND, _WALL, _BOTTOM = (92.0, 88.0, 82.0), (40.0, 38.0, 36.0), (18.0, 17.0, 16.0)
#: How much brighter a wall is that faces the light.
_FLASH = 150.0


@dataclass(frozen=True)
class DiscMap:
    """The pyramid of one side.

    Attributes
    ----------
    cut : CutSurface
    disc : DiscFormat
    groove : Groove
        The same spiral for the picture of the whole face.
    """

    cut: CutSurface
    disc: DiscFormat
    groove: Groove

    @property
    def levels(self) -> int:
        """Number of the finest level; level 0 is one pixel."""
        return math.ceil(math.log2((self.disc.disc_diameter + 2 * _MARGIN) / FINEST))

    @property
    def width(self) -> int:
        """Side of the finest level, px."""
        return 1 << self.levels

    def scale(self, level: int) -> float:
        """m per px of a level."""
        return FINEST * float(1 << (self.levels - level))

    def tile(self, level: int, column: int, row: int) -> Pixels:
        """Draw one tile.

        Parameters
        ----------
        level, column, row : int
            From 0; level 0 shows everything in one pixel.

        Returns
        -------
        ndarray, shape (h, w, 3), uint8
            256 by 256, or what is left at the coarsest levels.

        Raises
        ------
        CallError
            If there is no such tile.
        """
        if not 0 <= level <= self.levels:
            raise CallError(f"the map has the levels 0 to {self.levels}, and not {level}; ask for one of them.")
        side = 1 << level
        tiles = -(-side // TILE)
        if not (0 <= column < tiles and 0 <= row < tiles):
            raise CallError(f"level {level} has {tiles} by {tiles} tiles; ask for one of them.")
        if self.scale(level) > _FACE_FROM:
            whole = self._faces[level]
            return whole[row * TILE : (row + 1) * TILE, column * TILE : (column + 1) * TILE]
        return self._looked(level, column, row)

    def png(self, level: int, column: int, row: int) -> bytes:
        """A tile as PNG; see :meth:`tile`."""
        out = BytesIO()
        Image.fromarray(self.tile(level, column, row)).save(out, "PNG", compress_level=3)
        return out.getvalue()

    def corner(self, level: int, column: int, row: int) -> tuple[float, float]:
        """Upper left corner of a tile, m to the right and down from the disc's centre."""
        half = 0.5 * self.width * FINEST
        return column * TILE * self.scale(level) - half, row * TILE * self.scale(level) - half

    @cached_property
    def _faces(self) -> dict[int, Pixels]:
        """The whole face at every coarse level."""
        finest = max(level for level in range(self.levels + 1) if self.scale(level) > _FACE_FROM)
        size = 1 << finest
        image = Image.fromarray(face(self.groove, self.disc, size, 1.0 / self.scale(finest)))
        found = {finest: np.asarray(image)}
        for level in range(finest - 1, -1, -1):
            image = image.resize((1 << level, 1 << level), Image.Resampling.BOX)
            found[level] = np.asarray(image)
        return found

    def _looked(self, level: int, column: int, row: int) -> Pixels:
        """Every pixel asked what stands there; where pixels are coarse, in several places."""
        scale = self.scale(level)
        left, top = self.corner(level, column, row)
        rays = 1 if scale <= 4 * FINEST else _RAYS
        steps = (np.arange(TILE * rays) + 0.5) * (scale / rays)
        x, y = np.meshgrid(left + steps, top + steps)
        colour = self._shaded(x, y)
        if rays > 1:
            colour = colour.reshape(TILE, rays, TILE, rays, 3).mean(axis=(1, 3))
        result: Pixels = np.clip(colour + 0.5, 0.0, 255.0).astype(np.uint8)
        return result

    def _shaded(self, x: Float, y: Float) -> Float:
        r = np.hypot(x, y)
        sight = self.cut.look(x, y)
        light = 2 * np.pi * _LIGHT_FROM
        # The inner wall looks outward, the outer one inward.
        facing = -sight.wall * (-x * math.sin(light) - y * math.cos(light)) / np.maximum(r, 1e-9)
        half = np.interp(sight.time, self.cut.time, self.cut.depth, left=1.0, right=1.0)
        deep = np.clip(sight.depth / np.maximum(half, 1e-9), 0.0, 1.0)[..., None]
        wall = (
            np.array(_WALL)
            + (np.array(_BOTTOM) - np.array(_WALL)) * deep
            + _FLASH * np.maximum(facing, 0.0)[..., None] * (1 - 0.6 * deep)
        )
        colour = np.where((sight.wall != 0)[..., None], wall, np.array(_LAND))
        colour[r > 0.5 * self.disc.disc_diameter] = PAPER
        colour[r < 0.5 * self.disc.label_diameter] = (216.0, 203.0, 172.0)
        colour[r < 0.5 * self.disc.hole_diameter] = PAPER
        return colour
