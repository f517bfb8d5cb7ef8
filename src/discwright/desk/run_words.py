"""Words and shapes for runs and lots, for people."""

from __future__ import annotations

from discwright.desk.works_parts import Badge
from discwright.works import run_events as r
from discwright.works.defect_classes import CLASSES
from discwright.works.run_standing import RUN_WAITS, RunStanding
from discwright.works.yard import Lot, Run

#: The shape beside each thing a run can wait for.
_SHAPES = {
    "recalled": "stop", "first_off": "waiting", "first_off_missed": "failed", "pressing": "pressing",
    "decision": "warn", "inspection": "in-hand", "stocking": "stored",
}  # fmt: skip
#: The same in a word or two, where the sentence has no room.
_SHORT = {
    "recalled": "recalled", "first_off": "first-off", "first_off_missed": "first-off missed", "pressing": "pressing",
    "decision": "lot refused", "inspection": "to inspect", "stocking": "to stock",
}  # fmt: skip
#: What becomes of a refused lot, as it is said.
DISPOSITIONS = {r.SORTED: "sorted", r.SCRAPPED: "scrapped", r.RELEASED: "released all the same"}


def run_href(number: str) -> str:
    """Address of a run's page."""
    return f"/runs/{number}"


def run_badge(standing: RunStanding) -> Badge:
    """What a run waits for first, in a word; that nothing is left to do."""
    if not standing.waits:
        return Badge("done", "nothing left to do")
    return Badge(_SHAPES[standing.waits[0]], _SHORT[standing.waits[0]])


def wait_badges(standing: RunStanding) -> tuple[Badge, ...]:
    """Everything that a run waits for, in words."""
    return tuple(Badge(_SHAPES[key], RUN_WAITS[key]) for key in standing.waits)


def first_off_badge(verdict: str) -> Badge:
    """What the first disc came out as."""
    return {"pass": Badge("ready", "passed"), "stop": Badge("stop", "missed")}.get(
        verdict, Badge("waiting", "not inspected")
    )


def lot_badge(lot: Lot) -> Badge:
    """What a lot was judged, and what became of it."""
    if lot.verdict == r.ACCEPTED:
        return Badge("ready", "accepted")
    if not lot.disposition:
        return Badge("stop", "refused")
    shape = {r.SORTED: "done", r.SCRAPPED: "gone", r.RELEASED: "warn"}[lot.disposition]
    return Badge(shape, f"refused, then {DISPOSITIONS[lot.disposition]}")


def class_badge(name: str) -> Badge:
    """A class of defects with its shape, as in the picture of the face."""
    return Badge(name if name in CLASSES else "note", name)


def discs(count: int) -> str:
    """`1 disc`, `2 discs`."""
    return f"{count} disc{'' if count == 1 else 's'}"


def made_words(run: Run) -> str:
    """`300 of 1065 pressings`; without the planned count where none was said."""
    return f"{run.made} of {run.planned} pressings" if run.planned else f"{run.made} pressings"
