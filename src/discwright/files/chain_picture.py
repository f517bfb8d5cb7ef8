"""The picture of a chain: response of both channels against the limits, and distortion by frequency.

Places are reckoned on a sheet 2400 wide, whatever its size in pixels.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from PIL import Image, ImageDraw

from discwright.errors import CallError
from discwright.files.picture import plain_letters
from discwright.files.picture_file import picture_file
from discwright.files.picture_pen import INK, PAPER, PicturePen, Rgb
from discwright.programme.chain_findings import ChainLimits
from discwright.programme.chain_report import ChainReport
from discwright.programme.chain_sweep import ORDERS

Points = list[tuple[float, float]]
Line = tuple[str, Points, Rgb, tuple[int, ...]]

_WIDTH, _HEIGHT, _FINE = 2400, 1720, 2
_LEFT, _RIGHT = 190.0, 2130.0
_TEXT, _SMALL = 26, 24
_FAINT: Rgb = (112, 107, 98)
_RULE: Rgb = (226, 222, 213)
_LIMIT: Rgb = (84, 28, 18)
#: Dash and gap tell lines apart in grey, too; the first is solid.
_COLOURS: tuple[Rgb, ...] = ((40, 38, 34), (190, 76, 40), (48, 92, 140), (120, 92, 160), (112, 122, 48))
_DASHES: tuple[tuple[int, ...], ...] = ((), (26, 10), (5, 7), (26, 7, 5, 7), (11, 9))
_TICKS_HZ = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000)
_LOW_HZ, _HIGH_HZ = 20.0, 20_000.0
#: The response panel reaches at least so far, dB, and at most so far.
_LEAST_DB, _MOST_DB = 2.0, 40.0
#: Distortion below this is drawn at it, per cent.
_LEAST_PERCENT, _MOST_PERCENT = 1e-4, 100.0
_CAPTURES, _LEVELS = 2, 3
_SPREAD = 34.0


@dataclass(frozen=True)
class _Panel:
    """Upper and lower edge on the sheet, least and greatest value."""

    top: float
    foot: float
    least: float
    most: float

    def x(self, frequency: float) -> float:
        part = math.log(frequency / _LOW_HZ) / math.log(_HIGH_HZ / _LOW_HZ)
        return _LEFT + min(max(part, 0.0), 1.0) * (_RIGHT - _LEFT)

    def y(self, value: float) -> float:
        part = (min(max(value, self.least), self.most) - self.least) / (self.most - self.least)
        return self.foot - part * (self.foot - self.top)


def draw_chain(path: Path, captures: Sequence[tuple[str, ChainReport]], *, limits: ChainLimits) -> None:
    """Draw one capture or two; the file is whole or not there.

    Parameters
    ----------
    path : pathlib.Path
        PNG.
    captures : sequence of (str, ChainReport)
        Names and what was measured. The responses of the first two are drawn, and the distortion of the first.
    limits : ChainLimits

    Raises
    ------
    CallError
        If there is nothing to draw, or the file cannot be written.
    """
    if not any(report.response or report.tones for _, report in captures):
        raise CallError(f"{path}: there is neither response nor tone to draw; leave out the picture.")
    image = Image.new("RGB", (_WIDTH * _FINE, _HEIGHT * _FINE), PAPER)
    pen = PicturePen(ImageDraw.Draw(image), float(_FINE))
    pen.text(60, 44, _plain(_caption(captures)), 34, most=_WIDTH - 120)
    _draw_response(pen, captures, limits)
    _draw_distortion(pen, captures[0][1], limits)
    _save(image.resize((_WIDTH, _HEIGHT), Image.Resampling.BOX), path)


def _caption(captures: Sequence[tuple[str, ChainReport]]) -> str:
    words = ", ".join(name for name, _ in captures[:_CAPTURES])
    more = len(captures) - _CAPTURES
    return f"Chain by {words}" + (f" and {more} more, not drawn" if more > 0 else "")


def _draw_response(pen: PicturePen, captures: Sequence[tuple[str, ChainReport]], limits: ChainLimits) -> None:
    lines = _response_lines(captures[:_CAPTURES])
    greatest = max((abs(value) for _, points, _, _ in lines for _, value in points), default=0.0)
    allowed = max(limit for _, _, limit in limits.response_bands)
    reach, step = _round_up(min(max(_LEAST_DB, 1.1 * greatest, 1.2 * allowed), _MOST_DB))
    panel = _Panel(200.0, 880.0, -reach, reach)
    pen.text(_LEFT, panel.top - 22, "Response, dB re 1 kHz; dotted: the limits", _TEXT, anchor="ls")
    _grid(pen, panel, _decibels(reach, step))
    for low, high, limit in limits.response_bands:
        for value in (-limit, limit):
            y = panel.y(value)
            pen.line([(panel.x(low), y), (panel.x(high), y)], _LIMIT, 2.0, (4, 8))
    _draw_lines(pen, panel, lines)


def _decibels(reach: float, step: float) -> list[tuple[float, str]]:
    count = round(reach / step)
    return [(k * step, f"{k * step:+g} dB" if k else "0 dB") for k in range(-count, count + 1)]


def _response_lines(captures: Sequence[tuple[str, ChainReport]]) -> list[Line]:
    lines: list[Line] = []
    for k, (name, report) in enumerate(captures):
        for column, channel in enumerate(("left", "right")):
            if len(report.curve_hz):
                points = list(zip(report.curve_hz.tolist(), report.curve_db[column].tolist(), strict=True))
            else:
                rows = [(row.frequency, (row.left_db, row.right_db)[column]) for row in report.response]
                points = [(f, value) for f, value in rows if value is not None]
            points = [(f, value) for f, value in points if math.isfinite(value) and _LOW_HZ <= f <= _HIGH_HZ]
            if len(points) > 1:
                words = channel if len(captures) == 1 else f"{channel}, {name}"
                lines.append((words, points, _COLOURS[2 * k + column], _DASHES[2 * k + column]))
    return lines


def _draw_distortion(pen: PicturePen, report: ChainReport, limits: ChainLimits) -> None:
    panel = _Panel(1000.0, 1610.0, math.log10(_LEAST_PERCENT), math.log10(_MOST_PERCENT))
    title = "Distortion of tones by their level, of the worse channel, and harmonics of the swept sine; per cent"
    pen.text(_LEFT, panel.top - 22, title, _TEXT, anchor="ls")
    decades = range(int(panel.least), int(panel.most) + 1)
    _grid(pen, panel, [(float(power), f"{10.0**power:g} %") for power in decades])
    y = panel.y(math.log10(limits.distortion_percent))
    ends = panel.x(limits.distortion_from_hz), panel.x(limits.distortion_to_hz)
    pen.line([(ends[0], y), (ends[1], y)], _LIMIT, 2.0, (4, 8))
    lines = [*_tone_lines(report), *_harmonic_lines(report)]
    _draw_lines(pen, panel, [(words, [(f, _log(v)) for f, v in points], c, d) for words, points, c, d in lines])
    _frequency_axis(pen, panel)
    if not lines:
        pen.text((_LEFT + _RIGHT) / 2, (panel.top + panel.foot) / 2, "no tone to judge", _TEXT, _FAINT, "mm")


def _tone_lines(report: ChainReport) -> list[Line]:
    """One line for each level at which tones of several frequencies were played; single tones as short strokes."""
    levels: dict[int, Points] = {}
    for tone in report.tones:
        _, one = tone.worse
        if one.harmonics and _LOW_HZ <= one.frequency <= _HIGH_HZ and tone.side == "both":
            levels.setdefault(round(one.level_dbfs if tone.played_dbfs is None else tone.played_dbfs), []).append(
                (one.frequency, 100.0 * one.thd)
            )
    chosen = sorted(sorted(levels, key=lambda level: -len(levels[level]))[:_LEVELS])
    lines: list[Line] = []
    for k, level in enumerate(chosen):
        points = sorted(levels[level])
        if len(points) == 1:
            (f, value) = points[0]
            points = [(f / 1.03, value), (f * 1.03, value)]
        lines.append((f"{level} dBFS", points, _COLOURS[k], _DASHES[k]))
    return lines


def _harmonic_lines(report: ChainReport) -> list[Line]:
    lines: list[Line] = []
    for k, order in enumerate(ORDERS[:2]):
        points: Points = []
        for row in report.harmonics:
            known = [one for one in (row.left[k], row.right[k]) if one is not None]
            if known:
                points.append((row.frequency, 100.0 * max(known)))
        if len(points) > 1:
            lines.append((f"harmonic {order}", points, _COLOURS[3 + k], _DASHES[3 + k]))
    return lines


def _draw_lines(pen: PicturePen, panel: _Panel, lines: Sequence[Line]) -> None:
    """Each line, and its name where it ends, the names pushed apart."""
    names: list[tuple[float, str, Rgb]] = []
    for words, points, colour, dash in lines:
        pen.line([(panel.x(f), panel.y(value)) for f, value in points], colour, 3.0, dash)
        names.append((panel.y(points[-1][1]), words, colour))
    at = panel.top - _SPREAD
    for y, words, colour in sorted(names):
        at = max(y, at + _SPREAD)
        pen.text(_RIGHT + 14, at, _plain(words), _SMALL, colour, "lm", most=_WIDTH - _RIGHT - 30)


def _grid(pen: PicturePen, panel: _Panel, rows: Sequence[tuple[float, str]]) -> None:
    for tick in _TICKS_HZ:
        pen.line([(panel.x(tick), panel.top), (panel.x(tick), panel.foot)], _RULE, 1.0)
    for value, words in rows:
        y = panel.y(value)
        pen.line([(_LEFT, y), (_RIGHT, y)], _RULE, 1.5)
        pen.text(_LEFT - 14, y, words, _SMALL, _FAINT, "rm")


def _frequency_axis(pen: PicturePen, panel: _Panel) -> None:
    for tick in _TICKS_HZ:
        pen.line([(panel.x(tick), panel.foot), (panel.x(tick), panel.foot + 8)], _FAINT, 1.5)
        words = f"{tick / 1000:g} k" if tick >= 1000 else f"{tick}"
        pen.text(panel.x(tick), panel.foot + 16, words, _SMALL, INK, "ma")
    pen.text(_RIGHT + 70, panel.foot + 16, "Hz", _SMALL, _FAINT)


def _log(percent: float) -> float:
    return math.log10(max(percent, _LEAST_PERCENT))


def _round_up(most: float) -> tuple[float, float]:
    """A round value not below `most`, and the round step that reaches it in about four."""
    power = 10.0 ** math.floor(math.log10(most / 4.0))
    step = next(power * nice for nice in (1, 2, 5, 10) if power * nice >= most / 4.0 - 1e-12)
    return step * math.ceil(most / step - 1e-9), step


def _save(image: Image.Image, path: Path) -> None:
    with picture_file(path) as part:
        image.save(part, format="PNG")


def _plain(text: str) -> str:
    """On one line, in letters that the typeface has."""
    return plain_letters(" ".join(text.split()))
