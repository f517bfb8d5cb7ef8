"""Edges in a photograph: steep places linked from station to station, then read where the grey is half way over.

A step of grey is an edge where it can be followed from one border of the picture to the other. Dust makes steps, too,
but short ones. A bright line along an edge makes two steps of what is one edge: they are taken together. The place of
an edge is where the profile crosses half way between the greys on both sides, each read near the edge, so that uneven
light does not count.
"""

from __future__ import annotations

import math
from bisect import bisect
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from discwright.inspection.gauge_stations import Float, Stations, smooth

Flags = NDArray[np.bool_]
Counts = NDArray[np.int64]

#: A step counts from this many standard deviations of the noise, and from this share of the steepest.
_ABOVE_NOISE, _ABOVE_STEEPEST = 5.0, 0.15
#: An edge must be seen at this share of the stations, and near both ends of the picture.
_SEEN, _NEAR_END = 0.5, 0.04
#: Stations an edge may be lost for (dust), columns it may stray by at the least, and how fast its pace and its restlessness
#: are learnt: slowly, so that a hair that touches an edge does not lead it away.
_LOST, _GATE, _LEARNS, _CALMS = 40, 0.8, 0.1, 0.15
#: No edge may be lost so near to the border, px.
_BORDER = 8.0
#: A stripe narrower than this share of its neighbours is a line drawn along an edge, where they differ in grey by this
#: share of the greater step.
_THIN, _DIFFERENT = 0.3, 0.25
#: Blur added before the crossing is looked for, px.
_CALM = 1.2
#: Width over which the grey beside an edge is read, px.
_BESIDE = 12.0


@dataclass(frozen=True)
class Edges:
    """All edges that run through the picture, from left to right.

    Attributes
    ----------
    place : ndarray, shape (edges, stations), px
        From the border of the picture; gaps are bridged.
    sound : ndarray of bool, shape (edges, stations)
        Where the place was read and does not stick out.
    up : ndarray of bool, shape (edges,)
        The grey rises from left to right.
    low, high : ndarray, shape (edges, stations)
        Grey beside the edge, on its left and its right.
    blur : float, px
        Standard deviation of the blur of the sharpest half of the edges.
    """

    place: Float
    sound: Flags
    up: Flags
    left: Float
    right: Float
    blur: float


@dataclass
class _Track:
    """A step followed from station to station: where it was seen, where it goes, how much that surprised of late."""

    up: bool
    station: list[int]
    column: list[float]
    steep: list[float]
    pace: float
    surprise: float

    def expected(self, station: int) -> float:
        return self.column[-1] + self.pace * (station - self.station[-1])

    def gate(self, station: int, step: int) -> float:
        lost = station - self.station[-1] - 1
        return min(_GATE + 4.0 * self.surprise + lost * (0.4 + self.surprise), _GATE + 5.0 * step)

    def see(self, station: int, column: float, steep: float) -> None:
        off, stations = column - self.expected(station), station - self.station[-1]
        self.pace += _LEARNS * off / stations
        self.surprise += _CALMS * (min(abs(off), 20.0) - self.surprise)
        self.station.append(station)
        self.column.append(column)
        self.steep.append(steep)


def find_edges(stations: Stations, slope: float) -> Edges:
    """Find every edge that runs through the picture.

    Parameters
    ----------
    stations : Stations
    slope : float
        Columns per row, about.

    Returns
    -------
    Edges
    """
    tracks, place = _whole(_link(stations, slope), stations)
    every = np.arange(len(stations.row))
    if len(tracks) < 2:
        nothing = np.zeros(place.shape)
        return Edges(place, nothing == 0.0, np.array([one.up for one in tracks], dtype=bool), nothing, nothing, 0.0)
    grey = _middles(stations, place)
    steep = np.array([float(np.median(track.steep)) for track in tracks])
    sigma = _blur(grey, steep, stations.sigma)
    beside = _beside(stations, place, sigma)
    groups = _merge(grey, place, *beside)
    left, right = _own(stations, place, groups, beside, sigma)
    up = np.median(right - left, axis=1) > 0.0
    calm = smooth(stations.profile, _CALM)
    read = np.empty(left.shape)
    for k, (first, last) in enumerate(groups):
        own = [j for j in range(first, last + 1) if tracks[j].up == up[k]] or [first]
        start = place[max(own, key=lambda j: steep[j])]
        reach = math.ceil(3.0 * sigma + float(np.median(place[last] - place[first]))) + 2
        read[k] = _cross(calm, start, (left[k] + right[k]) / 2.0, bool(up[k]), reach)
    sound = np.array([_sound(one) for one in read])
    kept = sound.mean(axis=1) >= _SEEN
    bridged = [np.interp(every, every[good], one[good]) for one, good in zip(read[kept], sound[kept], strict=True)]
    blur = math.sqrt(max(0.0, sigma**2 - stations.sigma**2))
    places = np.array(bridged).reshape(int(kept.sum()), len(every))
    return Edges(places, sound[kept], up[kept], left[kept], right[kept], blur)


