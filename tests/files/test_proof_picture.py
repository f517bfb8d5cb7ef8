"""The picture of a proof: what must be where, in pixels worked out by hand from the axes it prints."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from discwright.errors import CallError
from discwright.files.proof_picture import TipCurve, draw_proof
from discwright.groove.distortion import OCTAVES_HZ, Departures, WorstSpot
from discwright.groove.heard import Place

PLACE = Place(np.array([0.0, 1500.0]), np.array([0.146, 0.061]), 1.8, (0.0, 20.0), 0.1463)
#: Left and right end of every panel, px, and the foot of the first: read once off a picture that was looked at.
LEFT, RIGHT = 190, 2400 - 230
OCTAVES = len(OCTAVES_HZ)


def departures(distortion: list[float], treble_db: list[float] | None = None, octave: int | None = None) -> Departures:
    n = len(distortion)
    time = 10.0 + np.arange(n)
    bands = np.zeros((n, OCTAVES))
    if octave is not None:
        bands[:, octave] = distortion
    treble = np.zeros(n) if treble_db is None else np.array(treble_db)
    return Departures(time, time + 0.5, np.full(n, -20.0), np.array(distortion), bands, treble)


def drawn(path: Path, *tips: TipCurve, limit: float | None = None, caption: str = "A side") -> np.ndarray:
    draw_proof(path, tips, place=PLACE, bands=((0.0, 18.0), (20.0, 60.0)), caption=caption, limit=limit)
    with Image.open(path) as image:
        assert image.size == (2400, 1800)
        return np.asarray(image.convert("RGB")).astype(int)


def tip(distortion: list[float], name: str = "spherical-18", **more: object) -> TipCurve:
    found = departures(distortion, **more)  # type: ignore[arg-type]
    worst = np.argsort(-found.distortion, kind="stable")[:10]
    return TipCurve(
        name, found,
        tuple(WorstSpot(float(found.peak_time[k]), distortion[k], 8000.0) for k in worst if distortion[k] > 0),
    )  # fmt: skip


def rows_of(picture: np.ndarray, colour: tuple[int, int, int], x: int, near: int = 12) -> np.ndarray:
    column = picture[:, x - 1 : x + 2].mean(axis=1)
    return np.flatnonzero(np.abs(column - colour).max(axis=1) < near)


def test_a_steady_line_stands_at_its_height(tmp_path: Path) -> None:
    picture = drawn(tmp_path / "p.png", tip([0.10] * 30))
    # By hand: 1.08 × 10 % goes up to the next round 12 %, in rules of 2 … the axis' rules are evenly spaced.
    rules = rows_of(picture, (222, 218, 209), RIGHT - 4)
    groups = np.split(rules, np.flatnonzero(np.diff(rules) > 3) + 1)
    first = [float(np.mean(group)) for group in groups]
    line = rows_of(picture, (40, 38, 34), 700, near=40)
    line = line[(line > first[0] - 5) & (line < 1000)]
    # The panel's top rule is the greatest value and its foot nothing; a rule is drawn at every tick but under the line.
    foot = [y for y in first if y > line[0]]
    step = np.median(np.diff(foot[:3]))
    below = (foot[0] - np.mean(line)) / step
    assert below == pytest.approx(round(below), abs=0.02)


def test_the_octave_that_holds_it_is_dark(tmp_path: Path) -> None:
    picture = drawn(tmp_path / "p.png", tip([0.30] * 30, octave=7))
    dark = rows_of(picture, (116, 44, 30), 900, near=4)
    # One row of ten, in one piece; the third from the top of the panel: 16, 8, 4 kHz.
    assert np.all(np.diff(dark) == 1)
    light = rows_of(picture, (243, 240, 233), 900, near=2)
    above, below = light[light < dark[0]], light[light > dark[-1]]
    assert len(above) / len(dark) == pytest.approx(2.0, abs=0.1)
    assert len(below) / len(dark) == pytest.approx(7.0, abs=0.1)


def test_a_peak_of_a_second_is_not_lost_in_a_long_side(tmp_path: Path) -> None:
    quiet = [0.001] * 6000
    loud = [*quiet[:4321], 0.4, *quiet[4322:]]
    flat, peaked = drawn(tmp_path / "a.png", tip(quiet)), drawn(tmp_path / "b.png", tip(loud))
    x = LEFT + round((4321.5 / 6000) * (RIGHT - LEFT))
    reach = [len(rows_of(picture[:900], (40, 38, 34), x, near=120)) for picture in (flat, peaked)]
    assert reach[1] > reach[0] + 100


def test_the_worst_spot_is_marked_above_its_place(tmp_path: Path) -> None:
    distortion = [0.01] * 30
    distortion[20] = 0.2
    picture = drawn(tmp_path / "p.png", tip(distortion))
    x = LEFT + round(20.5 / 30 * (RIGHT - LEFT))
    ring = 240 + rows_of(picture[240:800], (52, 50, 46), x, near=60)
    # By hand: a ring of 17 px radius, so its left and right ends stand 17 px below its top.
    assert len(ring) > 0
    for side in (x - 17, x + 17):
        assert picture[ring[0] + 15 : ring[0] + 20, side - 1 : side + 2].mean() < 200


def test_treble_that_is_not_known_leaves_a_gap(tmp_path: Path) -> None:
    nan = float("nan")
    known = drawn(tmp_path / "a.png", tip([0.01] * 30, treble_db=[-2.0] * 30))
    gap = drawn(tmp_path / "b.png", tip([0.01] * 30, treble_db=[-2.0] * 10 + [nan] * 10 + [-2.0] * 10))
    x = LEFT + round(0.5 * (RIGHT - LEFT))
    dark = [len(rows_of(picture[1300:], (40, 38, 34), x, near=60)) for picture in (known, gap)]
    assert dark[0] > 0
    assert dark[1] == 0


def test_tips_are_told_apart_by_dashes_too(tmp_path: Path) -> None:
    picture = drawn(tmp_path / "p.png", tip([0.10] * 30), tip([0.05] * 30, "elliptical-8"))
    grey = picture.mean(axis=2)
    lines = [y for y in range(240, 700) if np.mean(grey[y, LEFT + 60 : RIGHT - 60] < 150) > 0.3]
    shares = sorted(float(np.mean(grey[y, LEFT + 60 : RIGHT - 60] < 150)) for y in lines)
    assert shares[-1] > 0.95  # the first is one line
    assert 0.5 < shares[0] < 0.8  # by hand: 26 px of every 38


@pytest.mark.parametrize(
    "tips",
    [
        (tip([0.0] * 20),),
        (tip([0.3]),),
        (tip([]),),
        (tip([0.8] * 5, treble_db=[float("nan")] * 5),),
        tuple(tip([0.02] * 40, name) for name in ("a", "b", "c", "d", "e")),
    ],
    ids=["nothing departs", "one second", "no second", "very much", "five tips"],
)
def test_hard_cases_are_drawn(tmp_path: Path, tips: tuple[TipCurve, ...]) -> None:
    picture = drawn(tmp_path / "p.png", *tips, limit=0.05, caption="Ein ß und 東京 " + "und so weiter " * 30)
    margin = np.concatenate(
        [picture[:20].reshape(-1, 3), picture[-20:].reshape(-1, 3), picture[:, -20:].reshape(-1, 3)]
    )
    assert (margin == [252, 251, 248]).all()  # nothing runs off the sheet


def test_same_input_same_bytes_and_nothing_left(tmp_path: Path) -> None:
    for name in ("a.png", "b.png"):
        drawn(tmp_path / name, tip([0.02, 0.1, 0.03]))
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.png", "b.png"]


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    with pytest.raises(CallError, match="cannot be written"):
        drawn(tmp_path / "nowhere" / "p.png", tip([0.1]))
