"""What is done at the works: titles taken in, plans kept, lacquers cut, parts grown. Each leaves a line."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from discwright.acts.works_look import family_for
from discwright.errors import CallError
from discwright.files.compare import read_plan
from discwright.files.kept_side import audio_state, read_spiral
from discwright.files.title import load_title
from discwright.files.works_settings import load_limits
from discwright.programme.title import Edition
from discwright.works import events as e
from discwright.works.chain import Line
from discwright.works.family import Family
from discwright.works.parts import KINDS, read_number
from discwright.works.store.ledger import Ledger, Order, Outcome


@dataclass(frozen=True)
class Hand:
    """Whose hand does it.

    Attributes
    ----------
    by : str
    station : str
    key : str
        Idempotency key; made where none is given.
    accepted : str
        Why what speaks against it is accepted.
    """

    by: str
    station: str = ""
    key: str = ""
    accepted: str = ""

    def order(self, event: e.Event, title: str = "", part: str = "") -> Order:
        """An order by this hand.

        Parameters
        ----------
        event : Event
        title, part : str
        """
        return Order(event, self.by, title, part, self.station, self.key, self.accepted)


def take_in(
    ledger: Ledger, title_file: Path, hand: Hand, *, practice: Path | None = None, revised: bool = False
) -> Outcome:
    """Take a title in.

    Parameters
    ----------
    ledger : Ledger
    title_file : pathlib.Path
    hand : Hand
    practice : pathlib.Path, optional
        TOML file with the limits of this works.
    revised : bool
        The title is in the ledger and its file has changed since.

    Raises
    ------
    CallError
        If the title has no catalogue number, or is in the ledger already.
    TitleError
        With every fault of the file.
    """
    title = load_title(title_file)
    if not title.catalogue:
        raise CallError(
            f'{title_file}: has no catalogue number, and the ledger goes by it; write catalogue = "…" in [title].'
        )
    event = e.TitleTakenIn(
        name=title.name, people=title.people, editions=tuple(_edition(one) for one in title.editions),
        limits=load_limits(practice).as_plain(), file_sha256=hashlib.sha256(title_file.read_bytes()).hexdigest(),
    )  # fmt: skip
    known = next(ledger.lines(title=title.catalogue), None)
    if known is not None and not (hand.key and known.key == hand.key):
        _refuse_known(ledger.family(title.catalogue), event, known, revised)
    return ledger.append(hand.order(event, title.catalogue))


def _refuse_known(family: Family, event: e.TitleTakenIn, line: Line, revised: bool) -> None:
    day = line.at[:10]
    if family.file_sha256 == event.file_sha256:
        raise CallError(f"{family.title}: was taken in on {day} just like this; go on with it (`works tree`).")
    if not revised:
        raise CallError(
            f"{family.title}: was taken in on {day} from a file that read otherwise; add --revised if this one counts "
            "from now on, or give the title another catalogue number."
        )


def _edition(one: Edition) -> dict[str, Any]:
    return {
        "id": one.id, "format": one.format, "quantity": one.quantity, "due": one.due,
        "sides": [side.letter for side in one.sides],
    }  # fmt: skip


@dataclass(frozen=True)
class PlannedSide:
    """What a kept plan says about itself.

    Attributes
    ----------
    fingerprint, spiral_sha256, programme_sha256, format : str
    level_db : float
    edition, side, matrix : str
        Empty for a bare file.
    ready : bool
    audio : str
        ``"same"``, ``"changed"`` or ``"missing"``.
    folder : str
        Where it was read.
    """

    fingerprint: str
    spiral_sha256: str
    programme_sha256: str
    format: str
    level_db: float
    edition: str
    side: str
    matrix: str
    ready: bool
    audio: str
    folder: str


def read_planned(folder: Path) -> PlannedSide:
    """Open a kept plan and hold its spiral and its audio against what it says.

    Parameters
    ----------
    folder : pathlib.Path

    Raises
    ------
    CallError
        If it is no whole plan, or its spiral was changed.
    """
    document = read_plan(folder)
    place = folder if folder.is_dir() else folder.parent
    read_spiral(place, document)
    title: Mapping[str, Any] = document.get("title") or {}
    try:
        return PlannedSide(
            str(document["fingerprint"]), str(document["spiral_sha256"]), str(document["programme"]["sha256"]),
            str(document["format"]), float(document["level_db"]), str(title.get("edition", "")),
            str(title.get("side", "")), str(title.get("matrix", "")), bool(document["ready"]),
            audio_state(place, document), str(folder),
        )  # fmt: skip
    except (KeyError, TypeError, ValueError):
        raise CallError(f"{folder}: is no whole plan; keep the plan again with --out.") from None


def keep_plan(ledger: Ledger, plan: PlannedSide, title: str, side: str, hand: Hand, *, edition: str = "") -> Outcome:
    """Say that a plan is the one to cut a side from.

    Parameters
    ----------
    ledger : Ledger
    plan : PlannedSide
        As :func:`read_planned` reads it.
    title : str
        Catalogue number.
    side : str
    hand : Hand
    edition : str
        Found by the plan's format where it is not given.

    Raises
    ------
    CallError
        If the plan is of another side, or its audio is not what was planned.
    """
    family = family_for(ledger, title)
    _refuse_other(plan, side)
    event = _kept(plan, _edition_of(family, plan, edition), side)
    return ledger.append(hand.order(event, family.title))


def _kept(plan: PlannedSide, edition: str, side: str) -> e.PlanKept:
    return e.PlanKept(
        edition=edition, side=side, fingerprint=plan.fingerprint, spiral_sha256=plan.spiral_sha256,
        programme_sha256=plan.programme_sha256, format=plan.format, level_db=plan.level_db,
    )  # fmt: skip


def _refuse_other(plan: PlannedSide, side: str) -> None:
    if plan.side and plan.side != side:
        raise CallError(
            f"{plan.folder}: is the plan of side {plan.side}, not of side {side}; name the folder of side {side}."
        )
    if plan.audio == "changed":
        raise CallError(
            f"{plan.folder}: its audio is not what was planned any more (the fingerprint differs); bring the approved "
            "programme back, or plan the side again."
        )


def _edition_of(family: Family, plan: PlannedSide, wanted: str) -> str:
    """The edition a plan is for: as said, as the plan says, or the one of its format."""
    discs = [one for one in family.editions if one.get("format") != "tape"]
    known = [str(one["id"]) for one in discs]
    if wanted or plan.edition:
        named = wanted or plan.edition
        if named not in known:
            raise CallError(f"{family.title} has no edition {named}; its editions are {', '.join(known) or 'none'}.")
        return named
    alike = [str(one["id"]) for one in discs if one.get("format") == plan.format] or known
    if len(alike) == 1:
        return alike[0]
    raise CallError(
        f"{family.title} has several editions for this plan; say which with --edition {'|'.join(alike or known)}."
    )


@dataclass(frozen=True)
class Cutting:
    """With what a lacquer was cut.

    Attributes
    ----------
    lacquer : str
        Batch of the lacquer.
    tip : str
    tip_hours, blank_mm, heat_a : float or None
    operator, mark : str
    """

    lacquer: str
    tip: str = ""
    tip_hours: float | None = None
    blank_mm: float | None = None
    heat_a: float | None = None
    operator: str = ""
    mark: str = ""


def cut(
    ledger: Ledger, plan: PlannedSide, title: str, side: str, cutting: Cutting, hand: Hand, *, edition: str = ""
) -> Outcome:
    """Note that a side was cut from a plan; the plan is kept first where it was not.

    Parameters
    ----------
    ledger : Ledger
    plan : PlannedSide
        As :func:`read_planned` reads it.
    title, side : str
    cutting : Cutting
    hand : Hand
    edition : str

    Returns
    -------
    Outcome
        Its line's part is the new lacquer.

    Raises
    ------
    CallError
        If the plan is of another side, or its audio is not what was planned.
    """
    family = family_for(ledger, title)
    _refuse_other(plan, side)
    which = _edition_of(family, plan, edition)
    if not cutting.lacquer.strip():
        raise CallError("the lacquer has no batch; name it with --lacquer, it is printed on its box.")
    if not any(one.fingerprint == plan.fingerprint and one.side == side for one in family.plans):
        key = f"{hand.key}-plan" if hand.key else ""
        event = _kept(plan, which, side)
        kept = ledger.append(Order(event, hand.by, family.title, "", hand.station, key, hand.accepted))
        if kept.line is None:
            return kept
    cut_event = e.LacquerCut(
        edition=which, side=side, fingerprint=plan.fingerprint, programme_sha256=plan.programme_sha256,
        lacquer_batch=cutting.lacquer, tip=cutting.tip, tip_hours=cutting.tip_hours, blank_mm=cutting.blank_mm,
        heat_a=cutting.heat_a, operator=cutting.operator or hand.by, mark=cutting.mark,
    )  # fmt: skip
    return ledger.append(hand.order(cut_event, family.title))


def grow(
    ledger: Ledger, parent: str, kind: str, hand: Hand, *, mark: str = "", tank: str = "",
    ampere_hours: float | None = None, minutes: float | None = None, metal: str = "",
) -> Outcome:  # fmt: skip
    """Grow a part from another.

    Parameters
    ----------
    ledger : Ledger
    parent : str
        Its number.
    kind : str
        Of the new part.
    hand : Hand
    mark : str
        Run-out marks put on the new part.
    tank, metal : str
    ampere_hours, minutes : float, optional

    Returns
    -------
    Outcome
        Its line's part is the new part.

    Raises
    ------
    CallError
        If the kind is none, or the parent is unknown.
    """
    if kind not in KINDS[1:]:
        raise CallError(f"“{kind[:40]}” is nothing that is grown; write {', '.join(KINDS[1:])}.")
    event = e.Plated(
        parent=read_number(parent), part_kind=kind, mark=mark, tank=tank, ampere_hours=ampere_hours, minutes=minutes,
        metal=metal,
    )  # fmt: skip
    return ledger.append(hand.order(event))
