"""Edges in a photograph: steep places linked from station to station, then read where the grey is half way over.

A step of grey is an edge where it can be followed from one border of the picture to the other. Dust makes steps, too,
but short ones. A line along an edge makes two steps of what is one edge: they are taken together. The place of
an edge is where the profile crosses half way between the greys on both sides, each read near the edge, so that uneven
light does not count.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from discwright.inspection.gauge_stations import Float, Stations, smooth
from discwright.inspection.gauge_tracks import follow

Flags = NDArray[np.bool_]

#: An edge must be read at this share of the stations.
_READ = 0.5
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
    left, right : ndarray, shape (edges, stations)
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
    tracks, place = follow(stations, slope)
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
    blur = math.sqrt(max(0.0, sigma**2 - stations.sigma**2))
    read = np.empty(left.shape)
    for k, (first, last) in enumerate(groups):
        own = [j for j in range(first, last + 1) if tracks[j].up == up[k]] or [first]
        start = place[max(own, key=lambda j: steep[j])]
        reach = math.ceil(3.0 * sigma + float(np.median(place[last] - place[first]))) + 2
        half = _half(grey, place, (first, last), (left[k], right[k]), math.hypot(blur, _CALM))
        read[k] = _cross(calm, start, half, bool(up[k]), reach)
    sound = np.array([_sound(one) for one in read])
    kept = sound.mean(axis=1) >= _READ
    bridged = [np.interp(every, every[good], one[good]) for one, good in zip(read[kept], sound[kept], strict=True)]
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


def _half(grey: Float, place: Float, steps: tuple[int, int], sides: tuple[Float, Float], blur: float) -> Float:
    """The grey half way over an edge. A lip that outshines both sides stands for the side it is like: it lies on it."""
    left, right = sides
    for k in range(steps[0] + 1, steps[1] + 1):
        wide = float(np.median(place[k] - place[k - 1]))
        share = max(0.5, math.erf(wide / (2.0 * math.sqrt(2.0) * max(blur, 0.1))))
        lip = (left + right) / 2.0 + (grey[k] - (left + right) / 2.0) / share
        beyond = float(np.median(lip)), float(np.median(left)), float(np.median(right))
        if not min(beyond[1:]) <= beyond[0] <= max(beyond[1:]):
            nearer = abs(beyond[0] - beyond[1]) < abs(beyond[0] - beyond[2])
            left, right = (lip, right) if nearer else (left, lip)
    return (left + right) / 2.0


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
