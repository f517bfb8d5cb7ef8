"""Orders as CSV: each fault is told with its line and its sentence, and one stop refuses the file. All *by hand*."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.files.csv_guard import Told
from discwright.files.orders_csv import HEADS, OrdersRead, read_count, read_orders

HEAD = ",".join(HEADS)
GOOD = {
    "order": "O-1", "account": "A-1", "name": "Přístav hudby", "address_1": "Nábřeží 4", "address_2": "",
    "city": "Praha", "region": "", "postcode": "170 00", "country": "CZ", "edition": "NL-004/lp", "count": "112",
    "wanted": "2026-12-24",
}  # fmt: skip
Read = Callable[..., OrdersRead]


@pytest.fixture
def read(tmp_path: Path) -> Read:
    """Reads lines that are right but for what is said otherwise of each."""

    def go(*rows: dict[str, str], editions: tuple[str, ...] | None = ("NL-004/lp",), **more: object) -> OrdersRead:
        path = tmp_path / "orders.csv"
        lines = [
            ",".join(f'"{value}"' for value in (GOOD | {"order": f"O-{k}"} | row).values())
            for k, row in enumerate(rows, 1)
        ]
        path.write_text("\n".join([HEAD, *lines]) + "\n", encoding="utf-8")
        return read_orders(path, editions=editions, **more)  # type: ignore[arg-type]

    return go


def test_a_good_line_is_taken_as_it_stands(read: Read) -> None:
    found = read({}, {"country": "no", "postcode": "5003", "wanted": "", "count": " 7 "}, weights={"A-1": 2.5})
    assert (found.findings, found.refused, found.more) == ((found.findings[0],), False, 0)
    assert found.findings[0].code == "two_addresses"
    first, second = found.lines
    assert (first.name, first.count, first.wanted, first.weight, first.line) == (
        "Přístav hudby",
        112,
        "2026-12-24",
        2.5,
        2,
    )
    assert (second.country, second.count, second.wanted, second.line) == ("NO", 7, "", 3)


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        ({"count": "0"}, "count", "is too few; give 1 at least."),
        ({"count": "-5"}, "count", "is less than nothing; give 1 at least."),
        ({"count": "-0,5"}, "count", "is less than nothing; give 1 at least."),
        ({"count": "1.5"}, "count", "is no count of whole discs; write digits alone, such as 25."),
        ({"count": "1,234"}, "count", "could be a thousand or a decimal; write 1234, if that is meant."),
        ({"count": "1.234.000"}, "count", "could be a thousand or a decimal; write 1234000, if that is meant."),
        ({"count": "1e9"}, "count", "is no count of whole discs; write digits alone, such as 25."),
        ({"count": "nan"}, "count", "is no count of whole discs; write digits alone, such as 25."),
        ({"count": "٢٥"}, "count", "is no count of whole discs; write digits alone, such as 25."),
        ({"count": "25 pcs"}, "count", "is no count of whole discs; write digits alone, such as 25."),
        ({"count": ""}, "count", "the count is missing; give 1 or more."),
        ({"count": "1000001"}, "count", "is more than 1000000; split it."),
        ({"count": "9" * 30}, "count", "is no count of whole discs; write digits alone, such as 25."),
        ({"order": ""}, "order", "lacks an order number; fill it in."),
        ({"account": " "}, "account", "lacks an account number; fill it in."),
        ({"edition": ""}, "edition", "lacks an edition; fill it in."),
        ({"order": "x" * 61}, "order", "has 61 characters; a number has at most 60."),
        ({"edition": "nl 004 LP"}, "edition", "is in stock as NL-004/lp; write it so."),
        ({"edition": "NL-OO4/1p"}, "edition", "is in stock as NL-004/lp; write it so."),
        ({"name": ""}, "name", "the address lacks name; fill it in."),
        ({"address_1": "", "city": ""}, "address_1", "the address lacks address_1, city; fill it in."),
        ({"country": ""}, "country", "the address lacks country; fill it in."),
        ({"country": "XX"}, "country", "is no country's code; give its two letters of ISO 3166-1, such as CZ."),
        ({"country": "Tschechien"}, "country", "is no country's code; write CZ."),
        ({"country": "UK"}, "country", "is no country's code; write GB."),
        ({"country": "CZE"}, "country", "is no country's code; give its two letters of ISO 3166-1, such as CZ."),
        ({"wanted": "24.12.2026"}, "wanted", "is no day; write it as 2026-12-24."),
        ({"wanted": "2026-02-30"}, "wanted", "is no day; write it as 2026-12-24."),
        ({"wanted": "20261224"}, "wanted", "is no day; write it as 2026-12-24."),
        ({"wanted": "2026-W52-4"}, "wanted", "is no day; write it as 2026-12-24."),
        ({"wanted": "soon"}, "wanted", "is no day; write it as 2026-12-24."),
        ({"name": "P\ufffd\ufffdstav"}, "", "holds the sign for a letter that was lost; type it anew."),
        (
            {"name": "=HYPERLINK(1)"}, "name",
            "begins like a formula of a spreadsheet; write it without the first character.",
        ),
        ({"city": "Pra\u202eha"}, "city", "holds characters that turn text round; type it anew."),
    ],
)  # fmt: skip
def test_each_fault_and_its_sentence(row: dict[str, str], column: str, words: str, read: Read) -> None:
    found = read({}, row)
    place = f"orders.csv, line 3{', ' if column else ''}{column}"
    assert [one.sentence for one in found.findings if one.severity == "stop"] == [f"{place}: {words}"]
    assert found.refused
    assert found.lines == ()


def test_all_faults_of_all_lines_are_told(read: Read) -> None:
    found = read({"count": "0", "wanted": "soon"}, {}, {"name": "", "country": "XX", "edition": "nl004lp"})
    assert [(one.line, one.column, one.code) for one in found.findings] == [
        (2, "count", "wrong_count"), (2, "wanted", "wrong_date"), (4, "edition", "edition_spelled"),
        (4, "name", "missing_address"), (4, "country", "unknown_country"),
    ]  # fmt: skip


def test_a_line_twice(read: Read) -> None:
    found = read({"order": "O-7"}, {"order": "O-8"}, {"order": "O-7", "count": "3"})
    assert [one.sentence for one in found.findings] == [
        "orders.csv, line 4, order: order O-7 has NL-004/lp in line 2 already; put them together."
    ]
    assert found.refused


def test_an_edition_that_is_not_in_stock_is_short_and_told(read: Read) -> None:
    found = read({"edition": "NL-005/lp"}, {"edition": "NL-005/lp"}, {"edition": "Quay"})
    assert not found.refused
    assert len(found.lines) == 3
    assert [one.sentence for one in found.findings] == [
        "orders.csv, line 2, edition: is not in the stock list; the nearest in stock is NL-004/lp: all of it is short "
        "unless the number is mended.",
        "orders.csv, line 4, edition: is not in the stock list: all of it is short unless the number is mended.",
    ]
    assert read({"edition": "Quay"}, editions=None).findings == ()


def test_what_an_address_usually_has(read: Read) -> None:
    found = read(
        {"postcode": ""}, {"country": "US", "city": "Boston", "postcode": "02110"}, {"country": "HK", "postcode": ""}
    )
    assert [(one.line, one.code, one.severity) for one in found.findings] == [
        (2, "missing_postcode", "warn"), (3, "missing_region", "warn"), (3, "two_addresses", "note"),
        (4, "missing_region", "warn"), (4, "two_addresses", "note"),
    ]  # fmt: skip
    assert found.findings[0].remedy == "an address in CZ usually has a postcode; ask for it."
    assert found.findings[1].remedy == "an address in US usually has a region; ask for it."
    assert len(found.lines) == 3


def test_a_file_without_lines(read: Read) -> None:
    found = read()
    assert [one.sentence for one in found.findings] == ["orders.csv: has no line of an order; give one at least."]
    assert found.refused


def test_many_lines_stay_few_findings(read: Read) -> None:
    found = read(*[{"count": "x"}] * 1500)
    assert (len(found.findings), found.more) == (1000, 500)


@given(st.text(max_size=12))
def test_a_count_is_read_or_told(text: str) -> None:
    told = Told("t.csv")
    count = read_count(told, 2, text, 1)
    assert (count > 0) is not bool(told.findings)
    if count:
        assert text.isascii()
        assert int(text) == count
