"""The station put together: the part that was scanned, the steps that can be taken, what was done last."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import Field, fields
from typing import Any
from urllib.parse import quote

from discwright.desk.page_parts import Option
from discwright.desk.show_board import new_key, part_href, title_href
from discwright.desk.station_parts import DoneLine, EntryField, StationPart, StepButton, StepReason
from discwright.desk.stations import STATIONS, Station, belongs_elsewhere
from discwright.desk.works_time import span_words
from discwright.desk.works_words import kind_words, marks_hint, marks_on, part_badge, said_in, sign_words
from discwright.findings import Finding
from discwright.works import events as e
from discwright.works.chain import Line
from discwright.works.family import Family, Part
from discwright.works.parts import GROWS
from discwright.works.people import ACCEPT, Person, may, recordable_by
from discwright.works.possible import GROW, Step, steps

#: The one thing that a step is asked for before it is confirmed.
ASKS = {"weighed": "mass_g", "measured": "thickness_um", "taken_off": "count", "test_played": "count"}
#: What a step is called on its button, where its event's name alone says too little.
_BUTTONS = {
    "checked_under_the_microscope": "Checked under the microscope", "plated": "One more run in the bath",
    "put_to_press": "Put to press", "taken_off": "Taken off, with its count",
}  # fmt: skip
#: What takes a part out of use.
_GRAVE = ("refused", "scrapped", "recalled")
#: Fields that a station does not ask for.
_UNASKED = ("parent", "part_kind", "defects", "capture_sha256", "report", "to_turn")
_LABELS = {
    "mass_g": "Weight", "thickness_um": "Thickness", "where": "Where on the part", "to": "To whom or where",
    "marks_read": "Run-out marks as read", "width_um": "Width of the groove", "mark": "Run-out marks put on it",
    "metal": "Metal", "tank": "Tank", "ampere_hours": "Charge", "minutes": "Time in the bath",
    "run_out_um": "Total indicated run-out", "diameter_mm": "Diameter", "press": "Press", "place": "Shelf or box",
    "note": "Note",
}  # fmt: skip
_BARE_UNITS = {"minutes": "min", "ampere_hours": "Ah"}


def station_options(chosen: Station) -> tuple[Option, ...]:
    """The stations to choose from."""
    return tuple(Option(one.id, one.words, one.id == chosen.id) for one in STATIONS.values())


def station_part(family: Family, part: Part, here: Station) -> StationPart:
    """The part that was scanned."""
    return StationPart(
        part.id, part_href(part.id), f"{family.title} {family.name}".strip(), title_href(family.title),
        f"{part.edition} {part.side}".strip(), part.kind, sign_words(part), part_badge(part), marks_on(part),
        marks_hint(part), belongs_elsewhere(family, part, here),
    )  # fmt: skip


def step_words(kind: str, part: Part) -> str:
    """A step as its button says it."""
    if kind == GROW:
        return f"Grow a {GROWS[part.kind]}"
    words = _BUTTONS.get(kind) or e.EVENTS[kind].words
    return f"{words[:1].upper()}{words[1:]}"


def step_buttons(family: Family, part: Part, here: Station, person: Person, at: str) -> tuple[StepButton, ...]:
    """What this person can do with the part here and now, the expected step first."""
    kinds = [kind for kind in recordable_by(person) if kind in here.kinds]
    found = steps(family, part, kinds, at)
    return tuple(_button(number, step, part, person) for number, step in enumerate(found, 1))


def _button(number: int, step: Step, part: Part, person: Person) -> StepButton:
    reasons = step_reasons(step.against)
    closed = any(one.severity == "stop" for one in reasons)
    return StepButton(
        number=number, kind=step.kind, words=step_words(step.kind, part), key=new_key(), expected=step.expected,
        closed=closed, may_accept=closed and may(person, ACCEPT), asks=step.kind in ASKS, grave=step.kind in _GRAVE,
        more_href=f"/station/say?code={quote(part.id)}&kind={step.kind}", reasons=reasons,
    )  # fmt: skip


def step_reasons(found: Iterable[Finding]) -> tuple[StepReason, ...]:
    """What speaks against a step, stops first; what was accepted says so no more."""
    known = [one for one in found if not one.accepted]
    return tuple(StepReason(one.severity, one.remedy) for one in sorted(known, key=lambda one: one.severity != "stop"))


def no_step(family: Family, part: Part, here: Station, person: Person, at: str) -> str:
    """Why there is nothing to press."""
    elsewhere = steps(family, part, recordable_by(person), at)
    if elsewhere:
        return f"Nothing is done with it at {here.words} now; choose another station, or take it where it belongs."
    if steps(family, part, tuple(e.EVENTS), at):
        return "Your roles may do nothing with it now; ask whoever works here."
    return f"Nothing can be done with {part.id} any more: it is {part_badge(part).words}."


# What a step needs to be told --------------------------------------------------------------------------


def entry_fields(kind: str, said: Mapping[str, str]) -> tuple[EntryField, ...]:
    """The fields of a step, what is asked for first, with what was entered already."""
    event = e.EVENTS["plated" if kind == GROW else kind]
    known = [one for one in fields(event) if one.name not in _UNASKED and (kind == GROW or one.name != "mark")]
    asked = ASKS.get(kind, "")
    order = sorted(known, key=lambda one: (one.name != asked, one.name == "note"))
    return tuple(_field(one, asked, said) for one in order)


def _field(one: Field[Any], asked: str, said: Mapping[str, str]) -> EntryField:
    name, meta, kind = one.name, one.metadata, str(one.type)
    units = tuple(dict.fromkeys(unit for unit in meta["units"] if unit != "um"))
    chosen = said.get(f"{name}-unit", "")
    label = _LABELS.get(name) or f"{meta['words'][:1].upper()}{meta['words'][1:]}"
    return EntryField(
        name=name, label=label, unit=units[0] if len(units) == 1 else _BARE_UNITS.get(name, ""),
        value=said.get(name, ""),
        units=tuple(Option(unit, unit, unit == chosen) for unit in units) if len(units) > 1 else (),
        number=kind.startswith(("int", "float")), big=name == asked, needed=kind in ("int", "float") and name == asked,
    )  # fmt: skip


# What was done last ------------------------------------------------------------------------------------


def done_line(line: Line, undoable: bool, repeated: bool, clock_s: float, found: Iterable[Finding]) -> DoneLine:
    """What was done last, in a sentence, and what is needed to undo it."""
    grown = line.part if line.kind == "plated" and line.data.get("parent") else ""
    said = "" if grown else said_in(line)
    if line.kind == "corrected":
        sentence = f"Undone: line {line.data.get('seq')}"
    else:
        what = f"{grown or line.part} {kind_words(line)}"
        sentence = f"{'Done already' if repeated else 'Done'}: {', '.join(one for one in (what, said) if one)}"
    clock = ""
    if clock_s > 0:
        clock = (
            f"The clock of the desk's computer stands {span_words(clock_s)} behind the last line; the line was written "
            "with the time of that one. Set the clock."
        )
    return DoneLine(
        str(line.seq), f"{sentence}.", new_key() if undoable else "", grown, part_href(grown), clock,
        step_reasons(found),
    )  # fmt: skip
