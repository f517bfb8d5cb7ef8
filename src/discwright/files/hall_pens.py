"""Two pens for the same drawing: one makes a picture of pixels, one an SVG that can be searched and read aloud."""

from __future__ import annotations

import io
from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Protocol
from xml.sax.saxutils import escape

from discwright.files.fonts import BOLD, ELLIPSIS, FALLBACK, REGULAR, runs, visible
from discwright.files.picture_file import picture_file
from discwright.files.picture_pen import INK, PAPER, Rgb

#: Closed hours are dotted, changes are hatched.
DOTS, STROKES = "dots", "strokes"
_STEP = {DOTS: 7.0, STROKES: 6.0}
_FONTS = {REGULAR: "DejaVuSans.ttf", BOLD: "DejaVuSans-Bold.ttf", FALLBACK: "DroidSansFallbackFull.ttf"}
Points = Sequence[tuple[float, float]]


class HallPen(Protocol):
    """What a drawing of the press hall asks of a pen; all places in px from the upper left corner."""

    def box(
        self, left: float, top: float, right: float, foot: float, fill: Rgb | None, line: Rgb | None = None,
        width: float = 1.0, dash: bool = False,
    ) -> None:  # fmt: skip
        """A box, filled, outlined, or both."""

    def pattern(self, left: float, top: float, right: float, foot: float, kind: str, ink: Rgb) -> None:
        """A box full of dots or strokes."""

    def line(self, points: Points, ink: Rgb, width: float = 1.0) -> None:
        """A line through points."""

    def shape(self, points: Points, fill: Rgb) -> None:
        """A filled polygon."""

    def text(self, x: float, y: float, words: str, size: int, *, bold: bool = False, anchor: str = "l") -> None:
        """One line of words around the middle height y; x is their left, middle or right."""

    def begin(self, words: str) -> None:
        """What is drawn from here on belongs together and is told in these words."""

    def end(self) -> None:
        """Ends what was begun."""

    def save(self, path: Path) -> None:
        """Write the file, beside and renamed."""


@lru_cache(maxsize=64)
def _font(name: str, size: int) -> Any:
    from PIL import ImageFont

    packed = (files("discwright") / "data" / "fonts" / _FONTS[name]).read_bytes()
    return ImageFont.truetype(io.BytesIO(packed), size)


@lru_cache(maxsize=20_000)
def words_width(words: str, size: int, bold: bool = False) -> float:
    """How wide a line of words is, px.

    Parameters
    ----------
    words : str
    size : int, px
    bold : bool
    """
    return float(sum(_font(name, size).getlength(piece) for name, piece in runs(words, bold)))


def fitted(words: str, most: float, size: int, bold: bool = False) -> str:
    """Words cut to a width, with an ellipsis; nothing where not even three letters fit.

    Parameters
    ----------
    words : str
    most : float, px
    size : int, px
    bold : bool
    """
    words = visible(words)
    if words_width(words, size, bold) <= most:
        return words
    low, high = 0, len(words)
    while low < high:
        middle = (low + high + 1) // 2
        if words_width(words[:middle].rstrip() + ELLIPSIS, size, bold) <= most:
            low = middle
        else:
            high = middle - 1
    return words[:low].rstrip() + ELLIPSIS if low >= 3 else ""


class PixelPen:
    """Draws a PNG.

    Parameters
    ----------
    width, height : int, px
    """

    def __init__(self, width: int, height: int) -> None:
        from PIL import Image, ImageDraw

        self._image = Image.new("RGB", (width, height), PAPER)
        self._draw = ImageDraw.Draw(self._image)

    def box(
        self, left: float, top: float, right: float, foot: float, fill: Rgb | None, line: Rgb | None = None,
        width: float = 1.0, dash: bool = False,
    ) -> None:  # fmt: skip
        edges = (round(left), round(top), max(round(right) - 1, round(left)), max(round(foot) - 1, round(top)))
        solid = line if line is not None and not dash else None
        self._draw.rectangle(edges, fill, solid, max(1, round(width)))
        if dash and line is not None:
            x0, y0, x1, y1 = edges
            for x in range(x0, x1, 10):
                self._draw.line((x, y0, min(x + 5, x1), y0), line, round(width))
                self._draw.line((x, y1, min(x + 5, x1), y1), line, round(width))
            self._draw.line((x0, y0, x0, y1), line, round(width))
            self._draw.line((x1, y0, x1, y1), line, round(width))

    def pattern(self, left: float, top: float, right: float, foot: float, kind: str, ink: Rgb) -> None:
        step = _STEP[kind]
        if kind == DOTS:
            x = left - left % step
            while x < right:
                y = top + (step / 2 if round(x / step) % 2 else 0.0)
                while y < foot:
                    if x >= left:
                        self._draw.point((round(x), round(y)), ink)
                    y += step
                x += step / 2
            return
        high, c = foot - top, left - (foot - top)
        while c < right:
            x0, x1 = max(c, left), min(c + high, right)
            if x1 > x0:
                self._draw.line((x0, foot - 1 - (x0 - c), x1, foot - 1 - (x1 - c)), ink, 1)
            c += step

    def line(self, points: Points, ink: Rgb, width: float = 1.0) -> None:
        self._draw.line([(round(x), round(y)) for x, y in points], ink, max(1, round(width)))

    def shape(self, points: Points, fill: Rgb) -> None:
        self._draw.polygon(list(points), fill)

    def text(self, x: float, y: float, words: str, size: int, *, bold: bool = False, anchor: str = "l") -> None:
        left = x - {"l": 0.0, "m": 0.5, "r": 1.0}[anchor] * words_width(words, size, bold)
        for name, piece in runs(words, bold):
            font = _font(name, size)
            self._draw.text((left, y), piece, INK, font, "lm")
            left += font.getlength(piece)

    def begin(self, words: str) -> None:
        del words

    def end(self) -> None:
        pass

    def save(self, path: Path) -> None:
        """Write the file, beside and renamed.

        Parameters
        ----------
        path : pathlib.Path

        Raises
        ------
        CallError
        """
        with picture_file(path) as part:
            self._image.save(part, format="PNG", compress_level=6)


