"""Titles made of files that were sent: all of them moved, or none."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from discwright.desk.making import folder_name, title_of_files
from discwright.desk.shelf import Shelf
from discwright.errors import DiscwrightError


@pytest.mark.parametrize(
    ("name", "folder"),
    [
        ("Notes from a Weather Ship", "notes-from-a-weather-ship"), ("../../etc", "etc"), ("   ", "title"),
        ("Déjà vu / 2", "déjà-vu-2"), ("a\x00b", "a-b"), ("x" * 300, "x" * 60), ("船の歌", "船の歌"),
        (".hidden", "hidden"),
    ],
)  # fmt: skip
def test_a_name_becomes_a_folder_and_never_a_path(name: str, folder: str) -> None:
    assert folder_name(name) == folder


def test_files_become_a_title_in_the_order_people_count(tmp_path: Path, side: Path) -> None:
    sent = tmp_path / "sent"
    sent.mkdir()
    works = tmp_path / "works"
    (works / "two").mkdir(parents=True)
    files = tuple(sent / name for name in ("10 last.wav", "2 first.wav"))
    for file in files:
        shutil.copy(side, file)
    shelf = Shelf(works)
    title = shelf.title(title_of_files(shelf, "Two", files, "12in-33"))
    assert title.path.parent.name == "two-2"
    assert title.title is not None
    assert [Path(band.path).name for band in title.title.bands] == ["2 first.wav", "10 last.wav"]
    assert not any(file.exists() for file in files)


def test_what_cannot_become_a_title_stays_where_it_was(tmp_path: Path, side: Path) -> None:
    good, bad = tmp_path / "good.wav", tmp_path / "bad.wav"
    shutil.copy(side, good)
    bad.write_bytes(b"RIFF, but no more")
    works = tmp_path / "works"
    works.mkdir()
    for files, format in (((good, bad), "12in-33"), ((good,), "no-such-format"), ((good,), "../x.toml")):
        with pytest.raises(DiscwrightError):
            title_of_files(Shelf(works), "Broken", files, format)
        assert good.is_file()
        assert bad.is_file()
        assert list(works.iterdir()) == []
