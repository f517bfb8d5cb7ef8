"""Test plays of a side as the ledger has them, and faults that somebody heard or saw and enters by hand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from discwright.acts.works import Hand
from discwright.errors import CallError
from discwright.faults import KINDS
from discwright.files.settings import shipped
from discwright.groove.equipment import DiscFormat
from discwright.inspection.spots import Play, fault_from
from discwright.units import number, seconds
from discwright.works import events as e
from discwright.works.chain import Line
from discwright.works.family import Family, Part
from discwright.works.parts import MASTER
from discwright.works.store.ledger import Ledger, Outcome

_TURN_DEG = 360.0


def stamp(line_at: str, seq: int) -> str:
    """When something was, as a text that sorts by time, and by the line's number where the time is the same.

    Parameters
    ----------
    line_at : str
    seq : int
    """
    return f"{line_at}#{seq:012d}"


@dataclass(frozen=True)
class SidePlays:
    """What was heard and seen of one side.

    Attributes
    ----------
    plays : tuple of Play
        Each named by the number of its line.
    placeless : int
        Plays that heard faults and did not say where: they tell nothing here.
    """

    plays: tuple[Play, ...]
    placeless: int


def plays_of(lines: Iterable[Line], parts: Iterable[Part]) -> SidePlays:
    """The test plays of a side, and the faults that were seen on its parts.

    Parameters
    ----------
    lines : iterable of Line
        Of its title, as they count.
    parts : iterable of Part
        Of the side.
    """
    by_id = {one.id: one for one in parts}
    found: list[Play] = []
    placeless = 0
    for line in lines:
        if line.part not in by_id or line.kind not in (e.TestPlayed.kind, e.Checked.kind):
            continue
        try:
            event = line.event
        except CallError:  # a line that says nothing the events know
            continue
        play = _heard(line, event) if isinstance(event, e.TestPlayed) else _seen(line, event, by_id[line.part])
        if play is not None:
            found.append(play)
        placeless += play is None and isinstance(event, e.TestPlayed) and bool(event.count)
    return SidePlays(tuple(found), placeless)


def _heard(line: Line, event: e.TestPlayed) -> Play | None:
    """A play; what was played is a positive, a mother or a pressing. None where it says nothing of places."""
    if not event.defects and not event.capture_sha256 and event.count != 0:
        return None
    return Play(
        str(line.seq), line.part, tuple(fault_from(one) for one in event.defects), event.pressing,
        stamp(line.at, line.seq), by_ear=not event.capture_sha256,
        whole=event.count is None or event.count <= len(event.defects), to_turn=event.to_turn,
    )  # fmt: skip


def _seen(line: Line, event: e.Event, part: Part) -> Play | None:
    """A look under the microscope, at the angles of the part's own face; it tells nothing of any other place."""
    assert isinstance(event, e.Checked)
    if not event.defects:
        return None
    faults = tuple(fault_from(one, part.sign) for one in event.defects)
    return Play(str(line.seq), line.part, faults, "", stamp(line.at, line.seq), whole=False)


# By hand -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class HeardFault:
    """A fault as somebody tells of it.

    Attributes
    ----------
    kind : str
        One of :data:`discwright.faults.KINDS`.
    place : str
        Its turn (``312``), or the programme time with a colon (``9:21.4``).
    angle : str
        Within the turn, degrees.
    audible : bool
    """

    kind: str
    place: str
    angle: str
    audible: bool = True


def fault_text(text: str) -> HeardFault:
    """A fault out of one line of text.

    Parameters
    ----------
    text : str
        Kind, turn or time, angle: ``tick 312 41.5`` or ``tick 9:21.4 41.5``.

    Raises
    ------
    CallError
        If it is no such line.
    """
    words = text.split()
    if len(words) != 3:
        raise CallError(f"“{text[:40]}” is no fault; write kind, turn or time, and angle: tick 312 41.5.")
    return HeardFault(words[0], words[1], words[2])


