"""The drawn pieces of a cutting sheet: head, numbers, tables, boxes, code, bar and the picture of the disc."""

from __future__ import annotations

import io
import math
from pathlib import Path

import numpy as np

from discwright.errors import CallError
from discwright.files.fonts import (
    BLACK,
    GREY,
    LEFT,
    LIGHT,
    MM,
    PAGE_MM,
    RIGHT,
    WIDTH,
    Pen,
    fit,
    minus,
    signed,
    text_width,
    wrap,
)
from discwright.files.sheet_words import FIELDS, cue_words, isrc_words, speed_words
from discwright.groove.cues import Cue
from discwright.plan import Plan
from discwright.programme.title import SideLabel
from discwright.units import clock, lines_per_inch

#: Heights of the head and of the numbers, mm.
HEAD_MM, NUMBERS_MM = 24.5, 28.5
#: The bar that shows whether a page was printed at its true size, mm.
BAR_MM = 50.0
#: Side of one module of the code, mm; a code needs four modules of white around it.
MODULE_MM, QUIET_MODULES = 0.6, 4

#: The disc is printed with so many pixels across.
_PICTURE_PX = 760
_STARTS_IN_A_ROW = 4


def draw_head(pen: Pen, label: SideLabel, fingerprint: str, y: float) -> None:
    """Title, people, matrix number, side and code, :data:`HEAD_MM` high.

    Parameters
    ----------
    pen : Pen
    label : SideLabel
    fingerprint : str
        Shown as the code.
    y : float, mm
        Upper edge.
    """
    # The code's white border may stand over the edges of the page's text.
    side = draw_code(pen, fingerprint, RIGHT + 2.4, y - 2.4)
    right = RIGHT - side + 2.0
    pen.text(right - 11.0, y + 2.8, "Side", 8, grey=GREY, align="middle")
    pen.text(right - 11.0, y + 17.5, label.letter or "–", 40, bold=True, width=20.0, align="middle")
    width = right - 24.0 - LEFT
    lines, size = wrap(label.title or "Untitled", width * MM, 20, True), 20.0
    if len(lines) > 1:
        lines, size = wrap(label.title, width * MM, 14, True, 2), 14.0
    foot = y + 6.6 if len(lines) == 1 else y + 4.6
    for k, line in enumerate(lines):
        pen.text(LEFT, foot + 5.8 * k, line, size, bold=True, width=width)
    foot = y + 13.6 if len(lines) == 1 else y + 15.6
    people = ", ".join(label.people)
    if people:
        for k, line in enumerate(wrap(people, width * MM, 8.5, False, 2 if len(lines) == 1 else 1)):
            pen.text(LEFT, foot + 3.9 * k, line, 8.5, width=width)
    pen.text(LEFT, y + 23.6, "Matrix", 8, grey=GREY)
    # The matrix number is scribed into the lacquer: it has the room it needs, the edition what is left.
    matrix, size = fit(label.matrix or "–", (width - 52.0) * MM, 13, True)
    pen.text(LEFT + 12.0, y + 23.6, matrix, size, bold=True)
    x = LEFT + max(width / 2, 18.0 + text_width(matrix, size, True) / MM)
    pen.text(x, y + 23.6, "Edition", 8, grey=GREY)
    pen.text(x + 13.0, y + 23.6, label.edition or "–", 10, width=LEFT + width - x - 13.0)


