"""Rows of the ledger's tables, and the questions that are asked again and again, made once."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import Any

from sqlalchemy import Connection, Row, bindparam, func, or_, select

from discwright.works.chain import BEGIN, FIELDS, Line, as_dict
from discwright.works.store import tables

_l = tables.lines.c
_LAST = select(_l.seq, _l.at, _l.hash).order_by(_l.seq.desc()).limit(1)
_LAST_SEQ = select(func.max(_l.seq)).scalar_subquery()
_LAST_AND_KEY = select(tables.lines).where(or_(_l.seq == _LAST_SEQ, _l.key == bindparam("key")))
_LAST_AND_KEYS = select(tables.lines).where(or_(_l.seq == _LAST_SEQ, _l.key.in_(bindparam("keys", expanding=True))))
_OF_TITLE = select(tables.lines).where(_l.title == bindparam("title")).order_by(_l.seq)
_BY_SEQ = select(tables.lines).where(_l.seq == bindparam("seq"))
_PAGE = select(tables.lines).where(_l.seq > bindparam("after")).order_by(_l.seq).limit(bindparam("most"))
_FIRST_TITLE = select(func.min(_l.title))
_NEXT_TITLE = select(func.min(_l.title)).where(_l.title > bindparam("title"))
_PARTS = select(tables.parts.c.id, tables.parts.c.title).where(
    tables.parts.c.id.in_(bindparam("numbers", expanding=True))
)
_LINE_OF_PART = select(_l.title).where(_l.part == bindparam("part")).limit(1)
_SERIAL = select(func.max(tables.parts.c.serial))
_SEQ = select(tables.titles.c.catalogue, tables.titles.c.seq).where(tables.titles.c.catalogue == bindparam("title"))
_SEQS = select(tables.titles.c.catalogue, tables.titles.c.seq).where(
    tables.titles.c.catalogue.in_(bindparam("titles", expanding=True))
)
#: Place of a line's data among its fields.
DATA = FIELDS.index("data")
_encode = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode


def line_of(row: Row[Any]) -> Line:
    """A row of the table as a line.

    Parameters
    ----------
    row : sqlalchemy.Row
        With every column, in the table's order, which is that of the line's fields.
    """
    values: list[Any] = list(row)
    values[DATA] = json.loads(values[DATA])
    return Line(*values)


def row_of(line: Line) -> dict[str, Any]:
    """A line as a row of the table.

    Parameters
    ----------
    line : Line
    """
    return as_dict(line) | {"data": to_json(line.data)}


def to_json(value: Any) -> str:
    """Plain values as one line of text, the same for the same values.

    Parameters
    ----------
    value : Any
    """
    return _encode(value)


def last_line(connection: Connection) -> tuple[int, str, str]:
    """Number, time and hash of the last line; 0, nothing and :data:`BEGIN` of an empty ledger.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    """
    row = connection.execute(_LAST).first()
    return (0, "", BEGIN) if row is None else (row.seq, row.at, row.hash)


def last_and_keyed(connection: Connection, keys: Sequence[str]) -> tuple[tuple[int, str, str], dict[str, Line]]:
    """The last line as :func:`last_line` gives it, and the lines that were written under some keys.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    keys : sequence of str
    """
    # One question instead of two, and the short form for one key: this stands in the way of every line.
    if len(keys) == 1:
        found = connection.execute(_LAST_AND_KEY, {"key": keys[0]}).all()
    else:
        found = connection.execute(_LAST_AND_KEYS, {"keys": list(keys)}).all()
    if not found:
        return (0, "", BEGIN), {}
    last, wanted = max(found, key=lambda row: row.seq), set(keys)
    return (last.seq, last.at, last.hash), {row.key: line_of(row) for row in found if row.key in wanted}


def line_at(connection: Connection, seq: int) -> Line | None:
    """One line, or None.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    seq : int
    """
    row = connection.execute(_BY_SEQ, {"seq": seq}).first()
    return None if row is None else line_of(row)


def lines_of_title(connection: Connection, title: str) -> list[Line]:
    """Every line of a title.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    title : str
    """
    return [line_of(row) for row in rows_of_title(connection, title)]


def rows_of_title(connection: Connection, title: str) -> Sequence[Row[Any]]:
    """The rows of every line of a title.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    title : str
    """
    return connection.execute(_OF_TITLE, {"title": title}).all()


def page(connection: Connection, after: int, most: int) -> Sequence[Row[Any]]:
    """The rows of the lines after one of them, at most so many.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    after, most : int
    """
    return connection.execute(_PAGE, {"after": after, "most": most}).all()


def title_after(connection: Connection, title: str | None) -> str | None:
    """The title that comes after one among those that lines are about; the first after None.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    title : str or None
    """
    if title is None:
        found = connection.execute(_FIRST_TITLE).scalar()
    else:
        found = connection.execute(_NEXT_TITLE, {"title": title}).scalar()
    return None if found is None else str(found)


def titles_in_lines(connection: Connection) -> Iterator[str]:
    """Every title that a line is about, one after another; none is read twice.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    """
    title = title_after(connection, None)
    while title is not None:
        yield title
        title = title_after(connection, title)


def titles_of_parts(connection: Connection, numbers: Sequence[str]) -> dict[str, str]:
    """The title each part belongs to; parts that do not exist are left out.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    numbers : sequence of str
    """
    if not numbers:
        return {}
    found = {str(row.id): str(row.title) for row in connection.execute(_PARTS, {"numbers": list(numbers)})}
    for part, title in found.items():
        if not title:  # undone by a correction; its lines still tell
            found[part] = str(connection.execute(_LINE_OF_PART, {"part": part}).scalar() or "")
    return found


def last_serial(connection: Connection) -> int:
    """Serial number of the part that was made last; 0 before the first.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    """
    return int(connection.execute(_SERIAL).scalar() or 0)


def seqs_of_titles(connection: Connection, titles: Sequence[str]) -> dict[str, int]:
    """The last line of each title, as it was kept; titles that do not exist are left out.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    titles : sequence of str
    """
    if len(titles) == 1:
        found = connection.execute(_SEQ, {"title": titles[0]})
    else:
        found = connection.execute(_SEQS, {"titles": list(titles)})
    return {str(row.catalogue): int(row.seq) for row in found}
