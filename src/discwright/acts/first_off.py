"""The first disc of a run held against the ledger and the limits of the house, and written down whatever it says."""

from __future__ import annotations

from pathlib import Path

from discwright.acts.runs import run_for
from discwright.acts.works import Hand
from discwright.errors import CallError
from discwright.files.press_settings import PressSettings, load_press
from discwright.files.settings import load
from discwright.findings import Finding
from discwright.groove.equipment import DiscFormat
from discwright.works import run_events as r
from discwright.works.family import Family
from discwright.works.first_off import RIGHT, FirstOffLimits, FirstOffSeen, FirstOffWanted, first_off
from discwright.works.store.ledger import Ledger, Outcome
from discwright.works.yard import Run

#: A hole from this diameter on is a large one, mm.
_LARGE_MM = 20.0


def first_off_limits(settings: PressSettings, disc: DiscFormat, weight_g: float | None = None) -> FirstOffLimits:
    """What a first-off of a format must keep.

    Parameters
    ----------
    settings : PressSettings
    disc : DiscFormat
    weight_g : float, optional
        Wanted weight where it is not that of the settings.
    """
    size, gate, hole = settings.sizes[settings.size_of(disc.disc_diameter)], settings.first_off, settings.hole
    large = disc.hole_diameter * 1e3 > _LARGE_MM
    return FirstOffLimits(
        hole_low_mm=hole.large_low_mm if large else hole.small_low_mm,
        hole_high_mm=hole.large_high_mm if large else hole.small_high_mm,
        off_centre_mm=gate.off_centre_mm, weight_g=weight_g or size.weight_g, weight_percent=gate.weight_percent,
        label_shift_mm=gate.label_shift_mm, diameter_low_mm=size.diameter_low_mm,
        diameter_high_mm=size.diameter_high_mm, label_thickness_low_mm=gate.label_thickness_low_mm,
        label_thickness_high_mm=gate.label_thickness_high_mm, label_diameter_mm=size.label_diameter_mm,
        recorded_diameter_mm=size.recorded_diameter_mm, locked_low_mm=size.locked_low_mm,
        locked_high_mm=size.locked_high_mm, warp_mm=gate.warp_mm, balance_mm=gate.balance_mm,
    )  # fmt: skip


def first_off_wanted(family: Family, run: Run, disc: DiscFormat) -> FirstOffWanted:
    """What the ledger says the first disc of a run must show.

    Parameters
    ----------
    family : Family
    run : Run
    disc : DiscFormat
    """
    marks = {side: " ".join(family.parts[number].marks) for side, number in run.stampers.items()}
    return FirstOffWanted(marks, dict(run.stampers), disc.innermost_radius * 1e3)


def disc_of(family: Family, run: Run) -> DiscFormat:
    """The format of a run's edition.

    Parameters
    ----------
    family : Family
    run : Run

    Raises
    ------
    CallError
        If the title names none that is known here.
    """
    named = next((str(one.get("format") or "") for one in family.editions if one["id"] == run.edition), "")
    if not named:
        raise CallError(f"{run.id}: edition {run.edition} of {family.title} names no format; take the title in again.")
    return load(DiscFormat, named)


def inspect_first_off(
    ledger: Ledger, number: str, seen: FirstOffSeen, hand: Hand, *, weight_g: float | None = None,
    settings: Path | None = None, note: str = "",
) -> tuple[Outcome, tuple[Finding, ...]]:  # fmt: skip
    """Inspect the first disc of a run; what misses a limit is written down and keeps the run waiting.

    Parameters
    ----------
    ledger : Ledger
    number : str
        Of the run.
    seen : FirstOffSeen
        What was not looked at counts as missed.
    hand : Hand
    weight_g : float, optional
        Wanted weight of this edition.
    settings : pathlib.Path, optional
        House file of the press.
    note : str

    Returns
    -------
    outcome : Outcome
    findings : tuple of Finding
        A stop for each limit that was missed.

    Raises
    ------
    CallError
        If there is no such run, or a value cannot be.
    """
    family, run = run_for(ledger, number)
    found = _of_a_disc(family, run, seen, weight_g, settings) if run.stampers else _of_a_tape(seen)
    missed = [
        {"code": one.code, "value": abs(one.value), "limit": one.limit, "unit": one.unit, "remedy": one.remedy}
        for one in found
        if one.severity == "stop"
    ]
    event = r.FirstOff(
        hole_mm=seen.hole_mm, off_centre_mm=seen.off_centre_mm, weight_g=seen.weight_g, labels=seen.labels or "",
        marks_read=_said(seen.marks_read), stampers_read=_said(seen.stampers), played=seen.played or "",
        verdict="stop" if missed else "pass", missed=tuple(missed), note=note,
    )  # fmt: skip
    return ledger.append(hand.order(event, part=run.id)), found


def _of_a_disc(
    family: Family, run: Run, seen: FirstOffSeen, weight_g: float | None, settings: Path | None
) -> tuple[Finding, ...]:
    disc = disc_of(family, run)
    limits = first_off_limits(load_press(settings), disc, weight_g)
    return first_off(seen, first_off_wanted(family, run, disc), limits)


def _of_a_tape(seen: FirstOffSeen) -> tuple[Finding, ...]:
    """A tape has no hole and no groove: its first copy is played, and its labels are looked at."""
    looked = ((seen.played, "pass", "play the first copy to its end"), (seen.labels, RIGHT, "look at its labels"))
    wrong = [words for said, right, words in looked if said != right]
    remedy = f"The first copy is not passed: {' and '.join(wrong)} before more are made."
    count = float(len(looked) - len(wrong))
    found = Finding("first_off_tape", "stop", None, None, None, None, count, float(len(looked)), "checks", remedy)
    return (found,) if wrong else ()


def _said(texts: object) -> dict[str, str] | None:
    """What was read of each side, without sides at which nobody looked."""
    if not isinstance(texts, dict):
        return None
    return {side: text for side, text in texts.items() if text.strip()} or None
