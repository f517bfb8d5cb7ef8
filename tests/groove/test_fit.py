"""The search for the level, with sides that are only pretended."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pytest

from discwright.findings import Finding
from discwright.groove import fit as fit_module
from discwright.groove.fit import Trial, fit_level

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
