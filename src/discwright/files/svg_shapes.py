"""Shapes that tell things apart without colour, as corners for any pen, and the few elements an SVG is written with."""

from __future__ import annotations

import math
from typing import Literal
from xml.sax.saxutils import escape, quoteattr

Shape = Literal["circle", "square", "triangle", "diamond"]
Corner = tuple[float, float]

_CORNERS: dict[str, tuple[Corner, ...]] = {
    "square": ((-0.85, -0.85), (0.85, -0.85), (0.85, 0.85), (-0.85, 0.85)),
    "triangle": ((0.0, -1.1), (1.05, 0.8), (-1.05, 0.8)),
    "diamond": ((0.0, -1.2), (1.2, 0.0), (0.0, 1.2), (-1.2, 0.0)),
    "circle": tuple((math.cos(k * math.pi / 24), math.sin(k * math.pi / 24)) for k in range(48)),
}
#: What XML 1.0 cannot hold, and what would turn the direction of a line.
_NOT_IN_XML = dict.fromkeys((*range(9), 11, 12, *range(14, 32), 0xFFFE, 0xFFFF), "\N{REPLACEMENT CHARACTER}")
_TURNING = dict.fromkeys((0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)), None)


def corners(shape: Shape, x: float, y: float, reach: float) -> tuple[Corner, ...]:
    """Corners of a shape around a point; of a circle, 48 of them.

    Parameters
    ----------
    shape : {"circle", "square", "triangle", "diamond"}
    x, y : float
    reach : float
        From the middle to a corner, about.
    """
    return tuple((x + reach * across, y + reach * down) for across, down in _CORNERS[shape])


def shape_element(shape: Shape, x: float, y: float, reach: float, attributes: str, title: str = "") -> str:
    """A shape as an SVG element.

    Parameters
    ----------
    shape : {"circle", "square", "triangle", "diamond"}
    x, y, reach : float
    attributes : str
        Fill and stroke, as they stand in the element.
    title : str
        Said where a pointer rests on it, or read aloud.
    """
    said = f"<title>{plain_xml(title)}</title>" if title else ""
    if shape == "circle":
        return f'<circle cx="{x:.3f}" cy="{y:.3f}" r="{reach:.3f}" {attributes}>{said}</circle>'
    points = " ".join(f"{across:.3f},{down:.3f}" for across, down in corners(shape, x, y, reach))
    return f'<polygon points="{points}" {attributes}>{said}</polygon>'


def words_element(x: float, y: float, words: str, size: float, attributes: str = "", anchor: str = "start") -> str:
    """A line of words; `y` is its foot.

    Parameters
    ----------
    x, y : float
    words : str
        Whatever it holds, it is text and nothing else.
    size : float
    attributes : str
    anchor : {"start", "middle", "end"}
    """
    return (
        f'<text x="{x:.3f}" y="{y:.3f}" font-size="{size:g}" text-anchor="{anchor}" {attributes}>'
        f"{plain_xml(words)}</text>"
    )


def svg_document(box: tuple[float, float, float, float], title: str, elements: list[str]) -> str:
    """An SVG document.

    Parameters
    ----------
    box : (float, float, float, float)
        Left, top, width and height of the view.
    title : str
        What the picture shows, for those who hear it.
    elements : list of str
    """
    view = " ".join(f"{one:g}" for one in box)
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}" role="img" aria-label={attribute_text(title)} '
            'font-family="system-ui, sans-serif">',
            *elements,
            "</svg>",
            "",
        ]
    )


def attribute_text(text: str) -> str:
    """A text as an attribute, quotes around it.

    Parameters
    ----------
    text : str
    """
    return quoteattr(_clean(text))


def plain_xml(text: str) -> str:
    """A text as the content of an element.

    Parameters
    ----------
    text : str
    """
    return escape(_clean(text))


def _clean(text: str) -> str:
    whole = text.encode("utf-8", "replace").decode("utf-8")
    return whole.translate(_TURNING).translate(_NOT_IN_XML)
