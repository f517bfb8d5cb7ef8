"""What is played and with what: a stretch of a side in its groove, a playing tip, a player and its effects."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discwright.groove.equipment import DiscFormat, Player, PlayingTip

Float = NDArray[np.float64]

#: What a player does to the groove's signal besides the replay curve; each can be switched on or left out.
EFFECTS = ("high_pass", "tracking", "vertical", "scanning", "off_centre", "warp", "noise", "rumble")
#: On unless said otherwise: what every player does. The disc's faults and the machine's noise are for special asking.
USUAL_EFFECTS = ("tracking", "vertical", "scanning")
#: Effects that turn the disc unevenly.
TURNING = ("off_centre", "warp")
#: Effects that the programme goes through, too, before the two are compared: they are no distortion, and would hide it.
ALIKE = ("high_pass", *TURNING)
#: Heard before a passage begins, in periods of the subsonic corner, and after it ends, s, so that its edges sound as
#: they do in the whole side.
_LEAD_PERIODS, _TAIL = 6.0, 0.05


@dataclass(frozen=True)
class Passage:
    """A stretch of a side and where it lies in the groove.

    Attributes
    ----------
    sample_rate : int, Hz
    first, frames : int
        Of the side's programme.
    gain : float
        Amplitude ratio of the cut to 0 dB.
    corner : float, Hz
        Of the subsonic high-pass.
    disc : DiscFormat
    time, radius : ndarray, shape (N,), s and m
        The planned spiral; radius is linear between, and kept beyond the ends.
    """

    sample_rate: int
    first: int
    frames: int
    gain: float
    corner: float
    disc: DiscFormat
    time: Float
    radius: Float

    @property
    def lead(self) -> int:
        """Frames before the passage that must be heard with it, as far as the side has them."""
        return min(self.first, math.ceil(_LEAD_PERIODS / self.corner * self.sample_rate))

    @property
    def tail(self) -> int:
        """Frames after it that must be heard with it, as far as the side has them."""
        return math.ceil(_TAIL * self.sample_rate)

    def radius_at(self, time: Float) -> Float:
        """Radius at any time of the side, m."""
        result: Float = np.maximum(np.interp(time, self.time, self.radius), self.disc.locked_radius)
        return result

    def way(self, time: Float, rate: float) -> Float:
        """Way along the groove from sample to sample at a rate, Hz, at times of the side; m."""
        result: Float = self.radius_at(time) * (2 * np.pi / (self.disc.turn_time * rate))
        return result

    def least_way(self, rate: float) -> float:
        """The least of all such ways in the passage, m."""
        return 2 * math.pi * self.least_radius / (self.disc.turn_time * rate)

    @property
    def start(self) -> float:
        """When the hearing of it begins, lead included, s from the first sample of the side."""
        return (self.first - self.lead) / self.sample_rate

    @property
    def end(self) -> float:
        """When it ends, tail included, s."""
        return (self.first + self.frames + self.tail) / self.sample_rate

    @property
    def least_radius(self) -> float:
        """Least radius of the passage and what is heard around it, m."""
        inside = self.radius_at(self.time[(self.time > self.start) & (self.time < self.end)])
        return float(min(self.radius_at(np.array([self.start, self.end])).min(), inside.min(initial=np.inf)))


@dataclass(frozen=True)
class Hearing:
    """What a passage is played with.

    Attributes
    ----------
    tip : PlayingTip or None
        None for a tip that follows everything.
    player : Player or None
        None where no effect is on.
    effects : tuple of str
        Of `EFFECTS`.
    """

    tip: PlayingTip | None
    player: Player | None = None
    effects: tuple[str, ...] = ()
