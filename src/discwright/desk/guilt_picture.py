"""The face of a disc with every spot on it, and the family tree marked by guilt; every number that is drawn.

The face is seen as it is played: angle 0 at the top, running against the clock, as on the disc map.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from discwright.desk.guilt_parts import FaceLabel, FaceMark, FacePicture, GuiltCard, GuiltTree
from discwright.desk.tree_picture import TreePicture
from discwright.desk.works_parts import Badge
from discwright.groove.equipment import DiscFormat
from discwright.inspection.spots import Fault, Mark, Spot

#: Radius of a shape in mm of the disc, how much smaller that of each further play is, and around the chosen spot.
_REACH, _STEP, _RING = 3.6, 0.16, 7.0
#: Colours of lines to draw with, and shapes: together they tell so many plays apart.
STYLES = 6
#: Spots that are drawn, and those that have their number beside them.
MOST_DRAWN, _NUMBERED = 200, 60
#: Room around the disc for the names of angles, mm.
_ROOM = 14.0
_BAR_W = 176.0


def shape_path(play: int, x: float, y: float, reach: float = _REACH) -> str:
    """The shape of a play, drawn around a point.

    Parameters
    ----------
    play : int
        Number of the play, from 0.
    x, y : float
    reach : float
        From the middle to a corner.
    """
    corners = _CORNERS[play % len(_CORNERS)]
    if corners is None:
        half = f"a{reach:.2f} {reach:.2f} 0 1 0"
        return f"M{x - reach:.2f} {y:.2f}{half} {2 * reach:.2f} 0{half} {-2 * reach:.2f} 0"
    places = [(x + reach * across, y + reach * down) for across, down in corners]
    if corners in (_CROSS, _SALTIRE):
        (a, b), (c, d) = places[:2], places[2:]
        return f"M{a[0]:.2f} {a[1]:.2f}L{b[0]:.2f} {b[1]:.2f}M{c[0]:.2f} {c[1]:.2f}L{d[0]:.2f} {d[1]:.2f}"
    return "M" + "L".join(f"{across:.2f} {down:.2f}" for across, down in places) + "Z"


_CROSS = ((-1.0, 0.0), (1.0, 0.0), (0.0, -1.0), (0.0, 1.0))
_SALTIRE = ((-0.75, -0.75), (0.75, 0.75), (-0.75, 0.75), (0.75, -0.75))
#: None is a circle.
_CORNERS: tuple[tuple[tuple[float, float], ...] | None, ...] = (
    None,
    ((-0.8, -0.8), (0.8, -0.8), (0.8, 0.8), (-0.8, 0.8)),
    ((0.0, -1.0), (0.95, 0.75), (-0.95, 0.75)),
    ((0.0, -1.1), (1.1, 0.0), (0.0, 1.1), (-1.1, 0.0)),
    ((0.0, 1.0), (0.95, -0.75), (-0.95, -0.75)),
    _SALTIRE,
    _CROSS,
)


def play_style(play: int) -> str:
    """Name of the line a play is drawn with.

    Parameters
    ----------
    play : int
        Number of the play, from 0.
    """
    return f"play-{play % STYLES + 1}"


def on_face(radius_mm: float, angle_deg: float) -> tuple[float, float]:
    """A place of the disc in the picture.

    Parameters
    ----------
    radius_mm, angle_deg : float

    Returns
    -------
    x, y : float
        mm to the right of the centre, and below it.
    """
    angle = math.radians(angle_deg)
    # Nothing is never a negative nothing.
    return round(-radius_mm * math.sin(angle), 4) + 0.0, round(-radius_mm * math.cos(angle), 4) + 0.0


def face_picture(
    disc: DiscFormat, spots: Sequence[tuple[int, Spot]], order: Mapping[str, int], chosen: int,
    radius_mm_at: Callable[[float], float], exact: bool, left_out: int,
) -> FacePicture:  # fmt: skip
    """The face of a disc with its spots.

    Parameters
    ----------
    disc : DiscFormat
    spots : sequence of (int, Spot)
        Those to be drawn, each with its number.
    order : mapping of str to int
        Number of each play, from 0.
    chosen : int
        Number of the spot that is looked at, or 0.
    radius_mm_at : callable
        Radius of a turn, for faults that were told without one.
    exact : bool
        It is the plan's.
    left_out : int
        Spots that are not drawn.
    """
    edge = disc.disc_diameter * 500.0
    half = edge + _ROOM
    marks: list[FaceMark] = []
    labels: list[FaceLabel] = []
    ring, unknown = "", False
    for number, spot in spots:
        for mark in spot.marks:
            unknown = unknown or mark.fault.radius_mm is None
            marks.append(_mark(mark, spot, order[mark.play], radius_mm_at))
        x, y = on_face(_radius(spot.radius_mm, spot.turn, spot.angle_deg, radius_mm_at), spot.angle_deg)
        if len(spots) <= _NUMBERED or number == chosen:
            labels.append(FaceLabel(str(number), round(x + 1.4 * _REACH, 2), round(y - _REACH, 2), number == chosen))
        if number == chosen:
            ring = shape_path(0, x, y, _RING)
    rings = (
        ("edge", edge), ("outermost", disc.outermost_radius * 1e3), ("innermost", disc.innermost_radius * 1e3),
        ("label", disc.label_diameter * 500.0), ("hole", disc.hole_diameter * 500.0),
    )  # fmt: skip
    angles = tuple(_angle(angle, edge) for angle in range(0, 360, 45))
    many = f"{len(spots)} {'spot' if len(spots) == 1 else 'spots'}"
    said = [
        f"{left_out} spots that matter less are not drawn." if left_out else "",
        "Where no radius was told, it is about that of the turn." if unknown and not exact else "",
    ]
    return FacePicture(
        f"The face of the disc as it is played, with {many}; the table says the same", half, 2 * half,
        tuple((name, round(radius, 3)) for name, radius in rings),
        tuple(_ray(angle, edge) for angle in range(0, 360, 45)), angles, tuple(marks), tuple(labels), ring,
        " ".join(one for one in said if one),
    )  # fmt: skip


def _radius(told: float | None, turn: int, angle_deg: float, radius_mm_at: Callable[[float], float]) -> float:
    return radius_mm_at(turn + angle_deg / 360.0) if told is None else told


def _mark(mark: Mark, spot: Spot, play: int, radius_mm_at: Callable[[float], float]) -> FaceMark:
    """One play's own place; a scratch is a line over its turns besides."""
    fault: Fault = mark.fault
    x, y = on_face(_radius(fault.radius_mm, fault.turn, fault.angle_deg, radius_mm_at), fault.angle_deg)
    path = shape_path(play, x, y, _REACH - _STEP * (play % 12))
    if spot.last_turn > spot.turn:
        end = on_face(radius_mm_at(spot.last_turn + spot.angle_deg / 360.0), spot.angle_deg)
        path += f"M{x:.2f} {y:.2f}L{end[0]:.2f} {end[1]:.2f}"
    return FaceMark(path, play_style(play), spot.audible is not True)


