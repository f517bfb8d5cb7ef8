"""The picture of the disc: places, orientation, what is light and what is dark, and whole files."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from discwright.errors import CallError
from discwright.files.picture import FINDINGS_SHOWN, draw_disc
from discwright.files.picture_shading import Groove, cover
from discwright.findings import Finding
from discwright.groove.equipment import DiscFormat

#: IEC 60098:1987 and JIS S 8502-1973, as in data/formats.toml (published).
DISC = DiscFormat(
    name="12in-33",
    revolutions_per_second=100 / 180,
    disc_diameter=0.301,
    outermost_radius=0.1463,
    innermost_radius=0.060325,
    locked_radius=0.0532,
    lead_in_pitch=1.2e-3,
    lead_out_pitch=6.4e-3,
    lead_out_pitch_min=3.2e-3,
    lead_out_pitch_max=9.6e-3,
    join_pitch=1e-3,
    label_diameter=0.102,
    hole_diameter=7.24e-3,
)
SIZE = 1000
#: By hand: the disc takes 462 px of radius for its 150.5 mm.
PX_PER_MM = 462 / 150.5
SECTORS = 32


@dataclass(frozen=True)
class Rows:
    time: NDArray[np.float64]
    turn: NDArray[np.float64]
    zone: NDArray[np.str_]
    radius: NDArray[np.float64]
    pitch: NDArray[np.float64]
    depth: NDArray[np.float64]
    land: NDArray[np.float64]


def spiral(pitch_um: NDArray[np.float64], land_um: NDArray[np.float64], first_mm: float = 146.3) -> Rows:
    """A spiral of 50 µm wide grooves with one row per sector."""
    n = pitch_um.size
    turn = np.arange(n) / SECTORS
    radius_um = first_mm * 1e3 - np.concatenate([[0.0], np.cumsum(pitch_um[:-1])]) / SECTORS
    zone = np.where(np.isnan(land_um), "join", "music")
    depth = np.full(n, 25e-6)
    time = turn * DISC.turn_time
    return Rows(time, turn, zone, radius_um * 1e-6, pitch_um * 1e-6, depth, land_um * 1e-6)


def even(turns: int, pitch_um: float, land_um: float, first_mm: float = 146.3) -> Rows:
    n = turns * SECTORS + 1
    return spiral(np.full(n, pitch_um), np.full(n, land_um), first_mm)


def stop(time_s: float | None, radius_mm: float | None, value: float = 50.0) -> Finding:
    return Finding("slope", "stop", time_s, 1, None, radius_mm, value, 45.0, "deg", "Lower the side 0.6 dB.")


def draw(path: Path, rows: Rows, findings: tuple[Finding, ...] = (), size_px: int = SIZE) -> NDArray[np.uint8]:
    span = (0.0, float(rows.time[-1]))
    draw_disc(path, rows, DISC, bands=[span], findings=findings, caption="Test\nSide A", size_px=size_px)
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB"))


def pixel(radius_mm: float, turn: float) -> tuple[int, int]:
    """Row and column of a place: anticlockwise from 12 o'clock."""
    angle = 2 * np.pi * turn
    reach = radius_mm * PX_PER_MM
    return int(SIZE / 2 - reach * np.cos(angle)), int(SIZE / 2 - reach * np.sin(angle))


def grey(picture: NDArray[np.uint8], radius_mm: float, turn: float, half: int = 3) -> float:
    """Mean lightness of a few pixels about a place, 0..255."""
    row, column = pixel(radius_mm, turn)
    return float(picture[row - half : row + half + 1, column - half : column + half + 1].mean())


def test_size_and_whole_file(tmp_path: Path) -> None:
    path = tmp_path / "side.png"
    picture = draw(path, even(50, 100.0, 8.0))
    assert picture.shape == (SIZE, SIZE, 3)
    assert [p.name for p in tmp_path.iterdir()] == ["side.png"]


def test_the_same_bytes_every_time(tmp_path: Path) -> None:
    for name in ("one.png", "two.png"):
        draw(tmp_path / name, even(50, 100.0, 8.0), (stop(30.0, 145.0),))
    assert (tmp_path / "one.png").read_bytes() == (tmp_path / "two.png").read_bytes()


