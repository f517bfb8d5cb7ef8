"""The strip loses no peak, tells the same numbers as `spiral.csv`, and knows its limits."""

from __future__ import annotations

import numpy as np
import pytest

from discwright.desk.opened import OpenPlan
from discwright.desk.strip import strip
from discwright.desk.words import INCHES, Words
from discwright.errors import CallError

METRIC = Words()


def values(cells: list[float | None]) -> np.ndarray:
    return np.array([np.nan if one is None else one for one in cells])


@pytest.mark.parametrize("points", [16, 37, 1200])
def test_no_peak_is_lost_however_few_the_points(side_a: OpenPlan, points: int) -> None:
    found = {one.name: one for one in strip(side_a, None, None, points, METRIC).series}
    prepared = side_a.prepared
    assert prepared is not None
    asked = prepared.measures
    for name, greatest, least in (
        ("pitch", side_a.rows.pitch[:-1] * 1e6, side_a.rows.pitch[:-1] * 1e6),
        ("depth", asked.depth_greatest * 1e6, asked.depth_least * 1e6),
        ("land", side_a.rows.land * 1e6, side_a.rows.land * 1e6),
        ("curvature", asked.curvature * 100, asked.curvature * 100),
        ("level", asked.level_db, asked.level_db[asked.level_db > -100]),
    ):
        assert np.nanmax(values(found[name].high)) == pytest.approx(np.nanmax(greatest), rel=1e-5)
        assert np.nanmin(values(found[name].low)) == pytest.approx(np.nanmin(least), rel=1e-5)
    assert len(found["pitch"].low) <= points


def test_zoomed_in_every_sector_stands_for_itself(side_a: OpenPlan) -> None:
    found = strip(side_a, 5.0, 6.0, 4096, METRIC)
    pitch = next(one for one in found.series if one.name == "pitch")
    rows = side_a.rows
    for time, low, high in zip(found.time_s, pitch.low, pitch.high, strict=True):
        row = int(np.searchsorted(rows.time, time)) - 1
        assert low == high == pytest.approx(rows.pitch[row] * 1e6, rel=1e-5)
    assert 17 <= len(found.time_s) <= 20  # by hand: 32 sectors in 1.8 s


def test_inches_are_lines_and_thousandths(side_a: OpenPlan) -> None:
    metric = {one.name: one for one in strip(side_a, None, None, 400, METRIC).series}
    inches = {one.name: one for one in strip(side_a, None, None, 400, Words(INCHES)).series}
    assert inches["pitch"].unit == "lines per inch"
    where = next(i for i, one in enumerate(metric["pitch"].high) if one == metric["pitch"].low[i])
    pitch, lines = metric["pitch"].high[where], inches["pitch"].high[where]
    assert pitch is not None
    assert lines is not None
    assert pitch * lines == pytest.approx(25_400, rel=1e-4)
    assert inches["land"].limit == pytest.approx(8 / 25.4, rel=1e-5)


def test_strips_that_cannot_be(side_a: OpenPlan) -> None:
    for begin, end, points in ((5.0, 5.0, 100), (9.0, 3.0, 100), (500.0, 600.0, 100)):
        with pytest.raises(CallError, match="zoom out"):
            strip(side_a, begin, end, points, METRIC)
    with pytest.raises(CallError, match="ask for as many"):
        strip(side_a, None, None, 3, METRIC)
