"""Letters on paper: which typeface has which character, text and numbers that fit, a page and its pen.

DejaVu Sans for all it has, Droid Sans Fallback for Chinese, Japanese and Korean; what neither has is shown as
an empty box, never left out. Text runs from left to right as it is stored: right-to-left scripts are neither
turned nor joined.
"""

from __future__ import annotations

import math
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import as_file, files
from itertools import groupby
from typing import Any

from discwright.findings import Severity

REGULAR, BOLD, FALLBACK = "discwright", "discwright-bold", "discwright-fallback"
#: No type is smaller than this on paper, pt.
LEAST_PT = 7.0
#: Stands for a character that no typeface at hand has.
MISSING = "▯"
ELLIPSIS = "…"

#: Points in a millimetre (exact by definition: 72 in an inch of 25.4 mm).
MM = 72.0 / 25.4
#: A4, mm (ISO 216).
PAGE_MM = (210.0, 297.0)
#: Left edge, width, upper edge and lower edge of what is printed above the foot line, mm.
LEFT, WIDTH, TOP, FOOT = 14.0, 182.0, 11.0, 281.0
RIGHT = LEFT + WIDTH
BLACK, GREY, LIGHT = 0.0, 0.38, 0.72
_COLOUR: dict[Severity, tuple[float, float, float]] = {
    "stop": (0.78, 0.24, 0.17), "warn": (0.88, 0.63, 0.17), "note": (0.41, 0.59, 0.73),
}  # fmt: skip

_FILES = {REGULAR: "DejaVuSans.ttf", BOLD: "DejaVuSans-Bold.ttf", FALLBACK: "DroidSansFallbackFull.ttf"}


def runs(text: str, bold: bool = False) -> list[tuple[str, str]]:
    """Split text into pieces that one typeface can set.

    Parameters
    ----------
    text : str
    bold : bool
        The fallback has no bold and is used as it is.

    Returns
    -------
    list of (str, str)
        Name of a registered font, and the piece in composed form (NFC): control characters are spaces, marks without
        ink are gone, characters no typeface has are :data:`MISSING`.
    """
    known = _register()
    first = BOLD if bold else REGULAR

    def placed(character: str) -> tuple[str, str]:
        for font in (first, FALLBACK):
            if ord(character) in known[font]:
                return font, character
        return first, MISSING

    letters = [placed(c) for c in _inked(text)]
    return [(font, "".join(c for _, c in group)) for font, group in groupby(letters, key=lambda pair: pair[0])]


