"""Labels of cartons and bundles as a PDF of true size: one on a page for a label printer, or four on a sheet.

Thousands are written in one go: the frame is drawn once, each address once, and every label refers to them.
"""

from __future__ import annotations

import io
import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from discwright import __version__
from discwright.errors import CallError
from discwright.files.addresses import address_lines
from discwright.files.bars import module_dots
from discwright.files.carton_label_drawn import (
    LabelPlace,
    UnitLabel,
    draw_address,
    draw_frame,
    draw_unit,
    fit_address,
    symbol_mm,
)
from discwright.files.fonts import MM, runs, visible
from discwright.files.label_type import CAPITAL, Block, lacks_letters, runs_backwards
from discwright.files.packing_settings import LabelLimits
from discwright.works.packing import Bundle, Carton, Consignee, Packed
from discwright.works.pallets import Weights

Tell = Callable[[float], None]
#: Lines of a sender that are printed, and characters of them.
SENDER_LINES, SENDER_MOST = 6, 300
_TICK = 200


@dataclass(frozen=True)
class Paper:
    """A page: its size in mm, and how many labels stand beside and below each other on it."""

    width: float
    height: float
    columns: int = 1
    rows: int = 1


#: Pages by name; A6 and A4 are ISO 216, letter is 8½ × 11 inches.
PAPERS = {
    "A6": Paper(105.0, 148.0), "100x150": Paper(100.0, 150.0), "4x6in": Paper(101.6, 152.4),
    "A4": Paper(210.0, 297.0, 2, 2), "letter": Paper(215.9, 279.4, 2, 2),
}  # fmt: skip


@dataclass(frozen=True)
class LabelOrder:
    """How labels are printed.

    Attributes
    ----------
    page : str
        Name of a paper.
    dpi : int
        Dots in an inch of the printer.
    sender : tuple of str
        Lines of the sender.
    language : str
        Names of countries are printed in it.
    """

    page: str = "A6"
    dpi: int = 203
    sender: tuple[str, ...] = ()
    language: str = "en"


@dataclass(frozen=True)
class LabelsMade:
    """What was printed, and where paper was too small for it.

    Attributes
    ----------
    labels, pages : int
    module_mm : float
        Width of the narrowest bar.
    least_capital_mm : float
        Height of the capitals of the smallest address.
    cut, unjoined, lacking : tuple of str
        Accounts whose address was cut short, is printed letter by letter, or has letters that no typeface has.
    """

    labels: int
    pages: int
    module_mm: float
    least_capital_mm: float
    cut: tuple[str, ...]
    unjoined: tuple[str, ...]
    lacking: tuple[str, ...]


def unit_labels(packed: Packed, weights: Weights, language: str = "en") -> Iterator[UnitLabel]:
    """A label for every carton, and after the cartons of a bundle one for the bundle.

    Parameters
    ----------
    packed : Packed
    weights : Weights
    language : str
    """
    address: tuple[str, ...] = ()
    last: Consignee | None = None
    for bundle in packed.bundles:
        if bundle.consignee is not last:
            last, address = bundle.consignee, address_lines(bundle.consignee, language)
        for carton in bundle.cartons:
            yield _of_carton(carton, address, weights)
        yield _of_bundle(bundle, address, weights, packed.rules.per_bundle)


def _of_carton(carton: Carton, address: tuple[str, ...], weights: Weights) -> UnitLabel:
    mass = weights.carton_kg(carton)
    return UnitLabel(
        "carton", carton.number, carton.sscc, carton.consignee, address, carton.edition, carton.order, carton.run,
        carton.count, carton.capacity, 0, f"{carton.place} of {carton.of}", carton.bundle, not carton.full, mass,
        weights.too_heavy(mass),
    )  # fmt: skip


