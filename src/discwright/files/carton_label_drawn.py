"""One label of a carton or bundle: who it goes to, what is in it, and its SSCC as bars in the lowest part.

Everything is placed from the label's upper left corner, in mm. From and the check bar above, then the address as large
as it fits, then what is in it, then the bars.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from discwright.files.bars import QUIET, draw_bars, modules
from discwright.files.fonts import MM, fit, wrap
from discwright.files.label_type import CAPITAL, LEADING, Block, Ink, fit_block, runs_backwards
from discwright.works.gs1 import element_string, readable
from discwright.works.packing import Consignee

#: White all round, mm: more than printers for A4 leave unprinted.
EDGE = 5.0
#: Heights of the parts that are the same on every label, mm.
FROM_MM, DATA_MM, SSCC_MM = 14.0, 27.0, 49.0
#: Bars are 32 mm high and more (GS1 guides for logistic labels); the check bar is 50 mm long.
BAR_MM, CHECK_MM = 33.0, 50.0
UNJOINED = "Right-to-left script is printed letter by letter, unjoined."
NO_SSCC = "No SSCC: packed without a GS1 prefix."


@dataclass(frozen=True)
class UnitLabel:
    """What stands on a label.

    Attributes
    ----------
    kind : str
        carton or bundle.
    number : int
        Of this packing.
    sscc : str or None
    consignee : Consignee
    address : tuple of str
        Lines of the address block.
    edition, order, run : str
    count : int
        Discs in it.
    capacity : int
        Discs of a full carton; cartons of a full bundle, with `holds`.
    holds : int
        Cartons of a bundle, 0 for a carton.
    place : str
        Which of the consignee's cartons: ``3 of 12``, ``5–8 of 12``.
    bundle : int
        Number of the bundle.
    part_filled : bool
    mass_kg : float
    heavy : bool
        Over the limit for one person.
    """

    kind: str
    number: int
    sscc: str | None
    consignee: Consignee
    address: tuple[str, ...]
    edition: str
    order: str
    run: str
    count: int
    capacity: int
    holds: int
    place: str
    bundle: int
    part_filled: bool
    mass_kg: float
    heavy: bool


@dataclass(frozen=True)
class LabelPlace:
    """Size of a label, and of the bars on it.

    Attributes
    ----------
    width, height : float, mm
    module : float, mm
        Width of the narrowest bar.
    dot : float, mm
        Of the printer; bars begin on a whole one.
    """

    width: float
    height: float
    module: float
    dot: float

    @property
    def address_mm(self) -> float:
        """Height that is left for the address."""
        return self.height - FROM_MM - DATA_MM - SSCC_MM


def draw_frame(canvas: Any, place: LabelPlace, sender: Sequence[str]) -> None:
    """What is the same on every label: rules, names of fields, the check bar and the sender.

    Parameters
    ----------
    canvas : reportlab.pdfgen.canvas.Canvas
        Moved to the label's upper left corner.
    place : LabelPlace
    sender : sequence of str
        Lines of the sender; empty for none.
    """
    ink = Ink(canvas)
    right, below = place.width - EDGE, place.height - SSCC_MM
    canvas.setFillGray(0)
    canvas.setStrokeGray(0)
    check = right - CHECK_MM
    ink.line(check, 6.0, right, 6.0, 0.8)
    for end in (check, right):
        ink.line(end, 4.8, end, 7.2)
    ink.text(check, 10.2, "50 mm by a rule? If not, print at 100 %.", 7, width=CHECK_MM)
    room = check - EDGE - 2.0
    if sender:
        ink.text(EDGE, 5.6, "From", 7, width=room)
        for k, line in enumerate(_sender_lines(sender, room)):
            ink.text(EDGE, 8.6 + 3.0 * k, line, 7, bold=True, width=room)
    ink.line(EDGE, FROM_MM, right, FROM_MM)
    ink.text(EDGE, FROM_MM + 3.4, "To", 7)
    data = below - DATA_MM
    ink.line(EDGE, data, right, data, 1.0)
    for x, y, name in _fields(place):
        ink.text(x, y, name, 7)
    ink.line(EDGE, below, right, below, 1.0)
    ink.text(EDGE, below + 3.8, "SSCC", 8)


def _sender_lines(sender: Sequence[str], room: float) -> list[str]:
    """Two lines: as many of the sender's in each as fit."""
    return wrap(", ".join(sender), room * MM, 7, True, 2)


def _fields(place: LabelPlace) -> tuple[tuple[float, float, str], ...]:
    """Names of the fields of the data, and where they stand."""
    y, step = place.height - SSCC_MM - DATA_MM + 3.6, (place.width - 2 * EDGE) / 3
    return (
        (EDGE, y, "Edition"), (EDGE + 2 * step, y, "Discs"),
        (EDGE, y + 11.0, "Order"), (EDGE + step, y + 11.0, "Run"), (EDGE + 2 * step, y + 11.0, "Carton"),
    )  # fmt: skip


