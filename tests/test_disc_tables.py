"""Disc dimensions, speeds and playing times against the standards and a handbook's worked example."""

from __future__ import annotations

import csv
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from discwright.files.settings import load_setup, shipped
from discwright.groove.equipment import DiscFormat, PlayingTip, Practice, Setup
from discwright.groove.grid import lay_grid
from discwright.groove.motion import survey_motion
from discwright.groove.rows import pose
from discwright.groove.spiral import lay_spiral
from discwright.groove.table import SpiralRows, lead_out_pitch, tabulate
from discwright.units import lines_per_inch

FORMATS = shipped(DiscFormat)
AUTHORITIES = Path(__file__).parent / "authorities"


def table(name: str) -> list[dict[str, float]]:
    with (AUTHORITIES / name).open(encoding="utf-8") as file:
        return [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]


def dimensions() -> dict[str, dict[str, float]]:
    """The printed dimensions of every format, by name."""
    with (AUTHORITIES / "disc_dimensions.csv").open(encoding="utf-8") as file:
        return {row.pop("format"): {k: float(v) for k, v in row.items()} for row in csv.DictReader(file)}


DIMENSIONS = dimensions()


def test_every_format_is_in_the_table_and_the_other_way_round() -> None:
    assert list(FORMATS) == list(DIMENSIONS)


def test_every_authority_is_opened_by_a_test() -> None:
    texts = [path.read_text(encoding="utf-8") for path in Path(__file__).parent.rglob("test_*.py")]
    page = (AUTHORITIES / "README.md").read_text(encoding="utf-8")
    for path in AUTHORITIES.glob("*.csv"):
        assert any(f'"{path.name}"' in text for text in texts), path.name
        assert f"`{path.name}`" in page, path.name


@pytest.mark.parametrize("name", list(DIMENSIONS))
def test_formats(name: str) -> None:
    """Published: IEC 60098:1987, RIAA 1963, JIS S 8502 (7-inch innermost from memory)."""
    disc, row = FORMATS[name], DIMENSIONS[name]
    assert disc.revolutions_per_second * 60 == pytest.approx(row["speed_rpm"], rel=1e-9)
    assert disc.outermost_radius * 2e3 == pytest.approx(row["outermost_diameter_mm"])
    assert disc.innermost_radius * 2e3 == pytest.approx(row["innermost_diameter_mm"])
    assert disc.locked_radius * 2e3 == pytest.approx(row["locked_diameter_mm"])
    assert disc.disc_diameter * 1e3 == pytest.approx(row["disc_diameter_mm"])
    assert disc.label_diameter * 1e3 == pytest.approx(row["label_diameter_max_mm"])
    assert disc.hole_diameter * 1e3 == pytest.approx(row["hole_diameter_mm"])
    assert disc.lead_in_pitch * 1e3 == pytest.approx(row["lead_in_pitch_mm"])
    assert disc.lead_out_pitch * 1e3 == pytest.approx(row["lead_out_pitch_mm"])
    low, high = (row["lead_out_pitch_mm"] + sign * row["lead_out_tolerance_mm"] for sign in (-1, 1))
    assert (disc.lead_out_pitch_min * 1e3, disc.lead_out_pitch_max * 1e3) == pytest.approx((low, high))
    assert abs(disc.lead_in_pitch * 1e3 - 1.2) <= row["lead_in_tolerance_mm"]
    assert lines_per_inch(disc.join_pitch) >= row["join_lines_per_inch_min"]
    assert disc.label_diameter < 2 * disc.locked_radius < 2 * disc.innermost_radius


def test_inches_of_the_standards() -> None:
    # Published, in inches beside millimetres: 4 3/16 = 106.36, 11.52 = 292.6, 6 5/8 = 168.28; 4 3/4 and 4 1/4 exact.
    inches = {"12in-33": (11.52, 4.75), "10in-33": (9.52, 4.75), "7in-45": (6.625, 4.25)}
    for name, (outermost, innermost) in inches.items():
        assert FORMATS[name].outermost_radius * 2 / 0.0254 == pytest.approx(outermost, abs=0.002)
        assert FORMATS[name].innermost_radius * 2 / 0.0254 == pytest.approx(innermost, abs=1e-9)
    assert FORMATS["12in-33"].locked_radius * 2 / 0.0254 == pytest.approx(4 + 3 / 16, abs=0.002)
    # Published (JIS): innermost more than 115.2 and 106 mm.
    assert [FORMATS[n].innermost_radius * 2e3 > m for n, m in (("12in-33", 115.2), ("7in-45", 106.0))] == [True, True]


