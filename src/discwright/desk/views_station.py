"""The station: scan, confirm with one press, undo. For a tablet and for gloves; without script as well."""

from __future__ import annotations

from datetime import datetime
from urllib.parse import quote, unquote, urlencode

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response
from starlette.concurrency import run_in_threadpool

from discwright.acts.people import check_may_correct, hand_of
from discwright.acts.works_record import correct
from discwright.desk.api_shapes import desk_of
from discwright.desk.dock_words import carton_href, scanned_carton
from discwright.desk.door import person_of
from discwright.desk.rendering import form_of, frame, go_to, remember, render
from discwright.desk.run_words import run_href
from discwright.desk.shelf import NotThereError
from discwright.desk.show_board import new_key
from discwright.desk.show_station import (
    done_line,
    entry_fields,
    no_step,
    station_options,
    station_part,
    step_buttons,
    step_words,
)
from discwright.desk.station_parts import CodeRow, DoneLine, StationPart, StepButton
from discwright.desk.stations import DEFAULT, Station, station
from discwright.desk.works_door import AtOddsError, ledger_of, part_at, run_at, take_step
from discwright.desk.works_pages import EntryPage, NoLedgerPage, ScannerPage, StationPage
from discwright.desk.works_time import now_stamp
from discwright.errors import CallError, DiscwrightError
from discwright.findings import Finding
from discwright.works.events import EVENTS
from discwright.works.parts import RUN, is_number_of, part_number
from discwright.works.people import RECORD, Person, may, may_correct
from discwright.works.possible import GROW
from discwright.works.scanning import Scan, codes, read_scan
from discwright.works.store.ledger import Ledger, Outcome

router = APIRouter(include_in_schema=False)
#: What a scanner is known to add has no more letters than this.
_MOST_ADDED = 20
REASON = "undone at the station"


@router.get("/station")
def station_page(request: Request, code: str = "", done: str = "", refused: str = "", again: bool = False) -> Response:
    """A field for the next code; below it the part that was scanned and what can be done with it."""
    desk, person = desk_of(request), person_of(request)
    if desk.books is None or desk.books.present is None:
        return render(NoLedgerPage(frame(request), desk.is_open and may(person, RECORD)))
    ledger, here = ledger_of(request), station_of(request)
    scan = scanned(request, code) if code.strip() else None
    sentence = scan.sentence if scan is not None else ""
    if scan is not None and not scan.number and (sscc := scanned_carton(code)):
        return go_to(request, carton_href(sscc))
    part: StationPart | None = None
    steps: tuple[StepButton, ...] = ()
    nothing = ""
    if scan is not None and is_number_of(RUN, scan.number):
        try:
            _, run = run_at(ledger, scan.number)
            return go_to(request, f"{run_href(run.id)}{f'?done={done}' if done.isdecimal() else ''}")
        except NotThereError as why:
            sentence = _sentence(why)
    elif scan is not None and scan.number:
        try:
            family, found = part_at(ledger, scan.number)
            part = station_part(family, found, here)
            steps = step_buttons(family, found, here, person, now_stamp(ledger))
            nothing = "" if steps else no_step(family, found, here, person, now_stamp(ledger))
        except NotThereError as why:
            sentence = _sentence(why)
    if refused and not sentence:
        sentence = "Nothing was written: what speaks against it stands below."
    page = StationPage(
        frame(request), person.name, station_options(here), here.words, part, steps,
        done_of(ledger, person, done, again), sentence, nothing,
    )  # fmt: skip
    return render(page, 404 if sentence and part is None and scan is not None and scan.number else 200)


def _sentence(why: Exception) -> str:
    words = str(why)
    return f"{words[:1].upper()}{words[1:]}"


def station_of(request: Request) -> Station:
    """The station that was chosen on this device."""
    return station(request.cookies.get("station", DEFAULT))


def scanned(request: Request, code: str) -> Scan:
    """What was scanned on this device, without what its scanner is known to add."""
    prefix, suffix = added_by(request)
    return read_scan(code, prefix, suffix)


def added_by(request: Request) -> tuple[str, str]:
    """What this device's scanner puts before and after a code."""
    before, after = (unquote(request.cookies.get(name, "")) for name in ("scan-prefix", "scan-suffix"))
    return before[:_MOST_ADDED], after[:_MOST_ADDED]


def done_of(ledger: Ledger, person: Person, seq: str, again: bool) -> DoneLine | None:
    """What a step left in the ledger; None where the address names no line."""
    line = ledger.line(int(seq)) if seq.isdecimal() and len(seq) < 15 else None
    if line is None:
        return None
    family = ledger.family(line.title)
    later = ledger.lines(title=line.title, after=line.seq)
    undone = any(one.kind == "corrected" and one.data.get("seq") == line.seq for one in later)
    undoable = line.kind != "corrected" and not undone and may_correct(person, line, ledger.clock())
    found = [Finding(**one) for one in family.findings if one.get("seq") == line.seq]
    behind = datetime.fromisoformat(line.at) - datetime.fromisoformat(line.clock or line.at)
    return done_line(line, undoable, again, behind.total_seconds(), found)


@router.post("/station/choose")
async def choose(request: Request) -> Response:
    """This device stands at that station."""
    fields = await form_of(request)
    chosen = station(fields.get("station", ""))
    query = f"?{urlencode({'code': fields['code']})}" if fields.get("code") else ""
    return remember(go_to(request, f"/station{query}"), "station", chosen.id)


