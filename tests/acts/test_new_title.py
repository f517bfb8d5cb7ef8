"""A title file for the audio in a folder: bands as a person would count and call them, and never another's file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from discwright.acts import new_title as module
from discwright.acts.new_title import audio_in, band_name, new_title, unique_ids
from discwright.errors import AudioError, CallError, DiscwrightError
from discwright.files.title import _ID, load_title

RATE = 44_100


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "Songs of Reeds"
    place.mkdir()
    for name in ("10_Copper Rain.flac", "2 - Mooring.wav", "1. Über Weiß.WAV", "03.aiff", "mooring.ogg", "2b - x.wav"):
        kind = {"format": "WAV"} if name.endswith("WAV") else {}
        soundfile.write(place / name, np.zeros((RATE, 2)), RATE, **kind)
    (place / "notes.txt").write_text("mine")
    (place / ".hidden.wav").write_text("not audio")
    return place


def test_a_band_for_each_file(folder: Path) -> None:
    """By hand."""
    path = new_title(folder, " Songs “of” Reeds\\ ", format="7in-45")
    assert path == folder / "title.toml"
    title = load_title(path)
    assert title.name == "Songs “of” Reeds\\"
    assert [(band.id, band.name, Path(band.path).name) for band in title.bands] == [
        ("uber-weiss", "Über Weiß", "1. Über Weiß.WAV"),
        ("mooring", "Mooring", "2 - Mooring.wav"),
        ("2b-x", "2b - x", "2b - x.wav"),
        ("03", "03", "03.aiff"),
        ("copper-rain", "Copper Rain", "10_Copper Rain.flac"),
        ("mooring-2", "mooring", "mooring.ogg"),
    ]
    assert [(one.id, one.format, one.level, one.sides) for one in title.editions] == [("single", "7in-45", "fit", ())]
    assert oct(path.stat().st_mode & 0o777) == oct((folder / "notes.txt").stat().st_mode & 0o777)
    assert len(list(folder.iterdir())) == 9


def test_some_files_and_another_place(folder: Path, tmp_path: Path) -> None:
    path = new_title(folder, "Two", ["mooring.ogg", "03.aiff"], path=tmp_path / "two.toml")
    title = load_title(path)
    assert [Path(band.path).name for band in title.bands] == ["03.aiff", "mooring.ogg"]
    assert all(Path(band.path).is_file() for band in title.bands)
    assert title.editions[0].id == "lp"


def test_a_format_of_ones_own(folder: Path, tmp_path: Path) -> None:
    """Counted from the title file, wherever it is called from."""
    own = tmp_path / "own.toml"
    lines = {
        "speed_rpm": 45, "disc_diameter_mm": 174.6, "outermost_radius_mm": 84.15, "innermost_radius_mm": 53.975,
        "locked_radius_mm": 49.2, "lead_in_pitch_mm": 3.2, "lead_out_pitch_mm": 4.5, "lead_out_pitch_min_mm": 3.2,
        "lead_out_pitch_max_mm": 6.4, "join_pitch_mm": 1.5, "label_diameter_mm": 90, "hole_diameter_mm": 38,
    }  # fmt: skip
    own.write_text("".join(f"{key} = {value}\n" for key, value in lines.items()), encoding="utf-8")
    path = new_title(folder, "Own", format=str(own))
    assert 'format = "../own.toml"' in path.read_text(encoding="utf-8")
    load_title(path)


def refused(kind: type[DiscwrightError], folder: Path, *arguments: object, **named: object) -> str:
    before = sorted(path.name for path in folder.iterdir())
    with pytest.raises(kind) as trouble:
        new_title(folder, *arguments, **named)  # type: ignore[arg-type]
    assert sorted(path.name for path in folder.iterdir()) == before
    assert str(trouble.value).endswith(".")
    return str(trouble.value)


def test_what_is_there_stays(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "title.toml").write_text("mine")
    words = f"{folder / 'title.toml'}: is there already and stays as it is; choose another name."
    assert refused(CallError, folder, "A") == words
    # Also where it comes while the audio is read.
    (folder / "title.toml").unlink()
    monkeypatch.setattr(module, "_check", lambda _part: (folder / "title.toml").write_text("late"))
    with pytest.raises(CallError, match="is there already"):
        new_title(folder, "A")
    assert (folder / "title.toml").read_text() == "late"
    assert not list(folder.glob(".title*"))


def test_a_disk_without_links(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(module.os, "link", none)
    assert load_title(new_title(folder, "A")).name == "A"
    assert "is there already" in refused(CallError, folder, "B")


def test_audio_that_cannot_be_read(folder: Path) -> None:
    (folder / "4 - broken.wav").write_bytes(b"RIFF\0\0\0\0WAVEjunk")
    assert "4 - broken.wav" in refused(AudioError, folder, "A")
    assert "gone.wav" in refused(AudioError, folder, "A", ["gone.wav"])


def test_refused(folder: Path, tmp_path: Path) -> None:
    assert refused(CallError, folder, " ") == "a title needs a name; give it one."
    assert "there is no format “9in-45”" in refused(CallError, folder, "A", format="9in-45")
    assert "there is no format “tape”" in refused(CallError, folder, "A", format="tape")
    (tmp_path / "empty").mkdir()
    assert "holds no audio file (.wav," in refused(CallError, tmp_path / "empty", "A")
    with pytest.raises(CallError, match="cannot be read as a folder"):
        new_title(tmp_path / "gone", "A")
    with pytest.raises(CallError, match="cannot be written"):
        new_title(folder, "A", path=tmp_path / "gone" / "title.toml")


def test_a_band_that_no_side_holds(folder: Path) -> None:
    """By hand: 30.2 mm of a 7-inch at 40 µm and 45 turns a minute are 16:45 of silence."""
    soundfile.write(folder / "5 - long.flac", np.zeros(1010 * RATE, dtype=np.int16), RATE, subtype="PCM_16")
    words = refused(CallError, folder, "A", format="7in-45")
    assert words.startswith("5 - long.flac lasts 16:50.0, and even silence fills a side of 7in-45 in 16:")


@pytest.mark.parametrize(
    ("file", "name"),
    [
        ("01 - Mooring.wav", "Mooring"), ("1-Mooring.wav", "Mooring"), ("07_the_long__weir.wav", "the long weir"),
        ("12.Weir.flac", "Weir"), ("3) Weir.wav", "Weir"), ("1999.wav", "1999"), ("1999 Weir.wav", "1999 Weir"),
        ("7.wav", "7"), ("2nd Weir.wav", "2nd Weir"), ("_.wav", "_.wav"), ("Weir 2.wav", "Weir 2"),
    ],
)  # fmt: skip
def test_what_a_band_is_called(file: str, name: str) -> None:
    """By hand."""
    assert band_name(file) == name


def test_two_comes_before_ten(tmp_path: Path) -> None:
    for name in ("b10.wav", "B9.wav", "b2.wav", "a.wav", "1.wav", "01.wav", "x.mp3"):
        (tmp_path / name).write_bytes(b"")
    (tmp_path / "folder.wav").mkdir()
    assert audio_in(tmp_path) == ["01.wav", "1.wav", "a.wav", "b2.wav", "B9.wav", "b10.wav"]  # by hand


@given(st.lists(st.text(max_size=60), max_size=12))
def test_ids_are_ids_and_no_two_alike(names: list[str]) -> None:
    ids = unique_ids(names)
    assert len(set(ids)) == len(names)
    assert all(_ID.fullmatch(one) for one in ids)
    assert unique_ids(["夜", "夜", "a" * 50, "a" * 50])[0] == "band-1"
