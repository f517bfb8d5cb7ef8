"""The demo as an act: a short stand-in for its programme goes the whole way; the real one where there is time."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
import soundfile

from discwright.acts import demo as demo_module
from discwright.acts.demo import DemoResult, band_id, title_text, write_demo
from discwright.errors import CallError
from discwright.files.title import load_title
from discwright.programme.demo import DemoSide, demo_sides

PROOF = {"proof.png"} | {
    f"proof-{tip}{word}.flac" for tip in ("spherical-18", "elliptical-8") for word in ("", "-difference")
}
LATHE = {"lathe.ngc", "air-run.ngc", "control.wav", "control.toml"}


def short_sides() -> tuple[DemoSide, ...]:
    """The same bands, all in the first twenty-six seconds of each reel."""
    sides = []
    for side in demo_sides():
        bands = tuple(replace(band, start_s=9.0 * k, duration_s=7.0 + k) for k, band in enumerate(side.bands))
        sides.append(replace(side, bands=bands, duration_s=bands[-1].end_s))
    return tuple(sides)


@pytest.fixture(scope="module")
def steps() -> set[str]:
    return set()


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory, steps: set[str]) -> DemoResult:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(demo_module, "demo_sides", short_sides)
        return write_demo(tmp_path_factory.mktemp("demo") / "a" / "b", lambda step, _done: steps.add(step))


def test_a_title_with_everything_beside_it(made: DemoResult) -> None:
    folder = made.title_file.parent
    sides = {report.folder.name for report in made.sides if report.folder is not None}
    own = {"title.toml", "reel-1.wav", "reel-2.wav", "works.sqlite", "dispatch", "hall.toml"}
    assert {path.name for path in folder.iterdir()} == own | PROOF | sides
    assert {"ep-A", "ep-B", "lp-A", "lp-B"} <= sides
    for report in made.sides:
        assert report.folder is not None
        kept = {path.name for path in report.folder.iterdir()}
        assert {"plan.json", "spiral.csv", "disc.png", "sheet.pdf", "spiral.svg"} <= kept
        assert (kept >= LATHE) == report.plan.ready
        assert json.loads((report.folder / "plan.json").read_text(encoding="utf-8")) == report.document


def test_the_reels_are_as_long_as_the_score(made: DemoResult) -> None:
    for number, side in enumerate(short_sides(), 1):
        info = soundfile.info(made.title_file.parent / f"reel-{number}.wav")
        # by hand: 9 + 9 + 9 s
        assert (info.frames, info.samplerate, info.subtype) == (27 * 44_100, 44_100, "PCM_24")
        assert side.duration_s == 27.0


def test_every_band_stands_on_the_long_player_once(made: DemoResult) -> None:
    lp = [report for report in made.sides if report.label.edition == "lp"]
    bands = [one for report in lp for one in report.label.band_ids]
    assert bands == [band_id(band.title) for side in demo_sides() for band in side.bands]
    # The layout that is shown is the one that is planned.
    laid = next(one for one in made.layout.editions if one.edition.id == "lp").candidates[0]
    assert tuple(report.label.band_ids for report in lp) == laid.split


def test_both_treatments_are_shown(made: DemoResult) -> None:
    kinds = {
        report.label.letter: [one["kind"] for one in report.document["treatments"]]
        for report in made.sides if report.label.edition == "ep"
    }  # fmt: skip
    assert kinds == {"A": ["bass_blend"], "B": ["treble_limit"]}


def test_progress_names_every_kind_of_step(made: DemoResult, steps: set[str]) -> None:
    del made
    assert {"playing reel 1", "playing reel 2"} <= steps
    for words in ("laying out lp, 0 sides fitted", "lp side A: ", "ep side A: writing what was taken out"):
        assert any(step.startswith(words) for step in steps), words


def test_the_title_file_holds_the_score(made: DemoResult) -> None:
    title = load_title(made.title_file)
    for band, wanted in zip(title.bands, (band for side in short_sides() for band in side.bands), strict=True):
        assert (band.name, band.start, band.end) == (wanted.title, wanted.start_s, wanted.end_s)
    # by hand: 9 s from begin to begin, less the band; and two seconds where no band follows
    assert [band.gap for band in title.bands] == [2.0, 1.0, 2.0] * 2
    text = made.title_file.read_text(encoding="utf-8")
    assert text == title_text(short_sides())
    assert "layout --new" in text.splitlines()[0]


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    with pytest.raises(CallError, match=r"file: cannot be made \(.+\); choose another folder\.$"):
        write_demo(tmp_path / "file")
    assert (tmp_path / "file").read_text() == "mine"


@pytest.mark.slow
def test_the_demo_itself(tmp_path: Path) -> None:
    """Every side is ready to cut, and the real title file reads back."""
    made = write_demo(tmp_path / "demo")
    assert made.layout.complete
    assert [(r.label.edition, r.label.letter) for r in made.sides] == [
        ("lp", "A"),
        ("lp", "B"),
        ("ep", "A"),
        ("ep", "B"),
    ]
    assert all(report.plan.ready for report in made.sides)
    assert load_title(made.title_file).catalogue == "BRK 0107"


def test_the_proof_is_of_the_innermost_passage_with_two_tips(made: DemoResult) -> None:
    inner = min(made.sides, key=lambda report: report.plan.end_radius)
    assert made.proof.side.fingerprint == inner.document["fingerprint"]
    assert made.proof.end == inner.plan.programme.duration
    blunt, fine = made.proof.tips
    assert blunt.median_distortion > fine.median_distortion > 0
