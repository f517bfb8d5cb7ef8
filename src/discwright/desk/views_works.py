"""The ledger's pages: the board, a title's family, one part; what is printed of them, and what is entered there."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from discwright.acts.people import check_may_record, hand_of
from discwright.acts.works import Cutting, Hand, cut, keep_plan, read_planned, take_in
from discwright.acts.works_card import write_part_card
from discwright.desk.api_shapes import desk_of, words_of
from discwright.desk.dock_words import carton_href, scanned_carton
from discwright.desk.door import person_of
from discwright.desk.page_parts import Option
from discwright.desk.rendering import form_of, frame, go_to, render
from discwright.desk.shelf import NotThereError
from discwright.desk.show_board import (
    board_csv,
    board_rows,
    clock_now,
    counts,
    drill_badge,
    found_rows,
    new_titles,
    paging,
    part_href,
    side_place,
    title_href,
)
from discwright.desk.show_family import (
    cut_forms,
    family_facts,
    kept_plan_rows,
    line_rows,
    part_facts,
    part_link,
    planned_sides,
    title_in_folder,
    works_findings,
)
from discwright.desk.show_guilt import guilt_href
from discwright.desk.show_hall import runs_with
from discwright.desk.show_plays import play_block
from discwright.desk.show_station import step_words
from discwright.desk.tree_picture import tree_pictures
from discwright.desk.views_desk import job_rows
from discwright.desk.works_door import came, family_at, ledger_of, part_at, run_at
from discwright.desk.works_pages import BoardPage, FamilyPage, NoLedgerPage, PartPage, SearchPage
from discwright.desk.works_time import now_stamp, zone_of, zone_words
from discwright.desk.works_words import marks_hint, marks_on, part_badge, sign_words, verdict_badge
from discwright.files.part_label import PartLabel, code_svg, label_pdf, label_sheet_pdf
from discwright.units import number
from discwright.works.family import Family, Part
from discwright.works.parts import GROWS, LACQUER, RUN, is_number_of
from discwright.works.people import RECORD, may, may_record, recordable_by
from discwright.works.possible import steps
from discwright.works.scanning import read_scan
from discwright.works.standing import standings
from discwright.works.store import look
from discwright.works.store.ledger import Ledger

router = APIRouter(include_in_schema=False)
#: No works has more titles.
_MOST_TITLES = 1_000_000


@router.get("/works")
def board(request: Request, first: int = 0, finished: bool = False) -> Response:
    """Where every title is."""
    desk, person = desk_of(request), person_of(request)
    if desk.books is None or desk.books.present is None:
        return render(NoLedgerPage(frame(request), desk.is_open and may(person, RECORD)))
    ledger = ledger_of(request)
    zone, now = zone_of(ledger), clock_now(ledger)
    first = min(max(0, first), _MOST_TITLES)
    found = look.board(ledger, now_stamp(ledger), first=first, finished=finished)
    total = found.all_titles - found.open_titles if finished else found.open_titles
    address = f"/works?finished={'true' if finished else 'false'}&first="
    may_take = may_record(person, "title_taken_in") and desk.is_open
    page = BoardPage(
        frame=frame(request), counts=counts(found), finished=finished, rows=board_rows(found, zone, now),
        paging=paging(first, len(found.titles), total, address),
        new_titles=new_titles(ledger, desk.folder.shelf.found()) if may_take else (), drill=drill_badge(ledger, now),
        zone=zone_words(zone), csv_href=f"/works/board.csv?finished={'true' if finished else 'false'}",
    )  # fmt: skip
    return render(page)


@router.get("/works/board.csv")
def board_table(request: Request, finished: bool = False) -> Response:
    """The whole board, a line for each side."""
    ledger = ledger_of(request)
    name = "works-finished.csv" if finished else "works-board.csv"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(board_csv(ledger, finished, zone_of(ledger)), media_type="text/csv; charset=utf-8", headers=headers)


@router.post("/works/begin")
async def begin(request: Request) -> Response:
    """Begin a ledger in the opened folder."""
    await run_in_threadpool(desk_of(request).folder.begin_ledger)
    return go_to(request, "/works")


@router.get("/works/search")
def search(request: Request, q: str = "") -> Response:
    """What a number leads to; a part's own number, or a scan of it, straight to the part."""
    ledger = ledger_of(request)
    scan = read_scan(q)
    if scan.number:
        look_up = run_at if is_number_of(RUN, scan.number) else part_at
        return go_to(request, part_href(look_up(ledger, scan.number)[1].id))
    if sscc := scanned_carton(q):
        return go_to(request, carton_href(sscc))
    found = found_rows(ledger, q) if q.strip() else ()
    if len(found) == 1 and found[0].part:
        return go_to(request, found[0].href)
    sentence = "" if found else "No number of the ledger begins so; look at the card again, or scan its code."
    return render(SearchPage(frame(request), q[:100], found, sentence if q.strip() else "Type a number first."))