def speed_of(family: Family, edition: str) -> float:
    """Speed of an edition's discs, rpm; 33⅓ where its format is not known here.

    Parameters
    ----------
    family : Family
    edition : str
    """
    return disc_of(family, edition).revolutions_per_second * 60.0


def disc_of(family: Family, edition: str) -> DiscFormat:
    """Format of an edition's discs; the twelve-inch at 33⅓ where its own is not known here.

    Parameters
    ----------
    family : Family
    edition : str
    """
    formats = shipped(DiscFormat)
    named = next((str(one.get("format")) for one in family.editions if one.get("id") == edition), "")
    return formats.get(named) or next(iter(formats.values()))


def placed(one: HeardFault, speed_rpm: float) -> dict[str, Any]:
    """A fault as the ledger has it.

    Parameters
    ----------
    one : HeardFault
    speed_rpm : float
        Of the disc. A time says which turn it is, an angle where in it; a time by a watch is good enough if it is good
        to half a turn.

    Raises
    ------
    CallError
        If kind, place or angle cannot be.
    """
    if one.kind not in KINDS:
        raise CallError(f"“{one.kind[:40]}” is no kind of fault; write {', '.join(KINDS)}.")
    angle = number(one.angle, "angle") if one.angle.strip() else None
    if angle is None or not -_TURN_DEG <= angle <= _TURN_DEG:
        raise CallError(f"a {one.kind} needs its angle, from 0 to 360 degrees; read it off the disc.")
    said: dict[str, Any] = {"kind": one.kind}
    if ":" in one.place:
        time = seconds(one.place, "time")
        said |= {"turn": round(time * speed_rpm / 60.0 - angle % _TURN_DEG / _TURN_DEG), "time_s": time}
    else:
        turn = number(one.place, "turn")
        if turn != int(turn):
            raise CallError(f"turn {one.place} is no whole turn; its angle says where in the turn it lies.")
        said["turn"] = int(turn)
    return said | {"angle_deg": angle, "audible": one.audible}


def hear(
    ledger: Ledger, part: Part, family: Family, faults: Sequence[HeardFault], hand: Hand, *, seen: bool = False,
    pressing: str = "", note: str = "", to_turn: float | None = None,
) -> Outcome:  # fmt: skip
    """Write down what somebody heard in one play, or saw on a part under the microscope.

    Parameters
    ----------
    ledger : Ledger
    part : Part
        A mother that was played, or the stamper of a pressing; any part that was looked at.
    family : Family
        Its title.
    faults : sequence of HeardFault
        All of the play; none where nothing was heard.
    hand : Hand
    seen : bool
        They were seen on the part itself, at the angles that read on its own face.
    pressing : str
        Which pressing was played.
    note : str
    to_turn : float, optional
        Where the play ended, if that was before the last turn.

    Raises
    ------
    CallError
        If the part cannot be played, or a fault cannot be.
    """
    speed = speed_of(family, part.edition)
    if seen:
        if not faults:
            raise CallError(f"{part.id}: nothing was seen on it, so there is no place to write down; leave it.")
        told = tuple(_on_face(one, part, speed) for one in faults)
        return ledger.append(hand.order(e.read_event(e.Checked.kind, {"defects": told, "note": note}), part=part.id))
    if part.kind == MASTER:
        raise CallError(f"{part.id} is a master and no disc to play; enter what was seen on it, or play a mother.")
    told = tuple(placed(one, speed) for one in faults)
    said = {"count": None if told else 0, "defects": told, "pressing": pressing, "note": note, "to_turn": to_turn}
    return ledger.append(hand.order(e.read_event(e.TestPlayed.kind, said), part=part.id))


def _on_face(one: HeardFault, part: Part, speed_rpm: float) -> dict[str, Any]:
    """A fault seen on a part, its angle as it reads there; of a time, the turn is that of the disc as it is played."""
    said = placed(one, speed_rpm)
    if "time_s" in said:
        disc = fault_from(said | {"turn": 0}, part.sign)
        said["turn"] = round(said["time_s"] * speed_rpm / 60.0 - disc.angle_deg / _TURN_DEG)
    del said["audible"]  # nobody heard it
    return said
