"""Shapes of the ledger's part of the API: what is asked for, what is told."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from discwright.desk.api_shapes import REFUSALS, Refusal
from discwright.findings import Severity
from discwright.works.possible import Step
from discwright.works.standing import SideStanding

Word = Annotated[str, StringConstraints(max_length=200)]
Text = Annotated[str, StringConstraints(max_length=2000)]
Number = Annotated[float, Field(ge=0, le=1e9, allow_inf_nan=False)]


class FindingOfWorks(BaseModel):
    """A fact that speaks against a line of the ledger."""

    model_config = ConfigDict(extra="allow")
    code: str
    severity: Severity
    value: float
    limit: float
    unit: str
    remedy: str


class Stopped(BaseModel):
    """Why nothing was written, and what speaks against it; other refusals have no findings."""

    sentence: str
    findings: list[FindingOfWorks] = []


WORKS_REFUSALS: dict[int | str, dict[str, Any]] = {
    **REFUSALS,
    401: {"model": Refusal, "description": "Nobody is signed in, or the token is not good."},
    403: {"model": Refusal, "description": "Whoever asks may not do this."},
    409: {"model": Stopped, "description": "A stop speaks against it, or it is at odds with what is there."},
    413: {"model": Refusal, "description": "More was sent than is taken here."},
}


class SideStandingFacts(BaseModel):
    """Where a side is. `late_at` is empty where nothing says from when on it is late."""

    edition: str
    side: str
    format: str
    part: str
    state: str
    waits_for: str
    since: str
    late_at: str
    late: bool
    pressings: int
    quantity: int

    @classmethod
    def of(cls, side: SideStanding, now: str) -> SideStandingFacts:
        """A standing as the API tells it."""
        return cls(
            edition=side.edition, side=side.side, format=side.format, part=side.part, state=side.state,
            waits_for=side.waits_for, since=side.since, late_at=side.late_at,
            late=bool(side.late_at) and side.late_at < now, pressings=side.pressings, quantity=side.quantity,
        )  # fmt: skip


class TitleStanding(BaseModel):
    """A title on the board."""

    catalogue: str
    name: str
    sides: list[SideStandingFacts]


class BoardFacts(BaseModel):
    """A page of the board, and how many titles there are in all."""

    first: int
    open_titles: int
    late_titles: int
    all_titles: int
    titles: list[TitleStanding]


class EventFacts(BaseModel):
    """A line of the ledger; `undone` where it counts as if it had never been."""

    model_config = ConfigDict(extra="allow")
    seq: int
    at: str
    by: str
    kind: str
    station: str
    data: dict[str, Any]
    undone: bool = False


class PartOfFamily(BaseModel):
    """A part with its own lines."""

    id: str
    kind: str
    side: str
    edition: str
    parent: str | None
    sign: str
    state: str
    verdict: str | None
    marks: list[str]
    pressings: int
    press_life: int | None
    faults_heard: int | None
    events: list[EventFacts]


class TitleFamily(BaseModel):
    """A title with all its parts, in the order they were made."""

    title: str
    name: str
    parts: list[PartOfFamily]
    findings: list[FindingOfWorks]


class StepFacts(BaseModel):
    """Something that can be done now; `closed` where a stop speaks against it."""

    kind: str
    words: str
    expected: bool
    closed: bool
    findings: list[FindingOfWorks]

    @classmethod
    def of(cls, step: Step) -> StepFacts:
        """A step as the API tells it."""
        found = [FindingOfWorks.model_validate(one.as_dict()) for one in step.against]
        closed = any(one.severity == "stop" and not one.accepted for one in step.against)
        return cls(kind=step.kind, words=step.words, expected=step.expected, closed=closed, findings=found)


class PartFacts(PartOfFamily):
    """A part, what it was grown from (`up`, nearest first), what was grown from it, what can be done with it."""

    title: str
    up: list[str]
    down: list[str]
    plan_fingerprint: str
    findings: list[FindingOfWorks]
    steps: list[StepFacts]


class FoundFacts(BaseModel):
    """Something a number leads to; `part` is empty where it is a title."""

    what: str
    shown: str
    title: str
    part: str


class WantedLine(BaseModel):
    """What every line says besides what happened. `by` is heard only where nobody signs in."""

    model_config = ConfigDict(extra="forbid")
    key: Word = ""
    station: Word = ""
    accepted: Word = ""
    by: Word = ""


class WantedEvent(WantedLine):
    """What happened to a part, or to a title: exactly one of the two is named."""

    part: Word = ""
    title: Word = ""
    kind: Word
    count: int | None = Field(None, ge=0, le=10**9)
    value: Number | None = None
    unit: Annotated[str, StringConstraints(max_length=20)] = ""
    note: Text = ""
    more: dict[Word, str | float] = Field(default_factory=dict, max_length=10)


class WantedGrowth(WantedLine):
    """What was grown on which part; without `kind`, what grows on such a part."""

    parent: Word
    kind: Word = ""
    mark: Word = ""
    tank: Word = ""
    metal: Word = ""
    ampere_hours: Number | None = None
    minutes: Number | None = None


class WantedCut(WantedLine):
    """A lacquer that was cut from a plan of the folder, by the plan's id under `/api/plans`."""

    plan: Word
    title: Word
    side: Word
    edition: Word = ""
    lacquer: Word
    tip: Word = ""
    tip_hours: Number | None = None
    blank_mm: Number | None = None
    heat_a: Number | None = None
    operator: Word = ""
    mark: Word = ""


class Written(BaseModel):
    """A line as it was written, now or, where `repeated`, the first time it was sent."""

    seq: int
    at: str
    by: str
    kind: str
    title: str
    part: str
    hash: str
    repeated: bool
    clock_behind_s: float
    findings: list[FindingOfWorks]


class PhotoFacts(BaseModel):
    """What a photograph shows: the part's number, or a sentence why there is none."""

    number: str
    sentence: str
    texts: list[str]
