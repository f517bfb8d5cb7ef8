"""The chain: every line of the ledger carries the hash of the one before, so that a changed history shows."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from discwright.works.events import Event, read_event

#: The hash before the first line.
BEGIN = "0" * 64
_canonical = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode


@dataclass(frozen=True)
class Line:
    """One line of the ledger.

    Attributes
    ----------
    seq : int
        From 1, without gaps.
    at : str
        When, ISO 8601 in UTC with microseconds; never before the line before.
    by, station : str
        Who, and where.
    title : str
        Catalogue number of the title.
    part : str
        Number of the part; empty for an event of the title.
    kind : str
        Name of the event.
    data : dict
        Its fields.
    key : str
        Idempotency key: the same tap is one line however often it is sent.
    accepted : str
        Why a finding against this event was accepted; empty where nothing was.
    clock : str
        What the server's clock said, where it stood before the last line; empty otherwise.
    prev, hash : str
        Of the line before and of this one.
    """

    seq: int
    at: str
    by: str
    station: str
    title: str
    part: str
    kind: str
    data: dict[str, Any]
    key: str
    accepted: str = ""
    clock: str = ""
    prev: str = BEGIN
    hash: str = ""

    @property
    def event(self) -> Event:
        """What happened."""
        return read_event(self.kind, self.data)


#: Fields of a line in the order in which they are hashed and written.
FIELDS = (
    "seq", "at", "by", "station", "title", "part", "kind", "data", "key", "accepted", "clock", "prev", "hash",
)  # fmt: skip


def line_hash(line: Line) -> str:
    """SHA-256 of everything a line holds but its own hash, as canonical JSON.

    Parameters
    ----------
    line : Line

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    values = [getattr(line, name) for name in FIELDS[:-1]]
    return hashlib.sha256(_canonical(values).encode("utf-8", "surrogatepass")).hexdigest()


def linked(line: Line, prev: str) -> Line:
    """The line with its place in the chain.

    Parameters
    ----------
    line : Line
    prev : str
        Hash of the line before, or :data:`BEGIN`.
    """
    placed = replace(line, prev=prev, hash="")
    return replace(placed, hash=line_hash(placed))


def as_dict(line: Line) -> dict[str, Any]:
    """A line as plain JSON values.

    Parameters
    ----------
    line : Line
    """
    return {name: getattr(line, name) for name in FIELDS}


@dataclass(frozen=True)
class Break:
    """A place where the chain does not hold.

    Attributes
    ----------
    seq : int
    why : str
        A sentence.
    """

    seq: int
    why: str


class Walk:
    """A walk along a chain from its beginning; it remembers nothing but the line before.

    Attributes
    ----------
    seq : int
    prev, at : str
        Number, hash and time of the line before.
    """

    def __init__(self) -> None:
        self.seq, self.prev, self.at = 0, BEGIN, ""

    def step(self, line: Line) -> Iterator[str]:
        """Go to the next line.

        Parameters
        ----------
        line : Line

        Yields
        ------
        str
            Why it does not follow: a gap, a line that was changed, a link that does not fit, a time before the line
            before.
        """
        if line.seq != self.seq + 1:
            yield f"line {line.seq} follows line {self.seq}: lines are missing or out of order"
        if line.prev != self.prev:
            yield f"line {line.seq} does not follow from the line before it"
        if line_hash(line) != line.hash:
            yield f"line {line.seq} was changed after it was written"
        if line.at < self.at:
            yield f"line {line.seq} is dated before the line before it"
        self.seq, self.prev, self.at = line.seq, line.hash, line.at


def broken(lines: Iterable[Line]) -> Iterator[Break]:
    """Walk a chain from its beginning and tell each place where it does not hold.

    Parameters
    ----------
    lines : iterable of Line
        In order of `seq`, all of them.

    Yields
    ------
    Break
        As :class:`Walk` finds it, and a key that an earlier line has.
    """
    walk, keys = Walk(), set[str]()
    for line in lines:
        for why in walk.step(line):
            yield Break(line.seq, why)
        if line.key in keys:
            yield Break(line.seq, f"line {line.seq} repeats the key of an earlier line")
        keys.add(line.key)


def is_hash(text: str) -> bool:
    """Sixty-four hexadecimal digits.

    Parameters
    ----------
    text : str
    """
    return len(text) == 64 and set(text) <= set("0123456789abcdef")


def line_from(values: Mapping[str, Any]) -> Line:
    """A line out of plain values, as :func:`as_dict` makes them.

    Parameters
    ----------
    values : mapping

    Raises
    ------
    KeyError, TypeError
        If a field is missing or of another type.
    """
    if set(values) - set(FIELDS):
        raise KeyError(sorted(set(values) - set(FIELDS))[0])
    seq, data = values["seq"], values["data"]
    if not isinstance(seq, int) or isinstance(seq, bool) or not isinstance(data, dict):
        raise TypeError("seq is a number and data a table")
    rest = {name: values[name] for name in FIELDS if name not in ("seq", "data")}
    if not all(isinstance(value, str) for value in rest.values()):
        raise TypeError("all other fields are text")
    return Line(seq=seq, data=data, **rest)