# A title -----------------------------------------------------------------------------------------------


@router.get("/works/titles/{catalogue:path}")
def family_page(request: Request, catalogue: str) -> Response:
    """The family of a title, drawn and in words."""
    desk, person, ledger = desk_of(request), person_of(request), ledger_of(request)
    family = family_at(ledger, catalogue)
    zone, now, sides = zone_of(ledger), clock_now(ledger), standings(family)
    places = tuple(side_place(family, one, zone, now) for one in sides)
    shelf = desk.folder.shelf if desk.is_open else None
    title = title_in_folder(shelf.found(), family.title) if shelf is not None else ""
    forms = cut_forms(shelf, family, sides, may_record(person, "lacquer_cut"), may_record(person, "plan_kept"))
    page = FamilyPage(
        frame=frame(request), catalogue=family.title, name=family.name or family.title, people=", ".join(family.people),
        facts=family_facts(family, zone), sides=places,
        trees=tree_pictures(family, frozenset(one.part for one in places if one.late and one.part)),
        findings=works_findings(family.findings), plans=kept_plan_rows(ledger, family, shelf, zone), cuts=forms,
        zone=zone_words(zone), title_href=f"/titles/{title}" if title else "",
        labels_href=f"/works/labels{title_href(family.title).removeprefix('/works/titles')}" if family.parts else "",
        guilt_href=guilt_href(family.title) if family.parts else "",
    )  # fmt: skip
    return render(page)


async def _written(request: Request, kind: str, write: Callable[[Ledger, dict[str, str], Hand], str]) -> Response:
    """Write what a form says; on to where that leads."""
    fields = await form_of(request)

    def do_it() -> str:
        person = person_of(request)
        check_may_record(person, kind)
        hand = hand_of(person, station="desk", key=fields.get("key", ""), accepted=fields.get("accepted", ""))
        return write(ledger_of(request), fields, hand)

    return go_to(request, await run_in_threadpool(do_it))


@router.post("/works/take-in")
async def take_title_in(request: Request) -> Response:
    """Take a title of the folder in."""

    def write(ledger: Ledger, fields: dict[str, str], hand: Hand) -> str:
        kept = desk_of(request).folder.shelf.title(fields.get("title", ""))
        outcome = came(take_in(ledger, kept.path, hand))
        assert outcome.line is not None
        return title_href(outcome.line.title)

    return await _written(request, "title_taken_in", write)


def _plan_folder(request: Request, fields: dict[str, str]) -> Path:
    return desk_of(request).folder.shelf.plan(fields.get("plan", "")).folder


@router.post("/works/keep")
async def keep(request: Request) -> Response:
    """Say that a plan of the folder is the one to cut a side from."""

    def write(ledger: Ledger, fields: dict[str, str], hand: Hand) -> str:
        plan = read_planned(_plan_folder(request, fields))
        title = fields.get("catalogue", "")
        came(keep_plan(ledger, plan, title, fields.get("side", ""), hand, edition=fields.get("edition", "")))
        return title_href(title)

    return await _written(request, "plan_kept", write)


@router.post("/works/cut")
async def cut_lacquer(request: Request) -> Response:
    """Note that a lacquer was cut; on to its page, where its label is printed."""

    def write(ledger: Ledger, fields: dict[str, str], hand: Hand) -> str:
        cutting = Cutting(
            fields.get("lacquer", ""), fields.get("tip", ""), _maybe(fields, "tip_hours", "hours on the tip"),
            _maybe(fields, "blank_mm", "blank"), _maybe(fields, "heat_a", "heat"), "", fields.get("mark", ""),
        )  # fmt: skip
        plan = read_planned(_plan_folder(request, fields))
        side, edition = fields.get("side", ""), fields.get("edition", "")
        outcome = came(cut(ledger, plan, fields.get("catalogue", ""), side, cutting, hand, edition=edition))
        assert outcome.line is not None
        return part_href(outcome.line.part)

    return await _written(request, "lacquer_cut", write)


def _maybe(fields: dict[str, str], name: str, what: str) -> float | None:
    return number(fields[name], what) if fields.get(name, "").strip() else None


# A part ------------------------------------------------------------------------------------------------


