"""The picture of a test play: every mark where its fault lies, in pixels worked out by hand, and what its words say."""

from __future__ import annotations

import math
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageDraw

from discwright.files.inspect_picture import PlaySheet, draw_play
from discwright.files.settings import load_setup
from discwright.findings import Finding
from discwright.inspection.defects import Defect
from discwright.inspection.sound import THIRDS_HZ

DISC = load_setup("12in-33").disc
TURN_S = 1.8
WIDTH, HEIGHT = 1800, 1230
HEARD, MASKED, PAPER, INK = (176, 42, 28), (96, 118, 140), (252, 251, 248), (40, 38, 34)
RECORDED = (222, 218, 208)
#: By hand, px: three quarters of the layout's units; a disc of 301 mm has a radius of 680 units.
CENTRE, PER_MM = (780 * 0.75, 800 * 0.75), 680 * 0.75 / 150.5


def radius(time: float) -> float:
    """From 146.3 mm inward, 100 µm a turn."""
    return 0.1463 - time / TURN_S * 100e-6


def defect(kind: str, time: float, audible: bool = True, size_db: float = 20.0, duration: float = 1e-4) -> Defect:
    turn = time / TURN_S
    return Defect(kind, time, turn, radius(time), 360 * (turn % 1.0), "both", duration, size_db, audible)


def sheet(*defects: Defect, **more: Any) -> PlaySheet:
    given: dict[str, Any] = {
        "head": "A side", "foot": "a.wav, held against the programme", "verdict": "pass", "disc": DISC,
        "last_radius": 0.075, "turn_time": TURN_S, "radius": radius, "defects": defects,
        "measures": [("speed error", "0.1 %   (limit 0.5)"), ("noise", "-50 dB")], "findings": (),
        "response_db": np.zeros((30, 2)),
    } | more  # fmt: skip
    return PlaySheet(**given)


def drawn(folder: Path, *defects: Defect, **more: Any) -> np.ndarray:
    draw_play(folder / "inspect.png", sheet(*defects, **more))
    with Image.open(folder / "inspect.png") as image:
        assert image.format == "PNG"
        return np.asarray(image.convert("RGB")).astype(int)


def place(time: float, at: float | None = None) -> tuple[float, float]:
    """By hand: a whole turn stands at 12 o'clock, a quarter of one later at 9 o'clock."""
    angle, reach = 2 * math.pi * time / TURN_S, (radius(time) if at is None else at) * 1e3 * PER_MM
    return CENTRE[0] - reach * math.sin(angle), CENTRE[1] - reach * math.cos(angle)


def is_colour(pixels: np.ndarray, colour: tuple[int, int, int], near: int = 30) -> np.ndarray:
    return np.abs(pixels - colour).max(axis=-1) < near


def at(picture: np.ndarray, x: float, y: float) -> np.ndarray:
    return picture[round(y), round(x)]


def marked(picture: np.ndarray, colour: tuple[int, int, int]) -> np.ndarray:
    """Rows and columns of a colour on the face."""
    face = picture[75:1125, 60:1110]
    return np.argwhere(is_colour(face, colour, 15)) + np.array((75, 60))


Words = list[tuple[str, tuple[float, float, float, float]]]


@pytest.fixture
def words(monkeypatch: pytest.MonkeyPatch) -> Words:
    """Every text that is drawn and its box, in pixels of the picture, which is drawn twice as large."""
    told: Words = []
    real = ImageDraw.ImageDraw.text

    def text(self: ImageDraw.ImageDraw, xy: object, shown: str, fill: object, font: object, anchor: str) -> None:
        box = self.textbbox(xy, shown, font=font, anchor=anchor)  # type: ignore[arg-type]
        told.append((shown, tuple(edge / 2 for edge in box)))  # type: ignore[arg-type]
        real(self, xy, shown, fill, font, anchor)  # type: ignore[arg-type]

    monkeypatch.setattr(ImageDraw.ImageDraw, "text", text)
    return told


