"""What a disc edition needs: how many of everything, how long the press is taken, and by when each must be there."""

from __future__ import annotations

import math

from discwright.acts.press_findings import (
    cooling_findings,
    date_findings,
    life_findings,
    overrun_findings,
    side_findings,
)
from discwright.acts.press_report import Asked, DiscNeeds, Need
from discwright.files.press_settings import Days, OverrunTerms, PressSettings, Size
from discwright.files.settings import load
from discwright.findings import sort_findings
from discwright.groove.equipment import DiscFormat
from discwright.works.cooling import Cooling, cooling
from discwright.works.overrun import Overrun, newsvendor
from discwright.works.plating import face_area
from discwright.works.press import (
    MeanParts,
    SideParts,
    TreeLimits,
    chance_short,
    enough_begun,
    mean_parts,
    press_seconds,
    shot,
    side_parts,
)
from discwright.works.press_dates import DiscDates, LeadDays, disc_dates
from discwright.works.stamper_life import StamperLife
from discwright.works.steam import ATMOSPHERE, ZERO_C, saturation_pressure

#: A title whose sides nobody fixed is taken as one disc.
_ASSUMED_SIDES = 2
_FACES = 2


def disc_needs(asked: Asked, life: StamperLife, tree: TreeLimits, house: PressSettings) -> DiscNeeds:
    """Everything for one disc edition.

    Parameters
    ----------
    asked : Asked
    life : StamperLife
    tree : TreeLimits
    house : PressSettings

    Returns
    -------
    DiscNeeds

    Raises
    ------
    CallError
    """
    disc = load(DiscFormat, asked.edition.format)
    size = house.sizes[house.size_of(disc.disc_diameter)]
    sides = len(asked.edition.sides) or _ASSUMED_SIDES
    discs = math.ceil(sides / _FACES)
    start, mean_start = enough_begun(asked.good, asked.share, asked.probability), asked.good / asked.share
    parts, mean = side_parts(start, life, tree, asked.probability), mean_parts(mean_start, life, tree)
    chance = (1.0 - chance_short(start, asked.good, asked.share)) ** discs * parts.chance**sides
    mixture = house.compound
    one = shot(
        size.weight_g * 1e-3, mixture.density_g_cm3 * 1e3, face_area(disc.disc_diameter, disc.hole_diameter),
        mixture.flash_percent / 100.0,
    )  # fmt: skip
    seconds = _seconds(start * discs, parts.stampers * sides, size, house)
    dates = _dates(asked, seconds, parts, sides, house)
    printed = _printed(asked, start, mean_start, discs, house)
    needs = (
        *_metal(parts, mean, sides, dates),
        *(Need(what, n, n, on_average, "pieces", getattr(dates, what, None)) for what, n, on_average in printed),
        Need("compound", start * discs * one.mass, start * discs * one.mass, mean_start * discs * one.mass, "kg",
             dates.compound if dates else None),
        Need("press start", start * discs, start * discs, mean_start * discs, "pieces",
             dates.press_start if dates else None),
    )  # fmt: skip
    cool = _cooling(size, house)
    most = math.floor(asked.good * (1.0 + house.overrun.allowed_percent / 100.0) + 1e-9)
    found = [
        *side_findings(len(asked.edition.sides), asked.edition.id), *life_findings(life, house.parts),
        *cooling_findings(size.cycle_s, cool), *overrun_findings(start, asked.share, asked.good, most),
        *date_findings(asked.due, asked.today, needs),
    ]  # fmt: skip
    labels, sleeves, jackets = (n for _, n, _ in printed)
    return DiscNeeds(
        asked=asked, start=start, mean_start=mean_start, needs=_by_day(needs), findings=sort_findings(found),
        format=disc.name, sides=sides, discs=discs, life=life, stamper_share=tree.stamper_share, parts=parts,
        mean=mean, chance=chance, shot=one, labels=labels, sleeves=sleeves, jackets=jackets,
        changes=parts.stampers * sides, cycle=size.cycle_s, seconds=seconds,
        mean_seconds=_seconds(mean_start * discs, mean.stampers * sides, size, house), cooling=cool,
        steam=saturation_pressure(house.press.hot_c + ZERO_C) - ATMOSPHERE, dates=dates, most=most,
        overrun=_best(asked.good, house.overrun),
    )  # fmt: skip


