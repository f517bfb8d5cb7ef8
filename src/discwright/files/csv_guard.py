"""Tables as CSV, read with care and written without harm.

What comes from a spreadsheet may hold formulas that run when the next person opens it, characters that cannot be seen
or that turn a line round, lost letters, and lines too many for any memory. Nothing is guessed and nothing repaired:
whatever is wrong is told with its line, and a table with one stop is not used at all.
"""

from __future__ import annotations

import codecs
import csv
import os
import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from discwright.errors import CallError
from discwright.findings import Severity

#: More lines than this are not read, nor more bytes; more findings are counted, not told.
LINES_MOST, BYTES_MOST, FINDINGS_MOST = 1_000_000, 1 << 30, 1000
#: A cell longer than this is no name and no address; the reader itself gives up at the second.
CELL_MOST, FIELD_MOST = 200, 10_000
#: What makes a spreadsheet compute instead of show, also in its wide forms.
FORMULA = "=+-@＝＋－＠"
#: Encodings that may be named; the first is taken where none is.
ENCODINGS = {
    "utf-8": "utf-8-sig", "utf-16": "utf-16", "windows-1250": "cp1250", "windows-1251": "cp1251",
    "windows-1252": "cp1252", "iso-8859-1": "iso8859-1", "iso-8859-2": "iso8859-2", "iso-8859-15": "iso8859-15",
    "shift-jis": "cp932", "gb18030": "gb18030", "big5": "big5", "euc-kr": "cp949",
}  # fmt: skip
_DELIMITERS = (",", ";", "\t", "|")
_SEP = re.compile(r'"?sep=(.)"?\s*', re.IGNORECASE)
#: Invisible characters with a use in names: joiners, and marks of direction that turn nothing round.
_HARMLESS = "\u200c\u200d\u200e\u200f\xad\xa0\u202f\u2009\u3000"
_TURNING = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
_LOST = "\ufffd"


@dataclass(frozen=True)
class LineFinding:
    """A fact about one line of a table.

    Attributes
    ----------
    code : str
    severity : {"note", "warn", "stop"}
        With one stop the whole table is refused.
    file : str
    line : int
        The head's line is 1; 0 where it concerns no single one.
    column : str
        Head of the column; empty where it concerns the line.
    value : str
        What stands there, shortened and made visible.
    remedy : str
        What is wrong and what to do, a sentence.
    """

    code: str
    severity: Severity
    file: str
    line: int
    column: str
    value: str
    remedy: str

    @property
    def sentence(self) -> str:
        """Place and fact in one line."""
        place = ", ".join(part for part in (f"line {self.line}" if self.line else "", self.column) if part)
        return f"{self.file}{', ' if place else ''}{place}: {self.remedy}"

    def as_dict(self) -> dict[str, Any]:
        """The finding as plain JSON values."""
        return {
            "code": self.code, "severity": self.severity, "file": self.file, "line": self.line, "column": self.column,
            "value": self.value, "remedy": self.remedy,
        }  # fmt: skip


@dataclass
class Told:
    """The findings of one table while it is read.

    Attributes
    ----------
    file : str
    findings : list of LineFinding
        The first :data:`FINDINGS_MOST` stops, and as many of the others: those do not crowd out what refuses the file.
    stops, more : int
        How many are stops, and how many more there are than are told.
    """

    file: str
    findings: list[LineFinding] = field(default_factory=list)
    stops: int = 0
    more: int = 0
    _others: int = 0

    def finding(self, code: str, line: int, column: str, value: str, remedy: str, severity: Severity = "stop") -> None:
        """Keep a finding, or count it where there are too many."""
        if severity == "stop":
            self.stops += 1
        else:
            self._others += 1
        if (self.stops if severity == "stop" else self._others) <= FINDINGS_MOST:
            self.findings.append(LineFinding(code, severity, self.file, line, column, shown(value), remedy))
        else:
            self.more += 1


def shown(value: str, most: int = 60) -> str:
    """Text as it can be shown: shortened, and what cannot be seen as its number.

    Parameters
    ----------
    value : str
    most : int
    """
    cut = value if len(value) <= most else value[: most - 1] + "…"
    return "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in cut)


