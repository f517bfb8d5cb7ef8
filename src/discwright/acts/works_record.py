"""One more line about a part: what was done to it, what was weighed, measured, heard; and putting a line right."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field, fields
from typing import Any

from discwright.acts.works import Hand
from discwright.errors import CallError
from discwright.works import events as e
from discwright.works.parts import looks_like_number
from discwright.works.store.ledger import Ledger, Order, Outcome

#: What people may write for an event besides its name.
_ALSO = {
    "checked": "checked_under_the_microscope",
    "checked_under_microscope": "checked_under_the_microscope",
    "taken_off_with_its_count": "taken_off",
    "centered": "centred",
}


@dataclass(frozen=True)
class Said:
    """What is said of an event, as people say it.

    Attributes
    ----------
    count : int or None
    value : float or None
        In `unit`.
    unit, note : str
    more : mapping
        Further fields by their names.
    """

    count: int | None = None
    value: float | None = None
    unit: str = ""
    note: str = ""
    more: Mapping[str, Any] = field(default_factory=dict)


def event_name(text: str) -> str:
    """The name of an event as people may write it.

    Parameters
    ----------
    text : str

    Raises
    ------
    CallError
        If it is none that can be recorded.
    """
    name = "_".join(text.strip().lower().replace("-", " ").split())
    name = _ALSO.get(name, name)
    event = e.EVENTS.get(name)
    if event is None:
        raise CallError(f"“{text[:40]}” is no event; `discwright works record --list` prints them all.")
    if not event.recordable:
        raise CallError(f"“{name}” has a verb of its own: {_VERBS[name]}.")
    return name


#: Fields that hold a number.
NUMBERS = frozenset(
    one.name for event in e.EVENTS.values() for one in fields(event) if str(one.type).startswith(("int", "float"))
)
_VERBS = {
    "title_taken_in": "`works add TITLE.toml`",
    "plan_kept": "`works keep PLAN_DIR`",
    "lacquer_cut": "`works cut PLAN_DIR`",
    "corrected": "`works correct LINE`",
    "run_begun": "`works run EDITION`",
    "first_off": "`works first-off RUN`",
    "run_pressed": "`works pressed RUN`",
    "lot_inspected": "`works lot RUN`",
    "lot_disposed": "`works decide RUN LOT`",
    "inspection_restarted": "`works restart EDITION`",
    "stocked": "`works stock RUN`",
    "taken_out": "`works take-out RUN`",
    "orders_taken": "`works orders ORDERS.csv`",
    "order_cancelled": "`works cancel ORDER EDITION`",
    "cartons_packed": "`works pack`",
    "carton_opened": "`works open SSCC`",
    "loaded": "`works load SSCC`",
    "account_told": "`works told ACCOUNT RUN`",
}


def event_said(kind: str, said: Said) -> e.Event:
    """An event out of what is said of it.

    Parameters
    ----------
    kind : str
        Name of the event.
    said : Said

    Raises
    ------
    CallError
        If it takes no such thing, needs another, or the unit is not one of its own.
    """
    return e.read_event(kind, said_data(e.EVENTS[kind], said))


def said_data(event: type[e.Event], said: Said) -> dict[str, Any]:
    """What is said of an event, under the names of its fields.

    Parameters
    ----------
    event : type of Event
    said : Said

    Raises
    ------
    CallError
        If the value has no unit, or one that is not the event's.
    """
    data: dict[str, Any] = dict(said.more)
    if said.note:
        data["note"] = said.note
    if said.count is not None:
        data["count"] = said.count
    if said.value is not None:
        data |= _measured(event, said.value, said.unit)
    elif said.unit:
        raise CallError(f"{event.words}: a unit without a value says nothing; give --value too.")
    return data


def _measured(event: type[e.Event], value: float, unit: str) -> dict[str, float]:
    """The one field of an event that is measured, in its own unit."""
    for one in fields(event):
        units: Mapping[str, float] = one.metadata["units"]
        if not units:
            continue
        folded = {name.lower(): factor for name, factor in units.items()}
        if not unit:
            raise CallError(f"{event.words}: {value:g} of what? Give --unit {'|'.join(units)}.")
        if unit.lower() not in folded:
            raise CallError(f"{event.words}: “{unit[:20]}” is no unit for it; use {', '.join(units)}.")
        return {one.name: value * folded[unit.lower()]}
    raise CallError(f"{event.words} takes no value; leave --value out.")


def record(ledger: Ledger, target: str, kind: str, said: Said, hand: Hand) -> Outcome:
    """Write one line about a part, or about a title.

    Parameters
    ----------
    ledger : Ledger
    target : str
        Number of the part; catalogue number for an event of a title.
    kind : str
        Name of the event.
    said : Said
    hand : Hand

    Raises
    ------
    CallError
        If there is no such part or event.
    """
    name = event_name(kind)
    event = event_said(name, said)
    if name not in e.OF_A_TITLE:
        return ledger.append(hand.order(event, part=target))
    if looks_like_number(target):
        return ledger.append(hand.order(event, ledger.family_of(target).title))
    return ledger.append(hand.order(event, ledger.family(target).title))


def correct(ledger: Ledger, seq: int, reason: str, hand: Hand, *, instead: Said | None = None) -> Outcome:
    """Put a line right: as if it had never been written, or as if it had said something else.

    Parameters
    ----------
    ledger : Ledger
    seq : int
        Number of the line.
    reason : str
    hand : Hand
    instead : Said, optional
        What it should have said; the line's own fields stay where nothing else is said.

    Raises
    ------
    CallError
        If there is no such line, or no reason.
    """
    wrong = ledger.line(seq)
    if wrong is None:
        raise CallError(f"there is no line {seq}; its number stands in the history of its part.")
    if not reason.strip():
        raise CallError("a correction needs a reason; say why with --reason.")
    data = None if instead is None else dict(wrong.data) | said_data(e.EVENTS[wrong.kind], instead)
    if data is not None:
        e.read_event(wrong.kind, data)
    event = e.Corrected(seq=seq, instead=data, note=reason)
    return ledger.append(Order(event, hand.by, wrong.title, wrong.part, hand.station, hand.key, hand.accepted))


def takes(kind: str) -> tuple[tuple[str, str, bool, tuple[str, ...]], ...]:
    """What an event takes: field, what it is, whether it must be given, units it may be given in.

    Parameters
    ----------
    kind : str
    """
    return tuple(
        (one.name, one.metadata["words"], one.default is MISSING, tuple(one.metadata["units"]))
        for one in fields(e.EVENTS[kind])
    )
