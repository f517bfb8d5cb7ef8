"""JSON about the ledger, for programs and machines: board, titles, parts, their events, photographs of codes."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import JSONResponse
from starlette.concurrency import run_in_threadpool

from discwright.acts.people import check_may_record, hand_of
from discwright.acts.works import Cutting, Hand, cut, grow, read_planned
from discwright.acts.works_look import part_as_dict, trace, tree
from discwright.acts.works_record import Said, event_name, record
from discwright.desk.api_shapes import desk_of
from discwright.desk.api_works_shapes import (
    WORKS_REFUSALS,
    BoardFacts,
    FindingOfWorks,
    FoundFacts,
    PartFacts,
    PhotoFacts,
    SideStandingFacts,
    StepFacts,
    Stopped,
    TitleFamily,
    TitleStanding,
    WantedCut,
    WantedEvent,
    WantedGrowth,
    WantedLine,
    Written,
)
from discwright.desk.door import person_of
from discwright.desk.works_door import family_at, ledger_of, part_at
from discwright.desk.works_time import now_stamp
from discwright.errors import CallError
from discwright.files.photo import read_photo
from discwright.works.history import corrected
from discwright.works.parts import GROWS
from discwright.works.people import recordable_by
from discwright.works.possible import steps
from discwright.works.scanning import read_scan
from discwright.works.store import look
from discwright.works.store.ledger import Ledger, Outcome

router = APIRouter(prefix="/api/works", tags=["works"], responses=WORKS_REFUSALS)
#: How a photograph may be sent.
_PHOTO_KINDS = ("image/jpeg", "image/png", "image/webp", "application/octet-stream")


@router.get("/board")
def board(request: Request, first: Annotated[int, Query(ge=0, le=1_000_000)] = 0, finished: bool = False) -> BoardFacts:
    """Where every title is, fifty from `first` on: late ones first."""
    ledger = ledger_of(request)
    now = now_stamp(ledger)
    found = look.board(ledger, now, first=first, finished=finished)
    titles = [
        TitleStanding(
            catalogue=one.family.title, name=one.family.name,
            sides=[SideStandingFacts.of(side, now) for side in one.sides],
        )
        for one in found.titles
    ]  # fmt: skip
    return BoardFacts(
        first=first, open_titles=found.open_titles, late_titles=found.late_titles, all_titles=found.all_titles,
        titles=titles,
    )  # fmt: skip


@router.get("/titles/{catalogue:path}")
def title(request: Request, catalogue: str) -> TitleFamily:
    """A title with all its parts, and what happened to each."""
    ledger = ledger_of(request)
    return TitleFamily.model_validate(tree(ledger, family_at(ledger, catalogue).title))


@router.get("/parts/{part}")
def one_part(request: Request, part: str) -> PartFacts:
    """One part: where it comes from, what happened to it, what can be done with it by whoever asks."""
    ledger = ledger_of(request)
    family, found = part_at(ledger, part)
    lines = look.part_lines(ledger, family, found.id)
    counted = {line.seq for line in corrected(lines)}
    known = steps(family, found, recordable_by(person_of(request)), now_stamp(ledger))
    return PartFacts.model_validate(
        part_as_dict(family, found, lines, counted) | trace(ledger, found.id)
        | {"findings": [one for one in family.findings if one.get("part") == found.id]}
        | {"steps": [StepFacts.of(one) for one in known]}
    )  # fmt: skip


@router.get("/search")
def search(request: Request, q: Annotated[str, Query(max_length=200)] = "") -> list[FoundFacts]:
    """Everything a number printed anywhere leads to; also what a scanner made of it."""
    scan = read_scan(q)
    return [
        FoundFacts(what=one.what, shown=one.shown, title=one.title, part=one.part)
        for one in look.search(ledger_of(request), scan.number or q)
    ]


# Writing -----------------------------------------------------------------------------------------------


def _hand(request: Request, wanted: WantedLine) -> Hand:
    return hand_of(
        person_of(request), said_by=wanted.by, station=wanted.station, key=wanted.key, accepted=wanted.accepted
    )


def _answer(outcome: Outcome) -> Written | JSONResponse:
    """What was written; with a stop against it, 409 and the findings."""
    found = [FindingOfWorks.model_validate(one.as_dict()) for one in outcome.findings]
    if outcome.line is None:
        sentence = " ".join(one.remedy for one in outcome.findings if one.severity == "stop" and not one.accepted)
        stopped = Stopped(sentence=f"Nothing was written. {sentence}", findings=found)
        return JSONResponse(stopped.model_dump(), 409)
    line = outcome.line
    return Written(
        seq=line.seq, at=line.at, by=line.by, kind=line.kind, title=line.title, part=line.part, hash=line.hash,
        repeated=outcome.repeated, clock_behind_s=round(outcome.clock_behind_s, 3), findings=found,
    )  # fmt: skip


@router.post("/events", response_model=Written)
def event(request: Request, wanted: WantedEvent) -> Written | JSONResponse:
    """Record what was done to a part, or measured for a title; the same key is one line, however often it is sent."""
    ledger, kind = ledger_of(request), event_name(wanted.kind)
    check_may_record(person_of(request), kind)
    faults = [one.model_dump(exclude_none=True) for one in wanted.defects]
    more = wanted.more | ({"defects": faults} if faults else {})
    said = Said(wanted.count, wanted.value, wanted.unit, wanted.note, more)
    if bool(wanted.part) == bool(wanted.title):
        raise CallError("an event is of a part or of a title; name one of them.")
    target = part_at(ledger, wanted.part)[1].id if wanted.part else family_at(ledger, wanted.title).title
    return _answer(record(ledger, target, kind, said, _hand(request, wanted)))


@router.post("/grow", response_model=Written)
def grown(request: Request, wanted: WantedGrowth) -> Written | JSONResponse:
    """Grow a part from another; its number is `part`."""
    ledger: Ledger = ledger_of(request)
    check_may_record(person_of(request), "plated")
    _, parent = part_at(ledger, wanted.parent)
    kind = wanted.kind or GROWS.get(parent.kind, "")
    if not kind:
        raise CallError(f"{parent.id} is a stamper, and nothing is grown from a stamper; grow from its mother.")
    outcome = grow(
        ledger, parent.id, kind, _hand(request, wanted), mark=wanted.mark, tank=wanted.tank, metal=wanted.metal,
        ampere_hours=wanted.ampere_hours, minutes=wanted.minutes,
    )  # fmt: skip
    return _answer(outcome)


@router.post("/cut", response_model=Written)
def cut_side(request: Request, wanted: WantedCut) -> Written | JSONResponse:
    """Note that a side was cut from a plan of the folder; the number of the lacquer is `part`."""
    ledger = ledger_of(request)
    check_may_record(person_of(request), "lacquer_cut")
    folder = desk_of(request).folder.shelf.plan(wanted.plan).folder
    family = family_at(ledger, wanted.title)
    cutting = Cutting(
        wanted.lacquer, wanted.tip, wanted.tip_hours, wanted.blank_mm, wanted.heat_a, wanted.operator, wanted.mark
    )
    plan, hand = read_planned(folder), _hand(request, wanted)
    return _answer(cut(ledger, plan, family.title, wanted.side, cutting, hand, edition=wanted.edition))


@router.post(
    "/photo",
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {kind: {"schema": {"type": "string", "format": "binary"}} for kind in _PHOTO_KINDS},
        }
    },
)
async def photo(request: Request) -> PhotoFacts:
    """Read the code in a photograph, for browsers that give no camera over plain http."""
    packed = await request.body()
    return await run_in_threadpool(_read, packed)


def _read(packed: bytes) -> PhotoFacts:
    texts = read_photo(packed)
    if not texts:
        return PhotoFacts(
            number="", texts=[], sentence="No code was found; hold the camera nearer and straight above, in good light."
        )
    scans = [read_scan(one) for one in texts]
    numbers = sorted({one.number for one in scans if one.number})
    if len(numbers) > 1:
        told = f"{' and '.join(numbers[:2])} are in the photograph; take it of one code alone."
        return PhotoFacts(number="", texts=list(texts), sentence=told)
    return PhotoFacts(number="".join(numbers), texts=list(texts), sentence="" if numbers else scans[0].sentence)
