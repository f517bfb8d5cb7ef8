"""Where a run is: what it waits for, and whether there is anything left to do about it. Worked out, never written."""

from __future__ import annotations

from dataclasses import dataclass

from discwright.works.family import Family
from discwright.works.yard import Run

#: What a run can wait for, the most pressing first, with the words for it.
RUN_WAITS = {
    "recalled": "is recalled",
    "first_off": "waits for its first-off",
    "first_off_missed": "its first-off missed: mend it and press another first one",
    "pressing": "is pressed",
    "decision": "a refused lot waits for a decision",
    "inspection": "discs wait to be inspected",
    "stocking": "accepted discs are in no bin yet",
}


@dataclass(frozen=True)
class RunStanding:
    """Where a run is.

    Attributes
    ----------
    waits : tuple of str
        Keys of :data:`RUN_WAITS`, the most pressing first; none where nothing is left to do.
    working : bool
        It still has its press.
    recalled_for : str
        Number of what was recalled or refused; empty where nothing was.
    """

    waits: tuple[str, ...]
    working: bool
    recalled_for: str

    @property
    def open(self) -> bool:
        """Something is left to do about it."""
        return bool(self.waits)


def at_work(family: Family, run: Run) -> bool:
    """Its stampers are at its press, and no later run was begun with any of them; a tape, until as many are made.

    Parameters
    ----------
    family : Family
    run : Run
    """
    if run.planned and run.made >= run.planned:
        return False
    if not run.stampers:
        return bool(run.planned) or not run.made
    for number in run.stampers.values():
        part = family.parts.get(number)
        if part is None or part.state != "at_press" or part.press != run.press:
            return False
    own = set(run.stampers.values())
    later = (one for one in family.yard.runs.values() if one.begun > run.begun)
    return all(own.isdisjoint(one.stampers.values()) for one in later)


def run_standing(family: Family, run: Run) -> RunStanding:
    """Where a run is, and what it waits for.

    Parameters
    ----------
    family : Family
    run : Run
    """
    recalled, working = family.recalled_for(run), at_work(family, run)
    if recalled:
        here = working or run.stocked or run.held or run.to_inspect or run.to_stock > 0
        return RunStanding(("recalled",) if here else (), working, recalled)
    passed = run.first_off == "pass"
    told = (
        ("first_off", working and not run.first_off),
        ("first_off_missed", working and bool(run.first_off) and not passed),
        ("pressing", working and passed),
        ("decision", run.held > 0),
        ("inspection", run.to_inspect > 0),
        ("stocking", run.to_stock > 0),
    )
    return RunStanding(tuple(key for key, is_so in told if is_so), working, "")
