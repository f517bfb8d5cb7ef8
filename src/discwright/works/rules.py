"""What must not happen: findings against an event, before it takes effect.

*Impossible* events have no effect at all and are never accepted. *Unsafe* ones are stops that a person may accept with
a reason; worn tips and long press lives are warnings.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime

from discwright.findings import Finding
from discwright.works import events as e
from discwright.works.against import failed, finding, unheard
from discwright.works.chain import Line
from discwright.works.family import Family, Part
from discwright.works.parts import GROWS, LACQUER, MASTER, MOTHER, SIGN, STAMPER, unread_marks
from discwright.works.run_rules import against_run, cannot_run, is_of_a_run

#: Which parts an event can be about; what is not named can be about any.
FITS: dict[str, tuple[str, ...]] = {
    "silvered": (LACQUER,),
    "separated": (LACQUER, MASTER, MOTHER, STAMPER),
    "passivated": (MASTER, MOTHER, STAMPER),
    "back_sanded": (MASTER, STAMPER),
    "centred": (MASTER, MOTHER, STAMPER),
    "trimmed": (MASTER, MOTHER, STAMPER),
    "formed": (MASTER, STAMPER),
    "put_to_press": (MASTER, STAMPER),
    "taken_off": (MASTER, STAMPER),
}
_HOUR_S = 3600.0
_NO_NUMBER = "A new part needs a number that no part has; let the ledger give it one."
#: What may still be said of a part that is no more.
_AFTER_SCRAP = ("corrected", "recalled")


def check(family: Family, line: Line) -> tuple[Finding, ...]:
    """Everything that speaks against an event.

    Parameters
    ----------
    family : Family
        As it stands before the event.
    line : Line

    Returns
    -------
    tuple of Finding
        If one of them is :data:`IMPOSSIBLE` it is the only one.
    """
    why = impossible(family, line)
    if why:
        return (finding("impossible", "stop", line, why),)
    if is_of_a_run(line):
        return tuple(against_run(family, line))
    rules = _RULES.get(line.kind, ())
    return tuple(found for rule in rules for found in rule(family, line))


def impossible(family: Family, line: Line) -> str:
    """Why an event cannot be, or nothing.

    Parameters
    ----------
    family : Family
    line : Line
    """
    event = line.event
    if not family.taken_at and line.kind not in ("title_taken_in", "corrected"):
        return f"The title {line.title} was not taken in; take it in first."
    if is_of_a_run(line):
        return cannot_run(family, line)
    if isinstance(event, e.PlanKept | e.LacquerCut):
        return _no_such_side(family, event.edition, event.side) or _taken(family, line, event)
    if isinstance(event, e.Plated) and event.parent:
        return _cannot_grow(family, line, event)
    if line.kind in e.OF_A_TITLE or line.kind == "corrected":
        return ""
    part = family.parts.get(line.part)
    if part is None:
        return f"{line.part or 'no part'}: is no part of {line.title}; look for its number with `works tree`."
    return _cannot_be(part, line)


def _no_such_side(family: Family, edition: str, side: str) -> str:
    known = {(one["id"], letter) for one in family.editions for letter in one.get("sides", ())}
    editions = {one["id"] for one in family.editions}
    if family.editions and edition not in editions:
        named = edition or "without a name"
        return f"{family.title} has no edition {named}; its editions are {', '.join(sorted(editions))}."
    sides = sorted(letter for one, letter in known if one == edition)
    if sides and side not in sides:
        return f"{family.title} {edition} has no side {side}; its sides are {', '.join(sides)}."
    return ""


def _taken(family: Family, line: Line, event: e.Event) -> str:
    if isinstance(event, e.LacquerCut) and (not line.part or line.part in family.parts):
        return (
            f"A lacquer needs a number that no part has; {line.part or 'none'} will not do: let the ledger give it one."
        )
    return ""


def _cannot_grow(family: Family, line: Line, event: e.Plated) -> str:
    parent = family.parts.get(event.parent)
    if parent is None:
        return f"{event.parent}: is no part of {line.title}; grow on one of its parts."
    if not line.part or line.part in family.parts:
        return _NO_NUMBER
    grown = GROWS.get(parent.kind)
    if event.part_kind != grown:
        if grown is None:
            return f"{parent.id} is a stamper, and nothing is grown from a stamper; grow from its mother."
        if SIGN.get(event.part_kind) == parent.sign:
            return (
                f"{parent.id} is a {parent.kind} ({parent.sign}) and a {event.part_kind} has the same sign, but metal "
                f"grows with the other one; grow a {grown}."
            )
        return f"From a {parent.kind} grows a {grown}, not a {event.part_kind or 'nameless part'}; grow a {grown}."
    return _no_more(parent, "grown from") or (
        f"{parent.id} is at the press; take it off first." if parent.state == "at_press" else ""
    )


def _no_more(part: Part, what: str) -> str:
    if part.state == "scrapped":
        return f"{part.id} was scrapped and cannot be {what}; if it was not, correct that line."
    return ""


def _cannot_be(part: Part, line: Line) -> str:
    words = e.EVENTS[line.kind].words
    if line.kind in FITS and part.kind not in FITS[line.kind]:
        fit = " or ".join(FITS[line.kind])
        return f"{part.id} is a {part.kind} and cannot be {words}; scan a {fit}."
    gone = "" if line.kind in _AFTER_SCRAP else _no_more(part, words)
    if gone:
        return gone
    at_press = part.state == "at_press"
    if line.kind == "taken_off" and not at_press:
        return f"{part.id} is not at a press; record put_to_press first."
    if line.kind == "put_to_press" and at_press:
        return f"{part.id} is at the press already; record taken_off with its count first."
    if at_press and line.kind in ("back_sanded", "trimmed", "formed", "passivated", "vaulted", "scrapped", "plated"):
        return f"{part.id} is at the press; record taken_off with its count first."
    if line.kind == "silvered" and part.children:
        return f"{part.id} was plated already, which spends a lacquer; cut another."
    return ""


# What is unsafe ----------------------------------------------------------------------------------------


def _grown(family: Family, line: Line) -> Iterator[Finding]:
    """Growing a part, or one more run of a part."""
    event = line.event
    assert isinstance(event, e.Plated)
    parent = family.parts[event.parent or line.part]
    if not event.parent and parent.state == "plated":
        return  # its own run, still on what it is grown from
    if parent.kind == LACQUER:
        yield from _fit_for_metal(family, parent, line)
        if parent.played:
            yield finding(
                "played_lacquer", "stop", line,
                f"{parent.id} was played, and a played lacquer is for reference only; plate one that was not.",
            )  # fmt: skip
    elif not parent.passivated:
        yield finding(
            "passivation", "stop", line,
            f"{parent.id} was not passivated since it was last grown from, and metal grown on bare metal never comes "
            "off; record passivated first.",
        )  # fmt: skip
    yield from failed(family, parent, line)
    most = family.limits.children(parent.kind)
    if event.parent and len(parent.children) >= most:
        yield finding(
            "generation", "stop", line,
            f"{parent.id} has given {len(parent.children)} already; cut or grow another {parent.kind}, or accept one "
            "more with a reason.", len(parent.children) + 1, most, event.part_kind,
        )  # fmt: skip


def _silvered(family: Family, line: Line) -> Iterator[Finding]:
    yield from _fit_for_metal(family, family.parts[line.part], line)


def _fit_for_metal(family: Family, lacquer: Part, line: Line) -> Iterator[Finding]:
    """A lacquer before silver and nickel: still fresh, still what its plan says."""
    yield from _lacquer_late(family, lacquer, line)
    yield from _other_audio(family, lacquer, line)


def _lacquer_late(family: Family, lacquer: Part, line: Line) -> Iterator[Finding]:
    if lacquer.children:
        return
    waited = (datetime.fromisoformat(line.at) - datetime.fromisoformat(lacquer.born_at)).total_seconds() / _HOUR_S
    limit = family.limits.cut_to_plate_h
    if waited > limit:
        yield finding(
            "lacquer_late", "stop", line,
            f"{lacquer.id} was cut {waited:.0f} h ago and its groove has begun to spring back; cut it again, or accept "
            "it with a reason.", waited, limit, "h",
        )  # fmt: skip


def _other_audio(family: Family, lacquer: Part, line: Line) -> Iterator[Finding]:
    plan = family.plan(lacquer.edition, lacquer.side)
    if plan is not None and plan.programme_sha256 != lacquer.programme_sha256:
        yield finding(
            "audio_changed", "stop", line,
            f"{lacquer.id} was cut from another programme than side {lacquer.side} has now (plan of line {plan.seq}); "
            "cut it again from the present plan.",
        )  # fmt: skip


def _to_press(family: Family, line: Line) -> Iterator[Finding]:
    part = family.parts[line.part]
    yield from failed(family, part, line)
    lacquer = family.lacquer(part)
    yield from _other_audio(family, lacquer, line)
    yield from unheard(family, part, line)
    made = family.pressings_of(part)
    if made >= family.limits.press_life:
        yield finding(
            "press_life", "stop", line,
            f"{part.id} has made its pressings; grow another, or accept more with a reason.",
            made, family.limits.press_life, "pressings",
        )  # fmt: skip


def _taken_off(family: Family, line: Line) -> Iterator[Finding]:
    event, part = line.event, family.parts[line.part]
    assert isinstance(event, e.TakenOff)
    total, life = part.pressings + event.count, family.limits.press_life
    if total > life:
        yield finding(
            "press_life", "warn", line, f"{part.id} made more pressings than its life; listen to the last ones.",
            total, life, "pressings",
        )  # fmt: skip


def _cut(family: Family, line: Line) -> Iterator[Finding]:
    event = line.event
    assert isinstance(event, e.LacquerCut)
    life, named = family.limits.tip_life_h, f" {event.tip}" if event.tip else ""
    if event.tip_hours is not None and event.tip_hours > life:
        yield finding(
            "tip_hours", "warn", line, f"The cutting tip{named} is over its hours; change it and look at the groove.",
            event.tip_hours, life, "h",
        )  # fmt: skip
    plan = family.plan(event.edition, event.side)
    if plan is not None and plan.programme_sha256 != event.programme_sha256:
        yield finding(
            "audio_changed", "stop", line,
            f"This is not the programme of the plan kept for side {event.side} (line {plan.seq}); cut from that "
            "plan, or keep this one first.",
        )  # fmt: skip


def _marks(family: Family, line: Line) -> Iterator[Finding]:
    read = str(line.data.get("marks_read", ""))
    if not read or line.part not in family.parts:
        return
    marks = family.parts[line.part].marks
    missing, strange = unread_marks(marks, read)
    if missing or strange:
        told = [f"{', '.join(missing)} is not there"] if missing else []
        told += [f"“{strange}” does not belong there"] if strange else []
        yield finding(
            "marks", "warn", line,
            f"The run-out of {line.part} should read “{' '.join(marks) or 'nothing'}”: {' and '.join(told)}. Make sure "
            "which part this is.", len(missing), 0.0, "marks",
        )  # fmt: skip


_Rule = Callable[[Family, Line], Iterator[Finding]]
_RULES: dict[str, tuple[_Rule, ...]] = {
    "silvered": (_silvered,),
    "plated": (_grown,),
    "put_to_press": (_to_press,),
    "taken_off": (_taken_off,),
    "lacquer_cut": (_cut,),
    "checked_under_the_microscope": (_marks,),
    "measured": (_marks,),
    "test_played": (_marks,),
}
