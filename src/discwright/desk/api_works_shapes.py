"""Shapes of the ledger's part of the API: what is asked for, what is told."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from discwright.desk.api_shapes import REFUSALS, Refusal
from discwright.faults import MOST_FAULTS
from discwright.findings import Severity
from discwright.works.possible import Step
from discwright.works.standing import SideStanding

Word = Annotated[str, StringConstraints(max_length=200)]
Text = Annotated[str, StringConstraints(max_length=2000)]
Number = Annotated[float, Field(ge=0, le=1e9, allow_inf_nan=False)]
Finite = Annotated[float, Field(ge=-1e6, le=1e6, allow_inf_nan=False)]


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
    faults_audible: int | None
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


class PlayFacts(BaseModel):
    """A test play, or a look under the microscope, by the number of its line; not `whole` where it tells of its own
    places alone."""

    seq: int
    part: str
    pressing: str | None
    at: str
    by_ear: bool
    whole: bool
    faults: int


class SpotFacts(BaseModel):
    """A place with a fault: which plays found it and which did not, and who may have brought it."""

    number: int
    kind: str
    turn: int
    last_turn: int
    angle_deg: float
    radius_mm: float | None
    size_db: float | None
    audible: bool | None
    heard: list[int]
    missed: list[int]
    posterior: dict[str, float]
    carries: dict[str, float]
    none: float
    next_test: str | None
    expected_fall_bits: float


class WayFacts(BaseModel):
    """A way to a good stamper; `start` is null for a new lacquer."""

    start: str | None
    makes: list[str]
    days: float
    words: str


class ChoiceFacts(WayFacts):
    """A way, with the probability that the part it goes on from is sound, and its days on the mean."""

    sound: float
    expected_days: float


class PlayFirstFacts(BaseModel):
    """What a play costs with all that follows, on the mean; `pays` where that is less than acting at once."""

    part: str
    days: float
    expected_days: float
    pays: bool


class GuiltOfPart(BaseModel):
    """A part over all spots that are heard, and what follows if it is guilty."""

    id: str
    kind: str
    parent: str | None
    heads: float
    carries: float
    word: str
    falls: list[str]
    remedy: WayFacts


class PaceFacts(BaseModel):
    """Days of one step; `measured` durations of the ledger, 0 for the house default."""

    days: float
    measured: int


class SideGuiltFacts(BaseModel):
    """One side: its plays, spots and parts, and what is best done."""

    edition: str
    side: str
    speed_rpm: float
    plays: list[PlayFacts]
    placeless_plays: int
    spots: list[SpotFacts]
    parts: list[GuiltOfPart]
    next_play: str | None
    play_first: PlayFirstFacts | None
    choices: list[ChoiceFacts]
    days: dict[str, PaceFacts]
    advice: str
    assumption: str


class TitleGuiltFacts(BaseModel):
    """Which part of a title is guilty of what its test plays found."""

    title: str
    name: str
    sides: list[SideGuiltFacts]


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


class WantedFault(BaseModel):
    """A fault that was heard or seen, where the disc has it; kind, turn and angle are needed, the others may be."""

    model_config = ConfigDict(extra="forbid")
    kind: Word
    turn: Finite
    angle_deg: Finite
    time_s: Finite | None = None
    radius_mm: Finite | None = None
    duration_s: Finite | None = None
    channel: Word = ""
    size_db: Finite | None = None
    audible: bool | None = None


class WantedEvent(WantedLine):
    """What happened to a part, or to a title: exactly one of the two is named. `defects` are of a test play, or of a
    look under the microscope."""

    part: Word = ""
    title: Word = ""
    kind: Word
    count: int | None = Field(None, ge=0, le=10**9)
    value: Number | None = None
    unit: Annotated[str, StringConstraints(max_length=20)] = ""
    note: Text = ""
    more: dict[Word, str | float] = Field(default_factory=dict, max_length=10)
    defects: list[WantedFault] = Field(default_factory=list, max_length=MOST_FAULTS)


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
