"""Fix the sides of an edition in a title file's own text: everything else, comments included, stays as it was.

The text is cut into chunks, a table each with what belongs to it; the chunks of one edition's sides are exchanged,
and the result is read as a title and held against what was meant before it takes the file's place.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import tempfile
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from discwright.errors import CallError, SettingsError, TitleError
from discwright.files.title import load_title
from discwright.files.title_chunks import Chunk, Statement, comments_of, cut, toml_list, toml_text, with_value
from discwright.programme.title import TAPE, SideOrder, Title

_EDITION, _SIDE = ("edition",), ("edition", "side")


@dataclass(frozen=True)
class _Match:
    """A side to be written.

    Attributes
    ----------
    order : SideOrder
        With the treatments and accepted findings that it keeps.
    old : int or None
        Number of the side whose text it takes over.
    same : bool
        That one holds the same bands, so all of its tables stay.
    """

    order: SideOrder
    old: int | None
    same: bool


def fix_sides(
    path: str | os.PathLike[str], edition_id: str, sides: Sequence[SideOrder], expected_sha256: str | None = None
) -> None:
    """Write the sides of one edition into a title file.

    Parameters
    ----------
    path : str or os.PathLike
        Title file.
    edition_id : str
    sides : sequence of SideOrder
        Letters and bands; a side that holds the same bands as one in the file keeps its treatments and accepted
        findings, any other has none. Without any side the edition is open again.
    expected_sha256 : str or None
        Of the file's bytes as they were looked at; None for whatever they are.

    Raises
    ------
    CallError
        If the file changed meanwhile, has no such edition on disc, cannot hold these sides or cannot be written.
    SettingsError
        If it is no title file.
    """
    place = Path(path)
    raw = _read(place)
    if expected_sha256 is not None and hashlib.sha256(raw).hexdigest() != expected_sha256:
        raise _changed(place)
    old = load_title(place)
    number = _edition_number(place, old, edition_id)
    matches = _matches(old.editions[number].sides, sides)
    text = raw.decode("utf-8")
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    edited = mark + _edited(place, text.removeprefix(mark), number, matches)
    wanted = _with_sides(old, number, tuple(one.order for one in matches))
    _write(place, raw, edited.encode("utf-8"), wanted)


def _edition_number(place: Path, title: Title, edition_id: str) -> int:
    ids = [edition.id for edition in title.editions]
    if edition_id not in ids:
        raise CallError(f"{place}: there is no edition “{edition_id}”; choose from {', '.join(ids)}.")
    number = ids.index(edition_id)
    if title.editions[number].format == TAPE:
        raise CallError(f"{place}: edition “{edition_id}” is a tape and has no sides; choose a disc.")
    return number


def _matches(old: Sequence[SideOrder], sides: Sequence[SideOrder]) -> list[_Match]:
    """Which old side each new one takes over: with the same bands, else with the same letter."""
    left = set(range(len(old)))
    found: dict[int, tuple[int, bool]] = {}
    for by_bands, by_letter in ((True, True), (True, False), (False, True)):
        for k, side in enumerate(sides):
            fits = (
                j
                for j in sorted(left)
                if (not by_bands or old[j].bands == tuple(side.bands))
                and (not by_letter or old[j].letter == side.letter)
            )
            j = next(fits, None) if k not in found else None
            if j is not None:
                found[k] = (j, by_bands)
                left.discard(j)
    matches = []
    for k, side in enumerate(sides):
        order = SideOrder(side.letter, tuple(side.bands))
        number, same = found.get(k, (None, False))
        if number is not None and same:
            order = replace(order, treatments=old[number].treatments, accepted=old[number].accepted)
        matches.append(_Match(order, number, same))
    return matches


def _with_sides(title: Title, number: int, sides: tuple[SideOrder, ...]) -> Title:
    editions = list(title.editions)
    editions[number] = replace(editions[number], sides=sides)
    return _without_lines(replace(title, editions=tuple(editions)))


def _without_lines(title: Title) -> Title:
    """Lines move when a table above them grows."""
    return replace(title, bands=tuple(replace(band, line=0) for band in title.bands))


# The text ----------------------------------------------------------------------------------------------


def _edited(place: Path, text: str, number: int, matches: Sequence[_Match]) -> str:
    end = "\r\n" if "\r\n" in text else "\n"
    bare = bool(text) and not text.endswith("\n")  # the last line gets its end for as long as this takes
    chunks = list(cut(text + end if bare else text))
    own = [k for k, chunk in enumerate(chunks) if chunk.path == _EDITION]
    if number >= len(own):
        raise CallError(f"{place}: its editions stand in one list; write each as a table under [[edition]].")
    head = own[number]
    last = own[number + 1] if number + 1 < len(own) else len(chunks)
    groups: list[list[int]] = []  # the chunks of each old side
    for k in range(head + 1, last):
        if chunks[k].path == _SIDE:
            groups.append([k])
        elif chunks[k].path[:2] == _SIDE:
            groups[-1].append(k)
    kept = [left for one in chunks[head].body for left in _without(one, lambda key: key == "side")]
    chunks[head] = replace(chunks[head], body=tuple(kept))  # a list of sides in one key becomes tables
    indent = re.match(r"[ \t]*", next(one.text for one in chunks[head].body if one.kind == "head"))
    new = _Sides(chunks, groups, end, indent[0] if indent else "")
    written = new.text(matches)
    first = groups[0][0] if groups else None
    taken = {k for group in groups for k in group}
    closing = chunks[groups[-1][-1]].gap if groups else ()
    out: list[str] = []
    for k, chunk in enumerate(chunks):
        if k == first:
            out += [written, *(one.text for one in closing)]
        elif k not in taken:
            opened = [end, written] if k == head and first is None and written else []
            out += [chunk.text, *opened, *(one.text for one in chunk.gap)]
    return "".join(out).removesuffix(end if bare else "")


@dataclass(frozen=True)
class _Sides:
    """Writes the tables of an edition's sides, from the text of the old ones where it can.

    Attributes
    ----------
    chunks : list of Chunk
        Of the whole file.
    groups : list of list of int
        Which of them belong to each old side.
    end, indent : str
        Of new lines.
    """

    chunks: list[Chunk]
    groups: list[list[int]]
    end: str
    indent: str

    def text(self, matches: Sequence[_Match]) -> str:
        """All sides, and below them the comments of those that are gone."""
        out: list[str] = []
        for place, match in enumerate(matches):
            out.append(self._side(match))
            gap = self._gap(match.old)
            # What is written in a gap stays with the side above it; an empty line is enough below a new one.
            if gap.strip() or (gap and place < len(matches) - 1):
                out.append(gap)
            elif place < len(matches) - 1:
                out.append(self.end)
        used = {match.old for match in matches}
        gone = [j for j in range(len(self.groups)) if j not in used]
        left = "".join(line for j in gone for line in (*self._comments(self.groups[j]), *comments_of(self._gap(j))))
        return "".join([*out, *([self.end] if out and left else []), left])

    def _gap(self, old: int | None) -> str:
        """What follows an old side, but for the last, whose gap closes them all."""
        if old is None or old >= len(self.groups) - 1:
            return ""
        return "".join(one.text for one in self.chunks[self.groups[old][-1]].gap)

    def _side(self, match: _Match) -> str:
        if match.old is None or match.old >= len(self.groups):
            return self._fresh(match.order)
        head, *below = self.groups[match.old]
        statements = list(self.chunks[head].body)
        if not match.same:
            statements = [
                kept for one in statements for kept in _without(one, lambda key: key not in ("letter", "bands"))
            ]
        wanted = {"letter": toml_text(match.order.letter), "bands": toml_list(match.order.bands)}
        if match.same:
            del wanted["bands"]
        lines = [
            with_value(one, wanted[one.path[0]]) if one.kind == "key" and one.path[0] in wanted else one.text
            for one in statements
        ]
        if not match.same:
            gap = self.chunks[head].gap if below else ()
            between = [line for one in gap for line in one.comments]
            return "".join([*lines, *between, *self._comments(below)])
        inner = [*(one.text for one in self.chunks[head].gap)] if below else []
        for k in below:
            inner += [self.chunks[k].text, *((one.text for one in self.chunks[k].gap) if k != below[-1] else ())]
        return "".join([*lines, *inner])

    def _comments(self, group: Sequence[int]) -> list[str]:
        """Comments of a side's chunks that have a line to themselves, those between the chunks too."""
        gaps = [self.chunks[k].gap for k in group[:-1]]
        parts = [*(self.chunks[k].body for k in group), *gaps]
        return [line for part in parts for one in part for line in one.comments]

    def _fresh(self, order: SideOrder) -> str:
        rows = ["[[edition.side]]", f"letter = {toml_text(order.letter)}", f"bands = {toml_list(order.bands)}"]
        for treatment in order.treatments:
            rows += ["", "[[edition.side.treatment]]", f"kind = {toml_text(treatment.kind)}"]
            corners = (("below_hz", treatment.below), ("above_hz", treatment.above))
            rows += [f"{key} = {corner!r}" for key, corner in corners if corner is not None]
        for one in order.accepted:
            rows += ["", "[[edition.side.accepted]]", f"code = {toml_text(one.code)}"]
            rows += [] if one.time is None else [f"time = {one.time!r}"]
            rows += [f"reason = {toml_text(one.reason)}"]
        return "".join(f"{self.indent if row else ''}{row}{self.end}" for row in rows)


