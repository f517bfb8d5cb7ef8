"""JSON about plans: what they are, what stands where, tiles, strips, clips, bookmarks."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, ConfigDict, Field

from discwright.acts.what_if import Changes
from discwright.desk.api_shapes import REFUSALS, JobAnswer, desk_of, words_of
from discwright.desk.listening import VERSIONS
from discwright.desk.looking import PlaceFacts, RulerFacts, TimeFacts, ViewFacts, describe, look_at, look_up, measure
from discwright.desk.map_facts import MapFacts, map_facts
from discwright.desk.opened import OpenPlan
from discwright.desk.orders import order_what_if
from discwright.desk.strip import StripFacts, strip
from discwright.findings import Severity

router = APIRouter(prefix="/api/plans/{plan}", tags=["plans"], responses=REFUSALS)
#: Microns that fit a disc many times over: beyond these nothing is meant.
Micron = Annotated[float, Query(ge=-1e6, le=1e6, allow_inf_nan=False)]
Size = Annotated[float, Query(gt=0, le=1e7, allow_inf_nan=False)]
Second = Annotated[float, Query(ge=-3600, le=36_000, allow_inf_nan=False)]
MICRO = 1e-6


class FindingFacts(BaseModel):
    """One finding, as in `plan.json`."""

    model_config = ConfigDict(extra="allow")
    code: str
    severity: Severity
    time_s: float | None
    band: int | None
    turn: float | None
    radius_mm: float | None
    value: float
    limit: float
    unit: str
    remedy: str


class ClipFacts(BaseModel):
    """One version of a spot."""

    version: str
    words: str
    url: str


class ClipsFacts(BaseModel):
    """What can be heard of a spot: clips of one length that begin at one sample."""

    start_s: float
    seconds: float
    sample_rate_hz: int
    matched_db: float
    tip: str
    clips: list[ClipFacts]


class WantedChanges(BaseModel):
    """What is to be otherwise; whatever is left out stays as the plan was made."""

    model_config = ConfigDict(extra="forbid")
    level_db: float | None = Field(None, allow_inf_nan=False)
    fit: str | None = Field(None, max_length=10)
    format: str | None = Field(None, max_length=60)
    lathe: str | None = Field(None, max_length=60)
    head: str | None = Field(None, max_length=60)
    cutting_tip: str | None = Field(None, max_length=60)
    tip: str | None = Field(None, max_length=60)
    practice: str | None = Field(None, max_length=60)
    treatments: list[dict[str, str | float]] | None = Field(None, max_length=8)
    ladder: bool = False


def _plan(request: Request, id_: str) -> OpenPlan:
    return desk_of(request).folder.plans.get(id_)


@router.get("")
def plan_json(request: Request, plan: str) -> dict[str, Any]:
    """Everything `plan.json` holds."""
    return _plan(request, plan).plan.document


@router.get("/findings")
def findings(request: Request, plan: str) -> list[FindingFacts]:
    """Findings, stops first."""
    return [FindingFacts(**one) for one in _plan(request, plan).plan.document["findings"]]


@router.get("/map")
def disc_map(request: Request, plan: str) -> MapFacts:
    """Size and levels of the disc map, layers, bands and marks."""
    return map_facts(_plan(request, plan), words_of(request))


@router.get(
    "/tiles/{layer}/{level}/{column}/{row}.png",
    response_class=Response,
    responses={200: {"content": {"image/png": {}}, "description": "256 by 256 pixels, fewer at the coarsest levels."}},
)
def tile(request: Request, plan: str, layer: str, level: int, column: int, row: int) -> Response:
    """One tile of the disc map."""
    picture = _plan(request, plan).picture
    # A plan never changes under its id but by being planned anew: then it has another fingerprint, asked each time.
    key = f'"{_plan(request, plan).plan.cache_key}-{layer}-{level}-{column}-{row}"'
    if request.headers.get("if-none-match") == key:
        return Response(status_code=304, headers={"ETag": key, "Cache-Control": "private, max-age=60"})
    image = picture.png(level, column, row, layer)
    return Response(image, media_type="image/png", headers={"ETag": key, "Cache-Control": "private, max-age=60"})


@router.get("/place")
def place(request: Request, plan: str, x_um: Micron, y_um: Micron) -> PlaceFacts:
    """What stands at a place: x to the right and y down from the disc's centre."""
    return look_at(_plan(request, plan), x_um * MICRO, y_um * MICRO, words_of(request))


