"""Corrections: everything folded again without the wrong line, and refused where later lines would hang in the air."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from discwright.findings import Finding
from discwright.works import events as e
from discwright.works.against import IMPOSSIBLE, finding
from discwright.works.chain import Line
from discwright.works.family import Family
from discwright.works.history import fold_title


def put_right(family: Family, past: Sequence[Line], line: Line) -> tuple[Family, tuple[Finding, ...]]:
    """A title after a correction.

    Parameters
    ----------
    family : Family
        As it stands before.
    past : sequence of Line
        Every line of the title so far.
    line : Line
        The correction.

    Returns
    -------
    family : Family
    findings : tuple of Finding
        One that is impossible, where the correction cannot be; the family is as it was then.

    Raises
    ------
    CallError
        If the line could not have said what is put in its place.
    """
    event = line.event
    assert isinstance(event, e.Corrected)
    wrong = next((one for one in past if one.seq == event.seq), None)
    if wrong is None:
        return family, _no(line, f"{line.title} has no line {event.seq}; look at its history again.")
    if event.instead is not None:
        e.read_event(wrong.kind, event.instead)
    after = fold_title([*past, line], Family(family.title))
    bad = _stops(after) - _stops(family)
    if bad:
        seq, code = min(bad)
        why = f"Line {seq} rests on line {event.seq} and would be {code} without it; correct the later one first."
        return family, _no(line, why)
    return after, ()


def _no(line: Line, why: str) -> tuple[Finding, ...]:
    return (finding(IMPOSSIBLE, "stop", line, why),)


def _stops(family: Family) -> set[tuple[int, str]]:
    return {
        (int(one.get("seq", 0)), str(one["code"]))
        for one in family.findings
        if one["severity"] == "stop" and not one.get("accepted")
    }


def as_said(line: Line, past: Sequence[Line]) -> Iterator[Line]:
    """A line, and after a correction also the line that was put right, as it says now.

    Parameters
    ----------
    line : Line
    past : sequence of Line
        Every earlier line of the title.

    Yields
    ------
    Line
        Everything whose numbers somebody may look for.
    """
    yield line
    instead = line.data.get("instead") if line.kind == "corrected" else None
    if instead is None:
        return
    wrong = next((one for one in past if one.seq == line.data.get("seq")), None)
    if wrong is not None:
        yield from as_said(replace(wrong, data=dict(instead)), past)
