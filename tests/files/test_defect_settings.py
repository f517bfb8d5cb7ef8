"""Inspection settings: the shipped file, and house files right and wrong. Everything expected is *by hand*."""

from __future__ import annotations

from pathlib import Path

import pytest

from discwright.errors import SettingsError
from discwright.files.defect_settings import load_defects
from discwright.works.defect_classes import CLASSES, WORDS


def test_the_shipped_file_is_whole() -> None:
    """Common practice: level II, critical none, major 1.0-1.5, minor 2.5-4.0."""
    shipped = load_defects()
    assert shipped.level == "II"
    assert dict(shipped.rules) == {"critical": "none", "major": 1.0, "minor": 2.5}
    assert list(shipped.seen) == list(WORDS)
    assert set(shipped.seen.values()) == set(CLASSES)


@pytest.mark.parametrize(
    ("word", "seen", "heard"),
    # Common practice, but for label-wrong-way-up, a house default.
    [
        ("non-fill", "minor", "major"), ("stitching", "minor", "major"), ("pit", "minor", "major"),
        ("grain", "major", "major"), ("stain", "minor", "minor"), ("off-centre", "major", "major"),
        ("jump", "critical", "critical"), ("locked-groove", "critical", "critical"), ("flash", "minor", "minor"),
        ("label-wrong-side", "critical", "critical"), ("wrong-number", "critical", "critical"),
        ("label-wrong-way-up", "major", "major"),
    ],
)  # fmt: skip
def test_the_classes_of_the_reference(word: str, seen: str, heard: str) -> None:
    shipped = load_defects()
    assert (shipped.class_of(word), shipped.class_of(word, "heard")) == (seen, heard)
    assert shipped.class_of(word, "jumps") == "critical"


def test_a_house_file_replaces_what_it_names(tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    file.write_text(
        '[inspection]\nlevel = "III"\n[aql]\ncritical = "all"\nmajor = { value = 0.65, source = "agreed in March" }\n'
        'minor = 4\n[seen]\nstain = "major"\n[heard]\nflash = "major"\n',
        encoding="utf-8-sig",
    )
    house, shipped = load_defects(file), load_defects()
    assert house.level == "III"
    assert dict(house.rules) == {"critical": "all", "major": 0.65, "minor": 4.0}
    assert (house.class_of("stain"), house.class_of("flash"), house.class_of("flash", "heard")) == (
        "major", "minor", "major",
    )  # fmt: skip
    assert house.class_of("pit") == shipped.class_of("pit")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[sean]\n", "has an unknown table [sean]; write seen."),
        ("seen = 3\n", "seen is a table; write [seen] and its keys below it."),
        ('[seen]\npitt = "minor"\n', "[seen] has an unknown key “pitt”; write pit."),
        ('[seen]\npit = "bad"\n', "[seen] pit: there is no defect class “bad”; choose from critical, major, minor."),
        ("[seen]\npit = 3\n", "[seen] pit: must be one of critical, major, minor; got 3."),
        ('[inspection]\nlevel = "IV"\n', "[inspection] level: must be one of S-1, S-2, S-3, S-4, I, II, III; got 'IV"),
        ("[inspection]\nlevel = [1]\n", "[inspection] level: must be one of S-1, "),
        ("[aql]\nmajor = 3\n", "[aql] major: an AQL of 3 is not in the table; give 2.5 or 4."),
        ("[aql]\nmajor = nan\n", "[aql] major: an AQL of nan is not in the table; give one of 0.01 to 10."),
        ("[aql]\nmajor = true\n", '[aql] major: must be an AQL, "none" or "all"; got True.'),
        ('[aql]\nmajor = "none"\nminor = "none"\n', "[aql] no class has an AQL, so no sample can be sized; give one"),
        ("[aql]\nmajor = { value = 1.0, sauce = 'x' }\n", "[aql] major: needs value and source, nothing else; got val"),
        ("[aql\n", "is not valid TOML ("),
    ],
)  # fmt: skip
def test_house_files_that_cannot_be_used(text: str, words: str, tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError) as refusal:
        load_defects(file)
    assert str(refusal.value).startswith(f"{file}: {words}")


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="there is no such file of inspection settings; check the path"):
        load_defects(tmp_path / "none.toml")
    with pytest.raises(SettingsError, match="cannot be read"):
        load_defects(tmp_path)
    (tmp_path / "latin.toml").write_bytes(b"[seen]\npit = '\xe9'\n")
    with pytest.raises(SettingsError, match="it is not UTF-8"):
        load_defects(tmp_path / "latin.toml")
