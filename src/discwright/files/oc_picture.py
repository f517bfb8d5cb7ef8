"""The operating characteristic of a sampling plan, drawn as PNG or SVG.

Percent nonconforming to the right, accepted lots of 100 upwards. The AQL and the points at 95, 50 and 10 of 100 have a
shape each and a line of words, so that nothing hangs on colour. Both files are drawn from the same list of strokes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from discwright.errors import CallError
from discwright.files.picture_file import picture_file
from discwright.files.svg_shapes import Shape, corners, shape_element, svg_document, words_element
from discwright.works.operating_characteristic import OcPoint, curve, percent_at, plan_probability
from discwright.works.sampling import Plan

SUFFIXES = (".png", ".svg")
_WIDE, _HIGH = 1600.0, 1000.0
_LEFT, _RIGHT, _TOP, _FOOT = 150.0, 1540.0, 200.0, 860.0
#: Pieces of the line: no corner of it is seen.
_DRAWN = 240
#: Left end of the words beside the curve, and the first of their lines.
_TOLD_X, _TOLD_Y, _TOLD_ROW = 930.0, 262.0, 54.0
_FINE = 2
Rgb = tuple[int, int, int]
_PAPER: Rgb = (252, 251, 248)
_INK: Rgb = (52, 50, 46)
_GRID: Rgb = (222, 218, 208)
_CURVE: Rgb = (24, 92, 160)
_MARK: Rgb = (176, 72, 28)
_TEXT, _HEAD = 27, 34


@dataclass(frozen=True)
class _Line:
    points: Sequence[tuple[float, float]]
    colour: Rgb
    width: float
    dash: tuple[int, ...] = ()


@dataclass(frozen=True)
class _Words:
    """Words on one line; `anchor` is start, middle or end, `y` their foot."""

    x: float
    y: float
    words: str
    size: int
    anchor: str = "start"


@dataclass(frozen=True)
class _Sign:
    shape: Shape
    x: float
    y: float
    reach: float = 13.0


_Stroke = _Line | _Words | _Sign


def draw_oc(path: Path, plan: Plan) -> None:
    """Draw a plan's characteristic; the file is whole or not there.

    Parameters
    ----------
    path : pathlib.Path
        Ends with .png or .svg.
    plan : Plan

    Raises
    ------
    CallError
        If it ends otherwise, or cannot be written.
    """
    kind = path.suffix.lower()
    if kind not in SUFFIXES:
        raise CallError(f"{path}: a characteristic is drawn as PNG or SVG; choose a name that ends with .png or .svg.")
    strokes = _strokes(plan)
    with picture_file(path) as part:
        if kind == ".svg":
            part.write_text(_svg(strokes, _title(plan)), encoding="utf-8")
        else:
            _write_png(part, strokes)


def _title(plan: Plan) -> str:
    looked = f"all {plan.n} discs" if plan.inspect_all else f"{plan.n} discs of {plan.lot}"
    return f"Operating characteristic: {looked}, accepted with {plan.accept}, refused with {plan.reject}"


def _strokes(plan: Plan) -> list[_Stroke]:
    points = curve(plan)
    end = _end(plan, points)
    at_x, at_y = _scales(end)
    strokes = [*_axes(end, at_x, at_y)]
    line = (
        _step_line(plan, end)
        if plan.inspect_all
        else [(end * k / _DRAWN, plan_probability(plan, end * k / _DRAWN)) for k in range(_DRAWN + 1)]
    )
    strokes.append(_Line([(at_x(p), at_y(chance)) for p, chance in line if p <= end * (1 + 1e-9)], _CURVE, 5.0))
    strokes += _marked(plan, at_x, at_y)
    words = f"letter {plan.letter}, lot of {plan.lot}, level {plan.level}, AQL {plan.aql:g} %, {plan.inspection}"
    strokes.append(_Words(_LEFT, 70.0, _title(plan), _HEAD))
    strokes.append(_Words(_LEFT, 118.0, f"{words}; {_method(plan)}", _TEXT))
    return strokes


def _method(plan: Plan) -> str:
    return "every disc is looked at, so it is a step" if plan.inspect_all else "binomial"


def _end(plan: Plan, points: Sequence[OcPoint]) -> float:
    """Where the axis ends: a round number beyond what matters."""
    if plan.inspect_all:
        wanted = min(100.0, max(3.0 * 100.0 * plan.reject / plan.lot, 1.5 * plan.aql))
    else:
        wanted = next(p.percent_nonconforming for p in points if p.accept_probability < 0.005)
    return min(100.0, _tick(wanted) * math.ceil(wanted / _tick(wanted) - 1e-9))


def _tick(wanted: float) -> float:
    """A round step that divides the axis into 5 to 10."""
    decade = 10.0 ** math.floor(math.log10(wanted / 5.0))
    return max(step * decade for step in (1.0, 2.0, 5.0) if step * decade <= wanted / 5.0 * (1 + 1e-9))


def _scales(end: float) -> tuple[Callable[[float], float], Callable[[float], float]]:
    return (
        lambda percent: _LEFT + (_RIGHT - _LEFT) * percent / end,
        lambda chance: _FOOT - (_FOOT - _TOP) * chance,
    )


def _axes(end: float, at_x: Callable[[float], float], at_y: Callable[[float], float]) -> list[_Stroke]:
    strokes: list[_Stroke] = []
    tick = _tick(end)
    for k in range(round(end / tick) + 1):
        x = at_x(k * tick)
        strokes.append(_Line([(x, _TOP), (x, _FOOT)], _GRID, 2.0))
        strokes.append(_Words(x, _FOOT + 38.0, f"{k * tick:g}", _TEXT, "middle"))
    for chance in range(0, 101, 10):
        y = at_y(chance / 100.0)
        strokes.append(_Line([(_LEFT, y), (_RIGHT, y)], _GRID, 2.0))
        strokes.append(_Words(_LEFT - 14.0, y + 10.0, str(chance), _TEXT, "end"))
    strokes.append(_Line([(_LEFT, _TOP), (_LEFT, _FOOT), (_RIGHT, _FOOT)], _INK, 3.0))
    strokes.append(_Words((_LEFT + _RIGHT) / 2.0, _FOOT + 90.0, "percent nonconforming", _TEXT, "middle"))
    strokes.append(_Words(_LEFT, _TOP - 18.0, "lots accepted, of 100", _TEXT))
    return strokes


def _step_line(plan: Plan, end: float) -> list[tuple[float, float]]:
    """Of a lot that is inspected whole: accepted up to the last count, refused from the next on."""
    edge = min(end, 100.0 * plan.reject / plan.lot)
    return [(0.0, 1.0), (edge, 1.0), (edge, 0.0), (end, 0.0)]


def _marked(plan: Plan, at_x: Callable[[float], float], at_y: Callable[[float], float]) -> list[_Stroke]:
    """The AQL and the points told of a plan: a sign on the curve, a line down, a line of words at the right."""
    at_aql = plan_probability(plan, plan.aql)
    told: list[tuple[Shape, float, float, str]] = [
        ("diamond", plan.aql, at_aql, f"AQL {plan.aql:g} %: {100 * at_aql:.1f} of 100 lots accepted")
    ]
    if plan.inspect_all:
        told.append(
            ("triangle", 100.0 * plan.reject / plan.lot, 0.0, f"refused with {plan.reject} of {plan.lot} discs")
        )
    else:
        signs: tuple[tuple[Shape, float], ...] = (("circle", 0.95), ("square", 0.50), ("triangle", 0.10))
        for shape, chance in signs:
            percent = percent_at(chance, plan.n, plan.accept)
            told.append((shape, percent, chance, f"{100 * chance:.0f} of 100 lots accepted at {percent:.3g} %"))
    strokes: list[_Stroke] = []
    for k, (shape, percent, chance, words) in enumerate(told):
        x, y = at_x(percent), at_y(chance)
        strokes.append(_Line([(x, y), (x, _FOOT)], _MARK, 2.0, (8, 8)))
        strokes.append(_Sign(shape, x, y))
        row = _TOLD_Y + _TOLD_ROW * k
        # A strip of paper, lest the grid run through the words.
        strokes.append(_Line([(_TOLD_X - 24.0, row - 9.0), (_RIGHT - 2.0, row - 9.0)], _PAPER, _TOLD_ROW))
        strokes.append(_Sign(shape, _TOLD_X, row - 9.0))
        strokes.append(_Words(_TOLD_X + 30.0, row, words, _TEXT))
    return strokes


def _svg(strokes: Sequence[_Stroke], title: str) -> str:
    elements = [f'<rect width="{_WIDE:g}" height="{_HIGH:g}" fill="{_hex(_PAPER)}"/>']
    for one in strokes:
        if isinstance(one, _Line):
            points = " ".join(f"{x:.2f},{y:.2f}" for x, y in one.points)
            dash = f' stroke-dasharray="{" ".join(map(str, one.dash))}"' if one.dash else ""
            elements.append(
                f'<polyline points="{points}" fill="none" stroke="{_hex(one.colour)}" stroke-width="{one.width:g}"'
                f' stroke-linejoin="round"{dash}/>'
            )
        elif isinstance(one, _Words):
            elements.append(words_element(one.x, one.y, one.words, one.size, f'fill="{_hex(_INK)}"', one.anchor))
        else:
            paint = f'fill="{_hex(_MARK)}" stroke="{_hex(_PAPER)}" stroke-width="2"'
            elements.append(shape_element(one.shape, one.x, one.y, one.reach, paint))
    return svg_document((0.0, 0.0, _WIDE, _HIGH), title, elements)


def _hex(colour: Rgb) -> str:
    return "#{:02x}{:02x}{:02x}".format(*colour)


def _write_png(part: Path, strokes: Sequence[_Stroke]) -> None:
    from PIL import Image, ImageDraw

    from discwright.files.picture_pen import PicturePen

    size = (round(_WIDE), round(_HIGH))
    image = Image.new("RGB", (size[0] * _FINE, size[1] * _FINE), _PAPER)
    draw = ImageDraw.Draw(image)
    pen = PicturePen(draw, float(_FINE))
    anchors = {"start": "ls", "middle": "ms", "end": "rs"}
    for one in strokes:
        if isinstance(one, _Line):
            pen.line(one.points, one.colour, one.width, one.dash)
        elif isinstance(one, _Words):
            pen.text(one.x, one.y, one.words, one.size, _INK, anchors[one.anchor])
        else:
            edges = [(x * _FINE, y * _FINE) for x, y in corners(one.shape, one.x, one.y, one.reach)]
            draw.polygon(edges, _MARK, _PAPER)
    image.resize(size, Image.Resampling.BOX).save(part, format="PNG")
