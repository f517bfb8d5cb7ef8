"""The picture of a disc that has not been cut yet, drawn from its plan.

Seen from the side that is played, lying still. A record turns clockwise, so the music runs anticlockwise:
every whole turn (t = 0, T, 2T ...) stands at 12 o'clock, a quarter of a turn later is at 9 o'clock.
"""

from __future__ import annotations

import math
import os
import textwrap
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from discwright.errors import CallError
from discwright.files.picture_shading import PAPER, Groove, Rgb, face
from discwright.findings import Finding, Severity
from discwright.groove.equipment import DiscFormat
from discwright.units import clock

#: Radius of the disc as a share of the picture's side; the rest is margin for words.
DISC_SHARE = 0.462
#: Findings marked at most.
FINDINGS_SHOWN = 6

_MIN_SIZE_PX = 200
_MARGIN = 0.022
_TEXT = 0.0105
_CORNER_LINES = 7
_LINE = 0.018
_INK: Rgb = (52, 50, 46)
_FAINT_INK: Rgb = (128, 123, 113)
_FILL: dict[Severity, Rgb] = {"stop": (200, 62, 44), "warn": (224, 160, 44), "note": (104, 150, 186)}
_CORNERS: dict[Severity, int] = {"stop": 4, "warn": 3, "note": 24}
_BADNESS: tuple[Severity, ...] = ("stop", "warn", "note")
#: Shapes are drawn this many times larger and reduced, for smooth edges.
_FINE = 4
_BEYOND_ASCII = "·°“”’"
_NEAREST = str.maketrans(
    {"⅓": " 1/3", "½": " 1/2", "–": "-", "—": "-", "−": "-", "×": "x", "µ": "u", "→": "to", "⁄": "/"}
    | {"ß": "ss", "ø": "o", "Ø": "O", "æ": "ae", "Æ": "Ae", "œ": "oe", "′": "'", "″": '"'}
)

Box = tuple[float, float, float, float]
Font = ImageFont.FreeTypeFont | ImageFont.ImageFont


class SpiralRows(Protocol):
    """A planned spiral as rows in time, SI; radius and depth are linear between the rows.

    Attributes
    ----------
    time, turn, radius, pitch, depth, land : ndarray, shape (n,)
        s, turns, m, m per turn, m, m; land is that between the piece that begins here and the turn
        outside it, nan where there is none.
    zone : ndarray of str, shape (n,)
        lead_in, fine, music, join, lead_out or stop: of the piece that begins here.
    """

    @property
    def time(self) -> NDArray[np.float64]: ...
    @property
    def turn(self) -> NDArray[np.float64]: ...
    @property
    def zone(self) -> NDArray[np.str_]: ...
    @property
    def radius(self) -> NDArray[np.float64]: ...
    @property
    def pitch(self) -> NDArray[np.float64]: ...
    @property
    def depth(self) -> NDArray[np.float64]: ...
    @property
    def land(self) -> NDArray[np.float64]: ...


@dataclass(frozen=True)
class _Sheet:
    """From places on the disc to places on the picture, px from the upper left corner."""

    image: Image.Image
    pen: ImageDraw.ImageDraw
    size: int
    scale: float
    turn_time: float

    def at(self, radius: float, time: float) -> tuple[float, float]:
        angle = 2.0 * math.pi * time / self.turn_time
        reach = max(0.0, radius) * self.scale
        return self.size / 2 - reach * math.sin(angle), self.size / 2 - reach * math.cos(angle)

    def font(self, share: float = _TEXT) -> Font:
        return ImageFont.load_default(max(6.0, share * self.size))