def read_table(
    path: Path, heads: Sequence[str], optional: Sequence[str], told: Told, encoding: str | None = None
) -> Iterator[tuple[int, list[str]]]:
    """Rows of a table one by one, each with the line it begins at.

    Parameters
    ----------
    path : pathlib.Path
    heads : sequence of str
        Columns, in the order in which cells are given back whatever the order in the file.
    optional : sequence of str
        Those of them that may lack; their cells are then empty.
    told : Told
        Takes what is wrong.
    encoding : str or None
        One of :data:`ENCODINGS`; without, UTF-8, or UTF-16 where the file begins with its mark.

    Yields
    ------
    line : int
    cells : list of str
        Without blanks around them. Rows with findings are given too, so that all that is wrong is told.

    Raises
    ------
    CallError
        If the file cannot be opened or read as text.
    """
    codec = _codec(path, encoding)
    before = csv.field_size_limit(FIELD_MOST)
    try:
        with path.open(encoding=codec, newline="") as stream:
            first = stream.readline(FIELD_MOST)
            marked = _SEP.fullmatch(first)
            line = 1
            if marked:
                first, line = stream.readline(FIELD_MOST), 2
            delimiter = marked[1] if marked else _delimiter(first, heads)
            order = _order(next(csv.reader([first], delimiter=delimiter), []), heads, optional, told, line)
            if order is None:
                return
            yield from _rows(csv.reader(stream, delimiter=delimiter, strict=True), order, heads, told, line)
    except UnicodeError:
        raise CallError(_undecodable(path, codec, encoding)) from None
    except csv.Error as trouble:
        raise CallError(f"{path}: is no table of comma-separated values ({trouble}); save it as CSV again.") from None
    except OSError as trouble:
        raise CallError(f"{path}: cannot be read ({trouble.strerror}); check the path.") from None
    finally:
        csv.field_size_limit(before)


def _rows(
    reader: Any, order: Sequence[int | None], heads: Sequence[str], told: Told, before: int
) -> Iterator[tuple[int, list[str]]]:
    width = max(k for k in order if k is not None) + 1
    while True:
        line = before + reader.line_num + 1
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as trouble:
            told.finding("broken_quotes", line, "", "", f"{_broken(trouble)}; mend it.")
            if "expected after" in str(trouble):
                continue
            return
        if not any(row):
            continue
        if line > LINES_MOST + before:
            told.finding("too_many_lines", line, "", "", f"has more than {LINES_MOST} lines; split it.")
            return
        if len(row) < width:
            told.finding("cells", line, "", "", f"has {len(row)} of the {width} cells of the head; fill the line up.")
            continue
        cells = [row[k].strip(" ") if k is not None else "" for k in order]
        if not "".join(cells).isprintable() or any(cell[:1] in FORMULA for cell in cells if cell):
            _judge(cells, heads, line, told)
        for name, cell in zip(heads, cells, strict=True):
            if len(cell) > CELL_MOST:
                told.finding("too_long", line, name, cell, f"has {len(cell)} characters; write at most {CELL_MOST}.")
        yield line, cells


def _broken(trouble: csv.Error) -> str:
    if "field larger" in str(trouble):
        return f"has a cell of more than {FIELD_MOST} characters, or a quotation mark that is never closed"
    return "has a quotation mark that is out of place or never closed"


def _judge(cells: Sequence[str], heads: Sequence[str], line: int, told: Told) -> None:
    """Formulas, and characters that cannot be seen."""
    for name, cell in zip(heads, cells, strict=True):
        if cell[:1] and cell[0] in FORMULA + "\t\r" and len(cell) > 1 and not _is_number(cell):
            told.finding(
                "formula", line, name, cell,
                "begins like a formula of a spreadsheet; write it without the first character.",
            )  # fmt: skip
        if cell.isprintable():
            continue
        odd = [c for c in cell if not c.isprintable() and c not in _HARMLESS]
        if any(c in _TURNING for c in odd):
            told.finding("turned_text", line, name, cell, "holds characters that turn text round; type it anew.")
        elif any(c in "\r\n" for c in odd):
            told.finding("line_break", line, name, cell, "holds a line break; put the lines into cells of their own.")
        elif odd:
            told.finding("control_character", line, name, cell, "holds characters that cannot be seen; type it anew.")


def _is_number(cell: str) -> bool:
    """A negative count is a wrong count, and no formula."""
    return re.fullmatch(r"[+-]\s?[0-9.,]+", cell) is not None


def lost_letters(cells: Iterable[str]) -> bool:
    """Whether the sign for a letter that was lost stands in one of the cells.

    Parameters
    ----------
    cells : iterable of str
    """
    return any(_LOST in cell for cell in cells)


