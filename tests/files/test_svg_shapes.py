"""Shapes and words of an SVG: corners *by hand*, and text that tries to be more than text."""

from __future__ import annotations

import math
from xml.etree import ElementTree

import pytest

from discwright.files.svg_shapes import Shape, corners, shape_element, svg_document, words_element

SVG = "{http://www.w3.org/2000/svg}"
NASTY = '</text><script>alert("x")</script> & \x00\x1f\ufffe\u202e\ud800 ü 東'


def test_corners() -> None:
    assert corners("diamond", 10.0, 20.0, 5.0) == ((10.0, 14.0), (16.0, 20.0), (10.0, 26.0), (4.0, 20.0))
    assert len(corners("triangle", 0.0, 0.0, 1.0)) == 3
    assert all(math.hypot(x - 1.0, y) == pytest.approx(2.0) for x, y in corners("circle", 1.0, 0.0, 2.0))


@pytest.mark.parametrize("shape", ["circle", "square", "triangle", "diamond"])
def test_every_shape_is_an_element_with_its_title(shape: Shape) -> None:
    element = ElementTree.fromstring(shape_element(shape, 1.0, 2.0, 3.0, 'fill="red"', "a < b"))
    assert element.tag == ("circle" if shape == "circle" else "polygon")
    title = element.find("title")
    assert title is not None
    assert title.text == "a < b"


def test_text_is_text_and_nothing_else() -> None:
    document = svg_document(
        (0, 0, 10, 10), NASTY, [words_element(1, 2, NASTY, 3), shape_element("square", 0, 0, 1, "", NASTY)]
    )
    root = ElementTree.fromstring(document.encode())
    assert [one.tag for one in root.iter()] == [f"{SVG}svg", f"{SVG}text", f"{SVG}polygon", f"{SVG}title"]
    shown = root.find(f"{SVG}text").text  # type: ignore[union-attr]
    assert shown == '</text><script>alert("x")</script> & ���? ü 東'
    assert root.get("aria-label") == shown
    assert root.get("viewBox") == "0 0 10 10"
