"""The search for the level, with sides that are only pretended."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from support import RATE, Float, coarse_setup, music, sine, walk

from discwright.findings import Finding
from discwright.groove import fit as fit_module
from discwright.groove.equipment import Setup
from discwright.groove.fit import Trial, fit_level, traces_cleanly
from discwright.groove.limits import check_depth, check_head, check_radius, check_slope, view
from discwright.groove.playing import curvature_share
from discwright.groove.rows import pose, silent_radius_used
from discwright.groove.spiral import lay_spiral
from discwright.groove.table import tabulate

STOP = Finding("slope", "stop", 0.0, 1, 0.0, 100.0, 50.0, 45.0, "deg", "Lower it.")


@dataclass
class Pretended:
    """A side whose limits are numbers: the level it stops at, and what the prediction believes."""

    truth: float
    belief: float
    tried: list[float]

    def __call__(self, level_db: float) -> Trial:
        self.tried.append(round(level_db, 1))
        return Trial(level_db, None, (STOP,) if level_db > self.truth + 1e-9 else ())  # type: ignore[arg-type]


def run(
    monkeypatch: pytest.MonkeyPatch, truth: float, belief: float, silent_fits: bool = True
) -> tuple[Any, list[float]]:
    side = Pretended(truth, belief, [])
    monkeypatch.setattr(fit_module, "_room", lambda _trial: 0.08)
    monkeypatch.setattr(fit_module, "_predict", lambda *_: round(belief * 10))
    trial, above = fit_level(side, False, (-40.0, 24.0), 0.02 if silent_fits else 0.1)
    # What limits the level is the first thing to go wrong a step above it.
    assert (above is None) == (bool(trial.stops) or trial.level_db > 23.95)
    assert above is None or (above.stops and above.level_db == pytest.approx(trial.level_db + 0.1))
    return trial, side.tried


@pytest.mark.parametrize("truth", [-12.3, -0.1, 0.0, 3.7, 14.9])
@pytest.mark.parametrize("off", [-0.4, 0.0, 0.2])
def test_finds_the_tenth(monkeypatch: pytest.MonkeyPatch, truth: float, off: float) -> None:
    trial, tried = run(monkeypatch, truth, truth + off)
    # By hand: the last level that passes, and the next one was tried and did not.
    assert trial.level_db == pytest.approx(truth)
    assert round(truth + 0.1, 1) in tried
    assert len(tried) <= 8


def test_a_wrong_prediction_only_costs_time(monkeypatch: pytest.MonkeyPatch) -> None:
    trial, tried = run(monkeypatch, 5.0, -20.0)
    assert trial.level_db == pytest.approx(5.0)
    assert len(tried) < 30


def test_nothing_limits(monkeypatch: pytest.MonkeyPatch) -> None:
    trial, _ = run(monkeypatch, 99.0, 99.0)
    assert trial.level_db == pytest.approx(24.0)
    assert not trial.stops


def test_nothing_passes(monkeypatch: pytest.MonkeyPatch) -> None:
    trial, tried = run(monkeypatch, -99.0, -99.0)
    assert trial.level_db == pytest.approx(-40.0)
    assert trial.stops
    assert len(tried) < 5


def test_too_long_even_if_silent_is_tried_twice_at_most(monkeypatch: pytest.MonkeyPatch) -> None:
    trial, tried = run(monkeypatch, -99.0, 3.0, silent_fits=False)
    assert trial.level_db == pytest.approx(-40.0)
    assert len(tried) <= 2


@pytest.mark.parametrize("truth", [-40.0, -39.9, 23.9])
def test_levels_at_the_ends_of_the_range(monkeypatch: pytest.MonkeyPatch, truth: float) -> None:
    # By hand: the lowest level passes and nothing above, or all but the highest pass.
    trial, tried = run(monkeypatch, truth, 0.0)
    assert trial.level_db == pytest.approx(truth)
    assert not trial.stops
    assert len(tried) < 20
    assert len(set(tried)) == len(tried), "no level is planned twice"


@pytest.mark.parametrize("belief", [-99.0, -5.0, 5.1, 30.0, 99.0])
def test_a_stubborn_prediction_never_goes_round_in_circles(monkeypatch: pytest.MonkeyPatch, belief: float) -> None:
    trial, tried = run(monkeypatch, 5.0, belief)
    assert trial.level_db == pytest.approx(5.0)
    assert len(set(tried)) == len(tried) < 25


# --- sides that are really planned -----------------------------------------------------------------------------


def planner(programme: Float, setup: Setup) -> tuple[Callable[[float], Trial], float, list[float]]:
    """What plans a programme at a level, what silence takes, and the levels asked for."""
    motion = walk(programme, setup)
    silent = silent_radius_used(motion.grid, setup)
    tried: list[float] = []

    def attempt(level_db: float) -> Trial:
        tried.append(round(level_db, 1))
        gain = 10 ** (level_db / 20)
        rows = tabulate(motion, gain, lay_spiral(pose(motion, gain, setup)), setup.disc)
        side = view(motion, gain, setup, rows)
        stops = check_radius(side, setup.disc.outermost_radius - silent), check_slope(side), check_head(side)
        return Trial(level_db, side, tuple(f for found in (*stops, check_depth(side)) for f in found))

    return attempt, silent, tried


def narrow(band_mm: float) -> Setup:
    """A disc whose music must end so far inside its outermost radius."""
    setup = coarse_setup()
    return replace(setup, disc=replace(setup.disc, innermost_radius=setup.disc.outermost_radius - band_mm * 1e-3))


@pytest.mark.parametrize(
    ("programme", "setup", "code"),
    [
        (music(20.0, 3), narrow(1.2), "radius"),
        (sine(1000.0, 3.0), coarse_setup(), "slope"),
        (sine(50.0, 5.0, 1.0, -1.0), coarse_setup(), "depth"),
        (sine(9000.0, 5.0), coarse_setup(), "head_heat"),
    ],
    ids=["radius", "slope", "depth", "heat"],
)
def test_the_level_found_passes_and_the_next_does_not(programme: Float, setup: Setup, code: str) -> None:
    attempt, silent, tried = planner(programme, setup)
    best, above = fit_level(attempt, False, (-40.0, 24.0), silent)
    assert above is not None
    assert not best.stops
    assert code in {f.code for f in above.stops}
    assert above.level_db == pytest.approx(best.level_db + 0.1)
    # Each whole spiral predicts the next: a few are enough (regression only: six at most).
    assert len(tried) <= 6
    # Another road: three tenths to either side, asked one by one.
    for step in (-3, -2, -1, 1, 2, 3):
        assert bool(attempt(best.level_db + step / 10).stops) == (step > 0)


def test_slope_level_by_hand() -> None:
    """By hand: 51.068 cm/s over 5 cm/s is 20.18 dB at the outermost groove; the side goes 80 µm inward, 0.005 dB."""
    attempt, silent, _ = planner(sine(1000.0, 3.0), coarse_setup())
    best, _ = fit_level(attempt, False, (-40.0, 24.0), silent)
    assert best.level_db == pytest.approx(20.1)


def test_clean_fit_is_the_highest_that_traces_cleanly() -> None:
    setup = coarse_setup()
    # Near the label, where the tip gives up before the head does.
    setup = replace(setup, disc=replace(setup.disc, outermost_radius=0.065))
    spectrum = np.fft.rfft(np.random.default_rng(5).standard_normal((6 * RATE, 2)), axis=0)
    spectrum[np.fft.rfftfreq(6 * RATE, 1 / RATE) > 16_000.0] = 0.0
    attempt, silent, tried = planner(music(6.0) * 0.5 + 0.1 * np.fft.irfft(spectrum, 6 * RATE, axis=0), setup)
    loud, _ = fit_level(attempt, False, (-40.0, 24.0), silent)
    tried.clear()
    clean, above = fit_level(attempt, True, (-40.0, 24.0), silent)
    assert clean.level_db < loud.level_db
    assert above is not None
    assert not above.stops, "nothing but the playing tip limits it"
    # Practice: 0.1 % of the time.
    assert curvature_share(clean.side) <= 0.001 < curvature_share(above.side)
    assert traces_cleanly(clean.side)
    assert not traces_cleanly(above.side)
    assert len(tried) <= 6
