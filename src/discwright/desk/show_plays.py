"""Plays in lists, what can be written of one into the ledger, and several of a side laid over one another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

import numpy as np

from discwright.acts.new_title import AUDIO_ENDS
from discwright.acts.proof import NO_TIP
from discwright.acts.test_play import LaidOver, LaidPlay, kept_plays
from discwright.desk.inspect_parts import JudgeForm, LaidPlayRow, PlayBlock, PlayLink, SpotMark, SpotRow
from discwright.desk.opened import OpenPlan
from discwright.desk.orders_play import job_of, no_play_words, plan_of_part
from discwright.desk.page_parts import Option
from discwright.desk.plays import Play
from discwright.desk.shelf import KeptPlan
from discwright.desk.show_board import new_key, part_href
from discwright.desk.show_play import place_um, verdict_badge
from discwright.desk.show_side import listening_tips
from discwright.desk.state import Desk, OpenFolder
from discwright.desk.words import Words, level
from discwright.desk.works_parts import Badge
from discwright.desk.works_time import at_words
from discwright.faults import counted
from discwright.inspection.spots import Fault, Spot
from discwright.works.family import Family, Part
from discwright.works.history import corrected
from discwright.works.parts import MASTER, STAMPER
from discwright.works.people import Person, may_record, recordable_by
from discwright.works.possible import Step, steps
from discwright.works.store.ledger import Ledger

#: What a play's mark is on the face, by its number.
SHAPES = ("play-1", "play-2", "play-3", "play-4", "play-5", "play-6")


def play_block(
    desk: Desk, person: Person, ledger: Ledger, family: Family, part: Part, zone: ZoneInfo
) -> PlayBlock | None:
    """What a part's page has of test plays; None for a master, which is no disc.

    Parameters
    ----------
    desk : Desk
    person : Person
        Who asks.
    ledger : Ledger
    family : Family
    part : Part
    zone : zoneinfo.ZoneInfo
    """
    if part.kind == MASTER:
        return None
    folder = desk.folder if desk.is_open else None
    why = no_play_words(folder.shelf if folder else None, family, part)
    tips: tuple[Option, ...] = ()
    ready: tuple[Option, ...] = ()
    if folder is not None and not why:
        plan = plan_of_part(folder.shelf, family, part)
        assert plan is not None
        tips = play_tips(plan)
        ready = tuple(Option(one.id, f"{one.name}, {one.words}") for one in folder.uploads.lying() if one.ready)
    return PlayBlock(
        part=part.id, of_pressing=part.kind == STAMPER, why_not=why, may=may_record(person, "test_played"),
        accept=",".join(AUDIO_ENDS), tips=tips, ready=ready,
        plays=tuple(play_link(folder, one, zone) for one in folder.plays.of_parts([part.id])) if folder else (),
        side_plays=side_plays(desk, ledger, family, part.edition, part.side, zone),
    )  # fmt: skip


def play_tips(plan: KeptPlan, chosen: str = "") -> tuple[Option, ...]:
    """What a play can be held against: left to the inspection, the bare programme, or the proof with a tip.

    Parameters
    ----------
    plan : KeptPlan
    chosen : str
    """
    own = (("", "whatever explains it best"), (NO_TIP, "the bare programme"))
    tips = ((one.value, f"the proof with {one.value}") for one in listening_tips(plan.document))
    return tuple(Option(value, words, value == chosen) for value, words in (*own, *tips))


def play_link(folder: OpenFolder, play: Play, zone: ZoneInfo) -> PlayLink:
    """A play that lies here, in a list.

    Parameters
    ----------
    folder : OpenFolder
    play : Play
    zone : zoneinfo.ZoneInfo
    """
    about, report = play.about, play.report()
    badge = verdict_badge(report)
    if not report:
        job = job_of(folder, play)
        state = job.state if job is not None and job.state != "done" else "failed"
        badge = Badge(state, {"running": "being inspected", "failed": "not inspected"}.get(state, state))
    return PlayLink(
        name=about.capture, href=f"/plays/{play.id}", part=about.part, part_href=part_href(about.part),
        pressing=about.pressing, when=at_words(about.at, zone), by=about.by,
        found=counted(report["defects"]) if report else "", badge=badge, line=str(play.kept or ""),
    )  # fmt: skip


def side_plays(
    desk: Desk, ledger: Ledger, family: Family, edition: str, side: str, zone: ZoneInfo, chosen: Sequence[int] = ()
) -> tuple[PlayLink, ...]:
    """The plays of a side that stand in the ledger, newest first.

    Parameters
    ----------
    desk : Desk
    ledger : Ledger
    family : Family
    edition, side : str
    zone : zoneinfo.ZoneInfo
    chosen : sequence of int
        Lines of those that are chosen already.
    """
    kept = reversed(kept_plays(ledger, family, edition, side))
    return tuple(_laid_link(desk, one, zone, one.line.seq in chosen) for one in kept)


def _laid_link(desk: Desk, one: LaidPlay, zone: ZoneInfo, chosen: bool) -> PlayLink:
    own = {play.name: play for play in desk.folder.plays.all()} if desk.is_open else {}
    here = own.get(str(one.line.data.get("report", "")))
    verdict = str(one.line.data.get("verdict", ""))
    badge = Badge("note", "by ear") if not verdict else verdict_badge({"verdict": verdict})
    return PlayLink(
        name=played_name(one), href=f"/plays/{here.id}" if here is not None else "", part=one.part.id,
        part_href=part_href(one.part.id), pressing=one.play.pressing, when=at_words(one.line.at, zone), by=one.line.by,
        found=counted(one.line.data.get("defects", ())), badge=badge, line=str(one.line.seq), chosen=chosen,
    )  # fmt: skip


def played_name(one: LaidPlay) -> str:
    """What a play is called among others: its part, its pressing, its line."""
    pressing = f" pressing {one.play.pressing}" if one.play.pressing else ""
    return f"{one.part.id}{pressing}, line {one.line.seq}"


# What can be written ------------------------------------------------------------------------------------


def kept_line(ledger: Ledger, family: Family, play: Play) -> int:
    """The line a play stands in, as the ledger counts now; 0 where it was not kept, or that was undone.

    Parameters
    ----------
    ledger : Ledger
    family : Family
    play : Play
    """
    if not play.kept:
        return 0
    lines = corrected(list(ledger.lines(title=family.title)))
    return next((one.seq for one in lines if one.seq == play.kept and one.data.get("report") == play.name), 0)


def judge_forms(
    family: Family, part: Part, person: Person, at: str, report: Mapping[str, Any], kept: bool
) -> tuple[JudgeForm, ...]:
    """What this person can write of a play: first that it was, then what comes of it for the part.

    Parameters
    ----------
    family : Family
    part : Part
    person : Person
    at : str
        Now.
    report : mapping
        Of the play; empty while there is none.
    kept : bool
        It stands in the ledger.
    """
    wanted = ("approved", "refused") if kept else ("test_played",)
    if not report or not any(may_record(person, kind) for kind in wanted):
        return ()
    known = {one.kind: one for one in steps(family, part, recordable_by(person), at)}
    passed = report.get("verdict") == "pass"
    return tuple(_form(known[kind], part, passed) for kind in wanted if kind in known)


def _form(step: Step, part: Part, passed: bool) -> JudgeForm:
    kinds = {"test_played": ("keep", "Keep this play"), "approved": ("approve", f"Approve {part.id}"),
             "refused": ("refuse", f"Refuse {part.id}")}  # fmt: skip
    kind, words = kinds[step.kind]
    against = tuple(Badge(one.severity, one.remedy) for one in step.against if not one.accepted)
    needs = kind == "refuse" or (kind == "approve" and not passed)
    return JudgeForm(kind, words, new_key(), kind == "refuse", needs, against, step.closed)


# Laid over ----------------------------------------------------------------------------------------------


def over_href(lines: Sequence[int]) -> str:
    """Address of plays laid over one another.

    Parameters
    ----------
    lines : sequence of int
    """
    return f"/plays?{urlencode([('line', seq) for seq in lines])}"


def laid_rows(desk: Desk, laid: LaidOver, zone: ZoneInfo) -> tuple[LaidPlayRow, ...]:
    """The plays that are laid over one another, each with its mark.

    Parameters
    ----------
    desk : Desk
    laid : LaidOver
    zone : zoneinfo.ZoneInfo
    """
    rows = []
    for shape, one in zip(SHAPES, laid.plays, strict=False):
        own = [spot for spot in laid.spots if one.play.id in spot.heard]
        shared = sum(len(spot.marks) > 1 for spot in own)
        rows.append(LaidPlayRow(shape, _laid_link(desk, one, zone, True), f"{shared} of {len(own)} shared"))
    return tuple(rows)


def spot_rows(laid: LaidOver, plan: OpenPlan | None, words: Words) -> tuple[SpotRow, ...]:
    """Every spot, along the groove.

    Parameters
    ----------
    laid : LaidOver
    plan : OpenPlan or None
        Tells radii that nobody told.
    words : Words
    """
    shapes = {one.play.id: (shape, played_name(one)) for shape, one in zip(SHAPES, laid.plays, strict=False)}
    return tuple(_spot(number, one, laid, plan, shapes, words) for number, one in enumerate(laid.spots, 1))


def _spot(
    number: int, spot: Spot, laid: LaidOver, plan: OpenPlan | None, shapes: Mapping[str, tuple[str, str]], words: Words
) -> SpotRow:  # fmt: skip
    marks = []
    for mark in spot.marks:
        radius = _radius_mm(mark.fault, laid, plan)
        x, y = place_um(radius or 0.0, mark.fault.angle_deg)
        marks.append(SpotMark(*shapes[mark.play], x, y))
    turns = str(spot.turn) if spot.turn == spot.last_turn else f"{spot.turn} to {spot.last_turn}"
    radius = spot.radius_mm if spot.radius_mm is not None else _radius_mm(spot.marks[0].fault, laid, plan)
    x, y = place_um(radius or 0.0, spot.angle_deg)
    asked = len(spot.marks) + len(spot.missed)
    return SpotRow(
        number=number, kind=spot.kind, shape=f"fault-{spot.kind}", turn=turns, angle=f"{spot.angle_deg:.1f}°",
        radius="" if radius is None else words.radius(radius * 1e-3),
        size="" if not spot.size_db else level(spot.size_db), heard=spot.audible is True, marks=tuple(marks),
        missed=", ".join(shapes[one][1] for one in spot.missed), shared=len(spot.marks) > 1,
        share=f"{len(spot.marks)} of {asked}", x_um=x, y_um=y,
    )  # fmt: skip


def _radius_mm(fault: Fault, laid: LaidOver, plan: OpenPlan | None) -> float | None:
    """Radius of a fault: as it was told, or where the plan has its turn."""
    if fault.radius_mm is not None or plan is None:
        return fault.radius_mm
    time = (fault.turn + fault.angle_deg / 360.0) * laid.disc.turn_time
    return float(np.interp(time, plan.rows.time, plan.rows.radius)) * 1e3


def over_counts(laid: LaidOver) -> tuple[Badge, ...]:
    """What the plays share, in words."""
    alone = len(laid.spots) - laid.shared
    every = sum(len(one.marks) == len(laid.plays) for one in laid.spots)
    return (
        Badge("chosen", f"{every} in every play"), Badge("gained", f"{laid.shared} in more than one"),
        Badge("unplanned", f"{alone} in one alone"),
    )  # fmt: skip
