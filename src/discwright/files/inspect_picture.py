"""The picture of a test play: the face with every fault at its radius and angle, the response, the measures.

Seen from the side that is played, lying still: every whole turn stands at 12 o'clock, the music runs anticlockwise.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from discwright.files.picture import plain_letters
from discwright.files.picture_pen import INK, PAPER, PicturePen, Rgb
from discwright.findings import Finding
from discwright.groove.equipment import DiscFormat
from discwright.inspection.defects import Defect
from discwright.inspection.sound import THIRDS_HZ

Float = NDArray[np.float64]

_WIDTH, _HEIGHT = 2400.0, 1640.0
_WIDTH_PX, _FINE = 1800, 2
_CENTRE, _REACH = (780.0, 800.0), 680.0
_VINYL: Rgb = (236, 233, 226)
_RECORDED: Rgb = (222, 218, 208)
_RULE: Rgb = (205, 200, 190)
_FAINT: Rgb = (112, 107, 98)
_HEARD: Rgb = (176, 42, 28)
_MASKED: Rgb = (96, 118, 140)
_LEFT_LINE: Rgb = (40, 38, 34)
_RIGHT_LINE: Rgb = (190, 76, 40)
#: Corners of the mark of each kind, and whether it is filled; lasting kinds are drawn as arcs.
_MARKS = {"tick": (24, True), "pop": (4, True), "scratch": (3, True), "skip": (5, True), "repeat": (5, False)}
_ARCS = {"crackle": (8, 8), "swish": (), "dropout": (22, 10)}
_MEANING = {
    "tick": "tick", "pop": "pop", "scratch": "tick of a scratch", "crackle": "crackle", "swish": "swish",
    "dropout": "dropout", "skip": "skip ahead", "repeat": "repeat",
}  # fmt: skip
_RESPONSE_DB = 6.0
#: Where the legend breaks its line, and where findings must end.
_LEGEND_ENDS, _FINDINGS_END = 1500.0, 1030.0


@dataclass(frozen=True)
class PlaySheet:
    """What the picture tells.

    Attributes
    ----------
    head, foot : str
    verdict : str
    disc : DiscFormat
    last_radius : float, m
        Of the music.
    turn_time : float, s
    radius : callable
        Of a time, m.
    defects : sequence of Defect
    measures : sequence of (str, str)
        Name, and value with its unit and limit.
    findings : sequence of Finding
    response_db : ndarray, shape (30, 2)
    """

    head: str
    foot: str
    verdict: str
    disc: DiscFormat
    last_radius: float
    turn_time: float
    radius: Callable[[float], float]
    defects: Sequence[Defect]
    measures: Sequence[tuple[str, str]]
    findings: Sequence[Finding]
    response_db: Float


def draw_play(path: Path, sheet: PlaySheet) -> None:
    """Draw a test play.

    Parameters
    ----------
    path : pathlib.Path
        PNG to write.
    sheet : PlaySheet

    Raises
    ------
    OSError
        If it cannot be written.
    """
    scale = _WIDTH_PX * _FINE / _WIDTH
    image = Image.new("RGB", (round(_WIDTH * scale), round(_HEIGHT * scale)), PAPER)
    canvas = _Canvas(ImageDraw.Draw(image), scale, sheet)
    canvas.face()
    canvas.faults()
    canvas.legend()
    canvas.words()
    canvas.response()
    image.resize((_WIDTH_PX, round(_HEIGHT * _WIDTH_PX / _WIDTH)), Image.Resampling.LANCZOS).save(path)


class _Canvas:
    def __init__(self, draw: ImageDraw.ImageDraw, scale: float, sheet: PlaySheet) -> None:
        self._draw, self._scale, self._sheet = draw, scale, sheet
        self._pen = PicturePen(draw, scale)
        self._per_metre = _REACH / (sheet.disc.disc_diameter / 2)

    def _place(self, time: float, radius: float) -> tuple[float, float]:
        angle, reach = 2 * math.pi * time / self._sheet.turn_time, radius * self._per_metre
        return _CENTRE[0] - reach * math.sin(angle), _CENTRE[1] - reach * math.cos(angle)

    def _disc(self, radius: float, fill: Rgb, outline: Rgb | None = None) -> None:
        reach = radius * self._per_metre
        box = [
            one * self._scale
            for one in (_CENTRE[0] - reach, _CENTRE[1] - reach, _CENTRE[0] + reach, _CENTRE[1] + reach)
        ]
        self._draw.ellipse(box, fill, outline, round(2 * self._scale))

    def face(self) -> None:
        """The disc, its recorded part, radii to read by."""
        sheet = self._sheet
        self._disc(sheet.disc.disc_diameter / 2, _VINYL, INK)
        self._disc(sheet.radius(0.0), _RECORDED)
        self._disc(sheet.last_radius, _VINYL)
        for mm in range(60, round(sheet.disc.disc_diameter * 500), 20):
            ring = [self._place(t * sheet.turn_time, mm * 1e-3) for t in np.linspace(0, 1, 181)]
            self._pen.line(ring, _RULE, 1.5)
            self._pen.text(_CENTRE[0] + 8, _CENTRE[1] + mm * 1e-3 * self._per_metre, f"{mm} mm", 20, _FAINT, "lm")
        self._disc(sheet.disc.label_diameter / 2, PAPER, _RULE)
        self._disc(sheet.disc.hole_diameter / 2, INK)
        top = _CENTRE[1] - sheet.disc.disc_diameter / 2 * self._per_metre
        self._pen.line([(_CENTRE[0], top - 22), (_CENTRE[0], top - 4)], INK, 2)
        self._pen.text(_CENTRE[0], top - 26, "start of a turn; music runs anticlockwise", 22, _FAINT, "mb")

    def faults(self) -> None:
        """Every fault, those that are heard last and on top."""
        for one in sorted(self._sheet.defects, key=lambda one: (one.audible, one.size_db)):
            colour = _HEARD if one.audible else _MASKED
            if one.kind in _ARCS:
                self._arc(one, colour)
            else:
                x, y = self._place(one.time, one.radius)
                self._mark(x, y, one.kind, 9 + min(max(one.size_db, 0.0), 40.0) / 4, colour)

    def _arc(self, one: Defect, colour: Rgb) -> None:
        steps = max(3, round(60 * one.duration / self._sheet.turn_time))
        times = one.time + np.linspace(0, max(one.duration, 0.02), min(steps, 2000))
        points = [self._place(t, self._sheet.radius(t)) for t in times]
        self._pen.line(points, colour, 9, _ARCS[one.kind])

    def _mark(self, x: float, y: float, kind: str, size: float, colour: Rgb) -> None:
        corners, filled = _MARKS[kind]
        points = []
        for k in range(corners):
            angle = 2 * math.pi * k / corners + (math.pi / 4 if corners == 4 else 0)
            points.append(
                ((x + size * math.sin(angle)) * self._scale, (y - size * math.cos(angle)) * self._scale)
            )  # fmt: skip
        self._draw.polygon(points, colour if filled else PAPER, colour, round(3 * self._scale))

    def legend(self) -> None:
        """Kinds that occur, with their number."""
        counts = {kind: [one for one in self._sheet.defects if one.kind == kind] for kind in _MEANING}
        x, y = 90.0, 1528.0
        for kind, some in counts.items():
            if not some:
                continue
            heard = sum(one.audible for one in some)
            words = f"{_MEANING[kind]}: {len(some)}, {heard} heard"
            if x + self._pen.width(words, 22) > _LEGEND_ENDS:
                x, y = 90.0, y + 40
            if kind in _ARCS:
                self._pen.line([(x - 16, y), (x + 16, y)], _HEARD if heard else _MASKED, 9, _ARCS[kind])
            else:
                self._mark(x, y, kind, 12, _HEARD if heard else _MASKED)
            self._pen.text(x + 26, y, words, 22, INK, "lm")
            x += 70 + self._pen.width(words, 22)
        if not self._sheet.defects:
            self._pen.text(x, y, "no fault found", 24, INK, "lm")

    def words(self) -> None:
        """Verdict, measures and findings."""
        sheet, pen, x = self._sheet, self._pen, 1560.0
        pen.text(80, 40, plain_letters(sheet.head), 34, INK, most=1400)
        pen.text(x, 40, f"verdict: {sheet.verdict}", 40, _HEARD if sheet.verdict != "pass" else INK)
        y = 118.0
        for name, value in sheet.measures:
            pen.text(x, y, name, 24, _FAINT)
            pen.text(x + 300, y, value, 24, INK)
            y += 36
        y += 16
        for k, one in enumerate(sheet.findings):
            lines = textwrap.wrap(f"{one.severity}  {one.code.replace('_', ' ')}: {plain_letters(one.remedy)}", 78)
            if y + 28 * len(lines) > _FINDINGS_END:
                pen.text(x, y, f"and {len(sheet.findings) - k} more", 22, INK)
                break
            for line in lines:
                pen.text(x, y, line, 22, _HEARD if one.severity == "stop" else INK)
                y += 28
            y += 8
        pen.text(80, _HEIGHT - 24, plain_letters(sheet.foot), 20, _FAINT, "ls", most=2200)

    def response(self) -> None:
        """Each channel against the programme, by third-octaves."""
        pen, left, right, top, foot = self._pen, 1620.0, 2340.0, 1120.0, 1500.0
        pen.text(left - 60, top - 52, "response against the programme, dB (each channel re its own 1 kHz)", 22, _FAINT)
        at = [left + (right - left) * k / (len(THIRDS_HZ) - 1) for k in range(len(THIRDS_HZ))]

        def height(value: float) -> float:
            limited = min(max(value, -_RESPONSE_DB), _RESPONSE_DB)
            return (top + foot) / 2 - limited / _RESPONSE_DB * (foot - top) / 2

        for value in (-6, -3, 0, 3, 6):
            pen.line([(left, height(value)), (right, height(value))], _RULE, 3 if value == 0 else 1.5)
            pen.text(left - 12, height(value), f"{value:+d}" if value else "0", 20, _FAINT, "rm")
        for k, frequency in enumerate(THIRDS_HZ):
            if frequency in (31.5, 100.0, 315.0, 1000.0, 3150.0, 10_000.0):
                shown = f"{frequency / 1000:g}k" if frequency >= 1000 else f"{frequency:g}"
                pen.text(at[k], foot + 12, shown, 20, _FAINT, "mt")
        for c, (colour, dash, name) in enumerate(((_LEFT_LINE, (), "left"), (_RIGHT_LINE, (14, 8), "right"))):
            points = [
                (at[k], height(float(value)))
                for k, value in enumerate(self._sheet.response_db[:, c])
                if math.isfinite(value)
            ]
            if len(points) > 1:
                pen.line(points, colour, 4, dash)
            pen.line([(left + 200 * c, foot + 66), (left + 200 * c + 60, foot + 66)], colour, 4, dash)
            pen.text(left + 200 * c + 72, foot + 66, name, 22, INK, "lm")
