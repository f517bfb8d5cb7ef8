"""House files of settings: what cannot be read is told in one sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from discwright.errors import SettingsError
from discwright.files.house_toml import read_house_toml


def test_a_file_with_or_without_a_mark(tmp_path: Path) -> None:
    for name, packed in (("plain.toml", b"[press]\nname = 2\n"), ("marked.toml", b"\xef\xbb\xbf[press]\nname = 2\n")):
        (tmp_path / name).write_bytes(packed)
        assert read_house_toml(tmp_path / name, "press settings") == {"press": {"name": 2}}


@pytest.mark.parametrize(
    ("packed", "words"),
    [
        (None, "there is no such file of press settings; check the path."),
        (b"[press\n", "is not valid TOML"),
        (b"[" * 5000, "is not valid TOML"),
        (b"\xff\xfe\x00", "cannot be read as text (it is not UTF-8); check the file."),
    ],
)
def test_what_cannot_be_read(packed: bytes | None, words: str, tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    if packed is not None:
        path.write_bytes(packed)
    with pytest.raises(SettingsError) as refused:
        read_house_toml(path, "press settings")
    assert words in str(refused.value)
    assert str(refused.value).startswith(f"{path}: ")


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="cannot be read"):
        read_house_toml(tmp_path, "press settings")
