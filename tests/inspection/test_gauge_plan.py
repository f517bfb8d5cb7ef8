"""What was measured against plan and wish: the correction by hand, and a finding for each thing that is off."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from discwright.errors import CallError
from discwright.inspection.gauge import Gauged, Groove
from discwright.inspection.gauge_plan import (
    Planned,
    check_against,
    check_shade,
    check_wanted,
    correction,
    correction_words,
)
from discwright.inspection.gauge_straight import Spread

LINE = np.zeros((2, 2))
GAUGED = Gauged(
    (Groove(50e-6, 52e-6, 50e-6, 54e-6, LINE, LINE),), Spread(52e-6, 1e-6, 50e-6, 54e-6),
    Spread(40e-6, 1e-6, 30e-6, 50e-6), 92e-6, 0.0, True, "darker", math.inf, False, 1e-6, 0.5e-6,
)  # fmt: skip
PLANNED = Planned(100.0, 55.5, 0.12, 2, 52e-6, 92e-6, 30e-6, 25e-6)


def test_lower_by_half_the_difference() -> None:
    """by hand: measured 52 µm, wanted 56, a groove of 90° is twice as wide as deep: lower by 2 µm."""
    assert correction(52e-6, 56e-6) == pytest.approx(2e-6)
    assert correction_words(correction(52e-6, 56e-6)) == "Lower the tip by 2.0 µm."
    assert correction_words(correction(57e-6, 56e-6)) == "Raise the tip by 0.5 µm."
    assert correction_words(correction(56e-6, 56e-6)) == "Leave the tip where it is."
    # by hand: tan(35°) = 0.700208: 4 / (2 · 0.700208).
    assert correction(52e-6, 56e-6, math.radians(70.0)) * 1e6 == pytest.approx(2.8563, abs=1e-4)


def test_wishes_that_cannot_be() -> None:
    with pytest.raises(CallError, match=r"no groove is 0\.056 µm wide; give the wanted width in µm"):
        correction(52e-6, 0.056e-6)
    with pytest.raises(CallError, match="no cutting tip has an included angle of 20°"):
        correction(52e-6, 56e-6, math.radians(20.0))


def test_the_width_that_was_wanted() -> None:
    off = check_wanted(GAUGED, 56e-6, 2e-6)
    assert (off.code, off.severity, off.remedy) == ("gauge_width", "warn", "Lower the tip by 2.0 µm.")
    assert (off.value, off.limit, off.time_s) == (pytest.approx(52.0), pytest.approx(56.0), None)
    good = check_wanted(GAUGED, 53e-6, 0.5e-6, PLANNED)
    assert (good.severity, good.turn, good.radius_mm, good.band) == ("note", 55.5, pytest.approx(120.0), 2)


def test_as_planned() -> None:
    assert [(one.code, one.severity) for one in check_against(GAUGED, PLANNED)] == [
        ("gauge_land", "note"),
        ("gauge_pitch", "note"),
    ]


def found(gauged: Gauged, planned: Planned = PLANNED) -> dict[str, str]:
    return {one.code: one.severity for one in check_against(gauged, planned)}


def test_what_is_not_as_planned() -> None:
    narrow = replace(GAUGED, width=replace(GAUGED.width, least=24e-6))
    assert found(narrow)["gauge_narrow"] == "stop"
    assert found(replace(GAUGED, pitch=95e-6))["gauge_pitch"] == "warn"
    close = replace(GAUGED, land=Spread(40e-6, 1e-6, 27e-6, 50e-6))
    assert found(close)["gauge_land"] == "warn"
    touching = replace(GAUGED, land=Spread(4e-6, 5e-6, -1e-6, 9e-6))
    assert found(touching)["gauge_land"] == "stop"
    # The outermost turn has no land of its own in a plan: pitch less width stands for it, 40 µm.
    assert found(close, replace(PLANNED, land_least=None))["gauge_land"] == "warn"


def test_what_one_groove_cannot_say_is_not_said() -> None:
    assert found(replace(GAUGED, land=None, pitch=None)) == {}


def test_a_shade_that_nothing_tells() -> None:
    assert check_shade(GAUGED) == []
    (note,) = check_shade(replace(GAUGED, odds=0.1))
    assert (note.code, note.severity) == ("gauge_walls", "note")
    assert note.remedy.endswith("say --walls lighter.")