def draw_numbers(pen: Pen, plan: Plan, y: float) -> None:
    """The numbers of the side in two rows, and what it is cut with in a third, :data:`NUMBERS_MM` high.

    Parameters
    ----------
    pen : Pen
    plan : Plan
    y : float, mm
        Upper edge.
    """
    setup = plan.setup
    land = plan.land_least
    cells = (
        ("Format", setup.disc.name, ""),
        ("Speed", speed_words(setup.disc.revolutions_per_second * 60.0), "rpm"),
        ("Level", signed(plan.level_db), "dB"), ("Length, min:s", clock(plan.programme.duration), ""),
        ("Turns of music", f"{plan.turns:.1f}", ""), ("Radius to spare", signed(plan.spare * 1e3, ""), "mm"),
        ("First radius", f"{plan.start_radius * 1e3:.1f}", "mm"),
        ("Last radius", f"{plan.end_radius * 1e3:.1f}", "mm"),
        ("Mean pitch", f"{plan.mean_pitch * 1e6:.0f}", "µm"),
        ("Lines per inch", f"{lines_per_inch(plan.mean_pitch):.0f}" if plan.mean_pitch > 0 else "–", ""),
        ("Depth, µm", f"{plan.depth_least * 1e6:.1f}–{plan.depth_greatest * 1e6:.1f}", ""),
        ("Least land", f"{land * 1e6:.1f}" if math.isfinite(land) else "–", "µm"),
    )  # fmt: skip
    tools = (
        ("Lathe", setup.lathe.name), ("Head", setup.head.name), ("Cutting tip", setup.cutting_tip.name),
        ("Playing tip", setup.tip.name), ("Practice", setup.practice.name),
    )  # fmt: skip
    wide = WIDTH / 6
    pen.line(LEFT, y, RIGHT, y)
    for k, (name, value, unit) in enumerate(cells):
        x, top = LEFT + wide * (k % 6), y + 10.0 * (k // 6)
        pen.text(x, top + 3.6, name, 7.5, grey=GREY)
        room = wide - 2.0 - (1.0 + text_width(unit, 8.5) / MM if unit else 0.0)
        pen.text(x, top + 8.7, value, 12.5, bold=True, width=room)
        beyond = text_width(*fit(value, room * MM, 12.5, True), True) / MM
        pen.text(x + beyond + 1.0, top + 8.7, unit, 8.5)
    pen.line(LEFT, y + 20.6, RIGHT, y + 20.6, LIGHT)
    for k, (name, value) in enumerate(tools):
        x = LEFT + WIDTH / 5 * k
        pen.text(x, y + 24.0, name, 7.5, grey=GREY)
        pen.text(x, y + 27.8, value, 8.5, width=WIDTH / 5 - 3.0)


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
    time, turn, radius, words = (21.0, 34.0, 52.5, 57.0) if width > 100 else (18.5, 29.5, 41.0, 44.0)
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


def draw_bands(pen: Pen, plan: Plan, label: SideLabel, y: float, row: float, most: int) -> None:
    """One row for each band: name, recording, when it begins, how long it lasts, turn and radius.

    Parameters
    ----------
    pen : Pen
    plan : Plan
    label : SideLabel
    y, row : float, mm
        Upper edge, and height of a row.
    most : int
        Rows at most; how many bands are not shown is told below them.
    """
    size = row_type(row)
    # Right edges of the columns of numbers, mm from the left.
    edges = {"Begins": 128.0, "Length": 144.0, "Turn": 161.0, "Radius, mm": WIDTH}
    draw_heading(pen, y, "Bands")
    for name, edge in edges.items():
        pen.text(LEFT + edge, y + 3.4, name, 7.5, grey=GREY, align="right")
    pen.text(LEFT + 84.0, y + 3.4, "ISRC", 7.5, grey=GREY)
    foot = y + 4.6
    for k, (begin, end) in enumerate(plan.bands[:most]):
        foot += row
        at = foot - 0.3 * row
        name = label.band_names[k] if k < len(label.band_names) else ""
        code = label.isrcs[k] if k < len(label.isrcs) else ""
        radius = float(np.interp(begin, plan.rows.time, plan.rows.radius)) * 1e3
        pen.text(LEFT + 5.0, at, str(k + 1), size, bold=True, align="right")
        pen.text(LEFT + 8.0, at, name or "–", size, width=74.0)
        pen.text(LEFT + 84.0, at, isrc_words(code), min(size, 8.0), width=29.0)
        turn = begin / plan.setup.disc.turn_time
        numbers = (clock(begin), clock(end - begin), f"{turn:.1f}", f"{radius:.1f}")
        for edge, number in zip(edges.values(), numbers, strict=True):
            pen.text(LEFT + edge, at, number, size, align="right")
        pen.line(LEFT, foot, RIGHT, foot, LIGHT, 0.25)
    if len(plan.bands) > most:
        pen.text(LEFT + 8.0, foot + 3.6, f"and {len(plan.bands) - most} more in plan.json", 8)


def starts_height(count: int) -> float:
    """How high the words of :func:`draw_starts` are, in mm, for so many bands."""
    return 5.6 + 3.5 * math.ceil(count / _STARTS_IN_A_ROW)


def draw_starts(pen: Pen, plan: Plan, x: float, y: float, width: float, most: int) -> None:
    """Where the bands begin on the disc, to stand below its picture.

    Parameters
    ----------
    pen : Pen
    plan : Plan
    x, y, width : float, mm
        Upper left corner and width.
    most : int
        Bands at most.
    """
    pen.text(x, y + 5.0, "Bands begin at radius, mm", 7, grey=GREY, width=width)
    for k, (begin, _) in enumerate(plan.bands[:most]):
        row, column = divmod(k, _STARTS_IN_A_ROW)
        left, foot = x + column * width / _STARTS_IN_A_ROW, y + 8.6 + 3.5 * row
        radius = float(np.interp(begin, plan.rows.time, plan.rows.radius)) * 1e3
        pen.text(left + 3.6, foot, str(k + 1), 7, bold=True, align="right")
        pen.text(left + 4.4, foot, f"{radius:.1f}", 7)


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


def draw_code(pen: Pen, text: str, right: float, y: float) -> float:
    """A QR code of a text with its white border, in vectors.

    Parameters
    ----------
    pen : Pen
    text : str
    right, y : float, mm
        Upper right corner, white border included.

    Returns
    -------
    float, mm
        Its side, white border included.
    """
    import segno

    code = segno.make(text, error="m", micro=False, boost_error=False)
    rows = [bytes(row) for row in code.matrix]
    side = (len(rows) + 2 * QUIET_MODULES) * MODULE_MM
    left, top = right - side + QUIET_MODULES * MODULE_MM, y + QUIET_MODULES * MODULE_MM
    path = pen.canvas.beginPath()
    for i, row in enumerate(rows):
        k = 0
        while k < len(row):
            dark = next((j for j in range(k, len(row)) if not row[j]), len(row))
            if dark > k:
                # The least overlap downward keeps viewers from showing white hairs between rows.
                foot = PAGE_MM[1] - top - (i + 1.02) * MODULE_MM
                path.rect((left + k * MODULE_MM) * MM, foot * MM, (dark - k) * MODULE_MM * MM, 1.02 * MODULE_MM * MM)
            k = dark + 1
    pen.canvas.setFillGray(BLACK)
    pen.canvas.drawPath(path, fill=1, stroke=0, fillMode=1)
    return side


def draw_bar(pen: Pen, x: float, y: float) -> None:
    """A bar of 50 mm between two ticks, and what it is for below it.

    Parameters
    ----------
    pen : Pen
    x, y : float, mm
        Its left end.
    """
    pen.line(x, y, x + BAR_MM, y, points=0.8)
    for end in (x, x + BAR_MM):
        pen.line(end, y - 1.2, end, y + 1.2, points=0.4)
    pen.text(x, y + 4.2, "50 mm by a rule? If not, print at 100 %.", 7, width=BAR_MM + 6)


def draw_picture(pen: Pen, path: Path, x: float, y: float, side: float) -> None:
    """The disc picture, its margins cut off, as a round without words of its own.

    Parameters
    ----------
    pen : Pen
    path : pathlib.Path
        A picture as :func:`discwright.files.picture.draw_disc` draws it.
    x, y, side : float, mm
        Upper left corner and size of the square that holds the disc.

    Raises
    ------
    CallError
        If the picture cannot be read.
    """
    from PIL import Image, ImageDraw
    from reportlab.lib.utils import ImageReader

    from discwright.files.picture import DISC_SHARE

    try:
        with Image.open(path) as opened:
            whole = opened.convert("RGB")
    except (OSError, Image.DecompressionBombError) as trouble:
        raise CallError(f"{path}: cannot be read as a picture ({trouble}); draw the disc again.") from None
    size = min(whole.size)
    reach = DISC_SHARE * size
    centre = (whole.width / 2, whole.height / 2)
    corners = (centre[0] - reach, centre[1] - reach, centre[0] + reach, centre[1] + reach)
    disc = whole.resize((_PICTURE_PX, _PICTURE_PX), Image.Resampling.LANCZOS, box=corners)
    mask = Image.new("L", (4 * _PICTURE_PX, 4 * _PICTURE_PX), 0)
    ImageDraw.Draw(mask).ellipse((4, 4, 4 * _PICTURE_PX - 4, 4 * _PICTURE_PX - 4), fill=255)
    paper = Image.new("RGB", disc.size, (255, 255, 255))
    paper.paste(disc, (0, 0), mask.resize(disc.size, Image.Resampling.BOX))
    packed = io.BytesIO()
    paper.save(packed, "JPEG", quality=80)
    packed.seek(0)
    image = ImageReader(packed)
    pen.canvas.drawImage(image, x * MM, (PAGE_MM[1] - y - side) * MM, side * MM, side * MM)
