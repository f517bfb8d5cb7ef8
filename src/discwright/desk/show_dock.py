"""The dock put together: what a scan came to, what is still missing, what went on, and where a carton comes from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from discwright.acts.packings import Kept
from discwright.desk.csv_words import moment_cell
from discwright.desk.dock_parts import AccountMissing, DescentSide, LoadedRow, ScanAnswer, VehicleRow
from discwright.desk.dock_words import (
    carton_href,
    cartons,
    discs,
    home,
    kg,
    number,
    sscc_words,
)
from discwright.desk.show_board import part_href
from discwright.desk.works_parts import Badge
from discwright.desk.works_time import at_words, day_words
from discwright.files.packing_settings import PackingSettings
from discwright.works.allocation import bin_order

#: What a scan can come to: a shape and a word for each, no two alike.
LOADED, WRONG_DOCK, BEFORE = Badge("done", "loaded"), Badge("arrow", "wrong dock"), Badge("warn", "loaded before")
RECALLED, UNKNOWN, UNREADABLE = Badge("stop", "recalled"), Badge("unplanned", "unknown"), Badge("note", "not readable")
OPENED, REFUSED = Badge("gone", "opened again"), Badge("failed", "not loaded")
#: Cartons that are listed as loaded last.
LAST = 40
LOAD_HEADS = (
    "loaded_at", "dock", "vehicle", "account", "name", "address_1", "address_2", "city", "region", "postcode",
    "country", "order", "edition", "run", "count_discs", "sscc", "bundle_sscc", "mass_kg",
)  # fmt: skip


def answer(badge: Badge, sentence: str, code: str) -> ScanAnswer:
    """What came of a scan.

    Parameters
    ----------
    badge : Badge
    sentence : str
    code : str
        SSCC, or what was scanned instead.
    """
    words = f"{sentence[:1].upper()}{sentence[1:]}"
    is_number = len(code) == 18 and code.isdecimal()
    known = badge not in (UNKNOWN, UNREADABLE)
    return ScanAnswer(badge, words, sscc_words(code) if is_number else code[:60], carton_href(code) if known else "")


def loaded_words(own: Sequence[Kept], left: int, dock: str) -> str:
    """What went on, for whom, and what is still missing."""
    count = sum(one.carton.count for one in own)
    what = cartons(len(own)) if len(own) > 1 else "1 carton"
    rest = f"{cartons(left)} still to come at dock {dock}" if left else f"dock {dock} has everything"
    return f"{what}, {discs(count)} for {own[0].carton.account} {own[0].line.name}; {rest}."


# What is missing, and what went on ---------------------------------------------------------------------


def waiting_at(found: Iterable[Kept], dock: str) -> list[Kept]:
    """Cartons that leave from a dock and have not; those without a dock may leave from any."""
    return [one for one in found if not one.carton.loaded_at and one.carton.dock in (dock, "")]


def docks_known(found: Iterable[Kept]) -> tuple[str, ...]:
    """Docks that something is packed for and has not left from."""
    names = {one.carton.dock for one in found if one.carton.dock and not one.carton.loaded_at}
    return tuple(sorted(names, key=bin_order))


def missing_rows(waiting: Iterable[Kept]) -> tuple[AccountMissing, ...]:
    """Cartons that are still to come, by account."""
    of: dict[str, list[Kept]] = {}
    for one in waiting:
        of.setdefault(one.carton.account, []).append(one)
    return tuple(
        AccountMissing(account, home(own[0].line), number(len(own)), number(sum(one.carton.count for one in own)))
        for account, own in sorted(of.items(), key=lambda pair: bin_order(pair[0]))
    )


def gone_on(found: Iterable[Kept], dock: str, day: str, zone: ZoneInfo, vehicle: str | None = None) -> list[Kept]:
    """Cartons that were loaded at a dock on a day of the works, the newest first.

    Parameters
    ----------
    found : iterable of Kept
    dock : str
    day : str
        ISO 8601.
    zone : zoneinfo.ZoneInfo
        Of the works.
    vehicle : str or None
        Only this one; an empty text is the one nobody named.
    """
    gone = [
        one
        for one in found
        if one.carton.loaded_at
        and one.carton.dock == dock
        and vehicle in (None, one.carton.vehicle)
        and day_words(one.carton.loaded_at, zone) == day
    ]
    return sorted(gone, key=lambda one: (one.carton.loaded_at, one.carton.sscc), reverse=True)


def loaded_rows(gone: Sequence[Kept], zone: ZoneInfo) -> tuple[LoadedRow, ...]:
    """What went on last."""
    return tuple(
        LoadedRow(
            at_words(one.carton.loaded_at, zone)[-5:], sscc_words(one.carton.sscc), carton_href(one.carton.sscc),
            one.carton.account, one.carton.edition, number(one.carton.count), one.carton.vehicle,
        )
        for one in gone[:LAST]
    )  # fmt: skip


def vehicle_rows(gone: Sequence[Kept], dock: str, day: str, house: PackingSettings) -> tuple[VehicleRow, ...]:
    """What each vehicle has."""
    count: Counter[str] = Counter()
    held: Counter[str] = Counter()
    mass: Counter[str] = Counter()
    for one in gone:
        count[one.carton.vehicle] += 1
        held[one.carton.vehicle] += one.carton.count
        mass[one.carton.vehicle] += round(1000 * mass_kg(one, house))
    return tuple(
        VehicleRow(
            vehicle or "no vehicle named", number(count[vehicle]), number(held[vehicle]), kg(mass[vehicle] / 1000),
            f"/dock/load.csv?{urlencode({'dock': dock, 'day': day, 'vehicle': vehicle})}",
        )
        for vehicle in sorted(count, key=bin_order)
    )  # fmt: skip


def mass_kg(one: Kept, house: PackingSettings) -> float:
    """What a carton weighs with what is in it, kg."""
    return one.carton.count * house.weights.unit_g(one.carton.edition) * 1e-3 + house.weights.box_kg


def load_csv(gone: Iterable[Kept], house: PackingSettings, zone: ZoneInfo) -> Iterator[tuple[object, ...]]:
    """What went on, for a file."""
    for one in gone:
        carton, line = one.carton, one.line
        yield (
            moment_cell(carton.loaded_at, zone), carton.dock, carton.vehicle, carton.account, line.name, line.address_1,
            line.address_2, line.city, line.region, line.postcode, line.country, carton.order, carton.edition,
            carton.run, carton.count, carton.sscc, carton.bundle, f"{mass_kg(one, house):.2f}",
        )  # fmt: skip


# Where a carton comes from -----------------------------------------------------------------------------


def descent_sides(descent: Mapping[str, Any], plans: Mapping[str, str]) -> tuple[DescentSide, ...]:
    """For each side of the discs in a carton the stamper, everything above it, and the plan.

    Parameters
    ----------
    descent : mapping
        Of :func:`discwright.acts.loading.carton_descent`.
    plans : mapping of str to str
        Planned sides that the folder holds, by fingerprint.
    """
    return tuple(
        DescentSide(
            one["side"], tuple((number_, part_href(number_)) for number_ in (one["stamper"], *one["up"])),
            one["plan_fingerprint"], plans.get(one["plan_fingerprint"], ""),
        )
        for one in descent["sides"]
    )  # fmt: skip
