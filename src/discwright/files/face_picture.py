"""The face of a disc with the defects found on it, as SVG: shape for the class, letters for the word, a legend.

The view is in millimetres with the centre of the disc at 0, 0, so that a point that is tapped is a place by
:func:`discwright.works.lot.place_on_face`. The face is seen as it is played: angle 0 at the top, against the clock.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from discwright.files.svg_shapes import Shape, shape_element, svg_document, words_element
from discwright.groove.equipment import DiscFormat
from discwright.works.defect_classes import CLASSES, DefectClass, word_named
from discwright.works.lot import LotDefect, point_on_face

#: Shape and filling of each class: told apart without colour.
_SHAPES: dict[DefectClass, tuple[Shape, str]] = {
    "critical": ("triangle", "#8c1d12"), "major": ("square", "#b0aaa0"), "minor": ("circle", "#fcfbf8"),
}  # fmt: skip
_INK, _PAPER, _VINYL, _RECORDED, _RULE = "#34322e", "#fcfbf8", "#ece9e2", "#ded9d0", "#a8a296"
#: Reach of a mark, height of a row of the legend and its letters, room around the disc and width of the legend, mm.
_REACH, _ROW, _SIZE, _ROOM, _LEGEND = 3.4, 9.0, 6.0, 18.0, 132.0
#: Letters of a caption that the legend has room for.
_CAPTION_LETTERS = 36
#: Defects that are drawn; of the rest it is said how many there are.
MOST_DRAWN = 300


@dataclass(frozen=True)
class Face:
    """Radii of a disc, mm.

    Attributes
    ----------
    edge, outermost, innermost, label, hole : float
        Rim, first and last music, label, hole.
    """

    edge: float
    outermost: float
    innermost: float
    label: float
    hole: float


def face_of(disc: DiscFormat) -> Face:
    """The face of a format.

    Parameters
    ----------
    disc : DiscFormat
    """
    return Face(
        disc.disc_diameter * 500.0, disc.outermost_radius * 1e3, disc.innermost_radius * 1e3,
        disc.label_diameter * 500.0, disc.hole_diameter * 500.0,
    )  # fmt: skip


def half_view(face: Face) -> float:
    """From the middle of the picture of a face to its edge, mm, where it has no legend.

    Parameters
    ----------
    face : Face
    """
    return face.edge + _ROOM


def face_svg(face: Face, defects: Sequence[LotDefect], caption: str = "", legend: bool = True) -> str:
    """The picture.

    Parameters
    ----------
    face : Face
    defects : sequence of LotDefect
        Those of this side; one without a place stands in the legend alone.
    caption : str
        Said above the legend, and to those who hear the picture.
    legend : bool
        Without it the picture is the square of the disc and the room around it.

    Returns
    -------
    str
        A whole SVG document.
    """
    half = half_view(face)
    placed = [one for one in defects if one.radius_mm is not None and one.angle_deg is not None]
    elements = [*_disc(face), *_angles(face.edge)]
    for one in placed[:MOST_DRAWN]:
        elements += _mark(one)
    width, height = 2.0 * half, 2.0 * half
    if legend:
        rows = _legend(defects, len(placed), caption, half)
        elements += rows
        width, height = width + _LEGEND, max(height, len(rows) * _ROW + _ROOM)
    many = f"{len(defects)} {'defect' if len(defects) == 1 else 'defects'}"
    said = f"{caption}: the face of the disc as it is played, {many}" if caption else f"The face of a disc, {many}"
    ground = f'<rect x="{-half:g}" y="{-half:g}" width="{width:g}" height="{height:g}" fill="{_PAPER}"/>'
    return svg_document((-half, -half, width, height), said, [ground, *elements])


def _disc(face: Face) -> list[str]:
    rings = (
        (face.edge, _VINYL, _INK), (face.outermost, _RECORDED, _RULE), (face.innermost, _VINYL, _RULE),
        (face.label, _PAPER, _RULE), (face.hole, _INK, _INK),
    )  # fmt: skip
    return [
        f'<circle cx="0" cy="0" r="{radius:g}" fill="{fill}" stroke="{stroke}" stroke-width="0.5"/>'
        for radius, fill, stroke in rings
    ]


def _angles(edge: float) -> list[str]:
    elements = []
    for angle in range(0, 360, 45):
        (x0, y0), (x1, y1), (x, y) = (point_on_face(edge + further, angle) for further in (0.0, 2.5, 10.0))
        elements.append(
            f'<path d="M{x0:.3f} {y0:.3f}L{x1:.3f} {y1:.3f}" stroke="{_INK}" stroke-width="0.5" fill="none"/>'
        )
        elements.append(words_element(x, y + 1.8, f"{angle}°", 5.0, f'fill="{_INK}"', "middle"))
    return elements


def _mark(one: LotDefect) -> list[str]:
    """Shape and letters of one defect."""
    assert one.radius_mm is not None  # only such are drawn
    assert one.angle_deg is not None
    x, y = point_on_face(one.radius_mm, one.angle_deg)
    said = f"{one.word}, {one.defect_class}, disc {one.disc}, {one.radius_mm:.1f} mm, {one.angle_deg:.0f}°"
    return [
        _shape(one.defect_class, x, y, said),
        words_element(x + 1.4 * _REACH, y + 1.9, word_named(one.word).mark, 5.0, f'fill="{_INK}" font-weight="bold"'),
    ]


def _shape(name: DefectClass, x: float, y: float, said: str = "") -> str:
    shape, fill = _SHAPES[name]
    return shape_element(shape, x, y, _REACH, f'fill="{fill}" stroke="{_INK}" stroke-width="0.7"', said)


def _legend(defects: Sequence[LotDefect], placed: int, caption: str, half: float) -> list[str]:
    """Classes with their shapes, words with their letters and counts, and what is not drawn."""
    left, top = half + 4.0, -half + 8.0
    short = caption if len(caption) <= _CAPTION_LETTERS else f"{caption[: _CAPTION_LETTERS - 1]}…"
    rows: list[tuple[DefectClass | None, str, str]] = [(None, "", short)] if caption else []
    rows += [(name, "", f"{name}: {sum(one.defect_class == name for one in defects)}") for name in CLASSES]
    words = dict.fromkeys(one.word for one in defects)
    for word in words:
        own = [one for one in defects if one.word == word]
        nowhere = sum(one.radius_mm is None for one in own)
        told = f"{word}: {len(own)}" + (f", {nowhere} without a place" if nowhere else "")
        rows.append((None, word_named(word).mark, told))
    if placed > MOST_DRAWN:
        rows.append((None, "", f"{placed - MOST_DRAWN} more are not drawn"))
    elements = []
    for k, (shape, mark, told) in enumerate(rows):
        foot = top + k * _ROW
        parts = [_shape(shape, left + _REACH, foot - 2.0)] if shape else []
        if mark:
            parts.append(words_element(left, foot, mark, _SIZE, f'fill="{_INK}" font-weight="bold"'))
        indent = 12.0 if shape or mark else 0.0
        parts.append(words_element(left + indent, foot, told, _SIZE, f'fill="{_INK}"'))
        elements.append("".join(parts))
    return elements