def _middles(stations: Stations, place: Float) -> Float:
    """Grey of the stripes before the first step, between each and the next, after the last: (steps + 1, stations)."""
    fence = _fence(stations, place)
    # Of the stripes that the border cuts only what is near counts.
    fence[0] = np.maximum(fence[0], fence[1] - 60.0)
    fence[-1] = np.minimum(fence[-1], fence[-2] + 60.0)
    part = np.linspace(0.3, 0.7, 7)[:, None]
    return np.array([
        _along(np.median(_sample(stations.profile, a + part * (b - a)), axis=0))
        for a, b in pairwise(fence)
    ])  # fmt: skip


def _blur(grey: Float, steep: Float, least: float) -> float:
    """Standard deviation of the blur of the sharper edges, from the height and the steepness of their steps, px."""
    height = np.median(np.abs(np.diff(grey, axis=0)), axis=1)
    sigma = height / (math.sqrt(2.0 * math.pi) * steep)
    return max(least, float(np.percentile(sigma, 40.0)))


def _link(stations: Stations, slope: float) -> list[_Track]:
    """Steep places of neighbouring stations that lie nearest to each other, one step after another."""
    done: list[_Track] = []
    alive: list[_Track] = []
    drift = slope * stations.step
    for station, (column, steep) in enumerate(_steep_places(stations)):
        free = {
            up: [(x, abs(s)) for x, s in zip(column, steep, strict=True) if (s > 0.0) == up] for up in (True, False)
        }
        # Whoever was followed longest chooses first: dust beside an edge must not lead it away.
        for track in sorted(alive, key=lambda one: -len(one.station)):
            rest = free[track.up]
            found = _nearest(rest, track.expected(station), track.gate(station, stations.step))
            if found is not None:
                track.see(station, *rest.pop(found))
        done += [track for track in alive if station - track.station[-1] > _LOST]
        alive = [track for track in alive if station - track.station[-1] <= _LOST]
        new = [(up, *one) for up, rest in free.items() for one in rest]
        alive += [_Track(up, [station], [x], [s], drift, stations.step / 2.0) for up, x, s in new]
    return done + alive


def _nearest(free: list[tuple[float, float]], place: float, gate: float) -> int | None:
    """Which of some steps, sorted by their place, is nearest to a place; None where none is near enough."""
    after = bisect(free, (place, 0.0))
    near = [(abs(free[k][0] - place), k) for k in (after - 1, after) if 0 <= k < len(free)]
    away, k = min(near, default=(math.inf, 0))
    return k if away <= gate else None


def _steep_places(stations: Stations) -> list[tuple[list[float], list[float]]]:
    """Of each station the columns, to a part of one, where the grey rises or falls most steeply, and how steeply."""
    rise = stations.rise.astype(np.float64)
    size = np.abs(rise)
    least = max(_ABOVE_NOISE * stations.noise, _ABOVE_STEEPEST * stations.steepest)
    middle = size[:, 1:-1]
    peak = (middle > least) & (middle >= size[:, :-2]) & (middle > size[:, 2:])
    station, column = np.nonzero(peak)
    column += 1
    before, here, after = (size[station, column + k] for k in (-1, 0, 1))
    bend = before - 2.0 * here + after
    fine = column + 0.5 + np.where(bend < 0.0, 0.5 * (before - after) / np.where(bend < 0.0, bend, -1.0), 0.0)
    cuts = np.searchsorted(station, np.arange(1, len(rise)))
    pairs = zip(np.split(fine, cuts), np.split(rise[station, column], cuts), strict=True)
    return [(a.tolist(), b.tolist()) for a, b in pairs]


