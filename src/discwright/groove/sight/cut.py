"""What stands at a place of the disc that has not been cut yet: land, which wall, how deep, and when it is played.

    place (x, y) ─▶ radius, angle ─▶ the turns that pass near ─▶ time ─▶ edges there ─▶ land or groove

Every turn whose groove could reach the place is asked; grooves of a plan without stops do not overlap, so at most
one of them answers.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from discwright.groove.sight import kernels

Float = NDArray[np.float64]
Single = NDArray[np.float32]


@dataclass(frozen=True)
class CutSurface:
    """A planned side as it lies on the disc.

    Attributes
    ----------
    time, radius, depth : ndarray, shape (N,), s and m
        The spiral, linear between; radius falls all along it, but for the locked groove.
    turn_time : float, s
    sample_rate : float, Hz
    edges : ndarray, shape (frames, 2), float32, m
        Movement of inner and outer edge from the first sample of music on, as
        :func:`discwright.groove.edges.edge_blocks` gives it; may lie on disk.
    """

    time: Float
    radius: Float
    depth: Float
    turn_time: float
    sample_rate: float
    edges: Single

    def place_of(self, time: Float) -> tuple[Float, Float]:
        """Where the centre line lies at a time: x to the right, y down, m, from the disc's centre.

        Whole turns stand at 12 o'clock; a record turns clockwise, so the music runs anticlockwise.

        Parameters
        ----------
        time : ndarray, shape (...), s

        Returns
        -------
        x, y : ndarray, shape (...), m
        """
        angle = 2 * np.pi * time / self.turn_time
        reach = np.interp(time, self.time, self.radius)
        return -reach * np.sin(angle), -reach * np.cos(angle)

    def groove_at(self, time: Float) -> tuple[Float, Float]:
        """Inner and outer edge of the groove at a time, m from the disc's centre.

        Parameters
        ----------
        time : ndarray, shape (...), s

        Returns
        -------
        inner, outer : ndarray, shape (...), m
            Between samples by the cubic through the four nearest; still before the music and after it.
        """
        centre = np.interp(time, self.time, self.radius)
        half = np.interp(time, self.time, self.depth)
        inner, outer = (self._edge(time, wall) for wall in (0, 1))
        return centre - half + inner, centre + half + outer

    def _edge(self, time: Float, wall: int) -> Float:
        at = np.asarray(time) * self.sample_rate
        first = np.floor(at).astype(np.int64)
        t = at - first
        frames = len(self.edges)
        low, high = int(first.min(initial=0)) - 1, int(first.max(initial=0)) + 3
        begin, end = min(max(low, 0), frames), min(max(high, 0), frames)
        near = np.zeros(high - low)
        near[begin - low : end - low] = self.edges[begin:end, wall]
        a, b, c, d = (near[first - low + k] for k in (-1, 0, 1, 2))
        result: Float = b + 0.5 * t * (c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * (b - c) + d - a)))
        return result

    def look(self, x: Float, y: Float) -> Sight:
        """What stands at some places.

        Parameters
        ----------
        x, y : ndarray, shape (...), m
            To the right and down from the disc's centre.

        Returns
        -------
        Sight
        """
        places = np.asarray(x, dtype=np.float64)
        sight = Sight(np.full(places.shape, np.nan), np.zeros(places.shape), np.zeros(places.shape, dtype=np.int8))
        kernels.look(
            np.ravel(places), np.ravel(np.asarray(y, dtype=np.float64)), self.time, self.radius, self.depth,
            self.inward, self.turn_time, float(self.sample_rate), self._reach, self.read_only,
            np.ravel(sight.time), np.ravel(sight.depth), np.ravel(sight.wall),
        )  # fmt: skip
        return sight

    @cached_property
    def inward(self) -> Float:
        """Negative radius that never stands still, so that a radius has one time, shape (N,), m.

        The locked groove is drawn in by a picometre.
        """
        result: Float = np.maximum.accumulate(-self.radius) + 1e-12 * np.arange(len(self.radius)) / len(self.radius)
        return result

    @cached_property
    def read_only(self) -> Single:
        """The edges, so that compiled loops meet one kind of array only, wherever they lie."""
        edges = np.asarray(self.edges, dtype=np.float32).view()
        edges.flags.writeable = False
        return edges

    @cached_property
    def swing(self) -> float:
        """No edge moves further than this, m; all of them are read to find it."""
        # Between samples the cubic goes a little beyond them.
        return 1.1 * float(kernels.farthest(self.read_only))

    @cached_property
    def _reach(self) -> float:
        """No edge stands further than this from the centre line, m."""
        return float(self.depth.max()) + self.swing


@dataclass(frozen=True)
class Sight:
    """What stands at each place.

    Attributes
    ----------
    time : ndarray, shape (...), s
        When the groove there is played; nan on land.
    depth : ndarray, shape (...), m
        Below the surface, 0 on land: a 90° groove is as deep as the nearer edge is far.
    wall : ndarray of int8, shape (...)
        -1 inner wall (left channel), 1 outer wall (right channel), 0 land.
    """

    time: Float
    depth: Float
    wall: NDArray[np.int8]
