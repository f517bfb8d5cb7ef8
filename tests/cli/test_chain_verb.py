"""`chain` through Typer: the interface, the few lines for a person, one sentence for each wrong call."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
import typer
from typer.testing import CliRunner

from discwright.cli.chain_verb import chain
from discwright.errors import DiscwrightError

RATE = 48_000
Call = Callable[..., tuple[int, str]]


@pytest.fixture
def call() -> Call:
    """The verb in an app of its own: exit code and what it prints, or the refusal it raises."""
    app = typer.Typer(pretty_exceptions_enable=False)
    app.command()(chain)

    def go(*words: object) -> tuple[int, str]:
        result = CliRunner().invoke(app, [str(word) for word in words])
        if isinstance(result.exception, DiscwrightError):
            raise result.exception
        return result.exit_code, result.output

    return go


def written(path: Path, right: float = 1.0) -> Path:
    time = np.arange(RATE) / RATE
    sound = np.concatenate([0.2 * np.sin(2 * np.pi * f * time) for f in (125.0, 1000.0, 8000.0)])
    soundfile.write(path, np.stack([sound, right * sound], axis=1), RATE, subtype="PCM_24")
    return path


def test_a_person_gets_a_few_lines(call: Call, tmp_path: Path) -> None:
    code, text = call(written(tmp_path / "capture.wav"), "--picture", tmp_path / "chain.png")
    lines = text.splitlines()
    assert code == 0
    assert lines[0] == "Chain     capture.wav: 0:03.0, 48000 Hz, stereo; 3 steady tones"
    assert "response      125     1k     8k  Hz" in lines
    tones = [line.split() for line in lines if line.startswith("tone")]
    assert [round(float(words[1])) for words in tones] == [125, 1000, 8000]
    assert {tuple(words[2:6]) for words in tones} == {("Hz", "-13.98", "dBFS", "distortion")}
    assert lines[-2:] == [f"picture   {tmp_path / 'chain.png'}", "No findings: within the limits."]


def test_a_program_gets_everything(call: Call, tmp_path: Path) -> None:
    code, text = call(written(tmp_path / "capture.wav", 0.5), "--json")
    plain = json.loads(text)
    assert code == 0
    assert {"tones", "response", "separation_db", "noise_dbfs", "findings"} <= plain.keys()
    assert [one["code"] for one in plain["findings"]] == ["chain_balance"]


def test_a_stop_is_exit_code_1(call: Call, tmp_path: Path) -> None:
    code, text = call(written(tmp_path / "capture.wav", -1.0))
    assert code == 1
    assert "one channel is reversed" in text
    assert text.rstrip().endswith("1 stop: look at the findings before anything goes through it.")


def test_several_captures_are_shown_with_what_changed(call: Call, tmp_path: Path) -> None:
    _, text = call(written(tmp_path / "a.wav"), written(tmp_path / "b.wav", 0.5))
    assert "change    b.wav less a.wav: response 0.00 dB at most, at 125 Hz, balance +6.02 dB" in text
    _, text = call(tmp_path / "a.wav", tmp_path / "b.wav", "--json")
    assert json.loads(text).keys() == {"files", "changes"}


def test_the_signals_are_written(call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    short = [np.zeros((4800, 2), dtype=np.int32)]
    monkeypatch.setattr("discwright.programme.chain_signals.signal_blocks", lambda rate, bits: iter(short))
    code, text = call("--make", tmp_path / "signals.wav", "--rate", "48000", "--bits", "16")
    assert code == 0
    assert soundfile.info(tmp_path / "signals.wav").subtype == "PCM_16"
    assert "4:59.6 of signals at 48000 Hz, 16 bits." in text
    _, text = call("--make", tmp_path / "more.wav", "--json")
    assert json.loads(text) == {
        "path": str(tmp_path / "more.wav"), "duration_s": 299.6, "sample_rate_hz": 96_000, "bits": 24,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ((), "there is no capture to measure; name one, or write the signals with --make FILE."),
        (("--make", "a.wav", "b.wav"), "FILE is for measuring and --make writes the signals; give one of the two."),
        (
            ("--make", "a.wav", "--picture", "b.png"),
            "--picture is for measuring and --make writes the signals; give one of the two.",
        ),
        (("a.wav", "--rate", "48000"), "--rate says how the signals are written; give --make FILE.wav as well."),
        (("--make", "a.wav", "--bits", "2x"), "--bits: “2x” is no whole number; write for example 96000 or 24."),
        (("--make", "a.wav", "--bits", "8"), "signals are not made with 8 bits; choose 16 or 24."),
        (("--make", "a.flac"), "a.flac: the signals are a WAV file; choose a name that ends with .wav."),
        (("nothere.wav",), "nothere.wav does not exist; check the name and the folder."),
    ],
)
def test_a_wrong_call_is_one_sentence(call: Call, words: tuple[str, ...], sentence: str) -> None:
    with pytest.raises(DiscwrightError) as refusal:
        call(*words)
    assert str(refusal.value) == sentence
