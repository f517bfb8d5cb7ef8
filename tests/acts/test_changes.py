"""What a what-if asks otherwise: as plain values and back, and a sentence for everything that cannot be asked."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.acts.changes import CORNER_HZ, Changes, treatment
from discwright.errors import CallError, DiscwrightError
from discwright.files import title
from discwright.files.settings import load_setup
from discwright.programme.title import TREATMENTS, Treatment

NAMES = st.none() | st.text(min_size=1, max_size=8)
MADE = st.sampled_from([Treatment("treble_limit"), Treatment("low_cut", below=30.0), Treatment("high_cut", above=15e3)])


@given(
    level_db=st.none() | st.floats(-40, 24), format=NAMES, lathe=NAMES, tip=NAMES, practice=NAMES,
    treatments=st.none() | st.lists(MADE, unique=True, max_size=3).map(tuple), ladder=st.booleans(),
)  # fmt: skip
def test_plain_and_back(**asked: Any) -> None:
    changes = Changes(**asked)
    assert Changes.from_plain(changes.as_plain()) == changes


def test_plain_values_wear_their_units() -> None:
    """By hand: as the settings of a plan have them; what stays is left out."""
    changes = Changes(level_db=3.0, tip="elliptical-8", treatments=(Treatment("bass_blend", 150.0),))
    assert changes.as_plain() == {
        "level_db": 3.0, "tip": "elliptical-8", "treatments": [{"kind": "bass_blend", "below_hz": 150.0}],
    }  # fmt: skip
    assert Changes().as_plain() == {}
    assert Changes.from_plain({"fit": None, "level_db": 2, "ladder": True}) == Changes(level_db=2.0, ladder=True)


@pytest.mark.parametrize(
    ("plain", "words"),
    [
        ({"levl_db": 3}, "a what-if knows no “levl_db”; write level_db."),
        ({"xyzzy": 3}, "a what-if knows no “xyzzy”; there are level_db, fit, format,"),
        ({"level_db": "3"}, "level_db must be a number; got '3': write it without quotes."),
        ({"level_db": True}, "level_db must be a number; got True"),
        ({"level_db": 24.1}, "the level must lie between -40 and 24 dB; 24.1 dB does not: choose another."),
        ({"level_db": math.nan}, "nan dB does not: choose another."),
        ({"level_db": 1, "fit": "cut"}, "give level_db or fit, not both."),
        ({"fit": "loud"}, "fit: there is no “loud”; write cut or clean."),
        ({"lathe": 3}, "lathe must be a word; got 3: write a name in quotes."),
        ({"ladder": 1}, "ladder must be true or false; got 1: write one of the two."),
        ({"treatments": "none"}, "treatments must be a list of tables;"),
        ({"treatments": ["treble_limit"]}, "treatments must be a list of tables;"),
        ({"treatments": [{}]}, "a treatment needs its kind; write one of bass_blend,"),
        ({"treatments": [{"kind": "bas_blend"}]}, "there is no treatment “bas_blend”; write bass_blend."),
        ({"treatments": [{"kind": "low_cut"}]}, "low_cut needs below_hz; add it."),
        ({"treatments": [{"kind": "low_cut", "below_hz": "30"}]}, "below_hz must be a number; got '30'"),
        ({"treatments": [{"kind": "low_cut", "hz": 30}]}, "knows no “hz”; it has kind, below_hz and above_hz."),
        ({"treatments": [{"kind": "low_cut", "below_hz": 4.9}]}, "below_hz must lie between 5 and 30000; got 4.9"),
        ({"treatments": [{"kind": "high_cut", "above_hz": math.inf}]}, "must lie between 5 and 30000; got inf: choose"),
        ({"treatments": [{"kind": "treble_limit", "above_hz": 9e3}]}, "treble_limit knows no above_hz; leave it out."),
        ({"treatments": [{"kind": "treble_limit"}] * 2}, "a side has one treble_limit at the most; write it once."),
    ],
)  # fmt: skip
def test_refused(plain: dict[str, Any], words: str) -> None:
    with pytest.raises(CallError) as trouble:
        Changes.from_plain(plain)
    assert words in str(trouble.value)
    assert str(trouble.value).endswith(".")


def test_the_corners_are_those_of_a_title_file() -> None:
    assert title._CORNER_HZ == CORNER_HZ


def test_a_treatment_from_one_corner() -> None:
    assert treatment("bass_blend", 150.0) == Treatment("bass_blend", below=150.0)
    assert treatment("high_cut", 15e3) == Treatment("high_cut", above=15e3)
    assert treatment("treble_limit") == Treatment("treble_limit")
    for kind in TREATMENTS:
        wrong = 100.0 if kind == "treble_limit" else None
        with pytest.raises(CallError, match=kind):
            treatment(kind, wrong)
    with pytest.raises(CallError, match="there is no treatment “echo”"):
        treatment("echo", 10.0)


def test_equipment_takes_the_place_of_what_was_there(tmp_path: Path) -> None:
    setup = replace(load_setup("7in-45"), practice=replace(load_setup().practice, name="house", land_min=9e-6))
    changed = Changes(format="10in-33", tip="elliptical-8").applied(setup)
    assert (changed.disc.name, changed.tip.name) == ("10in-33", "elliptical-8")
    assert changed.practice == setup.practice
    assert Changes().applied(setup) == setup
    for unfit in (Changes(head="none"), Changes(practice=str(tmp_path / "gone.toml"))):
        with pytest.raises(DiscwrightError):
            unfit.applied(setup)
    slow = tmp_path / "slow.toml"
    text = "".join(
        f"{key} = {value}\n"
        for key, value in {
            "pitch_min_um": 40, "pitch_max_um": 400, "pitch_slew_um_per_turn": 200, "depth_slew_um_per_turn": 40,
            "sectors_per_turn": 32, "traverse_max_mm_s": 1,
        }.items()
    )  # fmt: skip
    slow.write_text(text, encoding="utf-8")
    with pytest.raises(DiscwrightError, match="choose a faster lathe"):
        Changes(lathe=str(slow)).applied(setup)
