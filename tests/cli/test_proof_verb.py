"""`discwright proof` as a person types it."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from subprocess import CompletedProcess

import pytest
import soundfile

from discwright.acts.plan import plan_file

Run = Callable[..., CompletedProcess[str]]
BENCH = ("--tone-hz", 1000, "--velocity-cm-s", 5, "--radius-mm", 60, "--tip-radius-um", 18, "--modulation")


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory, side: Path) -> Path:
    folder = tmp_path_factory.mktemp("proof-verb")
    shutil.copy(side, folder / "side.wav")
    plan_file(folder / "side.wav", level_db=8.0, out=folder / "plan", only=())
    return folder / "plan"


def test_a_proof_for_a_person(discwright: Run, kept: Path, tmp_path: Path) -> None:
    result = discwright(
        "proof", kept, "--tip", "spherical-18", "--tip", "line-contact-5", "--from", "0:05", "--to", "12,5",
        "--at-radius-mm", "61,5", "--out", "proof.flac", "--difference",
    )  # fmt: skip
    assert result.returncode == 0, result.stderr
    lines = result.stdout.splitlines()
    assert lines[0] == "Proof     plan, 12in-33, +8.0 dB, 0:05.0 to 0:12.5, played as if at 61.5 mm"
    assert lines[1] == "player    standard: tracking, vertical, scanning"
    assert lines[2].startswith("tip       spherical-18: distortion ")
    assert lines[3].startswith("tip       line-contact-5: distortion ")
    assert lines[4].startswith("differ    line-contact-5 makes 0.")
    assert any(line.startswith("worst     with spherical-18") for line in lines)
    assert lines[-1] == "Picture: proof.png"
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "proof-line-contact-5-difference.flac", "proof-line-contact-5.flac", "proof-spherical-18-difference.flac",
        "proof-spherical-18.flac", "proof.png",
    ]  # fmt: skip
    assert soundfile.info(tmp_path / "proof-spherical-18.flac").duration == 7.5


def test_a_proof_for_a_program(discwright: Run, kept: Path) -> None:
    result = discwright("proof", kept, "--tip", "none", "--player", "off", "--json")
    assert result.returncode == 0, result.stderr
    plain = json.loads(result.stdout)
    assert [one["tip"] for one in plain["tips"]] == ["none"]
    assert plain["player"] == "off"


@pytest.mark.parametrize("modulation", ["left", "right", "lateral", "vertical"])
def test_the_bench_for_a_program(discwright: Run, modulation: str) -> None:
    result = discwright("proof", *BENCH, modulation, "--format", "12in-33", "--json")
    plain = json.loads(result.stdout)
    assert list(plain) == ["q", "slope", "fundamental_gain", "harmonics", "other_plane"]
    if modulation in ("left", "right"):
        # Worked in the reference, 5.6.
        assert plain["harmonics"][1]["velocity_percent"] == pytest.approx(6.3352, abs=1e-4)
        assert plain["q"] == pytest.approx(0.12891, abs=1e-5)
        assert plain["slope"] == pytest.approx(0.239, abs=5e-4)
    else:
        # By hand: V is in the plane, so each wall has 1/sqrt(2) of it.
        assert plain["q"] == pytest.approx(0.12891 / 2**0.5, abs=1e-5)


def test_the_bench_for_a_person(discwright: Run) -> None:
    result = discwright(
        "proof", *BENCH, "lateral", "--tracking-error-deg", "2", "--vertical-error-deg", "-3", "--cut-angle-deg", "20"
    )
    assert result.returncode == 0, result.stderr
    assert result.stdout.startswith(
        "Tone      1000 Hz, 5 cm/s lateral, groove speed 20.94 cm/s, q 0.0912, slope 0.169\n"
    )
    assert len(result.stdout.splitlines()) == 8


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "there is nothing to prove"),
        (("nowhere",), "there is no plan"),
        (("{kept}", "--from", "late"), "is not a time"),
        (("{kept}", "--at-radius-mm", "1,234"), "could mean a thousand or a decimal"),
        (("{kept}", "--at-radius-mm", "160"), "choose another --at-radius-mm"),
        (("{kept}", "--velocity-cm-s", "5"), "--velocity-cm-s is for the tone bench; give --tone-hz as well"),
        (("{kept}", "--tip", "boulder"), "boulder"),
        (("{kept}", "--to", "26"), "mend --from or --to"),
        (("{kept}", *BENCH, "left"), "DIR_OR_TITLE plays a side, and --tone-hz asks for a tone"),
        ((*BENCH, "left", "--tip", "none"), "--tip plays a side"),
        ((*BENCH, "sideways"), "there is no modulation “sideways”; choose from left, right, lateral, vertical"),
        ((*BENCH[:-3], "--modulation", "left"), "the tone bench needs --tip-radius-um"),
        (("--tone-hz", "0", *BENCH[2:], "left"), "the tone's frequency must be greater than zero"),
        (("--tone-hz", "1000", "--velocity-cm-s", "-5", *BENCH[4:], "left"), "the velocity must be greater than zero"),
        (("--tone-hz", "1000", *BENCH[2:4], "--radius-mm", "160", *BENCH[6:], "left"), "choose another --radius-mm"),
        ((*BENCH[:6], "--tip-radius-um", "-1", "--modulation", "left"), "no playing tip has a radius of -1 µm"),
        ((*BENCH, "left", "--tracking-error-deg", "80"), "more than 60 degrees"),
        ((*BENCH, "left", "--format", "9in"), "9in"),
    ],
)
def test_wrong_calls(discwright: Run, kept: Path, arguments: tuple[object, ...], words: str) -> None:
    result = discwright("proof", *(str(one).replace("{kept}", str(kept)) for one in arguments))
    assert result.returncode == 2, result.stdout
    assert words in result.stderr
    assert result.stderr.count("\n") == 1
    assert result.stderr.endswith(".\n")
    assert "Traceback" not in result.stderr


def test_help_names_every_effect(discwright: Run) -> None:
    from discwright.groove.passage import EFFECTS

    words = discwright("proof", "--help").stdout
    assert ",".join(EFFECTS) in "".join(words.split())
