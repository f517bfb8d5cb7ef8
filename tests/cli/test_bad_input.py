"""Wrong calls and broken files through the real command line: one sentence, exit 2, nothing written."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
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


AGAIN = "send the whole file again."
EXPORT = "export the programme again."
# wording: regression only; the numbers by hand: 88 200 of 176 444 bytes, half of a second; frame 22 050 is RATE/2
AUDIO = {
    "missing": "missing.wav does not exist; check the name and the folder.",
    "empty": f"empty.wav is empty (0 bytes); {AGAIN}",
    "folder": r"folder\.wav is a folder(, not an audio file; name one file inside it| and holds no plan; name one file "
    r"inside it, or a folder made with --out)\.",
    "text": "text.wav is no audio file of a known kind; send WAV, RF64, BW64, AIFF, FLAC or Ogg.",
    "half-wav": f"half-wav.wav is 88244 bytes shorter than its header says, 0:00.5 of 0:01.0; {AGAIN}",
    "half-flac": r"half\.flac cannot be decoded beyond 0:01\.\d of 0:03\.0 \(.+\); " + AGAIN,
    "half-ogg": r"half\.ogg breaks off inside its last page, at byte \d+; " + AGAIN,
    "three-channels": "three-channels.wav has 3 channels; send a stereo or mono mix.",
    "slow": "slow.wav runs at 22050 Hz; send the original at 44100 to 192000 Hz.",
    "nan": "nan.wav has a sample that is no number (nan) in its right channel at 0:00.5, frame 22050; " + EXPORT,
    "infinite": "infinite.wav has a sample that is no number (inf) in its right channel at 0:00.5, frame 22050; "
    + EXPORT,
    "no-samples": f"no-samples.wav has a header but no samples; {EXPORT}",
}
#: Both verbs read through one door; a few kinds show that survey does.
SURVEYED = ("missing", "folder", "half-wav", "half-flac", "nan")


@pytest.mark.parametrize(
    ("verb", "kind"), [*(("plan", kind) for kind in AUDIO), *(("survey", kind) for kind in SURVEYED)]
)
def test_audio(kind: str, verb: str, tmp_path: Path, discwright: Run) -> None:
    path = make(kind, tmp_path)
    before = sorted(p.name for p in tmp_path.iterdir())
    options = ("--json",) if verb == "survey" else ("--level-db", "0", "--json", "--out", tmp_path / "out")
    result = discwright(verb, path.name, *options)
    refused(result)
    sentence = result.stderr.removeprefix("discwright: ").removesuffix("\n")
    # What differs with the library's version is a pattern, everything else the exact sentence.
    wanted = AUDIO[kind] if "\\" in AUDIO[kind] else re.escape(AUDIO[kind])
    assert re.fullmatch(wanted, sentence), sentence
    assert sorted(p.name for p in tmp_path.iterdir()) == before, "nothing is written"


def test_a_programme_beyond_all_measure(tmp_path: Path, discwright: Run) -> None:
    path = tmp_path / "huge.wav"
    soundfile.write(path, noise() * 1e6, RATE, subtype="FLOAT")
    result = discwright("plan", path, "--out", tmp_path / "out")
    refused(result, "times full scale: no music does; export it again.")
    assert list(tmp_path.iterdir()) == [path]


#: Options, and words of the refusal.
OPTIONS: list[tuple[list[str], str]] = [
    (["--format", "13in-33"], "there is no format “13in-33”; use 12in-33"),
    (["--lathe", "big"], "there is no lathe “big”; use standard"),
    (["--head", "big"], "there is no head “big”"),
    (["--cutting-tip", "big"], "there is no cutting tip “big”"),
    (["--tip", "big"], "there is no tip “big”; use spherical-18"),
    (["--practice", "big"], "there is no practice “big”"),
    (["--lathe", "none.toml"], "there is no such lathe file; check the path."),
    (["--level-db", "1,234"], "could mean a thousand or a decimal; write 1234 or 1.234."),
    (["--level-db", "loud"], "“loud” is not a number; write for example 9.2 or 9,2."),
    (["--level-db", ""], "“” is not a number; write for example 9.2 or 9,2."),
    (["--level-db", "nan"], "“nan” is not a number; write for example 9.2 or 9,2."),
    (["--level-db", "-40.1"], "the level must lie between -40 and 24 dB; -40.1 dB does not: choose another."),
    (["--fit", "loud"], "--fit: there is no “loud”; write cut or clean."),
    (["--level-db", "90"], "the level must lie between -40 and 24 dB; 90 dB does not: choose another."),
    (["--level-db", "0", "--fit", "clean"], "give one of the two."),
    (["--level-db", "0", "--band", "all"], "names no end; write for example 0:00-4:31.5."),
    (["--level-db", "0", "--band", "0:00-x"], "is not a time; write for example 4:31.5."),
    (
        ["--level-db", "0", "--band", "0:00-0:10", "--band", "0:08-0:20"],
        "bands must follow one another within the 0:25.0 of the side; the one from 0:08.0 to 0:20.0 does not: "
        "mend its times.",
    ),
    (["--level-db", "0", "--band", "0:00-0:10", "--band", "0:12-9:00"], "the one from 0:12.0 to 9:00.0 does not"),
    (["--level-db", "0", "--band", "0:12-0:20", "--band", "0:00-0:10"], "the one from 0:00.0 to 0:10.0 does not"),
    (["--level-db", "0", "--band", "0:05-0:02"], "the one from 0:05.0 to 0:02.0 does not"),
    (["--level-db", "0", "--band", "0:00-0:61"], "“0:61” is not a time; write for example 4:31.5."),
    (["--level-db", "0", "--band", "1,234-2"], "could mean a thousand or a decimal; write 1234 or 1.234."),
]


@pytest.fixture(scope="module")
def answers(side: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Any, list[Path]]]:
    """What the command says to each of `OPTIONS` and leaves behind; two at a time, there are many."""

    def ask(options: list[str]) -> tuple[Any, list[Path]]:
        folder = tmp_path_factory.mktemp("options")
        command = [sys.executable, "-m", "discwright", "plan", str(side), *options, "--out", "out"]
        result = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=300)
        return result, list(folder.iterdir())

    with ThreadPoolExecutor(2) as pool:
        return dict(zip(map(str, OPTIONS), pool.map(ask, [options for options, _ in OPTIONS]), strict=True))


@pytest.mark.parametrize("case", OPTIONS, ids=lambda case: " ".join(case[0]))
def test_options(case: tuple[list[str], str], answers: dict[str, tuple[Any, list[Path]]]) -> None:
    result, left_behind = answers[str(case)]
    refused(result, case[1])
    assert left_behind == []


LATHE = {
    "pitch_min_um": "50",
    "pitch_max_um": "350",
    "pitch_slew_um_per_turn": "150",
    "depth_slew_um_per_turn": "30",
    "sectors_per_turn": "16",
    "traverse_max_mm_s": "8",
}
#: What a lathe file may leave out.
LEFT_OUT = (
    "control_pitch_full_scale_um", "control_depth_full_scale_um", "control_full_scale_v", "radius_rest_mm",
    "lift_height_mm",
)  # fmt: skip


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"pitch_min_mm": "0.05"}, "mine.toml: [mine] has an unknown key “pitch_min_mm”; write pitch_min_um."),
        ({"pich_max_um": "9"}, "mine.toml: [mine] has an unknown key “pich_max_um”; write pitch_max_um."),
        (
            {"pitch_max_um": None},
            f"mine.toml: [mine] lacks pitch_max_um; add it (all of {', '.join([*LATHE, *LEFT_OUT])}).",
        ),
        ({"pitch_max_um": '"350"'}, "mine.toml: [mine] pitch_max_um: must be a number; got '350'."),
        ({"pitch_max_um": '"0.35 mm"'}, "mine.toml: [mine] pitch_max_um: must be a number; got '0.35 mm'."),
        ({"pitch_max_um": "nan"}, "mine.toml: [mine] pitch_max_um: must be a number; got nan."),
        ({"pitch_max_um": "20"}, "lathe mine: pitch_min_um must lie below pitch_max_um; mend the file."),
    ],
)
def test_own_files(change: dict[str, str | None], sentence: str, side: Path, tmp_path: Path, discwright: Run) -> None:
    """A file of one's own with one thing wrong in it; wording: regression only."""
    file = tmp_path / "mine.toml"
    file.write_text("".join(f"{key} = {value}\n" for key, value in (LATHE | change).items() if value is not None))
    result = discwright("plan", side, "--level-db", 0, "--lathe", file.name, "--out", "out")
    refused(result)
    assert result.stderr == f"discwright: {sentence}\n"
    assert list(tmp_path.iterdir()) == [file]