@router.get("/time")
def moment(request: Request, plan: str, at_s: Second) -> TimeFacts:
    """Where a moment lies on the disc."""
    return look_up(_plan(request, plan), at_s, words_of(request))


@router.get("/ruler")
def ruler(request: Request, plan: str, x1_um: Micron, y1_um: Micron, x2_um: Micron, y2_um: Micron) -> RulerFacts:
    """How far two places lie apart."""
    first, second = (x1_um * MICRO, y1_um * MICRO), (x2_um * MICRO, y2_um * MICRO)
    return measure(_plan(request, plan), first, second, words_of(request))


@router.get("/view")
def view(request: Request, plan: str, x_um: Micron, y_um: Micron, wide_um: Size, high_um: Size) -> ViewFacts:
    """The text twin of what is in view."""
    opened = _plan(request, plan)
    return describe(opened, x_um * MICRO, y_um * MICRO, wide_um * MICRO, high_um * MICRO, words_of(request))


@router.get("/strip")
def side_strip(
    request: Request, plan: str, from_s: Second | None = None, to_s: Second | None = None,
    points: Annotated[int, Query(ge=16, le=8192)] = 1200,
) -> StripFacts:  # fmt: skip
    """The side against time."""
    return strip(_plan(request, plan), from_s, to_s, points, words_of(request))


@router.get("/clips")
def clips(
    request: Request, plan: str, at_s: Second, tip: Annotated[str | None, Query(max_length=60)] = None
) -> ClipsFacts:
    """What can be heard of a spot."""
    opened = _plan(request, plan)
    made = desk_of(request).folder.listening.clips(opened, at_s, tip)
    name = tip or opened.setup.tip.name
    words = {"programme": "programme", "proof": f"proof, {name}", "difference": "difference"}
    place = f"/api/plans/{opened.plan.id}/clips"
    urls = {one: f"{place}/{one}.wav?frame={made.first}&tip={name}" for one in VERSIONS}
    return ClipsFacts(
        start_s=made.start, seconds=made.seconds, sample_rate_hz=made.sample_rate,
        matched_db=round(made.matched_db, 2) + 0.0, tip=name,
        clips=[ClipFacts(version=one, words=words[one], url=urls[one]) for one in VERSIONS],
    )  # fmt: skip


@router.get(
    "/clips/{version}.wav",
    response_class=Response,
    responses={200: {"content": {"audio/wav": {}}, "description": "24 bits, as long as its fellows."}},
)
def clip(
    request: Request, plan: str, version: str, frame: Annotated[int, Query(ge=0, le=1 << 40)],
    tip: Annotated[str | None, Query(max_length=60)] = None,
) -> Response:  # fmt: skip
    """One version of a spot, from a frame of the side on."""
    opened = _plan(request, plan)
    made = desk_of(request).folder.listening.clips(opened, frame / opened.sample_rate, tip)
    return Response(made.wav(version), media_type="audio/wav", headers={"Cache-Control": "private, max-age=60"})


@router.post("/what-ifs", status_code=202)
def what_if(request: Request, plan: str, changes: WantedChanges) -> JobAnswer:
    """Plan the side again with something otherwise, beside this plan."""
    folder = desk_of(request).folder
    wanted = Changes.from_plain(changes.model_dump(exclude_none=True))
    return JobAnswer.of(desk_of(request), order_what_if(folder, folder.shelf.plan(plan), wanted))
