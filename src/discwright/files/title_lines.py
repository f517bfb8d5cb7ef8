"""In which line of a TOML text each table and key stands; the parser itself keeps no lines."""

from __future__ import annotations

import re

Where = tuple[str | int, ...]

_PART = r"""(?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+)"""
_KEY = re.compile(rf"\s*({_PART}(?:\s*\.\s*{_PART})*)\s*=\s*(.*)$")
_HEAD = re.compile(rf"\s*(\[{{1,2}})\s*({_PART}(?:\s*\.\s*{_PART})*)\s*\]{{1,2}}\s*(?:#.*)?$")


class Lines:
    """Places of a TOML text.

    Parameters
    ----------
    text : str
        Valid TOML.
    """

    def __init__(self, text: str) -> None:
        self._line: dict[Where, int] = {(): 1}
        counts: dict[Where, int] = {}
        at: Where = ()
        until = ""
        for number, line in enumerate(text.split("\n"), 1):
            if until:  # within a text of several lines
                until = "" if until in line else until
                continue
            head, key = _HEAD.match(line), _KEY.match(line)
            if head:
                at = self._table(head, counts)
                self._line.setdefault(at, number)
            elif key:
                for i in range(len(parts := _parts(key[1]))):
                    self._line.setdefault((*at, *parts[: i + 1]), number)
                mark = key[2][:3]
                if mark in ('"""', "'''") and mark not in key[2][3:]:
                    until = mark

    @staticmethod
    def _table(head: re.Match[str], counts: dict[Where, int]) -> Where:
        """The path of a head: a list's table carries its number."""
        parts = _parts(head[2])
        at: Where = ()
        for i, part in enumerate(parts):
            at = (*at, part)
            last = i == len(parts) - 1
            if last and head[1] == "[[":
                counts[at] = counts.get(at, 0) + 1
            if at in counts:
                at = (*at, counts[at] - 1)
        return at

    def of(self, where: Where) -> int:
        """The line of a place, or of the nearest table around it.

        Parameters
        ----------
        where : tuple of str and int
            Keys, and the number of each table in a list from 0: ``("band", 2, "isrc")``.
        """
        while where not in self._line:
            where = where[:-1]
        return self._line[where]


def _parts(dotted: str) -> list[str]:
    """The parts of a dotted key, without quotes."""
    return [part.strip("\"'") for part in re.findall(_PART, dotted)]
