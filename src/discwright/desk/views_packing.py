"""The packing bench: pack what is ordered and there, walk to the bins, carton after carton, labels and lists again."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from discwright.acts.dock import PREFIX, open_orders, pack_orders, packing_key, stock
from discwright.acts.loading import open_carton
from discwright.acts.packings import Packing, packing_with
from discwright.acts.people import NotAllowedError, check_may_record, hand_of
from discwright.desk import packing_papers as papers
from discwright.desk import show_packing as show
from discwright.desk.dock_pages import PackedPage, PackingPage
from discwright.desk.dock_words import ROWS, packing_href, paging, pdf, table
from discwright.desk.door import person_of
from discwright.desk.page_parts import Option
from discwright.desk.rendering import form_of, frame, go_to, remember, render
from discwright.desk.shelf import NotThereError
from discwright.desk.show_board import new_key
from discwright.desk.works_door import AtOddsError, came, ledger_of
from discwright.desk.works_time import zone_of, zone_words
from discwright.desk.yards import house, yards
from discwright.errors import CallError, DiscwrightError
from discwright.files.manifest import MANIFEST_HEADS, PICK_HEADS, pick_rows
from discwright.works.allocation import RULES, allocate
from discwright.works.gs1 import read_sscc
from discwright.works.people import may_record
from discwright.works.store.ledger import Ledger

router = APIRouter(include_in_schema=False)
Text = Annotated[str, Query(max_length=500)]
Number = Annotated[str, Query(max_length=40)]
PACKED, OPENED = "cartons_packed", "carton_opened"
#: What each rule is called on its button.
RULE_WORDS = {"date": "earliest day first", "weight": "heaviest account first", "fair": "fair shares"}
_MOST, _MOST_SHORT, _MOST_WALKS = 1_000_000, 60, 200
NOTHING = "Nothing of what is ordered stands in a bin now; see under short what is missing."


@router.get("/packing")
def bench(request: Request, rule: Text = "date", first: int = 0) -> Response:
    """What waits to be packed, what is short, and what was packed last."""
    return render(_bench(request, {"rule": rule}, first=first))


def _bench(request: Request, said: Mapping[str, str], sentence: str = "", first: int = 0) -> PackingPage:
    ledger, person = ledger_of(request), person_of(request)
    found, zone = yards(ledger), zone_of(ledger)
    rule = said.get("rule", "date") if said.get("rule", "date") in RULES else "date"
    rules = house().rules
    there = stock(found.families)
    allocation = allocate(open_orders(found.families), there, rule=rule, per_carton=rules.per_carton)
    accounts, short = show.accounts_waiting(allocation), show.short_rows(allocation)
    docks = papers.remembered(request, papers.DOCKS)
    first = min(max(0, first), _MOST)
    shown = accounts[first : first + ROWS]
    left = len(short) - _MOST_SHORT
    return PackingPage(
        frame=replace(frame(request), here="/packing"), facts=show.waiting_facts(allocation), rule=rule,
        rules=tuple(Option(f"/packing?rule={one}", RULE_WORDS[one], one == rule) for one in RULES),
        rule_words=allocation.rule_words, accounts=shown,
        paging=paging(first, len(shown), len(accounts), f"/packing?rule={rule}&first=", "accounts"),
        short=short[:_MOST_SHORT], more_short=f"and {left} more lines" if left > 0 else "",
        last=show.packing_links(found.packings, zone), may_pack=may_record(person, PACKED),
        may_any=any(one.may for one in accounts), key=new_key(), prefix=ledger.setting(PREFIX),
        dock=said.get("dock", docks["dock-default"]), countries=said.get("countries", docks["dock-countries"]),
        own=said.get("own", docks["dock-accounts"]), per_carton=said.get("per_carton", str(rules.per_carton)),
        per_bundle=said.get("per_bundle", str(rules.per_bundle)), how=_how(docks["dock-default"]), sentence=sentence,
        zone=zone_words(zone),
    )  # fmt: skip


def _how(dock: str) -> str:
    rules = house().rules
    leaves = f"dock {dock}" if dock else "no dock named"
    return f"{leaves}, {rules.per_carton} discs to a carton, {rules.per_bundle} cartons to a bundle"


@router.post("/packing/pack")
async def pack(request: Request) -> Response:
    """Pack everything, or one account; on to the packing."""
    fields = await form_of(request)
    return await run_in_threadpool(_pack, request, fields)


def _pack(request: Request, fields: dict[str, str]) -> Response:
    check_may_record(person_of(request), PACKED)
    try:
        packing = _packed(request, ledger_of(request), fields)
    except NotAllowedError:
        raise
    except DiscwrightError as why:
        words = str(why)
        said = f"{words[:1].upper()}{words[1:]}"
        return render(_bench(request, fields, said), 409 if isinstance(why, AtOddsError) else 422)
    response = go_to(request, packing_href(packing))
    for name, field in zip(papers.DOCKS, ("dock", "countries", "own"), strict=True):
        remember(response, name, papers.for_cookie(fields.get(field, "").strip()))
    return response


def _packed(request: Request, ledger: Ledger, fields: Mapping[str, str]) -> str:
    """Number of the first carton of what was packed, now or by the same press before."""
    account = fields.get("account", "")
    key = f"{fields.get('key', '')[:60]}-{hashlib.sha256(account.encode()).hexdigest()[:12]}"
    docks = papers.dock_pairs(fields.get("countries", ""), "country")
    docks |= papers.dock_pairs(fields.get("own", ""), "account")
    hand = hand_of(person_of(request), station="packing", key=key)
    try:
        if before := _under(ledger, key):
            return before
        report = pack_orders(
            ledger, hand, rule=fields.get("rule", "date"), accounts=[account] if account else (),
            prefix="".join(fields.get("prefix", "").split()), first_serial=_whole(fields, "serial_from", 0),
            docks=docks, per_carton=_whole(fields, "per_carton", house().rules.per_carton),
            per_bundle=_whole(fields, "per_bundle", house().rules.per_bundle),
            dock=" ".join(fields.get("dock", "").split())[:80], house=house(),
        )  # fmt: skip
    except CallError:
        if before := _under(ledger, key):  # the same press came twice, at once
            return before
        raise
    if not report.packed.cartons:
        raise AtOddsError(NOTHING)
    for outcome in report.outcomes:
        came(outcome)
    return report.packed.cartons[0].key


def _under(ledger: Ledger, key: str) -> str:
    """Number of a carton that was packed under a key; empty where none was."""
    line = ledger.keyed(packing_key(key))
    return min(str(one["sscc"]) for one in line.data["cartons"]) if line is not None else ""


def _whole(fields: Mapping[str, str], name: str, usual: int) -> int:
    text = fields.get(name, "").strip()
    if not text:
        return usual
    if not text.isdecimal() or not text.isascii() or len(text) > 16:
        raise CallError(f"“{text[:20]}” is no whole number; write digits alone, such as 25.")
    return int(text)


# A packing ---------------------------------------------------------------------------------------------


def packing_at(ledger: Ledger, number: str) -> tuple[Packing, int]:
    """The packing of a carton or a bundle, as an address has it, and which carton of it that is.

    Parameters
    ----------
    ledger : Ledger
    number : str

    Raises
    ------
    NotThereError
        If no carton has this number.
    """
    try:
        return packing_with(yards(ledger).packings, number)
    except CallError as why:
        raise NotThereError(str(why)) from None


@router.get("/packing/find")
def find(request: Request, code: Text = "", packing: Number = "", at: int = 0) -> Response:
    """The carton whose label was scanned; the next one where nothing was."""
    ledger = ledger_of(request)
    if not code.strip() and packing:
        found, _ = packing_at(ledger, packing)
        return go_to(request, packing_href(found.id, min(max(0, at) + 1, len(found.kept))))
    try:
        found, number = packing_at(ledger, read_sscc(code))
    except (CallError, NotThereError) as why:
        words = str(why)
        sentence = f"{words[:1].upper()}{words[1:]}"
        if not packing:
            return render(_bench(request, {}, sentence), 404)
        return render(_packing(request, packing_at(ledger, packing)[0], at, sentence), 404)
    return go_to(request, packing_href(found.id, number))


@router.get("/packing/{packing}")
def packed(request: Request, packing: str, carton: int = 0, first: int = 0, walks: Text = "") -> Response:
    """One packing, or one of its cartons large; all walks where they are asked for."""
    found, _ = packing_at(ledger_of(request), packing)
    return render(_packing(request, found, carton, first=first, most=_MOST if walks == "all" else _MOST_WALKS))


def _packing(
    request: Request, found: Packing, carton: int, sentence: str = "", *, first: int = 0, most: int = 0
) -> PackedPage:
    ledger, person = ledger_of(request), person_of(request)
    zone, printer = zone_of(ledger), papers.printer_of(request)
    cartons = found.packed.cartons
    card = cartons[carton - 1] if 0 < carton <= len(cartons) else None
    may_open = may_record(person, OPENED)
    first, rows, walks = min(max(0, first), _MOST), show.carton_rows(found), show.walk_rows(found)
    shown, left = rows[first : first + ROWS], len(walks) - most if most else 0
    return PackedPage(
        frame=frame(request), id=found.id, facts=show.packing_facts(found, house(), zone),
        badge=show.packing_badge(found),
        card=show.carton_card(found, card, house(), may_open=may_open) if card is not None else None,
        walks=walks[: most or _MOST_WALKS], more_walks=f"All {len(walks)} walks" if left > 0 else "",
        walks_href=f"/packing/{found.id}?walks=all#walks", cartons=shown,
        paging=paging(first, len(shown), len(rows), f"/packing/{found.id}?first=", "cartons"),
        labels=papers.label_links(found), papers=printer.papers(), dpi=printer.dpi,
        sender=printer.sender, sentence=sentence, zone=zone_words(zone),
    )  # fmt: skip


@router.post("/packing/open")
async def open_again(request: Request) -> Response:
    """Open a carton that is still here; its discs go back into a bin, and its order waits again."""
    fields = await form_of(request)

    def do_it() -> str:
        person, ledger = person_of(request), ledger_of(request)
        check_may_record(person, OPENED)
        hand = hand_of(person, station="packing", key=fields.get("key", ""))
        came(open_carton(ledger, fields.get("sscc", ""), fields.get("bin", "")[:80], hand))
        found, number = packing_at(ledger, read_sscc(fields.get("sscc", "")))
        return packing_href(found.id, number)

    return go_to(request, await run_in_threadpool(do_it))


# Papers ------------------------------------------------------------------------------------------------


@router.post("/packing/printer")
async def choose_printer(request: Request) -> Response:
    """This device prints labels on that paper."""
    fields = await form_of(request)
    chosen = papers.Printer(*(fields.get(name, "").strip() for name in ("page", "dpi", "sender")))
    chosen.order(house())
    response = go_to(request, packing_href(packing_at(ledger_of(request), fields.get("packing", ""))[0].id))
    for name, text in zip(papers.PRINTER, (chosen.page, chosen.dpi, chosen.sender), strict=True):
        remember(response, name, papers.for_cookie(text))
    return response


@router.get("/packing/{packing}/labels.pdf")
def labels(request: Request, packing: str, carton: int = 0, first: int = 0) -> Response:
    """Labels of a packing, or of one carton, as often as they are wanted."""
    found, _ = packing_at(ledger_of(request), packing)
    if not 0 <= carton <= len(found.kept) or not 0 <= first < len(found.kept):
        raise NotThereError("this packing has no such carton; go back to its list.")
    name = f"label-{found.kept[carton - 1].carton.sscc}.pdf" if carton else f"labels-{found.id}.pdf"
    return pdf(papers.labels(found, papers.printer_of(request), house(), carton=carton, first=first), name)


@router.get("/packing/{packing}/manifest.csv")
def manifest(request: Request, packing: str) -> Response:
    """What goes with the cartons, a line for each."""
    found, _ = packing_at(ledger_of(request), packing)
    return table(f"manifest-{found.id}.csv", MANIFEST_HEADS, papers.manifest(found, house()))


@router.get("/packing/{packing}/pick-list.csv")
def pick_list(request: Request, packing: str) -> Response:
    """What to take from which bin, in bin order."""
    found, _ = packing_at(ledger_of(request), packing)
    return table(f"pick-list-{found.id}.csv", PICK_HEADS, pick_rows(found.packed))
