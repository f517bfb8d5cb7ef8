"""What is still to be pressed, out of the ledger: a job for each disc of each edition, ready or waiting for parts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta, tzinfo

from discwright.files.press_settings import PressSettings
from discwright.files.settings import load
from discwright.groove.equipment import DiscFormat
from discwright.works.against import released
from discwright.works.family import Family, Part
from discwright.works.hall import Job
from discwright.works.parts import MASTER, STAMPER
from discwright.works.press import enough_begun
from discwright.works.press_dates import days_back
from discwright.works.run_rules import TAPE
from discwright.works.standing import WAITS, standings
from discwright.works.yard import Run, edition_code

PROBABILITY = 0.95
#: Compound where nobody says otherwise; title files name no colour.
BLACK = "black"
_A_DAY = timedelta(days=1)


def works_jobs(families: Iterable[Family], settings: PressSettings, zone: tzinfo) -> list[Job]:
    """Jobs of all titles: runs that are going, and what no run has made yet.

    Parameters
    ----------
    families : iterable of Family
    settings : PressSettings
        Yield, life of stampers, days from the press to the dock.
    zone : tzinfo
        Of the press hall: a due day ends there.

    Returns
    -------
    list of Job
        By edition code; an edition of several discs has a job for each, with the letters of its sides.
    """
    found: list[Job] = []
    for family in families:
        for edition in family.editions:
            if edition.get("format") != TAPE:
                for sides in _discs(
                    [str(one) for one in edition.get("sides") or ()] or _cut(family, str(edition["id"]))
                ):
                    found += _jobs(family, edition, sides, settings, zone)
    return sorted(found, key=lambda one: one.id)


def _cut(family: Family, edition: str) -> list[str]:
    return sorted({one.side for one in family.plans if one.edition == edition}) or ["A", "B"]


def _discs(letters: Sequence[str]) -> list[tuple[str, ...]]:
    """Sides two by two, as they lie on the discs."""
    return [tuple(letters[k : k + 2]) for k in range(0, len(letters), 2)]


def _jobs(
    family: Family, edition: dict[str, object], sides: tuple[str, ...], settings: PressSettings, zone: tzinfo
) -> list[Job]:
    id_, code = str(edition["id"]), edition_code(family.title, str(edition["id"]))
    own = [one for one in family.yard.runs.values() if one.edition == id_ and set(one.stampers) <= set(sides)]
    good = sum(one.good for one in own if not family.recalled_for(one))
    ordered = sum(
        one.line.count for one in family.yard.orders.values() if one.line.edition == code and not one.cancelled
    )
    wanted = max(_whole(edition.get("quantity")), ordered)
    name = f"{code} {'/'.join(sides)}"
    disc = load(DiscFormat, str(edition.get("format") or ""))
    size, due = settings.size_of(disc.disc_diameter), _due(family, edition, code, settings, zone)
    going = [one for one in own if _is_going(family, one)]
    jobs = [
        Job(f"{name} {one.id}", code, size, BLACK, one.planned, due, stamper_life=family.limits.press_life,
            press=one.press, made=min(one.made, one.planned), running=True)
        for one in going
        if one.planned > one.made and one.press
    ]  # fmt: skip
    share = settings.press.good_share
    left = wanted - good - round(sum(one.left for one in jobs) * share)
    if left > 0:
        waits = _waits(family, id_, sides)
        count = enough_begun(left, share, PROBABILITY)
        jobs.append(Job(name, code, size, BLACK, count, due, waits_for=waits, stamper_life=family.limits.press_life))
    return jobs


def _is_going(family: Family, run: Run) -> bool:
    """Its first disc passed, and all its stampers are still at the press."""
    parts = [family.parts[number] for number in run.stampers.values()]
    return run.first_off == "pass" and all(one.state == "at_press" for one in parts) and not family.recalled_for(run)


def _due(
    family: Family, edition: dict[str, object], code: str, settings: PressSettings, zone: tzinfo
) -> datetime | None:
    """End of the day on which the last disc must be pressed: before the first day wanted, or the edition's own."""
    days = [one.line.wanted for one in family.yard.orders.values() if one.line.edition == code and one.open]
    days.append(str(edition.get("due") or ""))
    first = min((day for day in days if day), default="")
    if not first:
        return None
    day = days_back(date.fromisoformat(first), settings.days.finish_days, settings.days.week_days)
    return datetime.combine(day + _A_DAY, time(0), zone)


def _waits(family: Family, edition: str, sides: tuple[str, ...]) -> str:
    """What keeps the sides from the press, in words; empty where each has a negative that may go there."""
    standing = {one.side: one for one in standings(family) if one.edition == edition}
    waiting = []
    for side in sides:
        if any(_may_press(family, one) for one in family.parts.values() if (one.edition, one.side) == (edition, side)):
            continue
        known = standing.get(side)
        words = WAITS[known.waits_for] if known is not None and known.waits_for not in ("", "more") else "a stamper"
        waiting.append(f"side {side}: {words}")
    return "; ".join(waiting)


def _may_press(family: Family, part: Part) -> bool:
    path = (part, *family.ancestors(part))
    alive = part.state not in ("scrapped", "plated") and not any(one.verdict in ("refused", "recalled") for one in path)
    fresh = family.pressings_of(part) < family.limits.press_life
    return part.kind in (STAMPER, MASTER) and alive and fresh and released(family, part)


def _whole(value: object) -> int:
    return int(value) if isinstance(value, int | float) else 0
