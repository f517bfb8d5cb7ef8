"""Shapes that every part of the API shares: who is asking, jobs, refusals."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fastapi import Request
from pydantic import BaseModel

from discwright.desk.jobs import Job
from discwright.desk.state import Desk
from discwright.desk.words import INCHES, METRIC, Words


class Refusal(BaseModel):
    """Why something was not done, in a sentence that ends with what to do."""

    sentence: str


REFUSALS: dict[int | str, dict[str, Any]] = {
    404: {"model": Refusal, "description": "Not there, or no longer."},
    409: {"model": Refusal, "description": "It changed meanwhile, or is at odds with what is there."},
    422: {"model": Refusal, "description": "It cannot be done as asked."},
}


class JobFacts(BaseModel):
    """A long piece of work.

    `state` is waiting, running, done, failed or stopped; `left_s` is null while nobody knows.
    """

    id: str
    kind: str
    words: str
    about: str
    state: str
    step: str
    done: float
    left_s: float | None
    sentence: str
    href: str


class JobAnswer(BaseModel):
    """The work that was begun."""

    job: JobFacts

    @classmethod
    def of(cls, desk: Desk, job: Job) -> JobAnswer:
        """A job as the API tells it."""
        return cls(job=job_facts(desk, job))


def job_facts(desk: Desk, job: Job) -> JobFacts:
    """A job as the API tells it."""
    return JobFacts(
        id=job.id, kind=job.kind, words=job.words, about=job.about, state=job.state, step=job.step,
        done=round(job.done, 4), left_s=None if job.seconds_left is None else round(job.seconds_left, 1),
        sentence=job.sentence, href=job_href(desk, job),
    )  # fmt: skip


def job_href(desk: Desk, job: Job) -> str:
    """Page with what came of a job; empty while there is none."""
    if job.state != "done":
        return ""
    if job.kind == "play":
        return f"/plays/{Path(job.arguments['out']).parent.name}"
    found = desk.folder.shelf.found()
    by_folder = {one.folder: one.id for one in found.plans.values()}
    plans = [by_folder[one] for one in _plans_of(job) if one in by_folder]
    if len(plans) == 1:
        return f"/plans/{plans[0]}"
    if job.about in found.titles:
        return f"/titles/{job.about}"
    return f"/plans/{job.about}" if job.about in found.plans else ""


def _plans_of(job: Job) -> list[Path]:
    """Folders of the plans that a job made."""
    out = Path(job.arguments.get("out", ""))
    if job.kind == "plan":
        return [out / name for name in job.result.get("plans", ())]
    return [out] if job.kind in ("what_if", "ladder") else []


def desk_of(request: Request) -> Desk:
    """The desk that is asked."""
    desk: Desk = request.app.state.desk
    return desk


def words_of(request: Request) -> Words:
    """The units of the person who asks."""
    return Words(INCHES if request.cookies.get("units") == INCHES else METRIC)
