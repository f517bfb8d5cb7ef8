"""Measures of sectors: the findings' own numbers, found at the findings' own places."""

from __future__ import annotations

import math
import re
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
import soundfile

from discwright.acts.plan import plan_file
from discwright.files.settings import load_setup
from discwright.findings import Finding
from discwright.groove.measures import SILENCE_DB, SectorMeasures, sector_measures
from discwright.plan import Plan

RATE = 44_100


def at(measures: SectorMeasures, finding: Finding) -> int:
    assert finding.time_s is not None
    sector = measures.sector_at(finding.time_s)
    assert sector is not None
    return sector


def the(plan: Plan, code: str) -> Finding:
    return next(one for one in plan.findings if one.code == code)


@pytest.fixture(scope="module")
def loud(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """Noise in both channels for themselves, so loud that slope, depth and curvature are beyond their limits."""
    rng = np.random.default_rng(5)
    n = round(25.0 * RATE)
    f = np.fft.rfftfreq(n, 1 / RATE)
    shape = (f > 30.0) / np.sqrt(np.maximum(f, 30.0))
    x = np.fft.irfft(np.fft.rfft(rng.standard_normal((n, 2)), axis=0) * shape[:, None], n, axis=0)
    path = tmp_path_factory.mktemp("loud") / "noise.wav"
    soundfile.write(path, 0.9 * x / np.abs(x).max(), RATE, subtype="FLOAT")
    return plan_file(path, level_db=18.0).plan


def test_the_steepest_slope_is_the_findings(loud: Plan) -> None:
    measures = sector_measures(loud.side)
    worst = max((one for one in loud.findings if one.code == "slope"), key=lambda one: one.value)
    sector = at(measures, worst)
    assert math.degrees(measures.slope[sector]) == pytest.approx(worst.value, rel=1e-12)
    assert measures.slope[sector] == measures.slope.max()
    for one in loud.findings:
        if one.code == "slope":
            assert math.degrees(measures.slope[at(measures, one)]) == pytest.approx(one.value, rel=1e-12)


def test_the_sharpest_bend_is_the_findings(loud: Plan) -> None:
    measures = sector_measures(loud.side)
    found = the(loud, "curvature")
    told = re.search(r"Here ([\d.]+) ×", found.remedy)
    assert told is not None
    sector = at(measures, found)
    assert f"{measures.curvature[sector]:.1f}" == told[1]
    assert measures.curvature[sector] == measures.curvature.max()


def test_depth_and_land_are_the_plans(loud: Plan) -> None:
    measures = sector_measures(loud.side)
    found = the(loud, "depth")
    assert measures.depth_greatest[at(measures, found)] * 1e6 == pytest.approx(found.value, rel=1e-12)
    music = measures.time[:-1] >= 0.0
    assert measures.depth_least[music].min() == loud.depth_least
    assert measures.depth_greatest[music].max() == loud.depth_greatest
    rows = loud.rows
    for sector in (60, 200, 333):
        row = int(np.flatnonzero(np.abs(rows.time - measures.time[sector]) < 1e-9)[0])
        assert measures.land[sector] == rows.land[row]
        assert measures.pitch[sector] == rows.pitch[row]
    # No turn lies outside the first fine one but the lead-in; every sector of music has land.
    assert not np.isnan(measures.land[music]).any()


def test_land_that_is_missing_is_the_findings(side: Path) -> None:
    setup = load_setup("12in-33")
    narrow = replace(setup, lathe=replace(setup.lathe, pitch_max=105e-6))
    plan = plan_file(side, level_db=20.0, setup=narrow).plan
    found = the(plan, "land")
    measures = sector_measures(plan.side)
    assert measures.land[at(measures, found)] * 1e6 == pytest.approx(found.value, rel=1e-12)


@pytest.mark.parametrize("loud_first", [True, False])
def test_echo_is_the_findings_and_stands_at_the_quiet_turn(tmp_path: Path, loud_first: bool) -> None:
    t = np.arange(RATE * 10) / RATE
    tone = 0.5 * np.sin(2 * np.pi * 440 * t)
    tone[(t < 5.0) != loud_first] *= 1e-3
    path = tmp_path / "steps.wav"
    soundfile.write(path, np.stack([tone, tone], axis=1), RATE, subtype="FLOAT")
    plan = plan_file(path, level_db=0.0).plan
    found = the(plan, "echo")
    measures = sector_measures(plan.side)
    sector = at(measures, found)
    assert measures.echo[sector] == found.value
    assert measures.echo[sector] == measures.echo.max()
    # By hand: 60 dB between the two, and only the turn beside the step can hear the other.
    assert found.value == pytest.approx(60.0, abs=0.5)
    heard = measures.time[:-1][measures.echo >= found.limit]
    quiet = (5.0, 6.8) if loud_first else (3.2, 5.0)
    assert heard.min() > quiet[0] - 0.2
    assert heard.max() < quiet[1] + 0.2
    risk = re.search(r"([\d.]+) s of the side are at risk", found.remedy)
    assert risk is not None
    assert len(heard) * 1.8 / 32 == pytest.approx(float(risk[1]), abs=0.06)


def test_level_of_a_full_tone_is_the_level_of_the_cut(tmp_path: Path) -> None:
    t = np.arange(RATE * 4) / RATE
    both = np.stack([np.sin(2 * np.pi * 1000 * t)] * 2, axis=1)
    both[t > 2.0] = 0.0
    path = tmp_path / "tone.wav"
    soundfile.write(path, both, RATE, subtype="FLOAT")
    measures = sector_measures(plan_file(path, level_db=-6.0).plan.side)
    # By hand: a full-scale sine in both channels is 0 dB before the level of the cut.
    assert measures.level_db[measures.sector_at(1.0)] == pytest.approx(-6.0, abs=0.02)
    assert measures.level_db[measures.sector_at(3.0)] == SILENCE_DB
    # By hand: V = 2 pi 146.3 mm / 1.8 s at the rim; and 1 kHz at 5 cm/s and -6 dB has a slope of v / V.
    sector = measures.sector_at(0.9)
    assert measures.groove_speed[sector] == pytest.approx(2 * math.pi * 0.1463 / 1.8, rel=2e-3)
    assert math.tan(measures.slope[sector]) == pytest.approx(0.05 * 10 ** (-6 / 20) / 0.5107, rel=0.01)


def test_every_array_has_a_value_for_each_sector(loud: Plan) -> None:
    measures = sector_measures(loud.side)
    sectors = len(measures.time) - 1
    for field in fields(measures):
        assert getattr(measures, field.name).shape == (sectors + (field.name == "time"),)
    # By hand: one and a half fine turns of 32 sectors, and 25 s of sectors of 56.25 ms.
    assert sectors == 48 + 445
    assert (measures.time[0], measures.time[-1]) == pytest.approx((-2.7, 25.0))


def test_the_sector_of_a_time() -> None:
    time = np.array([-0.1, 0.0, 0.1, 0.15])
    measures = SectorMeasures(time, *(np.zeros(3) for _ in range(9)))
    assert [measures.sector_at(t) for t in (-0.2, -0.1, -0.05, 0.0, 0.0999, 0.12, 0.15, 0.2)] == [
        None, 0, 0, 1, 1, 2, 2, None,
    ]  # fmt: skip
