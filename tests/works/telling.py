"""A title told line by line, folded as it goes: for tests of the rules, without any database."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from discwright.findings import Finding
from discwright.works.chain import BEGIN, Line, linked
from discwright.works.family import Family, Part
from discwright.works.history import fold_title, step
from discwright.works.parts import GROWS, part_number

TITLE = "HL 12"
EDITIONS = ({"id": "lp", "format": "12in-33", "quantity": 900, "due": "2026-03-20", "sides": ["A", "B"]},)
START = datetime(2026, 3, 1, 8, tzinfo=UTC)
PRINT, PROGRAMME = "f" * 64, "a" * 64


class Teller:
    """Tells what happens; a minute passes with each line."""

    def __init__(self, **limits: float) -> None:
        self.now = START
        self.lines: list[Line] = []
        self.family = Family(TITLE)
        self.found: tuple[Finding, ...] = ()
        self.serial = 0
        self.say("title_taken_in", name="Harbour Lights", editions=list(EDITIONS), limits=limits or None)

    def say(self, kind: str, part: str = "", by: str = "Ann", accepted: str = "", **data: Any) -> tuple[Finding, ...]:
        """One line more, whatever speaks against it."""
        self.now += timedelta(minutes=1)
        data = {name: value for name, value in data.items() if value is not None}
        at = self.now.isoformat(timespec="microseconds")
        prev = self.lines[-1].hash if self.lines else BEGIN
        seq = len(self.lines) + 1
        line = linked(Line(seq, at, by, "", TITLE, part, kind, data, f"k{seq}", accepted), prev)
        self.lines.append(line)
        if kind == "corrected":
            self.family, self.found = fold_title(self.lines, Family(TITLE)), ()
        else:
            self.family, self.found = step(self.family, line)
        return self.found

    def pass_hours(self, hours: float) -> None:
        self.now += timedelta(hours=hours)

    def part(self, number: str) -> Part:
        return self.family.parts[number]

    def cut(self, side: str = "A", **data: Any) -> str:
        self.serial += 1
        number = part_number("lacquer", self.serial)
        about = {"edition": "lp", "side": side, "fingerprint": PRINT, "programme_sha256": PROGRAMME}
        self.say("lacquer_cut", number, **about | {"lacquer_batch": "B7"} | data)
        return number

    def grow(self, parent: str, kind: str = "", mark: str = "", passivate: bool = True, **more: Any) -> str:
        """The next part from another, with the film it needs."""
        kind = kind or GROWS[self.part(parent).kind]
        if passivate and self.part(parent).kind != "lacquer":
            self.say("passivated", parent)
        self.serial += 1
        number = part_number(kind, self.serial)
        self.say("plated", number, parent=parent, part_kind=kind, mark=mark or None, **more)
        return number

    def line_of_parts(self) -> tuple[str, str, str, str]:
        """Lacquer, master, mother, stamper of side A."""
        lacquer = self.cut(mark="HL 12 A")
        master = self.grow(lacquer)
        mother = self.grow(master, mark="M1")
        return lacquer, master, mother, self.grow(mother, mark="S1")

    def codes(self) -> list[str]:
        """What was found against the last line."""
        return [one.code for one in self.found]
