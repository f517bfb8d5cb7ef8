"""A folder is open at one desk, and what cannot be opened is refused in a sentence."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from discwright.desk.recent import read_recent, recent_file
from discwright.desk.shelf import NotThereError
from discwright.desk.state import Desk
from discwright.errors import CallError


@pytest.fixture(autouse=True)
def _own_state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))


def test_one_desk_a_folder(tmp_path: Path) -> None:
    place = tmp_path / "works"
    place.mkdir()
    first, second = Desk("http://127.0.0.1:8333"), Desk("http://127.0.0.1:8334")
    first.open(place)
    with pytest.raises(CallError, match=r"at another desk, http://127\.0\.0\.1:8333; use that one, or close it"):
        second.open(place)
    assert not second.is_open
    first.close()
    second.open(place)
    assert second.folder.shelf.folder == place
    second.close()


def test_what_cannot_be_opened(tmp_path: Path) -> None:
    desk = Desk()
    with pytest.raises(NotThereError, match="start the desk with a folder"):
        _ = desk.folder
    with pytest.raises(CallError, match="is not a folder"):
        desk.open(tmp_path / "nowhere")
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(CallError, match="is not a folder"):
        desk.open(tmp_path / "file")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_cannot_be_written(tmp_path: Path) -> None:
    place = tmp_path / "locked"
    place.mkdir(mode=0o500)
    with pytest.raises(CallError, match="choose a folder of your own"):
        Desk().open(place)


def test_folders_are_remembered_newest_first(tmp_path: Path) -> None:
    desk = Desk()
    for name in ("one", "two", "one"):
        (tmp_path / name).mkdir(exist_ok=True)
        desk.open(tmp_path / name)
    desk.close()
    assert [one.place.name for one in read_recent()] == ["one", "two"]
    recent_file().write_text("{", encoding="utf-8")
    assert read_recent() == []
