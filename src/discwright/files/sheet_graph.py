"""The pieces of a cutting sheet: its graph, disc, code and bar; one finding set out in lines; its standing words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from discwright.files.fonts import BLACK, GREY, LIGHT, MM, PAGE_MM, Pen, minus, plain, signed, wrap
from discwright.findings import Finding
from discwright.groove.cues import Cue
from discwright.groove.grid import FINE, MUSIC
from discwright.units import clock, lines_per_inch

if TYPE_CHECKING:
    from discwright.groove.ladder import Rung
    from discwright.groove.preflight import Margin
    from discwright.plan import Plan

Float = NDArray[np.float64]

#: Left edge, width, upper edge and lower edge of what is printed above the foot line, mm.
LEFT, WIDTH, TOP, FOOT = 14.0, 182.0, 11.0, 281.0
RIGHT = LEFT + WIDTH
#: At most so many margins, and so many lines of treatments and rungs, are printed.
MARGINS_SHOWN, REMARK_LINES = 3, 6
#: The graph is drawn from so many pieces of time at most, each as its least and greatest.
_BINS = 360
#: Quieter than this is drawn as this, dB.
_FLOOR_DB = -60.0
_AXIS_MM, _RIGHT_MM = 24.0, 14.0


FIELDS = (
    "Lacquer number", "Lacquer batch", "Cutting tip number", "Tip hours",
    "Depth at start, µm, microscope", "Depth at end, µm, microscope", "Cut by", "Date",
)  # fmt: skip
CAUTIONS = (
    "Swarf is cellulose nitrate: highly flammable. Keep it wet in a closed metal container with water; empty it often.",
    "No flame, no smoking, no sparks. Keep the suction running as long as anything is cut.",
    "The cutting tip is sharp, and the hot wire is hot even after it is switched off.",
    "Wear eye protection.",
    "Local codes, safety data sheets and licensed practice come before this sheet.",
)
STOPPED = (
    "A lacquer cannot be resumed. Lift the tip; switch the hot wire off; stop the suction last.",
    "Scrap the lacquer and mark it as scrap.",
    "Write down what happened, and at what time and turn.",
    "Take a new lacquer and start again from the lead-in.",
)
_CUE_WORDS = {
    "lead_in": "Lower the tip in the lead-in",
    "music": "Music begins",
    "stop": "Locked groove begins",
    "lift": "Groove closed: lift the tip",
}


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


@dataclass(frozen=True)
class Entry:
    """One finding set out in lines."""

    finding: Finding
    remedy: list[str]
    reason: list[str]

    @classmethod
    def of(cls, finding: Finding, lines: int) -> Entry:
        width = (WIDTH - 26.0 - 22.0) * MM
        said = f"{_against(finding)} {finding.remedy}".strip()
        reason = wrap(finding.accepted, width - 17.0 * MM, 8, False, lines) if finding.accepted else []
        return cls(finding, wrap(said, width, 8, False, lines), reason)

    @property
    def height(self) -> float:
        return max(9.4, 6.0 + 3.7 * (len(self.remedy) + len(self.reason)))

    def draw(self, pen: Pen, y: float) -> None:
        finding, x = self.finding, LEFT + 26.0
        pen.shape(finding.severity, LEFT + 1.5, y + 3.2, 1.25)
        pen.text(LEFT + 5.0, y + 4.2, finding.severity, 8.5, bold=True)
        pen.text(x, y + 4.2, finding.code.replace("_", " "), 8.5, bold=True, width=36.0)
        pen.text(RIGHT - 22.0, y + 4.2, _place(finding), 8.5, width=94.0, align="right")
        foot = y + 4.5
        for line in self.remedy:
            foot += 3.7
            pen.text(x, foot, line, 8)
        for k, line in enumerate(self.reason):
            foot += 3.7
            pen.text(x, foot, "Accepted:" if k == 0 else "", 8, bold=True)
            pen.text(x + 17.0, foot, line, 8)
        pen.box(RIGHT - 18.0, y + 1.2, 18.0, 7.0)


def cue_words(cue: Cue) -> str:
    """What a cue says to the person at the lathe.

    Parameters
    ----------
    cue : Cue
    """
    if cue.kind == "fine":
        return f"Fine pitch, {-cue.turn:.3g} turns before music"
    if cue.kind == "join":
        return f"Band {cue.band} ends: join"
    if cue.kind == "band":
        return f"Band {cue.band} begins"
    if cue.kind == "lead_out":
        return "End of music: lead-out"
    return _CUE_WORDS[cue.kind]


def _place(finding: Finding) -> str:
    parts = []
    if finding.time_s is not None:
        parts.append(minus(clock(finding.time_s)))
    if finding.band is not None:
        parts.append(f"band {finding.band}")
    if finding.turn is not None:
        parts.append(minus(f"turn {finding.turn:.1f}"))
    if finding.radius_mm is not None:
        parts.append(f"r {finding.radius_mm:.1f} mm")
    return "   ".join(parts) or "whole side"


def _against(finding: Finding) -> str:
    if finding.time_s is None and not finding.limit:
        return ""
    return f"{plain(finding.value)} against {plain(finding.limit)} {finding.unit}".rstrip() + "."


def speed_words(rpm: float) -> str:
    """Turns a minute as they are spoken of.

    Parameters
    ----------
    rpm : float
    """
    return "33⅓" if abs(rpm - 100 / 3) < 1e-6 else f"{rpm:g}"


def isrc_words(code: str) -> str:
    """As it is read: country, owner, year, recording (ISO 3901).

    Parameters
    ----------
    code : str
        Without hyphens; anything that is none is left as it is.
    """
    return f"{code[:2]}-{code[2:5]}-{code[5:7]}-{code[7:]}" if len(code) == 12 else code


def margin_words(margin: Margin) -> str:
    """A margin in words, without how far inside it is.

    Parameters
    ----------
    margin : Margin
    """
    words = f"{margin.what.replace('_', ' ')}: {plain(margin.value)} against {plain(margin.limit)} {margin.unit}"
    return words if margin.time is None else f"{words} at {minus(clock(margin.time))}"


def rung_words(rung: Rung) -> str:
    """A rung in words, without its level.

    Parameters
    ----------
    rung : Rung
    """
    words = rung.limit.replace("_", " ")
    if rung.time is None or rung.turn is None:
        return words
    return f"{words}, met at {minus(clock(rung.time))}, turn {rung.turn:.1f}"


def draw_heading(pen: Pen, y: float, words: str, width: float = WIDTH, x: float = LEFT) -> None:
    """Words in bold and a rule below them.

    Parameters
    ----------
    pen : Pen
    y : float, mm
        Upper edge.
    words : str
    width, x : float, mm
    """
    pen.text(x, y + 3.4, words, 9, bold=True, width=width)
    pen.line(x, y + 4.6, x + width, y + 4.6, points=0.6)


def row_type(row: float) -> float:
    """Type that suits a row of a table.

    Parameters
    ----------
    row : float, mm
        Its height.

    Returns
    -------
    float, pt
    """
    return min(9.0, 2.05 * row)


def draw_cues(pen: Pen, cues: tuple[Cue, ...], x: float, y: float, width: float, row: float) -> None:
    """One column of cues under its heads: time, turn, radius and what to do.

    Parameters
    ----------
    pen : Pen
    cues : tuple of Cue
    x, y, width : float, mm
        Upper left corner and width.
    row : float, mm
        Height of a row.
    """
    size = min(row_type(row), 9.0 if width > 100 else 8.5)
    # Right edges of time, turn and radius, then the left edge of the words, mm from the column's left.
    time, turn, radius, words = (20.0, 34.0, 51.0, 56.0) if width > 100 else (16.0, 28.0, 40.0, 43.0)
    heads = ((time, "Time"), (turn, "Turn"), (radius, "Radius, mm" if width > 100 else "r, mm"))
    for edge, name in heads if cues else ():
        pen.text(x + edge, y + 3.4, name, 7.5, grey=GREY, align="right")
    foot = y + 4.6
    for cue in cues:
        foot += row
        at = foot - 0.3 * row
        pen.text(x + time, at, minus(clock(cue.time)), size, bold=True, align="right")
        pen.text(x + turn, at, minus(f"{round(cue.turn, 1) + 0.0:.1f}"), size, align="right")
        pen.text(x + radius, at, f"{cue.radius * 1e3:.1f}", size, align="right")
        pen.text(x + words, at, cue_words(cue), size, width=width - words)
        pen.line(x, foot, x + width, foot, LIGHT, 0.25)


def remark_columns(
    treatments: tuple[str, ...], margins: Sequence[Margin], ladder: tuple[Rung, ...], width: float
) -> list[tuple[str, str, list[tuple[str, str]]]]:
    """What is said of treatments, margins and ladder.

    Parameters
    ----------
    treatments : tuple of str
    margins : sequence of Margin
    ladder : tuple of Rung
    width : float, mm
        Of a column.

    Returns
    -------
    list of (str, str, list of (str, str))
        Head, what its values are, and lines of words and value; the treatments always, first.
    """
    left: list[tuple[str, str]] = []
    for k, sentence in enumerate(treatments or ("None: the programme is cut as approved.",)):
        lines = wrap(sentence, width * MM, 7.6, False, 4)
        if k and len(left) + len(lines) > REMARK_LINES:
            left.append((f"and {len(treatments) - k} more in the title file", ""))
            break
        left += [(line, "") for line in lines]
    tightest = sorted(margins, key=lambda m: round(m.inside_percent))[:MARGINS_SHOWN]
    right = [(margin_words(m), minus(f"{round(m.inside_percent) + 0:d} %")) for m in tightest]
    rungs = [(rung_words(rung), f"{signed(rung.level_db)} dB") for rung in ladder[:REMARK_LINES]]
    columns = [("Treatments", "", left)]
    columns += [("Tightest margins", "inside the limit", right)] if right else []
    columns += [("Ladder", "highest level", rungs)] if rungs else []
    return columns


def draw_fields(pen: Pen, y: float) -> None:
    """A box for each of :data:`FIELDS`, four in a row.

    Parameters
    ----------
    pen : Pen
    y : float, mm
        Upper edge.
    """
    wide = WIDTH / 4
    for k, name in enumerate(FIELDS):
        x, top = LEFT + wide * (k % 4), y + 10.5 * (k // 4)
        pen.box(x, top, wide, 10.5)
        pen.text(x + 1.2, top + 3.2, name, 7, grey=GREY, width=wide - 2.4)
