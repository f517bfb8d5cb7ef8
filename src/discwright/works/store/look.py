"""Looking into the ledger: the board, one part with its whole line, a number that was printed somewhere."""

from __future__ import annotations

import json
from dataclasses import dataclass

from sqlalchemy import and_, func, select

from discwright.works.chain import Line
from discwright.works.family import Family
from discwright.works.parts import STAMPER
from discwright.works.standing import SideStanding, standings
from discwright.works.store import kept, tables
from discwright.works.store.connect import reading
from discwright.works.store.ledger import Ledger, line_of
from discwright.works.yard import edition_code

#: Titles on one page of the board.
PAGE = 50
#: Finds of a search.
MOST_FOUND = 50
#: From so many letters on a number may be the beginning of a line's hash; at most so many of those.
_HASH_LETTERS, _HASHES = 8, 5
#: No letter comes after it.
_LAST = "\U0010ffff"


@dataclass(frozen=True)
class BoardTitle:
    """One title on the board.

    Attributes
    ----------
    family : Family
    sides : tuple of SideStanding
    """

    family: Family
    sides: tuple[SideStanding, ...]


@dataclass(frozen=True)
class Board:
    """One page of the board.

    Attributes
    ----------
    titles : tuple of BoardTitle
        What is late first, or will be soonest.
    open_titles, late_titles, all_titles : int
        In the whole ledger.
    """

    titles: tuple[BoardTitle, ...]
    open_titles: int
    late_titles: int
    all_titles: int


def board(ledger: Ledger, now: str, *, first: int = 0, finished: bool = False) -> Board:
    """Where every title is.

    Parameters
    ----------
    ledger : Ledger
    now : str
        ISO 8601 in UTC.
    first : int
        So many titles are passed over.
    finished : bool
        Those that wait for nothing, instead of the open ones.
    """
    t = tables.titles.c
    # What cannot be late comes last.
    order = (t.late_at == "", t.late_at, t.catalogue)
    query = select(t.catalogue).where(t.open.is_(not finished)).order_by(*order).limit(PAGE).offset(first)
    with reading(ledger.engine) as connection:
        names = [str(name) for name in connection.execute(query).scalars()]
        families = list(kept.read_families(connection, names))
        open_titles = connection.execute(select(func.count()).select_from(tables.titles).where(t.open)).scalar() or 0
        late = select(func.count()).select_from(tables.titles).where(t.open, t.late_at != "", t.late_at < now)
        late_titles = connection.execute(late).scalar() or 0
        all_titles = connection.execute(select(func.count()).select_from(tables.titles)).scalar() or 0
    return Board(tuple(BoardTitle(one, standings(one)) for one in families), open_titles, late_titles, all_titles)


def families_beyond(ledger: Ledger) -> tuple[Family, ...]:
    """Every title that has a run or an order, as it stands, by catalogue number.

    Parameters
    ----------
    ledger : Ledger
    """
    n = tables.numbers.c
    query = select(n.title).where(n.what.in_(("run", "order"))).distinct().order_by(n.title)
    with reading(ledger.engine) as connection:
        return tuple(kept.read_families(connection, [str(name) for name in connection.execute(query).scalars()]))


def families_to_press(ledger: Ledger) -> tuple[Family, ...]:
    """Every title that waits for something, or has an order, as it stands, by catalogue number.

    Parameters
    ----------
    ledger : Ledger
    """
    t, n = tables.titles.c, tables.numbers.c
    query = select(t.catalogue).where(t.open).union(select(n.title).where(n.what == "order"))
    with reading(ledger.engine) as connection:
        names = sorted(str(name) for name in connection.execute(query).scalars())
        return tuple(kept.read_families(connection, names))


def titles_with_negatives(ledger: Ledger) -> tuple[str, ...]:
    """Every title that has a negative at a press; and every open one that has a stamper that could go to one.

    Parameters
    ----------
    ledger : Ledger

    Returns
    -------
    tuple of str
        By catalogue number.
    """
    p, t = tables.parts.c, tables.titles.c
    at_press = select(p.title).where(p.state == "at_press")
    ready = (
        select(p.title)
        .join(tables.titles, t.catalogue == p.title)
        .where(t.open, p.kind == STAMPER, p.state.in_(("separated", "approved", "taken_off", "vaulted")))
    )
    query = at_press.union(ready)
    with reading(ledger.engine) as connection:
        return tuple(sorted({str(name) for name in connection.execute(query).scalars()}))


