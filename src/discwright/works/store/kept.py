"""What is worked out from the lines and kept beside them: titles, parts, and every number that leads to one."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, fields, replace
from functools import cache
from typing import Any

from sqlalchemy import JSON, Connection, String, Table, Text, bindparam, cast, column, func, literal, select
from sqlalchemy.dialects import postgresql, sqlite

from discwright.works import events as e
from discwright.works import run_events as r
from discwright.works.chain import Line
from discwright.works.family import Family, family_from, part_from
from discwright.works.parts import RUN, serial_of
from discwright.works.standing import is_open, late_at, standings
from discwright.works.store import tables
from discwright.works.store.rows import row_of, to_json
from discwright.works.yard import Yard

Row = dict[str, Any]
_LINES = tables.lines.insert()
_EMPTY = Yard()
_TITLES = select(tables.titles).where(tables.titles.c.catalogue.in_(bindparam("names", expanding=True)))
_PARTS = (
    select(tables.parts)
    .where(tables.parts.c.title.in_(bindparam("names", expanding=True)))
    .order_by(tables.parts.c.serial)
)
_FAMILY = [one.name for one in fields(Family) if one.name not in ("parts", "plans", "limits", "yard")]


@cache
def _upsert(dialect: str, table: Table) -> Any:
    """Write a row, over the one with the same key if there is one; a number that is there already stays."""
    insert: Any = {"sqlite": sqlite, "postgresql": postgresql}[dialect].insert(table)
    keys = [column.name for column in table.primary_key]
    rest = [column.name for column in table.columns if column.name not in keys]
    if table is tables.numbers:
        return insert.on_conflict_do_nothing()
    return insert.on_conflict_do_update(index_elements=keys, set_={name: insert.excluded[name] for name in rest})


def insert_lines(connection: Connection, lines: Iterable[Line]) -> None:
    """Add lines to the ledger.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction that writes.
    lines : iterable of Line
    """
    rows = [row_of(line) for line in lines]
    if rows:
        connection.execute(_LINES, rows)


def write_all(
    connection: Connection,
    lines: Iterable[Line],
    titles: Sequence[Row],
    parts: Sequence[Row],
    numbers: Sequence[Row],
) -> None:
    """Add lines, and keep what they changed.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction that writes.
    lines : iterable of Line
    titles, parts, numbers : sequence of dict
        Rows, each once.
    """
    if connection.dialect.name == "sqlite":
        insert_lines(connection, lines)
        for table, rows in ((tables.titles, titles), (tables.parts, parts), (tables.numbers, numbers)):
            put_rows(connection, table, rows)
        return
    # To a server every statement is a journey there and back; this is one for all.
    told = {"lines": [row_of(line) for line in lines], "titles": titles, "parts": parts, "numbers": numbers}
    connection.execute(_all_at_once(), {name: to_json(list(rows)) for name, rows in told.items()})


@cache
def _all_at_once() -> Any:
    """Four inserts in one statement, their rows given as JSON."""
    whole = select(literal(1))
    for table in (tables.lines, tables.titles, tables.parts, tables.numbers):
        columns = [column(one.name, Text() if isinstance(one.type, String) else one.type) for one in table.columns]
        given = func.json_to_recordset(cast(bindparam(table.name, type_=Text), JSON))
        rows = select(*given.table_valued(*columns).render_derived(with_types=True).columns)
        put = postgresql.insert(table) if table is tables.lines else _upsert("postgresql", table)
        whole = whole.add_cte(put.from_select([one.name for one in table.columns], rows).cte(f"put_{table.name}"))
    return whole


def put_rows(connection: Connection, table: Table, rows: Sequence[Row]) -> None:
    """Keep rows of titles, parts or numbers.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction that writes.
    table : sqlalchemy.Table
    rows : sequence of dict
        As :func:`title_row`, :func:`part_rows` and :func:`number_rows` make them.
    """
    if rows:
        connection.execute(_upsert(connection.dialect.name, table), list(rows))


def title_row(family: Family) -> Row:
    """Where a title stands, as a row.

    Parameters
    ----------
    family : Family
    """
    sides = standings(family)
    doc = {name: getattr(family, name) for name in _FAMILY}
    doc |= {"limits": family.limits.as_plain(), "plans": [vars(one) for one in family.plans], "parts": {}}
    if family.yard != _EMPTY:
        doc["yard"] = asdict(family.yard)
    return {
        "catalogue": family.title, "name": family.name, "seq": family.seq, "open": is_open(sides),
        "late_at": late_at(sides), "doc": to_json(doc),
    }  # fmt: skip


def part_rows(before: Family, after: Family) -> Iterator[Row]:
    """Where the parts stand that changed, as rows.

    Parameters
    ----------
    before, after : Family
    """
    for id_, part in after.parts.items():
        old = before.parts.get(id_)
        if old is part or old == part:
            continue
        yield {
            "id": id_, "serial": serial_of(id_), "title": after.title, "kind": part.kind, "state": part.state,
            "doc": to_json(vars(part)),
        }  # fmt: skip
    for id_, part in before.parts.items():
        if id_ not in after.parts:
            yield undone_row(id_, part.kind)
    if after.yard is not before.yard:
        yield from _run_rows(before, after)


def _run_rows(before: Family, after: Family) -> Iterator[Row]:
    """Runs have their numbers out of the same list; where they stand is kept with the title."""
    for id_ in after.yard.runs.keys() - before.yard.runs.keys():
        yield {"id": id_, "serial": serial_of(id_), "title": after.title, "kind": RUN, "state": "begun", "doc": ""}
    for id_ in before.yard.runs.keys() - after.yard.runs.keys():
        yield undone_row(id_, RUN)


def undone_row(id_: str, kind: str) -> Row:
    """A part whose birth was undone by a correction; its number is not given again.

    Parameters
    ----------
    id_ : str
    kind : str
    """
    return {"id": id_, "serial": serial_of(id_), "title": "", "kind": kind, "state": "undone", "doc": ""}


def read_family(connection: Connection, title: str) -> Family:
    """A title as it was kept.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    title : str
    """
    return next(read_families(connection, [title]), Family(title))


def read_families(connection: Connection, names: Sequence[str]) -> Iterator[Family]:
    """Several titles as they were kept, in the order of their names' list.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    names : sequence of str
    """
    if not names:
        return
    docs = {row.catalogue: json.loads(row.doc) for row in connection.execute(_TITLES, {"names": list(names)})}
    parts: dict[str, dict[str, Any]] = {}
    for row in connection.execute(_PARTS, {"names": list(names)}):
        if row.kind != RUN:
            parts.setdefault(row.title, {})[row.id] = part_from(json.loads(row.doc))
    for name in names:
        if name in docs:
            yield family_of(docs[name], parts.get(name, {}))


def family_of(doc: Mapping[str, Any], parts: Mapping[str, Any]) -> Family:
    """A title out of what was kept of it.

    Parameters
    ----------
    doc : mapping
    parts : mapping of str to Part
    """
    return replace(family_from(doc), parts=dict(parts))


# Numbers -----------------------------------------------------------------------------------------------


def folded(text: str) -> str:
    """A number as it is looked up: capitals and blanks make no difference.

    Parameters
    ----------
    text : str
    """
    return "".join(letter for letter in text.casefold() if letter.isalnum())[:300]


def number_rows(line: Line) -> Iterator[Row]:
    """Every number in a line that somebody may look for, as rows.

    Parameters
    ----------
    line : Line
    """
    for what, text in numbers_in(line):
        if folded(text):
            yield {"folded": folded(text), "what": what, "title": line.title, "part": line.part, "shown": text[:300]}


def numbers_in(line: Line) -> Iterator[tuple[str, str]]:
    """What a line holds that is printed or stamped somewhere.

    Parameters
    ----------
    line : Line

    Yields
    ------
    what, text : str
    """
    if line.kind not in _NUMBERED:
        return
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
    else:
        yield from _beyond_the_press(line, event)


def _beyond_the_press(line: Line, event: e.Event) -> Iterator[tuple[str, str]]:
    if isinstance(event, r.RunBegun):
        yield "run", line.part
        yield "compound", event.compound
    elif isinstance(event, r.OrdersTaken):
        for one in event.orders:
            yield "order", one["order"]
            yield "account", one["account"]
    elif isinstance(event, r.CartonsPacked):
        for one in event.cartons:
            yield "carton", one["sscc"]
            yield "bundle", one.get("bundle", "")


_NUMBERED = (
    "title_taken_in", "plan_kept", "lacquer_cut", "plated", "vaulted", "put_to_press", "run_begun", "orders_taken",
    "cartons_packed",
)  # fmt: skip
