"""Where in a capture every moment of the programme is heard: a map of time, and the motions it is made of.

A turntable goes at a speed of its own that drifts, an off-centre or warped disc swings once and twice a turn, and the
drive flutters. The map is the most probable motion of that kind (Kalman 1960; Rauch, Tung and Striebel 1965) given
delays that were measured here and there, each with its own doubt; in silence it goes on as before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from discwright.inspection import kernels
from discwright.inspection.coarse import Line
from discwright.inspection.jumps import Stretch

Float = NDArray[np.float64]

#: The map is linear between points so far apart, s; it goes on beyond both ends of the programme by so much, s.
STEP, BEYOND = 0.01, 2.0
#: How fast speed (us²/s³) and swings (us²/s) may change, and how long flutter remembers, s.
_SPEED_DRIFT, _SWING_DRIFT, FLUTTER_S = 100.0, 50.0, 0.12
#: What a jump may be wrong by before it is measured, us.
_JUMP_US = 4e4
#: A delay further off than so many standard deviations counts less.
_FAR = 3.0
_ROUNDS = 4


@dataclass(frozen=True)
class TimeMap:
    """The programme's time to the capture's.

    Attributes
    ----------
    time : ndarray, shape (n,), s
        Of the programme, evenly spaced.
    flat : ndarray, shape (n,), s
        Of the capture, as if nothing had jumped.
    doubt : ndarray, shape (n,), s
        Standard deviation of the place.
    stretches : tuple of Stretch
        What was played in one go.
    """

    time: Float
    flat: Float
    doubt: Float
    stretches: tuple[Stretch, ...]

    def at(self, time: Float) -> Float:
        """Where moments of the programme are heard.

        Parameters
        ----------
        time : ndarray, shape (m,), s

        Returns
        -------
        ndarray, shape (m,), s
            Of the capture; goes straight on beyond the ends.
        """
        low, high = self.time[0], self.time[-1]
        slope = (self.flat[-1] - self.flat[0]) / (high - low)
        beyond = slope * (np.minimum(time - low, 0.0) + np.maximum(time - high, 0.0))
        result: Float = np.interp(time, self.time, self.flat) + beyond + self.offsets(time)
        return result

    def offsets(self, time: Float) -> Float:
        """What has jumped up to moments of the programme.

        Parameters
        ----------
        time : ndarray, shape (m,), s

        Returns
        -------
        ndarray, shape (m,), s
        """
        edges = np.array([one.begin for one in self.stretches[1:]])
        jumped = np.array([one.offset for one in self.stretches])
        result: Float = jumped[np.searchsorted(edges, time, side="right")]
        return result


@dataclass(frozen=True)
class Delays:
    """Measured departures of a capture from a map.

    Attributes
    ----------
    time : ndarray, shape (m,), s
        Of the programme, rising.
    delay : ndarray, shape (m,), s
        Later than the map says.
    doubt : ndarray, shape (m,), s
        Standard deviation; infinite where nothing can be said.
    """

    time: Float
    delay: Float
    doubt: Float


@dataclass(frozen=True)
class Swings:
    """Motions once and twice a turn, as amplitudes of cosine and sine of the disc's angle.

    Attributes
    ----------
    time : ndarray, shape (m,), s
    once, twice : ndarray, shape (m, 2), s
    flutter : ndarray, shape (m,), s
    unsteady : float, s
        Standard deviation of what no drift or swing explains.
    """

    time: Float
    once: Float
    twice: Float
    flutter: Float
    unsteady: float


def first_map(line: Line, stretches: Sequence[Stretch], duration: float) -> TimeMap:
    """The map a straight line and its jumps give.

    Parameters
    ----------
    line : Line
    stretches : sequence of Stretch
    duration : float, s
        Of the programme.
    """
    time = np.arange(-BEYOND, duration + BEYOND + STEP, STEP)
    return TimeMap(time, line.start + line.stretch * time, np.full(len(time), 0.02), tuple(stretches))


def refine(known: TimeMap, measured: Delays, turn_time: float, memory: float = FLUTTER_S) -> tuple[TimeMap, Swings]:
    """A better map, from what was measured against the one known.

    Parameters
    ----------
    known : TimeMap
    measured : Delays
        Against `known`.
    turn_time : float, s
        Of one turn, at the nominal speed.
    memory : float, s
        How long flutter remembers.

    Returns
    -------
    TimeMap
    Swings
        All of the departures from a straight line, those of `known` included.
    """
    time = np.maximum.accumulate(measured.time)
    # What is smoothed is the whole departure from one straight line, so that rounds of measuring do not pile up.
    slope, start = (float(one) for one in np.polyfit(known.time, known.flat, 1))
    before = known.at(time) - (start + slope * time + known.offsets(time))
    seen = (before + measured.delay) * 1e6
    step = np.diff(time, prepend=time[0])
    angle = 2 * np.pi * time / turn_time
    loosen = np.zeros(len(time))
    firsts = [min(int(np.searchsorted(time, one.begin)), len(time) - 1) for one in known.stretches[1:]]
    loosen[firsts] = _JUMP_US**2
    own = (measured.doubt * 1e6) ** 2
    factor, flutter, far = 1.0, 100.0, np.ones(len(time))
    states, spread = np.zeros((len(time), 7)), np.zeros(len(time))
    for _ in range(_ROUNDS):
        variance = own * factor * far
        noise = np.array([_SPEED_DRIFT, _SWING_DRIFT, flutter, memory, 1e10])
        kernels.smooth_delay(seen, variance, step, angle, loosen, noise, states, spread)
        steady = states.copy()
        steady[:, 6] = 0.0
        left = seen - _sum(states, angle)
        factor, flutter = _doubts(seen - _sum(steady, angle), left, own, spread, states[:, 6])
        normal = np.abs(left) / np.sqrt(own * factor + 1e-6)
        far = np.maximum(1.0, normal / _FAR) ** 2
        far[~np.isfinite(far)] = 1.0
    late = _take_jumps_out(states, step, firsts)
    stretches = tuple(
        replace(one, offset=one.offset + more) for one, more in zip(known.stretches, [0.0, *late], strict=True)
    )
    grid = known.time
    value = _between(time, states, grid, turn_time) * 1e-6
    place = start + slope * grid + value
    doubt = np.interp(grid, time, np.sqrt(np.maximum(spread, 0.0))) * 1e-6  # rounding may take it below none
    once, twice, fast = (states[:, part] * 1e-6 for part in (slice(2, 4), slice(4, 6), 6))
    swings = Swings(time, once, twice, fast, np.sqrt(flutter) * 1e-6)
    return TimeMap(grid, place, doubt, stretches), swings


def _take_jumps_out(states: Float, step: Float, firsts: Sequence[int]) -> list[float]:
    """Join the places on both sides of each jump; returns by how much more each stretch after it is late, s."""
    late, done, total = [], -1, 0.0
    for k in firsts:
        if k > max(done, 0):
            jumped = float(states[k, 0] - states[k - 1, 0] - 0.5 * step[k] * (states[k, 1] + states[k - 1, 1]))
            states[k:, 0] -= jumped
            total, done = total + jumped, k
        late.append(total * 1e-6)
    return late


def _sum(states: Float, angle: Float) -> Float:
    result: Float = (
        states[:, 0] + states[:, 6]
        + states[:, 2] * np.cos(angle) + states[:, 3] * np.sin(angle)
        + states[:, 4] * np.cos(2 * angle) + states[:, 5] * np.sin(2 * angle)
    )  # fmt: skip
    return result


def _doubts(steady_left: Float, left: Float, own: Float, spread: Float, flutter: Float) -> tuple[float, float]:
    """By how much the measurements doubt themselves too little, and how much the drive flutters, us²."""
    told = np.isfinite(own)
    if np.count_nonzero(told) < 20:
        return 1.0, 100.0
    # Robust: the median of a squared normal variable is 0.455 of its variance.
    best = told & (own <= np.median(own[told]))
    factor = float(np.median(left[told] ** 2 / (own[told] + 1e-9))) / 0.455
    much = float(np.median(steady_left[best] ** 2 - own[best] * min(factor, 4.0))) / 0.455
    return min(max(factor, 0.25), 400.0), min(max(much, 0.05), 1e6)


def _between(time: Float, states: Float, grid: Float, turn_time: float) -> Float:
    """The motion at any time: the place by a cubic through places and rates, the rest in proportion."""
    angle = 2 * np.pi * grid / turn_time
    k = np.clip(np.searchsorted(time, grid) - 1, 0, max(len(time) - 2, 0))
    after = np.minimum(k + 1, len(time) - 1)
    width = np.maximum(time[after] - time[k], 1e-9)
    u = np.clip((grid - time[k]) / width, 0.0, 1.0)
    x0, x1, v0, v1 = states[k, 0], states[after, 0], states[k, 1], states[after, 1]
    cubic = (
        (1 + 2 * u) * (1 - u) ** 2 * x0 + u * (1 - u) ** 2 * width * v0
        + u**2 * (3 - 2 * u) * x1 + u**2 * (u - 1) * width * v1
    )  # fmt: skip
    # Beyond the ends the rate goes on.
    cubic += np.minimum(grid - time[0], 0.0) * states[0, 1] + np.maximum(grid - time[-1], 0.0) * states[-1, 1]
    rest = states[k] + u[:, None] * (states[after] - states[k])
    rest[:, 0] = cubic
    return _sum(rest, angle)
