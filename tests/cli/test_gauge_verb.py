"""`discwright gauge`: what is printed, what is refused, and the exit codes."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from micrograph import Drawn, draw
from PIL import Image

Run = Callable[..., object]


@pytest.fixture
def cut(tmp_path: Path) -> Path:
    path = tmp_path / "cut.png"
    Image.fromarray(np.rint(draw(Drawn(widths=(52.0,))).picture * 255).astype(np.uint8)).save(path)
    return path


def test_a_photograph_for_people_and_programs(discwright: Run, cut: Path) -> None:
    told = discwright("gauge", cut, "--um-per-pixel", "0,5", "--wanted-um", "56", "--out", "seen.png")
    assert (told.returncode, told.stderr) == (0, "")  # type: ignore[attr-defined]
    # by hand: centres at 37, 167, ... 557 µm in a picture 600 µm wide.
    lines = told.stdout.splitlines()  # type: ignore[attr-defined]
    assert lines[0].startswith("Seen      5 whole grooves at 0.5 µm a pixel, darker than the land, upright, tilt ")
    assert lines[1].startswith("width     52.0 µm, ")
    assert any(line.startswith("warn ") and "Lower the tip by 2.0 µm." in line for line in lines)
    assert lines[-2] == "Picture: seen.png"
    assert (cut.parent / "seen.png").exists()
    as_json = discwright("gauge", cut, "--um-per-pixel", "0.5", "--json")
    plain = json.loads(as_json.stdout)  # type: ignore[attr-defined]
    assert len(plain["grooves"]) == 5
    assert plain["pitch_um"] == pytest.approx(130.0, abs=0.3)


def test_a_light_band(discwright: Run) -> None:
    told = discwright("gauge", "--light-band-mm", "20", "--rpm", "77.92")
    # published: 20 mm at 77.92 rpm is about 8 cm/s peak, 5.7 rms (AES-S001-064); 8.16 and 5.77 by the formula.
    assert "velocity  8.16 cm/s peak, 5.77 cm/s rms" in told.stdout  # type: ignore[attr-defined]
    back = discwright("gauge", "--velocity-cm-s", "10", "--rpm", "33.3333333", "--radius-mm", "60", "--json")
    assert json.loads(back.stdout)["light_band_mm"] == pytest.approx(51.7, abs=0.05)  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ("", "there is nothing to measure; name a photograph, or give --light-band-mm or --velocity-cm-s."),
        (
            "cut.png",
            "the scale is missing; give --um-per-pixel, or --micrometer with a photograph of a stage micrometer.",
        ),
        (
            "cut.png --um-per-pixel 1,234",
            "--um-per-pixel: “1,234” could mean a thousand or a decimal; write 1234 or 1.234.",
        ),
        (
            "cut.png --um-per-pixel 0.5 --micrometer-um 10",
            "--micrometer-um is for a stage micrometer; give its photograph with --micrometer.",
        ),
        (
            "cut.png --um-per-pixel 0.5 --rpm 45",
            "--rpm is for a light band; give --light-band-mm, --light-band or --velocity-cm-s as well.",
        ),
        (
            "cut.png --light-band-mm 20",
            "IMAGE is for a photograph of grooves, and --light-band-mm asks for a light band; leave one out.",
        ),
        ("--light-band-mm 20", "a light band needs the speed of the disc; give --rpm."),
        (
            "--light-band-mm 20 --velocity-cm-s 5",
            "--light-band-mm and --velocity-cm-s ask for the same thing; give one of them.",
        ),
        (
            "--light-band-mm 20,5 --rpm 45",
            "--light-band-mm: “20,5” could mean two bands or one with a decimal; write 20.5, or two bands that are no "
            "further apart than one to two.",
        ),
        ("--light-band-mm 20 --rpm 0", "speed is 0; give a number above zero."),
        (
            "--light-band-mm 20 --rpm 45 --mm-per-pixel 1",
            "--mm-per-pixel is for a photograph; give it with --light-band.",
        ),
    ],
)
def test_refusals(discwright: Run, words: str, sentence: str) -> None:
    refused = discwright("gauge", *words.split())
    assert refused.returncode == 2  # type: ignore[attr-defined]
    assert refused.stderr == f"discwright: {sentence}\n"  # type: ignore[attr-defined]
    assert refused.stdout == ""  # type: ignore[attr-defined]


def test_what_is_no_photograph(discwright: Run, tmp_path: Path) -> None:
    (tmp_path / "cut.png").write_text("no picture", encoding="utf-8")
    refused = discwright("gauge", "cut.png", "--um-per-pixel", "0.5")
    assert refused.returncode == 2  # type: ignore[attr-defined]
    assert refused.stderr == (  # type: ignore[attr-defined]
        "discwright: cut.png: is no picture that can be read; save the photograph as PNG, TIFF or JPEG.\n"
    )
