"""Sampling plans of ISO 2859-1:1999, single sampling: code letter of a lot, master tables, arrows, the plan to go by.

The master tables are not typed in but built: down each diagonal of letters and AQLs stands the same acceptance number
at the same sample size times AQL. One sequence of acceptance numbers a table, with the arrows between, gives every
cell (docs/sampling.md says against what each cell was checked). Acceptance limits above 10 count nonconformities per
100 units, not units, and are refused.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from discwright.errors import CallError

Inspection = Literal["normal", "tightened", "reduced"]
Arrow = Literal["none", "up", "down"]

LETTERS = "ABCDEFGHJKLMNPQR"
LEVELS = ("S-1", "S-2", "S-3", "S-4", "I", "II", "III")
INSPECTIONS: tuple[Inspection, ...] = ("normal", "tightened", "reduced")
#: Acceptance quality limits in percent nonconforming, preferred numbers of the standard.
AQLS = (0.010, 0.015, 0.025, 0.040, 0.065, 0.10, 0.15, 0.25, 0.40, 0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10.0)
LOT_LEAST, LOT_MOST = 2, 999_999_999

#: Largest lot of each row, and its letters for the levels in the order of `LEVELS` (ISO 2859-1 table 1).
_LOTS = (
    (8, "AAAAAAB"), (15, "AAAAABC"), (25, "AABBBCD"), (50, "ABBCCDE"), (90, "BBCCCEF"), (150, "BBCDDFG"),
    (280, "BCDEEGH"), (500, "BCDEFHJ"), (1_200, "CCEFGJK"), (3_200, "CDEGHKL"), (10_000, "CDFGJLM"),
    (35_000, "CDFHKMN"), (150_000, "DEGJLNP"), (500_000, "DEGJMPQ"), (LOT_MOST, "DEHKNQR"),
)  # fmt: skip


@dataclass(frozen=True)
class _Table:
    """One master table.

    Attributes
    ----------
    letters : str
        Its rows; the tightened table has one more, S, with a single plan.
    sizes : tuple of int
        Sample size of each row.
    zero : int
        Number of the AQL in row A at which acceptance number 0 would stand; one less in each following row.
    accepts : mapping of int to int
        Acceptance number by the steps of AQL beyond that.
    ups : frozenset of int
        Steps at which an arrow points up; beyond the last acceptance number all do, elsewhere they point down.
    """

    letters: str
    sizes: tuple[int, ...]
    zero: int
    accepts: Mapping[int, int]
    ups: frozenset[int]


_SIZES = (2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000)
_TABLES: Mapping[Inspection, _Table] = {
    "normal": _Table(
        LETTERS, _SIZES, 14, {0: 0, 3: 1, 4: 2, 5: 3, 6: 5, 7: 7, 8: 10, 9: 14, 10: 21}, frozenset({1})
    ),
    "tightened": _Table(
        LETTERS + "S", (*_SIZES, 3150), 15, {0: 0, 3: 1, 4: 2, 5: 3, 6: 5, 7: 8, 8: 12, 9: 18}, frozenset()
    ),
    "reduced": _Table(
        LETTERS, (2, 2, *_SIZES[:14]), 14, {0: 0, 4: 1, 5: 2, 6: 3, 7: 5, 8: 6, 9: 8, 10: 10}, frozenset({1})
    ),
}  # fmt: skip


@dataclass(frozen=True)
class Cell:
    """A cell of a master table as it is printed: an acceptance number, or an arrow and none."""

    arrow: Arrow
    accept: int | None


@dataclass(frozen=True)
class Plan:
    """What to take from a lot and when to accept it.

    Attributes
    ----------
    lot : int
    level : str
    aql : float
        Percent nonconforming.
    inspection : {"normal", "tightened", "reduced"}
    table_letter : str
        By lot and level.
    letter : str
        After arrows.
    arrow : {"none", "up", "down"}
        Which way the arrow pointed that led from one to the other.
    table_n : int
        Sample size of `letter`.
    accept : int
        The lot is accepted with so many nonconforming discs in the sample or fewer.
    """

    lot: int
    level: str
    aql: float
    inspection: Inspection
    table_letter: str
    letter: str
    arrow: Arrow
    table_n: int
    accept: int

    @property
    def inspect_all(self) -> bool:
        """The table asks for as many discs as the lot has, or more."""
        return self.table_n >= self.lot

    @property
    def n(self) -> int:
        """Discs to look at; all of them where the table asks for more than there are."""
        return min(self.table_n, self.lot)

    @property
    def reject(self) -> int:
        return self.accept + 1

    @property
    def unsettled(self) -> bool:
        """The one corner in which printed tables differ: letter A at AQL 10, normal and tightened."""
        return self.table_letter == "A" and self.aql == AQLS[-1] and self.inspection != "reduced"

    @property
    def tighter_accept(self) -> int | None:
        """Acceptance number of the same sample at the next tighter AQL; None where this one is 0 or 1.

        The switching score asks whether a lot would have been accepted under it.
        """
        if self.accept < 2:
            return None
        return max(one for one in _TABLES[self.inspection].accepts.values() if one < self.accept)


def code_letter(lot: int, level: str) -> str:
    """Letter of a lot at an inspection level (ISO 2859-1 table 1).

    Parameters
    ----------
    lot : int
        Discs in it.
    level : str
        One of `LEVELS`.

    Raises
    ------
    CallError
    """
    if lot < LOT_LEAST:
        discs = "disc" if lot == 1 else "discs"
        raise CallError(f"a lot of {lot} {discs} cannot be sampled, lots begin at 2; look at every disc there is.")
    if lot > LOT_MOST:
        raise CallError(f"a lot of {lot} discs is none; give at most {LOT_MOST}.")
    if level not in LEVELS:
        raise CallError(f"there is no inspection level “{level}”; choose from {', '.join(LEVELS)}.")
    row = next(letters for most, letters in _LOTS if lot <= most)
    return row[LEVELS.index(level)]


def aql_number(aql: float) -> int:
    """Place of an AQL in `AQLS`.

    Parameters
    ----------
    aql : float
        Percent nonconforming.

    Raises
    ------
    CallError
        Naming its nearest neighbours in the table.
    """
    for place, one in enumerate(AQLS):
        if abs(aql - one) <= 1e-9 * one:
            return place
    if aql > AQLS[-1]:
        raise CallError(
            f"an AQL of {aql:g} would count nonconformities per 100 discs and not nonconforming discs; give 10 or less."
        )
    lower = [one for one in AQLS if one < aql]
    upper = [one for one in AQLS if one > aql]
    near = " or ".join(f"{one:g}" for one in (*lower[-1:], *upper[:1])) or f"one of {AQLS[0]:g} to {AQLS[-1]:g}"
    raise CallError(f"an AQL of {aql:g} is not in the table; give {near}.")


def inspection_named(word: str) -> Inspection:
    """A word as one of the three severities.

    Parameters
    ----------
    word : str

    Raises
    ------
    CallError
    """
    if word not in INSPECTIONS:
        raise CallError(f"there is no inspection “{word}”; choose from {', '.join(INSPECTIONS)}.")
    return word


def master_cell(letter: str, aql: float, inspection: Inspection) -> Cell:
    """A cell of a master table, arrows not followed.

    Parameters
    ----------
    letter : str
        One of `LETTERS`, or S in the tightened table.
    aql : float
        Percent nonconforming.
    inspection : {"normal", "tightened", "reduced"}

    Raises
    ------
    CallError
    """
    table = _TABLES[inspection_named(inspection)]
    if len(letter) != 1 or letter not in table.letters:
        raise CallError(f"there is no code letter “{letter}”; choose from {', '.join(table.letters)}.")
    return _cell(table, table.letters.index(letter), aql_number(aql))


def plan_of(lot: int, level: str, aql: float, inspection: Inspection = "normal") -> Plan:
    """The plan for a lot, arrows followed.

    Parameters
    ----------
    lot : int
        Discs in it.
    level : str
        One of `LEVELS`.
    aql : float
        Percent nonconforming, one of `AQLS`.
    inspection : {"normal", "tightened", "reduced"}

    Returns
    -------
    Plan

    Raises
    ------
    CallError
    """
    table_letter = code_letter(lot, level)
    number, table = aql_number(aql), _TABLES[inspection_named(inspection)]
    row = start = table.letters.index(table_letter)
    cell = _cell(table, row, number)
    while cell.accept is None:
        row += 1 if cell.arrow == "down" else -1
        cell = _cell(table, row, number)
    arrow: Arrow = "down" if row > start else "up" if row < start else "none"
    return Plan(
        lot, level, AQLS[number], inspection, table_letter, table.letters[row], arrow, table.sizes[row], cell.accept
    )


def _cell(table: _Table, row: int, number: int) -> Cell:
    """By the building rule; an arrow that would lead out of the table points the other way."""
    step = _step(table, row, number)
    if step in table.accepts:
        return Cell("none", table.accepts[step])
    up = step in table.ups or step > max(table.accepts)
    ahead = range(row - 1, -1, -1) if up else range(row + 1, len(table.letters))
    if not any(_step(table, one, number) in table.accepts for one in ahead):
        up = not up
    return Cell("up" if up else "down", None)


def _step(table: _Table, row: int, number: int) -> int:
    return number - (table.zero - row)
