"""What is offered against a finding cures it: faults planted, the offer tried, the finding gone."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from PIL import Image

from discwright.acts import keep as keep_module
from discwright.acts.changes import Changes
from discwright.acts.plan import plan_file
from discwright.acts.remedies import Offer, remedy
from discwright.acts.what_if import what_if
from discwright.files.compare import read_plan
from discwright.files.settings import load_setup, shipped
from discwright.findings import Finding
from discwright.groove.distortion import Departures, WorstSpot
from discwright.groove.equipment import PlayingTip, Setup
from discwright.groove.heard import Place, check_distortion, check_tip_width, check_treble
from discwright.programme.title import Treatment

RATE = 44_100
STANDARD = load_setup()


@pytest.fixture(scope="module", autouse=True)
def quick_picture() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(keep_module, "draw_disc", lambda path, *_, **__: Image.new("RGB", (64, 64)).save(path))
        yield


def burst(low_hz: float, high_hz: float) -> np.ndarray:
    """A fifth of a second of noise that swells, shape (n, 2)."""
    n = RATE // 5
    spectrum = np.fft.rfft(np.random.default_rng(7).standard_normal(4 * n))
    f = np.fft.rfftfreq(4 * n, 1 / RATE)
    x = np.fft.irfft(spectrum * ((f > low_hz) & (f < high_hz)))[n : 2 * n] * np.hanning(n)
    result: np.ndarray = (0.9 * x / np.abs(x).max())[:, None] * np.ones(2)
    return result


def swell(amplitude: float) -> np.ndarray:
    """Three seconds of 45 Hz out of phase, shape (n, 2)."""
    t = np.arange(3 * RATE) / RATE
    tone = amplitude * np.sin(2 * np.pi * 45 * t) * np.hanning(len(t))
    return np.stack([tone, -tone], axis=1)


def hiss() -> np.ndarray:
    """A fiftieth of a second every second, above 9 kHz: it bends the wall long before it is steep, shape (n, 2)."""
    return np.tile(np.concatenate([burst(9000, 16_000)[3000:5000], np.zeros((RATE - 2000, 2))]), (12, 1))


def weaker(**limits: float) -> Setup:
    return replace(STANDARD, head=replace(STANDARD.head, **limits))


#: Code, what is planted, how loud the music is, level, setup: each fault too much of one thing.
FAULTS: dict[str, tuple[np.ndarray | None, float, float, Setup]] = {
    "slope": (burst(2000, 6000), 0.3, 16.0, STANDARD),
    "head_velocity": (None, 1.0, 10.0, weaker(velocity_max=0.035)),
    "head_acceleration": (None, 1.0, 6.0, weaker(acceleration_max=300.0)),
    "head_heat": (None, 1.0, 6.0, weaker(heat_acceleration_max=30.0)),
    "depth": (swell(1.0), 1.0, 8.0, STANDARD),
    "land": (None, 1.0, 16.0, replace(STANDARD, lathe=replace(STANDARD.lathe, pitch_max=70e-6))),
    "radius": (None, 1.0, 12.0, replace(STANDARD, disc=replace(STANDARD.disc, innermost_radius=0.14598))),
    "curvature": (hiss(), 0.2, 9.0, STANDARD),
    "sibilance": (burst(5000, 12_000), 0.3, 6.0, STANDARD),
    "vertical_bass": (swell(0.5), 1.0, 6.0, STANDARD),
}


@pytest.fixture(scope="module")
def spoiled(tmp_path_factory: pytest.TempPathFactory, side: Path) -> dict[str, Path]:
    """A kept plan for each fault: the first twelve seconds of the music, the fault at six."""
    folders = {}
    music, _ = soundfile.read(side, frames=12 * RATE)
    for code, (fault, loud, level_db, setup) in FAULTS.items():
        place = tmp_path_factory.mktemp(code)
        x = loud * music
        if fault is not None:
            begin = 0 if len(fault) == len(x) else 6 * RATE
            x[begin : begin + len(fault)] += fault
        soundfile.write(place / "side.wav", x, RATE, subtype="FLOAT")
        plan_file(place / "side.wav", level_db=level_db, setup=setup, out=place / "plan", only=())
        folders[code] = place / "plan"
    return folders


def findings(document: dict[str, Any], code: str) -> list[dict[str, Any]]:
    return [one for one in document["findings"] if one["code"] == code]


def worst(document: dict[str, Any], code: str) -> dict[str, Any]:
    return max(findings(document, code), key=lambda one: one["value"] / one["limit"])


@pytest.mark.parametrize("code", FAULTS)
def test_what_is_offered_cures(spoiled: dict[str, Path], code: str) -> None:
    document = read_plan(spoiled[code])
    found = worst(document, code)
    offer = remedy(found, document)
    assert offer is not None
    report = what_if(spoiled[code], offer.changes)
    assert found in report.comparison.cured
    assert findings(report.document, code) == []
    assert not [one for one in report.comparison.gained if one["severity"] == "stop"]


@pytest.mark.parametrize(
    "code", ["slope", "head_velocity", "head_acceleration", "head_heat", "depth", "radius", "sibilance"]
)
def test_the_decibels_are_those_of_the_sentence(spoiled: dict[str, Path], code: str) -> None:
    """By another road: read from the sentence. To a tenth, and no more than a tenth more than is needed."""
    document = read_plan(spoiled[code])
    found = worst(document, code)
    said = re.search(r"([\d.]+) dB", found["remedy"])
    offer = remedy(found, document)
    assert said is not None
    assert offer is not None
    level_db = document["level_db"] - float(said[1])
    assert offer.changes == Changes(level_db=pytest.approx(level_db, abs=1e-9))
    assert offer.words == f"Lower the side {said[1]} dB, to {level_db:+.1f} dB"


def test_a_tenth_less_would_not_do(spoiled: dict[str, Path]) -> None:
    """So that the test above can fail: of what goes with the level alone."""
    document = read_plan(spoiled["head_heat"])
    offer = remedy(worst(document, "head_heat"), document)
    assert offer is not None
    assert offer.changes.level_db is not None
    report = what_if(spoiled["head_heat"], Changes(level_db=offer.changes.level_db + 0.1))
    assert findings(report.document, "head_heat") != []


def test_treatments_are_added_to_those_there(spoiled: dict[str, Path], tmp_path: Path) -> None:
    document = read_plan(spoiled["vertical_bass"])
    found = findings(document, "vertical_bass")[0]
    named = float(re.findall(r"below (\d+) Hz", found["remedy"])[0])
    cut, limit = Treatment("low_cut", below=20.0), Treatment("treble_limit")
    both = Changes(treatments=(Treatment("bass_blend", 50.0), cut))
    what_if(spoiled["vertical_bass"], both, out=tmp_path / "cut", only=())
    treated = read_plan(tmp_path / "cut")
    blended = remedy(found, treated)
    assert blended is not None
    assert blended.changes == Changes(treatments=(Treatment("bass_blend", below=named), cut))
    assert blended.words == f"Blend the bass to lateral below {named:.0f} Hz"
    bends = worst(read_plan(spoiled["curvature"]), "curvature")
    assert remedy(bends, treated) == Offer(
        "Limit the treble where the spherical-18 tip cannot follow",
        Changes(treatments=(Treatment("bass_blend", 50.0), cut, limit)),
    )
    # What is there already is not offered again: a finer tip is, and no blend.
    treated["settings"]["treatments"] = [{"kind": "treble_limit"}, {"kind": "bass_blend", "below_hz": 300.0}]
    assert remedy(bends, treated) == Offer("Play it with spherical-15", Changes(tip="spherical-15"))
    assert remedy(found, treated) is None


def test_where_a_treble_limit_works_no_decibels_are_counted(spoiled: dict[str, Path], tmp_path: Path) -> None:
    """A lower level makes the limit work less: the decibels of the sentence would not do, what is offered does."""
    limit = (Treatment("treble_limit"),)
    for code, level_db in (("sibilance", 10.0), ("slope", 22.0)):
        loud = what_if(spoiled[code], Changes(level_db=level_db, treatments=limit), out=tmp_path / code, only=())
        assert loud.document["treatments"][0]["greatest_db"] > 1.0
        found = worst(loud.document, code)
        offer = remedy(found, loud.document)
        assert offer is not None
        assert offer.changes.tip == "elliptical-5" if code == "sibilance" else offer.changes == Changes(fit="cut")
        assert findings(what_if(tmp_path / code, offer.changes).document, code) == []
        if code == "sibilance":
            said = re.search(r"([\d.]+) dB", found["remedy"])
            assert said is not None
            lower = what_if(tmp_path / code, Changes(level_db=level_db - float(said[1])))
            assert findings(lower.document, code) != []
    # A limit that had nothing to do changes nothing: the decibels are exact again.
    idle = read_plan(spoiled["sibilance"]) | {"treatments": [{"kind": "treble_limit", "greatest_db": None}]}
    assert remedy(worst(idle, "sibilance"), idle) == remedy(worst(idle, "sibilance"), read_plan(spoiled["sibilance"]))


def test_a_finer_tip_cures_what_a_limit_could_not(spoiled: dict[str, Path], tmp_path: Path) -> None:
    document = read_plan(spoiled["curvature"])
    bends = worst(document, "curvature")
    document["settings"]["treatments"] = [{"kind": "treble_limit"}]
    share = bends["value"]
    for _ in range(5):
        offer = remedy(bends, document)
        if offer is None:
            break
        assert offer.changes.tip is not None
        document["settings"]["tip"] = {"name": offer.changes.tip, "side_radius_um": (
            shipped(PlayingTip)[offer.changes.tip].side_radius * 1e6
        )}  # fmt: skip
        left = findings(what_if(spoiled["curvature"], offer.changes).document, "curvature")
        assert not left or left[0]["value"] < share
        share = left[0]["value"] if left else 0.0
    assert share == 0.0


def test_too_long_at_any_level(spoiled: dict[str, Path], tmp_path: Path, side: Path) -> None:
    shutil.copy(side, tmp_path / "side.wav")
    short = replace(STANDARD, disc=replace(STANDARD.disc, innermost_radius=0.1461))
    document = plan_file(tmp_path / "side.wav", level_db=-30.0, setup=short).document
    found = findings(document, "radius")[0]
    assert "Too long at any level" in found["remedy"]
    assert remedy(found, document) is None


def plain(**values: Any) -> dict[str, Any]:
    told = {"code": "x", "severity": "warn", "time_s": 1.0, "value": 1.0, "limit": 1.0, "unit": "", "remedy": ""}
    return told | values


def test_what_only_a_person_can_do_has_no_offer(spoiled: dict[str, Path]) -> None:
    document = read_plan(spoiled["depth"])
    for code in ("click", "echo", "echo_room", "fit", "quiet", "mono", "short", "over_full_scale", "nothing_to_accept"):
        assert remedy(plain(code=code, remedy="Lower the side 3.0 dB."), document) is None


def test_what_lies_beyond_every_level_has_no_offer(spoiled: dict[str, Path]) -> None:
    """By hand: ten times too much are 20 dB, and no level lies below -40."""
    document = read_plan(spoiled["depth"])
    offer = remedy(plain(code="head_heat", value=10.0), document | {"level_db": -20.0})
    assert offer == Offer("Lower the side 20.0 dB, to -40.0 dB", Changes(level_db=-40.0))
    assert remedy(plain(code="head_heat", value=10.0), document | {"level_db": -20.1}) is None
    assert remedy(plain(code="slope", value=90.0, limit=45.0, unit="deg"), document) is None
    assert remedy(plain(code="vertical_bass", remedy="No number."), document) is None


def test_a_groove_too_narrow_asks_for_a_level_that_is_looked_for(spoiled: dict[str, Path]) -> None:
    document = read_plan(spoiled["depth"])
    found = plain(code="depth", value=9.0, limit=12.5)
    assert remedy(found, document) == Offer("Look for the highest level that nothing stops", Changes(fit="cut"))


# What a proof finds, from its own checks ------------------------------------------------------------------


PLACE = Place(np.array([0.0, 10.0]), np.array([0.09, 0.08]), 1.8, (0.0,), 0.1463)


def heard(share: float, tip: PlayingTip) -> dict[str, Any]:
    some = np.array([0.01, share])
    departures = Departures(
        time=np.array([0.0, 1.0]), level_db=np.zeros(2), distortion=some, band_distortion=np.zeros((2, 1)),
        treble_db=np.array([-1.0, -6.0]), peak_time=np.array([0.5, 1.5]),
    )  # fmt: skip
    spots = [WorstSpot(1.5, share, 1000.0)]
    tips = tuple(shipped(PlayingTip).values())
    (found,) = check_distortion(departures, spots, tip, STANDARD.practice, PLACE, tips)
    return found.as_dict()


def test_distortion_asks_for_a_finer_tip_or_a_lower_level(spoiled: dict[str, Path]) -> None:
    """By hand: 8 % against 5 % are 1.6 times; 18 µm over 1.6 are 11.25, and 8 is the next below. 40 % are 8 times,
    2.25 µm, finer than any; 18.1 dB.
    """
    document = read_plan(spoiled["depth"])
    tips = shipped(PlayingTip)
    found = heard(0.08, tips["spherical-18"])
    assert remedy(found, document) == Offer("Play it with elliptical-8", Changes(tip="elliptical-8"))
    assert "play it with elliptical-8 or finer" in found["remedy"]
    offer = remedy(heard(0.40, tips["spherical-18"]), document)
    assert offer is not None
    assert offer.changes == Changes(level_db=pytest.approx(8.0 - 18.1))
    # Heard with another tip than the plan's own: 8 µm over 1.6 are 5.
    assert remedy(heard(0.08, tips["elliptical-8"]), document) == Offer(
        "Play it with elliptical-5", Changes(tip="elliptical-5")
    )


def test_lost_treble_asks_for_the_next_finer_tip(spoiled: dict[str, Path]) -> None:
    document = read_plan(spoiled["depth"])
    tips = shipped(PlayingTip)
    departures = Departures(
        time=np.array([0.0]), level_db=np.zeros(1), distortion=np.zeros(1), band_distortion=np.zeros((1, 1)),
        treble_db=np.array([-6.0]), peak_time=np.array([0.5]),
    )  # fmt: skip
    found: list[Finding] = check_treble(departures, tips["spherical-18"], STANDARD.practice, PLACE)
    assert remedy(found[0].as_dict(), document) == Offer("Play it with spherical-15", Changes(tip="spherical-15"))
    document["settings"]["tip"] = {"name": "line-contact-5", "side_radius_um": 5.0}
    found = check_treble(departures, tips["line-contact-5"], STANDARD.practice, PLACE)
    assert remedy(found[0].as_dict(), document) is None


def test_a_narrow_groove_asks_for_a_tip_that_fits(spoiled: dict[str, Path]) -> None:
    """By hand: 23 µm wide; 18 µm touch at 25.5, 15 at 21.2."""
    document = read_plan(spoiled["depth"])
    depth, time = np.full(10, 11.5e-6), np.linspace(0, 9, 10)
    (found,) = check_tip_width(shipped(PlayingTip)["spherical-18"], depth, time, PLACE)
    assert remedy(found.as_dict(), document) == Offer("Play it with spherical-15", Changes(tip="spherical-15"))
    (narrow,) = check_tip_width(shipped(PlayingTip)["spherical-18"], depth / 2, time, PLACE)
    assert remedy(narrow.as_dict(), document) is None
