"""Jobs of the press hall as CSV, and what has become of them: every line checked before one is used.

Heads ``job,edition,format,colour,count,due,weight,ready,waits_for,needs,cycle_s,stamper_life,press,made``; the first
five must be there. What happened: ``job,made,press,state,at``; the first two must be there.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, tzinfo
from pathlib import Path

from discwright.errors import CallError
from discwright.files.csv_guard import LineFinding, Told, lost_letters, read_table
from discwright.files.orders_csv import read_count
from discwright.units import number
from discwright.works import hall_restart as restart
from discwright.works.hall import BLACK, SIZES, WEIGHT_MOST, Job
from discwright.works.hall_times import read_moment

HEADS = (
    "job", "edition", "format", "colour", "count", "due", "weight", "ready", "waits_for", "needs", "cycle_s",
    "stamper_life", "press", "made",
)  # fmt: skip
NEEDED = ("job", "edition", "format", "colour", "count")
DONE_HEADS = ("job", "made", "press", "state", "at")
_WORD_MOST = 60
_CYCLES_S, _LIVES = (0.5, 600.0), (1, 1_000_000)


@dataclass(frozen=True)
class JobsRead:
    """What a file of jobs came to.

    Attributes
    ----------
    jobs : tuple of Job
        Empty where there is a stop.
    findings : tuple of LineFinding
    more : int
        Findings beyond those that are told.
    refused : bool
        There is a stop: nothing of the file may be used.
    """

    jobs: tuple[Job, ...]
    findings: tuple[LineFinding, ...]
    more: int
    refused: bool


@dataclass(frozen=True)
class DoneRead:
    """What a file of what happened came to; see :class:`JobsRead`."""

    told: tuple[restart.Told, ...]
    findings: tuple[LineFinding, ...]
    more: int
    refused: bool


def read_jobs(path: Path, zone: tzinfo, stamper_life: int, encoding: str | None = None) -> JobsRead:
    """Read a file of jobs, whole or not at all.

    Parameters
    ----------
    path : pathlib.Path
    zone : tzinfo
        Of days and of times without an offset: the hall's.
    stamper_life : int
        For jobs that do not say.
    encoding : str or None
        As for :func:`discwright.files.csv_guard.read_table`.

    Returns
    -------
    JobsRead

    Raises
    ------
    CallError
        If the file cannot be opened or read as text.
    """
    told = Told(path.name)
    row = _Row(told, zone)
    seen: dict[str, int] = {}
    jobs: list[Job] = []
    for line, cells in read_table(path, HEADS, [head for head in HEADS if head not in NEEDED], told, encoding):
        row.line = line
        job = row.job(dict(zip(HEADS, cells, strict=True)), stamper_life)
        if lost_letters(cells):
            told.finding("lost_letters", line, "", "", "holds the sign for a letter that was lost; type it anew.")
        first = seen.setdefault(job.id, line)
        if first != line and job.id:
            told.finding("twice", line, "job", job.id, f"stands in line {first} already; give each job its own name.")
        jobs.append(job)
    if not jobs and not told.stops:
        told.finding("no_lines", 0, "", "", "has no job; give one at least.")
    return JobsRead(() if told.stops else tuple(jobs), tuple(told.findings), told.more, bool(told.stops))


def read_done(path: Path, zone: tzinfo, known: Collection[str], encoding: str | None = None) -> DoneRead:
    """Read a file of what has become of jobs, whole or not at all.

    Parameters
    ----------
    path : pathlib.Path
    zone : tzinfo
        Of times without an offset: the hall's.
    known : collection of str
        Jobs there are.
    encoding : str or None

    Returns
    -------
    DoneRead

    Raises
    ------
    CallError
        If the file cannot be opened or read as text.
    """
    told = Told(path.name)
    row = _Row(told, zone)
    found = []
    for line, cells in read_table(path, DONE_HEADS, DONE_HEADS[2:], told, encoding):
        row.line = line
        job, made, press, state, at = cells
        job = row.word("job", job, needed=True)
        if job and job not in known:
            told.finding("unknown_job", line, "job", job, "is no job of this schedule; mend its name.")
        state = state.casefold()
        if state and state not in restart.STATES:
            told.finding("wrong_state", line, "state", state, f"is no state; write {', '.join(restart.STATES)}.")
        found.append(
            restart.Told(
                job, read_count(told, line, made, least=0), row.word("press", press), state, row.moment("at", at), line
            )
        )  # fmt: skip
    return DoneRead(() if told.stops else tuple(found), tuple(told.findings), told.more, bool(told.stops))


class _Row:
    """Cells of one line, turned into values or findings."""

    def __init__(self, told: Told, zone: tzinfo) -> None:
        self.line = 0
        self._told, self._zone = told, zone

    def job(self, cell: dict[str, str], stamper_life: int) -> Job:
        life = stamper_life
        if cell["stamper_life"]:
            life = int(self.number("stamper_life", cell["stamper_life"], *_LIVES, whole=True) or stamper_life)
        return Job(
            id=self.word("job", cell["job"], needed=True),
            edition=self.word("edition", cell["edition"], needed=True),
            size=self._size(cell["format"]),
            colour=self.word("colour", cell["colour"]).lower() or BLACK,
            count=read_count(self._told, self.line, cell["count"], least=1),
            due=self.moment("due", cell["due"], end=True),
            weight=self.number("weight", cell["weight"] or "1", 0.01, WEIGHT_MOST),
            ready=self.moment("ready", cell["ready"]),
            waits_for=cell["waits_for"],
            needs=frozenset(cell["needs"].lower().replace(";", " ").split()),
            stamper_life=life,
            cycle_s=self.number("cycle_s", cell["cycle_s"], *_CYCLES_S) if cell["cycle_s"] else 0.0,
            press=self.word("press", cell["press"]),
            made=read_count(self._told, self.line, cell["made"], least=0) if cell["made"] else 0,
            line=self.line,
        )

    def word(self, column: str, text: str, *, needed: bool = False) -> str:
        if needed and not text:
            self._told.finding("missing_word", self.line, column, "", "is empty; fill it in.")
        elif len(text) > _WORD_MOST:
            words = f"has {len(text)} characters; write at most {_WORD_MOST}."
            self._told.finding("too_long", self.line, column, text, words)
        return text

    def moment(self, column: str, text: str, *, end: bool = False) -> datetime | None:
        if not text:
            return None
        try:
            return read_moment(text, self._zone, column, end=end)
        except CallError:
            words = "is no day or time; write it as 2031-04-02 or 2031-04-02T14:00."
            self._told.finding("wrong_date", self.line, column, text, words)
            return None

    def number(self, column: str, text: str, least: float, most: float, *, whole: bool = False) -> float:
        try:
            value = number(text, column)
            if not least <= value <= most or (whole and value != int(value)):
                raise CallError("")
        except CallError:
            kind = "whole number" if whole else "number"
            words = f"is no {kind} from {least:g} to {most:g}; write for example {'800' if whole else '1.5'}."
            self._told.finding("wrong_number", self.line, column, text, words)
            return least
        return value

    def _size(self, text: str) -> str:
        """The size in a format: 12in of 12in-33."""
        size = text.lower().partition("-")[0].strip()
        if size not in SIZES:
            words = f"is no size or format; write {', '.join(SIZES)}, or a format such as 12in-33."
            self._told.finding("wrong_format", self.line, "format", text, words)
        return size