def _order(
    row: Sequence[str], heads: Sequence[str], optional: Sequence[str], told: Told, line: int
) -> list[int | None] | None:
    """Where each wanted column stands; None where one lacks."""
    names = [unicodedata.normalize("NFKC", cell).strip().casefold() for cell in row]
    twice = [name for name in heads if names.count(name) > 1]
    lacking = [name for name in heads if name not in names and name not in optional]
    if twice:
        told.finding("head", line, twice[0], "", f"the head has {', '.join(twice)} twice; leave one.")
    if lacking:
        told.finding("head", line, "", ",".join(row), f"the head lacks {', '.join(lacking)}; it is {','.join(heads)}.")
    if twice or lacking:
        return None
    for name in (name for name in names if name and name not in heads):
        told.finding("head", line, name, "", "is a column that is not read.", "note")
    return [names.index(name) if name in names else None for name in heads]


def _delimiter(head: str, heads: Sequence[str]) -> str:
    """The one that makes most known heads of the first line."""
    known = set(heads)

    def found(delimiter: str) -> int:
        return sum(cell.strip().strip('"').casefold() in known for cell in head.strip().split(delimiter))

    return max(_DELIMITERS, key=found)


def _codec(path: Path, encoding: str | None) -> str:
    """What to decode with; nothing is guessed but what a mark at the beginning says."""
    if encoding is not None and encoding.casefold() not in ENCODINGS:
        raise CallError(f"there is no encoding “{encoding[:40]}”; choose from {', '.join(ENCODINGS)}.")
    try:
        if not path.is_file():
            raise CallError(f"{path}: there is no such file; check the path.")
        if path.stat().st_size > BYTES_MOST:
            raise CallError(f"{path}: is larger than {BYTES_MOST >> 20} MiB; split it.")
        with path.open("rb") as stream:
            begin = stream.read(4096)
    except OSError as trouble:
        raise CallError(f"{path}: cannot be read ({trouble.strerror}); check the path.") from None
    if not begin.strip(codecs.BOM_UTF8 + b" \r\n\t"):
        raise CallError(f"{path}: is empty; give a table with a head and lines.")
    if encoding is not None:
        return ENCODINGS[encoding.casefold()]
    if begin.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    if begin.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0", b"%PDF")):
        raise CallError(f"{path}: is a workbook and no CSV; save its sheet as CSV UTF-8 first.")
    if b"\x00" in begin:
        raise CallError(f"{path}: holds zero bytes and is no UTF-8 text; save it as CSV UTF-8, or say --encoding.")
    return ENCODINGS["utf-8"]


def _undecodable(path: Path, codec: str, encoding: str | None) -> str:
    """Which line holds the first byte that cannot be."""
    decoder = codecs.getincrementaldecoder(codec)()
    line = 1
    with path.open("rb") as stream:
        for piece in stream:
            try:
                line += decoder.decode(piece).count("\n")
            except UnicodeDecodeError as trouble:
                byte = trouble.object[trouble.start]
                name = (encoding or ("utf-16" if codec == "utf-16" else "utf-8")).upper()
                return (
                    f"{path}: line {line} holds a byte (0x{byte:02X}) that is no {name}; save it as CSV UTF-8, or say "
                    "with --encoding how it was written, for example windows-1252."
                )
    return f"{path}: ends within a character; get the whole file again."


def safe_cell(value: object) -> str:
    """A cell that no spreadsheet takes for a formula: one that begins like it has an apostrophe before it.

    Parameters
    ----------
    value : object
    """
    text = str(value)
    return f"'{text}" if text[:1] and text[0] in FORMULA + "\t\r" and not _is_number(text) else text


def write_table(path: Path, heads: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Write a table as UTF-8 with commas; every cell is harmless.

    Parameters
    ----------
    path : pathlib.Path
        Written as it is named: whoever calls writes beside and renames.
    heads : sequence of str
    rows : iterable of sequence of object

    Raises
    ------
    OSError
    """
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(heads)
        writer.writerows([safe_cell(cell) for cell in row] for row in rows)
        stream.flush()
        os.fsync(stream.fileno())


def check_cells(cells: Sequence[str], heads: Sequence[str], line: int, told: Told) -> None:
    """Hold cells that came from elsewhere against what no table takes: formulas, what cannot be seen, too much text.

    Parameters
    ----------
    cells, heads : sequence of str
        As many of one as of the other.
    line : int
        Said in the findings.
    told : Told
    """
    _judge(cells, heads, line, told)
    for name, cell in zip(heads, cells, strict=True):
        if len(cell) > CELL_MOST:
            told.finding("too_long", line, name, cell, f"has {len(cell)} characters; write at most {CELL_MOST}.")
