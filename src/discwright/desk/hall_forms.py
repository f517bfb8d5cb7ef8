"""Forms of the press hall: drawn with what was sent before, read again, written once however often they are sent."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from fastapi import Request
from fastapi.responses import Response

from discwright.acts.people import NotAllowedError, check_may_record, hand_of
from discwright.acts.works import Hand
from discwright.desk.door import person_of
from discwright.desk.hall_parts import SaidField, SaidForm
from discwright.desk.page_parts import Frame
from discwright.desk.rendering import frame, go_to
from discwright.desk.shelf import NotThereError
from discwright.desk.show_board import new_key
from discwright.desk.views_station import station_of
from discwright.desk.works_door import ledger_of
from discwright.errors import CallError, DiscwrightError, LedgerError
from discwright.units import number
from discwright.works.chain import Line
from discwright.works.people import ACCEPT, Person, may
from discwright.works.store.ledger import Ledger, Outcome

#: Letters of a field; a note of an event has as many.
MOST_LETTERS = 500
_KEY_LETTERS = 200


@dataclass(frozen=True)
class Said:
    """A form as it was sent and not taken.

    Attributes
    ----------
    form : str
        Its id; empty where none was sent.
    fields : mapping of str to str
    sentence : str
        Why it was not taken.
    stopped : bool
        A stop spoke against it, which may be accepted with a reason.
    """

    form: str = ""
    fields: Mapping[str, str] = field(default_factory=dict)
    sentence: str = ""
    stopped: bool = False


NOTHING_SAID = Said()


def said_form(
    id_: str, action: str, words: str, fields: Sequence[SaidField], said: Said, person: Person, *, label: str = "",
    hidden: Sequence[tuple[str, str]] = (), grave: bool = False, told: bool = True,
) -> SaidForm:  # fmt: skip
    """A form, with what was entered if it was this one that was sent.

    Parameters
    ----------
    id_, action, words : str
    fields : sequence of SaidField
        With the values that are offered.
    said : Said
    person : Person
        Who asks: only some may accept a stop.
    label : str
        For whoever only hears its button; its words without.
    hidden : sequence of (str, str)
    grave : bool
    told : bool
        It is written down, and so has a key.
    """
    own = said.form == id_
    if own:
        fields = [_filled(one, said.fields) for one in fields]
    key = ("key", said.fields.get("key", "") or new_key() if own else new_key())
    reason = None
    if own and said.stopped and may(person, ACCEPT):
        reason = SaidField("accepted", "Why it is right all the same", said.fields.get("accepted", ""), needed=True)
    return SaidForm(
        id_, action, words, label or words, (*hidden, key) if told else tuple(hidden), tuple(fields),
        said.sentence if own else "", reason, grave,
    )  # fmt: skip


def _filled(one: SaidField, fields: Mapping[str, str]) -> SaidField:
    if one.name not in fields:
        return one
    value = fields[one.name][:MOST_LETTERS]
    options = tuple(replace(option, chosen=option.value == value) for option in one.options)
    return replace(one, value=value, options=options)


def frame_at(request: Request, path: str) -> Frame:
    """What surrounds a page, also where a form was sent to it: its switches come back to the page itself.

    Parameters
    ----------
    request : fastapi.Request
    path : str
        The page's own.
    """
    own = frame(request)
    return own if request.method == "GET" else replace(own, here=path)


# Reading -----------------------------------------------------------------------------------------------


def text_in(fields: Mapping[str, str], name: str) -> str:
    """A field's text, without blanks around it; empty where it was left so."""
    return fields.get(name, "").strip()[:MOST_LETTERS]


def number_in(fields: Mapping[str, str], name: str, what: str) -> float | None:
    """A field's number with comma or point; None where it was left empty.

    Raises
    ------
    CallError
        If it is no number.
    """
    text = text_in(fields, name)
    return number(text[:40], what) if text else None


def whole_in(fields: Mapping[str, str], name: str, what: str) -> int | None:
    """A field's whole number from 0 up; None where it was left empty.

    Raises
    ------
    CallError
        If it is none.
    """
    value = number_in(fields, name, what)
    if value is None:
        return None
    if value != int(value) or value < 0:
        raise CallError(f"{what}: {value:g} is no count; give a whole number from 0 up.")
    return int(value)


def count_in(fields: Mapping[str, str], name: str, what: str) -> int:
    """A field's whole number that must be there.

    Raises
    ------
    CallError
        If it is not.
    """
    value = whole_in(fields, name, what)
    if value is None:
        raise CallError(f"{what}: nothing was entered; give the count.")
    return value


# Writing -----------------------------------------------------------------------------------------------


def take_form(
    request: Request, fields: Mapping[str, str], form: str, kind: str, write: Callable[[Ledger, Hand], Outcome],
    there: Callable[[Line], str], again: Callable[[Said, int], Response],
) -> Response:  # fmt: skip
    """Write what a form says; on to where that leads, or the same page with why not.

    Parameters
    ----------
    request : fastapi.Request
    fields : mapping of str to str
    form : str
        Its id.
    kind : str
        Event that it writes.
    write : callable
        Ledger and hand to outcome.
    there : callable
        The line to the address of the next page.
    again : callable
        The form as it was sent, and a status, to the same page.

    Raises
    ------
    NotAllowedError
        If it is not this person's.
    LedgerError
        If the ledger cannot be written.
    """
    person, ledger = person_of(request), ledger_of(request)
    check_may_record(person, kind)
    key = " ".join(fields.get("key", "").split())[:_KEY_LETTERS]
    before = ledger.keyed(key) if key else None
    if before is not None and before.kind == kind:
        return go_to(request, there(before))
    try:
        hand = hand_of(person, station=station_of(request).id, key=key, accepted=fields.get("accepted", ""))
        outcome = write(ledger, hand)
    except (NotAllowedError, NotThereError, LedgerError):
        raise
    except DiscwrightError as why:
        return again(Said(form, fields, sentence_of(why)), 422)
    if outcome.line is None:
        stops = [one for one in outcome.findings if one.severity == "stop" and not one.accepted]
        words = " ".join(one.remedy for one in stops)
        open_to = not any(one.code == "impossible" for one in stops)
        return again(Said(form, fields, f"Nothing was written. {words}", open_to), 409)
    return go_to(request, there(outcome.line))


def sentence_of(why: Exception) -> str:
    """An error as a sentence of a page."""
    words = str(why)
    return f"{words[:1].upper()}{words[1:]}"
