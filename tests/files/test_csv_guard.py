"""Tables read with care: every way a spreadsheet spoils them is told with its line, and what is written is harmless.

All expected values are *by hand*.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.files import csv_guard
from discwright.files.csv_guard import (
    FINDINGS_MOST,
    FORMULA,
    Told,
    read_table,
    safe_cell,
    shown,
    write_table,
)

HEADS = ("one", "two", "three")
Put = Callable[..., Path]


@pytest.fixture
def put(tmp_path: Path) -> Put:
    def go(content: str | bytes, name: str = "table.csv") -> Path:
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    return go


def read(
    path: Path, optional: tuple[str, ...] = ("three",), encoding: str | None = None
) -> tuple[list[tuple[int, list[str]]], Told]:  # fmt: skip
    told = Told(path.name)
    return list(read_table(path, HEADS, optional, told, encoding)), told


def sentences(told: Told) -> list[str]:
    return [one.sentence for one in told.findings]


PLAIN = [(2, ["a", "b", "c"]), (3, ["Ž", "東", "5"])]
TEXT = "one,two,three\na,b,c\nŽ,東,5\n"


@pytest.mark.parametrize(
    "content",
    [
        TEXT,
        TEXT.replace("\n", "\r\n"),
        TEXT.replace("\n", "\r"),
        TEXT.replace(",", ";"),
        TEXT.replace(",", "\t"),
        TEXT.rstrip(),
        '"one";"two";"three"\na;b;"c"\nŽ;東;5',
        "\ufeff" + TEXT,
        TEXT.encode("utf-16"),
        b"\xfe\xff" + TEXT.encode("utf-16-be"),
        " ONE , Two,THREE\n a , b,c\nŽ,東,5\n",
        "one,two,three,,\na,b,c,,\nŽ,東,5,,\n",
    ],
)
def test_however_a_spreadsheet_writes_it(content: str | bytes, put: Put) -> None:
    rows, told = read(put(content))
    assert rows == PLAIN
    assert sentences(told) == []


def test_lines_are_counted_through_quoted_line_breaks_and_blank_lines(put: Put) -> None:
    rows, told = read(put('sep=;\none;two;three\n\n"a\nb";c;d\n;;\ne;f;g\n'))
    assert [line for line, _ in rows] == [4, 7]
    assert sentences(told) == ["table.csv, line 4, one: holds a line break; put the lines into cells of their own."]


def test_columns_in_another_order_and_more_of_them(put: Put) -> None:
    rows, told = read(put("two,extra,one\nb,x,a\n"))
    assert rows == [(2, ["a", "b", ""])]
    assert sentences(told) == ["table.csv, line 1, extra: is a column that is not read."]
    assert told.stops == 0


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("one,three\na,b\n", "table.csv, line 1: the head lacks two; it is one,two,three."),
        ("a,b,c\n1,2,3\n", "table.csv, line 1: the head lacks one, two; it is one,two,three."),
        ("one,two,one\na,b,c\n", "table.csv, line 1, one: the head has one twice; leave one."),
        ("one,two,three\na\n", "table.csv, line 2: has 1 of the 3 cells of the head; fill the line up."),
        (
            'one,two,three\na,b"c"d,"e"f\n',
            "table.csv, line 2: has a quotation mark that is out of place or never closed; mend it.",
        ),
        (
            'one,two,three\na,"b,c\n',
            "table.csv, line 2: has a quotation mark that is out of place or never closed; mend it.",
        ),
        (
            "one,two,three\na," + "x" * 10_001 + ",c\n",
            "table.csv, line 2: has a cell of more than 10000 characters, or a quotation mark that is never closed; "
            "mend it.",
        ),
        (
            "one,two,three\na," + "x" * 201 + ",c\n",
            "table.csv, line 2, two: has 201 characters; write at most 200.",
        ),
        ("one,two,three\na,b\x07,c\n", "table.csv, line 2, two: holds characters that cannot be seen; type it anew."),
        ("one,two,three\na,b\x00,c\n", "table.csv, line 2, two: holds characters that cannot be seen; type it anew."),
        ("one,two,three\na,b\ufeff,c\n", "table.csv, line 2, two: holds characters that cannot be seen; type it anew."),
        *(
            (f"one,two\na,{c}b\n", "table.csv, line 2, two: holds characters that turn text round; type it anew.")
            for c in "\u202a\u202e\u2067\u2069"
        ),
        *(
            (
                f"one,two,three\na,{begin}1+cmd,c\n",
                "table.csv, line 2, two: begins like a formula of a spreadsheet; write it without the first character.",
            )
            for begin in FORMULA
        ),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_with_its_line(content: str, words: str, put: Put) -> None:
    path = put(content)
    if "\x00" in content:
        with pytest.raises(CallError, match="holds zero bytes and is no UTF-8 text; save it as CSV UTF-8, or say"):
            read(path)
        _, told = read(path, encoding="utf-8")
    else:
        _, told = read(path)
    assert sentences(told) == [words]
    assert told.stops == 1


def test_a_tabulator_before_a_formula(put: Put) -> None:
    _, told = read(put('one,two,three\na,"\t=1",c\n'))
    assert [one.code for one in told.findings] == ["formula", "control_character"]


@pytest.mark.parametrize(
    "cell", ["-5", "- 5", "+49", "-", "=", "a=b", "Mary-Ann", "\u200fשלום", "A\xa0B", "नमस्\u200dते"]
)
def test_what_is_no_harm(cell: str, put: Put) -> None:
    rows, told = read(put(f"one,two,three\na,{cell},c\n"))
    assert rows == [(2, ["a", cell, "c"])]
    assert told.findings == []


@pytest.mark.parametrize(
    ("content", "encoding", "words"),
    [
        (
            TEXT.encode().replace("Ž".encode(), b"\x8e"), None,
            "table.csv: line 3 holds a byte (0x8E) that is no UTF-8; save it as CSV UTF-8, or say with --encoding how "
            "it was written, for example windows-1252.",
        ),
        (b"one,two\na,b\n" + "é".encode()[:1], None, "table.csv: ends within a character; get the whole file again."),
        ("é".encode("utf-16") + b"\x00\xd8a\x00", None, "table.csv: line 1 holds a byte (0x00) that is no UTF-16;"),
        (b"", None, "table.csv: is empty; give a table with a head and lines."),
        (b"\xef\xbb\xbf\r\n", None, "table.csv: is empty; give a table with a head and lines."),
        (b"PK\x03\x04rest", None, "table.csv: is a workbook and no CSV; save its sheet as CSV UTF-8 first."),
        (TEXT.encode(), "klingon", "there is no encoding “klingon”; choose from utf-8, utf-16, windows-1250,"),
        (b"one,two\na,\x81\n", "windows-1252", "table.csv: line 2 holds a byte (0x81) that is no WINDOWS-1252;"),
    ],
)  # fmt: skip
def test_files_that_cannot_be_read(content: bytes, encoding: str | None, words: str, put: Put) -> None:
    with pytest.raises(CallError) as refusal:
        read(put(content), encoding=encoding)
    assert words in str(refusal.value)


def test_an_encoding_that_is_said(put: Put) -> None:
    rows, _ = read(put("one,two,three\nPříliš,b,c\n".encode("cp1250")), encoding="Windows-1250")
    assert rows[0][1][0] == "Příliš"


def test_files_that_are_none(tmp_path: Path) -> None:
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(CallError, match=r"there is no such file; check the path\."):
            read(path)


def test_too_many_lines_and_bytes(put: Put, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(csv_guard, "LINES_MOST", 3)
    rows, told = read(put("one,two\n" + "a,b\n" * 3))
    assert (len(rows), told.findings) == (3, [])
    rows, told = read(put("one,two\n" + "a,b\n" * 4))
    assert sentences(told) == ["table.csv, line 5: has more than 3 lines; split it."]
    monkeypatch.setattr(csv_guard, "BYTES_MOST", 1 << 20)
    with pytest.raises(CallError, match=r"is larger than 1 MiB; split it\."):
        read(put("one,two\n" + " " * (1 << 20)))


def test_findings_beyond_the_most_are_counted(put: Put) -> None:
    _, told = read(put("one,two\n" + "a,=b()\n" * (FINDINGS_MOST + 7)))
    assert (len(told.findings), told.more, told.stops) == (FINDINGS_MOST, 7, FINDINGS_MOST + 7)


def test_warnings_do_not_crowd_out_what_refuses_the_file() -> None:
    told = Told("t.csv")
    for line in range(FINDINGS_MOST + 5):
        told.finding("head", line, "", "", "is odd.", "note")
    told.finding("head", 9, "", "", "is wrong.")
    assert (len(told.findings), told.more, told.stops) == (FINDINGS_MOST + 1, 5, 1)
    assert told.findings[-1].sentence == "t.csv, line 9: is wrong."


def test_values_are_shown_without_harm() -> None:
    assert shown("a\u202eb\x00") == "a\\u202eb\\u0000"
    assert shown("x" * 100) == "x" * 59 + "…"


def test_the_readers_own_limit_is_put_back(put: Put) -> None:
    before = csv.field_size_limit()
    read(put(TEXT))
    assert csv.field_size_limit() == before


@given(st.text(max_size=20))
def test_no_written_cell_is_a_formula(text: str) -> None:
    cell = safe_cell(text)
    assert cell.removeprefix("'") == text or cell == text
    assert cell == text or text[0] in "=+-@＝＋－＠\t\r"
    if cell[:1] and cell[0] in "=＝@＠\t\r":
        raise AssertionError(cell)


def test_a_table_is_written_and_read_again(tmp_path: Path, put: Put) -> None:
    path = tmp_path / "out.csv"
    write_table(path, HEADS, [("=1+1", 5, "a,b"), ("-5", "@x", "Ž東\n")])
    assert path.read_text(encoding="utf-8") == 'one,two,three\n\'=1+1,5,"a,b"\n-5,\'@x,"Ž東\n"\n'
    with path.open(encoding="utf-8", newline="") as stream:
        assert list(csv.reader(stream))[1:] == [["'=1+1", "5", "a,b"], ["-5", "'@x", "Ž東\n"]]


@given(st.binary(max_size=300))
def test_whatever_lies_in_a_file_is_read_or_refused(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / "anything.csv"
    path.write_bytes(content)
    try:
        read(path)
    except CallError as refusal:
        sentence = str(refusal)
    else:
        sentence = "."
    assert sentence.endswith(".")
