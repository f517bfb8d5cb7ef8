"""Packing settings: the shipped file, and house files right and wrong. Everything expected is *by hand*."""

from __future__ import annotations

from pathlib import Path

import pytest

from discwright.errors import SettingsError
from discwright.files.packing_settings import load_packing
from discwright.works.packing import PackRules


def test_the_shipped_file() -> None:
    """Common practice or from memory, as the file says of each; the limit is that of the lifting equation."""
    shipped = load_packing()
    assert shipped.rules == PackRules(25, 4)
    assert shipped.weights.one_person_kg == 23.0
    assert shipped.weights.units_g["lp"] == 230.0
    assert list(shipped.pallets) == ["eur", "48x40"]
    assert (shipped.pallets["eur"].width_mm, shipped.pallets["eur"].depth_mm) == (1200.0, 800.0)
    assert shipped.label.least_module_mm <= 0.5 <= shipped.label.most_module_mm
    assert shipped.label.free_text_mm == 7.0
    assert shipped.language == "en"


def test_a_house_file_replaces_what_it_names(tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    file.write_text(
        '[packing]\nper_carton = 20\n[units]\n"NL-004/lp_g" = { value = 301, source = "our scales" }\n'
        '[sender]\nlanguage = "de"\n[eur]\nstack_mm = 1200\n'
        "[ours]\nwidth_mm = 1000\ndepth_mm = 1000\nheight_mm = 100\nmass_kg = 12\nload_kg = 500\nstack_mm = 1000\n",
        encoding="utf-8",
    )
    house = load_packing(file)
    assert house.rules == PackRules(20, 4)
    assert house.weights.unit_g("NL-004/lp") == 301.0
    assert house.weights.unit_g("NL-005/lp") == 230.0
    assert (house.language, house.pallets["eur"].stack_mm, house.pallets["eur"].load_kg) == ("de", 1200.0, 1500.0)
    assert house.pallets["ours"].mass_kg == 12.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[pallets]\nx = 1\n", "[pallets] has an unknown key “x”; it knows width_mm, depth_mm, height_mm,"),
        ("[palets]\nwidth_mm = 1\n", "[palets] is unknown; it knows packing, weights, units, carton, eur, 48x40,"),
        ("packing = 5\n", "packing is a table; write [packing] and its keys below it."),
        ("[packing]\nper_cartons = 5\n", "[packing] has an unknown key “per_cartons”; write per_carton."),
        ("[packing]\nper_carton = 2.5\n", "[packing] per_carton: must be a whole number, 1000 at most; got 2.5."),
        ("[packing]\nper_bundle = 101\n", "[packing] per_bundle: must be a whole number, 100 at most; got 101."),
        ("[packing]\nper_carton = 0\n", "[packing] per_carton: must be a number above zero; got 0."),
        ("[weights]\nbox_kg = true\n", "[weights] box_kg: must be a number above zero; got True."),
        ("[weights]\nbox_kg = { value = 1, why = 2 }\n", "[weights] box_kg: needs value and source, nothing else;"),
        ("[units]\nlp = 5\n", "[units] has an unknown key “lp”; write an edition and _g."),
        ("[units]\n_g = 5\n", "[units] has an unknown key “_g”; write an edition and _g."),
        ('[sender]\nlanguage = "la"\n', "[sender] language: must be one of en, de, es, fr, it, nl, pl, sv; got 'la'."),
        ("[sender]\nlanguage = 5\n", "[sender] language: must be one of en, de, es, fr, it, nl, pl, sv; got 5."),
        ("[label]\nleast_module_mm = 2\n", "[label] least_module_mm is above most_module_mm; exchange them."),
        ("[eur]\nstack_mm = 100\n", "[eur] stack_mm leaves no room above the pallet; give more than height_mm."),
        ("[eur\n", "is not valid TOML (Expected ']' at the end of a table declaration"),
    ],
)  # fmt: skip
def test_house_files_that_are_wrong(text: str, words: str, tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError) as refusal:
        load_packing(file)
    assert str(refusal.value).startswith(f"{file}: {words}")


def test_files_that_are_none(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=r"there is no such file of packing settings; check the path\."):
        load_packing(tmp_path / "none.toml")
    (tmp_path / "odd.toml").write_bytes(b"\xff")
    with pytest.raises(SettingsError, match=r"cannot be read as text \(it is not UTF-8\); check the file\."):
        load_packing(tmp_path / "odd.toml")
    with pytest.raises(SettingsError, match=r"cannot be read \(Is a directory\); check the file\."):
        load_packing(tmp_path)
