"""Equipment as TOML: shipped entries, the user's own in three shapes, and everything that is refused."""

from __future__ import annotations

import json
import tomllib
from dataclasses import MISSING, fields
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.errors import CallError, SettingsError
from discwright.files.settings import KINDS, as_plain, load, load_setup, setup_as_plain, shipped
from discwright.groove.equipment import (
    CuttingTip,
    DiscFormat,
    Head,
    Lathe,
    Player,
    PlayingTip,
    Practice,
    file_keys,
    key_of,
)

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


#: House defaults of what a lathe file may leave out.
SCALES = {
    "control_pitch_full_scale_um": 10_000.0,
    "control_depth_full_scale_um": 200.0,
    "control_full_scale_v": 10.0,
    "radius_rest_mm": 160.0,
    "lift_height_mm": 3.0,
}


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
        **SCALES,
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
    given = {key: float(v) if key[0] != "s" else v for key, v in LATHE.items()}
    assert as_plain(lathe) == {"name": "mine"} | given | SCALES


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


# --- what is shipped ---------------------------------------------------------------------------------------------


def plain_of(kind: type[Any], name: str) -> dict[str, Any]:
    return {key: value for key, value in as_plain(shipped(kind)[name]).items() if key != "name"}


def test_every_tip_by_its_size() -> None:
    """Published (IEC 60098): spheres of 13-18 µm; common practice: ellipses of 18 × 8 and 18 × 5, line contact 3-8."""
    sizes = {name: (tip["shape"], tip["radius_um"], tip["side_radius_um"]) for name in shipped(PlayingTip)
             for tip in [plain_of(PlayingTip, name)]}  # fmt: skip
    assert sizes == {
        "spherical-18": ("spherical", 18.0, 18.0),
        "spherical-15": ("spherical", 15.0, 15.0),
        "elliptical-8": ("elliptical", 18.0, 8.0),
        "elliptical-5": ("elliptical", 18.0, 5.0),
        "line-contact-5": ("line contact", 18.0, 5.0),
    }


def test_the_head_and_the_cutting_tip() -> None:
    # Velocity: published (survey note, discs do not exceed 50 cm/s); acceleration: published (about 5000 g predicted);
    # heat: from memory; clearance: published (45° is the usual round figure).
    assert plain_of(Head, "standard") == {
        "velocity_max_cm_s": 50.0,
        "acceleration_max_m_s2": 49_000.0,
        "heat_acceleration_max_m_s2": 4000.0,
        "heat_time_constant_s": 2.0,
    }
    assert plain_of(CuttingTip, "standard") == {"clearance_deg": 45.0}
    # By hand: 5000 g in round numbers.
    assert pytest.approx(49_000.0, rel=2e-3) == 5000 * 9.80665


def test_the_practice() -> None:
    # Published: 12.5 µm is half of 25 µm (RIAA); common practice: land, deepest, guard; the rest is the house's own.
    assert plain_of(Practice, "standard") == {
        "land_min_um": 8.0,
        "depth_min_um": 12.5,
        "depth_max_um": 100.0,
        "sync_guard_ms": 5.0,
        "subsonic_hz": 10.0,
        "curvature_share_max_percent": 0.1,
        "sibilance_limit_percent": 50.0,
        "vertical_share_max_percent": 5.0,
        "vertical_turn_max_percent": 40.0,
        "echo_contrast_db": 30.0,
        "echo_land_um": 20.0,
        "echo_widening_um": 0.0,
        "layout_level_db": -6.0,
        "heard_distortion_max_percent": 5.0,
        "heard_treble_loss_max_db": 3.0,
    }


def test_the_player() -> None:
    # Derived: overhang and offset from the null radii 66.0 and 120.9 mm (Lofgren 1938, Baerwald 1941); published: the
    # least playing angle measured (AES preprint 1940), 0.2 mm off centre (IEC 60098); the rest from memory.
    assert plain_of(Player, "standard") == {
        "arm_length_mm": 230.0,
        "overhang_mm": 18.05,
        "offset_deg": 23.97,
        "playing_angle_deg": 22.0,
        "cut_angle_deg": 18.0,
        "tracking_force_mn": 15.0,
        "off_centre_mm": 0.2,
        "warp_height_mm": 1.0,
        "warp_waves": 1,
        "pivot_height_mm": 20.0,
        "noise_level_db": -60.0,
        "rumble_level_db": -40.0,
    }
    # By hand: 15 mN is 15 thousandths of a newton.
    assert load(Player, None).tracking_force == pytest.approx(0.015)


