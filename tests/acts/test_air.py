"""The act of reckoning the air: one loss, or two and what changed."""

from __future__ import annotations

import json

import pytest

from discwright.acts.air import air
from discwright.errors import CallError
from discwright.programme.air import THIRDS_HZ, Air


def test_one_air() -> None:
    plain = air(Air(20.0, 50.0, 100.0)).as_dict()
    bands = {row["frequency_hz"]: row for row in plain["bands"]}
    assert list(bands) == list(THIRDS_HZ)
    assert bands[1000.0] == {"frequency_hz": 1000.0, "lost_db": pytest.approx(0.466, abs=5e-4)}  # published: 4.66 dB/km
    assert plain["air"]["within_standard"] is True
    assert "then" not in plain


def test_two_airs() -> None:
    plain = air(Air(20.0, 70.0, 30.0), Air(20.0, 70.0, 20.0)).as_dict()
    row = next(row for row in plain["bands"] if row["frequency_hz"] == 4000.0)
    assert row["difference_db"] == pytest.approx(row["lost_db"] - row["then_lost_db"], abs=2e-5)
    assert row["difference_db"] > 0.0, "nearer is brighter"
    assert plain["then"]["distance_m"] == 20.0
    assert json.dumps(plain, allow_nan=False)


def test_a_second_air_out_of_range_is_refused() -> None:
    with pytest.raises(CallError, match="a temperature of 60 °C is not known here"):
        air(Air(20.0, 50.0, 10.0), Air(60.0, 50.0, 10.0))