def lead_days(days: Days) -> LeadDays:
    """The house's days as the rules of counting back take them.

    Parameters
    ----------
    days : Days
    """
    return LeadDays(
        week=days.week_days, master=days.master_days, mother=days.mother_days, stamper=days.stamper_days,
        parts_a_day=days.parts_per_day, approval=days.approval_days, labels=days.labels_days,
        compound=days.compound_days, sleeves=days.sleeves_days, jackets=days.jackets_days, finish=days.finish_days,
        pack=days.pack_days,
    )  # fmt: skip


def with_spare(count: float, percent: float) -> int:
    """So many and what is spoiled besides, in whole pieces.

    Parameters
    ----------
    count : float
    percent : float
        Of the count.
    """
    return math.ceil(count * (1.0 + percent / 100.0) - 1e-9)


def _seconds(pressings: float, changes: float, size: Size, house: PressSettings) -> float:
    work = house.press
    return press_seconds(
        pressings, size.cycle_s, work.running_share, changes, work.change_minutes * 60.0,
        work.first_off_minutes * 60.0,
    )  # fmt: skip


def _dates(asked: Asked, seconds: float, parts: SideParts, sides: int, house: PressSettings) -> DiscDates | None:
    if asked.due is None:
        return None
    hours = house.press.presses * house.press.hours_a_day
    grown = (parts.stampers_begun * sides, parts.mothers_begun * sides, parts.masters_begun * sides)
    return disc_dates(asked.due, seconds, hours, *grown, lead_days(house.days))


def _printed(
    asked: Asked, start: int, mean_start: float, discs: int, house: PressSettings
) -> tuple[tuple[str, int, float], ...]:
    """Labels, inner sleeves and jackets: name, count with what is spoiled, used on the average."""
    spare, good = house.spare, asked.good
    faces = _FACES * discs
    return (
        ("labels", with_spare(faces * start, spare.labels_percent), faces * mean_start),
        ("sleeves", with_spare(good * discs, spare.sleeves_percent), good * discs),
        ("jackets", with_spare(good, spare.jackets_percent), good),
    )


def _metal(parts: SideParts, mean: MeanParts, sides: int, dates: DiscDates | None) -> tuple[Need, ...]:
    """Lacquers, masters, mothers and stampers of all sides."""
    rows = (
        ("lacquers", parts.lacquers, parts.lacquers, mean.lacquers),
        ("masters", parts.masters, parts.masters_begun, mean.masters),
        ("mothers", parts.mothers, parts.mothers_begun, mean.mothers),
        ("stampers", parts.stampers, parts.stampers_begun, mean.stampers),
    )
    return tuple(
        Need(what, count * sides, begun * sides, on_average * sides, "pieces", getattr(dates, what, None))
        for what, count, begun, on_average in rows
    )


def _by_day(needs: tuple[Need, ...]) -> tuple[Need, ...]:
    """In the order in which they must be there; as they are without dates."""
    return tuple(sorted(needs, key=lambda one: one.by.isoformat() if one.by else ""))


def _cooling(size: Size, house: PressSettings) -> Cooling:
    work = house.press
    return cooling(
        size.label_thickness_mm * 1e-3, house.compound.diffusivity_mm2_s * 1e-6, work.hot_c, work.cold_c, work.open_c
    )


def _best(good: int, terms: OverrunTerms) -> Overrun | None:
    """The quantity that pays best; None until the house says what too few and too many cost."""
    if terms.short_cost == terms.over_cost == 0.0:
        return None
    return newsvendor(good, good * terms.deviation_percent / 100.0, terms.short_cost, terms.over_cost)