@router.get("/works/parts/{part_id}")
def part_page(request: Request, part_id: str) -> Response:
    """One part and everything that happened to it; a run has a page of its own."""
    desk, person, ledger = desk_of(request), person_of(request), ledger_of(request)
    if is_number_of(RUN, part_id):
        return go_to(request, part_href(run_at(ledger, part_id)[1].id))
    family, part = part_at(ledger, part_id)
    zone, lacquer, shelf = zone_of(ledger), family.lacquer(part), desk.folder.shelf if desk.is_open else None
    known = steps(family, part, recordable_by(person), now_stamp(ledger))
    page = PartPage(
        frame=frame(request), id=part.id, kind=part.kind, sign=sign_words(part),
        title=f"{family.title} {family.name}".strip(), title_href=title_href(family.title), side=part.side,
        edition=part.edition, badge=part_badge(part), verdict=verdict_badge(part),
        facts=part_facts(family, part, words_of(request), zone), run_out=marks_on(part), run_out_hint=marks_hint(part),
        plan=lacquer.fingerprint, plan_href=planned_sides(shelf).get(lacquer.fingerprint, ""),
        parents=tuple(part_link(one) for one in family.ancestors(part)),
        children=tuple(part_link(family.parts[one]) for one in part.children),
        steps=tuple(step_words(one.kind, part) for one in known if one.expected),
        station_href=f"/station?code={part.id}", guilt_href=guilt_href(family.title, part=part.id),
        lines=line_rows(look.part_lines(ledger, family, part.id), part.id, zone),
        findings=works_findings(one for one in family.findings if one.get("part") == part.id),
        cards=_cards(part), play=play_block(desk, person, ledger, family, part, zone),
        jobs=job_rows(desk, frozenset({part.id})) if desk.is_open else (),
        runs=runs_with(family, part, clock_now(ledger)), zone=zone_words(zone),
    )  # fmt: skip
    return render(page)


def _cards(part: Part) -> tuple[Option, ...]:
    """Run cards that can be printed: of the part itself while it is in the bath, of what is grown from it next."""
    cards = []
    if part.kind != LACQUER:
        cards.append(Option(f"/works/parts/{part.id}/card.pdf", f"Run card of this {part.kind}"))
    if part.kind in GROWS:
        cards.append(Option(f"/works/parts/{part.id}/next-card.pdf", f"Run card for the next {GROWS[part.kind]}"))
    return tuple(cards)


def _label(family: Family, part: Part) -> PartLabel:
    side = f"{part.edition} {part.side}".strip()
    kind = f"{part.kind} ({'−' if part.sign == '-' else '+'})"
    return PartLabel(part.id, kind, family.name, family.title, side, marks_on(part))


def _pdf(packed: bytes, name: str) -> Response:
    safe = "".join(letter if letter.isascii() and (letter.isalnum() or letter in "-_.") else "-" for letter in name)
    return Response(packed, media_type="application/pdf", headers={"Content-Disposition": f'inline; filename="{safe}"'})


@router.get("/works/parts/{part_id}/code.svg")
def part_code(request: Request, part_id: str) -> Response:
    """The code of a part: its number and nothing else."""
    return Response(code_svg(part_at(ledger_of(request), part_id)[1].id), media_type="image/svg+xml")


@router.get("/works/parts/{part_id}/label.pdf")
def part_label(request: Request, part_id: str) -> Response:
    """The label of a part, for a label printer."""
    family, part = part_at(ledger_of(request), part_id)
    return _pdf(label_pdf(_label(family, part)), f"label-{part.id}.pdf")


@router.get("/works/parts/{part_id}/sheet.pdf")
def part_sheet(request: Request, part_id: str) -> Response:
    """The label of a part on A4."""
    family, part = part_at(ledger_of(request), part_id)
    return _pdf(label_sheet_pdf([_label(family, part)]), f"label-{part.id}-A4.pdf")


@router.get("/works/labels/{catalogue:path}")
def family_labels(request: Request, catalogue: str) -> Response:
    """Labels of all parts of a title that are not scrapped, on A4."""
    family = family_at(ledger_of(request), catalogue)
    labels = [_label(family, one) for one in family.parts.values() if one.state != "scrapped"]
    return _pdf(label_sheet_pdf(labels), f"labels-{family.title}.pdf")


@router.get("/works/parts/{part_id}/card.pdf")
def part_card(request: Request, part_id: str) -> Response:
    """The run card of a part that is grown."""
    return _card(request, part_id, own=True)


@router.get("/works/parts/{part_id}/next-card.pdf")
def next_card(request: Request, part_id: str) -> Response:
    """The run card of what is grown from a part next."""
    return _card(request, part_id, own=False)


def _card(request: Request, part_id: str, *, own: bool) -> Response:
    ledger = ledger_of(request)
    _, part = part_at(ledger, part_id)
    if part.kind == LACQUER if own else part.kind not in GROWS:
        raise NotThereError(f"{part.id} is a {part.kind} and has no such card; go back to its page.")
    with tempfile.TemporaryDirectory(prefix="discwright-card-") as place:
        path = Path(place) / "card.pdf"
        write_part_card(ledger, part.id, path, own=own)
        return _pdf(path.read_bytes(), f"run-card-{'' if own else 'on-'}{part.id}.pdf")
