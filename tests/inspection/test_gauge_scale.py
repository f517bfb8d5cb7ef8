"""The scale out of drawn stage micrometers; what shows no even lines, or makes an impossible scale, is refused."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from discwright.errors import CallError
from discwright.inspection.gauge_scale import check_pixel, read_micrometer


def micrometer(um_per_pixel: float, tilt_deg: float = 0.0, lying: bool = False, bright: bool = False) -> np.ndarray:
    """Lines 10 µm apart, 2 µm wide, every fifth and tenth longer, as on a scale of a millimetre; shape (900, 1200)."""
    rng = np.random.default_rng(7)
    y, x = (one.astype(float) for one in np.mgrid[:900, :1200])
    a, b = (y - 450, x - 600) if lying else (x - 600, y - 450)
    turn = np.radians(tilt_deg)
    across, along = (a * np.cos(turn) - b * np.sin(turn)) * um_per_pixel, a * np.sin(turn) + b * np.cos(turn)
    number = np.rint(across / 10)
    length = np.where(number % 10 == 0, 420, np.where(number % 5 == 0, 330, 240))
    line = np.clip(0.5 + (1.0 - np.abs(across - 10 * number)) / um_per_pixel, 0, 1) * (np.abs(along) < length)
    picture = gaussian_filter(0.8 - 0.6 * line, 1.2) * (1 + 0.4 * (x / 1200 - 0.5))
    picture += 0.04 * rng.standard_normal(picture.shape)
    return (1.0 - picture if bright else picture).astype(np.float32)


@pytest.mark.parametrize(
    ("um_per_pixel", "tilt_deg", "lying", "bright"),
    [(0.5, 0.0, False, False), (0.37, 3.3, False, False), (1.21, -8.0, True, False), (0.25, 12.0, True, True)],
)
def test_the_scale_of_a_micrometer(um_per_pixel: float, tilt_deg: float, lying: bool, bright: bool) -> None:
    """by another road: the drawer knows its scale. A thousandth is 0.06 µm of a groove of 56 µm."""
    scale = read_micrometer(micrometer(um_per_pixel, tilt_deg, lying, bright), 10e-6)
    assert scale.pixel * 1e6 == pytest.approx(um_per_pixel, rel=5e-4)
    assert scale.spacing_pixels == pytest.approx(10 / um_per_pixel, rel=5e-4)


def test_other_lines_another_scale() -> None:
    # by hand: the same lines taken to be 100 µm apart make ten times the scale.
    assert read_micrometer(micrometer(0.5), 100e-6).pixel * 1e6 == pytest.approx(5.0, rel=5e-4)


def test_no_lines() -> None:
    noise = np.random.default_rng(1).normal(0.5, 0.1, (400, 500)).astype(np.float32)
    with pytest.raises(CallError, match="no evenly spaced lines are to be seen"):
        read_micrometer(noise, 10e-6)
    with pytest.raises(CallError, match="is all black"):
        read_micrometer(np.zeros((400, 500), dtype=np.float32), 10e-6)


@pytest.mark.parametrize("spacing", [0.0, -1e-6, float("nan")])
def test_lines_that_are_no_distance_apart(spacing: float) -> None:
    with pytest.raises(CallError, match="apart are none; give their distance"):
        read_micrometer(micrometer(0.5), spacing)


@pytest.mark.parametrize("um", [0.0, -0.5, 0.001, 300.0, float("nan"), float("inf")])
def test_a_scale_that_cannot_be(um: float) -> None:
    with pytest.raises(CallError, match=r"is impossible for a photograph of grooves; give one from 0\.02 to 20"):
        check_pixel(um * 1e-6)
    assert check_pixel(0.5e-6) == 0.5e-6
