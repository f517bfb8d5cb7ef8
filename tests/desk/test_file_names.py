"""Names that come from outside. Expected names are by hand, from the rule in the docstring."""

from __future__ import annotations

import errno
import os
import unicodedata
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from discwright.desk.file_names import clean_name, put_into
from discwright.errors import CallError

HOSTILE = {
    "../../etc/side.wav": "side.wav",
    "..\\..\\side.wav": "side.wav",
    "C:\\music\\side.wav": "side.wav",
    "/etc/side.wav": "side.wav",
    "..%2f..%2fside.wav": "2f.. 2fside.wav",
    "%2e%2e%2fside.wav": "2e 2e 2fside.wav",
    "side\x00.wav": "side.wav",
    "a\r\nb.wav": "ab.wav",
    "-rf.wav": "rf.wav",
    ".hidden.wav": "hidden.wav",
    "...wav": "audio.wav",
    ".wav": "audio.wav",
    "side .wav": "side.wav",
    "CON.wav": "_CON.wav",
    "con.first.wav": "_con.first.wav",
    "LPT1.flac": "_LPT1.flac",
    "COM¹.wav": "_COM¹.wav",
    "nul .wav": "_nul.wav",
    "CONSOLE.wav": "CONSOLE.wav",
    # Marks that turn the direction of writing could show `gpj.wav` for `wav.jpg`.
    "side\u202evaw.\u202cwav": "sidevaw.wav",
    "\u200fside\u200e.wav": "side.wav",
    "🎵 song ❤️.wav": "song.wav",
    "👩‍🎤.wav": "audio.wav",
    "half／slash⁄.wav": "half slash.wav",
    "lone\ud800.wav": "lone.wav",
    "Don’t (final) #2.WAV": "Dont final 2.WAV",
    "e\u0301tude.wav": "étude.wav",
    "e\u200d\u0301tude.wav": "étude.wav",
    "हिन्दी.wav": "हिन्दी.wav",
    "音楽 第1.flac": "音楽 第1.flac",
    "a_b-c.d.wav": "a_b-c.d.wav",
}


@pytest.mark.parametrize(("given_name", "expected"), HOSTILE.items(), ids=[ascii(name) for name in HOSTILE])
def test_a_hostile_name_becomes_a_plain_one(given_name: str, expected: str) -> None:
    assert clean_name(given_name) == expected


def test_three_hundred_letters_are_cut_to_what_a_disk_takes() -> None:
    # By hand: 200 bytes less the ending; ü takes two bytes.
    assert clean_name("a" * 300 + ".wav") == "a" * 196 + ".wav"
    assert clean_name("ü" * 300 + ".flac") == "ü" * 97 + ".flac"


@pytest.mark.parametrize(
    "name", ["", "side", "side.mp3", "side.wav.exe", "wav", "side.wav/", "side.wav\\", "side.wa\x00v/x"]
)
def test_what_does_not_end_as_audio_is_refused(name: str) -> None:
    with pytest.raises(CallError, match=r"^Only audio can be sent here; choose a file that ends in \.wav, .*\.opus\.$"):
        clean_name(name)


@given(st.text() | st.text(alphabet="./\\%2fCON nul:\0\u202e\u0301-_ é", max_size=30))
@example("../x")
def test_a_clean_name_is_never_a_path_and_stays_as_it_is(text: str) -> None:
    name = clean_name(f"{text}.wav")
    assert name == os.path.basename(name)
    assert not set(name) & set('/\\%:*?"<>|\0')
    assert not name.startswith((".", " ", "-"))
    assert name.isprintable()
    assert unicodedata.is_normalized("NFC", name)
    assert len(name.encode()) <= 201  # 200, and the mark before a reserved name
    assert clean_name(name) == name


def test_a_file_is_moved_and_nothing_is_replaced(tmp_path: Path) -> None:
    place = tmp_path / "title"
    place.mkdir()
    (place / "SIDE.wav").write_bytes(b"old")
    for content, expected in ((b"1", "side 2.wav"), (b"2", "side 3.wav")):
        file = tmp_path / "side.wav"
        file.write_bytes(content)
        final = put_into(file, place)
        assert (final.name, final.read_bytes(), file.exists()) == (expected, content, False)
    assert (place / "SIDE.wav").read_bytes() == b"old"


@pytest.mark.parametrize("code", [errno.EXDEV, errno.EPERM])
def test_another_file_system_is_reached_as_well(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int) -> None:
    def no_link(*_: object) -> None:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(os, "link", no_link)
    (tmp_path / "title").mkdir()
    file = tmp_path / "side.wav"
    file.write_bytes(b"1")
    assert put_into(file, tmp_path / "title").read_bytes() == b"1"
    assert os.listdir(tmp_path) == ["title"]
    assert os.listdir(tmp_path / "title") == ["side.wav"]


def test_somebody_who_is_faster_keeps_his_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "title").mkdir()
    file = tmp_path / "side.wav"
    file.write_bytes(b"1")
    whole, link = os.listdir, os.link

    def faster(source: Path, place: Path) -> None:
        if place.name == "side.wav":
            place.write_bytes(b"faster")
        link(source, place)

    monkeypatch.setattr(os, "link", faster)
    assert put_into(file, tmp_path / "title").name == "side 2.wav"
    assert sorted(whole(tmp_path / "title")) == ["side 2.wav", "side.wav"]


def test_without_the_folder_the_file_stays(tmp_path: Path) -> None:
    file = tmp_path / "side.wav"
    file.write_bytes(b"1")
    with pytest.raises(FileNotFoundError):
        put_into(file, tmp_path / "missing")
    assert file.exists()
