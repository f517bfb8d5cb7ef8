"""What can happen to a title and its parts: one dataclass for each event, with what it takes.

An event says what happened, its line (:class:`discwright.works.chain.Line`) when, who, where and to which part.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields
from typing import Any, ClassVar

from discwright.errors import CallError
from discwright.faults import read_faults, read_verdict
from discwright.works.event import MOST_LETTERS, Plain, read_hash, told
from discwright.works.event import Event as Event
from discwright.works.run_events import OF_THE_DOCK, RUN_EVENTS


@dataclass(frozen=True, kw_only=True)
class TitleTakenIn(Event):
    """The house takes a title in: who made it, its editions and sides, the limits it is made under."""

    kind: ClassVar[str] = "title_taken_in"
    words: ClassVar[str] = "title taken in"
    recordable: ClassVar[bool] = False
    name: str = told("name of the title", "")
    people: tuple[str, ...] = told("who made it", ())
    editions: tuple[Plain, ...] = told("id, format, quantity, due and side letters of each edition", ())
    limits: Plain | None = told("limits of the works that hold for it", None)
    file_sha256: str = told("hash of the title file", "")


@dataclass(frozen=True, kw_only=True)
class PlanKept(Event):
    """A plan is the one to cut a side from."""

    kind: ClassVar[str] = "plan_kept"
    words: ClassVar[str] = "plan kept"
    recordable: ClassVar[bool] = False
    edition: str = told("edition of the title", "")
    side: str = told("letter of the side")
    fingerprint: str = told("fingerprint of the plan")
    spiral_sha256: str = told("hash of its spiral", "")
    programme_sha256: str = told("hash of its programme")
    format: str = told("format of the disc", "")
    level_db: float | None = told("level of the side", None)


@dataclass(frozen=True, kw_only=True)
class TestCutMeasured(Event):
    """A test cut was measured before the lacquer."""

    __test__: ClassVar[bool] = False
    kind: ClassVar[str] = "test_cut_measured"
    words: ClassVar[str] = "test cut measured"
    width_um: float = told("width of the groove", units={"um": 1.0, "µm": 1.0, "mm": 1e3, "mil": 25.4})


@dataclass(frozen=True, kw_only=True)
class LacquerCut(Event):
    """A side was cut into a lacquer; the lacquer is a part from here on."""

    kind: ClassVar[str] = "lacquer_cut"
    words: ClassVar[str] = "lacquer cut"
    recordable: ClassVar[bool] = False
    edition: str = told("edition of the title", "")
    side: str = told("letter of the side")
    fingerprint: str = told("fingerprint of the plan it was cut from")
    programme_sha256: str = told("hash of the programme that was cut")
    lacquer_batch: str = told("batch of the lacquer")
    tip: str = told("number of the cutting tip", "")
    tip_hours: float | None = told("hours on the cutting tip after the cut", None)
    blank_mm: float | None = told("diameter of the blank", None)
    heat_a: float | None = told("current of the tip's heater", None)
    operator: str = told("who cut it", "")
    mark: str = told("run-out marks scribed into it", "")


@dataclass(frozen=True, kw_only=True)
class Checked(Event):
    """The groove was looked at under the microscope."""

    kind: ClassVar[str] = "checked_under_the_microscope"
    words: ClassVar[str] = "checked under the microscope"
    width_um: float | None = told("width of the groove", None, {"um": 1.0, "µm": 1.0, "mm": 1e3, "mil": 25.4})
    marks_read: str = told("run-out marks as they were read", "")
    defects: tuple[Plain, ...] = told("faults seen, at the angles that read on this very part", (), read=read_faults)


@dataclass(frozen=True, kw_only=True)
class HandedOver(Event):
    """A part went from one station to the next."""

    kind: ClassVar[str] = "handed_over"
    words: ClassVar[str] = "handed over"
    to: str = told("to whom or where", "")


@dataclass(frozen=True, kw_only=True)
class Silvered(Event):
    """A lacquer was made conductive."""

    kind: ClassVar[str] = "silvered"
    words: ClassVar[str] = "silvered"
    film_um: float | None = told("thickness of the film", None, {"um": 1.0, "µm": 1.0, "nm": 1e-3})


@dataclass(frozen=True, kw_only=True)
class Plated(Event):
    """Metal was grown. With `parent` it is the birth of a part, without it one more run of a part in the bath."""

    kind: ClassVar[str] = "plated"
    words: ClassVar[str] = "plated"
    parent: str = told("number of the part it was grown on", "")
    part_kind: str = told("kind of the part that was grown", "")
    mark: str = told("run-out marks stamped or scribed into the new part", "")
    metal: str = told("metal of the bath", "")
    tank: str = told("tank it ran in", "")
    ampere_hours: float | None = told("charge", None, {"Ah": 1.0})
    minutes: float | None = told("time in the bath", None)


@dataclass(frozen=True, kw_only=True)
class Separated(Event):
    """A part was parted from the one it was grown on."""

    kind: ClassVar[str] = "separated"
    words: ClassVar[str] = "separated"


@dataclass(frozen=True, kw_only=True)
class Passivated(Event):
    """The film that lets the next part come off."""

    kind: ClassVar[str] = "passivated"
    words: ClassVar[str] = "passivated"


@dataclass(frozen=True, kw_only=True)
class Weighed(Event):
    """A part on the scales."""

    kind: ClassVar[str] = "weighed"
    words: ClassVar[str] = "weighed"
    mass_g: float = told("mass", units={"g": 1.0, "kg": 1e3, "oz": 28.349523125})


@dataclass(frozen=True, kw_only=True)
class Measured(Event):
    """The thickness of a part."""

    kind: ClassVar[str] = "measured"
    words: ClassVar[str] = "measured"
    thickness_um: float = told("thickness", units={"um": 1.0, "µm": 1.0, "mm": 1e3, "mil": 25.4, "in": 25400.0})
    where: str = told("where on the part: rim, middle, mean", "")
    marks_read: str = told("run-out marks as they were read", "")


@dataclass(frozen=True, kw_only=True)
class BackSanded(Event):
    """The back of a stamper was sanded smooth."""

    kind: ClassVar[str] = "back_sanded"
    words: ClassVar[str] = "back sanded"


@dataclass(frozen=True, kw_only=True)
class Centred(Event):
    """The hole was centred on the locked groove."""

    kind: ClassVar[str] = "centred"
    words: ClassVar[str] = "centred"
    run_out_um: float | None = told("total indicated run-out", None, {"um": 1.0, "µm": 1.0, "mm": 1e3, "in": 25400.0})


@dataclass(frozen=True, kw_only=True)
class Trimmed(Event):
    """The rim was trimmed."""

    kind: ClassVar[str] = "trimmed"
    words: ClassVar[str] = "trimmed"
    diameter_mm: float | None = told("diameter", None, {"mm": 1.0, "cm": 10.0, "in": 25.4})


@dataclass(frozen=True, kw_only=True)
class Formed(Event):
    """Centre and rim were formed to the die."""

    kind: ClassVar[str] = "formed"
    words: ClassVar[str] = "formed"


@dataclass(frozen=True, kw_only=True)
class TestPlayed(Event):
    """A mother, or a test pressing of a stamper, was played against the programme."""

    __test__: ClassVar[bool] = False
    kind: ClassVar[str] = "test_played"
    words: ClassVar[str] = "test played"
    count: int | None = told("how many faults were heard", None)
    marks_read: str = told("run-out marks as they were read", "")
    defects: tuple[Plain, ...] = told("faults heard, at the angles of the disc that was played", (), read=read_faults)
    verdict: str = told("what the play ended with: pass or stop", "", read=read_verdict)
    pressing: str = told("which pressing of the stamper was played", "")
    to_turn: float | None = told("turn at which the play ended, where that was before the last", None)
    capture_sha256: str = told("hash of the capture; empty for a play by ear", "", read=read_hash)
    report: str = told("where the report of the play is kept", "")


@dataclass(frozen=True, kw_only=True)
class Approved(Event):
    """A part is good, and with it what it was grown from."""

    kind: ClassVar[str] = "approved"
    words: ClassVar[str] = "approved"


@dataclass(frozen=True, kw_only=True)
class Refused(Event):
    """A part is not good, and neither is what was grown from it."""

    kind: ClassVar[str] = "refused"
    words: ClassVar[str] = "refused"


@dataclass(frozen=True, kw_only=True)
class PutToPress(Event):
    """A negative went into a press."""

    kind: ClassVar[str] = "put_to_press"
    words: ClassVar[str] = "put to press"
    press: str = told("which press", "")


@dataclass(frozen=True, kw_only=True)
class TakenOff(Event):
    """It came out again, after so many pressings."""

    kind: ClassVar[str] = "taken_off"
    words: ClassVar[str] = "taken off"
    count: int = told("pressings made with it since it was put to press")


@dataclass(frozen=True, kw_only=True)
class Vaulted(Event):
    """A part went into the vault."""

    kind: ClassVar[str] = "vaulted"
    words: ClassVar[str] = "vaulted"
    place: str = told("shelf or box", "")


@dataclass(frozen=True, kw_only=True)
class Scrapped(Event):
    """A part is no more."""

    kind: ClassVar[str] = "scrapped"
    words: ClassVar[str] = "scrapped"


@dataclass(frozen=True, kw_only=True)
class Recalled(Event):
    """A part must not be used further, nor what was grown from it, until somebody approves it."""

    kind: ClassVar[str] = "recalled"
    words: ClassVar[str] = "recalled"


@dataclass(frozen=True, kw_only=True)
class Corrected(Event):
    """A line was wrong: it counts as if it had never been, or as if it had said `instead`."""

    kind: ClassVar[str] = "corrected"
    words: ClassVar[str] = "corrected"
    recordable: ClassVar[bool] = False
    seq: int = told("number of the line that was wrong")
    instead: Plain | None = told("what it should have said; nothing if it never happened", None)


_ALL: tuple[type[Event], ...] = (
    TitleTakenIn, PlanKept, TestCutMeasured, LacquerCut, Checked, HandedOver, Silvered, Plated, Separated, Passivated,
    Weighed, Measured, BackSanded, Centred, Trimmed, Formed, TestPlayed, Approved, Refused, PutToPress, TakenOff,
    Vaulted, Scrapped, Recalled, *RUN_EVENTS, Corrected,
)  # fmt: skip
#: Every event by its name, in the order of a title's life.
EVENTS: dict[str, type[Event]] = {one.kind: one for one in _ALL}
#: Events of a title or a side; all others are of a part.
OF_A_TITLE = ("title_taken_in", "plan_kept", "test_cut_measured", *OF_THE_DOCK)
#: Least and greatest of what is counted or measured, for all fields of a number: nothing here is negative.
_MOST_NUMBER = 1e9


def data_of(event: Event) -> dict[str, Any]:
    """An event as plain JSON values; what is at its default is left out.

    Parameters
    ----------
    event : Event
    """
    plain: dict[str, Any] = {}
    for one in fields(event):
        value = getattr(event, one.name)
        if value != one.default or one.default is MISSING:
            plain[one.name] = list(value) if isinstance(value, tuple) else value
    return plain


def read_event(kind: str, data: Mapping[str, Any]) -> Event:
    """An event out of plain values.

    Parameters
    ----------
    kind : str
        A name in :data:`EVENTS`.
    data : mapping
        Its fields.

    Raises
    ------
    CallError
        If there is no such event, or a field is unknown, missing or not what it must be.
    """
    event = EVENTS.get(kind)
    if event is None:
        raise CallError(f"“{_short(kind)}” is no event of the ledger; `discwright works record --list` prints them.")
    known = {one.name: one for one in fields(event)}
    strange = sorted(set(data) - set(known))
    if strange:
        raise CallError(
            f"{event.words} takes no “{_short(strange[0])}”; it takes {', '.join(sorted(known)) or 'nothing'}."
        )
    values = {}
    for name, one in known.items():
        if name in data and data[name] is not None:
            read = one.metadata["read"]
            value = _value(event, name, str(one.type), data[name])
            values[name] = value if read is None else read(value, f"{event.words}, “{name}”")
        elif one.default is MISSING:
            unit = f" with its unit ({', '.join(one.metadata['units'])})" if one.metadata["units"] else ""
            raise CallError(f"{event.words} needs the {one.metadata['words']} ({name}); give it{unit}.")
    return event(**values)


def _value(event: type[Event], name: str, kind: str, value: Any) -> Any:
    """One value checked against the type its field was declared with."""
    what = f"{event.words}, “{name}”"
    if kind.startswith("str"):
        if not isinstance(value, str) or len(value) > MOST_LETTERS or "\0" in value:
            raise CallError(f"{what}: is no text of at most {MOST_LETTERS} letters; write a shorter one.")
        return " ".join(value.split())
    if kind.startswith(("int", "float")):
        whole = kind.startswith("int")
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise CallError(f"{what}: is no number; write one.")
        if not 0 <= value <= _MOST_NUMBER or (whole and value != int(value)):
            raise CallError(f"{what}: {value:g} cannot be; write a {'whole number' if whole else 'number'} from 0 up.")
        return int(value) if whole else float(value)
    if kind.startswith("tuple"):
        if not isinstance(value, list | tuple):
            raise CallError(f"{what}: is no list; write one.")
        return tuple(value)
    if not isinstance(value, Mapping):
        raise CallError(f"{what}: is no table of names and values; write one.")
    return dict(value)


def _short(text: str) -> str:
    return "".join(letter if letter.isprintable() else "?" for letter in str(text)[:40])
