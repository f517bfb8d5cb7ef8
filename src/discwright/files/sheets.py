"""The cutting sheet: a PDF of one page, two at most, to stand beside the lathe.

The first page is for the cut: what it is, its numbers, the bands, the cues and the graph. Findings, the fields to fill
in and the cautions follow, on the same page where there is room for all.
"""

from __future__ import annotations

import io
import math
import os
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from discwright import __version__
from discwright.errors import CallError
from discwright.files import sheet_drawn as drawn
from discwright.files.fonts import (
    FOOT,
    GREY,
    LEFT,
    LIGHT,
    MM,
    PAGE_MM,
    RIGHT,
    TOP,
    WIDTH,
    Pen,
    text_width,
    visible,
    wrap,
)
from discwright.files.sheet_graph import draw_graph
from discwright.files.sheet_words import CAUTIONS, STOPPED, Entry, remark_columns
from discwright.findings import count_words
from discwright.groove.cues import Cue
from discwright.plan import Plan
from discwright.programme.title import SideLabel

if TYPE_CHECKING:
    from discwright.groove.ladder import Rung
    from discwright.groove.preflight import Margin

#: At most so many bands and cues are printed; the plan holds them all.
BANDS_SHOWN, CUES_SHOWN = 24, 52
_GAP = 3.5
_CUES_BESIDE = 15
#: Heights of a table's rows that are tried, mm.
_ROWS = (5.2, 4.8, 4.4, 4.0, 3.7, 3.55)
#: What is tried on page 2: type of the cautions, pt, lines of a finding, height of the graph and width of the disc, mm.
_SIZES = ((9.0, 3, 62.0, 58.0), (7.8, 3, 54.0, 56.0), (7.8, 2, 46.0, 46.0))
#: A smaller disc has no words below it, mm.
_DISC_WITH_WORDS = 50.0


@dataclass(frozen=True)
class _Block:
    """A part of a page, `height` mm high, that draws itself from an upper edge down."""

    height: float
    draw: Callable[[float], None]


def write_sheet(
    path: Path,
    plan: Plan,
    label: SideLabel,
    cues: tuple[Cue, ...],
    fingerprint: str,
    *,
    picture: Path | None = None,
    margins: tuple[Margin, ...] = (),
    treatments: tuple[str, ...] = (),
    ladder: tuple[Rung, ...] = (),
) -> None:
    """Write the cutting sheet of one side as PDF; the same plan gives the same bytes.

    Parameters
    ----------
    path : pathlib.Path
        Written beside and renamed, so that it is whole or not there.
    plan : Plan
    label : SideLabel
    cues : tuple of Cue
    fingerprint : str
        64 hexadecimal digits; printed whole, and as a QR code.
    picture : pathlib.Path, optional
        Of the disc, as :func:`discwright.files.picture.draw_disc` draws it.
    margins : tuple of Margin
        Of the pre-flight; the tightest three are printed.
    treatments : tuple of str
        What is done to the programme, a sentence each.
    ladder : tuple of Rung
        Up to what level each limit is kept, lowest first; the first few are printed.

    Raises
    ------
    CallError
        If the fingerprint is none, or the picture cannot be read.
    OSError
        If the file cannot be written.
    """
    from reportlab.pdfgen.canvas import Canvas

    if not re.fullmatch(r"[0-9a-f]{64}", fingerprint):
        raise CallError(f"“{fingerprint}” is no fingerprint: it has 64 hexadecimal digits; take it from plan.json.")
    packed = io.BytesIO()
    size = (PAGE_MM[0] * MM, PAGE_MM[1] * MM)
    canvas = Canvas(packed, pagesize=size, invariant=1, pageCompression=1, lang="en")
    canvas.setTitle(visible(" ".join(part for part in (label.title, f"side {label.letter}") if part)))
    canvas.setAuthor(visible(", ".join(label.people)))
    canvas.setSubject(visible(f"Cutting sheet {label.matrix}, {plan.setup.disc.name}, plan {fingerprint}"))
    canvas.setCreator(f"discwright {__version__}")
    sheet = _Sheet(Pen(canvas), plan, label, cues, fingerprint, picture, margins, treatments, ladder)
    pages = sheet.pages()
    for number, blocks in enumerate(pages, 1):
        sheet.foot(number, len(pages))
        y = TOP
        for block in blocks:
            block.draw(y)
            y += block.height + _GAP
        canvas.showPage()
    canvas.save()
    part = path.with_name(path.name + ".part")
    part.write_bytes(packed.getvalue())
    os.replace(part, path)


