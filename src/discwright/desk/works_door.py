"""What the pages and the API of the ledger share: the ledger itself, parts by their numbers, steps as they are said."""

from __future__ import annotations

from collections.abc import Mapping

from fastapi import Request

from discwright.acts.people import check_may_record, hand_of
from discwright.acts.runs import run_for
from discwright.acts.works_look import part_for
from discwright.acts.works_record import Said, record
from discwright.desk.api_shapes import desk_of
from discwright.desk.door import person_of
from discwright.desk.shelf import NotThereError
from discwright.errors import CallError
from discwright.units import number
from discwright.works import events as e
from discwright.works.family import Family, Part
from discwright.works.parts import GROWS
from discwright.works.possible import GROW
from discwright.works.store.ledger import Ledger, Outcome
from discwright.works.yard import Run

#: Fields of a form that say nothing of the step itself.
_OWN = ("part", "kind", "key", "by", "station", "accepted", "say")
#: Letters of one field.
_MOST_LETTERS = 500


class AtOddsError(CallError):
    """What was asked for is at odds with what is there now."""


def ledger_of(request: Request) -> Ledger:
    """The ledger of the opened folder.

    Raises
    ------
    NotThereError
        If none was begun.
    """
    desk = desk_of(request)
    ledger = desk.books.present if desk.books is not None else None
    if ledger is None:
        raise NotThereError("this folder has no ledger yet; begin one on the page of the works.")
    return ledger


def part_at(ledger: Ledger, number_: str) -> tuple[Family, Part]:
    """A part by its number, as an address or a form has it.

    Raises
    ------
    NotThereError
        If no part has it.
    """
    try:
        return part_for(ledger, number_)
    except CallError as why:
        raise NotThereError(str(why)) from None


def run_at(ledger: Ledger, number_: str) -> tuple[Family, Run]:
    """A run by its number, as an address or a form has it.

    Raises
    ------
    NotThereError
        If no run has it.
    """
    try:
        return run_for(ledger, number_)
    except CallError as why:
        raise NotThereError(str(why)) from None


def family_at(ledger: Ledger, catalogue: str) -> Family:
    """A title by its catalogue number.

    Raises
    ------
    NotThereError
        If it was not taken in.
    """
    try:
        return ledger.family(catalogue)
    except CallError:
        raise NotThereError("the ledger has no title of this catalogue number; go back to the board.") from None


def came(outcome: Outcome) -> Outcome:
    """What was written.

    Parameters
    ----------
    outcome : Outcome

    Raises
    ------
    AtOddsError
        If nothing was, with why.
    """
    if outcome.line is None:
        sentence = " ".join(one.remedy for one in outcome.findings if one.severity == "stop" and not one.accepted)
        raise AtOddsError(f"Nothing was written. {sentence}")
    return outcome


def take_step(request: Request, ledger: Ledger, fields: Mapping[str, str]) -> Outcome:
    """Record a step as a form of a station says it.

    Parameters
    ----------
    request : fastapi.Request
    ledger : Ledger
    fields : mapping of str to str
        ``part``, ``kind``, ``key``, ``by`` (who pressed), ``station``, ``accepted``, and what the step takes.

    Raises
    ------
    AtOddsError
        If somebody else has signed in since the button was pressed.
    CallError
        If the step cannot be, is not this person's, or a number cannot be read.
    """
    person, kind = person_of(request), fields.get("kind", "")
    pressed_by = fields.get("by", "")
    if pressed_by and not person.one_person and pressed_by != person.name:
        raise AtOddsError(
            f"{pressed_by[:80]} pressed this and {person.name} is signed in now; sign in as {pressed_by[:80]}, and it "
            "is sent then."
        )
    check_may_record(person, "plated" if kind == GROW else kind)
    hand = hand_of(
        person, said_by=pressed_by, station=fields.get("station", ""), key=fields.get("key", ""),
        accepted=fields.get("accepted", ""),
    )  # fmt: skip
    _, part = part_at(ledger, fields.get("part", ""))
    if kind == GROW:
        if part.kind not in GROWS:
            raise CallError(f"{part.id} is a stamper, and nothing is grown from a stamper; grow from its mother.")
        event = e.read_event("plated", step_data("plated", fields) | {"parent": part.id, "part_kind": GROWS[part.kind]})
        return ledger.append(hand.order(event))
    return record(ledger, part.id, kind, Said(more=step_data(kind, fields)), hand)


def step_data(kind: str, fields: Mapping[str, str]) -> dict[str, str | float]:
    """What a form says of a step, under the names and in the units of its event.

    Parameters
    ----------
    kind : str
    fields : mapping of str to str
        A number with comma or point; its unit stands in a field of its own, with ``-unit`` at its end.

    Raises
    ------
    CallError
        If a number cannot be read, or its unit is none.
    """
    event = e.EVENTS.get(kind)
    if event is None:
        raise CallError("there is no such step; scan the part again.")
    known = event.__dataclass_fields__
    data: dict[str, str | float] = {}
    for name, text in fields.items():
        if name in _OWN or name.removesuffix("-unit") != name or not text.strip():
            continue
        if name not in known:
            raise CallError(f"{event.words} takes no “{name[:40]}”; load the page again.")
        if str(known[name].type).startswith("str"):
            data[name] = text.strip()[:_MOST_LETTERS]
        else:
            data[name] = _number(name, text, known[name].metadata["units"], fields.get(f"{name}-unit", ""))
    return data


def _number(name: str, text: str, units: Mapping[str, float], unit: str) -> float:
    label = name.rpartition("_")[0].replace("_", " ") or name
    value = number(text[:40], label if label != "ampere" else "charge")
    if not units:
        return value
    if unit and unit not in units:
        raise CallError(f"{label}: “{unit[:20]}” is no unit for it; use {', '.join(units)}.")
    return value * units[unit] if unit else value
