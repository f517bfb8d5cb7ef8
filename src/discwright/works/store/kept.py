"""What is worked out from the lines and kept beside them: titles, parts, and every number that leads to one."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict, replace
from typing import Any

from sqlalchemy import Connection, select

from discwright.works import events as e
from discwright.works.chain import Line, as_dict
from discwright.works.family import Family, family_as_dict, family_from, part_from
from discwright.works.parts import serial_of
from discwright.works.standing import is_open, late_at, standings
from discwright.works.store import tables


def insert_lines(connection: Connection, lines: Iterable[Line]) -> None:
    """Add lines to the ledger.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction that writes.
    lines : iterable of Line
    """
    rows = [as_dict(line) | {"data": _json(line.data)} for line in lines]
    if rows:
        connection.execute(tables.lines.insert(), rows)


def write_family(connection: Connection, before: Family, after: Family) -> None:
    """Keep where a title stands: its row, and those of its parts that changed.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    before, after : Family
    """
    sides = standings(after)
    plain = family_as_dict(replace(after, parts={}))
    row = {
        "catalogue": after.title, "name": after.name, "seq": after.seq, "open": is_open(sides),
        "late_at": late_at(sides), "doc": _json(plain),
    }  # fmt: skip
    _put(connection, tables.titles, tables.titles.c.catalogue == after.title, row, known=bool(before.seq))
    for id_, part in after.parts.items():
        old = before.parts.get(id_)
        if old is part or old == part:
            continue
        about = {
            "id": id_, "serial": serial_of(id_), "title": after.title, "kind": part.kind, "state": part.state,
            "doc": _json(asdict(part)),
        }  # fmt: skip
        _put(connection, tables.parts, tables.parts.c.id == id_, about, known=True)
    gone = [id_ for id_ in before.parts if id_ not in after.parts]
    if gone:  # undone by a correction; the number is not given again, since its line stays
        connection.execute(
            tables.parts.update().where(tables.parts.c.id.in_(gone)).values(state="undone", title="", doc="")
        )


def _put(connection: Connection, table: Any, where: Any, row: dict[str, Any], *, known: bool) -> None:
    if known:
        changed = connection.execute(table.update().where(where).values(row))
        if changed.rowcount:
            return
    connection.execute(table.insert().values(row))


def read_family(connection: Connection, title: str) -> Family:
    """A title as it was kept.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    title : str
    """
    return next(read_families(connection, [title]), Family(title))


def read_families(connection: Connection, names: list[str]) -> Iterator[Family]:
    """Several titles as they were kept, in the order of their names' list.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    names : list of str
    """
    docs = {
        row.catalogue: json.loads(row.doc)
        for row in connection.execute(select(tables.titles).where(tables.titles.c.catalogue.in_(names)))
    }
    parts: dict[str, dict[str, Any]] = {}
    for row in connection.execute(
        select(tables.parts).where(tables.parts.c.title.in_(names)).order_by(tables.parts.c.serial)
    ):
        parts.setdefault(row.title, {})[row.id] = part_from(json.loads(row.doc))
    for name in names:
        if name in docs:
            yield replace(family_from(docs[name]), parts=parts.get(name, {}))


# Numbers -----------------------------------------------------------------------------------------------


def folded(text: str) -> str:
    """A number as it is looked up: capitals and blanks make no difference.

    Parameters
    ----------
    text : str
    """
    return "".join(letter for letter in text.casefold() if letter.isalnum())[:300]


def write_numbers(connection: Connection, line: Line) -> None:
    """Keep every number in a line that somebody may look for.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    line : Line
    """
    for what, text in numbers_in(line):
        if not folded(text):
            continue
        row = {"folded": folded(text), "what": what, "title": line.title, "part": line.part, "shown": text[:300]}
        same = [tables.numbers.c[name] == row[name] for name in ("folded", "what", "title", "part")]
        if connection.execute(select(tables.numbers.c.what).where(*same)).first() is None:
            connection.execute(tables.numbers.insert().values(row))


def numbers_in(line: Line) -> Iterator[tuple[str, str]]:
    """What a line holds that is printed or stamped somewhere.

    Parameters
    ----------
    line : Line

    Yields
    ------
    what, text : str
    """
    event = line.event
    if isinstance(event, e.TitleTakenIn):
        yield "catalogue number", line.title
        yield "title", event.name
    elif isinstance(event, e.PlanKept):
        yield "plan fingerprint", event.fingerprint
    elif isinstance(event, e.LacquerCut):
        yield "part", line.part
        yield "plan fingerprint", event.fingerprint
        yield "lacquer batch", event.lacquer_batch
        yield "cutting tip", event.tip
        yield "run-out mark", event.mark
    elif isinstance(event, e.Plated):
        if event.parent:
            yield "part", line.part
        yield "run-out mark", event.mark
        yield "tank", event.tank
    elif isinstance(event, e.Vaulted):
        yield "place", event.place
    elif isinstance(event, e.PutToPress):
        yield "press", event.press


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), sort_keys=True)
