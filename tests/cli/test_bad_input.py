"""Wrong calls and broken files through the real command line: one sentence, exit 2, nothing written."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

Run = Callable[..., Any]
RATE = 44_100


def refused(result: Any, *words: str) -> None:
    """One line on standard error that says all of `words`; nothing on standard output."""
    lines = result.stderr.strip().splitlines()
    assert result.returncode == 2, result.stderr
    assert result.stdout == ""
    assert len(lines) == 1, result.stderr
    assert lines[0].startswith("discwright: ")
    assert lines[0].endswith(".")
    assert "Traceback" not in result.stderr
    for word in words:
        assert word in lines[0]


def noise(n: int = RATE, channels: int = 2) -> np.ndarray:
    return np.random.default_rng(3).standard_normal((n, channels)) * 0.1


def make(kind: str, folder: Path) -> Path:
    path = folder / f"{kind}.wav"
    match kind:
        case "missing":
            pass
        case "empty":
            path.write_bytes(b"")
        case "folder":
            path.mkdir()
        case "text":
            path.write_text("This is a shopping list, not a recording.\n" * 50)
        case "half-wav":
            soundfile.write(path, noise(), RATE)
            path.write_bytes(path.read_bytes()[: RATE * 2])
        case "half-flac":
            path = folder / "half.flac"
            soundfile.write(path, noise(3 * RATE), RATE)
            path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
        case "half-ogg":
            path = folder / "half.ogg"
            soundfile.write(path, noise(3 * RATE), RATE)
            path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
        case "three-channels":
            soundfile.write(path, noise(channels=3), RATE)
        case "slow":
            soundfile.write(path, noise(), 22_050)
        case "nan" | "infinite":
            x = noise()
            x[RATE // 2, 1] = np.nan if kind == "nan" else np.inf
            soundfile.write(path, x, RATE, subtype="FLOAT")
        case "no-samples":
            soundfile.write(path, np.zeros((0, 2)), RATE)
    return path


AUDIO = {
    "missing": "does not exist",
    "empty": "empty",
    "folder": "folder",
    "text": "",
    "half-wav": "",
    "half-flac": "",
    "half-ogg": "",
    "three-channels": "3 channels",
    "slow": "22050 Hz",
    "nan": "",
    "infinite": "",
    "no-samples": "",
}


@pytest.mark.parametrize("kind", AUDIO)
@pytest.mark.parametrize("verb", ["plan", "survey"])
def test_audio(kind: str, verb: str, tmp_path: Path, discwright: Run) -> None:
    path = make(kind, tmp_path)
    before = sorted(p.name for p in tmp_path.iterdir())
    arguments = [verb, path, *(["--level-db", "0", "--out", tmp_path / "out"] if verb == "plan" else [])]
    refused(discwright(*arguments), path.name, AUDIO[kind])
    assert sorted(p.name for p in tmp_path.iterdir()) == before, "nothing is written"


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--format", "13in-33"], "there is no format “13in-33”; use 12in-33"),
        (["--lathe", "big"], "there is no lathe “big”; use standard"),
        (["--head", "big"], "there is no head “big”"),
        (["--cutting-tip", "big"], "there is no cutting tip “big”"),
        (["--tip", "big"], "there is no tip “big”; use spherical-18"),
        (["--practice", "big"], "there is no practice “big”"),
        (["--lathe", "none.toml"], "there is no such lathe file; check the path."),
        (["--level-db", "1,234"], "could mean a thousand or a decimal; write 1234 or 1.234."),
        (["--level-db", "loud"], "“loud” is not a number; write for example 9.2 or 9,2."),
        (["--level-db", "90"], "the level must lie between -40 and 24 dB; 90 dB does not: choose another."),
        (["--level-db", "0", "--fit", "clean"], "give one of the two."),
        (["--level-db", "0", "--band", "all"], "names no end; write for example 0:00-4:31.5."),
        (["--level-db", "0", "--band", "0:00-x"], "is not a time; write for example 4:31.5."),
        (["--level-db", "0", "--band", "0:00-0:10", "--band", "0:08-0:20"], "0:08.0"),
        (["--level-db", "0", "--band", "0:00-0:10", "--band", "0:12-9:00"], "9:00.0"),
        (["--level-db", "0", "--band", "0:05-0:02"], "0:05.0"),
    ],
)
def test_options(options: list[str], words: str, side: Path, tmp_path: Path, discwright: Run) -> None:
    refused(discwright("plan", side, *options, "--out", tmp_path / "out"), words)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("pitch_min_mm = 0.05\n", "unknown key “pitch_min_mm”; write pitch_min_um."),
        ("pitch_min_um = 50\n", "lacks pitch_max_um; add it"),
        ("pitch_min_um 50\n", "is not valid TOML"),
    ],
)
def test_own_files(text: str, words: str, side: Path, tmp_path: Path, discwright: Run) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(text)
    refused(discwright("plan", side, "--lathe", file, "--out", tmp_path / "out"), "mine.toml", words)
    assert list(tmp_path.iterdir()) == [file]


def test_places_that_cannot_hold_a_plan(side: Path, tmp_path: Path, discwright: Run) -> None:
    file = tmp_path / "file"
    file.write_text("mine")
    refused(discwright("plan", side, "--level-db", 0, "--out", file), "is a file, and a plan needs a folder")
    refused(discwright("plan", side, "--level-db", 0, "--out", file / "below"), "choose another folder.")
    foreign = tmp_path / "foreign"
    foreign.mkdir()
    (foreign / "letter.txt").write_text("mine")
    refused(discwright("plan", side, "--level-db", 0, "--out", foreign), "holds files but no plan")
    assert (foreign / "letter.txt").read_text() == "mine"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["file", "foreign"]


def test_usage_is_explained(discwright: Run) -> None:
    for arguments in (["plan"], ["plan", "a.wav", "--colour", "red"], ["press"]):
        result = discwright(*arguments)
        assert result.returncode == 2
        assert "Traceback" not in result.stderr
        assert len(result.stderr.strip().splitlines()) == 1
        assert re.search(r"[Mm]issing argument|[Nn]o such option|[Nn]o such command", result.stderr)
