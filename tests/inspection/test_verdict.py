"""What a house makes of a playing: each limit just kept and just passed, and what the finding says."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from discwright.files.settings import load
from discwright.findings import Finding
from discwright.groove.heard import Place
from discwright.inspection.defects import Defect
from discwright.inspection.growth import Growth
from discwright.inspection.limits import PlayLimits
from discwright.inspection.sound import THIRDS_HZ, Sound
from discwright.inspection.speed import Turning
from discwright.inspection.verdict import Played, judge

PLACE = Place(np.array([0.0, 1000.0]), np.array([0.146, 0.076]), 1.8, (0.0, 300.0), 0.1463)
LIMITS = load(PlayLimits, None)
TURNING = Turning(2.0, 0.0, 0.0, 0.0005, 0.1e-3, 0.0)
SOUND = Sound(-3.0, 0.2, np.zeros((30, 2)), 28.0, False, (False, False), -55.0, -60.0)
PLAYED = Played(TURNING, SOUND, (), [], (0.0, 1000.0), 1000.0, 0.0, False)


def judged(planned: bool = True, **changed: Any) -> list[Finding]:
    return judge(replace(PLAYED, **changed), LIMITS, PLACE, planned)


def turned(**changed: Any) -> list[Finding]:
    return judged(turning=replace(TURNING, **changed))


def sounded(**changed: Any) -> list[Finding]:
    return judged(sound=replace(SOUND, **changed))


def defect(kind: str = "tick", time: float = 360.9, size_db: float = 12.0, audible: bool = True) -> Defect:
    return Defect(kind, time, time / 1.8, 0.12, 180.0, "left", 0.2, size_db, audible)


def codes(found: list[Finding]) -> list[tuple[str, str]]:
    return [(one.code, one.severity) for one in found]


def test_a_good_playing_has_nothing_to_say() -> None:
    assert judged() == []


def test_without_a_plan_radii_are_assumed() -> None:
    (found,) = judged(planned=False)
    assert (found.code, found.severity) == ("assumed_spiral", "note")
    assert found.value == pytest.approx(126.0)  # by hand: 70 mm in 555.6 turns


# What each limit is held against, just inside and just beyond it.
EDGES: list[tuple[str, str, str, dict[str, Any], dict[str, Any]]] = [
    ("turning", "speed", "warn", {"speed_error": 0.00499}, {"speed_error": 0.00501}),
    ("turning", "speed", "warn", {"speed_error": -0.00499}, {"speed_error": -0.00501}),
    ("turning", "wow_flutter", "warn", {"wow_flutter_weighted": 0.00199}, {"wow_flutter_weighted": 0.00201}),
    ("turning", "off_centre", "stop", {"eccentricity": 0.199e-3}, {"eccentricity": 0.201e-3}),
    ("sound", "play_balance", "warn", {"balance_db": 1.49}, {"balance_db": 1.51}),
    ("sound", "play_balance", "warn", {"balance_db": -1.49}, {"balance_db": -1.51}),
    ("sound", "separation", "warn", {"separation_db": 20.1}, {"separation_db": 19.9}),
    ("sound", "surface_noise", "warn", {"noise_db": -40.1}, {"noise_db": -39.9}),
    ("sound", "swapped", "stop", {"swapped": False}, {"swapped": True}),
    ("sound", "play_polarity", "stop", {"inverted": (True, True)}, {"inverted": (True, False)}),
]  # fmt: skip


@pytest.mark.parametrize(("part", "code", "severity", "kept", "passed"), EDGES)
def test_each_limit(part: str, code: str, severity: str, kept: dict[str, Any], passed: dict[str, Any]) -> None:
    make = turned if part == "turning" else sounded
    assert make(**kept) == []
    (found,) = make(**passed)
    assert (found.code, found.severity) == (code, severity)
    assert found.remedy.endswith(".")


def test_a_value_stands_beside_its_limit_in_one_unit() -> None:
    (found,) = turned(eccentricity=0.31e-3)
    assert (found.value, found.limit, found.unit) == (pytest.approx(0.31), pytest.approx(0.2), "mm")
    (found,) = turned(speed_error=0.012)
    assert (found.value, found.limit, found.unit) == (pytest.approx(1.2), pytest.approx(0.5), "%")
    assert "fast" in found.remedy
    assert "slow" in turned(speed_error=-0.012)[0].remedy
    assert "Right is louder" in sounded(balance_db=-2.0)[0].remedy


def test_what_cannot_be_told_is_not_held_against_it() -> None:
    assert turned(wow_flutter_weighted=None) == []
    assert sounded(separation_db=None) == []
    assert sounded(response_db=np.full((30, 2), np.nan)) == []


def test_the_worst_third_octave_is_named() -> None:
    response = np.zeros((30, 2))
    response[THIRDS_HZ.index(6300.0), 1] = -3.4
    response[THIRDS_HZ.index(125.0), 0] = 3.1
    (found,) = sounded(response_db=response)
    assert (found.code, found.severity, found.value) == ("response", "warn", pytest.approx(-3.4))
    assert "6300 Hz, right" in found.remedy
    outside = np.zeros((30, 2))
    outside[THIRDS_HZ.index(40.0)] = outside[THIRDS_HZ.index(16_000.0)] = 9.0
    assert sounded(response_db=outside) == []


def test_a_capture_that_ends_early_or_begins_late() -> None:
    (found,) = judged(covered=(0.0, 720.0))
    assert (found.code, found.severity, found.value) == ("ends_early", "stop", 720.0)
    assert found.turn == pytest.approx(400.0)  # by hand: 720 s at 1.8 s
    assert "12:00" in found.remedy
    assert judged(covered=(0.0, 999.6)) == []
    (found,) = judged(covered=(5.0, 1000.0))
    assert (found.code, found.severity) == ("begins_late", "stop")


def test_clipping_and_one_channel() -> None:
    assert codes(judged(clipped=5e-5)) == [("capture_clipped", "warn")]
    assert codes(judged(clipped=0.01)) == [("capture_clipped", "stop")]
    assert judged(clipped=1e-7) == []
    # Both channels alike: that they leak is no finding of its own.
    assert codes(judged(alike=True, sound=replace(SOUND, separation_db=0.1))) == [("both_alike", "stop")]


@pytest.mark.parametrize(("count", "severity"), [(1, "warn"), (3, "warn"), (4, "stop")])
def test_a_few_ticks_are_a_warning_and_more_a_stop(count: int, severity: str) -> None:
    (found,) = judged(defects=tuple(defect(time=100.0 * (k + 1), size_db=10.0 + k) for k in range(count)))
    assert (found.code, found.severity) == ("faults", severity)
    assert found.time_s == pytest.approx(100.0 * count)  # the worst
    assert found.value == pytest.approx(9.0 + count)
    assert found.remedy.startswith(f"{count} tick{'s' if count > 1 else ''} to be heard")


def test_masked_ticks_are_nobody_s_trouble() -> None:
    assert judged(defects=tuple(defect(audible=False) for _ in range(50))) == []


@pytest.mark.parametrize("kind", ["scratch", "dropout"])
def test_one_of_these_stops_it(kind: str) -> None:
    assert codes(judged(defects=(defect(kind),))) == [("faults", "stop")]


def test_each_kind_has_a_finding_of_its_own() -> None:
    found = judged(defects=(defect("tick"), defect("crackle"), defect("swish")))
    assert [one.code for one in found] == ["faults"] * 3
    assert {one.severity for one in found} == {"warn"}
    assert len({one.remedy for one in found}) == 3


def test_a_groove_that_is_left_stops_it() -> None:
    skip, repeat = judged(defects=(defect("skip", 360.0), defect("repeat", 540.0)))
    assert codes([skip, repeat]) == [("groove_left", "stop")] * 2
    assert "skips ahead" in skip.remedy
    assert "repeats the groove" in repeat.remedy
    assert repeat.turn == pytest.approx(300.0)
    assert repeat.radius_mm == pytest.approx(146.0 - 0.54 * 70.0)  # by hand
    assert repeat.band == 2


def test_distortion_beyond_the_proof() -> None:
    # By hand: √(5² - 4²) = 3 % is just the limit.
    assert judged(growth=[Growth(100.0, 0.0499, 0.04), Growth(900.0, 0.05, 0.0401)]) == []
    (found,) = judged(growth=[Growth(100.0, 0.02, 0.02), Growth(700.0, 0.06, 0.04), Growth(900.0, 0.09, 0.05)])
    assert (found.code, found.severity, found.time_s) == ("play_distortion", "warn", 700.0)
    assert found.value == pytest.approx(100 * np.sqrt(0.06**2 - 0.04**2))
    assert "4.0 %" in found.remedy


def test_everything_at_once_is_told_at_once() -> None:
    found = judged(
        planned=False, turning=replace(TURNING, eccentricity=1e-3, speed_error=0.02),
        sound=replace(SOUND, balance_db=4.0), defects=(defect(), defect("skip")), covered=(0.0, 500.0), clipped=0.1,
    )  # fmt: skip
    assert {one.code for one in found} == {
        "ends_early", "capture_clipped", "speed", "off_centre", "play_balance", "groove_left", "faults",
        "assumed_spiral",
    }  # fmt: skip
