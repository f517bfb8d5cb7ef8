"""The act of measuring a chain: files in, reports and pictures out."""

from __future__ import annotations

import hashlib
import tomllib
from importlib import resources
from pathlib import Path

import numpy as np
import pytest
import soundfile

from discwright.acts.air import air as reckon
from discwright.acts.chain import chain, make_signals
from discwright.errors import AudioError, CallError, SettingsError
from discwright.programme.air import Air

RATE = 48_000


def written(path: Path, gain: float = 1.0, right: float = 1.0, channels: int = 2) -> Path:
    """Three stepped tones, and a pause with noise."""
    time = np.arange(RATE) / RATE
    steps = [0.2 * np.sin(2 * np.pi * f * time) for f in (100.0, 1000.0, 10_000.0)]
    sound = gain * np.concatenate([*steps, np.zeros(2 * RATE)])
    sound += 1e-5 * np.random.default_rng(1).standard_normal(len(sound))
    soundfile.write(path, np.stack([sound, right * sound], axis=1)[:, :channels], RATE, subtype="PCM_24")
    return path


def test_one_capture_is_reported_as_it_is(tmp_path: Path) -> None:
    path = written(tmp_path / "capture.wav")
    steps: list[tuple[str, float]] = []
    plain = chain([path], progress=lambda step, done: steps.append((step, done))).as_dict()
    assert plain["path"] == str(path)
    assert plain["sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()
    assert [row["frequency_hz"] for row in plain["response"]] == [100.0, 1000.0, 10_000.0]
    assert plain["findings"] == []
    assert list(dict.fromkeys(step for step, _ in steps)) == ["looking for signals", "measuring"]
    assert ("looking for signals", 1.0) in steps


def test_several_captures_are_compared_with_the_first(tmp_path: Path) -> None:
    paths = [written(tmp_path / "a.wav"), written(tmp_path / "b.wav", 0.5, 0.9), written(tmp_path / "c.wav")]
    plain = chain(paths).as_dict()
    assert [one["path"] for one in plain["files"]] == [str(path) for path in paths]
    change = plain["changes"][0]
    assert (change["path"], change["against"]) == (str(paths[1]), str(paths[0]))
    assert change["balance_db"] == pytest.approx(0.9151, abs=1e-3)  # by hand: −20·log10(0.9)
    assert change["noise_db"] == pytest.approx(0.0, abs=0.5)
    assert change["response"][0] == {"frequency_hz": 100.0, "left_db": 0.0, "right_db": 0.0}
    assert change["separation_db"] is None


def test_a_house_file_changes_what_is_found(tmp_path: Path) -> None:
    path, house = written(tmp_path / "capture.wav", right=0.9), tmp_path / "house.toml"
    assert [one.code for one in chain([path]).captures[0].report.findings] == ["chain_balance"]
    house.write_text("[balance]\nlimit_db = 1\n", encoding="utf-8")
    assert chain([path], settings=house).captures[0].report.findings == ()
    with pytest.raises(SettingsError):
        chain([path], settings=tmp_path / "none.toml")


def test_mono_is_one_channel(tmp_path: Path) -> None:
    (capture,) = chain([written(tmp_path / "mono.wav", channels=1)]).captures
    assert [one.code for one in capture.report.findings] == ["chain_mono"]
    assert all(row.right_db is None for row in capture.report.response)


def test_a_picture_is_drawn(tmp_path: Path) -> None:
    chain([written(tmp_path / "capture.wav")], picture=tmp_path / "chain.png")
    assert (tmp_path / "chain.png").read_bytes()[:4] == b"\x89PNG"
    with pytest.raises(CallError, match="the picture is a PNG"):
        chain([tmp_path / "capture.wav"], picture=tmp_path / "chain.jpg")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"no sound, a letter\n", "is no audio file of a known kind"),
        (b"", "is empty (0 bytes)"),
    ],
)
def test_what_is_no_audio_is_refused(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "letter.txt"
    path.write_bytes(content)
    with pytest.raises(AudioError) as refusal:
        chain([path])
    assert words in str(refusal.value)


def test_a_low_rate_and_a_file_without_signal_are_refused(tmp_path: Path) -> None:
    low, none = tmp_path / "low.wav", tmp_path / "none.wav"
    soundfile.write(low, np.zeros(8000), 8000)
    soundfile.write(none, np.zeros((RATE, 2)), RATE)
    with pytest.raises(AudioError, match="runs at 8000 Hz"):
        chain([low])
    with pytest.raises(AudioError) as refusal:
        chain([none])
    assert str(refusal.value).startswith(
        f"{none} holds no test signal: 1.00 s of digital silence, every sample is zero;"
    )
    with pytest.raises(CallError, match="there is no capture to measure"):
        chain([])


def test_what_is_made_is_measured_without_a_fault(tmp_path: Path) -> None:
    """From making to measuring, over a file of 16 bits: the floor is that of its dither."""
    path = tmp_path / "signals.wav"
    length = make_signals(path, sample_rate_hz=44_100, bits=16)
    info = soundfile.info(path)
    assert (info.frames, info.samplerate, info.subtype) == (round(length * 44_100), 44_100, "PCM_16")
    (capture,) = chain([path]).captures
    report = capture.report
    assert (report.what, report.found, report.asked, report.findings) == ("signals", 125, 125, ())
    # by hand: half a step of 16 bits over 22.05 kHz, 20 Hz to 20 kHz of it
    assert report.noise_dbfs == pytest.approx(20 * np.log10(0.5 / 32_768 * np.sqrt(2 * 19_980 / 22_050)), abs=0.05)


def test_signals_are_not_written_over_nor_at_any_rate(tmp_path: Path) -> None:
    path = tmp_path / "signals.wav"
    path.write_bytes(b"mine")
    with pytest.raises(CallError, match="is not written over"):
        make_signals(path)
    with pytest.raises(CallError, match="signals are not made at 12000 Hz"):
        make_signals(tmp_path / "other.wav", sample_rate_hz=12_000)
    assert [one.name for one in tmp_path.iterdir()] == ["signals.wav"]


def keys_in(value: object) -> set[str]:
    if isinstance(value, dict):
        return set(value).union(*(keys_in(inner) for inner in value.values()))
    return set().union(*(keys_in(inner) for inner in value)) if isinstance(value, list) else set()


def test_every_key_and_limit_is_explained(tmp_path: Path) -> None:
    docs = Path(__file__).parents[2] / "docs"
    told = (docs / "commands.md").read_text(encoding="utf-8").partition("## discwright chain")[2]
    told = told.partition("\n## discwright layout")[0]
    time = np.arange(3 * RATE) / RATE
    pair = tmp_path / "pair.wav"
    two = 0.4 * np.sin(2 * np.pi * 60 * time) + 0.1 * np.sin(2 * np.pi * 7000 * time)
    soundfile.write(pair, np.stack([two, -two], axis=1), RATE, subtype="PCM_24")
    keys = keys_in(chain([written(tmp_path / "a.wav"), pair]).as_dict())
    air = (docs / "commands.md").read_text(encoding="utf-8").partition("## discwright air")[2]
    finding = {"code", "severity", "time_s", "band", "turn", "radius_mm", "value", "limit", "unit", "remedy"}
    assert {"harmonics_percent", "total_percent", "changes", "full_scale_runs"} <= keys
    assert [key for key in sorted(keys - finding) if f"`{key}`" not in told] == []
    plain = reckon(Air(20.0, 50.0, 10.0), Air(21.0, 50.0, 10.0)).as_dict()
    assert [key for key in sorted(keys_in(plain)) if f"`{key}`" not in air] == []
    limits = tomllib.loads((resources.files("discwright") / "data" / "chain.toml").read_text(encoding="utf-8"))
    page = (docs / "chain.md").read_text(encoding="utf-8")
    assert [key for table in limits.values() for key in table if f"`{key}`" not in page] == []
    assert [name for name in limits if f"`[{name}]`" not in page] == []
