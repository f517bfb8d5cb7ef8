"""House sets: read back bit by bit, refused in one sentence, never written over anything else."""

from __future__ import annotations

import os
import tomllib
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from discwright.errors import CallError, SettingsError
from discwright.files.house import (
    TABLES,
    Difference,
    differ,
    differences,
    house_toml,
    load_house,
    save_house,
    setup_from_tables,
)
from discwright.files.settings import load_setup, setup_as_plain, shipped
from discwright.groove.equipment import DiscFormat, PlayingTip, file_keys

FORMATS = sorted(shipped(DiscFormat))


def plain(**changes: dict[str, Any]) -> dict[str, Any]:
    """The default setup as tables, with some values of some tables changed; None takes a value away."""
    tables = setup_as_plain(load_setup())
    for word, values in changes.items():
        table = tables[word] | values
        tables[word] = {key: value for key, value in table.items() if value is not None}
    return tables


# Round trip -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("disc", FORMATS)
@pytest.mark.parametrize("tip", sorted(shipped(PlayingTip)))
def test_every_shipped_setup_reads_back_exactly(tmp_path: Path, disc: str, tip: str) -> None:
    """Another road: the same setup, field by field, without a file between."""
    setup = load_setup(disc, tip=tip)
    save_house(tmp_path / "house.toml", setup_as_plain(setup))
    assert load_house(tmp_path / "house.toml") == setup


def test_five_formats_are_shipped() -> None:
    # By hand: counted in data/formats.toml.
    assert len(FORMATS) == 5


@settings(max_examples=200, deadline=None)
@given(st.floats(1e-3, 1e3), st.floats(1.0, 89.0), st.floats(-40.0, 24.0), st.integers(4, 128), st.floats(1e-6, 0.02))
def test_any_value_reads_back_exactly(
    velocity: float, clearance: float, level_db: float, sectors: int, guard: float
) -> None:
    tables = plain(
        head={"velocity_max_cm_s": velocity},
        cutting_tip={"clearance_deg": clearance},
        practice={"layout_level_db": level_db, "sync_guard_ms": guard * 1e3},
        lathe={"sectors_per_turn": 2 * sectors},
    )
    setup = setup_from_tables(tables, "by hand")
    assert setup_from_tables(tomllib.loads(house_toml(setup)), "read back") == setup


@settings(deadline=None)
@given(st.text(st.characters(exclude_categories=("Cs",)), min_size=1))
def test_any_name_reads_back(name: str) -> None:
    setup = setup_from_tables(plain(lathe={"name": name}), "by hand")
    assert setup_from_tables(tomllib.loads(house_toml(setup)), "read back").lathe.name == name


