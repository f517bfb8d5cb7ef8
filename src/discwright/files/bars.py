"""GS1-128 bars: which stripes are dark, in modules that are whole dots of the printer.

The library encodes (FNC1 first, code set C, check character) and this module places: one path for all bars of a symbol,
on whole dots, so that a label printer makes every bar as wide as it was meant.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

from discwright.errors import CallError
from discwright.files.fonts import MM

#: Modules of white on both sides.
QUIET = 10
#: Printers this is meant for.
DPI = (100, 2400)
_FNC1 = "\xf1"


def module_dots(dpi: int, least_mm: float, most_mm: float) -> int:
    """Dots of one module: the fewest that are not below the least width.

    Parameters
    ----------
    dpi : int
        Dots in an inch of the printer.
    least_mm, most_mm : float
        Widths that are allowed.

    Returns
    -------
    int

    Raises
    ------
    CallError
        If no whole number of dots is within them.
    """
    if not DPI[0] <= dpi <= DPI[1]:
        raise CallError(f"a printer of {dpi} dots to the inch is none; give {DPI[0]} to {DPI[1]}, mostly 203 or 300.")
    dots = math.ceil(least_mm * dpi / 25.4 - 1e-9)
    if dots * 25.4 / dpi > most_mm:
        raise CallError(
            f"a printer of {dpi} dots to the inch has no module from {least_mm:g} to {most_mm:g} mm; take a finer one."
        )
    return dots


@lru_cache(maxsize=4096)
def stripes(elements: str) -> tuple[tuple[int, int], ...]:
    """Where the dark stripes of an element string are.

    Parameters
    ----------
    elements : str
        As :func:`discwright.works.gs1.element_string` makes it.

    Returns
    -------
    tuple of (int, int)
        Left edge and width of each, in modules from the first bar.
    """
    from reportlab.graphics.barcode.code128 import Code128

    code = Code128(_FNC1 + elements, quiet=0)
    code.validate()
    code.encode()
    found, at = [], 0
    for letter in code.decompose():
        wide = ord(letter.upper()) - ord("A") + 1
        if letter.isupper():
            found.append((at, wide))
        at += wide
    return tuple(found)


def modules(elements: str) -> int:
    """Width of a symbol without its white, in modules.

    Parameters
    ----------
    elements : str
    """
    left, wide = stripes(elements)[-1]
    return left + wide


def draw_bars(canvas: Any, elements: str, x: float, y: float, module: float, height: float) -> None:
    """Draw bars as one path.

    Parameters
    ----------
    canvas : reportlab.pdfgen.canvas.Canvas
    elements : str
    x, y : float, mm
        Lower left corner of the first bar, from the canvas's own lower left corner.
    module, height : float, mm
    """
    path = canvas.beginPath()
    low, tall, left, wide = y * MM, height * MM, x * MM, module * MM
    for at, count in stripes(elements):
        path.rect(left + at * wide, low, count * wide, tall)
    canvas.setFillGray(0)
    canvas.drawPath(path, stroke=0, fill=1)
