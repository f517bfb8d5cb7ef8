"""Plating settings: the shipped file, and house files right and wrong. Everything expected is *by hand*."""

from __future__ import annotations

import tomllib
from dataclasses import asdict
from importlib import resources
from pathlib import Path

import pytest

from discwright.errors import SettingsError
from discwright.files.plating_settings import KIND_NAMES, load_plating
from discwright.works.metals import METALS, check_efficiency
from discwright.works.plating_steps import read_steps


def test_the_shipped_file_is_whole_and_can_be_run() -> None:
    shipped = load_plating()
    assert list(shipped.baths) == list(METALS)
    assert list(shipped.kinds) == list(KIND_NAMES)
    for bath in shipped.baths.values():
        check_efficiency(bath.efficiency)
        assert bath.efficiency_low <= bath.efficiency <= bath.efficiency_high
        assert bath.warn_below_c < bath.bath_low_c < bath.bath_high_c <= bath.warn_above_c
    for kind in shipped.kinds.values():
        assert kind.least_um < kind.target_um
        assert read_steps(kind.steps)[-1].seconds is None
        # The thin place of a part as shipped is thick enough.
        assert kind.target_um * (1 - shipped.growth.spread_percent / 200) > kind.least_um


def test_the_figures_of_the_reference() -> None:
    """Common practice, or from memory, as the file says of each."""
    shipped = load_plating()
    nickel = shipped.baths["nickel"]
    assert (nickel.efficiency, shipped.baths["copper"].efficiency) == (0.955, 1.0)
    assert (nickel.ph_low, nickel.ph_high, nickel.warn_below_c, nickel.warn_above_c) == (3.5, 4.5, 30.0, 60.0)
    assert shipped.growth.spread_percent == 32.0
    assert (shipped.silvering.film_um, shipped.kinds["stamper"].target_um) == (0.1, 200.0)
    assert shipped.plates_mm == {"14in": 355.6, "12in": 300.0, "10in": 254.0, "8in": 203.0}


def test_what_is_from_memory_says_so() -> None:
    text = (resources.files("discwright") / "data" / "plating.toml").read_text(encoding="utf-8")
    tables = tomllib.loads(text)
    for table in ("silvering", "passivation"):
        assert all(entry["source"].startswith("from memory") for entry in tables[table].values())


def test_a_house_file_replaces_what_it_names(tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    file.write_text(
        '[nickel]\nefficiency = 0.97\n[growth]\nspread_percent = { value = 24, source = "our shield" }\n'
        '[stamper]\nsteps = "0,5x20; 12"\n[plates]\nours_mm = 360\n[copper]\nph_low = 1\nph_high = 2\n',
        encoding="utf-8",
    )
    house, shipped = load_plating(file), load_plating()
    assert house.baths["nickel"].efficiency == 0.97
    assert house.growth.spread_percent == 24.0
    assert read_steps(house.kinds["stamper"].steps) == read_steps("0.5x20,12")
    assert house.plates_mm == {**shipped.plates_mm, "ours": 360.0}
    assert house.baths["copper"].ph_high == 2.0
    assert asdict(house.silvering) == asdict(shipped.silvering)
    assert house.kinds["stamper"].target_um == 200.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[nickle]\nefficiency = 1\n", "has an unknown table [nickle]; write nickel."),
        ("[xyz]\n", "has an unknown table [xyz]; it knows nickel, copper, silver, growth"),
        ("nickel = 3\n", "nickel is a table; write [nickel] and its keys below it."),
        ("[nickel]\nefficency = 0.9\n", "[nickel] has an unknown key “efficency”; write efficiency."),
        ("[plates]\nours = 3\n", "[plates] has an unknown key “ours”; it knows 14in_mm"),
        ("[nickel]\nefficiency = '0.9'\n", "[nickel] efficiency: must be a number; got '0.9'."),
        ("[nickel]\nefficiency = nan\n", "[nickel] efficiency: must be a number; got nan."),
        ("[nickel]\nefficiency = true\n", "[nickel] efficiency: must be a number; got True."),
        ("[nickel]\nefficiency = 0\n", "[nickel] efficiency: must be greater than zero; got 0."),
        ("[nickel]\nph_low = 5\n", "[nickel] ph_low is above ph_high; exchange them."),
        ("[nickel]\nwarn_below_c = 70\n", "[nickel] warn_below_c is above warn_above_c; exchange them."),
        (
            "[growth]\nfirst_layer_low_c = 50\n",
            "[growth] first_layer_low_c is above first_layer_high_c; exchange them.",
        ),
        ("[nickel]\nefficiency = { source = 'x' }\n", "[nickel] efficiency: needs value and source, nothing else; got"),
        ("[stamper]\nsteps = 10\n", '[stamper] steps: must be text such as "0.5x30,1x30,10"; got 10.'),
        ("[stamper]\nsteps = '0,5x30'\n", "[stamper] steps: step 1: “0” has no minutes"),
        ("[plates]\nours_mm = -3\n", "[plates] ours_mm: must be greater than zero; got -3."),
        ("[nickel\n", "is not valid TOML ("),
    ],
)
def test_house_files_with_a_fault(text: str, words: str, tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError) as refusal:
        load_plating(file)
    assert str(refusal.value).startswith(f"{file}: {words}")


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="there is no such file of plating settings; check the path"):
        load_plating(tmp_path / "none.toml")
    with pytest.raises(SettingsError, match="cannot be read"):
        load_plating(tmp_path)
    (tmp_path / "bad.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(SettingsError, match="it is not UTF-8"):
        load_plating(tmp_path / "bad.toml")
