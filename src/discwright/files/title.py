"""The title file: TOML read into a :class:`Title`, or every fault in it named at once with its line."""

from __future__ import annotations

import datetime
import difflib
import math
import re
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from discwright.errors import AudioError, CallError, DiscwrightError, SettingsError, TitleError
from discwright.files.settings import load_setup
from discwright.files.side_audio import find_range
from discwright.files.title_lines import Lines
from discwright.groove.room import silent_duration
from discwright.programme.title import (
    LEVEL_WORDS,
    TAPE,
    TREATMENTS,
    Accepted,
    Edition,
    SideOrder,
    Title,
    TitleBand,
    Treatment,
)
from discwright.units import clock, seconds

#: Keys of each table, as the file has them.
KEYS: dict[str, tuple[str, ...]] = {
    "": ("title", "band", "edition"),
    "title": ("name", "catalogue", "people"),
    "band": ("id", "name", "file", "start", "end", "isrc", "gap_s", "trim_db", "may_move"),
    "edition": (
        "id", "format", "quantity", "due", "lathe", "head", "cutting_tip", "tip", "practice", "level", "side",
    ),
    "side": ("letter", "bands", "treatment", "accepted"),
    "treatment": ("kind", "below_hz", "above_hz"),
    "accepted": ("code", "time", "reason"),
}  # fmt: skip
#: ISO 3901: two letters, three letters or digits, two digits of the year, five of the recording.
_ISRC = re.compile(r"[A-Za-z]{2}[A-Za-z0-9]{3}[0-9]{7}")
_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,39}")
#: No treatment reaches below or above hearing, Hz.
_CORNER_HZ = (5.0, 30_000.0)
#: Longest gap between two bands, s, and greatest trim of a band, dB.
_GAP_MOST_S, _TRIM_MOST_DB = 60.0, 24.0
Where = tuple[str | int, ...]


def load_title(path: str | Path) -> Title:
    """Read a title file.

    Parameters
    ----------
    path : str or pathlib.Path

    Returns
    -------
    Title
        Paths of bands are as they can be opened from here.

    Raises
    ------
    SettingsError
        If it is no TOML text at all.
    TitleError
        With every fault: file, line, what is wrong, what to do.
    """
    place = Path(path)
    try:
        text = place.read_text(encoding="utf-8-sig")  # some editors begin every file with a mark
    except FileNotFoundError:
        raise SettingsError(
            f"{place}: there is no such title file; `discwright layout --new FILE` writes one."
        ) from None
    except (OSError, UnicodeDecodeError) as trouble:
        why = trouble.strerror if isinstance(trouble, OSError) else "it is not UTF-8"
        raise SettingsError(f"{place}: cannot be read as text ({why}); check the file.") from None
    try:
        document = tomllib.loads(text)
    except (ValueError, RecursionError) as trouble:
        raise SettingsError(f"{place}: is not valid TOML ({trouble}); mend that line.") from None
    reader = _Reader(place, Lines(text))
    title = reader.title(document)
    reader.lengths(title)
    if reader.faults:
        raise TitleError(tuple(sentence for _, sentence in sorted(reader.faults)))
    return title


