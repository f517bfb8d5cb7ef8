"""The picture of a proof: what must be where, in pixels worked out by hand from its layout, and what its words say."""

from __future__ import annotations

import os
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from discwright.errors import CallError
from discwright.files.proof_picture import TipCurve, draw_proof
from discwright.groove.distortion import OCTAVES_HZ, Departures, WorstSpot, worst_spots
from discwright.groove.heard import Place

PLACE = Place(np.array([0.0, 1500.0]), np.array([0.146, 0.061]), 1.8, (0.0, 20.0), 0.1463)
BANDS = ((0.0, 18.0), (20.0, 60.0))
NAN = float("nan")
PAPER, BLACK, RULE, FIELD, DARK = (252, 251, 248), (40, 38, 34), (226, 222, 213), (245, 243, 237), (84, 28, 18)
#: By hand, px, one tip: of 1800 px, 276 lie above the panels, 96 below and 74 between them, so 1280 are left; the
#: first panel has 36 % of that, the second 40 %, the third 24 %. Names of bands take the first 38 of the first.
LEFT, RIGHT = 190, 2170
CURVE_TOP, CURVE_FOOT = 276 + 38, 276 + 0.36 * 1280
OCTAVES_FOOT = 276 + 74 + 0.76 * 1280
TREBLE_TOP, TREBLE_FOOT = 276 + 2 * 74 + 0.76 * 1280, 1704
#: Height of the row of marks.
MARKS = CURVE_TOP + 22


def departures(
    distortion: list[float], treble_db: list[float] | None = None, octave: int = 7, begin: float = 10.0
) -> Departures:
    n = len(distortion)
    time = begin + np.arange(n)
    bands = np.zeros((n, len(OCTAVES_HZ)))
    bands[:, octave] = distortion
    treble = np.full(n, -0.5) if treble_db is None else np.array(treble_db)
    return Departures(time, time + 0.5, np.full(n, -20.0), np.array(distortion), bands, treble)


def tip(distortion: list[float], name: str = "spherical-18", **more: object) -> TipCurve:
    found = departures(distortion, **more)  # type: ignore[arg-type]
    return TipCurve(name, found, worst_spots(found))


def drawn(path: Path, *tips: TipCurve, **more: object) -> np.ndarray:
    given = {"place": PLACE, "bands": BANDS, "caption": "A side", **more}
    draw_proof(path, tips, **given)  # type: ignore[arg-type]
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB")).astype(int)


def is_colour(pixels: np.ndarray, colour: tuple[int, int, int], near: int = 30) -> np.ndarray:
    return np.abs(pixels - colour).max(axis=-1) < near


def heights(picture: np.ndarray, x: float, top: float, foot: float, colour: tuple[int, int, int] = BLACK) -> np.ndarray:
    """Rows between two heights where a column has a colour."""
    rows = np.arange(round(top), round(foot))
    return rows[is_colour(picture[rows, round(x)], colour)]


def at(second: float, seconds: int) -> float:
    return LEFT + second / seconds * (RIGHT - LEFT)


Words = list[tuple[str, tuple[float, float, float, float], float]]


@pytest.fixture
def words(monkeypatch: pytest.MonkeyPatch) -> Words:
    """Every text that is drawn, its box, and its size; in pixels of the picture, which is drawn twice as large."""
    told: Words = []
    real = ImageDraw.ImageDraw.text

    def text(self: ImageDraw.ImageDraw, xy: object, shown: str, fill: object, font: object, anchor: str) -> None:
        box = self.textbbox(xy, shown, font=font, anchor=anchor)  # type: ignore[arg-type]
        told.append((shown, tuple(edge / 2 for edge in box), font.size / 2))  # type: ignore[attr-defined, arg-type]
        real(self, xy, shown, fill, font, anchor)  # type: ignore[arg-type]

    monkeypatch.setattr(ImageDraw.ImageDraw, "text", text)
    return told


def said(words: Words) -> list[str]:
    return [one for one, _, _ in words]