def _of_bundle(bundle: Bundle, address: tuple[str, ...], weights: Weights, per_bundle: int) -> UnitLabel:
    first, last, mass = bundle.cartons[0], bundle.cartons[-1], weights.bundle_kg(bundle)
    places = f"{first.place}–{last.place}" if first is not last else str(first.place)
    return UnitLabel(
        "bundle", bundle.number, bundle.sscc, bundle.consignee, address,
        _one_or_many("editions", [one.edition for one in bundle.cartons]),
        _one_or_many("orders", [one.order for one in bundle.cartons]),
        _one_or_many("runs", [one.run for one in bundle.cartons]),
        bundle.count, per_bundle, len(bundle.cartons), f"{places} of {last.of}", bundle.number, not bundle.full, mass,
        weights.too_heavy(mass),
    )  # fmt: skip


def _one_or_many(what: str, names: Sequence[str]) -> str:
    different = set(names)
    return names[0] if len(different) == 1 else f"{len(different)} {what}"


def read_sender(text: str) -> tuple[str, ...]:
    """Lines of a sender out of one text, with semicolons or line breaks between them.

    Parameters
    ----------
    text : str

    Raises
    ------
    CallError
        If there are too many lines or characters, or some that cannot be seen.
    """
    lines = tuple(line.strip() for line in text.replace("\n", ";").split(";") if line.strip())
    if len(lines) > SENDER_LINES or len(text) > SENDER_MOST:
        raise CallError(f"the sender is too long; give at most {SENDER_LINES} lines and {SENDER_MOST} characters.")
    if not all(line.isprintable() for line in lines):
        raise CallError("the sender holds characters that cannot be seen; type it anew.")
    return lines


def label_place(order: LabelOrder, limits: LabelLimits) -> LabelPlace:
    """Size of a label and of its bars.

    Parameters
    ----------
    order : LabelOrder
    limits : LabelLimits

    Raises
    ------
    CallError
        If there is no such paper, or the printer's dots are too coarse for it.
    """
    if order.page not in PAPERS:
        raise CallError(f"there is no page “{order.page}”; choose from {', '.join(PAPERS)}.")
    paper = PAPERS[order.page]
    dot = 25.4 / order.dpi
    dots = module_dots(order.dpi, limits.least_module_mm, limits.most_module_mm)
    place = LabelPlace(paper.width / paper.columns, paper.height / paper.rows, dots * dot, dot)
    if symbol_mm(place) > place.width:
        raise CallError(
            f"bars of {symbol_mm(place):.0f} mm at {order.dpi} dots to the inch do not fit {order.page}; take a "
            "printer of 203 dots or more."
        )
    return place


def write_labels(
    path: Path, labels: Iterator[UnitLabel], order: LabelOrder, limits: LabelLimits, tell: Tell = lambda _: None,
    total: int = 0,
) -> LabelsMade:  # fmt: skip
    """Write labels as PDF; the same labels give the same bytes.

    Parameters
    ----------
    path : pathlib.Path
        Written as it is named: whoever calls writes beside and renames.
    labels : iterator of UnitLabel
        In the order in which they are printed.
    order : LabelOrder
    limits : LabelLimits
    tell : function of a share
        Called now and then.
    total : int
        Labels that will come, for the share.

    Returns
    -------
    LabelsMade

    Raises
    ------
    CallError
        If there is none, or the paper does not do.
    OSError
        If the file cannot be written.
    """
    packed, made = labels_pdf(labels, order, limits, tell, total)
    with path.open("wb") as stream:
        stream.write(packed)
        stream.flush()
        os.fsync(stream.fileno())
    return made


def labels_pdf(
    labels: Iterator[UnitLabel], order: LabelOrder, limits: LabelLimits, tell: Tell = lambda _: None, total: int = 0
) -> tuple[bytes, LabelsMade]:
    """The same as bytes.

    Parameters
    ----------
    labels, order, limits, tell, total
        As for :func:`write_labels`.
    """
    sheet = _Sheet(order, label_place(order, limits), limits.free_text_mm)
    for count, label in enumerate(labels):
        if count % _TICK == 0:
            tell(count / total if total else 0.0)
        sheet.add(label)
    return sheet.finished()