def test_hole_label_and_rim_stand_where_they_should(tmp_path: Path) -> None:
    picture = draw(tmp_path / "a.png", even(50, 100.0, 8.0)).astype(int)
    middle = SIZE // 2
    paper, label = np.array((244, 241, 233)), np.array((216, 203, 172))
    # by hand: hole 3.62 mm = 11.1 px, label 51 mm = 156.6 px, rim 150.5 mm = 462 px
    for px, colour in ((0, paper), (9, paper), (14, label), (153, label)):
        np.testing.assert_array_equal(picture[middle, middle + px], colour)
    assert picture[middle, middle + 160].mean() < 60
    assert picture[middle, middle + 459].mean() < 60
    assert picture[middle, middle + 464].mean() > 150
    np.testing.assert_allclose(picture[middle, 2], paper, atol=3)


def test_shares_of_an_even_spiral() -> None:
    rows = even(60, 100.0, 8.0)
    groove = Groove(rows.time, rows.radius, rows.depth, rows.land, rows.zone == "music", DISC.turn_time)
    seen = cover(groove, 0.1505, 20e-6, 16)
    inside = slice(round(0.1415 / 20e-6), round(0.1455 / 20e-6))
    # by hand: of 100 µm, 50 are groove and 100 - 50 - 8 = 42 swing; it counts 42 × 42 / (42 + 25) = 26.3
    assert seen.groove[:, inside].mean() == pytest.approx(0.50, abs=0.003)
    assert seen.swing[:, inside].mean() == pytest.approx(0.263, abs=0.003)
    assert seen.lone[:, inside].max() == 0.0


def test_every_groove_is_counted_once_even_where_turns_collide() -> None:
    rows = even(60, 40.0, 8.0)
    groove = Groove(rows.time, rows.radius, rows.depth, rows.land, rows.zone == "music", DISC.turn_time)
    seen = cover(groove, 0.1505, 20e-6, 16)
    inside = slice(round(0.1445 / 20e-6), round(0.1459 / 20e-6))
    # by hand: 50 µm grooves every 40 µm leave nothing
    np.testing.assert_allclose(seen.groove[:, inside], 1.0, atol=1e-5)


def test_loud_is_lighter_than_quiet_and_bare_land_is_darkest(tmp_path: Path) -> None:
    turns = 100 * SECTORS
    pitch = np.concatenate([np.full(turns, 62.0), np.full(turns, 150.0), np.full(4 * SECTORS, 2000.0)])
    land = np.concatenate([np.full(turns, 12.0), np.full(turns, 12.0), np.full(4 * SECTORS, np.nan)])
    picture = draw(tmp_path / "a.png", spiral(pitch, land))
    # by hand: quiet 146.3 .. 140.1 mm, loud .. 125.1 mm; then lines at 124.3, 122.3 ... mm in this direction
    for turn in (0.0, 0.4, 0.75):
        assert grey(picture, 132.0, turn, 2) > grey(picture, 143.0, turn, 2) + 15
    assert grey(picture, 121.3, 0.4, 1) < grey(picture, 143.0, 0.4, 2)


@pytest.mark.parametrize(("turn", "where"), [(0.0, "top"), (0.25, "left"), (0.5, "bottom"), (0.75, "right")])
def test_time_runs_anticlockwise_from_twelve(tmp_path: Path, turn: float, where: str) -> None:
    n = 200 * SECTORS + 1
    at = np.arange(n) / SECTORS
    burst = (np.abs(at % 1.0 - turn) < 0.05) | (np.abs(at % 1.0 - turn) > 0.95)
    burst &= np.abs(at - 100.0 - turn) < 10.2
    land = np.where(burst, 8.0, 70.0)  # of 120 µm, 50 are groove: quiet leaves all the rest as land
    picture = draw(tmp_path / "a.png", spiral(np.full(n, 120.0), land))
    # by hand: turn 100 lies 12.0 mm inside the first groove: 134.3 mm or 412 px from the middle
    across = {"top": (88, 500), "left": (500, 88), "bottom": (912, 500), "right": (500, 912)}
    mean = {side: float(picture[r - 2 : r + 3, c - 2 : c + 3].mean()) for side, (r, c) in across.items()}
    assert mean[where] > 1.3 * max(value for side, value in mean.items() if side != where)


