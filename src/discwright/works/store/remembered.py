"""Titles as they stood when they were last read or written, so that they need not be read again."""

from __future__ import annotations

import threading
from collections.abc import Collection, Iterable

from sqlalchemy import Connection

from discwright.works.family import Family
from discwright.works.store import kept, rows

#: So many titles are remembered, those used last.
MOST = 1000


class Remembered:
    """What one process knows of the titles.

    It is never believed: a title counts only if its last line is still the one that the database has, within the same
    transaction. Lines are never taken away, so the same last line is the same title.
    """

    def __init__(self) -> None:
        self._known: dict[str, Family] = {}
        self._parts: dict[str, str] = {}
        self._lock = threading.Lock()

    def title_of(self, part: str) -> str:
        """The title a part belonged to when it was last seen; a guess, and empty where there is none.

        Parameters
        ----------
        part : str
        """
        return self._parts.get(part, "")

    def read(self, connection: Connection, title: str) -> Family:
        """A title as it stands, without any line if it was never taken in.

        Parameters
        ----------
        connection : sqlalchemy.Connection
        title : str
        """
        return self.read_all(connection, [title])[title]

    def read_all(self, connection: Connection, titles: Collection[str]) -> dict[str, Family]:
        """Several titles as they stand.

        Parameters
        ----------
        connection : sqlalchemy.Connection
        titles : collection of str
        """
        if not titles:
            return {}
        seqs = rows.seqs_of_titles(connection, list(titles))
        found = {title: Family(title) for title in titles if title not in seqs}
        for title, seq in seqs.items():
            known = self._known.get(title)
            if known is not None and known.seq == seq:
                found[title] = known
        read = list(kept.read_families(connection, [title for title in titles if title not in found]))
        self.learn(read)
        return found | {family.title: family for family in read}

    def learn(self, families: Iterable[Family]) -> None:
        """Remember titles whose lines are written.

        Parameters
        ----------
        families : iterable of Family
        """
        with self._lock:
            for family in families:
                before = self._known.pop(family.title, None)
                self._known[family.title] = family
                if before is None or _count(before) != _count(family):
                    self._parts.update(dict.fromkeys((*family.parts, *family.yard.runs), family.title))
            while len(self._known) > MOST:
                gone = self._known.pop(next(iter(self._known)))
                for part in (*gone.parts, *gone.yard.runs):
                    self._parts.pop(part, None)


def _count(family: Family) -> int:
    return len(family.parts) + len(family.yard.runs)
