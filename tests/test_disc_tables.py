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


@pytest.mark.parametrize(
    ("name", "rpm", "outermost_diameter", "innermost_diameter", "locked_diameter", "disc_diameter", "label"),
    [
        # Published: IEC 60098:1987 (292.6, 241.8, 168.3; 106.4, 97.4), RIAA 1963 (4 3/4 in, 4 1/4 in), JIS S 8502.
        ("12in-33", 100 / 3, 292.6, 120.65, 106.4, 301.0, 102.0),
        ("12in-45", 45.0, 292.6, 120.65, 106.4, 301.0, 102.0),
        ("10in-33", 100 / 3, 241.8, 120.65, 106.4, 251.0, 102.0),
        ("7in-45", 45.0, 168.3, 107.95, 97.4, 175.0, 93.0),
        ("7in-33", 100 / 3, 168.3, 107.95, 97.4, 175.0, 93.0),
    ],
)
def test_formats(
    name: str,
    rpm: float,
    outermost_diameter: float,
    innermost_diameter: float,
    locked_diameter: float,
    disc_diameter: float,
    label: float,
) -> None:
    disc = FORMATS[name]
    assert disc.revolutions_per_second * 60 == pytest.approx(rpm)
    assert disc.outermost_radius * 2e3 == pytest.approx(outermost_diameter)
    assert disc.innermost_radius * 2e3 == pytest.approx(innermost_diameter)
    assert disc.locked_radius * 2e3 == pytest.approx(locked_diameter)
    assert disc.disc_diameter * 1e3 == pytest.approx(disc_diameter)
    assert disc.label_diameter * 1e3 == pytest.approx(label)
    # Published (IEC 60098:1987): lead-in 1.2 ±0.4 mm, lead-out 6.4 ±3.2 mm; RIAA: joins at 16 lines per inch or more.
    assert 0.8e-3 <= disc.lead_in_pitch <= 1.6e-3
    assert (disc.lead_out_pitch_min, disc.lead_out_pitch_max) == pytest.approx((3.2e-3, 9.6e-3))
    assert lines_per_inch(disc.join_pitch) >= 16


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


def silent_side(setup: Setup, seconds: float, pitch: float) -> SpiralRows:
    """The plan of silence on a lathe that can cut one pitch only."""
    lathe = replace(setup.lathe, pitch_min=pitch * (1 - 1e-7), pitch_max=pitch * (1 + 1e-7), sectors_per_turn=8)
    setup = replace(setup, lathe=lathe)
    grid = lay_grid(seconds, setup.disc.turn_time, lathe.sectors_per_turn)
    block = np.zeros((44_100, 2), dtype=np.float32)
    whole, rest = divmod(round(seconds * 44_100), 44_100)
    blocks = [block] * whole + ([block[:rest]] if rest else [])
    motion = survey_motion(blocks, 44_100, grid, setup.practice.sync_guard, setup.practice.subsonic)
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
    assert pytest.approx(222.2, abs=0.05) == 20 * (100 / 3) / 3
    rows = silent_side(load_setup(), 120.0, 0.0254 / (20 * (100 / 3) / 3))
    used = float(rows.radius[rows.music][0] - rows.radius[rows.music][-1])
    assert used * 10 == pytest.approx(3 * 0.0254, rel=1e-3)
    # Published: width rule (1000/223 + 1)/2 = 2.74 mil; 7 cm/s at 1 kHz is 11.14 µm.
    assert pytest.approx(2.742, abs=0.001) == (1000 / 223 + 1) / 2
    assert 0.07 / (2 * math.pi * 1000) * 1e6 == pytest.approx(11.14, abs=0.005)


def test_two_hundred_lines_on_a_twelve_inch_side() -> None:
    """Published: 677 turns and 439 m of groove."""
    turns = (146.3 - 60.325) / 25.4 * 200
    assert turns == pytest.approx(677, abs=0.5)
    assert math.pi * (0.1463 + 0.060325) * turns == pytest.approx(439, abs=0.5)