def _without(statement: Statement, taken: Callable[[str], bool]) -> list[Statement]:
    """A statement as it is, or only its comments where it is a key that is taken out."""
    if statement.kind != "key" or not taken(statement.path[0]):
        return [statement]
    return [Statement(line, "comment") for line in statement.comments]


# The file ----------------------------------------------------------------------------------------------


def _read(place: Path) -> bytes:
    try:
        return place.read_bytes()
    except OSError as trouble:
        raise SettingsError(f"{place}: cannot be read ({trouble.strerror}); check the file.") from None


def _changed(place: Path) -> CallError:
    return CallError(f"{place}: was changed meanwhile, and stays as it is now; look at it again and choose once more.")


def _write(place: Path, raw: bytes, edited: bytes, wanted: Title) -> None:
    """Write beside, read back as a title, and put it in the file's place if that is still what it was."""
    try:
        number, name = tempfile.mkstemp(prefix=f".{place.name}.part-", dir=place.parent)
        part = place.with_name(Path(name).name)  # paths in it are counted as in the file itself
        try:
            with os.fdopen(number, "wb") as file:
                file.write(edited)
                file.flush()
                os.fsync(file.fileno())
            _check(place, part, wanted)
            if place.read_bytes() != raw:
                raise _changed(place)
            shutil.copymode(place, part)
            part.replace(os.path.realpath(place))  # a link to the file stays one
        finally:
            with suppress(FileNotFoundError):
                part.unlink()
    except OSError as trouble:
        raise CallError(f"{place}: cannot be written ({trouble.strerror}); check the folder and the disk.") from None


def _check(place: Path, part: Path, wanted: Title) -> None:
    try:
        read = _without_lines(load_title(part))
    except TitleError as trouble:
        sentence = trouble.faults[0].removeprefix(f"{part}:").lstrip("0123456789").removeprefix(": ")
        raise CallError(f"{place}: cannot hold these sides: {sentence}") from None
    except SettingsError:
        read = None
    if read != wanted:
        raise CallError(f"{place}: is written in a way that cannot be changed safely; write the sides into it by hand.")