@router.get("/station/say")
def say(request: Request, code: str = "", kind: str = "") -> Response:
    """Everything that can be said of one step."""
    return render(_entry(request, code, kind, {}, ""))


def _entry(request: Request, code: str, kind: str, said: dict[str, str], sentence: str) -> EntryPage:
    ledger, here, person = ledger_of(request), station_of(request), person_of(request)
    family, part = part_at(ledger, code)
    if kind != GROW and (kind not in EVENTS or not EVENTS[kind].recordable):
        raise CallError("there is no such step; scan the part again.")
    return EntryPage(
        frame(request), person.name, station_part(family, part, here), kind, step_words(kind, part),
        said.get("key") or new_key(), entry_fields(kind, said), sentence, said.get("accepted", ""),
    )  # fmt: skip


@router.post("/station/do")
async def do(request: Request) -> Response:
    """Take a step; the answer is the station again, or what came of it for its script."""
    fields = await form_of(request)
    fields.setdefault("station", station_of(request).id)
    return await run_in_threadpool(_do, request, fields)


def _do(request: Request, fields: dict[str, str]) -> Response:
    ledger = ledger_of(request)
    try:
        outcome = take_step(request, ledger, fields)
    except DiscwrightError as why:
        if _for_script(request) or "say" not in fields:
            return _refusal(request, why)
        return render(_entry(request, fields.get("part", ""), fields.get("kind", ""), fields, _sentence(why)), 422)
    return _came_of(request, fields.get("part", ""), fields.get("kind", ""), outcome)


def _refusal(request: Request, why: DiscwrightError) -> Response:
    """For the script with a status that says whether to send it again; the page's own way otherwise."""
    if _for_script(request) and isinstance(why, AtOddsError):
        return JSONResponse({"sentence": _sentence(why), "again": True}, 409)
    raise why


def _for_script(request: Request) -> bool:
    return "application/json" in request.headers.get("accept", "")


def _came_of(request: Request, part: str, kind: str, outcome: Outcome) -> Response:
    """Back to the station with the part still there, and what was done told above it."""
    if outcome.line is None:
        place = f"/station?{urlencode({'code': part, 'refused': kind})}"
        if _for_script(request):
            sentence = " ".join(one.remedy for one in outcome.findings if one.severity == "stop" and not one.accepted)
            return JSONResponse({"sentence": f"Nothing was written. {sentence}", "again": False, "go": place}, 409)
        return go_to(request, place)
    seq = str(outcome.line.seq)
    place = f"/station?{urlencode({'code': part, 'done': seq} | ({'again': 'true'} if outcome.repeated else {}))}"
    if _for_script(request):
        return JSONResponse({"sentence": "", "go": place, "seq": outcome.line.seq, "repeated": outcome.repeated})
    return go_to(request, place)


@router.post("/station/undo")
async def undo(request: Request) -> Response:
    """Undo a line by a correction; the line stays, and is told to be undone."""
    fields = await form_of(request)

    def do_it() -> Response:
        ledger, person, seq = ledger_of(request), person_of(request), fields.get("seq", "")
        if not seq.isdecimal() or len(seq) > 15:
            raise CallError("there is no such line; scan the part again.")
        check_may_correct(ledger, person, int(seq))
        hand = hand_of(person, station=station_of(request).id, key=fields.get("key", ""))
        outcome = correct(ledger, int(seq), REASON, hand)
        if outcome.line is None:
            sentence = " ".join(one.remedy for one in outcome.findings if one.severity == "stop")
            raise AtOddsError(f"Nothing was undone. {sentence}")
        return _came_of(request, fields.get("part") or outcome.line.part, "undo", outcome)

    return await run_in_threadpool(do_it)


# Scanners ----------------------------------------------------------------------------------------------


@router.get("/station/scanner")
def scanner(request: Request, arrived: str = "") -> Response:
    """Try a scanner: what it sent, character by character, and what was understood."""
    prefix, suffix = added_by(request)
    scan = read_scan(arrived, prefix, suffix) if arrived else None
    rows = tuple(CodeRow(one.shown, one.code, one.name) for one in codes(arrived))
    before, after = (scan.before[-_MOST_ADDED:], scan.after[:_MOST_ADDED]) if scan else ("", "")
    page = ScannerPage(
        frame(request), rows, _understood(scan), scan.number if scan else "", quote(before), quote(after),
        _named(before), _named(after), _named(prefix), _named(suffix), part_number("stamper", 1042),
    )  # fmt: skip
    return render(page)


def _understood(scan: Scan | None) -> str:
    if scan is None:
        return ""
    if not scan.number:
        return scan.sentence
    how = f", from a {scan.symbology}" if scan.symbology else ""
    keys = f"; the computer believes to have a {scan.keyboard} keyboard, which does no harm" if scan.keyboard else ""
    return f"{scan.number}{how}{keys}."


def _named(text: str) -> str:
    return " ".join(one.shown for one in codes(text))


@router.post("/station/scanner")
async def keep_scanner(request: Request) -> Response:
    """Remember on this device what its scanner adds, or forget it."""
    fields = await form_of(request)
    answer = go_to(request, "/station/scanner")
    for name in ("prefix", "suffix"):
        remember(answer, f"scan-{name}", quote(unquote(fields.get(name, ""))[:_MOST_ADDED]))
    return answer
