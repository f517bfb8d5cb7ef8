"""In which line of a TOML text each table and key stands; the parser itself keeps no lines."""

from __future__ import annotations

import re
from collections.abc import Iterator

Where = tuple[str | int, ...]

_PART = r"""(?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+)"""
_KEY = re.compile(rf"\s*({_PART}(?:\s*\.\s*{_PART})*)\s*=")
_HEAD = re.compile(rf"\s*(\[{{1,2}})\s*({_PART}(?:\s*\.\s*{_PART})*)\s*\]{{1,2}}\s*(?:#.*)?$")
#: Whatever could hide an end of line or a bracket: texts and comments; and the brackets and ends themselves.
_TOKEN = re.compile(
    r'''"""(?:\\.|[^\\])*?"{3,5}|'{3}.*?'{3,5}|"(?:\\.|[^"\\\n])*"|'[^'\n]*'|#[^\n]*|[\[\]{}\n]''', re.DOTALL
)


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
        for number, line in _statements(text):
            head, key = _HEAD.match(line), _KEY.match(line)
            if head:
                at = self._table(head, counts)
                self._line.setdefault(at, number)
            elif key:
                for i in range(len(parts := _parts(key[1]))):
                    self._line.setdefault((*at, *parts[: i + 1]), number)

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


def _statements(text: str) -> Iterator[tuple[int, str]]:
    """Lines with their numbers, but for those inside a text or a list of several lines."""
    number, begin, depth, passed = 1, 0, 0, 0
    for token in _TOKEN.finditer(text + "\n"):
        depth += (token[0] in "[{") - (token[0] in "]}")
        passed += token[0].count("\n")
        if token[0] == "\n" and depth == 0:
            yield number, text[begin : token.start()].partition("\n")[0]
            begin, number = token.end(), passed + 1
