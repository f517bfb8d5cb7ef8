"""Settings of the search for a guilty part: what is shipped, what a house file replaces, what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from discwright.errors import SettingsError
from discwright.files.guilt_settings import load_guilt
from discwright.works.parts import KINDS


def test_the_shipped_figures() -> None:
    found = load_guilt()
    # published: worked example of the tree posterior (0.01 for lacquer, master, mother, 0.02 for stampers; 0.9, 0.02).
    assert [found.prior[kind] for kind in KINDS] == [0.01, 0.01, 0.01, 0.02]
    assert (found.detect, found.false_alarm) == (0.9, 0.02)
    # published: "same turn number and angle within a window"; the window is the house's own.
    assert (found.window_deg, found.window_ms) == (2.0, 3.0)
    assert set(found.days) == {*KINDS, "play"}
    assert set(found.damage) == set(KINDS)


def house(folder: Path, text: str) -> Path:
    path = folder / "guilt.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_house_file_replaces_what_it_names(tmp_path: Path) -> None:
    path = house(tmp_path, '[prior]\nmother = 0.05\n[days]\nmother = { value = 3, source = "our bath is slow" }\n')
    found, shipped = load_guilt(path), load_guilt()
    assert (found.prior["mother"], found.days["mother"]) == (0.05, 3)
    assert (found.prior["stamper"], found.words) == (shipped.prior["stamper"], shipped.words)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[prior", "cannot be read as TOML"),
        ("[priors]\nmother = 0.1", r"has no table \[priors\]"),
        ("[prior]\npressings = 0.1", r"\[prior\] has no pressings"),
        ("[prior]\nmother = 1.5", "cannot be; write a number from 0 to 1"),
        ("[prior]\nmother = nan", "is no number"),
        ("[prior]\nmother = true", "is no number"),
        ("[play]\ndetect = 0.01", "detect must be above false_alarm"),
        ("[words]\nsuspect = 0.9", "must rise from doubtful to suspect to guilty"),
        ("[days]\nenough = 0", "enough must be at least 1"),
        ("prior = 3\n[play]\ndetect = 0.5", None),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(tmp_path: Path, text: str, words: str | None) -> None:
    if words is None:
        assert load_guilt(house(tmp_path, text)).detect == 0.5  # a bare word is no table, and replaces nothing
        return
    with pytest.raises(SettingsError, match=words) as caught:
        load_guilt(house(tmp_path, text))
    assert str(caught.value).endswith(".")