def test_a_steady_line_of_ten_per_cent_stands_at_its_height(tmp_path: Path, words: Words) -> None:
    picture = drawn(tmp_path / "p.png", tip([0.10] * 30))
    # By hand: with 72 px of 422.8 for the marks the scale must reach 12.05 %, so 15 % in steps of 5 %.
    scale = [one for one, box, _ in words if box[2] < LEFT and CURVE_TOP - 20 < box[1] < CURVE_FOOT]
    assert scale == ["0 %", "5 %", "10 %", "15 %"]
    line = heights(picture, at(28.5, 30), CURVE_TOP, CURVE_FOOT)
    assert np.mean(line) + 0.5 == pytest.approx(CURVE_FOOT - 10 / 15 * (CURVE_FOOT - CURVE_TOP), abs=0.6)
    for percent in (5, 15):
        rule = heights(picture, at(28.5, 30), CURVE_TOP - 3, CURVE_FOOT, RULE)
        assert np.abs(rule + 0.5 - (CURVE_FOOT - percent / 15 * (CURVE_FOOT - CURVE_TOP))).min() < 1.0


def test_a_second_stands_over_its_whole_time(tmp_path: Path) -> None:
    picture = drawn(tmp_path / "p.png", replace(tip([0.01] * 10 + [0.10] + [0.01] * 19), spots=()))
    high = CURVE_FOOT - 10 / 15 * (CURVE_FOOT - CURVE_TOP)
    row = is_colour(picture[round(high), LEFT:RIGHT], BLACK, near=60)
    # By hand: second 10 of 30 lasts from 1/3 to 11/30 of the width.
    assert LEFT + np.flatnonzero(row)[0] == pytest.approx(at(10, 30), abs=2)
    assert LEFT + np.flatnonzero(row)[-1] == pytest.approx(at(11, 30), abs=2)


def test_the_octave_that_holds_it_is_dark(tmp_path: Path) -> None:
    picture = drawn(tmp_path / "p.png", tip([0.30] * 30, octave=7))
    dark = heights(picture, 900, OCTAVES_FOOT - 512, OCTAVES_FOOT, DARK)
    # By hand: ten rows of 51.2 px from 31.5 Hz up; the eighth is 4 kHz.
    assert (dark[0], dark[-1] + 1) == pytest.approx((OCTAVES_FOOT - 8 * 51.2, OCTAVES_FOOT - 7 * 51.2), abs=1)
    assert len(dark) == dark[-1] + 1 - dark[0]
    assert len(heights(picture, 900, OCTAVES_FOOT - 512, OCTAVES_FOOT, FIELD)) == pytest.approx(9 * 51.2, abs=2)


def test_darker_is_more_evenly_by_factors_and_in_grey_too(tmp_path: Path) -> None:
    percent = [0.05, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 80.0]
    picture = drawn(tmp_path / "p.png", tip([one / 100 for one in percent]))
    row = round(OCTAVES_FOOT - 7.5 * 51.2)
    grey = [float(picture[row, round(at(k + 0.5, 8))].mean()) for k in range(8)]
    assert grey[0] == pytest.approx(np.mean(FIELD), abs=0.5)
    assert grey[6] == grey[7] == pytest.approx(np.mean(DARK), abs=0.5)
    # By hand: 1 % is log 10 / log 300 = 0.404 of the way from 0.1 to 30 %; a step of 3 or 10/3 is a fifth, nearly.
    assert (grey[1] - grey[3]) / (grey[1] - grey[6]) == pytest.approx(0.404, abs=0.01)
    assert np.diff(grey[1:7]) == pytest.approx((grey[6] - grey[1]) / 5, rel=0.07)


