"""Simpler ways to lay the same side, each held to the same land and depth, to see what the optimum saves.

`fixed`      one pitch and one depth for the whole side.
`look_ahead` half a turn of preview with peak hold, the classic variable pitch and depth.
`guard_rows` a linear programme with one row every 5 ms instead of the planner's own rows.

The first two ignore the slews of the lathe, which favours them. Lengths are in metres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soundfile as sf
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, minimum_filter1d
from scipy.optimize import linprog
from scipy.sparse import coo_array, csr_array, eye_array, hstack, vstack

from independent import FINE_TURNS, Floats, Spiral, Walls, depth_range, lands, motion_blocks

ROW_S = 0.005


@dataclass(frozen=True)
class Side:
    """The edges of one side and the limits it is laid within, SI."""

    walls: Walls
    duration: float
    turn_time: float
    sectors: int
    guard: float
    land_min: float
    depth_min: float
    depth_max: float
    pitch_min: float
    pitch_max: float
    pitch_slew: float
    depth_slew: float
    start: float

    @property
    def knots(self) -> NDArray[np.int64]:
        """Numbers of the sector boundaries from the first fine turn to past the end; 0 is the first music."""
        last = math.ceil(self.duration * self.sectors / self.turn_time - 1e-9)
        return np.arange(-round(FINE_TURNS * self.sectors), last + 1)

    @property
    def time(self) -> Floats:
        """Times of the knots, s."""
        return self.knots * self.turn_time / self.sectors


@dataclass(frozen=True)
class Result:
    """What a way of laying the side came to, measured sample by sample."""

    radius_used_mm: float
    least_land_um: float
    least_depth_um: float
    greatest_depth_um: float
    greatest_pitch_um: float


def read_side(audio: Path, level_db: float, settings: dict[str, Any]) -> Side:
    """The edges of the programme at this level and the limits in a plan's settings."""
    samples, rate = sf.read(audio, dtype="float32", always_2d=True)
    lathe, practice, disc = settings["lathe"], settings["practice"], settings["format"]
    turn_time, guard = 60.0 / disc["speed_rpm"], practice["sync_guard_ms"] * 1e-3
    beyond = math.ceil((2.7 * turn_time + guard) * rate)
    start, stop = -beyond, len(samples) + beyond
    edges = np.empty((2, stop - start), np.float32)
    for begin, d, _, _ in motion_blocks(samples, rate, level_db, practice["subsonic_hz"], start, stop):
        edges[:, begin - start : begin - start + len(d)] = math.sqrt(2) * d.T
    return Side(
        walls=Walls(edges[0], edges[1], start, rate),
        duration=len(samples) / rate,
        turn_time=turn_time,
        sectors=int(lathe["sectors_per_turn"]),
        guard=guard,
        land_min=practice["land_min_um"] * 1e-6,
        depth_min=practice["depth_min_um"] * 1e-6,
        depth_max=practice["depth_max_um"] * 1e-6,
        pitch_min=lathe["pitch_min_um"] * 1e-6,
        pitch_max=lathe["pitch_max_um"] * 1e-6,
        pitch_slew=lathe["pitch_slew_um_per_turn"] * 1e-6,
        depth_slew=lathe["depth_slew_um_per_turn"] * 1e-6,
        start=disc["outermost_radius_mm"] * 1e-3,
    )


def _spiral(side: Side, radius: Floats, depth: Floats) -> Spiral:
    """Radius and depth at the knots as rows, with a coarse lead-in turn outside the first."""
    time = np.concatenate(([side.time[0] - side.turn_time], side.time))
    radius = np.concatenate(([radius[0] + 1.2e-3], radius))
    depth = np.concatenate(([depth[0]], depth))
    unknown = np.full(len(time), math.nan)
    return Spiral(
        time=time,
        written_time=time,
        turn=time / side.turn_time,
        zone=np.full(len(time), "music"),
        radius=radius,
        pitch=unknown,
        depth=depth,
        land=unknown,
        speed=unknown,
        turn_time=side.turn_time,
        duration=side.duration,
        sectors=side.sectors,
        sha256="",
    )


