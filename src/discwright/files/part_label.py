"""Labels of parts: a code that holds the part's number and nothing else, and the same in letters.

One label on a page of its own true size, for a label printer, or many on A4 with a bar to check the printing by.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from discwright import __version__
from discwright.errors import CallError
from discwright.files.fonts import FOOT, LEFT, MM, PAGE_MM, RIGHT, TOP, Pen, visible
from discwright.files.sheet_drawn import draw_bar, draw_code

#: Width and height of a label, mm: a roll that every label printer takes.
LABEL_MM = (62.0, 29.0)
#: Labels beside each other and under each other on A4.
_COLUMNS, _ROWS = 2, 8
_GAP_X, _GAP_Y = 8.0, 2.0
#: Side of the code with its white border, mm.
_CODE_MM = 25.0
_EDGE = 2.0
#: More parts than this no works makes of a title.
LABELS_MOST = 1000


@dataclass(frozen=True)
class PartLabel:
    """What stands on a label.

    Attributes
    ----------
    number : str
        Of the part; alone in the code.
    kind : str
        Kind and sign, for example ``stamper (−)``.
    title, catalogue, side : str
    marks : str
        Run-out marks as they read on a positive.
    """

    number: str
    kind: str
    title: str = ""
    catalogue: str = ""
    side: str = ""
    marks: str = ""


def code_svg(number: str) -> bytes:
    """The code of a part's number as a picture that can be of any size.

    Parameters
    ----------
    number : str
    """
    import segno

    packed = io.BytesIO()
    code = segno.make(number, error="m", micro=False, boost_error=False)
    code.save(packed, kind="svg", border=4, xmldecl=False, svgclass=None, lineclass=None, omitsize=True, light="#fff")
    return packed.getvalue()


def label_pdf(label: PartLabel) -> bytes:
    """One label as a PDF of its own size; the same label gives the same bytes.

    Parameters
    ----------
    label : PartLabel
    """
    canvas, packed = _canvas(LABEL_MM, f"Label {label.number}")
    # The pen counts from the head of an A4 page.
    canvas.translate(0, (LABEL_MM[1] - PAGE_MM[1]) * MM)
    _draw(Pen(canvas), label, 0.0, 0.0)
    canvas.showPage()
    canvas.save()
    return packed.getvalue()


def label_sheet_pdf(labels: Sequence[PartLabel]) -> bytes:
    """Labels on A4, to be cut out.

    Parameters
    ----------
    labels : sequence of PartLabel
        In the order in which they are printed.

    Raises
    ------
    CallError
        If there is none, or more than anybody cuts out.
    """
    if not 1 <= len(labels) <= LABELS_MOST:
        raise CallError(f"a sheet holds from 1 to {LABELS_MOST} labels, not {len(labels)}; print parts one by one.")
    canvas, packed = _canvas(PAGE_MM, f"Labels {labels[0].catalogue or labels[0].number}")
    pen, a_page = Pen(canvas), _COLUMNS * _ROWS
    pages = -(-len(labels) // a_page)
    for page in range(pages):
        for at, label in enumerate(labels[page * a_page : (page + 1) * a_page]):
            x = LEFT + at % _COLUMNS * (LABEL_MM[0] + _GAP_X)
            y = TOP + at // _COLUMNS * (LABEL_MM[1] + _GAP_Y)
            pen.box(x, y, *LABEL_MM, points=0.2, grey=0.6)
            _draw(pen, label, x, y)
        draw_bar(pen, LEFT, FOOT + 4.0)
        pen.text(RIGHT, FOOT + 8.2, f"{page + 1} of {pages}", 7, align="right")
        canvas.showPage()
    canvas.save()
    return packed.getvalue()


def _canvas(size_mm: tuple[float, float], title: str) -> tuple[Any, io.BytesIO]:
    from reportlab.pdfgen.canvas import Canvas

    packed = io.BytesIO()
    canvas = Canvas(packed, pagesize=(size_mm[0] * MM, size_mm[1] * MM), invariant=1, pageCompression=1, lang="en")
    canvas.setTitle(visible(title))
    canvas.setCreator(f"discwright {__version__}")
    return canvas, packed


def _draw(pen: Pen, label: PartLabel, x: float, y: float) -> None:
    """One label with its upper left corner at (x, y), mm: code on the left, words on the right."""
    _code(pen, label.number, x + _EDGE, y + _EDGE)
    left = x + _EDGE + _CODE_MM + 1.0
    width = LABEL_MM[0] - _CODE_MM - 2 * _EDGE - 1.0
    pen.text(left, y + 8.0, label.number, 17, bold=True, width=width)
    pen.text(left, y + 12.8, label.kind, 9.5, width=width)
    pen.text(left, y + 17.3, " ".join(one for one in (label.catalogue, label.side) if one), 9.5, bold=True, width=width)
    pen.text(left, y + 21.3, label.title, 7.5, width=width)
    pen.text(left, y + 25.0, label.marks, 7.5, width=width)


def _code(pen: Pen, number: str, x: float, y: float) -> None:
    """The code, white border included, as a square of :data:`_CODE_MM`."""
    import segno

    from discwright.files.sheet_drawn import MODULE_MM, QUIET_MODULES

    modules = len(segno.make(number, error="m", micro=False, boost_error=False).matrix) + 2 * QUIET_MODULES
    times = _CODE_MM / (modules * MODULE_MM)
    canvas = pen.canvas
    canvas.saveState()
    # About the corner that is to stay: the left upper one, counted from below.
    canvas.translate(x * MM, (PAGE_MM[1] - y) * MM)
    canvas.scale(times, times)
    canvas.translate(0, -PAGE_MM[1] * MM)
    draw_code(pen, number, modules * MODULE_MM, 0.0)
    canvas.restoreState()