def draw_disc(
    path: Path,
    spiral: SpiralRows,
    disc: DiscFormat,
    *,
    bands: Sequence[tuple[float, float]],
    findings: Sequence[Finding],
    caption: str,
    size_px: int = 2400,
) -> None:
    """Draw the face of a disc from its plan and write it as PNG.

    Dense quiet grooves are dark and smooth, loud ones lighter and rougher: the lightness follows the share of
    each pitch that the moving walls cross. Joins, lead-in and lead-out are single lines. The typeface at hand
    knows only the basic Latin letters; others are written as near as it can.

    Parameters
    ----------
    path : Path
        Written beside and renamed, so that it is whole or not there.
    spiral : SpiralRows
    disc : DiscFormat
    bands : sequence of (float, float)
        Start and end of each band, s.
    findings : sequence of Finding
        The worst few are marked, stops first, by shape and word.
    caption : str
        For the label; the first of its lines is the title.
    size_px : int
        Side of the square picture, px.

    Raises
    ------
    CallError
        If the picture is too small to hold its words, or the spiral has fewer than two rows.
    OSError
        If the file cannot be written.
    """
    if size_px < _MIN_SIZE_PX:
        raise CallError(f"A picture of {size_px} px is too small; ask for at least {_MIN_SIZE_PX} px.")
    if len(spiral.time) < 2:
        raise CallError("The spiral has no length to draw; plan a side with music in it.")
    music = np.isin(spiral.zone, ("fine", "music"))
    groove = Groove(spiral.time, spiral.radius, spiral.depth, spiral.land, music, disc.turn_time)
    scale = DISC_SHARE * size_px / (0.5 * disc.disc_diameter)
    image = Image.fromarray(face(groove, disc, size_px, scale))
    sheet = _Sheet(image, ImageDraw.Draw(image), size_px, scale, disc.turn_time)
    _write_orientation(sheet)
    _write_label(sheet, 0.5 * disc.label_diameter * scale, caption)
    taken = _write_bands(sheet, spiral, bands)
    _mark_findings(sheet, findings, taken)
    part = path.with_name(path.name + ".part")
    image.save(part, format="PNG", compress_level=4)
    os.replace(part, path)


def _write_orientation(sheet: _Sheet) -> None:
    """A mark at 12 o'clock where every turn begins, and a word on which way the music runs."""
    tip = (0.5 - DISC_SHARE - 0.004) * sheet.size
    half = 0.0045 * sheet.size
    _stamp(sheet.image, (sheet.size / 2, tip - half), half, 3, _FAINT_INK, point_down=True)
    place = (_MARGIN * sheet.size, _MARGIN * sheet.size)
    words = "Seen as it is played; turns begin\nat the mark and run anticlockwise."
    sheet.pen.multiline_text(place, words, _FAINT_INK, sheet.font(), spacing=0.005 * sheet.size)


def _write_label(sheet: _Sheet, radius: float, caption: str) -> None:
    """The title above the hole, the other lines below it, each shrunk to its chord of the label."""
    lines = [plain_letters(line.strip()) for line in caption.splitlines() if line.strip()]
    title = textwrap.wrap(lines[0], 20)[:2] if lines else []
    placed = [(-0.44 + 0.17 * (k + 1 - len(title)), text, 0.15) for k, text in enumerate(title)]
    placed += [(0.34 + 0.125 * k, text, 0.092) for k, text in enumerate(lines[1:5])]
    for height, text, share in placed:
        chord = 1.7 * radius * math.sqrt(1.0 - height**2)
        wide = sheet.pen.textlength(text, ImageFont.load_default(share * radius))
        font = ImageFont.load_default(max(6.0, share * radius * min(1.0, chord / wide)))
        sheet.pen.text((sheet.size / 2, sheet.size / 2 + height * radius), text, _INK, font, anchor="mm")


def _write_bands(sheet: _Sheet, spiral: SpiralRows, bands: Sequence[tuple[float, float]]) -> list[Box]:
    """The bands by number on the disc, in its darker sector, and by time in the lower left corner.

    Returns the places the numbers take, for other words to keep away from.
    """
    rows = min(len(bands), _CORNER_LINES)
    taken: list[Box] = []
    for k, (start, end) in enumerate(bands):
        radius = float(np.interp(0.5 * (start + end), spiral.time, spiral.radius))
        x, y = sheet.at(radius, 0.88 * sheet.turn_time)
        half = 0.008 * sheet.size
        taken.append((x - half, y - half, x + half, y + half))
        sheet.pen.text((x, y), str(k + 1), PAPER, sheet.font(0.013), anchor="mm")
        column, row = divmod(k, _CORNER_LINES)
        left = (_MARGIN + 0.125 * column) * sheet.size
        foot = (1.0 - _MARGIN - _LINE * (rows - 1 - row)) * sheet.size
        sheet.pen.text((left, foot), f"{k + 1}", _INK, sheet.font(), anchor="ls")
        words = f"{clock(start)} to {clock(end)}"
        sheet.pen.text((left + 0.018 * sheet.size, foot), words, _INK, sheet.font(), anchor="ls")
    return taken


