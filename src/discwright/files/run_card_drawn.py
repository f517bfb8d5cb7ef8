"""The drawn pieces of a run card: head, numbers, tasks, steps, cautions, boxes; and how they fill pages."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from discwright import __version__
from discwright.files.fonts import FOOT, GREY, LEFT, LIGHT, MM, PAGE_MM, RIGHT, TOP, WIDTH, Pen, text_width, wrap
from discwright.files.run_card_words import (
    DEFER,
    FIELDS,
    Caution,
    Task,
    duration_words,
    minute_words,
    step_words,
)
from discwright.files.sheet_drawn import BAR_MM, draw_bar, draw_code, draw_heading
from discwright.works.metals import AMPERE_HOUR, DM2, GRAM, MICRON

if TYPE_CHECKING:
    from discwright.files.run_card import RunCard

_GAP = 3.2
_HEAD_MM, _ROW_MM, _LEADING = 33.0, 9.0, 3.45
#: Boxes for initials, mm.
_BOX = (18.0, 6.6)
#: Left edges of the words of a task, and of what to check, mm from the left.
_TASK_X, _CHECK_X = 7.0, 88.0
#: The columns of steps: name, right edge (left edge for words), mm from the left.
_COLUMNS = (
    ("Step", 7.0), ("A/dm²", 27.0), ("A", 53.0), ("Min", 67.0), ("Ah so far", 84.0), ("µm so far", 101.0),
    ("°C", 117.0),
)  # fmt: skip
_BOLD = (7.0, 53.0, 67.0)
_STEP_CHECK_X = 121.0
#: A code is so many times as large as on a sheet: it is read through wet gloves and a tablet.
_CODE_TIMES = 1.4
#: Lines to write on where a page has so much room left, mm, and their distance.
_NOTES_LEAST, _NOTES_LINE = 24.0, 8.0


@dataclass(frozen=True)
class Block:
    """A piece of a page, `height` mm high, that draws itself from an upper edge down; `joined` to the one after it."""

    height: float
    draw: Callable[[float], None]
    joined: bool = False


@dataclass(frozen=True)
class CardDrawing:
    """Everything on a card, cut into blocks."""

    pen: Pen
    card: RunCard

    def pages(self) -> list[list[Block]]:
        """Blocks one below the other; where a page is full the next begins with a short head and the section's name."""
        pages = [[self.head(), self.numbers()]]
        for name, heading, blocks in self.sections():
            first = True
            for group in _groups(blocks):
                tall = sum(block.height for block in group)
                if first:
                    tall += heading().height
                if sum(block.height for block in pages[-1]) + tall > FOOT - TOP:
                    pages.append([self.running_head()])
                    if not first:
                        pages[-1].append(self.continued(name) if name != "In the bath" else self.step_heads(True))
                if first:
                    pages[-1].append(heading())
                pages[-1] += group
                first = False
            pages[-1].append(Block(_GAP, lambda _y: None))
        room = FOOT - TOP - sum(block.height for block in pages[-1])
        if room >= _NOTES_LEAST:
            pages[-1].append(self.notes(room))
        return pages

    def sections(self) -> list[tuple[str, Callable[[], Block], list[Block]]]:
        """The name of each, its heading, and its blocks."""
        words = self.card.words
        before, bath, after = "Before the bath", "In the bath", "After the bath"
        return [
            (before, lambda: self.heading(before, "Check"), self.tasks(words.prepare, words.before)),
            (bath, lambda: self.step_heads(False), [*self.steps(), *self.cautions(words.during)]),
            (
                after,
                lambda: self.heading(after, "Check"),
                [*(replace(task, joined=True) for task in self.tasks(words.finish, ())), self.fields()],
            ),
            ("Take care", lambda: self.heading("Take care", ""), [*self.cautions(words.after), self.defer()]),
        ]

    # the head ------------------------------------------------------------------------------------------

    def head(self) -> Block:
        """Kind, number, title, side, parent and the code."""

        def draw(y: float) -> None:
            pen, card = self.pen, self.card
            if card.number:
                side = _CODE_TIMES * self.code(y)
            else:
                side = 26.0
                pen.box(RIGHT - side, y, side, side, grey=LIGHT)
                pen.text(RIGHT - side / 2, y + side / 2 + 1.0, "no number yet", 7, grey=GREY, align="middle")
            width = WIDTH - side - 2.0
            pen.text(LEFT, y + 2.8, f"Run card: {card.kind}", 9, grey=GREY)
            if card.number:
                pen.text(LEFT, y + 12.0, self.named(), 24, bold=True, width=width)
            else:
                pen.text(LEFT, y + 11.6, "Number", 8, grey=GREY)
                pen.line(LEFT + 14.0, y + 12.0, LEFT + 80.0, y + 12.0)
            lines = wrap(card.title, width * MM, 12, True, 2) if card.title else ["–"]
            foot = y + 18.4
            for line in lines:
                pen.text(LEFT, foot, line, 12, bold=True, width=width)
                foot += 5.0
            cells = (("Catalogue", card.catalogue), ("Side", card.side), ("Grows on", card.parent))
            for (name, words), (at, room) in zip(cells, ((0.0, 0.44), (0.46, 0.16), (0.64, 0.36)), strict=True):
                x, label = LEFT + at * width, text_width(name, 7.5) / MM + 2.0
                pen.text(x, y + 29.4, name, 7.5, grey=GREY)
                pen.text(x + label, y + 29.4, words or "–", 10, bold=True, width=room * width - label)

        return Block(_HEAD_MM, draw)

    def named(self) -> str:
        """The number; of a part that has none yet, what it is grown on."""
        card = self.card
        return f"on {card.number}" if card.number and card.number == card.parent else card.number

    def code(self, y: float) -> float:
        """The code of the number, larger than on paper that lies still; its side as it would be."""
        canvas = self.pen.canvas
        canvas.saveState()
        right, upper = (RIGHT + 2.4) * MM, (PAGE_MM[1] - y + 2.4) * MM
        canvas.translate((1.0 - _CODE_TIMES) * right, (1.0 - _CODE_TIMES) * upper)
        canvas.scale(_CODE_TIMES, _CODE_TIMES)
        side = draw_code(self.pen, self.card.number, RIGHT + 2.4, y - 2.4)
        canvas.restoreState()
        return side

    def running_head(self) -> Block:
        def draw(y: float) -> None:
            card = self.card
            self.pen.text(LEFT, y + 4.2, f"{self.named() or 'No number'}   {card.kind}", 11, bold=True, width=84.0)
            self.pen.text(RIGHT, y + 4.2, card.title, 11, bold=True, width=94.0, align="right")
            self.pen.line(LEFT, y + 6.0, RIGHT, y + 6.0, points=1.2)

        return Block(8.5, draw)

    def numbers(self) -> Block:
        """What is grown and what it takes, in two rows of six."""
        run, card = self.card.run, self.card
        hole = f"{card.hole * 1e3:.4g}" if card.hole else "none"
        cells = (
            ("Metal", run.metal.name, ""), ("Plate", f"{card.diameter * 1e3:.5g}", "mm"),
            ("Hole", hole, "mm" if card.hole else ""),
            ("Face", f"{run.area / DM2:.2f}", "dm²"), ("Target", f"{run.target / MICRON:.4g}", "µm"),
            ("Efficiency", f"{run.efficiency * 100:.4g}", "%"),
            ("In the bath", duration_words(run.seconds), ""), ("Charge", f"{run.charge / AMPERE_HOUR:.1f}", "Ah"),
            ("Most current", f"{run.most_current:.1f}", "A"), ("Mean", f"{run.thickness / MICRON:.1f}", "µm"),
            ("Thin place", f"{run.thin / MICRON:.1f}", "µm"), ("Gain", f"{run.mass / GRAM:.1f}", "g"),
        )  # fmt: skip

        def draw(y: float) -> None:
            pen, wide = self.pen, WIDTH / 6
            pen.line(LEFT, y, RIGHT, y, points=1.2)
            for k, (name, value, unit) in enumerate(cells):
                x, top = LEFT + wide * (k % 6), y + 9.6 * (k // 6)
                pen.text(x, top + 3.8, name, 7.5, grey=GREY)
                pen.text(x, top + 8.6, f"{value} {unit}".strip(), 11.5, bold=True, width=wide - 2.0)
            if not run.reached:
                pen.shape("warn", LEFT + 1.5, y + 22.4, 1.25)
                pen.text(LEFT + 5.0, y + 23.4, "The steps end before the target is reached.", 8.5, bold=True)

        return Block(22.0 + (4.0 if not run.reached else 0.0) + _GAP, draw)

    # sections ------------------------------------------------------------------------------------------

    def heading(self, name: str, check: str, joined: bool = True) -> Block:
        def draw(y: float) -> None:
            draw_heading(self.pen, y, name)
            if check:
                self.pen.text(LEFT + _CHECK_X, y + 3.4, check, 7.5, grey=GREY)
                self.pen.text(RIGHT, y + 3.4, "Initials", 7.5, grey=GREY, align="right")

        return Block(5.0, draw, joined)

    def continued(self, name: str) -> Block:
        return self.heading(f"{name}, continued", "Check" if name != "Take care" else "")

    def tasks(self, tasks: Sequence[Task], cautions: Sequence[Caution]) -> list[Block]:
        """A line for each thing to do, then what can hurt."""
        return [*(self.task(n, task) for n, task in enumerate(tasks, 1)), *self.cautions(cautions)]

    def task(self, number: int, task: Task) -> Block:
        said = wrap(task.words, (_CHECK_X - _TASK_X - 3.0) * MM, 8.5)
        check = wrap(task.check, (WIDTH - _BOX[0] - _CHECK_X - 3.0) * MM, 8.0)

        def draw(y: float) -> None:
            self.pen.text(LEFT + 4.0, y + height / 2 + 1.05, str(number), 8.5, bold=True, align="right")
            self.lines(said, LEFT + _TASK_X, y, height, 8.5)
            self.lines(check, LEFT + _CHECK_X, y, height, 8.0)
            self.box_below(y, height)

        height = max(_ROW_MM - 0.6, 2.4 + _LEADING * max(len(said), len(check)))
        return Block(height, draw)

    def lines(self, said: Sequence[str], x: float, y: float, height: float, size: float) -> None:
        """Lines of words, halfway down a row."""
        foot = y + (height - _LEADING * len(said)) / 2 + 0.78 * _LEADING
        for line in said:
            self.pen.text(x, foot, line, size)
            foot += _LEADING

    def box_below(self, y: float, height: float) -> None:
        """A row's box for initials and the rule that ends it."""
        self.pen.box(RIGHT - _BOX[0], y + (height - _BOX[1]) / 2, *_BOX)
        self.pen.line(LEFT, y + height, RIGHT, y + height, LIGHT, 0.25)

    def step_heads(self, again: bool) -> Block:
        def draw(y: float) -> None:
            draw_heading(self.pen, y, "In the bath, continued" if again else "In the bath")
            for name, edge in _COLUMNS:
                self.pen.text(LEFT + edge, y + 8.4, name, 7.5, grey=GREY, align="right")
            self.pen.text(LEFT + _STEP_CHECK_X, y + 8.4, "Check", 7.5, grey=GREY)
            self.pen.text(RIGHT, y + 8.4, "Initials", 7.5, grey=GREY, align="right")
            self.pen.line(LEFT, y + 9.6, RIGHT, y + 9.6, LIGHT, 0.25)

        return Block(9.8, draw, True)

    def steps(self) -> list[Block]:
        """A row for each step that is run."""
        run = self.card.run
        return [self.step(k) for k in range(len(run.steps))]

    def step(self, k: int) -> Block:
        run, words = self.card.run, self.card.words
        one = run.steps[k]
        charge = run.area * sum(before.charge for before in run.steps[: k + 1])
        grown = sum(before.thickness for before in run.steps[: k + 1])
        amperes = [f"{run.area * density:.1f}" for density in (one.step.first, one.last)]
        current = amperes[0] if one.step.first == one.step.last else f"{amperes[0]} to {amperes[1]}"
        cells = (
            str(k + 1), step_words(one.step, one.last), current, minute_words(one.seconds),
            f"{charge / AMPERE_HOUR:.1f}", f"{grown / MICRON:.1f}", words.temperatures[k],
        )  # fmt: skip
        check = wrap(words.checks[k], (WIDTH - _BOX[0] - _STEP_CHECK_X - 2.0) * MM, 7.6)
        height = max(_ROW_MM, 2.4 + _LEADING * len(check))

        def draw(y: float) -> None:
            left = 0.0
            for (_, edge), words in zip(_COLUMNS, cells, strict=True):
                self.pen.text(
                    LEFT + edge, y + height / 2 + 1.2, words, 9.5, bold=edge in _BOLD, align="right",
                    width=edge - left - 3.0,
                )  # fmt: skip
                left = edge
            self.lines(check, LEFT + _STEP_CHECK_X, y, height, 7.6)
            self.box_below(y, height)

        return Block(height, draw)

    def cautions(self, cautions: Sequence[Caution]) -> list[Block]:
        """What can hurt, each with a triangle, and the rule to look up."""
        return [self.caution(one) for one in cautions]

    def caution(self, one: Caution) -> Block:
        said = wrap(f"{one.words} Look up: {one.rule}.", (WIDTH - 36.0) * MM, 7.8)

        def draw(y: float) -> None:
            self.pen.shape("warn", LEFT + 1.6, y + 2.7, 1.15)
            self.pen.text(LEFT + 4.6, y + 3.5, one.about, 7.8, bold=True, width=29.0)
            for k, line in enumerate(said):
                self.pen.text(LEFT + 36.0, y + 3.5 + _LEADING * k, line, 7.8)

        return Block(1.2 + _LEADING * len(said), draw)

    def defer(self) -> Block:
        return Block(6.0, lambda y: self.pen.text(LEFT, y + 4.6, DEFER, 8, bold=True, width=WIDTH))

    def fields(self) -> Block:
        """Boxes to fill in by hand."""
        wide, tall = WIDTH / 4, 11.0

        def draw(y: float) -> None:
            for k, name in enumerate(FIELDS):
                x, top = LEFT + wide * (k % 4), y + 2.0 + tall * (k // 4)
                self.pen.box(x, top, wide, tall)
                self.pen.text(x + 1.2, top + 3.2, name, 7, grey=GREY, width=wide - 2.4)

        return Block(2.0 + 2 * tall, draw)

    def notes(self, room: float) -> Block:
        """Lines to write on, down to the foot of the page."""

        def draw(y: float) -> None:
            draw_heading(self.pen, y, "Notes")
            for k in range(1, int((room - 4.0) / _NOTES_LINE) + 1):
                foot = y + 4.0 + _NOTES_LINE * k
                self.pen.line(LEFT, foot, RIGHT, foot, LIGHT, 0.4)

        return Block(room, draw)

    def foot(self, number: int, count: int) -> None:
        """The bar, the ledger's hash and the page's number."""
        y, x = 286.0, LEFT + BAR_MM + 9.0
        draw_bar(self.pen, LEFT, y)
        head = self.card.ledger_head
        self.pen.text(x, y + 0.3, "Last entry of the ledger" if head else "This card is from no ledger.", 7, grey=GREY)
        self.pen.text(x, y + 4.2, head, 7)
        self.pen.text(RIGHT, y + 0.3, f"discwright {__version__}", 7, grey=GREY, align="right")
        self.pen.text(RIGHT, y + 4.2, f"page {number} of {count}", 8, bold=True, align="right")


def _groups(blocks: Sequence[Block]) -> list[list[Block]]:
    """Blocks that stay on one page together."""
    groups: list[list[Block]] = [[]]
    for block in blocks:
        groups[-1].append(block)
        if not block.joined:
            groups.append([])
    return [group for group in groups if group]
