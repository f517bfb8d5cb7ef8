"""Sampling plans: every cell of printed tables, *published* unless a comment says otherwise."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.works.sampling import (
    AQLS,
    INSPECTIONS,
    LETTERS,
    LEVELS,
    Inspection,
    Plan,
    code_letter,
    inspection_named,
    master_cell,
    plan_of,
)

AUTHORITIES = Path(__file__).parents[1] / "authorities"
#: A lot of each letter at level II, and at level III for R.
LOT_OF = {
    "A": 8, "B": 15, "C": 25, "D": 50, "E": 90, "F": 150, "G": 280, "H": 500, "J": 1200, "K": 3200, "L": 10_000,
    "M": 35_000, "N": 150_000, "P": 500_000, "Q": 500_001,
}  # fmt: skip
NIBS_AQLS = ("0.65", "1.0", "1.5", "2.5", "4.0", "6.5", "10")


def rows(name: str) -> list[dict[str, str]]:
    with (AUTHORITIES / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def plan_at(letter: str, aql: float, inspection: Inspection) -> Plan:
    level, lot = ("III", 500_001) if letter == "R" else ("II", LOT_OF[letter])
    plan = plan_of(lot, level, aql, inspection)
    assert plan.table_letter == letter
    return plan


def test_every_code_letter() -> None:
    table = rows("iso2859_code_letters.csv")
    assert len(table) == 15
    for row in table:
        for level in LEVELS:
            lots = (int(row["lot_min"]), int(row["lot_max"] or 10**8))
            assert [code_letter(lot, level) for lot in lots] == [row[level]] * 2, (row, level)


@pytest.mark.parametrize("inspection", ["normal", "tightened"])
def test_every_cell_of_the_tables(inspection: Inspection) -> None:
    """16 letters × 12 AQLs each, but for the cell in which printed tables differ (letter A, AQL 10)."""
    name = "iso2859_single_normal.csv" if inspection == "normal" else "iso2859_single_tightened.csv"
    table = rows(name)
    assert len(table) == 192
    for row in table:
        if (row["code"], row["aql"]) == ("A", "10"):
            continue
        plan = plan_at(row["code"], float(row["aql"]), inspection)
        assert (plan.letter, plan.table_n, plan.accept, plan.reject) == (
            row["eff_code"], int(row["n"]), int(row["ac"]), int(row["re"]),
        ), row  # fmt: skip
        cell = master_cell(row["code"], float(row["aql"]), inspection)
        assert cell.arrow == row["arrow"], row
        assert (cell.accept is None) == (row["resolved_from_arrow"] == "yes"), row


def test_every_cell_of_the_low_aqls() -> None:
    """0.010 to 0.040, normal and tightened."""
    table = rows("iso2859_single_low_aql.csv")
    assert len(table) == 128
    for row in table:
        plan = plan_at(row["code"], float(row["aql"]), inspection_named(row["inspection"]))
        assert (plan.letter, plan.table_n, plan.accept, plan.reject) == (
            row["eff_code"], int(row["n"]), int(row["ac"]), int(row["re"]),
        ), row  # fmt: skip


def test_every_cell_of_the_reduced_table() -> None:
    """16 letters × 16 AQLs of the 1999 edition, without the gaps of the older one."""
    table = rows("iso2859_single_reduced.csv")
    assert len(table) == 256
    for row in table:
        plan = plan_at(row["code"], float(row["aql"]), "reduced")
        assert (plan.letter, plan.table_n, plan.accept, plan.reject) == (
            row["eff_code"], int(row["n"]), int(row["ac"]), int(row["re"]),
        ), row  # fmt: skip


def test_the_block_of_a_government_guide() -> None:
    """105 cells of normal at level II and 42 of tightened, arrows and rejection numbers."""
    told = 0
    for row in rows("nibs_reject_numbers.csv"):
        for aql in NIBS_AQLS:
            told += 1
            printed, cell = row[aql], master_cell(row["code"], float(aql), inspection_named(row["inspection"]))
            if printed == "?":
                continue
            mine = {"up": "^", "down": "v", "none": str((cell.accept or 0) + 1)}[cell.arrow]
            assert mine == printed, (row, aql)
            if cell.arrow == "none":
                assert plan_at(row["code"], float(aql), inspection_named(row["inspection"])).table_n == int(row["n"])
    assert told == 105 + 42


def test_published_plans() -> None:
    """Six plans of a journal paper for lots of 35 001 to 500 000, and three of a textbook that cites IEC 60410."""
    for row in rows("iso2859_published_plans.csv"):
        for lot in (int(row["lot_min"]), int(row["lot_max"])):
            plan = plan_of(lot, row["level"], float(row["aql"]))
            assert (plan.n, plan.accept, plan.reject) == (int(row["n"]), int(row["ac"]), int(row["re"])), row


def test_the_tightened_table_has_one_plan_of_3150() -> None:
    plans = {plan_at(letter, aql, "tightened") for letter in LETTERS for aql in AQLS}
    assert {(plan.table_letter, plan.aql) for plan in plans if plan.letter == "S"} == {("Q", 0.025), ("R", 0.025)}
    assert {(plan.table_n, plan.accept) for plan in plans if plan.letter == "S"} == {(3150, 1)}


def test_a_plan_in_full() -> None:
    """By hand: a lot of 2000 at level II and AQL 1.0."""
    plan = plan_of(2000, "II", 1.0)
    assert plan == Plan(2000, "II", 1.0, "normal", "K", "K", "none", 125, 3)
    assert (plan.n, plan.reject, plan.inspect_all, plan.unsettled, plan.tighter_accept) == (125, 4, False, False, 2)
    moved = plan_of(40, "II", 0.65)
    assert (moved.table_letter, moved.letter, moved.arrow, moved.n) == ("D", "F", "down", 20)
    assert plan_of(150_000, "II", 4.0).arrow == "up"


def test_a_sample_as_large_as_the_lot_is_the_lot() -> None:
    """By hand: n = 13 for letter E."""
    plans = [plan_of(lot, "II", 1.0) for lot in (2, 12, 13, 14)]
    assert [(plan.table_n, plan.n, plan.inspect_all) for plan in plans] == [
        (13, 2, True), (13, 12, True), (13, 13, True), (13, 13, False),
    ]  # fmt: skip


def test_the_next_tighter_acceptance_number() -> None:
    """Another road: the same letter at the AQL before, wherever the cell has no arrow."""
    checked = 0
    for inspection in INSPECTIONS:
        for letter in LETTERS:
            for aql, tighter in zip(AQLS[1:], AQLS, strict=False):
                plan = plan_at(letter, aql, inspection)
                if plan.accept < 2:
                    assert plan.tighter_accept is None
                elif plan.arrow == "none":
                    assert plan.tighter_accept == plan_at(letter, tighter, inspection).accept
                    checked += 1
    assert checked > 150
    assert plan_at("R", 10.0, "normal").tighter_accept == 14  # by hand: L at 10 has 21, at 6.5 it has 14


def test_only_one_corner_is_unsettled() -> None:
    doubtful = [
        (letter, aql, inspection)
        for letter in LETTERS for aql in AQLS for inspection in INSPECTIONS
        if plan_at(letter, aql, inspection).unsettled
    ]  # fmt: skip
    assert doubtful == [("A", 10.0, "normal"), ("A", 10.0, "tightened")]


@given(
    st.integers(2, 10**9 - 1), st.sampled_from(LEVELS), st.sampled_from(AQLS), st.sampled_from(get_args(Inspection))
)  # fmt: skip
def test_whatever_the_lot(lot: int, level: str, aql: float, inspection: Inspection) -> None:
    plan = plan_of(lot, level, aql, inspection)
    assert 0 <= plan.accept < plan.reject <= plan.n <= lot
    assert plan.inspect_all == (plan.n == lot)
    assert (plan.letter == plan.table_letter) == (plan.arrow == "none")
    assert plan_of(lot, level, aql, "reduced").table_n <= plan_of(lot, level, aql, "normal").table_n


@pytest.mark.parametrize(
    ("lot", "level", "aql", "inspection", "sentence"),
    [
        (0, "II", 1.0, "normal", "a lot of 0 discs cannot be sampled, lots begin at 2; look at every disc there is."),
        (1, "II", 1.0, "normal", "a lot of 1 disc cannot be sampled, lots begin at 2; look at every disc there is."),
        (10**9, "II", 1.0, "normal", "a lot of 1000000000 discs is none; give at most 999999999."),
        (9, "IV", 1.0, "normal", "there is no inspection level “IV”; choose from S-1, S-2, S-3, S-4, I, II, III."),
        (9, "II", 3.0, "normal", "an AQL of 3 is not in the table; give 2.5 or 4."),
        (9, "II", 0.001, "normal", "an AQL of 0.001 is not in the table; give 0.01."),
        (9, "II", float("nan"), "normal", "an AQL of nan is not in the table; give one of 0.01 to 10."),
        (
            9, "II", 15.0, "normal",
            "an AQL of 15 would count nonconformities per 100 discs and not nonconforming discs; give 10 or less.",
        ),
        (9, "II", 1.0, "loose", "there is no inspection “loose”; choose from normal, tightened, reduced."),
    ],
)  # fmt: skip
def test_plans_that_are_not_there(lot: int, level: str, aql: float, inspection: Inspection, sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        plan_of(lot, level, aql, inspection)
    assert str(refusal.value) == sentence


@pytest.mark.parametrize("letter", ["I", "O", "S", "", "AB"])
def test_letters_that_are_not_there(letter: str) -> None:
    with pytest.raises(CallError, match="there is no code letter"):
        master_cell(letter, 1.0, "normal")
