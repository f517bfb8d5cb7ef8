"""The characteristic as a picture: read back from both files, positions *by another road*."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from discwright.errors import CallError
from discwright.files.oc_picture import draw_oc
from discwright.works.operating_characteristic import accept_probability
from discwright.works.sampling import plan_of

SVG = "{http://www.w3.org/2000/svg}"
PLAN = plan_of(2000, "II", 1.0)
#: The plot's corners in the picture, and the end of the axis of percents for letter K at AQL 1.
LEFT, RIGHT, TOP, FOOT, END = 150.0, 1540.0, 200.0, 860.0, 9.0


def percent_and_chance(x: float, y: float) -> tuple[float, float]:
    return (x - LEFT) / (RIGHT - LEFT) * END, (FOOT - y) / (FOOT - TOP)


def drawn(path: Path) -> ElementTree.Element:
    return ElementTree.fromstring(path.read_bytes())


def test_the_curve_of_the_svg_is_the_characteristic(tmp_path: Path) -> None:
    draw_oc(tmp_path / "oc.svg", PLAN)
    lines = list(drawn(tmp_path / "oc.svg").iter(f"{SVG}polyline"))
    curve = max(lines, key=lambda one: len(one.attrib["points"]))
    points = [percent_and_chance(*map(float, pair.split(","))) for pair in curve.attrib["points"].split()]
    assert len(points) > 40
    for percent, chance in points:
        # The drawing has hundredths of a unit of 1390 by 660.
        assert chance == pytest.approx(accept_probability(percent, 125, 3), abs=1e-3)
    assert points[0] == pytest.approx((0.0, 1.0))
    assert points[-1][1] < 0.005


def test_the_marks_are_told_in_words_and_shapes(tmp_path: Path) -> None:
    """Reference figures: 1.100, 2.930, 5.266 % at 95, 50, 10 of 100."""
    draw_oc(tmp_path / "oc.svg", PLAN)
    root = drawn(tmp_path / "oc.svg")
    told = [one.text for one in root.iter(f"{SVG}text")]
    for words in (
        "AQL 1 %: 96.3 of 100 lots accepted", "95 of 100 lots accepted at 1.1 %", "50 of 100 lots accepted at 2.93 %",
        "10 of 100 lots accepted at 5.27 %", "percent nonconforming", "lots accepted, of 100",
        "Operating characteristic: 125 discs of 2000, accepted with 3, refused with 4",
    ):  # fmt: skip
        assert words in told, words
    assert len(list(root.iter(f"{SVG}circle"))) == 2  # on the curve and beside the words
    corners = sorted(len(one.attrib["points"].split()) for one in root.iter(f"{SVG}polygon"))
    assert corners == [3, 3, 4, 4, 4, 4]


def test_the_curve_of_the_png_is_the_characteristic(tmp_path: Path) -> None:
    draw_oc(tmp_path / "oc.png", PLAN)
    with Image.open(tmp_path / "oc.png") as image:
        pixels = np.asarray(image.convert("RGB"), dtype=int)
    assert pixels.shape == (1000, 1600, 3)
    blue = (pixels[..., 2] - pixels[..., 0] > 80) & (pixels[..., 2] > 120)
    for x in (400, 700, 800, 1100):
        y = np.nonzero(blue[:, x])[0].mean()
        percent, chance = percent_and_chance(x + 0.5, y + 0.5)
        assert chance == pytest.approx(accept_probability(percent, 125, 3), abs=0.005)  # the line is 5 of 660 thick


def test_a_lot_that_is_inspected_whole_is_a_step(tmp_path: Path) -> None:
    draw_oc(tmp_path / "whole.svg", plan_of(5, "II", 10.0))
    root = drawn(tmp_path / "whole.svg")
    told = [one.text for one in root.iter(f"{SVG}text")]
    assert "Operating characteristic: all 5 discs, accepted with 1, refused with 2" in told
    assert "refused with 2 of 5 discs" in told
    blue = next(one for one in root.iter(f"{SVG}polyline") if one.attrib["stroke"] == "#185ca0")
    assert blue.attrib["points"] == "150.00,200.00 706.00,200.00 706.00,860.00 1540.00,860.00"  # 40 % of 1390 from 150


@pytest.mark.parametrize("aql", [0.01, 0.65, 10.0])
@pytest.mark.parametrize("lot", [2, 300, 999_999_999])
def test_every_plan_can_be_drawn(lot: int, aql: float, tmp_path: Path) -> None:
    draw_oc(tmp_path / "oc.svg", plan_of(lot, "II", aql))
    for line in drawn(tmp_path / "oc.svg").iter(f"{SVG}polyline"):
        for pair in line.attrib["points"].split():
            x, y = map(float, pair.split(","))
            assert 0.0 <= x <= 1600.0
            assert 0.0 <= y <= 1000.0


def test_the_same_plan_is_the_same_file(tmp_path: Path) -> None:
    for name in ("a.svg", "b.svg", "a.png", "b.png"):
        draw_oc(tmp_path / name, PLAN)
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()


def test_files_that_cannot_be_written(tmp_path: Path) -> None:
    with pytest.raises(CallError, match="a characteristic is drawn as PNG or SVG"):
        draw_oc(tmp_path / "oc.pdf", PLAN)
    with pytest.raises(CallError, match="check the folder and the disk"):
        draw_oc(tmp_path / "none" / "oc.svg", PLAN)
    (tmp_path / "taken.png").mkdir()
    with pytest.raises(CallError, match="cannot be written"):
        draw_oc(tmp_path / "taken.png", PLAN)
    assert sorted(one.name for one in tmp_path.iterdir()) == ["taken.png"]