def fit_address(label: UnitLabel, place: LabelPlace, most_mm: float) -> Block:
    """The address in the largest type that fits, capitals no higher than wanted.

    Parameters
    ----------
    label : UnitLabel
    place : LabelPlace
    most_mm : float
        Height of capitals.
    """
    backwards = any(runs_backwards(line) for line in label.address)
    room = place.address_mm - 5.0 - (3.5 if backwards else 0.0)
    width = place.width - 2 * EDGE
    whole = len(label.address) - sum(
        line in (label.consignee.name, label.consignee.address_1, label.consignee.address_2)
        for line in label.address[:3]
    )
    return fit_block(label.address, width * MM, room * MM, most_mm / CAPITAL * MM, whole)


def draw_address(canvas: Any, label: UnitLabel, place: LabelPlace, block: Block) -> None:
    """The address block of a consignee, the same on all of its labels.

    Parameters
    ----------
    canvas : reportlab.pdfgen.canvas.Canvas
    label : UnitLabel
    place : LabelPlace
    block : Block
        From :func:`fit_address`.
    """
    ink, width = Ink(canvas), place.width - 2 * EDGE
    foot = FROM_MM + 4.6
    for line in block.lines:
        foot += block.size * LEADING / MM
        ink.text(EDGE, foot - 0.2 * block.size / MM, line, block.size, bold=True, width=width)
    if any(runs_backwards(line) for line in label.address):
        ink.text(EDGE, FROM_MM + place.address_mm - 1.2, UNJOINED, 7, width=width)


def draw_unit(canvas: Any, label: UnitLabel, place: LabelPlace) -> None:
    """What is in it, whether it is full, how heavy it is, and the bars.

    Parameters
    ----------
    canvas : reportlab.pdfgen.canvas.Canvas
    label : UnitLabel
    place : LabelPlace
    """
    ink = Ink(canvas)
    _draw_data(ink, label, place)
    if label.sscc is None:
        _draw_plain(ink, label, place)
    else:
        _draw_sscc(ink, label.sscc, place)


def _draw_data(ink: Ink, label: UnitLabel, place: LabelPlace) -> None:
    fields = _fields(place)
    step = (place.width - 2 * EDGE) / 3
    for (x, y, _), words, room in zip(
        fields,
        (label.edition, str(label.count), label.order, label.run, label.place),
        (2 * step - 3.0, step, step - 2.0, step - 2.0, step),
        strict=True,
    ):
        tall = 17.0 if y == fields[0][1] else 11.0
        ink.text(x, y + (6.4 if tall > 12 else 4.8), words, tall, bold=True, width=room)
    y = place.height - SSCC_MM - 5.4
    right = place.width - EDGE
    weight = f"{label.mass_kg:.1f} kg"
    if label.heavy:
        ink.triangle(right - 1.6, y + 1.6, 1.5)
        ink.text(right - 4.4, y + 3.0, f"{weight}: two people or a lift", 9, bold=True, align="right", width=52.0)
    else:
        ink.text(right, y + 3.0, weight, 9, bold=True, align="right")
    if label.part_filled:
        ink.box(EDGE, y - 0.6, 4.2, 4.2, 0.8)
        ink.box(EDGE, y + 1.5, 4.2, 2.1, 0.8, filled=True)
        of = f"{label.holds} of {label.capacity} cartons" if label.holds else f"{label.count} of {label.capacity}"
        ink.text(EDGE + 6.0, y + 3.0, f"PART-FILLED {of}", 9, bold=True, width=right - EDGE - 60.0 + 16.0)
    what = f"BUNDLE {label.number}" if label.holds else f"Carton {label.number} in bundle {label.bundle}"
    ink.text(right, place.height - SSCC_MM + 3.9, what, 9, bold=bool(label.holds), width=60.0, align="right")


def _draw_sscc(ink: Ink, sscc: str, place: LabelPlace) -> None:
    """Bars, upright like a fence, and the line for people below them."""
    fields = {"00": sscc}
    elements = element_string(fields)
    wide = modules(elements) * place.module
    x = round((place.width - wide) / 2 / place.dot) * place.dot
    draw_bars(ink.canvas, elements, x, -(place.height - EDGE - 5.4), place.module, BAR_MM)
    ink.text(place.width / 2, place.height - EDGE - 0.6, readable(fields), 12, bold=True, align="middle")


def _draw_plain(ink: Ink, label: UnitLabel, place: LabelPlace) -> None:
    """In the place of the bars why there are none, and the plain number as large as can be."""
    top = place.height - SSCC_MM
    ink.text(place.width / 2, top + 12.0, NO_SSCC, 9, align="middle")
    words, size = fit(f"{label.kind.capitalize()} {label.number}", (place.width - 2 * EDGE) * MM, 40, True)
    ink.text(place.width / 2, top + 32.0, words, size, bold=True, align="middle")


def symbol_mm(place: LabelPlace) -> float:
    """Width of the bars of an SSCC with the white on both sides.

    Parameters
    ----------
    place : LabelPlace
    """
    return (modules("00" + "0" * 18) + 2 * QUIET) * place.module
