"""When a place of the programme is heard: speed, a hole off the centre, a warped disc, flutter, a groove jumped.

    t = start + (played + hole + warp + flutter)/(speed)        played = time + what was jumped over

Own geometry: a place of the groove at the angle α and radius r from the groove's centre, which lies e from the
spindle in the direction φ, is seen from the spindle at α + atan2(e·sin(φ - α), r + e·cos(φ - α)). The tip stays on one
line through the spindle. A rise z of the surface turns an arm of length L, whose pivot is h higher than the disc, so
that the tip moves away from the pivot, with the groove, by √(L² + h² - (h - z)²) - L.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from spoiler_wrongs import Jump

Floats = NDArray[np.float64]

ARM, PIVOT, RIM = 0.230, 0.020, 0.1505
#: Knots of the inverse, s: everything here moves far slower.
_STEP = 1e-3
_PAD = 0.05


@dataclass(frozen=True)
class _Run:
    """A stretch played without a jump: from `begin` to `end` in time played, `shift` to be added for the programme."""

    begin: float
    end: float
    shift: float


class TimeMap:
    """Programme time to capture time and back.

    Parameters
    ----------
    duration : float, s
        Of the programme.
    turn_time : float, s
    radius : callable
        Programme time, s, to m.
    start : float, s
        Before the programme, apart from what the disc's unevenness adds.
    speed : float
        1.0 is right, more is fast.
    off_centre, off_centre_angle : float, m, rad
    warp, waves, warp_angle : float, int, float
        From lowest to highest at the rim, m; rises per turn; where the first rise is, rad.
    flutter, flutter_hz : float
        Peak deviation of the speed as a ratio.
    jumps : sequence of Jump
    """

    def __init__(
        self, duration: float, turn_time: float, radius: Callable[[Floats], Floats], *, start: float = 0.0,
        speed: float = 1.0, off_centre: float = 0.0, off_centre_angle: float = 0.0, warp: float = 0.0, waves: int = 2,
        warp_angle: float = 0.0, flutter: float = 0.0, flutter_hz: float = 8.0, jumps: Sequence[Jump] = (),
    ) -> None:  # fmt: skip
        self.duration, self.turn_time, self.speed, self._radius, self._start = duration, turn_time, speed, radius, start
        self._off, self._off_angle = off_centre, off_centre_angle
        self._warp, self._waves, self._warp_angle = warp, waves, warp_angle
        self._flutter, self._flutter_hz = flutter, flutter_hz
        self._runs = self._lay_out(jumps)
        self._begins = np.array([self._heard(np.array([run.begin]), run)[0] for run in self._runs])
        self.end = float(self._heard(np.array([self._runs[-1].end]), self._runs[-1])[0])
        self._backward = [self._inverse(k) for k in range(len(self._runs))]

    def _lay_out(self, jumps: Sequence[Jump]) -> list[_Run]:
        runs, at, shift = [], 0.0, 0.0
        for jump in sorted(jumps, key=lambda one: one.at_s):
            for _ in range(jump.times if jump.turns < 0 else 1):
                end = jump.at_s - shift
                if end <= at:
                    raise ValueError(f"the jump at {jump.at_s} s lies where nothing is played; move it")
                runs.append(_Run(at, end, shift))
                at, shift = end, shift + jump.turns * self.turn_time
        return [*runs, _Run(at, self.duration - shift, shift)]

    def unevenness(self, time: Floats) -> Floats:
        """How much later a place of the programme passes than on a flat, centred disc, s at the right speed."""
        alpha = 2 * np.pi * time / self.turn_time
        r = self._radius(np.clip(time, 0.0, self.duration))
        toward = self._off_angle - alpha
        late = np.arctan2(self._off * np.sin(toward), r + self._off * np.cos(toward)) * self.turn_time / (2 * np.pi)
        rise = self._warp / 2 * (r / RIM) ** self._waves * np.cos(self._waves * (alpha - self._warp_angle))
        away = np.sqrt(ARM**2 + PIVOT**2 - (PIVOT - rise) ** 2) - ARM
        out: Floats = late + away * self.turn_time / (2 * np.pi * r)
        return out

    def _heard(self, played: Floats, run: _Run) -> Floats:
        beat = 2 * np.pi * self._flutter_hz
        swing = -self._flutter / beat * np.sin(beat * played)
        out: Floats = self._start + (played + self.unevenness(played + run.shift) + swing) / self.speed
        return out

    def _inverse(self, number: int) -> CubicSpline:
        run = self._runs[number]
        before = self._start * self.speed if number == 0 else 0.0
        after = 3600.0 if number == len(self._runs) - 1 else 0.0
        begin, end = run.begin - before - _PAD, run.end + _PAD
        played = np.linspace(begin, end, max(8, round((end - begin) / _STEP)))
        heard = self._heard(played, run)
        if after:
            played, heard = np.append(played, played[-1] + after), np.append(heard, heard[-1] + after / self.speed)
        return CubicSpline(heard, played + run.shift)

    def programme_time(self, capture: Floats) -> Floats:
        """What of the programme is heard at a time of the capture, s; below 0 before it, past its end after it."""
        capture = np.asarray(capture, dtype=np.float64)
        number = np.maximum(np.searchsorted(self._begins, capture, side="right") - 1, 0)
        out = np.empty(len(capture))
        for k in np.unique(number):
            here = number == k
            out[here] = self._backward[k](capture[here])
        return out

    def capture_times(self, time: float) -> list[float]:
        """Every time a place of the programme is heard: none where it was skipped, several where it was repeated."""
        last = len(self._runs) - 1
        out = []
        for k, run in enumerate(self._runs):
            played = time - run.shift
            if (k == 0 or played >= run.begin) and (k == last or played < run.end):
                out.append(float(self._heard(np.array([played]), run)[0]))
        return out

    def capture_time(self, time: Floats) -> Floats:
        """When places of the programme are first heard, s; NaN where they are skipped."""
        time = np.asarray(time, dtype=np.float64)
        out = np.full(len(time), np.nan)
        last = len(self._runs) - 1
        for k, run in reversed(list(enumerate(self._runs))):
            played = time - run.shift
            here = ((k == 0) | (played >= run.begin)) & ((k == last) | (played < run.end))
            out[here] = self._heard(played[here], run)
        return out

    def spans(self, begin: float, end: float) -> list[tuple[float, float]]:
        """Where a stretch of the programme is heard, s in the capture."""
        out = []
        last = len(self._runs) - 1
        for k, run in enumerate(self._runs):
            a = begin - run.shift if k == 0 else max(begin - run.shift, run.begin)
            b = end - run.shift if k == last else min(end - run.shift, run.end)
            if b > a:
                heard = self._heard(np.array([a, b]), run)
                out.append((float(heard[0]), float(heard[1])))
        return out

    def wow_peak(self) -> float:
        """Greatest departure of the speed from its mean, as a ratio, flutter left out."""
        time = np.arange(0.0, self.duration, 0.005)
        late = self.unevenness(time)
        return float(np.max(np.abs(np.gradient(late, 0.005)))) if len(time) > 2 else 0.0

    def once_per_turn(self) -> tuple[float, float]:
        """Off-centre hole that would explain all that happens once per turn, m, and its direction, rad.

        The way along the groove that a place is late is e·sin(φ - α): a least squares fit over the programme,
        beside what comes several times a turn.
        """
        time = np.arange(0.0, self.duration, 0.01)
        alpha = 2 * np.pi * time / self.turn_time
        r = self._radius(time)
        way = self.unevenness(time) * 2 * np.pi * r / self.turn_time
        oftener = [wave(k * alpha) for k in (2, 3, 4) for wave in (np.cos, np.sin)]
        columns = np.stack([np.cos(alpha), -np.sin(alpha), np.ones_like(alpha), *oftener], axis=1)
        (a, b, *_), *_ = np.linalg.lstsq(columns, way, rcond=None)
        return float(np.hypot(a, b)), float(np.arctan2(a, b))
