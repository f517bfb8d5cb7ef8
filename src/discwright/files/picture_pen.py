"""A pen for pictures reckoned in units of a sheet: words, lines with dashes, boxes, rings."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import cycle

import numpy as np
from PIL import ImageDraw, ImageFont

Rgb = tuple[int, int, int]
Points = Sequence[Sequence[float]]

PAPER: Rgb = (252, 251, 248)
INK: Rgb = (52, 50, 46)


class PicturePen:
    """Draws in units of a sheet, whatever its size in pixels.

    Parameters
    ----------
    draw : PIL.ImageDraw.ImageDraw
    scale : float
        px per unit.
    """

    def __init__(self, draw: ImageDraw.ImageDraw, scale: float) -> None:
        self._draw, self._scale = draw, scale
        self._font = lru_cache(lambda size: ImageFont.load_default(size * scale))

    def width(self, words: str, size: int) -> float:
        """How wide words of a size are."""
        return float(self._draw.textlength(words, self._font(size))) / self._scale

    def text(
        self, x: float, y: float, words: str, size: int, colour: Rgb = INK, anchor: str = "la", most: float = 1e9
    ) -> None:
        """Words on one line; too long for `most`, they lose what lies a third before their end."""
        shown, kept = words, len(words)
        while kept and self.width(shown, size) > most:
            kept -= 1
            shown = f"{words[: kept - kept // 3].rstrip()}...{words[len(words) - kept // 3 :].lstrip()}"
        self._draw.text((x * self._scale, y * self._scale), shown, colour, self._font(size), anchor)

    def line(self, points: Points, colour: Rgb, width: float, dash: tuple[int, ...] = ()) -> None:
        """A line through points; lengths of dash, gap, dash ... or solid."""
        for piece in _dashed(points, dash):
            fine = [(x * self._scale, y * self._scale) for x, y in piece]
            self._draw.line(fine, colour, max(1, round(width * self._scale)), "curve")

    def box(self, left: float, top: float, right: float, foot: float, colour: Rgb) -> None:
        """A filled box, at least a pixel either way."""
        edges = [round(edge * self._scale) for edge in (left, top, right, foot)]
        self._draw.rectangle((edges[0], edges[1], max(edges[2] - 1, edges[0]), max(edges[3] - 1, edges[1])), colour)

    def ring(self, x: float, y: float, radius: float) -> None:
        """A ring of ink around paper."""
        edges = (x - radius, y - radius, x + radius, y + radius)
        self._draw.ellipse([edge * self._scale for edge in edges], PAPER, INK, round(2 * self._scale))


def _dashed(points: Points, dash: tuple[int, ...]) -> list[Points]:
    """A line in pieces: its dashes, or all of it without a pattern."""
    if not dash:
        return [points]
    xs, ys = np.array(points).T
    way = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(xs), np.diff(ys)))])
    pieces: list[Points] = []
    at = 0.0
    for k, length in enumerate(cycle(dash)):
        if at >= way[-1]:
            break
        to = min(at + length, way[-1])
        if k % 2 == 0:
            corners = way[np.searchsorted(way, at, "right") : np.searchsorted(way, to, "left")]
            along = np.concatenate([[at], corners, [to]])
            pieces.append(np.column_stack([np.interp(along, way, xs), np.interp(along, way, ys)]).tolist())
        at = to
    return pieces
