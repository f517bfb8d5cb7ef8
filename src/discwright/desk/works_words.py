"""Words and shapes for what stands in the ledger: states, verdicts, signs, marks, lateness, amounts."""

from __future__ import annotations

from dataclasses import fields
from datetime import datetime
from typing import Any

from discwright.desk.run_lines import said_of_run
from discwright.desk.works_parts import Badge
from discwright.desk.works_time import span_words
from discwright.faults import counted
from discwright.units import INCH
from discwright.works import events as e
from discwright.works.chain import Line
from discwright.works.family import STATES, Part
from discwright.works.parts import NEGATIVE
from discwright.works.standing import WAITS

#: The shape that stands beside each state of a part.
_SHAPES = {
    "cut": "in-hand", "silvered": "in-hand", "plated": "in-hand", "separated": "in-hand", "spent": "gone",
    "approved": "ready", "refused": "failed", "at_press": "pressing", "taken_off": "done", "vaulted": "stored",
    "scrapped": "gone", "recalled": "stop", "planned": "chosen", "": "unplanned",
}  # fmt: skip
_VERDICTS = {"approved": "ready", "refused": "failed", "recalled": "stop"}


def state_badge(state: str) -> Badge:
    """A state of a part, or of a side that has none yet."""
    words = {"planned": "planned", "": "nothing yet"}.get(state) or STATES.get(state, state)
    return Badge(_SHAPES.get(state, "note"), words)


def part_badge(part: Part) -> Badge:
    """Where a part is."""
    return state_badge(part.state)


def verdict_badge(part: Part) -> Badge | None:
    """What was said of a part, or None."""
    return Badge(_VERDICTS[part.verdict], part.verdict) if part.verdict in _VERDICTS else None


def sign_words(part: Part) -> str:
    """`negative (−)`: what presses; `positive (+)`: what plays."""
    return "negative (−)" if part.sign == NEGATIVE else "positive (+)"


def marks_on(part: Part) -> str:
    """The run-out marks of a part as one line."""
    return " ".join(part.marks)


def marks_hint(part: Part) -> str:
    """How marks read on this very part."""
    if not part.marks:
        return "nothing was put on it, nor on what it was grown from"
    if part.sign == NEGATIVE:
        return "in mirror image on this part: read them in a mirror, or from the back"
    return "as they stand here"


def waits_words(key: str) -> str:
    """What a side waits for."""
    return WAITS.get(key, key)


def late_words(late_at: str, now: datetime) -> str:
    """`late by 3 days`; empty where it is not late, or cannot be."""
    if not late_at:
        return ""
    over = (now - datetime.fromisoformat(late_at)).total_seconds()
    return f"late by {span_words(over)}" if over > 0 else ""


def amount(value: float) -> str:
    """A number without needless noughts, with a true minus."""
    return f"{value:.6g}".replace("-", "−")


def thickness_words(value_um: float, inches: bool) -> str:
    """`203 µm`, or in thousandths for whoever reads inches."""
    return f"{value_um * 1e-6 / INCH * 1000:.2f} thou" if inches else f"{value_um:.4g} µm"


#: Name and unit of every number that a line can hold, as people read them.
_NUMBERS = {
    "level_db": ("level", "dB"), "width_um": ("width", "µm"), "tip_hours": ("on the tip", "h"), "heat_a": ("heat", "A"),
    "blank_mm": ("blank", "mm"), "ampere_hours": ("charge", "Ah"), "minutes": ("in the bath", "min"),
    "mass_g": ("mass", "g"), "thickness_um": ("thickness", "µm"), "run_out_um": ("run-out", "µm"),
    "diameter_mm": ("diameter", "mm"),
}  # fmt: skip


def said_in(line: Line) -> str:
    """What a line says besides its kind, in words: `mass 212.5 g, tank 3`; its note is not among it."""
    if line.kind == "corrected":
        return _correction(line)
    of_run = said_of_run(line)
    if of_run is not None:
        return of_run
    known = {one.name: one.metadata["words"] for one in fields(e.EVENTS[line.kind])} if line.kind in e.EVENTS else {}
    unsaid = (*_UNSAID, "count") if line.data.get("count") == len(line.data.get("defects", ())) != 0 else _UNSAID
    told = [_field(name, known.get(name, name), value) for name, value in line.data.items() if name not in unsaid]
    return ", ".join(one for one in told if one)


#: Told elsewhere on the page, or nothing for people.
_UNSAID = (
    "note", "parent", "part_kind", "limits", "editions", "people", "spiral_sha256", "programme_sha256", "file_sha256",
)  # fmt: skip


def _field(name: str, words: str, value: Any) -> str:
    if value in ("", None):
        return ""
    if name == "defects":
        return counted(value)
    if name == "capture_sha256":
        return f"capture {str(value)[:12]}"
    if name == "defects":
        return counted(value)
    if name == "capture_sha256":
        return f"capture {str(value)[:12]}"
    if name == "count":
        return f"{value} {'fault' if 'fault' in words else 'pressing'}{'' if value == 1 else 's'}"
    if name == "fingerprint":
        return f"plan {str(value)[:12]}"
    if name in _NUMBERS:
        shown, unit = _NUMBERS[name]
        return f"{shown} {amount(value)} {unit}"
    return f"{name.replace('_', ' ')} {value}"


def _correction(line: Line) -> str:
    seq, instead = line.data.get("seq"), line.data.get("instead")
    return f"line {seq} was never so" if instead is None else f"line {seq} should say something else"


def kind_words(line: Line) -> str:
    """The kind of a line for people; a plating that gave birth says so."""
    event = e.EVENTS.get(line.kind)
    if line.kind == "plated" and line.data.get("parent"):
        return f"{line.data.get('part_kind', 'part')} grown on {line.data['parent']}"
    return event.words if event is not None else line.kind