class _Sheet:
    """Pages that are being filled."""

    def __init__(self, order: LabelOrder, place: LabelPlace, free_text_mm: float) -> None:
        from reportlab.pdfgen.canvas import Canvas

        runs(" ")  # makes the typefaces known
        self._place, self._paper, self._most_mm = place, PAPERS[order.page], free_text_mm
        self._packed = io.BytesIO()
        size = (self._paper.width * MM, self._paper.height * MM)
        self._canvas: Any = Canvas(self._packed, pagesize=size, invariant=1, pageCompression=1, lang="en")
        self._canvas.setCreator(f"discwright {__version__}")
        self._canvas.setTitle(visible("Labels of cartons and bundles"))
        self._form("frame", lambda: draw_frame(self._canvas, place, order.sender))
        self._last: Consignee | None = None
        self._address = ""
        self._block = Block((), 0.0, False)
        self._count = self._addresses = 0
        self._least_pt = 1e9
        self._told: dict[str, dict[str, None]] = {"cut": {}, "unjoined": {}, "lacking": {}}

    def _form(self, name: str, draw: Callable[[], None]) -> None:
        """Something that many labels refer to; drawn from their upper left corner down."""
        self._canvas.beginForm(name, 0, -self._place.height * MM, self._place.width * MM, 0)
        draw()
        self._canvas.endForm()

    def add(self, label: UnitLabel) -> None:
        """Draw one label, on a new page where the last is full."""
        canvas, place, paper = self._canvas, self._place, self._paper
        a_page = paper.columns * paper.rows
        at = self._count % a_page
        if at == 0 and self._count:
            canvas.showPage()
        if label.consignee is not self._last:
            self._begin_address(label)
        row, column = divmod(at, paper.columns)
        canvas.saveState()
        canvas.translate(column * place.width * MM, (paper.height - row * place.height) * MM)
        canvas.doForm("frame")
        canvas.doForm(self._address)
        draw_unit(canvas, label, place)
        canvas.restoreState()
        if a_page > 1 and at == 0:
            self._cuts()
        self._count += 1

    def _begin_address(self, label: UnitLabel) -> None:
        self._last = label.consignee
        self._block = fit_address(label, self._place, self._most_mm)
        self._addresses += 1
        self._address = f"to{self._addresses}"
        self._form(self._address, lambda: draw_address(self._canvas, label, self._place, self._block))
        self._least_pt = min(self._least_pt, self._block.size)
        for name, whether in (
            ("cut", self._block.cut),
            ("unjoined", any(runs_backwards(line) for line in label.address)),
            ("lacking", any(lacks_letters(line) for line in label.address)),
        ):
            if whether:
                self._told[name][label.consignee.account] = None

    def _cuts(self) -> None:
        """Thin lines between the labels of a sheet."""
        self._canvas.setStrokeGray(0.6)
        self._canvas.setLineWidth(0.2)
        paper = self._paper
        for k in range(1, paper.columns):
            x = k * self._place.width * MM
            self._canvas.line(x, 0, x, paper.height * MM)
        for k in range(1, paper.rows):
            y = k * self._place.height * MM
            self._canvas.line(0, y, paper.width * MM, y)
        self._canvas.setStrokeGray(0)

    def finished(self) -> tuple[bytes, LabelsMade]:
        """The whole file."""
        if not self._count:
            raise CallError("there is no carton, and so no label; pack something first.")
        self._canvas.showPage()
        self._canvas.save()
        a_page = self._paper.columns * self._paper.rows
        made = LabelsMade(
            self._count, -(-self._count // a_page), self._place.module, self._least_pt * CAPITAL / MM,
            *(tuple(self._told[name]) for name in ("cut", "unjoined", "lacking")),
        )  # fmt: skip
        return self._packed.getvalue(), made
