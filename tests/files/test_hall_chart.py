"""The chart: everything on it, readable without colour, whole or not there. Everything expected is *by hand*."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest
from hall_cases import EARLY, START, alike, hall, job, press, works_press
from PIL import Image

from discwright.acts.hall import plan_jobs, write_hall
from discwright.acts.hall_report import HallReport
from discwright.errors import CallError
from discwright.files.hall_chart import draw_hall
from discwright.files.hall_pens import fitted, words_width

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def report() -> HallReport:
    jobs = [
        job("J1", 800, 400, edition="東京の夜"), job("J2", 700, 3000, colour="red"),
        job("<J3>&", 900, 9000, edition="E3"),
        job("J4", 300, 9000, ready=START, waits_for="side B: a verdict", edition="E4"),
    ]  # fmt: skip
    return plan_jobs(hall(works_press("P1"), works_press("Quick & Co")), jobs, START, seconds=0.0)


def texts(path: Path) -> list[str]:
    return ["".join(one.itertext()) for one in ET.parse(path).iter() if one.tag in (f"{SVG}text", f"{SVG}title")]


def test_an_svg_names_every_press_and_job(tmp_path: Path, report: HallReport) -> None:
    file = tmp_path / "chart.svg"
    write_hall(report, chart=file)
    found = "\n".join(texts(file))
    for words in ("P1", "Quick & Co", "J1", "<J3>&", "東京の夜", "Mon 07 Apr 2031", "due", "hall closed", "change"):
        assert words in found
    assert "Press hall: 2 presses, 4 jobs, 1 late" in found
    assert [one.name for one in tmp_path.iterdir()] == ["chart.svg"]


def test_late_and_expected_are_words_and_shapes(tmp_path: Path, report: HallReport) -> None:
    file = tmp_path / "chart.svg"
    write_hall(report, chart=file)
    groups = {one.find(f"{SVG}title").text.split()[0]: one for one in ET.parse(file).iter(f"{SVG}g")}  # type: ignore[union-attr]
    late, expected, usual = groups["J1"], groups["J4"], groups["J2"]

    def drawn(group: ET.Element) -> str:
        return ET.tostring(group, encoding="unicode")

    assert "late 1" in drawn(late)
    assert "LATE" in drawn(late)
    assert "polygon" in drawn(late)
    assert 'stroke-width="3"' in drawn(late)
    assert "expected: side B: a verdict" in drawn(expected)
    assert "stroke-dasharray" in drawn(expected)
    assert "LATE" not in drawn(usual)
    assert "stroke-dasharray" not in drawn(usual)
    assert "url(#strokes)" in drawn(usual), "its change is hatched"


def test_blocks_stand_where_their_times_are(tmp_path: Path) -> None:
    """One press, always manned: a job of 600 minutes and one of 300 behind it: half as wide, where the first ends."""
    report = plan_jobs(alike(1), [job("a", 600, 700), job("b", 300)], START, seconds=0.0)
    file = tmp_path / "chart.svg"
    write_hall(report, chart=file)
    found = {}
    for group in ET.parse(file).iter(f"{SVG}g"):
        box = group.find(f"{SVG}rect")
        assert box is not None
        found[group.find(f"{SVG}title").text.split()[0]] = (float(box.get("x") or 0), float(box.get("width") or 0))  # type: ignore[union-attr]
    assert found["b"][0] == pytest.approx(sum(found["a"]), abs=0.2)
    assert found["a"][1] == pytest.approx(2 * found["b"][1], abs=0.2)


def test_a_png_shows_late_and_closed_in_grey_too(tmp_path: Path, report: HallReport) -> None:
    file = tmp_path / "chart.png"
    write_hall(report, chart=file)
    with Image.open(file) as picture:
        grey = np.asarray(picture.convert("L"))
    assert grey.shape[0] > 250
    # Ink, hatching and dots: darker and lighter places in both rows.
    for top in (112, 112 + 51):
        row = grey[top : top + 36, 214:]
        assert row.min() < 90
        assert 0.02 < np.mean(row < 120) < 0.6


def test_a_large_hall_is_drawn(tmp_path: Path) -> None:
    """Twenty presses, a hundred jobs: every block in the SVG, no picture out of bounds."""
    jobs = [job(f"J{k}", 100 + 30 * (k % 40), 4000, edition=f"E{k}") for k in range(100)]
    presses = [works_press(f"Press {k}", shifts=(EARLY,)) for k in range(20)]
    report = plan_jobs(hall(*presses), jobs, START, seconds=0.0)
    file = tmp_path / "chart.svg"
    draw_hall(file, report.schedule, report.planned.problem, report.caption)
    tree = ET.parse(file).getroot()
    assert len(list(tree.iter(f"{SVG}g"))) == 100
    width, height = (float(tree.get(side) or 0) for side in ("width", "height"))
    for box in tree.iter(f"{SVG}rect"):
        if box.get("x"):
            assert float(box.get("x") or 0) + float(box.get("width") or 0) <= width
            assert float(box.get("y") or 0) + float(box.get("height") or 0) <= height


def test_an_empty_hall_is_drawn(tmp_path: Path) -> None:
    report = plan_jobs(alike(1), [], START, seconds=0.0)
    for name in ("a.png", "a.svg"):
        write_hall(report, chart=tmp_path / name)
        assert (tmp_path / name).stat().st_size > 500


def test_names_that_could_be_anything(tmp_path: Path) -> None:
    report = plan_jobs(hall(press("\u202eP1\x07")), [job("</text><script>", 600)], START, seconds=0.0)
    file = tmp_path / "chart.svg"
    write_hall(report, chart=file)
    raw = file.read_text(encoding="utf-8")
    assert "<script" not in raw
    assert not re.search("[\u202e\x07]", raw)


def test_words_are_cut_to_their_room() -> None:
    assert fitted("short", 1000.0, 14) == "short"
    cut = fitted("a very long name of a press", 80.0, 14)
    assert cut.endswith("…")
    assert words_width(cut, 14) <= 80.0
    assert fitted("anything", 5.0, 14) == ""


def test_a_chart_that_cannot_be_written(tmp_path: Path, report: HallReport) -> None:
    for name in ("a.png", "a.svg"):
        with pytest.raises(CallError, match="cannot be written"):
            write_hall(report, chart=tmp_path / "none" / name)
    assert list(tmp_path.iterdir()) == []
