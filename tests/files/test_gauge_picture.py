"""The measured photograph as a picture: edges where they were found, labels beside each other, no half file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from micrograph import Drawn, draw
from PIL import Image

from discwright.errors import CallError
from discwright.files.gauge_picture import draw_gauge
from discwright.inspection.gauge import Gauged, gauge


def picture_of(drawn: Drawn, path: Path) -> tuple[Gauged, np.ndarray]:
    grey = draw(drawn).picture
    gauged = gauge(grey, drawn.um_per_pixel * 1e-6)
    draw_gauge(path, grey, gauged, "µ and \U0001f600 in a name")
    with Image.open(path) as made:
        return gauged, np.asarray(made.convert("RGB")).astype(int)


def blue(pixels: np.ndarray) -> np.ndarray:
    """Pixels of the colour of an edge."""
    result: np.ndarray = np.abs(pixels - np.array([24, 118, 210])).sum(axis=-1) < 90
    return result


@pytest.mark.parametrize("lying", [False, True])
def test_edges_are_drawn_where_they_lie(tmp_path: Path, lying: bool) -> None:
    drawn = Drawn(lying=lying, tilt_deg=2.0, noise=0.0, specks=0)
    gauged, pixels = picture_of(drawn, tmp_path / "seen.png")
    # by hand: 1200 px wide on a sheet where the longer side has 1800, 40 beside it and 96 above.
    for groove in gauged.grooves:
        for column, row in groove.left[len(groove.left) // 2 :: 40].tolist():
            x, y = round(40 + column * 1.5), round(96 + row * 1.5)
            assert blue(pixels[y - 2 : y + 3, x - 2 : x + 3]).any()


def test_many_grooves_have_labels_that_do_not_meet(tmp_path: Path) -> None:
    drawn = Drawn(um_per_pixel=1.0, pitches=(62.0,), widths=(40.0,), noise=0.0, specks=0)
    gauged, pixels = picture_of(drawn, tmp_path / "seen.png")
    assert len(gauged.grooves) > 15
    # Every label is a box of paper, 32 high and at least 90 wide, in a frame of ink: count them by their paper.
    paper = (np.abs(pixels[96:1400] - np.array([252, 251, 248])).sum(axis=-1) < 12).astype(int)
    assert paper.sum() > len(gauged.grooves) * 32 * 60


def test_no_half_file_is_left(tmp_path: Path) -> None:
    grey = draw(Drawn()).picture
    gauged = gauge(grey, 0.5e-6)
    with pytest.raises(CallError, match="cannot be written"):
        draw_gauge(tmp_path / "nowhere" / "seen.png", grey, gauged, "x")
    draw_gauge(tmp_path / "seen.png", grey, gauged, "x")
    assert [path.name for path in tmp_path.iterdir()] == ["seen.png"]
