"""Pictures are whole or not there."""

from __future__ import annotations

from pathlib import Path

import pytest

from discwright.errors import CallError
from discwright.files.picture_file import picture_file


def test_it_appears_when_it_is_whole(tmp_path: Path) -> None:
    path = tmp_path / "chart.png"
    path.write_text("old")
    with picture_file(path) as part:
        part.write_text("new")
        assert path.read_text() == "old"
    assert path.read_text() == "new"
    assert list(tmp_path.iterdir()) == [path]


def write(path: Path, words: str, trouble: type[BaseException] | None = None) -> None:
    with picture_file(path) as part:
        part.write_text(words)
        if trouble is not None:
            raise trouble


@pytest.mark.parametrize("trouble", [KeyboardInterrupt, ValueError])
def test_what_stops_it_leaves_nothing(trouble: type[BaseException], tmp_path: Path) -> None:
    path = tmp_path / "chart.png"
    path.write_text("old")
    with pytest.raises(trouble):
        write(path, "half", trouble)
    assert (path.read_text(), list(tmp_path.iterdir())) == ("old", [path])


def test_a_place_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    path = tmp_path / "nowhere" / "chart.png"
    with pytest.raises(CallError, match=r"cannot be written \(.*\); check the folder and the disk"):
        write(path, "new")
