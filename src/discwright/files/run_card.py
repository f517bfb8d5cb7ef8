"""The run card: what goes with a part to the bath and comes back signed, as a PDF of one page or more.

Before, in and after the bath: each with what to do, what to check, what can hurt, and boxes for initials.
"""

from __future__ import annotations

import io
import os
import re
from dataclasses import dataclass
from pathlib import Path

from discwright import __version__
from discwright.errors import CallError
from discwright.files.fonts import MM, PAGE_MM, TOP, Pen, visible
from discwright.files.run_card_drawn import CardDrawing
from discwright.files.run_card_words import CardWords
from discwright.works.plating import PlatingRun

#: Characters of a part's number that fit the card and its code.
NUMBER_MOST = 40


@dataclass(frozen=True)
class RunCard:
    """What is printed.

    Attributes
    ----------
    run : PlatingRun
    words : CardWords
    kind : str
        master, mother or stamper.
    diameter, hole : float, m
    number : str
        The part's own number, alone in the code; empty where it has none yet: then there is a box to write it in.
    title, catalogue, side, parent : str
        Whatever is known; the parent is the number of the part it grows on: the card's own where there is no other.
    ledger_head : str
        The hash of the ledger's last entry, 64 hexadecimal digits; empty for a card without a ledger.
    """

    run: PlatingRun
    words: CardWords
    kind: str
    diameter: float
    hole: float = 0.0
    number: str = ""
    title: str = ""
    catalogue: str = ""
    side: str = ""
    parent: str = ""
    ledger_head: str = ""


def write_run_card(path: Path, card: RunCard) -> None:
    """Write a run card as PDF; the same card gives the same bytes.

    Parameters
    ----------
    path : pathlib.Path
        Written beside and renamed, so that it is whole or not there.
    card : RunCard

    Raises
    ------
    CallError
        If the number or the ledger's hash cannot be printed.
    OSError
        If the file cannot be written.
    """
    from reportlab.pdfgen.canvas import Canvas

    _check(card)
    packed = io.BytesIO()
    size = (PAGE_MM[0] * MM, PAGE_MM[1] * MM)
    canvas = Canvas(packed, pagesize=size, invariant=1, pageCompression=1, lang="en")
    canvas.setTitle(visible(f"Run card {card.number} {card.kind}".replace("  ", " ")))
    canvas.setSubject(visible(" ".join(part for part in (card.title, card.catalogue, card.side) if part)))
    canvas.setCreator(f"discwright {__version__}")
    drawing = CardDrawing(Pen(canvas), card)
    pages = drawing.pages()
    for number, blocks in enumerate(pages, 1):
        drawing.foot(number, len(pages))
        y = TOP
        for block in blocks:
            block.draw(y)
            y += block.height
        canvas.showPage()
    canvas.save()
    part = path.with_name(path.name + ".part")
    part.write_bytes(packed.getvalue())
    os.replace(part, path)


def _check(card: RunCard) -> None:
    if len(card.number) > NUMBER_MOST or not card.number.isprintable():
        shown = visible(card.number[:NUMBER_MOST])
        raise CallError(f"“{shown}” is no number for a card; give at most {NUMBER_MOST} characters that can be seen.")
    if card.ledger_head and not re.fullmatch(r"[0-9a-f]{64}", card.ledger_head):
        raise CallError(
            f"“{card.ledger_head[:70]}” is no hash of a ledger: it has 64 hexadecimal digits; take it from the ledger."
        )
