"""What is worth a word about an order before it is pressed: what was assumed, what is late, what is too fast."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from discwright.acts.plate_findings import finding
from discwright.acts.press_report import Need
from discwright.files.press_settings import Tree
from discwright.findings import Finding
from discwright.works.cooling import FOURIER_LEAST, Cooling
from discwright.works.stamper_life import StamperLife


def side_findings(fixed: int, edition: str) -> list[Finding]:
    """What was assumed about the sides of an edition.

    Parameters
    ----------
    fixed : int
        How many sides the title file fixes; 0 for none.
    edition : str
    """
    if fixed == 0:
        words = (
            f"The title file fixes no sides of “{edition}”: one disc with two sides is reckoned. Fix them with "
            "`discwright layout TITLE.toml --fix N`."
        )
        return [finding("sides_assumed", "note", 2, 0, "sides", words)]
    if fixed % 2:
        words = (
            "One face of the last disc stays blank: a plain stamper that is not counted here presses it. Have it ready."
        )
        return [finding("blank_side", "note", fixed, fixed + 1, "sides", words)]
    return []


def life_findings(life: StamperLife, usual: Tree) -> list[Finding]:
    """A stamper life outside what works tell of.

    Parameters
    ----------
    life : StamperLife
    usual : Tree
    """
    if usual.life_low <= life.mean <= usual.life_high:
        return []
    limit = usual.life_low if life.mean < usual.life_low else usual.life_high
    words = (
        f"Works tell of {usual.life_low:g} to {usual.life_high:g} pressings: reckon with more or fewer only where the "
        "house has counted it."
    )
    return [finding("stamper_life", "note", life.mean, limit, "pressings", words)]


def cooling_findings(cycle: float, cool: Cooling) -> list[Finding]:
    """A cycle that leaves the thickest place no time to cool, and a formula outside its range.

    Parameters
    ----------
    cycle : float, s
    cool : Cooling
    """
    found = []
    place = f"the label, {cool.thickness * 1e3:g} mm thick,"
    if cycle < cool.mean:
        words = (
            f"In so short a cycle {place} cannot come down to {cool.open_c:g} °C even on the average: lengthen the "
            "cycle, or the discs come out soft and warp."
        )
        found.append(finding("cooling_floor", "warn", cycle, cool.mean, "s", words))
    elif cycle < cool.centre:
        words = (
            f"The middle of {place} is still above {cool.open_c:g} °C when the whole cycle is over: cool longer, or "
            "look at the first discs for dish warp."
        )
        found.append(finding("cooling_floor", "warn", cycle, cool.centre, "s", words))
    if not (cool.mean_valid and cool.centre_valid):
        value = min(cool.fourier(cool.mean), cool.fourier(cool.centre))
        words = (
            f"The formula stands for its series from a·t/s² = {FOURIER_LEAST:g} on: here the times are only the order "
            "of size, the mean too short and the middle too long. Measure a disc."
        )
        found.append(finding("cooling_range", "note", value, FOURIER_LEAST, "a·t/s²", words))
    return found


def overrun_findings(start: int, share: float, good: int, most: int) -> list[Finding]:
    """More good ones on the average than the usual terms let be delivered.

    Parameters
    ----------
    start : int
    share : float
    good, most : int
        Wanted, and at most.
    """
    if start * share <= most:
        return []
    words = (
        f"So many good ones are to be expected of {start}, and the usual terms let {most} be delivered for {good}: "
        "agree on what becomes of the rest, or ask for a smaller --probability."
    )
    return [finding("overrun", "note", start * share, most, "copies", words)]


def date_findings(due: date | None, today: date, needs: Sequence[Need]) -> list[Finding]:
    """No due date, or one that cannot be kept.

    Parameters
    ----------
    due : date or None
    today : date
    needs : sequence of Need
    """
    if due is None:
        words = "The title file gives no due date for this edition, so nothing is dated: write due = 2031-05-30 there."
        return [finding("no_due_date", "note", 0, 0, "", words)]
    late = [one for one in needs if one.by is not None and one.by < today]
    if not late:
        return []
    first = min(late, key=lambda one: one.by or date.max)
    assert first.by is not None
    words = (
        f"Should have been there before today: {', '.join(one.what for one in late)}; the first, {first.what}, by "
        f"{first.by.isoformat()}. Agree on a later date, or give the order more presses, shifts or tanks."
    )
    return [finding("late", "warn", (today - first.by).days, 0, "days", words)]
