"""The picture of a proof: distortion, where in the spectrum it lies, and the treble that is lost, against time.

Every value stands over the whole second it belongs to. Where seconds are narrower than a column, the column has the
greatest of its seconds, so that no peak is lost. Places are reckoned on a sheet 2400 wide, whatever its size in pixels.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy.optimize import isotonic_regression

from discwright.errors import CallError
from discwright.files.picture import plain_letters
from discwright.files.picture_file import picture_file
from discwright.files.picture_pen import INK, PAPER, PicturePen, Rgb
from discwright.groove.distortion import OCTAVES_HZ, Departures, WorstSpot
from discwright.groove.heard import Place
from discwright.units import clock

Float = NDArray[np.float64]
Bands = Sequence[tuple[float, float]]

_FAINT: Rgb = (112, 107, 98)
_RULE: Rgb = (226, 222, 213)
#: Shades of the octaves, from the least that is shown to the most; a field without any.
_PALE, _DEEP, _FIELD = (230, 217, 209), (84, 28, 18), (245, 243, 237)
#: One line for each tip. Lengths of dash, gap, dash, gap ... tell them apart in grey, too; the first is solid.
_LINES: tuple[tuple[Rgb, tuple[int, ...]], ...] = (
    ((40, 38, 34), ()),
    ((190, 76, 40), (26, 10)),
    ((48, 92, 140), (5, 7)),
    ((120, 92, 160), (26, 7, 5, 7)),
    ((112, 122, 48), (11, 9)),
)
#: Width the sheet is reckoned in, and the least share of it that is its height.
_WIDTH, _LEAST_HEIGHT = 2400.0, 0.5625
_LEAST_WIDTH_PX = 1200
#: Everything is drawn this many times larger and reduced, for smooth edges.
_FINE = 2
_LEFT, _RIGHT, _TOP = 190.0, _WIDTH - 230.0, 276.0
#: Room for the names of the bands at the head of the first panel; from panel to panel; below the last.
_STRIP, _GAP, _FOOT = 38.0, 74.0, 96.0
#: Narrowest column of a curve and of a shaded octave.
_COLUMN, _CELL = 4.0, 1.0
#: Radius of the mark of a spot.
_MARK = 18.0
_TEXT, _SMALL = 26, 24
#: Distortion that the key of the octaves shows, per cent: evenly shaded by factors between the first and the last.
_KEY = (0.1, 0.3, 1.0, 3.0, 10.0, 30.0)
#: Less distortion than this is none worth a word.
_NOTHING = 0.0005


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
    """A panel: its upper and lower edge on the sheet, its time span, s, and its least and greatest value."""

    top: float
    foot: float
    begin: float
    end: float
    least: float = 0.0
    most: float = 1.0

    def x(self, time: float) -> float:
        return _LEFT + (time - self.begin) / (self.end - self.begin) * (_RIGHT - _LEFT)

    def y(self, value: float) -> float:
        return self.foot - (value - self.least) / (self.most - self.least) * (self.foot - self.top)


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
        The first five are drawn. The worst spots of the first are marked; the first and the last are shaded by octaves.
    place : Place
    bands : sequence of (float, float), s
        Begin and end of each band of the side.
    caption : str
    limit : float, optional
        Distortion that the house allows, drawn as a line.
    size_px : (int, int)
        Width and height.

    Raises
    ------
    CallError
        If there is no tip, the picture is too small to hold its words, or the file cannot be written.
    """
    width, height = size_px
    if width < _LEAST_WIDTH_PX or height < _LEAST_HEIGHT * width:
        least = max(width, _LEAST_WIDTH_PX)
        raise CallError(
            f"A picture of {width} × {height} px is too small; ask for at least "
            f"{least} × {math.ceil(_LEAST_HEIGHT * least)} px."
        )
    if not tips:
        raise CallError("There is no tip to draw; give at least one.")
    image = Image.new("RGB", (width * _FINE, height * _FINE), PAPER)
    pen = PicturePen(ImageDraw.Draw(image), width * _FINE / _WIDTH)
    drawn = tips[: len(_LINES)]
    shaded = drawn if len(drawn) < 2 else (drawn[0], drawn[-1])
    shares = [0.36, *([0.40 / len(shaded)] * len(shaded)), 0.24]
    room = height * _WIDTH / width - _TOP - _FOOT - _GAP * (len(shares) - 1)
    tops = [_TOP + k * _GAP + sum(shares[:k]) * room for k in range(len(shares))]
    begin, end = _span(drawn[0].departures.time)
    frames = [_Frame(top, top + share * room, begin, end) for top, share in zip(tops, shares, strict=True)]
    pen.text(60, 44, _plain(caption), 34, most=_WIDTH - 120)
    _worst(pen, drawn, place)
    _legend(pen, drawn, len(tips) - len(drawn))
    _radius_axis(pen, frames[0], place)
    _distortion(pen, frames[0], drawn, bands, limit)
    for one, frame in zip(shaded, frames[1:-1], strict=True):
        _octaves(pen, frame, one, with_key=one is shaded[0])
    _treble(pen, frames[-1], drawn, bands)
    _time_axis(pen, frames[-1])
    _save(image.resize((width, height), Image.Resampling.BOX), path)


