"""What comes of a test play: kept in the ledger with its faults, judged, and laid over other plays of the same side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from discwright.acts.works import Hand
from discwright.acts.works_plays import disc_of, plays_of
from discwright.acts.works_record import Said, record
from discwright.errors import CallError
from discwright.faults import MOST_FAULTS
from discwright.files.guilt_settings import load_guilt
from discwright.groove.equipment import DiscFormat
from discwright.inspection.spots import Play, Spot, find_spots, window_at
from discwright.works import events as e
from discwright.works.chain import Line
from discwright.works.family import Family, Part
from discwright.works.history import corrected
from discwright.works.parts import MASTER, STAMPER
from discwright.works.store.ledger import Ledger, Outcome

#: What the ledger takes of a fault.
_TOLD = ("kind", "turn", "angle_deg", "time_s", "radius_mm", "duration_s", "channel", "size_db", "audible")
#: Finding of a capture that breaks off before the side does: what lies behind was not heard.
ENDS_EARLY = "ends_early"
#: Plays that are laid over one another at once.
MOST_PLAYS = 6


def faults_of(report: Mapping[str, Any]) -> tuple[dict[str, Any], ...]:
    """The faults of a report as the ledger takes them.

    Parameters
    ----------
    report : mapping
        As `inspect --json` prints it.

    Returns
    -------
    tuple of dict
        In the order of the groove; of more than a line can hold, those that are heard and then the largest.
    """
    found = [{name: one[name] for name in _TOLD if one.get(name) is not None} for one in report["defects"]]
    weight = sorted(
        range(len(found)),
        key=lambda k: (found[k].get("audible") is not True, -float(found[k].get("size_db") or 0.0), k),
    )
    return tuple(found[k] for k in sorted(weight[:MOST_FAULTS]))


def keep_play(
    ledger: Ledger, part: Part, report: Mapping[str, Any], hand: Hand, *, pressing: str = "", kept_as: str = "",
    note: str = "",
) -> Outcome:  # fmt: skip
    """Write a play against the programme into the ledger.

    Parameters
    ----------
    ledger : Ledger
    part : Part
        A lacquer or a mother, or the stamper of the pressing that was played.
    report : mapping
        As `inspect --json` prints it.
    hand : Hand
    pressing : str
        Which pressing was played.
    kept_as : str
        Where the report is kept.
    note : str

    Raises
    ------
    CallError
        If the part is a master, or the report says of a fault what cannot be.
    """
    if part.kind == MASTER:
        raise CallError(f"{part.id} is a master and no disc to play; play one of its mothers.")
    faults = faults_of(report)
    more: dict[str, Any] = {"defects": faults, "verdict": str(report["verdict"]), "report": kept_as}
    capture = report.get("capture")
    if isinstance(capture, Mapping) and capture.get("sha256"):
        more["capture_sha256"] = str(capture["sha256"])
    if part.kind == STAMPER and pressing:
        more["pressing"] = pressing
    ends = next((one for one in report.get("findings", ()) if one.get("code") == ENDS_EARLY), None)
    if ends is not None and isinstance(ends.get("turn"), int | float) and ends["turn"] > 0:
        more["to_turn"] = round(float(ends["turn"]), 3)
    count = len(report["defects"]) if len(report["defects"]) > len(faults) else None
    return record(ledger, part.id, e.TestPlayed.kind, Said(count=count, note=note, more=more), hand)


def judge(ledger: Ledger, part: Part, approve: bool, reason: str, hand: Hand, *, heard: str = "") -> Outcome:
    """Approve a part that was played, or refuse it.

    Parameters
    ----------
    ledger : Ledger
    part : Part
    approve : bool
    reason : str
        Why; may be left out only where a play that passed is approved.
    hand : Hand
    heard : str
        Verdict of the play: ``"pass"``, ``"stop"`` or nothing.

    Raises
    ------
    CallError
        If a reason is needed and none is given.
    """
    if not reason.strip() and not (approve and heard == "pass"):
        what = "refused" if not approve else "approved against its play" if heard == "stop" else "approved"
        raise CallError(f"{part.id} cannot be {what} without a reason; say why.")
    kind = e.Approved.kind if approve else e.Refused.kind
    return record(ledger, part.id, kind, Said(note=reason.strip()), hand)


# Several plays -----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class LaidPlay:
    """One of several plays that are laid over one another.

    Attributes
    ----------
    line : Line
        Where it was kept.
    part : Part
    play : Play
    """

    line: Line
    part: Part
    play: Play


@dataclass(frozen=True)
class LaidOver:
    """Plays of one side, one over the other.

    Attributes
    ----------
    family : Family
    edition, side : str
    disc : DiscFormat
    plays : tuple of LaidPlay
        In the order of their lines.
    spots : tuple of Spot
        What they found, along the groove; what lies at the same place is one spot.
    window_deg : float
        How far apart two plays may place one fault.
    """

    family: Family
    edition: str
    side: str
    disc: DiscFormat
    plays: tuple[LaidPlay, ...]
    spots: tuple[Spot, ...]
    window_deg: float

    @property
    def shared(self) -> int:
        """Spots that more than one play found."""
        return sum(len(one.marks) > 1 for one in self.spots)


def kept_plays(ledger: Ledger, family: Family, edition: str, side: str) -> tuple[LaidPlay, ...]:
    """The plays of a side that stand in the ledger and say where their faults lie, oldest first.

    Parameters
    ----------
    ledger : Ledger
    family : Family
    edition, side : str
    """
    parts = {one.id: one for one in family.parts.values() if (one.edition, one.side) == (edition, side)}
    lines = {str(line.seq): line for line in corrected(list(ledger.lines(title=family.title)))}
    heard = [one for one in plays_of(lines.values(), parts.values()).plays if one.id in lines]
    return tuple(
        LaidPlay(lines[one.id], parts[one.part], one) for one in heard if lines[one.id].kind == e.TestPlayed.kind
    )


def lay_over(ledger: Ledger, seqs: Sequence[int]) -> LaidOver:
    """Lay plays of one side over one another, and find which faults they share.

    Parameters
    ----------
    ledger : Ledger
    seqs : sequence of int
        Numbers of their lines; two to six.

    Raises
    ------
    CallError
        If they are too few or too many, one is no play that says where its faults lie, or they are of several sides.
    """
    wanted = sorted(set(seqs))
    if not 2 <= len(wanted) <= MOST_PLAYS:
        raise CallError(f"from two to {MOST_PLAYS} plays are laid over one another; choose so many.")
    first = ledger.line(wanted[0])
    if first is None or not first.part:
        raise CallError(f"line {wanted[0]} is no test play; choose plays of the list.")
    family = ledger.family_of(first.part)
    of = family.parts[first.part]
    there = {one.line.seq: one for one in kept_plays(ledger, family, of.edition, of.side)}
    missing = [seq for seq in wanted if seq not in there]
    if missing:
        raise CallError(
            f"line {missing[0]} is no test play of side {of.side} that says where its faults lie; choose plays of one "
            "side."
        )
    chosen = tuple(there[seq] for seq in wanted)
    disc, by = disc_of(family, of.edition), load_guilt()
    window = window_at(disc.revolutions_per_second * 60.0, by.window_deg, by.window_ms * 1e-3)
    spots = find_spots([one.play for one in chosen], window)
    return LaidOver(family, of.edition, of.side, disc, chosen, spots, window)
