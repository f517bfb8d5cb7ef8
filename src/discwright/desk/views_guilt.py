"""The page on a side's guilty part: the tree by guilt, spots and plays, what to do; and what was heard, by hand."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from discwright.acts.people import NotAllowedError, check_may_record, hand_of
from discwright.acts.works_locate import SideGuilt, SpotGuilt, find_guilty
from discwright.acts.works_locate_told import INDEPENDENT, advice, guilt_as_dict
from discwright.acts.works_plays import HeardFault, hear
from discwright.desk import show_guilt as show
from discwright.desk.api_shapes import desk_of, words_of
from discwright.desk.api_works_shapes import WORKS_REFUSALS, TitleGuiltFacts
from discwright.desk.door import person_of
from discwright.desk.rendering import form_of, frame, go_to, render
from discwright.desk.shelf import NotThereError
from discwright.desk.show_board import part_href, title_href
from discwright.desk.show_family import planned_sides
from discwright.desk.works_door import AtOddsError, came, family_at, ledger_of, part_at
from discwright.desk.works_pages import GuiltPage
from discwright.desk.works_time import zone_of, zone_words
from discwright.errors import CallError, DiscwrightError
from discwright.units import number
from discwright.works.family import Family
from discwright.works.people import may_record
from discwright.works.store.ledger import Ledger

router = APIRouter(include_in_schema=False)
#: The same for programs.
api = APIRouter(prefix="/api/works", tags=["works"], responses=WORKS_REFUSALS)
_NO_PART = "No lacquer was cut of this title yet; there is nothing to find guilty."


@api.get("/guilt/{catalogue:path}")
def guilt_facts(request: Request, catalogue: str, side: str = "", edition: str = "") -> TitleGuiltFacts:
    """Which part is guilty of what the test plays found, and what is best done, for every side of a title."""
    ledger = ledger_of(request)
    found = find_guilty(ledger, family_at(ledger, catalogue).title, side=side, edition=edition)
    return TitleGuiltFacts.model_validate(guilt_as_dict(found))


@router.get("/works/guilt/{catalogue:path}")
def guilt_page(
    request: Request, catalogue: str, edition: str = "", side: str = "", part: str = "", spot: int = 0,
    whole: bool = False,
) -> Response:  # fmt: skip
    """Who is guilty of the faults of one side."""
    return render(_page(request, catalogue, (edition, side), {"part": part}, "", spot=spot, whole=whole))


def _page(
    request: Request, catalogue: str, which: tuple[str, str], said: Mapping[str, str], sentence: str, *,
    spot: int = 0, whole: bool = False,
) -> GuiltPage:  # fmt: skip
    ledger, person = ledger_of(request), person_of(request)
    family = family_at(ledger, catalogue)
    if not family.parts:
        raise NotThereError(_NO_PART)
    found = find_guilty(ledger, family.title)
    side = _side_of(found.sides, which, family, said.get("part", ""))
    one = next((it for it in side.spots if it.number == spot), None)
    chosen = one.number if one is not None else 0
    zone = zone_of(ledger)
    form = show.heard_form(side, said, sentence) if may_record(person, "test_played") else None
    rows = show.spot_rows(side, family.title, chosen, words_of(request), whole)
    left = len(side.spots) - len(rows)
    here, all_spots = (show.guilt_href(family.title, side.edition, side.side, **q) for q in ({}, {"whole": "true"}))
    return GuiltPage(
        frame=frame(request), catalogue=family.title, name=family.name or family.title,
        family_href=title_href(family.title), sides=show.side_links(found, side), side=side.side,
        edition=side.edition, advice=advice(side), counts=show.counts(side), placeless=_placeless(side),
        next_play=side.next_play, next_href=part_href(side.next_play) if side.next_play else "",
        tree=show.tree(family, side, one), tree_words=_tree_words(one), all_href=f"{here}#tree" if one else "",
        spots=rows, more=f"{left} spots that matter less" if left else "",
        more_href=f"{all_spots}#spots" if left and not whole else "",
        face=show.face(side, chosen, _radii(request, family, side)), plays=show.play_rows(side, zone),
        suspects=show.suspect_rows(side), choices=show.choice_rows(side), paces=_paces(side), form=form,
        assumption=f"All spots that are heard, {INDEPENDENT}.", zone=zone_words(zone),
    )  # fmt: skip


def _side_of(sides: tuple[SideGuilt, ...], which: tuple[str, str], family: Family, part: str) -> SideGuilt:
    """The side that is asked for; that of a part, or the first that was played, where none is."""
    if part in family.parts:
        which = (family.parts[part].edition, family.parts[part].side)
    edition, letter = which
    fits = [one for one in sides if edition in ("", one.edition) and letter in ("", one.side)]
    if not fits:
        raise NotThereError("this title has no such side; go back to its family.")
    return next((one for one in fits if one.plays), fits[0])


def _tree_words(one: SpotGuilt | None) -> str:
    if one is None:
        return "Probability that a part heads at least one spot that is heard"
    return f"Probability that a part heads spot {one.number}: {one.spot.kind}, turn {one.spot.turn}"


def _placeless(side: SideGuilt) -> str:
    if not side.placeless:
        return ""
    plays = "1 play" if side.placeless == 1 else f"{side.placeless} plays"
    from_it = "from it" if side.placeless == 1 else "from them"
    return f"{plays} heard faults and did not say where: nothing can be told {from_it}."


def _paces(side: SideGuilt) -> str:
    told = [
        f"{kind} {one.days:.1f}{f' (median of {one.measured} in the ledger)' if one.measured else ''}"
        for kind, one in side.paces.items()
    ]
    return f"Days: {', '.join(told)}."


def _radii(request: Request, family: Family, side: SideGuilt) -> Callable[[float], float] | None:
    """Radius of each turn by the plan the side was cut from, where the folder holds it."""
    desk = desk_of(request)
    if not desk.is_open:
        return None
    prints = [one.part.fingerprint for one in side.parts if one.part.fingerprint]
    places = planned_sides(desk.folder.shelf)
    known = [places[one].removeprefix("/plans/") for one in reversed(prints) if one in places]
    if not known:
        return None
    return show.radius_of_turns(desk.folder.shelf.plan(known[0]).folder, side.disc.turn_time)


# What was heard ----------------------------------------------------------------------------------------


@router.post("/works/heard")
async def heard(request: Request) -> Response:
    """Write down what was heard in one play, or seen on a part; the form again where that cannot be."""
    fields = await form_of(request)
    return await run_in_threadpool(_heard, request, fields)


def _heard(request: Request, fields: dict[str, str]) -> Response:
    ledger = ledger_of(request)
    family, part = part_at(ledger, fields.get("part", ""))
    try:
        _write(request, ledger, fields)
    except (AtOddsError, NotAllowedError, NotThereError):
        raise
    except DiscwrightError as why:
        said = f"{str(why)[:1].upper()}{str(why)[1:]}"
        return render(_page(request, family.title, (part.edition, part.side), fields, said), 422)
    return go_to(request, show.guilt_href(family.title, part.edition, part.side))


def _write(request: Request, ledger: Ledger, fields: dict[str, str]) -> None:
    person = person_of(request)
    seen = fields.get("how") == "seen"
    check_may_record(person, "checked_under_the_microscope" if seen else "test_played")
    hand = hand_of(person, station="listening", key=fields.get("key", ""))
    family, part = part_at(ledger, fields.get("part", ""))
    faults = _faults(fields)
    if bool(faults) == (fields.get("none") == "on"):
        raise CallError("say where each fault was heard, or that nothing was; fill in a row, or tick the box.")
    ended = number(fields["to_turn"], "turn") if fields.get("to_turn", "").strip() else None
    outcome = hear(
        ledger, part, family, faults, hand, seen=seen, pressing=fields.get("pressing", "").strip()[:40],
        note=fields.get("note", "").strip()[:500], to_turn=ended,
    )  # fmt: skip
    came(outcome)


def _faults(fields: Mapping[str, Any]) -> list[HeardFault]:
    """The rows that were filled in."""
    found = []
    for row in range(1, show.FORM_ROWS + 1):
        place, angle = fields.get(f"place-{row}", "").strip()[:40], fields.get(f"angle-{row}", "").strip()[:40]
        if place or angle:
            if not place:
                raise CallError(f"row {row} has an angle and no turn; give its turn, or the time.")
            found.append(HeardFault(fields.get(f"kind-{row}", "tick"), place, angle))
    return found