@dataclass(frozen=True)
class _Sheet:
    """Everything on the sheet, cut into blocks."""

    pen: Pen
    plan: Plan
    label: SideLabel
    cues: tuple[Cue, ...]
    fingerprint: str
    picture: Path | None
    margins: Sequence[Margin]
    treatments: tuple[str, ...]
    ladder: tuple[Rung, ...]

    # pages ---------------------------------------------------------------------------------------------

    def pages(self) -> list[list[_Block]]:
        """One page where all fits, else two."""
        least = self.first(4.3, 44.0, True)
        found = [self.findings(math.inf, 2)] if self.plan.findings else []
        rest = [*found, self.remarks(), self.fields(), self.cautions(7.8)]
        room = FOOT - TOP - _height([*least, *rest]) - 2 * _GAP
        if room >= 40.0 and len(self.cues) <= _CUES_BESIDE:
            return [[*least, self.graph(min(room, 62.0), False), *rest]]
        return self.two_pages()

    def two_pages(self) -> list[list[_Block]]:
        beside = self.picture is not None and len(self.cues) <= _CUES_BESIDE
        first: list[_Block] = []
        # The graph comes along where rows of some height leave it room; else rows as high as there is room for.
        for row, graph in [(row, 60.0) for row in _ROWS[:3]] + [(row, 0.0) for row in _ROWS]:
            first = self.first(row, 58.0, beside)
            room = FOOT - TOP - _height(first) - _GAP
            if room >= graph:
                break
        with_graph = room >= 60.0
        if with_graph:
            first.append(self.graph(min(room, 130.0), False))
        apart = self.picture is not None and not beside
        return [first, self.second(with_graph, apart)]

    def second(self, with_graph: bool, apart: bool) -> list[_Block]:
        """What stands on page 2; `with_graph` says that the graph is on page 1, `apart` that the disc is not.

        Everything becomes smaller until all findings fit. The disc stands beside the notes where there is room for
        them, else beside the remarks, and when nothing else is left beside the graph.
        """
        tries = [(size, place) for size in _SIZES for place in (("notes", "remarks") if apart else ("",))]
        tries += [(_SIZES[-1], "graph")] if apart and not with_graph else []
        blocks: list[_Block] = []
        room = 0.0
        for (size, lines, graph, disc), place in tries:
            before = [self.running_head(), *([] if with_graph else [self.graph(graph, place == "graph")])]
            after = [self.remarks(disc if place == "remarks" else 0.0), self.fields(), self.cautions(size)]
            room = FOOT - TOP - _height([*before, *after]) - _GAP
            blocks = [*before, self.findings(room, lines), *after]
            room -= self.findings(math.inf, lines).height
            if room >= (self.disc_height(disc) + _GAP if place == "notes" else 0.0):
                break
        room = FOOT - TOP - _height(blocks) - _GAP
        return [*blocks, self.notes(room, disc if place == "notes" else 0.0)] if room > 20.0 else blocks

    def first(self, row: float, disc: float, beside: bool) -> list[_Block]:
        """What stands above the graph, with rows so high and a disc so wide."""
        return [self.head(), self.verdict(), self.numbers(), self.bands(row), self.timed(row, disc, beside)]

    # blocks --------------------------------------------------------------------------------------------

    def head(self) -> _Block:
        """Title, people, matrix number, side and code."""
        return _Block(drawn.HEAD_MM, lambda y: drawn.draw_head(self.pen, self.label, self.fingerprint, y))

    def sentence(self) -> str:
        """How many findings there are, and what that means."""
        return f"{count_words(self.plan.findings)}: {'ready to cut' if self.plan.ready else 'not ready to cut'}."

    def verdict(self) -> _Block:
        def draw(y: float) -> None:
            pen = self.pen
            pen.line(LEFT, y, RIGHT, y, points=1.2)
            words = self.sentence()
            worst = self.plan.findings[0].severity if self.plan.findings else None
            if worst is not None:
                pen.shape(worst, LEFT + 1.7, y + 4.0, 1.5)
            pen.text(LEFT + (6.0 if worst else 0.0), y + 5.3, words[:1].upper() + words[1:], 11, bold=True, width=110)
            pen.text(RIGHT, y + 5.2, f"discwright {__version__}", 7, grey=GREY, align="right")

        return _Block(6.0, draw)

    def numbers(self) -> _Block:
        """The numbers of the side, and what it is cut with."""
        return _Block(drawn.NUMBERS_MM, lambda y: drawn.draw_numbers(self.pen, self.plan, y))

    def bands(self, row: float) -> _Block:
        """One row for each band."""
        count = len(self.plan.bands)
        height = 4.8 + row * min(count, BANDS_SHOWN) + (4.5 if count > BANDS_SHOWN else 0.0)
        return _Block(height, lambda y: drawn.draw_bands(self.pen, self.plan, self.label, y, row, BANDS_SHOWN))

    def timed(self, row: float, disc: float, beside: bool) -> _Block:
        """The cues: one column with the disc beside it, or two columns."""
        shown = self.cues[:CUES_SHOWN]
        more = len(self.cues) - len(shown)
        picture = self.picture if beside else None
        columns = 1 if picture is not None else 2
        rows = math.ceil(len(shown) / columns)
        width = WIDTH - disc - 8.0 if picture is not None else WIDTH / 2 - 3.0
        height = 4.8 + row * rows + (4.5 if more else 0.0)

        def draw(y: float) -> None:
            drawn.draw_heading(self.pen, y, "Cues", width if columns == 1 else WIDTH)
            for c in range(columns):
                x = LEFT + c * (width + 6.0)
                drawn.draw_cues(self.pen, shown[c * rows : (c + 1) * rows], x, y, width, row)
            if more:
                self.pen.text(LEFT, y + height - 0.8, f"and {more} more in plan.json", 8)
            if picture is not None:
                drawn.draw_picture(self.pen, picture, RIGHT - disc, y + max(0.0, (height - disc) / 2), disc)

        return _Block(max(height, disc if picture is not None else 0.0), draw)

    def graph(self, height: float, with_disc: bool) -> _Block:
        """Pitch, depth and level, with the disc beside them if it has no other place."""
        picture = self.picture if with_disc else None
        disc = min(height, 54.0) if picture is not None else 0.0

        def draw(y: float) -> None:
            draw_graph(self.pen, self.plan, LEFT, y, WIDTH - (disc + 6.0 if picture else 0.0), height)
            if picture is not None:
                drawn.draw_picture(self.pen, picture, RIGHT - disc, y, disc)

        return _Block(height, draw)

    def running_head(self) -> _Block:
        def draw(y: float) -> None:
            self.pen.text(LEFT, y + 4.2, self.label.title or "Untitled", 11, bold=True, width=84.0)
            words = f"Side {self.label.letter or '–'}   Matrix {self.label.matrix or '–'}"
            self.pen.text(RIGHT, y + 4.2, words, 11, bold=True, width=94.0, align="right")
            self.pen.line(LEFT, y + 6.0, RIGHT, y + 6.0, points=1.2)

        return _Block(6.5, draw)

    def findings(self, room: float, lines: int) -> _Block:
        """As many findings as fit, each with its remedy and a box for initials."""
        pen, found = self.pen, self.plan.findings
        entries = [Entry.of(finding, lines) for finding in found]
        shown = len(entries)
        while shown and 5.4 + sum(e.height for e in entries[:shown]) + (5.0 if shown < len(entries) else 0.0) > room:
            shown -= 1
        more = len(entries) - shown
        height = 5.4 + sum(e.height for e in entries[:shown]) + (5.0 if more else 0.0)

        def draw(y: float) -> None:
            drawn.draw_heading(pen, y, f"Findings: {self.sentence()}" if found else "No findings: ready to cut.")
            if entries:
                pen.text(RIGHT, y + 3.4, "Initials", 7.5, grey=GREY, align="right")
            foot = y + 5.0
            for entry in entries[:shown]:
                entry.draw(pen, foot)
                foot += entry.height
                pen.line(LEFT, foot, RIGHT, foot, LIGHT, 0.25)
            if more:
                pen.text(LEFT, foot + 4.2, f"and {more} more in plan.json", 8.5, bold=True)

        return _Block(height, draw)

    def disc_height(self, disc: float) -> float:
        """Of a disc so wide on page 2, with where the bands begin below it unless it has to be small."""
        return disc + (drawn.starts_height(len(self.plan.bands[:BANDS_SHOWN])) if disc >= _DISC_WITH_WORDS else 0.0)

    def draw_disc(self, y: float, disc: float) -> None:
        """The disc at the right edge of page 2."""
        if self.picture is not None:
            drawn.draw_picture(self.pen, self.picture, RIGHT - disc, y, disc)
            if disc >= _DISC_WITH_WORDS:
                drawn.draw_starts(self.pen, self.plan, RIGHT - disc, y + disc, disc, BANDS_SHOWN)

    def remarks(self, disc: float = 0.0) -> _Block:
        """Treatments to the left, margins and ladder to the right; one below the other to the left of a disc."""
        pen = self.pen
        width = WIDTH - disc - 8.0 if disc else WIDTH / 2 - 4.0
        columns = remark_columns(self.treatments, self.margins, self.ladder, width)

        def tall(stack: list[tuple[str, str, list[tuple[str, str]]]]) -> float:
            return 4.0 * sum(len(lines) for _, _, lines in stack) + 7.0 * len(stack) - 2.0

        def draw(y: float) -> None:
            x, top = LEFT, y
            for k, (name, side, lines) in enumerate(columns):
                drawn.draw_heading(pen, top, name, width, x)
                pen.text(x + width, top + 3.4, side, 7.5, grey=GREY, align="right")
                for n, (words, value) in enumerate(lines, 1):
                    room = text_width(value, 8) / MM + 2.0 if value else 0.0
                    foot = top + 4.3 + 4.0 * n
                    pen.text(x, foot, words, 7.6, width=max(0.4 * width, width - room))
                    pen.text(x + width, foot, value, 8, width=0.6 * width - 2.0, align="right")
                if k == 0 and not disc:
                    x = LEFT + width + 8.0
                else:
                    top += 4.0 * len(lines) + 7.0
            if disc:
                self.draw_disc(y, disc)

        if disc:
            return _Block(max(tall(columns), self.disc_height(disc)), draw)
        return _Block(max(tall(columns[:1]), tall(columns[1:])), draw)

    def fields(self) -> _Block:
        """Boxes to fill in by hand."""
        return _Block(21.0, lambda y: drawn.draw_fields(self.pen, y))

    def cautions(self, size: float) -> _Block:
        """What can hurt, and what to do when the cut stops."""
        half, leading = WIDTH / 2 - 4.0, 0.46 * size
        lists = [("Take care", CAUTIONS), ("If the cut stops", STOPPED)]
        set_out = [(name, [wrap(words, (half - 4.0) * MM, size) for words in said]) for name, said in lists]
        tall = max(sum(len(lines) for lines in said) for _, said in set_out)

        def draw(y: float) -> None:
            for k, (name, said) in enumerate(set_out):
                x = LEFT + k * (half + 8.0)
                drawn.draw_heading(self.pen, y, name, half, x)
                foot = y + 4.8
                for number, lines in enumerate(said, 1):
                    self.pen.text(x, foot + leading, f"{number}" if k else "–", size, bold=bool(k))
                    for line in lines:
                        foot += leading
                        self.pen.text(x + 4.0, foot, line, size)

        return _Block(5.0 + leading * tall, draw)

    def notes(self, room: float, disc: float) -> _Block:
        """Lines to write on, down to the foot of the page, and the disc beside them if it is there."""
        right = RIGHT - disc - 8.0 if disc else RIGHT

        def draw(y: float) -> None:
            drawn.draw_heading(self.pen, y, "Notes", right - LEFT)
            for k in range(1, int((room - 4.0) / 8.0) + 1):
                self.pen.line(LEFT, y + 4.0 + 8.0 * k, right, y + 4.0 + 8.0 * k, LIGHT, 0.4)
            if disc:
                self.draw_disc(y, disc)

        return _Block(room, draw)

    def foot(self, number: int, count: int) -> None:
        """The bar, the fingerprint and the page's number."""
        y = 286.0
        drawn.draw_bar(self.pen, LEFT, y)
        self.pen.text(LEFT + drawn.BAR_MM + 9.0, y + 0.3, "Fingerprint of the plan", 7, grey=GREY)
        self.pen.text(LEFT + drawn.BAR_MM + 9.0, y + 4.2, self.fingerprint, 7, least=7.0)
        self.pen.text(RIGHT, y + 4.2, f"page {number} of {count}", 8, bold=True, align="right")


def _height(blocks: list[_Block]) -> float:
    return sum(block.height for block in blocks) + _GAP * (len(blocks) - 1)
