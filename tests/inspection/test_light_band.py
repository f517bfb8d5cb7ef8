"""The light band: the published pair, the table of the formula, the exact form there and back, bands in pictures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter

from discwright.errors import CallError
from discwright.inspection.light_band import band_of_velocity, mean_band, measure_band, velocity_of_band

RPM = 1.0 / 60.0


def test_the_published_pair() -> None:
    """published: AES calibration disc, data sheet AES-S001-064: 20 mm at 77.92 rpm, about 8 cm/s peak, 5.7 cm/s rms."""
    plain = velocity_of_band(20e-3, 77.92 * RPM).as_dict()
    assert plain["velocity_peak_cm_s"] == pytest.approx(8.0, rel=0.025)
    assert plain["velocity_rms_cm_s"] == pytest.approx(5.7, rel=0.025)
    # by hand: π · 77.92 / 60 · 2 cm.
    assert plain["velocity_peak_cm_s"] == pytest.approx(8.160, abs=5e-4)
    assert plain["velocity_rms_cm_s"] == pytest.approx(5.770, abs=5e-4)


# by hand: v = π n b (reference table of light bands): rpm, cm/s for each cm of band, mm of band for 5, 8, 10 cm/s.
TABLE = [
    (100 / 3, 1.7453, (28.65, 45.84, 57.30)),
    (45.0, 2.3562, (21.22, 33.95, 42.44)),
    (77.92, 4.0799, (12.26, 19.61, 24.51)),
    (78.26, 4.0977, (12.20, 19.52, 24.40)),
]


@pytest.mark.parametrize(("rpm", "per_cm", "bands"), TABLE)
def test_the_table(rpm: float, per_cm: float, bands: tuple[float, ...]) -> None:
    assert velocity_of_band(0.01, rpm * RPM).velocity * 100 == pytest.approx(per_cm, abs=5e-5)
    for velocity, band in zip((0.05, 0.08, 0.10), bands, strict=True):
        assert band_of_velocity(velocity, rpm * RPM).band * 1e3 == pytest.approx(band, abs=5e-3)


def test_the_exact_form_where_the_slope_counts() -> None:
    """by hand, from the reference: at 60 mm, 10 cm/s, 33⅓ the band is 51.7 mm, not 57.3."""
    assert band_of_velocity(0.10, 100 / 3 * RPM, 0.060).band * 1e3 == pytest.approx(51.7, abs=0.05)


def test_the_exact_form_is_where_the_groove_throws_the_light() -> None:
    """by another road: of a groove that sways, look for the places on the disc whose normal points to lamp and eye.

    A point at the angle φ from the line to the eye sends the light back where the groove leans by φ; the largest lean
    of a sine of peak velocity v is atan(v / V), so that the band ends at r·sin(atan(v / V)) on both sides.
    """
    radius, turns, velocity = 0.1, 45 * RPM, 0.12
    speed = 2 * math.pi * radius * turns
    lean = np.arctan(velocity / speed * np.cos(np.linspace(0, 2 * np.pi, 100_001)))
    places = radius * np.sin(lean)
    assert band_of_velocity(velocity, turns, radius).band == pytest.approx(float(np.ptp(places)), rel=1e-9)


@given(st.floats(0.001, 0.4), st.sampled_from([100 / 3, 45.0, 78.26]), st.one_of(st.none(), st.floats(0.05, 0.15)))
def test_there_and_back(velocity: float, rpm: float, radius: float | None) -> None:
    band = band_of_velocity(velocity, rpm * RPM, radius)
    assert velocity_of_band(band.band, rpm * RPM, radius).velocity == pytest.approx(velocity, rel=1e-9)


def test_level_is_of_a_tone_at_a_kilohertz() -> None:
    # by definition: 5 cm/s peak lateral is 0 dB; 5 / √2 on each wall.
    plain = band_of_velocity(0.05, 100 / 3 * RPM).as_dict()
    assert plain["level_db"] == 0.0
    assert plain["wall_velocity_peak_cm_s"] == pytest.approx(5 / math.sqrt(2), abs=1e-4)
    assert band_of_velocity(0.10, 45 * RPM).level_db == pytest.approx(6.0206, abs=1e-4)


def test_near_and_far_are_averaged_harmonically() -> None:
    # by hand: 2 / (1/20 + 1/30) = 24.
    assert mean_band((0.020, 0.030)) == pytest.approx(0.024)
    assert mean_band((0.020,)) == 0.020
    with pytest.raises(CallError, match="3 light bands were given"):
        mean_band((0.02, 0.02, 0.02))


@pytest.mark.parametrize(("band", "radius"), [(0.0, None), (-0.01, None), (math.nan, None), (0.02, 0.0)])
def test_numbers_that_cannot_be(band: float, radius: float | None) -> None:
    with pytest.raises(CallError, match="give a number above zero"):
        velocity_of_band(band, 45 * RPM, radius)


def test_a_band_wider_than_the_disc() -> None:
    with pytest.raises(CallError, match="a light band of 130 mm does not fit on a groove of 60 mm radius; check both"):
        velocity_of_band(0.130, 45 * RPM, 0.060)


# Pictures ------------------------------------------------------------------------------------------------


def photograph(width: float, tilt: float = 0.0, lying: bool = False, pixel: float = 0.1) -> np.ndarray:
    """A bright band with soft edges and streaks on a dark disc, mm; shape (600, 800), greys from 0 to 1."""
    rng = np.random.default_rng(4)
    y, x = (one.astype(float) for one in np.mgrid[:600, :800])
    across = ((x - 400) * np.cos(tilt) + (y - 300) * np.sin(tilt)) * pixel
    if lying:
        across = ((y - 300) * np.cos(tilt) + (x - 400) * np.sin(tilt)) * pixel
    bright = np.clip(0.5 + (width / 2 - np.abs(across)) / pixel, 0, 1)
    streaks = 1 + 0.1 * np.sin(across * 7)
    picture = gaussian_filter(0.08 + 0.7 * bright * streaks, 4) * (1 + 0.3 * (x / 800 - 0.5))
    result: np.ndarray = (picture + 0.02 * rng.standard_normal(picture.shape)).astype(np.float32)
    return result


@pytest.mark.parametrize(("width", "tilt", "lying"), [(20.0, 0.0, False), (31.5, 0.1, False), (12.0, -0.15, True)])
def test_a_band_in_a_photograph(width: float, tilt: float, lying: bool) -> None:
    """by another road: the drawer knows how wide it is."""
    seen = measure_band(photograph(width, tilt, lying), 0.1e-3)
    assert seen.mean * 1e3 == pytest.approx(width, rel=0.01)
    assert seen.mean <= seen.widest < 1.03 * seen.mean


def test_a_photograph_without_a_band() -> None:
    rng = np.random.default_rng(5)
    noise = (0.3 + 0.05 * rng.standard_normal((300, 400))).astype(np.float32)
    with pytest.raises(CallError, match="no light band is to be seen"):
        measure_band(noise, 1e-4)
    with pytest.raises(CallError, match="no light band is to be seen"):
        measure_band(1.0 - photograph(20.0)[:, :].clip(0, 1), 1e-4)