class VectorPen:
    """Draws an SVG.

    Parameters
    ----------
    width, height : int, px
    """

    def __init__(self, width: int, height: int) -> None:
        dots, strokes = _STEP[DOTS], _STEP[STROKES]
        self._parts = [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}" '
            'role="img" font-family="DejaVu Sans, sans-serif">',
            f'<defs><pattern id="dots" width="{dots:g}" height="{dots:g}" patternUnits="userSpaceOnUse">'
            f'<circle cx="1" cy="1" r="0.7" fill="{_hex(INK)}"/></pattern>'
            f'<pattern id="strokes" width="{strokes:g}" height="{strokes:g}" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate(45)"><path d="M0 0V{strokes:g}" stroke="{_hex(INK)}"/></pattern></defs>',
            f'<rect width="{width}" height="{height}" fill="{_hex(PAPER)}"/>',
        ]

    def box(
        self, left: float, top: float, right: float, foot: float, fill: Rgb | None, line: Rgb | None = None,
        width: float = 1.0, dash: bool = False,
    ) -> None:  # fmt: skip
        paint = f'fill="{"none" if fill is None else _hex(fill)}"'
        if line is not None:
            paint += f' stroke="{_hex(line)}" stroke-width="{width:g}"' + (' stroke-dasharray="5 5"' if dash else "")
        self._rect(left, top, right, foot, paint)

    def pattern(self, left: float, top: float, right: float, foot: float, kind: str, ink: Rgb) -> None:
        del ink
        self._rect(left, top, right, foot, f'fill="url(#{kind})"')

    def _rect(self, left: float, top: float, right: float, foot: float, paint: str) -> None:
        size = f'width="{max(right - left, 0.5):.1f}" height="{foot - top:.1f}"'
        self._parts.append(f'<rect x="{left:.1f}" y="{top:.1f}" {size} {paint}/>')

    def line(self, points: Points, ink: Rgb, width: float = 1.0) -> None:
        self._parts.append(
            f'<polyline points="{_points(points)}" fill="none" stroke="{_hex(ink)}" stroke-width="{width:g}"/>'
        )

    def shape(self, points: Points, fill: Rgb) -> None:
        self._parts.append(f'<polygon points="{_points(points)}" fill="{_hex(fill)}"/>')

    def text(self, x: float, y: float, words: str, size: int, *, bold: bool = False, anchor: str = "l") -> None:
        place = {"l": "start", "m": "middle", "r": "end"}[anchor]
        weight = ' font-weight="bold"' if bold else ""
        self._parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" text-anchor="{place}" dominant-baseline="central" '
            f'fill="{_hex(INK)}"{weight}>{escape(visible(words))}</text>'
        )

    def begin(self, words: str) -> None:
        self._parts.append(f"<g><title>{escape(visible(words))}</title>")

    def end(self) -> None:
        self._parts.append("</g>")

    def save(self, path: Path) -> None:
        """Write the file, beside and renamed.

        Parameters
        ----------
        path : pathlib.Path

        Raises
        ------
        CallError
        """
        text = "\n".join([*self._parts, "</svg>\n"])
        with picture_file(path) as part:
            part.write_text(text, encoding="utf-8", newline="")


def _hex(ink: Rgb) -> str:
    return "#" + "".join(f"{one:02x}" for one in ink)


def _points(points: Points) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