def test_the_text_of_a_set(tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    save_house(path, setup_as_plain(load_setup()))
    lines = path.read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("# A house set: ")
    # By hand, from DESIGN 7: one table of each kind, named within, every key of it with a bare value.
    tables = tomllib.loads(path.read_text(encoding="utf-8"))
    assert list(tables) == ["format", "lathe", "head", "cutting_tip", "tip", "practice"]
    for word, kind in TABLES.items():
        assert list(tables[word]) == ["name", *file_keys(kind)]
        assert all(isinstance(value, str | int | float) for value in tables[word].values())
    # Common practice (data/lathes.toml).
    assert "pitch_min_um = 40.0" in lines
    assert "sectors_per_turn = 32" in lines
    assert 'name = "spherical-18"' in lines


def test_a_whole_plan_gives_its_settings(tmp_path: Path) -> None:
    setup = load_setup("7in-45")
    document = {"level_db": 1.0, "settings": setup_as_plain(setup) | {"bands": [], "solver": "invented 1"}}
    save_house(tmp_path / "house.toml", document)
    assert load_house(tmp_path / "house.toml") == setup


def test_a_set_of_an_older_version_takes_defaults(tmp_path: Path) -> None:
    newer = {f.metadata["key"]: None for kind in TABLES.values() for f in fields(kind) if f.default == 0.0}
    # By hand: of the values with defaults, the one that is nothing.
    assert newer == {"echo_widening_um": None}
    path = tmp_path / "house.toml"
    text = house_toml(load_setup())
    path.write_text("\n".join(line for line in text.splitlines() if "echo_widening_um" not in line), encoding="utf-8")
    assert load_house(path) == load_setup()


def test_a_value_may_carry_its_source(tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    text = house_toml(load_setup()).replace(
        "land_min_um = 8.0", 'land_min_um = { value = 9, source = "measured on the old lathe" }'
    )
    path.write_text(text, encoding="utf-8")
    assert load_house(path).practice.land_min == pytest.approx(9e-6, rel=1e-15)


# Refusals ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        (
            "pitch_min_um = 40.0",
            "pitch_min_mm = 0.04",
            "[lathe] has an unknown key “pitch_min_mm”; write pitch_min_um.",
        ),
        ("land_min_um = 8.0", "land_min_um = -8.0", "[practice] land_min_um: must be greater than zero; got -8.0."),
        ("land_min_um = 8.0", "land_min_um = nan", "[practice] land_min_um: must be a number; got nan."),
        ("land_min_um = 8.0", 'land_min_um = "8"', "[practice] land_min_um: must be a number; got '8'."),
        ("[cutting_tip]", "[cuting_tip]", "has an unknown table “cuting_tip”; write [cutting_tip]."),
        (
            "[tip]",
            "[colour]",
            "has an unknown table “colour”; "
            "a house set has [format], [lathe], [head], [cutting_tip], [tip], [practice].",
        ),
        ('name = "12in-33"\n', "", "[format] needs its name, a word in quotes; add it."),
        ('name = "12in-33"', "name = 12", "[format] needs its name, a word in quotes; add it."),
        ('name = "12in-33"', 'name = ""', "[format] needs its name, a word in quotes; add it."),
        (
            "clearance_deg = 45.0\n",
            "",
            "[cutting_tip] lacks clearance_deg; add it (all of clearance_deg).",
        ),
        (
            "pitch_max_um = 400.0",
            "pitch_max_um = 30.0",
            "lathe standard: pitch_min_um must lie below pitch_max_um; mend the file.",
        ),
    ],
)
def test_what_is_refused(tmp_path: Path, old: str, new: str, sentence: str) -> None:
    """The wording is ours: regression only."""
    path = tmp_path / "house.toml"
    text = house_toml(load_setup())
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(SettingsError) as refused:
        load_house(path)
    assert str(refused.value) == f"{path}: {sentence}"


def test_a_table_that_is_missing_or_none(tmp_path: Path) -> None:
    tables = setup_as_plain(load_setup())
    del tables["head"]
    with pytest.raises(SettingsError, match=r"^here: lacks the table \[head\]; add it\.$"):
        setup_from_tables(tables, "here")
    path = tmp_path / "house.toml"
    path.write_text('lathe = "standard"\n' + house_toml(load_setup()).replace("[lathe]", "[head.more]"), "utf-8")
    with pytest.raises(SettingsError):
        load_house(path)
    with pytest.raises(SettingsError) as refused:
        setup_from_tables(setup_as_plain(load_setup()) | {"lathe": "standard"}, "here")
    assert str(refused.value) == ("here: lathe must be a table; got 'standard': write [lathe] and its values below.")


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    with pytest.raises(SettingsError, match=r": there is no such house set; check the path\.$"):
        load_house(path)
    with pytest.raises(SettingsError, match=r": cannot be read as text \(.+\); check the file\.$"):
        load_house(tmp_path)
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(SettingsError, match=r": cannot be read as text \(it is not UTF-8\); check the file\.$"):
        load_house(path)
    path.write_text("[lathe\n", encoding="utf-8")
    with pytest.raises(SettingsError, match=r": is not valid TOML \(.+\); mend that line\.$"):
        load_house(path)


# Writing ----------------------------------------------------------------------------------------------