def _columns(frame: _Frame, time: Float, value: Float, width: float) -> tuple[Float, Float]:
    """Edges on the sheet, and the value of each second or the greatest of each column that holds several."""
    edges = np.array([frame.x(t) for t in [*time.tolist(), frame.end]])
    count = int((_RIGHT - _LEFT) / width)
    if len(value) <= count:
        return edges, value
    column = np.minimum(((edges[:-1] - _LEFT) / (_RIGHT - _LEFT) * count).astype(np.int64), count - 1)
    most = np.full(count, np.nan)
    np.fmax.at(most, column, value)
    return np.linspace(_LEFT, _RIGHT, count + 1), most


def _curves(pen: PicturePen, frame: _Frame, tips: Sequence[TipCurve], value: Callable[[Departures], Float]) -> None:
    """The steps of every tip, with gaps where nothing is known."""
    for one, (colour, dash) in zip(tips, _LINES, strict=False):
        edges, values = _columns(frame, one.departures.time, value(one.departures), _COLUMN)
        known = np.flatnonzero(~np.isnan(values))
        for run in np.split(known, np.flatnonzero(np.diff(known) > 1) + 1) if len(known) else []:
            xs = np.repeat(edges[run[0] : run[-1] + 2], 2)[1:-1]
            ys = np.repeat([frame.y(v) for v in values[run].tolist()], 2)
            pen.line(np.column_stack([xs, ys]).tolist(), colour, 2.5, dash)


def _grid(pen: PicturePen, frame: _Frame, top: float, step: float, unit: str, bands: Bands) -> None:
    """Rules at round values and times, and where bands begin and end; those of time from `top` on."""
    for tick in _times(frame):
        pen.line([(frame.x(tick), top), (frame.x(tick), frame.foot)], _RULE, 1.0)
    for k in range(round(frame.least / step), round(frame.most / step) + 1):
        y = frame.y(k * step)
        pen.line([(_LEFT, y), (_RIGHT, y)], _RULE, 1.5)
        pen.text(_LEFT - 14, y, f"{k * step:g} {unit}", _SMALL, _FAINT, "rm")
    for edge in (edge for band in bands for edge in band):
        if frame.begin < edge < frame.end:
            pen.line([(frame.x(edge), top), (frame.x(edge), frame.foot)], _FAINT, 1.0, (2, 6))


def _legend(pen: PicturePen, tips: Sequence[TipCurve], more: int) -> None:
    """The line and the name of every tip in one row; names that are too long share the room evenly."""
    names = [_plain(one.name) for one in tips]
    words = f"and {more} more, not drawn" if more else ""
    room = _WIDTH - 120 - pen.width(words, _SMALL) - len(names) * 130
    wide = [pen.width(name, _SMALL) for name in names]
    if sum(wide) > room:
        wide = [min(one, room / len(names)) for one in wide]
    x = 60.0
    for name, most, (colour, dash) in zip(names, wide, _LINES, strict=False):
        pen.line([(x, 164), (x + 80, 164)], colour, 3.5, dash)
        pen.text(x + 92, 172, name, _SMALL, anchor="ls", most=most + 1)
        x += most + 130
    pen.text(x, 172, words, _SMALL, _FAINT, "ls")


def _distortion(pen: PicturePen, frame: _Frame, tips: Sequence[TipCurve], bands: Bands, limit: float | None) -> None:
    """The first panel: names of the bands at its head, the curves below, and over them the marks of the first tip."""
    title = "Distortion: what no linear system explains, of the whole sound"
    spots = [spot for spot in tips[0].spots[:10] if spot.distortion >= _NOTHING]
    if spots:
        title += f"; numbered: the worst of {_plain(tips[0].name)}"
    pen.text(_LEFT, frame.top - 50, title, _TEXT, anchor="ls", most=_RIGHT - _LEFT)
    pen.line([(_LEFT, frame.top), (_RIGHT, frame.top)], _FAINT, 1.5)
    _name_bands(pen, frame, bands)
    greatest = max(100 * float(one.departures.distortion.max(initial=0.0)) for one in tips)
    high = frame.foot - frame.top - _STRIP
    # There is always room for the row of marks above the highest peak.
    most, allowed = max(1.0, greatest * high / (high - 4 * _MARK)), 100 * (limit or 0.0)
    shown = allowed <= 2.5 * most
    most, step = _round_up(max(most, allowed) if shown else most)
    curve = _Frame(frame.top + _STRIP, frame.foot, frame.begin, frame.end, 0.0, most)
    _grid(pen, curve, frame.top, step, "%", bands)
    if limit is not None:
        y = curve.y(allowed) if shown else curve.top
        if shown:
            pen.line([(_LEFT, y), (_RIGHT, y)], _DEEP, 1.5, (4, 8))
        else:
            pen.text(_RIGHT + 14, y + 30, "above this scale", _SMALL, _DEEP, "lm")
        pen.text(_RIGHT + 14, y, f"house limit {allowed:g} %", _SMALL, _DEEP, "lm")
    _curves(pen, curve, tips, lambda found: 100 * found.distortion)
    if spots:
        _mark_spots(pen, curve, spots)


