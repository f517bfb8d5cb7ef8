"""Minutes a side holds, held against a studio's chart (published; see `authorities/README.md`)."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from discwright.files.settings import load_setup
from discwright.plan import Order, Programme, plan_side

RATE = 44_100
SECONDS = 60
#: The chart's own 0 dB column is meant within about 20 %.
WITHIN = 0.20
CHART = [
    (row["disc"], float(row["level_db"]), float(row["minutes"]))
    for row in csv.DictReader(
        (Path(__file__).parents[1] / "authorities" / "side_lengths.csv").read_text(encoding="utf-8").splitlines()
    )
]


@cache
def steady() -> NDArray[np.float32]:
    """A steady programme at reference level: pink noise with the energy of a full-scale sine.

    20 Hz to 20 kHz, half of each channel's energy common to both: as programme is, and like nobody's taste.
    """
    n = SECONDS * RATE
    f = np.fft.rfftfreq(n, 1 / RATE)
    pink = ((f > 20) & (f < 20_000)) / np.sqrt(np.maximum(f, 20))
    left, right, common = np.fft.irfft(
        np.fft.rfft(np.random.default_rng(3).standard_normal((n, 3)), axis=0) * pink[:, None], n, axis=0
    ).T
    x = np.stack([left + common, right + common], axis=1)
    # By hand: a full-scale sine has a mean square of one half.
    return (x * np.sqrt(0.5 / np.mean(x**2))).astype(np.float32)


@pytest.mark.slow
@pytest.mark.parametrize(("disc", "level_db", "minutes"), CHART)
def test_steady_programme_fills_a_side_as_the_chart_says(disc: str, level_db: float, minutes: float) -> None:
    x = steady()
    setup = load_setup(disc)
    plan = plan_side([x], Programme(RATE, len(x), 2), Order(setup, level_db=level_db))
    room = setup.disc.outermost_radius - setup.disc.last_radius
    holds = room / plan.mean_pitch * setup.disc.turn_time / 60
    assert holds == pytest.approx(minutes, rel=WITHIN)


def test_the_check_can_fail() -> None:
    """Half the energy at one level is another programme: the chart's 3 dB are told apart."""
    x = steady() * np.float32(0.25)
    setup = load_setup("12in-33")
    plan = plan_side([x[: 20 * RATE]], Programme(RATE, 20 * RATE, 2), Order(setup, level_db=0.0))
    room = setup.disc.outermost_radius - setup.disc.last_radius
    assert room / plan.mean_pitch * setup.disc.turn_time / 60 > 20.0 * (1 + WITHIN)
