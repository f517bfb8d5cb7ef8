"""A title's family and one part put together from the ledger and from what lies in the folder."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any
from zoneinfo import ZoneInfo

from discwright.desk.page_parts import Fact, FindingRow, Option
from discwright.desk.shelf import Found, KeptPlan, Shelf
from discwright.desk.show_board import new_key, part_href
from discwright.desk.words import Words, figures, level
from discwright.desk.works_parts import CutForm, KeptPlanRow, LineRow, PartLink, WorksFinding
from discwright.desk.works_time import at_words, day_words
from discwright.desk.works_words import (
    amount,
    kind_words,
    part_badge,
    said_in,
    thickness_words,
)
from discwright.works.chain import Line
from discwright.works.family import Family, Part
from discwright.works.history import corrected
from discwright.works.parts import LACQUER, NEGATIVE
from discwright.works.standing import SideStanding
from discwright.works.store.ledger import Ledger

#: Blank that a disc of each size is cut on, mm (common practice: two inches larger, for the handling).
_BLANK_MM = {"12": "355.6", "10": "304.8", "7": "254"}
_SEVERITIES = ("stop", "warn", "note")


def family_facts(family: Family, zone: ZoneInfo) -> tuple[Fact, ...]:
    """What holds for the whole title."""
    limits = family.limits
    return (
        Fact("taken in", day_words(family.taken_at, zone)),
        Fact("parts", str(len(family.parts))),
        Fact("press life", f"{limits.press_life} pressings", "of one negative"),
        Fact("negatives of a lacquer", str(limits.negatives_per_lacquer)),
        Fact("from cut to bath", f"{limits.cut_to_plate_h:g} h at most"),
        Fact("approvals", str(limits.approvals), "people who must approve before a family goes to the press"),
    )


def works_findings(findings: Iterable[Mapping[str, Any]], title: str = "") -> tuple[WorksFinding, ...]:
    """Findings of the ledger, stops first, those that were accepted last within each."""
    order = sorted(
        findings, key=lambda one: (_SEVERITIES.index(one["severity"]), bool(one.get("accepted")), one.get("seq", 0))
    )
    return tuple(_finding(number, one, title) for number, one in enumerate(order, 1))


def _finding(number: int, one: Mapping[str, Any], title: str) -> WorksFinding:
    unit = one["unit"]
    against = f"{figures(one['value'])} against {figures(one['limit'])} {unit}" if unit else ""
    row = FindingRow(
        number, str(one["severity"]), str(one["code"]).replace("_", " "), "", "", "", against, str(one["remedy"]),
        str(one.get("accepted", "")), None,
    )  # fmt: skip
    part, seq = str(one.get("part", "")), int(one.get("seq", 0))
    href = f"{part_href(part)}#line-{seq}" if part and part != "new" else title
    return WorksFinding(row, f"line {seq}" if seq else "", href)


# Plans of the folder -----------------------------------------------------------------------------------


def planned_sides(shelf: Shelf | None) -> dict[str, str]:
    """Address of the planned side of each fingerprint that the folder holds; none where no folder is open."""
    return (
        {}
        if shelf is None
        else {str(one.document.get("fingerprint")): f"/plans/{one.id}" for one in shelf.found().plans.values()}
    )


def title_in_folder(found: Found, catalogue: str) -> str:
    """Id of the title file with a catalogue number; empty where the folder has none."""
    fits = (one.id for one in found.titles.values() if one.title is not None and one.title.catalogue == catalogue)
    return next(fits, "")


def kept_plan_rows(ledger: Ledger, family: Family, shelf: Shelf | None, zone: ZoneInfo) -> tuple[KeptPlanRow, ...]:
    """The plans that were kept for the title's sides, newest first."""
    places = planned_sides(shelf)
    newest = reversed(family.plans)
    return tuple(_kept(family, one, ledger.line(one.seq), places.get(one.fingerprint, ""), zone) for one in newest)


def _kept(family: Family, one: Any, line: Line | None, href: str, zone: ZoneInfo) -> KeptPlanRow:
    decibels = line.data.get("level_db") if line is not None else None
    return KeptPlanRow(
        one.edition, one.side, one.fingerprint[:12], "" if decibels is None else level(decibels),
        at_words(line.at, zone) if line is not None else "", href, family.plan(one.edition, one.side) == one,
    )  # fmt: skip


