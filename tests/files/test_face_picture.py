"""The face with its defects: every mark where its radius and angle say, *by hand*; the SVG read back as XML."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from discwright.files.face_picture import MOST_DRAWN, Face, face_of, face_svg
from discwright.files.settings import load_setup
from discwright.works.defect_classes import WORDS
from discwright.works.lot import LotDefect, place_on_face

SVG = "{http://www.w3.org/2000/svg}"
FACE = Face(150.5, 146.3, 60.325, 51.0, 3.62)
DEFECTS = (
    LotDefect("pit", "major", 12, "A", 100.0, 0.0),
    LotDefect("scratch", "minor", 13, "A", 140.0, 90.0),
    LotDefect("jump", "critical", 14, "A", 70.0, 180.0),
    LotDefect("off-centre", "major", 15, "A"),
)


def read(text: str) -> ElementTree.Element:
    return ElementTree.fromstring(text.encode())


def titled(root: ElementTree.Element) -> dict[str, ElementTree.Element]:
    found = {}
    for one in root.iter():
        title = one.find(f"{SVG}title")
        if title is not None and title.text:
            found[title.text] = one
    return found


def words(root: ElementTree.Element) -> list[str]:
    return [one.text or "" for one in root.iter(f"{SVG}text")]


def middle(one: ElementTree.Element) -> tuple[float, float]:
    if one.tag == f"{SVG}circle":
        return float(one.attrib["cx"]), float(one.attrib["cy"])
    points = [tuple(map(float, pair.split(","))) for pair in one.attrib["points"].split()]
    xs, ys = zip(*points, strict=True)
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def test_the_radii_of_a_format() -> None:
    face = face_of(load_setup("12in-33").disc)
    assert (face.edge, face.outermost, face.innermost, face.label, face.hole) == pytest.approx(
        (150.5, 146.3, 60.325, 51.0, 3.62)
    )


def test_marks_stand_where_they_were_found() -> None:
    marks = titled(read(face_svg(FACE, DEFECTS)))
    assert list(marks) == [
        "pit, major, disc 12, 100.0 mm, 0°", "scratch, minor, disc 13, 140.0 mm, 90°",
        "jump, critical, disc 14, 70.0 mm, 180°",
    ]  # fmt: skip
    # The triangle's middle is not its box's, hence 1 mm.
    assert [middle(one) for one in marks.values()] == [
        pytest.approx((0.0, -100.0), abs=1.0), pytest.approx((-140.0, 0.0), abs=1.0),
        pytest.approx((0.0, 70.0), abs=1.0),
    ]  # fmt: skip
    radius, angle = place_on_face(*middle(marks["scratch, minor, disc 13, 140.0 mm, 90°"]))
    assert (radius, angle) == pytest.approx((140.0, 90.0))


def test_shape_and_letters_beside_every_colour() -> None:
    root = read(face_svg(FACE, DEFECTS))
    tags = [one.tag.removeprefix(SVG) for one in titled(root).values()]
    assert tags == ["polygon", "circle", "polygon"]
    corners = [len(one.get("points", "").split()) for one in titled(root).values()]
    assert corners == [4, 0, 3]
    assert [one for one in words(root) if one in ("P", "S", "J", "OC")] == ["P", "S", "J", "P", "S", "J", "OC"]


def test_the_legend_says_what_is_drawn() -> None:
    told = words(read(face_svg(FACE, DEFECTS, "Night Ferry, side A")))
    for one in (
        "Night Ferry, side A", "critical: 1", "major: 2", "minor: 1", "pit: 1", "off-centre: 1, 1 without a place",
    ):  # fmt: skip
        assert one in told
    assert "critical: 1" not in words(read(face_svg(FACE, DEFECTS, legend=False)))


def test_the_view_is_in_millimetres_around_the_centre() -> None:
    """So that a tap is a place; the legend only widens it."""
    bare, told = (read(face_svg(FACE, DEFECTS, legend=one)).attrib["viewBox"].split() for one in (False, True))
    assert bare == ["-168.5", "-168.5", "337", "337"]
    assert (told[:2], told[3]) == (bare[:2], bare[3])
    assert float(told[2]) > 400


def test_a_legend_longer_than_the_disc_is_whole() -> None:
    many = [LotDefect(word, "minor", 1, "A", 60.0, 3.0) for word in WORDS]
    small = Face(87.5, 84.15, 53.975, 46.5, 19.1)
    root = read(face_svg(small, many, "x"))
    lowest = max(float(one.attrib["y"]) for one in root.iter(f"{SVG}text"))
    _, top, _, height = map(float, root.attrib["viewBox"].split())
    assert lowest < top + height


def test_more_than_can_be_drawn_is_told() -> None:
    many = [LotDefect("tick", "minor", k, "A", 100.0, float(k)) for k in range(1, MOST_DRAWN + 4)]
    root = read(face_svg(FACE, many))
    assert len(titled(root)) == MOST_DRAWN
    assert "3 more are not drawn" in words(root)


def test_text_from_outside_stays_text() -> None:
    root = read(face_svg(FACE, (), '<script>"x"</script>\x00 & \u202eabc' + "y" * 90))
    assert not list(root.iter(f"{SVG}script"))
    caption = words(root)[-4]
    assert caption.startswith('<script>"x"</script>� & abc')
    assert caption.endswith("…")
    assert "0 defects" in root.attrib["aria-label"]