@pytest.mark.parametrize("seconds", [1500, 6000])
def test_a_peak_of_a_second_is_not_lost_in_a_long_side(tmp_path: Path, seconds: int) -> None:
    loud = [0.001] * seconds
    loud[seconds * 3 // 4] = 0.4
    picture = drawn(tmp_path / "b.png", replace(tip(loud), spots=()))
    x = at(seconds * 3 // 4 + 0.5, seconds)
    # By hand: 40 % needs a scale of 48.2 % for the marks, so 50 %.
    peak = np.flatnonzero(
        is_colour(picture[:, round(x) - 4 : round(x) + 5], BLACK, 60).any(axis=1)[: round(CURVE_FOOT)]
    )
    assert peak[peak > CURVE_TOP][0] == pytest.approx(CURVE_FOOT - 40 / 50 * (CURVE_FOOT - CURVE_TOP), abs=3)
    row = round(OCTAVES_FOOT - 7.5 * 51.2)
    assert picture[row, round(x) - 1 : round(x) + 2].mean(axis=1).min() < 100


def test_a_lone_spot_is_marked_straight_above_its_time(tmp_path: Path, words: Words) -> None:
    picture = drawn(
        tmp_path / "p.png", replace(tip([0.01] * 20 + [0.1] + [0.01] * 9), spots=(WorstSpot(30.3, 0.1, 4e3),))
    )
    x = at(20.3, 30)
    _, box, _ = next(one for one in words if one[0] == "1")
    assert ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2) == pytest.approx((x, MARKS), abs=2)
    ring = is_colour(picture[round(MARKS), round(x) - 30 : round(x) + 31], (52, 50, 46), 60)
    # By hand: a ring of 18 px radius, and a line from it down to the curve at 10 of 15 %.
    assert np.flatnonzero(ring)[[0, -1]] - 30 == pytest.approx([-17, 17], abs=1.5)
    line = picture[
        round(MARKS) + 20 : round(CURVE_FOOT - 10 / 15 * (CURVE_FOOT - CURVE_TOP)) - 5, round(x) - 1 : round(x) + 2
    ]
    assert line.mean(axis=2).min(axis=1).max() < 200


def test_ten_marks_in_a_cluster_stand_apart_in_order_of_time(tmp_path: Path, words: Words) -> None:
    distortion = [0.001] * 300
    distortion[100:130:3] = [0.11, 0.12, 0.13, 0.14, 0.15, 0.16, 0.17, 0.18, 0.19, 0.20]
    drawn(tmp_path / "p.png", tip(distortion))
    marks = {one: box for one, box, _ in words if one in [str(k) for k in range(1, 11)] and abs(box[1] - MARKS) < 20}
    middles = [(marks[str(k)][0] + marks[str(k)][2]) / 2 for k in range(10, 0, -1)]
    # By hand: spots every 19.8 px around second 114, rings every 40 px around the same middle.
    assert np.diff(middles) == pytest.approx(40, abs=2)
    assert np.mean(middles) == pytest.approx(at(114, 300), abs=2)


def test_marks_at_the_end_of_a_side_stay_within_the_panel(tmp_path: Path, words: Words) -> None:
    drawn(tmp_path / "p.png", tip([0.001] * 280 + [0.1] * 20))
    middles = [
        (box[0] + box[2]) / 2
        for one, box, _ in words
        if one in [str(k) for k in range(1, 11)] and abs(box[1] - MARKS) < 20
    ]
    assert len(middles) == 10
    assert max(middles) == pytest.approx(RIGHT - 18, abs=2)


def test_rounding_alone_is_no_spot(tmp_path: Path, words: Words) -> None:
    drawn(tmp_path / "p.png", tip([3e-7] * 20, "none"))
    assert "nothing above 0.05 %, none" in said(words)
    assert "1" not in said(words)


def test_the_worst_of_every_tip_is_told_worst_tip_first(tmp_path: Path, words: Words) -> None:
    quiet, loud, none = tip([0.01, 0.02, 0.01], "a"), tip([0.01, 0.123, 0.01], "b"), tip([0.0] * 3, "c")
    drawn(tmp_path / "p.png", quiet, loud, none)
    # By hand: 11.5 s of 1500 s on 85 mm from 146 mm is 145.3 mm.
    place = "at 0:11.5, r 145.3 mm"
    assert f"worst 12.3 % {place}, b;   worst 2.0 % {place}, a;   nothing above 0.05 %, c" in said(words)


@pytest.mark.parametrize(
    ("seconds", "begin", "first", "times", "radii"),
    [
        # By hand: 85 mm in 1500 s are 0.0567 mm/s.
        (1, 10.0, 0.0, ["0:10.0", "0:10.1"], ["145.433", "145.428"]),
        (12, 0.0, 0.0, ["0:00", "0:01"], ["146.00", "145.94"]),
        (1200, 300.0, 60.0, ["6:00", "8:00"], ["125.6", "118.8"]),
    ],
)
def test_time_and_radius_stand_on_the_axes(
    tmp_path: Path, words: Words, seconds: int, begin: float, first: float, times: list[str], radii: list[str]
) -> None:
    drawn(tmp_path / "p.png", tip([0.01] * seconds, begin=begin))
    for told, row in ((times, 1700), (radii, 240)):
        shown = [(one, box) for one, box, _ in words if row < box[1] < row + 60 and one[0].isdigit()]
        assert [one for one, _ in shown[:2]] == told
        assert sum(shown[0][1][::2]) / 2 == pytest.approx(at(first, seconds), abs=2)
    assert {"radius, mm", "min:s"} <= set(said(words))


def test_bands_are_named_where_they_begin(tmp_path: Path, words: Words) -> None:
    bands = ((0.0, 18.0), (20.0, 21.0), (22.0, 22.2), (25.0, 90.0), (90.0, 99.0))
    picture = drawn(tmp_path / "p.png", tip([0.01] * 60), bands=bands)
    lefts = {one: box[0] for one, box, _ in words if box[1] > CURVE_TOP - 38 and box[3] < CURVE_TOP}
    # By hand: a second is 33 px: room for “2” alone, none for 0.2 s of the third; the fifth begins after the passage.
    assert set(lefts) == {"band 1", "2", "band 4"}
    assert lefts["2"] == pytest.approx(at(10, 60) + 8, abs=4)
    for edge in (18.0, 20.0, 25.0):
        for foot in (CURVE_FOOT, TREBLE_FOOT):
            column = picture[round(foot) - 120 : round(foot) - 20, round(at(edge - 10, 60))]
            assert 0.1 < np.mean(column.mean(axis=1) < 190) < 0.6


def test_the_limit_is_drawn_on_the_scale_and_told_beyond_it(tmp_path: Path, words: Words) -> None:
    picture = drawn(tmp_path / "a.png", tip([0.10] * 30), limit=0.05)
    row = round(CURVE_FOOT - 5 / 15 * (CURVE_FOOT - CURVE_TOP))
    near = picture[row - 1 : row + 2, LEFT:RIGHT].mean(axis=2).min(axis=0) < 170
    assert 0.2 < near.mean() < 0.6
    assert "house limit 5 %" in said(words)
    assert "above this scale" not in said(words)
    words.clear()
    drawn(tmp_path / "b.png", tip([0.001] * 30), limit=0.05)
    assert {"house limit 5 %", "above this scale"} <= set(said(words))
    words.clear()
    drawn(tmp_path / "c.png", tip([0.001] * 30))
    assert not any("limit" in one for one in said(words))


def test_treble_that_is_not_known_leaves_a_gap(tmp_path: Path) -> None:
    picture = drawn(tmp_path / "b.png", tip([0.01] * 30, treble_db=[-2.0] * 10 + [NAN] * 10 + [-2.0] * 10))
    # By hand: 2 dB on a scale to 2.5 dB.
    row = round(TREBLE_FOOT - 2 / 2.5 * (TREBLE_FOOT - TREBLE_TOP))
    black = is_colour(picture[row - 1 : row + 2, LEFT:RIGHT], BLACK).any(axis=0)
    assert black.mean() == pytest.approx(2 / 3, abs=0.01)
    assert not black[round(at(10, 30)) - LEFT + 3 : round(at(20, 30)) - LEFT - 3].any()


def test_treble_gained_is_below_nothing(tmp_path: Path, words: Words) -> None:
    picture = drawn(tmp_path / "p.png", tip([0.01] * 30, treble_db=[3.0] * 30))
    assert "Treble lost, 8 to 16 kHz; below 0 it is gained" in said(words)
    # By hand: from 1 dB to -3 dB in steps of 1, and 8 % more below: -4 dB at the foot.
    line = heights(picture, at(28.5, 30), TREBLE_TOP, TREBLE_FOOT)
    assert np.mean(line) + 0.5 == pytest.approx(TREBLE_FOOT - 1 / 5 * (TREBLE_FOOT - TREBLE_TOP), abs=0.6)


def test_no_treble_at_all_is_told(tmp_path: Path, words: Words) -> None:
    drawn(tmp_path / "p.png", tip([0.01] * 30, treble_db=[NAN] * 30))
    assert "no treble to judge" in said(words)


def test_tips_are_told_apart_by_dashes_too(tmp_path: Path) -> None:
    levels = [0.10, 0.08, 0.06, 0.04, 0.02]
    tips = [replace(tip([one] * 30, name), spots=()) for one, name in zip(levels, "abcde", strict=True)]
    picture = drawn(tmp_path / "p.png", *tips, bands=())
    foot = 276 + 0.36 * (1280 - 74)  # by hand: with four panels one gap more
    counts = []
    for level in levels:
        row = round(foot - level / 0.15 * (foot - CURVE_TOP))
        dark = picture[row, LEFT + 5 : RIGHT - 5].mean(axis=1) < 180
        counts.append(1 + np.count_nonzero(np.diff(dark.astype(int)) == 1))
    # By hand, of 1970 px: one; one every 36, one every 12, two every 45 and one every 20 px.
    assert counts == pytest.approx([1, 55, 164, 88, 99], abs=2)


def test_a_sixth_tip_is_told_and_not_drawn(tmp_path: Path, words: Words) -> None:
    tips = [tip([0.1 / k] * 30, f"tip-{k}") for k in range(1, 8)]
    five = drawn(tmp_path / "five.png", *tips[:5])
    words.clear()
    seven = drawn(tmp_path / "seven.png", *tips)
    assert "and 2 more, not drawn" in said(words)
    np.testing.assert_array_equal(five[200:], seven[200:])


LONG = "a-rather-long-name-of-a-tip-of-the-house"
HARD = {
    "nothing departs": ((tip([0.0] * 20),), {}),
    "one second": ((tip([0.3]),), {}),
    "no second": ((tip([]),), {}),
    "very much": ((tip([0.8] * 5, treble_db=[NAN] * 5),), {"limit": 1.0}),
    "five tips": (tuple(tip([0.02 * k] * 40, f"tip-{k}") for k in range(1, 6)), {"limit": 0.05}),
    "seven tips": (tuple(tip([0.02] * 40, f"{LONG}-{k}") for k in range(7)), {"limit": 0.125}),
    "long name": ((tip([0.02] * 40, LONG * 6), tip([0.02] * 40, LONG * 6)), {}),
    "long caption": ((tip([0.02] * 1500),), {"caption": "Ein ß und 東京\n" + "und so weiter " * 30}),
    "many bands": ((tip([0.02] * 400),), {"bands": [(12.0 * k, 12.0 * k + 11) for k in range(40)]}),
    "flat": ((tip([0.02] * 40), tip([0.01] * 40)), {"size_px": (2400, 1350)}),
}


@pytest.mark.parametrize(("tips", "more"), HARD.values(), ids=HARD.keys())
def test_words_are_whole_legible_and_apart(
    tmp_path: Path, words: Words, tips: tuple[TipCurve, ...], more: dict[str, object]
) -> None:
    picture = drawn(tmp_path / "p.png", *tips, **more)
    width, height = more.get("size_px", (2400, 1800))  # type: ignore[misc]
    assert picture.shape == (height, width, 3)
    for edge in (picture[:20], picture[-20:], picture[:, :20], picture[:, -20:]):
        assert (edge == PAPER).all()  # nothing runs off the sheet
    assert all(
        left > 0 and right < width and top > 0 and foot < height for _, (left, top, right, foot), _ in words if _
    )
    assert min(size for _, _, size in words) >= 20
    for (one, a, _), (other, b, _) in combinations([told for told in words if told[0]], 2):
        apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
        assert apart, f"“{one}” lies over “{other}”"


def test_half_the_size_is_the_same_picture(tmp_path: Path) -> None:
    picture = drawn(tmp_path / "p.png", tip([0.10] * 30), size_px=(1200, 900))
    assert picture.shape == (900, 1200, 3)
    line = heights(picture, at(28.5, 30) / 2, CURVE_TOP / 2, CURVE_FOOT / 2)
    assert np.mean(line) + 0.5 == pytest.approx((CURVE_FOOT - 10 / 15 * (CURVE_FOOT - CURVE_TOP)) / 2, abs=0.6)


def test_same_input_same_bytes_and_nothing_left(tmp_path: Path) -> None:
    for name in ("a.png", "b.png"):
        drawn(tmp_path / name, tip([0.02, 0.1, 0.03]), tip([0.01, 0.1, NAN], "b"))
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.png", "b.png"]


def test_what_cannot_be_drawn_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CallError, match=r"There is no tip to draw; give at least one\."):
        drawn(tmp_path / "p.png")
    with pytest.raises(CallError, match=r"1000 × 900 px is too small; ask for at least 1200 × 675 px\."):
        drawn(tmp_path / "p.png", tip([0.1]), size_px=(1000, 900))
    with pytest.raises(CallError, match=r"2400 × 1349 px is too small; ask for at least 2400 × 1350 px\."):
        drawn(tmp_path / "p.png", tip([0.1]), size_px=(2400, 1349))
    assert list(tmp_path.iterdir()) == []


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("kept", encoding="utf-8")
    (tmp_path / "folder.png").mkdir()
    for place in ("nowhere/p.png", "file/p.png", "folder.png"):
        with pytest.raises(CallError, match=r"cannot be written .*; check the folder and the disk\."):
            drawn(tmp_path / place, tip([0.1]))
    assert sorted(path.name for path in tmp_path.rglob("*")) == ["file", "folder.png"]


def test_a_folder_that_may_not_be_written(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    try:
        if os.access(tmp_path, os.W_OK):
            pytest.skip("this user may write everywhere")
        with pytest.raises(CallError, match="cannot be written"):
            drawn(tmp_path / "p.png", tip([0.1]))
        assert list(tmp_path.iterdir()) == []
    finally:
        tmp_path.chmod(0o700)