def test_inside_all_is_in_si() -> None:
    # By hand: µm, mm/s, rpm, ms, degrees and per cent, each converted once.
    setup = load_setup()
    assert setup.lathe.pitch_slew == pytest.approx(200e-6)
    assert setup.lathe.traverse_max == pytest.approx(0.01)
    assert setup.disc.turn_time == pytest.approx(1.8)
    assert setup.disc.locked_radius == pytest.approx(0.0532)
    assert setup.head.velocity_max == pytest.approx(0.5)
    assert setup.head.acceleration_max == pytest.approx(49_000.0)
    assert setup.cutting_tip.clearance == pytest.approx(0.785398, abs=1e-6)
    assert setup.tip.side_radius == pytest.approx(18e-6)
    assert setup.practice.sync_guard == pytest.approx(0.005)
    assert setup.practice.curvature_share_max == pytest.approx(0.001)
    assert setup.practice.subsonic == 10.0
    assert setup.practice.echo_contrast == 30.0


@pytest.mark.parametrize("kind", list(KINDS))
def test_every_number_wears_a_unit_that_is_known(kind: type[Any]) -> None:
    bare = {"name", "shape", "sectors_per_turn", "warp_waves", "audible_faults_max"}
    from discwright.units import TO_SI

    for f in fields(kind):
        assert key_of(f) in bare or any(key_of(f).endswith("_" + unit) for unit in TO_SI), key_of(f)


# --- there and back ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", list(KINDS))
@pytest.mark.parametrize("shape", ["bare", "table", "sourced", "table of sourced"])
def test_every_entry_comes_back_the_same(tmp_path: Path, kind: type[Any], shape: str) -> None:
    """A user's file in each shape: what `as_plain` wrote is read as the same values, and written again the same."""
    for name, entry in shipped(kind).items():
        plain = as_plain(entry)
        assert json.loads(json.dumps(plain)) == plain
        del plain["name"]
        lines = [
            f"{key} = {json.dumps(value) if shape in ('bare', 'table') else f'{{ value = {json.dumps(value)} }}'}"
            for key, value in plain.items()
        ]
        if shape.startswith("table"):
            lines.insert(0, f'["{name}"]')
        path = tmp_path / f"{name}.toml"
        path.write_text("\n".join(lines), encoding="utf-8")
        again = load(kind, str(path))
        assert as_plain(again) == as_plain(entry)
        for f in fields(kind):
            if f.name != "name" and f.type == "float":
                # 1e-14: fifteen digits are written.
                assert getattr(again, f.name) == pytest.approx(getattr(entry, f.name), rel=1e-14)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind is not DiscFormat])
def test_every_entry_comes_back_to_the_last_bit(tmp_path: Path, kind: type[Any]) -> None:
    for entry in shipped(kind).values():
        assert load(kind, changed(tmp_path, kind, as_plain(entry))) == entry


def test_every_format_comes_back_to_the_last_bit(tmp_path: Path) -> None:
    """A plan holds every value it was made with: planned again from them, it should be the same plan."""
    for entry in shipped(DiscFormat).values():
        assert load(DiscFormat, changed(tmp_path, DiscFormat, as_plain(entry))) == entry


@given(st.floats(1e-3, 1e5), st.integers(4, 128))
def test_any_number_comes_back_as_it_was_written(pitch_um: float, half: int) -> None:
    """Fifteen digits are kept, whatever the factor to SI does to the sixteenth."""
    values = {key: float(f"{pitch_um:.15g}") for key in LATHE} | {"sectors_per_turn": 2 * half}
    lathe = Lathe("x", *(values[key] * 1e-6 for key in list(values)[:4]), 2 * half, values["traverse_max_mm_s"] * 1e-3)
    plain = as_plain(lathe)
    assert {key: plain[key] for key in values} == values


def test_setup_as_plain_names_every_part() -> None:
    plain = setup_as_plain(load_setup("7in-45", tip="elliptical-8"))
    assert list(plain) == ["format", "lathe", "head", "cutting_tip", "tip", "practice"]
    assert (plain["format"]["name"], plain["tip"]["name"]) == ("7in-45", "elliptical-8")
    assert plain["format"]["speed_rpm"] == 45.0
    assert type(plain["lathe"]["sectors_per_turn"]) is int


