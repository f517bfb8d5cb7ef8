"""Limits of a chain: the shipped ones, a house file over them, and one sentence for each wrong one."""

from __future__ import annotations

from pathlib import Path

import pytest

from discwright.errors import SettingsError
from discwright.files.chain_settings import load_chain


def house(folder: Path, text: str) -> Path:
    path = folder / "house.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_shipped_limits() -> None:
    """common practice: under 0.2 % distortion; house default: the rest."""
    limits = load_chain()
    assert limits.distortion_percent == 0.2
    assert (limits.distortion_from_hz, limits.distortion_to_hz) == (20.0, 20_000.0)
    assert (limits.response_bands[0][0], limits.response_bands[-1][1]) == (20.0, 20_000.0)


def test_a_house_file_replaces_what_it_names(tmp_path: Path) -> None:
    path = house(
        tmp_path,
        '[distortion]\nlimit_percent = 0.1\n[response]\nbands = { value = [[20, 20000, 2]], source = "ours" }\n'
        "[noise]\nlimit_dbfs = -60\n",
    )
    limits = load_chain(path)
    assert (limits.distortion_percent, limits.distortion_to_hz) == (0.1, 20_000.0)
    assert limits.response_bands == ((20.0, 20_000.0, 2.0),)
    assert (limits.noise_dbfs, limits.hum_dbfs) == (-60.0, -80.0)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[distorsion]\n", "house.toml: has an unknown table [distorsion]; write distortion."),
        ("balance = 1\n", "house.toml: balance is a table; write [balance] and its keys below it."),
        ("[balance]\nlimit = 1\n", "house.toml: [balance] has an unknown key “limit”; write limit_db."),
        ("[balance]\nlimit_db = -1\n", "house.toml: [balance] limit_db: must be greater than zero; got -1."),
        ("[balance]\nlimit_db = true\n", "house.toml: [balance] limit_db: must be a number; got True."),
        ("[balance]\nlimit_db = nan\n", "house.toml: [balance] limit_db: must be a number; got nan."),
        (
            "[balance]\nlimit_db = { val = 1 }\n",
            "house.toml: [balance] limit_db: needs value and source, nothing else; got val.",
        ),
        ("[noise]\nhum_dbfs = 3\n", "house.toml: [noise] hum_dbfs: must lie between -200 and 0 dBFS; got 3."),
        (
            "[response]\nbands = 1\n",
            "house.toml: [response] bands: must be a list of bands such as [[20, 20000, 1.0]]; got 1.",
        ),
        (
            "[response]\nbands = [[20, 1]]\n",
            "house.toml: [response] bands: a band is from, to, Hz, and dB, such as [20, 20000, 1.0]; got [20, 1].",
        ),
        (
            "[response]\nbands = [[200, 20, 1]]\n",
            "house.toml: [response] bands: a band begins at 200 Hz and ends at 20 Hz; exchange them.",
        ),
        (
            "[distortion]\nfrom_hz = 1000\nto_hz = 100\n",
            "house.toml: [distortion] from_hz is not below to_hz; exchange them.",
        ),
        ("[balance\n", "house.toml: is not valid TOML"),
    ],
)
def test_what_cannot_be_used_is_refused(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(SettingsError) as refusal:
        load_chain(house(tmp_path, text))
    assert words in str(refusal.value)


def test_a_file_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    (tmp_path / "latin.toml").write_bytes(b"# \xe9\n")
    for path, words in (
        (tmp_path / "none.toml", "there is no such file of chain limits; check the path."),
        (tmp_path, "cannot be read (Is a directory); check the file."),
        (tmp_path / "latin.toml", "cannot be read as text (it is not UTF-8); check the file."),
    ):
        with pytest.raises(SettingsError) as refusal:
            load_chain(path)
        assert str(refusal.value).endswith(words)
