"""Equipment as TOML: shipped entries, the user's own in three shapes, and everything that is refused."""

from __future__ import annotations

import tomllib
from importlib import resources
from pathlib import Path

import pytest

from discwright.errors import CallError, SettingsError
from discwright.files.settings import KINDS, as_plain, load, load_setup, setup_as_plain, shipped
from discwright.groove.equipment import CuttingTip, DiscFormat, Head, Lathe, PlayingTip, Practice, file_keys

LATHE = {
    "pitch_min_um": 50,
    "pitch_max_um": 350,
    "pitch_slew_um_per_turn": 150,
    "depth_slew_um_per_turn": 30,
    "sectors_per_turn": 16,
    "traverse_max_mm_s": 8,
}


def written(path: Path, values: dict[str, object], head: str = "") -> str:
    lines = [head] if head else []
    path.write_text("\n".join(lines + [f"{key} = {value}" for key, value in values.items()]), encoding="utf-8")
    return str(path)


@pytest.mark.parametrize("kind", list(KINDS))
def test_every_shipped_value_has_a_source(kind: type[Lathe]) -> None:
    file = resources.files("discwright") / "data" / KINDS[kind][1]
    for name, entry in tomllib.loads(file.read_text(encoding="utf-8")).items():
        assert set(entry) == set(file_keys(kind)), name
        for key, value in entry.items():
            assert set(value) == {"value", "source"}, f"{name} {key}"
            assert value["source"], f"{name} {key}"
    assert KINDS[kind][2] in shipped(kind)


def test_defaults_of_the_groove() -> None:
    """Common practice (DESIGN 5): the values a side is planned with where nothing else is said."""
    plain = setup_as_plain(load_setup())
    assert plain["lathe"] == {
        "name": "standard",
        "pitch_min_um": 40.0,
        "pitch_max_um": 400.0,
        "pitch_slew_um_per_turn": 200.0,
        "depth_slew_um_per_turn": 40.0,
        "sectors_per_turn": 32,
        "traverse_max_mm_s": 10.0,
    }
    practice = plain["practice"]
    assert (practice["land_min_um"], practice["depth_min_um"], practice["depth_max_um"]) == (8.0, 12.5, 100.0)
    assert (practice["sync_guard_ms"], practice["subsonic_hz"]) == (5.0, 10.0)
    assert plain["cutting_tip"]["clearance_deg"] == 45.0
    assert plain["format"]["name"] == "12in-33"


@pytest.mark.parametrize("head", ["", "[mine]"])
def test_own_lathe(tmp_path: Path, head: str) -> None:
    lathe = load(Lathe, written(tmp_path / "mine.toml", LATHE, head))
    assert (lathe.name, lathe.sectors_per_turn) == ("mine", 16)
    assert lathe.pitch_min == pytest.approx(50e-6)
    assert as_plain(lathe) == {"name": "mine"} | {key: float(v) if key[0] != "s" else v for key, v in LATHE.items()}


def test_own_lathe_with_sources_and_a_name(tmp_path: Path) -> None:
    values: dict[str, object] = {"name": '"old faithful"'} | {
        key: f'{{ value = {value}, source = "measured" }}' for key, value in LATHE.items()
    }
    assert load(Lathe, written(tmp_path / "x.toml", values)).name == "old faithful"


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"pitch_min_mm": 0.05}, "unknown key “pitch_min_mm”; write pitch_min_um"),
        ({"pich_max_um": 1}, "unknown key “pich_max_um”; write pitch_max_um"),
        ({"colour": 1}, "unknown key “colour”; it knows pitch_min_um"),
        ({"pitch_min_um": None}, "lacks pitch_min_um; add it"),
        ({"pitch_min_um": '"50"'}, "must be a number; got '50'"),
        ({"pitch_min_um": "true"}, "must be a number; got True"),
        ({"pitch_min_um": "nan"}, "must be a number"),
        ({"pitch_min_um": -5}, "must be greater than zero; got -5"),
        ({"sectors_per_turn": 16.5}, "must be a whole number; got 16.5"),
        ({"pitch_min_um": '{ value = 5, unit = "mm" }'}, "needs value and source, nothing else"),
        ({"pitch_min_um": "50 um"}, "is not valid TOML"),
    ],
)
def test_refused(tmp_path: Path, change: dict[str, object], sentence: str) -> None:
    values = {key: value for key, value in (dict(LATHE) | change).items() if value is not None}
    with pytest.raises(SettingsError) as trouble:
        load(Lathe, written(tmp_path / "bad.toml", values))
    assert sentence in str(trouble.value)
    assert "bad.toml" in str(trouble.value)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"sectors_per_turn": 15}, "even number from 8 to 256"),
        ({"pitch_min_um": 400}, "pitch_min_um must lie below pitch_max_um"),
        ({"traverse_max_mm_s": 2}, "moves 2 mm/s at most"),
    ],
)
def test_contradictions(tmp_path: Path, change: dict[str, object], sentence: str) -> None:
    with pytest.raises(SettingsError, match=sentence):
        load_setup(lathe=written(tmp_path / "bad.toml", dict(LATHE) | change))


@pytest.mark.parametrize(
    ("kind", "name", "word"),
    [(Lathe, "x", "lathe"), (DiscFormat, "13in-33", "format"), (Head, "x", "head"), (PlayingTip, "x", "tip"),
     (CuttingTip, "x", "cutting tip"), (Practice, "x", "practice")],
)  # fmt: skip
def test_unknown_names_list_what_there_is(kind: type[Lathe], name: str, word: str) -> None:
    with pytest.raises(CallError) as trouble:
        load(kind, name)
    assert f"there is no {word} “{name}”; use " in str(trouble.value)
    assert all(entry in str(trouble.value) for entry in shipped(kind))


def test_missing_and_unreadable_files(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="there is no such lathe file; check the path"):
        load(Lathe, str(tmp_path / "none.toml"))
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SettingsError, match="cannot be read as text"):
        load(Lathe, str(tmp_path / "bytes.toml"))
    (tmp_path / "two.toml").write_text("[a]\nx = 1\n[b]\nx = 1\n")
    with pytest.raises(SettingsError, match="describes one lathe"):
        load(Lathe, str(tmp_path / "two.toml"))
