"""Moments in the works' own zone: stored in UTC, shown where the works is, with the zone's name beside them."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

from discwright.works.store.ledger import Ledger

#: Setting of a ledger that names its zone.
ZONE = "zone"
_UTC = ("Etc/UTC", "Etc/UCT", "Etc/Zulu", "Etc/Universal", "UCT", "Zulu", "Universal", "UTC")
_LOCAL = Path("/etc/localtime")
_DAY_S, _HOUR_S, _MINUTE_S = 86_400.0, 3600.0, 60.0


def zone_of(ledger: Ledger) -> ZoneInfo:
    """The zone of a works: as its ledger says, or this computer's own."""
    return named_zone(ledger.setting(ZONE)) or server_zone()


def named_zone(name: str) -> ZoneInfo | None:
    """A zone by its name; None where there is none of that name."""
    try:
        return ZoneInfo(name) if name else None
    except (ValueError, OSError, KeyError):
        return None


@cache
def server_zone() -> ZoneInfo:
    """This computer's zone; UTC where it does not say."""
    place = os.environ.get("TZ", "").lstrip(":")
    if not place:
        place = str(_LOCAL.resolve()).partition("zoneinfo/")[2]
    return named_zone(place) or ZoneInfo("UTC")


def zone_words(zone: ZoneInfo) -> str:
    """The name of a zone; the several names of UTC are one."""
    return "UTC" if zone.key in _UTC else zone.key


def at_words(moment: str, zone: ZoneInfo) -> str:
    """A moment of the ledger where the works is: `2031-04-02 09:14`; empty for none."""
    return _read(moment).astimezone(zone).strftime("%Y-%m-%d %H:%M") if moment else ""


def day_words(moment: str, zone: ZoneInfo) -> str:
    """The day of a moment where the works is."""
    return _read(moment).astimezone(zone).strftime("%Y-%m-%d") if moment else ""


def due_words(day: str) -> str:
    """A due date as it was written: a date has no zone. Empty where it is none."""
    try:
        return date.fromisoformat(day).isoformat()
    except ValueError:
        return ""


def span_words(seconds: float) -> str:
    """So long, in the largest unit that says enough: `12 minutes`, `3 days`."""
    for size, one, many in ((_DAY_S, "day", "days"), (_HOUR_S, "hour", "hours"), (_MINUTE_S, "minute", "minutes")):
        count = int(max(0.0, seconds) // size)
        if count >= (2 if size == _DAY_S else 1):
            return f"{count} {one if count == 1 else many}"
    return "less than a minute"


def since_words(moment: str, now: datetime) -> str:
    """How long ago a moment of the ledger was; empty for none."""
    return span_words((now - _read(moment)).total_seconds()) if moment else ""


def now_stamp(ledger: Ledger) -> str:
    """Now by the ledger's clock, as its lines have it."""
    return ledger.clock().astimezone(UTC).isoformat(timespec="microseconds")


def _read(moment: str) -> datetime:
    found = datetime.fromisoformat(moment)
    return found if found.tzinfo is not None else found.replace(tzinfo=UTC)
