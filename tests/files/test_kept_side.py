"""A kept side opened again: the same spiral, the same audio, and a sentence for everything that is not the same."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile

from discwright.acts.plan import plan_file
from discwright.acts.title import Choice, plan_title
from discwright.errors import AudioError, CallError, DiscwrightError
from discwright.files.kept_side import open_kept

RATE = 44_100


@pytest.fixture(scope="module")
def music(tmp_path_factory: pytest.TempPathFactory, side: Path) -> Path:
    folder = tmp_path_factory.mktemp("kept")
    shutil.copy(side, folder / "side.wav")
    plan_file(folder / "side.wav", level_db=-3.0, bands=((0.0, 11.0), (12.0, 25.0)), out=folder / "plan", only=())
    return folder


@pytest.fixture
def kept(music: Path, tmp_path: Path) -> Path:
    """A copy that may be spoiled; its audio is found beside it."""
    shutil.copytree(music / "plan", tmp_path / "plan")
    shutil.copy(music / "side.wav", tmp_path / "side.wav")
    document = json.loads((tmp_path / "plan" / "plan.json").read_text(encoding="utf-8"))
    document["programme"]["path"] = "side.wav"
    write(tmp_path / "plan", document)
    return tmp_path / "plan"


def write(folder: Path, document: dict[str, object]) -> None:
    (folder / "plan.json").write_text(json.dumps(document), encoding="utf-8")


def read(folder: Path) -> dict[str, dict[str, object]]:
    document: dict[str, dict[str, object]] = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    return document


def test_everything_comes_back(music: Path) -> None:
    report = plan_file(music / "side.wav", level_db=-3.0, bands=((0.0, 11.0), (12.0, 25.0)))
    side = open_kept(music / "plan")
    assert (side.setup, side.level_db, side.bands) == (report.plan.setup, -3.0, ((0.0, 11.0), (12.0, 25.0)))
    # Rounded as written: a nanometre of radius, a tenth of that of depth, a nanosecond.
    assert side.rows.radius == pytest.approx(report.plan.rows.radius, abs=1e-9)
    assert side.rows.depth == pytest.approx(report.plan.rows.depth, abs=1e-10)
    assert side.rows.time == pytest.approx(report.plan.rows.time, abs=1e-9)
    whole, _ = soundfile.read(music / "side.wav", dtype="float32")
    assert np.array_equal(np.concatenate(list(side.audio.blocks())), whole)
    assert open_kept(music / "plan" / "plan.json").document == side.document


def test_audio_is_found_beside_a_folder_that_was_moved(kept: Path) -> None:
    assert open_kept(kept).audio.ranges[0].band.path == str(kept.parent / "side.wav")


def test_bands_of_a_title_come_back_sample_by_sample(tmp_path: Path, side: Path) -> None:
    shutil.copy(side, tmp_path / "reel.wav")
    (tmp_path / "title.toml").write_text(
        '[title]\nname = "Fen"\n[[band]]\nid = "a"\nname = "A"\nfile = "reel.wav"\nstart = 14.0\nend = 20.0\n'
        "gap_s = 1.5\n"
        '[[band]]\nid = "b"\nname = "B"\nfile = "reel.wav"\nstart = 2.0\nend = 8.0\ntrim_db = -2.0\n'
        '[[edition]]\nid = "ep"\nformat = "7in-45"\nlevel = -6.0\n[[edition.side]]\nletter = "A"\nbands = ["a", "b"]\n'
        '[[edition.side.treatment]]\nkind = "bass_blend"\nbelow_hz = 150.0\n',
        encoding="utf-8",
    )
    (report,) = plan_title(tmp_path / "title.toml", Choice(), out=tmp_path / "out", only=())
    opened = open_kept(tmp_path / "out" / "ep-A")
    assert [(one.kind, one.below, one.above) for one in opened.treatments] == [("bass_blend", 150.0, None)]
    assert opened.audio.sha256 == report.audio.sha256
    assert np.array_equal(np.concatenate(list(opened.audio.blocks())), np.concatenate(list(report.audio.blocks())))


def refused(kept: Path, kind: type[DiscwrightError]) -> str:
    with pytest.raises(kind) as trouble:
        open_kept(kept)
    words = str(trouble.value)
    assert words.endswith(".")
    return words


def test_audio_that_changed_in_one_sample(kept: Path) -> None:
    x, _ = soundfile.read(kept.parent / "side.wav", dtype="int16")
    x[1000, 0] += 1
    soundfile.write(kept.parent / "side.wav", x, RATE, subtype="PCM_16")
    words = refused(kept, AudioError)
    assert words == (
        f"side.wav: is not the programme that {kept} was planned from (its fingerprint differs); "
        "bring that one back, or plan the side again."
    )


def test_audio_that_became_longer(kept: Path) -> None:
    x, _ = soundfile.read(kept.parent / "side.wav", dtype="int16")
    soundfile.write(kept.parent / "side.wav", np.tile(x, (2, 1)), RATE, subtype="PCM_16")
    assert "is not the programme" in refused(kept, AudioError)


def test_audio_that_is_gone(kept: Path) -> None:
    (kept.parent / "side.wav").unlink()
    assert "side.wav" in refused(kept, AudioError)


def test_a_spiral_that_was_changed_or_is_gone(kept: Path) -> None:
    text = (kept / "spiral.csv").read_text(encoding="utf-8")
    (kept / "spiral.csv").write_text(text.replace("music", "Music", 1), encoding="utf-8")
    assert "is not the spiral that plan.json beside it names" in refused(kept, CallError)
    (kept / "spiral.csv").unlink()
    assert "cannot be read, and the plan is no good without it" in refused(kept, CallError)


@pytest.mark.parametrize("key", ["sha256", "frames", "sample_rate_hz", "path"])
def test_a_plan_that_lacks_what_is_needed(kept: Path, key: str) -> None:
    document = read(kept)
    del document["programme"][key]
    write(kept, document)
    assert "is no whole plan; keep the plan again with --out" in refused(kept, CallError)


def test_a_title_side_without_its_pieces_asks_for_a_new_plan(kept: Path) -> None:
    write(kept, read(kept) | {"title": {"name": "x", "edition": "lp", "side": "A"}})
    assert "plan the title again" in refused(kept, CallError)


def test_no_plan_at_all(tmp_path: Path) -> None:
    assert "there is no plan" in refused(tmp_path, CallError)
