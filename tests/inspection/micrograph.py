"""Micrographs drawn for the tests: grooves of known width in known light, through a microscope of known faults.

It shares no code with the gauge. Edges are drawn as curves: points along each groove are turned into the picture and
read off at every row, and a pixel has the share of each side that its edge leaves it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

Float = NDArray[np.float64]


@dataclass(frozen=True)
class Drawn:
    """How a micrograph is drawn; lengths in µm, greys from 0 to 1.

    Attributes
    ----------
    size : (int, int)
        Columns and rows, px.
    widths : tuple of float
        Of the grooves, again and again.
    pitches : tuple of float
        From one centre line to the next, again and again.
    tilt_deg : float
        Clockwise.
    lying : bool
        The grooves run from left to right.
    walls, land : float
        Greys.
    bottom : (float, float) or None
        Width and grey of a line along the middle.
    lip : (float, float) or None
        Width and grey of a line on the land along each edge.
    shading : float
        Grey that the walls lose (or win) from the edge to the middle.
    lateral, vertical : (float, float)
        Amplitude and wavelength of waves that move both edges together, and against each other (half the width's).
    in_phase : bool
        All grooves have the same waves.
    blur : float, px
    noise : float
        Of the step from land to wall.
    gradient, vignette : float
        Light lost from one corner to the other, and from the middle to the corners.
    specks : int
    hairs : int
    """

    um_per_pixel: float = 0.5
    size: tuple[int, int] = (1200, 900)
    widths: tuple[float, ...] = (56.0,)
    pitches: tuple[float, ...] = (130.0,)
    first: float = 37.0
    tilt_deg: float = 0.0
    lying: bool = False
    walls: float = 0.3
    land: float = 0.7
    bottom: tuple[float, float] | None = None
    lip: tuple[float, float] | None = None
    shading: float = 0.0
    lateral: tuple[float, float] = (0.0, 200.0)
    vertical: tuple[float, float] = (0.0, 200.0)
    in_phase: bool = False
    blur: float = 1.0
    noise: float = 0.03
    gradient: float = 0.2
    vignette: float = 0.0
    specks: int = 10
    hairs: int = 0
    seed: int = 1


@dataclass(frozen=True)
class Shown:
    """What a micrograph shows, µm: of the grooves that lie whole in it."""

    picture: NDArray[np.float32]
    centers: Float
    widths: Float
    pitch: float
    lands: Float


def draw(drawn: Drawn) -> Shown:
    """Draw a micrograph and say what is in it."""
    rng = np.random.default_rng(drawn.seed)
    columns, rows = drawn.size[::-1] if drawn.lying else drawn.size
    # A lying picture is an upright one with rows and columns exchanged, which turns clockwise into anticlockwise.
    angle = np.radians(drawn.tilt_deg if drawn.lying else -drawn.tilt_deg)
    um = drawn.um_per_pixel
    reach = (rows + columns) * um
    along = np.arange(-reach, reach, 0.5 * um)
    picture = np.full((rows, columns), drawn.land)
    numbers = np.arange(-400, 400)
    centre = drawn.first - columns * um / 2 + np.concatenate([[0.0], np.cumsum([
        drawn.pitches[k % len(drawn.pitches)] for k in numbers[:-1]
    ])])  # fmt: skip
    centre -= centre[400] - (drawn.first - columns * um / 2)
    whole: list[tuple[float, float, float]] = []
    for k, middle in zip(numbers, centre, strict=True):
        if abs(middle) > reach:
            continue
        width = drawn.widths[k % len(drawn.widths)]
        phases = rng.uniform(0, 2 * np.pi, 2) if not drawn.in_phase else np.zeros(2)
        sway = drawn.lateral[0] * np.sin(2 * np.pi * along / drawn.lateral[1] + phases[0])
        swell = drawn.vertical[0] * np.sin(2 * np.pi * along / drawn.vertical[1] + phases[1])
        left, right = middle + sway - width / 2 - swell, middle + sway + width / 2 + swell
        edges = [_at_rows(one, along, angle, (rows, columns), um) for one in (left, right)]
        if all(one.min() > 1.0 and one.max() < columns - 1.0 for one in edges):
            mean = float(np.mean((right - left)[np.abs(along) < rows * um / 2]))
            whole.append((columns * um / 2 + middle / np.cos(angle), mean, middle))
        _paint(picture, *edges, drawn.walls, drawn.shading)
        if drawn.bottom is not None:
            lines = [middle + sway + side * drawn.bottom[0] / 2 for side in (-1, 1)]
            _paint(picture, *(_at_rows(one, along, angle, (rows, columns), um) for one in lines), drawn.bottom[1], 0.0)
        if drawn.lip is not None:
            for a, b in ((left - drawn.lip[0], left), (right, right + drawn.lip[0])):
                _paint(
                    picture, *(_at_rows(one, along, angle, (rows, columns), um) for one in (a, b)), drawn.lip[1], 0.0
                )
    picture = _through_the_microscope(picture, drawn, rng)
    found = np.array(whole).reshape(-1, 3)
    lands = np.diff(found[:, 2]) - (found[1:, 1] + found[:-1, 1]) / 2
    pitch = float(np.mean(np.diff(found[:, 2]))) if len(found) > 1 else np.nan
    grey = np.rint(np.clip(picture, 0, 1) * 255).astype(np.float32) / np.float32(255)
    return Shown(np.ascontiguousarray(grey.T if drawn.lying else grey), found[:, 0], found[:, 1], pitch, lands)


def _at_rows(across: Float, along: Float, angle: float, shape: tuple[int, int], um: float) -> Float:
    """Column, px from the border, at the middle of every row of a curve that is known along the groove."""
    x = across * np.cos(angle) + along * np.sin(angle)
    y = -across * np.sin(angle) + along * np.cos(angle)
    order = np.argsort(y, kind="stable")
    middle = (np.arange(shape[0]) + 0.5 - shape[0] / 2) * um
    result: Float = np.interp(middle, y[order], x[order]) / um + shape[1] / 2
    return result


def _paint(picture: Float, left: Float, right: Float, grey: float, shading: float) -> None:
    """Fill between two curves, each pixel by its share."""
    start = max(0, int(np.floor(left.min())) - 1)
    stop = min(picture.shape[1], int(np.ceil(right.max())) + 2)
    if start >= stop:
        return
    column = np.arange(start, stop)[None, :]
    share = np.clip(column + 1 - left[:, None], 0, 1) - np.clip(column + 1 - right[:, None], 0, 1)
    half = np.maximum(1.0, (right - left) / 2)[:, None]
    inside = 1 - np.abs(column + 0.5 - ((left + right) / 2)[:, None]) / half
    part = picture[:, start:stop]
    part += share * (grey - shading * np.clip(inside, 0, 1) - part)


def _through_the_microscope(picture: Float, drawn: Drawn, rng: np.random.Generator) -> Float:
    rows, columns = picture.shape
    y, x = np.mgrid[:rows, :columns]
    for k in range(drawn.specks):
        radius, row, column = rng.uniform(1, 8), rng.uniform(0, rows), rng.uniform(0, columns)
        _cover(picture, np.hypot(x - column, y - row) - radius, (0.1, 0.95)[k % 2])
    for _ in range(drawn.hairs):
        row, column, turn = rng.uniform(0, rows), rng.uniform(0, columns), rng.uniform(0.3, 1.2)
        bow = (x - column) * np.sin(turn) - (y - row) * np.cos(turn) + 30 * np.sin(x / 90)
        _cover(picture, np.abs(bow) - 2.5, 0.15)
    picture = gaussian_filter(picture, drawn.blur) if drawn.blur else picture
    across, down = (x + 0.5) / columns - 0.5, (y + 0.5) / rows - 0.5
    light = (1 + drawn.gradient * (across - down) / 2) * (1 - drawn.vignette * (across**2 + down**2) * 2)
    return picture * light + drawn.noise * abs(drawn.land - drawn.walls) * rng.standard_normal(picture.shape)


def _cover(picture: Float, outside: Float, grey: float) -> None:
    share = np.clip(0.5 - outside, 0, 1)
    picture += share * (grey - picture)