def visible(text: str) -> str:
    """The text as it will be seen: what :func:`runs` makes of it, in one piece.

    Parameters
    ----------
    text : str
    """
    return "".join(piece for _, piece in runs(text))


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Width of one line of text.

    Parameters
    ----------
    text : str
    size : float, pt
    bold : bool

    Returns
    -------
    float, pt
    """
    from reportlab.pdfbase.pdfmetrics import stringWidth

    return float(sum(stringWidth(piece, font, size) for font, piece in runs(text, bold)))


def fit(text: str, width: float, size: float, bold: bool = False, least: float = LEAST_PT) -> tuple[str, float]:
    """Make one line fit: smaller type first, and where the least is too wide an ellipsis.

    Parameters
    ----------
    text : str
    width : float, pt
    size, least : float, pt
        Wanted and smallest type.
    bold : bool

    Returns
    -------
    text : str
    size : float, pt
    """
    text = visible(text)
    wide = text_width(text, size, bold)
    if wide <= width:
        return text, size
    least = min(least, size)
    if wide * least / size <= width:
        return text, size * width / wide
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if text_width(_cut(text, middle), least, bold) <= width:
            low = middle
        else:
            high = middle - 1
    return _cut(text, low), least


def wrap(text: str, width: float, size: float, bold: bool = False, most: int = 99) -> list[str]:
    """Break text into lines, at spaces where it has any, and between characters where a word is too long.

    Parameters
    ----------
    text : str
    width : float, pt
    size : float, pt
    bold : bool
    most : int
        Lines at most; the last ends with an ellipsis where more would follow.

    Returns
    -------
    list of str
    """
    lines: list[str] = []
    line = ""
    words = visible(text).split()
    while words:
        word = words.pop(0)
        longer = f"{line} {word}" if line else word
        if text_width(longer, size, bold) <= width:
            line = longer
        elif line:
            lines.append(line)
            line = ""
            words.insert(0, word)
        else:
            count = _that_fit(word, width, size, bold)
            lines.append(word[:count])
            words[:0] = [word[count:]] if word[count:] else []
    if line:
        lines.append(line)
    if len(lines) > most:
        rest = lines[most - 1] + " " + lines[most]
        lines = [*lines[: most - 1], fit(f"{rest} {'m' * 400}", width, size, bold, size)[0]]
    return lines


def minus(text: str) -> str:
    """Hyphens as minus signs, which are as wide as a plus.

    Parameters
    ----------
    text : str
    """
    return text.replace("-", "−")


def signed(value: float, plus: str = "+") -> str:
    """One decimal, with a sign, never minus nothing.

    Parameters
    ----------
    value : float
    plus : str
        Empty for a sign on negative values only.
    """
    return minus(f"{round(value, 1) + 0.0:{plus}.1f}")


def plain(value: float) -> str:
    """Four digits that count, as findings are shown everywhere.

    Parameters
    ----------
    value : float
    """
    return minus(f"{value:.4g}" if abs(value) < 1000 else f"{value:.0f}")


def _that_fit(word: str, width: float, size: float, bold: bool) -> int:
    """How many characters of a word fit in a line, one at least."""
    count = 1
    while count < len(word) and text_width(word[: count + 1], size, bold) <= width:
        count += 1
    return count


def _cut(text: str, count: int) -> str:
    """The first characters and an ellipsis; no space before it, no accent torn from its letter."""
    if count >= len(text):
        return text
    while count > 0 and unicodedata.combining(text[count]):
        count -= 1
    return text[:count].rstrip() + ELLIPSIS


def _inked(text: str) -> str:
    """Composed, with spaces for control characters and without marks that have no ink."""
    kept = []
    for character in unicodedata.normalize("NFC", text):
        category = unicodedata.category(character)
        if category in ("Cc", "Zl", "Zp"):
            kept.append(" ")
        elif category != "Cf" and not 0xFE00 <= ord(character) <= 0xFE0F:
            kept.append(character)
    return "".join(kept)


@dataclass(frozen=True)
class Pen:
    """Draws on a reportlab canvas in mm from the upper left corner of the page; type in pt, grey 0 is black."""

    canvas: Any

    def text(
        self, x: float, y: float, text: str, size: float = 8.5, *, bold: bool = False, grey: float = BLACK,
        width: float = math.inf, align: str = "left", least: float = 7.0,
    ) -> None:  # fmt: skip
        """One line with its foot at `y`, made to fit `width`; `align` says which of its ends, or middle, `x` is."""
        if not text:
            return
        text, size = fit(text, width * MM, size, bold, least)
        left = x * MM - {"left": 0.0, "middle": 0.5, "right": 1.0}[align] * text_width(text, size, bold)
        line = self.canvas.beginText(left, (PAGE_MM[1] - y) * MM)
        line.setFillGray(grey)
        for font, piece in runs(text, bold):
            line.setFont(font, size)
            line.textOut(piece)
        self.canvas.drawText(line)

    def line(self, x0: float, y0: float, x1: float, y1: float, grey: float = BLACK, points: float = 0.4) -> None:
        """A straight line, `points` pt thick."""
        self.canvas.setStrokeGray(grey)
        self.canvas.setLineWidth(points)
        self.canvas.line(x0 * MM, (PAGE_MM[1] - y0) * MM, x1 * MM, (PAGE_MM[1] - y1) * MM)

    def box(self, x: float, y: float, width: float, height: float, points: float = 0.5, grey: float = BLACK) -> None:
        """An empty rectangle, `y` its upper edge."""
        self.canvas.setStrokeGray(grey)
        self.canvas.setLineWidth(points)
        self.canvas.rect(x * MM, (PAGE_MM[1] - y - height) * MM, width * MM, height * MM)

    def shape(self, severity: Severity, x: float, y: float, half: float) -> None:
        """A square for a stop, a triangle for a warning, a round for a note, around (x, y)."""
        self.canvas.setFillColorRGB(*_COLOUR[severity])
        self.canvas.setStrokeGray(BLACK)
        self.canvas.setLineWidth(0.5)
        centre = (x * MM, (PAGE_MM[1] - y) * MM)
        reach = half * MM
        if severity == "note":
            self.canvas.circle(*centre, reach, fill=1)
        elif severity == "stop":
            self.canvas.rect(centre[0] - reach, centre[1] - reach, 2 * reach, 2 * reach, fill=1)
        else:
            corners = [(0.0, 1.15), (-1.15, -0.85), (1.15, -0.85)]
            self.path([(centre[0] + a * reach, centre[1] + b * reach) for a, b in corners], fill=True, stroke=True)

    def path(self, places: list[tuple[float, float]], *, fill: bool = False, stroke: bool = False) -> None:
        """A closed polygon of places in pt."""
        path = self.canvas.beginPath()
        path.moveTo(*places[0])
        for place in places[1:]:
            path.lineTo(*place)
        path.close()
        self.canvas.drawPath(path, fill=int(fill), stroke=int(stroke))


@lru_cache(maxsize=1)
def _register() -> dict[str, frozenset[int]]:
    """Make the typefaces known to reportlab, once, and tell which characters each has."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    known = {}
    for name, file in _FILES.items():
        with as_file(files("discwright") / "data" / "fonts" / file) as path:
            font = TTFont(name, str(path))
        pdfmetrics.registerFont(font)
        # Beyond four hexadecimal digits reportlab's table for reading text back is wrong: those count as missing.
        known[name] = frozenset(code for code in font.face.charToGlyph if code <= 0xFFFF)
    return known