# --- refused, of every kind ---------------------------------------------------------------------------------------


def changed(tmp_path: Path, kind: type[Any], change: dict[str, object]) -> str:
    """The default entry of a kind, with some of its keys changed or taken away (None), as a file."""
    plain: dict[str, object] = as_plain(load(kind, None)) | change
    lines = [f"{key} = {json.dumps(value)}" for key, value in plain.items() if value is not None]
    path = tmp_path / "changed.toml"
    path.write_text("\n".join(lines).replace("Infinity", "inf").replace("NaN", "nan"), encoding="utf-8")
    return str(path)


@pytest.mark.parametrize("kind", list(KINDS))
@pytest.mark.parametrize("raw", [-1.0, float("nan"), float("inf"), float("-inf"), "12", True, [1.0]])
def test_no_number_of_any_kind(tmp_path: Path, kind: type[Any], raw: object) -> None:
    for f in fields(kind):
        below_zero = key_of(f).endswith("_level_db") or key_of(f) in ("noise_max_db", "rumble_max_db")
        if f.type == "str" or (raw == -1.0 and below_zero):
            continue
        with pytest.raises(SettingsError, match=f"{key_of(f)}: must be (a number|greater than zero); got "):
            load(kind, changed(tmp_path, kind, {key_of(f): raw}))


@pytest.mark.parametrize("kind", list(KINDS))
def test_zero_only_where_it_means_something(tmp_path: Path, kind: type[Any]) -> None:
    may = {
        "sync_guard_ms", "land_min_um", "curvature_share_max_percent", "vertical_share_max_percent",
        "echo_widening_um", "layout_level_db", "overhang_mm", "offset_deg", "off_centre_mm", "warp_height_mm",
        "warp_waves", "pivot_height_mm", "noise_level_db", "rumble_level_db", "audible_faults_max",
    }  # fmt: skip
    for f in fields(kind):
        if f.type == "str":
            continue
        path = changed(tmp_path, kind, {key_of(f): 0})
        if key_of(f) in may:
            assert getattr(load(kind, path), f.name) == 0.0
        else:
            with pytest.raises(SettingsError, match="must be greater than zero; got 0"):
                load(kind, path)


@pytest.mark.parametrize("kind", list(KINDS))
def test_every_missing_key_is_named(tmp_path: Path, kind: type[Any]) -> None:
    may_be_left_out = {key_of(f) for f in fields(kind) if f.default is not MISSING}
    for key in file_keys(kind):
        without = changed(tmp_path, kind, {key: None})
        if key in may_be_left_out:
            assert load(kind, without) == load(kind, changed(tmp_path, kind, {}))
            continue
        with pytest.raises(SettingsError, match=f"lacks {key}; add it"):
            load(kind, without)


@pytest.mark.parametrize(
    ("kind", "wrong", "right"),
    [
        (DiscFormat, "outermost_radius_cm", "outermost_radius_mm"),
        (DiscFormat, "speed_hz", "speed_rpm"),
        (Head, "velocity_max_mm_s", "velocity_max_cm_s"),
        (Head, "acceleration_max_g", "acceleration_max_m_s2"),
        (CuttingTip, "clearance_rad", "clearance_deg"),
        (PlayingTip, "radius_mm", "radius_um"),
        (Practice, "sync_guard_s", "sync_guard_ms"),
        (Practice, "curvature_share_max", "curvature_share_max_percent"),
    ],
)
def test_a_wrong_unit_is_refused_with_the_right_one(tmp_path: Path, kind: type[Any], wrong: str, right: str) -> None:
    with pytest.raises(SettingsError, match=f"unknown key “{wrong}”; write {right}[.]"):
        load(kind, changed(tmp_path, kind, {right: None, wrong: 1.0}))


