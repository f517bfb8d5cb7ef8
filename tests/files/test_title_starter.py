"""The starter can be used as it stands, and what it says of the keys is true."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
import soundfile

from discwright.errors import CallError
from discwright.files.settings import shipped
from discwright.files.title import KEYS, load_title
from discwright.files.title_starter import STARTER, write_starter
from discwright.groove.equipment import DiscFormat
from discwright.programme.title import TREATMENTS, Accepted, SideOrder, Treatment


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The audio the starter speaks of: by hand, its second band ends at 271.5 s."""
    soundfile.write(tmp_path / "first.wav", np.zeros(44_100), 44_100, subtype="PCM_16")
    soundfile.write(tmp_path / "reel.wav", np.zeros(272 * 44_100, dtype=np.int16), 44_100, subtype="PCM_16")
    return tmp_path


def test_it_is_read_as_it_stands(folder: Path) -> None:
    write_starter(folder / "title.toml")
    assert (folder / "title.toml").read_bytes() == STARTER.encode()
    title = load_title(folder / "title.toml")
    assert [band.id for band in title.bands] == ["first", "second"]
    assert (title.bands[1].start, title.bands[1].end) == (0.0, 271.5)
    (edition,) = title.editions
    assert (edition.id, edition.format, edition.quantity, edition.due) == ("lp", "12in-33", 300, "2031-05-30")
    assert (edition.level, edition.sides, edition.lathe) == ("fit", (), None)


def uncommented() -> str:
    """What stands there as a comment, made to count."""
    return re.sub(r"^# (?=\[\[|[a-z_]+ = )", "", STARTER, flags=re.MULTILINE)


def test_what_is_commented_out_counts_too(folder: Path) -> None:
    (folder / "title.toml").write_text(uncommented(), encoding="utf-8")
    (edition,) = load_title(folder / "title.toml").editions
    # By hand, from the text.
    assert edition.sides == (
        SideOrder(
            "A", ("first", "second"), (Treatment("bass_blend", 150.0),),
            (Accepted("sibilance", 192.4, "producer wants it so"),),
        ),
    )  # fmt: skip
    kinds = (edition.lathe, edition.head, edition.cutting_tip, edition.tip, edition.practice)
    assert kinds == ("standard", "standard", "standard", "spherical-18", "standard")


def test_every_key_is_in_it() -> None:
    for kind, keys in KEYS.items():
        for key in keys:
            assert re.search(rf"\b{key}\b", STARTER), (kind, key)
    assert all(name in STARTER for name in shipped(DiscFormat))
    told = dict(re.findall(r"^#   (\w+)(?: (below_hz|above_hz))?  ", STARTER, flags=re.MULTILINE))
    assert told == {kind: "".join(f"{one}_hz" for one in corners) for kind, corners in TREATMENTS.items()}


def test_defaults_are_what_it_says(folder: Path) -> None:
    # By hand: the starter says 2.0, 0.0 and false "when left out".
    assert set(re.findall(r"(\S+) when left out", STARTER)) >= {"2.0", "0.0"}
    short = re.sub(r"^(gap_s|trim_db|may_move).*\n", "", STARTER, flags=re.MULTILINE)
    (folder / "title.toml").write_text(short, encoding="utf-8")
    assert all((b.gap, b.trim_db, b.may_move) == (2.0, 0.0, False) for b in load_title(folder / "title.toml").bands)


def test_what_is_there_stays(tmp_path: Path) -> None:
    path = tmp_path / "title.toml"
    path.write_text("mine")
    for there in (path, tmp_path):
        with pytest.raises(CallError) as refused:
            write_starter(there)
        assert str(refused.value) == f"{there}: is there already and stays as it is; choose another name."
    assert path.read_text() == "mine"


def test_no_such_folder(tmp_path: Path) -> None:
    path = tmp_path / "gone" / "title.toml"
    with pytest.raises(CallError) as refused:
        write_starter(path)
    assert str(refused.value) == f"{path}: cannot be written (No such file or directory); choose another place."
