"""The road of the checker: rows read from the file, walls from the analogue response, land at every sample.

Nothing here comes from discwright. The motion is computed in the frequency domain, in overlapping blocks;

    land(t) = [r(t−T) − h(t−T) + min u_L] − [r(t) + h(t) + max u_R],  extremes over ± guard

Lengths are in metres; a name in another unit wears it.
"""

from __future__ import annotations

import csv
import hashlib
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, minimum_filter1d

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]

COLUMNS = ["time_s", "turn", "zone", "radius_mm", "pitch_um", "depth_um", "land_um", "groove_speed_mm_s"]
FINE_TURNS = 1.5
CHUNK = 1 << 20
BLOCK = 1 << 21
TIME_STEP = 2e-6  # a time written to six decimals is within this of the one meant, s


@dataclass(frozen=True)
class Spiral:
    """The rows of `spiral.csv`, in SI; empty cells are NaN, times sit exactly on the knots they mean."""

    time: Floats
    written_time: Floats
    turn: Floats
    zone: NDArray[np.str_]
    radius: Floats
    pitch: Floats
    depth: Floats
    land: Floats
    speed: Floats
    turn_time: float
    duration: float
    sectors: int
    sha256: str

    def within(self, *zones: str) -> NDArray[np.bool_]:
        """Rows whose sector lies in one of the zones."""
        return np.isin(self.zone, zones)


@dataclass(frozen=True)
class Walls:
    """Edge movements, m, outward positive: `left` the inner edge, `right` the outer; sample `first` leads."""

    left: Floats32
    right: Floats32
    first: int
    sample_rate: int


def recording_response(frequency: Floats, subsonic_hz: float) -> NDArray[np.complex128]:
    """Velocity per input: the IEC 60098 curve, 0 dB at 1 kHz, with a second-order Butterworth high-pass."""
    s = 2j * np.pi * np.asarray(frequency)
    corner = 2 * np.pi * subsonic_hz
    high_pass = s**2 / (s**2 + math.sqrt(2) * corner * s + corner**2)

    def curve(s: Any) -> Any:
        return (1 + 3180e-6 * s) * (1 + 75e-6 * s) / (1 + 318e-6 * s)

    response: NDArray[np.complex128] = curve(s) / abs(curve(2000j * np.pi)) * high_pass
    return response


def _stretch(samples: Floats32, start: int, stop: int) -> Floats:
    """Samples [start, stop) with silence before and after the programme."""
    out = np.zeros((stop - start, 2))
    a, b = max(start, 0), min(stop, len(samples))
    if a < b:
        out[a - start : b - start] = samples[a:b]
    return out


def motion_blocks(
    samples: Floats32, sample_rate: int, level_db: float, subsonic_hz: float, start: int, stop: int
) -> Iterator[tuple[int, Floats, Floats, Floats]]:
    """Wall displacement (m), velocity (m/s) and acceleration (m/s²), each (m, 2), for samples [start, stop).

    Every block carries at least one second on both sides that is thrown away, so nothing wraps round: the
    response of the motion has died by exp(−44) there.
    """
    margin = math.ceil(max(1.0, 10.0 / subsonic_hz) * sample_rate)
    size = min(max(BLOCK, 4 * margin), scipy.fft.next_fast_len(stop - start + 2 * margin, real=True))
    omega = 2 * np.pi * scipy.fft.rfftfreq(size, 1 / sample_rate)
    velocity = 10 ** (level_db / 20) * 0.05 / math.sqrt(2) * recording_response(omega / 2 / np.pi, subsonic_hz)
    jomega = 1j * omega
    integral = np.concatenate(([0.0], 1 / jomega[1:]))  # the high-pass leaves nothing at zero frequency
    for begin in range(start, stop, size - 2 * margin):
        used = min(size - 2 * margin, stop - begin)
        spectrum = scipy.fft.rfft(_stretch(samples, begin - margin, begin - margin + size), axis=0)
        spectrum *= velocity[:, None]
        parts = [
            scipy.fft.irfft(spectrum * factor[:, None], size, axis=0)[margin : margin + used]
            for factor in (integral, np.ones(len(omega)), jomega)
        ]
        yield begin, parts[0], parts[1], parts[2]


def read_spiral(path: Path, settings: dict[str, Any], duration: float) -> Spiral:
    """The rows of a spiral, times moved onto the knots they mean (within `TIME_STEP`)."""
    raw = path.read_bytes()
    rows = list(csv.DictReader(raw.decode("utf-8").splitlines()))
    if list(rows[0]) != COLUMNS:
        raise ValueError(f"columns are {list(rows[0])}, not {COLUMNS}")
    column = {
        name: np.array([float(row[name]) if row[name] else math.nan for row in rows])
        for name in COLUMNS
        if name != "zone"
    }
    turn_time = 60.0 / settings["format"]["speed_rpm"]
    sectors = int(settings["lathe"]["sectors_per_turn"])
    written = column["time_s"]
    meant = np.round(written * sectors / turn_time) * turn_time / sectors
    for knot in (-FINE_TURNS * turn_time, duration):
        meant = np.where(np.abs(written - knot) < TIME_STEP, knot, meant)
    return Spiral(
        time=np.where(np.abs(written - meant) < TIME_STEP, meant, written),
        written_time=written,
        turn=column["turn"],
        zone=np.array([row["zone"] for row in rows]),
        radius=column["radius_mm"] * 1e-3,
        pitch=column["pitch_um"] * 1e-6,
        depth=column["depth_um"] * 1e-6,
        land=column["land_um"] * 1e-6,
        speed=column["groove_speed_mm_s"] * 1e-3,
        turn_time=turn_time,
        duration=duration,
        sectors=sectors,
        sha256=hashlib.sha256(raw).hexdigest(),
    )