def test_its_size_and_an_empty_face(tmp_path: Path, words: Words) -> None:
    picture = drawn(tmp_path)
    assert picture.shape == (HEIGHT, WIDTH, 3)
    assert len(marked(picture, HEARD)) == 0
    assert len(marked(picture, MASKED)) == 0
    assert "no fault found" in [one for one, _ in words]
    # The recorded part between its two radii, and the label within.
    assert is_colour(at(picture, *place(0.3, 0.120)), RECORDED, 8)
    assert not is_colour(at(picture, *place(0.3, 0.070)), RECORDED, 8)
    assert is_colour(at(picture, *place(0.3, 0.020)), PAPER, 8)


@pytest.mark.parametrize("time", [0.0, 1.35, 700.13])
def test_a_tick_lies_where_the_disc_has_it(tmp_path: Path, time: float) -> None:
    picture = drawn(tmp_path, defect("tick", time))
    where = marked(picture, HEARD)
    x, y = place(time)
    assert len(where) > 50
    assert where.mean(axis=0) == pytest.approx([y, x], abs=1.0)
    # By hand: 9 and a quarter of 20 dB units wide to either side, and the line around it.
    assert np.hypot(*(where - (y, x)).T).max() == pytest.approx(0.75 * (9 + 5), abs=2.5)


def test_a_quarter_turn_later_lies_at_nine_o_clock(tmp_path: Path) -> None:
    picture = drawn(tmp_path, defect("tick", 0.45))
    y, x = marked(picture, HEARD).mean(axis=0)
    assert y == pytest.approx(CENTRE[1], abs=1.0)
    assert x == pytest.approx(CENTRE[0] - 146.275 * PER_MM, abs=1.0)


def test_masked_is_another_colour_and_heard_lies_on_top(tmp_path: Path) -> None:
    picture = drawn(tmp_path, defect("tick", 100.0, audible=False))
    x, y = place(100.0)
    assert is_colour(at(picture, x, y), MASKED)
    both = drawn(tmp_path, defect("tick", 100.0), defect("tick", 100.0 + 1e-4, audible=False, size_db=40.0))
    assert is_colour(at(both, x, y), HEARD)
    assert len(marked(both, MASKED)) > 20  # the larger one looks out beneath


def test_louder_marks_are_larger_up_to_a_bound(tmp_path: Path) -> None:
    areas = [len(marked(drawn(tmp_path, defect("tick", 100.0, size_db=db)), HEARD)) for db in (6.0, 40.0, 90.0)]
    assert areas[0] < areas[1] == areas[2]


def test_each_kind_has_a_shape_of_its_own(tmp_path: Path) -> None:
    shapes = {}
    for kind in ("tick", "pop", "scratch", "skip", "repeat"):
        picture = drawn(tmp_path, defect(kind, 100.0))
        x, y = place(100.0)
        shapes[kind] = picture[round(y) - 14 : round(y) + 14, round(x) - 14 : round(x) + 14]
        # Without seeing colour: only a repeat is hollow.
        assert bool(is_colour(at(picture, x, y), HEARD)) is (kind != "repeat")
    for one, other in combinations(shapes, 2):
        assert np.abs(shapes[one] - shapes[other]).max() > 100, (one, other)


def along(picture: np.ndarray, begin: float, end: float) -> np.ndarray:
    """Whether the colour of what is heard stands along the groove, from moment to moment."""
    times = np.linspace(begin, end, 120)
    return np.array([bool(is_colour(at(picture, *place(float(t))), HEARD, 40)) for t in times])


def test_what_lasts_is_drawn_along_the_groove(tmp_path: Path) -> None:
    share = {}
    for kind in ("swish", "crackle", "dropout"):
        picture = drawn(tmp_path, defect(kind, 90.2, duration=0.6))
        inside = along(picture, 90.22, 90.78)
        share[kind] = inside.mean()
        assert inside.any()
        assert not along(picture, 90.9, 91.9).any()
    assert share["swish"] == 1.0
    assert share["crackle"] < share["dropout"] < 1.0  # dots, dashes


def test_what_lasts_a_moment_is_seen_all_the_same(tmp_path: Path) -> None:
    assert len(marked(drawn(tmp_path, defect("dropout", 90.0, duration=0.012)), HEARD)) > 10


