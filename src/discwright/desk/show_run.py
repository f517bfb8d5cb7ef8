"""One run put together: where it comes from, its first discs, its lots, where its discs are."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any
from zoneinfo import ZoneInfo

from discwright.acts.first_off import disc_of
from discwright.acts.loading import run_descent
from discwright.acts.recalls import AccountReached
from discwright.desk.csv_words import csv_of
from discwright.desk.hall_parts import AccountRow, BinRow, FirstOffRow, LotRow, RunSide
from discwright.desk.page_parts import Fact, FindingRow
from discwright.desk.run_words import discs, first_off_badge, lot_badge, made_words, run_href
from discwright.desk.show_family import part_link
from discwright.desk.words import figures
from discwright.desk.works_time import at_words
from discwright.desk.works_words import amount, marks_on
from discwright.errors import CallError
from discwright.groove.equipment import DiscFormat
from discwright.works.allocation import bin_order
from discwright.works.chain import Line
from discwright.works.family import Family
from discwright.works.first_off import wow, wow_cents
from discwright.works.yard import Lot, Run

#: Columns of the accounts of a run as CSV.
ACCOUNT_COLUMNS = ("account", "name", "city", "country", "sent_discs", "here_discs", "cartons", "told")


def disc_or_none(family: Family, run: Run) -> DiscFormat | None:
    """The format of a run's edition; None for a tape, or where the title names none that is known here.

    Parameters
    ----------
    family : Family
    run : Run
    """
    if not run.stampers:
        return None
    try:
        return disc_of(family, run)
    except CallError:
        return None


def run_counts(run: Run) -> tuple[Fact, ...]:
    """Where the discs of a run are, in numbers."""
    told = [
        Fact("pressed", made_words(run)),
        Fact("good", discs(run.good)),
        Fact("to inspect", discs(run.to_inspect)),
        Fact("held", discs(run.held) if run.held else "", "of refused lots that nobody has decided about"),
        Fact("to put into stock", discs(run.to_stock)),
        Fact("in bins", discs(run.stocked)),
        Fact("in cartons", discs(run.packed) if run.packed else ""),
        Fact("taken out", discs(run.out) if run.out else ""),
    ]
    return tuple(one for one in told if one.value)


def run_facts(run: Run, zone: ZoneInfo) -> tuple[Fact, ...]:
    """What was said when a run was begun."""
    told = (
        Fact("press", run.press), Fact("compound", run.compound), Fact("begun", at_words(run.begun_at, zone)),
        Fact("last touched", at_words(run.last_at, zone)),
    )  # fmt: skip
    return tuple(one for one in told if one.value)


def run_sides(family: Family, run: Run, planned: Mapping[str, str]) -> tuple[RunSide, ...]:
    """Each side back to its lacquer and its plan.

    Parameters
    ----------
    family : Family
    run : Run
    planned : mapping of str to str
        Address of the planned side of each fingerprint that the folder holds.
    """
    return tuple(
        RunSide(
            one["side"], part_link(family.parts[one["stamper"]]), marks_on(family.parts[one["stamper"]]),
            tuple(part_link(family.parts[number]) for number in one["up"]), one["plan_fingerprint"],
            planned.get(one["plan_fingerprint"], ""),
        )
        for one in run_descent(family, run)["sides"]
    )  # fmt: skip


def recalled_words(family: Family, run: Run) -> str:
    """Why a run must not be used further; empty where nothing was recalled."""
    number = family.recalled_for(run)
    if not number:
        return ""
    whose = "This run was recalled" if number == run.id else f"{number}, which it comes from, was recalled or refused"
    return f"{whose}: set its discs aside and send none of them."


# First discs -------------------------------------------------------------------------------------------


def first_off_rows(lines: Iterable[Line], disc: DiscFormat | None, zone: ZoneInfo) -> tuple[FirstOffRow, ...]:
    """Every first disc that was inspected, the last one first.

    Parameters
    ----------
    lines : iterable of Line
        Of the run, without what was undone.
    disc : DiscFormat or None
    zone : zoneinfo.ZoneInfo
    """
    own = [line for line in lines if line.kind == "first_off"]
    return tuple(_first_off(line, disc, zone) for line in reversed(own))


def _first_off(line: Line, disc: DiscFormat | None, zone: ZoneInfo) -> FirstOffRow:
    data = line.data
    facts = (
        Fact("hole", _measured(data, "hole_mm", "mm")), Fact("off centre", _measured(data, "off_centre_mm", "mm")),
        Fact("weight", _measured(data, "weight_g", "g")), Fact("labels", str(data.get("labels", ""))),
        Fact("run-out marks read", _by_side(data.get("marks_read"))),
        Fact("stampers read", _by_side(data.get("stampers_read"))),
        Fact("full play", {"pass": "passed", "stop": "stopped"}.get(data.get("played", ""), "")),
    )  # fmt: skip
    off = data.get("off_centre_mm")
    heard = wow_words(off, disc.innermost_radius * 1e3) if off is not None and disc is not None else ""
    missed = tuple(_missed(number, one) for number, one in enumerate(data.get("missed", ()), 1))
    return FirstOffRow(
        at_words(line.at, zone), line.by, first_off_badge(str(data.get("verdict", ""))),
        tuple(one for one in facts if one.value), heard, missed, str(data.get("note", "")),
    )  # fmt: skip


def _measured(data: Mapping[str, Any], name: str, unit: str) -> str:
    return f"{amount(data[name])} {unit}" if data.get(name) is not None else ""


def _by_side(said: Mapping[str, str] | None) -> str:
    return "; ".join(f"side {side}: {text}" for side, text in sorted((said or {}).items()))


def wow_words(off_centre_mm: float, radius_mm: float) -> str:
    """What a hole off the middle does to the innermost music: `± 0.13 %, ± 2.3 cents at 60.325 mm`.

    Parameters
    ----------
    off_centre_mm, radius_mm : float
    """
    try:
        share, cents = wow(off_centre_mm, radius_mm), wow_cents(off_centre_mm, radius_mm)
    except CallError:
        return ""
    return f"± {100 * share:.2f} %, ± {cents:.1f} cents once a turn, at {radius_mm:g} mm"


def _missed(number: int, one: Mapping[str, Any]) -> FindingRow:
    against = f"{figures(one['value'])} against {figures(one['limit'])} {one['unit']}" if one["unit"] else ""
    code = str(one["code"]).removeprefix("first_off_").replace("_", " ")
    return FindingRow(number, "stop", code, "", "", "", against, str(one["remedy"]), "", None)


# Lots, bins, accounts ----------------------------------------------------------------------------------


def lot_href(run: Run, number: int) -> str:
    """Address of a lot that was judged."""
    return f"{run_href(run.id)}/lots/{number}"


def lot_rows(run: Run, zone: ZoneInfo) -> tuple[LotRow, ...]:
    """The lots of a run, the last one first."""
    return tuple(_lot(run, one, zone) for one in reversed(run.lots))


def _lot(run: Run, lot: Lot, zone: ZoneInfo) -> LotRow:
    found = ", ".join(f"{one['found']} {one['class']} in {one['n']}" for one in lot.results)
    return LotRow(
        str(lot.number), lot_href(run, lot.number), lot_badge(lot), discs(lot.count), found, str(lot.scrapped or ""),
        "" if lot.held else str(lot.good), at_words(lot.at, zone),
    )  # fmt: skip


def bin_rows(run: Run) -> tuple[BinRow, ...]:
    """Discs of a run in each bin, in the order in which the bins stand."""
    return tuple(
        BinRow(name, str(count)) for name, count in sorted(run.bins.items(), key=lambda one: bin_order(one[0])) if count
    )


def account_rows(accounts: Sequence[AccountReached]) -> tuple[AccountRow, ...]:
    """Who has discs of a run, or is about to get them."""
    return tuple(
        AccountRow(
            one.account, one.name, ", ".join(place for place in (one.city, one.country) if place),
            str(sum(carton.count for carton in one.gone)), str(sum(carton.count for carton in one.here)),
            str(len(one.gone) + len(one.here)),
        )
        for one in accounts
    )  # fmt: skip


def account_csv(accounts: Sequence[AccountReached]) -> str:
    """The same as CSV."""
    rows = [
        (one.account, one.name, one.city, one.country, sum(carton.count for carton in one.gone),
         sum(carton.count for carton in one.here), len(one.gone) + len(one.here), "yes" if one.told else "no")
        for one in accounts
    ]  # fmt: skip
    return csv_of(ACCOUNT_COLUMNS, rows)
