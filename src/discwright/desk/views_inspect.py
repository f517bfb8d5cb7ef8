"""The pages of test plays: a capture held against the programme, what was found, and what is written of it."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import FileResponse, Response
from starlette.concurrency import run_in_threadpool

from discwright.acts.people import check_may_record, hand_of
from discwright.acts.test_play import judge, keep_play, lay_over
from discwright.desk import show_play as show
from discwright.desk import show_plays as lists
from discwright.desk.api_shapes import desk_of, words_of
from discwright.desk.door import person_of
from discwright.desk.inspect_pages import OverPage, PlayPage
from discwright.desk.jobs import Job
from discwright.desk.orders import order_preparation
from discwright.desk.orders_play import begin_play, job_of, order_play, plan_with
from discwright.desk.page_parts import JobRow, Option
from discwright.desk.plays import FILES, Play
from discwright.desk.rendering import form_of, frame, go_to, render
from discwright.desk.shelf import KeptPlan, NotThereError
from discwright.desk.show_board import part_href, title_href
from discwright.desk.show_side import finding_rows
from discwright.desk.state import Desk
from discwright.desk.views_desk import row_of
from discwright.desk.views_side import TYPES
from discwright.desk.views_title import begun
from discwright.desk.works_door import AtOddsError, came, ledger_of, part_at
from discwright.desk.works_parts import Badge
from discwright.desk.works_time import at_words, now_stamp, zone_of
from discwright.errors import CallError
from discwright.works.people import PLAN, may
from discwright.works.store.ledger import Outcome

router = APIRouter(include_in_schema=False)
_SOUND = {".flac": "audio/flac"}
_NO_PLAN = "The plan this side was cut from is not in this folder, so there is no map of it."


@router.post("/plays")
async def begin(request: Request) -> Response:
    """Hold a capture that has arrived against the programme."""
    fields, desk = await form_of(request), desk_of(request)

    def order() -> tuple[Play, Job]:
        person, ledger = person_of(request), ledger_of(request)
        check_may_record(person, "test_played")
        family, part = part_at(ledger, fields.get("part", ""))
        if not fields.get("upload"):
            raise CallError("no capture was chosen; drop one, or choose a file.")
        return begin_play(
            desk.folder, family, part, fields["upload"], tip=fields.get("tip", ""), pressing=fields.get("pressing", ""),
            by=person.name, at=now_stamp(ledger),
        )  # fmt: skip

    play, job = await run_in_threadpool(order)
    return begun(request, desk, job, f"/plays/{play.id}")


@router.get("/plays")
def over(request: Request, line: Annotated[list[int] | None, Query(max_length=60)] = None) -> Response:
    """Plays of one side laid over one another."""
    desk, ledger, words = desk_of(request), ledger_of(request), words_of(request)
    seqs = [one for one in line or [] if 0 < one < 1 << 53]
    laid = lay_over(ledger, seqs)
    zone = zone_of(ledger)
    plan = _plan_of(desk, laid.family.lacquer(laid.plays[0].part).fingerprint)
    opened = desk.folder.plans.get(plan.id) if plan is not None else None
    page = OverPage(
        frame=frame(request), title=f"{laid.family.title} {laid.family.name}".strip(),
        title_href=title_href(laid.family.title), side=laid.side, edition=laid.edition, plan=plan.id if plan else "",
        plays=lists.laid_rows(desk, laid, zone), spots=lists.spot_rows(laid, opened, words),
        counts=lists.over_counts(laid), window=f"{laid.window_deg:.1f}°",
        side_plays=lists.side_plays(desk, ledger, laid.family, laid.edition, laid.side, zone, seqs),
        no_map="" if plan is not None else _NO_PLAN,
    )  # fmt: skip
    return render(page)


def _plan_of(desk: Desk, fingerprint: str) -> KeptPlan | None:
    return plan_with(desk.folder.shelf, fingerprint) if desk.is_open else None


@router.get("/plays/{play}")
def play_page(request: Request, play: str) -> Response:
    """One play: verdict, measures, findings, faults on the map and in a table, each to be heard."""
    desk, person, ledger, words = desk_of(request), person_of(request), ledger_of(request), words_of(request)
    found = desk.folder.plays.get(play)
    about, report, zone = found.about, found.report(), zone_of(ledger)
    family, part = part_at(ledger, about.part)
    plan = _plan_of(desk, about.fingerprint)
    seq = lists.kept_line(ledger, family, found)
    shown = report or {"verdict": "", "measures": {}, "defects": [], "findings": []}
    page = PlayPage(
        frame=frame(request), id=found.id, part=part.id, part_href=part_href(part.id),
        title=f"{family.title} {family.name}".strip(), title_href=title_href(family.title), side=part.side,
        edition=part.edition, pressing=about.pressing, capture=about.capture,
        sent=f"{at_words(about.at, zone)} {f'by {about.by}' if about.by else ''}".strip(),
        plan=plan.id if plan is not None else "", plan_href=f"/plans/{plan.id}" if plan is not None else "",
        done=bool(report), jobs=_jobs(desk, found, plan),
        verdict=show.verdict_badge(shown) if report else Badge("waiting", "not inspected yet"),
        sentence=show.verdict_sentence(shown) if report else "", reference=str(shown.get("reference", "")),
        facts=show.play_facts(shown), measures=show.measure_rows(shown, words), response=show.response_rows(shown),
        findings=finding_rows(shown["findings"], {}, words, offers=False), kinds=show.kind_rows(shown),
        faults=show.fault_rows(shown, words), left_out=show.left_out(shown),
        picture=(found.result / "inspect.png").is_file(), files=_files(found),
        line=str(seq or ""), line_href=f"{part_href(part.id)}#line-{seq}" if seq else "",
        judges=lists.judge_forms(family, part, person, now_stamp(ledger), report, bool(seq)),
        may_again=may(person, PLAN) and not found.kept and found.capture is not None and plan is not None,
        may_drop=may(person, PLAN) and not seq,
        tips=lists.play_tips(plan, about.tip) if plan is not None else (),
        side_plays=lists.side_plays(
            desk, ledger, family, part.edition, part.side, zone, [seq] if seq else []
        ),
        no_map="" if plan is not None else _NO_PLAN,
    )  # fmt: skip
    return render(page)


def _jobs(desk: Desk, play: Play, plan: KeptPlan | None) -> tuple[JobRow, ...]:
    """What inspects it, or why that failed; and what makes the map ready."""
    own = job_of(desk.folder, play)
    ready = order_preparation(desk.folder, plan) if plan is not None else None
    told = [own] if own is not None and own.state != "done" else []
    told += [ready] if ready is not None and not ready.ended else []
    return tuple(row_of(desk, one) for one in told)


def _files(play: Play) -> tuple[Option, ...]:
    return tuple(Option(f"/plays/{play.id}/files/{name}", name) for name in FILES if (play.result / name).is_file())


@router.get("/plays/{play}/files/{name}")
def play_file(request: Request, play: str, name: str) -> Response:
    """One of the files of a play."""
    found = desk_of(request).folder.plays.get(play)
    path = found.result / name if name in FILES else None
    if path is None or not path.is_file() or path.is_symlink():
        raise NotThereError("this play has no such file, or no longer; look at its list of files.")
    types = TYPES | _SOUND
    shown = "inline" if path.suffix in (".png", ".json") else "attachment"
    return FileResponse(
        path, media_type=types[path.suffix], filename=f"{found.about.part}-{name}", content_disposition_type=shown,
        headers={"Cache-Control": "private, no-cache"},
    )  # fmt: skip


@router.post("/plays/{play}/again")
async def again(request: Request, play: str) -> Response:
    """Inspect it once more: with another tip, or where it failed."""
    fields, desk = await form_of(request), desk_of(request)

    def order() -> Job:
        check_may_record(person_of(request), "test_played")
        return order_play(desk.folder, desk.folder.plays.get(play), fields.get("tip", ""))

    return begun(request, desk, await run_in_threadpool(order), f"/plays/{play}")


@router.post("/plays/{play}/drop")
def drop(request: Request, play: str) -> Response:
    """Throw a play away that is not in the ledger."""
    desk, ledger = desk_of(request), ledger_of(request)
    found = desk.folder.plays.get(play)
    family, part = part_at(ledger, found.about.part)
    if lists.kept_line(ledger, family, found):
        raise CallError("this play stands in the ledger; undo that line first, at the station or by a keeper.")
    job = job_of(desk.folder, found)
    if job is not None and not job.ended:
        desk.folder.jobs.stop(job.id)
    desk.folder.plays.drop(found)
    return go_to(request, part_href(part.id))


# The ledger --------------------------------------------------------------------------------------------


@router.post("/plays/{play}/keep")
async def keep(request: Request, play: str) -> Response:
    """Write the play into the ledger."""
    return await _written(request, play, "test_played")


@router.post("/plays/{play}/approve")
async def approve(request: Request, play: str) -> Response:
    """Approve the part that was played."""
    return await _written(request, play, "approved")


@router.post("/plays/{play}/refuse")
async def refuse(request: Request, play: str) -> Response:
    """Refuse the part that was played."""
    return await _written(request, play, "refused")


async def _written(request: Request, play: str, kind: str) -> Response:
    fields, desk = await form_of(request), desk_of(request)

    def do_it() -> None:
        person, ledger = person_of(request), ledger_of(request)
        check_may_record(person, kind)
        found = desk.folder.plays.get(play)
        report = found.report()
        if not report:
            raise AtOddsError("this play was not inspected yet; wait for its job, or play it once more.")
        family, part = part_at(ledger, found.about.part)
        hand = hand_of(person, station="desk", key=fields.get("key", ""), accepted=fields.get("accepted", ""))
        reason = " ".join(fields.get("reason", "").split())
        seq = lists.kept_line(ledger, family, found)
        outcome: Outcome
        if kind == "test_played":
            if seq and ledger.line(seq).key != hand.key:  # type: ignore[union-attr]
                raise AtOddsError(f"this play was kept already, as line {seq}; load the page again.")
            outcome = keep_play(
                ledger, part, report, hand, pressing=found.about.pressing, kept_as=found.name, note=reason
            )
        else:
            if not seq:
                raise AtOddsError("a play is kept before its part is judged by it; keep it first.")
            outcome = judge(ledger, part, kind == "approved", reason, hand, heard=str(report["verdict"]))
        line = came(outcome).line
        if kind == "test_played" and line is not None:
            desk.folder.plays.note_kept(found, line.seq)

    await run_in_threadpool(do_it)
    return go_to(request, f"/plays/{play}")
