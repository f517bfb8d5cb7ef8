"""Press settings: the shipped file, and house files right and wrong. Everything expected is *by hand*."""

from __future__ import annotations

import re
import tomllib
from dataclasses import fields, replace
from importlib import resources
from pathlib import Path

import pytest

from discwright.errors import SettingsError
from discwright.files.press_settings import SIZES, PressSettings, load_press
from discwright.files.settings import shipped
from discwright.files.works_settings import load_limits
from discwright.groove.equipment import DiscFormat

DOCS = Path(__file__).parents[2] / "docs"


def test_the_shipped_file_is_whole() -> None:
    house = load_press()
    assert tuple(house.sizes) == SIZES
    for size in house.sizes.values():
        assert size.diameter_low_mm < size.diameter_mm < size.diameter_high_mm
        assert (
            house.first_off.label_thickness_low_mm <= size.label_thickness_mm <= house.first_off.label_thickness_high_mm
        )
    assert house.press.cold_c < house.press.open_c < house.press.hot_c


def test_the_figures_of_the_reference() -> None:
    """Published, common practice, or a house default, as the file says of each."""
    house = load_press()
    assert [size.weight_g for size in house.sizes.values()] == [140.0, 100.0, 41.0]
    assert (house.compound.density_g_cm3, house.compound.diffusivity_mm2_s) == (1.4, 0.08)
    assert 10 <= house.compound.flash_percent <= 25
    assert (house.parts.stamper_life, house.parts.stampers_per_mother) == (1000.0, 10)
    assert (house.hole.small_low_mm, house.hole.small_high_mm) == (7.24, 7.33)
    assert (house.first_off.off_centre_mm, house.first_off.warp_mm) == (0.2, 2.0)
    assert (house.tape.speed_cm_s / 2.54, house.tape.ratio) == (7.5, 4.0)


def test_it_agrees_with_the_other_shipped_files() -> None:
    """One truth in two files: the limits of the works, and the disc formats."""
    house, limits = load_press(), load_limits()
    assert house.parts.stamper_life == limits.press_life
    assert house.parts.stampers_per_mother == limits.stampers_per_mother
    assert house.parts.mothers_per_master == limits.mothers_per_master
    assert house.parts.masters_per_lacquer == limits.negatives_per_lacquer
    for name, disc in shipped(DiscFormat).items():
        size = house.sizes[house.size_of(disc.disc_diameter)]
        assert name.startswith(house.size_of(disc.disc_diameter))
        assert disc.disc_diameter * 1e3 == pytest.approx(size.diameter_mm)
        assert disc.outermost_radius * 2e3 == pytest.approx(size.recorded_diameter_mm)
        assert disc.label_diameter * 1e3 == pytest.approx(size.label_diameter_mm)
        assert size.locked_low_mm < disc.locked_radius * 2e3 < size.locked_high_mm
        assert house.hole.small_low_mm <= disc.hole_diameter * 1e3 <= house.hole.small_high_mm


def test_an_odd_size_is_taken_as_the_nearest() -> None:
    house = load_press()
    assert [house.size_of(inches * 0.0254) for inches in (16, 11.5, 10.8, 8, 5)] == [
        "12in",
        "12in",
        "10in",
        "7in",
        "7in",
    ]


def test_what_is_from_memory_says_so() -> None:
    text = (resources.files("discwright") / "data" / "press.toml").read_text(encoding="utf-8")
    tables = tomllib.loads(text)
    assert tables["press"]["change_minutes"]["source"].startswith("from memory")
    assert tables["10in"]["weight_g"]["source"].startswith("from memory")
    for key in ("good_share", "first_off_minutes"):
        assert tables["press"][key]["source"].startswith("house default")


def test_every_table_and_key_is_told() -> None:
    """The page of the press names each."""
    page = (DOCS / "press.md").read_text(encoding="utf-8")
    words = set(re.findall(r"`\[?(\w+)\]?`", page))
    house = load_press()
    told = {key.name for name in ("compound", "press", "parts", "spare", "days", "overrun", "hole", "first_off", "tape")
            for key in fields(getattr(house, name))}  # fmt: skip
    told |= {key.name for key in fields(house.sizes["12in"])} | {key.name for key in fields(PressSettings)} - {"sizes"}
    assert sorted((told | set(SIZES)) - words) == []


def test_a_house_file_replaces_what_it_names(tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    file.write_text(
        '\ufeff[12in]\nweight_g = 180\n[press]\ngood_share = { value = 0.97, source = "our count" }\npresses = 3\n'
        "[days]\nweek_days = 6\napproval_days = 0\n[parts]\nlife_cv = 0\n",
        encoding="utf-8",
    )
    house, plain = load_press(file), load_press()
    assert (house.sizes["12in"].weight_g, house.sizes["10in"]) == (180.0, plain.sizes["10in"])
    assert house.press == replace(plain.press, good_share=0.97, presses=3)
    assert (house.days.week_days, house.days.approval_days, house.parts.life_cv) == (6, 0, 0.0)
    assert isinstance(house.press.presses, int)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[pres]\ngood_share = 1\n", "has an unknown table [pres]; write press."),
        ("[qqq]\n", "has an unknown table [qqq]; there are 12in, 10in, 7in, compound"),
        ("press = 3\n", "press is a table; write [press] and its keys below it."),
        ("[press]\ngood = 0.9\n", "[press] has an unknown key “good”; write good_share."),
        ("[press]\nqqq = 0.9\n", "[press] has an unknown key “qqq”; it knows good_share, running_share"),
        ("[press]\ngood_share = '0.9'\n", "[press] good_share: must be a number; got '0.9'."),
        ("[press]\ngood_share = nan\n", "[press] good_share: must be a number; got nan."),
        ("[press]\ngood_share = true\n", "[press] good_share: must be a number; got True."),
        ("[press]\ngood_share = 0\n", "[press] good_share: must be greater than zero; got 0."),
        ("[press]\ngood_share = -1\n", "[press] good_share: must be greater than zero; got -1."),
        ("[press]\npresses = 1.5\n", "[press] presses: must be a whole number; got 1.5."),
        (f"[press]\npresses = 0x{'f' * 9000}\n", "[press] presses: must be a number of at most 10000000."),
        ("[hole]\nsmall_low_mm = 9\n", "[hole] small_low_mm is above small_high_mm; exchange them."),
        (
            "[press]\ngood_share = { source = 'x' }\n",
            "[press] good_share: needs value and source, nothing else; got source.",
        ),
        ("[press]\ngood_share = {}\n", "[press] good_share: needs value and source, nothing else; got nothing."),
        ("[press\n", "is not valid TOML ("),
    ],
)
def test_house_files_with_a_fault(text: str, words: str, tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError) as refusal:
        load_press(file)
    assert str(refusal.value).startswith(f"{file}: {words}")


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="there is no such file of press settings; check the path"):
        load_press(tmp_path / "none.toml")
    with pytest.raises(SettingsError, match="cannot be read"):
        load_press(tmp_path)
    (tmp_path / "bad.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(SettingsError, match="it is not UTF-8"):
        load_press(tmp_path / "bad.toml")