def make_walls(
    samples: Floats32, sample_rate: int, plan: dict[str, Any], spiral: Spiral
) -> tuple[Walls, dict[str, Any]]:
    """The edges over every turn that has a neighbour, and the steepest slope and share beyond curvature."""
    settings = plan["settings"]
    guard = settings["practice"]["sync_guard_ms"] * 1e-3
    start = math.floor(-((FINE_TURNS + 1) * spiral.turn_time + guard) * sample_rate) - 2
    stop = len(samples) + math.ceil((spiral.turn_time + guard) * sample_rate) + 2
    left, right = np.empty(stop - start, np.float32), np.empty(stop - start, np.float32)
    side_radius = settings["tip"]["side_radius_um"] * 1e-6
    slope, slope_time, beyond = 0.0, 0.0, 0
    for begin, d, v, a in motion_blocks(
        samples, sample_rate, plan["level_db"], settings["practice"]["subsonic_hz"], start, stop
    ):
        at = begin - start
        left[at : at + len(d)] = math.sqrt(2) * d[:, 0]
        right[at : at + len(d)] = math.sqrt(2) * d[:, 1]
        index = np.arange(begin, begin + len(d))
        music = (index >= 0) & (index < len(samples))
        if not music.any():
            continue
        time = index[music] / sample_rate
        speed = 2 * np.pi * np.interp(time, spiral.time, spiral.radius) / spiral.turn_time
        slopes = math.sqrt(2) * np.abs(v[music]).max(axis=1) / speed
        if slopes.max() > slope:
            slope, slope_time = float(slopes.max()), float(time[slopes.argmax()])
        beyond += int(np.count_nonzero(np.abs(a[music]).max(axis=1) > speed**2 / side_radius))
    share = 100.0 * beyond / len(samples)
    return Walls(left, right, start, sample_rate), {
        "slope": slope,
        "slope_time_s": slope_time,
        "curvature_share_percent": share,
    }


def _extreme(edge: Floats32, at: float, count: int, guard: int, pick: Callable[..., Floats32]) -> Floats:
    """Extremes of `count` samples from position `at` (samples may fall between two: then interpolated)."""
    whole = math.floor(at + 1e-6)
    part = max(at - whole, 0.0)
    piece = edge[whole - guard : whole + count + 1 + guard]
    found = pick(piece, 2 * guard + 1)[guard : guard + count + 1].astype(np.float64)
    return found[:-1] if part < 1e-6 else (1 - part) * found[:-1] + part * found[1:]


def lands(spiral: Spiral, walls: Walls, guard: float) -> tuple[int, Floats32]:
    """Land at every sample between the turn at that time and the one outside it, m.

    Parameters
    ----------
    spiral : Spiral
    walls : Walls
    guard : float
        Half width of the stretch each wall counts over, s.

    Returns
    -------
    first : int
        Sample number of the first land, at the beginning of fine pitch.
    land : float32 array, shape (n,)
        Up to one turn after the end of the music; infinite where no turn lies outside.
    """
    rate, turn = walls.sample_rate, spiral.turn_time * walls.sample_rate
    reach = math.ceil(guard * rate - 1e-6)
    first = math.ceil(-FINE_TURNS * turn - 1e-6)
    last = min(spiral.duration + spiral.turn_time, spiral.time[-1])
    land = np.empty(math.floor(last * rate + 1e-6) - first + 1, np.float32)
    for begin in range(0, len(land), CHUNK):
        count = min(CHUNK, len(land) - begin)
        index = np.arange(first + begin, first + begin + count)
        now, before = index / rate, index / rate - spiral.turn_time
        here = first + begin - walls.first
        inner_edge = np.interp(before, spiral.time, spiral.radius - spiral.depth)
        inner_edge += _extreme(walls.left, here - turn, count, reach, minimum_filter1d)
        outer_edge = np.interp(now, spiral.time, spiral.radius + spiral.depth)
        outer_edge += _extreme(walls.right, here, count, reach, maximum_filter1d)
        inner_edge[before < spiral.time[0] - 1e-9] = np.inf
        land[begin : begin + count] = inner_edge - outer_edge
    return first, land


def depth_range(spiral: Spiral, walls: Walls) -> tuple[float, float]:
    """Least and greatest instantaneous depth from the first fine turn to the last music, m."""
    least, greatest = math.inf, -math.inf
    first = math.ceil(-FINE_TURNS * spiral.turn_time * walls.sample_rate)
    stop = math.floor(spiral.duration * walls.sample_rate + 1e-6)
    for begin in range(first, stop, CHUNK):
        end = min(begin + CHUNK, stop)
        part = slice(begin - walls.first, end - walls.first)
        lift = (walls.left[part].astype(np.float64) - walls.right[part]) / 2
        depth = np.interp(np.arange(begin, end) / walls.sample_rate, spiral.time, spiral.depth) - lift
        least, greatest = min(least, float(depth.min())), max(greatest, float(depth.max()))
    return least, greatest