@pytest.mark.parametrize("row", table("groove_speed.csv"), ids=lambda row: f"{row['diameter_mm']:g}mm")
def test_groove_speed(row: dict[str, float]) -> None:
    for name, key in (("12in-33", "v33_cm_s"), ("12in-45", "v45_cm_s")):
        speed = math.pi * row["diameter_mm"] * 1e-3 * FORMATS[name].revolutions_per_second
        assert speed * 100 == pytest.approx(row[key], abs=0.001)


def test_full_turn_rule() -> None:
    """Published: 106.4 + 2·6.4 = 119.2 mm is the least diameter with a whole nominal lead-out turn."""
    disc = FORMATS["12in-33"]
    assert (disc.locked_radius + disc.lead_out_pitch) * 2e3 == pytest.approx(119.2)
    assert lead_out_pitch(disc, 0.0596) == pytest.approx(6.4e-3)
    # Published: a side that ends at 115 mm gets 0.67 turn at 6.4 mm and needs 4.3 mm or less for a whole one.
    assert (0.0575 - disc.locked_radius) / disc.lead_out_pitch == pytest.approx(0.67, abs=0.005)
    assert lead_out_pitch(disc, 0.0575) == pytest.approx(4.3e-3)
    assert lead_out_pitch(disc, 0.0540) == disc.lead_out_pitch_min
    # By hand: with the tolerance's least pitch the rule asks for 56.4 mm, so the recorded radius decides.
    assert disc.last_radius == disc.innermost_radius
    wide = replace(disc, lead_out_pitch_min=8e-3)
    assert wide.last_radius == pytest.approx(0.0612)


def test_lead_in_turns() -> None:
    """Published: from 301 mm to 292.6 mm at 1.2 mm is 3.5 turns, 6.3 s at 33 1/3."""
    disc = FORMATS["12in-33"]
    turns = (disc.disc_diameter / 2 - disc.outermost_radius) / disc.lead_in_pitch
    assert turns == pytest.approx(3.5)
    assert turns * disc.turn_time == pytest.approx(6.3)


def test_every_tip_fits_the_narrowest_groove() -> None:
    """Derived (reference 3): √2·R below the least top width; only the 18 µm sphere misses it, by half a µm."""
    width = 2 * shipped(Practice)["standard"].depth_min
    for tip in shipped(PlayingTip).values():
        assert math.sqrt(2) * tip.side_radius <= width + 0.5e-6


def silent_side(setup: Setup, seconds: float, pitch: float, rate: int = 44_100) -> SpiralRows:
    """The plan of silence on a lathe that can cut one pitch only."""
    lathe = replace(setup.lathe, pitch_min=pitch * (1 - 1e-7), pitch_max=pitch * (1 + 1e-7), sectors_per_turn=8)
    setup = replace(setup, lathe=lathe)
    grid = lay_grid(seconds, setup.disc.turn_time, lathe.sectors_per_turn)
    block = np.zeros((44_100, 2), dtype=np.float32)
    whole, rest = divmod(round(seconds * rate), 44_100)
    blocks = [block] * whole + ([block[:rest]] if rest else [])
    motion = survey_motion(blocks, rate, grid, setup.practice.sync_guard, setup.practice.subsonic)
    return tabulate(motion, 1.0, lay_spiral(pose(motion, 1.0, setup)), setup.disc)


@pytest.mark.parametrize(
    "row",
    table("fixed_pitch_minutes.csv"),
    ids=lambda r: f"{r['outer_diameter_mm']:g}-{r['inner_diameter_mm']:g}-{r['speed_rpm']:.0f}",
)
@pytest.mark.parametrize("lpi", [150, 200, 300])
def test_playing_time_at_fixed_pitch(row: dict[str, float], lpi: int) -> None:
    """Published (handbook rule): the planned spiral crosses the band in the printed time, 0.1 % plus the last digit."""
    name = {292.6: "12in-33" if row["speed_rpm"] < 40 else "12in-45", 241.8: "10in-33", 168.3: "7in-45"}
    setup = load_setup(name[row["outer_diameter_mm"]])
    minutes = row[f"lpi_{lpi}"]
    rows = silent_side(setup, 60.0, 0.0254 / lpi)
    per_minute = float(rows.radius[rows.music][0] - rows.radius[rows.music][-1])
    band = (row["outer_diameter_mm"] - row["inner_diameter_mm"]) / 2 * 1e-3
    assert band / per_minute == pytest.approx(minutes, rel=1e-3, abs=0.005)


