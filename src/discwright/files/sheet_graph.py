"""The graph of a cutting sheet: pitch, depth and level against time, with no peak lost."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from discwright.files.fonts import BLACK, GREY, LIGHT, MM, PAGE_MM, Pen
from discwright.groove.grid import FINE, MUSIC
from discwright.units import clock, lines_per_inch

if TYPE_CHECKING:
    from discwright.plan import Plan

Float = NDArray[np.float64]

#: The graph is drawn from so many pieces of time at most, each as its least and greatest.
_BINS = 360
#: Quieter than this is drawn as this, dB.
_FLOOR_DB = -60.0
_AXIS_MM, _RIGHT_MM = 24.0, 14.0


@dataclass(frozen=True)
class _Panel:
    """One curve of the graph: a value per sector, NaN where it says nothing."""

    name: str
    unit: str
    begin: Float
    end: Float
    value: Float


def draw_graph(pen: Pen, plan: Plan, x: float, y: float, width: float, height: float) -> None:
    """Pitch, depth and level of a side against time, one above the other.

    Every stretch of time is drawn as its least and greatest value, so that no peak is lost. The level is that of the
    programme as it is cut: a full-scale sine in both channels has the plan's own level.

    Parameters
    ----------
    pen : Pen
    plan : Plan
    x, y, width, height : float, mm
        Upper left corner and size, axes and words included.
    """
    left, right = x + _AXIS_MM, x + width - _RIGHT_MM
    first, last = float(plan.rows.time[plan.rows.music][0]), float(plan.rows.time[plan.rows.music][-1])
    top, foot = y + 4.0, y + height - 5.0
    gap = 3.0
    each = (foot - top - 2 * gap) / 3

    def across(time: float) -> float:
        return left + (time - first) / (last - first) * (right - left)

    reached = -1e9
    for number, (begin, end) in enumerate(plan.bands, 1):
        # A number that would stand on the one before it, or beyond the axis, is left out; its rule stays.
        if reached < across(begin) < right - 4.0:
            pen.text(across(begin) + 0.6, y + 2.6, str(number), 7.5, bold=True)
            reached = across(begin) + 5.0
        for edge in (begin, end):
            pen.line(across(edge), y if edge == begin else top, across(edge), foot, LIGHT, 0.4)
    pen.text(left - 2.0, y + 2.6, "Band", 7, grey=GREY, align="right")
    for k, panel in enumerate(_panels(plan)):
        _draw_panel(pen, panel, (left, top + k * (each + gap), right, each), (first, last))
    step = _nice((last - first) / 60.0, 9, (1, 2, 5, 10)) * 60.0 if last - first > 180 else _nice(last - first, 8)
    for tick in np.arange(0.0, last + 1e-9, step).tolist():
        pen.line(across(tick), foot, across(tick), foot + 1.0)
        words = clock(tick)
        pen.text(across(tick), foot + 4.0, words[:-2] if step >= 1 else words, 7, align="middle")
    pen.text(x, foot + 4.0, "Time, min:s", 7, grey=GREY)


def _panels(plan: Plan) -> tuple[_Panel, ...]:
    rows, grid = plan.rows, plan.motion.grid
    cut = np.isin(rows.zone[:-1], (FINE, MUSIC)) & (rows.time[:-1] >= -1e-9)
    begin, end = rows.time[:-1][cut], rows.time[1:][cut]
    music = slice(grid.start, grid.end)
    with np.errstate(divide="ignore"):
        level = 10.0 * np.log10(2.0 * plan.motion.power[music]) + plan.level_db
    return (
        _Panel("Pitch", "µm", begin, end, rows.pitch[:-1][cut] * 1e6),
        _Panel("Depth", "µm", begin, end, rows.depth[:-1][cut] * 1e6),
        _Panel(
            "Level", "dB", grid.time[:-1][music], grid.time[1:][music],
            np.maximum(level, max(_FLOOR_DB, float(level.max(initial=_FLOOR_DB)) - 60.0)),
        ),
    )  # fmt: skip


def _draw_panel(pen: Pen, panel: _Panel, place: tuple[float, float, float, float], span: tuple[float, float]) -> None:
    left, top, right, height = place
    most = max(2, min(5, int(height / 4.5)))
    low, high = _limits(panel.value, most)
    # Two ticks at least, or a value cannot be read off.
    step = next(s for s in (_nice(high - low, n) for n in range(most, 99)) if _ticks(low, high, s) >= 2)

    def at(value: float) -> float:
        return top + height * (1.0 - (value - low) / (high - low))

    pen.text(left - _AXIS_MM, top + 2.4, panel.name, 8, bold=True)
    pen.text(left - _AXIS_MM, top + 5.8, panel.unit, 7, grey=GREY)
    ticks = (math.ceil(low / step - 1e-6) + np.arange(_ticks(low, high, step))) * step
    if panel.name == "Pitch":
        pen.text(right + 1.5, top - 0.6, "lines/inch", 7, grey=GREY, width=_RIGHT_MM - 1.5)
    for tick in ticks.tolist():
        pen.line(left, at(tick), right, at(tick), LIGHT, 0.25)
        pen.text(left - 2.0, at(tick) + 0.9, f"{tick:.6g}".replace("-", "−"), 7, align="right")
        if panel.name == "Pitch" and tick > 0 and at(tick) > top + 2.0:
            pen.text(right + 1.5, at(tick) + 0.9, f"{lines_per_inch(tick * 1e-6):.0f}", 7, grey=GREY)
    pen.line(left, top + height, right, top + height)
    pen.line(left, top, left, top + height)
    pen.canvas.setFillGray(0.55)
    pen.canvas.setStrokeGray(BLACK)
    pen.canvas.setLineWidth(0.45)
    pen.canvas.setLineJoin(1)
    least, greatest, middle = envelope(panel.begin, panel.end, panel.value, span, _BINS)
    x = (left + (middle - span[0]) / (span[1] - span[0]) * (right - left)) * MM
    page = PAGE_MM[1]
    for piece in np.split(np.arange(len(x)), np.flatnonzero(np.isnan(least))):
        piece = piece[~np.isnan(least[piece])]
        if len(piece):
            upper = [(float(x[k]), (page - at(float(greatest[k]))) * MM) for k in piece]
            lower = [(float(x[k]), (page - at(float(least[k]))) * MM) for k in piece[::-1]]
            pen.path(upper + lower, fill=True, stroke=True)


def envelope(
    begin: Float, end: Float, value: Float, span: tuple[float, float], bins: int
) -> tuple[Float, Float, Float]:
    """Least and greatest value within equal pieces of time.

    Parameters
    ----------
    begin, end : ndarray, shape (n,), s
        Of each value's sector, in order.
    value : ndarray, shape (n,)
    span : (float, float), s
        Time to divide.
    bins : int
        Pieces at most; fewer where there are fewer values.

    Returns
    -------
    least, greatest : ndarray, shape (bins,)
        NaN in a piece that no sector's middle lies in.
    middle : ndarray, shape (bins,), s
    """
    bins = max(1, min(bins, len(value) // 2))
    width = (span[1] - span[0]) / bins
    place = np.clip((((begin + end) / 2 - span[0]) / width).astype(np.int64), 0, bins - 1)
    least, greatest = np.full(bins, np.inf), np.full(bins, -np.inf)
    np.minimum.at(least, place, value)
    np.maximum.at(greatest, place, value)
    least[np.isinf(least)] = np.nan
    greatest[np.isinf(greatest)] = np.nan
    middle: Float = span[0] + (np.arange(bins, dtype=np.float64) + 0.5) * width
    return least, greatest, middle


def _limits(value: Float, most: int) -> tuple[float, float]:
    """A round range that holds all values."""
    low, high = (float(np.min(value)), float(np.max(value))) if len(value) else (0.0, 1.0)
    if high - low < 1e-9 + 0.02 * abs(high):
        low, high = low - 0.05 * abs(low) - 0.5, high + 0.05 * abs(high) + 0.5
    step = _nice(high - low, 3 * most)
    return math.floor(low / step + 1e-6) * step, math.ceil(high / step - 1e-6) * step


def _ticks(low: float, high: float, step: float) -> int:
    """How many whole steps lie within a range, both ends included."""
    return math.floor(high / step + 1e-6) - math.ceil(low / step - 1e-6) + 1


def _nice(span: float, most: int, steps: tuple[int, ...] = (1, 2, 5, 10)) -> float:
    """The least round step that divides a span into no more than `most` parts."""
    power = 10.0 ** math.floor(math.log10(span / most))
    return next(step * power for step in steps if span / (step * power) <= most + 1e-9)
