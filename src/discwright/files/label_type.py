"""Type on labels: as large as fits, every length measured once, and thousands of labels without measuring again."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from discwright.files.fonts import BOLD, MISSING, MM, REGULAR, fit, runs, text_width, visible

#: Height of a capital in the typeface, of its size.
CAPITAL = 0.729
#: From line to line, and the least type on a label, pt.
LEADING, LEAST_PT = 1.18, 7.0
#: At and above this size no word is broken.
_WHOLE_WORDS_PT = 9.0


@dataclass(frozen=True)
class Block:
    """Lines that fit a place.

    Attributes
    ----------
    lines : tuple of str
    size : float, pt
    cut : bool
        Not even the least type had room for all.
    """

    lines: tuple[str, ...]
    size: float
    cut: bool


def fit_block(lines: Sequence[str], width: float, height: float, most: float, whole: int) -> Block:
    """The largest type in which lines fit a place, broken at spaces where that makes it larger.

    Parameters
    ----------
    lines : sequence of str
    width, height : float, pt
    most : float, pt
        Type is no larger than this.
    whole : int
        So many of the last lines are not broken: town, postcode and country.

    Returns
    -------
    Block
    """
    words = [[(word, _em_width(word)) for word in visible(line).split()] for line in lines]
    space = _em_width(" ")
    size = most
    while size >= LEAST_PT:
        broken = _broken(words, width / size, space, whole, size)
        if broken is not None and len(broken) * LEADING * size <= height:
            return Block(tuple(broken), size, False)
        size -= 0.5
    room = max(1, int(height / (LEADING * LEAST_PT)))
    kept = [fit(line, width, LEAST_PT, True)[0] for line in lines]
    return Block((*kept[: room - 1], kept[-1]), LEAST_PT, True)


def _broken(
    words: Sequence[Sequence[tuple[str, float]]], width: float, space: float, whole: int, size: float
) -> list[str] | None:
    """The lines at a width in ems; None where a word is too long or a line that must stay whole does not fit."""
    made: list[str] = []
    for number, line in enumerate(words):
        used, begun = 0.0, len(made)
        for word, wide in line:
            if wide > width:
                if size >= _WHOLE_WORDS_PT:
                    return None
                *pieces, word = _torn(word, width)
                made += pieces
                used, wide = 0.0, _em_width(word)
            if used and used + space + wide <= width:
                made[-1] += f" {word}"
                used += space + wide
            else:
                made.append(word)
                used = wide
        if len(made) - begun > 1 and number >= len(words) - whole and size >= _WHOLE_WORDS_PT:
            return None
    return made


def _torn(word: str, width: float) -> list[str]:
    """A word of a script without spaces, or far too long, between its letters."""
    pieces, used = [""], 0.0
    for letter in word:
        wide = _em_width(letter)
        if pieces[-1] and used + wide > width:
            pieces.append("")
            used = 0.0
        pieces[-1] += letter
        used += wide
    return pieces


@lru_cache(maxsize=65536)
def _em_width(word: str) -> float:
    """Width of bold type of one point."""
    return text_width(word, 1000.0, True) / 1000.0


@lru_cache(maxsize=16384)
def _set(text: str, size: float, bold: bool, width: float) -> tuple[tuple[tuple[str, str], ...], float, float]:
    """Pieces by typeface, size and width of a line that fits."""
    if text.isascii() and text.isprintable():
        from reportlab.pdfbase.pdfmetrics import stringWidth

        font = BOLD if bold else REGULAR
        wide = float(stringWidth(text, font, size))
        if wide <= width:
            return ((font, text),), size, wide
    text, size = fit(text, width, size, bold)
    return tuple(runs(text, bold)), size, text_width(text, size, bold)


@dataclass(frozen=True)
class Ink:
    """Draws text on a canvas in mm from a label's upper left corner, the canvas being moved there."""

    canvas: Any

    def text(
        self, x: float, y: float, text: str, size: float, *, bold: bool = False, width: float = 1e3,
        align: str = "left",
    ) -> None:  # fmt: skip
        """One line with its foot at `y`, made to fit `width` mm; `align` says which of its ends, or middle, `x` is."""
        if not text:
            return
        pieces, size, wide = _set(text, size, bold, width * MM)
        at = x * MM - {"left": 0.0, "middle": 0.5, "right": 1.0}[align] * wide
        for font, piece in pieces:
            self.canvas.setFont(font, size)
            self.canvas.drawString(at, -y * MM, piece)
            if len(pieces) > 1:
                at += text_width(piece, size, bold)

    def line(self, x0: float, y0: float, x1: float, y1: float, points: float = 0.4) -> None:
        """A straight line, `points` pt thick."""
        self.canvas.setLineWidth(points)
        self.canvas.line(x0 * MM, -y0 * MM, x1 * MM, -y1 * MM)

    def box(self, x: float, y: float, width: float, height: float, points: float = 0.5, filled: bool = False) -> None:
        """A rectangle, `y` its upper edge."""
        self.canvas.setLineWidth(points)
        self.canvas.rect(x * MM, -(y + height) * MM, width * MM, height * MM, stroke=1, fill=int(filled))

    def triangle(self, x: float, y: float, half: float) -> None:
        """A triangle that stands on its side, around (x, y)."""
        path = self.canvas.beginPath()
        path.moveTo(x * MM, -(y - half) * MM)
        path.lineTo((x - half) * MM, -(y + half) * MM)
        path.lineTo((x + half) * MM, -(y + half) * MM)
        path.close()
        self.canvas.drawPath(path, stroke=1, fill=1)


def runs_backwards(text: str) -> bool:
    """Whether there is script in it that runs from right to left.

    Parameters
    ----------
    text : str
    """
    return not text.isascii() and any(unicodedata.bidirectional(c) in ("R", "AL") for c in text)


def lacks_letters(text: str) -> bool:
    """Whether no typeface at hand has one of its characters.

    Parameters
    ----------
    text : str
    """
    return not text.isascii() and MISSING in visible(text) and MISSING not in text