def _land_of(side: Side, spiral: Spiral) -> NDArray[np.float32]:
    """Land at every sample from half a turn before the music (outside it lies lead-in) to its end."""
    first, land = lands(spiral, side.walls, side.guard)
    rate = side.walls.sample_rate
    begin = math.ceil(-0.5 * side.turn_time * rate) - first
    return land[begin : math.floor(side.duration * rate) - first]


def measure(side: Side, radius: Floats, depth: Floats) -> Result:
    """Brute force over every sample: what radius and depth at the knots really leave."""
    spiral = _spiral(side, radius, depth)
    least, greatest = depth_range(spiral, side.walls)
    ends = np.interp([0.0, side.duration], side.time, radius)
    pitch = -np.diff(radius) * side.sectors
    return Result(
        radius_used_mm=float(ends[0] - ends[1]) * 1e3,
        least_land_um=float(_land_of(side, spiral).min()) * 1e6,
        least_depth_um=least * 1e6,
        greatest_depth_um=greatest * 1e6,
        greatest_pitch_um=float(pitch.max()) * 1e6,
    )


def fixed(side: Side) -> Result:
    """The least constant depth that is nowhere too shallow, then the least pitch that leaves land."""
    nothing = np.zeros(len(side.knots))
    depth = side.depth_min - depth_range(_spiral(side, nothing, nothing), side.walls)[0]
    closest = float(_land_of(side, _spiral(side, nothing, nothing)).min())
    pitch = max(side.pitch_min, side.land_min + 2 * depth - closest)
    return measure(side, side.start - pitch * side.time / side.turn_time, np.full(len(side.knots), depth))


def _per_sector(side: Side, values: NDArray[Any]) -> Floats:
    """Greatest value within each sector between knots, ends included."""
    at = np.floor(side.time * side.walls.sample_rate).astype(np.int64) - side.walls.first
    inner = np.maximum.reduceat(values, at[:-1])
    inner[-1] = values[at[-2] : at[-1] + 1].max()
    return np.asarray(np.maximum(inner, values[at[1:] + 1]), np.float64)


