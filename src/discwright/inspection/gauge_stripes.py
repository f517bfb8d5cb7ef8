"""Which stripes of a photograph are grooves: the dark ones or the light ones, with or without a line along the bottom.

Edges alone do not say on which side the groove lies. What does: a line in the middle of a stripe is a groove's bottom;
a groove's two edges go together when the music moves them, the two edges of a land do not; grooves as regular as
the lathe that cut them leave lands that are less so; and a groove is about as wide as grooves are. Each tells in
logarithms of odds, and the sum decides.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from discwright.errors import CallError
from discwright.inspection.gauge_edges import Flags
from discwright.inspection.gauge_stations import Float

Shade = Literal["darker", "lighter"]

#: Usual width of groove and land, m, and how far they stray, as standard deviations of the logarithm. The nominal top
#: width of a microgroove (reference works give 55 to 56 µm); the rest is common practice: land may be anything.
USUAL_WIDTH, _STRAY = 56e-6, 0.3
_USUAL_LAND, _LAND_STRAYS = 60e-6, 0.9
#: The same where the width is known beforehand.
_STRAY_KNOWN = 0.2
#: Movements along a groove, and differences from groove to groove, that are no larger may be the measurement's own, m.
_FLOOR, _FLOOR_BETWEEN = 0.5e-6, 1.0e-6
#: A bottom line is no wider than this, m, and than this share of either wall; both walls are alike within this share of
#: the wider. Narrower or wider than the lands, or of another grey, by this share it cannot be one of them.
_BOTTOM, _BOTTOM_SHARE, _UNEVEN, _APART = 14e-6, 0.6, 0.35, 0.15
#: Odds that such a difference speaks with, and those against lines that are just like the lands.
_IS_BOTTOM, _IS_LAND = 3.0, -4.0
#: Share of the walls that must belong to such a groove.
_MOST = 0.6
#: No groove is so much wider than the others: there an edge between two was not seen.
_TWO_IN_ONE = 1.75
#: Grooves are seen darker than the land a little more often: that decides only what nothing else does.
_DARKER = 0.05


@dataclass(frozen=True)
class Stripes:
    """What is taken for grooves.

    Attributes
    ----------
    grooves : tuple of (int, int)
        Left and right edge of each.
    joined : tuple of bool
        Of each groove but the last: only land lies between it and the next.
    shade : {"darker", "lighter"}
        The walls against the land.
    bottom_lines : bool
        A line was seen in the middle of the grooves.
    odds : float
        Natural logarithm of how much likelier this is than grooves of the other shade; infinite where it was said.
    """

    grooves: tuple[tuple[int, int], ...]
    joined: tuple[bool, ...]
    shade: Shade
    bottom_lines: bool
    odds: float

    @property
    def lands(self) -> list[tuple[int, int]]:
        """Left and right edge of the land between neighbouring grooves."""
        return [(self.grooves[k][1], self.grooves[k + 1][0]) for k, joined in enumerate(self.joined) if joined]


@dataclass(frozen=True)
class _Case:
    """One way to tell grooves from land, and what speaks for it, as far as that can be told."""

    stripes: Stripes
    odds: float
    regular: tuple[float | None, float | None]


def choose_stripes(
    across: Float,
    up: Flags,
    step: Float,
    bump: Float,
    expected: float | None = None,
    shade: Shade | None = None,
) -> Stripes | None:
    """Tell grooves from land.

    Parameters
    ----------
    across : ndarray, shape (edges, places), m
        Where each edge lies across the grooves, at places along them; NaN outside the picture.
    up : ndarray of bool, shape (edges,)
        The grey rises there.
    step : ndarray, shape (edges,)
        By how much the grey changes.
    bump : ndarray, shape (edges - 1,)
        Of the stripe after each edge: its middle against its borders, as a share of the step at its edges.
    expected : float, m, optional
        Width the grooves should have.
    shade : {"darker", "lighter"}, optional
        What the grooves are known to be.

    Returns
    -------
    Stripes or None
        None where no stripe lies whole in the picture.
    """
    width = np.array([float(np.nanmean(b - a)) for a, b in pairwise(across)])
    cases: list[_Case] = []
    shades: tuple[Shade, ...] = ("darker", "lighter") if shade is None else (shade,)
    for one in shades:
        falls = (up if one == "lighter" else ~up).tolist()
        for narrow in (None, True, False):
            grooves = _plain(falls, width) if narrow is None else _with_bottoms(falls, width, narrow)
            if grooves:
                joined = tuple(a[1] + 1 == b[0] for a, b in pairwise(grooves))
                stripes = Stripes(tuple(grooves), joined, one, narrow is not None, math.inf)
                speaks = _bump_speaks(bump, stripes) if narrow is None else _line_speaks(width, step, stripes)
                odds = speaks + _usual(width, stripes, expected) + _moves(across, grooves)
                odds += _DARKER if one == "darker" else 0.0
                cases.append(_Case(stripes, odds, _regular(across, grooves)))
    if not cases:
        return None
    total = [case.odds + sum(_shared(cases, case)) for case in cases]
    k = int(np.argmax(total))
    best = cases[k].stripes
    others = [t for t, case in zip(total, cases, strict=True) if case.stripes.shade != best.shade]
    return replace(best, odds=total[k] - max(others, default=-math.inf))


def _plain(falls: list[bool], width: Float) -> list[tuple[int, int]]:
    """Every stripe that begins with a step into the groove and ends with one out of it."""
    found = [(k, k + 1) for k in range(len(falls) - 1) if falls[k] and not falls[k + 1]]
    usual = float(np.median([width[k] for k, _ in found])) if len(found) > 2 else math.inf
    return [pair for pair in found if width[pair[0]] < _TWO_IN_ONE * usual]


def _with_bottoms(falls: list[bool], width: Float, narrow: bool) -> list[tuple[int, int]]:
    """Two walls with a thin line between, narrowest (or widest) lines first; none where most walls are left over."""
    walls = [(k, k + 1) for k in range(len(falls) - 1) if falls[k] and not falls[k + 1]]
    lines = [
        k
        for k, (a, b) in enumerate(pairwise(walls))
        if a[1] + 1 == b[0] and _looks_like_bottom(*width[a[0] : b[1]].tolist())
    ]
    taken: set[int] = set()
    for k in sorted(lines, key=lambda one: width[walls[one][1]] if narrow else -width[walls[one][1]]):
        if not taken & {k - 1, k, k + 1}:
            taken.add(k)
    grooves = [(walls[k][0], walls[k + 1][1]) for k in sorted(taken)]
    return grooves if 2 * len(grooves) >= _MOST * len(walls) else []


def _looks_like_bottom(left: float, line: float, right: float) -> bool:
    """A thin line between two walls that are alike."""
    uneven = abs(left - right) > _UNEVEN * max(left, right)
    return not uneven and line <= min(_BOTTOM, _BOTTOM_SHARE * left, _BOTTOM_SHARE * right)


def _usual(width: Float, stripes: Stripes, expected: float | None) -> float:
    """How usual these widths of groove and land are."""
    usual, stray = (USUAL_WIDTH, _STRAY) if expected is None else (expected, _STRAY_KNOWN)
    grooves = np.array([width[a:b].sum() for a, b in stripes.grooves])
    odds = -0.5 * float(np.mean(np.square(np.log(grooves / usual) / stray)))
    if stripes.lands:
        land = float(np.median([width[a] for a, _ in stripes.lands]))
        odds -= 0.5 * (math.log(land / _USUAL_LAND) / _LAND_STRAYS) ** 2
    return odds


def _bump_speaks(bump: Float, stripes: Stripes) -> float:
    """Land is flat; a groove may be lighter or darker along its middle."""
    own = float(np.median([abs(bump[a]) for a, _ in stripes.grooves]))
    land = float(np.median([abs(bump[a]) for a, _ in stripes.lands])) if stripes.lands else own
    return min(2.0, max(-2.0, 8.0 * (own - land)))


def _line_speaks(width: Float, step: Float, stripes: Stripes) -> float:
    """Bottom lines have a width or a grey that no land has."""
    lines = np.array([width[a + 1] for a, _ in stripes.grooves])
    lands = np.array([width[a] for a, _ in stripes.lands])
    if not len(lands):
        return 0.0
    other_width = lines.max() < (1.0 - _APART) * lands.min() or lines.min() > (1.0 + _APART) * lands.max()
    against = np.array([(step[a + 1] + step[b - 1]) / (step[a] + step[b]) for a, b in stripes.grooves])
    other_grey = bool((against > 1.0 + _APART).all() or (against < 1.0 - _APART).all())
    return _IS_BOTTOM if other_width or other_grey else _IS_LAND


def _strays(variance: float, floor: float) -> float:
    return -0.5 * math.log1p(variance / floor**2)


def _moves(across: Float, grooves: list[tuple[int, int]]) -> float:
    """How little centre and width stray along each groove: least for two edges that go together."""
    first, last = (across[[pair[k] for pair in grooves]] for k in (0, 1))
    return sum(_strays(float(np.mean(np.nanvar(one, axis=1))), _FLOOR) for one in ((first + last) / 2.0, last - first))


def _regular(across: Float, grooves: list[tuple[int, int]]) -> tuple[float | None, float | None]:
    """How little centre and width stray from one groove to the next, where there are enough of them."""
    first, last = (np.nanmean(across[[pair[k] for pair in grooves]], axis=1) for k in (0, 1))
    steps, widths = np.diff(first + last) / 2.0, last - first
    places = _strays(float(np.var(steps)), _FLOOR_BETWEEN) if len(grooves) > 2 else None
    return places, _strays(float(np.var(widths)), _FLOOR_BETWEEN) if len(grooves) > 1 else None


def _shared(cases: list[_Case], one: _Case) -> list[float]:
    """What is told of regularity, where it is told of every case: more terms must not make a case less likely."""
    every = zip(*(case.regular for case in cases), strict=True)
    return [own for own, told in zip(one.regular, every, strict=True) if own is not None and None not in told]


def need_grooves(stripes: Stripes | None, edges: int) -> Stripes:
    """The grooves, or a sentence that says what was seen instead.

    Parameters
    ----------
    stripes : Stripes or None
    edges : int
        Edges that run through the picture.

    Raises
    ------
    CallError
    """
    if stripes is None:
        seen = "no edge runs" if edges == 0 else "one edge runs" if edges == 1 else f"{edges} edges run"
        raise CallError(
            f"no whole groove is to be seen: {seen} through the photograph from border to border; take one that "
            "is sharp and shows a few turns with the land between them."
        )
    return stripes
