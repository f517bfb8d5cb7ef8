"""The microscope: width, land and pitch of the grooves in a photograph of cut lacquer.

    find_direction → lay_stations → find_edges → straighten → choose_stripes → measure

Lengths are metres, places in the picture are px from its left and upper border.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from discwright.errors import CallError
from discwright.inspection.gauge_edges import Edges, find_edges
from discwright.inspection.gauge_stations import Float, Stations, find_direction, lay_stations
from discwright.inspection.gauge_straight import Spread, Straight, spread, straighten
from discwright.inspection.gauge_stripes import Shade, Stripes, choose_stripes, need_grooves
from discwright.units import lines_per_inch

#: Smallest picture in which grooves are looked for, px, and least span of its greys (1 = white).
LEAST_SIDE, _LEAST_GREY = 64, 0.01
#: Widths that a groove on a disc can have, m: below the least of the standards, above the widest of coarse grooves.
POSSIBLE_WIDTH = (20e-6, 400e-6)
#: Coherence of all grey steps below which nothing runs one way (waves as steep as they can be cut have 0.25).
_COHERENT = 0.12
#: Widest blur against the narrowest groove and land, and what a step takes of it from a tenth to nine tenths.
_GROOVE_BLURRED, _LAND_BLURRED, _RISE = 0.3, 0.5, 2.563


@dataclass(frozen=True)
class Groove:
    """One groove.

    Attributes
    ----------
    center : float, m
        Where its centre line crosses the picture's middle row, from the left border; of lying grooves the middle
        column, from the upper border.
    width, narrowest, widest : float, m
        At the surface, square to the groove: mean along it, and extremes.
    left, right : ndarray, shape (places, 2), px
        Its edges in the picture: column, row.
    """

    center: float
    width: float
    narrowest: float
    widest: float
    left: Float
    right: Float


@dataclass(frozen=True)
class Gauged:
    """What a photograph says.

    Attributes
    ----------
    grooves : tuple of Groove
        Those that lie whole in the picture, from the left (top) on.
    width : Spread
        Of all grooves, along all their length.
    land : Spread or None
        Between neighbouring grooves; None where there is only one.
    pitch : float or None, m
        Mean distance of neighbouring centre lines, square to them.
    tilt : float, rad
        Positive where the grooves are turned clockwise against the picture's border.
    upright : bool
        They run nearly from top to bottom.
    shade : {"darker", "lighter"}
        Walls against land.
    odds : float
        Natural logarithm of how much likelier that shade is than the other; infinite where it was given.
    bottom_lines : bool
    blur : float, m
        Standard deviation.
    pixel : float, m
    """

    grooves: tuple[Groove, ...]
    width: Spread
    land: Spread | None
    pitch: float | None
    tilt: float
    upright: bool
    shade: Shade
    odds: float
    bottom_lines: bool
    blur: float
    pixel: float

    def as_dict(self) -> dict[str, Any]:
        """What was measured, as plain JSON values, to a thousandth of a micrometre."""
        land = self.land
        return {
            "grooves": [
                {
                    "center_um": _um(one.center), "width_um": _um(one.width), "narrowest_um": _um(one.narrowest),
                    "widest_um": _um(one.widest),
                }
                for one in self.grooves
            ],
            "width_um": {
                "mean": _um(self.width.mean), "std": _um(self.width.std), "min": _um(self.width.least),
                "max": _um(self.width.greatest),
            },
            "land_um": {
                "mean": None if land is None else _um(land.mean), "min": None if land is None else _um(land.least),
            },
            "pitch_um": None if self.pitch is None else _um(self.pitch),
            "tilt_deg": round(math.degrees(self.tilt), 4) + 0.0,
            "lines_per_inch": None if self.pitch is None else round(lines_per_inch(self.pitch), 2),
            "runs": "upright" if self.upright else "lying",
            "walls": self.shade,
            "bottom_lines": self.bottom_lines,
            "blur_um": _um(self.blur),
            "um_per_pixel": round(self.pixel * 1e6, 6),
        }  # fmt: skip


def _um(length: float) -> float:
    return round(length * 1e6, 3)


def gauge(
    picture: NDArray[np.float32], pixel: float, expected: float | None = None, shade: Shade | None = None
) -> Gauged:
    """Measure the grooves in a photograph.

    Parameters
    ----------
    picture : ndarray, shape (rows, columns)
        Grey, 1 = white.
    pixel : float, m
        Size of a pixel on the lacquer.
    expected : float, m, optional
        Width the grooves should have; it only helps to tell grooves from land.
    shade : {"darker", "lighter"}, optional
        Walls against land, where the picture does not give it away.

    Returns
    -------
    Gauged

    Raises
    ------
    CallError
        If no whole groove is to be seen, or the picture is too small, too dull, too blurred, or its scale impossible.
    """
    look_at(picture)
    direction = find_direction(picture)
    if direction.coherence < _COHERENT:
        raise CallError(
            "no groove is to be seen: nothing in the photograph runs one way; take one that is sharp on the surface "
            "of the lacquer and shows a few turns."
        )
    standing = picture if direction.upright else np.ascontiguousarray(picture.T)
    stations = lay_stations(standing, direction.slope)
    edges = find_edges(stations, direction.slope)
    if len(edges.up) < 2:
        need_grooves(None, len(edges.up))
    rows, columns = standing.shape
    seen = straighten(edges, stations, columns, rows, pixel)
    step = np.median(np.abs(edges.right - edges.left), axis=1)
    found = choose_stripes(seen.across, edges.up, step, _bumps(stations, edges, step), expected, shade)
    stripes = need_grooves(found, len(edges.up))
    _check(edges, seen, stripes, pixel)
    return _measured(edges, stations, seen, stripes, columns, pixel, direction.upright)


def look_at(picture: NDArray[np.float32]) -> None:
    """See that a picture shows anything.

    Parameters
    ----------
    picture : ndarray, shape (rows, columns)

    Raises
    ------
    CallError
    """
    rows, columns = picture.shape
    if min(rows, columns) < LEAST_SIDE:
        raise CallError(
            f"the photograph has only {columns} × {rows} pixels; take one of at least {LEAST_SIDE} × {LEAST_SIDE}."
        )
    dark, light = (float(one) for one in np.percentile(picture[:: max(1, rows // 300)], (1.0, 99.0)))
    if light - dark < _LEAST_GREY:
        word = "black" if light < 0.05 else "white" if dark > 0.95 else "of one grey"
        raise CallError(f"the photograph is all {word}; light the lacquer so that grooves and land differ.")


def _bumps(stations: Stations, edges: Edges, step: Float) -> Float:
    """Of the stripe between each edge and the next: how far its middle differs from its borders, against its steps."""
    part = np.linspace(0.45, 0.55, 5)[:, None, None]
    at = edges.place[:-1] + part * np.diff(edges.place, axis=0)
    column = np.clip(at.astype(np.int64), 0, stations.profile.shape[1] - 1)
    middle = np.median(stations.profile[np.arange(stations.profile.shape[0]), column], axis=0)
    border = (edges.right[:-1] + edges.left[1:]) / 2.0
    result: Float = np.median(middle - border, axis=1) / ((step[:-1] + step[1:]) / 2.0)
    return result


def _check(edges: Edges, seen: Straight, stripes: Stripes, pixel: float) -> None:
    """See that the grooves can be grooves, and are sharp enough to be measured."""
    width = [float(np.nanmean(seen.between(a, b))) for a, b in stripes.grooves]
    mean = float(np.mean(width))
    if not POSSIBLE_WIDTH[0] <= mean <= POSSIBLE_WIDTH[1]:
        raise CallError(
            f"the grooves would be {mean * 1e6:.3g} µm wide at {pixel * 1e6:g} µm a pixel, which no groove is; check "
            "the scale, or photograph a stage micrometer."
        )
    lands = [float(np.nanmean(seen.between(a, b))) for a, b in stripes.lands]
    rise = _RISE * edges.blur * pixel
    for what, narrow, share in (
        ("groove", min(width), _GROOVE_BLURRED),
        ("land", min(lands, default=1.0), _LAND_BLURRED),
    ):
        if rise > share * narrow:
            raise CallError(
                f"the photograph is too blurred: an edge takes {rise * 1e6:.3g} µm from dark to light, and the "
                f"narrowest {what} has {narrow * 1e6:.3g} µm; focus on the surface of the lacquer."
            )


def _measured(
    edges: Edges, stations: Stations, seen: Straight, stripes: Stripes, columns: int, pixel: float, upright: bool
) -> Gauged:
    angle = math.atan(seen.slope)
    widths = [seen.between(a, b) for a, b in stripes.grooves]
    centres = [seen.middle(a, b) for a, b in stripes.grooves]
    grooves = []
    for (a, b), width, centre in zip(stripes.grooves, widths, centres, strict=True):
        one = spread([width])
        lines = (_line(edges.place[k], stations, upright) for k in (a, b))
        place = columns / 2.0 * pixel + centre / math.cos(angle)
        grooves.append(Groove(place, one.mean, one.least, one.greatest, *lines))
    steps = [centres[k + 1] - centres[k] for k, joined in enumerate(stripes.joined) if joined]
    lands = [seen.between(a, b) for a, b in stripes.lands]
    return Gauged(
        tuple(grooves), spread(widths), spread(lands) if lands else None, float(np.mean(steps)) if steps else None,
        -angle if upright else angle, upright, stripes.shade, stripes.odds, stripes.bottom_lines, edges.blur * pixel,
        pixel,
    )  # fmt: skip


def _line(place: Float, stations: Stations, upright: bool) -> Float:
    pair = (place, stations.row)
    return np.stack(pair if upright else pair[::-1], axis=1)
