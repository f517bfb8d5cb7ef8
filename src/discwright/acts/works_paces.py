"""How long it takes at this works to make a part, by the ledger's own lines."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from statistics import median

from discwright.inspection.remaking import PLAY
from discwright.works.chain import Line
from discwright.works.parts import KINDS, MASTER, MOTHER, STAMPER

#: Lines that are looked through, the newest: as many as a works writes in some weeks.
MOST_LINES = 4000
_DAY_S = 86_400.0
#: The last of these ends the making of a stamper.
_FINISHING = ("back_sanded", "centred", "trimmed", "formed")


@dataclass(frozen=True)
class Pace:
    """How long one kind of part takes.

    Attributes
    ----------
    days : float
    measured : int
        Durations in the ledger of which this is the median; 0 where the house default counts.
    """

    days: float
    measured: int


def paces(lines: Iterable[Line], default: Mapping[str, float], enough: int) -> dict[str, Pace]:
    """What each kind of part takes, from when what it grows on is ready until it is ready itself; and a test play.

    Parameters
    ----------
    lines : iterable of Line
        Of any titles, in order, without what was undone.
    default : mapping of str to float
        Days of each kind, and of a play.
    enough : int
        From so many durations on, their median counts.

    Returns
    -------
    dict of str to Pace
        A lacquer's are the default: no line tells when one was asked for.
    """
    found: dict[str, list[float]] = {kind: [] for kind in (*KINDS, PLAY)}
    ready: dict[str, datetime] = {}  # when each part could be grown from
    begun: dict[str, tuple[str, datetime]] = {}  # parts in the making: kind, and when what they grow on was ready
    finished: dict[str, datetime] = {}  # stampers, with the last step of finishing
    unheard: dict[str, datetime] = {}  # mothers that came off and that nobody has heard, with when that was
    for line in lines:
        at = datetime.fromisoformat(line.at)
        kind, since = begun.get(line.part, ("", at))
        if line.kind in ("lacquer_cut", "passivated"):
            ready[line.part] = at
        elif line.kind == "plated" and line.data.get("parent") in ready:
            begun[line.part] = (str(line.data.get("part_kind")), ready[str(line.data["parent"])])
        elif line.kind == "separated" and kind in (MASTER, MOTHER):
            found[kind].append((at - since).total_seconds())
            del begun[line.part]
            if kind == MOTHER:
                unheard[line.part] = at
        elif line.kind in _FINISHING and kind == STAMPER:
            finished[line.part] = at
        elif line.kind == "test_played" and line.part in unheard:
            found[PLAY].append((at - unheard.pop(line.part)).total_seconds())
    found[STAMPER] = [(at - begun[part][1]).total_seconds() for part, at in finished.items()]
    return {kind: _pace(durations, default[kind], enough) for kind, durations in found.items()}


def _pace(durations_s: list[float], default: float, enough: int) -> Pace:
    if len(durations_s) < enough:
        return Pace(default, 0)
    return Pace(median(durations_s) / _DAY_S, len(durations_s))