def _mark_spots(pen: PicturePen, frame: _Frame, spots: Sequence[WorstSpot]) -> None:
    """Numbers in rings above the curve, as near to their times as they can without touching (least squares).

    They stand in one row in order of time, so no two of their lines cross.
    """
    order = sorted(range(len(spots)), key=lambda k: spots[k].time)
    apart = (2 * _MARK + 4) * np.arange(len(spots))
    times = np.array([frame.x(spots[k].time) for k in order])
    rings = np.clip(isotonic_regression(times - apart).x, _LEFT + _MARK, _RIGHT - _MARK - apart[-1]) + apart
    row = frame.top + _MARK + 4
    for k, at, ring in zip(order, times.tolist(), rings.tolist(), strict=True):
        pen.line([(ring, row), (ring, row + _MARK + 2), (at, row + 2 * _MARK + 6)], INK, 1.0)
        pen.line([(at, row + 2 * _MARK + 6), (at, frame.y(100 * spots[k].distortion) - 4)], INK, 1.0)
        pen.ring(ring, row, _MARK)
        pen.text(ring, row, str(k + 1), 22, anchor="mm")


def _octaves(pen: PicturePen, frame: _Frame, one: TipCurve, *, with_key: bool) -> None:
    """Rows from low to high octaves, darker where more of the distortion lies."""
    x = _RIGHT
    if with_key:
        for percent in (*reversed(_KEY), 0.0):
            words = "less" if percent == 0 else f"{percent:g} %" + (" and more" if percent == _KEY[-1] else "")
            x -= pen.width(words, _SMALL)
            pen.text(x, frame.top - 14, words, _SMALL, _FAINT, "ls")
            pen.box(x - 58, frame.top - 34, x - 10, frame.top - 12, _FAINT)
            pen.box(x - 57, frame.top - 33, x - 11, frame.top - 13, _shade(percent))
            x -= 80
    title = f"Distortion in each octave, {_plain(one.name)}: darker is more"
    pen.text(_LEFT, frame.top - 14, title, _TEXT, anchor="ls", most=x - _LEFT)
    pen.box(_LEFT, frame.top, _RIGHT, frame.foot, _FIELD)
    row = (frame.foot - frame.top) / len(OCTAVES_HZ)
    for k, octave in enumerate(OCTAVES_HZ):
        top = frame.foot - (k + 1) * row
        edges, values = _columns(frame, one.departures.time, 100 * one.departures.band_distortion[:, k], _CELL)
        for left, right, percent in zip(edges[:-1].tolist(), edges[1:].tolist(), values.tolist(), strict=True):
            if percent >= _KEY[0]:
                pen.box(left, top, right, top + row, _shade(percent))
        words = f"{octave / 1000:g} kHz" if octave >= 1000 else f"{octave:g} Hz"
        if row >= 22 or k % 2:
            pen.text(_LEFT - 14, top + row / 2, words, 22, _FAINT, "rm")


def _shade(percent: float) -> Rgb:
    """Evenly by factors from the first to the last of the key."""
    if percent < _KEY[0]:
        return _FIELD
    part = min(1.0, math.log(percent / _KEY[0]) / math.log(_KEY[-1] / _KEY[0]))
    r, g, b = (round(a + (z - a) * part) for a, z in zip(_PALE, _DEEP, strict=True))
    return r, g, b


def _treble(pen: PicturePen, frame: _Frame, tips: Sequence[TipCurve], bands: Bands) -> None:
    lost = np.concatenate([-one.departures.treble_db for one in tips])
    least, most = float(np.nanmin(lost, initial=0.0)), float(np.nanmax(lost, initial=0.0))
    least = least if least < -0.05 else 0.0
    title = "Treble lost, 8 to 16 kHz" + ("; below 0 it is gained" if least else "")
    pen.text(_LEFT, frame.top - 14, title, _TEXT, anchor="ls")
    most, step = _round_up(max(1.08 * most, 1.0), least)
    frame = _Frame(frame.top, frame.foot, frame.begin, frame.end, step * math.floor(1.08 * least / step), most)
    _grid(pen, frame, frame.top, step, "dB", bands)
    _curves(pen, frame, tips, lambda found: np.maximum(-found.treble_db, frame.least))
    if np.isnan(lost).all():
        pen.text((_LEFT + _RIGHT) / 2, (frame.top + frame.foot) / 2, "no treble to judge", _TEXT, _FAINT, "mm")