def test_the_same_file_with_nothing_wrong(side: Path, tmp_path: Path, discwright: Run) -> None:
    """Or the refusals above would prove nothing."""
    file = tmp_path / "mine.toml"
    file.write_text("".join(f"{key} = {value}\n" for key, value in LATHE.items()))
    result = discwright("plan", side, "--level-db", 0, "--lathe", file.name)
    assert (result.returncode, result.stderr) == (0, "")


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"pitch_min_um 50\n", "mine.toml: is not valid TOML ("),
        (b"\xff\xfe\x00", "mine.toml: cannot be read as text (it is not UTF-8); check the file."),
        (b"", "mine.toml: [mine] lacks pitch_min_um; add it"),
    ],
)
def test_files_that_are_no_settings(raw: bytes, words: str, side: Path, tmp_path: Path, discwright: Run) -> None:
    file = tmp_path / "mine.toml"
    file.write_bytes(raw)
    refused(discwright("plan", side, "--level-db", 0, "--lathe", file.name, "--out", "out"), words)
    assert list(tmp_path.iterdir()) == [file]


def test_places_that_cannot_hold_a_plan(side: Path, tmp_path: Path, discwright: Run) -> None:
    file = tmp_path / "file"
    file.write_text("mine")
    refused(discwright("plan", side, "--level-db", 0, "--out", file), "is a file, and a plan needs a folder")
    # The place is looked at before the programme, which may take minutes to read.
    refused(discwright("plan", "none.wav", "--out", file), "is a file, and a plan needs a folder")
    refused(discwright("plan", side, "--level-db", 0, "--out", file / "below"), "choose another folder.")
    foreign = tmp_path / "foreign"
    foreign.mkdir()
    (foreign / "letter.txt").write_text("mine")
    refused(discwright("plan", side, "--level-db", 0, "--out", foreign), "holds files but no plan")
    assert (file.read_text(), (foreign / "letter.txt").read_text()) == ("mine", "mine")
    assert [p.name for p in foreign.iterdir()] == ["letter.txt"]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["file", "foreign"]


@pytest.mark.parametrize(
    ("arguments", "words", "command"),
    [
        (["survey"], "missing argument", "discwright survey"),
        (["plan", "a.wav", "--colour", "red"], "no such option", "discwright plan"),
        (["plan", "a.wav", "b.wav"], "unexpected extra argument", "discwright plan"),
        (["plan", "a.wav", "--level-db"], "requires an argument", "discwright"),
        (["carve"], "no such command", "discwright"),
        (["doctor", "--out", "x"], "no such option", "discwright doctor"),
    ],
)
def test_usage_is_explained(arguments: list[str], words: str, command: str, tmp_path: Path, discwright: Run) -> None:
    refused(discwright(*arguments), words, f"; see `{command} --help`.")
    assert list(tmp_path.iterdir()) == []
