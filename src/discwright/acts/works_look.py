"""A title's family and a part's descent, as plain values for faces and programs."""

from __future__ import annotations

from typing import Any

from discwright.errors import CallError
from discwright.works.chain import Line
from discwright.works.family import Family, Part
from discwright.works.history import corrected
from discwright.works.parts import looks_like_number
from discwright.works.store.kept import folded
from discwright.works.store.ledger import Ledger
from discwright.works.store.look import search

#: What leads to a title as a whole.
_NAMES = ("catalogue number", "title")


def family_for(ledger: Ledger, text: str) -> Family:
    """The title that is meant: by its catalogue number, by a part of it, or by its name where only one has it.

    Parameters
    ----------
    ledger : Ledger
    text : str

    Raises
    ------
    CallError
        If there is none.
    """
    try:
        return ledger.family(" ".join(text.split()))
    except CallError:
        if looks_like_number(text):
            return ledger.family_of(text)
        named = {one.title for one in search(ledger, text) if one.what in _NAMES and folded(one.shown) == folded(text)}
        if len(named) != 1:
            raise
        return ledger.family(named.pop())


def tree(ledger: Ledger, title: str) -> dict[str, Any]:
    """A title's parts with the lines about each.

    Parameters
    ----------
    ledger : Ledger
    title : str
        Catalogue number, or the number of one of its parts.

    Returns
    -------
    dict
        ``title``, ``name``, ``parts`` in the order they were made, ``findings``.
    """
    family = family_for(ledger, title)
    lines = list(ledger.lines(title=family.title))
    counted = {line.seq for line in corrected(lines)}
    return {
        "title": family.title,
        "name": family.name,
        "parts": [part_as_dict(family, part, lines, counted) for part in family.parts.values()],
        "findings": list(family.findings),
    }


def part_as_dict(family: Family, part: Part, lines: list[Line], counted: set[int]) -> dict[str, Any]:
    """One part of a tree.

    Parameters
    ----------
    family : Family
    part : Part
    lines : list of Line
        Of its title.
    counted : set of int
        Lines that were not undone.
    """
    return {
        "id": part.id,
        "kind": part.kind,
        "side": part.side,
        "edition": part.edition,
        "parent": part.parent or None,
        "sign": part.sign,
        "state": part.state,
        "verdict": part.verdict or None,
        "marks": list(part.marks),
        "pressings": family.pressings_of(part),
        "press_life": family.limits.press_life if part.sign == "-" else None,
        "faults_heard": part.faults,
        "faults_audible": part.audible,
        "events": [_event(line, line.seq in counted) for line in lines if line.part == part.id],
    }


def _event(line: Line, counts: bool) -> dict[str, Any]:
    plain = {
        "seq": line.seq,
        "at": line.at,
        "by": line.by,
        "kind": line.kind,
        "station": line.station,
        "data": line.data,
    }
    if line.accepted:
        plain["accepted"] = line.accepted
    return plain if counts else plain | {"undone": True}


def trace(ledger: Ledger, number: str) -> dict[str, Any]:
    """Where a part comes from and what came from it.

    Parameters
    ----------
    ledger : Ledger
    number : str

    Returns
    -------
    dict
        ``up``: numbers from its parent to the lacquer; ``down``: numbers of everything grown from it;
        ``plan_fingerprint``: of the plan its lacquer was cut from.

    Raises
    ------
    CallError
        If no part has this number.
    """
    family, part = part_for(ledger, number)
    lacquer = family.lacquer(part)
    return {
        "id": part.id,
        "title": family.title,
        "side": part.side,
        "edition": part.edition,
        "up": [one.id for one in family.ancestors(part)],
        "down": [one.id for one in family.descendants(part)],
        "plan_fingerprint": lacquer.fingerprint,
    }


def part_for(ledger: Ledger, number: str) -> tuple[Family, Part]:
    """A part and its title.

    Parameters
    ----------
    ledger : Ledger
    number : str
        As it was typed or scanned.

    Raises
    ------
    CallError
        If no part has it.
    """
    from discwright.works.parts import read_number

    family = ledger.family_of(number)
    part = family.parts.get(read_number(number))
    if part is None and read_number(number) in family.yard.runs:
        raise CallError(f"{read_number(number)} is a run and no part; look at it with `works runs {family.title}`.")
    if part is None:
        raise CallError(f"{read_number(number)}: was entered by mistake and undone; scan the part again.")
    return family, part