@dataclass
class _Reader:
    """Walks the document, building what is sound and noting what is not."""

    path: Path
    lines: Lines
    faults: list[tuple[int, str]] = field(default_factory=list)
    longest: dict[str, float] = field(default_factory=dict)

    def fault(self, where: Where, sentence: str) -> None:
        line = self.lines.of(where)
        self.faults.append((line, f"{self.path}:{line}: {sentence}"))

    def title(self, document: dict[str, Any]) -> Title:
        self.known("", document, ())
        head = self.table(document, "title", ())
        self.known("title", head, ("title",))
        people = head.get("people", [])
        if not isinstance(people, list) or not all(isinstance(one, str) for one in people):
            self.fault(("title", "people"), 'people must be a list of names in quotes; write people = ["…"].')
            people = []
        bands = tuple(self.band(table, ("band", i)) for i, table in enumerate(self.tables(document, "band", ())))
        if not bands:
            self.fault((), "the title has no band; add a [[band]] for each piece.")
        self.once(bands)
        editions = tuple(
            self.edition(table, ("edition", i), bands) for i, table in enumerate(self.tables(document, "edition", ()))
        )
        if not editions:
            self.fault((), "the title has no edition; add an [[edition]] for each format.")
        for i, edition in enumerate(editions):
            if edition.id and edition.id in {e.id for e in editions[:i]}:
                self.fault(("edition", i, "id"), f"two editions are called “{edition.id}”; give each its own id.")
        return Title(
            self.word(head, "name", ("title",)), self.word(head, "catalogue", ("title",), needed=False),
            tuple(people), bands, editions,
        )  # fmt: skip

    # bands ---------------------------------------------------------------------------------------------

    def band(self, table: dict[str, Any], at: Where) -> TitleBand:
        self.known("band", table, at)
        name = self.word(table, "name", at)
        id_ = self.identity(table, at)
        file = self.word(table, "file", at)
        audio = self.path.parent / file
        if file and not _is_file(audio):
            self.fault((*at, "file"), f"{file} is not there; mend the path, counted from the title file's folder.")
        start, end = self.time(table, "start", at), self.time(table, "end", at)
        if start is not None and end is not None and end <= start:
            self.fault((*at, "end"), "the band ends before it begins; mend start and end.")
            end = None
        gap = self.number(table, "gap_s", at, 2.0, (0.0, _GAP_MOST_S))
        trim = self.number(table, "trim_db", at, 0.0, (-_TRIM_MOST_DB, _TRIM_MOST_DB))
        may_move = table.get("may_move", False)
        if not isinstance(may_move, bool):
            self.fault((*at, "may_move"), f"may_move must be true or false; got {_shown(may_move)}.")
        return TitleBand(
            id=id_, name=name, path=str(audio), start=start, end=end, isrc=self.isrc(table, at), gap=gap,
            trim_db=trim, may_move=may_move is True, line=self.lines.of(at),
        )  # fmt: skip

    def isrc(self, table: dict[str, Any], at: Where) -> str:
        raw = table.get("isrc", "")
        code = re.sub(r"[-\s]", "", raw) if isinstance(raw, str) else "?"
        if code and not _ISRC.fullmatch(code):
            told = raw if isinstance(raw, str) else _shown(raw)
            self.fault((*at, "isrc"), f"“{told}” is no ISRC (ISO 3901: as AA-6Q7-20-00047); mend it or leave it out.")
            return ""
        return code.upper()

    def once(self, bands: tuple[TitleBand, ...]) -> None:
        """No id and no ISRC may stand twice."""
        for key, word in (("id", "are called"), ("isrc", "claim the ISRC")):
            seen: dict[str, TitleBand] = {}
            for i, band in enumerate(bands):
                value = getattr(band, key)
                if value and value in seen:
                    first = seen[value]
                    self.fault(
                        ("band", i, key),
                        f"two bands {word} {value}, “{first.name}” (line {first.line}) and “{band.name}”; mend one.",
                    )
                seen.setdefault(value, band)

    def lengths(self, title: Title) -> None:
        """Each band must be there in its file, and short enough for a side of some edition."""
        longest = max((self.longest.get(e.id, math.inf) for e in title.editions), default=math.inf)
        for i, band in enumerate(title.bands):
            if not _is_file(Path(band.path)):
                continue
            try:
                duration = find_range(band).duration
            except AudioError as trouble:
                self.fault(("band", i, "file"), str(trouble))
                continue
            if duration > longest:
                self.fault(
                    ("band", i),
                    f"“{band.name}” lasts {clock(duration)}, and even silence fills the longest side of these editions "
                    f"in {clock(longest)}; split the band, or add an edition with longer sides.",
                )

    # editions ------------------------------------------------------------------------------------------

    def edition(self, table: dict[str, Any], at: Where, bands: tuple[TitleBand, ...]) -> Edition:
        self.known("edition", table, at)
        id_ = self.identity(table, at)
        kinds = {
            key: self.word(table, key, at, needed=False) for key in ("lathe", "head", "cutting_tip", "tip", "practice")
        }
        # A file is meant from the title file's folder; a name in data/ stays a name.
        chosen = {key: self.beside(value) for key, value in kinds.items()}
        form = self.word(table, "format", at)
        if form and form != TAPE:
            form = self.beside(form) or form
            self.setup(id_, form, chosen, at)
        elif form == TAPE:
            self.longest[id_] = math.inf
        level = table.get("level", "fit")
        if isinstance(level, bool) or not (level in LEVEL_WORDS or isinstance(level, int | float)):
            self.fault((*at, "level"), f'level must be "fit", "clean" or a number of dB; got {_shown(level)}.')
            level = "fit"
        elif not isinstance(level, str) and not -40.0 <= level <= 24.0:
            self.fault((*at, "level"), f"level must lie between -40 and 24 dB; got {_shown(level)}.")
            level = "fit"
        sides = tuple(self.side(one, (*at, "side", i), bands) for i, one in enumerate(self.tables(table, "side", at)))
        for i, side in enumerate(sides):
            if side.letter and side.letter in {s.letter for s in sides[:i]}:
                self.fault((*at, "side", i, "letter"), f"two sides are lettered {side.letter}; letter each once.")
        return Edition(
            id=id_, format=form, quantity=self.whole(table, "quantity", at), due=self.date(table, at), **chosen,
            level=level if isinstance(level, str) else float(level), sides=sides,
        )  # fmt: skip

    def beside(self, value: str) -> str | None:
        if not value:
            return None
        near = self.path.parent / value
        return str(near) if value.endswith(".toml") or _is_file(near) else value

    def setup(self, id_: str, form: str, chosen: dict[str, str | None], at: Where) -> None:
        try:
            setup = load_setup(form, **chosen)
            self.longest[id_] = silent_duration(setup)
        except (CallError, SettingsError) as trouble:
            self.fault(at, str(trouble))
        except (OSError, ValueError):  # a name that no file can have
            self.fault(at, "lathe, head, tips, practice and format are each a name in data/ or a TOML file; mend them.")

    def side(self, table: dict[str, Any], at: Where, bands: tuple[TitleBand, ...]) -> SideOrder:
        self.known("side", table, at)
        letter = self.word(table, "letter", at)
        if letter and not re.fullmatch(r"[A-Za-z0-9]{1,3}", letter):
            self.fault((*at, "letter"), f"“{letter}” is no side letter; write A, B, C and so on.")
        ids = table.get("bands", [])
        if not isinstance(ids, list) or not ids or not all(isinstance(one, str) for one in ids):
            self.fault((*at, "bands"), 'bands must be a list of the bands\' ids; write bands = ["…"].')
            ids = []
        known = [band.id for band in bands]
        for one in ids:
            if one not in known:
                near = difflib.get_close_matches(one, known, 1, 0.5)
                hint = f"did you mean “{near[0]}”?" if near else f"there are {', '.join(known) or 'none'}."
                self.fault((*at, "bands"), f"there is no band “{one}”; {hint}")
        for one in sorted({one for one in ids if ids.count(one) > 1}):
            self.fault((*at, "bands"), f"band “{one}” stands twice on side {letter}; name it once.")
        treatments = [
            self.treatment(one, (*at, "treatment", i)) for i, one in enumerate(self.tables(table, "treatment", at))
        ]
        accepted = [
            self.acceptance(one, (*at, "accepted", i)) for i, one in enumerate(self.tables(table, "accepted", at))
        ]
        return SideOrder(letter, tuple(ids), tuple(t for t in treatments if t), tuple(accepted))

    def treatment(self, table: dict[str, Any], at: Where) -> Treatment | None:
        self.known("treatment", table, at)
        kind = self.word(table, "kind", at)
        if not kind:
            return None
        if kind not in TREATMENTS:
            near = difflib.get_close_matches(kind, TREATMENTS, 1, 0.5)
            hint = f"write {near[0]}" if near else f"there are {', '.join(TREATMENTS)}"
            self.fault((*at, "kind"), f"there is no treatment “{kind}”; {hint}.")
            return None
        corners: dict[str, float | None] = {"below": None, "above": None}
        for name in corners:
            key = f"{name}_hz"
            wanted = name in TREATMENTS[kind]
            if wanted and key not in table:
                self.fault(at, f"{kind} needs {key}; add it.")
            elif key in table and not wanted:
                self.fault((*at, key), f"{kind} knows no {key}; leave it out.")
            elif wanted:
                corners[name] = self.number(table, key, at, 0.0, _CORNER_HZ)
        return Treatment(kind, **corners)

    def acceptance(self, table: dict[str, Any], at: Where) -> Accepted:
        self.known("accepted", table, at)
        reason = self.word(table, "reason", at)
        return Accepted(self.word(table, "code", at), self.time(table, "time", at), reason)

    # values --------------------------------------------------------------------------------------------

    def known(self, kind: str, table: dict[str, Any], at: Where) -> None:
        for key in table:
            if key not in KEYS[kind]:
                near = difflib.get_close_matches(key, KEYS[kind], 1, 0.5)
                hint = f"write {near[0]}" if near else f"it knows {', '.join(KEYS[kind])}"
                where = f"[{kind}] has" if kind else "the file has"
                self.fault((*at, key), f"{where} an unknown key “{key}”; {hint}.")

    def table(self, document: dict[str, Any], key: str, at: Where) -> dict[str, Any]:
        value = document.get(key)
        if not isinstance(value, dict):
            self.fault((*at, key), f"there is no [{key}] table; add it.")
            return {}
        return value

    def tables(self, document: dict[str, Any], key: str, at: Where) -> list[dict[str, Any]]:
        value = document.get(key, [])
        if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
            name = ".".join([str(part) for part in at if isinstance(part, str)] + [key])
            self.fault((*at, key), f"“{key}” must be written as [[{name}]], once for each.")
            return []
        return value

    def word(self, table: dict[str, Any], key: str, at: Where, needed: bool = True) -> str:
        value = table.get(key, "")
        if not isinstance(value, str):
            self.fault((*at, key), f"{key} must be text in quotes; got {_shown(value)}.")
            return ""
        if needed and not value.strip():
            self.fault((*at, key) if key in table else at, f'{key} is missing; add {key} = "…".')
        return value.strip()

    def identity(self, table: dict[str, Any], at: Where) -> str:
        id_ = self.word(table, "id", at)
        if id_ and not _ID.fullmatch(id_):
            self.fault((*at, "id"), f"“{id_}” cannot name a folder; use letters, digits, dots and hyphens.")
        return id_

    def number(self, table: dict[str, Any], key: str, at: Where, default: float, span: tuple[float, float]) -> float:
        value = table.get(key, default)
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.fault((*at, key), f"{key} must be a number; got {_shown(value)}.")
            return default
        low, high = span
        if not low <= value <= high:
            self.fault((*at, key), f"{key} must lie between {low:g} and {high:g}; got {_shown(value)}.")
            return default
        return float(value)

    def whole(self, table: dict[str, Any], key: str, at: Where) -> int:
        value = table.get(key, 0)
        if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= 10_000_000:
            self.fault((*at, key), f"{key} must be a whole number, 0 or more; got {_shown(value)}.")
            return 0
        return value

    def date(self, table: dict[str, Any], at: Where) -> str:
        value = table.get("due", "")
        if isinstance(value, datetime.date) and not isinstance(value, datetime.datetime):
            return value.isoformat()
        try:
            return datetime.date.fromisoformat(value).isoformat() if value != "" else ""
        except (TypeError, ValueError):
            self.fault((*at, "due"), f"due must be a date as 2031-05-30; got {_shown(value)}.")
            return ""

    def time(self, table: dict[str, Any], key: str, at: Where) -> float | None:
        if key not in table:
            return None
        value = table[key]
        if isinstance(value, str) and len(value) <= 20:
            try:
                value = seconds(value, key)
            except DiscwrightError as trouble:
                self.fault((*at, key), str(trouble))
                return None
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value < 1e6:
            self.fault((*at, key), f'{key} must be a time as "4:31.5" or in seconds; got {_shown(value)}.')
            return None
        return float(value)


def _is_file(path: Path) -> bool:
    """Whether a file is there; a name that no file can have is none."""
    try:
        return path.is_file()
    except OSError:
        return False


def _shown(value: object) -> str:
    """A value for a refusal."""
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    if isinstance(value, int) and abs(value) >= 10**20:  # Python would not even print one of thousands of digits
        return "a number of more than 20 digits"
    return repr(value)