def _mark_findings(sheet: _Sheet, findings: Sequence[Finding], taken: list[Box]) -> None:
    """The worst findings as shape and word, on the disc where they have a place, and as a list."""
    shown = sorted(findings, key=_badness)[:FINDINGS_SHOWN]
    for finding in shown:
        if finding.time_s is not None and finding.radius_mm is not None:
            spot = sheet.at(finding.radius_mm * 1e-3, finding.time_s)
            _tag(sheet, spot, finding, taken)
    lines = [
        plain_letters(f"{f.severity}  {f.code}  {'' if f.time_s is None else clock(f.time_s)}".rstrip()) for f in shown
    ]
    if len(findings) > len(shown):
        lines.append(f"and {len(findings) - len(shown)} more")
    far = (1.0 - _MARGIN) * sheet.size
    left = far - max((sheet.pen.textlength(line, sheet.font()) for line in lines), default=0.0)
    for k, line in enumerate(lines):
        foot = far - _LINE * (len(lines) - 1 - k) * sheet.size
        sheet.pen.text((left, foot), line, _INK, sheet.font(), anchor="ls")
        if k < len(shown):
            spot = (left - 0.012 * sheet.size, foot - 0.0035 * sheet.size)
            _stamp_finding(sheet, spot, shown[k].severity)


def _badness(finding: Finding) -> tuple[int, float]:
    """Stops first; among equals the one farthest from its limit, above or below."""
    value, limit = abs(finding.value), abs(finding.limit)
    excess = max(value, limit) / min(value, limit) if min(value, limit) > 0.0 else math.inf
    return _BADNESS.index(finding.severity), -excess


def _tag(sheet: _Sheet, spot: tuple[float, float], finding: Finding, taken: list[Box]) -> None:
    """A shape at the spot and its word beside it, moved up or down where another word stands already."""
    words = plain_letters(finding.code)
    font = sheet.font()
    x, y = spot
    high = 0.019 * sheet.size
    wide = sheet.pen.textlength(words, font) + 0.6 * high
    side = 1.0 if x < 0.75 * sheet.size else -1.0
    left = x + side * 0.016 * sheet.size - (0.0 if side > 0 else wide)
    for shift in (0.0, 1.15, -1.15, 2.3, -2.3, 3.45, -3.45):
        top = y + (shift - 0.5) * high
        box = (left, top, left + wide, top + high)
        if not any(_overlap(box, other) for other in taken):
            break
    taken.append(box)
    near = left if side > 0 else left + wide
    sheet.pen.line([(x, y), (near, top + 0.5 * high)], PAPER, max(1, sheet.size // 1000))
    sheet.pen.rounded_rectangle(box, radius=0.3 * high, fill=PAPER)
    sheet.pen.text((left + 0.5 * wide, top + 0.5 * high), words, _INK, font, anchor="mm")
    _stamp_finding(sheet, spot, finding.severity)


def _overlap(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _stamp_finding(sheet: _Sheet, spot: tuple[float, float], severity: Severity) -> None:
    """A square for a stop, a triangle for a warning, a round for a note."""
    _stamp(sheet.image, spot, 0.0062 * sheet.size, _CORNERS[severity], _FILL[severity])


def _stamp(
    image: Image.Image,
    spot: tuple[float, float],
    radius: float,
    corners: int,
    fill: Rgb,
    *,
    point_down: bool = False,
) -> None:
    """A regular polygon with a rim of paper."""
    reach = math.ceil(radius * 1.4) + 1
    left, top = math.floor(spot[0]) - reach, math.floor(spot[1]) - reach
    side = (2 * reach + 1) * _FINE
    shape = Image.new("RGBA", (side, side), (*PAPER, 0))
    pen = ImageDraw.Draw(shape)
    middle = ((spot[0] - left) * _FINE, (spot[1] - top) * _FINE)
    turned = 180 if point_down else 0
    pen.regular_polygon((*middle, radius * 1.4 * _FINE), corners, turned, fill=(*PAPER, 255))
    pen.regular_polygon((*middle, radius * _FINE), corners, turned, fill=(*fill, 255))
    small = shape.resize((2 * reach + 1, 2 * reach + 1), Image.Resampling.BOX)
    image.paste(small, (left, top), small)


def plain_letters(text: str) -> str:
    """The text in letters the typeface has: without accents, and a question mark for what it cannot write.

    Parameters
    ----------
    text : str
    """
    apart = unicodedata.normalize("NFKD", text.translate(_NEAREST))
    kept = (c for c in apart if not unicodedata.combining(c))
    return "".join(c if c.isascii() or c in _BEYOND_ASCII else "?" for c in kept)
