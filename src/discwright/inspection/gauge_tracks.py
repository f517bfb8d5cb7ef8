"""Steps of grey followed from one border of a photograph to the other, past dust that hides or bends them.

Whoever was followed longest chooses first among the steps of the next station, and strays no further from where it
was going than it did of late: a hair that touches an edge does not lead it away. Where a speck did, the piece that
begins behind it is joined on by the smoothest curve.
"""

from __future__ import annotations

import math
from bisect import bisect
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from discwright.inspection.gauge_stations import Float, Stations

#: A step counts from this many standard deviations of the noise, and from this share of the steepest.
_ABOVE_NOISE, _ABOVE_STEEPEST = 5.0, 0.15
#: A steep place is so many times as steep as one of the places this many columns away on either side.
_STEEPER, _AROUND = 1.2, (6, 12, 18)
#: An edge must be seen at this share of the stations, and near both ends of the picture.
_SEEN, _NEAR_END = 0.5, 0.04
#: Stations an edge may be lost for (dust), columns it may stray by at the least, and how fast its pace and what
#: surprises it are learnt: slowly, so that a hair that touches an edge does not lead it away.
_LOST, _GATE, _LEARNS, _CALMS = 40, 0.8, 0.1, 0.15
#: Stations in a piece of an edge, columns by which two pieces may miss each other and a smooth curve both of them, and
#: stations at the end of the first that may have been led away.
_PIECE, _NEAR, _JOIN, _SPARED = 6, 15.0, 1.5, (0, 6, 12, 20)
#: No edge may be lost so near to the border, px.
_BORDER = 8.0


@dataclass
class Track:
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

    def misses(self, piece: Track, spared: int) -> float:
        """How badly one smooth curve goes through what was seen before the last `spared` stations and another piece."""
        end = len(self.station) - spared
        span, begin = slice(max(0, end - 2 * _PIECE), end), slice(0, 2 * _PIECE)
        station = np.array(self.station[span] + piece.station[begin], dtype=np.float64) - piece.station[0]
        column = np.array(self.column[span] + piece.column[begin])
        away = column - np.polyval(np.polyfit(station, column, 3), station)
        return float(np.sqrt(np.mean(away * away)))

    def join(self, piece: Track, spared: int) -> None:
        """Go on with another piece; the last `spared` stations of this one were led away."""
        end = len(self.station) - spared
        first = next((k for k, at in enumerate(piece.station) if at > self.station[end - 1]), 0)
        self.station[end:] = piece.station[first:]
        self.column[end:] = piece.column[first:]
        self.steep[end:] = piece.steep[first:]
        self.pace, self.surprise = piece.pace, piece.surprise


def follow(stations: Stations, slope: float) -> tuple[list[Track], Float]:
    """Follow every step of grey that runs through the picture.

    Parameters
    ----------
    stations : Stations
    slope : float
        Columns per row, about.

    Returns
    -------
    tracks : list of Track
        From left to right.
    places : ndarray, shape (tracks, stations), px
        From the border of the picture; gaps are bridged.
    """
    return _whole(_link(stations, slope), stations)


def _link(stations: Stations, slope: float) -> list[Track]:
    """Steep places of neighbouring stations that lie nearest to each other, one step after another."""
    done: list[Track] = []
    alive: list[Track] = []
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
        alive += [Track(up, [station], [x], [s], drift, stations.step / 2.0) for up, x, s in new]
    return _stitched(done + alive, stations)


def _stitched(tracks: list[Track], stations: Stations) -> list[Track]:
    """Pieces of one edge joined where a speck broke it: one begins where another led before it was led away."""
    pieces = sorted((one for one in tracks if len(one.station) >= _PIECE), key=lambda one: one.station[0])
    whole: list[Track] = []
    for piece in pieces:
        start = piece.station[0]
        near = [
            one
            for one in whole
            if one.up == piece.up
            and -_PIECE < start - one.station[-1] <= _LOST
            and abs(one.column[-1] - piece.column[0]) < _NEAR + stations.step * abs(start - one.station[-1])
        ]
        misses = [
            (one.misses(piece, spared), spared, k)
            for k, one in enumerate(near)
            for spared in _SPARED
            if len(one.station) >= spared + _PIECE
        ]
        miss, spared, k = min(misses, default=(math.inf, 0, 0))
        if miss <= _JOIN:
            near[k].join(piece, spared)
        else:
            whole.append(piece)
    return whole


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
    # A shade that grows evenly has no steepest place: on both sides of one it must be flatter.
    wide = np.pad(size, ((0, 0), (_AROUND[-1], _AROUND[-1])), mode="edge")
    for side in (-1, 1):
        beyond = [_AROUND[-1] + side * k for k in _AROUND]
        flat = np.min([wide[:, k + 1 : k - 1 + size.shape[1]] for k in beyond], axis=0)
        peak &= middle > _STEEPER * flat
    station, column = np.nonzero(peak)
    column += 1
    before, here, after = (size[station, column + k] for k in (-1, 0, 1))
    bend = before - 2.0 * here + after
    fine = column + 0.5 + np.where(bend < 0.0, 0.5 * (before - after) / np.where(bend < 0.0, bend, -1.0), 0.0)
    cuts = np.searchsorted(station, np.arange(1, len(rise)))
    pairs = zip(np.split(fine, cuts), np.split(rise[station, column], cuts), strict=True)
    return [(a.tolist(), b.tolist()) for a, b in pairs]


def _whole(tracks: list[Track], stations: Stations) -> tuple[list[Track], Float]:
    """Those that run from one border to the other without leaving the picture, from left to right, and their places."""
    count, columns = stations.profile.shape
    end = max(2, round(_NEAR_END * count))
    every = np.arange(count)
    found: list[tuple[Track, Float]] = []
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


def _drop_crossing(found: list[tuple[Track, Float]]) -> None:
    """Of two that cross take away the one that leans more against all others: a hair, not an edge."""
    while len(found) > 1:
        lean = np.array([place[-1] - place[0] for _, place in found])
        crossing = [k for k, (a, b) in enumerate(pairwise(found)) if float((b[1] - a[1]).min()) <= 0.0]
        if not crossing:
            return
        away = np.abs(lean - np.median(lean))
        del found[max((one for k in crossing for one in (k, k + 1)), key=lambda one: float(away[one]))]
