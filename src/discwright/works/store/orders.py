"""What somebody wants written, and what came of it."""

from __future__ import annotations

import json
import unicodedata
import uuid
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from discwright.errors import CallError
from discwright.findings import Finding
from discwright.works import events as e
from discwright.works.chain import Line
from discwright.works.family import Family
from discwright.works.parts import read_number

#: A clock that stands so little behind the last line is no news, s: stations do not agree to the millisecond.
CLOCK_S = 2.0
_MOST_LETTERS = 200


@dataclass(frozen=True)
class Order:
    """What somebody wants written.

    Attributes
    ----------
    event : Event
    by : str
    title : str
        Needed for events of a title and for a cut; otherwise found by the part.
    part : str
        Left out where a part is born.
    station : str
    key : str
        Idempotency key; made where none is given.
    accepted : str
        Why a finding against it is accepted.
    """

    event: e.Event
    by: str
    title: str = ""
    part: str = ""
    station: str = ""
    key: str = ""
    accepted: str = ""


@dataclass(frozen=True)
class Outcome:
    """What came of an order.

    Attributes
    ----------
    line : Line or None
        As written, now or the first time; None where a stop refused it and nothing was written.
    findings : tuple of Finding
        What speaks against it.
    repeated : bool
        It had been written before, under the same key.
    clock_behind_s : float
        How far the clock stood behind the last line, where that is worth telling.
    """

    line: Line | None
    findings: tuple[Finding, ...] = ()
    repeated: bool = False
    clock_behind_s: float = 0.0


def clean(order: Order) -> Order:
    """An order with names without stray blanks, and with a key.

    Parameters
    ----------
    order : Order

    Raises
    ------
    CallError
        If a name is none, or the event holds what no ledger can keep.
    """
    if not order.by.strip():
        raise CallError("nobody is named; say who did it with --by NAME.")
    part = read_number(order.part) if order.part else ""
    named = ("by", "title", "station", "key", "accepted")
    texts: dict[str, Any] = {name: " ".join(getattr(order, name).split()) for name in named}
    for name, text in texts.items():
        if len(text) > _MOST_LETTERS or any(unicodedata.category(letter) in ("Cc", "Cs") for letter in text):
            raise CallError(f"{name}: is no text of at most {_MOST_LETTERS} letters; write a shorter one.")
    plain_data(order.event)
    return replace(order, part=part, **texts | {"key": texts["key"] or uuid.uuid4().hex})


def plain_data(event: e.Event) -> dict[str, Any]:
    """An event's data just as every database gives them back.

    Parameters
    ----------
    event : Event

    Raises
    ------
    CallError
        If they hold what cannot be kept: half letters, empty bytes, numbers without end.
    """
    try:
        text = json.dumps(e.data_of(event), ensure_ascii=False, allow_nan=False)
        text.encode()
    except (TypeError, ValueError):
        raise CallError(f"{event.words}: holds what cannot be written down; give plain text and numbers.") from None
    if "\\u0000" in text:
        raise CallError(f"{event.words}: holds a letter that cannot be written down; type it again.")
    plain: dict[str, Any] = json.loads(text)
    return plain


def behind(now: datetime, last: str) -> float:
    """How far a clock stands behind the last line, s; below zero where it is ahead.

    Parameters
    ----------
    now : datetime
    last : str
        When the last line was written, ISO 8601; empty where there is none.
    """
    return (datetime.fromisoformat(last) - now) / timedelta(seconds=1) if last else 0.0


def answer(line: Line, family: Family, *, repeated: bool = False) -> Outcome:
    """The outcome of a line that was written: the same now and whenever it is sent again.

    Parameters
    ----------
    line : Line
    family : Family
        Of its title, with the line in it.
    repeated : bool
    """
    found = tuple(Finding(**one) for one in family.findings if one.get("seq") == line.seq)
    late = behind(datetime.fromisoformat(line.clock), line.at) if line.clock else 0.0
    return Outcome(line, found, repeated, late)


def check_same(line: Line, order: Order) -> None:
    """A key stands for one thing only.

    Parameters
    ----------
    line : Line
        What was written under it.
    order : Order

    Raises
    ------
    CallError
        If the order is for something else.
    """
    same = line.kind == order.event.kind and line.by == order.by and line.data == plain_data(order.event)
    if not same or (order.part and order.part != line.part) or (order.title and order.title != line.title):
        raise CallError(f"the key {order.key[:40]} stands at line {line.seq} for something else; use a new one.")
