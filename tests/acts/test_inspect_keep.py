"""What a test play leaves behind: all of it or nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from discwright.acts import inspect_keep
from discwright.acts.inspect import inspect
from discwright.acts.inspect_keep import AUDIO, KEPT, PICTURE, REPORT, check_place
from discwright.errors import CallError


def test_a_place_is_new_or_holds_an_older_play(tmp_path: Path) -> None:
    check_place(tmp_path / "new")
    (tmp_path / "empty").mkdir()
    check_place(tmp_path / "empty")
    (tmp_path / "old").mkdir()
    for name in KEPT:
        (tmp_path / "old" / name).touch()
    check_place(tmp_path / "old")
    (tmp_path / "old" / "letter.txt").touch()
    with pytest.raises(CallError, match="holds something else; name a folder that is new"):
        check_place(tmp_path / "old")
    (tmp_path / "file").touch()
    with pytest.raises(CallError, match="holds something else; name a folder that is new"):
        check_place(tmp_path / "file")
    with pytest.raises(CallError, match="is no folder; name one that is there"):
        check_place(tmp_path / "none" / "play")


def test_a_picture_that_fails_leaves_nothing(side: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(_path: Path, _sheet: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(inspect_keep, "draw_play", broken)
    with pytest.raises(
        CallError, match=r"cannot be written \(No space left on device\); check the folder and the disk"
    ):
        inspect(side, recording=side, out=tmp_path / "play")
    assert list(tmp_path.iterdir()) == []


def test_an_older_play_is_replaced_whole(side: Path, tmp_path: Path) -> None:
    out = tmp_path / "play"
    out.mkdir()
    for name in (REPORT, PICTURE):
        (out / name).write_text("old")
    inspect(side, recording=side, out=out)
    assert sorted(one.name for one in out.iterdir()) == sorted(KEPT)
    assert (out / PICTURE).read_bytes()[:4] == b"\x89PNG"
    assert all((out / name).stat().st_size > 1000 for name in AUDIO)
    assert [one.name for one in tmp_path.iterdir()] == ["play"]
