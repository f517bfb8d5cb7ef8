"""A test play as plain values: units, limits, what is not told, and when it passes."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from discwright.acts.inspect_report import CaptureFacts, InspectReport
from discwright.files.settings import load
from discwright.findings import Finding
from discwright.inspection.growth import Growth
from discwright.inspection.limits import PlayLimits
from discwright.inspection.sound import Sound
from discwright.inspection.speed import Turning
from discwright.inspection.verdict import Played

RESPONSE = np.zeros((30, 2))
RESPONSE[29] = np.nan
PLAYED = Played(
    Turning(2.0, 0.0035, 0.004512, None, 0.123456e-3, np.pi / 2),
    Sound(-3.0, 0.25, RESPONSE, None, False, (False, False), -55.0, -60.0),
    (), [Growth(10.0, 0.02, 0.015)], (0.0, 59.5), 60.0, 0.0, False,
)  # fmt: skip
REPORT = InspectReport(
    CaptureFacts("capture.wav", "ab" * 32, 96_000, 2, 96_000 * 65, 0.0, True), "A", "the programme", "",
    PLAYED, -48.5, load(PlayLimits, None), (), 1.8, None,
)  # fmt: skip


def finding(severity: Any, accepted: str = "") -> Finding:
    return Finding("speed", severity, None, None, None, None, 1.0, 0.5, "%", "Look.", accepted=accepted)


def test_measures_wear_their_units() -> None:
    measures = REPORT.measures()
    # By hand.
    assert measures["speed_error_percent"] == 0.35
    assert measures["wow_peak_percent"] == 0.4512
    assert measures["eccentricity_mm"] == 0.1235
    assert measures["eccentricity_angle_deg"] == 90.0
    assert measures["rumble_db"] == -48.5
    assert measures["separation_db"] is None
    assert measures["wow_flutter_weighted_percent"] is None


def test_each_measure_says_what_is_best_and_its_limit() -> None:
    told = REPORT.limits_told()
    assert set(told) == set(REPORT.measures())
    assert told["eccentricity_mm"] == {"unit": "mm", "best": 0, "limit": 0.2}
    assert told["speed_error_percent"]["limit"] == 0.5
    assert told["wow_flutter_weighted_percent"]["limit"] == 0.2
    assert told["separation_db"] == {"unit": "dB", "best": "more", "limit": 20.0}


def test_only_a_stop_that_nobody_accepts_stops_it() -> None:
    assert REPORT.ready
    for severity, accepted, verdict in (("stop", "", "stop"), ("stop", "known", "pass"), ("warn", "", "pass")):
        report = replace(REPORT, findings=(finding(severity, accepted),))
        assert report.verdict == verdict
        assert report.ready is (verdict == "pass")


def test_plain_values_are_plain() -> None:
    plain = json.loads(json.dumps(REPORT.as_dict(), allow_nan=False))
    assert plain["response"][29] == {"frequency_hz": 20_000.0, "left_db": None, "right_db": None}
    assert len(plain["response"]) == 30
    assert plain["distortion"] == [{"time_s": 10.0, "measured_percent": 2.0, "predicted_percent": 1.5}]
    assert plain["covered_s"] == [0.0, 59.5]
    assert plain["capture"] == {
        "path": "capture.wav", "sha256": "ab" * 32, "sample_rate_hz": 96_000, "duration_s": 65.0, "replay_curve": True,
    }  # fmt: skip
    assert plain["kept"] is None
    assert replace(REPORT, kept=Path("out")).as_dict()["kept"] == "out"


@pytest.mark.parametrize("key", ["measures", "response", "defects", "findings", "verdict"])
def test_what_was_promised_comes_first(key: str) -> None:
    assert key in list(REPORT.as_dict())[:5]
