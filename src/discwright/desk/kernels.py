"""The compiled loops that draw a tile, cached like those of the groove.

Along the radius every pixel is exact: the walls of each turn near it are straight pieces of light, and what a tent
over the pixel sees of them is a closed formula. Lines thinner than a pixel keep their weight; where turns lie closer
than two pixels the tent is a whole number of turns wide, so that even turns leave neither dots nor false rings.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numba
import numpy as np
from numba import njit

from discwright.kernel_cache import kernel_folder

#: Columns of `rows`, each followed by its rise per second where it is straight in time: s, m, m, m, 0 to 1; then s per
#: m inward, and m.
TIME, RADIUS, DEPTH, WANDER, BARE, TIME_INWARD, SPACING = 0, 1, 3, 5, 7, 9, 10
#: Entries of `span`: s, s, steps per s, m, steps per m.
BEGIN, END, TIME_STEPS, INWARD, INWARD_STEPS = range(5)

#: Light from anywhere on the disc, 1.0 is white paper; the groove's shares as in the picture of the disc.
LAND_LIGHT = 0.012
GROOVE_LIGHT, GROOVE_FLASH = 0.009, 0.24
SWING_LIGHT, SWING_FLASH = 0.230, 0.33
LONE_LIGHT = 0.20
NARROW, WIDE = 16.0, 3.5
#: How much brighter than both together the wall is that faces the light, and an edge than the bottom.
_RELIEF, _HOLLOW = 0.75, 0.5
#: From 1 µm a pixel on, and less and less up to 16, even a silent groove can be told from land: light of both walls
#: together, and of the darker one and its bottom over that of land.
_QUIET, _WALL_LEAST, _BOTTOM_LEAST = 0.04, 2.2, 1.4
_COARSE = 16e-6
#: How much more the slope of an edge turns a wall than it does in truth.
_SLOPE = 2.0
#: Shade of the walls under a tint: of both, of the one that faces the light less, of the bottom more.
_TINT_WALL, _TINT_RELIEF, _TINT_HOLLOW = 0.34, 0.18, 0.30

_folder = kernel_folder(__file__, numba.__version__)
_config: Any = numba.config
_kept_folder = _config.CACHE_DIR
if _folder is not None:
    _config.CACHE_DIR = str(_folder)


def _kernel(function: Callable[..., Any]) -> Any:
    return njit(cache=_folder is not None, nogil=True)(function)


def _part(function: Callable[..., Any]) -> Any:
    """A piece of a loop, written into it: a call for each turn of each pixel, with all its arrays, costs a third."""
    return njit(nogil=True, inline="always")(function)


@_kernel
def tent(u):  # type: ignore[no-untyped-def]
    """What share of a tent from -1 to 1 lies below `u`."""
    if u <= -1.0:
        return 0.0
    if u >= 1.0:
        return 1.0
    return 0.5 * (1.0 + u) * (1.0 + u) if u < 0.0 else 1.0 - 0.5 * (1.0 - u) * (1.0 - u)


@_kernel
def tent_sum(u):  # type: ignore[no-untyped-def]
    """Integral of `tent` up to `u`."""
    if u <= -1.0:
        return 0.0
    if u >= 1.0:
        return u
    return (1.0 + u) * (1.0 + u) * (1.0 + u) / 6.0 if u < 0.0 else u + (1.0 - u) * (1.0 - u) * (1.0 - u) / 6.0


@_kernel
def ramp_seen(a, b, at_a, at_b):  # type: ignore[no-untyped-def]
    """What a tent from -1 to 1 sees of a piece from `a` to `b` whose light runs straight from `at_a` to `at_b`."""
    if b <= a or b <= -1.0 or a >= 1.0:
        return 0.0
    slope = (at_b - at_a) / (b - a)
    if a <= -1.0 and b >= 1.0:
        return at_a - slope * a
    return at_b * tent(b) - at_a * tent(a) - slope * (tent_sum(b) - tent_sum(a))


@_kernel
def tent_width(spacing, pixel):  # type: ignore[no-untyped-def]
    """Half-width of the tent that a pixel looks through, where turns lie `spacing` apart."""
    p = spacing / pixel
    if p >= 6.0:
        return 0.6 * pixel
    if p >= 3.0:
        return (1.0 - 0.4 * (p - 3.0) / 3.0) * pixel
    if p >= 2.0:
        return (4.0 - p) * pixel
    return math.ceil(pixel / spacing) * spacing


@_part
def row_at(values, table, steps, value):  # type: ignore[no-untyped-def]
    """Index of the last of rising `values` not above `value`, and not the last of all.

    `table` has it for even steps, `steps` is how many of them go into 1.
    """
    last = values.shape[0] - 2
    if value <= values[0]:
        return 0
    if value >= values[last + 1]:
        return last
    k = table[int((value - values[0]) * steps)]
    while k > 0 and values[k] > value:
        k -= 1
    while k < last and values[k + 1] <= value:
        k += 1
    return k


@_part
def time_at(radius, rows, inward, inward_table, span):  # type: ignore[no-untyped-def]
    """When the spiral stands at a radius, wherever on the disc; its ends beyond them."""
    k = row_at(inward, inward_table, span[INWARD_STEPS], -radius)
    time = rows[k, TIME] + (-radius - inward[k]) * rows[k, TIME_INWARD]
    return min(max(time, span[BEGIN]), span[END])


@_part
def both_edges(edges, at):  # type: ignore[no-untyped-def]
    """Inner and outer edge and the rise of each per sample, by the cubic through the four nearest samples.

    Still before the first and after the last.
    """
    first = math.floor(at)
    t = at - first
    n = edges.shape[0]
    if first < -2 or first > n:
        return 0.0, 0.0, 0.0, 0.0
    inner, outer, rise_in, rise_out = 0.0, 0.0, 0.0, 0.0
    # What each sample counts, and its part of the rise.
    t2 = t * t
    for k in range(4):
        at_k = first - 1 + k
        if 0 <= at_k < n:
            if k == 0:
                part, rise = t * (-1.0 + t * (2.0 - t)), -1.0 + t * (4.0 - 3.0 * t)
            elif k == 1:
                part, rise = 2.0 + t2 * (3.0 * t - 5.0), t * (9.0 * t - 10.0)
            elif k == 2:
                part, rise = t * (1.0 + t * (4.0 - 3.0 * t)), 1.0 + t * (8.0 - 9.0 * t)
            else:
                part, rise = t2 * (t - 1.0), t * (3.0 * t - 2.0)
            half_in, half_out = 0.5 * np.float64(edges[at_k, 0]), 0.5 * np.float64(edges[at_k, 1])
            inner, outer = inner + part * half_in, outer + part * half_out
            rise_in, rise_out = rise_in + rise * half_in, rise_out + rise * half_out
    return inner, outer, rise_in, rise_out


@_kernel
def facing(straight, along, slope):  # type: ignore[no-untyped-def]
    """How far a wall that looks outward faces the light, -1 to 1.

    `straight` and `along` are the light's parts outward and along the groove; the `slope` of the edge turns the wall.
    """
    return min(max(straight - _SLOPE * slope * along, -1.0), 1.0)


@_part
def turns_near(r, k, angle, wide, rows, inward, inward_table, span, turn_time):  # type: ignore[no-untyped-def]
    """First and last turn that can matter within `wide` of a radius, the nearest on either side among them.

    `k` is the row of the radius.
    """
    here = rows[k, TIME] + (-r - inward[k]) * rows[k, TIME_INWARD]
    outside = math.floor(min(max(here, span[BEGIN]), span[END]) / turn_time - angle)
    first = time_at(r + wide, rows, inward, inward_table, span) / turn_time - angle
    last = time_at(r - wide, rows, inward, inward_table, span) / turn_time - angle
    # Turns before the first and after the last are not there.
    first, last = min(math.ceil(first - 1e-9), outside), max(math.floor(last + 1e-9), outside + 1)
    if (first + angle) * turn_time < span[BEGIN]:
        first += 1
    if (last + angle) * turn_time > span[END]:
        last -= 1
    return first, last


@_part
def groove_at(t, r, wide, rows, time, time_table, span, edges, rate, swing):  # type: ignore[no-untyped-def]
    """Row, time since it, half width at rest, inner and outer edge from a radius, and the rise of both per sample.

    The music is left out where the groove lies further off than `wide`.
    """
    k = row_at(time, time_table, span[TIME_STEPS], t)
    late = t - time[k]
    middle = rows[k, RADIUS] + rows[k, RADIUS + 1] * late - r
    half = rows[k, DEPTH] + rows[k, DEPTH + 1] * late
    if swing <= 0.0 or abs(middle) > half + swing + wide:
        return k, late, half, middle - half, middle + half, 0.0, 0.0
    inner, outer, rise_in, rise_out = both_edges(edges, t * rate)
    return k, late, half, middle - half + inner, middle + half + outer, rise_in, rise_out


@_kernel
def coat_at(r, cover, pixel, coat):  # type: ignore[no-untyped-def]
    """Index of label, hole and what is beyond the rim; -1 on the vinyl.

    `coat` holds rim, label, hole and edge, m, then the first index and the number of each run: rim, hole, label.
    """
    rim, label, hole, edge = coat[0], coat[1], coat[2], coat[3]
    if r > rim - 0.5 * pixel:
        share = min(max((rim - r) / pixel + 0.5, 0.0), 1.0)
        return int(coat[4]) + round(share * (coat[5] - 1))
    if r > label + 0.5 * pixel:
        return -1
    if r < hole + 0.5 * pixel:
        share = min(max((r - hole) / pixel + 0.5, 0.0), 1.0)
        return int(coat[6]) + round(share * (coat[7] - 1))
    s = 0.6 * min(max((label - r) / pixel + 0.5, 0.0), 1.0)
    s += 0.4 * min(max((label - edge - r) / pixel + 0.5, 0.0), 1.0)
    s -= 0.4 * min(max((hole + edge - r) / pixel + 0.5, 0.0), 1.0)
    return int(coat[8]) + round(s * (1.0 - 0.7 * cover) * (coat[9] - 1))


@_kernel
def vinyl(out, corner, groove, music, light, walls, coat, shine, tone, hidden):  # type: ignore[no-untyped-def]
    """Draw a tile as vinyl under a raking light.

    Parameters
    ----------
    out : (h, w) uint8, filled with indices of the palette
    corner : m, left and top from the disc's centre, and side of a pixel
    groove : the spiral: rows (N, 11) float64, see the columns above; time (N,) float64, the first of them; its rows at
        even steps (M+1,) int32; inward (N,) float64, negative radius, rising without steps; its rows at even steps;
        span (5,) float64, see the entries above; s of a turn; m, the deepest groove at rest
    music : edges (frames, 2) float32, m; Hz; m, the farthest an edge moves, 0 where the edges are not to be looked at
    light : (2,) float64, where it comes from
    walls : bool, walls apart from each other
    coat : (10,) float64, see `coat_at`
    shine : (steps, 2) float64, light of still and of swung grooves, over how squarely they lie to the light
    tone : (steps,) uint8, index over the root of the light
    hidden : (h, w) float32, from 1 on nothing is seen of the vinyl; index 255 is put there
    """
    left, top, pixel = corner
    rows, time, time_table, inward, inward_table, span, turn_time, reach = groove
    edges, rate, swing = music
    deep = min(max(0.25 * math.log2(_COARSE / pixel), 0.0), 1.0)
    for i in range(out.shape[0]):
        y = top + (i + 0.5) * pixel
        for j in range(out.shape[1]):
            x = left + (j + 0.5) * pixel
            r = math.sqrt(x * x + y * y)
            if r > coat[0] + 0.5 * pixel:
                out[i, j] = int(coat[4])
                continue
            if hidden[i, j] >= 1.0 and coat_at(r, 0.0, pixel, coat) < 0:
                out[i, j] = 255
                continue
            straight = (x * light[0] + y * light[1]) / max(r, 1e-12)
            along = (y * light[0] - x * light[1]) / max(r, 1e-12)
            shone = int(straight * straight * (shine.shape[0] - 1) + 0.5)
            still, swung = shine[shone, 0], shine[shone, 1]
            here = row_at(inward, inward_table, span[INWARD_STEPS], -r)
            w = tent_width(rows[here, SPACING], pixel)
            angle = math.atan2(-x, -y) / (2.0 * math.pi)
            per_w, per_way = 1.0 / w, rate * turn_time / (2.0 * math.pi * max(r, 1e-12))
            first, last = turns_near(r, here, angle, w + reach + swing, rows, inward, inward_table, span, turn_time)
            seen, cover, limit = LAND_LIGHT, 0.0, np.inf
            for turn in range(first, last + 1):
                k, late, half, inner, outer, rise_in, rise_out = groove_at(
                    (turn + angle) * turn_time, r, w, rows, time, time_table, span, edges, rate, swing
                )
                # A groove that runs into its neighbour covers nothing twice.
                outer = min(outer, limit)
                inner = min(inner, outer)
                limit = inner
                a, b = inner * per_w, outer * per_w
                part = tent(b) - tent(a)
                if part <= 0.0:
                    continue
                cover += part
                glow = still + LONE_LIGHT * (rows[k, BARE] + rows[k, BARE + 1] * late)
                glow += swung * (rows[k, WANDER] + rows[k, WANDER + 1] * late) / (2.0 * half)
                seen -= LAND_LIGHT * part
                if walls:
                    glow = max(glow, _QUIET * deep)
                    relief = min(_RELIEF, 1.0 - _WALL_LEAST * LAND_LIGHT * deep / glow)
                    high = glow * (1.0 + relief * facing(straight, along, rise_in * per_way))
                    low = glow * (1.0 - relief * facing(straight, along, rise_out * per_way))
                    bottom = 0.5 * (a + b)
                    hollow = min(_HOLLOW, 1.0 - _BOTTOM_LEAST * LAND_LIGHT * deep / high)
                    seen += ramp_seen(a, bottom, high * (1.0 + hollow), high * (1.0 - hollow))
                    hollow = min(_HOLLOW, 1.0 - _BOTTOM_LEAST * LAND_LIGHT * deep / low)
                    seen += ramp_seen(bottom, b, low * (1.0 - hollow), low * (1.0 + hollow))
                else:
                    seen += glow * part
            index = coat_at(r, cover, pixel, coat)
            if index < 0:
                index = tone[int(math.sqrt(min(max(seen, 0.0), 1.0)) * (tone.shape[0] - 1) + 0.5)]
            out[i, j] = index


@_part
def sector_at(time, steps, t):  # type: ignore[no-untyped-def]
    """Sector that a time lies in, -1 beyond the ends; `steps` go into a second, even but for one or two."""
    last = time.shape[0] - 2
    if t < time[0] or t > time[last + 1]:
        return -1
    k = min(int((t - time[0]) * steps), last)
    while k > 0 and time[k] > t:
        k -= 1
    while k < last and time[k + 1] <= t:
        k += 1
    return k


@_kernel
def tint(value, known, over, shade, corner, groove, music, light, dark, within, said):  # type: ignore[no-untyped-def]
    """What a layer says at each pixel: of the nearest turn, or the mean of all turns in the pixel.

    What lies beyond the limit anywhere in a pixel is never lost in the mean.

    Parameters
    ----------
    value, known : (h, w) float32, filled: 0 to 1 along the ramp, and how much of the pixel has a value
    over : (h, w) bool, filled: beyond the limit
    shade : (h, w) float32, filled: 1 on land, less on the walls
    corner, groove, music, light : as for `vinyl`
    dark : 0 to 1, how much of the walls is shown
    within : (2,) float64, m, least and greatest radius of a pixel that is looked at
    said : bounds of the sectors (K+1,) float64, s; 0 to 1 along the ramp (K,) float32, nan where a sector has no
        value; whether it is beyond the limit (K,) bool
    """
    left, top, pixel = corner
    rows, time, time_table, inward, inward_table, span, turn_time, reach = groove
    edges, rate, swing = music
    sector_time, place, beyond = said
    sectors = 1.0 / (sector_time[1] - sector_time[0])
    for i in range(value.shape[0]):
        y = top + (i + 0.5) * pixel
        for j in range(value.shape[1]):
            x = left + (j + 0.5) * pixel
            r = math.sqrt(x * x + y * y)
            value[i, j], known[i, j], over[i, j], shade[i, j] = 0.0, 0.0, False, 1.0
            if r <= max(within[0], 0.0) or r > within[1]:
                continue
            straight = (x * light[0] + y * light[1]) / r
            along = (y * light[0] - x * light[1]) / r
            here = row_at(inward, inward_table, span[INWARD_STEPS], -r)
            w = tent_width(rows[here, SPACING], pixel)
            angle = math.atan2(-x, -y) / (2.0 * math.pi)
            per_w, per_way = 1.0 / w, rate * turn_time / (2.0 * math.pi * r)
            pixel_w = 0.5 * pixel * per_w
            first, last = turns_near(r, here, angle, w + reach + swing, rows, inward, inward_table, span, turn_time)
            seen, limit, high, share, total, bad, bad_total, sector = 1.0, np.inf, np.inf, 0.0, 0.0, 0, 0.0, -1
            for turn in range(first, last + 2):
                a, low = 0.0, -np.inf
                if turn <= last:
                    _, _, _, inner, outer, rise_in, rise_out = groove_at(
                        (turn + angle) * turn_time, r, np.inf, rows, time, time_table, span, edges, rate, swing
                    )
                    b = min(outer * per_w, limit)
                    a = min(inner * per_w, b)
                    low = 0.5 * (limit + b)
                    limit = a
                    if dark > 0.0 and a < 1.0 and b > -1.0:
                        lit = dark * (_TINT_WALL - _TINT_RELIEF * facing(straight, along, rise_in * per_way))
                        unlit = dark * (_TINT_WALL + _TINT_RELIEF * facing(straight, along, rise_out * per_way))
                        bottom = 0.5 * (a + b)
                        seen -= ramp_seen(a, bottom, lit * (1.0 - _TINT_HOLLOW), lit * (1.0 + _TINT_HOLLOW))
                        seen -= ramp_seen(bottom, b, unlit * (1.0 + _TINT_HOLLOW), unlit * (1.0 - _TINT_HOLLOW))
                # The turn before this one ends half way across the land between the two.
                if turn > first:
                    if sector >= 0 and not math.isnan(place[sector]):
                        part = tent(high) - tent(low)
                        share += part
                        total += part * place[sector]
                        if beyond[sector] and low < pixel_w and high > -pixel_w:
                            bad += 1
                            bad_total += place[sector]
                    high = low
                if turn <= last:
                    sector = sector_at(sector_time, sectors, (turn + angle) * turn_time)
            if bad > 0:
                value[i, j], known[i, j], over[i, j] = bad_total / bad, 1.0, True
            elif share > 0.0:
                value[i, j], known[i, j] = total / share, 1.0 if share > 0.998 else share
            shade[i, j] = seen


@_kernel
def lay_tint(out, palette, indices, first, value, known, over, shade, ramp, at, period, line, ink):  # type: ignore[no-untyped-def]
    """Lay a tint over a tile.

    Parameters
    ----------
    out : (h, w, 4) uint8, filled
    palette : (256, 4) uint8
    indices : (h, w) uint8, as `vinyl` gives them; paper and label, below `first`, are left as they are
    value, known, over, shade : (h, w), as `tint` gives them
    ramp : (steps, 3) float64, 0 to 255
    at : px, where the hatching has got to at the upper left corner
    period, line : px, from line to line of the hatching along a row, and of the line
    ink : (3,) float64
    """
    for i in range(out.shape[0]):
        for j in range(out.shape[1]):
            index = indices[i, j]
            share = known[i, j] if index >= first else 0.0
            step = int(value[i, j] * (ramp.shape[0] - 1) + 0.5)
            inked = over[i, j] and (at + i + j) % period < line
            for c in range(3):
                colour = ink[c] if inked else ramp[step, c] * shade[i, j]
                out[i, j, c] = int(palette[index, c] * (1.0 - share) + colour * share + 0.5)
            out[i, j, 3] = palette[index, 3]


_config.CACHE_DIR = _kept_folder
