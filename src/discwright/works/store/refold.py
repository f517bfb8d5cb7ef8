"""Working titles, parts and numbers out again, from all their lines."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, bindparam, func, select

from discwright.findings import Finding
from discwright.works.chain import Line
from discwright.works.family import Family, part_from
from discwright.works.history import fold_title
from discwright.works.parts import RUN
from discwright.works.store import kept, rows, tables
from discwright.works.store.putting_right import as_said

#: Titles whose rows are written together.
_TOGETHER = 50
Tell = Callable[[str, float], None]


@dataclass(frozen=True)
class Refolded:
    """A title as its lines alone tell it, and what is to be kept of it.

    Attributes
    ----------
    family : Family
    title : dict
        Row of the title.
    parts, numbers : list of dict
        Rows of its parts and of its numbers.
    """

    family: Family
    title: kept.Row
    parts: list[kept.Row]
    numbers: list[kept.Row]


def refold(title: str, lines: Sequence[Line]) -> Refolded:
    """Work a title out.

    Parameters
    ----------
    title : str
    lines : sequence of Line
        All of this title, in order.
    """
    family = fold_title(lines, Family(title))
    born = {line.part: _kind(line) for line in lines if is_birth(line)}
    parts = list(kept.part_rows(Family(title), family))
    known = family.parts.keys() | family.yard.runs.keys()
    parts += [kept.undone_row(part, kind) for part, kind in born.items() if part not in known]
    numbers: dict[tuple[str, ...], kept.Row] = {}
    for k, line in enumerate(lines):
        for said in as_said(line, lines[:k] if line.kind == "corrected" else ()):
            for row in kept.number_rows(said):
                numbers.setdefault(_key(row), row)
    return Refolded(family, kept.title_row(family), parts, list(numbers.values()))


def _key(row: kept.Row) -> tuple[str, ...]:
    return row["folded"], row["what"], row["title"], row["part"]


def is_birth(line: Line) -> bool:
    """A part or a run is made by this line.

    Parameters
    ----------
    line : Line
    """
    return line.kind in ("lacquer_cut", "run_begun") or (line.kind == "plated" and bool(line.data.get("parent")))


def _kind(line: Line) -> str:
    if line.kind == "run_begun":
        return RUN
    return "lacquer" if line.kind == "lacquer_cut" else str(line.data.get("part_kind", ""))


def against(family: Family) -> Iterator[Finding]:
    """What speaks against a history and nobody has accepted: warnings and stops.

    Parameters
    ----------
    family : Family
    """
    for one in family.findings:
        if one["severity"] in ("warn", "stop") and not one.get("accepted"):
            yield Finding(**one)


def refold_into(connection: Connection, tell: Tell) -> list[Finding]:
    """Throw away what is kept beside the lines, and work all of it out again.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction that writes.
    tell : callable
        Told what is done, and how much of it from 0 to 1.

    Returns
    -------
    list of Finding
        What speaks against the histories.
    """
    for table in (tables.numbers, tables.parts, tables.titles):
        connection.execute(table.delete())
    count = max(1, connection.execute(select(func.count()).select_from(tables.lines)).scalar() or 0)
    found: list[Finding] = []
    waiting: list[Refolded] = []
    done = 0
    for title in rows.titles_in_lines(connection):
        lines = rows.lines_of_title(connection, title)
        waiting.append(refold(title, lines))
        found += against(waiting[-1].family)
        done += len(lines)
        if len(waiting) == _TOGETHER:
            _write(connection, waiting)
            tell("working out where everything stands", done / count)
    _write(connection, waiting)
    return found


def _write(connection: Connection, waiting: list[Refolded]) -> None:
    kept.put_rows(connection, tables.titles, [one.title for one in waiting])
    kept.put_rows(connection, tables.parts, [row for one in waiting for row in one.parts])
    kept.put_rows(connection, tables.numbers, [row for one in waiting for row in one.numbers])
    waiting.clear()


# Holding what is kept against it -----------------------------------------------------------------------

_TITLE = select(tables.titles).where(tables.titles.c.catalogue == bindparam("title"))
_PARTS = select(tables.parts).where(tables.parts.c.id.in_(bindparam("ids", expanding=True)))
_OWN_PARTS = select(tables.parts.c.id).where(tables.parts.c.title == bindparam("title"))
_NUMBERS = select(tables.numbers).where(tables.numbers.c.title == bindparam("title"))


def differences(connection: Connection, right: Refolded) -> Iterator[str]:
    """Where what is kept of a title is not what its lines say.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        Within the same moment in which the lines were read.
    right : Refolded

    Yields
    ------
    str
        What differs.
    """
    name = right.family.title
    title = connection.execute(_TITLE, {"title": name}).mappings().first()
    if title is None:
        yield f"the title {name} is not kept"
    elif _plain(title, "doc") != _plain(right.title, "doc") or _doc(title) != _doc(right.title):
        yield f"the title {name} is kept otherwise than its lines say"
    wanted = {row["id"]: row for row in right.parts}
    found = {row["id"]: row for row in connection.execute(_PARTS, {"ids": list(wanted)}).mappings()}
    for id_, row in wanted.items():
        if id_ not in found:
            yield f"the part {id_} is not kept"
        elif _plain(found[id_], "doc") != _plain(row, "doc") or _part(found[id_]) != _part(row):
            yield f"the part {id_} is kept otherwise than its lines say"
    for id_ in connection.execute(_OWN_PARTS, {"title": name}).scalars():
        if id_ not in wanted:
            yield f"the part {id_} is kept, but no line tells of it"
    numbers = {_key(dict(row)): row["shown"] for row in connection.execute(_NUMBERS, {"title": name}).mappings()}
    if numbers != {_key(row): row["shown"] for row in right.numbers}:
        yield f"the numbers that lead to {name} are kept otherwise than its lines say"


def _plain(row: Any, without: str) -> kept.Row:
    return {name: value for name, value in row.items() if name != without}


def _doc(row: Any) -> Any:
    """What a title's text says, whatever the program that wrote it left out."""
    try:
        return kept.family_of(json.loads(row["doc"]), {})
    except (ValueError, KeyError, TypeError):
        return row["doc"]


def _part(row: Any) -> Any:
    try:
        return part_from(json.loads(row["doc"])) if row["doc"] else ""
    except (ValueError, KeyError, TypeError):
        return row["doc"]
