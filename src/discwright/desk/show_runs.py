"""All runs put together: open ones first, then the others, the last begun first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from discwright.desk.csv_words import csv_of, moment_cell
from discwright.desk.hall_parts import RunRow
from discwright.desk.run_words import run_badge
from discwright.desk.show_hall import run_link
from discwright.desk.works_parts import Badge, Paging
from discwright.desk.works_time import at_words
from discwright.works.family import Family
from discwright.works.run_standing import RUN_WAITS, RunStanding, run_standing
from discwright.works.yard import Run, edition_code

#: Runs on one page.
PAGE = 100
#: Columns of the list as CSV; times are in the works' zone, with its offset.
COLUMNS = (
    "run", "edition", "title", "press", "compound", "state", "waits_for", "recalled_for", "begun_at", "last_at",
    "planned_pressings", "made_pressings", "good_discs", "to_inspect_discs", "held_discs", "to_stock_discs",
    "stocked_discs", "packed_discs", "taken_out_discs", "stampers",
)  # fmt: skip


@dataclass(frozen=True)
class KnownRun:
    """A run with its title and where it is."""

    family: Family
    run: Run
    standing: RunStanding


def known_runs(families: Iterable[Family]) -> list[KnownRun]:
    """Every run, open ones first; the last begun first.

    Parameters
    ----------
    families : iterable of Family
    """
    found = [
        KnownRun(family, run, run_standing(family, run)) for family in families for run in family.yard.runs.values()
    ]
    return sorted(found, key=lambda one: (not one.standing.open, -one.run.begun))


def run_rows(found: Iterable[KnownRun], zone: ZoneInfo, now: datetime) -> tuple[RunRow, ...]:
    """Runs as rows of the page."""
    return tuple(
        RunRow(
            run_link(one.family, one.run, one.standing, now), str(one.run.good), _some(one.run.to_inspect),
            _some(one.run.held), _some(one.run.to_stock), _some(one.run.stocked), _some(one.run.packed),
            at_words(one.run.begun_at, zone),
        )
        for one in found
    )  # fmt: skip


def _some(count: int) -> str:
    return str(count) if count else ""


def counts(found: list[KnownRun]) -> tuple[Badge, ...]:
    """All runs in words."""
    open_ones = [one for one in found if one.standing.open]
    told = [Badge("in-hand", f"{len(open_ones)} open"), Badge("done", f"{len(found) - len(open_ones)} done with")]
    recalled = sum(bool(one.standing.recalled_for) for one in found)
    return (Badge("stop", f"{recalled} recalled"), *told) if recalled else tuple(told)


def paging(first: int, shown: int, total: int) -> Paging:
    """Which runs of how many are shown."""
    earlier = f"/runs?first={max(0, first - PAGE)}" if first else ""
    later = f"/runs?first={first + PAGE}" if first + shown < total else ""
    all_of_them = f"{total} run{'' if total == 1 else 's'}"
    words = all_of_them if shown == total else f"runs {first + 1} to {first + shown} of {total}"
    return Paging(words if shown else "no runs", earlier, later)


def runs_csv(found: Iterable[KnownRun], zone: ZoneInfo) -> str:
    """All runs as CSV."""
    return csv_of(COLUMNS, _cells(found, zone))


def _cells(found: Iterable[KnownRun], zone: ZoneInfo) -> Iterator[tuple[object, ...]]:
    for one in found:
        run = one.run
        yield (
            run.id, edition_code(one.family.title, run.edition), one.family.name, run.press, run.compound,
            run_badge(one.standing).words, "; ".join(RUN_WAITS[key] for key in one.standing.waits),
            one.standing.recalled_for, moment_cell(run.begun_at, zone), moment_cell(run.last_at, zone),
            run.planned or "", run.made, run.good, run.to_inspect, run.held, run.to_stock, run.stocked, run.packed,
            run.out, " ".join(f"{side}={number}" for side, number in sorted(run.stampers.items())),
        )  # fmt: skip
