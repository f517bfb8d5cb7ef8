"""What a capture is held against: the programme, its groove, and the proof where that explains the capture better."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile
from invented import RATE, Held, held, piece, rough

from discwright.acts.inspect_reference import (
    candidates,
    choose,
    loud_passages,
    open_reference,
    played,
    resampled,
)
from discwright.acts.plan import plan_file
from discwright.errors import CallError

SECONDS = 24.0


def quiet(_step: str, _done: float) -> None:
    return None


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("reference")
    soundfile.write(folder / "side.wav", piece(SECONDS, seed=50), RATE, subtype="FLOAT")
    plan_file(folder / "side.wav", level_db=9.0, out=folder / "plan", only=())
    return folder


def test_a_recording_alone_is_spread_over_the_format(planned: Path, tmp_path: Path) -> None:
    reference = open_reference(planned / "side.wav", None, "12in-33", quiet)
    assert (reference.rate, reference.frames, reference.planned) == (RATE, round(SECONDS * RATE), False)
    assert reference.radius_at(0.0) == pytest.approx(0.1463)
    # By hand: so short a side would take a pitch of millimetres; 127 µm is taken instead.
    assert reference.radius_at(18.0) == pytest.approx(0.1463 - 10 * 127e-6)
    long = tmp_path / "long.flac"
    soundfile.write(long, np.zeros((RATE * 200, 2), dtype=np.int16), RATE)
    filled = open_reference(long, None, "7in-45", quiet)
    # By hand: 200 s are 150 turns from 84.15 to 53.975 mm.
    assert filled.radius_at(200.0) == pytest.approx(0.053975)
    assert filled.radius_at(100.0) == pytest.approx((0.08415 + 0.053975) / 2)


def test_a_plan_brings_its_own_groove(planned: Path) -> None:
    reference = open_reference(None, planned / "plan", None, quiet)
    assert reference.planned
    assert not reference.other_audio
    assert reference.level_db == 9.0
    assert np.all(np.diff(reference.radius) <= 0)
    audio = np.concatenate(list(reference.blocks()))
    assert np.abs(audio - piece(SECONDS, seed=50)).max() < 1e-6


@pytest.mark.parametrize(("rate", "working"), [(44_100, 44_100), (48_000, 48_000), (96_000, 48_000), (192_000, 48_000)])
def test_work_is_done_at_no_more_than_is_heard(planned: Path, tmp_path: Path, rate: int, working: int) -> None:
    path = tmp_path / "short.wav"
    soundfile.write(path, np.zeros((rate, 2)), rate)
    assert open_reference(path, None, None, quiet).working_rate == working


def test_resampling_keeps_time_and_level() -> None:
    rate = 96_000
    t = np.arange(2 * rate) / rate
    tone = np.stack([np.sin(2 * np.pi * 440 * t)] * 2, axis=1).astype(np.float32)
    out = np.concatenate(list(resampled(iter([tone[:50_001], tone[50_001:]]), rate, 48_000)))
    assert len(out) == pytest.approx(2 * 48_000, abs=1)
    expected = np.sin(2 * np.pi * 440 * np.arange(len(out)) / 48_000)  # by hand
    assert np.abs(out[500:-500, 0] - expected[500:-500]).max() < 1e-4
    assert next(iter(resampled(iter([tone]), rate, rate))) is tone


def test_candidates(planned: Path) -> None:
    bare, plan = (
        open_reference(planned / "side.wav", None, None, quiet),
        open_reference(None, planned / "plan", None, quiet),
    )
    assert [one.words for one in candidates(bare, None)] == ["the programme"]
    assert [one.words for one in candidates(plan, "none")] == ["the programme"]
    assert [one.words for one in candidates(plan, "elliptical-5")] == [
        "the proof with elliptical-5", "the proof with elliptical-5, no arm",
    ]  # fmt: skip
    own = plan.setup.tip.name
    assert [one.words for one in candidates(plan, None)] == [
        f"the proof with {own}", f"the proof with {own}, no arm", "the programme",
    ]  # fmt: skip
    with pytest.raises(CallError, match="no-such-tip"):
        candidates(plan, "no-such-tip")


def test_what_explains_the_capture_is_chosen(planned: Path) -> None:
    reference = open_reference(None, planned / "plan", None, quiet)
    programme = held(piece(SECONDS, seed=50))
    choices = candidates(reference, None)
    _, no_arm, bare = choices
    rng = np.random.default_rng(1)
    for right in (bare, no_arm):
        sound = (
            programme.audio if right.hearing is None
            else np.concatenate(list(played(reference, programme, right.hearing, 0, programme.frames)))
        )  # fmt: skip
        capture = Held(RATE, (0.5 * sound + 1e-5 * rng.standard_normal(sound.shape)).astype(np.float32))
        got = choose(reference, programme, capture, rough(programme, capture), choices, [8 * RATE])
        assert got.words == right.words
    assert choose(reference, programme, programme, rough(programme, programme), [bare], []) is bare


def test_a_proof_of_a_stretch_is_a_stretch_of_the_proof(planned: Path) -> None:
    reference = open_reference(None, planned / "plan", None, quiet)
    programme = held(piece(SECONDS, seed=50))
    hearing = candidates(reference, None)[0].hearing
    assert hearing is not None
    whole = np.concatenate(list(played(reference, programme, hearing, 0, programme.frames)))
    part = np.concatenate(list(played(reference, programme, hearing, 10 * RATE, 3 * RATE)))
    assert whole.shape == (programme.frames, 2)
    assert part.shape == (3 * RATE, 2)
    assert np.abs(part - whole[10 * RATE : 13 * RATE]).max() < 2e-3 * np.abs(whole).max()


def test_loud_passages_lie_one_in_each_third() -> None:
    level = np.ones(50 * 120)
    for at in (10, 55, 100):
        level[50 * at : 50 * (at + 8)] = 9.0
    assert loud_passages(level, 50, RATE) == pytest.approx([10 * RATE, 55 * RATE, 100 * RATE], abs=RATE)
    assert loud_passages(np.ones(50 * 4), 50, RATE) == [0]
    assert loud_passages(np.ones(0), 50, RATE) == []


def test_another_plan_is_refused(planned: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.wav"
    soundfile.write(other, np.zeros((RATE, 2)), RATE)
    with pytest.raises(CallError, match=r"give the recording the plan was made from, or another --plan\.$"):
        open_reference(other, planned / "plan", None, quiet)
    with pytest.raises(CallError, match="leave --format out"):
        open_reference(None, planned / "plan", "12in-33", quiet)
    with pytest.raises(CallError, match="give --recording FILE or --plan DIR"):
        open_reference(None, None, None, quiet)
    shutil.copy(planned / "side.wav", tmp_path / "same.wav")
    assert not open_reference(tmp_path / "same.wav", planned / "plan", None, quiet).other_audio