def _whole(tracks: list[_Track], stations: Stations) -> tuple[list[_Track], Float]:
    """Those that run from one border to the other without leaving the picture, from left to right, and their places."""
    count, columns = stations.profile.shape
    end = max(2, round(_NEAR_END * count))
    every = np.arange(count)
    found: list[tuple[_Track, Float]] = []
    for one in tracks:
        seen = np.array(one.station)
        if seen[0] > end or seen[-1] < count - 1 - end or len(seen) < _SEEN * count:
            continue
        place = np.interp(every, seen, one.column)
        for gone, near in ((every < seen[0], slice(None, 12)), (every > seen[-1], slice(-12, None))):
            if gone.any():
                place[gone] = np.polyval(np.polyfit(seen[near], one.column[near], 1), every[gone])
        room = np.minimum(place, columns - place)
        # Where an edge is lost that near to the border it may have been beyond it.
        lost = np.isin(every, seen, invert=True)
        if room.min() > 0.5 and room[lost].min(initial=columns) > _BORDER:
            found.append((one, place))
    found.sort(key=lambda pair: float(pair[1].mean()))
    _drop_crossing(found)
    places = np.array([place for _, place in found]).reshape(len(found), count)
    return [one for one, _ in found], places


def _drop_crossing(found: list[tuple[_Track, Float]]) -> None:
    """Of two that cross take away the one that leans more against all others: a hair, not an edge."""
    while len(found) > 1:
        lean = np.array([place[-1] - place[0] for _, place in found])
        crossing = [k for k, (a, b) in enumerate(pairwise(found)) if float((b[1] - a[1]).min()) <= 0.0]
        if not crossing:
            return
        away = np.abs(lean - np.median(lean))
        del found[max((one for k in crossing for one in (k, k + 1)), key=lambda one: float(away[one]))]


def _merge(grey: Float, place: Float, left: Float, right: Float) -> list[tuple[int, int]]:
    """First and last step of each edge: lines and shades along an edge are part of it."""
    groups = [(k, k) for k in range(len(place))]
    middle, before, after = (np.median(one, axis=1) for one in (grey, left, right))
    while len(groups) > 1:
        wide = [float(np.median(place[b[0]] - place[a[1]])) for a, b in pairwise(groups)]
        found = []
        for k, (a, b) in enumerate(pairwise(groups)):
            beside = [wide[j] for j in (k - 1, k + 1) if 0 <= j < len(wide)]
            thin = bool(beside) and wide[k] <= _THIN * min(beside)
            ends, here = (before[a[0]], after[b[1]]), middle[b[0]]
            if thin and abs(ends[1] - ends[0]) > _DIFFERENT * max(abs(here - one) for one in ends):
                found.append(k)
        if not found:
            break
        k = min(found, key=lambda one: wide[one])
        groups[k : k + 2] = [(groups[k][0], groups[k + 1][1])]
    return groups


def _beside(stations: Stations, place: Float, sigma: float) -> tuple[Float, Float]:
    """Grey on the left and on the right of each step, read near it, quiet along it."""
    fence = _fence(stations, place)
    left = [_near(stations, one, fence[k], sigma) for k, one in enumerate(place)]
    right = [_near(stations, one, fence[k + 2], sigma) for k, one in enumerate(place)]
    return np.array(left), np.array(right)


def _own(
    stations: Stations, place: Float, groups: list[tuple[int, int]], beside: tuple[Float, Float], sigma: float
) -> tuple[Float, Float]:
    """Grey on both sides of each edge; in a stripe that is narrow against the blur its neighbours shine through."""
    fence = _fence(stations, place)
    blur = math.sqrt(max(0.25, sigma**2 - stations.sigma**2))
    left, right = (np.array([one[pair[k]] for pair in groups]) for k, one in enumerate(beside))
    for k, (first, last) in enumerate(groups):
        rooms = (place[first] - fence[first], fence[last + 2] - place[last])
        shares = [_share_of_own(float(np.median(room)), blur, sigma) for room in rooms]
        if min(shares) < 0.995:
            a, b = left[k], right[k]
            left[k], right[k] = b + (a - b) / shares[0], a + (b - a) / shares[1]
    return left, right


