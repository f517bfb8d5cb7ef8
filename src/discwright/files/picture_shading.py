"""How much of each place on a disc is groove, and what that looks like under a raking light.

Along a fixed angle the turns of a spiral are a list of grooves at falling radii. What part of a short stretch
of radius they cover is exact arithmetic, so a lead-in line thinner than a pixel and a band of a thousand
turns finer than a pixel both come out at their true weight, without dots or false rings.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from discwright.groove.equipment import DiscFormat

Float = NDArray[np.float64]
Shade = NDArray[np.float32]
Rgb = tuple[int, int, int]

PAPER: Rgb = (244, 241, 233)
_LABEL: Rgb = (216, 203, 172)
_LABEL_EDGE: Rgb = (176, 161, 128)
#: Enough that the spiral moves less than a fiftieth of a pixel from one to the next.
_ANGLES = 2048
_STRIP_ROWS = 200

#: Where the light falls from, turns anticlockwise from 12 o'clock.
_LIGHT_FROM = 0.13
#: Light that comes back from anywhere on the disc; 1.0 is white paper.
_LAND_LIGHT = 0.0065
_GROOVE_LIGHT = 0.009
_SWING_LIGHT = 0.230
#: A groove in bare land; more than its share, or a line thinner than a pixel would be lost.
_LONE_LIGHT = 0.20
#: More where the groove lies across the light: smooth walls flash in a narrow sector, rough ones in a wide.
_GROOVE_FLASH = 0.24
_SWING_FLASH = 0.33
_NARROW = 16.0
_WIDE = 3.5
#: Movement that counts half, m: walls that move less turn little from the line of the groove.
_HALF_SWING = 25e-6
#: Land beside a groove from which that side begins to count as bare, and from which it does so fully, m.
_LONE_FROM, _LONE_FULLY = 0.15e-3, 0.6e-3


@dataclass(frozen=True)
class Groove:
    """A spiral as straight pieces in time.

    Attributes
    ----------
    time : ndarray, shape (n,), s
        Rising.
    radius, depth : ndarray, shape (n,), m
        Linear between the rows; the groove is twice as wide as it is deep.
    land : ndarray, shape (n,), m
        Least land between the piece that begins here and the turn outside it; nan where there is none.
    music : ndarray of bool, shape (n,)
        Music may move the walls of the piece that begins here.
    turn_time : float
        s
    """

    time: Float
    radius: Float
    depth: Float
    land: Float
    music: NDArray[np.bool_]
    turn_time: float


@dataclass(frozen=True)
class PolarCover:
    """Shares of the surface over angle and radius.

    Attributes
    ----------
    groove : ndarray, shape (angles + 1, radii), float32, 0..1
        Covered by the groove at rest. Rows go anticlockwise from 12 o'clock; the last repeats the first.
    swing : ndarray, shape (angles + 1, radii), float32, 0..1
        Crossed by the walls as the music moves them: what the groove at rest and the land leave of the pitch,
        counted the fuller the farther the walls move.
    lone : ndarray, shape (angles + 1, radii), float32, 0..1
        The part of `groove` beside bare land: lead-in, joins, lead-out.
    step : float
        Radius from column to column, m; column 0 is the centre.
    """

    groove: Shade
    swing: Shade
    lone: Shade
    step: float


def face(groove: Groove, disc: DiscFormat, size: int, scale: float) -> NDArray[np.uint8]:
    """Paper, disc, label and hole.

    Parameters
    ----------
    groove : Groove
    disc : DiscFormat
    size : int
        Side of the square, px; the disc stands in its middle.
    scale : float
        px per m.

    Returns
    -------
    ndarray, shape (size, size, 3), uint8
        Rows downward, sRGB.
    """
    rim = 0.5 * disc.disc_diameter * scale
    seen = cover(groove, 0.5 * disc.disc_diameter, 0.5 / scale, _ANGLES)
    back = light(seen)
    pixels = np.empty((size, size, 3), dtype=np.uint8)
    across = np.arange(size, dtype=np.float32)[None, :] + np.float32(0.5 - size / 2)
    # In strips, so that memory does not grow with the square of the size.
    for top in range(0, size, _STRIP_ROWS):
        down = across[0, top : top + _STRIP_ROWS, None]
        reach = np.hypot(across, down)
        turn = np.arctan2(-across, -down) / np.float32(2.0 * np.pi) % 1.0
        where = np.stack([turn * _ANGLES, reach * 2.0])
        tone = _tone(ndimage.map_coordinates(back, where, order=1, mode="nearest"))
        lines = ndimage.map_coordinates(seen.groove, where, order=1, mode="nearest")
        tone = _labelled(tone, reach, lines, disc, scale)
        paper = _shadowed(across, down, rim)
        pixels[top : top + _STRIP_ROWS] = np.clip(_over(paper, tone, _inside(reach, rim)), 0, 255).round()
    return pixels


def cover(groove: Groove, outer: float, step: float, angles: int) -> PolarCover:
    """What part of the surface is groove, at every angle and radius.

    Parameters
    ----------
    groove : Groove
        Radii that fall below 0 are cut off at the centre.
    outer : float
        Radius to go out to, m.
    step : float
        Radius from column to column, m. A column sees two steps on either side, the near ones most, so
        turns two steps apart leave no false rings.
    angles : int
        Number of angles in a whole turn.

    Returns
    -------
    PolarCover
    """
    first = int(np.floor(groove.time[0] / groove.turn_time))
    last = int(np.ceil(groove.time[-1] / groove.turn_time))
    turns = np.arange(first, last + 1)
    borders = np.asarray((np.arange(int(np.ceil(outer / step)) + 2) - 0.5) * step, dtype=np.float64)
    shares = np.empty((3, angles + 1, borders.size - 1), dtype=np.float32)
    for a in range(angles):
        times = (turns + a / angles) * groove.turn_time
        times = times[(times >= groove.time[0]) & (times <= groove.time[-1])]
        shares[:, a] = _along_one_angle(groove, times, borders)
    shares[:, angles] = shares[:, 0]
    shares[..., 1:-1] = 0.5 * shares[..., 1:-1] + 0.25 * (shares[..., :-2] + shares[..., 2:])
    return PolarCover(shares[0], shares[1], shares[2], step)


def light(seen: PolarCover) -> Shade:
    """Light that comes back from the disc, lit low from one side and seen from above.

    A groove turns light towards the eye where its walls face the lamp: in two opposite sectors. Walls that
    wander with the music face it a little everywhere, so a loud passage is lighter and its sectors wider.

    Parameters
    ----------
    seen : PolarCover

    Returns
    -------
    ndarray, shape (angles + 1, radii), float32
        1.0 is white paper.
    """
    turn = np.linspace(0.0, 1.0, seen.groove.shape[0], dtype=np.float32)
    across = np.cos(4.0 * np.pi * (turn - _LIGHT_FROM)) - 1.0
    narrow = np.exp(_NARROW * across) + 0.22 * np.exp(2.0 * across)
    wide = np.exp(_WIDE * across)
    grooves = seen.groove * (_GROOVE_LIGHT + _GROOVE_FLASH * narrow)[:, None]
    swings = seen.swing * (_SWING_LIGHT + _SWING_FLASH * wide)[:, None]
    back = grooves + swings + _LAND_LIGHT * (1.0 + 0.8 * wide)[:, None]
    back += seen.lone * np.float32(_LONE_LIGHT)
    return np.asarray(back, dtype=np.float32)


def _along_one_angle(groove: Groove, times: Float, borders: Float) -> Float:
    """Shares of groove, swing and lone groove from border to border, shape (3, len(borders) - 1)."""
    if times.size == 0:
        return np.zeros((3, borders.size - 1))
    radius = np.interp(times, groove.time, groove.radius)
    half = np.interp(times, groove.time, groove.depth)
    piece = np.searchsorted(groove.time, times, side="right") - 1
    # Outer and inner edge, turn after turn. A groove that runs into its neighbour covers nothing twice,
    # and one that runs past the centre ends there.
    edges = np.empty(2 * times.size)
    edges[0::2], edges[1::2] = radius + half, radius - half
    edges = np.clip(np.minimum.accumulate(edges), 0.0, None)
    width = edges[0::2] - edges[1::2]
    gap = edges[1:-1:2] - edges[2::2]
    # Where either turn is a coarse move the gap widens as it goes, and what is not land is not swing.
    land = groove.land[piece[1:]]
    moved = groove.music[piece[1:]] & groove.music[piece[:-1]] & np.isfinite(land)
    swing = np.where(moved, gap - np.clip(land, 0.0, gap), 0.0)
    alone = np.clip((gap - swing - _LONE_FROM) / (_LONE_FULLY - _LONE_FROM), 0.0, 1.0)
    alone = np.concatenate([[1.0], alone, [1.0]])
    swept = np.zeros((3, edges.size))
    swept[0, 1::2] = width
    swept[1, 2::2] = swing * swing / (swing + _HALF_SWING)
    swept[2, 1::2] = width * 0.5 * (alone[:-1] + alone[1:])
    outside = np.cumsum(swept, axis=1)
    at_borders = np.array([np.interp(-borders, -edges, line) for line in outside])
    shares: Float = -np.diff(at_borders, axis=1) / np.diff(borders)
    return shares


def _labelled(under: Shade, reach: Shade, lines: Shade, disc: DiscFormat, scale: float) -> Shade:
    """Label and hole laid over the disc; grooves that run into the label stay visible on it."""
    label, hole, edge = 0.5 * disc.label_diameter, 0.5 * disc.hole_diameter, 3e-4
    printed = np.array(_LABEL, dtype=np.float32) * (1.0 - 0.7 * lines[..., None])
    for radius, colour in (
        (label, _colour(_LABEL_EDGE)),
        (label - edge, printed),
        (hole + edge, _colour(_LABEL_EDGE)),
        (hole, _colour(PAPER)),
    ):
        under = _over(under, colour, _inside(reach, radius * scale))
    return under


def _shadowed(across: Shade, down: Shade, rim: float) -> Shade:
    """Paper, a little darker beside the disc on the side away from the light."""
    drop = 0.006 * rim
    beyond = np.hypot(across - drop, down - drop) - rim
    dark = 0.22 * np.exp(-np.clip(beyond, 0.0, None) / (0.013 * rim))
    return np.asarray(_colour(PAPER) * (1.0 - dark[..., None]), dtype=np.float32)


def _tone(back: Shade) -> Shade:
    """Light to colour: a black that is a little cool, a shine that is a little warm."""
    level = np.clip(back, 0.0, 1.0)[..., None] ** (1.0 / 2.2)
    warm = np.array([1.0, 0.985, 0.955], dtype=np.float32)
    cool = np.array([0.96, 0.99, 1.03], dtype=np.float32)
    return np.asarray(255.0 * level * (cool + (warm - cool) * np.sqrt(level)), dtype=np.float32)


def _inside(reach: Shade, radius: float) -> Shade:
    """1 inside a circle, 0 outside, a pixel's width of both between."""
    share: Shade = np.clip(radius - reach + 0.5, 0.0, 1.0)[..., None]
    return share


def _over(below: Shade, above: Shade, share: Shade) -> Shade:
    return np.asarray(below + (above - below) * share, dtype=np.float32)


def _colour(rgb: Rgb) -> Shade:
    return np.array(rgb, dtype=np.float32)