def folder_plans(shelf: Shelf, catalogue: str, side: SideStanding) -> list[KeptPlan]:
    """Plans in the folder that a side can be cut from: of the title's own side, then of bare files in its format."""
    found = shelf.found()
    title = title_in_folder(found, catalogue)
    own = shelf.plans_of(found.titles[title], side.edition, side.side) if title else []
    bare = [one for one in found.plans.values() if not one.document.get("title") and not one.what_if]
    fits = [one for one in bare if one.document.get("format") == side.format]
    return [*own, *sorted(fits, key=lambda one: one.made, reverse=True)]


def cut_forms(
    shelf: Shelf | None, family: Family, sides: Iterable[SideStanding], may_cut: bool, may_keep: bool
) -> tuple[CutForm, ...]:
    """A form for each side that the folder has a plan for."""
    if shelf is None or not (may_cut or may_keep):
        return ()
    forms: list[CutForm] = []
    for side in sides:
        plans = folder_plans(shelf, family.title, side)
        if plans:
            kept = family.plan(side.edition, side.side)
            options = tuple(_plan_option(one, kept.fingerprint if kept else "") for one in plans)
            mark = str((plans[0].document.get("title") or {}).get("matrix", ""))
            blank = _BLANK_MM.get(side.format.partition("in")[0], "")
            forms.append(
                CutForm(len(forms) + 1, new_key(), side.edition, side.side, options, mark, blank, may_cut, may_keep)
            )
    return tuple(forms)


def _plan_option(plan: KeptPlan, kept: str) -> Option:
    document = plan.document
    ready = "" if document["ready"] else ", not ready to cut"
    same = document.get("fingerprint") == kept
    return Option(plan.id, f"{plan.folder.name}, {level(document['level_db'])}{ready}{', kept' if same else ''}", same)


# A part ------------------------------------------------------------------------------------------------


def part_facts(family: Family, part: Part, words: Words, zone: ZoneInfo) -> tuple[Fact, ...]:
    """Everything known of a part but its marks."""
    made, life = family.pressings_of(part), family.limits.press_life
    told = [
        Fact("born", at_words(part.born_at, zone)),
        Fact("last touched", at_words(part.last_at, zone)),
        Fact("weight", f"{amount(part.mass_g)} g" if part.mass_g is not None else ""),
        Fact("thickness", thickness_words(part.thickness_um, words.inches) if part.thickness_um is not None else ""),
        Fact("pressings", f"{made} of {life}" if part.sign == NEGATIVE else "", "of its press life"),
        Fact("press", part.press), Fact("place", part.place),
        Fact("film", "passivated" if part.passivated else "", "what is grown on it will come off"),
        Fact("test play", _played(part)), Fact("approved by", ", ".join(part.approved_by)),
        Fact("lacquer batch", part.lacquer_batch), Fact("cutting tip", part.tip),
        Fact("hours on the tip", f"{part.tip_hours:g} h" if part.tip_hours is not None else ""),
    ]  # fmt: skip
    return tuple(one for one in told if one.value)


def _played(part: Part) -> str:
    if not part.played:
        return "" if part.kind == LACQUER else "not played yet"
    if part.faults is None:
        return "played"
    told = "heard" if part.audible is None else f"found, {part.audible or 'none'} to be heard"
    return f"{part.faults} fault{'' if part.faults == 1 else 's'} {told}"


def part_link(part: Part) -> PartLink:
    """A part to go to."""
    return PartLink(part.id, part_href(part.id), part.kind, part_badge(part))


def line_rows(lines: list[Line], part: str, zone: ZoneInfo) -> tuple[LineRow, ...]:
    """The line of a part's life, oldest first; what was undone stays, and is told to be undone."""
    counted = {line.seq: line for line in corrected(lines)}
    return tuple(_line(line, counted.get(line.seq), part, zone) for line in lines)


def _line(line: Line, counts: Line | None, part: str, zone: ZoneInfo) -> LineRow:
    instead = said_in(counts) if counts is not None and counts.data != line.data else ""
    return LineRow(
        seq=str(line.seq), when=at_words(line.at, zone), by=line.by, station=line.station,
        what=kind_words(line), said=said_in(line), note=str(line.data.get("note", "")), accepted=line.accepted,
        undone=counts is None, instead=instead, clock=at_words(line.clock, zone),
        other=line.part if line.part != part else "",
    )  # fmt: skip
