"""Folding: from the lines of the ledger to where a title and its parts stand. Pure, and total: any line folds."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Any

from discwright.errors import CallError
from discwright.findings import Finding
from discwright.works import events as e
from discwright.works.against import IMPOSSIBLE, finding
from discwright.works.chain import Line
from discwright.works.family import Family, KeptPlan, Part
from discwright.works.parts import LACQUER, Limits, limits_from
from discwright.works.rules import check
from discwright.works.run_history import yard_after
from discwright.works.run_rules import is_of_a_run

#: Raised whenever the same lines come to fold otherwise: a ledger then works its tables out again when it is opened.
FOLDING = 1
Families = dict[str, Family]


def fold(lines: Iterable[Line], families: Families | None = None) -> Families:
    """Where every title stands after some lines.

    Parameters
    ----------
    lines : iterable of Line
        In order. If one of them is a correction, all lines of its title must be among them.
    families : dict of str to Family, optional
        Where they stood before.

    Returns
    -------
    dict of str to Family
    """
    by_title: dict[str, list[Line]] = {}
    for line in lines:
        by_title.setdefault(line.title, []).append(line)
    known = dict(families or {})
    for title, own in by_title.items():
        known[title] = fold_title(own, known.get(title) or Family(title))
    return known


def fold_title(lines: Sequence[Line], family: Family) -> Family:
    """Where one title stands after some of its lines.

    Parameters
    ----------
    lines : sequence of Line
        All of this title, in order.
    family : Family
        Where it stood before them; if they hold a correction they must begin at its first line.
    """
    if any(line.kind == "corrected" for line in lines):
        family = Family(family.title)
        lines = corrected(lines)
    for line in lines:
        family, _ = step(family, line)
    return family


def corrected(lines: Sequence[Line]) -> list[Line]:
    """The lines as they count: without what was undone, with what was put right.

    Parameters
    ----------
    lines : sequence of Line
        All lines of one title, in order.

    Returns
    -------
    list of Line
        Corrections stay among them; they have no effect of their own.
    """
    undone: set[int] = set()
    instead: dict[int, dict[str, Any]] = {}
    for line in reversed(lines):
        if line.kind != "corrected" or line.seq in undone:
            continue
        try:
            event = (replace(line, data=instead[line.seq]) if line.seq in instead else line).event
        except CallError:  # a correction that says nothing puts nothing right; `step` tells of it
            continue
        assert isinstance(event, e.Corrected)
        if event.instead is None:
            undone.add(event.seq)
        else:
            instead.setdefault(event.seq, event.instead)
    return [
        replace(line, data=instead[line.seq]) if line.seq in instead else line
        for line in lines
        if line.seq not in undone
    ]


def step(family: Family, line: Line) -> tuple[Family, tuple[Finding, ...]]:
    """One line further.

    Parameters
    ----------
    family : Family
    line : Line
        Of this title; a correction has no effect here (see :func:`fold_title`).

    Returns
    -------
    family : Family
    findings : tuple of Finding
        What speaks against the line. An impossible one leaves everything as it was.
    """
    try:
        found = check(family, line)
    except CallError as trouble:  # a line that says nothing the events know
        found = (finding(IMPOSSIBLE, "stop", line, str(trouble)),)
    family = replace(family, findings=(*family.findings, *(one.as_dict() for one in found)))
    if not any(one.code == IMPOSSIBLE for one in found):
        family = _effect(family, line)
    return replace(family, seq=max(family.seq, line.seq), last_at=max(family.last_at, line.at)), found


def _effect(family: Family, line: Line) -> Family:
    event = line.event
    if isinstance(event, e.TitleTakenIn):
        return replace(
            family, name=event.name, people=event.people, editions=event.editions, file_sha256=event.file_sha256,
            limits=limits_from(event.limits) if event.limits else Limits(), taken_at=family.taken_at or line.at,
        )  # fmt: skip
    if isinstance(event, e.PlanKept):
        kept = KeptPlan(line.seq, event.edition, event.side, event.fingerprint, event.programme_sha256, event.format)
        return replace(family, plans=(*family.plans, kept))
    if isinstance(event, e.LacquerCut):
        return _with(family, _lacquer(event, line))
    if isinstance(event, e.Plated) and event.parent:
        return _grow(family, event, line)
    if is_of_a_run(line):
        return replace(family, yard=yard_after(family.yard, line))
    part = family.parts.get(line.part)
    if part is None or isinstance(event, e.Corrected):
        return family
    changed = _EFFECTS.get(line.kind, _nothing)(part, event, line)
    done = part.done if line.kind in part.done else (*part.done, line.kind)
    family = _with(family, replace(changed, last=line.seq, last_at=line.at, done=done))
    return _parted(family, line) if line.kind == "separated" and part.kind == LACQUER else family


def _with(family: Family, *parts: Part) -> Family:
    return replace(family, parts=family.parts | {part.id: part for part in parts})


def _lacquer(event: e.LacquerCut, line: Line) -> Part:
    return Part(
        line.part, LACQUER, event.side, event.edition, state="cut", born=line.seq, last=line.seq, born_at=line.at,
        last_at=line.at, marks=(event.mark,) if event.mark else (), own_mark=event.mark, done=(line.kind,),
        fingerprint=event.fingerprint, programme_sha256=event.programme_sha256, lacquer_batch=event.lacquer_batch,
        tip=event.tip, tip_hours=event.tip_hours,
    )  # fmt: skip


def _grow(family: Family, event: e.Plated, line: Line) -> Family:
    """A part is born; what it was grown on has used up its film, and a lacquer its groove."""
    parent = family.parts[event.parent]
    marks = (*parent.marks, event.mark) if event.mark else parent.marks
    child = Part(
        line.part, event.part_kind, parent.side, parent.edition, parent=parent.id, state="plated", born=line.seq,
        last=line.seq, born_at=line.at, last_at=line.at, marks=marks, own_mark=event.mark, done=(line.kind,),
    )  # fmt: skip
    grown_from = replace(
        parent, children=(*parent.children, child.id), passivated=False, last=line.seq, last_at=line.at,
        state="spent" if parent.kind == LACQUER else _off(parent),
    )  # fmt: skip
    # What was grown before has come off by now, or this could not be grown.
    eldest = [replace(family.parts[one], state=_off(family.parts[one])) for one in parent.children]
    return _with(family, grown_from, child, *eldest)


def _off(part: Part) -> str:
    return "separated" if part.state == "plated" else part.state


def _parted(family: Family, line: Line) -> Family:
    """Parting entered at the lacquer: its negative has come off."""
    lacquer = family.parts[line.part]
    return _with(family, *(replace(family.parts[one], state=_off(family.parts[one])) for one in lacquer.children))


# What each event does to its part ----------------------------------------------------------------------

_Effect = Callable[[Part, Any, Line], Part]


def _nothing(part: Part, event: e.Event, line: Line) -> Part:
    del event, line
    return part


def _separated(part: Part, event: e.Separated, line: Line) -> Part:
    del event, line
    return part if part.kind == LACQUER else replace(part, state=_off(part))


def _used(part: Part) -> Part:
    """Whatever is done to a part shows that it has come off what it was grown on."""
    return replace(part, state=_off(part))


def _verdict(part: Part, event: e.Event, line: Line) -> Part:
    verdict = type(event).kind
    if verdict == "approved":
        people = part.approved_by if part.verdict == "approved" else ()
        approved_by = people if line.by in people else (*people, line.by)
    else:
        approved_by = ()
    # A verdict moves nothing out of a press; good parts stay in the vault, and what is scrapped is scrapped.
    stays = part.state in ("at_press", "scrapped") or (part.state == "vaulted" and verdict == "approved")
    return replace(part, verdict=verdict, approved_by=approved_by, state=part.state if stays else verdict)


def _heard(part: Part, event: e.Event, line: Line) -> Part:
    """How many faults: as it was said, or as many as were told of one by one."""
    assert isinstance(event, e.TestPlayed)
    told = len(event.defects) if event.defects or event.capture_sha256 else None
    audible = sum(one.get("audible") is True for one in event.defects) if event.defects else None
    return replace(_used(part), played=True, faults=told if event.count is None else event.count, audible=audible)


_EFFECTS: dict[str, _Effect] = {
    "handed_over": lambda part, event, line: replace(part, place=event.to or part.place),
    "silvered": lambda part, event, line: replace(part, state="silvered"),
    "separated": _separated,
    "passivated": lambda part, event, line: replace(_used(part), passivated=True),
    "weighed": lambda part, event, line: replace(part, mass_g=event.mass_g),
    "measured": lambda part, event, line: replace(part, thickness_um=event.thickness_um),
    "back_sanded": lambda part, event, line: _used(part),
    "centred": lambda part, event, line: _used(part),
    "trimmed": lambda part, event, line: _used(part),
    "formed": lambda part, event, line: _used(part),
    "test_played": _heard,
    "approved": _verdict,
    "refused": _verdict,
    "recalled": _verdict,
    "put_to_press": lambda part, event, line: replace(part, state="at_press", press=event.press),
    "taken_off": lambda part, event, line: replace(part, state="taken_off", pressings=part.pressings + event.count),
    "vaulted": lambda part, event, line: replace(part, state="vaulted", place=event.place or part.place),
    "scrapped": lambda part, event, line: replace(part, state="scrapped", passivated=False),
}
