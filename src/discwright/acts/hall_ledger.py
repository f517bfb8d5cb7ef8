"""The press hall and the ledger: what has to be pressed, the schedule that is kept, and what it will give."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from discwright.acts.hall import plan_jobs
from discwright.acts.hall_jobs import works_jobs
from discwright.acts.hall_report import HallReport
from discwright.errors import CallError
from discwright.files.hall_settings import load_hall
from discwright.files.press_settings import PressSettings, load_press
from discwright.works.promise import Supply
from discwright.works.store.ledger import Ledger
from discwright.works.store.look import families_to_press

#: What is set for the whole works: the schedule that was shown last and kept.
_SCHEDULE = "schedule"
#: The hall's file, where it lies beside the ledger.
HALL_FILE = "hall.toml"
Tell = Callable[[str, float], None]


def schedule_works(
    ledger: Ledger, hall_file: Path, *, now: datetime | None = None, seconds: float = 60.0,
    settings: Path | None = None, tell: Tell = lambda _step, _done: None,
) -> HallReport:  # fmt: skip
    """Plan the hall from where things really stand: runs that are going, parts that are approved, discs that are made.

    Parameters
    ----------
    ledger : Ledger
    hall_file : pathlib.Path
        HALL.toml.
    now : datetime, optional
        By the ledger's clock without.
    seconds : float
        Work that is put into it, deterministic.
    settings : pathlib.Path, optional
        House file of the press.
    tell : callable

    Returns
    -------
    HallReport
        Nothing is kept yet.

    Raises
    ------
    CallError, SettingsError
        If there is nothing to press, or a run is at a press that the hall has not.
    """
    house = load_hall(hall_file).hall
    jobs = works_jobs(families_to_press(ledger), load_press(settings), house.zone)
    if not jobs:
        raise CallError("nothing waits to be pressed; take a title in, or an order, first.")
    return plan_jobs(house, jobs, now or ledger.clock(), seconds=seconds, tell=tell)


def keep_schedule(ledger: Ledger, report: HallReport) -> None:
    """Go by a schedule from now on: the one that was shown, and no other.

    Parameters
    ----------
    ledger : Ledger
    report : HallReport
    """
    ledger.set(_SCHEDULE, json.dumps(report.document(), ensure_ascii=False, sort_keys=True))


def kept_schedule(ledger: Ledger) -> dict[str, Any] | None:
    """The document of the schedule that is kept; None where none is.

    Parameters
    ----------
    ledger : Ledger
    """
    text = ledger.setting(_SCHEDULE)
    found: dict[str, Any] | None = json.loads(text) if text else None
    return found


def planned_supplies(ledger: Ledger, settings: Path | None = None) -> list[Supply]:
    """What the kept schedule will give, by edition and day: good ones, as far as they are packed and sent.

    Parameters
    ----------
    ledger : Ledger
    settings : pathlib.Path, optional
        House file of the press.
    """
    document, house = kept_schedule(ledger), load_press(settings)
    if document is None:
        return []
    by_disc: dict[str, dict[str, list[Supply]]] = {}
    for place in document["schedule"]:
        disc = str(place["job"]).removeprefix(str(place["edition"])).split()
        own = by_disc.setdefault(str(place["edition"]), {}).setdefault(disc[0] if disc else "", [])
        own.append(_supply(place, house))
    # A set is there when the last of its discs is.
    return [one for discs in by_disc.values() for one in max(discs.values(), key=lambda own: max(s.day for s in own))]


def _supply(place: dict[str, Any], house: PressSettings) -> Supply:
    pressed = date.fromisoformat(str(place["end_at"])[:10])
    day = _days_on(pressed, house.days.finish_days, house.days.week_days)
    good = int(place["count"] * house.press.good_share)
    return Supply(str(place["edition"]), good, day.isoformat(), f"press {place['press']} until {pressed.isoformat()}")


def _days_on(day: date, count: int, week: int) -> date:
    """So many working days later."""
    while count:
        day += timedelta(days=1)
        count -= day.weekday() < week
    return day
