"""A tape edition: copies at several times playing speed, run backwards, both directions in one pass.

The running tape, from which the copies are made, is played tail first, and so every copy is recorded tail first: when
the pass ends, the copy stands at its head and nothing need be rewound. Four tracks go over in one pass: those of the
first side backwards, those of the second, which lie the other way round on the tape, forwards. Lengths in m, times in
s, speeds in m/s, frequencies in Hz.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from discwright.errors import CallError

RATIOS = (1.0, 128.0)
SPEEDS = (0.01, 2.0)
SLAVES_MOST = 1000
_SECONDS_MOST = 24 * 3600.0


@dataclass(frozen=True)
class Copying:
    """How tapes are copied.

    Attributes
    ----------
    speed : float, m/s
        At which a copy is played.
    ratio : float
        Times playing speed at which it is made.
    slaves : int
        Machines that record at once.
    reload : float, s
        Between two passes: taking off, laying in, threading.
    """

    speed: float
    ratio: float
    slaves: int
    reload: float

    def __post_init__(self) -> None:
        if not SPEEDS[0] <= self.speed <= SPEEDS[1]:
            raise CallError(f"a tape speed of {self.speed * 100:g} cm/s is none; give from 1 to 200 cm/s.")
        if not RATIOS[0] <= self.ratio <= RATIOS[1]:
            raise CallError(f"copying at {self.ratio:g} times playing speed is none; give from 1 to {RATIOS[1]:g}.")
        if not 1 <= self.slaves <= SLAVES_MOST:
            raise CallError(f"{self.slaves} slaves copy nothing; give from 1 to {SLAVES_MOST}.")
        if not 0.0 <= self.reload <= _SECONDS_MOST:
            raise CallError(f"a reload of {self.reload / 60:g} minutes is none; give from 0 to a day.")

    @property
    def slave_speed(self) -> float:
        """Speed of the tape while it is copied, m/s."""
        return self.speed * self.ratio

    def pass_seconds(self, programme: float) -> float:
        """How long a pass takes.

        Parameters
        ----------
        programme : float, s
            The longer side: both go over at once.
        """
        return programme / self.ratio

    def length(self, programme: float) -> float:
        """Tape that a copy needs, m: that of its longer side.

        Parameters
        ----------
        programme : float, s
        """
        return self.speed * programme

    def per_hour(self, programme: float) -> float:
        """Copies in an hour, with all slaves.

        Parameters
        ----------
        programme : float, s
        """
        return self.slaves * 3600.0 / (self.pass_seconds(programme) + self.reload)

    def passes(self, copies: int) -> int:
        """How many passes so many copies take.

        Parameters
        ----------
        copies : int
        """
        return -(-copies // self.slaves)

    def seconds(self, copies: int, programme: float) -> float:
        """How long all of them take.

        Parameters
        ----------
        copies : int
        programme : float, s
        """
        return self.passes(copies) * (self.pass_seconds(programme) + self.reload)

    def at_the_heads(self, frequency: float) -> float:
        """What a frequency of the programme is while it is copied, Hz.

        Parameters
        ----------
        frequency : float, Hz
        """
        return frequency * self.ratio

    def time_constant(self, seconds: float) -> float:
        """What a time constant of the tape's equalisation must be while it is copied, s.

        Parameters
        ----------
        seconds : float
        """
        return seconds / self.ratio


@dataclass(frozen=True)
class TapeBand:
    """One band of a side.

    Attributes
    ----------
    id : str
    seconds : float
    gap : float, s
        Silence after it, where another follows.
    """

    id: str
    seconds: float
    gap: float = 0.0


@dataclass(frozen=True)
class Passing:
    """When a band goes over the heads.

    Attributes
    ----------
    band : str
    side : int
        0 for the first, 1 for the second.
    start, end : float, s
        From the begin of the pass.
    backwards : bool
        Whether it is heard backwards.
    """

    band: str
    side: int
    start: float
    end: float
    backwards: bool


def side_seconds(bands: Sequence[TapeBand]) -> float:
    """Length of a side with its gaps; the last band's gap is none.

    Parameters
    ----------
    bands : sequence of TapeBand
    """
    return sum(one.seconds for one in bands) + sum(one.gap for one in bands[:-1])


def halves(bands: Sequence[TapeBand]) -> tuple[tuple[TapeBand, ...], ...]:
    """The bands in their order on two sides, the longer of them as short as can be.

    Parameters
    ----------
    bands : sequence of TapeBand

    Returns
    -------
    tuple of tuple of TapeBand
        One side where there is one band.

    Raises
    ------
    CallError
        If there is no band.
    """
    if not bands:
        raise CallError("a tape without bands holds nothing; give it at least one.")
    if len(bands) == 1:
        return (tuple(bands),)
    at = min(range(1, len(bands)), key=lambda k: max(side_seconds(bands[:k]), side_seconds(bands[k:])))
    return tuple(bands[:at]), tuple(bands[at:])


def running_order(sides: Sequence[Sequence[TapeBand]], ratio: float) -> tuple[Passing, ...]:
    """When each band goes over the heads in a pass, in that order.

    Parameters
    ----------
    sides : sequence of sequence of TapeBand
        One or two.
    ratio : float

    Returns
    -------
    tuple of Passing
        A place x of the first side, counted from the tape's head, goes over at (T − x)/ratio, T being the longer side.
        The second side begins at the tail: its place x goes over at x/ratio.

    Raises
    ------
    CallError
        If a tape would have no side, or more than two.
    """
    if not 1 <= len(sides) <= 2:
        raise CallError(f"a tape of {len(sides)} sides is none; give one or two, and the rest to another tape.")
    whole = max(side_seconds(side) for side in sides)
    order = []
    for number, side in enumerate(sides):
        at = 0.0
        for band in side:
            first, last = at, at + band.seconds
            if number == 0:
                first, last = whole - last, whole - first
            order.append(Passing(band.id, number, first / ratio, last / ratio, number == 0))
            at += band.seconds + band.gap
    return tuple(sorted(order, key=lambda one: (one.start, one.side)))
