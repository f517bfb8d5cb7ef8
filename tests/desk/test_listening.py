"""Clips of a spot: equally long, sample by sample the programme and the proof of the whole side, equally loud."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
import soundfile

from discwright.acts.proof import proof
from discwright.desk.listening import Listening, check_shipped_name
from discwright.desk.opened import OpenPlan
from discwright.desk.shelf import Shelf
from discwright.errors import CallError


def heard(clips: object, version: str) -> np.ndarray:
    sound, rate = soundfile.read(BytesIO(clips.wav(version)), dtype="float64")  # type: ignore[attr-defined]
    assert rate == 44_100
    return np.asarray(sound)


def test_a_spot_is_what_the_proof_of_the_side_has_there(side_a: OpenPlan, tmp_path: Path) -> None:
    clips = Listening().clips(side_a, 14.25, "elliptical-8")
    assert (clips.first, clips.seconds) == (round(14.25 * 44_100), 4.0)
    versions = {one: heard(clips, one) for one in ("programme", "proof", "difference")}
    assert {len(one) for one in versions.values()} == {4 * 44_100}
    # By another road: the act that the command line uses, over the same stretch.
    proof(side_a.plan.folder, tips=("elliptical-8",), start=14.25, end=18.25, out=tmp_path / "a.wav", difference=True)
    whole, _ = soundfile.read(tmp_path / "a.wav", dtype="float64")
    changed, _ = soundfile.read(tmp_path / "a-difference.wav", dtype="float64")
    gain = 10 ** (clips.matched_db / 20)
    assert np.abs(versions["proof"] / gain - whole).max() < 2e-6
    assert np.abs(versions["difference"] - changed).max() < 2e-6
    assert np.abs(versions["programme"] - (whole + changed)).max() < 2e-6


def test_the_proof_is_as_loud_as_the_programme(side_a: OpenPlan) -> None:
    clips = Listening().clips(side_a, 3.0, None)
    loud, other = (float(np.sqrt(np.mean(heard(clips, one) ** 2))) for one in ("programme", "proof"))
    assert other == pytest.approx(loud, rel=1e-5)
    assert clips.matched_db != 0.0


def test_near_the_end_there_are_still_four_seconds(side_a: OpenPlan) -> None:
    clips = Listening().clips(side_a, side_a.duration, None)
    assert clips.seconds == 4.0
    assert clips.start + clips.seconds == pytest.approx(side_a.duration, abs=1e-4)


def test_played_once_for_three_files(side_a: OpenPlan) -> None:
    listening = Listening(most=2)
    first = listening.clips(side_a, 2.0, None)
    assert listening.clips(side_a, 2.0, None) is first
    listening.clips(side_a, 6.0, None)
    listening.clips(side_a, 9.0, None)
    assert listening.clips(side_a, 2.0, None) is not first


def test_what_cannot_be_heard(side_a: OpenPlan, planned_folder: Path, tmp_path: Path) -> None:
    listening = Listening()
    with pytest.raises(CallError, match="choose one within the bands"):
        listening.clips(side_a, 400.0, None)
    with pytest.raises(CallError, match=r"use .*spherical-18"):
        listening.clips(side_a, 4.0, "no-such-tip")
    with pytest.raises(CallError, match="choose one of them"):
        listening.clips(side_a, 4.0, None).wav("other")
    unready = OpenPlan(Shelf(planned_folder).plan("bare"), tmp_path / "nothing")
    with pytest.raises(CallError, match="still being made ready"):
        listening.clips(unready, 4.0, None)


@pytest.mark.parametrize("name", ["../tip.toml", "/etc/passwd", "tip.toml", "a\\b", "."])
def test_a_page_names_no_file(name: str) -> None:
    with pytest.raises(CallError, match="choose one of the list"):
        check_shipped_name(name, {"tip": {"name": "own"}})


def test_the_plans_own_name_is_good_even_if_it_looks_like_a_file() -> None:
    check_shipped_name("house/tip.toml", {"tip": {"name": "house/tip.toml"}, "solver": "x"})
    check_shipped_name(None, {})
