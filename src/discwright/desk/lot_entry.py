"""What is entered of a lot before its verdict: all of it stands in the form, so the same press gives the same form.

A form that is sent twice, or a page that is loaded again, begins from what the form held and comes to the same: nothing
is lost and nothing is doubled. Whatever comes back is held against the sample again, for a form can be changed on its
way.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import astuple, dataclass, replace
from typing import Any

from discwright.errors import CallError
from discwright.files.defect_settings import DefectSettings
from discwright.files.face_picture import Face, half_view
from discwright.units import number
from discwright.works.defect_classes import HEARINGS, WORDS, Hearing, word_named
from discwright.works.lot import LotDefect, check_defects, place_on_face

#: Defects of one lot; a lot with more is refused long before.
MOST_DEFECTS = 300
#: Width and height of the picture where no script says otherwise, px; and what a script may say.
PICTURE_PX, _LEAST_PX, _MOST_PX = 640, 100, 4000
_STRANGE = "the list of defects was changed on its way; load the page again and enter them anew."


@dataclass(frozen=True)
class Entry:
    """One defect as it was entered.

    Attributes
    ----------
    word : str
    hearing : str
        Seen, heard, or the tip jumps.
    disc : int
    side : str
        Empty where the defect is of the whole disc.
    radius_mm, angle_deg : float or None
    """

    word: str
    hearing: str
    disc: int
    side: str = ""
    radius_mm: float | None = None
    angle_deg: float | None = None

    def defect(self, house: DefectSettings) -> LotDefect:
        """The same with its class by the house's settings.

        Parameters
        ----------
        house : DefectSettings
        """
        hearing = _hearing(self.hearing)
        grade = house.class_of(self.word, hearing)
        return LotDefect(self.word, grade, self.disc, self.side, self.radius_mm, self.angle_deg)


@dataclass(frozen=True)
class Entered:
    """A lot on its way to the verdict.

    Attributes
    ----------
    entries : tuple of Entry
    at : int
        Place in the sample of the disc that is in hand, from 0.
    seen : int
        So many discs of the sample were passed by.
    word, hearing, side : str
        Chosen now; the word empty while none is.
    """

    entries: tuple[Entry, ...] = ()
    at: int = 0
    seen: int = 0
    word: str = ""
    hearing: str = HEARINGS[0]
    side: str = ""


def read_entered(fields: Mapping[str, str], sample: Sequence[int], sides: Sequence[str], face: Face | None) -> Entered:
    """What a form holds.

    Parameters
    ----------
    fields : mapping of str to str
    sample : sequence of int
        Discs of it, in the order they are taken in.
    sides : sequence of str
    face : Face or None
        None for what has no face.

    Raises
    ------
    CallError
        If it holds what cannot be.
    """
    entries = read_entries(fields.get("defects", ""), sample, sides, face)
    at = min(_index(fields.get("at", "")), len(sample) - 1)
    word, side = fields.get("word", ""), fields.get("side", "")
    hearing = fields.get("hearing") or HEARINGS[0]
    if word:
        word_named(word)
    _hearing(hearing)
    seen = min(_index(fields.get("seen", "")), len(sample))
    return Entered(entries, at, seen, word, hearing, side if side in sides else (sides[0] if sides else ""))


def _index(text: str) -> int:
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 8 else 0


def _hearing(word: str) -> Hearing:
    found = next((one for one in HEARINGS if one == word), None)
    if found is None:
        raise CallError(f"a defect cannot be “{word[:40]}”; choose from {', '.join(HEARINGS)}.")
    return found


def read_entries(text: str, sample: Sequence[int], sides: Sequence[str], face: Face | None) -> tuple[Entry, ...]:
    """Defects out of the field that holds them.

    Parameters
    ----------
    text : str
        JSON, as :func:`entries_as_text` writes it; empty for none.
    sample, sides, face
        As in :func:`read_entered`.

    Raises
    ------
    CallError
        If it is no such list, or a defect of it cannot be.
    """
    entries = _parsed(text)
    for one in entries:
        check_entry(one, sample, sides, face)
    return entries


def fitting_entries(text: str, sample: Sequence[int], sides: Sequence[str], face: Face | None) -> tuple[Entry, ...]:
    """Those that still can be, where another lot of the edition has changed the plan; none of what is no list.

    Parameters
    ----------
    text, sample, sides, face
        As in :func:`read_entries`.
    """
    kept: list[Entry] = []
    with suppress(CallError):
        for one in _parsed(text):
            with suppress(CallError):
                check_entry(one, sample, sides, face)
                kept.append(one)
    return tuple(kept)


def _parsed(text: str) -> tuple[Entry, ...]:
    if not text:
        return ()
    try:
        rows = json.loads(text)
    except (ValueError, RecursionError):
        raise CallError(_STRANGE) from None
    if not isinstance(rows, list) or len(rows) > MOST_DEFECTS:
        raise CallError(_STRANGE)
    return tuple(_entry(row) for row in rows)


def _entry(row: Any) -> Entry:
    if not isinstance(row, list) or len(row) != 6:
        raise CallError(_STRANGE)
    word, hearing, disc, side, radius, angle = row
    texts = all(isinstance(one, str) for one in (word, hearing, side))
    places = all(one is None or (isinstance(one, int | float) and not isinstance(one, bool)) for one in (radius, angle))
    if not texts or not places or not isinstance(disc, int) or isinstance(disc, bool):
        raise CallError(_STRANGE)
    return Entry(word, hearing, disc, side, radius, angle)


def check_entry(one: Entry, sample: Sequence[int], sides: Sequence[str], face: Face | None) -> None:
    """Refuse a defect that cannot be: of a disc that was not taken, on no side, beside the disc, without its place.

    Parameters
    ----------
    one : Entry
    sample, sides, face
        As in :func:`read_entered`.

    Raises
    ------
    CallError
    """
    _hearing(one.hearing)
    check_defects(sample, [LotDefect(one.word, "minor", one.disc, one.side, one.radius_mm, one.angle_deg)],
                  None if face is None else face.edge)  # fmt: skip
    if one.side and one.side not in sides:
        raise CallError(f"{one.word}: “{one.side[:8]}” is no side of this run; choose {' or '.join(sides)}.")
    if one.radius_mm is not None and (face is None or not one.side):
        raise CallError(f"{one.word}: a place is on a side of a disc; choose the side, or leave the place out.")


def entries_as_text(entries: Sequence[Entry]) -> str:
    """Defects as one field of a form holds them.

    Parameters
    ----------
    entries : sequence of Entry
    """
    return json.dumps([astuple(one) for one in entries], ensure_ascii=False, separators=(",", ":"))


# What a press does -------------------------------------------------------------------------------------


def pressed(
    now: Entered, fields: Mapping[str, str], sample: Sequence[int], sides: Sequence[str], face: Face | None
) -> Entered:  # fmt: skip
    """What one press of the form makes of what was entered.

    Parameters
    ----------
    now : Entered
    fields : mapping of str to str
        With ``do``: ``place`` (at a radius and an angle), ``cross`` (where the cross stands), ``bare`` (without a
        place), ``next``, ``back``, ``side-…``, ``disc-…``, ``remove-…``; a tap on the picture has none.
    sample, sides, face
        As in :func:`read_entered`.

    Raises
    ------
    CallError
        If it cannot be.
    """
    act, _, what = fields.get("do", "").partition("-")
    last = len(sample) - 1
    if act == "next":
        return replace(now, at=min(now.at + 1, last), seen=max(now.seen, now.at + 1))
    if act == "back":
        return replace(now, at=max(0, now.at - 1))
    if act == "disc":
        return replace(now, at=min(_index(what), last))
    if act == "side" and what in sides:
        return replace(now, side=what)
    if act == "remove":
        number_ = _index(what)
        return replace(now, entries=(*now.entries[: max(0, number_ - 1)], *now.entries[max(1, number_) :]))
    entry = _new(now, act, fields, sample, face)
    check_entry(entry, sample, sides, face)
    if len(now.entries) >= MOST_DEFECTS:
        raise CallError(f"{MOST_DEFECTS} defects are enough to refuse a lot; judge it.")
    return replace(now, entries=(*now.entries, entry))


def _new(now: Entered, act: str, fields: Mapping[str, str], sample: Sequence[int], face: Face | None) -> Entry:
    """The defect that a tap, the cross or two numbers tell of."""
    if not now.word:
        raise CallError("no word is chosen; choose what it is, then where.")
    disc = sample[now.at]
    if act == "bare":
        return Entry(now.word, now.hearing, disc, now.side if WORDS[now.word].on_face else "")
    if face is None:
        raise CallError("this has no face to tap on; enter the defect without a place.")
    if not WORDS[now.word].on_face:
        return Entry(now.word, now.hearing, disc)  # of the whole disc, wherever it was tapped
    radius, angle = _typed(fields) if act == "place" else _tapped(fields, "cross" if act == "cross" else "face", face)
    return Entry(now.word, now.hearing, disc, now.side, round(radius, 1), round(angle, 1) % 360.0)


def _typed(fields: Mapping[str, str]) -> tuple[float, float]:
    radius, angle = fields.get("radius_mm", ""), fields.get("angle_deg", "")
    if not radius.strip() or not angle.strip():
        raise CallError("a place has a radius and an angle; tap on the disc, give both, or enter it without a place.")
    return number(radius[:40], "radius"), number(angle[:40], "angle") % 360.0


def _tapped(fields: Mapping[str, str], name: str, face: Face) -> tuple[float, float]:
    """A point of the picture, counted in pixels from its upper left corner, as a place of the disc."""
    x, y = (fields.get(f"{name}.{axis}", "") for axis in "xy")
    size = _index(fields.get("picture_px", "")) or PICTURE_PX
    if not x or not y or not _LEAST_PX <= size <= _MOST_PX:
        raise CallError("where it is was not sent; tap on the disc, or give radius and angle.")
    half = half_view(face)
    across, down = ((number(one[:20], "place") / size * 2.0 - 1.0) * half for one in (x, y))
    radius, angle = place_on_face(across, down)
    if radius > face.edge:
        raise CallError("that is beside the disc; tap on the disc, or give radius and angle.")
    return radius, angle
