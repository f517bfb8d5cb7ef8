"""Stock lists and weights as CSV: faults with their lines, nothing half taken. All *by hand*."""

from __future__ import annotations

from pathlib import Path

import pytest

from discwright.files.stock_csv import read_stock, read_weights
from discwright.works.order_lines import StockLine


def put(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "stock.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_good_list(tmp_path: Path) -> None:
    found = read_stock(put(tmp_path, "edition,run,count,bin\nNL-004/lp,R-1,120,A-01\nNL-004/lp,R-2,0,A-02\n"))
    assert found.lines == (
        StockLine("NL-004/lp", "R-1", 120, "A-01", 2),
        StockLine("NL-004/lp", "R-2", 0, "A-02", 3),
    )
    assert (found.findings, found.refused) == ((), False)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (",R-1,5,B", "stock.csv, line 3, edition: lacks the edition; fill it in."),
        ("E,,5,B", "stock.csv, line 3, run: lacks the run; fill it in."),
        ("E,R-1,5,", "stock.csv, line 3, bin: lacks the bin; fill it in."),
        ("E,R-1,-5,B", "stock.csv, line 3, count: is less than nothing; give 0 at least."),
        ("E,R-1,1.5,B", "stock.csv, line 3, count: is no count of whole discs; write digits alone, such as 25."),
        ("E,R-1,,B", "stock.csv, line 3, count: the count is missing; give 0 or more."),
        (
            "E,@run,5,B",
            "stock.csv, line 3, run: begins like a formula of a spreadsheet; write it without the first character.",
        ),
        (f"E,{'R' * 61},5,B", "stock.csv, line 3, run: has 61 characters; at most 60 can be printed."),
        ("E,R\ufffd,5,B", "stock.csv, line 3: holds the sign for a letter that was lost; type it anew."),
        ("E,R-1,5,B-1", "stock.csv, line 3, bin: run R-1 of E is in bin B-1 in line 2 already; put them together."),
    ],
)  # fmt: skip
def test_each_fault_and_its_sentence(row: str, words: str, tmp_path: Path) -> None:
    found = read_stock(put(tmp_path, f"edition,run,count,bin\nE,R-1,5,B-1\n{row}\n"))
    assert [one.sentence for one in found.findings] == [words]
    assert found.refused
    assert found.lines == ()


def test_a_run_of_two_editions_is_told(tmp_path: Path) -> None:
    found = read_stock(put(tmp_path, "edition,run,count,bin\nE,R-1,5,B-1\nF,R-1,5,B-2\n"))
    assert [one.sentence for one in found.findings] == [
        "stock.csv, line 3, run: run R-1 is of E in line 2; one run presses one edition, look at the label."
    ]
    assert len(found.lines) == 2


def test_weights(tmp_path: Path) -> None:
    found = read_weights(put(tmp_path, "account;weight\nA-1;2,5\nA-2;1\n"))
    assert found.weights == {"A-1": 2.5, "A-2": 1.0}
    for row, words in (
        ("A-1;3", "stock.csv, line 3, account: account A-1 stands further up; leave one."),
        ("A-2;0", "stock.csv, line 3, weight: is no weight; give one above 0, 1000000 at most."),
        ("A-2;heavy", "stock.csv, line 3, weight: is no weight; give one above 0, 1000000 at most."),
        ("A-2;1,234", "stock.csv, line 3, weight: is no weight; give one above 0, 1000000 at most."),
        (";1", "stock.csv, line 3, account: lacks the account; fill it in."),
    ):
        found = read_weights(put(tmp_path, f"account;weight\nA-1;2,5\n{row}\n"))
        assert [one.sentence for one in found.findings] == [words]
        assert (found.refused, found.weights) == (True, {})
