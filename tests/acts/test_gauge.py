"""A photograph from file to report: scale, plan, wish, picture; and the light band."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from micrograph import Drawn, draw
from PIL import Image
from scipy.ndimage import gaussian_filter

from discwright.acts.gauge import gauge_light_band, gauge_photograph, planned_at
from discwright.acts.plan import plan_file
from discwright.errors import CallError
from discwright.files.compare import read_plan
from discwright.files.kept_side import read_spiral


def saved(folder: Path, drawn: Drawn, name: str = "cut.png") -> Path:
    path = folder / name
    Image.fromarray(np.rint(draw(drawn).picture * 255).astype(np.uint8)).save(path)
    return path


@pytest.fixture(scope="module")
def cut(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return saved(tmp_path_factory.mktemp("cut"), Drawn(widths=(52.0,)))


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory, side: Path) -> Path:
    folder = tmp_path_factory.mktemp("kept") / "plan"
    plan_file(side, level_db=-3.0, out=folder, only=())
    return folder


def test_measured_and_what_to_do(cut: Path, tmp_path: Path) -> None:
    """by hand: measured 52 µm, wanted 56: lower by 2 µm."""
    report = gauge_photograph(cut, pixel=0.5e-6, wanted=56e-6, out=tmp_path / "seen.png")
    plain = json.loads(json.dumps(report.as_dict()))
    assert plain["width_um"]["mean"] == pytest.approx(52.0, abs=0.3)
    assert plain["correction_um"] == pytest.approx(2.0, abs=0.15)
    assert [one["code"] for one in plain["findings"]] == ["gauge_width"]
    assert report.ready
    with Image.open(tmp_path / "seen.png") as picture:
        assert picture.width > 1200
    assert (plain["um_per_pixel"], plain["planned"], plain["micrometer"]) == (0.5, None, None)


def test_the_scale_of_a_micrometer(cut: Path, tmp_path: Path) -> None:
    x = np.arange(1200)
    lines = 0.8 - 0.6 * (np.abs(x / 20 - np.rint(x / 20)) < 0.1)
    picture = gaussian_filter(np.tile(lines, (900, 1)), 1.0)
    Image.fromarray((picture * 255).astype(np.uint8)).save(tmp_path / "scale.png")
    report = gauge_photograph(cut, micrometer=tmp_path / "scale.png")
    # by hand: lines 20 px and 10 µm apart: half a micrometre a pixel.
    assert report.as_dict()["um_per_pixel"] == pytest.approx(0.5, rel=1e-3)
    assert report.gauged.width.mean * 1e6 == pytest.approx(52.0, abs=0.3)


def test_against_the_plan(kept: Path, tmp_path: Path) -> None:
    document = read_plan(kept)
    rows = read_spiral(kept, document)
    planned = planned_at(rows, 1.8, 9.0, 1, 12.5e-6)
    # by another road: the table's own rows, a turn of 32 around 9 s; straight between them.
    around = np.abs(rows.time - 9.0) < 0.9 + 1e-6
    assert planned.width == pytest.approx(
        2 * float(np.trapezoid(rows.depth[around], rows.time[around])) / 1.8, rel=2e-3
    )
    edge = np.interp([8.1, 9.9], rows.time, rows.radius)
    assert planned.pitch == pytest.approx(float(edge[0] - edge[1]), rel=1e-9)
    assert planned.land_least == pytest.approx(float(np.nanmin(rows.land[around][:-1])))
    width, pitch = planned.width * 1e6, planned.pitch * 1e6
    path = saved(tmp_path, Drawn(um_per_pixel=0.25, widths=(width,), pitches=(pitch,), first=20.0))
    report = gauge_photograph(path, pixel=0.25e-6, plan=kept, turn=5.0)
    plain = report.as_dict()
    assert plain["planned"]["width_um"] == pytest.approx(width, abs=1e-3)
    assert plain["planned"]["turn"] == 5.0
    assert abs(plain["correction_um"]) < 0.15
    severity = {one["code"]: one["severity"] for one in plain["findings"]}
    assert severity["gauge_width"] == severity["gauge_pitch"] == "note"
    assert all(one["turn"] == 5.0 for one in plain["findings"] if one["code"] != "gauge_walls")
    by_radius = gauge_photograph(path, pixel=0.25e-6, plan=kept, radius=planned.radius)
    assert by_radius.planned is not None
    assert by_radius.planned.time == pytest.approx(9.0, abs=1e-3)


def test_a_narrow_groove_stops(kept: Path, tmp_path: Path) -> None:
    path = saved(tmp_path, Drawn(um_per_pixel=0.25, widths=(22.0,), pitches=(60.0,), first=20.0, bottom=(4.0, 0.9)))
    report = gauge_photograph(path, pixel=0.25e-6, plan=kept, turn=5.0)
    assert not report.ready
    assert report.findings[0].code == "gauge_narrow"


def test_calls_that_cannot_be(cut: Path, kept: Path, tmp_path: Path) -> None:
    for words, options in {
        "the scale is missing": {},
        "the scale is given twice": {"pixel": 1e-6, "micrometer": cut},
        "is impossible for a photograph": {"pixel": 1e-3},
        "walls are not “grey”": {"pixel": 1e-6, "walls": "grey"},
        "name its folder with --plan": {"pixel": 1e-6, "turn": 3.0},
        "the plan does not know where": {"pixel": 1e-6, "plan": kept},
        "the music has no turn 900": {"pixel": 1e-6, "plan": kept, "turn": 900.0},
        "the music has no groove at 30 mm": {"pixel": 1e-6, "plan": kept, "radius": 0.03},
        "no groove is 0.5 µm wide": {"pixel": 1e-6, "wanted": 0.5e-6},
        "is there already": {"pixel": 1e-6, "out": cut},
    }.items():
        with pytest.raises(CallError, match=words):
            gauge_photograph(cut, **options)  # type: ignore[arg-type]
    with pytest.raises(CallError, match=r"nothing\.png: cannot be read"):
        gauge_photograph(tmp_path / "nothing.png", pixel=1e-6)


def test_a_refusal_names_the_photograph(tmp_path: Path) -> None:
    path = saved(tmp_path, replace(Drawn(), walls=0.7, specks=0, noise=0.0, gradient=0.0), "blank.png")
    with pytest.raises(CallError, match=r"blank\.png: the photograph is all of one grey"):
        gauge_photograph(path, pixel=0.5e-6)


def test_a_photograph_of_sixteen_bits_and_a_large_one(tmp_path: Path) -> None:
    picture = draw(Drawn(widths=(52.0,))).picture
    Image.fromarray((picture * 4095).astype(np.uint16)).save(tmp_path / "deep.tif")
    assert gauge_photograph(tmp_path / "deep.tif", pixel=0.5e-6).gauged.width.mean * 1e6 == pytest.approx(52, abs=0.3)
    large = Image.fromarray((picture * 255).astype(np.uint8)).resize((3600, 2700), Image.Resampling.BICUBIC)
    large.save(tmp_path / "large.png")
    report = gauge_photograph(tmp_path / "large.png", pixel=0.5e-6 / 3)
    assert report.reduced == 2
    assert report.as_dict()["um_per_pixel"] == pytest.approx(0.5 / 3, abs=1e-6)
    assert report.gauged.width.mean * 1e6 == pytest.approx(52, abs=0.3)


def test_the_light_band(tmp_path: Path) -> None:
    # by hand: 2 / (1/20 + 1/22) = 20.952 mm; published pair in tests/inspection/test_light_band.py.
    assert gauge_light_band(0.75, bands=(0.020, 0.022)).as_dict()["light_band_mm"] == pytest.approx(20.9524, abs=1e-4)
    assert gauge_light_band(0.75, velocity=0.05).as_dict()["level_db"] == 0.0
    x = np.abs(np.arange(600) - 300) * 0.1
    picture = np.tile(0.1 + 0.7 * (x < 10.0), (400, 1))
    Image.fromarray((gaussian_filter(picture, 2) * 255).astype(np.uint8)).save(tmp_path / "band.png")
    seen = gauge_light_band(0.75, photograph=tmp_path / "band.png", pixel=1e-4).as_dict()
    assert seen["light_band_mm"] == pytest.approx(20.0, abs=0.15)
    assert seen["widest_mm"] >= seen["light_band_mm"]
    with pytest.raises(CallError, match="give --mm-per-pixel"):
        gauge_light_band(0.75, photograph=tmp_path / "band.png")
    with pytest.raises(CallError, match="0 light bands were given"):
        gauge_light_band(0.75)