def look_ahead(side: Side) -> Result:
    """Half a turn of preview with peak hold (US 4,538,255 describes the lead and the memory of one turn).

    Depth at a knot is the deepest need within half a turn on either side. The spacing a sector asks of its
    two turns (land, both depths, both edges) is held for half a turn. At each knot the carriage takes the
    smallest pitch that, kept constant, meets every spacing in the half turn to come.
    """
    s, half = side.sectors, side.sectors // 2
    width = 2 * math.ceil(side.guard * side.walls.sample_rate) + 1
    lift = (side.walls.left - side.walls.right) / 2
    need = side.depth_min + np.maximum(_per_sector(side, lift), 0.0)
    depth = maximum_filter1d(np.concatenate((need, need[-1:])), 2 * half + 1)
    deepest = np.maximum(depth[:-1], depth[1:])
    outer = deepest + _per_sector(side, maximum_filter1d(side.walls.right, width))
    inner = deepest + _per_sector(side, maximum_filter1d(-side.walls.left, width))
    spacing = side.land_min + outer
    spacing[s:] += inner[:-s]
    spacing[:s] += inner[:s]
    held = np.concatenate((spacing, spacing[-1:]))
    held[1:] = np.maximum(held[1:], spacing)
    held = maximum_filter1d(held, half + 1, origin=half // 2)
    radius = np.empty(len(side.knots) + s)  # the lead-in turn first, one knot per sector
    radius[: s + 1] = side.start + 1.2e-3 * np.arange(s, -1, -1) / s
    steps = np.arange(1, half + 1)
    for k in range(len(side.knots) - 1):
        ahead = k + steps[: len(side.knots) - 1 - k]
        asked = (radius[k + s] - radius[ahead] + held[ahead]) * s / (ahead - k)
        radius[k + s + 1] = radius[k + s] - max(side.pitch_min, float(asked.max())) / s
    return measure(side, radius[s:], depth)


def _at(side: Side, times: Floats, offset: int, count: int) -> csr_array:
    """Rows that read a piecewise linear quantity at these times; its knots begin at column `offset`."""
    place = (times - side.time[0]) * side.sectors / side.turn_time
    knot = np.clip(np.floor(place + 1e-9).astype(np.int64), 0, len(side.knots) - 2)
    part = place - knot
    row = np.arange(len(times))
    values = np.concatenate((1 - part, part))
    columns = offset + np.concatenate((knot, knot + 1))
    return coo_array((values, (np.concatenate((row, row)), columns)), shape=(len(times), count)).tocsr()


def _extremes(side: Side, times: Floats, values: NDArray[Any], reach: float, low: bool) -> Floats:
    """Least (or greatest) of the values within ± reach of each time."""
    size = 2 * math.floor(reach * side.walls.sample_rate) + 1
    found = (minimum_filter1d if low else maximum_filter1d)(values, size)
    index = np.round(times * side.walls.sample_rate).astype(np.int64) - side.walls.first
    return np.asarray(found[index], np.float64)


def guard_rows(side: Side) -> Result:
    """The whole side as one linear programme with a row for land and for depth every 5 ms.

    Raises
    ------
    RuntimeError
        If the solver finds no optimum.
    """
    n = len(side.knots)
    times = np.append(np.arange(-0.5 * side.turn_time, side.duration, ROW_S), side.duration)
    before = times - side.turn_time
    # land: −r(t−T) + h(t−T) + r(t) + h(t) ≤ min u_L(t−T) − max u_R(t) − land_min
    land = _at(side, times, 0, 2 * n) - _at(side, before, 0, 2 * n)
    land = land + _at(side, before, n, 2 * n) + _at(side, times, n, 2 * n)
    room = _extremes(side, before, side.walls.left, side.guard, True)
    room = room - _extremes(side, times, side.walls.right, side.guard, False) - side.land_min
    lift = (side.walls.left - side.walls.right) / 2
    whole = np.append(np.arange(side.time[0], side.duration, ROW_S), side.duration)
    shallow = _extremes(side, whole, lift, ROW_S / 2, False) + side.depth_min
    deep = _extremes(side, whole, lift, ROW_S / 2, True) + side.depth_max
    depth = _at(side, whole, n, 2 * n)
    step = (eye_array(n - 1, n) - eye_array(n - 1, n, k=1)).tocsr()
    none = csr_array((n - 1, n))
    pitch = hstack([step * side.sectors, none]).tocsr()
    sink = hstack([none, step]).tocsr()
    bend = pitch[:-1] - pitch[1:]
    limit = np.ones(n - 1)
    rows = [land, -depth, depth, -pitch, pitch, bend, -bend, sink, -sink]
    bounds = [
        room,
        -shallow,
        deep,
        -side.pitch_min * limit,
        side.pitch_max * limit,
        *(2 * [side.pitch_slew / side.sectors * limit[1:]]),
        *(2 * [side.depth_slew / side.sectors * limit]),
    ]
    goal = -_at(side, np.array([side.duration]), 0, 2 * n).toarray()[0]
    first = _at(side, np.array([0.0]), 0, 2 * n)
    # micrometres keep the solver's tolerances far below what matters; only differences of radius count
    answer = linprog(
        goal, vstack(rows).tocsr(), np.concatenate(bounds) * 1e6, first, [0.0], (None, None), method="highs"
    )
    if answer.status != 0:
        raise RuntimeError(f"the 5 ms problem has no optimum: {answer.message}")
    return measure(side, side.start + answer.x[:n] * 1e-6, answer.x[n:] * 1e-6)
