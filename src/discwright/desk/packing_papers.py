"""The papers of a packing, and the choices that a device at the bench remembers: its label printer, its docks."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from urllib.parse import quote, unquote

from fastapi import Request

from discwright.acts.packings import Packing
from discwright.desk.page_parts import Option
from discwright.errors import CallError
from discwright.files.carton_label import PAPERS, LabelOrder, label_place, labels_pdf, read_sender, unit_labels
from discwright.files.carton_label_drawn import UnitLabel
from discwright.files.manifest import manifest_rows
from discwright.files.packing_settings import PackingSettings
from discwright.works.pallets import pallet_loads

#: Cookies of this device, each with what holds where none was chosen.
PRINTER = {"label-page": "A6", "label-dpi": "203", "label-sender": ""}
DOCKS = {"dock-default": "", "dock-countries": "", "dock-accounts": ""}
#: Cartons whose labels are made at once.
PORTION = 400
#: Letters of a cookie before it is quoted: quoted it must still be taken by every browser.
_MOST_LETTERS = 300
_PAIR = re.compile(r"(?P<who>[^=:]+?)\s*[=:]\s*(?P<dock>.+)")


@dataclass(frozen=True)
class Printer:
    """The label printer of a device, as it was told.

    Attributes
    ----------
    page, dpi, sender : str
    """

    page: str
    dpi: str
    sender: str

    def order(self, house: PackingSettings) -> LabelOrder:
        """What is asked of the labels.

        Parameters
        ----------
        house : PackingSettings

        Raises
        ------
        CallError
            If there is no such paper, or the printer is too coarse for it.
        """
        if not re.fullmatch(r"[0-9]{2,4}", self.dpi) or not 100 <= int(self.dpi) <= 2400:
            raise CallError(f"a printer of “{self.dpi[:20]}” dots to the inch is none; give from 100 to 2400.")
        order = LabelOrder(self.page, int(self.dpi), read_sender(self.sender), house.language)
        label_place(order, house.label)
        return order

    def papers(self) -> tuple[Option, ...]:
        """Papers to choose from."""
        return tuple(Option(name, _paper_words(name), name == self.page) for name in PAPERS)


def _paper_words(name: str) -> str:
    paper = PAPERS[name]
    many = paper.columns * paper.rows
    return f"{name}, {paper.width:g} × {paper.height:g} mm{f', {many} on a sheet' if many > 1 else ''}"


def remembered(request: Request, names: Mapping[str, str]) -> dict[str, str]:
    """What this device was told, or what holds where it was told nothing.

    Parameters
    ----------
    request : fastapi.Request
    names : mapping of str to str
        Cookies with their usual values.
    """
    return {name: unquote(request.cookies.get(name, quote(usual)))[:_MOST_LETTERS] for name, usual in names.items()}


def printer_of(request: Request) -> Printer:
    """The label printer of this device."""
    return Printer(*remembered(request, PRINTER).values())


def for_cookie(text: str) -> str:
    """A text as a cookie holds it."""
    return quote(text[:_MOST_LETTERS])


def dock_pairs(text: str, what: str) -> dict[str, str]:
    """Docks by country or by account: ``NO=2, SE=3``.

    Parameters
    ----------
    text : str
    what : str
        Whose docks, for the refusal.

    Raises
    ------
    CallError
        If one names no dock.
    """
    found: dict[str, str] = {}
    for one in (part.strip() for part in re.split(r"[,;\n]", text)):
        pair = _PAIR.fullmatch(one)
        if one and pair is None:
            raise CallError(f"docks by {what}: “{one[:40]}” names no dock; write it as NO=2, with commas between them.")
        if pair is not None:
            found[pair["who"].strip()] = " ".join(pair["dock"].split())
    return found


# What is printed ---------------------------------------------------------------------------------------


def labels(packing: Packing, printer: Printer, house: PackingSettings, *, carton: int = 0, first: int = 0) -> bytes:
    """Labels of a packing as PDF: of one carton, or of so many cartons that nobody waits long for them.

    Parameters
    ----------
    packing : Packing
    printer : Printer
    house : PackingSettings
    carton : int
        Of this one alone.
    first : int
        So many cartons are passed over; :data:`PORTION` follow with their bundles, but for those opened again.

    Raises
    ------
    CallError
        If there is none of it.
    """
    wanted = _one(packing, house, carton) if carton else _some(packing, house, first)
    return labels_pdf(wanted, printer.order(house), house.label)[0]


def _one(packing: Packing, house: PackingSettings, carton: int) -> Iterator[UnitLabel]:
    for one in unit_labels(packing.there, house.weights, house.language):
        if one.kind == "carton" and one.number == carton:
            yield one


def _some(packing: Packing, house: PackingSettings, first: int) -> Iterator[UnitLabel]:
    """A bundle's label follows the last of its cartons."""
    last = 0
    for one in unit_labels(packing.there, house.weights, house.language):
        last = one.number if one.kind == "carton" else last
        if first < last <= first + PORTION:
            yield one


def label_links(packing: Packing) -> tuple[Option, ...]:
    """Where the labels of a packing are printed: all at once, or portion after portion.

    Parameters
    ----------
    packing : Packing
    """
    count, address = len(packing.kept), f"/packing/{packing.id}/labels.pdf"
    if count <= PORTION:
        return (Option(address, "Labels of all (PDF)"),)
    return tuple(
        Option(f"{address}?first={first}", f"Labels of cartons {first + 1} to {min(first + PORTION, count)} (PDF)")
        for first in range(0, count, PORTION)
    )


def manifest(packing: Packing, house: PackingSettings) -> Iterator[tuple[object, ...]]:
    """Rows of the manifest, a line for each carton that was not opened again."""
    pallet = next(iter(house.pallets.values()))
    loads = pallet_loads(packing.there.bundles, house.weights, pallet, house.rules.per_bundle)
    return manifest_rows(packing.there, house.weights, loads)
