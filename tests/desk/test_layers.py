"""Layers of the disc map: ramps that can be read without colour, limits, and what lies beyond them."""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import replace

import numpy as np
import pytest

from discwright.desk.layers import LAYER_NAMES, VINYL, Layer, make_layers
from discwright.files.settings import load_setup
from discwright.groove.measures import SectorMeasures

SETUP = load_setup("12in-33")
SECTORS = 6


def measures() -> SectorMeasures:
    """Six plain sectors."""

    def all_of(value: float) -> np.ndarray:
        return np.full(SECTORS, value)

    return SectorMeasures(
        time=np.arange(SECTORS + 1) * 0.05625, level_db=all_of(-12.0), slope=all_of(math.radians(20)),
        curvature=all_of(0.4), echo=all_of(3.0), land=all_of(12e-6), depth_least=all_of(20e-6),
        depth_greatest=all_of(40e-6), pitch=all_of(100e-6), groove_speed=all_of(0.4),
    )  # fmt: skip


def layer(name: str, found: SectorMeasures) -> Layer:
    return next(one for one in make_layers(found, SETUP) if one.name == name)


def lightness(colour: str) -> tuple[float, float, float]:
    """CIE 1976 L*, a*, b* of an sRGB colour (published: IEC 61966-2-1, CIE 15), D65."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = np.array([v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts])
    matrix = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    x, y, z = (v ** (1 / 3) if v > 0.008856 else 7.787 * v + 16 / 116 for v in matrix @ linear / (0.9505, 1.0, 1.089))
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def test_names_stand_in_the_order_they_are_offered() -> None:
    assert tuple(one.name for one in make_layers(measures(), SETUP)) == LAYER_NAMES[1:]
    assert LAYER_NAMES[0] == VINYL


@pytest.mark.parametrize("name", LAYER_NAMES[1:])
def test_a_ramp_rises_in_lightness_in_even_steps(name: str) -> None:
    found = layer(name, measures())
    assert all(re.fullmatch("#[0-9a-f]{6}", colour) for _, colour in found.stops)
    values = [value for value, _ in found.stops]
    assert (values[0], values[-1]) == (found.low, found.high)
    assert np.diff(values) == pytest.approx((found.high - found.low) / (len(values) - 1))
    lab = [lightness(colour) for _, colour in found.stops]
    steps = np.diff([one[0] for one in lab]) * (-1 if name == "land" else 1)
    # By another road (CIE L* in place of the space the ramps are made in): read in grey, every step is a step up.
    assert steps.min() > 4.0
    away = [math.dist(a, b) for a, b in itertools.pairwise(lab)]
    assert max(away) / min(away) < 1.3


def test_no_two_layers_look_alike() -> None:
    middles = [lightness(one.stops[5][1]) for one in make_layers(measures(), SETUP)]
    # By hand: a difference of 2.3 can just be seen.
    assert min(math.dist(a, b) for a, b in itertools.combinations(middles, 2)) > 10.0


def test_limits_and_units_are_those_of_the_setup() -> None:
    # By hand, from data/practice.toml and data/cutting_tips.toml: 8, 100 µm, 45°, 30 dB; curvature counts in reaches.
    told = {one.name: (one.limit, one.unit) for one in make_layers(measures(), SETUP)}
    assert told["land"] == (pytest.approx(8.0), "µm")
    assert told["depth"] == (pytest.approx(100.0), "µm")
    assert told["curvature"] == (1.0, "×")
    assert told["slope"] == (pytest.approx(45.0), "°")
    assert told["echo"] == (30.0, "dB")
    for one in make_layers(measures(), SETUP):
        assert one.low < one.high
        assert one.low <= one.limit <= one.high + 1e-9
        assert one.words


def test_values_are_in_the_unit_that_is_told() -> None:
    told = {one.name: float(one.value[0]) for one in make_layers(measures(), SETUP)}
    assert told == {
        "land": pytest.approx(12.0), "depth": pytest.approx(40.0), "curvature": 0.4,
        "slope": pytest.approx(20.0), "echo": 3.0,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("name", "field", "inside", "outside"),
    [
        ("land", "land", 8e-6, 7.9e-6),
        ("depth", "depth_greatest", 100e-6, 100.1e-6),
        ("depth", "depth_least", 12.5e-6, 12.4e-6),
        ("curvature", "curvature", 1.0, 1.01),
        ("slope", "slope", math.radians(45.0), math.radians(45.1)),
        ("echo", "echo", 29.9, 30.1),
    ],
)
def test_beyond_is_where_the_findings_begin(name: str, field: str, inside: float, outside: float) -> None:
    found = measures()
    values = getattr(found, field).copy()
    values[2], values[4] = inside, outside
    assert layer(name, replace(found, **{field: values})).beyond.tolist() == [False] * 4 + [True, False]


def test_a_groove_too_shallow_shows_how_shallow_it_is() -> None:
    found = measures()
    least = found.depth_least.copy()
    least[3] = 10e-6
    shown = layer("depth", replace(found, depth_least=least)).value
    assert shown.tolist() == pytest.approx([40.0, 40.0, 40.0, 10.0, 40.0, 40.0])


def test_places_on_the_ramp_and_their_colours() -> None:
    slope = layer("slope", measures())
    wanted = replace(slope, value=np.array([-5.0, 0.0, 22.5, 45.0, 60.0, np.nan]))
    # By hand: the ramp runs from 0° to 45°.
    assert wanted.place[:5].tolist() == [0.0, 0.0, 0.5, 1.0, 1.0]
    assert np.isnan(wanted.place[5])
    for value, colour in slope.stops:
        assert "#{:02x}{:02x}{:02x}".format(*slope.colour_of(value)) == colour
    assert slope.colour_of(-3.0) == slope.colour_of(0.0)
    assert slope.colour_of(99.0) == slope.colour_of(45.0)


def test_no_land_has_no_place() -> None:
    found = measures()
    land = found.land.copy()
    land[:2] = np.nan
    shown = layer("land", replace(found, land=land))
    assert np.isnan(shown.place[:2]).all()
    assert not shown.beyond[:2].any()