def _fence(stations: Stations, place: Float) -> Float:
    """The steps with the picture's borders before and after them."""
    border = np.zeros((1, place.shape[1]))
    return np.concatenate([border, place, border + stations.profile.shape[1]])


def _near(stations: Stations, place: Float, fence: Float, sigma: float) -> Float:
    """Grey between an edge and the next one, as near as the blur allows: median across, then along."""
    way = fence - place
    room = np.abs(way)
    near = np.minimum(2.5 * sigma + 0.5, 0.45 * room)
    far = np.maximum(near, np.minimum(near + _BESIDE, 0.5 * room))
    part = np.linspace(0.0, 1.0, 7)[:, None]
    at = place + np.sign(way) * (near + part * (far - near))
    return _along(np.median(_sample(stations.profile, at), axis=0))


def _share_of_own(room: float, blur: float, sigma: float) -> float:
    """How much of the grey read in a stripe is its own: 1 but for narrow ones."""
    near = min(2.5 * sigma + 0.5, 0.45 * room)
    at = (near + max(near, min(near + _BESIDE, 0.5 * room))) / 2.0
    reached = [0.5 * math.erf(one / (math.sqrt(2.0) * blur)) for one in (at, room - at)]
    return max(0.3, sum(reached))


def _along(values: Float) -> Float:
    """Quiet along the edge: a median over 9 stations, a mean over 31."""
    for length, take in ((9, np.median), (31, np.mean)):
        half = min(length // 2, max(0, (len(values) - 1) // 2))
        if half:
            padded = np.pad(values, half, mode="edge")
            values = take(np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1), axis=1)
    return values


def _sample(profile: NDArray[np.float32], at: Float) -> Float:
    """Grey at places of each station, straight between columns; places count from the picture's border."""
    column = np.clip(at - 0.5, 0.0, profile.shape[1] - 1.001)
    whole = column.astype(np.int64)
    part = column - whole
    row = np.arange(profile.shape[0])
    result: Float = profile[row, whole] * (1.0 - part) + profile[row, whole + 1] * part
    return result


def _cross(calm: NDArray[np.float32], place: Float, half: Float, rising: bool, reach: int) -> Float:
    """Where a profile goes through a grey in the right direction, nearest to a place; NaN where it does not."""
    start = np.floor(place - 0.5).astype(np.int64) - reach
    column = np.clip(start[:, None] + np.arange(2 * reach + 2), 0, calm.shape[1] - 1)
    over = np.take_along_axis(calm, column, axis=1) - half[:, None]
    if not rising:
        over = -over
    through = (over[:, :-1] < 0.0) & (over[:, 1:] >= 0.0)
    part = over[:, :-1] / np.where(through, over[:, :-1] - over[:, 1:], 1.0)
    at = column[:, :-1] + 0.5 + part
    away = np.where(through, np.abs(at - place[:, None]), np.inf)
    best = away.argmin(axis=1)
    row = np.arange(len(place))
    return np.where(np.isfinite(away[row, best]), at[row, best], np.nan)


def _sound(read: Float) -> Flags:
    """Which readings are there and go with their neighbours: music bends an edge along its whole length, dust once."""
    known = np.isfinite(read)
    if known.sum() < 3:
        return known
    whole = np.interp(np.arange(len(read)), np.flatnonzero(known), read[known])
    half = min(12, (len(read) - 1) // 2)
    padded = np.pad(whole, half, mode="reflect", reflect_type="odd")
    x = np.arange(-half, half + 1) / max(1, half)
    curve = np.linalg.pinv(np.vander(x, min(4, 2 * half + 1)))[-1]
    away = np.abs(whole - np.convolve(padded, curve[::-1], "valid"))
    usual = 1.4826 * float(np.median(away[known]))
    return known & (away <= max(1.0, 5.0 * usual))
