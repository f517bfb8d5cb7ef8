"""A kept schedule of the press hall: one JSON file with every value it was made with, and the hash of its result."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from discwright.errors import CallError
from discwright.works.hall import Change, ChangeMinutes, Hall, Job, OnPress, Place, Press, Schedule, Shift
from discwright.works.hall_times import minutes_from

KIND = "press hall schedule"
_MOST_BYTES = 64 << 20


@dataclass(frozen=True)
class KeptHall:
    """A schedule that was kept, opened again.

    Attributes
    ----------
    document : dict
        All that the file holds.
    hall : Hall
    jobs : tuple of Job
        As they were given.
    schedule : Schedule
    """

    document: dict[str, Any]
    hall: Hall
    jobs: tuple[Job, ...]
    schedule: Schedule


def result_sha256(schedule: Sequence[Mapping[str, Any]]) -> str:
    """Hash of a schedule as it is told: which job on which press, from when to when.

    Parameters
    ----------
    schedule : sequence of mapping
        The list `schedule` of the document.
    """
    text = json.dumps(list(schedule), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def places_as_plain(schedule: Schedule) -> list[dict[str, Any]]:
    """Every place with its moments in the hall's zone.

    Parameters
    ----------
    schedule : Schedule
    """
    return [
        {
            "job": one.job.id, "press": one.press, "edition": one.job.edition, "format": one.job.size,
            "colour": one.job.colour, "count": one.job.left, "begin_at": _iso(schedule.at(one.begin)),
            "start_at": _iso(schedule.at(one.start)), "end_at": _iso(schedule.at(one.end)),
            "due_at": None if one.job.due is None else _iso(one.job.due),
            "stampers_minutes": one.change.stampers, "colour_minutes": one.change.colour,
            "size_minutes": one.change.size, "run_minutes": one.run, "swaps": one.swaps,
            "late_minutes": one.late, "running": one.job.running, "waits_for": one.job.waits_for,
        }
        for one in schedule.places
    ]  # fmt: skip


def hall_as_plain(hall: Hall) -> dict[str, Any]:
    """Zone and presses as plain values.

    Parameters
    ----------
    hall : Hall
    """
    return {"zone": hall.zone_name, "presses": [_press(press) for press in hall.presses]}


def jobs_as_plain(jobs: Sequence[Job]) -> list[dict[str, Any]]:
    """Jobs as plain values.

    Parameters
    ----------
    jobs : sequence of Job
    """
    return [
        {
            "job": job.id, "edition": job.edition, "format": job.size, "colour": job.colour, "count": job.count,
            "due_at": None if job.due is None else _iso(job.due), "weight": job.weight,
            "ready_at": None if job.ready is None else _iso(job.ready), "waits_for": job.waits_for,
            "needs": sorted(job.needs), "stamper_life": job.stamper_life, "cycle_s": job.cycle_s,
            "press": job.press, "made": job.made, "running": job.running,
        }
        for job in jobs
    ]  # fmt: skip


def check_free(path: Path) -> None:
    """Refuse a name that is taken, before any work is done for it.

    Parameters
    ----------
    path : pathlib.Path

    Raises
    ------
    CallError
    """
    if path.exists() or path.is_symlink():
        raise CallError(
            f"{path}: is there already, and a schedule that was kept is not written over; name another file."
        )
    if not path.parent.is_dir():
        raise CallError(f"{path.parent}: there is no such folder; make it, or name another file.")


def keep_hall(path: Path, document: Mapping[str, Any]) -> None:
    """Write a schedule, beside and renamed.

    Parameters
    ----------
    path : pathlib.Path
        That is not there yet.
    document : mapping

    Raises
    ------
    CallError
        If the name is taken or the file cannot be written.
    """
    check_free(path)
    part = path.with_name(f".{path.name}.part")
    try:
        with part.open("w", encoding="utf-8", newline="") as stream:
            json.dump(document, stream, indent=1, ensure_ascii=False, allow_nan=False)
            stream.write("\n")
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(part, path)
    except OSError as trouble:
        raise CallError(f"{path}: cannot be written ({trouble.strerror}); check the folder and the disk.") from None
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def open_hall(path: Path) -> KeptHall:
    """Open a schedule that was kept, and see that it is still what it was.

    Parameters
    ----------
    path : pathlib.Path

    Returns
    -------
    KeptHall

    Raises
    ------
    CallError
        If it is missing, no such file, or was changed.
    """
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise CallError(f"{path}: is too large for a kept schedule; name the file that --keep wrote.")
        document = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise CallError(f"{path}: there is no such file; name the one that --keep wrote.") from None
    except OSError as trouble:
        raise CallError(f"{path}: cannot be read ({trouble.strerror}); check the file.") from None
    except (ValueError, RecursionError):
        raise CallError(f"{path}: is no kept schedule; name the file that --keep wrote.") from None
    if not isinstance(document, dict) or document.get("kind") != KIND:
        raise CallError(f"{path}: is no kept schedule; name the file that --keep wrote.")
    try:
        if result_sha256(document["schedule"]) != document["schedule_sha256"]:
            raise CallError(f"{path}: was changed after it was kept; plan again from the jobs.")
        return _read(document)
    except (KeyError, TypeError, ValueError, AttributeError):
        raise CallError(f"{path}: is no whole schedule; plan again from the jobs.") from None


def _read(document: dict[str, Any]) -> KeptHall:
    made = document["made_with"]
    zone = ZoneInfo(made["hall"]["zone"])
    hall = Hall(tuple(_press_from(one) for one in made["hall"]["presses"]), zone, made["hall"]["zone"])
    jobs = tuple(_job_from(one) for one in made["jobs"])
    planned = {one["job"]: _job_from(one) for one in made["standing"]}
    start = _moment(made["start_at"]).astimezone(zone)
    places = []
    for one in document["schedule"]:
        times = {key: minutes_from(start, _moment(one[f"{key}_at"])) for key in ("begin", "start", "end")}
        change = Change(one["stampers_minutes"], one["colour_minutes"], one["size_minutes"])
        job = planned[one["job"]]
        due = None if job.due is None else minutes_from(start, job.due)
        places.append(
            Place(job, one["press"], **times, change=change, run=one["run_minutes"], swaps=one["swaps"], due=due)
        )
    unplanned = tuple((planned[one["job"]], str(one["why"])) for one in document["unplanned"])
    return KeptHall(document, hall, jobs, Schedule(start, tuple(places), unplanned))


def _press(press: Press) -> dict[str, Any]:
    minutes = press.changes
    return {
        "name": press.name, "sizes": sorted(press.sizes), "colours": sorted(press.colours),
        "abilities": sorted(press.abilities),
        "shifts": [{"days": list(s.days), "opens_minute": s.opens, "closes_minute": s.closes} for s in press.shifts],
        "closed_days": sorted(day.isoformat() for day in press.closed_days), "running": press.running,
        "stampers_minutes": minutes.stampers, "colour_minutes": minutes.colour,
        "after_black_minutes": minutes.after_black, "size_minutes": minutes.size, "cycle_s": dict(press.cycle_s),
        "on": {"edition": press.on.edition, "format": press.on.size, "colour": press.on.colour},
        "free_from": None if press.free_from is None else _iso(press.free_from),
    }  # fmt: skip


def _press_from(one: Mapping[str, Any]) -> Press:
    return Press(
        name=one["name"], sizes=frozenset(one["sizes"]), colours=frozenset(one["colours"]),
        abilities=frozenset(one["abilities"]),
        shifts=tuple(Shift(tuple(s["days"]), s["opens_minute"], s["closes_minute"]) for s in one["shifts"]),
        closed_days=frozenset(date.fromisoformat(day) for day in one["closed_days"]), running=float(one["running"]),
        changes=ChangeMinutes(
            one["stampers_minutes"], one["colour_minutes"], one["after_black_minutes"], one["size_minutes"]
        ),
        cycle_s={str(size): float(seconds) for size, seconds in one["cycle_s"].items()},
        on=OnPress(one["on"]["edition"], one["on"]["format"], one["on"]["colour"]),
        free_from=None if one["free_from"] is None else _moment(one["free_from"]),
    )  # fmt: skip


def _job_from(one: Mapping[str, Any]) -> Job:
    return Job(
        id=one["job"], edition=one["edition"], size=one["format"], colour=one["colour"], count=int(one["count"]),
        due=None if one["due_at"] is None else _moment(one["due_at"]), weight=float(one["weight"]),
        ready=None if one["ready_at"] is None else _moment(one["ready_at"]), waits_for=one["waits_for"],
        needs=frozenset(one["needs"]), stamper_life=int(one["stamper_life"]), cycle_s=float(one["cycle_s"]),
        press=one["press"], made=int(one["made"]), running=bool(one["running"]),
    )  # fmt: skip


def _iso(moment: datetime) -> str:
    return moment.isoformat(timespec="minutes")


def _moment(text: str) -> datetime:
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError(text)
    return moment