def test_a_set_takes_the_place_of_a_set(tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    save_house(path, setup_as_plain(load_setup("12in-33")))
    path.chmod(0o640)
    save_house(path, setup_as_plain(load_setup("7in-45")))
    assert load_house(path).disc.name == "7in-45"
    assert path.stat().st_mode & 0o777 == 0o640
    # A set that is broken, or of another version, is a set all the same.
    path.write_text("".join(f"[{word}]\nnonsense = 1\n" for word in TABLES), encoding="utf-8")
    save_house(path, setup_as_plain(load_setup()))
    assert load_house(path) == load_setup()
    assert os.listdir(tmp_path) == ["house.toml"]


@pytest.mark.parametrize("content", [b"notes\n", b"[lathe]\npitch_min_um = 40\n", b"\xff", b"", b"lathe = 1\n"])
def test_nothing_else_is_written_over(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "mine.toml"
    path.write_bytes(content)
    with pytest.raises(CallError) as refused:
        save_house(path, setup_as_plain(load_setup()))
    assert str(refused.value) == f"{path}: holds something other than a house set; choose another name."
    assert path.read_bytes() == content
    assert os.listdir(tmp_path) == ["mine.toml"]


def test_places_that_cannot_be(tmp_path: Path) -> None:
    tables = setup_as_plain(load_setup())
    with pytest.raises(CallError, match=r": is a folder, and a house set is a file; add a name that ends in \.toml\.$"):
        save_house(tmp_path, tables)
    with pytest.raises(CallError, match=r": there is no folder .+; make it, or choose another place\.$"):
        save_house(tmp_path / "no" / "house.toml", tables)
    with pytest.raises(CallError, match=r": cannot be written \(.+\); choose another place\.$"):
        save_house(tmp_path / ("x" * 300), tables)
    assert os.listdir(tmp_path) == []


def test_nothing_is_left_of_a_write_that_failed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "house.toml"
    save_house(path, setup_as_plain(load_setup("12in-33")))

    def fail(_number: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(CallError, match=r"No space left on device"):
        save_house(path, setup_as_plain(load_setup("7in-45")))
    assert os.listdir(tmp_path) == ["house.toml"]
    assert load_house(path).disc.name == "12in-33"


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    real, link = tmp_path / "real.toml", tmp_path / "link.toml"
    save_house(real, setup_as_plain(load_setup()))
    link.symlink_to(real)
    save_house(link, setup_as_plain(load_setup("7in-45")))
    assert link.is_symlink()
    assert load_house(real).disc.name == "7in-45"


def test_no_broken_set_is_written(tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    with pytest.raises(SettingsError, match=r"^the settings: \[head\] lacks velocity_max_cm_s; add it"):
        save_house(path, plain(head={"velocity_max_cm_s": None}))
    with pytest.raises(SettingsError, match=r"^the settings are no tables; plan the side again\.$"):
        save_house(path, {"settings": 1})
    with pytest.raises(CallError, match=r"^lathe\.name: .+ cannot be written as text; give it another name\.$"):
        save_house(path, plain(lathe={"name": "caf\udce9"}))
    assert not path.exists()


# Differences ------------------------------------------------------------------------------------------


def test_what_a_change_of_lathe_changes() -> None:
    new = plain(lathe={"name": "new", "pitch_min_um": 50.0, "sectors_per_turn": 16}, practice={"echo_widening_um": 6.0})
    # By hand.
    assert differences(load_setup(), setup_from_tables(new, "by hand")) == (
        Difference("lathe.name", "standard", "new"),
        Difference("lathe.pitch_min_um", 40.0, 50.0),
        Difference("lathe.sectors_per_turn", 32, 16),
        Difference("practice.echo_widening_um", 0.0, 6.0),
    )
    assert differences(load_setup(), load_setup()) == ()


def test_trees_by_hand() -> None:
    old = {"a": 1, "b": {"c": [1, {"d": 2}], "gone": None, "left": 5}}
    new = {"b": {"c": [1, {"d": 3}, 4], "came": "x"}, "a": 1.0}
    assert differ(old, new) == (
        ("b.c.2.d", 2, 3),
        ("b.left", 5, None),
        ("b.c.3", None, 4),
        ("b.came", None, "x"),
    )
    assert differ({"a": 1}, {"a": True}) == (("a", 1, True),)
    assert differ("0.1", "0.2", "version") == (("version", "0.1", "0.2"),)
