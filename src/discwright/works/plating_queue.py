"""Which part goes into which tank, and when: each in the order given, into the tank that is free first."""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass

from discwright.errors import CallError

TANKS_MOST, PARTS_MOST = 100, 10_000
_SECONDS_MOST = 366 * 24 * 3600.0


@dataclass(frozen=True)
class Place:
    """One part's time in a tank.

    Attributes
    ----------
    part : str
    tank : int
        Counted from 1.
    start, end : float, s
        From the begin of the queue.
    """

    part: str
    tank: int
    start: float
    end: float


@dataclass(frozen=True)
class Queue:
    """Parts in their tanks.

    Attributes
    ----------
    tanks : int
    turn_round : float, s
        From one part's end to the next one's begin in the same tank.
    places : tuple of Place
        In the order the parts were given.
    """

    tanks: int
    turn_round: float
    places: tuple[Place, ...]

    @property
    def seconds(self) -> float:
        """Until the last part is done."""
        return max(place.end for place in self.places)

    @property
    def tank_share(self) -> float:
        """Share of all tanks' time until then in which metal grows."""
        return sum(place.end - place.start for place in self.places) / (self.tanks * self.seconds)


def queue_parts(parts: Sequence[tuple[str, float]], tanks: int, turn_round: float) -> Queue:
    """Put parts into tanks by list scheduling.

    No order is tried but the one given. With m tanks and no turn-round the last part is done at most 2 − 1/m times as
    late as in the best order and placing (Graham 1966), 4/3 − 1/(3m) times with the longest first (Graham 1969).

    Parameters
    ----------
    parts : sequence of (str, float)
        Name, and seconds in the tank.
    tanks : int
    turn_round : float, s
        Taking out, cleaning and putting in; between two parts in a tank, neither before the first nor after the last.

    Returns
    -------
    Queue

    Raises
    ------
    CallError
    """
    if not 1 <= tanks <= TANKS_MOST:
        raise CallError(f"{tanks} tanks cannot be planned; give 1 to {TANKS_MOST}.")
    if not 1 <= len(parts) <= PARTS_MOST:
        raise CallError(f"{len(parts)} parts cannot be queued; give 1 to {PARTS_MOST}.")
    if not 0.0 <= turn_round <= _SECONDS_MOST:
        raise CallError(f"a turn-round of {turn_round / 60:g} minutes is none; give 0 or more, a year at most.")
    free = [(0.0, tank) for tank in range(1, tanks + 1)]
    places = []
    for part, seconds in parts:
        if not 0.0 < seconds <= _SECONDS_MOST:
            raise CallError(f"{part}: {seconds / 60:g} minutes in a tank is no time; give more than 0, a year at most.")
        start, tank = heapq.heappop(free)
        places.append(Place(part, tank, start, start + seconds))
        heapq.heappush(free, (start + seconds + turn_round, tank))
    return Queue(tanks, turn_round, tuple(places))
