"""When each place of a groove passes under the tip: arm and cartridge lean along it, the disc turns unevenly."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from discwright.groove.equipment import Player
from discwright.groove.passage import TURNING, Passage
from discwright.groove.player import off_centre_place, tracking_error, vertical_lag, warp_place
from discwright.groove.tracing import EVERY, Curve, Reading

Float = NDArray[np.float64]

#: No groove swings further than this, m: a bound for how far ahead an angle can reach.
_FURTHEST = 2e-3


class Places:
    """Angles and uneven turning: every place of the groove passes under the tip a little earlier or later.

    A tip that moves sideways by x touches the groove further along by x·tan(tracking error): y = A sin(k(s + y·tan
    phi)) (Lofgren 1938, Baerwald 1941); one that moves up by z touches it back by z·(tan(playing angle) - tan(cut
    angle)).

    Parameters
    ----------
    passage : Passage
    player : Player
    effects : tuple of str
        Of these tracking, vertical, off_centre and warp are heeded.
    rate : int, Hz
        Of the walls.

    Raises
    ------
    CallError
        If the arm does not reach the radius.
    """

    def __init__(self, passage: Passage, player: Player, effects: tuple[str, ...], rate: int) -> None:
        self._passage, self._player, self._effects, self._rate = passage, player, effects, rate
        self._turns = any(effect in effects for effect in TURNING)
        lean = abs(self._lift_lag) + float(np.abs(np.tan(self._error(self._time_span()))).max())
        turning = float(np.abs(self._turning(self._time_span())).max())
        self.reach = math.ceil(lean * _FURTHEST / passage.least_way(rate) + 1.05 * turning * rate) + 8
        self._curves = [Curve(self.reach) for _ in range(2)]
        self._readings = [Reading(self.reach) for _ in range(2)]

    def _time_span(self) -> Float:
        start, end = self._passage.start, self._passage.end
        return np.linspace(start, end, max(2, math.ceil((end - start) / 0.01)))

    @property
    def _lift_lag(self) -> float:
        player = self._player
        return vertical_lag(player.playing_angle, player.cut_angle) if "vertical" in self._effects else 0.0

    def _error(self, time: Float) -> Float:
        if "tracking" not in self._effects:
            return np.zeros(len(time))
        player = self._player
        return tracking_error(self._passage.radius_at(time), player.arm_length, player.overhang, player.offset)

    def _turning(self, time: Float) -> Float:
        """How much later a place passes because the disc does not turn truly, s."""
        player, disc = self._player, self._passage.disc
        radius = self._passage.radius_at(time)
        late = np.zeros(len(time))
        if "off_centre" in self._effects:
            late += off_centre_place(time, radius, player.off_centre, disc.turn_time) - time
        if "warp" in self._effects:
            late += (
                warp_place(
                    time, radius, disc.disc_diameter / 2, player.warp_height, player.warp_waves,
                    player.pivot_height, player.arm_length, disc.turn_time,
                )
                - time
            )  # fmt: skip
        return late

    def push(self, left: Float, right: Float, pool: ThreadPoolExecutor) -> tuple[Float, Float]:
        """Read on.

        Parameters
        ----------
        left, right : ndarray, shape (n,), m
            Traced walls.
        pool : ThreadPoolExecutor

        Returns
        -------
        left, right : ndarray, shape (m,), m
            As they pass under the tip, from the first sample on, as far as that is settled.
        """
        (first, l_value, l_slope), (_, r_value, r_slope) = (
            curve.push(wall) for curve, wall in zip(self._curves, (left, right), strict=True)
        )
        n = len(l_value)
        steps = -(-n // EVERY)
        at = self._passage.start + (first + EVERY * np.arange(steps + 1)) / self._rate
        way = self._passage.way(at, self._rate)
        sideways, up = np.tan(self._error(at)), -self._lift_lag
        # Lateral (left + right)/sqrt 2 and lift (left - right)/sqrt 2 from the walls' displacements.
        to_left, to_right = ((lean / (math.sqrt(2.0) * way))[:-1] for lean in (sideways + up, sideways - up))
        lag, flow = pool.map(
            lambda left, right: _weighed(to_left, left) + _weighed(to_right, right),
            (l_value, l_slope), (r_value, r_slope),
        )  # fmt: skip
        place, stretch = np.arange(n) - lag, 1.0 - flow
        if self._turns:
            late = self._turning(at) * self._rate
            place += _in_steps(n, late[:-1], np.diff(late) / EVERY)
            stretch += _in_steps(n, np.diff(late) / EVERY, np.zeros(steps))
        read = pool.map(
            lambda reading, value, slope: reading.push(first, place, value, slope / stretch),
            self._readings, (l_value, r_value), (l_slope, r_slope),
        )  # fmt: skip
        one, other = read
        return one, other


def _in_steps(n: int, begin: Float, climb: Float) -> Float:
    """n samples of a line in steps of EVERY: where each step begins, and how it climbs from sample to sample."""
    lines = begin[:, None] + climb[:, None] * np.arange(EVERY)
    result: Float = lines.reshape(-1)[:n]
    return result


def _weighed(weight: Float, signal: Float) -> Float:
    """A signal times one weight for each EVERY samples of it."""
    out = np.empty(len(weight) * EVERY)
    whole = len(signal) // EVERY * EVERY
    steps = len(signal) // EVERY
    np.multiply(signal[:whole].reshape(steps, EVERY), weight[:steps, None], out=out[:whole].reshape(steps, EVERY))
    if whole < len(signal):
        out[whole : len(signal)] = signal[whole:] * weight[steps]
    return out[: len(signal)]