def test_a_line_thinner_than_a_pixel_is_seen(tmp_path: Path) -> None:
    rows = even(6, 6400.0, np.nan)
    picture = draw(tmp_path / "a.png", rows)
    # by hand: a quarter of a turn on, the first groove stands at 146.3 - 1.6 = 144.7 mm, at 9 o'clock
    row, column = pixel(144.7, 0.25)
    beside = picture[row, column + 8].mean()
    assert picture[row, column - 1 : column + 2].mean(axis=1).max() > beside + 20


def test_a_spiral_through_the_centre_is_cut_off_there(tmp_path: Path) -> None:
    rows = even(800, 200.0, 8.0)
    assert rows.radius[-1] < 0.0
    picture = draw(tmp_path / "a.png", rows).astype(int)
    # by hand: 25 of every 100 µm are groove, a tint of 17 % on a label of mean 197
    assert picture[500, 500 + 100].mean() < 190
    np.testing.assert_array_equal(picture[500, 500], (244, 241, 233))


def test_a_side_of_one_second(tmp_path: Path) -> None:
    rows = spiral(np.full(19, 100.0), np.full(19, 8.0))  # by hand: 1 s is 0.56 turn, 18 sectors
    picture = draw(tmp_path / "a.png", rows)
    assert grey(picture, 146.3, 0.25, 1) > grey(picture, 146.3, 0.75, 1)


def test_only_the_worst_findings_are_marked_by_shape_on_the_spot(tmp_path: Path) -> None:
    rows = even(400, 120.0, 8.0)
    many = tuple(stop(0.1 * k * DISC.turn_time, 100.0, 46.0 + k) for k in range(FINDINGS_SHOWN + 1))
    picture = draw(tmp_path / "a.png", rows, many).astype(int)
    bare = draw(tmp_path / "b.png", rows).astype(int)
    red = np.array((200, 62, 44))
    for k in range(1, FINDINGS_SHOWN + 1):
        np.testing.assert_allclose(picture[pixel(100.0, 0.1 * k)], red, atol=2)
    # by hand: the first is nearest its limit and is left out
    np.testing.assert_array_equal(picture[pixel(100.0, 0.0)], bare[pixel(100.0, 0.0)])


def test_a_finding_without_a_place_stands_in_the_list_only(tmp_path: Path) -> None:
    rows = even(50, 100.0, 8.0)
    marked = draw(tmp_path / "a.png", rows, (stop(None, None),))
    changed = np.argwhere((marked != draw(tmp_path / "b.png", rows)).any(axis=2))
    assert changed.min() > 0.8 * SIZE  # the lower right corner, off the disc


def test_words_beyond_the_typeface_do_not_break_it(tmp_path: Path) -> None:
    rows = even(50, 100.0, 8.0)
    draw_disc(tmp_path / "a.png", rows, DISC, bands=[], findings=[], caption="Übermüde № 3\n33⅓ – 音", size_px=300)
    draw_disc(tmp_path / "b.png", rows, DISC, bands=[], findings=[], caption="", size_px=300)
    assert (tmp_path / "a.png").read_bytes() != (tmp_path / "b.png").read_bytes()


@pytest.mark.parametrize(
    ("rows", "size_px", "sentence"),
    [
        (even(5, 100.0, 8.0), 100, "A picture of 100 px is too small; ask for at least 200 px."),
        (
            spiral(np.full(1, 100.0), np.full(1, 8.0)),
            SIZE,
            "The spiral has no length to draw; plan a side with music in it.",
        ),
    ],
)
def test_a_refusal_says_what_to_do(tmp_path: Path, rows: Rows, size_px: int, sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        draw(tmp_path / "a.png", rows, size_px=size_px)
    assert str(refusal.value) == sentence
    assert list(tmp_path.iterdir()) == []