def test_the_legend_counts_each_kind(tmp_path: Path, words: Words) -> None:
    drawn(
        tmp_path, defect("tick", 1.0), defect("tick", 2.0, audible=False), defect("scratch", 3.0), defect("skip", 9.0),
        defect("swish", 4.0, duration=0.3),
    )  # fmt: skip
    said = [one for one, _ in words]
    assert {"tick: 2, 1 heard", "tick of a scratch: 1, 1 heard", "swish: 1, 1 heard", "skip ahead: 1, 1 heard"} <= set(
        said
    )
    assert "no fault found" not in said


def test_measures_findings_and_verdict_are_said(tmp_path: Path, words: Words) -> None:
    stop = Finding("off_centre", "stop", None, None, None, None, 0.4, 0.2, "mm", "The hole is off the centre.")
    drawn(tmp_path, findings=(stop,), verdict="stop")
    said = [one for one, _ in words]
    assert {"A side", "verdict: stop", "speed error", "0.1 %   (limit 0.5)", "-50 dB"} <= set(said)
    assert any(one.startswith("stop  off centre: The hole is off the centre") for one in said)
    assert any("held against the programme" in one for one in said)


def test_words_stay_inside_and_apart(tmp_path: Path, words: Words) -> None:
    long = "word " * 60
    findings = [Finding("faults", "stop", 1.0, 1, 1.0, 140.0, 1.0, 0.0, "dB", f"{k} {long}") for k in range(15)]
    kinds = ("tick", "pop", "crackle", "scratch", "swish", "dropout", "skip", "repeat")
    drawn(
        tmp_path, *(defect(kind, 20.0 * k, duration=0.2) for k, kind in enumerate(kinds) for _ in range(30)),
        findings=tuple(findings), head="H" + long, foot="F" + long, verdict="stop",
        measures=[(f"measure number {k}", f"{k}.123 %   (limit 0.5)") for k in range(11)],
    )  # fmt: skip
    for shown, (left, top, right, foot) in words:
        assert left >= 0, shown
        assert top >= 0, shown
        assert right <= WIDTH + 1, shown
        assert foot <= HEIGHT + 1, shown
    for (one, a), (other, b) in combinations(words, 2):
        apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] + 1 or b[3] <= a[1] + 1
        assert apart, (one, other)


def test_the_response_is_drawn_where_it_lies(tmp_path: Path) -> None:
    # By hand: thirty bands over 1620..2340 units, from +6 to -6 dB over 1120..1500, three quarters of a pixel each.
    x = round(0.75 * (1620 + 720 * THIRDS_HZ.index(1000.0) / 29))
    for db in (-4.0, 0.0, 3.0):
        response = np.full((30, 2), np.nan)
        response[:, 0] = db
        picture = drawn(tmp_path, response_db=response)
        rows = np.flatnonzero(is_colour(picture[840:1125, x], INK, 40)) + 840
        assert rows.mean() == pytest.approx(0.75 * (1310 - db / 6 * 190), abs=1.0)


def test_a_bend_beyond_the_panel_stays_at_its_edge_and_nothing_known_is_no_trouble(tmp_path: Path) -> None:
    wild = drawn(tmp_path, response_db=np.full((30, 2), 40.0))
    edge = drawn(tmp_path, response_db=np.full((30, 2), 6.0))
    assert np.array_equal(wild, edge)
    drawn(tmp_path, response_db=np.full((30, 2), np.nan))


@pytest.mark.parametrize("name", ["7in-45", "10in-33"])
def test_smaller_discs_fill_the_picture_too(tmp_path: Path, name: str) -> None:
    disc = load_setup(name).disc
    outer = disc.outermost_radius
    fault = Defect("tick", 0.0, 0.0, outer, 0.0, "both", 1e-4, 20.0, True)
    picture = drawn(tmp_path, fault, disc=disc, radius=lambda _t: outer, last_radius=disc.innermost_radius)
    y, x = marked(picture, HEARD).mean(axis=0)
    assert x == pytest.approx(CENTRE[0], abs=1.0)
    assert y == pytest.approx(CENTRE[1] - outer / (disc.disc_diameter / 2) * 680 * 0.75, abs=1.0)


def test_a_place_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    with pytest.raises(OSError, match="No such file"):
        draw_play(tmp_path / "no" / "inspect.png", sheet())