def _name_bands(pen: PicturePen, frame: _Frame, bands: Bands) -> None:
    """Word and number of each band at its beginning, or the number alone, where there is room for it."""
    for number, (begin, end) in enumerate(bands, 1):
        left, right = frame.x(max(begin, frame.begin)), frame.x(min(end, frame.end))
        fits = [words for words in (f"band {number}", f"{number}") if pen.width(words, _SMALL) + 12 <= right - left]
        if fits:
            pen.text(left + 8, frame.top + 29, fits[0], _SMALL, _FAINT, "ls")


def _time_axis(pen: PicturePen, frame: _Frame) -> None:
    for tick in _times(frame):
        pen.line([(frame.x(tick), frame.foot), (frame.x(tick), frame.foot + 8)], _FAINT, 1.5)
        words = clock(tick) if frame.end - frame.begin <= 6 else clock(tick)[:-2]
        pen.text(frame.x(tick), frame.foot + 16, words, _SMALL, _FAINT, "ma")
    pen.text(_RIGHT + 70, frame.foot + 16, "min:s", _SMALL, _FAINT)


def _radius_axis(pen: PicturePen, frame: _Frame, place: Place) -> None:
    """Radius at the ticks of time, in as many decimals as tell one from the next."""
    ticks = _times(frame)
    radii = [place.radius_at(tick) * 1e3 for tick in ticks]
    apart = abs(radii[-1] - radii[0]) / max(1, len(radii) - 1) if radii else 0.0
    decimals = min(max(1, math.ceil(-math.log10(apart))), 3) if apart > 1e-6 else 1
    for tick, radius in zip(ticks, radii, strict=True):
        pen.line([(frame.x(tick), frame.top - 8), (frame.x(tick), frame.top)], _FAINT, 1.5)
        pen.text(frame.x(tick), frame.top - 14, f"{radius:.{decimals}f}", _SMALL, _FAINT, "ms")
    pen.text(_RIGHT + 70, frame.top - 14, "radius, mm", _SMALL, _FAINT, "ls")


def _span(time: Float) -> tuple[float, float]:
    """Begin of the first and end of the last second; of one second where there is none."""
    if len(time) == 0:
        return 0.0, 1.0
    return float(time[0]), float(time[-1] + (time[1] - time[0] if len(time) > 1 else 1.0))


def _times(frame: _Frame) -> list[float]:
    """Round times, twelve steps of them at most."""
    span = frame.end - frame.begin
    steps = (0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1800)
    step = next((one for one in steps if span / one <= 12), 3600)
    first = math.ceil(frame.begin / step - 1e-9)
    return [k * step for k in range(first, math.floor(frame.end / step + 1e-9) + 1)]


def _round_up(most: float, least: float = 0.0) -> tuple[float, float]:
    """A round value not below `most`, and the round step that reaches it from `least` in about five."""
    raw = (most - least) / 5
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(power * nice for nice in (1, 2, 5, 10) if power * nice >= raw - 1e-12)
    return step * math.ceil(most / step - 1e-9), step


def _worst(pen: PicturePen, tips: Sequence[TipCurve], place: Place) -> None:
    """A line with the worst spot of every tip, the worst of them first, as many as it holds."""
    words = []
    for one in sorted(tips, key=lambda tip: -tip.spots[0].distortion if tip.spots else 0.0):
        if one.spots and one.spots[0].distortion >= _NOTHING:
            spot = one.spots[0]
            where = f"at {clock(spot.time)}, r {place.radius_at(spot.time) * 1e3:.1f} mm, {_plain(one.name)}"
            words.append(f"worst {100 * spot.distortion:.1f} % {where}")
        else:
            words.append(f"nothing above {100 * _NOTHING:g} %, {_plain(one.name)}")
    while len(words) > 2 and pen.width(";   ".join(words), _TEXT) > _WIDTH - 120:
        words[-2:] = ["..."]
    pen.text(60, 96, ";   ".join(words), _TEXT, most=_WIDTH - 120)


def _save(image: Image.Image, path: Path) -> None:
    with picture_file(path) as part:
        image.save(part, format="PNG")


def _plain(text: str) -> str:
    """On one line, in letters that the typeface has."""
    return plain_letters(" ".join(text.split()))
