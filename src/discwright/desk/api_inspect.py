"""JSON about test plays: what lies here, their reports, and what can be heard of them."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, StringConstraints

from discwright.acts.people import check_may_record
from discwright.desk.api_plans import ClipFacts
from discwright.desk.api_shapes import REFUSALS, JobAnswer, desk_of
from discwright.desk.door import person_of
from discwright.desk.orders_play import begin_play
from discwright.desk.play_clips import VERSIONS, stretch_at, wav_of
from discwright.desk.plays import Play
from discwright.desk.shelf import NotThereError
from discwright.desk.show_play import number_of
from discwright.desk.works_door import ledger_of, part_at
from discwright.desk.works_time import now_stamp

router = APIRouter(prefix="/api/plays", tags=["plays"], responses=REFUSALS)
Second = Annotated[float, Query(ge=-60, le=36_000, allow_inf_nan=False)]
Frame = Annotated[int, Query(ge=0, le=1 << 40)]
Name = Annotated[str, StringConstraints(max_length=100)]


class KeptPlayFacts(BaseModel):
    """A play that lies here; `verdict` is empty until it was inspected, `line` is 0 until it was kept."""

    play: str
    part: str
    title: str
    edition: str
    side: str
    pressing: str
    capture: str
    by: str
    at: str
    verdict: str
    defects: int
    line: int


class PlayClips(BaseModel):
    """What can be heard of a fault: clips of one length that begin at one sample."""

    start_s: float
    seconds: float
    sample_rate_hz: int
    matched_db: float
    clips: list[ClipFacts]


class WantedPlay(BaseModel):
    """A capture that has arrived, of a part; `tip` is the plan's own where it is empty."""

    model_config = ConfigDict(extra="forbid")
    part: Name
    upload: Name
    tip: Name = ""
    pressing: Name = ""


class BegunPlay(JobAnswer):
    """The play that was begun, and its job."""

    play: str


@router.get("")
def plays(request: Request) -> list[KeptPlayFacts]:
    """The plays that lie here, newest first."""
    return [_facts(one) for one in desk_of(request).folder.plays.all()]


def _facts(play: Play) -> KeptPlayFacts:
    about, report = play.about, play.report()
    return KeptPlayFacts(
        play=play.id, part=about.part, title=about.title, edition=about.edition, side=about.side,
        pressing=about.pressing, capture=about.capture, by=about.by, at=about.at,
        verdict=str(report.get("verdict", "")), defects=len(report.get("defects", ())), line=play.kept,
    )  # fmt: skip


@router.post("", status_code=202)
def begin(request: Request, wanted: WantedPlay) -> BegunPlay:
    """Hold a capture against the programme its part was cut from."""
    desk, person, ledger = desk_of(request), person_of(request), ledger_of(request)
    check_may_record(person, "test_played")
    family, part = part_at(ledger, wanted.part)
    play, job = begin_play(
        desk.folder, family, part, wanted.upload, tip=wanted.tip, pressing=wanted.pressing, by=person.name,
        at=now_stamp(ledger),
    )  # fmt: skip
    return BegunPlay(play=play.id, job=JobAnswer.of(desk, job).job)


@router.get("/{play}")
def report(request: Request, play: str) -> dict[str, Any]:
    """What was found, as `inspect --json` prints it."""
    told = desk_of(request).folder.plays.get(play).report()
    if not told:
        raise NotThereError("this play was not inspected yet; look at its job.")
    return told


@router.get("/{play}/clips")
def clips(
    request: Request, play: str, at_s: Second, lasts_s: Annotated[float, Query(ge=0, le=3600)] = 0.0
) -> PlayClips:
    """What can be heard about a moment of a play; the capture is brought to the loudness of the programme."""
    found = desk_of(request).folder.plays.get(play)
    part = stretch_at(found, at_s, lasts_s)
    place = f"/api/plays/{found.id}/clips"
    urls = {one: f"{place}/{one}.wav?frame={part.first}&frames={part.frames}" for one in VERSIONS}
    played_db = number_of(found.report().get("measures", {}).get("level_db")) or 0.0
    return PlayClips(
        start_s=part.start, seconds=part.frames / part.sample_rate, sample_rate_hz=part.sample_rate,
        matched_db=round(-played_db, 2) + 0.0,
        clips=[ClipFacts(version=one, words=one, url=urls[one]) for one in VERSIONS],
    )  # fmt: skip


@router.get(
    "/{play}/clips/{version}.wav",
    response_class=Response,
    responses={200: {"content": {"audio/wav": {}}, "description": "24 bits, as long as its fellows."}},
)
def clip(request: Request, play: str, version: str, frame: Frame, frames: Frame) -> Response:
    """One version of a stretch of a play."""
    made = wav_of(desk_of(request).folder.plays.get(play), version, frame, frames)
    return Response(made, media_type="audio/wav", headers={"Cache-Control": "private, max-age=60"})
