"""The picture of a proof: distortion, where in the spectrum it lies, and the treble that is lost, against time."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from discwright.errors import CallError
from discwright.files.picture import plain_letters
from discwright.groove.distortion import OCTAVES_HZ, Departures, WorstSpot
from discwright.groove.heard import Place
from discwright.units import clock

Float = NDArray[np.float64]
Rgb = tuple[int, int, int]

_PAPER: Rgb = (252, 251, 248)
_INK: Rgb = (52, 50, 46)
_FAINT: Rgb = (128, 123, 113)
_RULE: Rgb = (222, 218, 209)
_DEEP: Rgb = (116, 44, 30)
#: One line for each tip: shade and dashes tell them apart in grey, too. Dash and gap in pixels; 0 for none.
_LINES: tuple[tuple[Rgb, tuple[int, int]], ...] = (
    ((40, 38, 34), (0, 0)),
    ((190, 76, 40), (26, 12)),
    ((70, 112, 150), (8, 10)),
    ((120, 96, 160), (40, 10)),
    ((120, 130, 60), (4, 6)),
)
#: Lines are drawn this many times larger and reduced, for smooth edges.
_FINE = 2
#: Shading of the octaves runs from here to there, per cent, evenly by factors.
_LIGHTEST, _DARKEST = 0.1, 30.0
_TEXT, _SMALL = 26, 22


@dataclass(frozen=True)
class TipCurve:
    """What one tip makes of a passage.

    Attributes
    ----------
    name : str
    departures : Departures
    spots : tuple of WorstSpot
        Worst first.
    """

    name: str
    departures: Departures
    spots: tuple[WorstSpot, ...]


@dataclass(frozen=True)
class _Frame:
    """A panel: its box in pixels, its time span, s, and its greatest value; the least is 0 at the foot."""

    left: float
    top: float
    right: float
    foot: float
    begin: float
    end: float
    most: float

    def x(self, time: float) -> float:
        return self.left + (time - self.begin) / (self.end - self.begin) * (self.right - self.left)

    def y(self, value: float) -> float:
        return self.foot - min(1.0, value / self.most) * (self.foot - self.top)


def draw_proof(
    path: Path,
    tips: Sequence[TipCurve],
    *,
    place: Place,
    bands: Sequence[tuple[float, float]],
    caption: str,
    limit: float | None = None,
    size_px: tuple[int, int] = (2400, 1800),
) -> None:
    """Draw a proof; the file is whole or not there.

    Parameters
    ----------
    path : pathlib.Path
        PNG.
    tips : sequence of TipCurve
        One to five; shaded by octaves are the first and the last.
    place : Place
    bands : sequence of (float, float), s
        Begin and end of each band of the side.
    caption : str
    limit : float, optional
        Distortion that the house allows, drawn as a line.
    size_px : (int, int)

    Raises
    ------
    CallError
        If the file cannot be written.
    """
    width, height = size_px
    image = Image.new("RGB", (width * _FINE, height * _FINE), _PAPER)
    pen = _Pen(ImageDraw.Draw(image))
    shaded = tips if len(tips) < 2 else (tips[0], tips[-1])
    found = tips[0].departures
    begin = float(found.time[0]) if len(found.time) else 0.0
    step = float(found.time[1] - found.time[0]) if len(found.time) > 1 else 1.0
    end = float(found.time[-1]) + step if len(found.time) else 1.0
    left, right = 190.0, width - 230.0
    heights = [0.36, *([0.40 / len(shaded)] * len(shaded)), 0.24]
    gap, top = 74.0, 236.0
    room = height - top - 96.0 - gap * (len(heights) - 1)
    boxes = []
    for share in heights:
        boxes.append((top, top + share * room))
        top += share * room + gap
    greatest = max(float(one.departures.distortion.max(initial=0.0)) for one in tips)
    first = _Frame(left, boxes[0][0], right, boxes[0][1], begin, end, _round_up(max(100 * greatest * 1.08, 1.0)))
    pen.text(60, 44, plain_letters(caption), 34, most=width - 120.0)
    pen.text(60, 96, plain_letters(_worst_words(shaded, place)), _TEXT, most=width - 120.0)
    _distortion(pen, first, tips, limit)
    _radius_axis(pen, first, place)
    for one, box in zip(shaded, boxes[1:-1], strict=True):
        _octaves(pen, _Frame(left, box[0], right, box[1], begin, end, 1.0), one)
    losses = [-one.departures.treble_db for one in tips]
    most = max((float(np.nanmax(loss, initial=0.0)) for loss in losses), default=0.0)
    last = _Frame(left, boxes[-1][0], right, boxes[-1][1], begin, end, _round_up(max(most * 1.08, 1.0)))
    _treble(pen, last, tips)
    for frame in (first, last):
        _bands(pen, frame, bands, frame is first)
    _time_axis(pen, last)
    _save(image.resize((width, height), Image.Resampling.BOX), path)


class _Pen:
    """Draws in pixels of the finished picture."""

    def __init__(self, draw: ImageDraw.ImageDraw) -> None:
        self._draw = draw
        self._fonts: dict[int, ImageFont.FreeTypeFont | ImageFont.ImageFont] = {}

    def _font(self, size: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
        if size not in self._fonts:
            self._fonts[size] = ImageFont.load_default(size * _FINE)
        return self._fonts[size]

    def width(self, words: str, size: int) -> float:
        return float(self._draw.textlength(words, self._font(size))) / _FINE

    def text(
        self, x: float, y: float, words: str, size: int, colour: Rgb = _INK, anchor: str = "la", most: float = 1e9
    ) -> None:
        if self.width(words, size) > most:
            while len(words) > 1 and self.width(words + "...", size) > most:
                words = words[:-1].rstrip()
            words += "..."
        self._draw.text((x * _FINE, y * _FINE), words, colour, self._font(size), anchor)

    def line(
        self, points: Sequence[tuple[float, float]], colour: Rgb, width: float, dash: tuple[int, int] = (0, 0)
    ) -> None:
        for piece in _dashed(points, dash):
            self._draw.line([(x * _FINE, y * _FINE) for x, y in piece], colour, max(1, round(width * _FINE)), "curve")

    def box(self, left: float, top: float, right: float, foot: float, colour: Rgb) -> None:
        self._draw.rectangle((left * _FINE, top * _FINE, right * _FINE, foot * _FINE), colour)

    def disc(self, x: float, y: float, radius: float, colour: Rgb) -> None:
        box = ((x - radius) * _FINE, (y - radius) * _FINE, (x + radius) * _FINE, (y + radius) * _FINE)
        self._draw.ellipse(box, _PAPER, colour, 2 * _FINE)


def _dashed(points: Sequence[tuple[float, float]], dash: tuple[int, int]) -> list[list[tuple[float, float]]]:
    """A line in pieces of `dash` pixels with gaps between; as it is without a dash."""
    if len(points) < 2:
        return []
    if dash == (0, 0):
        return [list(points)]
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(np.array(points), axis=0).T))])
    xs, ys = np.array(points).T
    pieces = []
    for begin in np.arange(0.0, way[-1], sum(dash)):
        inside = way[(way > begin) & (way < begin + dash[0])]
        at = np.concatenate([[begin], inside, [min(begin + dash[0], way[-1])]])
        pieces.append(list(zip(np.interp(at, way, xs).tolist(), np.interp(at, way, ys).tolist(), strict=True)))
    return pieces


def _columns(frame: _Frame, time: Float, value: Float) -> tuple[Float, Float]:
    """Middle and greatest value of each pixel column, or of each second where they are wider; nan stays nan."""
    step = (frame.end - frame.begin) / max(1, len(time))
    per_pixel = len(time) / max(1.0, frame.right - frame.left)
    if per_pixel <= 1.0:
        return time + 0.5 * step, value
    bins = np.minimum(
        ((time - frame.begin) / (frame.end - frame.begin) * (frame.right - frame.left)).astype(int), 10**6
    )
    most = np.full(bins.max() + 1, np.nan)
    np.fmax.at(most, bins, value)
    each = (frame.end - frame.begin) / (frame.right - frame.left)
    return frame.begin + each * (np.arange(len(most), dtype=np.float64) + 0.5), most


def _runs(time: Float, value: Float) -> list[tuple[Float, Float]]:
    """Stretches without nan."""
    known = np.flatnonzero(~np.isnan(value))
    if len(known) == 0:
        return []
    pieces = np.split(known, np.flatnonzero(np.diff(known) > 1) + 1)
    return [(time[piece], value[piece]) for piece in pieces]


def _curves(pen: _Pen, frame: _Frame, tips: Sequence[TipCurve], value: Callable[[Departures], Float]) -> None:
    for one, (colour, dash) in zip(tips, _LINES, strict=False):
        for time, height in _runs(*_columns(frame, one.departures.time, value(one.departures))):
            points = [(frame.x(t), frame.y(v)) for t, v in zip(time.tolist(), height.tolist(), strict=True)]
            if len(points) == 1:  # a single second is as wide as it lasts
                half = 0.5 * (frame.right - frame.left) / max(1, len(one.departures.time))
                points = [(points[0][0] - half, points[0][1]), (points[0][0] + half, points[0][1])]
            pen.line(points, colour, 2.5, dash)


def _panel(pen: _Pen, frame: _Frame, title: str, unit: str) -> None:
    pen.text(frame.left, frame.top - 14, title, _TEXT, anchor="ls")
    step = _tick(frame.most, 5)
    for tick in np.arange(0.0, frame.most + step / 2, step).tolist():
        y = frame.y(tick)
        pen.line([(frame.left, y), (frame.right, y)], _RULE, 1.5)
        pen.text(frame.left - 14, y, f"{tick:g} {unit}", _SMALL, _FAINT, "rm")


def _distortion(pen: _Pen, frame: _Frame, tips: Sequence[TipCurve], limit: float | None) -> None:
    _panel(pen, frame, "Distortion: what no linear system explains, of the whole sound", "%")
    x = frame.right
    for one, (colour, dash) in reversed(list(zip(tips, _LINES, strict=False))):
        name = plain_letters(one.name)
        x -= pen.width(name, _SMALL)
        pen.text(x, frame.top - 14, name, _SMALL, colour, "ls")
        pen.line([(x - 74, frame.top - 22), (x - 10, frame.top - 22)], colour, 3.0, dash)
        x -= 104
    if limit is not None and 100 * limit <= frame.most:
        y = frame.y(100 * limit)
        pen.line([(frame.left, y), (frame.right, y)], _DEEP, 1.5, (4, 8))
        pen.text(frame.right + 12, y, f"house {100 * limit:g} %", _SMALL, _DEEP, "lm")
    _curves(pen, frame, tips, lambda found: 100 * found.distortion)
    taken: list[tuple[float, float]] = []
    for number, spot in enumerate(tips[0].spots[:10], 1):
        x, y = frame.x(spot.time), frame.y(100 * spot.distortion) - 24
        x = min(max(x, frame.left + 18), frame.right - 18)
        while any(abs(x - a) < 38 and abs(y - b) < 38 for a, b in taken):
            y -= 38
        if y > frame.top - 4:
            taken.append((x, y))
            pen.disc(x, y, 17, _INK)
            pen.text(x, y, str(number), 20, anchor="mm")


def _octaves(pen: _Pen, frame: _Frame, one: TipCurve) -> None:
    """Rows from low to high octaves, darker where more of the distortion lies."""
    pen.text(frame.left, frame.top - 14, f"Where it lies, with {plain_letters(one.name)}", _TEXT, anchor="ls")
    _key(pen, frame)
    count = len(OCTAVES_HZ)
    row = (frame.foot - frame.top) / count
    pen.box(frame.left, frame.top, frame.right, frame.foot, _shade(0.0))
    for k, octave in enumerate(OCTAVES_HZ):
        foot = frame.foot - k * row
        time, share = _columns(frame, one.departures.time, 100 * one.departures.band_distortion[:, k])
        half = 0.5 * (time[1] - time[0]) if len(time) > 1 else 0.5 * (frame.end - frame.begin)
        for t, v in zip(time.tolist(), share.tolist(), strict=True):
            if v >= _LIGHTEST:
                pen.box(frame.x(t - half), foot - row, frame.x(t + half), foot, _shade(v))
        words = f"{octave / 1000:g} kHz" if octave >= 1000 else f"{octave:g} Hz"
        if k % 3 == 2 or row >= _SMALL:
            pen.text(frame.left - 14, foot - row / 2, words, min(_SMALL, 20), _FAINT, "rm")
    for x0, y0, x1, y1 in (
        (frame.left, frame.top, frame.right, frame.top), (frame.left, frame.foot, frame.right, frame.foot),
    ):  # fmt: skip
        pen.line([(x0, y0), (x1, y1)], _RULE, 1.5)


def _key(pen: _Pen, frame: _Frame) -> None:
    x, y = frame.right - 620, frame.top - 22
    pen.text(x - 12, y, f"{_LIGHTEST:g} %", _SMALL, _FAINT, "rm")
    for k in range(40):
        share = _LIGHTEST * (_DARKEST / _LIGHTEST) ** (k / 39)
        pen.box(x + 13 * k, y - 11, x + 13 * k + 13, y + 11, _shade(share))
    pen.text(x + 532, y, f"{_DARKEST:g} %", _SMALL, _FAINT, "lm")


def _shade(percent: float) -> Rgb:
    """From paper to deep, evenly by factors between the lightest and the darkest."""
    part = math.log(max(percent, 1e-9) / _LIGHTEST) / math.log(_DARKEST / _LIGHTEST)
    part = 0.0 if percent < _LIGHTEST else 0.06 + 0.94 * min(1.0, part)
    light = (243, 240, 233)
    r, g, b = (round(a + (z - a) * part) for a, z in zip(light, _DEEP, strict=True))
    return r, g, b


def _treble(pen: _Pen, frame: _Frame, tips: Sequence[TipCurve]) -> None:
    _panel(pen, frame, "Treble lost, 8 to 16 kHz", "dB")
    _curves(pen, frame, tips, lambda found: np.maximum(-found.treble_db, 0.0))
    if all(np.isnan(one.departures.treble_db).all() for one in tips):
        pen.text(
            0.5 * (frame.left + frame.right), 0.5 * (frame.top + frame.foot), "no treble to judge", _TEXT, _FAINT, "mm"
        )


def _bands(pen: _Pen, frame: _Frame, bands: Sequence[tuple[float, float]], numbered: bool) -> None:
    reached = -1e9
    for number, (begin, end) in enumerate(bands, 1):
        for edge in (begin, end):
            if frame.begin < edge < frame.end:
                pen.line([(frame.x(edge), frame.top), (frame.x(edge), frame.foot)], _FAINT, 1.0, (2, 6))
        shown = frame.x(max(begin, frame.begin))
        if numbered and begin < frame.end and end > frame.begin and shown > reached and shown < frame.right - 90:
            words = f"band {number}"
            wide = pen.width(words, 20)
            pen.box(shown + 4, frame.top + 6, shown + 12 + wide, frame.top + 34, _PAPER)
            pen.text(shown + 8, frame.top + 28, words, 20, _FAINT, "ls")
            reached = shown + wide + 20


def _time_axis(pen: _Pen, frame: _Frame) -> None:
    for tick in _times(frame):
        x = frame.x(tick)
        pen.line([(x, frame.foot), (x, frame.foot + 8)], _FAINT, 1.5)
        pen.text(x, frame.foot + 16, clock(tick), _SMALL, _FAINT, "ma")
    pen.text(frame.right + 84, frame.foot + 16, "min:s", _SMALL, _FAINT, "la")


def _radius_axis(pen: _Pen, frame: _Frame, place: Place) -> None:
    y = frame.top - 52
    for tick in _times(frame):
        x = frame.x(tick)
        pen.line([(x, y), (x, y + 8)], _FAINT, 1.5)
        pen.text(x, y - 8, f"{place.radius_at(tick) * 1e3:.1f}", _SMALL, _FAINT, "ms")
    pen.text(frame.right + 64, y - 8, "radius, mm", _SMALL, _FAINT, "ls")


def _times(frame: _Frame) -> list[float]:
    span = frame.end - frame.begin
    steps = (0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1800)
    step = next((one for one in steps if span / one <= 12), 3600)
    first = math.ceil(frame.begin / step - 1e-9)
    return [k * step for k in range(first, math.floor(frame.end / step + 1e-9) + 1)]


def _tick(most: float, count: int) -> float:
    raw = most / count
    power = 10.0 ** math.floor(math.log10(raw))
    return next(power * nice for nice in (1, 2, 5, 10) if power * nice >= raw - 1e-12)


def _round_up(most: float) -> float:
    step = _tick(most, 5)
    return step * math.ceil(most / step - 1e-9)


def _worst_words(tips: Sequence[TipCurve], place: Place) -> str:
    told = []
    for one in tips:
        if one.spots:
            spot = one.spots[0]
            told.append(
                f"{one.name}: worst {100 * spot.distortion:.1f} % at {clock(spot.time)}, "
                f"r {place.radius_at(spot.time) * 1e3:.1f} mm"
            )
        else:
            told.append(f"{one.name}: nothing departs")
    return ";  ".join(told)


def _save(image: Image.Image, path: Path) -> None:
    part = path.with_name(f".{path.name}.part")
    try:
        image.save(part, format="PNG")
        os.replace(part, path)
    except OSError as trouble:
        raise CallError(f"{path}: cannot be written ({trouble.strerror}); check the folder and the disk.") from None
    finally:
        part.unlink(missing_ok=True)