def _ray(angle_deg: float, edge: float) -> str:
    (x0, y0), (x1, y1) = on_face(edge, angle_deg), on_face(edge + 3.0, angle_deg)
    return f"M{x0:.2f} {y0:.2f}L{x1:.2f} {y1:.2f}"


def _angle(angle_deg: float, edge: float) -> FaceLabel:
    x, y = on_face(edge + 8.5, angle_deg)
    return FaceLabel(f"{angle_deg:.0f}°", round(x, 2), round(y + 1.8, 2), False)


def guilt_tree(
    picture: TreePicture, badges: Mapping[str, tuple[Badge, float]], conditions: Mapping[str, str],
    heard: Mapping[str, str],
) -> GuiltTree:  # fmt: skip
    """The tree of a side, marked by guilt.

    Parameters
    ----------
    picture : TreePicture
    badges : mapping of str to (Badge, float)
        Of each part: what it is called, and its probability.
    conditions : mapping of str to str
        State of each part, in words.
    heard : mapping of str to str
        In how many plays of it; only of parts that were played.
    """
    cards = []
    words: dict[str, str] = {}
    for card in picture.cards:
        badge, chance = badges[card.id]
        percent = f"{100 * chance:.1f} %"
        said = [f"{card.id}, {card.kind}", f"{badge.words}, {percent}", heard.get(card.id, "not played")]
        words[card.id] = ", ".join([*said, conditions[card.id]])
        cards.append(
            GuiltCard(
                card.id, card.href, words[card.id], card.x, card.y, card.sign, card.kind, conditions[card.id], badge,
                percent, round(_BAR_W * chance, 1), heard.get(card.id, "not played"), card.negative,
            )
        )  # fmt: skip
    return GuiltTree(
        picture.words, picture.width, picture.height, picture.width_rem, picture.height_rem, tuple(cards),
        picture.joins, picture.heads, tuple(replace(one, words=words[one.id]) for one in picture.twin),
    )  # fmt: skip
