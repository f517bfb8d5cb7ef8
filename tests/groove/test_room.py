"""How long a side may be at most."""

from __future__ import annotations

from dataclasses import replace

import pytest
from support import coarse_setup

from discwright.files.settings import load_setup
from discwright.groove.grid import lay_grid
from discwright.groove.room import silent_duration, silent_pitch
from discwright.groove.rows import silent_radius_used


def test_pitch_of_silence() -> None:
    # By hand: twice the least depth of 12.5 µm and 8 µm of land are 33 µm; the lathe opens to 40 µm at least.
    setup = load_setup("12in-33")
    assert silent_pitch(setup) == pytest.approx(40e-6)
    fine = replace(setup, lathe=replace(setup.lathe, pitch_min=20e-6))
    assert silent_pitch(fine) == pytest.approx(33e-6)
    assert silent_pitch(replace(fine, practice=replace(fine.practice, land_min=0.0))) == pytest.approx(25e-6)


@pytest.mark.parametrize(
    ("disc", "seconds"),
    [
        # By hand: (outermost - innermost) / 40 µm turns of 60/rpm seconds.
        ("12in-33", (146.3 - 60.325) / 0.04 * 1.8),
        ("12in-45", (146.3 - 60.325) / 0.04 * 4 / 3),
        ("10in-33", (120.9 - 60.325) / 0.04 * 1.8),
        ("7in-45", (84.15 - 53.975) / 0.04 * 4 / 3),
        ("7in-33", (84.15 - 53.975) / 0.04 * 1.8),
    ],
)
def test_time_of_silence(disc: str, seconds: float) -> None:
    assert silent_duration(load_setup(disc)) == pytest.approx(seconds)


@pytest.mark.parametrize("disc", ["12in-33", "7in-45"])
def test_just_that_long_fills_the_side(disc: str) -> None:
    """By another road: the sectors of a grid, added one by one."""
    setup = coarse_setup(disc)
    grid = lay_grid(silent_duration(setup), setup.disc.turn_time, setup.lathe.sectors_per_turn)
    room = setup.disc.outermost_radius - setup.disc.last_radius
    assert silent_radius_used(grid, setup) == pytest.approx(room)