def edition_codes(ledger: Ledger) -> tuple[str, ...]:
    """The code of every edition of every title.

    Parameters
    ----------
    ledger : Ledger
    """
    t = tables.titles.c
    with reading(ledger.engine) as connection:
        rows = connection.execute(select(t.catalogue, t.doc).order_by(t.catalogue)).all()
    return tuple(
        edition_code(str(row.catalogue), str(one["id"])) for row in rows for one in json.loads(row.doc)["editions"]
    )


def titles_of(ledger: Ledger, what: str, number: str) -> tuple[str, ...]:
    """The titles that a number leads to, by the whole of it.

    Parameters
    ----------
    ledger : Ledger
    what : str
        What kind of number it is: carton, bundle, order, account.
    number : str
    """
    n = tables.numbers.c
    query = select(n.title).where(n.folded == kept.folded(number), n.what == what).distinct().order_by(n.title)
    with reading(ledger.engine) as connection:
        return tuple(str(name) for name in connection.execute(query).scalars())


def greatest_sscc(ledger: Ledger, beginning: str) -> str:
    """The greatest SSCC of a carton or a bundle that begins so; empty where none does.

    Parameters
    ----------
    ledger : Ledger
    beginning : str
        Extension digit and prefix.
    """
    n = tables.numbers.c
    near = and_(n.what.in_(("carton", "bundle")), n.folded >= beginning, n.folded < beginning + _LAST)
    with reading(ledger.engine) as connection:
        return str(connection.execute(select(func.max(n.folded)).where(near)).scalar() or "")


def part_lines(ledger: Ledger, family: Family, part: str) -> list[Line]:
    """Every line about a part: its own, the births of what was grown from it, corrections of any of these.

    Parameters
    ----------
    ledger : Ledger
    family : Family
        The part's.
    part : str
    """
    t = tables.lines.c
    births = family.parts[part].children if part in family.parts else ()
    own = select(tables.lines).where(t.part == part)
    born = select(tables.lines).where(t.part.in_(births), t.kind == "plated")
    put_right = select(tables.lines).where(t.title == family.title, t.kind == "corrected")
    with reading(ledger.engine) as connection:
        rows = {row.seq: row for query in (own, born) for row in connection.execute(query)}
        found = {seq: line_of(row) for seq, row in rows.items()}
        found = {seq: line for seq, line in found.items() if line.part == part or line.data.get("parent") == part}
        for row in connection.execute(put_right):
            line = line_of(row)
            if line.part == part or line.data.get("seq") in found:
                found[line.seq] = line
    return [found[seq] for seq in sorted(found)]


@dataclass(frozen=True)
class Found:
    """Something a number leads to.

    Attributes
    ----------
    what : str
        What kind of number it is.
    shown : str
        As it is printed.
    title : str
    part : str
        Empty where it leads to a title.
    """

    what: str
    shown: str
    title: str
    part: str


def search(ledger: Ledger, text: str) -> tuple[Found, ...]:
    """Everything that a number printed anywhere leads to.

    Parameters
    ----------
    ledger : Ledger
    text : str
        Whole or its beginning; capitals, blanks and hyphens make no difference.

    Returns
    -------
    tuple of Found
        Whole matches first, at most :data:`MOST_FOUND`.
    """
    wanted = kept.folded(text)
    if not wanted:
        return ()
    n = tables.numbers.c
    near = and_(n.folded >= wanted, n.folded < wanted + _LAST)  # a range, so that the index serves both databases
    query = select(tables.numbers).where(near).order_by(n.folded != wanted, n.folded, n.title, n.part).limit(MOST_FOUND)
    with reading(ledger.engine) as connection:
        found = [Found(row.what, row.shown, row.title, row.part) for row in connection.execute(query)]
        if len(wanted) >= _HASH_LETTERS and set(wanted) <= set("0123456789abcdef"):
            t = tables.lines.c
            by_hash = select(t.title, t.part, t.hash).where(t.hash >= wanted, t.hash < wanted + "g").limit(_HASHES)
            found += [Found("line", row.hash, row.title, row.part) for row in connection.execute(by_hash)]
    return tuple(found[:MOST_FOUND])