def test_handbook_example() -> None:
    """Published (Boden 1981, as worked on a lecturer's page): 20 min at 33 1/3 over 3 in is 222.2 lines per inch."""
    # By the handbook's pitch rule, minutes · rpm / inches; with 76 mm it prints 223 and 8.8 lines/mm.
    pitch = 3 * 0.0254 / (20 * FORMATS["12in-33"].revolutions_per_second * 60)
    assert lines_per_inch(pitch) == pytest.approx(222.2, abs=0.05)
    assert lines_per_inch(pitch * 76 / 76.2) == pytest.approx(222.8, abs=0.05)
    rows = silent_side(load_setup(), 120.0, pitch)
    used = float(rows.radius[rows.music][0] - rows.radius[rows.music][-1])
    assert used * 10 == pytest.approx(3 * 0.0254, rel=1e-3)


def test_handbook_width_rule() -> None:
    """Published (Boden 1981): width = (1000/LPI + 1)/2 mil, so land = width - 1 mil; at 223 lines 2.74 mil.

    Planned: silence as deep as half that width, on a lathe of that pitch, must leave exactly that land.
    """
    mil = 0.0254e-3
    width = (1000 / 223 + 1) / 2 * mil
    assert width / mil == pytest.approx(2.74, abs=0.005)
    setup = load_setup()
    practice = replace(setup.practice, depth_min=width / 2, depth_max=width / 2 + 1e-9, land_min=1e-6)
    rows = silent_side(replace(setup, practice=practice), 20.0, 0.0254 / 223)
    land = rows.land[rows.zone == "music"]
    assert np.nanmax(land) == pytest.approx(width - mil, abs=0.01 * mil)
    assert np.nanmin(land) == pytest.approx(width - mil, abs=0.01 * mil)


def test_two_hundred_lines_on_a_twelve_inch_side() -> None:
    """Published: a whole side of 20.31 min, planned: 677 turns, 439 m of groove, 292.6 to 120.65 mm."""
    setup = load_setup()
    minutes = next(row["lpi_200"] for row in table("fixed_pitch_minutes.csv") if row["speed_rpm"] < 40)
    rows = silent_side(setup, minutes * 60, 0.0254 / 200, rate=8000)
    music = rows.music
    assert rows.turn[music][-1] == pytest.approx(677, abs=0.5)
    assert rows.radius[music][0] * 2e3 == pytest.approx(292.6)
    assert rows.radius[music][-1] * 2e3 == pytest.approx(120.65, abs=0.1)
    # Another road: the length of the polyline of the planned groove, turn by turn.
    middle = 0.5 * (rows.radius[music][1:] + rows.radius[music][:-1])
    assert float(np.sum(2 * math.pi * middle * np.diff(rows.turn[music]))) == pytest.approx(439, abs=0.5)
    # Published: T = (R_out - R_in)/(pitch · rpm), here summed over the plan; 0.1 %.
    pitch = rows.pitch[music][:-1]
    integral = np.sum(-np.diff(rows.radius[music]) / pitch) / setup.disc.revolutions_per_second
    assert integral / 60 == pytest.approx(minutes, rel=1e-3)
    assert np.ptp(lines_per_inch(pitch)) < 1e-3


@pytest.mark.parametrize(
    ("disc", "minutes"),
    # Published guidance: trade charts at the reference level, near within 20 %.
    [("12in-33", 20.0), ("7in-45", 5.0), ("10in-33", 13.0)],
)
def test_two_hundred_lines_agree_with_the_trade_charts(disc: str, minutes: float) -> None:
    setup = load_setup(disc)
    band = setup.disc.outermost_radius - setup.disc.last_radius
    assert band / (0.0254 / 200) * setup.disc.turn_time / 60 == pytest.approx(minutes, rel=0.2)
