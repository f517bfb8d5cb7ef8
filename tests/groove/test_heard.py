"""What is found in a proof: places, severities, and remedies that hold when they are followed."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from discwright.files.settings import load, load_setup, shipped
from discwright.groove.distortion import OCTAVES_HZ, Departures, WorstSpot
from discwright.groove.equipment import PlayingTip
from discwright.groove.heard import Place, check_distortion, check_tip_width, check_treble, contact_width

SETUP = load_setup()
TIP = SETUP.tip
TIPS = tuple(shipped(PlayingTip).values())
PLACE = Place(np.array([0.0, 1000.0]), np.array([0.146, 0.061]), 1.8, (0.0, 400.0), 0.1463)


def departures(distortion: list[float], treble_db: list[float] | None = None) -> Departures:
    n = len(distortion)
    time = 900.0 + np.arange(n)
    return Departures(
        time, time + 0.4, np.full(n, -20.0), np.array(distortion), np.zeros((n, len(OCTAVES_HZ))),
        np.array(treble_db if treble_db is not None else [0.0] * n),
    )  # fmt: skip


def worst(found: Departures) -> tuple[WorstSpot, ...]:
    order = np.argsort(-found.distortion)
    return tuple(WorstSpot(float(found.peak_time[k]), float(found.distortion[k]), 8000.0) for k in order)


def check(distortion: list[float], tip: PlayingTip = TIP, place: Place = PLACE) -> list[str]:
    found = departures(distortion)
    return [f.remedy for f in check_distortion(found, worst(found), tip, SETUP.practice, place, TIPS)]


def test_what_the_house_allows_is_no_finding() -> None:
    limit = SETUP.practice.heard_distortion_max
    assert check([0.01, limit]) == []
    assert check([]) == []


def test_the_worst_second_is_named_with_its_place_and_every_way_out() -> None:
    found = departures([0.02, 0.10, 0.06])
    (finding,) = check_distortion(found, worst(found), TIP, SETUP.practice, PLACE, TIPS)
    assert (finding.code, finding.severity, finding.time_s, finding.band) == ("heard_distortion", "warn", 901.4, 2)
    # By hand: radius on the straight line from 146 to 61 mm; turn 901.4/1.8; limit 5 %, so twice too much:
    # 6.1 dB, half the tip radius (18 to 9: elliptical-8), root two of the radius (69.4 to 98.1, so 99 mm).
    assert finding.radius_mm == pytest.approx(146 - 85 * 0.9014)
    assert finding.turn == pytest.approx(901.4 / 1.8)
    assert (finding.value, finding.limit) == pytest.approx((10.0, 5.0))
    assert finding.remedy == (
        "With spherical-18: Lower the side or this band about 6.1 dB, play it with elliptical-8 or finer, move the "
        "band outward to 99 mm or more, or limit the treble there (treble_limit). 2 seconds are over the limit."
    )


def test_a_way_that_is_not_open_is_not_named() -> None:
    (remedy,) = check([0.3])  # six times: no shipped tip has 3 µm; 69 mm times root six is beyond the rim
    assert "play it with" not in remedy
    assert "outward" not in remedy
    assert "about 15.6 dB" in remedy


def test_treble_that_is_lost_is_a_note_at_its_worst() -> None:
    found = departures([0.0] * 4, [-1.0, -3.5, float("nan"), -4.0])
    (finding,) = check_treble(found, TIP, SETUP.practice, PLACE)
    assert (finding.code, finding.severity, finding.time_s) == ("heard_treble", "note", 903.4)
    assert (finding.value, finding.limit, finding.unit) == (4.0, 3.0, "dB")
    assert "2 of 4 seconds" in finding.remedy
    assert check_treble(departures([0.0], [-2.9]), TIP, SETUP.practice, PLACE) == []
    assert check_treble(departures([]), TIP, SETUP.practice, PLACE) == []


def test_contact_width_of_a_25_micron_tip() -> None:
    # Published: 36 µm printed for a 25 µm tip in a 90 degree groove (groove-geometry page); sqrt(2)·R = 35.36.
    assert contact_width(replace(TIP, radius=25e-6)) * 1e6 == pytest.approx(35.36, abs=0.01)


def test_a_groove_narrower_than_the_tip_is_a_note() -> None:
    depth, time = np.array([30e-6, 12.5e-6, 10e-6, 30e-6]), np.arange(4.0)
    (finding,) = check_tip_width(TIP, depth, time, PLACE)
    # By hand: 25.46 µm from contact to contact, allowed 5 % more than the groove: 25 µm passes, 20 µm does not.
    assert (finding.code, finding.severity, finding.time_s) == ("heard_width", "note", 2.0)
    assert "in 25 % of the passage" in finding.remedy
    assert finding.value == pytest.approx(math.sqrt(2) * 18)
    assert check_tip_width(TIP, depth[:2], time[:2], PLACE) == []
    assert check_tip_width(load(PlayingTip, "spherical-15"), depth[:2], time[:2], PLACE) == []
