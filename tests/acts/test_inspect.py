"""The test play as an act: a spoiled disc from file to verdict, what is kept, and everything that is refused."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from invented import RATE, TURN_S, piece, play
from PIL import Image
from spoiler import Crackle, Dropout, Jump, Pop, Scratch, Spoiled, Swish
from spoiler_judge import Score, judge

from discwright.acts.inspect import inspect
from discwright.acts.inspect_keep import AUDIO, KEPT
from discwright.acts.inspect_report import InspectReport
from discwright.acts.plan import plan_file
from discwright.errors import AudioError, CallError, SettingsError

SECONDS = 44.0
#: Without a plan a side this short is taken to be cut at 200 lines an inch from the format's outermost radius.
OUTERMOST, PITCH = 0.1463, 127e-6


def assumed(time: Any) -> Any:
    return OUTERMOST - np.asarray(time) / TURN_S * PITCH


def written(path: Path, audio: np.ndarray, rate: int = RATE) -> Path:
    soundfile.write(path, audio, rate, subtype="FLOAT" if path.suffix == ".wav" else "PCM_24")
    return path


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(tmp_path_factory.mktemp("inspect") / "side.wav", piece(SECONDS, seed=31))


@pytest.fixture(scope="module")
def disc() -> Spoiled:
    return play(
        piece(SECONDS, seed=31), radius=assumed, sample_rate=96_000, start_s=3.2, after_s=2.5, speed_error_percent=0.35,
        off_centre_mm=0.45, off_centre_angle_deg=60.0, gain_db=-5.0, balance_db=0.6, crosstalk_db=-24.0,
        tilt_db_per_decade=1.0, noise_dbfs=-58.0, ticks=25, tick_size_db=(8.0, 28.0), pops=(Pop(11.0),),
        scratches=(Scratch(20.0, 6),), dropouts=(Dropout(33.0, 0.08),), jumps=(Jump(37.0, 1),),
    )  # fmt: skip


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("kept") / "play"


@pytest.fixture(scope="module")
def report(recording: Path, disc: Spoiled, kept: Path) -> InspectReport:
    capture = written(recording.with_name("capture.wav"), disc.audio, disc.sample_rate)
    return inspect(capture, recording=recording, out=kept)


@pytest.fixture(scope="module")
def plain(report: InspectReport) -> dict[str, Any]:
    read: dict[str, Any] = json.loads(json.dumps(report.as_dict(), allow_nan=False))
    return read


@pytest.fixture(scope="module")
def score(plain: dict[str, Any], disc: Spoiled) -> Score:
    return judge(plain, disc.truth)


def test_every_promise_is_kept(score: Score) -> None:
    assert score.shortfalls == []
    assert score.planted == 32
    assert score.found == 32
    assert score.false == 0


def test_places_are_where_they_were_planted(score: Score) -> None:
    # Promised: 1 ms, 1 degree; by the spoiler's own places.
    assert score.place_ms < 1.0
    assert score.angle_deg < 1.0
    assert score.turn < 0.003
    assert abs(score.size_db) < 0.5
    assert abs(score.start_ms) < 0.05


def test_every_kind_is_called_what_it_is(score: Score, plain: dict[str, Any], disc: Spoiled) -> None:
    assert score.others == {"dropout": (1, 1), "skip": (1, 1)}
    assert score.kinds_right >= 31
    skip = next(one for one in plain["defects"] if one["kind"] == "skip")
    assert skip["time_s"] == pytest.approx(37.0, abs=0.1)
    assert skip["duration_s"] == pytest.approx(TURN_S, abs=0.02)
    for one in plain["defects"]:
        assert one["radius_mm"] == pytest.approx(assumed(one["time_s"]) * 1e3, abs=0.001)
        assert one["angle_deg"] == pytest.approx(one["time_s"] / TURN_S % 1.0 * 360, abs=0.02)


def test_measures_are_those_planted(plain: dict[str, Any], disc: Spoiled) -> None:
    measures = plain["measures"]
    assert measures["speed_error_percent"] == pytest.approx(0.35, abs=0.005)
    assert measures["eccentricity_mm"] == pytest.approx(0.45, abs=0.01)
    assert measures["eccentricity_angle_deg"] == pytest.approx(60.0, abs=1.0)
    assert measures["wow_peak_percent"] == pytest.approx(disc.truth.wow_peak_percent, abs=0.02)
    # By hand: 0.308 of the peak at 0.5556 Hz (AES6-2008), a hair less within two sigma.
    assert measures["wow_flutter_weighted_percent"] == pytest.approx(0.308 * disc.truth.wow_peak_percent, abs=0.01)
    assert measures["balance_db"] == pytest.approx(0.6, abs=0.1)
    assert measures["separation_db"] == pytest.approx(24.0, abs=1.0)
    # By hand: re a sine 3 dB more, re the level 5 dB more, of 48 kHz 20 to 20k.
    assert measures["noise_db"] == pytest.approx(-58.0 + 3.0 + 5.0 - 3.8, abs=1.5)


def test_keys_are_the_documented_ones(plain: dict[str, Any]) -> None:
    assert {"measures", "response", "defects", "findings", "verdict"} <= set(plain)
    assert {
        "start_s", "speed_error_percent", "wow_peak_percent", "wow_flutter_weighted_percent", "eccentricity_mm",
        "level_db", "balance_db", "separation_db", "noise_db", "rumble_db",
    } <= set(plain["measures"])  # fmt: skip
    assert {frozenset(one) for one in plain["response"]} == {frozenset({"frequency_hz", "left_db", "right_db"})}
    assert {frozenset(one) for one in plain["defects"]} == {
        frozenset({"time_s", "kind", "turn", "radius_mm", "angle_deg", "channel", "duration_s", "size_db", "audible"})
    }
    kinds = {"tick", "pop", "crackle", "scratch", "swish", "dropout", "skip", "repeat"}
    assert {one["kind"] for one in plain["defects"]} <= kinds
    assert set(plain["limits"]) == set(plain["measures"])
    for one in plain["limits"].values():
        assert set(one) == {"unit", "best", "limit"}


def test_the_verdict_names_what_stops_it(report: InspectReport) -> None:
    assert not report.ready
    assert report.verdict == "stop"
    stops = {one.code for one in report.findings if one.severity == "stop"}
    assert stops == {"off_centre", "faults", "groove_left"}
    order = ["stop", "warn", "note"]
    told = [order.index(one.severity) for one in report.findings]
    assert told == sorted(told)


def test_what_is_kept_opens(report: InspectReport, plain: dict[str, Any], kept: Path) -> None:
    assert report.kept == kept
    assert sorted(one.name for one in kept.iterdir()) == sorted(KEPT)
    assert json.loads((kept / "inspect.json").read_text(encoding="utf-8")) == plain
    with Image.open(kept / "inspect.png") as image:
        assert image.width == 1800
    assert not list(kept.parent.glob(".*"))  # nothing half-done


def test_three_files_of_one_length_laid_sample_upon_sample(kept: Path, plain: dict[str, Any], disc: Spoiled) -> None:
    audio = {}
    for name in AUDIO:
        audio[name], rate = soundfile.read(kept / name)
        assert rate == RATE
        assert audio[name].shape == (round(SECONDS * RATE), 2)
    programme, capture, difference = (audio[name] for name in AUDIO)
    own = piece(SECONDS, seed=31)
    # All three are written softer by one factor where one of them would not fit; by hand, 24 bits.
    scale = float(np.sum(programme * own) / np.sum(own * own))
    assert 0.2 < scale <= 1.0
    assert np.abs(programme - scale * own).max() < 2.0**-22
    capture, difference = capture / scale, difference / scale
    # By another road: the lag at which phases agree best, left and right, in pieces over the side.
    for second in (5, 18, 30, 41):
        at = slice(second * RATE, (second + 1) * RATE)
        for c in (0, 1):
            spectrum = np.fft.rfft(capture[at, c], 2 * RATE) * np.conj(np.fft.rfft(own[at, c], 2 * RATE))
            match = np.fft.irfft(spectrum / (np.abs(spectrum) + 1e-6 * np.abs(spectrum).max()))
            assert int(np.argmax(match)) == 0
        level = 20 * math.log10(np.std(capture[at]) / np.std(own[at]))
        assert abs(level) < 1.0  # level matched but for the response's tilt
        assert np.std(difference[at]) < 0.1 * np.std(own[at])
    # The loudest tick of all is heard in the difference where the report says.
    ticks = [one for one in plain["defects"] if one["kind"] == "tick"]
    loud = max(ticks, key=lambda one: one["size_db"])
    near = slice(round((loud["time_s"] - 0.05) * RATE), round((loud["time_s"] + 0.05) * RATE))
    peak = int(np.argmax(np.abs(difference[near]).max(axis=1)))
    assert peak / RATE == pytest.approx(0.05, abs=0.001)


def test_kept_again_in_the_same_folder_and_never_over_anything_else(recording: Path, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    (other / "letter.txt").write_text("dear")
    with pytest.raises(CallError, match="is there already and holds something else; name a folder that is new"):
        inspect(recording, recording=recording, out=other)
    with pytest.raises(CallError, match="is no folder; name one that is there"):
        inspect(recording, recording=recording, out=tmp_path / "no" / "such")
    assert [one.name for one in tmp_path.iterdir()] == ["other"]


# Short sides -------------------------------------------------------------------------------------------


SHORT = 20.0


@pytest.fixture(scope="module")
def short(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(tmp_path_factory.mktemp("short") / "short.wav", piece(SHORT, seed=32))


def spoiled(path: Path, **wrongs: Any) -> tuple[Path, Spoiled]:
    made = play(piece(SHORT, seed=32), radius=assumed, **{"noise_dbfs": -58.0, "start_s": 1.0, "after_s": 1.0} | wrongs)
    return written(path, made.audio, made.sample_rate), made


def test_a_copy_passes(short: Path) -> None:
    told: list[tuple[str, float]] = []
    report = inspect(short, recording=short, progress=lambda step, done: told.append((step, done)))
    assert report.ready
    assert report.played.defects == ()
    assert [one.code for one in report.findings] == ["assumed_spiral"]
    assert report.measures()["start_s"] == 0.0
    assert report.capture.equalised
    steps = list(dict.fromkeys(step for step, _ in told))
    assert (steps[0], steps[-1]) == ("reading the programme", "looking for faults")
    assert all(0.0 <= done <= 1.01 for _, done in told)


def test_stopped_half_way_leaves_nothing(short: Path, tmp_path: Path) -> None:
    class StoppedError(Exception):
        pass

    def stop(step: str, done: float) -> None:
        if step == "writing" and done >= 0.0:
            raise StoppedError

    with pytest.raises(StoppedError):
        inspect(short, recording=short, out=tmp_path / "play", progress=stop)
    assert list(tmp_path.iterdir()) == []


def test_without_replay_curve(short: Path, tmp_path: Path) -> None:
    path, made = spoiled(
        tmp_path / "flat.wav", flat=True, ticks=12, tick_size_db=(10.0, 28.0), crosstalk_db=-25.0, gain_db=-14.0,
    )  # fmt: skip
    report = inspect(path, recording=short)
    plain = report.as_dict()
    assert plain["capture"]["replay_curve"] is False
    score = judge(json.loads(json.dumps(plain)), made.truth)
    assert (score.found, score.false) == (12, 0)
    assert abs(score.response_db) < 0.3  # promised
    assert abs(score.separation_db) < 1.0


def test_faults_that_last(short: Path, tmp_path: Path) -> None:
    path, made = spoiled(
        tmp_path / "faults.wav", crackles=(Crackle(6.0, 1.0, 40.0, (10.0, 20.0)),), jumps=(Jump(14.5, -1),),
        swishes=(Swish(9.0, 2, 60.0, 25.0),),
    )  # fmt: skip
    report = inspect(path, recording=short)
    kinds = {one.kind for one in report.played.defects}
    assert {"crackle", "repeat"} <= kinds
    assert kinds <= {"crackle", "repeat", "swish", "tick", "pop"}
    repeat = next(one for one in report.played.defects if one.kind == "repeat")
    assert repeat.time == pytest.approx(14.5, abs=0.1)
    assert repeat.duration == pytest.approx(TURN_S, abs=0.02)
    crackle = next(one for one in report.played.defects if one.kind == "crackle")
    assert crackle.time == pytest.approx(6.0, abs=0.2)
    assert 0.5 < crackle.duration < 1.2
    assert made.truth.faults


@pytest.mark.parametrize("silence_s", [0.0, 6.0])
def test_a_capture_that_ends_early_is_measured_as_far_as_it_goes(short: Path, tmp_path: Path, silence_s: float) -> None:
    path, made = spoiled(tmp_path / "early.wav", stops_early_s=8.0, ticks=8, tick_size_db=(12.0, 25.0))
    # The needle was lifted, and the recorder ran on.
    rest = 1e-4 * np.random.default_rng(1).standard_normal((round(silence_s * RATE), 2)).astype(np.float32)
    written(path, np.concatenate([made.audio, rest]))
    report = inspect(path, recording=short)
    assert report.verdict == "stop"
    early = next(one for one in report.findings if one.code == "ends_early")
    assert early.value == pytest.approx(SHORT - 8.0, abs=0.1 if not silence_s else 1.8)
    plain = report.as_dict()
    assert plain["covered_s"][0] == 0.0
    assert plain["measures"]["speed_error_percent"] == pytest.approx(0.0, abs=0.01)
    score = judge(json.loads(json.dumps(plain)), made.truth)
    assert score.planted == 8
    assert all(one["time_s"] > early.value - 0.2 for one in score.missed)
    assert score.false == 0


def test_both_channels_alike(short: Path, tmp_path: Path) -> None:
    path, _ = spoiled(tmp_path / "mono.wav", mono=True)
    report = inspect(path, recording=short)
    assert "both_alike" in {one.code for one in report.findings if one.severity == "stop"}


def test_a_clipped_capture(short: Path, tmp_path: Path) -> None:
    path, _ = spoiled(tmp_path / "clipped.wav", gain_db=8.0, clip_dbfs=-0.5)
    report = inspect(path, recording=short)
    (found,) = [one for one in report.findings if one.code == "capture_clipped"]
    assert found.severity == "stop"
    share = float(np.mean(np.abs(soundfile.read(path)[0]) > 0.94))  # by another road
    assert found.value == pytest.approx(100 * share, rel=0.4)


Making = Callable[[np.ndarray], np.ndarray]
REFUSED: dict[str, tuple[Making, str]] = {
    "another side": (lambda x: piece(SHORT, seed=40), r"does not hold this programme: of \d+ passages \d+ were found"),
    "backwards": (lambda x: x[::-1], "holds the programme backwards; turn it round"),
    "half speed": (lambda x: play(x, half_speed=True, noise_dbfs=-60.0).audio, "holds the programme at half speed"),
    "silent": (np.zeros_like, "is silent from end to end; look at leads and input"),
    "noise": (
        lambda x: 1e-3 * np.random.default_rng(1).standard_normal(x.shape), "holds nothing but noise in its 0:20",
    ),
    "mostly still": (
        lambda x: play(x, silence=0.93, noise_dbfs=-60.0).audio,
        r"is still for \d\d % of its 0:20.*the programme is not found in it",
    ),
    "one channel": (lambda x: x[:, :1], "has one channel; a disc's two walls are judged apart"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_capture_of_it_is_refused_with_what_was_seen(short: Path, tmp_path: Path, name: str) -> None:
    make, sentence = REFUSED[name]
    path = written(tmp_path / "capture.wav", make(piece(SHORT, seed=32)))
    with pytest.raises(CallError, match=sentence) as caught:
        inspect(path, recording=short, out=tmp_path / "play")
    assert str(caught.value).startswith(str(path))
    assert str(caught.value).endswith(".")
    assert not (tmp_path / "play").exists()


def test_a_programme_at_45_is_named(short: Path, tmp_path: Path) -> None:
    path, _ = spoiled(tmp_path / "fast.wav", speed_error_percent=35.0)
    with pytest.raises(CallError, match="at 45 instead of 33 1/3 rpm; capture it at the right speed"):
        inspect(path, recording=short)


def test_files_that_are_not_there_or_not_audio(short: Path, tmp_path: Path) -> None:
    with pytest.raises(AudioError, match=r"missing\.wav"):
        inspect(tmp_path / "missing.wav", recording=short)
    with pytest.raises(AudioError, match=r"missing\.wav"):
        inspect(short, recording=tmp_path / "missing.wav")
    text = tmp_path / "text.wav"
    text.write_text("no audio")
    with pytest.raises(AudioError, match=r"text\.wav"):
        inspect(text, recording=short)


def test_calls_that_contradict_themselves(short: Path, tmp_path: Path) -> None:
    with pytest.raises(CallError, match="give --recording FILE or --plan DIR"):
        inspect(short)
    with pytest.raises(CallError, match="--plan has its own format; leave --format out"):
        inspect(short, plan=tmp_path, format="12in-33")
    with pytest.raises((CallError, SettingsError), match="no-such-tip"):
        inspect(short, recording=short, tip="no-such-tip")
    with pytest.raises((CallError, SettingsError), match="no-such-limits"):
        inspect(short, recording=short, limits="no-such-limits")


def test_a_silent_programme_is_refused(tmp_path: Path) -> None:
    path = written(tmp_path / "silent.wav", np.zeros((5 * RATE, 2)))
    with pytest.raises(CallError, match="the programme is silent"):
        inspect(path, recording=path)


# With a plan -------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def planned(short: Path) -> Path:
    plan_file(short, level_db=3.0, out=short.with_name("plan"), only=())
    return short.with_name("plan")


def test_a_plan_gives_groove_and_proof(short: Path, planned: Path, tmp_path: Path) -> None:
    document = json.loads((planned / "plan.json").read_text(encoding="utf-8"))
    path, made = spoiled(tmp_path / "capture.wav", ticks=8, tick_size_db=(12.0, 25.0))
    report = inspect(path, plan=planned)
    plain = report.as_dict()
    assert plain["plan_fingerprint"] == document["fingerprint"]
    assert "assumed_spiral" not in {one["code"] for one in plain["findings"]}
    score = judge(json.loads(json.dumps(plain)), made.truth)
    assert (score.found, score.false) == (8, 0)
    start, end = document["start_radius_mm"], document["end_radius_mm"]
    assert all(end - 0.01 <= one["radius_mm"] <= start + 0.01 for one in plain["defects"])


def test_a_plan_of_another_length_is_refused(recording: Path, short: Path, planned: Path) -> None:
    with pytest.raises(CallError, match=r"lasts \d+ frames at 44100 Hz and the plan was made for \d+ at 44100 Hz"):
        inspect(short, recording=recording, plan=planned)


def test_another_recording_as_long_is_told(short: Path, planned: Path, tmp_path: Path) -> None:
    other = written(tmp_path / "other.wav", 0.5 * piece(SHORT, seed=32))
    report = inspect(short, recording=other, plan=planned, tip="none")
    assert report.reference == "the programme"
    assert "other_recording" in {one.code for one in report.findings}
    assert report.measures()["level_db"] == pytest.approx(6.02, abs=0.05)  # by hand
