"""The whole ledger as open text: one line of JSON that says what it is, then one for each line of the ledger."""

from __future__ import annotations

import json
import os
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO, Any

from sqlalchemy import Connection
from sqlalchemy.exc import IntegrityError

from discwright.errors import CallError, DiscwrightError, LedgerError
from discwright.works.chain import Line, Walk, as_dict, is_hash, line_from
from discwright.works.events import read_event
from discwright.works.store import kept, rows
from discwright.works.store.connect import reading
from discwright.works.store.filling import beside, filling
from discwright.works.store.ledger import Ledger
from discwright.works.store.refold import Tell, refold_into

FORMAT = "discwright ledger"
#: Raised when a program that knows only the old text would misread the new.
FORMAT_VERSION = 1
_PAGE = 2000
#: Longest line of text, bytes; nothing the ledger writes comes near it.
_LONGEST = 4_000_000


@dataclass(frozen=True)
class Moved:
    """A ledger that went out as text or came in.

    Attributes
    ----------
    file : str
    lines : int
    head : str
        Hash of the last line.
    findings : int
        Warnings and stops in the histories that came in; 0 on the way out.
    took_s : float
    """

    file: str
    lines: int
    head: str
    findings: int
    took_s: float

    def as_dict(self) -> dict[str, Any]:
        """The result as plain JSON values."""
        return asdict(self) | {"took_s": round(self.took_s, 3)}


def export_text(ledger: Ledger, path: Path, *, tell: Tell = lambda _words, _done: None) -> Moved:
    """Write every line of a ledger as text.

    Parameters
    ----------
    ledger : Ledger
        Others may go on writing; what comes later is not in the text.
    path : pathlib.Path
        File to make; nothing is there yet.
    tell : callable
        Told what is done, and how much of it from 0 to 1.

    Raises
    ------
    LedgerError
        If the file is there or cannot be written.
    """
    begin = time.monotonic()
    last, head = ledger.head()
    with beside(path) as part, part.open("wb") as file:
        file.write(_text({"format": FORMAT, "format_version": FORMAT_VERSION, "lines": last, "head": head}))
        done = 0
        while done < last:
            with reading(ledger.engine) as connection:
                page = rows.page(connection, done, min(_PAGE, last - done))
            if not page:
                raise LedgerError(
                    f"{ledger.where}: lines are missing after line {done}; look at it with `works verify`."
                )
            file.writelines(_text(as_dict(rows.line_of(row))) for row in page)
            done = page[-1].seq
            tell("writing lines", done / last)
        file.flush()
        os.fsync(file.fileno())
    return Moved(str(path), last, head, 0, time.monotonic() - begin)


def _text(values: dict[str, Any]) -> bytes:
    return (json.dumps(values, ensure_ascii=False, separators=(",", ":")) + "\n").encode()


def import_text(path: Path, address: str, *, tell: Tell = lambda _words, _done: None) -> Moved:
    """Bring a text in, into a ledger without lines.

    Parameters
    ----------
    path : pathlib.Path
    address : str
        Where no ledger is yet, or one without lines; SQLite or PostgreSQL.
    tell : callable
        Told what is done, and how much of it from 0 to 1.

    Raises
    ------
    LedgerError
        With the number of the line of text where it is broken; nothing was written then.
    """
    begin = time.monotonic()
    try:
        with path.open("rb") as file:
            said = _head(path, file)
            with filling(address, begun=True) as connection:
                _take_in(connection, path, file, said, tell)
                found = _worked_out(connection, path, tell)
                tell("done", 1.0)
    except OSError as trouble:
        raise LedgerError(f"{path}: cannot be read ({trouble.strerror}); see to its name and rights.") from trouble
    return Moved(str(path), said["lines"], said["head"], found, time.monotonic() - begin)


def _head(path: Path, file: IO[bytes]) -> dict[str, Any]:
    """The first line of the text: what it is, how many lines follow, and the hash of the last."""
    said = _plain(path, 1, file.readline(_LONGEST))
    if said.get("format") != FORMAT:
        raise LedgerError(f"{path}: is no ledger written out as text; use a file that `works export` made.")
    version = said.get("format_version")
    if not isinstance(version, int) or version > FORMAT_VERSION:
        raise LedgerError(f"{path}: was written by a newer discwright (format {version}); use that one.")
    lines, head = said.get("lines"), said.get("head")
    if not isinstance(lines, int) or lines < 0 or not isinstance(head, str) or not is_hash(head):
        raise LedgerError(f"{path}, line 1: does not say how many lines follow and how they end; export it again.")
    return said


def _plain(path: Path, number: int, text: bytes) -> dict[str, Any]:
    try:
        plain = json.loads(text.decode())
    except UnicodeDecodeError:
        raise LedgerError(f"{path}, line {number}: is not written in UTF-8; export the ledger again.") from None
    except (ValueError, RecursionError):
        plain = None
    if not isinstance(plain, dict):
        raise LedgerError(f"{path}, line {number}: is no line of a ledger; export it again.")
    return plain


def _take_in(connection: Connection, path: Path, file: IO[bytes], said: dict[str, Any], tell: Tell) -> None:
    page: list[Line] = []
    last = 0
    for line in _lines(path, file, said):
        page.append(line)
        last = line.seq
        if len(page) == _PAGE:
            _insert(connection, path, page)
            tell("taking lines in", 0.4 * last / max(1, said["lines"]))
    _insert(connection, path, page)


def _lines(path: Path, file: IO[bytes], said: dict[str, Any]) -> Iterator[Line]:
    """Every line of the text, hashed again."""
    walk = Walk()
    while text := file.readline(_LONGEST):
        number = walk.seq + 2
        if walk.seq == said["lines"]:
            raise LedgerError(f"{path}, line {number}: is more than its first line tells of; export the ledger again.")
        line = _line(path, number, text)
        for why in walk.step(line):
            raise LedgerError(f"{path}, line {number}: {why}; nothing was taken in: export the ledger again.")
        yield line
    if walk.seq != said["lines"]:
        raise LedgerError(
            f"{path}: ends after line {walk.seq + 1}, but {said['lines']} lines of the ledger should follow the first; "
            "export it again."
        )
    if walk.prev != said["head"]:
        raise LedgerError(f"{path}: ends otherwise than its first line says; export the ledger again.")


def _line(path: Path, number: int, text: bytes) -> Line:
    try:
        line = line_from(_plain(path, number, text))
        read_event(line.kind, line.data)
    except (KeyError, TypeError):
        raise LedgerError(f"{path}, line {number}: is no line of a ledger; export it again.") from None
    except CallError as trouble:
        raise LedgerError(f"{path}, line {number}: {trouble}") from None
    return line


def _insert(connection: Connection, path: Path, page: list[Line]) -> None:
    if not page:
        return
    try:
        kept.insert_lines(connection, page)
    except IntegrityError as trouble:
        where = f"one of the lines {page[0].seq + 1} to {page[-1].seq + 1}"
        raise LedgerError(f"{path}: {where} repeats the key of an earlier one; export the ledger again.") from trouble
    page.clear()


def _worked_out(connection: Connection, path: Path, tell: Tell) -> int:
    try:
        found = refold_into(connection, lambda words, done: tell(words, 0.4 + 0.6 * done))
    except (DiscwrightError, ValueError, KeyError, TypeError, AttributeError, AssertionError) as trouble:
        raise LedgerError(f"{path}: its lines tell nothing that can be; export the ledger again.") from trouble
    return len(found)