@pytest.mark.parametrize(
    ("kind", "change", "sentence"),
    [
        (Practice, {"depth_min_um": 100.0}, "depth_min_um must lie below depth_max_um"),
        (Practice, {"sync_guard_ms": 450.1}, "sync_guard_ms must be at most a quarter of a turn"),
        (DiscFormat, {"outermost_radius_mm": 60.0}, "outermost_radius_mm must lie outside the last radius"),
        (DiscFormat, {"locked_radius_mm": 145.0}, "outermost_radius_mm must lie outside the last radius"),
        (DiscFormat, {"outermost_radius_mm": 151.0}, "outermost_radius_mm must lie on the disc"),
        (DiscFormat, {"lead_out_pitch_mm": 3.1}, "lead_out_pitch_mm must lie between its _min_mm and _max_mm"),
        (DiscFormat, {"lead_out_pitch_mm": 9.7}, "lead_out_pitch_mm must lie between its _min_mm and _max_mm"),
        # By hand: 6.4 mm a turn at 100 rpm is 10.7 mm/s, and the standard lathe moves 10.
        (DiscFormat, {"speed_rpm": 100.0}, "moves 10 mm/s at most and changed asks for 10.7 mm/s"),
        (CuttingTip, {"clearance_deg": 90.0}, "clearance_deg must be below 90"),
        (Lathe, {"sectors_per_turn": 6}, "even number from 8 to 256; got 6"),
        (Lathe, {"sectors_per_turn": 258}, "even number from 8 to 256; got 258"),
    ],
)
def test_contradictions_of_every_kind(
    tmp_path: Path, kind: type[Any], change: dict[str, object], sentence: str
) -> None:
    names = {DiscFormat: "disc", Lathe: "lathe", Head: "head", CuttingTip: "cutting_tip", Practice: "practice"}
    with pytest.raises(SettingsError) as trouble:
        load_setup(**{names[kind]: changed(tmp_path, kind, change | {"name": "changed"})})
    assert sentence in str(trouble.value)
    assert str(trouble.value).endswith((".", "?"))


@pytest.mark.parametrize(
    ("kind", "change"),
    [
        (Lathe, {"sectors_per_turn": 8}),
        (Lathe, {"sectors_per_turn": 256}),
        (DiscFormat, {"lead_out_pitch_mm": 3.2}),
        (DiscFormat, {"lead_out_pitch_mm": 9.6}),
        (DiscFormat, {"outermost_radius_mm": 150.4}),
        (CuttingTip, {"clearance_deg": 89.9}),
        (Practice, {"depth_min_um": 99.9}),
        (Practice, {"sync_guard_ms": 450.0}),
    ],
)
def test_just_inside_is_accepted(tmp_path: Path, kind: type[Any], change: dict[str, object]) -> None:
    names = {DiscFormat: "disc", Lathe: "lathe", CuttingTip: "cutting_tip", Practice: "practice"}
    fast = changed(tmp_path, Lathe, change if kind is Lathe else {"traverse_max_mm_s": 20.0})
    setup = {"lathe": fast}
    if kind is not Lathe:
        (tmp_path / "own").mkdir()
        setup[names[kind]] = changed(tmp_path / "own", kind, change)
    load_setup(**setup)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("name = 3\npitch_min_um = 1", "name must be a word in quotes; got 3"),
        ("[a]\npitch_min_um = 1\n[b]\npitch_min_um = 1", "holds 2 tables (a, b); a lathe file describes one lathe"),
        ("", "lacks pitch_min_um; add it"),
        ('pitch_min_um = { source = "measured" }', "needs value and source, nothing else; got source"),
        ("pitch_min_um = {}", "needs value and source, nothing else; got nothing"),
        ("pitch_min_um = 1\npitch_min_um = 2", "is not valid TOML"),
        ("a = [" * 2000, "is not valid TOML"),
    ],
)
def test_files_that_are_no_lathe(tmp_path: Path, text: str, sentence: str) -> None:
    path = tmp_path / "odd.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError) as trouble:
        load(Lathe, str(path))
    assert sentence in str(trouble.value)
    assert str(trouble.value).startswith(str(path))


def test_a_shape_in_words(tmp_path: Path) -> None:
    for raw in (18, "", True):
        with pytest.raises(SettingsError, match="shape: must be a word in quotes"):
            load(PlayingTip, changed(tmp_path, PlayingTip, {"shape": raw}))


def test_a_shipped_name_wins_over_a_file_and_a_folder_is_no_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "standard").write_text("nonsense", encoding="utf-8")
    (tmp_path / "shelf.toml").mkdir()
    monkeypatch.chdir(tmp_path)
    assert load(Lathe, "standard") == shipped(Lathe)["standard"]
    with pytest.raises(SettingsError, match=r"shelf[.]toml: cannot be read as text"):
        load(Lathe, "shelf.toml")
